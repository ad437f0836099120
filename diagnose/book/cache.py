"""A JSON copy of a checked book keyed by the content of its files and the code that reads them.

Cast: `recall` and `remember`; `encode` and `decode` turn frozen objects into JSON and back. A copy that is missing,
damaged or of another version is read as no copy; nothing here ever fails.
"""

from __future__ import annotations

import gc
import hashlib
import json
import os
import sys
import zlib
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import Any

from diagnose import __version__
from diagnose.book import model
from diagnose.book.model import Book
from diagnose.errors import Location

KEEP = 8
"""How many copies stay in the folder."""


def cache_folder() -> Path:
    """Where copies are kept: XDG_CACHE_HOME, or the platform's usual place."""
    base = os.environ.get("XDG_CACHE_HOME", "")
    if base and Path(base).is_absolute():
        return Path(base) / "diagnose"
    if sys.platform == "win32" and os.environ.get("LOCALAPPDATA"):
        return Path(os.environ["LOCALAPPDATA"]) / "diagnose"
    return Path("~").expanduser() / ".cache" / "diagnose"


def _file(mark: str, folders: Sequence[Path]) -> Path:
    """The places in a book name its files as they were given, so a copy belongs to one way of naming the folders."""
    given = zlib.crc32("\n".join(map(str, folders)).encode("utf-8", "surrogateescape"))
    return cache_folder() / f"book-{mark}-{given:08x}-{__version__}-{_reader_mark()}.json"


def _reader_mark() -> str:
    """Changes when the code that reads a book does, so that a copy is never what an older reading made of the rules."""
    stats = [(path.name, path.stat()) for path in sorted(Path(__file__).parent.glob("*.py"))]
    text = ";".join(f"{name}:{stat.st_size}:{stat.st_mtime_ns}" for name, stat in stats)
    return f"{zlib.crc32(text.encode()):08x}"


def _classes() -> dict[str, Any]:
    named = {name: cls for name, cls in vars(model).items() if hasattr(cls, "_fields")}
    return {**named, "Book": Book}


def recall(mark: str, folders: Sequence[Path]) -> Book | None:
    """The book with this fingerprint, as read from these folders, or None."""
    try:
        seal, _, text = _file(mark, folders).read_bytes().partition(b"\n")
        if seal != _seal(text):
            return None
        book = decode(json.loads(text))
    except (OSError, ValueError, TypeError, KeyError, IndexError, AttributeError, RuntimeError):
        return None
    return book if isinstance(book, Book) and book.fingerprint == mark else None


def _seal(text: bytes) -> bytes:
    """Tells a copy that was cut short or damaged; no guard against a forger, who could change the rules as well."""
    return hashlib.sha256(text).hexdigest().encode()


def remember(book: Book, folders: Sequence[Path]) -> None:
    """Keep a copy of the book read from these folders; a cache folder that cannot be written is no error."""
    try:
        path = _file(book.fingerprint, folders)
    except (OSError, RuntimeError):
        return  # there is no home folder to keep it in
    partial = path.with_suffix(f".{os.getpid()}")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        text = json.dumps(encode(book), separators=(",", ":")).encode()
        partial.write_bytes(_seal(text) + b"\n" + text)
        partial.replace(path)
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
    """Frozen objects to JSON: the files they stand in, and ["Class", field, ...].

    A tuple is ["", ...], and a place names its file by number.
    """
    files: dict[str, int] = {}

    def told(one: Any) -> Any:
        if isinstance(one, Location):
            return ["@", files.setdefault(one.file, len(files)), one.line, one.column]
        if isinstance(one, Book):
            return ["Book", *(told(getattr(one, name)) for name in Book.__dataclass_fields__)]
        if hasattr(one, "_fields"):
            return [type(one).__name__, *map(told, one)]
        if isinstance(one, tuple):
            return ["", *map(told, one)]
        if isinstance(one, dict):
            return {key: told(item) for key, item in one.items()}
        return one

    body = told(value)
    return [list(files), body]


def decode(value: Any) -> Any:
    """The inverse of `encode`; the sections of a book are made into objects when they are first looked at.

    Raises:
        KeyError, ValueError or TypeError: this is nothing that `encode` gives.
    """
    files, body = value
    classes = _classes()

    def build(one: Any) -> Any:
        kind = type(one)
        if kind is list:
            head = one[0]
            if head == "@":
                return Location(files[one[1]], one[2], one[3])
            if head == "Book":
                sections: list[Any] = [_Later(item, build) if type(item) is dict else build(item) for item in one[1:]]
                return Book(*sections)
            items = [build(item) if type(item) in _NESTED else item for item in one[1:]]
            return tuple(items) if head == "" else classes[head](*items)
        if kind is dict:
            return {key: build(item) if type(item) in _NESTED else item for key, item in one.items()}
        return one

    return build(body)


_NESTED = frozenset((list, dict))


class _Later(dict[str, Any]):
    """A section of a book, made into objects when it is first looked at: the first question needs but few of them."""

    __slots__ = ("_build", "_encoded")

    def __init__(self, encoded: dict[str, Any], build: Callable[[Any], Any]) -> None:
        super().__init__()
        self._encoded: dict[str, Any] | None = encoded
        self._build = build

    def _made(self) -> _Later:
        encoded, self._encoded = self._encoded, None
        if encoded is not None:
            collecting = gc.isenabled()
            gc.disable()  # none of the many new objects is garbage
            try:
                super().update(self._build(encoded))
            finally:
                if collecting:
                    gc.enable()
        return self

    def __missing__(self, key: str) -> Any:
        if self._encoded is None:
            raise KeyError(key)
        return self._made()[key]

    def __contains__(self, key: object) -> bool:
        return super().__contains__(key) if self._encoded is None else key in self._made()

    def __iter__(self) -> Iterator[str]:
        self._made()
        return super().__iter__()

    def __len__(self) -> int:
        self._made()
        return super().__len__()

    def __eq__(self, other: object) -> bool:
        self._made()
        return super().__eq__(other._made() if isinstance(other, _Later) else other)

    __hash__ = None  # as every dict

    def __repr__(self) -> str:
        self._made()
        return super().__repr__()

    def get(self, key: str, default: Any = None) -> Any:
        """As of any dict."""
        self._made()
        return super().get(key, default)

    def keys(self) -> Any:
        """As of any dict."""
        self._made()
        return super().keys()

    def values(self) -> Any:
        """As of any dict."""
        self._made()
        return super().values()

    def items(self) -> Any:
        """As of any dict."""
        self._made()
        return super().items()
