"""The trade's arithmetic; nothing here knows the rule book or a case.

Start reading at `units` and `span`; then one module for each corner of the trade, `sums` for the same by name over raw
readings, and `gauge` for the picture of a reading.
"""
