"""Every limit of the shipped book that cites the table of reference values, held against the rows it cites.

A `source` reads "trade-values: ROW, ROW; common practice": the rows, and behind a semicolon whatever else it rests on.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

import pytest

from diagnose.bench.units import convert
from diagnose.book.place import shipped_rules
from diagnose.book.shelf import load_book
from tests.trade_values import TradeValue, trade_value

CITED = re.compile(r"trade-values: ?([a-z0-9-]+(?:, [a-z0-9-]+)*)")
WEAK = {"common practice", "memory"}
ROW_UNITS = {"degC": "°C"}
NEW_CHAIN_24_PITCHES = 304.8
"""mm; ISO 606 (08B), 24 times 12.7."""
EXACT = 1e-9
MOST_ROUNDING = 0.015


class Claim(NamedTuple):
    """One pair of ends, as a limit or one of its cases states it."""

    name: str
    low: float | None
    high: float | None
    unit: str
    basis: str
    source: str


def claims() -> Iterator[Claim]:
    """Every pair of ends in the shipped book."""
    for limit in load_book(shipped_rules(), cache=False).limits.values():
        yield Claim(limit.id, limit.low, limit.high, limit.unit, limit.basis, limit.source)
        for number, case in enumerate(limit.cases, 1):
            basis = case.basis or limit.basis
            yield Claim(f"{limit.id}, case {number}", case.low, case.high, limit.unit, basis, case.source)


ALL = list(claims())
CITING = [claim for claim in ALL if CITED.search(claim.source)]


def cited(text: str) -> list[str]:
    """The ids of the rows that a text cites."""
    return [name for group in CITED.findall(text) for name in group.split(", ")]


def span_of(row: TradeValue, unit: str) -> tuple[float, float]:
    """Lowest and highest number, in `unit`, that a row allows."""
    if row.low is not None or row.high is not None:
        ends = (-math.inf if row.low is None else row.low, math.inf if row.high is None else row.high)
    else:
        ends = (row.number - row.allowed, row.number + row.allowed)
    low, high = (_into(end, row.unit, unit) for end in ends)
    return low, high


def _into(value: float, unit: str, into: str) -> float:
    if math.isinf(value):
        return value
    if (unit, into) == ("%", "mm"):
        return NEW_CHAIN_24_PITCHES * (1 + value / 100)
    return convert(value, ROW_UNITS.get(unit, unit), into)


def half_a_digit(value: float) -> float:
    """What rounding may have moved: half of the last digit that is written, and little of a small number."""
    decimals = len(f"{value:.6f}".rstrip("0").partition(".")[2])
    return min(0.5 * 10.0**-decimals, MOST_ROUNDING * abs(value))


def within(value: float, low: float, high: float) -> bool:
    """Whether the number, as written, is a rounding of one in the span."""
    slack = half_a_digit(value) + EXACT
    return low - slack <= value <= high + slack


def test_the_book_cites_the_table() -> None:
    """The tests below look at something."""
    assert len(CITING) > 40


@pytest.mark.parametrize("claim", CITING, ids=lambda claim: claim.name)
def test_a_cited_limit_lies_within_its_rows(claim: Claim) -> None:
    """Both ends; common practice, where the source names it too, may widen what the rows say but never leave it out."""
    spans = [span_of(trade_value(name), claim.unit) for name in cited(claim.source)]
    low, high = min(span[0] for span in spans), max(span[1] for span in spans)
    ends = [end for end in (claim.low, claim.high) if end is not None]
    outside = [end for end in ends if not within(end, low, high)]
    if "; common practice" not in claim.source:
        assert not outside, f"{outside} {claim.unit} is not between {low:g} and {high:g}"
    else:
        assert outside, "the rows alone say as much: leave common practice out"
        assert claim.low is None or claim.low <= high + EXACT
        assert claim.high is None or claim.high >= low - EXACT


@pytest.mark.parametrize("claim", CITING, ids=lambda claim: claim.name)
def test_a_limit_claims_no_more_than_its_weakest_row(claim: Claim) -> None:
    """From memory stays from memory, common practice is no maker's figure."""
    status = {trade_value(name).status for name in cited(claim.source)}
    if "from-memory" in status:
        assert claim.basis == "memory"
    elif "common-practice" in status or "; common practice" in claim.source:
        assert claim.basis in WEAK


@pytest.mark.parametrize("claim", [claim for claim in ALL if claim.basis not in WEAK], ids=lambda claim: claim.name)
def test_a_published_figure_names_its_source(claim: Claim) -> None:
    """Standard, handbook and maker are words that somebody can look up."""
    assert claim.source, f"basis {claim.basis}, but no source"


def test_every_row_named_anywhere_in_the_book_exists() -> None:
    """In sources, notes and reasons alike."""
    for path in sorted(Path(shipped_rules()).rglob("*.yaml")):
        for name in cited(path.read_text(encoding="utf-8")):
            assert trade_value(name).id == name, path


@pytest.mark.parametrize(
    ("value", "low", "high", "fits"),
    [
        (307.1, 307.086, 307.086, True),
        (307.2, 307.086, 307.086, False),
        (5, 5, 7, True),
        (4.4, 5, 7, False),
        (1, 0, 0.5, False),
        (8, 5, math.inf, True),
    ],
)
def test_rounding_is_allowed_for_and_nothing_more(value: float, low: float, high: float, fits: bool) -> None:
    """The comparison itself can fail."""
    assert within(value, low, high) is fits
