"""A rule book many times as large, made in memory, to measure how load and replay grow with it.

Cast: `grown(book, times)`. Its first copy keeps its ids, so that the worked cases of the book run against it as well.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from diagnose.book.model import Book

COPIED = ("limits", "complaints", "findings", "causes", "fixes", "deductions")
"""Sections of a book that are copied; the vocabulary (facts, words, tools, parts, …) stands once."""


def grown(book: Book, times: int, shared: str = "") -> Book:
    """A book with every rule `times` times, each copy under ids of its own.

    With `shared`, a complaint's id, that complaint stands once, with `times` as many causes and checks behind it.
    """
    tests = [complaint.repeat_test.id for complaint in book.complaints.values()]
    ids = {name for section in COPIED for name in getattr(book, section)} | {*book.checks, *tests}
    sections: dict[str, dict[str, Any]] = {section: dict(getattr(book, section)) for section in COPIED}
    for number in range(1, times):
        names = {name: f"{name}-{number}" for name in ids if name != shared}
        for section, rules in sections.items():
            rules.update(_renamed(dict(getattr(book, section)), names))
        for fix in book.fixes.values():  # a part may have a finding's name; it stands once
            sections["fixes"][names[fix.id]] = sections["fixes"][names[fix.id]]._replace(parts=fix.parts)
    if shared:
        sections["complaints"][shared] = book.complaints[shared]
    larger: Any = sections
    return replace(book, fingerprint=f"{book.fingerprint}-{times}-{shared}", **larger)


def _renamed(value: Any, names: Mapping[str, str]) -> Any:
    """The same with every id in it renamed."""
    if isinstance(value, str):
        return names.get(value, value)
    if isinstance(value, dict):
        return {_renamed(key, names): _renamed(one, names) for key, one in value.items()}
    if hasattr(value, "_fields"):
        return type(value)(*(_renamed(one, names) for one in value))
    if isinstance(value, tuple):
        return tuple(_renamed(one, names) for one in value)
    return value
