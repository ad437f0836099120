"""The least that a complaint can be expected to cost, found exactly: dynamic programming over all that may come.

Cast: `Optimum` (a table of every position) gives `value`, `clairvoyant` and what the best course costs from any
position, `at`; `never_asking` is the same without checks. Start reading at `Optimum._fill`.

A position is what each check has told, which fixes have failed and what is open. Costs are kept times the chance of
coming there, so that they add up. For each set of failed fixes there is an array with an axis for each check: not
asked, can't tell, or a value. The arrays are filled from the most that can be known and tried to nothing, many sets of
failed fixes at a time (a first axis).

The rules that take the choice away hold for the optimum too: a demanded check comes first, nothing is put right or
given away while a look at a danger is worth its minutes, a called-for hand-off ends the job, fixes that must be done
come before others, `needs` are met first, `after` is kept. What was told it remembers also when a fix disturbs it,
since the fault still stands, and so it asks nothing twice.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from functools import cached_property
from itertools import combinations, groupby, product
from math import inf, prod
from operator import mul
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from tests.reason.plain_book import listed
from tests.reason.plain_job import (
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

Table = NDArray[np.float64]
Where = NDArray[np.bool_]
Failed = frozenset[str]
ANSWERS = 1
"""Where on an axis the answers begin: can't tell, then the values. Before it stands what was not asked."""
AT_A_TIME = 32
"""Sets of failed fixes that are worked out together."""
LATER = 1e6
"""Minutes by which a check that guards no danger comes behind one that does."""


class Said(NamedTuple):
    """What the deductions say, for everything that may be told.

    Where the job is given away, where each check is demanded, where which fixes must be done (in this order), and
    where which findings were seen that nobody may ride with.
    """

    given_away: Where
    demanded: dict[int, Where]
    must: dict[Fixes, Where]
    seen: dict[Failed, Where]


