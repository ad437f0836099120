"""The estimate: percentiles that are in order and repeat, against what the plan must cost."""

from __future__ import annotations

from pathlib import Path
from statistics import NormalDist
from typing import Any

import pytest

from diagnose.book.model import Book
from diagnose.reason.diagnosis import Diagnosis
from diagnose.reason.estimate import Estimate, estimate, foresee
from diagnose.reason.situation import Repair, Situation
from tests.reason.small_book import Raw, answer, cause, deduction, diagnose, finding, fix, reasoner, small_book

LOOK: Raw = {"seen": finding("yes no", {"yes": "50 %"}, {"look": {"minutes": 50}})}
SHOWS: Raw = {"seen": {"yes": "50 %"}}


def book_with(folder: Path, unknown: int, *ladder: Raw, **more: Any) -> Book:
    """One known cause with this ladder; so many of 100 have something else."""
    return small_book(
        folder,
        complaints={"knocks": {"something_else": f"{unknown} in 100"}},
        causes={"a": cause({"knocks": f"{100 - unknown} %"}, SHOWS, *ladder)},
        findings=LOOK,
        **more,
    )


def estimated(found: Diagnosis, **how: int) -> Estimate:
    """The estimate of a job."""
    assert found.outlook is not None
    return estimate(found.outlook, found.plan, **how)


@pytest.fixture
def book(tmp_path: Path) -> Book:
    """Two rungs of widely spread minutes, the second with a part of 20 to 40."""
    return book_with(
        tmp_path,
        20,
        fix("clean", "50 %", (5, 20)),
        fix("replace", "90 %", (8, 30), parts={"bearing": 1}),
        parts={"bearing": {"name": "a bearing", "price": {"low": 20, "high": 40}}},
    )


@pytest.mark.parametrize("seed", range(5))
def test_percentiles_are_in_order(book: Book, seed: int) -> None:
    """Tenth, fiftieth, ninetieth: of minutes and of parts, whatever the seed."""
    found = estimated(diagnose(book), seed=seed)
    for spread in (found.minutes, found.parts):
        assert 0 <= spread.p10 <= spread.p50 <= spread.p90
    assert found.minutes.p10 < found.minutes.p90


def test_the_same_seed_gives_the_same_estimate(book: Book) -> None:
    """An estimate repeats; another seed gives another, and both say which they are."""
    found = diagnose(book)
    assert estimated(found) == estimated(found)
    assert estimated(found, seed=7) != estimated(found, seed=8)
    assert (estimated(found, runs=50, seed=7).runs, estimated(found, runs=50, seed=7).seed) == (50, 7)


def test_one_sure_fix_takes_what_it_says(tmp_path: Path) -> None:
    """A fix of 10 to 40 minutes with a test of 1: P10 about 11, P90 about 41, the median their geometric mean."""
    book = book_with(tmp_path, 3, fix("renew", "97 %", (10, 40)))
    found = estimated(diagnose(book), runs=20_000)
    assert found.minutes.p10 == pytest.approx(11, rel=0.03)
    assert found.minutes.p50 == pytest.approx((11 * 41) ** 0.5, rel=0.03)
    assert found.minutes.p90 == pytest.approx(41, rel=0.03)


def test_parts_lie_between_their_prices(tmp_path: Path) -> None:
    """A part of 20 to 40 that is always fitted: a tenth pay less than 22, a tenth more than 38."""
    book = book_with(
        tmp_path,
        3,
        fix("replace", "97 %", 10, parts={"bearing": 1}),
        parts={"bearing": {"name": "a bearing", "price": {"low": 20, "high": 40}}},
    )
    found = estimated(diagnose(book), runs=20_000).parts
    assert (found.p10, found.p50, found.p90) == pytest.approx((22, 30, 38), abs=0.5)


def test_the_chance_of_a_hand_off_is_what_the_plan_leaves(book: Book) -> None:
    """Of 80 with the cause 8 are left, of 20 with something else all: .28, within four standard errors."""
    found = diagnose(book)
    assert [item.fix for item in found.plan] == ["clean", "replace"]
    chance = estimated(found, runs=10_000).hand_off_chance
    error = (0.28 * 0.72 / 10_000) ** 0.5
    assert abs(chance - 0.28) < -NormalDist().inv_cdf(3e-5) * error


def test_what_has_failed_is_not_counted_again(book: Book) -> None:
    """After cleaning the second rung is left: it cures 80 of 100 of the 40 of 60 that have the cause."""
    found = diagnose(book, repairs=(Repair(("clean",), {"knocks": False}),))
    assert [item.fix for item in found.plan] == ["replace"]
    assert estimated(found, runs=10_000).hand_off_chance == pytest.approx(1 - 0.8 * 40 / 60, abs=0.02)


