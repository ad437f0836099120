"""What each finding, and each report on it, comes to under each state of a net: the numbers that belief works with.

Cast: `Table`, for some causes and states of one book; `kept_table` has one table for the same causes, job after job.

What is reported is not the finding: P(report r | value v) = t [r = v] + (1 - t) otherwise(r). Under a state a finding
has the row of the cause that speaks to it, the mean of the rows where several different causes do, else the finding's
`otherwise`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from operator import getitem, mul

from diagnose.book.model import Book

Chances = tuple[float, ...]
State = tuple[int, ...]
Names = tuple[tuple[str | None, ...], ...]
"""The causes of each complaint, the last of each None: *something else*."""
Rows = dict[str, dict[str, Chances]]
"""For every finding that a cause speaks to, the rows of the causes that do."""
MOST_KEPT = 512
"""Tables of one book that are kept for other jobs."""


class Table:
    """The rows of some causes over some states, and what is worked out from them once."""

    def __init__(self, rows: Rows, otherwise: Mapping[str, Chances], names: Names, states: Sequence[State]) -> None:
        self.speaking = rows
        self._otherwise = otherwise
        self._names = names
        self._states = states
        self._rows: dict[str, list[Chances]] = {}
        self._different: dict[str, tuple[list[Chances], list[int]]] = {}
        self._reports: dict[tuple[str, float], list[Chances]] = {}
        self._given: dict[tuple[str, float], list[list[float]]] = {}

    def over(self, states: Sequence[State]) -> Table:
        """The same rows over other states."""
        return Table(self.speaking, self._otherwise, self._names, states)

    def rows(self, finding: str) -> list[Chances]:
        """For each state the row that the finding has under it."""
        rows = self._rows.get(finding)
        if rows is None:
            rows = self._rows[finding] = self._state_rows(finding)
        return rows

    def different(self, finding: str) -> tuple[list[Chances], list[int]]:
        """The different rows of a finding, and for each state which of them it has."""
        if finding not in self._different:
            different: dict[Chances, int] = {}
            places = [different.setdefault(row, len(different)) for row in self.rows(finding)]
            self._different[finding] = (list(different), places)
        return self._different[finding]

    def reports(self, finding: str, trust: float) -> list[Chances]:
        """For each report its chance under each value of the finding, if what tells it is trusted so."""
        key = finding, trust
        if key not in self._reports:
            otherwise = self._otherwise[finding]
            values = range(len(otherwise))
            self._reports[key] = [
                tuple(report_chance(value, reported, trust, otherwise) for value in values) for reported in values
            ]
        return self._reports[key]

    def given(self, finding: str, trust: float, message: Chances | None = None) -> list[list[float]]:
        """For each report its chance in each state; `message`: the chance of what was reported before, by value."""
        if message is not None:
            return self._after(finding, trust, message)
        key = finding, trust
        if key not in self._given:
            rows, places = self.different(finding)
            self._given[key] = [
                list(map([dot(row, report) for row in rows].__getitem__, places))
                for report in self.reports(finding, trust)
            ]
        return self._given[key]

    def _after(self, finding: str, trust: float, message: Chances) -> list[list[float]]:
        rows, places = self.different(finding)
        known = [dot(row, message) for row in rows]
        heard = [tuple(map(mul, report, message)) for report in self.reports(finding, trust)]
        chances = [
            [dot(row, report) / sure if sure > 0 else 0.0 for row, sure in zip(rows, known, strict=True)]
            for report in heard
        ]
        return [list(map(one.__getitem__, places)) for one in chances]

    def _state_rows(self, finding: str) -> list[Chances]:
        otherwise = self._otherwise[finding]
        speaking_rows = self.speaking.get(finding)
        if not speaking_rows:
            return [otherwise] * len(self._states)
        if len(self._names) == 1:
            get = speaking_rows.get
            return [get(self._names[0][index] or "", otherwise) for (index,) in self._states]
        own = [[cause if cause in speaking_rows else None for cause in causes] for causes in self._names]
        mixed: dict[tuple[str | None, ...], Chances] = {}
        rows: list[Chances] = []
        for state in self._states:
            speaking = tuple(map(getitem, own, state))
            row = mixed.get(speaking)
            if row is None:
                several = [speaking_rows[name] for name in dict.fromkeys(speaking) if name is not None]
                columns = zip(*several, strict=True)
                row = mixed[speaking] = (
                    tuple(sum(column) / len(several) for column in columns) if several else otherwise
                )
            rows.append(row)
        return rows


def kept_table(book: Book, names: Names, states: Sequence[State], gone: Mapping[tuple[str, str], set[str]]) -> Table:
    """The table of these causes; `gone`: (cause, finding) to the values that rule the cause out.

    For the causes of one complaint it is kept for the next job.
    """
    if len(names) > 1:
        return Table(_rows(book, names, gone), book.otherwise, names, states)
    kept: dict[object, Table] = book.kept["tables"]
    key = names, frozenset((pair, frozenset(values)) for pair, values in gone.items())
    if key not in kept:
        if len(kept) >= MOST_KEPT:
            kept.clear()
        kept[key] = Table(_rows(book, names, gone), book.otherwise, names, states)
    return kept[key]


def _rows(book: Book, names: Names, gone: Mapping[tuple[str, str], set[str]]) -> Rows:
    """The rows of the causes, with the values that rule a cause out by one answer set to nothing."""
    rows: Rows = {}
    for name in dict.fromkeys(name for causes in names for name in causes if name):
        for finding, row in book.causes[name].shows.items():
            if finding in rows:
                rows[finding][name] = row.chances
            else:
                rows[finding] = {name: row.chances}
    for (name, finding), values in gone.items():
        speaking = rows.setdefault(finding, {})
        speaking[name] = without(speaking.get(name, book.otherwise[finding]), book.values[finding], values)
    return rows


def without(row: Chances, values: tuple[str, ...], gone: set[str]) -> Chances:
    """A row without the values that rule its cause out, the rest scaled up; as it is where nothing would be left."""
    kept = [0.0 if value in gone else chance for value, chance in zip(values, row, strict=True)]
    total = sum(kept)
    return tuple(chance / total for chance in kept) if total > 0 else row


def report_chance(value: int, reported: int, trust: float, otherwise: Chances) -> float:
    """P(report | value) = t [same] + (1 - t) otherwise(report)."""
    return (trust if value == reported else 0.0) + (1 - trust) * otherwise[reported]


def dot(row: Sequence[float], heard: Sequence[float]) -> float:
    """The sum of the products."""
    total = 0.0
    for one, two in zip(row, heard):  # noqa: B905 - the innermost loop of all; both have one entry a value
        total += one * two
    return total
