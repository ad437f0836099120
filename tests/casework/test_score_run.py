"""Whole runs: the same figures from the same seed, upsets that upset, and goals held against what was found."""

from __future__ import annotations

import json
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from diagnose.book.model import Book
from diagnose.casework.score.bikes import lot
from diagnose.casework.score.calibration import Bin
from diagnose.casework.score.players import RIVALS, Policy
from diagnose.casework.score.run import PLAIN, Order, Results, Simulator, Task, run
from diagnose.casework.score.summary import Goal, plain, summarise
from diagnose.casework.score.upsets import ONE_FAULT, UPSETS, rows_off, shares_off, without, word_off
from diagnose.errors import BookError
from tests.casework.score_books import order_for, three_causes

RIVAL_NAMES = tuple(kind.name for kind in RIVALS)


@pytest.fixture
def book(tmp_path: Path) -> Book:
    """Three causes, in this test's folder."""
    return three_causes(tmp_path)


@pytest.fixture
def order(book: Book, tmp_path: Path) -> Order:
    """Seven bikes of that book."""
    assert book.complaints
    return order_for(tmp_path, 7)


def test_the_same_seed_gives_the_same_figures_in_any_number_of_processes(order: Order) -> None:
    """Here and in two processes of their own, with every player, every upset and the counter."""
    whole = replace(order, rivals=RIVAL_NAMES, upsets=tuple(UPSETS), counter=True)
    told: list[tuple[int, int]] = []
    one, two = run(whole), run(whole, jobs=2, progress=lambda done, of: told.append((done, of)))
    assert one.visits == two.visits
    assert (one.intakes, one.lists) == (two.intakes, two.lists)
    assert plain(summarise(one)) == plain(summarise(two))
    assert [done for done, _ in told] == list(range(1, told[-1][1] + 1))


def test_another_seed_gives_other_bikes(order: Order) -> None:
    """And a longer run begins with the bikes of the shorter one."""
    first = run(order).policy
    assert run(replace(order, seed=2)).policy != first
    assert run(replace(order, bikes=9)).policy[:7] == first


def test_every_player_meets_the_same_bikes(order: Order) -> None:
    """Rivals and upsets of the book or the answers: number by number the same causes."""
    results = run(replace(order, rivals=RIVAL_NAMES, upsets=ONE_FAULT))
    met = {one.number: one.causes for one in results.policy}
    for visits in results.visits.values():
        assert {one.number: one.causes for one in visits}.items() <= met.items()
    assert all(len(results.visits[PLAIN, name]) == 7 for name in RIVAL_NAMES)


def test_only_the_complaints_that_are_wanted_are_played(order: Order) -> None:
    """Named ones only, and a list for the fixed order for each."""
    results = run(replace(order, complaints=("knocks",), rivals=("fixed-order",)))
    assert {one.complaint for one in results.policy} == {"knocks"}
    assert set(results.lists) <= {"knocks"}


def test_a_bike_that_fails_is_named(order: Order, book: Book) -> None:
    """Whoever meets an error knows on which bike, and can draw it again."""
    with pytest.raises(StopIteration) as caught:
        Simulator(order, book).play(Task("visit", PLAIN, "nobody", "knocks", range(3, 4)))
    assert caught.value.__notes__ == ["on bike 3 of knocks, played by nobody "]


def test_a_book_that_changes_under_way_is_refused(order: Order) -> None:
    """A process that reads another book than the first one stops, and says so."""
    from diagnose.casework.score.run import _play

    with pytest.raises(BookError) as caught:
        _play(order, "another", Task("visit", PLAIN, Policy.name, "knocks", range(1)))
    assert caught.value.code == "book.changed"


# --- upsets ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("chance", "step", "off"),
    [(0.5, 1, 0.675), (0.5, -1, 0.325), (0.97, -1, 0.875), (0.97, 1, 0.875), (0.03, -1, 0.125)],
)
def test_a_word_moves_to_its_neighbour(chance: float, step: int, off: float) -> None:
    """The seven words of ICD 203 (2015), D.6.e.(2).(a); at the ends of the scale there is one neighbour only."""
    assert word_off(chance, step) == off


