"""A bike that comes back a second time with the same complaint is handed on, until the experienced mechanic has it."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from diagnose.book.shelf import load_book
from diagnose.casework import events
from diagnose.casework.events import Draft
from diagnose.casework.fold import fold
from diagnose.casework.view import make_view
from diagnose.reason.reasoner import Reasoner
from tests.shipped import shipped_book

SMALL = Path(__file__).parent.parent / "front" / "book"
CURED = events.ended("cured")
BACK = events.came_back()
GATE = events.profile("arrival", ["nothing"])


@pytest.fixture(scope="module")
def reasoner() -> Reasoner:
    """A small book that has no class of hand-off of its own for it."""
    return Reasoner(load_book(SMALL))


def view(reasoner: Reasoner, complaint: str, *told: Draft) -> dict[str, Any]:
    """The View of a job."""
    opened = [events.opened("mechanic", "mechanic"), events.complaint(complaint), GATE]
    return make_view(reasoner, fold(reasoner.book, [*opened, *told]))


def test_the_first_comeback_is_worked_on(reasoner: Reasoner) -> None:
    """Afresh."""
    assert view(reasoner, "wheel-grinds", CURED, BACK, GATE)["next"]["kind"] != "hand-off"


def test_the_second_comeback_is_handed_on_with_the_reason(reasoner: Reasoner) -> None:
    """Whatever the book would try next; the note goes along."""
    told = view(reasoner, "wheel-grinds", CURED, BACK, GATE, CURED, BACK, GATE)
    assert told["next"]["kind"] == "hand-off"
    first = told["hand_off"][0]
    assert "two repairs did not hold" in first["reason"]
    assert first["class"] == "workshop"
    assert "Complaint: Wheel grinds." in first["note"]


def test_whoever_takes_it_on_works_on_it(reasoner: Reasoner) -> None:
    """Handed on and opened again it goes on; a third comeback is handed on again."""
    taken = (CURED, BACK, GATE, CURED, BACK, GATE, events.ended("handed-off"), events.reopened())
    assert view(reasoner, "wheel-grinds", *taken)["next"]["kind"] != "hand-off"
    assert view(reasoner, "wheel-grinds", *taken, CURED, events.reopened())["next"]["kind"] != "hand-off"
    assert view(reasoner, "wheel-grinds", *taken, CURED, BACK, GATE)["next"]["kind"] == "hand-off"


def test_opened_again_after_another_end_it_is_still_to_be_handed_on(reasoner: Reasoner) -> None:
    """Only being handed on says that somebody else took it."""
    told = (CURED, BACK, GATE, CURED, BACK, GATE, events.ended("declined"), events.reopened())
    assert view(reasoner, "wheel-grinds", *told)["next"]["kind"] == "hand-off"


def test_what_the_book_says_of_a_second_comeback_ends_when_it_is_taken_on() -> None:
    """Of a danger too: its own deduction would hand it on again."""
    told = (CURED, BACK, GATE, CURED, BACK, GATE, events.ended("handed-off"), events.reopened())
    taken = view(Reasoner(shipped_book(), depth=1), "weak-brake", *told)
    assert taken["next"]["kind"] != "hand-off"


def test_the_shipped_book_names_the_experienced_mechanic() -> None:
    """By a class of hand-off of its own."""
    told = view(Reasoner(shipped_book(), depth=1), "front-knock", CURED, BACK, GATE, CURED, BACK, GATE)
    assert told["hand_off"][0]["to"] == "the most experienced mechanic of the shop"


@pytest.fixture(scope="module")
def shipped() -> Reasoner:
    """The shipped book, one step deep."""
    return Reasoner(shipped_book(), depth=1)


CRACKED = events.answered("look-round-disc", "mechanic", "cracked")


def must_do(told: dict[str, Any]) -> list[str]:
    """What must be done anyway, and what stands against riding because of what was told."""
    also = [one["fix"] for one in told["also"]]
    return also + [one["conclusion"] for one in told["ride"]["because"] if one["conclusion"]]


def test_a_danger_that_was_put_right_at_the_last_visit_is_not_done_again(shipped: Reasoner) -> None:
    """A cracked disc that was replaced: the bike that comes back has another one."""
    renewed = events.fix_done("replace-disc", {"weak-brake": "gone"})
    told = view(shipped, "weak-brake", CRACKED, renewed, CURED, BACK, GATE)
    assert must_do(told) == []
    again = view(shipped, "weak-brake", CRACKED, renewed, CURED, BACK, GATE, CURED, BACK, GATE)
    assert again["also"] == []


def test_a_danger_that_nobody_put_right_stays_when_the_bike_comes_back(shipped: Reasoner) -> None:
    """Not done at all, something else done, seen again after it was done, or seen anew now."""
    renewed = events.fix_done("replace-disc", {"weak-brake": "still-there"})
    other = events.fix_done("free-pistons", {"weak-brake": "gone"})
    for done in ([], [other], [renewed, CRACKED]):
        told = view(shipped, "weak-brake", CRACKED, *done, events.ended("declined"), BACK, GATE)
        assert "replace-disc" in must_do(told)
    assert "replace-disc" in must_do(view(shipped, "weak-brake", CRACKED, renewed, CURED, BACK, GATE, CRACKED))
