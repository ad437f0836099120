"""The order of fixes and what it is expected to cost, against brute force and against sums written out by hand.

That fixes for a single fault are best tried by chance to cure per cost is a theorem: Kadane and Simon, "Optimal
strategies for a class of constrained sequential problems", Annals of Statistics 5 (1977) 237-255; for repair with its
costs: Heckerman, Breese and Rommelse, "Decision-theoretic troubleshooting", Communications of the ACM 38 (1995) 49-57.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations, permutations
from pathlib import Path
from random import Random
from typing import Any

import pytest
from scipy import optimize, stats

from diagnose.book.model import Book
from diagnose.reason.repair import Course, build_course
from diagnose.reason.situation import Answer, Situation
from diagnose.reason.treatment import Treatment
from diagnose.reason.workbench import Bench, mean_minutes
from tests.reason.plain_book import chance_of
from tests.reason.small_book import Raw, cause, finding, fix, small_book
from tests.reason.visits import lot

CLOSE = 1e-9
COMPLAINT: dict[str, Raw] = {"knocks": {"something_else": "10 in 100", "test": 2}}
LOOK = {"seen": finding("yes no", {"yes": "10 %"}, {"look": {"minutes": 3}})}
SHOWS = {"seen": {"yes": "90 %"}}


def course_of(book: Book, used: Sequence[float] = (), **known: Any) -> tuple[Course, list[str | None]]:
    """The course of the complaint on a stand of which this is known, and its causes."""
    situation = Situation(("knocks",), **known)
    causes: list[str | None] = [*sorted(book.causes), None]
    return build_course(Bench(book, situation), "knocks", causes, used or [0.0] * len(causes)), causes


def names(course: Course, order: Sequence[tuple[int, float, float, float]]) -> list[str]:
    """The fixes of an order."""
    return [fix for index, *_ in order for fix in course.treatments[index].fixes]


def find(course: Course, *fixes: str) -> Treatment:
    """The treatment that is these fixes, in this order."""
    (found,) = [one for one in course.treatments if one.fixes == fixes]
    return found


def cost_of(course: Course, *fixes: str, already_open: frozenset[str] = frozenset()) -> float:
    """What a treatment costs."""
    return course.costs(already_open)[course.treatments.index(find(course, *fixes))]


# --- brute force ------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Problem:
    """Independent fixes: the share of each one's cause, how much of it the fix cures, and what it costs."""

    shares: list[float]
    cured: list[float]
    costs: list[float]
    unknown: float
    hand_off: float

    def best(self) -> tuple[float, tuple[int, ...]]:
        """The least expected cost over every order of every number of fixes, and the order that has it."""
        return min(self._best_along(order) for order in permutations(range(len(self.shares))))

    def _best_along(self, order: tuple[int, ...]) -> tuple[float, tuple[int, ...]]:
        """The best place to stop and hand off along one order."""
        standing = sum(self.shares) + self.unknown
        spent = 0.0
        found = (standing * self.hand_off, order[:0])
        for place, index in enumerate(order):
            spent += standing * self.costs[index]
            standing -= self.shares[index] * self.cured[index]
            found = min(found, (spent + standing * self.hand_off, order[: place + 1]))
        return found


def draw_problem(folder: Path, count: int, draw: Random) -> tuple[Book, Problem]:
    """A book whose causes have one fix each, and the same numbers bare."""
    raw = [draw.uniform(1, 40) for _ in range(count)]
    cures = [draw.randint(20, 95) for _ in range(count)]
    minutes = [round(draw.uniform(1, 60), 1) for _ in range(count)]
    unknown = draw.randint(3, 50) / 100
    hand_off = draw.choice((20, 60, 120, 400))
    book = small_book(
        folder,
        complaints={"knocks": {"something_else": f"{round(unknown * 100)} in 100", "test": 2}},
        causes={
            f"c{n}": cause({"knocks": f"{raw[n]:.2f} %"}, SHOWS, fix(f"mend-{n}", f"{cures[n]} %", minutes[n]))
            for n in range(count)
        },
        findings=LOOK,
        constants={"hand_off_minutes": hand_off},
    )
    shares = [(1 - unknown) * share / sum(raw) for share in raw]
    return book, Problem(shares, [one / 100 for one in cures], [one + 2 for one in minutes], unknown, hand_off)


