"""The trade's arithmetic. Start reading at `units`; nothing here knows the rule book or a case."""
