"""Runs anomalies over a book and lets stand what its files say is right.

Cast: `examine` gives the problems and what was let stand; `LET_STAND` in an entry of a file names a code and a reason.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

from diagnose.book.anomalies.anomaly import Anomaly, Found, Named, Study
from diagnose.book.kind import ERROR, Example, Kind
from diagnose.book.problems import Problem, clipped, nearest
from diagnose.book.tree import Mapping, Text
from diagnose.errors import Location

LET_STAND = "let_stand"


def _seat(let_stand: str) -> Example:
    text = f"""
seat:
  quantity: "seat of the crown race"
  low: 26.4
  unit: mm
  kind: minimum
  basis: memory
  let_stand: {{{let_stand}}}
"""
    return Example("front/limits.yaml", text)


class UnknownExcuse(Kind):
    """A `let_stand` line with a code that the check does not have."""

    name = "let-stand.unknown"
    severity = ERROR
    why = "The line lets nothing stand."
    wrong = _seat('limit.unsed: "The next system needs it."')
    right = _seat('limit.unused: "The next system needs it."')


class UnusedExcuse(Kind):
    """A `let_stand` line for something that is not found there."""

    name = "let-stand.unused"
    why = "It would hide the next one that comes."
    wrong = _seat('limit.unused: "The next system needs it.", number.without-basis: "From memory."')
    right = UnknownExcuse.right


EXCUSES: tuple[type[Kind], ...] = (UnknownExcuse, UnusedExcuse)
"""What can be wrong with the lines that let something stand."""


class LetStand(NamedTuple):
    """A finding that a file says is right, and why."""

    problem: Problem
    reason: str


class Verdict(NamedTuple):
    """What is wrong, and what was found but is right as it is; each sorted by place."""

    problems: tuple[Problem, ...]
    let_stand: tuple[LetStand, ...]


@dataclass(slots=True)
class _Excuse:
    """One line of a `let_stand`: the finding of which code, about which other id (None: whatever it is about)."""

    owner: Named
    code: str
    other: str | None
    reason: str
    where: Location
    used: bool = field(default=False)

    def fits(self, code: str, found: Found) -> bool:
        """Whether this line speaks of that finding, from its own entry or from the other one that it is about."""
        _, name = self.owner
        if code != self.code:
            return False
        if self.owner == found.owner:
            return self.other is None or self.other in found.others
        return name in found.others and self.other == found.owner[1]


def examine(study: Study, anomalies: Sequence[Anomaly], codes: Sequence[str]) -> Verdict:
    """Everything that these anomalies find.

    Args:
        study: a book that reads well.
        anomalies: those to look for.
        codes: all that a `let_stand` may name, also of anomalies that are not looked for now.
    """
    excuses = list(_excuses(study))
    problems: list[Problem] = []
    let_stand: list[LetStand] = []
    looked_for = set()
    for anomaly in anomalies:
        looked_for.add(anomaly.name)
        for found in anomaly.find(study):
            message, hint = clipped(found.message), clipped(found.hint)
            problem = Problem(found.where, anomaly.name, message, hint, anomaly.severity, anomaly.why)
            fitting = [excuse for excuse in excuses if excuse.fits(anomaly.name, found)]
            for excuse in fitting:
                excuse.used = True
            if fitting:
                let_stand.append(LetStand(problem, fitting[0].reason))
            else:
                problems.append(problem)
    for excuse in excuses:
        problems.extend(_wrong_with(excuse, codes, looked_for))
    return Verdict(tuple(sorted(set(problems))), tuple(sorted(set(let_stand))))


def _wrong_with(excuse: _Excuse, codes: Sequence[str], looked_for: set[str]) -> Iterator[Problem]:
    if excuse.code not in codes:
        message = f"the check knows no finding '{excuse.code}' that could be let stand"
        hint = nearest(excuse.code, codes) or "`diagnose rules explain` lists them."
        yield _problem(UnknownExcuse, excuse.where, message, hint)
    elif excuse.code in looked_for and not excuse.used:
        about = f" about '{excuse.other}'" if excuse.other else ""
        message = f"there is no finding '{excuse.code}'{about} here (any more) to let stand"
        yield _problem(UnusedExcuse, excuse.where, message, "Delete the line.")


def _problem(kind: type[Kind], where: Location, message: str, hint: str) -> Problem:
    return Problem(where, kind.name, message, hint, kind.severity, kind.why)


def _excuses(study: Study) -> Iterator[_Excuse]:
    for owner, (_, node) in study.entries.items():
        told = node.items.get(LET_STAND) if isinstance(node, Mapping) else None
        if isinstance(told, Mapping):
            for code, child in told.items.items():
                if isinstance(child, Text):
                    yield _Excuse(owner, code, None, child.value, told.keys[code])
                elif isinstance(child, Mapping):
                    for other, reason in child.items.items():
                        if isinstance(reason, Text):
                            yield _Excuse(owner, code, other, reason.value, child.keys[other])