@pytest.mark.parametrize("count", [1, 2, 3, 4, 5, 6, 7])
def test_order_and_cost_of_independent_fixes_are_those_of_brute_force(tmp_path: Path, count: int) -> None:
    """Of all orders of all numbers of fixes none is cheaper than the course's, and its cost is that of the cheapest."""
    for number in range(10):
        book, problem = draw_problem(tmp_path / str(number), count, lot(f"{count} {number}"))
        course, _ = course_of(book)
        shares = [*problem.shares, problem.unknown]
        cheapest, order = problem.best()
        assert course.expected_cost(shares, [0.0] * len(shares)) == pytest.approx(cheapest, rel=CLOSE)
        found = [index for index, *_ in course.order(shares, [0.0] * len(shares))]
        assert tuple(found[: len(order)]) == order


def test_the_order_is_by_chance_per_cost(tmp_path: Path) -> None:
    """The likelier cause's fix comes second where the other's is cheap enough: 0.36 · 0.5 / 7 < 0.54 · 0.5 / 10."""
    book = small_book(
        tmp_path,
        complaints=COMPLAINT,
        causes={
            "rare": cause({"knocks": "40 %"}, SHOWS, fix("quick", "50 %", 5)),
            "usual": cause({"knocks": "60 %"}, SHOWS, fix("slow", "50 %", 8)),
        },
        findings=LOOK,
    )
    course, _ = course_of(book)
    assert names(course, course.order([0.36, 0.54, 0.1], [0, 0, 0])) == ["slow", "quick"]
    assert names(course, course.order([0.40, 0.50, 0.1], [0, 0, 0])) == ["quick", "slow"]  # .2 / 7 > .25 / 10


# --- expected cost, written out ---------------------------------------------------------------------------------------


@pytest.fixture
def ladder(tmp_path: Path) -> Course:
    """One cause with a ladder of two rungs (60 and 90 of 100), another with one (80); test 2 minutes, hand-off 100."""
    book = small_book(
        tmp_path,
        complaints=COMPLAINT,
        causes={
            "a": cause({"knocks": "50 %"}, SHOWS, fix("clean", "60 %", 8), fix("replace", "90 %", 38)),
            "b": cause({"knocks": "40 %"}, SHOWS, fix("tighten", "80 %", 18)),
        },
        findings=LOOK,
        constants={"hand_off_minutes": 100},
    )
    return course_of(book)[0]


def test_expected_cost_of_a_sequence_written_out(ladder: Course) -> None:
    """Clean, tighten, hand off: each step is paid by those that still stand, and at the end comes the hand-off's price.

    Shares .5, .4, .1. Per cost: clean .30 / 10 = .030, tighten .32 / 20 = .016, replace .45 / 40 = .011.
    After clean .70 stand, after tighten .38, after replace (.15 of a's .20 cured) .23.
    10 + .70 · 20 + .38 · 40 + .23 · 100 = 62.2; but .38 · 40 + .23 · 100 = 38.2 is dearer than .38 · 100 = 38.
    So it ends before the replacement: 10 + 14 + 38 = 62.
    """
    shares, used = [0.5, 0.4, 0.1], [0.0, 0.0, 0.0]
    assert names(ladder, ladder.order(shares, used))[:3] == ["clean", "tighten", "replace"]
    assert ladder.expected_cost(shares, used) == pytest.approx(62.0, abs=1e-9)


def test_a_later_rung_cures_what_the_one_before_left(ladder: Course) -> None:
    """After clean (60) has failed, replace (90) cures (.9 - .6) / (1 - .6) = three in four of those with the cause."""
    used = [0.6, 0.0, 0.0]
    belief = [0.5, 0.4, 0.1]
    shares = [share / (1 - gone) for share, gone in zip(belief, used, strict=True)]
    replace = ladder.treatments.index(find(ladder, "replace"))
    assert ladder.gain(replace, shares, used) == pytest.approx(0.5 * 0.75)
    clean = ladder.treatments.index(find(ladder, "clean"))
    assert ladder.gain(clean, shares, used) == 0  # what has failed is not tried again
    assert "clean" not in names(ladder, ladder.order(shares, used))


