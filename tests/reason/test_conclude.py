"""What deductions make of a case: chains, on what ground they stand, and what a rider's word may do."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from diagnose.book.model import Book
from diagnose.reason.conclude import Conclusion, Conclusions, conclude, rules_of
from diagnose.reason.deduce import PlainChainer
from diagnose.reason.situation import Answer, Repair, Situation
from tests.reason.small_book import Raw, answer, cause, deduction, finding, fix, reasoner, small_book

FACTS: Raw = {
    "frame": {"ask": "Which?", "values": {"metal": "metal", "carbon": "carbon"}},
    "arrival": {"ask": "What?", "several": "yes", "values": {"crash": "crash", "dirty": "dirty"}},
}
FINDINGS: Raw = {
    "crack": finding("yes no", {"yes": "5 %"}, {"look": {"by": "mechanic"}, "rider-saw": {"by": "rider"}}),
    "gap": finding(
        "small right large",
        {"right": "80 %"},
        {
            "measure": {
                "measure": {"unit": "mm", "from": 0, "to": 20},
                "bands": {"small": {"below": 3}, "right": {"from": 3, "up_to": 5}, "large": {"above": 5}},
            }
        },
    ),
}
AWAY: Raw = {"class": "workshop", "urgency": "soon", "reason": "Not here."}


def book_with(folder: Path, **deductions: Raw) -> Book:
    """Two causes of 45 of 100 each that nothing tells apart, and these deductions."""
    causes = {
        name: cause({"knocks": "45 %"}, {"crack": {"yes": "10 %"}}, fix(f"mend-{name}", "80 %")) for name in ("a", "b")
    }
    return small_book(
        folder,
        complaints={"knocks": {}, "drags": {}},
        causes=causes,
        findings=FINDINGS,
        facts=FACTS,
        conclusions={word: {"name": word, "values": {"yes": "yes"}} for word in ("crashed", "doubtful")},
        deductions={name.replace("_", "-"): one for name, one in deductions.items()},
    )


def follows(book: Book, *answers: Answer, **known: Any) -> Conclusions:
    """What follows for a bike that knocks."""
    situation = Situation(known.pop("complaints", ("knocks",)), answers=answers, **known)
    return conclude(book, PlainChainer(rules_of(book)), situation)


def fired(conclusions: Conclusions) -> dict[str, Conclusion]:
    """The deductions that fired, by id."""
    return {one.deduction.id: one for one in conclusions.fired}


# --- conditions ---------------------------------------------------------------------------------------------------


def test_all_conditions_must_hold_and_what_is_not_known_does_not(tmp_path: Path) -> None:
    """A fact and a finding: both known, it fires; one missing or other, it does not."""
    book = book_with(tmp_path, both=deduction({"frame": "carbon", "crack": "yes"}, {"danger": "stop"}))
    seen = answer(book, "look", "yes")
    assert set(fired(follows(book, seen, profile={"frame": ("carbon",)}))) == {"both"}
    assert not follows(book, seen).fired
    assert not follows(book, seen, profile={"frame": ("metal",)}).fired
    assert not follows(book, profile={"frame": ("carbon",)}).fired


def test_any_word_of_a_list_will_do_and_a_fact_may_have_several_values(tmp_path: Path) -> None:
    """One of two words; and of a bike that came dirty after a crash, both are known."""
    book = book_with(
        tmp_path,
        either=deduction({"gap": ["small", "large"]}, {"danger": "care"}),
        crash=deduction({"arrival": "crash"}, {"danger": "care"}),
    )
    assert set(fired(follows(book, answer(book, "measure", "large"), profile={"arrival": ("dirty", "crash")}))) == {
        "either",
        "crash",
    }
    assert not follows(book, answer(book, "measure", "right"), profile={"arrival": ("dirty",)}).fired


def test_cannot_tell_and_disturbed_answers_are_no_facts(tmp_path: Path) -> None:
    """Neither can't tell nor an answer that a fix has disturbed makes a deduction fire."""
    book = book_with(tmp_path, cracked=deduction({"crack": "yes"}, {"danger": "stop"}))
    assert not follows(book, answer(book, "look", None)).fired
    assert not follows(book, answer(book, "look", "yes", stale=True)).fired
    assert set(fired(follows(book, answer(book, "look", "yes")))) == {"cracked"}


