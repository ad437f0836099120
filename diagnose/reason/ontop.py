"""Why one cause is likelier than another with one book, and not with another book.

Cast: `on_top(before, after, complaint, was, now)` gives the `Shift`s that made the most difference, the greatest first.
"""

from __future__ import annotations

from collections.abc import Mapping
from math import log
from typing import NamedTuple

from diagnose.reason.belief import likelihood
from diagnose.reason.conclude import Conclusions
from diagnose.reason.diagnosis import Diagnosis

LEAST = 1e-6
"""Stands for nothing at all, so that it can be set beside something."""
MOST = 3
"""Shifts that are named."""
PART = 0.15
"""A shift that makes less than this part of all the difference is not named."""
SHARE, RULE, ROW = "share", "rule", "row"

Weights = Mapping[tuple[str, str], float]
"""What speaks for a cause: `share`, each deduction (`rule`) and each finding that was told of (`row`), by id."""


class Shift(NamedTuple):
    """Something that speaks otherwise for a cause than it did before.

    `kind`: share, rule (the deduction `about`), row (what was told of the finding `about`), new (the cause is one only
    now) or gone (it is none any more). `before` and `after`: the share, the factor, or how often such bikes show that.
    """

    kind: str
    about: str
    cause: str | None
    before: float = 0.0
    after: float = 0.0


def on_top(before: Diagnosis, after: Diagnosis, complaint: str, was: str | None, now: str | None) -> list[Shift]:
    """What puts the cause `now` above `was` (None: *something else*), with the diagnosis of either book."""
    for cause, kind, side in ((now, "new", before), (was, "gone", after)):
        if cause not in _causes(side, complaint):
            return [Shift(kind, "", cause)]
    moved = {
        cause: _moved(_weights(before, complaint, cause), _weights(after, complaint, cause)) for cause in (was, now)
    }
    gains: list[tuple[float, Shift]] = []
    for kind, about in dict.fromkeys([*moved[was], *moved[now]]):
        lost, won = (moved[cause].get((kind, about), (1.0, 1.0)) for cause in (was, now))
        gain = log(won[1] / won[0]) - log(lost[1] / lost[0])
        cause, (one, other) = (now, won) if abs(log(won[1] / won[0])) > abs(log(lost[1] / lost[0])) else (was, lost)
        gains.append((gain, Shift(kind, about, cause, one, other)))
    gains.sort(key=lambda one: -one[0])
    whole = sum(gain for gain, _ in gains if gain > 0)
    return [shift for gain, shift in gains[:MOST] if gain > PART * whole]


def _causes(diagnosis: Diagnosis, complaint: str) -> tuple[str | None, ...]:
    net = diagnosis.belief.net
    return net.causes[net.complaints.index(complaint)]


def _moved(before: Weights, after: Weights) -> dict[tuple[str, str], tuple[float, float]]:
    """What speaks for a cause with either book, where it is not the same; 1 says nothing."""
    pairs = {key: (before.get(key, 1.0), after.get(key, 1.0)) for key in [*before, *after]}
    return {key: pair for key, pair in pairs.items() if pair[0] != pair[1]}


def _weights(diagnosis: Diagnosis, complaint: str, cause: str | None) -> Weights:
    book, belief = diagnosis.book, diagnosis.belief
    share = book.causes[cause].shares[complaint].of_100 if cause else 100 * book.complaints[complaint].something_else
    weights = {(SHARE, ""): share}
    for name, factor in _factors(diagnosis.conclusions, cause, book.constants.rule_in).items():
        weights[RULE, name] = factor
    for finding, message in belief.messages.items():
        row = belief.net.rows.get(finding, {}).get(cause or "", belief.net.otherwise[finding])
        weights[ROW, finding] = likelihood(row, message)
    return {key: max(weight, LEAST) for key, weight in weights.items()}


def _factors(conclusions: Conclusions, cause: str | None, rule_in: float) -> dict[str, float]:
    """The deductions that speak of a cause, each with its factor."""
    factors: dict[str, float] = {}
    for rule in (one.deduction for one in conclusions.fired):
        if cause in rule.rule_out:
            factors[rule.id] = LEAST
        elif cause in rule.rule_in:
            factors[rule.id] = rule_in
        elif cause in rule.likelier:
            factors[rule.id] = rule.likelier[cause]
    return factors
