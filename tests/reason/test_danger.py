"""Danger first: what is looked at before everything else, in what order, and when nothing more is demanded."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from diagnose.book.model import Book
from diagnose.reason.diagnosis import Diagnosis
from diagnose.reason.situation import Repair, Situation
from tests.reason.small_book import Raw, answer, cause, deduction, diagnose, finding, fix, reasoner, small_book

GUARD: Raw = {
    "crack": finding(
        "yes no",
        {"yes": "5 %"},
        {"look": {"minutes": 4, "danger": "yes"}, "lamp": {"minutes": 2, "danger": "yes"}},
    ),
    "play": finding("yes no", {"yes": "20 %"}, {"rock": {"minutes": 1}}),
    "noise": finding("yes no", {"yes": "20 %"}, {"listen": {"minutes": 0.5}}),
}


def danger_book(
    folder: Path, stop: float, crack: str = "90 %", deductions: Raw | None = None, findings: Raw = GUARD
) -> Book:
    """Of 100 bikes so many are cracked; a quick fix for the rest, so that nobody would look for cracks otherwise.

    Play and noise tell nothing: they are there to be demanded.
    """
    return small_book(
        folder,
        complaints={"knocks": {}},
        causes={
            "cracked": cause({"knocks": f"{stop:.1f} %"}, {"crack": {"yes": crack}}, danger="stop"),
            "loose": cause(
                {"knocks": f"{90 - stop:.1f} %"},
                {"play": {"yes": "20 %"}, "noise": {"yes": "20 %"}},
                fix("tighten", "95 %", 1),
            ),
        },
        findings=findings,
        deductions=deductions or {},
    )


def asked_in_order(book: Book, value: str | None, **known: Any) -> list[str]:
    """What is demanded one after the other when each gets this answer."""
    asked: list[str] = []
    situation = Situation(("knocks",), **known)
    while True:
        found = reasoner(book).diagnose(situation).next
        if not found.demanded_by:
            return asked
        assert found.id not in asked, "a danger check is asked once"
        asked.append(found.id)
        told = (*situation.answers, answer(book, found.id, value))
        situation = Situation(("knocks",), answers=told, **{key: one for key, one in known.items() if key != "answers"})


@pytest.mark.parametrize(("stop", "first"), [(4.9, "tighten"), (5.1, "lamp")])
def test_a_stop_cause_at_the_threshold_is_looked_for_before_anything_else(
    tmp_path: Path, stop: float, first: str
) -> None:
    """From 5 of 100 on, the cheapest check that could clear it comes first, though a minute's fix would cost less."""
    dear = finding("yes no", {"yes": "5 %"}, {name: {"minutes": 20, "danger": "yes"} for name in ("lamp", "look")})
    found = diagnose(danger_book(tmp_path, stop, findings={**GUARD, "crack": dear})).next
    assert found.id == first
    assert found.demanded_by == ("cracked" if first == "lamp" else "")


def test_danger_checks_come_cheapest_first_and_once_each(tmp_path: Path) -> None:
    """Can't tell by the lamp, then can't tell by the long look, and then the job goes on."""
    book = danger_book(tmp_path, 8)
    assert asked_in_order(book, None) == ["lamp", "look"]
    both = (answer(book, "lamp", None), answer(book, "look", None))
    found = diagnose(book, answers=both)
    assert (found.next.id, found.ride.verdict) == ("tighten", "not-cleared")


def test_one_clear_look_is_enough(tmp_path: Path) -> None:
    """No crack by the lamp: the cause is far below the threshold, and nothing more is demanded."""
    assert asked_in_order(danger_book(tmp_path, 8), "no") == ["lamp"]


def test_a_check_that_cannot_clear_the_danger_is_not_demanded(tmp_path: Path) -> None:
    """Cracks that hardly ever show: no report would take the cause below the threshold."""
    assert asked_in_order(danger_book(tmp_path, 20, crack="10 %"), "no") == []


def test_a_danger_that_is_the_likeliest_by_far_is_treated_and_not_looked_for_again(tmp_path: Path) -> None:
    """Seen by the lamp, the crack is beyond doubt: nothing more is demanded, and it is not ridden."""
    book = danger_book(tmp_path, 40)
    found = diagnose(book, answers=(answer(book, "lamp", "yes"),))
    assert (found.next.demanded_by, found.ride.verdict) == ("", "stop")