@pytest.mark.parametrize(
    ("reading", "band", "expected"),
    [
        (2.9, "small", {"small"}),
        (3, "right", {"three"}),
        (5, "right", {"three"}),
        (5.1, "large", {"three", "large"}),
    ],
)
def test_a_reading_is_sorted_into_its_band_and_may_be_asked_itself(
    tmp_path: Path, reading: float, band: str, expected: set[str]
) -> None:
    """Half-open bands: 3 and 5 are right, what is beyond is not; and a deduction may look at the reading."""
    book = book_with(
        tmp_path,
        small=deduction({"gap": "small"}, {"danger": "care"}),
        large=deduction({"gap": "large"}, {"danger": "care"}),
        three=deduction({"measure": {"from": 3}}, {"danger": "care"}),
    )
    assert set(fired(follows(book, answer(book, "measure", band, reading=reading)))) == expected


def test_a_failed_fix_is_known_only_while_the_complaint_stands(tmp_path: Path) -> None:
    """`fix-failed` holds after a fix that left the complaint, and no more once it is gone; `complaint` likewise."""
    book = book_with(
        tmp_path,
        failed=deduction({"fix-failed": "mend-a"}, {"hand_off": AWAY}),
        knocking=deduction({"complaint": "knocks"}, {"danger": "care"}),
    )
    still = Repair(("mend-a",), {"knocks": False})
    well = Repair(("mend-b",), {"knocks": True})
    assert set(fired(follows(book))) == {"knocking"}
    assert set(fired(follows(book, repairs=(still,)))) == {"failed", "knocking"}
    assert not follows(book, repairs=(still, well)).fired


# --- chains and their ground --------------------------------------------------------------------------------------


@pytest.fixture
def chained(tmp_path: Path) -> Book:
    """An arrival or a crack makes a crash, a crash makes doubt, doubt rules a out."""
    return book_with(
        tmp_path,
        arrived=deduction({"arrival": "crash"}, {"conclude": {"crashed": "yes"}}),
        cracked=deduction({"crack": "yes"}, {"conclude": {"crashed": "yes"}}),
        doubt=deduction({"crashed": "yes"}, {"conclude": {"doubtful": "yes"}}),
        out=deduction({"doubtful": "yes"}, {"rule_out": ["a"], "danger": "stop"}),
    )


def test_a_chain_from_the_profile_rules_out_for_the_profile(chained: Book) -> None:
    """Everything behind it is profile: the cause has no share from the start, and something else keeps its own."""
    known: dict[str, Any] = {"profile": {"arrival": ("crash",)}}
    conclusions = follows(chained, **known)
    assert set(fired(conclusions)) == {"arrived", "doubt", "out"}
    assert all(one.from_profile and not one.from_rider for one in conclusions.fired)
    assert conclusions.factors["a"] == 0
    belief = reasoner(chained).diagnose(Situation(("knocks",), **known)).belief
    assert belief.marginal("knocks") == pytest.approx([0, 0.9, 0.1])


def test_a_chain_from_a_mechanics_answer_rules_out_for_the_answer(chained: Book) -> None:
    """The ground of the last link is the first: an answer, not the profile."""
    conclusions = follows(chained, answer(chained, "look", "yes"))
    assert set(fired(conclusions)) == {"cracked", "doubt", "out"}
    assert not any(one.from_profile or one.from_rider for one in conclusions.fired)
    assert conclusions.factors == {}
    assert conclusions.ruled_out == {"a": "out"}


def test_a_chain_is_no_surer_than_the_least_sure_of_what_it_began_with(tmp_path: Path) -> None:
    """A conclusion from the profile and an answer together stands on the answer."""
    book = book_with(
        tmp_path,
        cracked=deduction({"arrival": "crash", "crack": "yes"}, {"conclude": {"crashed": "yes"}}),
        out=deduction({"crashed": "yes"}, {"rule_out": ["a"]}),
    )
    arrived: dict[str, Any] = {"profile": {"arrival": ("crash",)}}
    seen = follows(book, answer(book, "look", "yes"), **arrived)
    assert (seen.factors, seen.ruled_out) == ({}, {"a": "out"})
    said = follows(book, answer(book, "rider-saw", "yes", by="rider"), **arrived)
    assert (said.factors, said.ruled_out) == ({}, {})


