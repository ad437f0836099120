"""Which checks are open on a bike at a stand, and what a check costs with all that comes with it."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from diagnose.book.model import Book
from diagnose.reason.situation import Repair
from tests.reason.small_book import Raw, answer, cause, diagnose, finding, fix, small_book

PLACES: Raw = {
    "play": finding(
        "yes no",
        {"yes": "50 %"},
        {
            "rock": {"minutes": 3},
            "press": {"minutes": 4, "tools": ["gauge"]},
            "rider-feels": {"by": "rider", "minutes": 1, "trust": "90 %"},
            "inside": {"minutes": 2, "teardown": "wheel-out", "needs": ["seat"]},
        },
    ),
    "seated": finding("yes no", {"yes": "95 %"}, {"seat": {"minutes": 1.5}}),
    "off-topic": finding("yes no", {"yes": "50 %"}, {"sniff": {"minutes": 0.1}}),
}
TEARDOWNS: Raw = {"wheel-out": {"name": "wheel out", "open": 2, "close": 3}}


@pytest.fixture
def places(tmp_path: Path) -> Book:
    """Several ways to look at one finding: with a tool, by the rider, behind a teardown."""
    return small_book(
        tmp_path,
        complaints={"knocks": {}},
        causes={
            "a": cause({"knocks": "45 %"}, {"play": {"yes": "90 %"}}, fix("mend-a", "80 %", 39)),
            "b": cause({"knocks": "45 %"}, {"play": {"yes": "10 %"}}, fix("mend-b", "80 %", 39)),
        },
        findings=PLACES,
        teardowns=TEARDOWNS,
        tools={"gauge": "a gauge"},
    )


def open_checks(book: Book, **known: Any) -> set[str]:
    """The checks that may be asked."""
    outlook = diagnose(book, **known).outlook
    assert outlook is not None
    return {check.id for check in outlook.open_checks()}


def test_only_checks_that_a_cause_speaks_to_are_open(places: Book) -> None:
    """What no cause here says anything of is not asked, however cheap."""
    assert open_checks(places) == {"rock", "press", "rider-feels", "inside"}


def test_what_the_stand_lacks_is_not_asked(places: Book) -> None:
    """No gauge, no pressing; a rider at the counter is asked what a rider can answer."""
    assert open_checks(places, without=frozenset({"gauge"})) == {"rock", "rider-feels", "inside"}
    assert open_checks(places, role="rider", skill="rider") == {"rider-feels"}


def test_what_has_been_seen_for_sure_is_not_asked_another_way(places: Book) -> None:
    """A mechanic's look settles the finding; a rider's word leaves it open; can't tell closes that check alone."""
    assert open_checks(places, answers=(answer(places, "rock", "yes"),)) == set()
    assert open_checks(places, answers=(answer(places, "rider-feels", "yes", by="rider"),)) == {
        "rock",
        "press",
        "inside",
    }
    assert open_checks(places, answers=(answer(places, "rock", None),)) == {"press", "rider-feels", "inside"}


def test_what_a_fix_has_disturbed_may_be_asked_again(places: Book) -> None:
    """After a fix that disturbs the finding its answer is gone and the check is open again."""
    stale = answer(places, "rock", "yes", stale=True)
    repaired = Repair(("mend-a",), {"knocks": False})
    assert "rock" in open_checks(places, answers=(stale,), repairs=(repaired,))


def test_a_check_costs_what_must_be_opened_and_asked_first(places: Book) -> None:
    """Inside: 2 minutes, 2 to open, and the seat looked at first, 1.5; the wheel is out afterwards."""
    outlook = diagnose(places).outlook
    assert outlook is not None
    cost, still_open, first = outlook.check_cost(places.checks["inside"], outlook.here)
    assert cost == pytest.approx(2 + 2 + 1.5)
    assert (still_open, first) == (frozenset({"wheel-out"}), ["seat"])


def test_a_wheel_that_is_out_saves_opening_it_and_is_closed_for_what_needs_it_in(places: Book) -> None:
    """With the wheel out a look inside costs no opening, a look from outside has to put it back."""
    outlook = diagnose(
        places, open_teardowns=frozenset({"wheel-out"}), answers=(answer(places, "seat", "yes"),)
    ).outlook
    assert outlook is not None
    assert outlook.check_cost(places.checks["inside"], outlook.here)[0] == pytest.approx(2)
    cost, still_open, _ = outlook.check_cost(places.checks["rock"], outlook.here)
    assert cost == pytest.approx(3 + 3)
    assert still_open == frozenset()
    assert outlook.check_cost(places.checks["rider-feels"], outlook.here)[0] == pytest.approx(1)


def test_what_a_check_needs_is_asked_before_it(tmp_path: Path) -> None:
    """The best check is the one inside; the step is the seat that it needs, and says what it prepares."""
    findings = {**PLACES, "play": finding("yes no", {"yes": "50 %"}, {"inside": {"minutes": 1, "needs": ["seat"]}})}
    book = small_book(
        tmp_path,
        complaints={"knocks": {}},
        causes={
            "a": cause({"knocks": "45 %"}, {"play": {"yes": "90 %"}}, fix("mend-a", "80 %", 39)),
            "b": cause({"knocks": "45 %"}, {"play": {"yes": "10 %"}}, fix("mend-b", "80 %", 39)),
        },
        findings=findings,
    )
    found = diagnose(book).next
    assert (found.id, found.prepares) == ("seat", "inside")
    after = diagnose(book, answers=(answer(book, "seat", "yes"),)).next
    assert (after.id, after.prepares) == ("inside", "")