def test_what_a_deduction_demands_comes_first_danger_checks_before_others_and_once_each(tmp_path: Path) -> None:
    """Play demands a look, which guards a danger, and a listen, whatever they cost and save."""
    rules = {"play-look": deduction({"play": "yes"}, {"demand": ["look", "listen"]})}
    book = danger_book(tmp_path, 0.5, deductions=rules)
    seen = (answer(book, "rock", "yes"),)
    assert diagnose(book, answers=seen).next.demanded_by == "play-look"
    assert asked_in_order(book, "no", answers=seen) == ["look", "listen"]


def test_what_a_deduction_wants_first_comes_in_its_order_before_what_others_demand(tmp_path: Path) -> None:
    """A listen and then the long look, though the lamp, which another demands, is quicker than the look."""
    rules = {
        "play-lamp": deduction({"play": "yes"}, {"demand": ["lamp"]}),
        "play-first": deduction({"play": "yes"}, {"demand_first": ["listen", "look"]}),
    }
    lit = finding("yes no", {"yes": "5 %"}, {"lamp": {"minutes": 0.2, "danger": "yes"}})
    crack = finding("yes no", {"yes": "5 %"}, {"look": {"minutes": 4, "danger": "yes"}})
    book = danger_book(tmp_path, 0.5, deductions=rules, findings={**GUARD, "crack": crack, "lit": lit})
    seen = (answer(book, "rock", "yes"),)
    assert diagnose(book, answers=seen).next.demanded_by == "play-first"
    assert asked_in_order(book, "no", answers=seen) == ["listen", "look", "lamp"]


def test_a_demand_is_met_by_another_look_that_is_trusted_no_less(tmp_path: Path) -> None:
    """The lamp has told the crack already, so the long look is not asked for again; a less sure lamp leaves it open."""
    rules = {"play-look": deduction({"play": "yes"}, {"demand": ["look"]})}
    told = [("rock", "yes"), ("lamp", "no")]
    book = danger_book(tmp_path / "sure", 0.5, deductions=rules)
    assert diagnose(book, answers=tuple(answer(book, *one) for one in told[:1])).next.id == "look"
    assert asked_in_order(book, "no", answers=tuple(answer(book, *one) for one in told)) == []
    looks = {"look": {"minutes": 4, "danger": "yes"}, "lamp": {"minutes": 2, "danger": "yes", "trust": "80 %"}}
    unsure = {**GUARD, "crack": finding("yes no", {"yes": "5 %"}, looks)}
    book = danger_book(tmp_path / "unsure", 0.5, deductions=rules, findings=unsure)
    assert diagnose(book, answers=tuple(answer(book, *one) for one in told)).next.id == "look"


def test_a_demand_falls_silent_where_the_check_cannot_be_done(tmp_path: Path) -> None:
    """Without the lamp the long look is what is demanded."""
    findings = {
        **GUARD,
        "crack": finding(
            "yes no", {"yes": "5 %"}, {"look": {"minutes": 4}, "lamp": {"minutes": 2, "tools": ["inspection-lamp"]}}
        ),
    }
    causes = {
        "cracked": cause({"knocks": "8 %"}, {"crack": {"yes": "90 %"}}, danger="stop"),
        "loose": cause({"knocks": "82 %"}, {"play": {"yes": "20 %"}}, fix("tighten", "95 %", 1)),
    }
    book = small_book(
        tmp_path, complaints={"knocks": {}}, causes=causes, findings=findings, tools={"inspection-lamp": "a lamp"}
    )
    assert diagnose(book, without=frozenset({"inspection-lamp"})).next.id == "look"


def test_dangers_are_taken_together(tmp_path: Path) -> None:
    """Two causes of 3 of 100 each must not be ridden: together they are above the threshold, and a look at one helps.

    No crack leaves .3 of 100 of the one beside 3 of the other, which is below 5 of 100.
    """
    book = small_book(
        tmp_path,
        complaints={"knocks": {}},
        causes={
            "cracked": cause({"knocks": "3 %"}, {"crack": {"yes": "90 %"}}, danger="stop"),
            "seized": cause({"knocks": "3 %"}, {"play": {"yes": "20 %"}}, danger="stop"),
            "loose": cause({"knocks": "84 %"}, {"play": {"yes": "20 %"}}, fix("tighten", "95 %", 1)),
        },
        findings=GUARD,
    )
    found = diagnose(book)
    assert (found.ride.verdict, found.next.id, found.next.demanded_by) == ("stop", "lamp", "cracked")
    cleared = diagnose(book, answers=(answer(book, "lamp", "no"),))
    assert (cleared.ride.verdict, cleared.next.id, cleared.next.demanded_by) == ("ride", "tighten", "")


