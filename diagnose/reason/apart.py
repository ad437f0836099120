"""How well checks tell two causes apart, in numbers that need no theory.

Cast: `ways_apart` gives a `Way` for each check that can tell; `shortest_path` the order that tells most for its
minutes; `never_together` the facts of the bike that let no bike have both; `stories` the deductions that move them
differently.

Take 100 bikes, half with the one cause and half with the other, and call each after what the check reports: so many
are called right. That is 50 for a check that tells nothing and 100 for one that never fails; it is the rate of correct
decisions of the Bayes rule under equal priors, half of (1 + the total variation distance of the two reports).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import NamedTuple

from diagnose.book.chart import asked_for
from diagnose.book.conditions import Profile
from diagnose.book.model import Book, Cause, Check, Deduction
from diagnose.reason.conclude import single_answer_rule_outs, trust_in
from diagnose.reason.table import Chances, report_chance

TELLS = 0.505
"""Called right by a check that tells anything at all."""
ENOUGH = 0.98
"""Called right: nobody looks further."""
LEAST_GAIN = 0.005
MOST_STEPS = 5
MOST_OUTCOMES = 20_000


class Way(NamedTuple):
    """A check that can tell two causes apart.

    `one` and `other` are how often it reports each value of its finding under each cause; `right` is the fraction of
    bikes called right; `minutes` are its own, `opening` those of what must be opened first.
    """

    check: Check
    one: Chances
    other: Chances
    right: float
    minutes: float
    opening: float


class Step(NamedTuple):
    """A check of the shortest path, and the fraction called right once it has been made too."""

    way: Way
    right: float


def ways_apart(book: Book, one: str, other: str, role: str = "mechanic", profile: Profile | None = None) -> list[Way]:
    """Every check that tells two causes apart when `role` answers it, the best first, then the quickest.

    Only those that are asked where it may be either.
    """
    gone = single_answer_rule_outs(book, profile or {}, (one, other))
    spoken = [*book.causes[one].shows, *book.causes[other].shows, *(finding for _, finding in gone)]
    askable = _askable(book, book.causes[one], book.causes[other])
    ways = []
    for finding in dict.fromkeys(name for name in spoken if name in askable):
        rows = [_row(book, book.causes[cause], finding, gone.get((cause, finding), set())) for cause in (one, other)]
        for check in book.findings[finding].checks:
            if role in ("mechanic", check.by):
                way = _way(book, check, rows, trust_in(book, check, role))
                if way.right >= TELLS:
                    ways.append(way)
    return sorted(ways, key=lambda way: (-round(way.right, 4), way.minutes + way.opening, way.check.id))


def _askable(book: Book, one: Cause, other: Cause) -> frozenset[str]:
    """The findings that are asked for where it may be either: with what both are behind, if there is such."""
    complaints = {*one.shares} & {*other.shares} or {*one.shares, *other.shares}
    return frozenset().union(*(asked_for(book, complaint) for complaint in complaints))


def _row(book: Book, cause: Cause, finding: str, gone: set[str]) -> Chances:
    row = cause.shows[finding].chances if finding in cause.shows else book.otherwise[finding]
    kept = [0.0 if value in gone else chance for value, chance in zip(book.values[finding], row, strict=True)]
    total = sum(kept)
    return tuple(chance / total for chance in kept) if total > 0 else row


def _way(book: Book, check: Check, rows: Sequence[Chances], trust: float) -> Way:
    otherwise = book.otherwise[check.finding]
    values = range(len(otherwise))
    one, other = (
        tuple(sum(row[value] * report_chance(value, told, trust, otherwise) for value in values) for told in values)
        for row in rows
    )
    return Way(check, one, other, _right(zip(one, other, strict=True)), check.minutes, _opening(book, check.teardown))


def _right(outcomes: Iterable[tuple[float, float]]) -> float:
    return sum(max(pair) for pair in outcomes) / 2


def _opening(book: Book, teardown: str | None) -> float:
    minutes = 0.0
    while teardown:
        minutes += book.teardowns[teardown].open
        teardown = book.teardowns[teardown].inside
    return minutes


def shortest_path(book: Book, ways: Sequence[Way]) -> list[Step]:
    """Checks one after the other, each the one that adds most for its minutes, one a finding."""
    outcomes = [(1.0, 1.0)]
    right = _right(outcomes)
    steps: list[Step] = []
    left = list(ways)
    while left and right < ENOUGH and len(steps) < MOST_STEPS:
        gains = [(_right(_after(outcomes, way)) - right, way) for way in left]
        gain, best = max(gains, key=lambda one: (one[0] / (_cost(book, one[1])), one[1].check.id))
        if gain < LEAST_GAIN or len(outcomes) * len(best.one) > MOST_OUTCOMES:
            break
        outcomes, right = _after(outcomes, best), right + gain
        steps.append(Step(best, right))
        left = [way for way in left if way.check.finding != best.check.finding]
    return steps


def _cost(book: Book, way: Way) -> float:
    return max(way.minutes + way.opening + book.constants.asking, 0.1)


def _after(outcomes: Sequence[tuple[float, float]], way: Way) -> list[tuple[float, float]]:
    reports = list(zip(way.one, way.other, strict=True))
    return [(one * mine, other * its) for one, other in outcomes for mine, its in reports]


def never_together(book: Book, one: str, other: str) -> list[str]:
    """The facts of which the two causes take different values: the bike itself tells them apart."""
    here, there = book.causes[one].applies, book.causes[other].applies
    return [
        fact
        for fact in here
        if fact in there and not book.facts[fact].several and set(here[fact]).isdisjoint(there[fact])
    ]


def stories(book: Book, one: str, other: str) -> list[tuple[Deduction, float, float]]:
    """Deductions that do not treat the two alike, with the factor that each gets (0: ruled out)."""
    found = []
    for deduction in book.deductions.values():
        here, there = _factor(book, deduction, one), _factor(book, deduction, other)
        if here != there:
            found.append((deduction, here, there))
    return found


def _factor(book: Book, deduction: Deduction, cause: str) -> float:
    if cause in deduction.rule_out:
        return 0.0
    return deduction.likelier.get(cause, 1.0) * (book.constants.rule_in if cause in deduction.rule_in else 1.0)
