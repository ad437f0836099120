"""Further ahead: what follows a question or a fix, with another question in between, and behind that another step.

Cast: `Ahead` weighs options again (`again`), and those that lie near each other once more (`further`); `Look` is a
position with the checks that look best there; `Tried` is an option with the looks that its cost comes from.

A course without questions, which ends every look ahead, costs more than one with them. The second step puts the best
check into it; the third a check behind the fix that would come first, for a fix that fails is followed by a question
sooner than by the next fix, and another check behind the best. The work is counted, never clocked.
"""

from __future__ import annotations

from bisect import insort
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from diagnose.book.model import Check
from diagnose.reason.option import Option
from diagnose.reason.outlook import Outlook
from diagnose.reason.position import Branch, Position
from diagnose.reason.weigh import Scales

TOO_RARE = 1e-6
BEHIND = 3
"""Checks that the third step looks at behind the best of the second."""
NEAR = 0.05
"""Options within this part of the best are weighed three steps deep."""
GAP = 0.5
"""Minutes that knowing the cause would still save where a third step is worth its work."""
BUDGET = 3_000
"""States times courses that may be spent on checks in the third step; beyond it two steps must do."""
TIE = 0.006
"""Checks within this part of the best are as good as equal."""
HOPE = 0.07
"""Of such two, part of what one leaves more to be known that questions still further ahead will save."""


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
    """An option, the looks that it leads to with the part that each counts, and what each leaves further ahead."""

    option: Option
    looks: Sequence[tuple[float, Look]]
    left: Sequence[float] = ()

    def settle(self, mass: float) -> float:
        """Take what was seen further ahead into the option's expected minutes; what would still be left to know."""
        saved = rest = 0.0
        for left, (part, look) in zip(self.left, self.looks, strict=True):
            saved += part * (look.left - left)
            rest += part * (left - look.known)
        self.option = self.option._replace(expected=self.option.expected - saved / mass)
        return rest / mass


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
            (1 - untold, self._look(outlook.after_report(check, branch, here, open_after)))
            for branch in outlook.branches(check, here)
        ]
        return [*looks, (untold, self._look(here.unanswered(check, open_after)))]

    def _after_fix(self, option: Option) -> list[tuple[float, Look]]:
        outlook = self.outlook
        return [(1.0, self._look(outlook.after_failure(option.with_fixes, outlook.here)))]

    def further(self, tried: Sequence[Tried], others: Sequence[Option]) -> None:
        """Weigh those that lie near the best a step further: behind a fix, then, as the work allows, behind a check.

        Nothing is done where nothing else is near: the choice is clear.
        """
        every = [*(one.option for one in tried), *others]
        enough = min(option.expected for option in every) * (1 + NEAR)
        if sum(option.expected <= enough for option in every) < 2:
            return
        near = sorted((one for one in tried if one.option.expected <= enough), key=lambda one: one.option.expected)
        for one in near:
            one.left = [
                min(look.left, self._behind_fix(look)) if self._worth(part, look) else look.left
                for part, look in one.looks
            ]
        spent = 0
        for one in near:
            spent += sum(self._work(look) for part, look in one.looks if self._worth(part, look))
            if spent > BUDGET:
                break
            one.left = [
                min(left, self._behind_check(look)) if self._worth(part, look) else left
                for left, (part, look) in zip(one.left, one.looks, strict=True)
            ]
        rests = [(one, one.settle(self.outlook.here.mass)) for one in near]
        self._weigh_hope([(one, rest) for one, rest in rests if one.option.kind == "check"])

    def _weigh_hope(self, checks: Sequence[tuple[Tried, float]]) -> None:
        """Of checks that are as good as equal, the one that leaves more for later questions to save is the better."""
        if not checks:
            return
        best, best_rest = min(checks, key=lambda one: one[0].option.expected)
        enough = best.option.expected * (1 + TIE)
        for one, rest in checks:
            if one.option.expected <= enough:
                hope = HOPE * (rest - best_rest)
                one.option = one.option._replace(expected=one.option.expected - hope)

    def _worth(self, part: float, look: Look) -> bool:
        """Whether enough is left to be known there."""
        return bool(look.best) and part * (look.left - look.known) > GAP * self.outlook.here.mass

    def _work(self, look: Look) -> int:
        """Courses that another check from here weighs, times the states that each is over."""
        return (len(look.best[0].branches) + 2) * BEHIND * len(look.at.weights)

    def _look(self, at: Position) -> Look:
        """What is left at a position if one more of the second step's checks may be made, and the best few of them."""
        outlook, mass = self.outlook, at.mass
        if mass <= TOO_RARE:
            return Look(at, 0.0, 0.0, [])
        value, known = outlook.value(at), outlook.clairvoyant(at)
        silent = {at.open: value}
        best: list[Seen] = []
        for check in self._open(at, self.second):
            if outlook.check_cost(check, at)[0] * mass < value - known:
                branches = outlook.branches(check, at)
                left = self.scales.check(check, at, branches, silent).expected * mass
                insort(best, Seen(left, check.id, check, branches), key=_rank)
        return Look(at, min([value, *(seen.left for seen in best[:1])]), known, best[: BEHIND + 1])

    def _open(self, at: Position, checks: Iterable[Check]) -> Iterator[Check]:
        """Those of these checks that were not asked and can still tell something there."""
        return (one for one in checks if one.id not in at.asked and not self.outlook.settled(one, at))

    def _least(self, at: Position, look: Look) -> float:
        """What is left, times the mass, at a position behind a look if one more of its best checks may be made."""
        outlook, mass = self.outlook, at.mass
        if mass <= TOO_RARE:
            return 0.0
        least = value = outlook.value(at)
        known = outlook.clairvoyant(at)
        silent = {at.open: value}
        for check in self._open(at, [seen.check for seen in look.best]):
            if outlook.check_cost(check, at)[0] * mass < least - known:
                least = min(least, self.scales.check(check, at, silent=silent).expected * mass)
        return least

    def _behind_fix(self, look: Look) -> float:
        """What is left, times the mass, if the first fix is done and a check made once it has failed."""
        outlook, at = self.outlook, look.at
        fixes, cost = outlook.first_treatment(at)
        if not fixes or cost * at.mass >= look.left - look.known or outlook.must_wait(fixes, at):
            return look.left
        return cost * at.mass + self._least(outlook.after_failure(fixes, at), look)

    def _behind_check(self, look: Look) -> float:
        """What is left, times the mass, if the best check is made and another behind it."""
        outlook, at, first = self.outlook, look.at, look.best[0]
        cost, open_after, _ = outlook.check_cost(first.check, at)
        if cost * at.mass >= look.left - look.known:
            return look.left
        told = sum(
            [self._least(outlook.after_report(first.check, branch, at, open_after), look) for branch in first.branches]
        )
        silent = self._least(at.unanswered(first.check, open_after), look)
        return cost * at.mass + self.scales.untold * silent + (1 - self.scales.untold) * told


def _rank(seen: Seen) -> tuple[float, str]:
    return round(seen.left, 9), seen.id
