"""A book without a file, and without what cannot stand where that file is gone: what names a thing that is told in it.

Cast: `read_standing(folders, patch, loose)` reads it; `Fallen` is one thing that had to be left out as well.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from pathlib import Path
from typing import NamedTuple

from diagnose.book.load import Reading, read_folder
from diagnose.book.own import Entry, entries_of
from diagnose.book.patch import Patch
from diagnose.book.shape import bare


class Fallen(NamedTuple):
    """A thing that was left out as well: what it is, its id, its file."""

    kind: str
    id: str
    file: Path


def read_standing(folders: Sequence[Path], patch: Patch, loose: Collection[Path]) -> tuple[Reading, tuple[Fallen, ...]]:
    """Read folders without the files that a patch leaves out.

    What an error is in is left out too, if it stands in a folder that is `loose`, and read again, until nothing more
    falls. Whoever calls has seen that the book can be used with these files.
    """
    fallen: list[Fallen] = []
    reading = read_folder(*folders, patch=patch)
    while reading.book is None and (more := list(_at_fault(reading, loose))):
        fallen += [Fallen(entry.kind, entry.id, entry.source.path) for entry in more]
        files = {entry.source.path for entry in more if entry.kind == "cause"}
        keys = {(entry.source.path, bare(entry.id)) for entry in more if entry.kind != "cause"}
        patch = patch._replace(without=patch.without | files, but=patch.but | keys)
        reading = read_folder(*folders, patch=patch)
    return reading, tuple(fallen)


def _at_fault(reading: Reading, loose: Collection[Path]) -> Iterator[Entry]:
    """The entries of loose folders that an error stands in, each once."""
    wrong = [problem.where for problem in reading.problems if problem.severity == "error"]
    last: dict[tuple[str, int], Entry] = {}
    for entry in entries_of(reading.trees):
        if not any(entry.source.path.is_relative_to(folder) for folder in loose):
            continue
        for where in wrong:
            if where.file == entry.source.shown and entry.where.line <= where.line:
                before = last.get((where.file, where.line), entry)
                last[where.file, where.line] = max(before, entry, key=lambda one: one.where.line)
    yield from {(entry.source.path, entry.id): entry for entry in last.values()}.values()
