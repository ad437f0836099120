"""What a job comes to, and when the rider is to be rung before a fix."""

from __future__ import annotations

from pathlib import Path

import pytest

from diagnose.book.model import Book
from diagnose.book.shelf import load_book
from diagnose.casework import events
from diagnose.casework.consent import crossing
from diagnose.casework.events import Draft
from diagnose.casework.fold import Folded, fold
from diagnose.casework.settings import Settings

TIGHTEN, OIL = "tighten-spokes", "oil-crossings"
"""10 to 25 minutes and 1 to 3, without parts, at 60 EUR an hour."""


@pytest.fixture(scope="module")
def book() -> Book:
    """The small book of the screens."""
    return load_book(Path(__file__).parent.parent / "front" / "book")


def job(book: Book, *told: Draft, role: str = "mechanic") -> Folded:
    """A wheel that ticks."""
    opened = events.opened("rider" if role == "rider" else "mechanic", "mechanic")
    return fold(book, [opened, events.complaint("wheel-ticks"), *told])


def test_without_money_spoken_of_nothing_is_asked(book: Book) -> None:
    """A job that was begun at the stand."""
    assert crossing(book, Settings(), job(book), [TIGHTEN]) is None


def test_both_sides_of_the_agreed_sum(book: Book) -> None:
    """25 minutes at most are 25 EUR: agreed to 25 it is done, agreed to 24 the rider is rung."""
    assert crossing(book, Settings(), job(book, events.agreed(25)), [TIGHTEN]) is None
    told = crossing(book, Settings(), job(book, events.agreed(24)), [TIGHTEN])
    assert told == {
        "fixes": ["Bring the spokes to tension"],
        "so_far": 0.0,
        "together": 25,
        "agreed": 24.0,
        "currency": "EUR",
    }


def test_what_was_done_counts(book: Book) -> None:
    """Three minutes of oiling before it, and the shop's minutes for finding the cause."""
    done = events.fix_done(OIL, {"wheel-ticks": "still-there"})
    told = crossing(book, Settings(diagnosis_minutes=10), job(book, events.agreed(37), done), [TIGHTEN])
    assert told is not None
    assert (told["so_far"], told["together"]) == (13.0, 38)
    assert crossing(book, Settings(diagnosis_minutes=10), job(book, events.agreed(38), done), [TIGHTEN]) is None


def test_the_minimum_charge_counts(book: Book) -> None:
    """It is due whatever is done."""
    told = crossing(book, Settings(minimum_charge=40), job(book, events.agreed(39)), [OIL])
    assert told is not None
    assert told["together"] == 40


def test_from_the_counter_without_a_sum_everything_is_asked(book: Book) -> None:
    """The ticket said: ring before anything is done."""
    taken = job(book, events.at_stand("mechanic"), role="rider")
    told = crossing(book, Settings(), taken, [OIL])
    assert told is not None
    assert (told["agreed"], told["together"]) == (0.0, 3)
