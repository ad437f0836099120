"""The folder of broken books: `lay` puts one together, `told` is what `diagnose rules check` says of it.

Each folder `broken/NAME` holds the files in which it differs from the book `small`, and a list REMOVED of those it
lacks; `broken/NAME.txt` is what is said, with the exit code below. After a message was changed on purpose,
`python -m tests.book.broken_books` writes all of them anew: read the difference as a mechanic who knows no Python.
"""

from __future__ import annotations

import os
import shutil
import tempfile
from contextlib import chdir, redirect_stderr, redirect_stdout
from io import StringIO
from pathlib import Path

from diagnose.front.main import main

SMALL = Path(__file__).with_name("small")
BROKEN = Path(__file__).with_name("broken")


def names() -> list[str]:
    """The broken books."""
    return sorted(path.name for path in BROKEN.iterdir() if path.is_dir())


def lay(name: str, place: Path) -> Path:
    """The whole broken book as a new folder `book` in `place`."""
    folder = lay_small(place)
    shutil.copytree(BROKEN / name, folder, dirs_exist_ok=True)
    removed = folder / "REMOVED"
    if removed.is_file():
        for line in removed.read_text(encoding="utf-8").split():
            (folder / line).unlink()
        removed.unlink()
    return folder


def lay_small(place: Path) -> Path:
    """A copy of the small book, which has nothing wrong with it, as a new folder `book` in `place`."""
    folder = place / "book"
    shutil.copytree(SMALL, folder)
    return folder


def told(folder: Path) -> str:
    """What `diagnose rules check` says of a book, run beside its folder, and the exit code."""
    said, errors = StringIO(), StringIO()
    with chdir(folder.parent), redirect_stdout(said), redirect_stderr(errors):
        code = main(["rules", "check", folder.name])
    return f"{said.getvalue()}{errors.getvalue()}exit {code}\n"


def _rewrite() -> None:
    with tempfile.TemporaryDirectory() as place:
        os.environ["HOME"] = os.environ["XDG_CACHE_HOME"] = place
        for name in names():
            folder = lay(name, Path(place) / name)
            (BROKEN / f"{name}.txt").write_text(told(folder), encoding="utf-8")


if __name__ == "__main__":
    _rewrite()
