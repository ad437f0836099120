"""How far findings tell two causes apart.

Cast: `Alike` reports pairs that none does; `apart` measures one finding, `best_apart` takes the best of all.

Two causes are as far apart on a finding as half the sum of the differences of their rows (total variation), times the
trust in the best check on it: with both equally likely, that answer makes the better guess right in (1 + d) / 2 of
cases.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations

from diagnose.book.anomalies.anomaly import Anomaly, Example, Found, Study
from diagnose.book.anomalies.ends import clash
from diagnose.book.chart import asked_for
from diagnose.book.model import Book, Cause, Condition
from diagnose.reason.conclude import trust_in
from diagnose.reason.table import without

APART = 0.3
"""A finding on which two causes are at least so far apart separates them."""
SAME_CURE = 0.5
"""Two causes of which one fix cures at least so many need no telling apart."""


class Alike(Anomaly):
    """Two causes of one complaint that no finding separates."""

    name = "cause.not-separable"
    why = "Whichever is more common comes out on top, whatever is asked, and the other's fix is tried second."
    wrong = Example(
        "front/causes/race-loose.yaml",
        """
name: "crown race loose"
in_short: "The lower race turns on the fork."
common_for: {front-knock: 4 in 100}
basis: memory
shows:
  play-at-headset: {clear: very likely}
  steerer-gap: {right: very likely}
danger: none
hand_off: {class: frame-builder, urgency: soon, reason: "The seat is cut anew."}
""",
    )
    right = Example(
        "front/causes/race-loose.yaml",
        """
name: "crown race loose"
in_short: "The lower race turns on the fork."
common_for: {front-knock: 4 in 100}
basis: memory
shows:
  play-at-headset: {clear: very likely}
  steerer-gap: {too-much: almost certain}
danger: none
ladder:
  - fix: bed-race
    name: "Bed the race anew"
    cured: 8 in 10
    skill: mechanic
    minutes: {low: 20, high: 40}
    teardown: fork-out
    steps: ["Clean the seat, and press the race on again."]
    works_if: "The race does not turn by hand."
    if_not: "The seat is worn."
also_by:
  - {fix: replace-bearings, cured: 9 in 10}
""",
    )

    def find(self, study: Study) -> Iterator[Found]:
        """Report each pair once, at the cause that comes second by name."""
        book = study.book
        told: set[tuple[str, str]] = set()
        for complaint in book.complaints:
            asked = asked_for(book, complaint)
            for one, other in combinations(book.causes_of[complaint], 2):
                pair = (one.id, other.id)
                if pair in told or clash(book, one.applies, other.applies) or _one_cure(one, other):
                    continue
                finding, distance = best_apart(book, one, other, asked)
                if distance < APART:
                    told.add(pair)
                    best = (
                        f"the best is '{finding}', told right in {(1 + distance) / 2:.0%}"
                        if finding
                        else "none differs"
                    )
                    message = f"no finding separates '{other.id}' from '{one.id}' ({best})"
                    hint = "Add a finding that one of them shows and the other does not; or make them one cause."
                    yield Found(study.place(("cause", other.id)), message, hint, ("cause", other.id), (one.id,))


def _one_cure(one: Cause, other: Cause) -> bool:
    """Whether one fix cures most bikes with either."""
    cures = {rung.fix for rung in one.ladder if rung.cured >= SAME_CURE}
    return any(rung.fix in cures and rung.cured >= SAME_CURE for rung in other.ladder)


def best_apart(book: Book, one: Cause, other: Cause, asked: frozenset[str]) -> tuple[str, float]:
    """The finding asked for that tells two causes apart best, and how far; no name where all are the same."""
    ruled = {answer.key for cause in (one, other) for _, answer in book.one_answer_of.get(cause.id, ())}
    found = [(apart(book, finding, one, other), finding) for finding in asked & {*one.shows, *other.shows, *ruled}]
    distance, finding = max(found, default=(0.0, ""))
    return (finding, distance) if distance > 0 else ("", 0.0)


def apart(book: Book, finding: str, one: Cause, other: Cause) -> float:
    """How far two causes are apart on a finding, by the best check that a bike with either takes."""
    seen = book.findings[finding]
    bikes: Condition = {**one.applies, **other.applies}
    if clash(book, bikes, seen.applies):
        return 0.0
    trusts = [trust_in(book, check, "mechanic") for check in seen.checks if not clash(book, bikes, check.applies)]
    rows = (row_of(book, one, finding), row_of(book, other, finding))
    return max(trusts, default=0.0) * sum(abs(a - b) for a, b in zip(*rows, strict=True)) / 2


def row_of(book: Book, cause: Cause, finding: str) -> tuple[float, ...]:
    """What a cause shows of a finding, without the values that rule it out by themselves."""
    row = cause.shows[finding].chances if finding in cause.shows else book.otherwise[finding]
    gone = {
        value for _, answer in book.one_answer_of.get(cause.id, ()) if answer.key == finding for value in answer.any_of
    }
    return without(row, book.values[finding], gone) if gone else row
