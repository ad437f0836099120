"""Why one step comes next and not another, on books small enough to be worked out by hand."""

from __future__ import annotations

from pathlib import Path

import pytest

from diagnose.reason.instead import Instead, instead
from diagnose.reason.situation import Repair
from tests.reason.small_book import answer, diagnose
from tests.reason.test_ask import splitting_book, tiny_book
from tests.reason.test_danger import danger_book


def test_what_is_dearer_is_told_in_minutes(tmp_path: Path) -> None:
    """Set first: 10 + .514 · 30 + .244 · 100 = 49.82; press first: 30 + .73 · 10 + .244 · 100 = 61.7."""
    why = instead(diagnose(tiny_book(tmp_path)), "press")
    assert (why.reason, why.by) == ("dearer", "")
    assert why.now == pytest.approx(49.82, abs=1e-9)
    assert why.other == pytest.approx(61.7, abs=1e-9)


def test_what_is_told_already_is_not_open(tmp_path: Path) -> None:
    """A check that was answered, and a thing that the book does not have."""
    book = tiny_book(tmp_path)
    found = diagnose(book, answers=(answer(book, "rock", "yes"),))
    assert instead(found, "rock") == Instead("closed")
    assert instead(found, "unheard-of") == Instead("closed")


def test_a_danger_is_named_by_what_demands_it(tmp_path: Path) -> None:
    """A cause that stands above the threshold, whatever the fix would save."""
    assert instead(diagnose(danger_book(tmp_path, 20)), "tighten") == Instead("demanded", "cracked")


def test_after_the_repeat_test_nothing_comes(tmp_path: Path) -> None:
    """The job is over."""
    found = diagnose(tiny_book(tmp_path), repairs=(Repair(("set",), {"knocks": True}),))
    assert instead(found, "press") == Instead("over")


def test_a_bike_that_came_back_twice_is_given_away(tmp_path: Path) -> None:
    """Whatever would be cheaper."""
    assert instead(diagnose(tiny_book(tmp_path), comebacks=2), "set") == Instead("again")


def test_a_question_that_saves_a_trifle_is_not_asked(tmp_path: Path) -> None:
    """Without it 93.6; with it 75.2 and its own 18.3 minutes: a tenth of a minute is saved."""
    why = instead(diagnose(splitting_book(tmp_path, minutes=18.3), depth=1), "rock")
    assert why.reason == "little"
    assert why.now == pytest.approx(93.6, abs=1e-9)
    assert why.other == pytest.approx(93.5, abs=1e-9)


def test_a_question_that_can_be_asked_and_saves_nothing(tmp_path: Path) -> None:
    """It costs more than all that is expected without it."""
    assert instead(diagnose(splitting_book(tmp_path, minutes=90), depth=1), "rock") == Instead("nothing")