def test_expected_cost_scales_with_the_mass(ladder: Course) -> None:
    """A branch of chance one fifth costs a fifth: look-ahead adds branches without normalising them."""
    whole = ladder.expected_cost([0.5, 0.4, 0.1], [0, 0, 0])
    assert ladder.expected_cost([0.1, 0.08, 0.02], [0, 0, 0]) == pytest.approx(whole / 5, rel=CLOSE)


def test_handing_off_at_once_is_the_dearest_a_course_can_be(tmp_path: Path) -> None:
    """Where every fix costs more than it can save, the course is the hand-off alone."""
    book = small_book(
        tmp_path,
        complaints=COMPLAINT,
        causes={"a": cause({"knocks": "90 %"}, SHOWS, fix("dear", "30 %", 500))},
        findings=LOOK,
    )
    course, _ = course_of(book)
    assert course.expected_cost([0.9, 0.1], [0, 0]) == pytest.approx(120)


def test_each_cause_left_over_is_handed_off_at_its_own_price(tmp_path: Path) -> None:
    """Parts have to be paid wherever the work is done, and once the cheap cause is put right the dear one is left.

    Labour 60 an hour: a part of 200 to 240 weighs 220 minutes, so "dear" is handed off for 120 + 220 = 340 and "cheap"
    for 120. Nothing can be done about "dear" here. Shares .6 cheap, .3 dear, .1 unknown; mending costs 18 + 2 and cures
    all but one in ten. At once: .6 · 120 + .3 · 340 + .1 · 120 = 186.
    Mend first: 20 + .06 · 120 + .3 · 340 + .1 · 120 = 141.2.
    """
    book = small_book(
        tmp_path,
        complaints=COMPLAINT,
        causes={
            "cheap": cause({"knocks": "60 %"}, SHOWS, fix("mend", "90 %", 18)),
            "dear": cause({"knocks": "30 %"}, SHOWS, fix("renew", "95 %", 20, parts={"fork": 1}, tools=["press"])),
        },
        findings=LOOK,
        tools={"press": "a press"},
        parts={"fork": {"name": "a fork", "price": {"low": 200, "high": 240}}},
    )
    course, _ = course_of(book, without=frozenset({"press"}))
    assert course.hand_off == pytest.approx((120, 340, 120))
    assert course.expected_cost([0.6, 0.3, 0.1], [0, 0, 0]) == pytest.approx(141.2, abs=1e-9)


def test_the_class_of_the_hand_off_sets_its_price(tmp_path: Path) -> None:
    """A cause that names its class is weighed at that class's minutes, something else at the book's constant."""
    away = {"class": "builder", "urgency": "soon", "reason": "Not done here."}
    book = small_book(
        tmp_path,
        complaints=COMPLAINT,
        causes={"a": cause({"knocks": "90 %"}, SHOWS, hand_off=away)},
        findings=LOOK,
        hand_offs={"builder": {"to": "a builder", "minutes": 75}},
    )
    course, _ = course_of(book)
    assert list(course.hand_off) == [75, 120]
    assert course.expected_cost([0.9, 0.1], [0, 0]) == pytest.approx(0.9 * 75 + 0.1 * 120)


# --- what a fix costs -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("low", "high"), [(4, 10), (1, 1.5), (20, 90), (0.5, 8)])
def test_mean_minutes_are_those_of_the_lognormal(low: float, high: float) -> None:
    """The mean is that of the lognormal with `low` and `high` as tenth and ninetieth percentile, found by scipy."""

    def miss(spread: float) -> float:
        return float(stats.lognorm(spread, scale=(low * high) ** 0.5).ppf(0.9)) - high

    spread = optimize.brentq(miss, 1e-6, 5)
    wanted = stats.lognorm(spread, scale=(low * high) ** 0.5)
    assert wanted.ppf(0.1) == pytest.approx(low, rel=1e-6)
    assert mean_minutes(low, high) == pytest.approx(wanted.mean(), rel=1e-6)


TEARDOWNS: Raw = {
    "wheel-out": {"name": "wheel out", "open": 1, "close": 2},
    "tyre-off": {"name": "tyre off", "open": 3, "close": 5, "inside": "wheel-out"},
    "crank-off": {"name": "crank off", "open": 4, "close": 6},
}


