"""A folder of rules as a `Study`, for the checks that look closer than the reader of a book does.

Cast: `study_book`.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from diagnose.book.anomalies.anomaly import Named, Source, Study
from diagnose.book.load import read_folder
from diagnose.book.own import Trees
from diagnose.book.problems import Problem
from diagnose.book.schema import READERS
from diagnose.book.tree import Listing, Mapping, Node, Text, read_text
from diagnose.errors import Location


def study_book(*folders: Path) -> tuple[Study | None, tuple[Problem, ...]]:
    """Read a folder of rules, with the own folders beside it.

    Returns:
        The study (None when the book cannot be used) and every problem of reading it, sorted by place.

    Raises:
        BookError: a folder itself cannot be read, or a file went while it was read.
    """
    book, trees, problems = read_folder(*folders)
    if book is None:
        return None, problems
    sources = tuple(Source(source.shown, source.kind or "", read_text(source.path, source.shown)) for source in trees)
    return Study(book, sources, dict(entries_of(trees))), problems


def entries_of(trees: Trees) -> Iterator[tuple[Named, tuple[Location, Node]]]:
    """Every entry of the files: kind and id, the place of the id, and what stands under it."""
    for source, node in trees.items():
        if source.kind == "cause":
            yield ("cause", source.id), (Location(source.shown, 1, 1), node)
            yield from _fixes(node)
        elif source.kind in READERS:
            kind, _ = READERS[source.kind]
            for name, child in node.items.items():
                yield (kind, name), (node.keys[name], child)
                yield from _checks(child) if kind == "finding" else ()


def _fixes(cause: Mapping) -> Iterator[tuple[Named, tuple[Location, Node]]]:
    ladder = cause.items.get("ladder")
    for rung in ladder.items if isinstance(ladder, Listing) else [ladder]:
        fix = rung.items.get("fix") if isinstance(rung, Mapping) else None
        if rung is not None and isinstance(fix, Text):
            yield ("fix", fix.value), (fix.where, rung)


def _checks(finding: Node) -> Iterator[tuple[Named, tuple[Location, Node]]]:
    checks = finding.items.get("checks") if isinstance(finding, Mapping) else None
    if isinstance(checks, Mapping):
        for name, child in checks.items.items():
            yield ("check", name), (checks.keys[name], child)
