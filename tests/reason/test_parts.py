"""Parts of which some bikes take another number: what the plan, its price and the anomalies make of them."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from diagnose.book.anomalies.ends import DeadCondition
from diagnose.book.anomalies.study import study_book
from diagnose.book.cache import decode, encode
from diagnose.book.model import Book
from diagnose.casework.view.plan import parts_of
from tests.reason.small_book import cause, diagnose, finding, fix, read_small, write_book

BOTH: dict[str, Any] = {"if": {"side": "both"}, "count": 2}


def pads_book(folder: Path, *cases: dict[str, Any]) -> Path:
    """New pads, 6 EUR a pair; a minute is 1 EUR."""
    taken = {"count": 1, "cases": list(cases)}
    return write_book(
        folder,
        complaints={"knocks": {}},
        causes={
            "worn": cause({"knocks": "80 %"}, {"face": {"thin": "90 %"}}, fix("replace", "95 %", parts={"pads": taken}))
        },
        findings={"face": finding("thin whole", {"thin": "10 %"}, {"look": {}})},
        facts={"side": {"ask": "Which?", "values": {"front": "front", "rear": "rear", "both": "both"}}},
        parts={"pads": {"name": "pair of pads", "price": {"low": 6, "high": 6}}},
    )


@pytest.fixture
def book(tmp_path: Path) -> Book:
    """One pair, and two where both brakes are meant."""
    return read_small(pads_book(tmp_path / "rules", BOTH))


@pytest.mark.parametrize(("profile", "pairs"), [({}, 1), ({"side": ("front",)}, 1), ({"side": ("both",)}, 2)])
def test_a_part_is_counted_for_the_bike(book: Book, profile: dict[str, tuple[str, ...]], pairs: int) -> None:
    """While nobody knows the usual number stands; the price follows, whatever bike was weighed before."""
    assert [one["count"] for one in parts_of(book, book.fixes["replace"], profile)] == [pairs]
    costs = []
    for known in ({}, profile):
        outlook = diagnose(book, profile=known).outlook
        assert outlook is not None
        (course,) = outlook.courses.values()
        (one,) = course.treatments
        costs.append(one.closed_cost)
        assert outlook.bench.parts_price(book.fixes["replace"]) == (6.0 * (pairs if known else 1),) * 2
    assert costs[1] - costs[0] == pytest.approx(6.0 * (pairs - 1))


def test_the_kept_copy_has_it_too(book: Book) -> None:
    """A book that is written for the next start and read again takes the same parts."""
    assert decode(encode(book)).fixes["replace"] == book.fixes["replace"]


def test_a_case_that_never_counts_is_told(tmp_path: Path) -> None:
    """One before it holds wherever it does."""
    found = []
    for name, cases in (("right", (BOTH,)), ("wrong", (BOTH, {"if": {"side": ["both"]}, "count": 3}))):
        study, problems = study_book(pads_book(tmp_path / name, *cases))
        assert study is not None, problems
        found.append([one.message for one in DeadCondition().find(study)])
    assert found == [[], ["case 2 of the part 'pads' never holds: a case before it holds wherever it does"]]
