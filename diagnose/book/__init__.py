"""The rule book: YAML files read into checked, frozen objects. Start reading at `model`, then `load`."""