def test_a_job_that_is_given_away_at_once_takes_no_minutes_here(tmp_path: Path) -> None:
    """Without a fix the hand-off is sure, and its price is nobody's minutes."""
    found = diagnose(book_with(tmp_path, 20))
    assert found.plan == ()
    spread = estimated(found)
    assert spread.hand_off_chance == 1
    assert (spread.minutes.p90, spread.parts.p90) == (0, 0)


def test_a_cause_of_two_complaints_is_cured_for_both_or_for_none(tmp_path: Path) -> None:
    """One cause, 97 of 100 of both complaints, cured in 60: both are gone in .6 of such bikes, not in .6 · .6.

    Both by it .97 · .97 · 10 = 9.409, one by it .0291 each, none .0009, of 9.4681 together; with anything unknown in it
    the job ends in a hand-off.
    """
    complaint = {"something_else": "3 in 100"}
    book = small_book(
        tmp_path,
        complaints={"knocks": complaint, "drags": complaint},
        causes={"both": cause({"knocks": "97 %", "drags": "97 %"}, SHOWS, fix("mend", "60 %", 10))},
        findings=LOOK,
    )
    found = reasoner(book).diagnose(Situation(("knocks", "drags")))
    assert estimated(found, runs=10_000).hand_off_chance == pytest.approx(1 - 0.6 * 9.409 / 9.4681, abs=0.02)


def test_where_a_question_comes_next_its_answer_is_foreseen(tmp_path: Path) -> None:
    """Twenty causes, each with a fix of its own too dear to be tried blindly: asking finds the one to do.

    The plan as it stands is to give the bike away and would take no minute; whoever asks takes those of one fix.
    """
    names = [f"c{number}" for number in range(20)]
    kinds = dict.fromkeys(names, "1 %")
    book = small_book(
        tmp_path,
        complaints={"knocks": {"something_else": "5 in 100"}},
        causes={
            name: cause({"knocks": "4.75 %"}, {"seen": {name: "99 %"}}, fix(f"mend-{name}", "97 %", (30, 40)))
            for name in names
        },
        findings={"seen": finding(" ".join(["none", *names]), kinds, {"look": {"minutes": 1}})},
    )
    found = diagnose(book)
    assert (found.next.kind, found.plan) == ("check", ())
    assert estimated(found).hand_off_chance == 1
    made = foresee(found)
    assert made is not None
    assert 30 < made.minutes.p50 < 60
    assert made.minutes.p10 > 5
    assert made.hand_off_chance == pytest.approx(0.05 + 0.95 * 0.03, abs=0.04)
    assert 0.02 < made.done["mend-c3"] < 0.09


def test_what_is_done_is_counted(book: Book) -> None:
    """Cleaning always, the second rung wherever cleaning did not help: .2 and .8 · .5 = .6."""
    done = estimated(diagnose(book), runs=10_000).done
    assert list(done) == ["clean", "replace"]
    assert done["clean"] == 1
    assert done["replace"] == pytest.approx(0.6, abs=0.02)


def test_without_a_question_the_plan_is_what_is_foreseen(book: Book) -> None:
    """The one where a fix comes next, the other where a question does."""
    found = diagnose(book)
    assert found.next.kind == "fix"
    assert foresee(found) == estimated(found)


def test_while_one_complaint_is_put_right_the_other_is_foreseen_as_one_to_be_asked(tmp_path: Path) -> None:
    """Its fix is known and all but sure; the other's twenty are too dear to be tried blindly, and are found by asking.

    The plan holds the one fix; its chance is that of the complaint which it treats.
    """
    names = [f"c{number}" for number in range(20)]
    book = small_book(
        tmp_path,
        complaints={"knocks": {"something_else": "5 in 100"}, "drags": {"something_else": "3 in 100"}},
        causes={
            **{
                name: cause({"knocks": "4.75 %"}, {"seen": {name: "99 %"}}, fix(f"mend-{name}", "97 %", (30, 40)))
                for name in names
            },
            "loose": cause({"drags": "97 %"}, {"gives": {"yes": "98 %"}}, fix("tighten", "98 %", 3), danger="stop"),
        },
        findings={
            "seen": finding(" ".join(["none", *names]), dict.fromkeys(names, "1 %"), {"look": {"minutes": 1}}),
            "gives": finding("no yes", {"yes": "2 %"}, {"feel": {"minutes": 1, "danger": "yes"}}),
        },
        deductions={"parts": deduction({"gives": "yes"}, {"danger": "stop", "also": {"tighten": "must"}})},
    )
    found = reasoner(book).diagnose(Situation(("knocks", "drags"), answers=(answer(book, "feel", "yes"),)))
    assert found.next.id == "tighten"
    assert [one.fix for one in found.plan] == ["tighten"]
    assert found.plan[0].chance == pytest.approx(0.98, abs=0.02)
    made = foresee(found)
    assert made is not None
    assert made.hand_off_chance < 0.2
    assert 30 < made.minutes.p50 < 70
