"""The rule book, checked and ready: from the cache where its files have not changed, else read anew.

Cast: `load_book(folder)`. The reading itself stands in `load`; it is not even imported where the cache has the book.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from diagnose.book.cache import recall, remember
from diagnose.book.files import fingerprint, joined, rule_files
from diagnose.book.model import Book
from diagnose.errors import BookError

if TYPE_CHECKING:
    from diagnose.book.problems import Problem


def load_book(*folders: Path, cache: bool = True) -> Book:
    """The book of a folder, with the own folders beside it.

    Raises:
        BookError: a folder cannot be read, or the first of its errors and how many there are.
    """
    mark = joined([fingerprint(folder, rule_files(folder)) for folder in folders])
    book = recall(mark, folders) if cache else None
    if book is None:
        from diagnose.book.load import read_book

        book, problems = read_book(*folders)
        errors = [problem for problem in problems if problem.severity == "error"]
        if book is None or errors:
            raise _unusable(errors)
        if cache:
            remember(book, folders)
    return book


def _unusable(errors: list[Problem]) -> BookError:
    first = errors[0]
    more = f" (and {len(errors) - 1} more)" if len(errors) > 1 else ""
    hint = f"{first.hint} `diagnose rules check` lists all.".strip()
    return BookError(first.code, f"the rule book cannot be used: {first.message}{more}", first.where, hint)
