"""Which facts of the bike are asked for: those that could move belief."""

from __future__ import annotations

from pathlib import Path

import pytest

from diagnose.book.model import Book
from diagnose.reason.facts import values_that_matter
from tests.reason.small_book import answer, cause, deduction, diagnose, finding, fix, small_book


@pytest.fixture
def facts_book(tmp_path: Path) -> Book:
    """One fact decides whether the likeliest cause applies, one moves a rare cause, one moves nothing."""
    return small_book(
        tmp_path,
        complaints={"knocks": {}},
        causes={
            "a": cause({"knocks": "60 %"}, {"play": {"yes": "90 %"}}, fix("set", "80 %"), applies={"headset": "plain"}),
            "b": cause({"knocks": "29 %"}, {"play": {"yes": "20 %"}}, fix("press", "80 %")),
            "c": cause({"knocks": "1 %"}, {"play": {"yes": "20 %"}}, fix("renew", "80 %")),
        },
        findings={"play": finding("yes no", {"yes": "10 %"}, {"rock": {}})},
        facts={
            "colour": {"ask": "Which?", "values": {"red": "red", "blue": "blue"}},
            "rare": {"ask": "Which?", "values": {"so": "so", "else": "else"}},
            "headset": {"ask": "Which?", "values": {"plain": "plain", "quill": "quill"}},
        },
        deductions={"rare-so": deduction({"rare": "so"}, {"likelier": {"c": 2}})},
    )


def test_facts_that_bear_on_likely_causes_are_wanted(facts_book: Book) -> None:
    """Whether the likeliest cause can be at all is asked; what moves next to nothing is not."""
    assert diagnose(facts_book).wanted == ("headset",)


@pytest.mark.parametrize(("level", "wanted"), [("must first", ()), ("must", ("headset",))])
def test_what_is_put_right_before_all_else_asks_only_what_it_hangs_on(
    tmp_path: Path, level: str, wanted: tuple[str, ...]
) -> None:
    """A tyre that is through is renewed before anybody asks which headset it has."""
    book = small_book(
        tmp_path,
        complaints={"knocks": {}},
        causes={
            "a": cause({"knocks": "50 %"}, {"play": {"yes": "90 %"}}, fix("set", "80 %"), applies={"headset": "plain"}),
            "b": cause({"knocks": "40 %"}, {"tyre": {"through": "20 %"}}, fix("renew", "80 %")),
        },
        findings={
            "play": finding("yes no", {"yes": "10 %"}, {"rock": {}}),
            "tyre": finding("sound through", {"through": "20 %"}, {"look": {}}),
        },
        facts={"headset": {"ask": "Which?", "values": {"plain": "plain", "quill": "quill"}}},
        deductions={"through": deduction({"tyre": "through"}, {"also": {"renew": level}})},
    )
    assert diagnose(book, answers=(answer(book, "look", "through"),)).wanted == wanted


def test_a_fact_that_hangs_on_another_waits_for_it(tmp_path: Path) -> None:
    """Chain or belt is asked only of a bike known to have no mech, however much it would move."""
    book = small_book(
        tmp_path,
        complaints={"knocks": {}},
        causes={
            "a": cause({"knocks": "50 %"}, {"play": {"yes": "90 %"}}, fix("set", "80 %"), applies={"drive": "chain"}),
            "b": cause({"knocks": "40 %"}, {"play": {"yes": "20 %"}}, fix("press", "80 %")),
        },
        findings={"play": finding("yes no", {"yes": "10 %"}, {"rock": {}})},
        facts={
            "gears": {"ask": "Which?", "values": {"mech": "mech", "single": "single"}},
            "drive": {
                "ask": "Which?",
                "values": {"chain": "chain", "belt": "belt"},
                "applies": {"gears": "single"},
            },
        },
    )
    assert diagnose(book).wanted == ()
    assert diagnose(book, profile={"gears": ("mech",)}).wanted == ()
    assert diagnose(book, profile={"gears": ("single",)}).wanted == ("drive",)


def test_a_fact_that_is_known_or_was_asked_is_not_wanted_again(facts_book: Book) -> None:
    """Told, or asked and not to be told: either way it is not asked again."""
    assert diagnose(facts_book, profile={"headset": ("plain",)}).wanted == ()
    assert diagnose(facts_book, asked=frozenset({"headset"})).wanted == ()


