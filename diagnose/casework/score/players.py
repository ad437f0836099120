"""Who works on the bikes: the policy itself, and what it is measured against.

Cast: a `Player` takes a situation and gives a `Step`; `Policy` is the program's own, the `Rival`s are the others:
`NoQuestions`, `Likeliest`, `AskAll`, `GainPerMinute`, `FixedOrder`; the `Clairvoyant` is the floor under all.
`make_rival` makes one by its name.

Rivals share belief, deductions and the courses of fixes with the policy, and obey the same demands (checks that
danger demands unless `free`, hand-offs that are called for, fixes that must be done anyway): what differs is the
choice of the next step alone.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import log2
from typing import Protocol

from diagnose.book.model import Check
from diagnose.reason.ask import Adviser
from diagnose.reason.belief import Belief
from diagnose.reason.demand import worth_a_look
from diagnose.reason.diagnosis import Diagnosis
from diagnose.reason.outlook import Outlook
from diagnose.reason.reasoner import Reasoner
from diagnose.reason.ride import Ride
from diagnose.reason.situation import Situation

SURE = 0.8
"""Share of the cause on top at which the rivals that ask stop asking."""
LEAST_GAIN = 0.01
"""Bits below which a check is not worth asking by its information."""
ALIKE = 1e-9


@dataclass(frozen=True, slots=True)
class Step:
    """What a player does next, and what it thinks: `kind` is check, fix, hand-off or done."""

    kind: str
    id: str
    fixes: tuple[str, ...]
    belief: Belief
    ride: Ride
    diagnosis: Diagnosis | None = None


class Player(Protocol):
    """Works on a bike."""

    name: str

    def step(self, situation: Situation) -> Step:
        """What to do next."""


class Policy:
    """The program's own choice, through the same door as at the stand."""

    name = "policy"

    def __init__(self, reasoner: Reasoner) -> None:
        self.reasoner = reasoner

    def step(self, situation: Situation) -> Step:
        """What to do next."""
        found = self.reasoner.diagnose(situation)
        return Step(found.next.kind, found.next.id, found.next.with_fixes, found.belief, found.ride, found)


class Rival:
    """What is demanded is done, as by everybody; then as the rival chooses. A `free` one is spared danger's checks."""

    name = ""

    def __init__(self, reasoner: Reasoner, free: bool = False) -> None:
        self.reasoner = Reasoner(reasoner.book, reasoner.chainer, depth=1)
        self.free = free

    def step(self, situation: Situation) -> Step:
        """What to do next."""
        found = self.reasoner.diagnose(situation)
        kind, name, fixes = self._move(found)
        return Step(kind, name, fixes, found.belief, found.ride)

    def _move(self, found: Diagnosis) -> tuple[str, str, tuple[str, ...]]:
        outlook, forced = found.outlook, bool(found.next.demanded_by)
        if found.next.kind == "check" and outlook:
            forced = not self.free and Adviser(outlook, 1).demand is not None
        if forced or outlook is None:
            return found.next.kind, found.next.id, found.next.with_fixes
        check = self.ask(outlook)
        if check:
            return "check", (outlook.check_cost(check, outlook.here)[2] or [check.id])[0], ()
        if not self.free and (look := worth_a_look(outlook)):
            return "check", (outlook.check_cost(look[0], outlook.here)[2] or [look[0].id])[0], ()
        fixes = self.mend(outlook)
        return ("fix", fixes[-1], fixes) if fixes else ("hand-off", "hand-off", ())

    def ask(self, outlook: Outlook) -> Check | None:
        """The check to do next, None: none."""
        return None

    def mend(self, outlook: Outlook) -> tuple[str, ...]:
        """The fixes to do next by chance per cost, none where a hand-off is cheaper."""
        here = outlook.here
        if outlook.value(here) >= outlook.hand_off(here) - ALIKE:
            return ()
        return outlook.first_fixes(here)


class NoQuestions(Rival):
    """Tries fixes by chance per cost and asks nothing."""

    name = "no-questions"


