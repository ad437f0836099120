"""Anomalies of a rule book that only reasoning shows: how far findings tell causes apart, and what is worth asking.

Cast: `OF_REASONING` in `catalogue.py` lists them; each is a small class as those of `book/anomalies`.
"""