def test_dangers_that_only_together_are_heavy_demand_by_the_heaviest_of_them(tmp_path: Path) -> None:
    """Neither of two is at 5 of 100; the noise, on which neither speaks, could clear both: the demand has a name."""
    causes = {
        "cracked": cause({"knocks": "4 %"}, {"crack": {"yes": "90 %"}}, danger="stop"),
        "bent": cause({"knocks": "3 %"}, {"play": {"yes": "60 %"}}, danger="stop"),
        "loose": cause({"knocks": "83 %"}, {"noise": {"yes": "90 %"}}, fix("tighten", "95 %", 1)),
    }
    book = small_book(tmp_path, complaints={"knocks": {}}, causes=causes, findings=GUARD)
    looked = tuple(answer(book, check, None) for check in ("lamp", "look", "rock"))
    found = diagnose(book, answers=looked)
    assert (found.next.id, found.next.demanded_by) == ("listen", "cracked")


def test_a_danger_that_was_looked_for_and_not_seen_asks_for_looks_alone(tmp_path: Path) -> None:
    """Still at 7 of 100 after the lamp: the other look at it is demanded, the noise that it makes too is not."""
    causes = {
        "cracked": cause({"knocks": "28 %"}, {"crack": {"yes": "98 %"}, "noise": {"yes": "90 %"}}, danger="stop"),
        "loose": cause({"knocks": "62 %"}, {"play": {"yes": "20 %"}}, fix("tighten", "95 %", 1)),
    }
    looks = {"look": {"minutes": 4, "danger": "yes"}, "lamp": {"minutes": 2, "danger": "yes", "trust": "80 %"}}
    findings = {**GUARD, "crack": finding("yes no", {"yes": "5 %"}, looks)}
    book = small_book(tmp_path, complaints={"knocks": {}}, causes=causes, findings=findings)
    clear = (answer(book, "lamp", "no"),)
    found = diagnose(book, answers=clear)
    assert (found.next.id, found.next.demanded_by, found.ride.verdict) == ("look", "cracked", "stop")
    given_up = diagnose(book, answers=(*clear, answer(book, "look", None)))
    assert (given_up.next.demanded_by, given_up.ride.verdict) == ("", "stop")
    untold = diagnose(book, answers=(answer(book, "lamp", None), answer(book, "look", None)))
    assert (untold.next.id, untold.next.demanded_by) == ("listen", "cracked")


def test_of_two_looks_at_one_thing_the_surer_one_that_is_demanded_anyway_is_enough(tmp_path: Path) -> None:
    """A glance, less sure, is left out where a deduction demands the look; not where that takes longer.

    It may take longer by what a question costs on top, here nothing.
    """
    rules = {"play-look": deduction({"play": "yes"}, {"demand": ["look"]})}
    for minutes, first in ((1, "look"), (1.1, "glance")):
        looks: dict[str, Raw] = {
            "look": {"minutes": minutes, "danger": "yes"},
            "glance": {"minutes": 1, "danger": "yes", "trust": "80 %"},
        }
        findings = {**GUARD, "crack": finding("yes no", {"yes": "5 %"}, looks)}
        book = danger_book(tmp_path / first, 12, deductions=rules, findings=findings)
        assert diagnose(book, answers=(answer(book, "rock", "yes"),)).next.id == first


def test_a_demand_of_all_dangers_together_is_named_by_one_that_is_much_of_them(tmp_path: Path) -> None:
    """The noise speaks of the dent alone, which is next to nothing: it is not the dent that is still to be feared."""
    causes = {
        "cracked": cause({"knocks": "4.5 %"}, {"crack": {"yes": "90 %"}}, danger="stop"),
        "dented": cause({"knocks": "0.6 %"}, {"noise": {"yes": "90 %"}}, danger="stop"),
        "loose": cause({"knocks": "83 %"}, {"noise": {"yes": "60 %"}}, fix("tighten", "95 %", 1)),
    }
    book = small_book(tmp_path, complaints={"knocks": {}}, causes=causes, findings=GUARD)
    looked = tuple(answer(book, check, None) for check in ("lamp", "look", "rock"))
    found = diagnose(book, answers=looked)
    assert (found.next.id, found.next.demanded_by) == ("listen", "cracked")


