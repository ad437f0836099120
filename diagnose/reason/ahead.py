"""Further ahead: what follows a question or a fix, with another question in between, and behind that another step.

Cast: `Ahead` weighs options again (`again`), and those that lie near each other once more (`further`); `Look` is a
position with the checks that look best there; `Tried` is an option with the looks that its cost comes from.

A course without questions, which ends every look ahead, costs more than one with them. The second step puts the best
check into it; the third, behind the best of those, another check, and a check behind the fix that would come first: a
fix that fails is followed by a question sooner than by the next fix. What is looked at is chosen by counted gain.
"""

from __future__ import annotations

from bisect import insort
from collections.abc import Sequence
from dataclasses import dataclass
from operator import itemgetter
from typing import NamedTuple

from diagnose.book.model import Check
from diagnose.reason.option import Option
from diagnose.reason.outlook import Branch, Outlook, Position
from diagnose.reason.weigh import Scales

TOO_RARE = 1e-6
BEHIND = 3
"""Checks that the third step looks at behind the best of the second."""
NEAR = 0.05
"""Options within this part of the best are weighed three steps deep."""
GAP = 0.5
"""Minutes that knowing the cause would still save where a third step is worth its work."""
BUDGET = 3_000
"""States times courses that the third step may cost; beyond it two steps must do."""


class Seen(NamedTuple):
    """A check at a position: what is left once it was made, times the mass there, and its reports."""

    left: float
    id: str
    check: Check
    branches: Sequence[Branch]


class Look(NamedTuple):
    """A position: what is left there, times its mass, with one more check and if the cause were known; the checks."""

    at: Position
    left: float
    known: float
    best: list[Seen]


@dataclass(slots=True)
class Tried:
    """An option, and the looks that it leads to with the part that each counts."""

    option: Option
    looks: Sequence[tuple[float, Look]]


class Ahead:
    """Weighs the options of one outlook again, with `second` as the checks that may come in between."""

    def __init__(self, scales: Scales, second: Sequence[Check]) -> None:
        self.scales = scales
        self.outlook: Outlook = scales.outlook
        self.second = second

    def again(self, option: Option) -> Tried:
        """The option two steps deep."""
        looks = self._after_check(option) if option.kind == "check" else self._after_fix(option)
        left = sum([part * look.left for part, look in looks]) / self.outlook.here.mass
        return Tried(option._replace(expected=min(option.cost + left, option.expected)), looks)

    def _after_check(self, option: Option) -> list[tuple[float, Look]]:
        outlook, here, untold = self.outlook, self.outlook.here, self.scales.untold
        check = outlook.book.checks[option.prepares or option.id]
        open_after = outlook.check_cost(check, here)[1]
        looks = [
            (1 - untold, self._look(outlook.after_report(check, branch, here, open_after), self.second))
            for branch in outlook.branches(check, here)
        ]
        return [*looks, (untold, self._look(here.unanswered(check, open_after), self.second))]

    def _after_fix(self, option: Option) -> list[tuple[float, Look]]:
        outlook = self.outlook
        return [(1.0, self._look(outlook.after_failure(option.with_fixes, outlook.here), self.second))]

    def further(self, tried: list[Tried], others: Sequence[Option]) -> None:
        """Weigh those that lie near the best three steps deep, the best first, as long as the work allows.

        Nothing is done where nothing else is near: the choice is clear.
        """
        mass = self.outlook.here.mass
        tried.sort(key=lambda one: (one.option.expected, one.option.id))
        every = [one.option.expected for one in tried] + [one.expected for one in others]
        enough = min(every) * (1 + NEAR)
        if sum(expected <= enough for expected in every) < 2:
            return
        spent = 0
        for one in tried:
            if one.option.expected > enough:
                return
            worth = [(part, look) for part, look in one.looks if part * (look.left - look.known) > GAP * mass]
            spent += sum(self._work(look) for _, look in worth)
            if spent > BUDGET:
                return
            saved = sum(part * (look.left - self._further(look)) for part, look in worth) / mass
            one.option = one.option._replace(expected=one.option.expected - saved)

    def _work(self, look: Look) -> int:
        """Courses that a third step from here weighs, times the states that each is over."""
        return (len(look.best[0].branches) + 2) * BEHIND * len(look.at.weights) if look.best else 0

    def _look(self, at: Position, checks: Sequence[Check], wanted: int = BEHIND + 1) -> Look:
        """What is left at a position if one more of these checks may be made, and the best few of them."""
        outlook, mass = self.outlook, at.mass
        if mass <= TOO_RARE:
            return Look(at, 0.0, 0.0, [])
        value, known = outlook.value(at), outlook.clairvoyant(at)
        worth = []
        for check in checks:
            if check.id in at.asked or outlook.settled(check, at):
                continue
            if outlook.check_cost(check, at)[0] * mass < value - known:
                branches = outlook.branches(check, at)
                promise = self.scales.promise(check, at, branches)
                if promise > 0:
                    worth.append((promise * mass, check, branches))
        worth.sort(key=itemgetter(0), reverse=True)
        silent = {at.open: value}
        best: list[Seen] = []
        for promise, check, branches in worth:
            if len(best) >= wanted and value - promise >= best[wanted - 1].left:
                break
            left = self.scales.check(check, at, branches, silent).expected * mass
            insort(best, Seen(left, check.id, check, branches), key=_rank)
        return Look(at, min([value, *(seen.left for seen in best[:1])]), known, best[:wanted])

    def _further(self, look: Look) -> float:
        """What is left, times the mass, if another check may be made behind the best, or behind the first fix."""
        if not look.best:
            return look.left
        outlook, at, mass = self.outlook, look.at, look.at.mass
        others = [seen.check for seen in look.best]
        best, first = look.left, look.best[0]
        cost, open_after, _ = outlook.check_cost(first.check, at)
        if cost * mass < best - look.known:
            untold = self.scales.untold
            told = sum(
                self._look(outlook.after_report(first.check, branch, at, open_after), others, 1).left
                for branch in first.branches
            )
            silent = self._look(at.unanswered(first.check, open_after), others, 1).left
            best = min(best, cost * mass + untold * silent + (1 - untold) * told)
        fixes, cost = outlook.first_treatment(at)
        if fixes and cost * mass < best - look.known and not outlook.must_wait(fixes, at):
            best = min(best, cost * mass + self._look(outlook.after_failure(fixes, at), others, 1).left)
        return best


def _rank(seen: Seen) -> tuple[float, str]:
    return round(seen.left, 9), seen.id
