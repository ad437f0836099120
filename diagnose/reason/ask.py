"""What to do next: every open check, every open fix and the hand-off weighed by expected cost; danger first.

Cast: `Adviser` weighs the options of an outlook; `Option` is one of them with its expected cost until the complaint
is gone; `Next` is the best, the runner-up, and why it was taken out of turn if a danger demanded it.

For a check the expected cost is its own plus, over every report, what the best course costs after it; "can't tell" is
a branch of its own, at the rate of the role (Heckerman, Breese and Rommelse 1995; Kalagnanam and Henrion 1988). All
options are weighed one step deep; for a single complaint the best few are weighed again two steps deep, the second
step over the checks that looked best in the first. Where a complaint has very many causes, one step is looked ahead
and only the most promising options are weighed. The work is counted, never clocked. Ties break by danger, then by ease,
then by id.
"""

from __future__ import annotations

from bisect import insort
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from math import inf
from operator import mul, sub
from typing import NamedTuple

from diagnose.book.model import Check
from diagnose.reason.outlook import Branch, Outlook, Position
from diagnose.reason.reasoner import DEPTH
from diagnose.reason.repair import Treatment
from diagnose.reason.workbench import mean_minutes

AGAIN = 3
"""Checks, and as many fixes, that are weighed a second time, two steps deep."""
SECOND = 6
"""Checks that the second step looks at."""
TOO_RARE = 1e-6
LEAST_FIX = 0.002
"""Chance to cure that a fix must have to come next."""
TRIFLE = 0.015
"""A question that saves less than this part of the expected cost is not asked, where that is less than a moment."""
MOMENT = 1.0
"""Minutes: a question that saves more is asked before a fix, however long the job."""
HEAVY_MOMENT = 0.5
"""The same before a fix that takes a part, or longer than `LONG`."""
LONG = 15.0
SHORT_MOMENT = 0.6
"""Minutes: a question that saves more is asked before the bike is given away."""
CLEARING = 0.02
"""Chance that a report must have for a danger to demand its check."""
LEADING = 0.5
"""A danger at or above this share is treated, not looked for again."""
WORK = 4_000
"""States times options of a kind that are weighed: on a complaint with very many causes only the most promising are."""
LEAST_ROOM = 8
DEEP = 80
"""States up to which options are weighed two steps deep."""
RANGE = 2.0
"""How many times the price of a hand-off two courses can lie apart."""


class Option(NamedTuple):
    """Something to do next.

    `cost` is its own minutes, `expected` the minutes until the complaint is gone if it is done next.
    """

    kind: str
    id: str
    cost: float
    expected: float
    with_fixes: tuple[str, ...] = ()
    prepares: str = ""


Weighed = tuple[Option, Option | None]
"""An option with what it is expected to cost, and what came second."""


@dataclass(frozen=True)
class Next:
    """What to do next. `kind` is check, fix, hand-off or done.

    `demanded_by` is the reason when danger put it first (a cause or a deduction). What it costs and what came second
    is worked out when it is first asked for: what a danger demands comes first whatever it costs.
    """

    kind: str
    id: str
    weigh: Callable[[], Weighed] = field(repr=False, compare=False)
    with_fixes: tuple[str, ...] = ()
    prepares: str = ""
    demanded_by: str = ""
    found: tuple[str, ...] = ()

    @cached_property
    def _weighed(self) -> Weighed:
        return self.weigh()

    @property
    def cost(self) -> float:
        """Its own minutes."""
        return self._weighed[0].cost

    @property
    def expected(self) -> float:
        """Minutes until the complaint is gone if it is done next."""
        return self._weighed[0].expected

    @property
    def runner_up(self) -> Option | None:
        """What came second."""
        return self._weighed[1]

    @property
    def saves(self) -> float | None:
        """Expected minutes less than doing the runner-up first."""
        return None if self.runner_up is None else self.runner_up.expected - self.expected


def take(option: Option, second: Option | None = None, demanded_by: str = "", found: tuple[str, ...] = ()) -> Next:
    """An option that is weighed already, as what comes next."""
    return Next(
        option.kind, option.id, lambda: (option, second), option.with_fixes, option.prepares, demanded_by, found
    )


