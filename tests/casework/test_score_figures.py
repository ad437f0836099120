"""Figures of visits: calibration, intervals, paired comparisons, dangers; by worked sums and a statistics library."""

from __future__ import annotations

import warnings
from math import pi
from pathlib import Path
from random import Random
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import binomtest, ttest_rel

from diagnose.casework.score.calibration import bins, error, perfect, wilson
from diagnose.casework.score.figures import compare, counter_of, figures_of, part, versus
from diagnose.casework.score.play import Foreseen, Intake, Stated, Visit, play
from diagnose.casework.score.players import Policy
from tests.casework.score_books import maker_of, three_causes
from tests.reason.small_book import reasoner


def visit(number: int = 0, **more: Any) -> Visit:
    """A visit of which only what a test is about is said."""
    usual: dict[str, Any] = {
        "complaint": "knocks",
        "causes": ("a",),
        "danger": "",
        "end": "cured",
        "curable": True,
        "due": False,
        "questions": 0,
        "checks": 0,
        "tries": 1,
        "minutes": 10.0,
        "cost": 10.0,
        "extra": 0.0,
        "first_cured": True,
        "verdict": "ride",
        "called": False,
        "seen": False,
        "stated": Stated(0.5, True, 1, 0.5, 0.7),
        "weighty": None,
        "foreseen": None,
    }
    return Visit(number=number, **{**usual, **more})


# --- calibration ----------------------------------------------------------------------------------------------------


@given(st.integers(1, 400).flatmap(lambda of: st.tuples(st.integers(0, of), st.just(of))))
def test_intervals_are_those_of_the_library(count_of: tuple[int, int]) -> None:
    """The Wilson interval as scipy computes it, at 95 %."""
    count, of = count_of
    low, high = binomtest(count, of).proportion_ci(0.95, method="wilson")
    assert wilson(count, of) == pytest.approx((low, high), abs=1e-6)


def test_nothing_counted_tells_nothing() -> None:
    """No bikes: anything between none and all."""
    assert wilson(0, 0) == (0.0, 1.0)
    assert part([]) == (0, 0, 0.0, 0.0, 1.0)


def test_the_error_is_the_distance_from_what_came_true() -> None:
    """Two tenths by hand: 0.62 stated, half true; 0.91 stated, all true: (2 x 0.12 + 1 x 0.09) / 3."""
    pairs = [(0.61, True), (0.63, False), (0.91, True)]
    assert [(one.bikes, one.stated, one.true) for one in bins(pairs)] == [
        (2, pytest.approx(0.62), 0.5),
        (1, 0.91, 1.0),
    ]
    assert error(pairs) == pytest.approx((2 * 0.12 + 0.09) / 3)
    assert error([(1.0, True)]) == 0.0
    assert error([]) == 0.0


def test_a_perfect_model_errs_as_chance_does() -> None:
    """The mean of |k/n - p| over a binomial is about sqrt(2 p (1 - p) / (pi n)) (its normal approximation)."""
    shares = [tenth / 10 + 0.05 for tenth in range(10) for _ in range(500)]
    expected = sum((2 * p * (1 - p) / (pi * 500)) ** 0.5 for p in (tenth / 10 + 0.05 for tenth in range(10))) / 10
    typical, rare = perfect(shares, seed=1)
    assert typical == pytest.approx(expected, rel=0.05)
    assert typical < rare < 2 * typical


@pytest.mark.parametrize(("told", "is_found"), [(0.0, False), (0.15, True)])
def test_overstating_is_found(told: float, is_found: bool) -> None:
    """Shares that are true stay below the perfect model's 95th percentile; 15 points more do not."""
    draw = Random(3)  # noqa: S311  # drawn by lot, not secret
    true = [draw.uniform(0.3, 0.8) for _ in range(1500)]
    pairs = [(share + told, draw.random() < share) for share in true]
    assert (error(pairs) > perfect([share for share, _ in pairs], 1)[1]) == is_found


def test_the_policy_is_calibrated_on_its_own_book(tmp_path: Path) -> None:
    """600 bikes drawn from the book that the policy reads: below the 95th percentile of a perfect model."""
    book = three_causes(tmp_path)
    policy, maker = Policy(reasoner(book, 1)), maker_of(book)
    visits = [play(maker.bike("knocks", number), policy, policy.reasoner.chainer) for number in range(600)]
    found = figures_of(visits, 1).calibration
    assert found.bikes == 600
    assert found.error <= found.perfect_p95
    assert sum(one.bikes for one in found.bins) == 600


# --- figures --------------------------------------------------------------------------------------------------------


