"""A thing of the book by what was typed, and what to add where it may be one of an own folder that was not named.

Cast: `look_up`, as `ties.find`.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from diagnose.book.model import Book
from diagnose.book.place import adds_to
from diagnose.book.ties import Thing, find
from diagnose.errors import BookError

NEAR = ("rules", "*", "*/rules")
"""Where an own folder of rules may lie, seen from here."""


def look_up(book: Book, typed: str) -> tuple[Thing, ...]:
    """The things that an id or a name means.

    Raises:
        BookError: `id.unknown`; the hint names the nearest, and how an own folder is taken in that is not.
    """
    try:
        return find(book, typed)
    except BookError as why:
        raise BookError(why.code, why.message, why.location, f"{why.hint} {own_hint(book)}".strip()) from None


def own_hint(book: Book) -> str:
    """What to add to the command where the thing is of an own folder: one that lies near, by its name."""
    used = {Path(volume.folder).resolve() for volume in book.volumes}
    near = next((folder for folder in _own_folders(Path()) if folder.resolve() not in used), None)
    if near is None and len(book.volumes) > 1:
        return ""
    return f"Of an own folder? Add --rules {near.as_posix() if near else 'FOLDER'}."


def _own_folders(here: Path) -> Iterator[Path]:
    """Own folders near, those of the current folder first."""
    for pattern in NEAR:
        yield from (one for one in sorted(here.glob(pattern)) if one.is_dir() and adds_to(one) is not None)
