"""The exact optimum against plain enumeration and known results, and the advice beside it on a few problems.

Cast: `Enumerated` walks every course of a tiny problem, with every cause and every value of every finding written out
as a world of its own. The full comparison is a command: tests/reason/against_optimum.py.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache
from itertools import combinations, permutations, product
from math import inf, prod
from pathlib import Path
from typing import NamedTuple

import pytest

from tests.reason.against_optimum import drawn, of_the_book
from tests.reason.drawn_jobs import KNOCKS, draw_job
from tests.reason.optimum import Optimum, never_asking
from tests.reason.plain_book import read_plain
from tests.reason.plain_job import (
    BESIDE,
    CANNOT_TELL,
    CLOSED,
    FOUND,
    IN_THE_PLAN,
    LEADING,
    PART,
    RARE,
    SHOWS,
    UNASKED,
    Fixes,
    Job,
    Open,
    Slots,
)
from tests.reason.small_book import cause, deduction, finding, fix, write_book
from tests.reason.visits import lot

CLOSE = 1e-9


# --- plain enumeration ------------------------------------------------------------------------------------------------


class World(NamedTuple):
    """One way that the bike may be: its cause by place, the value of each finding, the chance of it."""

    cause: int
    values: dict[str, int]
    chance: float


class Enumerated:
    """A tiny problem solved by walking every course through every world. No table, no arrays."""

    def __init__(self, job: Job) -> None:
        self.job = job
        findings = list(dict.fromkeys(one.finding for one in job.checks))
        self.worlds = [
            World(
                place,
                dict(zip(findings, values, strict=True)),
                share * prod(job._rows[one][place][value] for one, value in zip(findings, values, strict=True)),
            )
            for place, share in enumerate(job.prior)
            for values in product(*(range(len(job.book.values(one))) for one in findings))
        ]

        self._weights = lru_cache(None)(self._weigh)

    def value(self) -> float:
        """Expected minutes of the best course."""
        unasked = (UNASKED,) * len(self.job.checks)
        return self._best(unasked, frozenset(), CLOSED) / self._mass(self._weights(unasked, frozenset()))

    def _weigh(self, told: Slots, failed: frozenset[str]) -> list[tuple[World, float]]:
        """The worlds with the chance of each and of all that happened in it."""
        gone = self.job.used(failed)
        found = []
        for world in self.worlds:
            chance = world.chance * (1 - gone[world.cause])
            for check, said in zip(self.job.checks, told, strict=True):
                if said >= 0:
                    trust = self.job.book.trust(check.name, "mechanic")
                    usual = list(self.job.book.otherwise(check.finding).values())[said]
                    chance *= trust * (world.values[check.finding] == said) + (1 - trust) * usual
            found.append((world, chance))
        return found

    @staticmethod
    def _mass(weights: list[tuple[World, float]]) -> float:
        return sum(chance for _, chance in weights)

    def _best(self, told: Slots, failed: frozenset[str], is_open: Open) -> float:
        """The least expected minutes from here on, times the chance of being here."""
        job = self.job
        weights = self._weights(told, failed)
        mass = self._mass(weights)
        if mass <= 0:
            return 0.0
        prices = job.prices(failed)
        giving_away = sum(chance * prices[world.cause] for world, chance in weights)
        rules = job.given(told, failed)
        if rules.given_away:
            return giving_away
        demanded = self._demanded(told, failed, is_open, rules.demanded)
        if demanded is not None:
            return self._asked(demanded, told, failed, is_open, mass)
        looks = self._worth_a_look(told, failed, is_open)
        best = inf if looks else giving_away
        for check, said in enumerate(told):
            if said == UNASKED and not job.needed(check, told):
                best = min(best, self._asked(check, told, failed, is_open, mass))
        for fixes in () if looks else self._may_come(told, failed, rules.must):
            after = self._best(told, failed | set(fixes), CLOSED)
            best = min(best, mass * job.cost(fixes, is_open) + after)
        return best

    def _asked(self, check: int, told: Slots, failed: frozenset[str], is_open: Open, mass: float) -> float:
        minutes, after = self.job.ask(check, is_open)
        untold = self.job.cannot_tell

        def then(said: int) -> float:
            return self._best((*told[:check], said, *told[check + 1 :]), failed, after)

        reports = sum(then(value) for value in range(len(self.job.values[check])))
        return mass * minutes + untold * then(CANNOT_TELL) + (1 - untold) * reports

    # --- what may come ---------------------------------------------------------------------------------------------

    def _may_come(self, told: Slots, failed: frozenset[str], must: Fixes) -> Iterator[Fixes]:
        job = self.job
        single = [job.treatment((one,), failed) for one in job.fixes if one not in failed]
        paired = [
            tuple(dict.fromkeys((*one, *two)))
            for one, two in combinations(dict.fromkeys(single), 2)
            if self._opened(one) & self._opened(two) and not (set(one) <= set(two) or set(two) <= set(one))
        ]
        for fixes in [(must[0],)] if must else [*single, *paired]:
            early = [job.treatment((one,), failed) for one in job.before(fixes, failed)]
            waits = any(self._cured(one, told, failed) >= IN_THE_PLAN for one in early)
            if not job.unmet(fixes, told) and not waits and (must or self._cured(fixes, told, failed) > 0):
                yield fixes

    def _opened(self, fixes: Fixes) -> Open:
        return CLOSED.union(*(self.job.chain_of(one) for one in fixes))

    def _cured(self, fixes: Fixes, told: Slots, failed: frozenset[str]) -> float:
        """The chance that these fixes cure it."""
        weights = self._weights(told, failed)
        cures = self.job.cures(fixes, failed)
        return sum(chance * cures[world.cause] for world, chance in weights) / self._mass(weights)

    # --- danger ----------------------------------------------------------------------------------------------------

    def _demanded(self, told: Slots, failed: frozenset[str], is_open: Open, named: tuple[int, ...]) -> int | None:
        """The check that comes before everything else."""
        job = self.job
        wanted = {check for check in named if told[check] == UNASKED}
        for cause_name, risk in job.risks:
            if job.threshold <= self._danger(told, failed, risk) < LEADING:
                wanted |= {
                    check
                    for check in job.could_ask(told)
                    if (not cause_name or job.speaks(cause_name, job.checks[check].finding))
                    and self._clears(check, told, failed, risk, self._least(check, cause_name, told, failed))
                }

        def rank(check: int) -> tuple[bool, float, str]:
            return (
                not job.checks[check].danger,
                job.cost_with(check, job.needed(check, told), is_open),
                job.checks[check].name,
            )

        first = min(wanted, key=rank, default=None)
        return None if first is None else [*job.needed(first, told), first][0]

    def _danger(self, told: Slots, failed: frozenset[str], risk: list[float]) -> float:
        weights = self._weights(told, failed)
        mass = self._mass(weights)
        return sum(chance * risk[world.cause] for world, chance in weights) / mass if mass > 0 else inf

    def _least(self, check: int, cause_name: str, told: Slots, failed: frozenset[str]) -> float:
        """How often a report must come to clear a danger: less often where the check speaks of it, or guards one."""
        one, every = self.job.checks[check], self._danger(told, failed, self.job.risks[0][1])
        heavy = (name for name, risk in self.job.risks if name and self._danger(told, failed, risk) >= PART * every > 0)
        speaks = cause_name or any(self.job.speaks(name, one.finding) for name in heavy)
        return RARE if speaks or one.danger else BESIDE

    def _clears(self, check: int, told: Slots, failed: frozenset[str], risk: list[float], least: float) -> bool:
        mass = self._mass(self._weights(told, failed))
        for value in range(len(self.job.values[check])):
            after = (*told[:check], value, *told[check + 1 :])
            often = self._mass(self._weights(after, failed)) >= least * mass
            if often and self._danger(after, failed, risk) < self.job.threshold:
                return True
        return False

    def _worth_a_look(self, told: Slots, failed: frozenset[str], is_open: Open) -> list[int]:
        """Looks at a danger that are made before anything is put right or given away."""
        job = self.job
        _, risk = job.risks[0]
        if job.given(told, failed).seen or self._danger(told, failed, risk) >= job.threshold:
            return []
        mass = self._mass(self._weights(told, failed))
        found = []
        for check in job.could_ask(told):
            if job.checks[check].danger and job.still_wanted(check, told):
                shown = 0.0
                for value in range(len(job.values[check])):
                    after = (*told[:check], value, *told[check + 1 :])
                    danger = self._danger(after, failed, risk)
                    shown += danger * self._mass(self._weights(after, failed)) if SHOWS <= danger < inf else 0.0
                if shown * FOUND >= job.cost_with(check, job.needed(check, told), is_open) * mass:
                    found.append(check)
        return found


@pytest.mark.parametrize("number", range(24))
def test_the_optimum_is_that_of_plain_enumeration(tmp_path: Path, number: int) -> None:
    """Two causes, three fixes with a ladder and a teardown, two checks; dangers and deductions among them."""
    job = Job(read_plain(draw_job(tmp_path / "rules", f"tiny {number}", (1, 2), 2)), KNOCKS, lasting=True)
    assert Optimum(job).value() == pytest.approx(Enumerated(job).value(), rel=CLOSE)


def test_tiny_problems_have_demands_and_given_away_bikes(tmp_path: Path) -> None:
    """What the enumeration is held against is there: without danger's demands several problems would cost less."""
    cheaper = 0
    for number in range(24):
        job = Job(read_plain(draw_job(tmp_path / str(number), f"tiny {number}", (1, 2), 2)), KNOCKS, lasting=True)
        cheaper += Optimum(job, demands=False).value() < Optimum(job).value() - 1e-6
    assert cheaper >= 2


