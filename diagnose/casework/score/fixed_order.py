"""The best fixed order of questions for a complaint, as a flow chart would have it.

Cast: `choose_order` builds the list question by question: each time the one that most lowers the book's own expected
cost, over bikes drawn for this purpose, if it is asked after those already on the list, asking stops once a cause is
sure enough, and fixes follow by chance per cost.
"""

from __future__ import annotations

from diagnose.book.model import Check
from diagnose.casework.score.bikes import Bike
from diagnose.casework.score.draw import Maker
from diagnose.casework.score.players import SURE
from diagnose.reason.ask import Adviser
from diagnose.reason.belief import believe, build_net
from diagnose.reason.conclude import conclude
from diagnose.reason.outlook import Outlook
from diagnose.reason.position import Position
from diagnose.reason.situation import Situation

BIKES = 40
"""Bikes that an order is chosen on; not those that it is measured on."""
LONGEST = 15
"""Questions on a list."""
WORTH = 0.002
"""Part of the expected cost that a question must save to be put on the list."""


class _Trial:
    """One bike on which the list is tried: where the questions so far have led, and what they took."""

    def __init__(self, maker: Maker, bike: Bike) -> None:
        book = maker.book
        self.bike = bike
        situation = Situation(bike.complaints, bike.profile, frozenset(book.facts))
        conclusions = conclude(book, maker.chainer, situation)
        belief = believe(book, situation, conclusions, build_net(book, situation, conclusions))
        self.outlook = Outlook(book, situation, conclusions, belief)
        self.adviser = Adviser(self.outlook, 1)
        self.possible = {check.id for check in self.outlook.open_checks()}
        self.at = self.outlook.here
        self.spent = 0.0

    @property
    def left(self) -> float:
        """Expected minutes from here on without another question."""
        return self.outlook.value(self.at) / self.at.mass

    def asks(self, check: Check) -> bool:
        """Whether this check would be asked here."""
        if check.id not in self.possible or check.id in self.at.asked or self.outlook.settled(check, self.at):
            return False
        return max(self.at.weights) < SURE * self.at.mass

    def after(self, check: Check) -> float:
        """Expected minutes if this check is asked next and no other."""
        return self.adviser.scales.check(check, self.at).expected

    def ask(self, check: Check) -> None:
        """Ask it, and move to what it reports."""
        cost, is_open, _ = self.outlook.check_cost(check, self.at)
        self.spent += cost
        value = self.bike.report(check, "mechanic").value
        branch = next((one for one in self.outlook.branches(check, self.at) if one.value == value), None)
        if branch is None or sum(branch.weights) <= 0:
            self.at = self.at._replace(open=is_open, asked=self.at.asked | {check.id})
            return
        self.at = _scaled(self.outlook.after_report(check, branch, self.at, is_open))


def _scaled(at: Position) -> Position:
    return at.weighing([weight / at.mass for weight in at.weights])


def choose_order(maker: Maker, complaint: str, bikes: int = BIKES) -> tuple[str, ...]:
    """The list for a complaint; `maker` draws the bikes that it is chosen on."""
    trials = [_Trial(maker, maker.bike(complaint, number)) for number in range(bikes)]
    checks = sorted({name for trial in trials for name in trial.possible})
    order: list[str] = []
    left = [trial.left for trial in trials]
    while len(order) < LONGEST:
        best, cost = "", sum(left) * (1 - WORTH)
        for name in checks:
            check = maker.book.checks[name]
            total = sum(
                trial.after(check) if trial.asks(check) else now for trial, now in zip(trials, left, strict=True)
            )
            if name not in order and total < cost:
                best, cost = name, total
        if not best:
            break
        order.append(best)
        for trial in trials:
            if trial.asks(maker.book.checks[best]):
                trial.ask(maker.book.checks[best])
        left = [trial.left for trial in trials]
    return tuple(order)