def test_a_look_that_guards_a_small_danger_is_named_by_that_and_not_by_the_likeliest(tmp_path: Path) -> None:
    """The wheel is likelier not home, and nobody can tell; the look at the stays, which clears it, is for the crack."""
    causes = {
        "unseated": cause({"knocks": "4.5 %"}, {"crack": {"yes": "90 %"}}, danger="stop"),
        "cracked": cause({"knocks": "0.8 %"}, {"play": {"yes": "90 %"}}, danger="stop"),
        "loose": cause({"knocks": "83 %"}, {"play": {"yes": "60 %"}}, fix("tighten", "95 %", 1)),
    }
    looks = {"rock": {"minutes": 1, "danger": "yes"}}
    findings = {**GUARD, "play": finding("yes no", {"yes": "5 %"}, looks)}
    book = small_book(tmp_path, complaints={"knocks": {}}, causes=causes, findings=findings)
    found = diagnose(book, answers=tuple(answer(book, check, None) for check in ("lamp", "look")))
    assert (found.next.id, found.next.demanded_by) == ("rock", "cracked")


def kept_back_book(folder: Path) -> Book:
    """A quick charge cures nearly all, but only a pack that was seen to be whole is charged."""
    only = {"only_if": {"pack": "whole"}}
    return small_book(
        folder,
        complaints={"knocks": {}},
        causes={
            "empty": cause({"knocks": "80 %"}, {"lamp": {"dark": "90 %"}}, fix("charge", "95 %", 1, **only)),
            "dirty": cause({"knocks": "10 %"}, {"lamp": {"dark": "50 %"}}, fix("clean", "90 %", 30)),
        },
        findings={
            "pack": finding("whole hurt", {"whole": "99 %"}, {"ask-pack": {}, "look-pack": {"minutes": 2}}),
            "lamp": finding("lit dark", {"lit": "90 %"}, {"plug-in": {"minutes": 0.1, **only}}),
        },
    )


@pytest.mark.parametrize(
    ("told", "then"),
    [
        ({}, "ask-pack"),
        ({"ask-pack": None}, "look-pack"),
        ({"ask-pack": "whole"}, "charge"),
        ({"ask-pack": None, "look-pack": "whole"}, "charge"),
        ({"ask-pack": None, "look-pack": None}, "hand-off"),
        ({"ask-pack": "hurt"}, "hand-off"),
    ],
)
def test_what_is_done_only_if_seen_so_waits_for_the_look_and_is_dropped_without_it(
    tmp_path: Path, told: dict[str, str | None], then: str
) -> None:
    """The look comes first although it changes no plan; hurt, or nobody can tell: neither the fix nor the check."""
    book = kept_back_book(tmp_path)
    found = diagnose(book, answers=tuple(answer(book, check, value) for check, value in told.items()))
    assert found.next.id == then
    charged = {item.fix for item in found.plan if item.fix == "charge"}
    assert bool(charged) == (then != "hand-off")


@pytest.mark.parametrize(("told", "asked"), [({}, True), ({"ask-pack": "whole"}, True), ({"ask-pack": "hurt"}, False)])
def test_a_look_that_something_told_makes_pointless_is_not_made(
    tmp_path: Path, told: dict[str, str | None], asked: bool
) -> None:
    """Not where the finding was told so, also where a deduction demands it and a fix needs it."""
    lamp = {"minutes": 0.1, "not_if": {"pack": "hurt"}}
    book = small_book(
        tmp_path,
        complaints={"knocks": {}},
        causes={
            "empty": cause({"knocks": "80 %"}, {"lamp": {"dark": "90 %"}}, fix("charge", "95 %", needs=["plug-in"]))
        },
        findings={
            "pack": finding("whole hurt", {"whole": "50 %"}, {"ask-pack": {}}),
            "lamp": finding("lit dark", {"lit": "90 %"}, {"plug-in": lamp}),
        },
        deductions={"lamp-first": deduction({"complaint": "knocks"}, {"demand": ["plug-in"]})},
    )
    found = diagnose(book, answers=tuple(answer(book, check, value) for check, value in told.items()))
    assert (found.next.id == "plug-in") == asked
    if not asked:
        assert [item.fix for item in found.plan] == ["charge"]