# --- known results ----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("number", range(6))
def test_independent_fixes_are_best_tried_by_chance_per_cost(tmp_path: Path, number: int) -> None:
    """Kadane and Simon (Annals of Statistics 5, 1977); Heckerman, Breese and Rommelse (CACM 38, 1995), for fixes.

    Six causes with a fix each, nothing to ask: no order is better than falling p / c, stopped where it is best.
    """
    draw = lot(f"independent {number}")
    cured = [draw.randint(30, 95) for _ in range(6)]
    minutes = [draw.randint(3, 60) for _ in range(6)]
    parts = [draw.randint(5, 40) for _ in range(6)]
    hand_off = draw.choice((60, 120, 300))
    rules = write_book(
        tmp_path / "rules",
        complaints={KNOCKS: {"something_else": "10 in 100", "test": 1}},
        causes={
            f"c{k}": cause({KNOCKS: f"{parts[k]} in 100"}, {}, fix(f"mend-{k}", f"{cured[k]} %", minutes[k]))
            for k in range(6)
        },
        constants={"hand_off_minutes": hand_off},
    )
    found = never_asking(Job(read_plain(rules), KNOCKS))
    chance = [0.9 * part / sum(parts) * gone / 100 for part, gone in zip(parts, cured, strict=True)]
    cost = [one + 1 for one in minutes]
    by_ratio = tuple(sorted(range(6), key=lambda k: -chance[k] / cost[k]))

    def along(order: tuple[int, ...]) -> float:
        """The least cost over every place to stop and give the bike away."""
        left, spent, best = 1.0, 0.0, float(hand_off)
        for k in order:
            spent += left * cost[k]
            left -= chance[k]
            best = min(best, spent + left * hand_off)
        return best

    assert found == pytest.approx(along(by_ratio), rel=CLOSE)
    assert found == pytest.approx(min(map(along, permutations(range(6)))), rel=CLOSE)