@pytest.fixture
def torn(tmp_path: Path) -> Course:
    """Fixes of 10 minutes: one within the tyre, one within the wheel, one at the crank, one with nothing to open."""

    def mend(name: str, teardown: str | None) -> Raw:
        more = {"teardown": teardown} if teardown else {}
        return cause({"knocks": "20 %"}, SHOWS, fix(name, "80 %", 10, **more))

    book = small_book(
        tmp_path,
        complaints=COMPLAINT,
        causes={
            "a": mend("patch", "tyre-off"),
            "b": mend("grease", "wheel-out"),
            "c": mend("bolt", "crank-off"),
            "d": mend("turn", None),
        },
        findings=LOOK,
        teardowns=TEARDOWNS,
    )
    return course_of(book)[0]


def test_a_fix_pays_for_opening_and_for_closing_what_its_test_needs_closed(torn: Course) -> None:
    """Tyre off means wheel out first: 1 + 3 to open, 10 of work, 5 + 2 to close, 2 of test."""
    assert cost_of(torn, "turn") == pytest.approx(10 + 2)
    assert cost_of(torn, "grease") == pytest.approx(1 + 10 + 2 + 2)
    assert cost_of(torn, "patch") == pytest.approx(1 + 3 + 10 + 5 + 2 + 2)


def test_what_is_open_already_is_not_opened_again_but_has_to_be_closed(torn: Course) -> None:
    """With the wheel out: the tyre's fix saves opening it, and a fix elsewhere pays for closing it before the test."""
    out = frozenset({"wheel-out"})
    assert cost_of(torn, "grease", already_open=out) == pytest.approx(10 + 2 + 2)
    assert cost_of(torn, "patch", already_open=out) == pytest.approx(3 + 10 + 5 + 2 + 2)
    assert cost_of(torn, "turn", already_open=out) == pytest.approx(10 + 2 + 2)
    assert cost_of(torn, "bolt", already_open=out) == pytest.approx(4 + 10 + 6 + 2 + 2)


def test_only_the_first_fix_profits_from_what_is_open(torn: Course) -> None:
    """After the first fix everything is closed for its test: the second pays in full."""
    order = torn.order([0.2, 0.2, 0.2, 0.2, 0.2], [0] * 5, frozenset({"wheel-out", "tyre-off"}))
    costs = {torn.treatments[index].fixes: cost for index, _, cost, _ in order}
    first = torn.treatments[order[0][0]].fixes
    assert "patch" in first
    assert costs[first] == pytest.approx(cost_of(torn, *first, already_open=frozenset({"wheel-out", "tyre-off"})))
    later = [one for one in costs if one != first]
    assert later
    assert all(costs[one] == pytest.approx(cost_of(torn, *one)) for one in later)


def test_two_fixes_in_one_teardown_with_one_test_are_an_action_of_their_own(torn: Course) -> None:
    """Patch and grease share the wheel: opened, closed and tested once. Fixes that share nothing make no pair."""
    pairs = [one for one in torn.treatments if len(one.fixes) == 2]
    assert [set(one.fixes) for one in pairs] == [{"patch", "grease"}]
    (both,) = pairs
    assert cost_of(torn, *both.fixes) == pytest.approx((1 + 3) + (10 + 10) + (5 + 2) + 2)
    assert dict(both.cures) == pytest.approx({0: 0.8, 1: 0.8})


def test_the_pair_is_taken_where_it_is_cheaper_than_one_after_the_other(tmp_path: Path) -> None:
    """Two fixes of 10 minutes within the tyre: alone 3 + 1 + 10 + 5 + 2 + 2 = 23 each, together 33.

    Shares .45 and .45, cured .8: together cost 33 and leave .28 for the hand-off, 33 + .28 · 120 = 66.6;
    one after the other 23 + .64 · 23 + .28 · 120 = 71.3.
    """
    within = {"teardown": "tyre-off"}
    book = small_book(
        tmp_path,
        complaints=COMPLAINT,
        causes={
            "a": cause({"knocks": "45 %"}, SHOWS, fix("patch", "80 %", 10, **within)),
            "b": cause({"knocks": "45 %"}, SHOWS, fix("tape", "80 %", 10, **within)),
        },
        findings=LOOK,
        teardowns=TEARDOWNS,
    )
    course, _ = course_of(book)
    order = course.order([0.45, 0.45, 0.1], [0, 0, 0])
    assert set(course.treatments[order[0][0]].fixes) == {"patch", "tape"}
    assert course.expected_cost([0.45, 0.45, 0.1], [0, 0, 0]) == pytest.approx(66.6)


