"""A book as it would be with some files changed, added or left out; the folders themselves stay as they are.

Cast: a `Patch` is read by `load.read_folder`; `patch_for(files, folders)` gives those for the book before and after.
`standing.read_standing` leaves out also what cannot stand without a file that is left out.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import NamedTuple

from diagnose.book.own import Source, Trees, kind_of
from diagnose.book.tree import Mapping as Tree
from diagnose.errors import BookError, Location

ADDED = "added"
"""Stands for the system's folder of a file that comes from nowhere."""


class Patch(NamedTuple):
    """What is read otherwise.

    `instead`: places in a book's folder with the file to read there; `without`: files that are left out; `but`: files
    with entries that are left out of them.
    """

    instead: Mapping[Path, Path] = {}
    without: frozenset[Path] = frozenset()
    but: frozenset[tuple[Path, str]] = frozenset()

    def sources(self, folder: Path, files: Sequence[Path]) -> list[Source]:
        """The sources of a folder with these files, sorted by where they stand in it."""
        sources = {path: Source.of(folder, path) for path in files if path not in self.without}
        for place, path in self.instead.items():
            if place.is_relative_to(folder):
                sources[place] = Source.of(folder, place)._replace(path=path, shown=path.as_posix())
        return [sources[place] for place in sorted(sources)]

    def pruned(self, trees: Trees) -> Trees:
        """The files without the entries that are left out of them."""
        return {source: self._pruned(source, node) for source, node in trees.items()} if self.but else trees

    def _pruned(self, source: Source, node: Tree) -> Tree:
        kept = {key: child for key, child in node.items.items() if (source.path, key) not in self.but}
        return Tree(kept, node.where, {key: node.keys[key] for key in kept})

    def mark(self, fingerprint: str) -> str:
        """The fingerprint of the book that comes of it."""
        if self == Patch():
            return fingerprint
        digest = hashlib.sha256(fingerprint.encode())
        for place, path in sorted(self.instead.items()):
            digest.update(f"{place.as_posix()}\0".encode("utf-8", "surrogateescape"))
            digest.update(path.read_bytes() if path.is_file() else b"")
        for path in sorted(self.without):
            digest.update(f"-{path.as_posix()}\0".encode("utf-8", "surrogateescape"))
        for path, name in sorted(self.but):
            digest.update(f"-{path.as_posix()}\0{name}\0".encode("utf-8", "surrogateescape"))
        return digest.hexdigest()[:16]


def patch_for(files: Sequence[Path], folders: Sequence[Path]) -> tuple[Patch, Patch]:
    """What to read before and after, to see what files change.

    A file that lies in one of the folders is left out before. Any other stands after in the place of the file of its
    name in the book, or is added to it.

    Args:
        files: rule files.
        folders: those of the book, the book itself first.

    Raises:
        BookError: a file is missing, or its name says that it is no rule file.
    """
    gone: set[Path] = set()
    instead: dict[Path, Path] = {}
    for path in files:
        home = next((folder for folder in folders if path.resolve().is_relative_to(folder.resolve())), None)
        if home is not None:
            gone.add(home / path.resolve().relative_to(home.resolve()))
        else:
            instead[_place(path, folders[0])] = path
    return Patch(without=frozenset(gone)), Patch(instead=instead)


def _place(path: Path, base: Path) -> Path:
    """Where a file from elsewhere would stand in the book."""
    if not path.is_file():
        raise BookError("book.missing", "there is no such file", Location(str(path)), "Name a rule file or a folder.")
    whole = path.resolve()
    if whole.parent.name == "causes" or kind_of(Path(path.name)) is None:
        return next(iter(sorted(base.glob(f"*/causes/{path.name}"))), None) or _cause(whole, base)
    place = base / whole.parent.name / path.name
    if whole.parent.name and place.exists():
        return place
    if kind_of(Path(path.name)) == "book":
        return base / path.name
    return base / ADDED / path.name


def _cause(whole: Path, base: Path) -> Path:
    hint = "Name a rule file or a folder."
    if whole.suffix != ".yaml":
        message = "this is no rule file: the name of a rule file ends in .yaml"
        raise BookError("file.unknown", message, Location(str(whole)), hint)
    if re.search(rb"^case:", whole.read_bytes(), re.MULTILINE):
        raise BookError("file.unknown", "this is a worked case, not a rule file", Location(str(whole)), hint)
    return base / ADDED / "causes" / whole.name
