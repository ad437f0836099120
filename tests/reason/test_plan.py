"""The fix plan: what stands in it, in which order, with what chance and minutes, and to whom the bike goes then."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from diagnose.book.model import Book
from diagnose.reason.diagnosis import Diagnosis
from diagnose.reason.plan import PlanItem
from diagnose.reason.situation import Already, Repair, Situation
from tests.reason.small_book import Raw, answer, cause, deduction, diagnose, finding, fix, reasoner, small_book

LOOK: Raw = {"seen": finding("yes no", {"yes": "50 %"}, {"look": {"minutes": 50}})}
SHOWS: Raw = {"seen": {"yes": "50 %"}}
"""A check that tells nothing: what the plan holds follows from the shares alone."""


def fixes(found: Diagnosis) -> list[str]:
    """The plan's fixes in order."""
    return [item.fix for item in found.plan]


def item(found: Diagnosis, name: str) -> PlanItem:
    """One fix of the plan."""
    (one,) = [item for item in found.plan if item.fix == name]
    return one


@pytest.fixture
def ladders(tmp_path: Path) -> Book:
    """a: 54 of 100, cleaning cures 50, replacing 90. b: 36 of 100, tightening cures 80. A test of 1 minute."""
    return small_book(
        tmp_path,
        complaints={"knocks": {}},
        causes={
            "a": cause({"knocks": "54 %"}, SHOWS, fix("clean", "50 %", (4, 8)), fix("replace", "90 %", (19, 25))),
            "b": cause({"knocks": "36 %"}, SHOWS, fix("tighten", "80 %", (8, 12))),
        },
        findings=LOOK,
    )


def test_the_plan_is_in_the_order_in_which_fixes_are_tried(ladders: Book) -> None:
    """By chance per cost: clean .27 / 7, tighten .29 / 11, replace .22 / 23; the rungs of a ladder in their order."""
    found = diagnose(ladders)
    assert fixes(found) == ["clean", "tighten", "replace"]
    assert [one.rung for one in found.plan] == [1, 1, 2]
    assert found.next.id == "clean"


def test_each_chance_is_that_of_curing_where_none_before_did(ladders: Book) -> None:
    """Clean .54 · .5 = .27; of the .73 left tighten cures .36 · .8; of .442 left replace cures .54 · (.9 - .5)."""
    found = diagnose(ladders)
    assert item(found, "clean").chance == pytest.approx(0.27)
    assert item(found, "tighten").chance == pytest.approx(0.288 / 0.73)
    assert item(found, "replace").chance == pytest.approx(0.216 / 0.442)


def test_the_chances_of_the_plan_and_its_end_make_up_the_whole(ladders: Book) -> None:
    """What every fix in turn leaves is what no fix cures: .54 · .1 + .36 · .2 + .1."""
    left = 1.0
    for one in diagnose(ladders).plan:
        left *= 1 - one.chance
    assert left == pytest.approx(0.054 + 0.072 + 0.1)


def test_every_item_says_what_it_treats_and_how_long_it_takes(ladders: Book) -> None:
    """Minutes with the test; the cause it treats for the complaint that stands."""
    found = diagnose(ladders)
    assert item(found, "clean").minutes == (5, 9)
    assert item(found, "clean").treats == (("a", "knocks"),)
    assert item(found, "tighten").treats == (("b", "knocks"),)


def test_what_has_failed_is_not_planned_again(ladders: Book) -> None:
    """After cleaning has failed its rung is spent; the next rung cures (.9 - .5) / (1 - .5) of those with the cause."""
    found = diagnose(ladders, repairs=(Repair(("clean",), {"knocks": False}),))
    assert "clean" not in fixes(found)
    # a: .54 · .5 = .27 of .73, of which replacing cures eight in ten; it is tried after tightening (.288 of .73 cured).
    assert item(found, "replace").chance == pytest.approx(0.27 * 0.8 / (0.73 - 0.288))


def test_a_plan_ends_where_a_hand_off_is_cheaper(tmp_path: Path) -> None:
    """What would cost more than it can save is not in the plan."""
    book = small_book(
        tmp_path,
        complaints={"knocks": {}},
        causes={
            "a": cause({"knocks": "80 %"}, SHOWS, fix("set", "90 %", 10)),
            "b": cause({"knocks": "10 %"}, SHOWS, fix("rebuild", "50 %", 300)),
        },
        findings=LOOK,
    )
    assert fixes(diagnose(book)) == ["set"]


