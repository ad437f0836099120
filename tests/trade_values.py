"""The table of reference values: `trade_value` finds a row by its id."""

from __future__ import annotations

import csv
from dataclasses import dataclass
from functools import cache
from pathlib import Path

TABLE = Path(__file__).with_name("reference") / "trade_values.csv"


@dataclass(frozen=True, slots=True)
class TradeValue:
    """One row; numbers are in `unit`, the columns are described in the table's README."""

    id: str
    quantity: str
    inputs: dict[str, str]
    value: str
    unit: str
    low: float | None
    high: float | None
    tolerance: str
    status: str
    source: str

    @property
    def number(self) -> float:
        """The value of a row that holds a single number."""
        return float(self.value)

    @property
    def allowed(self) -> float:
        """How far an answer may lie from `number`, in `unit`; 0 where the row says nothing."""
        if self.tolerance.endswith("%"):
            return abs(self.number) * float(self.tolerance[:-1]) / 100
        return float(self.tolerance or 0)

    def given(self, key: str) -> float:
        """One of the inputs as a number."""
        return float(self.inputs[key])


def trade_value(name: str) -> TradeValue:
    """The row with the id `name`."""
    return _table()[name]


@cache
def _table() -> dict[str, TradeValue]:
    with TABLE.open(encoding="utf-8", newline="") as file:
        return {row["id"]: _read(row) for row in csv.DictReader(file)}


def _read(row: dict[str, str]) -> TradeValue:
    inputs = dict(pair.strip().split("=", 1) for pair in row["inputs"].split(";") if pair.strip())
    low, high = (float(row[end]) if row[end] else None for end in ("low", "high"))
    same = {key: row[key] for key in ("id", "quantity", "value", "unit", "tolerance", "status", "source")}
    return TradeValue(inputs=inputs, low=low, high=high, **same)
