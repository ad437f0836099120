"""Where the store's file lies, and what the machine's refusals about it mean.

Cast: `default_path` is the usual place, `prepare` makes its folder; `told_clearly` turns what SQLite and the system
raise into a `StoreError` that says what happened, where, and what to do, in the words of `refusal`; `written_whole`
writes any other file that may not be left half.
"""

from __future__ import annotations

import errno
import os
import sys
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Final, TextIO

from diagnose.errors import Location, StoreError

if TYPE_CHECKING:
    import sqlite3


def default_path(environ: Mapping[str, str] | None = None, platform: str = sys.platform) -> Path:
    """The file of the user's own store.

    `DIAGNOSE_STORE` names the file itself. Without it the file lies in the user's data folder: `XDG_DATA_HOME` if that
    is an absolute path (XDG Base Directory Specification), else what the platform has for it.
    """
    env = os.environ if environ is None else environ
    named = env.get("DIAGNOSE_STORE", "")
    if named:
        return _absolute(named)
    return _data_folder(env, platform) / "diagnose" / "cases.sqlite3"


def _data_folder(env: Mapping[str, str], platform: str) -> Path:
    xdg = env.get("XDG_DATA_HOME", "")
    if xdg.startswith("/") or (xdg and Path(xdg).is_absolute()):
        return Path(xdg)
    home = _absolute(env.get("HOME") or "~")
    if platform == "win32":
        return Path(env.get("LOCALAPPDATA") or home / "AppData" / "Local")
    if platform == "darwin":
        return home / "Library" / "Application Support"
    return home / ".local" / "share"


def _absolute(path: str) -> Path:
    try:
        return Path(path).expanduser().absolute()
    except (RuntimeError, OSError) as error:
        raise StoreError(
            "store.no-home",
            f"There is no folder to keep jobs in: {error}",
            hint="Set DIAGNOSE_STORE to the file to keep them in.",
        ) from error


def prepare(file: Path) -> None:
    """Creates the missing folders above `file`, open to their owner alone; refuses a `file` that cannot be a store."""
    if file.is_dir():
        raise refusal("store.is-folder", file)
    if file.exists() and 0 < file.stat().st_size < _HEADER_BYTES:
        raise refusal("store.damaged", file)
    missing = []
    for folder in file.parents:
        if folder.is_dir():
            break
        missing.append(folder)
    for folder in reversed(missing):
        folder.mkdir(mode=0o700, exist_ok=True)


@contextmanager
def told_clearly(file: Path) -> Iterator[None]:
    """Turns errors of SQLite and of the system into a `StoreError` about `file`."""
    import sqlite3

    try:
        yield
    except sqlite3.Error as error:
        raise refusal(_code_of_sqlite(error, file), file, getattr(error, "sqlite_errorname", str(error))) from error
    except OSError as error:
        raise refusal(_code_of_system(error), file, error.strerror or str(error)) from error


@contextmanager
def _told_of_writing(file: Path) -> Iterator[None]:
    """Turns errors of the system into a `StoreError` about a `file` that is no store."""
    try:
        yield
    except OSError as error:
        code = _code_of_system(error)
        raise refusal(_WRITING.get(code, code), file, error.strerror or str(error)) from error


@contextmanager
def written_whole(file: Path, mode: int = 0o600, over: bool = False) -> Iterator[TextIO]:
    """A text file that is there whole or not at all: written beside, made safe on the disk, then given its name.

    Args:
        file: what to write; refused where it is there, unless it is written `over`.
        mode: the rights of a new file.
        over: whether a file of that name is replaced.

    Raises:
        StoreError: it is there, or the disk did not take it; nothing is left of it then.
    """
    if not over and file.exists():
        raise refusal("store.exists", file)
    half = file.with_name(f".{file.name}.{os.getpid()}.part")
    with _told_of_writing(file):
        try:
            with half.open("x", encoding="utf-8", newline="\n") as writing:
                half.chmod(mode)
                yield writing
                writing.flush()
                os.fsync(writing.fileno())
            if not over and file.exists():
                raise refusal("store.exists", file)
            half.replace(file)
        finally:
            half.unlink(missing_ok=True)


