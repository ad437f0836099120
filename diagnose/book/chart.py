"""A complaint as a table: its causes, the findings that are asked with it, and how far each cause moves each finding.

Cast: `chart_of(book, complaint)` gives a `Chart` of `Cell`s; `asked_for` the findings that are asked at all.
"""

from __future__ import annotations

from typing import NamedTuple

from diagnose.book.model import Book, Cause, Finding, Row


class Cell(NamedTuple):
    """A cause and a finding that it changes.

    `moved` is the fraction of bikes that show another value than without the cause (the total variation distance from
    the finding's `otherwise` row); `value` is the place of the value that the cause makes most more common.
    """

    moved: float
    value: int
    row: Row


class Chart(NamedTuple):
    """Causes by share, findings by what they tell over all causes, both with the most first."""

    causes: tuple[Cause, ...]
    findings: tuple[Finding, ...]
    cells: dict[tuple[str, str], Cell]


def chart_of(book: Book, complaint: str) -> Chart:
    """The chart of a complaint."""
    causes = sorted(book.causes_of[complaint], key=lambda cause: (-cause.shares[complaint].of_100, cause.id))
    asked = asked_for(book, complaint)
    cells = {
        (cause.id, finding): _cell(row, book.findings[finding].otherwise)
        for cause in causes
        for finding, row in cause.shows.items()
        if finding in asked
    }
    told: dict[str, float] = {}
    for (cause, finding), cell in cells.items():
        share = book.causes[cause].shares[complaint].of_100
        told[finding] = told.get(finding, 0.0) + share * cell.moved
    findings = sorted(told, key=lambda finding: (-told[finding], finding))
    return Chart(tuple(causes), tuple(book.findings[finding] for finding in findings), cells)


def asked_for(book: Book, complaint: str) -> frozenset[str]:
    """The findings that are asked for with a complaint, or that a deduction demands a check on."""
    demanded = {
        book.checks[name].finding for one in book.deductions.values() for name in [*one.demand, *one.before_riding]
    }
    return frozenset(
        name
        for name, finding in book.findings.items()
        if not finding.asked_for or complaint in finding.asked_for or name in demanded
    )


def _cell(row: Row, otherwise: Row) -> Cell:
    more = [here - there for here, there in zip(row.chances, otherwise.chances, strict=True)]
    return Cell(sum(abs(one) for one in more) / 2, more.index(max(more)), row)
