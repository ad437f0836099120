"""Counts to ranges: what the shares and rows of the book would be with the jobs added to what the book says.

Cast: `share_ranges` for the causes of a complaint, `row_ranges` for what causes show; each gives `Range`s.

A figure of the book counts as so many cases as it was written with (`n in m` as m, a word as 10): it is the prior, a
Beta distribution for each cause (the margins of a Dirichlet distribution), and the jobs are added to it. *Something
else* is counted apart, since it keeps its share whatever the bike. A bike that cannot have a cause, or for which a
deduction makes it likelier, tells less or more about it: with `u` the factor of a cause on a bike, the shares `w` are
those for which `w = (prior + found) / (cases of the prior + sum over bikes of u / sum of u w)`, found by repeating that
(the fixed point of a multinomial over part of its outcomes, as in Hunter 2004, with a prior).

Several causes found at one bike share its case among them, and teach no row.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from typing import NamedTuple

from diagnose.book.model import Book
from diagnose.casework.learn.beta import span
from diagnose.casework.learn.outcomes import Outcome

LEAST_JOBS = 10
"""Jobs with known ends below which nothing is proposed for a complaint's shares, or for a row."""
ROUNDS = 200
CLOSE = 1e-10


class Range(NamedTuple):
    """A figure of the book beside what it would be.

    Attributes:
        book: as the book has it, a fraction.
        mean: with the jobs added.
        low: low end of the middle 95 %.
        high: its high end.
        cases: jobs behind it, of which it was so; a job with several causes counts as part of one.
        jobs: jobs behind it in all.
        weight: cases that the new figure counts as: those of the book and the jobs.
    """

    book: float
    mean: float
    low: float
    high: float
    cases: float
    jobs: int
    weight: float

    @property
    def off(self) -> bool:
        """Whether the book's figure lies outside the range."""
        return not self.low <= self.book <= self.high


class ShareRanges(NamedTuple):
    """The causes of a complaint as fractions of what the book gives them together, and *something else* of all."""

    complaint: str
    causes: dict[str, Range]
    something_else: Range
    raw: float
    jobs: int

    @property
    def moves(self) -> bool:
        """Whether there are jobs enough, and a figure of the book lies outside its range."""
        return self.jobs >= LEAST_JOBS and any(one.off for one in (*self.causes.values(), self.something_else))


class RowRange(NamedTuple):
    """What a cause shows: for each value of a finding its range."""

    cause: str
    finding: str
    values: dict[str, Range]
    jobs: int

    @property
    def moves(self) -> bool:
        """Whether there are jobs enough, and a chance of the book lies outside its range."""
        return self.jobs >= LEAST_JOBS and any(one.off for one in self.values.values())


def share_ranges(book: Book, complaint: str, outcomes: Sequence[Outcome], else_weight: float = 100.0) -> ShareRanges:
    """The shares of a complaint with its jobs added.

    Args:
        book: the book.
        complaint: id.
        outcomes: all outcomes; those of other complaints and those whose end is not known are left out.
        else_weight: cases that the book's *something else* counts as.
    """
    counted = [one for one in outcomes if one.complaint == complaint and one.known]
    known = [one for one in counted if one.found]
    causes = {cause.id: cause.shares[complaint] for cause in book.causes_of[complaint]}
    raw = sum(share.of_100 for share in causes.values())
    found: Counter[str] = Counter()
    for one in known:
        found.update({name: 1 / len(one.found) for name in one.found})
    start = {name: share.of_100 / raw for name, share in causes.items()}
    prior = {name: share.weight for name, share in causes.items()}
    now, bikes = _settled(start, prior, found, known)
    ranges = {
        name: _range(start[name], now[name], prior[name] + bikes[name], found[name], len(known)) for name in causes
    }
    unknown = book.complaints[complaint].something_else
    others = float(len(counted) - len(known))
    weight = else_weight + len(counted)
    rest = _range(unknown, (unknown * else_weight + others) / weight, weight, others, len(counted))
    return ShareRanges(complaint, ranges, rest, raw, len(counted))


def _settled(
    start: dict[str, float], prior: dict[str, float], found: Counter[str], known: Sequence[Outcome]
) -> tuple[dict[str, float], dict[str, float]]:
    """The shares that fit prior and jobs, and for each cause how many bikes told about it."""
    now = dict(start)
    bikes = dict.fromkeys(start, 0.0)
    for _ in range(ROUNDS):
        bikes = _bikes(now, known)
        new = {name: (start[name] * prior[name] + found[name]) / (prior[name] + bikes[name]) for name in start}
        total = sum(new.values())
        new = {name: share / total for name, share in new.items()}
        change = max(abs(new[name] - now[name]) for name in start)
        now = new
        if change < CLOSE:
            break
    return now, bikes


def _bikes(now: dict[str, float], known: Sequence[Outcome]) -> dict[str, float]:
    """For each cause the sum over bikes of its factor there, divided by the shares that the bike could have."""
    bikes = dict.fromkeys(now, 0.0)
    for one in known:
        able = {name: factor for name, factor in one.able.items() if name in now} or dict.fromkeys(now, 1.0)
        able = {name: max(able.get(name, 0.0), 0.0) for name in {*able, *one.found} if name in now}
        for name in one.found:
            able[name] = able[name] or max(able.values(), default=1.0) or 1.0
        total = sum(factor * now[name] for name, factor in able.items())
        for name, factor in able.items():
            bikes[name] += factor / total
    return bikes


def _range(book: float, mean: float, weight: float, cases: float, jobs: int) -> Range:
    mean = min(max(mean, 1e-6), 1 - 1e-6)
    low, high = span(mean * weight, (1 - mean) * weight)
    return Range(book, mean, low, high, cases, jobs, weight)


def row_ranges(book: Book, outcomes: Sequence[Outcome]) -> list[RowRange]:
    """What causes show, with the jobs added in which that one cause was found and a mechanic looked."""
    seen: dict[tuple[str, str], Counter[str]] = {}
    jobs = {(one.job, one.found[0]): one for one in outcomes if one.known and len(one.found) == 1}
    for (_, cause), one in jobs.items():
        for finding, value in one.seen.items():
            if finding in book.causes[cause].shows:
                seen.setdefault((cause, finding), Counter())[value] += 1
    return [_row_range(book, cause, finding, counts) for (cause, finding), counts in sorted(seen.items())]


def _row_range(book: Book, cause: str, finding: str, counts: Counter[str]) -> RowRange:
    row = book.causes[cause].shows[finding]
    jobs = counts.total()
    weight = row.weight + jobs
    values = {
        value: _range(chance, (chance * row.weight + counts[value]) / weight, weight, float(counts[value]), jobs)
        for value, chance in zip(book.values[finding], row.chances, strict=True)
    }
    return RowRange(cause, finding, values, jobs)
