"""A bike that comes in pieces: what is off is put back before what needs it, and it is gone round before riding."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from diagnose.book.model import Book
from diagnose.reason.diagnosis import Diagnosis
from diagnose.reason.situation import Repair
from tests.reason.small_book import answer, cause, deduction, diagnose, finding, fix, small_book

FACTS = {
    "state": {
        "ask": "What is off?",
        "several": "yes",
        "values": {"complete": "nothing", "wheel-off": "a wheel", "lamp-off": "a lamp"},
        "off": {"wheel-off": "wheel-on"},
    }
}
OUT = {"state": ("wheel-off",)}


def pieces_book(folder: Path) -> Book:
    """Two causes alike but for a spin of the wheel; one that is off is put on in half a minute."""
    once = {"on_demand": "yes"}
    return small_book(
        folder,
        complaints={"knocks": {}},
        causes={
            "bent": cause({"knocks": "45 %"}, {"wave": {"yes": "95 %"}}, fix("true", "95 %", 40)),
            "slack": cause({"knocks": "45 %"}, {"wave": {"yes": "5 %"}}, fix("tighten", "95 %", 40)),
        },
        findings={
            "wave": finding("yes no", {"yes": "20 %"}, {"spin": {"mounted": ["wheel-on"]}}),
            "wheel-on": finding("on off", {"on": "90 %"}, {"put-on": {"minutes": 0.5}}, **once),
            "whole": finding("yes no", {"yes": "80 %"}, {"go-round": {"danger": "yes"}}, **once),
        },
        facts=FACTS,
        deductions={
            "in-pieces": deduction({"state": ["wheel-off", "lamp-off"]}, {"before_riding": ["go-round"]}),
            "lacking": deduction({"whole": "no"}, {"danger": "stop"}),
        },
    )


def mended(book: Book, *told: tuple[str, str | None]) -> Diagnosis:
    """The wheel was put on, spun and trued, and the knock is gone; then this was told."""
    before = tuple(answer(book, *one) for one in (("put-on", "on"), ("spin", "yes")))
    return diagnose(
        book,
        profile=OUT,
        answers=before + tuple(replace(answer(book, *one), told_after=1) for one in told),
        repairs=(Repair(("true",), {"knocks": True}),),
    )


def test_what_is_off_is_put_back_before_a_check_that_needs_it(tmp_path: Path) -> None:
    """The wheel goes in, then it is spun; on a bike that is whole, or lacks only its lamp, it is spun at once."""
    book = pieces_book(tmp_path)
    first = diagnose(book, profile=OUT).next
    assert (first.id, first.prepares) == ("put-on", "spin")
    assert diagnose(book, profile=OUT, answers=(answer(book, "put-on", "on"),)).next.id == "spin"
    for whole in ({}, {"state": ("complete",)}, {"state": ("lamp-off",)}):
        assert diagnose(book, profile=whole).next.id == "spin"


def test_what_stays_off_closes_the_checks_that_need_it(tmp_path: Path) -> None:
    """Told that it stays off, or that nobody can tell: the wheel is not spun, and the job goes on without."""
    book = pieces_book(tmp_path)
    for said in ("off", None):
        found = diagnose(book, profile=OUT, answers=(answer(book, "put-on", said),))
        assert found.next.kind == "fix"


def test_a_rider_at_the_counter_refits_nothing(tmp_path: Path) -> None:
    """Neither the spin nor the wheel is asked of somebody who can only answer."""
    assert diagnose(pieces_book(tmp_path), profile=OUT, role="rider").next.kind != "check"


def test_it_is_not_cleared_until_it_was_gone_round(tmp_path: Path) -> None:
    """Before the round not cleared; the round is the last thing asked; its answer says whether it may be ridden."""
    book = pieces_book(tmp_path)
    assert diagnose(book, profile=OUT).ride.verdict == "not-cleared"
    assert diagnose(book, profile=OUT).ride.because[0].id == "in-pieces"
    assert diagnose(book).ride.verdict == "ride"
    found = mended(book)
    assert (found.next.id, found.next.demanded_by, found.ride.verdict) == ("go-round", "in-pieces", "not-cleared")
    for said, verdict in (("yes", "ride"), ("no", "stop"), (None, "not-cleared")):
        found = mended(book, ("go-round", said))
        assert (found.next.kind, found.ride.verdict) == ("hand-off" if verdict == "stop" else "done", verdict)


def test_a_danger_that_was_seen_is_looked_at_again_once_the_repair_has_helped(tmp_path: Path) -> None:
    """Not whole before the repair: looked at again after it; not whole after it: it is handed on as it is."""
    book = pieces_book(tmp_path)
    repairs = (Repair(("true",), {"knocks": True}),)
    seen = answer(book, "go-round", "no")
    found = diagnose(book, answers=(seen,), repairs=repairs)
    assert (found.next.id, found.next.demanded_by, found.ride.verdict) == ("go-round", "lacking", "stop")
    found = diagnose(book, answers=(replace(seen, told_after=1),), repairs=repairs)
    assert (found.next.kind, found.ride.verdict) == ("hand-off", "stop")


def test_what_is_looked_at_before_riding_is_so_also_once_a_fix_has_changed_what_was_seen(tmp_path: Path) -> None:
    """The wave was seen and trued away: what it calls for before riding is asked all the same, then it is cleared."""
    book = small_book(
        tmp_path,
        complaints={"knocks": {}},
        causes={"bent": cause({"knocks": "90 %"}, {"wave": {"yes": "95 %"}}, fix("true", "95 %", 40))},
        findings={
            "wave": finding("no yes", {"no": "80 %"}, {"spin": {}}),
            "bore": finding("whole hurt", {"whole": "90 %"}, {"lamp-in": {"danger": "yes"}}, on_demand="yes"),
        },
        deductions={
            "waved": deduction({"wave": "yes"}, {"before_riding": ["lamp-in"]}),
            "hurt": deduction({"bore": "hurt"}, {"danger": "stop"}),
        },
    )
    repairs = (Repair(("true",), {"knocks": True}),)
    seen = replace(answer(book, "spin", "yes"), stale=True, disturbed_by=0)
    found = diagnose(book, answers=(seen,), repairs=repairs)
    assert (found.next.id, found.next.demanded_by, found.ride.verdict) == ("lamp-in", "waved", "not-cleared")
    for said, verdict in (("whole", "ride"), ("hurt", "stop")):
        told = replace(answer(book, "lamp-in", said), told_after=1)
        assert diagnose(book, answers=(seen, told), repairs=repairs).ride.verdict == verdict


OWED = [
    (False, None, ("check", "not-cleared")),
    (True, None, ("check", "not-cleared")),  # the fix has changed what was seen
    (False, "no", ("done", "ride")),  # looked at anew: nothing that calls for it
]


@pytest.mark.parametrize(("disturbed", "anew", "end"), OWED)
def test_a_look_before_riding_stays_owed_once_the_complaint_that_it_goes_with_is_gone(
    tmp_path: Path, disturbed: bool, anew: str | None, end: tuple[str, str]
) -> None:
    """The repeat test says that the knock is gone, not that the bore is whole; it lapses with what was seen alone."""
    book = small_book(
        tmp_path,
        complaints={"knocks": {}},
        causes={"bent": cause({"knocks": "90 %"}, {"wave": {"yes": "95 %"}}, fix("true", "95 %", 40))},
        findings={
            "wave": finding("no yes", {"no": "80 %"}, {"spin": {}}),
            "bore": finding("whole hurt", {"whole": "90 %"}, {"lamp-in": {"danger": "yes"}}, on_demand="yes"),
        },
        deductions={
            "waved": deduction(
                {"complaint": "knocks", "wave": "yes"}, {"danger": "care", "before_riding": ["lamp-in"]}
            ),
            "hurt": deduction({"bore": "hurt"}, {"danger": "stop"}),
        },
    )
    repairs = (Repair(("true",), {"knocks": True}),)
    seen = answer(book, "spin", "yes")
    if disturbed or anew:
        seen = replace(seen, stale=True, disturbed_by=0)
    again = (replace(answer(book, "spin", anew), told_after=1),) if anew else ()
    found = diagnose(book, answers=(seen, *again), repairs=repairs)
    assert (found.next.kind, found.ride.verdict) == end
    looked = replace(answer(book, "lamp-in", "whole"), told_after=1)
    assert diagnose(book, answers=(seen, *again, looked), repairs=repairs).ride.verdict == "ride"
    unable = replace(answer(book, "lamp-in", None), told_after=1)
    assert diagnose(book, answers=(seen, *again, unable), repairs=repairs).ride.verdict == end[1]


@pytest.mark.parametrize(
    ("said", "needs", "end"), [("whole", True, "done"), ("hurt", True, "check"), ("whole", False, "check")]
)
def test_what_lay_open_for_the_fix_and_was_right_is_not_opened_again(
    tmp_path: Path, said: str, needs: bool, end: str
) -> None:
    """The fix begins with the look at the bore and closes it: a bore that was whole is not opened once more."""
    needed = {"needs": ["lamp-in"]} if needs else {}
    book = small_book(
        tmp_path,
        complaints={"knocks": {}},
        causes={
            "bent": cause(
                {"knocks": "90 %"},
                {"wave": {"yes": "95 %"}},
                fix("true", "95 %", 40, disturbs=["wave", "bore"], **needed),
            )
        },
        findings={
            "wave": finding("no yes", {"no": "80 %"}, {"spin": {}}),
            "bore": finding("whole hurt", {"whole": "90 %"}, {"lamp-in": {"danger": "yes", "teardown": "open"}}),
        },
        deductions={
            "waved": deduction({"wave": "yes"}, {"before_riding": ["lamp-in"]}),
            "hurt": deduction({"bore": "hurt"}, {"danger": "stop"}),
        },
        teardowns={"open": {"name": "opened", "open": 1, "close": 1}},
    )
    told = (answer(book, "spin", "yes"), answer(book, "lamp-in", said))
    disturbed = tuple(replace(one, stale=True, disturbed_by=0) for one in told)
    assert diagnose(book, answers=disturbed, repairs=(Repair(("true",), {"knocks": True}),)).next.kind == end


RENEWED = [
    ({"lamp": 1}, ["wave", "bore"], "open", "done"),
    ({"lamp": 1}, ["wave", "bore"], None, "check"),  # felt from outside whether it was fitted well
    ({}, ["wave", "bore"], "open", "check"),
    ({"lamp": 1}, ["wave"], "open", "check"),
]


@pytest.mark.parametrize(("parts", "disturbs", "teardown", "end"), RENEWED)
def test_what_the_fix_has_renewed_is_not_taken_out_again_for_a_look(
    tmp_path: Path, parts: dict[str, int], disturbs: list[str], teardown: str | None, end: str
) -> None:
    """The bore came new with the fix: it is not opened. A fix without parts, or of other things, leaves the look."""
    look = {"danger": "yes", **({"teardown": teardown} if teardown else {})}
    book = small_book(
        tmp_path,
        complaints={"knocks": {}},
        causes={
            "bent": cause(
                {"knocks": "90 %"},
                {"wave": {"yes": "95 %"}},
                fix("true", "95 %", 40, parts=parts, disturbs=disturbs),
            )
        },
        findings={
            "wave": finding("no yes", {"no": "80 %"}, {"spin": {}}),
            "bore": finding("whole hurt", {"whole": "90 %"}, {"lamp-in": look}, on_demand="yes"),
        },
        deductions={
            "waved": deduction({"wave": "yes"}, {"before_riding": ["lamp-in"]}),
            "hurt": deduction({"bore": "hurt"}, {"danger": "stop"}),
        },
        parts={"lamp": {"name": "lamp", "price": {"low": 1, "high": 1}}},
        teardowns={"open": {"name": "open", "open": 1, "close": 1}},
    )
    seen = replace(answer(book, "spin", "yes"), stale=True, disturbed_by=0)
    found = diagnose(book, answers=(seen,), repairs=(Repair(("true",), {"knocks": True}),))
    assert (found.next.kind, found.ride.verdict) == (end, "ride" if end == "done" else "not-cleared")


def test_a_look_that_such_a_bike_has_not_does_not_hold_it(tmp_path: Path) -> None:
    """Something moved on arrival: a hinge is looked at on a bike that folds, and holds no other."""
    book = small_book(
        tmp_path,
        complaints={"knocks": {}},
        causes={"bent": cause({"knocks": "90 %"}, {"wave": {"yes": "95 %"}}, fix("true", "95 %", 40))},
        findings={
            "wave": finding("no yes", {"no": "80 %"}, {"spin": {}}),
            "hinge": finding(
                "shut open",
                {"shut": "90 %"},
                {"try-hinge": {"danger": "yes"}},
                on_demand="yes",
                applies={"folds": "yes"},
            ),
        },
        facts={
            "arrival": {"ask": "What?", "values": {"nothing": "nothing", "moves": "it moves"}},
            "folds": {"ask": "Does it fold?", "values": {"no": "no", "yes": "yes"}},
        },
        deductions={"moved": deduction({"arrival": "moves"}, {"demand": ["try-hinge"]})},
    )
    for folds, verdict in (("yes", "stop"), ("no", "ride")):
        found = diagnose(book, profile={"arrival": ("moves",), "folds": (folds,)})
        assert found.ride.verdict == verdict
    gone = (Repair(("true",), {"knocks": True}),)
    found = diagnose(book, profile={"arrival": ("moves",), "folds": ("yes",)}, repairs=gone)
    assert (found.next.kind, found.next.id) == ("check", "try-hinge")
    assert diagnose(book, profile={"arrival": ("moves",), "folds": ("no",)}, repairs=gone).next.kind == "done"


def test_a_round_made_where_nothing_was_noticed_holds_no_bike(tmp_path: Path) -> None:
    """Nothing caught the eye, or it is put right: the round is made all the same, and says nothing against riding."""
    book = small_book(
        tmp_path,
        complaints={"knocks": {}},
        causes={"bent": cause({"knocks": "90 %"}, {"wave": {"yes": "95 %"}}, fix("true", "95 %", 40))},
        findings={
            "wave": finding("no yes", {"no": "80 %"}, {"spin": {}}),
            "tyre": finding("sound cut", {"sound": "99 %"}, {"turn-it": {"danger": "yes"}}, on_demand="yes"),
        },
        facts={"arrival": {"ask": "What?", "values": {"nothing": "nothing", "dead": "a brake is dead"}}},
        deductions={"round": deduction({"arrival": ["nothing", "dead"]}, {"demand": ["turn-it"]})},
    )
    for seen, verdict in (("nothing", "ride"), ("dead", "stop")):
        found = diagnose(book, profile={"arrival": (seen,)})
        assert (found.next.id, found.ride.verdict) == ("turn-it", verdict)
    repair = Repair(("true",), {"knocks": False}, frozenset({"knocks"}))
    better = diagnose(book, profile={"arrival": ("dead",)}, repairs=(repair,))
    assert (better.next.id, better.ride.verdict) == ("turn-it", "ride")


def test_what_may_end_it_at_once_is_asked_before_what_bike_it_is(tmp_path: Path) -> None:
    """The look comes before a fact; once it ends the job nothing of the bike is asked any more."""
    book = small_book(
        tmp_path,
        complaints={"knocks": {}},
        causes={"bent": cause({"knocks": "90 %"}, {"wave": {"yes": "95 %"}}, fix("true", "95 %", 40))},
        findings={
            "wave": finding("no yes", {"no": "80 %"}, {"spin": {}}),
            "smell": finding("none smells", {"none": "90 %"}, {"sniff": {"danger": "yes"}}, on_demand="yes"),
        },
        facts={"folds": {"ask": "Does it fold?", "values": {"no": "no", "yes": "yes"}}},
        deductions={
            "first": deduction({"complaint": "knocks"}, {"demand": ["sniff"], "ask": ["folds"]}),
            "smelt": deduction(
                {"smell": "smells"},
                {"hand_off": {"class": "workshop", "urgency": "before riding", "reason": "It smells."}},
            ),
        },
    )
    found = diagnose(book)
    assert (found.next.id, found.wanted) == ("sniff", ())
    assert diagnose(book, answers=(answer(book, "sniff", "none"),)).wanted == ("folds",)
    found = diagnose(book, answers=(answer(book, "sniff", "smells"),))
    assert (found.next.kind, found.wanted) == ("hand-off", ())


def test_what_the_walk_round_calls_for_is_looked_at_before_the_bike_is_asked_about(tmp_path: Path) -> None:
    """A tyre that was seen cut is looked at; which rim it is on can wait."""
    book = small_book(
        tmp_path,
        complaints={"knocks": {}},
        causes={
            "cut": cause({"knocks": "45 %"}, {"casing": {"cut": "95 %"}}, fix("renew", "95 %"), danger="stop"),
            "egg": cause(
                {"knocks": "45 %"}, {"casing": {"cut": "5 %"}}, fix("seat", "95 %"), applies={"rim": "hooked"}
            ),
        },
        findings={"casing": finding("whole cut", {"cut": "3 %"}, {"look": {"danger": "yes"}})},
        facts={
            "rim": {"ask": "Which?", "values": {"hooked": "hooked", "hookless": "hookless"}},
            "arrival": {"ask": "Seen?", "several": "yes", "values": {"nothing": "nothing", "tyre": "the tyre"}},
        },
        deductions={"tyre-first": deduction({"arrival": "tyre"}, {"demand": ["look"]})},
    )
    assert diagnose(book, profile={"arrival": ("nothing",)}).wanted == ("rim",)
    assert diagnose(book, profile={"arrival": ("tyre",)}).wanted == ()
    looked = (answer(book, "look", "whole"),)
    assert diagnose(book, profile={"arrival": ("tyre",)}, answers=looked).wanted == ("rim",)


@pytest.mark.parametrize(
    ("stands_back", "minutes", "first"), [("yes", 2, "fold"), ("yes", 20, "lamp"), ("no", 2, "lamp")]
)
def test_on_a_round_what_stops_the_ride_and_takes_a_minute_is_put_right_at_once(
    tmp_path: Path, stands_back: str, minutes: int, first: str
) -> None:
    """The wheel is not held: closed, then the frame is looked over; a long repair waits, and so it does off a round."""
    book = small_book(
        tmp_path,
        complaints={"knocks": {"stands_back": stands_back}},
        causes={
            "fine": cause({"knocks": "85 %"}, {"crack": {"no": "99 %"}}, fix("tell", "95 %")),
            "open": cause({"knocks": "5 %"}, {"held": {"no": "95 %"}}, fix("fold", "95 %", minutes), danger="stop"),
        },
        findings={
            "held": finding("yes no", {"no": "2 %"}, {"pull": {"danger": "yes"}}),
            "crack": finding("no yes", {"yes": "3 %"}, {"lamp": {"danger": "yes"}}),
        },
        deductions={
            "the-round": deduction({"complaint": "knocks"}, {"demand_first": ["pull", "lamp"]}),
            "close-it": deduction({"held": "no"}, {"danger": "stop", "also": {"fold": "must first"}}),
        },
    )
    assert diagnose(book, answers=(answer(book, "pull", "no"),)).next.id == first


def test_how_it_stands_here_is_looked_at_before_the_bike_is_asked_about(tmp_path: Path) -> None:
    """It came in pieces: the bag is looked through first, though no danger is in it; what rim it has can wait."""
    causes = {
        "upside-down": cause({"knocks": "45 %"}, {"bag": {"wrong": "95 %"}}, fix("turn", "95 %")),
        "egg": cause({"knocks": "45 %"}, {"bag": {"wrong": "5 %"}}, fix("seat", "95 %"), applies={"rim": "hooked"}),
    }
    for demand, wanted in (("demand_first", ()), ("demand", ("rim",))):
        book = small_book(
            tmp_path / demand,
            complaints={"knocks": {}},
            causes=causes,
            findings={"bag": finding("right wrong", {"wrong": "3 %"}, {"look": {}})},
            facts={
                "rim": {"ask": "Which?", "values": {"hooked": "hooked", "hookless": "hookless"}},
                "arrival": {"ask": "Seen?", "several": "yes", "values": {"nothing": "nothing", "pieces": "in pieces"}},
            },
            deductions={"bag-first": deduction({"arrival": "pieces"}, {demand: ["look"]})},
        )
        assert diagnose(book, profile={"arrival": ("pieces",)}).wanted == wanted


def test_what_is_off_is_looked_at_before_the_rest_of_the_bike_is_asked_about(tmp_path: Path) -> None:
    """The bars are off: the bare fork first. What the rule itself asks for comes before it, which rim it has after."""
    book = small_book(
        tmp_path,
        complaints={"knocks": {}},
        causes={
            "upside-down": cause({"knocks": "45 %"}, {"bare": {"wrong": "95 %"}}, fix("turn", "95 %")),
            "egg": cause(
                {"knocks": "45 %"}, {"bare": {"wrong": "5 %"}}, fix("seat", "95 %"), applies={"rim": "hooked"}
            ),
        },
        findings={
            "bare": finding("right wrong", {"wrong": "3 %"}, {"look": {}}),
            "bars": finding("on away", {"away": "3 %"}, {"refit": {}}),
        },
        facts={
            "rim": {"ask": "Which?", "values": {"hooked": "hooked", "hookless": "hookless"}},
            "tube": {"ask": "Of what?", "values": {"metal": "metal", "carbon": "carbon"}},
            "state": {
                "ask": "What is off?",
                "several": "yes",
                "values": {"whole": "nothing", "bare": "bars"},
                "off": {"bare": "bars"},
            },
        },
        deductions={
            "fork-first": deduction({"state": "bare"}, {"demand_first": ["look"], "ask": ["tube"]}),
            "it-counts": deduction({"tube": "carbon"}, {"danger": "care"}),
        },
    )
    bare: dict[str, tuple[str, ...]] = {"state": ("bare",)}
    assert diagnose(book, profile=bare).wanted == ("tube",)
    assert diagnose(book, profile={**bare, "tube": ("metal",)}).wanted == ()
    looked = (answer(book, "look", "right"),)
    assert diagnose(book, profile={**bare, "tube": ("metal",)}, answers=looked).wanted == ("rim",)


def test_what_only_the_last_look_hangs_on_is_asked_last(tmp_path: Path) -> None:
    """Which brake it has is not asked before the repair: once the knock is gone, and then its arm is looked at."""
    once = {"on_demand": "yes"}
    arm = finding(
        "tight loose", {"tight": "90 %"}, {"feel-arm": {"danger": "yes"}}, **once, applies={"brake": ["drum"]}
    )
    book = small_book(
        tmp_path,
        complaints={"knocks": {}},
        causes={"bent": cause({"knocks": "90 %"}, {"wave": {"yes": "95 %"}}, fix("true", "95 %", 40))},
        findings={"wave": finding("yes no", {"yes": "20 %"}, {"spin": {}}), "arm": arm},
        facts={
            "brake": {"ask": "Which brake?", "values": {"rim": "rim", "drum": "drum"}},
            "work": {"ask": "What was done?", "values": {"wheel-out": "a wheel was out", "none": "nothing"}},
        },
        deductions={
            "was-out": deduction({"work": "wheel-out"}, {"ask_last": ["brake"]}),
            "its-arm": deduction({"work": "wheel-out", "brake": "drum"}, {"before_riding": ["feel-arm"]}),
        },
    )
    out = {"work": ("wheel-out",)}
    gone = (Repair(("true",), {"knocks": True}),)
    assert diagnose(book, profile=out).wanted == ()
    over = diagnose(book, profile=out, repairs=gone)
    assert over.wanted == ("brake",)
    assert diagnose(book, profile=out, repairs=gone, asked=frozenset({"brake"})).wanted == ()
    assert diagnose(book, profile={"work": ("none",)}, repairs=gone).wanted == ()
    rim, drum = (diagnose(book, profile={**out, "brake": (brake,)}, repairs=gone) for brake in ("rim", "drum"))
    assert rim.wanted == drum.wanted == ()
    assert (rim.next.kind, drum.next.id) == ("done", "feel-arm")


def test_what_a_round_leaves_is_why_the_bike_goes_away(tmp_path: Path) -> None:
    """Amid a round a fix holds, a part stays off: it goes away for that, and nobody says that the fix was in vain."""
    lever = finding("on off", {"on": "90 %"}, {"try-lever": {"danger": "yes"}}, on_demand="yes")
    book = small_book(
        tmp_path,
        complaints={"knocks": {"stands_back": "yes"}},
        causes={"bent": cause({"knocks": "90 %"}, {"wave": {"yes": "95 %"}}, fix("true", "95 %", 10))},
        findings={"wave": finding("no yes", {"no": "80 %"}, {"spin": {}}), "lever": lever},
        deductions={"stays-off": deduction({"lever": "off"}, {"danger": "stop"})},
    )
    told = tuple(answer(book, *one) for one in (("spin", "yes"), ("try-lever", "off")))
    helped = Repair(("true",), {"knocks": False}, frozenset({"knocks"}))
    found = diagnose(book, answers=told, repairs=(helped,))
    assert found.next.kind == "hand-off"
    assert [one.hand_off.reason for one in found.hand_offs] == ["So it is."]
    in_vain = diagnose(book, answers=told, repairs=(replace(helped, better=frozenset()),))
    assert "used up" in in_vain.hand_offs[0].hand_off.reason
