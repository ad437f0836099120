"""All that the checks of a job may tell, as arrays with an axis for each check: not asked, can't tell, or a value.

Cast: `Told` gives the shape of such an array, where something holds in it, and the chance of every cause everywhere.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from functools import cached_property
from itertools import product
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tests.reason.plain_job import CANNOT_TELL, CLOSED, UNASKED, Job, Open, Slots

Table = NDArray[np.float64]
Where = NDArray[np.bool_]
ANSWERS = 1
"""Where on an axis the answers begin: can't tell, then the values. Before it stands what was not asked."""


class Told:
    """The arrays of a job; without asking they have one place."""

    def __init__(self, job: Job, asking: bool) -> None:
        self.job = job
        self.asking = asking
        self.checks = list(range(len(job.checks))) if asking else []
        self.shape = tuple(2 + len(job.values[check]) for check in self.checks) or (1,)
        self.nowhere = np.zeros(self.shape, bool)

    @cached_property
    def opens(self) -> list[Open]:
        """Everything that may be open after some checks."""
        found = [CLOSED]
        for is_open in found:
            for check in self.checks:
                after = self.job.ask(check, is_open)[1]
                if after not in found:
                    found.append(after)
        return found

    def each(self, checks: Iterable[int]) -> Iterator[tuple[Slots, tuple[int | slice, ...]]]:
        """Everything that these checks may tell while the others tell nothing, and where in a table that stands."""
        wanted = sorted(set(checks) & set(self.checks))
        names = {0: UNASKED, ANSWERS: CANNOT_TELL}
        for places in product(*(range(self.shape[check]) for check in wanted)):
            said: dict[int, int] = dict(zip(wanted, places, strict=True))
            told = tuple(names.get(said.get(k, 0), said.get(k, 0) - 2) for k in range(len(self.job.checks)))
            yield told, tuple(said.get(k, slice(None)) for k in range(len(self.shape)))

    def sorted_by(self, checks: Iterable[int], key: Callable[[Slots], Any]) -> dict[Any, Where]:
        """What something comes to that hangs on these checks alone: each result with the positions that have it."""
        found: dict[Any, Where] = {}
        for told, place in self.each(checks):
            found.setdefault(key(told), self.nowhere.copy())[place] = True
        return found

    def where(self, checks: Iterable[int], holds: Callable[[Slots], bool]) -> Where:
        """Where something holds that hangs on these checks alone."""
        return self.sorted_by(checks, holds).get(True, self.nowhere)

    @cached_property
    def shares(self) -> Table:
        """For each position, along the last axis the chance of each cause and of what was told, before any fix."""
        shares = np.empty((*self.shape, len(self.job.causes)))
        shares[...] = self.job.prior
        for finding, same in self.job.same.items():
            for told, place in self.each(same):
                shares[place] *= self.job.factors(finding, [(one, told[one]) for one in same if told[one] >= 0])
        return shares

    def sum(self, factors: Table) -> Table:
        """For each row of factors and each position the chance of each cause times its factor, summed."""
        return np.moveaxis(self.shares @ factors.T, -1, 0)