def test_a_danger_that_was_seen_is_not_looked_for_again(tmp_path: Path) -> None:
    """Cracked by a look, and the bike is held: no second sign of it is demanded. Without the deduction it is."""
    findings: Raw = {**GUARD, "flex": finding("yes no", {"yes": "5 %"}, {"press": {"minutes": 3}})}
    for held, wanted in ((True, ""), (False, "cracked")):
        rules: Raw = {"held": deduction({"crack": "yes"}, {"danger": "stop"})} if held else {}
        book = small_book(
            tmp_path / str(held),
            complaints={"knocks": {}},
            causes={
                "cracked": cause({"knocks": "5 %"}, {"crack": {"yes": "40 %"}, "flex": {"yes": "95 %"}}, danger="stop"),
                "loose": cause({"knocks": "85 %"}, {"play": {"yes": "20 %"}}, fix("tighten", "95 %", 1)),
            },
            findings=findings,
            deductions=rules,
        )
        found = diagnose(book, answers=(answer(book, "look", "yes"),))
        assert found.next.demanded_by == wanted
        assert not held or found.ride.verdict == "stop"


@pytest.mark.parametrize(("minutes", "first"), [(3.6, "glance"), (3.7, "tighten")])
def test_a_look_worth_its_minutes_comes_before_the_first_repair(tmp_path: Path, minutes: float, first: str) -> None:
    """Of 100 bikes 3.04 are cracked and show it: at 120 minutes for each that is worth 3.65 minutes, not more."""
    findings = {"crack": finding("yes no", {"yes": "0.5 %"}, {"glance": {"minutes": minutes, "danger": "yes"}})}
    book = danger_book(tmp_path, 3.2, "95 %", findings={**GUARD, **findings})
    found = diagnose(book)
    assert (found.next.id, found.next.demanded_by) == (first, "cracked" if first == "glance" else "")
    assert found.ride.verdict == "ride"
    assert diagnose(book, answers=(answer(book, "glance", "no"),)).next.id == "tighten"
    seen = diagnose(book, answers=(answer(book, "glance", "yes"),))
    assert (seen.ride.verdict, seen.next.demanded_by) == ("stop", "")


def test_a_quick_look_that_would_not_show_the_danger_is_not_made(tmp_path: Path) -> None:
    """Half of the cracked bikes show it, and so do ten of 100 sound ones: whoever sees it knows little more."""
    findings = {"crack": finding("yes no", {"yes": "10 %"}, {"glance": {"minutes": 0.1, "danger": "yes"}})}
    assert diagnose(danger_book(tmp_path, 3.2, "50 %", findings={**GUARD, **findings})).next.id == "tighten"


# --- a danger that the last look shows -----------------------------------------------------------------------------

AWAY = {"class": "workshop", "urgency": "before riding", "reason": "Not here."}
MENDED = (Repair(("tighten",), {"knocks": True}),)
"""The complaint is gone."""


def last_looked(folder: Path, then: Raw, told: Raw, *, seen_after: int = 1, ended: str | None = None) -> Diagnosis:
    """The complaint is gone, these were told (after so many repairs), and a crack calls for this."""
    book = danger_book(folder, 0.5, deductions={"cracked-stop": deduction({"crack": "yes"}, then)})
    answers = tuple(replace(answer(book, check, value), told_after=seen_after) for check, value in told.items())
    return diagnose(book, answers=answers, repairs=MENDED, ended=ended)


def test_a_danger_seen_at_the_last_look_is_handed_on_as_the_book_says(tmp_path: Path) -> None:
    """The complaint is gone and named as found; the bike goes to whom the deduction names, and why."""
    found = last_looked(tmp_path, {"danger": "stop", "hand_off": AWAY}, {"look": "yes"})
    assert (found.next.kind, found.next.demanded_by, found.next.found) == ("hand-off", "cracked-stop", ("loose",))
    assert [(one.hand_off.reason, one.because) for one in found.hand_offs] == [("Not here.", "cracked-stop")]


def test_a_danger_that_names_nobody_goes_to_a_workshop_for_that_reason(tmp_path: Path) -> None:
    """Not to be ridden, and no hand-off in the book: a workshop, before riding, and why."""
    found = last_looked(tmp_path, {"danger": "stop"}, {"look": "yes"})
    assert (found.next.kind, found.ride.verdict) == ("hand-off", "stop")
    (one,) = found.hand_offs
    assert (one.hand_off.receiver, one.hand_off.urgency) == ("workshop", "before riding")
    assert one.hand_off.reason == found.ride.because[0].text