@pytest.mark.parametrize(("share", "wanted"), [("7 in 100", ("steerer",)), ("2 in 100", ())])
def test_a_fact_that_would_let_the_bike_be_ridden_is_wanted(
    share: str, wanted: tuple[str, ...], tmp_path: Path
) -> None:
    """However little belief it moves: one key, and a bike held for one cause of few may be ridden."""
    carbon_only = {"applies": {"steerer": "carbon"}, "danger": "stop"}
    book = small_book(
        tmp_path,
        complaints={"knocks": {}},
        causes={
            "a": cause({"knocks": "80 %"}, {"play": {"yes": "90 %"}}, fix("set", "80 %")),
            "b": cause({"knocks": share}, {"play": {"yes": "90 %"}}, fix("renew", "80 %"), **carbon_only),
        },
        findings={"play": finding("yes no", {"yes": "10 %"}, {"rock": {}})},
        facts={"steerer": {"ask": "Which?", "values": {"metal": "metal", "carbon": "carbon"}}},
    )
    found = diagnose(book)
    assert found.wanted == wanted
    assert (found.ride.verdict == "stop") == bool(wanted)
    assert diagnose(book, profile={"steerer": ("metal",)}).ride.verdict == "ride"


@pytest.mark.parametrize(("times", "wanted"), [(20, ("axle",)), (1.4, ())])
def test_a_fact_that_takes_little_off_a_danger_is_not_wanted(
    times: float, wanted: tuple[str, ...], tmp_path: Path
) -> None:
    """Held by a hair: what would only tip the scales is no question about the bike, it is looked at."""
    book = small_book(
        tmp_path,
        complaints={"knocks": {}},
        causes={
            "a": cause({"knocks": "80 %"}, {"play": {"yes": "90 %"}}, fix("set", "80 %")),
            "b": cause({"knocks": "5.5 in 100"}, {"play": {"yes": "90 %"}}, fix("renew", "80 %"), danger="stop"),
        },
        findings={"play": finding("yes no", {"yes": "10 %"}, {"rock": {}})},
        facts={"axle": {"ask": "Which?", "values": {"nuts": "nuts", "through": "through"}}},
        deductions={"through": deduction({"axle": "through"}, {"less_likely": {"b": times}})},
    )
    found = diagnose(book)
    assert found.ride.verdict == "stop"
    assert found.wanted == wanted
    assert diagnose(book, profile={"axle": ("through",)}).ride.verdict == "ride"


def test_what_may_give_the_bike_away_is_asked_first_then_what_is_off(tmp_path: Path) -> None:
    """Before a fact that decides most: one with which it is handed on, then what is not on the bike."""
    book = small_book(
        tmp_path,
        complaints={"knocks": {}},
        causes={
            "a": cause({"knocks": "60 %"}, {"play": {"yes": "90 %"}}, fix("set", "80 %"), applies={"headset": "plain"}),
            "b": cause({"knocks": "30 %"}, {"play": {"yes": "20 %"}}, fix("press", "80 %")),
        },
        findings={
            "play": finding("yes no", {"yes": "10 %"}, {"rock": {}}),
            "wheel-on": finding("on off", {"on": "90 %"}, {"put-on": {}}, on_demand="yes"),
        },
        facts={
            "headset": {"ask": "Which?", "values": {"plain": "plain", "quill": "quill"}},
            "state": {"ask": "Off?", "values": {"whole": "whole", "out": "a wheel"}, "off": {"out": "wheel-on"}},
            "frame": {"ask": "Of what?", "values": {"metal": "metal", "carbon": "carbon"}},
        },
        deductions={
            "ask-all": deduction({"complaint": "knocks"}, {"ask": ["state", "frame"]}),
            "carbon": deduction(
                {"complaint": "knocks", "frame": "carbon"},
                {"hand_off": {"class": "workshop", "urgency": "before riding", "reason": "Carbon."}},
            ),
        },
    )
    assert diagnose(book).wanted == ("frame", "state", "headset")
    assert diagnose(book, profile={"frame": ("metal",)}).wanted == ("state", "headset")


