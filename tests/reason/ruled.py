"""What takes the choice away in a job, everywhere at once: what the deductions say, and the looks that danger demands.

Cast: `Ruled` gives `said` (the deductions), `demanded` (what comes before everything else), `worth_a_look` (where
nothing is put right or given away yet) and `not_yet` (where a check needs another first).
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import cached_property
from math import inf
from typing import NamedTuple

import numpy as np

from tests.reason.plain_book import listed
from tests.reason.plain_job import BESIDE, FOUND, GUESS, LEADING, PART, RARE, SHOWS, UNASKED, Fixes, Job, Open
from tests.reason.told import ANSWERS, Table, Told, Where

Failed = frozenset[str]
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


class Ruled:
    """The rules over a job's arrays; without `demands` no check is demanded."""

    def __init__(self, job: Job, told: Told, demands: bool) -> None:
        self.job = job
        self.told = told
        self.demands = demands
        self._sayings: dict[Failed, Said] = {}

    def said(self, failed: Failed) -> Said:
        """The deductions, once these fixes have failed."""
        named = (one["when"].get("fix-failed") for one in self.job.book.deductions.values())
        heard = failed & {fix for fixes in named for fix in listed(fixes)} if self.told.asking else frozenset[str]()
        if heard not in self._sayings:
            self._sayings[heard] = self._deduced(heard)
        return self._sayings[heard]

    def _deduced(self, failed: Failed) -> Said:
        job = self.job
        said = Said(self.told.nowhere.copy(), {check: self.told.nowhere.copy() for check in self.told.checks}, {}, {})
        if not self.told.asking:
            return said
        findings = {key for one in job.book.deductions.values() for key in one["when"]}
        spoken = [check for check in self.told.checks if job.checks[check].finding in findings]
        for rules, where in self.told.sorted_by(spoken, lambda told: job.given(told, failed)).items():
            said.given_away[where] |= rules.given_away
            if rules.must:
                said.must[rules.must] = said.must.get(rules.must, self.told.nowhere) | where
            if rules.seen:
                said.seen[rules.seen] = said.seen.get(rules.seen, self.told.nowhere) | where
            for check in rules.demanded if self.demands else ():
                said.demanded[check][where & self._still_wanted(check)] = True
        return said

    def _still_wanted(self, check: int) -> Where:
        """Where a demanded check was neither made nor told by another look, trusted no less."""
        same = self.job.same[self.job.checks[check].finding]
        return self.told.where(same, lambda told: self.job.still_wanted(check, told))

    @cached_property
    def _could_ask(self) -> dict[int, Where]:
        """Where each check is open and can tell something."""
        job = self.job

        def can(check: int) -> Where:
            return self.told.where(job.same[job.checks[check].finding], lambda told: check in list(job.could_ask(told)))

        return {check: can(check) for check in self.told.checks}

    @cached_property
    def _needs(self) -> dict[int, dict[tuple[int, ...], Where]]:
        """What each check needs first, and where."""

        def needs(check: int) -> dict[tuple[int, ...], Where]:
            return self.told.sorted_by(self._behind(check), lambda told: tuple(self.job.needed(check, told)))

        return {check: needs(check) for check in self.told.checks}

    def _behind(self, check: int) -> set[int]:
        """The checks that a check needs, and those that these need."""
        needs = self.job.checks[check].needs
        return set(needs).union(*(self._behind(need) for need in needs))

    @cached_property
    def not_yet(self) -> dict[int, Where]:
        """Where each check needs another first."""
        return {
            check: sum((where for needed, where in needs.items() if needed), start=self.told.nowhere)
            for check, needs in self._needs.items()
        }

    def demanded(self, batch: Batch) -> dict[Open, dict[int, Where]]:
        """For everything that may be open: check to where it comes before everything else."""
        job, mass = self.job, batch.mass
        wanted = {
            check: np.stack([self.said(failed).demanded[check] for failed in batch.failed])
            for check in self.told.checks
        }
        by_rule = {check: where.copy() for check, where in wanted.items()}
        dangers = {cause: self.told.sum(batch.left * np.array(risk)) for cause, risk in job.risks}
        for cause, danger in dangers.items():
            looked_for = (danger >= job.threshold * mass) & (danger < LEADING * mass)
            looked_for &= ~np.stack([self._sign_seen(cause, failed) for failed in batch.failed])
            for check in self.told.checks if looked_for.any() else ():
                if not cause or job.speaks(cause, job.checks[check].finding):
                    useful = looked_for & ~self._in_vain(check, cause, dangers)
                    least = np.where(self._speaks(check, cause, dangers) | job.checks[check].danger, RARE, BESIDE)
                    wanted[check] |= useful & self._clears(check, danger, mass, least) & self._could_ask[check]
        return {is_open: self._first(self._once(wanted, by_rule, is_open), is_open) for is_open in self.told.opens}

    def _in_vain(self, check: int, cause: str, dangers: Mapping[str, Table]) -> Where:
        """Where a check is not made for a danger (all together: ""), since it was looked for, or hardly hangs on it.

        A question is in vain where looks that guard the dangers that it speaks of have spoken against all of them.
        Where it speaks of none that is much of them, it is if its finding was told, or if it guards another's danger.
        """
        one = self.job.checks[check]
        stops = [stop for stop in dangers if stop and self.job.speaks(stop, one.finding)]
        if cause:
            return np.full(self.told.shape, False) if one.danger else self._looked_clear[cause]
        heavy = self._heavy(dangers)
        every, speaks = dangers[""], self._speaks(check, cause, dangers)
        clear = np.full(every.shape, not one.danger)
        for stop in stops:
            clear &= ~heavy[stop] | self._looked_clear[stop]
        much = sum(heavy.values(), start=np.full(every.shape, False))
        same = self.job.same[one.finding]
        told = self.told.where(same, lambda told: any(told[other] != UNASKED for other in same))
        idle = (much & told) | (one.danger and not stops)
        return np.where(speaks, clear, idle)

    def _heavy(self, dangers: Mapping[str, Table]) -> dict[str, Where]:
        """For each danger where it is much of all of them."""
        every = dangers[""]
        return {stop: (danger > 0) & (every > 0) & (every * PART <= danger) for stop, danger in dangers.items() if stop}

    def _speaks(self, check: int, cause: str, dangers: Mapping[str, Table]) -> Where:
        """Where a check speaks of the danger, of all together ("") of one that is much of them."""
        finding = self.job.checks[check].finding
        start = np.full(dangers[""].shape, bool(cause))
        return sum(
            (where for stop, where in self._heavy(dangers).items() if self.job.speaks(stop, finding)), start=start
        )

    @cached_property
    def _looked_clear(self) -> dict[str, Where]:
        """For each danger where a look that guards one has shown no sign of it."""
        job = self.job

        def clear(cause: str) -> Where:
            looks = [k for k in self.told.checks if job.checks[k].danger and job.speaks(cause, job.checks[k].finding)]
            return self.told.where(
                looks, lambda told: any(told[k] >= 0 and job.against(cause, k, told[k]) for k in looks)
            )

        return {cause: clear(cause) for cause, _ in job.risks if cause}

    def _once(self, wanted: dict[int, Where], by_rule: dict[int, Where], is_open: Open) -> dict[int, Where]:
        """Without a look beside which a deduction demands a surer one at the same finding, for hardly more work."""
        job, left = self.job, dict(wanted)
        for check, other in ((one, two) for one in wanted for two in job.same[job.checks[one].finding]):
            surer = job.trust(other) > job.trust(check) and job.checks[other].danger >= job.checks[check].danger
            if surer:
                near = self._minutes(other, is_open) - self._minutes(check, is_open) <= job.asking
                left[check] = left[check] & ~(by_rule[other] & (near | (job.trust(check) <= GUESS)))
        return left

    def _sign_seen(self, cause: str, failed: Failed) -> Where:
        """Where a sign of this danger was seen (of any danger: ""): nobody looks for it again, the bike is held."""
        seen = self.said(failed).seen.items()
        speaks = self.job.speaks
        holds = (where for findings, where in seen if not cause or any(speaks(cause, one) for one in findings))
        return sum(holds, start=self.told.nowhere)

    def _clears(self, check: int, danger: Table, mass: Table, least: Table) -> Where:
        """Where some report of a check, not rarer than `least`, takes a danger below the threshold."""
        masses, dangers = np.moveaxis(mass, check + 1, 0), np.moveaxis(danger, check + 1, 0)
        clears, leasts = np.zeros(masses.shape, bool), np.moveaxis(least, check + 1, 0)
        for value in range(ANSWERS + 1, len(masses)):
            often = masses[value] >= leasts[0] * masses[0]
            clears[0] |= often & (dangers[value] < self.job.threshold * masses[value])
        return np.moveaxis(clears, 0, check + 1)

    def worth_a_look(self, batch: Batch) -> dict[Open, list[Where]]:
        """For everything that may be open, where a look at a danger is made before anything is put right."""
        job, mass = self.job, batch.mass
        _, risk = job.risks[0]
        danger = self.told.sum(batch.left * np.array(risk))
        light = (danger < job.threshold * mass) & ~np.stack([self._sign_seen("", failed) for failed in batch.failed])
        guards = [check for check in self.told.checks if job.checks[check].danger]
        shown = {check: self._shown(check, danger, mass) for check in guards}
        where = {check: light & self._could_ask[check] & self._still_wanted(check) for check in guards}
        return {
            is_open: [where[check] & (shown[check] * FOUND >= self._minutes(check, is_open) * mass) for check in guards]
            for is_open in self.told.opens
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
        minutes = np.zeros(self.told.shape)
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
        for check in self.told.checks:
            for needed, at in self._needs[check].items():
                asked = (*needed, check)[0]
                first[asked] = first.get(asked, np.zeros(some.shape, bool)) | ((chosen == check) & at)
        return {check: where for check, where in first.items() if where.any()}