def test_a_danger_seen_before_the_repair_that_helped_is_looked_at_again_before_it_is_handed_on(tmp_path: Path) -> None:
    """The repair may have put it right: one more look; then it is handed on, or done."""
    away: Raw = {"danger": "stop", "hand_off": AWAY}
    assert last_looked(tmp_path / "before", away, {"look": "yes"}, seen_after=0).next.id == "look"
    assert last_looked(tmp_path / "gone", away, {"look": "no"}).next.kind == "done"


def test_what_can_wait_is_named_and_the_job_is_done(tmp_path: Path) -> None:
    """A hand-off that is not due before riding does not stop the bike; nor does care."""
    later = {**AWAY, "urgency": "soon"}
    found = last_looked(tmp_path, {"danger": "care", "hand_off": later}, {"look": "yes"})
    assert found.next.kind == "done"
    assert [one.hand_off.urgency for one in found.hand_offs] == ["soon"]


def test_a_job_that_was_handed_on_still_says_to_whom(tmp_path: Path) -> None:
    """Once it is over, too; a job that ended otherwise asks for nobody."""
    then: Raw = {"danger": "stop"}
    assert last_looked(tmp_path / "on", then, {"look": "yes"}, ended="handed-off").hand_offs
    assert not last_looked(tmp_path / "taken", then, {"look": "yes"}, ended="collected").hand_offs


def test_what_is_asked_for_order_alone_is_not_asked_once_the_cause_is_known(tmp_path: Path) -> None:
    """The noise is asked first; with the crack in view it tells nothing more, unless something hangs on it."""
    order = deduction({"complaint": "knocks"}, {"demand": ["listen"]})
    book = danger_book(tmp_path / "order", 80, crack="99.9 %", deductions={"listen-first": order})
    seen = (answer(book, "lamp", "yes"), answer(book, "rock", "no"))
    assert diagnose(book).next.id == "listen"
    assert diagnose(book, answers=seen).next.id != "listen"
    hangs = {"listen-first": order, "loud": deduction({"noise": "yes"}, {"also": {"tighten": "must"}})}
    book = danger_book(tmp_path / "hangs", 80, crack="99.9 %", deductions=hangs)
    assert diagnose(book, answers=seen).next.id == "listen"


@pytest.mark.parametrize(
    ("normal", "then", "hangs", "asked"),
    [
        ("yes", {}, {}, False),
        ("no", {}, {}, True),
        ("yes", {"danger": "care"}, {}, True),
        ("yes", {}, {"also": {"tell": "must"}}, True),
    ],
)
def test_what_was_seen_calls_for_no_further_look_once_it_is_known_that_nothing_is_wrong(
    tmp_path: Path, normal: str, then: Raw, hangs: Raw, asked: bool
) -> None:
    """Play calls for a listen; not where that is all but surely how it is, and no danger or work hangs on it."""
    rules = {"play-listen": deduction({"play": "yes"}, {"demand": ["listen"], **then})}
    rules |= {"loud": deduction({"noise": "yes"}, hangs)} if hangs else {}
    book = small_book(
        tmp_path,
        complaints={"knocks": {"something_else": "3 in 100"}},
        causes={
            "usual": cause({"knocks": "94 %"}, {"play": {"yes": "90 %"}}, fix("tell", "95 %"), normal=normal),
            "bent": cause({"knocks": "3 %"}, {"play": {"yes": "1 %"}, "noise": {"yes": "60 %"}}, fix("set", "95 %")),
        },
        findings=GUARD,
        deductions=rules,
    )
    found = diagnose(book, answers=(answer(book, "rock", "yes"),))
    assert max(found.belief.marginal("knocks")) > 0.97
    assert (found.next.id == "listen") == asked


def test_what_is_asked_for_order_alone_is_not_asked_anew_after_a_repair(tmp_path: Path) -> None:
    """Told before the repair, and nothing hangs on what was told: the order of the search has served its turn."""
    order = deduction({"complaint": "knocks"}, {"demand": ["listen"]})
    rules = {"listen-first": order, "loud": deduction({"noise": "yes"}, {"also": {"tighten": "must"}})}
    book = danger_book(tmp_path, 1, deductions=rules)
    repairs = (Repair(("tighten",), {"knocks": False}, frozenset({"knocks"})),)
    for told, asked in (("no", False), ("yes", True)):
        before = replace(answer(book, "listen", told), stale=True, disturbed_by=0)
        whole = replace(answer(book, "lamp", "no"), told_after=1)
        found = diagnose(book, answers=(before, whole), repairs=repairs).next
        assert (found.demanded_by == "listen-first") == asked


