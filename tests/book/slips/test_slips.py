"""Each slip is told of the example that has it, not of the one that has not, and with its reason."""

from __future__ import annotations

import ast
import re
from pathlib import Path

import pytest

import diagnose.book
from diagnose.book.anomalies.study import study_book
from diagnose.book.kind import ERROR, Example
from diagnose.book.problems import Problem
from diagnose.book.slips.catalogue import SLIPS, why_of
from diagnose.book.slips.slip import Slip
from tests.book.anomalies.example_books import lay_example

WITH_EXAMPLES = pytest.mark.parametrize("slip", [one for one in SLIPS if one.wrong], ids=lambda one: one.name)
OF_THE_DISK = {
    "file.not-utf8", "file.too-big", "file.folder", "file.special", "file.missing", "file.unreadable",
    "book.missing", "book.file", "book.empty", "book.too-many", "book.unreadable",
    "book.two", "book.settled", "book.package",
}  # fmt: skip
"""Those that no line of text can show; tests/book/test_broken_books.py and test_own.py make each of them."""
OF_TIDYING = {"tidy.changed"}
CODE = re.compile(r"[a-z]+(?:-[a-z]+)*\.[a-z0-9]+(?:-[a-z0-9]+)*")


def problems_of(example: Example, place: Path) -> tuple[Problem, ...]:
    """What reading the small book with this example in it, and the own folders beside it, says."""
    folder = lay_example(example, place)
    own = [one for one in (place / "shop", place / "yard") if one.is_dir()]
    return study_book(folder, *own)[1]


@WITH_EXAMPLES
def test_it_is_told_of_the_wrong_example(slip: Slip, tmp_path: Path) -> None:
    """With a place, what is wrong, and what to write."""
    assert slip.wrong
    told = [one for one in problems_of(slip.wrong, tmp_path) if one.code == slip.name]
    assert told
    assert all(one.severity == slip.severity == ERROR for one in told)
    assert all(one.where.line >= 1 and one.where.column >= 1 for one in told)
    assert all(one.message and one.hint for one in told)


@WITH_EXAMPLES
def test_the_right_example_reads_without_a_word(slip: Slip, tmp_path: Path) -> None:
    """It differs in that one thing."""
    assert slip.right
    assert problems_of(slip.right, tmp_path) == ()


@pytest.mark.parametrize("slip", SLIPS, ids=lambda one: one.name)
def test_it_is_named_and_says_why_it_matters(slip: Slip) -> None:
    """Code, what it is and why it matters, each in a sentence."""
    assert CODE.fullmatch(slip.name)
    assert slip.what().endswith(".")
    assert slip.what() != Slip.what()
    assert slip.why.endswith(".")
    assert why_of(slip.name) == slip.why
    assert (slip.wrong is None) == (slip.right is None) == (slip.name in OF_THE_DISK)


def test_no_two_have_one_code() -> None:
    """A code is what a message is looked up by."""
    assert len({one.name for one in SLIPS}) == len(SLIPS)


def codes_told() -> set[str]:
    """Every code that the readers of a book tell problems under."""
    room = Path(str(diagnose.book.__file__)).parent
    told = set()
    for path in room.glob("*.py"):
        for call in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(call, ast.Call) and isinstance(call.func, ast.Name | ast.Attribute):
                name = call.func.id if isinstance(call.func, ast.Name) else call.func.attr
                words = [one.value for one in call.args if isinstance(one, ast.Constant) and isinstance(one.value, str)]
                if name in ("error", "BookError") and words:
                    told.add(words[0])
    return {code for code in told if CODE.fullmatch(code)}


def test_every_code_of_the_readers_is_a_slip() -> None:
    """So that no message of the check lacks its reason."""
    codes = codes_told()
    assert len(codes) > 50
    assert codes - OF_TIDYING <= {one.name for one in SLIPS}
