"""What each option is expected to cost one step deep: it is done, then the best course of fixes without a question.

Cast: `Scales` weighs the checks, the fixes and the hand-off of one outlook, from any position.

For a check the expected cost is its own plus, over every report, what the best course costs after it; "can't tell" is
a branch of its own, at the rate of the role (Heckerman, Breese and Rommelse 1995; Kalagnanam and Henrion 1988). Where a
complaint has very many causes only the most promising options are weighed. The work is counted, never clocked.
"""

from __future__ import annotations

from bisect import insort
from collections.abc import Iterator, Sequence
from math import inf
from operator import sub

from diagnose.book.model import Check
from diagnose.reason.option import Option
from diagnose.reason.outlook import Outlook
from diagnose.reason.position import Branch, Position
from diagnose.reason.treatment import Treatment

LEAST_FIX = 0.002
"""Chance to cure that a fix must have to come next."""
WORK = 4_000
"""States times options of a kind that are weighed: on a complaint with very many causes only the most promising are."""
LEAST_ROOM = 8
RANGE = 2.0
"""How many times the price of a hand-off two courses can lie apart."""


class Scales:
    """Weighs the options of one outlook, one step deep."""

    def __init__(self, outlook: Outlook) -> None:
        self.outlook = outlook
        self.book = outlook.book
        self.untold = self.book.constants.cannot_tell[outlook.situation.role]
        self._room = max(LEAST_ROOM, WORK // len(outlook.kept))

    def checks(self, at: Position, best: float, wanted: int) -> Iterator[Option]:
        """Each check that may save more than it costs, without those that no longer can be among the best."""
        silent: dict[frozenset[str], float] = {}
        found: list[float] = []
        for promise, check, branches in self._promising(at, best)[: self._room]:
            if len(found) >= wanted and best - promise >= found[wanted - 1]:
                return
            option = self.check(check, at, branches, silent)
            insort(found, option.expected)
            yield option

    def _promising(self, at: Position, best: float) -> list[tuple[float, Check, list[Branch]]]:
        """The checks that may save more than they cost, the most promising first.

        What one may save beyond its own minutes is at most what it moves of belief times the range of costs.
        """
        outlook, mass, asking = self.outlook, at.mass, self.book.constants.asking
        most = best - outlook.clairvoyant(at) / mass
        stake = RANGE * outlook.hand_off(at) / (2 * mass * mass)
        worth: list[tuple[float, Check, list[Branch]]] = []
        for check in outlook.open_checks():
            if outlook.check_cost(check, at)[0] < most:
                branches = outlook.branches(check, at)
                promise = stake * _moved(at.weights, mass, branches) - check.minutes - asking
                if promise > 0:
                    worth.append((promise, check, branches))
        worth.sort(key=lambda one: (-one[0], one[1].id))
        return worth

    def check(
        self,
        check: Check,
        at: Position,
        branches: Sequence[Branch] | None = None,
        silent: dict[frozenset[str], float] | None = None,
    ) -> Option:
        """The expected cost if this check is done next, and then the best course of fixes.

        Args:
            check: the check.
            at: where the job stands.
            branches: its reports there, where the caller has them.
            silent: the value of `at` with these teardowns open, kept between calls for one position.
        """
        outlook = self.outlook
        branches = outlook.branches(check, at) if branches is None else branches
        silent = {} if silent is None else silent
        cost, open_after, needed = outlook.check_cost(check, at)
        if open_after not in silent:
            silent[open_after] = outlook.value(at.opened(open_after))
        after = sum([outlook.value_after_report(branch, at, open_after) for branch in branches])
        expected = cost + (self.untold * silent[open_after] + (1 - self.untold) * after) / at.mass
        if needed:
            return Option("check", needed[0], cost, expected, prepares=check.id)
        return Option("check", check.id, cost, expected)

    def fixes(self, at: Position, wanted: int) -> Iterator[Option]:
        """Each fix that may come next, with the best course after it has failed.

        Left out is one that, even with the cause known once it has failed, is worse than as many others as are wanted.
        """
        outlook = self.outlook
        mass = at.mass
        open_fixes: dict[tuple[str, ...], tuple[float, Treatment, float]] = {}
        for complaint, course in outlook.courses.items():
            used = at.used[complaint]
            shares = [s / (1 - gone) for s, gone in zip(outlook.marginal(complaint, at.weights), used, strict=True)]
            costs = course.costs(at.open)
            for index, treatment in enumerate(course.treatments):
                gain = course.gain(index, shares, used)
                if gain > LEAST_FIX * mass and treatment.fixes not in open_fixes:
                    open_fixes[treatment.fixes] = (-gain / costs[index], treatment, costs[index])
        ranked = sorted(open_fixes.values(), key=lambda one: (one[0], one[1].fixes))[: self._room]
        least_after = outlook.least_after_failure(at)
        best: dict[str, float] = {}
        enough = inf
        for _, treatment, cost in ranked:
            if cost + least_after(treatment.fixes) / mass >= enough:
                continue
            if not outlook.must_wait(treatment.fixes, at):
                expected = cost + outlook.value_after_failure(treatment.fixes, at) / mass
                best[treatment.first] = min(expected, best.get(treatment.first, inf))
                enough = sorted(best.values())[wanted - 1] if len(best) >= wanted else inf
                yield Option("fix", treatment.first, cost, expected, treatment.fixes)

    def hand_off(self) -> Option:
        """Giving the bike away now."""
        here = self.outlook.here
        price = self.outlook.hand_off(here) / here.mass
        return Option("hand-off", "hand-off", price, price)


def _moved(weights: Sequence[float], mass: float, branches: Sequence[Branch]) -> float:
    """How much of the mass a check's reports move, each state counted as it gains and as it loses."""
    moved = 0.0
    for branch in branches[1:] if len(branches) == 2 else branches:  # of two, one takes what the other leaves
        part = sum(branch.weights) / mass
        moved += sum(map(abs, map(sub, branch.weights, map(part.__mul__, weights))))
    return 2 * moved if len(branches) == 2 else moved
