"""The shipped rule book, read once for all tests that only look at it."""

from __future__ import annotations

from functools import cache

from diagnose.book.model import Book
from diagnose.book.place import shipped_rules
from diagnose.book.shelf import load_book


@cache
def shipped_book() -> Book:
    """The shipped book; not to be changed."""
    return load_book(shipped_rules(), cache=False)
