"""Conditions over the profile, and limits and bands under a profile.

Cast: `Profile` (fact to values, unknown facts absent), `holds` and `may_hold`, `numbers` of a limit, `parts_for` a fix,
`profiles_over` which lists every combination that can matter, `interval` of a band, and `band_of` a reading.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from itertools import product
from math import inf
from typing import NamedTuple

from diagnose.book.model import Band, Book, Check, Condition, Edge, Fix, Limit

INLINE_LIMIT = re.compile(r"\{([^{}]*)\}")
"""A limit's id in a sentence, where its number belongs."""
Profile = Mapping[str, tuple[str, ...]]
"""Fact to the values that hold. A fact that is not known, or was answered with can't tell, is absent."""


def holds(condition: Condition, profile: Profile) -> bool:
    """Whether every fact of the condition is known to have one of its values."""
    return all(any(value in values for value in profile.get(fact, ())) for fact, values in condition.items())


def may_hold(condition: Condition, profile: Profile) -> bool:
    """Whether the condition can still hold: unknown facts rule nothing out."""
    return all(
        fact not in profile or any(value in values for value in profile[fact]) for fact, values in condition.items()
    )


class Numbers(NamedTuple):
    """A limit's numbers under one profile."""

    low: float | None
    high: float | None
    basis: str
    source: str


def numbers(limit: Limit, profile: Profile) -> Numbers:
    """The first case that holds, else the limit's own numbers."""
    for case in limit.cases:
        if holds(case.when, profile):
            return Numbers(case.low, case.high, case.basis or limit.basis, case.source)
    return Numbers(limit.low, limit.high, limit.basis, limit.source)


def parts_for(fix: Fix, profile: Profile) -> dict[str, int]:
    """The parts that a fix takes at this bike, and how many of each."""
    if not fix.part_cases:
        return fix.parts
    cases = fix.part_cases
    return {
        part: next((case.number for case in cases.get(part, ()) if holds(case.when, profile)), usual)
        for part, usual in fix.parts.items()
    }


def profiles_over(book: Book, facts: Iterable[str]) -> Iterator[dict[str, tuple[str, ...]]]:
    """Every profile over these facts, one value a fact or unknown."""
    names = sorted(set(facts))
    choices = [[None, *book.facts[fact].values] for fact in names]
    for combination in product(*choices):
        yield {fact: (value,) for fact, value in zip(names, combination, strict=True) if value is not None}


def facts_of_bands(book: Book, check: Check) -> set[str]:
    """The facts that the edges of a check's bands depend on."""
    bands = check.measure.bands if check.measure else ()
    limits = {edge.limit for band in bands for edge in (band.start, band.stop) if edge and edge.limit}
    return {fact for limit in limits for case in book.limits[limit].cases for fact in case.when}


def edge_number(edge: Edge, book: Book, profile: Profile) -> float | None:
    """The number of an edge; None where the limit has no such end under this profile."""
    if edge.limit is None:
        return edge.number
    found = numbers(book.limits[edge.limit], profile)
    return found.low if edge.end == "low" else found.high


class Interval(NamedTuple):
    """Readings from `start` to `stop`, each end open or closed."""

    start: float
    start_open: bool
    stop: float
    stop_open: bool

    def has(self, reading: float) -> bool:
        """Whether the reading lies inside."""
        above = reading > self.start or (reading == self.start and not self.start_open)
        return above and (reading < self.stop or (reading == self.stop and not self.stop_open))


def interval(band: Band, book: Book, profile: Profile) -> Interval | None:
    """A band's readings under a profile; None where an edge has no number."""
    start = -inf if band.start is None else edge_number(band.start, book, profile)
    stop = inf if band.stop is None else edge_number(band.stop, book, profile)
    if start is None or stop is None:
        return None
    return Interval(start, band.start_open, stop, band.stop_open or band.stop is None)


def band_of(check: Check, reading: float, book: Book, profile: Profile) -> str | None:
    """The value that a reading means, or None when it falls into no band."""
    for band in check.measure.bands if check.measure else ():
        span = interval(band, book, profile)
        if span and span.has(reading):
            return band.value
    return None