def test_a_question_is_asked_where_it_saves_more_than_it_costs(tmp_path: Path) -> None:
    """Two causes at even chance, a sure answer for a minute: 1 + 10 instead of 10 + half of 10, written out by hand."""
    rules = write_book(
        tmp_path / "rules",
        complaints={KNOCKS: {"something_else": "3 in 100", "test": 1}},
        causes={
            "one": cause({KNOCKS: "50 in 100"}, {"seen": {"yes": "99 %"}}, fix("mend-one", "99 %", 9)),
            "two": cause({KNOCKS: "50 in 100"}, {"seen": {"no": "99 %"}}, fix("mend-two", "99 %", 9)),
        },
        findings={"seen": finding("yes no", {"yes": "50 %"}, {"look": {"minutes": 1}})},
    )
    job = Job(read_plain(rules), KNOCKS)
    likely, wrong, cured = 0.485 * 0.99 + 0.015, 0.485 * 0.01, 0.99
    # After either report: the likely cause's fix, then the other's, then the hand-off with all that is left.
    left_one = 0.5 - 0.485 * 0.99 * cured
    left_two = left_one - wrong * cured
    told = 0.5 * 10 + left_one * 10 + left_two * 120
    given_up = 0.5 * 10 + left_one * 120
    assert likely + wrong == pytest.approx(0.5)
    assert Optimum(job).value() == pytest.approx(1 + 2 * min(told, given_up))
    assert never_asking(job) == pytest.approx(10 + (1 - 0.485 * cured) * 10 + (1 - 2 * 0.485 * cured) * 120)