def refusal(code: str, file: Path, detail: str = "") -> StoreError:
    """The `StoreError` of `code` about `file`; `detail` is what the system or SQLite call it."""
    message, hint = _WORDS[code]
    return StoreError(code, message + (f" ({detail})." if detail else "."), Location(str(file)), f"{hint}.")


_WORDS: Final[Mapping[str, tuple[str, str]]] = {
    "store.locked": (
        "The jobs are held by another program, and it did not let go",
        "Nothing was changed. Close the other program, or wait until its copy or backup is done, then try again",
    ),
    "store.read-only": (
        "The jobs may not be written here",
        "Nothing was changed. Make the file and its folder writable, or name another file with --store",
    ),
    "store.cannot-write": (
        "This file cannot be written here",
        "Nothing was changed. Name another file, in a folder that is there and that you may write to",
    ),
    "store.rights": (
        "The jobs may not be opened here: the right is missing, or the disk is read-only",
        "Nothing was changed. Ask whoever owns the folder for the right, or name another file with --store",
    ),
    "store.full": (
        "The disk is full: this was not stored. What was stored before is safe",
        "Make room on the disk, then do the last step again",
    ),
    "store.disk": (
        "The disk did not take or give the data: this was not stored",
        "Check free space, quota and the disk, then do the last step again",
    ),
    "store.damaged": (
        "This file is damaged, or is not a store of jobs",
        "It was left as it is: keep it. `diagnose jobs rescue` says what can be saved of it; or put back a copy",
    ),
    "store.foreign": (
        "This is another program's database, not a store of jobs",
        "It was left as it is. Name another file with --store",
    ),
    "store.newer": (
        "A newer version of this program has written these jobs",
        "They were left as they are. Use the newer version, or name another file with --store",
    ),
    "store.is-folder": ("This is a folder, not a file to keep jobs in", "Name a file in it"),
    "store.cannot-open": (
        "The jobs cannot be opened here",
        "Check that the folder is there, or name another file with --store",
    ),
    "store.exists": ("There is such a file already", "It was left as it is. Name a new one"),
    "store.none": ("There are no jobs here yet", "Name another file with --store, or begin with `diagnose stand`"),
    "store.failed": ("The store of jobs failed: this was not stored", "Do the last step again"),
}


# A database begins with so many bytes (sqlite.org/fileformat2.html, 1.3), but SQLite overwrites a file of one byte.
_HEADER_BYTES: Final = 100


def _code_of_sqlite(error: sqlite3.Error, file: Path) -> str:
    import sqlite3

    primary = getattr(error, "sqlite_errorcode", -1) & 0xFF
    if primary == sqlite3.SQLITE_CANTOPEN:
        writable = os.access(file if file.exists() else file.parent, os.W_OK) and os.access(file.parent, os.W_OK)
        return "store.cannot-open" if writable else "store.rights"
    return {
        sqlite3.SQLITE_BUSY: "store.locked",
        sqlite3.SQLITE_LOCKED: "store.locked",
        sqlite3.SQLITE_READONLY: "store.read-only",
        sqlite3.SQLITE_PERM: "store.rights",
        sqlite3.SQLITE_AUTH: "store.rights",
        sqlite3.SQLITE_FULL: "store.full",
        sqlite3.SQLITE_IOERR: "store.disk",
        sqlite3.SQLITE_CORRUPT: "store.damaged",
        sqlite3.SQLITE_NOTADB: "store.damaged",
    }.get(primary, "store.failed")


_WRITING: Final[Mapping[str, str]] = dict.fromkeys(
    ("store.read-only", "store.rights", "store.cannot-open"), "store.cannot-write"
)
"""What is told of a file that is no store where the system says these of it."""


def _code_of_system(error: OSError) -> str:
    return {
        errno.EACCES: "store.rights",
        errno.EPERM: "store.rights",
        errno.EROFS: "store.read-only",
        errno.ENOSPC: "store.full",
        errno.EDQUOT: "store.full",
        errno.EFBIG: "store.disk",
        errno.EIO: "store.disk",
    }.get(error.errno or 0, "store.cannot-open")