# --- what comes with a fix --------------------------------------------------------------------------------------------


def needing(tmp_path: Path, needs: list[str]) -> Book:
    """A fix of 10 minutes for a cause, and one of 5 minutes that cures nothing of it; a check of 3 minutes."""
    return small_book(
        tmp_path,
        complaints=COMPLAINT,
        causes={
            "a": cause({"knocks": "50 %"}, SHOWS, fix("set", "80 %", 10, needs=needs)),
            "b": cause({"knocks": "40 %"}, SHOWS, fix("seat", "70 %", 5)),
        },
        findings=LOOK,
    )


def test_what_a_fix_needs_is_part_of_its_cost_and_of_its_cures(tmp_path: Path) -> None:
    """Seat first, look, then set: one action with one test, which cures what either cures."""
    course, _ = course_of(needing(tmp_path, ["seat", "look"]))
    whole = find(course, "seat", "set")
    assert cost_of(course, "seat", "set") == pytest.approx(5 + 3 + 10 + 2)
    assert dict(whole.cures) == pytest.approx({0: 0.8, 1: 0.7})
    assert cost_of(course, "seat") == pytest.approx(5 + 2)


def test_what_is_done_or_answered_is_not_needed_again(tmp_path: Path) -> None:
    """A check that has been answered costs nothing more, and can't tell is an answer: it was looked at."""
    book = needing(tmp_path, ["look"])
    assert cost_of(course_of(book)[0], "set") == pytest.approx(3 + 10 + 2)
    for value in ("yes", None):
        course, _ = course_of(book, answers=(Answer("look", "seen", value, "mechanic"),))
        assert cost_of(course, "set") == pytest.approx(10 + 2)


@pytest.mark.parametrize("after", [[], ["second"]])
def test_after_puts_a_fix_behind_another_only_where_both_are_in_the_plan(tmp_path: Path, after: list[str]) -> None:
    """Alone the likelier fix would come first; with `after` it waits for the other, and not if that one cannot cure."""
    book = small_book(
        tmp_path,
        complaints=COMPLAINT,
        causes={
            "a": cause({"knocks": "60 %"}, SHOWS, fix("first", "80 %", 10, after=after)),
            "b": cause({"knocks": "30 %"}, SHOWS, fix("second", "80 %", 10)),
        },
        findings=LOOK,
    )
    course, _ = course_of(book)
    order = names(course, course.order([0.6, 0.3, 0.1], [0, 0, 0]))
    assert order == (["second", "first"] if after else ["first", "second"])
    assert names(course, course.order([0.9, 0.0, 0.1], [0, 0, 0])) == ["first"]


def test_a_fix_that_was_pulled_forward_lowers_the_rest(tmp_path: Path) -> None:
    """What `after` pulls forward uses up its causes' chances, and the rest is ordered by what is left of them.

    Cost of each 10. First "front" (.40), but after "shared", which cures four fifths of b and of c (b, c: .25 each).
    Of b .05 are left and of c .05: "only-b" (9 in 10 of b: .025 more) now comes behind "small" (d: .04 · .9 = .036).
    """
    book = small_book(
        tmp_path,
        complaints=COMPLAINT,
        causes={
            "a": cause({"knocks": "40 %"}, SHOWS, fix("front", "99 %", 8, after=["shared"])),
            "b": cause({"knocks": "25 %"}, SHOWS, fix("shared", "80 %", 500), fix("only-b", "90 %", 8)),
            "c": cause({"knocks": "25 %"}, SHOWS, also_by=[{"fix": "shared", "cured": "80 %"}]),
            "d": cause({"knocks": "4 %"}, SHOWS, fix("small", "90 %", 8)),
        },
        findings=LOOK,
        constants={"hand_off_minutes": 9000},
    )
    course, _ = course_of(book)
    assert names(course, course.order([0.4, 0.25, 0.25, 0.04, 0.06], [0] * 5)) == ["shared", "front", "small", "only-b"]


# --- what the stand can do --------------------------------------------------------------------------------------------