@pytest.mark.parametrize(
    ("parts", "better", "asked"), [({"shoe": 1}, True, False), ({}, True, True), ({"shoe": 1}, False, True)]
)
def test_what_a_repair_has_renewed_is_not_looked_at_because_a_rule_says_so(
    tmp_path: Path, parts: Raw, better: bool, asked: bool
) -> None:
    """Play calls for a listen. A new part that has helped is not listened to; one that was set, or new in vain, is."""
    mends = fix("mend", "95 %", 1, parts=parts)
    book = small_book(
        tmp_path,
        complaints={"knocks": {}},
        causes={
            "loose": cause({"knocks": "60 %"}, {"noise": {"yes": "30 %"}}, mends),
            "bent": cause({"knocks": "30 %"}, {"play": {"yes": "30 %"}}, fix("set", "95 %", 1, parts={"shoe": 1})),
        },
        findings=GUARD,
        deductions={"play-listen": deduction({"play": "yes"}, {"demand": ["listen"]})},
        parts={"shoe": {"name": "shoe", "price": {"low": 1, "high": 1}}},
    )
    repairs = (Repair(("mend",), {"knocks": False}, frozenset({"knocks"} if better else ())),)
    heard = replace(answer(book, "listen", "yes"), stale=True, before=not better, disturbed_by=0)
    found = diagnose(book, answers=(heard, answer(book, "rock", "yes", told_after=1)), repairs=repairs).next
    assert (found.demanded_by == "play-listen") == asked


# --- of several complaints -----------------------------------------------------------------------------------------

STEERS: Raw = {
    "joint": finding("firm gives", {"gives": "3 %"}, {"feel": {"minutes": 1, "danger": "yes"}}),
    "teeth": finding("sharp hooked", {"hooked": "50 %"}, {"look-at-teeth": {"minutes": 1}}),
}


def two_troubles(folder: Path, deductions: Raw | None = None) -> Book:
    """One complaint by a joint that may part, dear to mend; one by worn teeth, quick to mend."""
    return small_book(
        folder,
        complaints={"knocks": {}, "skips": {}},
        causes={
            "joint-gives": cause(
                {"knocks": "50 %"},
                {"joint": {"gives": "90 %"}},
                fix("set-joint", "70 %", 15),
                fix("renew-joint", "95 %", 40),
                danger="stop",
            ),
            "slack": cause({"knocks": "40 %"}, {}, fix("tighten", "90 %", 2)),
            "teeth-worn": cause({"skips": "90 %"}, {"teeth": {"hooked": "90 %"}}, fix("renew-teeth", "95 %", 1)),
        },
        findings=STEERS,
        deductions=deductions or {},
    )


def both(book: Book, **told: str) -> Diagnosis:
    """Both complaints, with these answers by check."""
    answers = tuple(answer(book, check.replace("_", "-"), value) for check, value in told.items())
    return reasoner(book).diagnose(Situation(("knocks", "skips"), answers=answers))


def test_of_several_complaints_the_dangerous_one_is_put_right_first(tmp_path: Path) -> None:
    """The teeth are known too, and quicker to mend: the joint comes first all the same."""
    found = both(two_troubles(tmp_path), feel="gives", look_at_teeth="hooked")
    assert found.next.kind == "fix"
    assert found.next.id == "set-joint"


def test_a_danger_that_must_be_put_right_comes_before_what_must_come_first_for_another_complaint(
    tmp_path: Path,
) -> None:
    """It also comes before the other complaint is looked into: nothing on it can be tried on a bike that is held."""
    parts = deduction({"joint": "gives"}, {"danger": "stop", "also": {"set-joint": "must"}})
    jumps = deduction({"teeth": "hooked"}, {"also": {"renew-teeth": "must first"}})
    listen = deduction({"complaint": "skips"}, {"demand_first": ["look-at-teeth"]})
    book = two_troubles(tmp_path, {"parts": parts, "jumps": jumps, "teeth-first": listen})
    assert both(book, feel="gives", look_at_teeth="hooked").next.id == "set-joint"
    assert both(book, feel="gives").next.id == "set-joint"
    assert both(book, feel="firm", look_at_teeth="hooked").next.id == "renew-teeth"


