"""The folder of broken case files: `told` is what is said of one, read for the small book of the rule-book tests.

`broken/NAME.txt` holds it. After a message was changed on purpose, `python -m tests.casework.broken_cases` writes all
of them anew: read the difference as a mechanic who knows no Python would.
"""

from __future__ import annotations

from contextlib import chdir
from pathlib import Path

from diagnose.book.model import Book
from diagnose.book.shelf import load_book
from diagnose.casework.casefile import CaseProblemsError, read_case
from diagnose.front.problems import describe
from tests.book.broken_books import SMALL

BROKEN = Path(__file__).with_name("broken")


def small_book() -> Book:
    """The book that the cases are for."""
    return load_book(SMALL, cache=False)


def names() -> list[str]:
    """The broken cases, and the sound one that they differ from."""
    return sorted(path.stem for path in BROKEN.glob("*.yaml"))


def told(path: Path, book: Book) -> str:
    """Every problem of a case file, a line each, or its sentence when there is none."""
    with chdir(path.parent):
        try:
            return f"{read_case(Path(path.name), book).sentence}\n"
        except CaseProblemsError as why:
            return "".join(f"{describe(problem)}\n" for problem in why.problems)


def _rewrite() -> None:
    book = small_book()
    for name in names():
        (BROKEN / f"{name}.txt").write_text(told(BROKEN / f"{name}.yaml", book), encoding="utf-8")


if __name__ == "__main__":
    _rewrite()
