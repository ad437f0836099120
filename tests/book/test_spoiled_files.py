"""A slice of the spoiled rule and case files: each ends in problems with a place or in success, nothing else.

`python -m tests.book.spoiled_files` runs ten thousand.
"""

from __future__ import annotations

from collections import Counter
from pathlib import Path

import pytest

from tests.book.spoiled_files import READ, REFUSED, WARNED, cases, shipped_files, small_books, whole_books

CHUNKS = 10
OF_THE_SMALL_BOOK = 800
OF_SHIPPED_RULES = 700
OF_SHIPPED_CASES = 500
OF_WHOLE_BOOKS = 6


def seeds(total: int, chunk: int) -> range:
    """The seeds of one chunk of so many spoiled files."""
    return range(chunk, total, CHUNKS)


@pytest.mark.parametrize("chunk", range(CHUNKS))
def test_a_spoiled_small_book_is_told_or_works(chunk: int, tmp_path: Path) -> None:
    """A whole book with one spoiled file, checked to the end; some get past the reader."""
    run = small_books(tmp_path)
    ends = Counter(run(seed) for seed in seeds(OF_THE_SMALL_BOOK, chunk))
    assert {REFUSED, READ} <= set(ends) <= {REFUSED, READ, WARNED}


@pytest.mark.parametrize("chunk", range(CHUNKS))
def test_a_spoiled_file_of_the_shipped_book_is_told_or_works(chunk: int, tmp_path: Path) -> None:
    """One spoiled file among ids that are all known."""
    run = shipped_files(tmp_path)
    ends = Counter(run(seed) for seed in seeds(OF_SHIPPED_RULES, chunk))
    assert set(ends) == {REFUSED, READ}


def test_a_whole_book_with_a_spoiled_file_is_told_or_works(tmp_path: Path) -> None:
    """The closer look as well."""
    run = whole_books(tmp_path)
    assert {run(seed) for seed in range(OF_WHOLE_BOOKS)} <= {REFUSED, READ, WARNED}


@pytest.mark.parametrize("chunk", range(CHUNKS))
def test_a_spoiled_case_is_told_or_runs(chunk: int, tmp_path: Path) -> None:
    """Where a spoiled case still reads well it also runs to a View."""
    run = cases(tmp_path)
    ends = Counter(run(seed) for seed in seeds(OF_SHIPPED_CASES, chunk))
    assert REFUSED in ends
    assert set(ends) <= {REFUSED, READ}