def test_a_chain_from_a_riders_word_warns_and_rules_nothing_out(chained: Book) -> None:
    """Two links on, it is still the rider's word: the danger stands, the cause too."""
    conclusions = follows(chained, answer(chained, "rider-saw", "yes", by="rider"))
    assert set(fired(conclusions)) == {"cracked", "doubt", "out"}
    assert all(one.from_rider for one in conclusions.fired)
    assert fired(conclusions)["out"].deduction.danger == "stop"
    assert not conclusions.ruled_out
    assert not conclusions.factors


def test_the_surest_way_to_a_conclusion_is_its_ground(chained: Book) -> None:
    """What a rider says and the profile or a mechanic shows as well does not hang on the rider."""
    said = answer(chained, "rider-saw", "yes", by="rider")
    by_profile = follows(chained, said, profile={"arrival": ("crash",)})
    assert by_profile.factors["a"] == 0
    assert fired(by_profile)["out"].from_profile
    by_mechanic = follows(chained, said, answer(chained, "look", "yes"))
    assert by_mechanic.ruled_out == {"a": "out"}


def test_every_conclusion_knows_its_place_and_what_it_matched(chained: Book) -> None:
    """The trace: which deduction, in which file and line, on which facts."""
    one = fired(follows(chained, answer(chained, "look", "yes")))
    assert one["cracked"].matched == (("crack", "yes"),)
    assert one["doubt"].matched == (("crashed", "yes"),)
    assert one["out"].where.file.endswith("deductions.yaml")
    assert one["cracked"].where.line < one["doubt"].where.line < one["out"].where.line


# --- who may rule -------------------------------------------------------------------------------------------------


def test_a_riders_word_neither_rules_out_nor_in_but_can_warn(tmp_path: Path) -> None:
    """By the rider: danger, hand-off and demand follow, the causes are left alone. By the mechanic all follows."""
    book = book_with(
        tmp_path,
        cracked=deduction(
            {"crack": "yes"},
            {"rule_out": ["a"], "rule_in": ["b"], "danger": "stop", "hand_off": AWAY, "demand": ["measure"]},
        ),
    )
    said = follows(book, answer(book, "rider-saw", "yes", by="rider"))
    assert (said.ruled_out, said.ruled_in) == ({}, {})
    assert [one.deduction.danger for one in said.fired] == ["stop"]
    assert [hand_off.reason for _, hand_off in said.hand_offs()] == ["Not here."]
    assert [check for _, check in said.demands()] == ["measure"]
    seen = follows(book, answer(book, "look", "yes"))
    assert (seen.ruled_out, seen.ruled_in) == ({"a": "cracked"}, {"b": "cracked"})


def test_a_mechanics_later_look_takes_back_the_warning_of_a_riders_word(tmp_path: Path) -> None:
    """What the rider said of a finding warns until somebody surer has looked; what the rider says after that warns."""
    book = book_with(tmp_path, cracked=deduction({"crack": "yes"}, {"danger": "stop"}))
    said, looked = answer(book, "rider-saw", "yes", by="rider"), answer(book, "look", "no")
    assert set(fired(follows(book, said))) == {"cracked"}
    assert not follows(book, said, looked).fired
    assert set(fired(follows(book, looked, said))) == {"cracked"}
    assert set(fired(follows(book, said, answer(book, "measure", "right")))) == {"cracked"}, "another finding"


def test_a_look_no_surer_than_the_riders_word_takes_nothing_back(tmp_path: Path) -> None:
    """A glance that is trusted as far as the rider leaves both said."""
    half: Raw = {"trust": "60 %"}
    looks: Raw = {"glance": half, "rider-saw": {"by": "rider", **half}}
    findings = {**FINDINGS, "crack": finding("yes no", {"yes": "5 %"}, looks)}
    book = small_book(
        tmp_path,
        complaints={"knocks": {}},
        causes={"a": cause({"knocks": "90 %"}, {"crack": {"yes": "10 %"}}, fix("mend", "80 %"))},
        findings=findings,
        deductions={"cracked": deduction({"crack": "yes"}, {"danger": "stop"})},
    )
    said = answer(book, "rider-saw", "yes", by="rider")
    assert set(fired(follows(book, said, answer(book, "glance", "no")))) == {"cracked"}


def test_ruled_in_by_an_answer_is_a_hundred_times_likelier(tmp_path: Path) -> None:
    """Nothing else tells a and b apart: 100 to 1, beside something else."""
    book = book_with(tmp_path, cracked=deduction({"gap": "large"}, {"rule_in": ["a"]}))
    situation = Situation(("knocks",), answers=(answer(book, "measure", "large"),))
    belief = reasoner(book).diagnose(situation).belief
    assert belief.marginal("knocks") == pytest.approx([45 / 45.55, 0.45 / 45.55, 0.1 / 45.55])


