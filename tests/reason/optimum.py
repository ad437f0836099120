"""The least that a complaint can be expected to cost, found exactly: dynamic programming over all that may come.

Cast: `Optimum` (a table of every position) gives `value`, `clairvoyant` and what the best course costs from any
position, `at`; `never_asking` is the same without checks. Start reading at `Optimum._fill`.

A position is what each check has told, which fixes have failed and what is open. Costs are kept times the chance of
coming there, so that they add up. For each set of failed fixes there is an array with an axis for each check
(`told.py`). The arrays are filled from the most that can be known and tried to nothing, many sets of failed fixes at a
time (a first axis).

The rules that take the choice away (`ruled.py`) hold for the optimum too: a demanded check comes first, nothing is put
right or given away while a look at a danger is worth its minutes, a called-for hand-off ends the job, fixes that must
be done come before others, `needs` are met first, `after` is kept. What was told it remembers also when a fix disturbs
it, since the fault still stands, and so it asks nothing twice.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import cached_property
from itertools import combinations, groupby, product
from math import inf, prod
from operator import mul

import numpy as np

from tests.reason.plain_job import CANNOT_TELL, CLOSED, IN_THE_PLAN, UNASKED, Fixes, Job, Open, Slots
from tests.reason.ruled import Batch, Failed, Ruled
from tests.reason.told import ANSWERS, Table, Told, Where

AT_A_TIME = 32
"""Sets of failed fixes that are worked out together."""


class Optimum:
    """The best course of a job, from every position.

    Args:
        job: the complaint.
        asking: whether checks may be made at all; without them fixes take the minutes of what they need, and nothing
            is demanded.
        demands: whether danger takes the choice away.
    """

    def __init__(self, job: Job, asking: bool = True, demands: bool = True) -> None:
        self.job = job
        self.demands = demands and asking
        self.told = Told(job, asking)
        self.ruled = Ruled(job, self.told, self.demands)
        self._tables: dict[Failed, dict[Open, Table]] = {}
        self._treatments: dict[Failed, list[Fixes]] = {}
        self._open_needs: dict[frozenset[str], Where] = {}
        self._known: dict[tuple[Failed, Open], list[float]] = {}

    @property
    def positions(self) -> int:
        """How many positions the table has."""
        return len(self._failures) * len(self.told.opens) * prod(self.told.shape)

    def value(self) -> float:
        """Expected minutes of the best course."""
        return self.at((UNASKED,) * len(self.job.checks), frozenset(), CLOSED)

    def at(self, told: Slots, failed: Failed, is_open: Open) -> float:
        """Expected minutes of the best course from a position."""
        if not self._tables:
            self._fill_all()
        places = {UNASKED: 0, CANNOT_TELL: ANSWERS}
        place = tuple(places.get(said, said + 2) for said in told) if self.told.asking else (0,)
        return float(self._tables[failed][is_open][place]) / sum(self.job.weights(told, failed))

    def clairvoyant(self) -> float:
        """Expected minutes of somebody who knows the cause."""
        known: float = sum(map(mul, self.job.prior, self.costs_known(frozenset(), CLOSED)))
        return known

    def costs_known(self, failed: Failed, is_open: Open) -> list[float]:
        """For each cause the least it costs who knows it."""
        key = failed, is_open
        if key not in self._known:
            self._known[key] = self._cheapest(failed, is_open)
        return self._known[key]

    def _cheapest(self, failed: Failed, is_open: Open) -> list[float]:
        best = list(self.job.prices(failed))
        for fixes in self.treatments(failed):
            cures = self.job.cures(fixes, failed)
            if any(cures):
                after = self.costs_known(failed | set(fixes), CLOSED)
                cost = self.job.cost(fixes, is_open)
                best = [
                    min(known, cost + (1 - cured) * rest) if cured > 0 else known
                    for known, cured, rest in zip(best, cures, after, strict=True)
                ]
        return best

    def treatments(self, failed: Failed) -> list[Fixes]:
        """Every fix with the fixes that it needs, and every two of these that share a teardown."""
        if failed not in self._treatments:
            job = self.job
            singles = list(dict.fromkeys(job.treatment((fix,), failed) for fix in job.fixes if fix not in failed))
            pairs = [
                (*one, *(fix for fix in two if fix not in one))
                for one, two in combinations(singles, 2)
                if _opened(job, one) & _opened(job, two) and not (set(one) <= set(two) or set(two) <= set(one))
            ]
            self._treatments[failed] = [*singles, *pairs]
        return self._treatments[failed]

    # --- the table ---------------------------------------------------------------------------------------------------

    def _fill_all(self) -> None:
        """Every set of failed fixes, the largest first."""
        ordered = sorted(self._failures, key=lambda one: (-len(one), sorted(one)))
        for _, same in groupby(ordered, key=len):
            level = list(same)
            for start in range(0, len(level), AT_A_TIME):
                self._fill(level[start : start + AT_A_TIME])

    def _fill(self, failed: list[Failed]) -> None:
        """What the best course costs once these fixes have failed, for everything that may be open and told."""
        job = self.job
        left = 1 - np.array([job.used(one) for one in failed])
        away = np.stack([self.ruled.said(one).given_away for one in failed])
        batch = Batch(failed, left, self.told.sum(left), away)
        giving_away = self.told.sum(left * np.array([job.prices(one) for one in failed]))
        tables = {is_open: giving_away.copy() for is_open in self.told.opens}
        for row in range(len(failed)):
            self._mend(batch, row, tables)
        first = self.ruled.demanded(batch) if self.demands else {}
        looks = self.ruled.worth_a_look(batch) if self.demands else {}
        barred: dict[tuple[Open, int], Where] = {}
        for is_open in self.told.opens:
            demanded = first.get(is_open, {})
            for where in (*demanded.values(), *looks.get(is_open, ())):
                tables[is_open][where & ~away] = inf
            for check in self.told.checks:
                others = (where for one, where in demanded.items() if one != check)
                barred[is_open, check] = ~away & ~self.ruled.not_yet[check] & ~sum(others, start=np.zeros_like(away))
        for answered in sorted(product((True, False), repeat=len(self.told.checks)), key=sum, reverse=True):
            for is_open in self.told.opens:
                for check in self.told.checks:
                    if not answered[check]:
                        self._ask(check, answered, is_open, tables, batch.mass, barred[is_open, check])
        for row, one in enumerate(failed):
            self._tables[one] = {is_open: table[row].copy() for is_open, table in tables.items()}

    def _ask(
        self,
        check: int,
        answered: Sequence[bool],
        is_open: Open,
        tables: dict[Open, Table],
        mass: Table,
        allowed: Where,
    ) -> None:
        """Where these checks are answered and this one is not: lower the cost to what asking it comes to."""
        minutes, after = self.job.ask(check, is_open)
        answers, still = slice(ANSWERS, None), slice(0, ANSWERS)
        box = (slice(None), *(answers if one else still for one in answered))
        told = (*box[: check + 1], answers, *box[check + 2 :])
        branches = np.moveaxis(tables[after][told], check + 1, 0)
        untold = self.job.cannot_tell
        expected = untold * branches[0] + (1 - untold) * branches[1:].sum(axis=0)
        cost = minutes * mass[box] + np.expand_dims(expected, check + 1)
        np.minimum(tables[is_open][box], cost, out=tables[is_open][box], where=allowed[box])

    def _mend(self, batch: Batch, row: int, tables: dict[Open, Table]) -> None:
        """For one set of failed fixes: lower the cost to what each treatment comes to where it may come next."""
        failed, mass = batch.failed[row], batch.mass[row]
        for fixes, where in self._may_come(batch, row):
            after = self._tables[failed | set(fixes)][CLOSED]
            allowed = where & ~batch.given_away[row]
            for is_open, table in tables.items():
                np.minimum(table[row], self._price(fixes, is_open) * mass + after, out=table[row], where=allowed)

    # --- what may be done --------------------------------------------------------------------------------------------

    @cached_property
    def _failures(self) -> set[Failed]:
        """Every set of fixes that can have failed."""
        said = [one["then"].get("also", {}) for one in self.job.book.deductions.values()]
        musts = [(fix,) for one in said for fix, level in one.items() if level == "must"]
        found = {frozenset[str]()}
        waiting = list(found)
        while waiting:
            failed = waiting.pop()
            ahead = {failed | set(fixes) for fixes in (*self.treatments(failed), *musts)}
            waiting += ahead - found
            found |= ahead
        return found

    def _may_come(self, batch: Batch, row: int) -> Iterator[tuple[Fixes, Where]]:
        """Each treatment with where it may come next; only what must be done, where something must."""
        failed = batch.failed[row]
        must = self._must(failed)
        free = ~sum(must.values(), start=self.told.nowhere)
        for fixes in self.treatments(failed):
            yield fixes, free & self._cures(batch, row, fixes) & ~self._held_up(batch, row, fixes)
        for fix, where in must.items():
            yield (fix,), where & ~self._held_up(batch, row, (fix,))

    def _must(self, failed: Failed) -> dict[str, Where]:
        """The fixes that must be done next."""
        found: dict[str, Where] = {}
        for order, where in self.ruled.said(failed).must.items():
            still = [fix for fix in order if fix not in failed]
            if still:
                found[still[0]] = found.get(still[0], self.told.nowhere) | where
        return found

    def _cures(self, batch: Batch, row: int, fixes: Fixes, least: float = 0.0) -> Where:
        """Where these fixes have more than this chance to cure (at least this, where it is not 0)."""
        failed = batch.failed[row]
        gain = self.told.shares @ (batch.left[row] * np.array(self.job.cures(fixes, failed)))
        found: Where = gain >= least * batch.mass[row] if least else gain > 0
        return found

    def _held_up(self, batch: Batch, row: int, fixes: Fixes) -> Where:
        """Where a check that these fixes need is open, or a fix that comes before them is in the plan."""
        failed = batch.failed[row]
        held_up = self._unmet(fixes)
        for name in self.job.before(fixes, failed):
            held_up = held_up | self._cures(batch, row, self.job.treatment((name,), failed), IN_THE_PLAN)
        return held_up

    def _unmet(self, fixes: Fixes) -> Where:
        """Where a check that these fixes need is open; nowhere if nothing is asked."""
        key = frozenset(fixes)
        if key not in self._open_needs:
            job = self.job
            needs = job.unmet(fixes, (UNASKED,) * len(job.checks)) if self.told.asking else []
            looked = {check for need in needs for check in job.same[job.checks[need].finding]}
            self._open_needs[key] = self.told.where(
                looked, lambda told: self.told.asking and bool(job.unmet(fixes, told))
            )
        return self._open_needs[key]

    def _price(self, fixes: Fixes, is_open: Open) -> float:
        """What fixes cost; where nothing is asked, with the minutes of the checks that they need."""
        job = self.job
        cost = job.cost(fixes, is_open)
        if not self.told.asking:
            cost += sum(job.checks[need].minutes for need in job.unmet(fixes, (UNASKED,) * len(job.checks)))
        return cost


def _opened(job: Job, fixes: Fixes) -> Open:
    return CLOSED.union(*(job.chain_of(fix) for fix in fixes))


def never_asking(job: Job) -> float:
    """Expected minutes of the best order of fixes and hand-off without any check."""
    return Optimum(job, asking=False).value()
