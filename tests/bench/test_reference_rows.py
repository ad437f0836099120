"""Every row of the reference table that can be reckoned goes through the bench; the others are listed with a reason.

The test ids name the row and its source. A row that stands in neither list fails.
"""

from __future__ import annotations

import pytest

from tests import trade_values
from tests.bench.reckoned_rows import RECKONED
from tests.trade_values import TradeValue

PRINTED = "a printed limit: nothing is reckoned from it"
WORDS = "words, not a figure"
TEST_LOAD = "load of a standard's type test; a workshop does not apply it"
COUNTED = "counted or printed dimensions, no formula behind them"


NOT_RECKONED: dict[str, str] = {
    "joint-failure-torque-factor": PRINTED,
    "torque-stem-faceplate": PRINTED,
    "torque-stem-steerer-clamp": PRINTED,
    "torque-stem-steerer-clamp-older": PRINTED,
    "torque-seatpost-collar": PRINTED,
    "torque-seatpost-binder-older": PRINTED,
    "torque-saddle-clamp-one-bolt": PRINTED,
    "torque-headset-top-cap": PRINTED,
    "torque-crank-bolt-square-taper": PRINTED,
    "torque-crank-pinch-bolts": PRINTED,
    "torque-bb-cups-external": PRINTED,
    "torque-pedals": PRINTED,
    "torque-cassette-lockring": PRINTED,
    "torque-rotor-six-bolt": PRINTED,
    "torque-disc-caliper-mount": PRINTED,
    "torque-disc-caliper-mount-m6-older": PRINTED,
    "torque-brake-cable-pinch": PRINTED,
    "torque-derailleur-mount": PRINTED,
    "torque-chainring-alu": PRINTED,
    "torque-chainring-alu-lower": PRINTED,
    "torque-chainring-steel": PRINTED,
    "torque-chainring-steel-lower": PRINTED,
    "torque-thru-axle-front": PRINTED,
    "chain-strength-us": TEST_LOAD,
    "stop-distance-us": PRINTED,
    "lever-force-pads-us": PRINTED,
    "heat-test-remaining": TEST_LOAD,
    "brake-linearity-mtb": TEST_LOAD,
    "rotor-min-b": "a printed limit of one maker; the sum asks for the mark on the disc",
    "pad-rotor-clearance": PRINTED,
    "rim-pad-clearance": PRINTED,
    "rim-pad-toe-in": PRINTED,
    "fluid-dot3-dry-boil": PRINTED,
    "fluid-dot4-dry-boil": PRINTED,
    "fluid-dot3-wet-boil": PRINTED,
    "fluid-mixing": WORDS,
    "star-nut-depth": PRINTED,
    "headset-preload-order": WORDS,
    "handlebar-width": PRINTED,
    "steering-angle": PRINTED,
    "stem-forward-load-2-mtb": TEST_LOAD,
    "bar-torsion-mtb": TEST_LOAD,
    "bb-english-drive-hand": WORDS,
    "pedal-left-hand": WORDS,
    "pulley-gap-road": PRINTED,
    "brake-inner-wire": PRINTED,
    "shift-inner-wire": PRINTED,
    "shift-inner-wire-other": PRINTED,
    "shift-housing-on-brake": WORDS,
    "cable-cap-pull": TEST_LOAD,
    "runout-rim-brake-iso": "a printed ceiling, from memory; the sum for run-out takes the shop's figure",
    "wheel-frame-clearance-us": PRINTED,
    "wheel-retention-secured": TEST_LOAD,
    "qr-close-force": PRINTED,
    "balls-bb": COUNTED,
    "balls-headset-a": COUNTED,
    "bearing-608": COUNTED,
    "bearing-6902": COUNTED,
    "saddle-vertical-load": TEST_LOAD,
    "saddle-lift": TEST_LOAD,
    "seatpost-carbon-grease": WORDS,
    "epac-power": PRINTED,
    "epac-cut-off": PRINTED,
    "epac-battery-voltage": PRINTED,
    "epac-speed-tolerance-2009": PRINTED,
    "us-ebike-power": PRINTED,
    "us-ebike-speed": PRINTED,
    "battery-warning": WORDS,
    "battery-storage-charge": PRINTED,
    "abc-order": WORDS,
    "crank-play-both": WORDS,
    "tyre-reject-threads": WORDS,
    "ground-clearance-us": PRINTED,
    "toe-clearance-us": PRINTED,
    "frame-load-us": TEST_LOAD,
    "carbon-tap-test": WORDS,
    "carbon-after-fork-break": WORDS,
}


def rows() -> dict[str, TradeValue]:
    """All rows by id."""
    return trade_values._table()


def within(row: TradeValue) -> float:
    """How far an answer may lie from the row, in its unit; without a tolerance nothing but binary arithmetic."""
    return max(row.allowed, 1e-9) if row.value else float(row.tolerance or 1e-9)


def test_every_row_is_mapped_once() -> None:
    """No row of the table is forgotten, none is in both lists, and each that is not reckoned has its reason."""
    assert set(RECKONED).isdisjoint(NOT_RECKONED)
    assert set(RECKONED) | set(NOT_RECKONED) == set(rows())
    assert all(NOT_RECKONED.values())


@pytest.mark.parametrize(
    "name", [pytest.param(name, id=f"{name} <- {rows()[name].source}") for name in RECKONED if name in rows()]
)
def test_row_of_the_reference_table(name: str) -> None:
    """The bench gives the row's value within its tolerance, and its range where it gives one."""
    row = rows()[name]
    found = RECKONED[name](row)
    assert (found.value if row.value else found.low if row.low is not None else found.high) is not None
    if row.value and row.unit == "text":
        assert found.value == row.value
    elif row.value and ";" in row.value:
        assert found.value == tuple(float(part) for part in row.value.split(";"))
    elif row.value:
        assert found.value == pytest.approx(row.number, abs=within(row), rel=0)
    for end, printed in ((found.low, row.low), (found.high, row.high)):
        if end is not None:
            assert printed is not None
            assert end == pytest.approx(printed, abs=within(row), rel=0)