def test_fractions_count_what_they_say() -> None:
    """Four bikes by hand: ends, first fixes, dangers, weighty repairs, estimates."""
    foreseen = [
        Foreseen((5.0, 20.0, 10.0), 6.0, (0.0, 0.0, 0.0), 0.1),
        Foreseen((5.0, 20.0, 25.0), 6.0, (5.0, 9.0, 4.0), 0.3),
        Foreseen((5.0, 20.0, 1.0), 0.0, (5.0, 9.0, 5.0), 0.2),
    ]
    visits = [
        visit(1, danger="known", verdict="stop", foreseen=foreseen[0], weighty=Stated(0.8, True, 1, 0.1, 0.2)),
        visit(2, danger="known", verdict="care", foreseen=foreseen[1], weighty=Stated(0.4, False, 3, 0.1, 0.2)),
        visit(
            3,
            verdict="not-cleared",
            called=True,
            foreseen=foreseen[2],
            first_cured=False,
            end="handed-off",
            minutes=30.0,
        ),
        visit(4, danger="unknown", first_cured=None, end="handed-off", stated=Stated(0.9, False, 7, 1.8, 27.6)),
    ]
    found = figures_of(visits, 1)
    assert (found.cured, found.handed_off, found.given_up) == (0.5, 0.5, 0.0)
    assert found.first_fix[:2] == (2, 3)
    assert tuple(found.before_repair) == pytest.approx((2, 0.6, 0.5, 1.0))
    assert found.danger.ridden_away[:2] == (1, 2)
    assert found.danger.unknown_ridden_away[:2] == (1, 1)
    assert found.danger.not_stopped[:2] == (2, 3)
    assert found.danger.false_stops[:2] == (1, 1)
    assert found.danger.called[:2] == (1, 1)
    assert found.danger.not_cleared[:2] == (1, 4)
    assert found.ruled_out[:2] == (1, 4)
    assert (found.minutes, found.minutes_p90) == (15.0, 30.0)
    assert tuple(found.foresight) == pytest.approx((3, 1 / 3, 1 / 3, 1 / 3, 1 / 3, 2 / 3, 0.2, 1 / 3))


def test_the_counter_tells_apart_what_was_not_to_be_ridden_and_what_was_to_be_looked_at() -> None:
    """Of four safe bikes two are held, one in so many words; of six bikes one dangerous one is not held."""
    stated = Stated(0.5, True, 1, 0.1, 0.2)
    told = [("", "stop", True), ("", "stop", False), ("", "ride", False), ("", "care", False)]
    told += [("known", "care", False), ("known", "stop", True)]
    found = counter_of(
        [
            Intake(n, "knocks", danger, 3, verdict, False, False, stated, out)
            for n, (danger, verdict, out) in enumerate(told)
        ]
    )
    assert found.danger.false_stops[:2] == (2, 4)
    assert found.outright[:2] == (1, 4)
    assert found.danger.ridden_away[:2] == (1, 2)
    assert found.away_of_all[:2] == (1, 6)


def test_costs_are_compared_bike_by_bike() -> None:
    """The mean difference and its interval as a paired t test has them, but for z instead of t; others are left out."""
    draw = Random(5)  # noqa: S311  # drawn by lot, not secret
    one = [visit(number, cost=draw.uniform(10, 100)) for number in range(300)]
    two = [visit(number, cost=draw.uniform(10, 100)) for number in reversed(range(299))]
    found = compare(one, two)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        beside = ttest_rel([a.cost for a in one[:299]], [b.cost for b in reversed(two)])
    assert found.bikes == 299
    assert found.difference == pytest.approx(found.first - found.second)
    assert found.difference / (found.half / 1.959964) == pytest.approx(beside.statistic)


def test_worse_is_worse_beyond_the_interval() -> None:
    """A constant minute more is worse; a minute that drowns in chance is not."""
    one = [visit(number, cost=11.0) for number in range(10)]
    two = [visit(number, cost=10.0) for number in range(10)]
    assert compare(one, two).worse
    assert not compare(two, one).worse
    assert compare(one, two).ratio == pytest.approx(1.1)
    noisy = [visit(number, cost=12.0 + (9 if number % 2 else -9)) for number in range(10)]
    assert not compare(noisy, one).worse


def test_complaints_are_compared_each_by_itself() -> None:
    """A complaint that only one of them met is left out."""
    one = [visit(1, complaint="knocks", cost=8.0), visit(1, complaint="drags", cost=5.0)]
    two = [visit(1, complaint="knocks", cost=4.0)]
    assert {name: found.difference for name, found in versus(one, two).items()} == {"knocks": 4.0}