def test_factors_of_several_deductions_multiply(tmp_path: Path) -> None:
    """Twice likelier for the frame and three times less likely for the arrival: two thirds."""
    book = book_with(
        tmp_path,
        stiff=deduction({"frame": "carbon"}, {"likelier": {"a": 2}}),
        soaked=deduction({"arrival": "dirty"}, {"less_likely": {"a": 3}}),
    )
    conclusions = follows(book, profile={"frame": ("carbon",), "arrival": ("dirty",)})
    assert conclusions.factors == pytest.approx({"a": 2 / 3})


def test_a_deduction_counts_once_however_many_facts_meet_it(tmp_path: Path) -> None:
    """Both values of the arrival meet it: twice likelier once, not four times."""
    book = book_with(tmp_path, battered=deduction({"arrival": ["crash", "dirty"]}, {"likelier": {"a": 2}}))
    conclusions = follows(book, profile={"arrival": ("crash", "dirty")})
    assert [one.deduction.id for one in conclusions.fired] == ["battered"]
    assert conclusions.factors == {"a": 2}


# --- answers that are not sure ------------------------------------------------------------------------------------

HALF_SURE: Raw = {
    "crack": finding("yes no", {"yes": "50 %"}, {"look": {}, "glance": {"trust": {"mechanic": "60 %"}}}),
    "noise": finding("yes no", {"yes": "50 %"}, {"listen": {"trust": {"mechanic": "90 %"}}}),
}


def half_sure(folder: Path, **deductions: Raw) -> Book:
    """Two causes of 45 of 100 each; a glance is trusted 60 %, listening 90 %, a look wholly."""
    causes = {name: cause({"knocks": "45 %"}, {}, fix(f"mend-{name}", "80 %")) for name in ("a", "b")}
    return small_book(
        folder, complaints={"knocks": {}}, causes=causes, findings=HALF_SURE, facts=FACTS, deductions=deductions
    )


def shares(book: Book, *answers: Answer) -> list[float]:
    """Of 100 such bikes a, b and something else."""
    belief = reasoner(book).diagnose(Situation(("knocks",), answers=answers)).belief
    return [100 * one for one in belief.marginal("knocks")]


def test_a_glance_rules_out_as_far_as_it_is_trusted(tmp_path: Path) -> None:
    """Under a there is no crack; a report of one is a mistake, 0.4 × 0.5, under b it is 0.6 × 0.5 + 0.4 × 0.5."""
    book = half_sure(tmp_path, out=deduction({"crack": "yes"}, {"rule_out": ["a"]}))
    seen = answer(book, "glance", "yes")
    found = follows(book, seen)
    assert (found.ruled_out, found.weighed) == ({}, {})
    assert shares(book, seen) == pytest.approx([9 / 0.365, 22.5 / 0.365, 5 / 0.365])
    assert shares(book, answer(book, "look", "yes"))[0] == 0


def test_a_sure_look_takes_back_what_a_glance_made_unlikely(tmp_path: Path) -> None:
    """The cause that the glance spoke against is the likelier one once the look shows the contrary."""
    book = half_sure(tmp_path, out=deduction({"crack": "yes"}, {"rule_out": ["a"]}))
    a, b, _ = shares(book, answer(book, "glance", "yes"), answer(book, "look", "no"))
    assert a > b > 0


def test_several_answers_rule_out_as_far_as_the_least_sure_is_trusted(tmp_path: Path) -> None:
    """No row says it, so the cause keeps what is left of the doubt: 0.4 by the glance, 0.1 by listening alone."""
    both = {"crack": "yes", "noise": "yes"}
    book = half_sure(tmp_path, out=deduction(both, {"rule_out": ["a"], "rule_in": ["b"]}))
    heard = answer(book, "listen", "yes")
    glanced = follows(book, answer(book, "glance", "yes"), heard)
    assert glanced.weighed == pytest.approx({"a": 0.4, "b": 0.6 * 100 + 0.4})
    looked = follows(book, answer(book, "look", "yes"), heard)
    assert looked.weighed == pytest.approx({"a": 0.1, "b": 0.9 * 100 + 0.1})
    assert (glanced.ruled_out, looked.ruled_out) == ({}, {})