def ladder_book(folder: Path, first: str = "40 %", minutes: float = 0.5) -> Book:
    """An arm that hangs limp: freed, or renewed. The worn ring is commoner, and its look as quick."""
    return small_book(
        folder,
        complaints={"drops": {}},
        causes={
            "arm-limp": cause(
                {"drops": "10 %"},
                {"arm": {"limp": "95 %"}},
                fix("free", first, 10, if_not="A new spring."),
                fix("renew", "95 %", 20),
            ),
            "ring-worn": cause({"drops": "45 %"}, {"ring": {"worn": "95 %"}}, fix("new-ring", "95 %", 10)),
            "bent": cause({"drops": "40 %"}, {"ring": {"bent": "95 %"}}, fix("straighten", "95 %", 10)),
        },
        findings={
            "arm": finding("taut limp", {"limp": "0.2 %"}, {"pull": {"minutes": minutes}}),
            "ring": finding("good worn bent", {"worn": "2 %", "bent": "2 %"}, {"sight": {"minutes": 0.5}}),
        },
        deductions={},
    )


def left_after(book: Book, fix_done: str, *answers: tuple[str, str]) -> Diagnosis:
    """The arm hung, and the fix made it better only; then these were told."""
    before = replace(answer(book, "pull", "limp"), stale=True, disturbed_by=0)
    told = (before, *(answer(book, *one) for one in answers))
    repairs = (Repair((fix_done,), {"drops": False}, frozenset({"drops"})),)
    return reasoner(book).diagnose(Situation(("drops",), answers=told, repairs=repairs))


def test_a_fix_that_left_something_is_looked_at_before_other_causes(tmp_path: Path) -> None:
    """Freed and better only: the arm is pulled again before the ring is sighted, and limp it is renewed."""
    book = ladder_book(tmp_path)
    found = left_after(book, "free")
    assert (found.next.id, found.next.demanded_by) == ("pull", "free")
    assert left_after(book, "free", ("pull", "limp")).plan[0].fix == "renew"
    assert left_after(book, "free", ("pull", "taut")).next.id == "sight"


def test_a_fix_that_left_something_is_not_looked_at_again_in_vain(tmp_path: Path) -> None:
    """Not where it mends nearly all, nor where the look is long, nor where something else was seen by now."""
    sure = left_after(ladder_book(tmp_path / "sure", "85 %"), "free")
    long = left_after(ladder_book(tmp_path / "long", minutes=9), "free")
    named = left_after(ladder_book(tmp_path / "named"), "free", ("sight", "worn"))
    assert [one.next.demanded_by for one in (sure, long, named)] == ["", "", ""]
    assert named.next.id == "new-ring"


def test_what_the_bike_alone_gives_away_waits_for_a_look_that_goes_with_it(tmp_path: Path) -> None:
    """Carbon is handed on, after the listen that a rule wants first; what was seen itself gives it away at once."""
    away = {"class": "workshop", "urgency": "before riding", "reason": "It is looked over there."}
    rules = {
        "carbon": deduction({"frame": "carbon"}, {"hand_off": away}),
        "hear-it-first": deduction(
            {"frame": "carbon", "complaint": "knocks"}, {"demand_first": ["listen"], "hand_off": away}
        ),
        "it-plays": deduction({"play": "yes"}, {"hand_off": away}),
    }
    frame = {"frame": {"ask": "Of what?", "values": {"metal": "metal", "carbon": "carbon"}}}
    for names, told, kind in (
        (["carbon"], (), "hand-off"),
        (["carbon", "hear-it-first"], (), "check"),
        (["carbon", "hear-it-first"], (("listen", "no"),), "hand-off"),
        (["carbon", "hear-it-first"], (("listen", None),), "hand-off"),
        (["carbon", "hear-it-first", "it-plays"], (("rock", "yes"),), "hand-off"),
    ):
        book = small_book(
            tmp_path / f"{len(names)}-{len(told)}-{kind}-{told}",
            complaints={"knocks": {}},
            causes={"loose": cause({"knocks": "90 %"}, {"play": {"yes": "20 %"}}, fix("tighten", "95 %", 1))},
            findings={name: GUARD[name] for name in ("play", "noise")},
            facts=frame,
            deductions={name: rules[name] for name in names},
        )
        answers = tuple(answer(book, *one) for one in told)
        assert diagnose(book, profile={"frame": ("carbon",)}, answers=answers).next.kind == kind
