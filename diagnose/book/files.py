"""The files of a rule book, and the fingerprint of what stands in them.

Cast: `rule_files` lists them, `fingerprint` sums them up; `yaml_files` serves case files as well. No YAML is read here.
"""

from __future__ import annotations

import hashlib
import os
import stat
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path

from diagnose.errors import BookError, Location

MOST_FILES = 5_000
ENDINGS = (".yaml", ".yml")
"""Of these only the first is right; the other is looked for so that such a file is not passed over without a word."""

Refuse = Callable[[BookError], None]
"""Takes what is wrong but does not keep the rest from being read."""


def rule_files(folder: Path, refuse: Refuse | None = None) -> list[Path]:
    """The YAML files of a book, sorted; hidden ones are left out.

    Args:
        folder: the book's folder.
        refuse: takes folders in it that cannot be read; raised as well when None.

    Raises:
        BookError: the folder is missing or unreadable, or holds no such file.
    """
    place, hint = Location(str(folder)), "Name the folder that holds book.yaml."
    try:
        mode = folder.stat().st_mode
    except (OSError, ValueError) as why:
        missing = isinstance(why, FileNotFoundError | NotADirectoryError)
        message = "there is no such folder" if missing else f"this folder cannot be read: {_reason(why)}"
        raise BookError("book.missing" if missing else "book.unreadable", message, place, hint) from None
    if not stat.S_ISDIR(mode):
        raise BookError("book.file", "this is a file, not a folder", place, hint)
    files: list[Path] = []
    for path in yaml_files(folder, refuse):
        files.append(path)
        if len(files) > MOST_FILES:
            raise BookError("book.too-many", f"more than {MOST_FILES:,} .yaml files stand here", place, hint)
    if not files:
        raise BookError("book.empty", "this folder holds no .yaml file", place, hint)
    return sorted(files)


def _reason(why: Exception) -> str:
    return getattr(why, "strerror", None) or str(why)


def yaml_files(folder: Path, refuse: Refuse | None = None) -> Iterator[Path]:
    """Everything in a folder with the ending of a YAML file, unsorted.

    Folders of such a name are among them, hidden files are not; links to folders are not followed. A folder that cannot
    be read goes to `refuse`, or is raised: always when it is the folder itself.
    """

    def unreadable(why: OSError) -> None:
        place = Location(Path(str(why.filename)).as_posix(), 1, 1)
        message = f"this folder cannot be read: {_reason(why)}"
        told = BookError("book.unreadable", message, place, "Check the folder's rights.")
        if refuse is None or Path(str(why.filename)) == folder:
            raise told
        refuse(told)

    for place, folders, names in os.walk(folder, onerror=unreadable):
        folders[:] = [name for name in folders if not name.startswith(".")]
        for name in [*folders, *names]:
            if name.lower().endswith(ENDINGS) and not name.startswith("."):
                yield Path(place) / name


def joined(marks: Sequence[str]) -> str:
    """The fingerprint of a book with its own folders: of one folder its own, of several one over all, in order."""
    return marks[0] if len(marks) == 1 else hashlib.sha256("\n".join(marks).encode()).hexdigest()[:16]


def fingerprint(folder: Path, files: list[Path]) -> str:
    """SHA-256 over the names and bytes of the files, as 16 hexadecimal digits."""
    digest = hashlib.sha256()
    for path in files:
        try:
            raw = path.read_bytes() if path.is_file() else b"no file"
        except OSError:
            raw = b"unreadable"
        digest.update(f"{path.relative_to(folder).as_posix()}\0{len(raw)}\0".encode("utf-8", "surrogateescape"))
        digest.update(raw)
    return digest.hexdigest()[:16]