@given(st.floats(0.005, 0.995), st.sampled_from((-1, 1)))
def test_what_is_no_word_moves_as_far(chance: float, step: int) -> None:
    """A number between the words moves up or down, and stays a chance."""
    off = word_off(chance, step)
    assert 0 < off < 1
    words = (0.03, 0.125, 0.325, 0.5, 0.675, 0.875, 0.97)
    assert chance in words or (off > chance) == (step > 0)


def test_rows_that_are_off_are_still_rows(book: Book) -> None:
    """They sum to 1, and each that is written differs from what it was."""
    off = rows_off(book, lot("rows"))
    for name, cause in book.causes.items():
        for finding, row in cause.shows.items():
            moved = off.causes[name].shows[finding].chances
            assert sum(moved) == pytest.approx(1)
            assert moved != row.chances
    assert rows_off(book, lot("rows")).causes == off.causes


def test_shares_that_are_off_are_doubled_or_halved(book: Book) -> None:
    """Each by itself, and nothing else changes."""
    off = shares_off(book, lot("shares"))
    factors = {
        off.causes[name].shares["knocks"].of_100 / one.shares["knocks"].of_100 for name, one in book.causes.items()
    }
    assert factors <= {2.0, 0.5}
    assert {name: one.shows for name, one in off.causes.items()} == {
        name: one.shows for name, one in book.causes.items()
    }


def test_a_cause_that_nobody_wrote_down_is_gone(book: Book) -> None:
    """From the causes of its complaint as well."""
    assert [cause.id for cause in without(book, "worn").causes_of["knocks"]] == ["cracked", "loose"]


def test_upsets_leave_out_what_they_are_not_about(order: Order) -> None:
    """A cause that the book lacks is a cause; with two faults there are two; each end is one of the three."""
    results = run(replace(order, bikes=12, upsets=("unknown-cause", "two-faults", "two-faults-sure")))
    assert all(one.causes[0] for one in results.visits["unknown-cause", Policy.name])
    assert {len(one.causes) for one in results.visits["two-faults", Policy.name]} == {2}
    sure = results.visits["two-faults-sure", Policy.name]
    assert sum(one.end == "cured" for one in sure) >= sum(
        one.end == "cured" for one in results.visits["two-faults", Policy.name]
    )


def test_where_there_are_no_two_complaints_none_are_played(order: Order) -> None:
    """A book with one complaint: the upset is left out of the figures."""
    made = summarise(run(replace(order, upsets=("two-complaints",))))
    assert made.upsets == {}


# --- the summary ----------------------------------------------------------------------------------------------------


def test_goals_are_held_against_the_figures(order: Order) -> None:
    """One goal for each thing that was played; fixed order and each rival among them."""
    plainly = summarise(run(order))
    whole = summarise(run(replace(order, rivals=RIVAL_NAMES, upsets=tuple(UPSETS), counter=True)))
    assert len(plainly.goals) == 5
    assert len(whole.goals) == 5 + 1 + len(RIVAL_NAMES) + 3 + 2 + 1
    assert plainly.goals[0].value == plainly.overall.before_repair.on_top


def test_a_goal_is_reached_from_its_side() -> None:
    """At most and at least, the edge included."""
    assert Goal("", 0.1, 0.1, True, "").reached
    assert not Goal("", 0.11, 0.1, True, "").reached
    assert Goal("", 0.1, 0.1, False, "").reached
    assert not Goal("", 0.09, 0.1, False, "").reached


def test_every_figure_can_be_written_as_json(order: Order) -> None:
    """Records become mappings, nothing endless is left, and reading it back gives the same."""
    made = plain(summarise(run(replace(order, bikes=1, rivals=("likeliest",), counter=True))))
    assert json.loads(json.dumps(made, allow_nan=False)) == made
    assert plain(Bin(1, 0.5, float("inf"), 0.0, 1.0))["true"] is None


def test_results_name_the_plain_visits(order: Order) -> None:
    """The policy's visits to the plain bikes, numbered from none."""
    results = run(order)
    assert isinstance(results, Results)
    assert all(two.number - one.number == 1 for one, two in pairwise(results.policy))