def test_a_fix_whose_turn_comes_too_late_is_left_to_the_hand_off(tmp_path: Path) -> None:
    """After cleaning and tightening .38 stand: replacing costs .38 · 40 = 15.2 and spares .15 · 100 = 15."""
    book = small_book(
        tmp_path,
        complaints={"knocks": {"test": 2}},
        causes={
            "a": cause({"knocks": "50 %"}, SHOWS, fix("clean", "60 %", 8), fix("replace", "90 %", 38)),
            "b": cause({"knocks": "40 %"}, SHOWS, fix("tighten", "80 %", 18)),
        },
        findings=LOOK,
        constants={"hand_off_minutes": 100},
    )
    assert fixes(diagnose(book)) == ["clean", "tighten"]


def test_fixes_that_cannot_be_done_here_are_not_planned(ladders: Book) -> None:
    """Found not possible at the stand, it is out of the plan."""
    assert "tighten" in fixes(diagnose(ladders))
    assert "tighten" not in fixes(diagnose(ladders, not_possible=frozenset({"tighten"})))


def test_what_a_fix_needs_stands_before_it_in_the_plan(tmp_path: Path) -> None:
    """Seating the wheel first, though alone it would hardly be worth it."""
    book = small_book(
        tmp_path,
        complaints={"knocks": {}},
        causes={
            "a": cause({"knocks": "88 %"}, SHOWS, fix("set", "90 %", 10, needs=["seat"])),
            "b": cause({"knocks": "2 %"}, SHOWS, fix("seat", "50 %", 5)),
        },
        findings=LOOK,
    )
    found = diagnose(book)
    assert fixes(found) == ["seat", "set"]
    assert item(found, "set").together == ("seat",)
    assert found.next.with_fixes == ("seat", "set")


def test_what_comes_after_another_fix_stands_behind_it(tmp_path: Path) -> None:
    """Ordered by `after` where both are in the plan, though the likelier would come first."""
    book = small_book(
        tmp_path,
        complaints={"knocks": {}},
        causes={
            "a": cause({"knocks": "60 %"}, SHOWS, fix("centre", "90 %", 10, after=["true"])),
            "b": cause({"knocks": "30 %"}, SHOWS, fix("true", "90 %", 10)),
        },
        findings=LOOK,
    )
    found = diagnose(book)
    assert fixes(found) == ["true", "centre"]
    assert found.next.id == "true"


def test_a_fix_within_a_teardown_takes_opening_and_closing(tmp_path: Path) -> None:
    """10 to 20 of work, 2 + 3 to open, 4 + 5 to close, 1 of test."""
    book = small_book(
        tmp_path,
        complaints={"knocks": {}},
        causes={"a": cause({"knocks": "90 %"}, SHOWS, fix("patch", "90 %", (10, 20), teardown="tyre-off"))},
        findings=LOOK,
        teardowns={
            "wheel-out": {"name": "wheel out", "open": 2, "close": 5},
            "tyre-off": {"name": "tyre off", "open": 3, "close": 4, "inside": "wheel-out"},
        },
    )
    assert item(diagnose(book), "patch").minutes == (25, 35)


def test_two_complaints_have_one_plan(tmp_path: Path) -> None:
    """A fix for both stands once and says what it treats in each; what is gone is treated no more."""
    book = small_book(
        tmp_path,
        complaints={"knocks": {}, "drags": {}},
        causes={
            "both": cause({"knocks": "60 %", "drags": "60 %"}, SHOWS, fix("mend", "90 %", 10)),
            "knock": cause({"knocks": "30 %"}, SHOWS, fix("tighten", "90 %", 10)),
            "drag": cause({"drags": "30 %"}, SHOWS, fix("true", "90 %", 10)),
        },
        findings=LOOK,
    )
    found = reasoner(book).diagnose(Situation(("knocks", "drags")))
    assert sorted(fixes(found)) == ["mend", "tighten", "true"]
    assert set(item(found, "mend").treats) == {("both", "knocks"), ("both", "drags")}
    half = Repair(("mend",), {"knocks": False, "drags": True})
    later = reasoner(book).diagnose(Situation(("knocks", "drags"), repairs=(half,)))
    assert fixes(later) == ["tighten"]


# --- hand-offs ----------------------------------------------------------------------------------------------------