@pytest.fixture
def equipped(tmp_path: Path) -> Book:
    """A fix with a tool, one for a mechanic, and one that anybody can do."""
    return small_book(
        tmp_path,
        complaints=COMPLAINT,
        causes={
            "a": cause({"knocks": "30 %"}, SHOWS, fix("press-in", "80 %", tools=["press"])),
            "b": cause({"knocks": "30 %"}, SHOWS, fix("bleed", "80 %", skill="mechanic")),
            "c": cause({"knocks": "30 %"}, SHOWS, fix("tighten", "80 %")),
        },
        findings=LOOK,
        tools={"press": "a press"},
    )


@pytest.mark.parametrize(
    ("stand", "left"),
    [
        ({}, {"press-in", "bleed", "tighten"}),
        ({"without": frozenset({"press"})}, {"bleed", "tighten"}),
        ({"skill": "rider"}, {"press-in", "tighten"}),
        ({"not_possible": frozenset({"tighten"})}, {"press-in", "bleed"}),
        ({"skill": "rider", "without": frozenset({"press"}), "not_possible": frozenset({"tighten"})}, set()),
    ],
)
def test_what_cannot_be_done_here_is_not_proposed(equipped: Book, stand: dict[str, Any], left: set[str]) -> None:
    """Without the tool or the skill, or once it was found not possible, a fix is no action of this stand."""
    course, _ = course_of(equipped, **stand)
    assert {name for one in course.treatments for name in one.fixes} == left
    if not left:
        assert course.expected_cost([0.3, 0.3, 0.3, 0.1], [0] * 4) == pytest.approx(120)


def test_cures_are_read_as_written(tmp_path: Path) -> None:
    """A cure may be a percentage, a word or a count, as a likelihood is."""
    written = {"a": "likely", "b": "17 in 20", "c": "66 %"}
    book = small_book(
        tmp_path,
        complaints=COMPLAINT,
        causes={name: cause({"knocks": "30 %"}, SHOWS, fix(f"mend-{name}", text)) for name, text in written.items()},
        findings=LOOK,
    )
    course, causes = course_of(book)
    for name, text in written.items():
        assert dict(find(course, f"mend-{name}").cures) == pytest.approx({causes.index(name): chance_of(text)})


@pytest.mark.parametrize("seed", range(12))
def test_expected_cost_of_any_course_is_that_of_its_order(tmp_path: Path, seed: int) -> None:
    """Ladders, shared fixes, parts and used rungs: the cost is that of the order as tried, handed off where best."""
    draw = lot(seed)
    count = draw.randint(2, 4)
    causes = {}
    for n in range(count):
        cures = sorted(draw.sample(range(20, 98), 2))
        ladder = [fix(f"mend-{n}-{rung}", f"{cured} %", draw.randint(2, 60)) for rung, cured in enumerate(cures)]
        if draw.random() < 0.5:
            ladder[1]["parts"] = {"part": draw.randint(1, 3)}
        causes[f"c{n}"] = cause({"knocks": f"{draw.randint(5, 40)} %"}, SHOWS, *ladder)
    for one, other in combinations(list(causes), 2):
        if draw.random() < 0.3 and "also_by" not in causes[other]:
            causes[other]["also_by"] = [{"fix": causes[one]["ladder"][0]["fix"], "cured": "15 %"}]
    book = small_book(
        tmp_path,
        complaints=COMPLAINT,
        causes=causes,
        findings=LOOK,
        parts={"part": {"name": "a part", "price": {"low": 20, "high": 60}}},
    )
    used = [draw.choice((0.0, 0.0, 0.4)) for _ in range(count)] + [0.0]
    course, _ = course_of(book, used)
    raw = [draw.uniform(0.05, 0.4) for _ in range(count + 1)]
    assert course.expected_cost(raw, used) == pytest.approx(_along(course, raw, used), rel=CLOSE)


def _along(course: Course, raw: list[float], used: list[float]) -> float:
    """The cost of the course's own order, cause by cause, with the best place to hand off."""
    left = [share * (1 - gone) for share, gone in zip(raw, used, strict=True)]
    reached = list(used)
    spent = 0.0
    ways = [sum(mass * price for mass, price in zip(left, course.hand_off, strict=True))]
    for index, _, cost, _ in course.order(raw, used):
        spent += sum(left) * cost
        for place, cured in course.treatments[index].cures:
            if cured > reached[place]:
                left[place] *= 1 - (cured - reached[place]) / (1 - reached[place])
                reached[place] = cured
        ways.append(spent + sum(mass * price for mass, price in zip(left, course.hand_off, strict=True)))
    return min(ways)
