"""Suspension against a spring reckoned from its chambers, statics by root finding, pint, and round trips."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import Any

import pint
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.optimize import brentq

from diagnose.bench import suspension
from diagnose.errors import InputError

ATMOSPHERE = 1.01325
SHARES = st.floats(12, 40)
PRESSURES = st.floats(3, 12)
COMPRESSIONS = st.floats(1.3, 3)
NEGATIVES = st.floats(0.5, 5)


@cache
def registry() -> pint.UnitRegistry[float]:
    """The unit registry, built once."""
    return pint.UnitRegistry()


@dataclass(frozen=True)
class AirSpring:
    """A spring with two chambers that share one pressure at full length; forces are over the piston's area, in bar.

    Attributes:
        compression: volume of the main chamber at full length over that at full travel.
        negative: volume swept over the whole travel over that of the negative chamber; 0 holds its pressure.
    """

    compression: float
    negative: float

    def force(self, pressure: float, share: float) -> float:
        """Force at a share of the travel, slowly compressed."""
        filled = pressure + ATMOSPHERE
        return filled / (1 - (1 - 1 / self.compression) * share) - filled / (1 + self.negative * share)

    def sag(self, pressure: float, weight: float) -> float:
        """Share of the travel at which the spring carries a weight."""
        return float(brentq(lambda share: self.force(pressure, share) - weight, 1e-9, 0.999, xtol=1e-14))


@given(PRESSURES, SHARES, SHARES, COMPRESSIONS, NEGATIVES)
def test_next_pressure_gives_the_sag_wanted_where_the_chambers_are_known(
    pressure: float, measured: float, wanted: float, compression: float, negative: float
) -> None:
    """At the pressure found, the force at the sag wanted is the weight that gave the sag measured."""
    spring = AirSpring(compression, negative)
    weight = spring.force(pressure, measured / 100)
    after = suspension.next_pressure(pressure, measured, wanted, compression, negative)
    assert spring.force(after, wanted / 100) == pytest.approx(weight, rel=1e-9)
    assert spring.sag(after, weight) * 100 == pytest.approx(wanted, abs=1e-6)


@given(PRESSURES, st.floats(15, 36), st.floats(15, 36), st.floats(1.5, 2.8), st.floats(1, 4))
def test_measuring_again_closes_in_on_the_sag_wanted(
    pressure: float, measured: float, wanted: float, compression: float, negative: float
) -> None:
    """Where they are not known, every round takes away at least half of what the sag is off."""
    spring = AirSpring(compression, negative)
    weight = spring.force(pressure, measured / 100)
    now, sag = pressure, measured
    for _ in range(3):
        off = abs(sag - wanted)
        now = suspension.next_pressure(now, sag, wanted)
        sag = spring.sag(now, weight) * 100
        assert abs(sag - wanted) <= 0.5 * off + 1e-6


@given(st.floats(6, 12), SHARES, SHARES, st.floats(1, 4), st.floats(0, 6))
def test_next_pressure_and_back_is_the_pressure_before(
    pressure: float, measured: float, wanted: float, compression: float, negative: float
) -> None:
    """Setting for another sag and back again ends where it began; less sag takes more air."""
    after = suspension.next_pressure(pressure, measured, wanted, compression, negative)
    assume(after <= suspension.PRESSURE.high)
    assert suspension.next_pressure(after, wanted, measured, compression, negative) == pytest.approx(pressure, rel=1e-9)
    assert (after > pressure) == (wanted < measured) or after == pytest.approx(pressure)


@given(PRESSURES, SHARES, SHARES)
def test_a_spring_of_which_nothing_is_known_to_bend_is_straight(
    pressure: float, measured: float, wanted: float
) -> None:
    """Without compression and negative chamber the absolute pressure goes with the sag as in a coil."""
    after = suspension.next_pressure(pressure, measured, wanted, 1, 0)
    assert (after + ATMOSPHERE) / (pressure + ATMOSPHERE) == pytest.approx(measured / wanted)


@given(PRESSURES, st.floats(1, 8), st.floats(1, 1.6))
def test_compressed_gas_keeps_its_polytropic_constant(pressure: float, ratio: float, exponent: float) -> None:
    """The absolute pressure times the volume to the power of the exponent stays the same."""
    after = suspension.compressed(pressure, ratio, exponent)
    before = (pressure + ATMOSPHERE) * 1.0**exponent
    assert (after + ATMOSPHERE) * (1 / ratio) ** exponent == pytest.approx(before)


@given(st.floats(2, 15), st.floats(3, 12), st.floats(60, 400), st.floats(1, 1.6))
def test_air_stiffness_is_the_slope_of_the_force(absolute: float, area: float, volume: float, exponent: float) -> None:
    """A small step of the piston changes the force by the stiffness times the step (central difference)."""

    def force(step_mm: float) -> float:
        pressed = absolute * 1e5 * (volume / (volume - area * step_mm / 10)) ** exponent
        return float(pressed * area * 1e-4)

    step = 1e-3
    slope = (force(step) - force(-step)) / (2 * step)
    assert suspension.air_stiffness(absolute, area, volume, exponent) == pytest.approx(slope, rel=1e-5)


@given(st.floats(1, 15), st.floats(3, 12), st.floats(60, 400))
def test_air_stiffness_has_the_dimension_of_a_spring_rate(absolute: float, area: float, volume: float) -> None:
    """Reckoned with units by pint, pressure times area squared over volume is a force over a length."""
    unit = registry()
    rate: Any = absolute * unit.bar * (area * unit.cm**2) ** 2 / (volume * unit.cm**3)
    assert suspension.air_stiffness(absolute, area, volume) == pytest.approx(rate.to("N/mm").magnitude)


@given(st.floats(20, 320), st.floats(1, 90))
def test_sag_both_ways_is_the_same(travel: float, share: float) -> None:
    """From percent to millimetres and back."""
    assert suspension.sag_share(suspension.sag_length(share, travel), travel) == pytest.approx(share)


@given(st.lists(st.floats(0, 100), min_size=1, max_size=10), st.floats(100, 200))
def test_several_tries_are_averaged(readings: list[float], travel: float) -> None:
    """The mean lies among the tries, and the spread is what lies between them."""
    sag = suspension.sag_readings(readings, travel)
    assert min(readings) - 1e-9 <= sag.length <= max(readings) + 1e-9
    assert sag.share == pytest.approx(sag.length / travel * 100)
    assert sag.spread == max(readings) - min(readings)


@given(st.floats(40, 150), st.floats(0.5, 0.75), st.floats(2, 3.5), st.floats(38, 75), st.floats(20, 38))
def test_coil_balances_the_rider_at_the_sag(mass: float, share: float, ratio: float, stroke: float, sag: float) -> None:
    """By statics: the coil pushed in by the sag carries the share of the weight times the leverage."""
    rate = suspension.coil_rate(mass, share, ratio, stroke, sag)
    settled = brentq(lambda pushed: rate * pushed - mass * 9.80665 * share * ratio, 0, 10 * stroke)
    assert settled / stroke * 100 == pytest.approx(sag)


@given(st.floats(20, 150), st.floats(100, 200), st.floats(45, 75))
def test_wheel_rate_stores_the_same_work(rate: float, travel: float, stroke: float) -> None:
    """The work put in over the wheel's travel is the work stored in the coil (by quadrature)."""
    ratio = suspension.leverage(travel, stroke)
    at_wheel = suspension.wheel_rate(rate, ratio)
    stored, _ = quad(lambda x: rate * x, 0, stroke)
    put_in, _ = quad(lambda x: at_wheel * x, 0, travel)
    assert put_in == pytest.approx(stored)