def test_what_danger_demands_is_asked_by_the_optimum_too(tmp_path: Path) -> None:
    """A dear look that saves nothing, demanded by a deduction on the complaint: the optimum pays for it."""
    rules = write_book(
        tmp_path / "rules",
        complaints={KNOCKS: {"something_else": "10 in 100", "test": 1}},
        causes={"one": cause({KNOCKS: "50 in 100"}, {"seen": {"yes": "60 %"}}, fix("mend", "90 %", 9))},
        findings={"seen": finding("yes no", {"yes": "50 %"}, {"look": {"minutes": 20}})},
        deductions={"first": deduction({"complaint": KNOCKS}, {"demand": ["look"]})},
    )
    job = Job(read_plain(rules), KNOCKS)
    assert Optimum(job).value() == pytest.approx(Optimum(job, demands=False).value() + 20)


@pytest.mark.parametrize(("minutes", "more"), [(3.6, 3.6), (3.7, 0.0)])
def test_a_look_at_a_danger_that_is_worth_its_minutes_is_made_by_the_optimum_too(
    tmp_path: Path, minutes: float, more: float
) -> None:
    """Of 100 bikes 3.04 are cracked and show it: worth 3.65 minutes. One fix mends all: it saves none."""
    rules = write_book(
        tmp_path / "rules",
        complaints={KNOCKS: {"something_else": "10 in 100", "test": 1}},
        causes={
            "cracked": cause({KNOCKS: "3.2 in 100"}, {"seen": {"yes": "95 %"}}, fix("mend", "90 %", 9), danger="stop"),
            "loose": cause({KNOCKS: "86.8 in 100"}, {}, also_by=[{"fix": "mend", "cured": "90 %"}]),
        },
        findings={"seen": finding("yes no", {"yes": "0.5 %"}, {"look": {"minutes": minutes, "danger": "yes"}})},
    )
    job = Job(read_plain(rules), KNOCKS, lasting=True)
    assert Optimum(job).value() == pytest.approx(Optimum(job, demands=False).value() + more)
    assert Optimum(job).value() == pytest.approx(Enumerated(job).value())


# --- the advice -------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("number", range(4))
def test_the_advice_is_close_to_the_optimum_of_drawn_problems(number: int) -> None:
    """Never below it, which nobody can be, nor far above."""
    found = drawn(number)
    assert 1 - CLOSE <= found.ratio <= 1.03


@pytest.mark.parametrize("complaint", ["front-knock", "brake-noise", "shifts-badly"])
def test_the_advice_is_close_to_the_optimum_of_complaints_cut_small(complaint: str) -> None:
    """Five fixes and four checks of it: a size that is solved in a moment."""
    found = of_the_book(complaint, fixes=5, checks=4)
    assert 1 - CLOSE <= found.ratio <= 1.03
