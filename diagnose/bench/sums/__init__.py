"""The sums by name: what each asks for and what it answers. Start reading at `model`, then `table`."""
