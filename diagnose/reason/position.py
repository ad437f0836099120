"""A point in the look-ahead.

Cast: `Position` (how likely each state is, what failed, what is open, what was asked); `Branch` is one way on from it.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

from diagnose.book.model import Check
from diagnose.reason.table import Chances

Used = Mapping[str, tuple[float, ...]]
"""For each complaint and each of its causes the cured fraction that has failed."""


class Position(NamedTuple):
    """A point in the look-ahead. `weights` are over the kept states, of any total mass.

    `told` has a bit for each report and each failed fix on the way here, in whichever order; None if that is not known.
    """

    weights: list[float]
    used: Used
    open: frozenset[str]
    messages: Mapping[str, Chances]
    asked: frozenset[str] = frozenset()
    told: int | None = None

    @property
    def mass(self) -> float:
        """The chance of being here."""
        return sum(self.weights)

    def opened(self, is_open: frozenset[str]) -> Position:
        """The same with these teardowns open."""
        return self if self.open == is_open else self._replace(open=is_open)

    def weighing(self, weights: list[float]) -> Position:
        """The same with other weights: what was told no longer says where this is."""
        return self._replace(weights=weights, told=None)

    def unanswered(self, check: Check, is_open: frozenset[str]) -> Position:
        """The position once a check was asked and nobody could tell."""
        return Position(self.weights, self.used, is_open, self.messages, self.asked | {check.id}, self.told)


class Branch(NamedTuple):
    """One report of a check: its value, the states' weights if it comes (summing to its chance), and its bit."""

    value: str
    weights: list[float]
    told: int
