"""A JSON copy of a checked book in the user's cache folder, keyed by the content of its files and of the model.

Cast: `recall` and `remember`; `encode` and `decode` turn frozen objects into JSON and back. A copy that is missing, damaged or of
another version is read as no copy; nothing here ever fails.
"""

from __future__ import annotations

import json
import os
import sys
from pathlib import Path
from typing import Any

from diagnose import __version__
from diagnose.book import model
from diagnose.book.model import Book
from diagnose.errors import Location

FORMAT = 1
KEEP = 4
"""How many copies stay in the folder."""


def cache_folder() -> Path:
    """Where copies are kept: XDG_CACHE_HOME, or the platform's usual place."""
    base = os.environ.get("XDG_CACHE_HOME")
    if base:
        return Path(base) / "diagnose"
    if sys.platform == "win32" and os.environ.get("LOCALAPPDATA"):
        return Path(os.environ["LOCALAPPDATA"]) / "diagnose"
    return Path(os.path.expanduser("~")) / ".cache" / "diagnose"


def _file(mark: str) -> Path:
    return cache_folder() / f"book-{mark}-{__version__}-{FORMAT}-{_model_mark()}.json"


def _model_mark() -> str:
    """Changes when the model's classes or fields do, so that an older copy is never read into newer objects."""
    import zlib

    text = ";".join(f"{name}:{','.join(cls.__slots__)}" for name, cls in sorted(_classes().items()))
    return f"{zlib.crc32(text.encode()):08x}"


def _classes() -> dict[str, Any]:
    return {name: cls for name, cls in vars(model).items() if hasattr(cls, "__dataclass_fields__")}


def recall(mark: str) -> Book | None:
    """The book with this fingerprint, or None."""
    try:
        book = decode(json.loads(_file(mark).read_bytes()))
    except (OSError, ValueError, TypeError, KeyError, IndexError, RecursionError):
        return None
    return book if isinstance(book, Book) and book.fingerprint == mark else None


def remember(book: Book) -> None:
    """Keep a copy; an unwritable folder is no error."""
    path = _file(book.fingerprint)
    partial = path.with_suffix(f".{os.getpid()}")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        partial.write_text(json.dumps(encode(book), separators=(",", ":")), encoding="utf-8")
        os.replace(partial, path)
        _sweep(path.parent)
    except OSError:
        try:
            partial.unlink(missing_ok=True)
        except OSError:
            return


def _sweep(folder: Path) -> None:
    copies = sorted(folder.glob("book-*.json"), key=lambda path: path.stat().st_mtime, reverse=True)
    for old in copies[KEEP:]:
        old.unlink(missing_ok=True)


def encode(value: Any) -> Any:
    """Frozen objects to JSON: an object is ["Class", field, ...], a tuple is ["", ...], a place is one text."""
    if isinstance(value, Location):
        return ["@", *value]
    if hasattr(value, "__dataclass_fields__"):
        told = (name for name, one in value.__dataclass_fields__.items() if one.init)
        return [type(value).__name__, *(encode(getattr(value, name)) for name in told)]
    if isinstance(value, tuple):
        return ["", *map(encode, value)]
    if isinstance(value, dict):
        return {key: encode(one) for key, one in value.items()}
    return value


def decode(value: Any) -> Any:
    """The inverse of `encode`. Raises KeyError or TypeError on anything else."""
    classes = _classes()

    def build(one: Any) -> Any:
        if isinstance(one, list):
            head = one[0]
            if head == "":
                return tuple([build(item) if isinstance(item, (list, dict)) else item for item in one[1:]])
            if head == "@":
                return Location(*one[1:])
            return classes[head](*[build(item) if isinstance(item, (list, dict)) else item for item in one[1:]])
        if isinstance(one, dict):
            return {key: build(item) if isinstance(item, (list, dict)) else item for key, item in one.items()}
        return one

    return build(value)