def test_a_fix_asks_for_what_changes_a_number_or_the_way_not_for_what_names_itself(tmp_path: Path) -> None:
    """A figure that is another on some bikes, steps that stand for one another; not "nuts: ..." nor "nut, tight"."""
    torque = {"low": 5, "high": 6, "unit": "N.m", "kind": "target", "basis": "memory"}
    book = small_book(
        tmp_path,
        complaints={"knocks": {}},
        causes={
            "a": cause(
                {"knocks": "97 %"},
                {"play": {"yes": "90 %"}},
                fix(
                    "set",
                    "95 %",
                    steps=[
                        {"text": "Nuts: a washer first.", "applies": {"held": "nuts"}},
                        {"text": "Slack by hand.", "applies": {"gears": "hub"}},
                        {"text": "Slack by the lever.", "applies": {"gears": "mech"}},
                        {"text": "Tighten.", "limits": ["nut-tight", "pinch", "shown-for-all"]},
                    ],
                ),
            ),
        },
        findings={"play": finding("yes no", {"yes": "10 %"}, {"rock": {"minutes": 60}})},
        facts={
            "held": {"ask": "How?", "values": {"nuts": "nuts", "lever": "lever"}},
            "gears": {"ask": "Which?", "values": {"mech": "mech", "hub": "hub", "none": "none"}},
            "kind": {"ask": "Which?", "values": {"road": "road", "cargo": "cargo"}},
            "load": {"ask": "Which?", "values": {"light": "light", "heavy": "heavy"}},
        },
        limits={
            "nut-tight": {"quantity": "nut, tight", "applies": {"held": "nuts"}, **torque},
            "shown-for-all": {
                "quantity": "cap",
                "cases": [{"if": {"load": "heavy"}, "low": 7, "high": 8}],
                "table": "load",
                **torque,
            },
            "pinch": {"quantity": "pinch bolt", "cases": [{"if": {"kind": "cargo"}, "low": 7, "high": 8}], **torque},
        },
    )
    found = diagnose(book)
    assert found.next.id == "set"
    assert found.wanted == ("gears", "kind")
    assert diagnose(book, profile={"gears": ("hub",), "kind": ("road",)}).wanted == ()


def test_a_look_does_not_wait_for_what_only_a_figure_beside_it_hangs_on(tmp_path: Path) -> None:
    """Whether the wheel is home is seen at once; with nuts or with a lever is no matter before its torque is."""
    torque = {"low": 5, "high": 6, "unit": "N.m", "kind": "target", "basis": "memory"}
    cases = [{"if": {"held": "lever"}, "low": 7, "high": 8}]
    book = small_book(
        tmp_path,
        complaints={"knocks": {}},
        causes={
            "a": cause({"knocks": "50 %"}, {"home": {"no": "90 %"}}, fix("set", "80 %")),
            "b": cause({"knocks": "40 %"}, {"home": {"no": "20 %"}}, fix("press", "80 %")),
        },
        findings={"home": finding("yes no", {"no": "10 %"}, {"look": {"limits": ["tight"]}})},
        facts={"held": {"ask": "How?", "values": {"nuts": "nuts", "lever": "lever"}}},
        limits={"tight": {"quantity": "axle", "cases": cases, **torque}},
    )
    found = diagnose(book)
    assert (found.next.id, found.wanted) == ("look", ())
    assert "tight" in book.checks["look"].limits


def test_a_fact_is_never_asked_of_a_bike_that_has_no_use_for_it(tmp_path: Path) -> None:
    """Of a lone wheel nobody asks which headset the bike at home has."""
    book = small_book(
        tmp_path,
        complaints={"knocks": {}},
        causes={
            "a": cause({"knocks": "50 %"}, {"play": {"yes": "90 %"}}, fix("set", "80 %"), applies={"headset": "plain"}),
            "b": cause({"knocks": "40 %"}, {"play": {"yes": "20 %"}}, fix("press", "80 %")),
        },
        findings={"play": finding("yes no", {"yes": "10 %"}, {"rock": {}})},
        facts={
            "state": {"ask": "Off?", "values": {"whole": "whole", "lone": "a wheel alone"}},
            "headset": {"ask": "?", "values": {"plain": "plain", "quill": "quill"}, "not_of": {"state": "lone"}},
        },
    )
    assert diagnose(book).wanted == ("headset",)
    assert diagnose(book, profile={"state": ("whole",)}).wanted == ("headset",)
    assert diagnose(book, profile={"state": ("lone",)}).wanted == ()


def test_one_answer_told_leaves_the_others_of_a_fact_on_the_screen(tmp_path: Path) -> None:
    """What the rider said of it already is one of several: what else may have been done is still shown."""
    book = small_book(
        tmp_path,
        complaints={"knocks": {}},
        causes={
            "a": cause({"knocks": "60 %"}, {"play": {"yes": "90 %"}}, fix("set", "80 %")),
            "b": cause({"knocks": "30 %"}, {"play": {"yes": "20 %"}}, fix("press", "80 %")),
        },
        findings={"play": finding("yes no", {"yes": "10 %"}, {"rock": {}})},
        facts={"did": {"ask": "What?", "several": "yes", "values": {"none": "none", "stem": "stem", "wheel": "wheel"}}},
        deductions={
            "after-stem": deduction({"did": "stem"}, {"likelier": {"a": 2}}),
            "after-wheel": deduction({"did": "wheel"}, {"likelier": {"b": 2}}),
        },
    )
    told = diagnose(book, profile={"did": ("wheel",)})
    assert values_that_matter(book, told.situation, told.belief, "did") == ("none", "stem", "wheel")