class Batch(NamedTuple):
    """Sets of failed fixes with, for each (first axis), the chance of every position, and where it is given away."""

    failed: list[Failed]
    left: Table
    mass: Table
    given_away: Where


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
        self.asking = asking
        self.demands = demands and asking
        self.checks = list(range(len(job.checks))) if asking else []
        self.shape = tuple(2 + len(job.values[check]) for check in self.checks) or (1,)
        self.nowhere = np.zeros(self.shape, bool)
        self.opens = self._opens()
        self._tables: dict[Failed, dict[Open, Table]] = {}
        self._treatments: dict[Failed, list[Fixes]] = {}
        self._open_needs: dict[frozenset[str], Where] = {}
        self._sayings: dict[Failed, Said] = {}
        self._known: dict[tuple[Failed, Open], list[float]] = {}

    # --- what is asked of it ---------------------------------------------------------------------------------------

    @property
    def positions(self) -> int:
        """How many positions the table has."""
        return len(self._failures) * len(self.opens) * prod(self.shape)

    def value(self) -> float:
        """Expected minutes of the best course."""
        return self.at((UNASKED,) * len(self.job.checks), frozenset(), CLOSED)

    def at(self, told: Slots, failed: Failed, is_open: Open) -> float:
        """Expected minutes of the best course from a position."""
        if not self._tables:
            self._fill_all()
        places = {UNASKED: 0, CANNOT_TELL: ANSWERS}
        place = tuple(places.get(said, said + 2) for said in told) if self.asking else (0,)
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

    # --- the table -------------------------------------------------------------------------------------------------

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
        away = np.stack([self._said(one).given_away for one in failed])
        batch = Batch(failed, left, self._sum(left), away)
        giving_away = self._sum(left * np.array([job.prices(one) for one in failed]))
        tables = {is_open: giving_away.copy() for is_open in self.opens}
        for row in range(len(failed)):
            self._mend(batch, row, tables)
        first = self._demanded(batch) if self.demands else {}
        looks = self._worth_a_look(batch) if self.demands else {}
        barred: dict[tuple[Open, int], Where] = {}
        for is_open in self.opens:
            demanded = first.get(is_open, {})
            for where in (*demanded.values(), *looks.get(is_open, ())):
                tables[is_open][where & ~away] = inf
            for check in self.checks:
                others = (where for one, where in demanded.items() if one != check)
                barred[is_open, check] = ~away & ~self._not_yet[check] & ~sum(others, start=np.zeros_like(away))
        for answered in sorted(product((True, False), repeat=len(self.checks)), key=sum, reverse=True):
            for is_open in self.opens:
                for check in self.checks:
                    if not answered[check]:
                        self._ask(check, answered, is_open, tables, batch.mass, barred[is_open, check])
        for row, one in enumerate(failed):
            self._tables[one] = {is_open: table[row].copy() for is_open, table in tables.items()}

    def _sum(self, factors: Table) -> Table:
        """For each row of factors and each position the chance of each cause times its factor, summed."""
        return np.moveaxis(self._shares @ factors.T, -1, 0)

    @cached_property
    def _shares(self) -> Table:
        """For each position, along the last axis the chance of each cause and of what was told, before any fix."""
        shares = np.empty((*self.shape, len(self.job.causes)))
        shares[...] = self.job.prior
        for finding, same in self.job.same.items():
            for told, place in self._each(same):
                shares[place] *= self.job.factors(finding, [(one, told[one]) for one in same if told[one] >= 0])
        return shares

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

    # --- everything that may be told -------------------------------------------------------------------------------

    def _each(self, checks: Iterable[int]) -> Iterator[tuple[Slots, tuple[int | slice, ...]]]:
        """Everything that these checks may tell while the others tell nothing, and where in a table that stands."""
        wanted = sorted(set(checks) & set(self.checks))
        names = {0: UNASKED, ANSWERS: CANNOT_TELL}
        for places in product(*(range(self.shape[check]) for check in wanted)):
            said: dict[int, int] = dict(zip(wanted, places, strict=True))
            told = tuple(names.get(said.get(k, 0), said.get(k, 0) - 2) for k in range(len(self.job.checks)))
            yield told, tuple(said.get(k, slice(None)) for k in range(len(self.shape)))

    def _sorted_by(self, checks: Iterable[int], key: Callable[[Slots], Any]) -> dict[Any, Where]:
        """What something comes to that hangs on these checks alone: each result with the positions that have it."""
        found: dict[Any, Where] = {}
        for told, place in self._each(checks):
            found.setdefault(key(told), self.nowhere.copy())[place] = True
        return found

    def _where(self, checks: Iterable[int], holds: Callable[[Slots], bool]) -> Where:
        """Where something holds that hangs on these checks alone."""
        return self._sorted_by(checks, holds).get(True, self.nowhere)

    def _opens(self) -> list[Open]:
        """Everything that may be open after some checks."""
        found = [CLOSED]
        for is_open in found:
            for check in self.checks:
                after = self.job.ask(check, is_open)[1]
                if after not in found:
                    found.append(after)
        return found

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

    # --- what may be done ------------------------------------------------------------------------------------------

    def _may_come(self, batch: Batch, row: int) -> Iterator[tuple[Fixes, Where]]:
        """Each treatment with where it may come next; only what must be done, where something must."""
        failed = batch.failed[row]
        must = self._must(failed)
        free = ~sum(must.values(), start=self.nowhere)
        for fixes in self.treatments(failed):
            yield fixes, free & self._cures(batch, row, fixes) & ~self._held_up(batch, row, fixes)
        for fix, where in must.items():
            yield (fix,), where & ~self._held_up(batch, row, (fix,))

    def _must(self, failed: Failed) -> dict[str, Where]:
        """The fixes that must be done next."""
        found: dict[str, Where] = {}
        for order, where in self._said(failed).must.items():
            still = [fix for fix in order if fix not in failed]
            if still:
                found[still[0]] = found.get(still[0], self.nowhere) | where
        return found

    def _cures(self, batch: Batch, row: int, fixes: Fixes, least: float = 0.0) -> Where:
        """Where these fixes have more than this chance to cure (at least this, where it is not 0)."""
        failed = batch.failed[row]
        gain = self._shares @ (batch.left[row] * np.array(self.job.cures(fixes, failed)))
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
            needs = job.unmet(fixes, (UNASKED,) * len(job.checks)) if self.asking else []
            looked = {check for need in needs for check in job.same[job.checks[need].finding]}
            self._open_needs[key] = self._where(looked, lambda told: self.asking and bool(job.unmet(fixes, told)))
        return self._open_needs[key]

    def _price(self, fixes: Fixes, is_open: Open) -> float:
        """What fixes cost; where nothing is asked, with the minutes of the checks that they need."""
        job = self.job
        cost = job.cost(fixes, is_open)
        if not self.asking:
            cost += sum(job.checks[need].minutes for need in job.unmet(fixes, (UNASKED,) * len(job.checks)))
        return cost

    # --- what takes the choice away --------------------------------------------------------------------------------

    def _said(self, failed: Failed) -> Said:
        """The deductions, once these fixes have failed."""
        named = (one["when"].get("fix-failed") for one in self.job.book.deductions.values())
        heard = failed & {fix for fixes in named for fix in listed(fixes)} if self.asking else frozenset[str]()
        if heard not in self._sayings:
            self._sayings[heard] = self._deduced(heard)
        return self._sayings[heard]

    def _deduced(self, failed: Failed) -> Said:
        job = self.job
        said = Said(self.nowhere.copy(), {check: self.nowhere.copy() for check in self.checks}, {}, {})
        if not self.asking:
            return said
        findings = {key for one in job.book.deductions.values() for key in one["when"]}
        spoken = [check for check in self.checks if job.checks[check].finding in findings]
        for rules, where in self._sorted_by(spoken, lambda told: job.given(told, failed)).items():
            said.given_away[where] |= rules.given_away
            if rules.must:
                said.must[rules.must] = said.must.get(rules.must, self.nowhere) | where
            if rules.seen:
                said.seen[rules.seen] = said.seen.get(rules.seen, self.nowhere) | where
            for check in rules.demanded if self.demands else ():
                said.demanded[check][where & self._still_wanted(check)] = True
        return said

    def _still_wanted(self, check: int) -> Where:
        """Where a demanded check was neither made nor told by another look, trusted no less."""
        same = self.job.same[self.job.checks[check].finding]
        return self._where(same, lambda told: self.job.still_wanted(check, told))

    @cached_property
    def _could_ask(self) -> dict[int, Where]:
        """Where each check is open and can tell something."""
        job = self.job

        def can(check: int) -> Where:
            return self._where(job.same[job.checks[check].finding], lambda told: check in list(job.could_ask(told)))

        return {check: can(check) for check in self.checks}

    @cached_property
    def _needs(self) -> dict[int, dict[tuple[int, ...], Where]]:
        """What each check needs first, and where."""

        def needs(check: int) -> dict[tuple[int, ...], Where]:
            return self._sorted_by(self._behind(check), lambda told: tuple(self.job.needed(check, told)))

        return {check: needs(check) for check in self.checks}

    def _behind(self, check: int) -> set[int]:
        """The checks that a check needs, and those that these need."""
        needs = self.job.checks[check].needs
        return set(needs).union(*(self._behind(need) for need in needs))

    @cached_property
    def _not_yet(self) -> dict[int, Where]:
        """Where each check needs another first."""
        return {
            check: sum((where for needed, where in needs.items() if needed), start=self.nowhere)
            for check, needs in self._needs.items()
        }

    def _demanded(self, batch: Batch) -> dict[Open, dict[int, Where]]:
        """For everything that may be open: check to where it comes before everything else."""
        job, mass = self.job, batch.mass
        wanted = {
            check: np.stack([self._said(failed).demanded[check] for failed in batch.failed]) for check in self.checks
        }
        by_rule = {check: where.copy() for check, where in wanted.items()}
        dangers = {cause: self._sum(batch.left * np.array(risk)) for cause, risk in job.risks}
        for cause, danger in dangers.items():
            looked_for = (danger >= job.threshold * mass) & (danger < LEADING * mass)
            looked_for &= ~np.stack([self._sign_seen(cause, failed) for failed in batch.failed])
            for check in self.checks if looked_for.any() else ():
                if not cause or job.speaks(cause, job.checks[check].finding):
                    useful = looked_for & ~self._in_vain(check, cause, dangers)
                    wanted[check] |= useful & self._clears(check, danger, mass) & self._could_ask[check]
        return {is_open: self._first(self._once(wanted, by_rule, is_open), is_open) for is_open in self.opens}

    def _in_vain(self, check: int, cause: str, dangers: Mapping[str, Table]) -> Where:
        """Where a check is not made for a danger (all together: ""), since it was looked for, or hardly hangs on it.

        A question is in vain where looks that guard the dangers that it speaks of have spoken against all of them.
        Where it speaks of none that is much of them, it is if its finding was told, or if it guards another's danger.
        """
        one = self.job.checks[check]
        stops = [stop for stop in dangers if stop and self.job.speaks(stop, one.finding)]
        if cause:
            return np.full(self.shape, False) if one.danger else self._looked_clear[cause]
        every = dangers[""]
        heavy = {
            stop: (danger > 0) & (every > 0) & (every * PART <= danger) for stop, danger in dangers.items() if stop
        }
        speaks = sum((heavy[stop] for stop in stops), start=np.full(every.shape, False))
        clear = np.full(every.shape, not one.danger)
        for stop in stops:
            clear &= ~heavy[stop] | self._looked_clear[stop]
        much = sum(heavy.values(), start=np.full(every.shape, False))
        same = self.job.same[one.finding]
        told = self._where(same, lambda told: any(told[other] != UNASKED for other in same))
        idle = (much & told) | (one.danger and not stops)
        return np.where(speaks, clear, idle)

    @cached_property
    def _looked_clear(self) -> dict[str, Where]:
        """For each danger where a look that guards one has shown no sign of it."""
        job = self.job

        def clear(cause: str) -> Where:
            looks = [k for k in self.checks if job.checks[k].danger and job.speaks(cause, job.checks[k].finding)]
            return self._where(looks, lambda told: any(told[k] >= 0 and job.against(cause, k, told[k]) for k in looks))

        return {cause: clear(cause) for cause, _ in job.risks if cause}

    def _once(self, wanted: dict[int, Where], by_rule: dict[int, Where], is_open: Open) -> dict[int, Where]:
        """Without a look beside which a deduction demands a surer one at the same finding, for hardly more work."""
        job, left = self.job, dict(wanted)
        for check, other in ((one, two) for one in wanted for two in job.same[job.checks[one].finding]):
            surer = job.trust(other) > job.trust(check) and job.checks[other].danger >= job.checks[check].danger
            if surer:
                near = self._minutes(other, is_open) - self._minutes(check, is_open) <= job.asking
                left[check] = left[check] & ~(by_rule[other] & near)
        return left

    def _sign_seen(self, cause: str, failed: Failed) -> Where:
        """Where a sign of this danger was seen (of any danger: ""): nobody looks for it again, the bike is held."""
        seen = self._said(failed).seen.items()
        speaks = self.job.speaks
        holds = (where for findings, where in seen if not cause or any(speaks(cause, one) for one in findings))
        return sum(holds, start=self.nowhere)

    def _clears(self, check: int, danger: Table, mass: Table) -> Where:
        """Where some report of a check, not too rare, takes a danger below the threshold."""
        masses, dangers = np.moveaxis(mass, check + 1, 0), np.moveaxis(danger, check + 1, 0)
        clears = np.zeros(masses.shape, bool)
        for value in range(ANSWERS + 1, len(masses)):
            often = masses[value] >= RARE * masses[0]
            clears[0] |= often & (dangers[value] < self.job.threshold * masses[value])
        return np.moveaxis(clears, 0, check + 1)

    def _worth_a_look(self, batch: Batch) -> dict[Open, list[Where]]:
        """For everything that may be open, where a look at a danger is made before anything is put right."""
        job, mass = self.job, batch.mass
        _, risk = job.risks[0]
        danger = self._sum(batch.left * np.array(risk))
        light = (danger < job.threshold * mass) & ~np.stack([self._sign_seen("", failed) for failed in batch.failed])
        guards = [check for check in self.checks if job.checks[check].danger]
        shown = {check: self._shown(check, danger, mass) for check in guards}
        where = {check: light & self._could_ask[check] & self._still_wanted(check) for check in guards}
        return {
            is_open: [where[check] & (shown[check] * FOUND >= self._minutes(check, is_open) * mass) for check in guards]
            for is_open in self.opens
        }

    def _shown(self, check: int, danger: Table, mass: Table) -> Table:
        """Where a check is not asked yet: the chance of a danger and of a report that shows it."""
        masses, dangers = np.moveaxis(mass, check + 1, 0), np.moveaxis(danger, check + 1, 0)
        shown = np.zeros(masses.shape)
        for value in range(ANSWERS + 1, len(masses)):
            shown[0] += np.where(dangers[value] >= SHOWS * masses[value], dangers[value], 0.0)
        return np.moveaxis(shown, 0, check + 1)

    def _minutes(self, check: int, is_open: Open) -> Table:
        """What a check costs with what it needs first."""
        minutes = np.zeros(self.shape)
        for needed, at in self._needs[check].items():
            minutes[at] = self.job.cost_with(check, needed, is_open)
        return minutes

    def _first(self, wanted: dict[int, Where], is_open: Open) -> dict[int, Where]:
        """Of the checks that are wanted the one that comes first: what guards a danger, then the cheapest."""
        some = next(iter(wanted.values()))
        best, chosen = np.full(some.shape, inf), np.full(some.shape, -1)
        for check, where in wanted.items():
            rank = self._minutes(check, is_open) + (0.0 if self.job.checks[check].danger else LATER)
            better = where & (rank < best)
            best = np.where(better, rank, best)
            chosen[better] = check
        first: dict[int, Where] = {}
        for check in self.checks:
            for needed, at in self._needs[check].items():
                asked = (*needed, check)[0]
                first[asked] = first.get(asked, np.zeros(some.shape, bool)) | ((chosen == check) & at)
        return {check: where for check, where in first.items() if where.any()}


def _opened(job: Job, fixes: Fixes) -> Open:
    return CLOSED.union(*(job.chain_of(fix) for fix in fixes))


def never_asking(job: Job) -> float:
    """Expected minutes of the best order of fixes and hand-off without any check."""
    return Optimum(job, asking=False).value()
