"""What jobs say against the book: where it was wrong most, checks that never helped, *something else* that looks alike.

Cast: `wrong_most`, `never_helped` and `alike`.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from typing import NamedTuple

from diagnose.book.model import Book
from diagnose.casework.learn.outcomes import Outcome

LITTLE = 0.05
"""A check that never moved a share by more than this, and never put another cause on top, did not help."""
LEAST_ANSWERS = 5
"""Answers to a check before it is judged."""
UNUSUAL = 0.5
"""What bikes show less often than this, where no cause speaks to it, is worth comparing."""
UNEXPLAINED = ("cured", "handed-off", "not-reproduced")
"""Ends that leave open what it was where nothing was found; declined and collected ones were not looked into."""
ALIKE = 0.5
"""Of what two jobs show between them that is unusual, so much must be the same."""


class Wrong(NamedTuple):
    """So often another cause was on top before the first fix than the one that was found; None: *something else*."""

    complaint: str
    said: str | None
    found: str | None
    times: int
    jobs: int


class Useless(NamedTuple):
    """A check that never helped: how often it was answered, and by how much it moved a share at most."""

    check: str
    answers: int
    most: float


class Alike(NamedTuple):
    """Jobs that the book could not explain, and what all of them show: finding and value."""

    complaint: str
    jobs: tuple[str, ...]
    shown: tuple[tuple[str, str], ...]


def wrong_most(outcomes: Iterable[Outcome]) -> list[Wrong]:
    """Where the cause on top was not the one found, the most often first."""
    jobs: Counter[tuple[str, str | None]] = Counter()
    wrong: Counter[tuple[str, str | None, str | None]] = Counter()
    for one in outcomes:
        if not one.known or not one.shares:
            continue
        for found in one.found or one.elsewhere or (None,):
            jobs[one.complaint, found] += 1
            if one.top not in (one.found or (found,)):
                wrong[one.complaint, one.top, found] += 1
    ranked = sorted(wrong.items(), key=lambda item: (-item[1], str(item[0])))
    return [Wrong(*key, times, jobs[key[0], key[2]]) for key, times in ranked]


def never_helped(book: Book, outcomes: Iterable[Outcome]) -> list[Useless]:
    """Checks that were answered often enough and never helped, those answered most first.

    Those that guard against riding a dangerous bike are left out: they are not asked to tell causes apart.
    """
    answers: Counter[str] = Counter()
    most: dict[str, float] = {}
    helped: set[str] = set()
    for one in outcomes:
        for move in one.moved:
            answers[move.check] += 1
            most[move.check] = max(most.get(move.check, 0.0), move.most)
            if move.top or move.most > LITTLE:
                helped.add(move.check)
    guards = {name for name, check in book.checks.items() if check.danger}
    found = [Useless(name, times, most[name]) for name, times in answers.items() if name not in helped | guards]
    return sorted((one for one in found if one.answers >= LEAST_ANSWERS), key=lambda one: (-one.answers, one.check))


def alike(book: Book, outcomes: Iterable[Outcome]) -> list[Alike]:
    """Jobs in which nothing of the book was found, put together where they show the same unusual things."""
    left = [(one, _unusual(book, one)) for one in outcomes if _unexplained(one)]
    left = [(one, shown) for one, shown in left if shown]
    groups: list[Alike] = []
    while left:
        (first, shown), *rest = left
        near = [(one, other) for one, other in rest if one.complaint == first.complaint and _near(shown, other)]
        if near:
            common = shown.intersection(*(other for _, other in near))
            jobs = [first.job, *(one.job for one, _ in near)]
            groups.append(Alike(first.complaint, tuple(jobs), tuple(sorted(common))))
        taken = {id(one) for one, _ in near}
        left = [pair for pair in rest if id(pair[0]) not in taken]
    return sorted((one for one in groups if one.shown), key=lambda one: (-len(one.jobs), one.jobs))


def _unexplained(one: Outcome) -> bool:
    return not one.found and not one.elsewhere and one.ended in UNEXPLAINED


def _unusual(book: Book, one: Outcome) -> frozenset[tuple[str, str]]:
    return frozenset(
        (finding, value)
        for finding, value in one.seen.items()
        if book.otherwise[finding][book.values[finding].index(value)] < UNUSUAL
    )


def _near(one: frozenset[tuple[str, str]], other: frozenset[tuple[str, str]]) -> bool:
    return len(one & other) >= ALIKE * len(one | other)


def most_of(names: Sequence[str], count: int) -> str:
    """The first names, and how many more there are."""
    more = len(names) - count
    return ", ".join(names[:count]) + (f" +{more}" if more > 0 else "")