@pytest.mark.parametrize("end", ["fork", "shock"])
def test_rougher_use_takes_more_sag(end: str) -> None:
    """The bands rise from cross-country over trail to gravity and touch (common practice, no source)."""
    bands = [suspension.sag_band(end, use) for use in ("cross-country", "trail", "gravity")]
    assert [band.low for band in bands[1:]] == [band.high for band in bands[:-1]]
    assert bands[0].low < bands[0].high < bands[-1].high


@given(st.floats(1, 400), st.floats(0.5, 400))
def test_a_coil_that_is_off_by_so_much_is_that_much_off(fitted: float, needed: float) -> None:
    """The percentage leads back to the coil; the right one is off by nought, below nought is too soft."""
    off = suspension.rate_off(fitted, needed)
    assert needed * (1 + off / 100) == pytest.approx(fitted)
    assert (off < 0) == (fitted < needed)
    assert suspension.rate_off(fitted, fitted) == 0


@given(st.floats(0.3, 40), st.floats(0, 1), st.floats(0, 10))
def test_what_a_spring_loses_lies_between_nothing_and_all(first: float, left: float, own: float) -> None:
    """Nothing where only the pump took its share, all where nothing is left; more left is never more lost."""
    lost = suspension.spring_loss(first, first * left, own)
    assert 0 <= lost <= 100
    assert lost == pytest.approx(max(first * (1 - left) - own, 0) / first * 100)
    assert suspension.spring_loss(first, first, own) == 0
    assert suspension.spring_loss(first, 0) == pytest.approx(100)
    assert suspension.spring_loss(first, first * left * 0.9, own) >= lost


def test_a_spring_that_gained_air_is_refused() -> None:
    """Up to 5 % more is the gauge; beyond that the readings were exchanged."""
    assert suspension.spring_loss(6, 6.3) == 0
    with pytest.raises(InputError, match="rose"):
        suspension.spring_loss(6, 6.31)
