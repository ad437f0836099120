"""Something to do next, and the choice among such things.

Cast: `Option` with its own minutes and the minutes expected until the complaint is gone if it is done next; `Next` is
the one chosen, with the runner-up, and why it was taken out of turn if a danger demanded it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from functools import cached_property
from typing import NamedTuple


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
