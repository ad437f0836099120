"""Words, counts and percentages to numbers, and rows that sum to 1.

Cast: `read_chance` for one entry, `complete_row` for a row over the values of a finding.
The seven words and their ranges are the scale of Intelligence Community Directive 203, Analytic Standards (2015),
section D.6.e.(2).(a); a word's value is the middle of its range.
"""

from __future__ import annotations

import re
from typing import NamedTuple

FLOOR = 0.005
"""No value that a row leaves out is less likely than this, and no percentage is taken to be nearer to 0 or 1."""

WORDS: dict[str, tuple[float, float, float]] = {
    "almost no chance": (0.03, 0.01, 0.05),
    "very unlikely": (0.125, 0.05, 0.20),
    "unlikely": (0.325, 0.20, 0.45),
    "roughly even chance": (0.5, 0.45, 0.55),
    "likely": (0.675, 0.55, 0.80),
    "very likely": (0.875, 0.80, 0.95),
    "almost certain": (0.97, 0.95, 0.99),
}
"""Word: value, lowest and highest chance it stands for."""

WORD_WEIGHT = 10.0
"""How many cases a word counts as."""

_COUNT = re.compile(r"([0-9]{1,6}(?:\.[0-9]{1,3})?) in ([0-9]{1,6})")
_PERCENT = re.compile(r"([0-9]{1,3}(?:\.[0-9]{1,4})?) ?%")


class Chance(NamedTuple):
    """A chance with the range it may stand for and the number of cases it counts as."""

    value: float
    low: float
    high: float
    weight: float


def read_count(text: str) -> tuple[float, int] | None:
    """`n in m` as (n, m), or None when it is not written so or n is above m."""
    match = _COUNT.fullmatch(text.strip())
    if not match or int(match[2]) == 0 or float(match[1]) > int(match[2]):
        return None
    return float(match[1]), int(match[2])


def read_percent(text: str) -> float | None:
    """`80 %` as 0.8, or None."""
    match = _PERCENT.fullmatch(text.strip())
    return float(match[1]) / 100 if match and float(match[1]) <= 100 else None


def read_chance(text: str) -> Chance | None:
    """One entry of a row or a cure: a word of the scale, `n in m` (read as (n + 1/2) / (m + 1)), or a percentage."""
    word = WORDS.get(" ".join(text.split()))
    if word:
        return Chance(*word, WORD_WEIGHT)
    count = read_count(text)
    if count:
        n, m = count
        value = (n + 0.5) / (m + 1)
        return Chance(value, value - 0.05, value + 0.05, float(m))
    percent = read_percent(text)
    if percent is not None:
        value = min(max(percent, FLOOR), 1 - FLOOR)
        return Chance(value, value - 0.02, value + 0.02, WORD_WEIGHT)
    return None


def cannot_sum(named: dict[str, Chance], values: tuple[str, ...]) -> str:
    """Why the named chances cannot be made to sum to 1, or an empty text."""
    if sum(chance.low for chance in named.values()) > 1:
        return "together they are more than certain"
    if len(named) == len(values) and sum(chance.high for chance in named.values()) < 1:
        return "together they stay below certain, and no value is left to take the rest"
    return ""


def complete_row(
    named: dict[str, Chance], values: tuple[str, ...], otherwise: tuple[float, ...] | None
) -> tuple[float, ...]:
    """A chance for every value, summing to 1.

    Named chances stand as they are. Values not named share what is left in the proportion of `otherwise` (evenly when
    None), none below `FLOOR`; where too little is left the named ones are scaled to leave it. With every value named
    they are scaled to 1.
    """
    open_values = [value for value in values if value not in named]
    total = sum(chance.value for chance in named.values())
    if not open_values:
        return tuple(named[value].value / total for value in values)
    left = max(1 - total, FLOOR * len(open_values))
    scale = (1 - left) / total if total > 1 - left else 1.0
    base = dict(zip(values, otherwise or [1.0] * len(values), strict=True))
    shared = _share_out(left, {value: base[value] for value in open_values})
    return tuple(named[value].value * scale if value in named else shared[value] for value in values)


def _share_out(left: float, base: dict[str, float]) -> dict[str, float]:
    """Split `left` in the proportion of `base`, none below FLOOR."""
    fixed: dict[str, float] = {}
    while True:
        open_base = {value: part for value, part in base.items() if value not in fixed}
        room = left - sum(fixed.values())
        total = sum(open_base.values())
        shares = {value: room * part / total for value, part in open_base.items()}
        low = [value for value, share in shares.items() if share < FLOOR]
        if not low or len(low) == len(open_base):
            return {**fixed, **{value: max(share, FLOOR) if low else share for value, share in shares.items()}}
        fixed.update(dict.fromkeys(low, FLOOR))
