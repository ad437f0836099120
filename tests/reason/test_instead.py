"""Why one step comes next and not another, on books small enough to be worked out by hand."""

from __future__ import annotations

from pathlib import Path

import pytest

from diagnose.reason.instead import Instead, instead
from diagnose.reason.situation import Repair
from tests.reason.small_book import Raw, answer, cause, diagnose, finding, fix, small_book
from tests.reason.test_ask import splitting_book, tiny_book
from tests.reason.test_danger import danger_book


def test_what_is_dearer_is_told_in_minutes(tmp_path: Path) -> None:
    """Set first: 10 + .514 · 30 + .244 · 100 = 49.82; press first: 30 + .73 · 10 + .244 · 100 = 61.7."""
    why = instead(diagnose(tiny_book(tmp_path)), "press")
    assert (why.reason, why.by) == ("dearer", "")
    assert why.now == pytest.approx(49.82, abs=1e-9)
    assert why.other == pytest.approx(61.7, abs=1e-9)


def test_a_check_that_was_not_weighed_says_why(tmp_path: Path) -> None:
    """It was answered, it is not for the bike, no cause has a line on it, only a rule asks it, or it tells no more."""
    causes: Raw = {
        "a": cause({"knocks": "45 %"}, {"play": {"yes": "90 %"}, "gap": {"yes": "90 %"}}, fix("mend-a", "80 %")),
        "b": cause({"knocks": "45 %"}, {"play": {"yes": "10 %"}}, fix("mend-b", "80 %")),
    }
    findings: Raw = {
        "play": finding("yes no", {"no": "95 %"}, {"rock": {}, "feel": {"trust": "80 %"}}),
        "gap": {**finding("yes no", {"no": "95 %"}, {"peer": {}}), "applies": {"frame": "carbon"}},
        "sound": finding("yes no", {"no": "95 %"}, {"listen": {}}),
    }
    facts: Raw = {"frame": {"ask": "Which?", "values": {"metal": "metal", "carbon": "carbon"}}}
    book = small_book(tmp_path, complaints={"knocks": {}}, causes=causes, findings=findings, facts=facts)
    found = diagnose(book, answers=(answer(book, "rock", "yes"),), profile={"frame": ("metal",)})
    reasons = {name: instead(found, name).reason for name in ("rock", "feel", "peer", "listen", "unheard-of")}
    assert reasons == {"rock": "told", "feel": "known", "peer": "barred", "listen": "idle", "unheard-of": "closed"}


def test_a_fix_that_was_not_weighed_says_why(tmp_path: Path) -> None:
    """Done before, not to be done there, for nothing that can be, too unlikely, or behind another."""
    causes: Raw = {
        "a": cause({"knocks": "45 %"}, {}, fix("mend-a", "80 %")),
        "b": cause({"knocks": "44.9 %"}, {}, fix("mend-b", "80 %", 9, after=["mend-a"])),
        "c": cause({"knocks": "0.1 %"}, {}, fix("mend-c", "80 %")),
        "d": cause({"drags": "90 %"}, {}, fix("mend-d", "80 %")),
        "e": cause({"knocks": "5 %"}, {}, fix("mend-e", "80 %", tools=["press"])),
    }
    book = small_book(tmp_path, complaints={"knocks": {}, "drags": {}}, causes=causes, tools={"press": "a press"})
    here = frozenset({"press"})
    found = diagnose(book, without=here)
    assert instead(found, "mend-b") == Instead("waits", "mend-a")
    assert instead(found, "mend-c") == Instead("unlikely")
    assert instead(found, "mend-d") == Instead("useless")
    assert instead(found, "mend-e") == Instead("lacks", "no a press here")
    failed = diagnose(book, repairs=(Repair(("mend-a",), {"knocks": False}),), without=here)
    assert instead(failed, "mend-a") == Instead("done")


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