class Adviser:
    """Weighs the options of one outlook, `depth` steps deep."""

    def __init__(self, outlook: Outlook, depth: int = DEPTH) -> None:
        self.outlook = outlook
        self.book = outlook.book
        self.depth = depth if outlook.single and len(outlook.kept) <= DEEP else 1
        self._room = max(LEAST_ROOM, WORK // len(outlook.kept))
        self._chances: dict[str, float] = {}

    # --- the choice ------------------------------------------------------------------------------------------------

    def choose(self) -> Next:
        """What to do next."""
        if self.demand:
            check, why = self.demand
            needed = self.outlook.check_cost(check, self.outlook.here)[2]
            name, prepares = (needed[0], check.id) if needed else (check.id, "")
            return Next("check", name, lambda: self._weigh_demanded(check), (), prepares, why)
        options = self.options(1)
        best = options[0]
        if best.kind == "check":
            acting = next((one for one in options if one.kind != "check"), best)
            trifle = min(TRIFLE * best.expected, self._moment(acting))
            best = acting if acting.expected - best.expected <= trifle else best
        best = self._verified_first(best)

        def weigh() -> Weighed:
            weighed = options if self.depth > 1 else self.options()
            return best, next((one for one in weighed if one.id not in (best.id, best.prepares)), None)

        return Next(best.kind, best.id, weigh, best.with_fixes, best.prepares)

    def _weigh_demanded(self, check: Check) -> Weighed:
        """What a danger demands, one step deep: what comes after it is weighed when its answer is there."""
        self.depth = 1
        option = self.weigh_check(check, self.outlook.here)
        return option, next((one for one in self.options() if one.id != option.id), None)

    def _moment(self, acting: Option) -> float:
        """Minutes that a question must save to be asked before this fix or hand-off."""
        if acting.kind != "fix":
            return SHORT_MOMENT
        fixes = [self.book.fixes[fix] for fix in acting.with_fixes]
        heavy = any(fix.parts for fix in fixes) or sum(mean_minutes(fix.low, fix.high) for fix in fixes) > LONG
        return HEAVY_MOMENT if heavy else MOMENT

    def _verified_first(self, option: Option) -> Option:
        """A fix that needs a check which is still open: the check comes first where its answer may change the fix.

        One that the fix is done only after comes first in any case.
        """
        outlook = self.outlook
        kept = [self.book.fixes[fix].only_if for fix in option.with_fixes]
        guards = {name for only_if in kept for name in outlook.bench.looked_at_first(only_if)}
        for name in outlook.bench.unmet_of(option.with_fixes):
            check = self.book.checks.get(name)
            if check and outlook.can_do(check) and (name in guards or self._may_change(check, option)):
                cost = outlook.check_cost(check, outlook.here)[0]
                return Option("check", name, cost, option.expected, prepares=option.id)
        return option

    def _may_change(self, check: Check, option: Option) -> bool:
        """Whether some report of the check, not too rare, would put another fix first."""
        outlook, here = self.outlook, self.outlook.here
        for branch in outlook.branches(check, here):
            if sum(branch.weights) >= CLEARING * here.mass:
                after = outlook.after_report(check, branch, here, here.open)
                if outlook.first_fixes(after) not in ((), option.with_fixes):
                    return True
        return False

    def options(self, few: int = 2) -> list[Option]:
        """The options, best first, of fixes and of checks at least the best few. What saves nothing is left out."""
        here, deep = self.outlook.here, self.depth > 1
        fixes = sorted(self.weigh_fixes(here, AGAIN if deep else few), key=self._rank)
        hand_off = self.weigh_hand_off()
        best = min(option.expected for option in [*fixes, hand_off])
        checks = sorted(self._weigh_checks(here, best, SECOND if deep else few), key=self._rank)
        if deep:
            second = [self.book.checks[option.prepares or option.id] for option in checks[:SECOND]]
            checks[:AGAIN] = [self._check_again(option, second) for option in checks[:AGAIN]]
            fixes[:AGAIN] = [self._fix_again(option, second) for option in fixes[:AGAIN]]
        return sorted([*fixes, hand_off, *checks], key=self._rank)

    def _rank(self, option: Option) -> tuple[float, int, float, str]:
        check = self.book.checks.get(option.id)
        return round(option.expected, 9), 0 if check and check.danger else 1, option.cost, option.id

    def _weigh_checks(self, at: Position, best: float, wanted: int) -> Iterator[Option]:
        """Each check that may save more than it costs, without those that no longer can be among the best."""
        silent: dict[frozenset[str], float] = {}
        most = best - self.outlook.clairvoyant(at) / at.mass
        worth: list[tuple[float, Check, list[Branch]]] = []
        for check in self.outlook.open_checks():
            if self.outlook.check_cost(check, at)[0] < most:
                branches = self.outlook.branches(check, at)
                promise = self._promise(check, at, branches)
                if promise > 0:
                    worth.append((-promise, check, branches))
        worth = sorted(worth, key=lambda one: (one[0], one[1].id))[: self._room]
        found: list[float] = []
        for promise, check, branches in worth:
            if len(found) >= wanted and best + promise >= found[wanted - 1]:
                return
            option = self.weigh_check(check, at, branches, silent)
            insort(found, option.expected)
            yield option

    def _promise(self, check: Check, at: Position, branches: Sequence[Branch]) -> float:
        """Minutes that a check may save beyond its own: at most what it moves of belief times the range of costs."""
        mass = at.mass
        moved = 0.0
        for branch in branches[1:] if len(branches) == 2 else branches:  # of two, one takes what the other leaves
            part = sum(branch.weights) / mass
            moved += sum(map(abs, map(sub, branch.weights, map(part.__mul__, at.weights))))
        moved *= 2 if len(branches) == 2 else 1
        cost = check.minutes + self.book.constants.asking
        return moved / 2 * RANGE * self.outlook.hand_off(at) / (mass * mass) - cost

    # --- one option ------------------------------------------------------------------------------------------------

    def weigh_check(
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
            silent[open_after] = outlook.value(_with_open(at, open_after))
        untold = self.book.constants.cannot_tell[outlook.situation.role]
        after = sum([outlook.value(Position(branch.weights, at.used, open_after, at.messages)) for branch in branches])
        expected = cost + (untold * silent[open_after] + (1 - untold) * after) / at.mass
        if needed:
            return Option("check", needed[0], cost, expected, prepares=check.id)
        return Option("check", check.id, cost, expected)

    def weigh_fixes(self, at: Position, wanted: int) -> Iterator[Option]:
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

    def weigh_hand_off(self) -> Option:
        """Giving the bike away now."""
        here = self.outlook.here
        price = self.outlook.hand_off(here) / here.mass
        return Option("hand-off", "hand-off", price, price)

    # --- the second step -------------------------------------------------------------------------------------------

    def _check_again(self, option: Option, second: Sequence[Check]) -> Option:
        """The option two steps deep: after each report the best of another check and the course of fixes."""
        outlook, here = self.outlook, self.outlook.here
        check = self.book.checks[option.prepares or option.id]
        cost, open_after, _ = outlook.check_cost(check, here)
        untold = self.book.constants.cannot_tell[outlook.situation.role]
        after = sum(
            self._best_of(outlook.after_report(check, branch, here, open_after), second)
            for branch in outlook.branches(check, here)
        )
        silent = Position(here.weights, here.used, open_after, here.messages, here.asked | {check.id})
        expected = cost + (untold * self._best_of(silent, second) + (1 - untold) * after) / here.mass
        return option._replace(expected=min(expected, option.expected))

    def _fix_again(self, option: Option, second: Sequence[Check]) -> Option:
        """The option two steps deep: after it has failed the best of a check and the course of fixes."""
        here = self.outlook.here
        after = self._best_of(self.outlook.after_failure(option.with_fixes, here), second)
        return option._replace(expected=min(option.cost + after / here.mass, option.expected))

    def _best_of(self, at: Position, second: Sequence[Check]) -> float:
        """What is left at a position, times its mass, if one more of these checks may be made."""
        mass = at.mass
        if mass <= TOO_RARE:
            return 0.0
        best = self.outlook.value(at)
        silent = {at.open: best}
        known = self.outlook.clairvoyant(at)
        for check in second:
            if check.id in at.asked or self.outlook.settled(check, at):
                continue
            if self.outlook.check_cost(check, at)[0] * mass >= best - known:
                continue
            branches = self.outlook.branches(check, at)
            if self._promise(check, at, branches) > 0:
                best = min(best, self.weigh_check(check, at, branches, silent).expected * mass)
        return best

    # --- danger first ----------------------------------------------------------------------------------------------

    @cached_property
    def demand(self) -> tuple[Check, str] | None:
        """The check that a danger demands before everything else, and the deduction or cause that does.

        Checks that the book marks as guarding a danger come first, then other questions that could clear one; the
        cheapest of either first.
        """
        cost = self.outlook.check_cost
        wanted = [
            (not check.danger, cost(check, self.outlook.here)[0], check.id, check, why)
            for check, why in self._demands()
        ]
        if not wanted:
            return None
        *_, check, why = min(wanted, key=lambda one: one[:3])
        return check, why

    def _demands(self) -> Iterator[tuple[Check, str]]:
        """Checks that a deduction demands; then those that could clear a heavy danger, or all dangers together."""
        outlook = self.outlook
        for conclusion, name in outlook.conclusions.demands():
            check = self.book.checks[name]
            if outlook.can_do(check) and not outlook.met(check):
                yield check, conclusion.deduction.id
        threshold = self.book.constants.stop_threshold
        risks = self._risks(threshold)
        if not risks:
            return
        for check in outlook.open_checks():
            branches = outlook.branches(check, outlook.here)
            for cause, risk in risks.items():
                speaks = not cause or cause in outlook.belief.net.rows.get(check.finding, ())
                if speaks and self._could_clear(branches, risk, threshold):
                    yield check, cause or self._heaviest(check)
                    break

    def _risks(self, threshold: float) -> dict[str, list[float]]:
        """The dangers between negligible and leading: the chance of each in every kept state; "" is all of them.

        One whose sign was seen is not looked for again, nor is anything for all of them together: the bike is held.
        """
        outlook = self.outlook
        net, here = outlook.belief.net, outlook.here
        seen = outlook.conclusions.seen_dangers() & net.rows.keys()
        known = {cause for finding in seen for cause in net.rows[finding]}
        stop = sorted({cause for causes in net.causes for cause in causes if cause and self._stops(cause)} - known)
        risks = {} if seen else {"": outlook.stop_risks()}
        for cause in stop:
            risks[cause] = [
                float(any(net.causes[p][i] == cause for p, i in enumerate(net.states[index]))) for index in outlook.kept
            ]
        shares = {cause: _dot(here.weights, risk) / here.mass for cause, risk in risks.items()}
        return {cause: risk for cause, risk in risks.items() if threshold <= shares[cause] < LEADING}

    def _stops(self, cause: str) -> bool:
        return cause in self.book.stops

    def _heaviest(self, check: Check) -> str:
        """The likeliest stop-riding cause, before others one that the check's finding speaks to."""
        belief = self.outlook.belief
        stop = {cause for causes in belief.net.causes for cause in causes if cause and self._stops(cause)}
        speaks = belief.net.rows.get(check.finding, {})
        return max(stop, key=lambda one: (one in speaks, self._chance_of(one), one), default="")

    def _chance_of(self, cause: str) -> float:
        if cause not in self._chances:
            self._chances[cause] = self.outlook.belief.any_of({cause})
        return self._chances[cause]

    def _could_clear(self, branches: Sequence[Branch], risk: Sequence[float], threshold: float) -> bool:
        """Whether some report, not too rare, would take a danger below the threshold."""
        mass = self.outlook.here.mass
        for branch in branches:
            part = sum(branch.weights)
            if part >= CLEARING * mass and _dot(branch.weights, risk) < threshold * part:
                return True
        return False


def _dot(weights: Sequence[float], risk: Sequence[float]) -> float:
    chance: float = sum(map(mul, weights, risk))
    return chance


def _with_open(at: Position, open_after: frozenset[str]) -> Position:
    if at.open == open_after:
        return at
    return Position(at.weights, at.used, open_after, at.messages, at.asked)