def hand_off_book(folder: Path, share: int) -> Book:
    """A cause that is never put right here, and one that is, with a hand-off for carbon when it comes to that."""
    builder: Raw = {"class": "builder", "urgency": "before riding", "reason": "The seat is worn."}
    carbon: Raw = {"if": {"frame": "carbon"}, "class": "workshop", "urgency": "soon", "reason": "Look at the tube."}
    return small_book(
        folder,
        complaints={"knocks": {}},
        causes={
            "worn": cause({"knocks": f"{share} %"}, {"seen": {"yes": "95 %"}}, hand_off=builder),
            "loose": cause(
                {"knocks": f"{90 - share} %"}, {"seen": {"yes": "5 %"}}, fix("set", "90 %", 5), hand_off_when=[carbon]
            ),
        },
        findings={"seen": finding("yes no", {"yes": "50 %"}, {"look": {"minutes": 1}})},
        facts={"frame": {"ask": "Which?", "values": {"metal": "metal", "carbon": "carbon"}}},
        hand_offs={
            "builder": {"to": "a builder", "minutes": 120},
            "workshop": {"to": "a workshop", "minutes": 120},
        },
    )


def called(found: Diagnosis) -> list[tuple[str, str]]:
    """The hand-offs that are called for: class and what calls for them."""
    return [(one.hand_off.receiver, one.because) for one in found.hand_offs]


def test_a_likely_cause_that_is_not_put_right_here_calls_for_its_hand_off(tmp_path: Path) -> None:
    """Seen, the worn seat is nearly sure: the frame builder is named; unlikely, it is not."""
    book = hand_off_book(tmp_path, 40)
    assert called(diagnose(book, answers=(answer(book, "look", "yes"),))) == [("builder", "worn")]
    assert called(diagnose(book, answers=(answer(book, "look", "no"),))) == []


@pytest.mark.parametrize(("frame", "expected"), [("carbon", [("workshop", "loose")]), ("metal", [])])
def test_hand_off_when_counts_once_it_has_come_to_a_hand_off(
    tmp_path: Path, frame: str, expected: list[tuple[str, str]]
) -> None:
    """After the fix has failed and nothing is left: for a carbon frame what to look at, for a metal one nothing."""
    book = hand_off_book(tmp_path, 1)
    known: dict[str, Any] = {"profile": {"frame": (frame,)}, "answers": (answer(book, "look", "no"),)}
    assert called(diagnose(book, **known)) == []
    failed = diagnose(book, repairs=(Repair(("set",), {"knocks": False}),), **known)
    assert failed.next.kind == "hand-off"
    assert [one for one in called(failed) if one[1] == "loose"] == expected


def test_a_fix_needs_no_look_at_what_the_bike_has_not(tmp_path: Path) -> None:
    """The pads are looked at on a rim brake; on a drum there are none, and while nobody knows they are looked for."""
    pads = finding("good worn", {"good": "90 %"}, {"look": {"tools": ["torch"]}}, applies={"brake": "rim"})
    book = small_book(
        tmp_path,
        complaints={"knocks": {}},
        causes={
            "slack": cause({"knocks": "90 %"}, {"pads": {"good": "99 %"}}, fix("take-up", "90 %", 5, needs=["look"]))
        },
        findings={"pads": pads},
        facts={"brake": {"ask": "Which brake?", "values": {"rim": "rim brake", "drum": "drum brake"}}},
        tools={"torch": "torch"},
    )
    for told, needed in ((("rim",), ["look"]), (("drum",), []), ((), ["look"])):
        outlook = diagnose(book, profile={"brake": told} if told else {}).outlook
        assert outlook is not None
        assert outlook.bench.unmet(book.fixes["take-up"]) == needed


def test_a_fix_that_was_done_before_the_bike_came_promises_less(ladders: Book) -> None:
    """Trusted by .6: of the bikes that have it still (.54 · .7), (.5 - .3) of .7 are well after cleaning once more.

    Tightening comes first now, and cures .36 · .8 of the .838 that are left.
    """
    found = diagnose(ladders, already=(Already("clean", "better"),))
    assert item(found, "clean").chance == pytest.approx(0.108 / (0.838 - 0.288))
    assert fixes(found)[0] == "tighten"


def test_a_reason_to_hand_it_on_is_told_once_where_another_says_more(tmp_path: Path) -> None:
    """The cause goes to a workshop, and a rule says so in the same words and more: those are told alone."""
    more = {"class": "workshop", "urgency": "before riding", "reason": "Not done here. Its fellow is measured too."}
    book = small_book(
        tmp_path,
        complaints={"knocks": {}},
        causes={"bent": cause({"knocks": "90 %"}, {"seen": {"yes": "95 %"}})},
        findings={"seen": finding("no yes", {"yes": "2 %"}, {"look": {"minutes": 1}})},
        deductions={"seen-bent": deduction({"seen": "yes"}, {"danger": "stop", "hand_off": more})},
    )
    found = diagnose(book, answers=(answer(book, "look", "yes"),))
    assert [one.hand_off.reason for one in found.hand_offs] == [more["reason"]]