class Likeliest(Rival):
    """Asks nothing and works up the ladder of whatever is likeliest now, to where nothing of it can be done."""

    name = "likeliest"

    def mend(self, outlook: Outlook) -> tuple[str, ...]:
        """The next rung of the likeliest cause that has one left."""
        for complaint, course in outlook.courses.items():
            causes = outlook.belief.net.causes[outlook.belief.net.complaints.index(complaint)]
            shares = outlook.belief.marginal(complaint)
            for place in sorted(range(len(causes)), key=lambda one: -shares[one]):
                name = causes[place]
                if name is None:
                    break
                for rung in outlook.book.causes[name].ladder:
                    if rung.cured > outlook.used[complaint][place] and rung.fix in course.singles:
                        return course.treatments[course.singles[rung.fix]].fixes
        return ()


class AskAll(Rival):
    """Does every check once, one teardown after the other, and then fixes by chance per cost."""

    name = "ask-all"

    def ask(self, outlook: Outlook) -> Check | None:
        """The next check that was never done."""
        if outlook.situation.repairs:
            return None
        return min(outlook.open_checks(), key=lambda check: (check.teardown or "", check.id), default=None)


class GainPerMinute(Rival):
    """Asks what tells most bits a minute until a cause is sure enough, then fixes by chance per cost."""

    name = "gain-per-minute"

    def ask(self, outlook: Outlook) -> Check | None:
        """The check that tells most a minute."""
        if max(outlook.here.weights) >= SURE:
            return None
        best: tuple[float, Check | None] = (0.0, None)
        for check in outlook.open_checks():
            gain = gain_of(outlook, check)
            rate = gain / max(outlook.check_cost(check, outlook.here)[0], ALIKE)
            if gain >= LEAST_GAIN and rate > best[0]:
                best = (rate, check)
        return best[1]


def gain_of(outlook: Outlook, check: Check) -> float:
    """Bits that a check is expected to tell about the cause, by this role."""
    told = 1 - outlook.book.constants.cannot_tell[outlook.situation.role]
    after = sum(sum(branch.weights) * entropy(branch.weights) for branch in outlook.branches(check, outlook.here))
    return told * (entropy(outlook.here.weights) - after)


def entropy(weights: Sequence[float]) -> float:
    """Bits of a distribution given by weights of any mass."""
    mass = sum(weights)
    return -sum(weight / mass * log2(weight / mass) for weight in weights if weight > 0)


class FixedOrder(Rival):
    """Asks down a list made for the complaint until a cause is sure enough, then fixes by chance per cost."""

    name = "fixed-order"

    def __init__(self, reasoner: Reasoner, orders: Mapping[str, tuple[str, ...]], free: bool = False) -> None:
        super().__init__(reasoner, free)
        self.orders = orders

    def ask(self, outlook: Outlook) -> Check | None:
        """The next check of the list that can be done."""
        if outlook.situation.repairs or max(outlook.here.weights) >= SURE:
            return None
        possible = {check.id: check for check in outlook.open_checks()}
        return next((possible[name] for name in self.orders[outlook.situation.complaints[0]] if name in possible), None)


class Clairvoyant(Rival):
    """Knows the cause and asks nothing: what is spent even so is the floor for everybody. No fair rival."""

    name = "clairvoyant"

    def __init__(self, reasoner: Reasoner, cause: str | None) -> None:
        super().__init__(reasoner, free=True)
        self.cause = cause

    def mend(self, outlook: Outlook) -> tuple[str, ...]:
        """The fixes to do next for the true cause, none where a hand-off is cheaper."""
        sure = [float(name == self.cause) for name in outlook.belief.net.causes[0]]
        at = outlook.here.weighing(sure)
        if outlook.value(at) >= outlook.hand_off(at) - ALIKE:
            return ()
        return outlook.first_fixes(at)


RIVALS: tuple[type[Rival], ...] = (NoQuestions, Likeliest, AskAll, GainPerMinute, FixedOrder)


def make_rival(name: str, reasoner: Reasoner, orders: Mapping[str, tuple[str, ...]], free: bool = False) -> Rival:
    """The rival of this name; `orders` are the lists of the fixed order."""
    if name == FixedOrder.name:
        return FixedOrder(reasoner, orders, free)
    return next(kind for kind in RIVALS if kind.name == name)(reasoner, free)
