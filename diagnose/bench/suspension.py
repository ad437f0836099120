"""Suspension: sag both ways, the next pressure, the coil that fits.

Cast: `sag_share`, `sag_length` and `sag_readings` (several tries); `sag_band` by use; `next_pressure` from the sag
measured; `compressed` and `air_stiffness` of an air spring, `spring_loss` between two readings; `leverage`,
`coil_rate`, `rate_off` and `wheel_rate`. Lengths are in mm, pressures in bar over the outside air, spring rates in
N/mm, sag in percent of the fork's travel or the shock's stroke.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from diagnose.bench.span import Span, one_of
from diagnose.errors import InputError

ATMOSPHERE_BAR: Final = 1.01325
GRAVITY: Final = 9.80665
TYPICAL_NEGATIVE: Final = 2.0
"""Swept volume over that of the negative chamber where it is not known (from memory)."""

_STRAIGHT: Final = 1e-9
"""Below this bend of both chambers together the spring is straight; a float would lose it."""

TRAVEL: Final = Span("travel or stroke", 20, 320, "mm")
RING: Final = Span("o-ring's way from the seal", 0, 320, "mm")
SAG: Final = Span("sag", 1, 90, "% of travel")
PRESSURE: Final = Span("pressure in the air spring", 0.3, 40, "bar")
LEFT: Final = Span("pressure read again", 0, 40, "bar")
OWN_LOSS: Final = Span("loss of the pump itself", 0, 10, "bar")
COMPRESSION: Final = Span("compression ratio of the chamber", 1, 6, "ratio")
NEGATIVE: Final = Span("swept volume over the negative chamber", 0, 10, "ratio")
RATIO: Final = Span("volume ratio", 1, 20, "ratio")
EXPONENT: Final = Span("exponent of the gas law", 1, 1.67, "ratio")
ABSOLUTE: Final = Span("absolute pressure", 1, 60, "bar")
AREA: Final = Span("area of the piston", 1, 60, "cm2")
VOLUME: Final = Span("volume of the chamber", 5, 1000, "ml")
LOAD: Final = Span("weight of rider, kit and sprung parts", 5, 250, "kg")
SHARE: Final = Span("share of the weight on this end", 0.2, 1, "ratio")
LEVERAGE: Final = Span("leverage ratio", 0.8, 5, "ratio")
WHEEL_TRAVEL: Final = Span("wheel travel", 20, 320, "mm")
STROKE: Final = Span("stroke of the shock", 10, 120, "mm")
NEEDED: Final = Span("rate that is needed", 0.1, 4000, "N/mm")
RATE: Final = Span("spring rate", 1, 400, "N/mm")

BANDS: Final = {
    ("fork", "cross-country"): (15, 20), ("fork", "trail"): (20, 25), ("fork", "gravity"): (25, 30),
    ("shock", "cross-country"): (20, 25), ("shock", "trail"): (25, 30), ("shock", "gravity"): (30, 35),
}  # fmt: skip
"""Usual sag in percent by end and use (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Sag:
    """Sag from several tries.

    Attributes:
        share: mean, in percent of travel.
        length: mean, in mm.
        spread: largest reading less the smallest, in mm; more than a few mm asks for another try.
    """

    share: float
    length: float
    spread: float


@dataclass(frozen=True, slots=True)
class SagBand:
    """Sag that is usual, in percent of travel."""

    low: float
    high: float


def sag_share(sag_mm: float, travel_mm: float) -> float:
    """Sag in percent of travel, from the o-ring's way off the seal.

    Formula: share = sag / travel x 100.
    Source: shock set-up article, mtbiking.com.au.

    Args:
        sag_mm: 0 to 320 mm, at most the travel.
        travel_mm: the fork's travel or the shock's stroke, 20 to 320 mm.

    Raises:
        InputError: a value out of its range, or more sag than travel.
    """
    travel = TRAVEL.check(travel_mm)
    return Span(RING.name, 0, travel, "mm").check(sag_mm) / travel * 100


def sag_length(share_percent: float, travel_mm: float) -> float:
    """Sag in mm for a share of the travel.

    Formula: sag = travel x share / 100.
    Source: definition.

    Args:
        share_percent: 1 to 90 %.
        travel_mm: 20 to 320 mm.

    Raises:
        InputError: a value out of its range.
    """
    return TRAVEL.check(travel_mm) * SAG.check(share_percent) / 100


def sag_readings(readings_mm: Sequence[float], travel_mm: float) -> Sag:
    """Sag from one or several tries; three are usual.

    Formula: length = mean of the readings; share = length / travel x 100; spread = largest - smallest.
    Source: definition; repeating three times is common practice.

    Args:
        readings_mm: the o-ring's way off the seal, each 0 mm to the travel, 1 to 10 readings.
        travel_mm: the fork's travel or the shock's stroke, 20 to 320 mm.

    Raises:
        InputError: a value out of its range.
    """
    travel = TRAVEL.check(travel_mm)
    readings = Span(RING.name, 0, travel, "mm").check_all(readings_mm, 1, 10)
    mean = sum(readings) / len(readings)
    return Sag(sag_share(min(mean, travel), travel), mean, max(readings) - min(readings))


def sag_band(end: str | None = None, use: str | None = None) -> SagBand:
    """Sag that is usual at one end for one use; the maker's figure governs.

    Formula: fork 15 to 20, 20 to 25, 25 to 30 %, shock 20 to 25, 25 to 30, 30 to 35 % for cross-country, trail,
    gravity; else 20 to 30 %.
    Source: common practice, no source; 20 to 30 % is in a shock set-up article, mtbiking.com.au.

    Args:
        end: `fork` or `shock`; left out for the general band.
        use: `cross-country`, `trail` or `gravity`; left out for the general band.

    Raises:
        InputError: another word.
    """
    if end is not None:
        one_of("end of the bike", end, ("fork", "shock"))
    if use is not None:
        one_of("use", use, ("cross-country", "trail", "gravity"))
    if end is None or use is None:
        return SagBand(20, 30)
    return SagBand(*BANDS[end, use])


def next_pressure(
    pressure_bar: float,
    sag_percent: float,
    target_percent: float,
    compression: float = 1.0,
    negative: float = TYPICAL_NEGATIVE,
) -> float:
    """Pressure in bar to try next, from the sag at the pressure before. An estimate: measure the sag again afterwards.

    The rider's weight is the same at both pressures; main and negative chamber share one pressure at full length and
    are compressed slowly. Where the chambers are not known the defaults err towards too small a step.

    Formula: p2 + 1.01325 = (p1 + 1.01325) x f(s1) / f(s2), f(s) = 1 / (1 - c x s) - 1 / (1 + negative x s),
    c = 1 - 1 / compression; f(s) = s where both are nothing.
    Source: ideal gas at one temperature, absolute pressures, balance of forces; the negative chamber's size from
    memory.

    Args:
        pressure_bar: before, over the outside air, 0.3 to 40 bar.
        sag_percent: measured, 1 to 90 %.
        target_percent: wanted, 1 to 90 %.
        compression: volume of the main chamber at full length over that at full travel, 1 to 6; 1 where not known.
        negative: volume swept over the travel against that of the negative chamber, 0 to 10; 0 with a coil there.

    Raises:
        InputError: a value out of its range, or `bench-out-of-range` where the sag cannot be reached above 0 bar.
    """
    before, measured, wanted = (
        PRESSURE.check(pressure_bar) + ATMOSPHERE_BAR,
        SAG.check(sag_percent) / 100,
        SAG.check(target_percent) / 100,
    )
    main, other = 1 - 1 / COMPRESSION.check(compression), NEGATIVE.check(negative)
    after = before * _spring(measured, main, other) / _spring(wanted, main, other) - ATMOSPHERE_BAR
    return Span("pressure for that sag", 0, 80, "bar").check(after)


def compressed(pressure_bar: float, volume_ratio: float, exponent: float = 1.0) -> float:
    """Pressure in bar of a chamber pressed to a part of its volume.

    Formula: p2 = (p1 + 1.01325) x ratio^n - 1.01325.
    Source: ideal gas, absolute pressure.

    Args:
        pressure_bar: before, over the outside air, 0.3 to 40 bar.
        volume_ratio: volume before over volume after, 1 to 20.
        exponent: 1 for slow movement, 1.4 for a hit.

    Raises:
        InputError: a value out of its range.
    """
    before = PRESSURE.check(pressure_bar) + ATMOSPHERE_BAR
    squeezed: float = RATIO.check(volume_ratio) ** EXPONENT.check(exponent)
    return before * squeezed - ATMOSPHERE_BAR


def air_stiffness(absolute_bar: float, area_cm2: float, volume_cm3: float, exponent: float = 1.0) -> float:
    """Spring rate in N/mm of an air chamber at one point of its travel.

    Formula: rate = n x p x area^2 / volume.
    Source: air-spring stiffness, diracdelta.co.uk.

    Args:
        absolute_bar: pressure there, outside air included, 1 to 60 bar.
        area_cm2: of the piston, 1 to 60 cm2.
        volume_cm3: of the chamber there, 5 to 1000 cm3.
        exponent: 1 for slow movement, 1.4 for a hit.

    Raises:
        InputError: a value out of its range.
    """
    pressure, area = ABSOLUTE.check(absolute_bar) * 1e5, AREA.check(area_cm2) * 1e-4
    return EXPONENT.check(exponent) * pressure * area**2 / (VOLUME.check(volume_cm3) * 1e-6) / 1000


def leverage(wheel_travel_mm: float, stroke_mm: float) -> float:
    """Mean leverage ratio of a rear suspension.

    Formula: ratio = wheel travel / stroke.
    Source: spring-rate article, pinkbike.com.

    Args:
        wheel_travel_mm: 20 to 320 mm.
        stroke_mm: of the shock, 10 to 120 mm.

    Raises:
        InputError: a value out of its range, or a ratio outside 0.8 to 5.
    """
    return LEVERAGE.check(WHEEL_TRAVEL.check(wheel_travel_mm) / STROKE.check(stroke_mm))


def coil_rate(mass_kg: float, rear_share: float, leverage_ratio: float, stroke_mm: float, sag_percent: float) -> float:
    """Spring rate in N/mm of the coil that gives the sag wanted.

    Formula: rate = mass x 9.80665 x share x leverage / (stroke x sag / 100).
    Source: statics, with the mean leverage ratio.

    Args:
        mass_kg: rider, kit and sprung parts, 5 to 250 kg.
        rear_share: of the weight on the rear wheel, 0.2 to 1; about 0.6 standing on level pedals.
        leverage_ratio: wheel travel over stroke, 0.8 to 5.
        stroke_mm: of the shock, 10 to 120 mm.
        sag_percent: wanted, 1 to 90 %.

    Raises:
        InputError: a value out of its range.
    """
    force = LOAD.check(mass_kg) * GRAVITY * SHARE.check(rear_share) * LEVERAGE.check(leverage_ratio)
    return force / (STROKE.check(stroke_mm) * SAG.check(sag_percent) / 100)


def rate_off(fitted_n_mm: float, needed_n_mm: float) -> float:
    """How far a coil is off the rate that is needed, in percent of it; below zero it is too soft.

    Formula: off = (fitted / needed - 1) x 100.
    Source: definition.

    Args:
        fitted_n_mm: rate of the coil, 1 to 400 N/mm.
        needed_n_mm: rate that is needed, above 0 N/mm.

    Raises:
        InputError: a value out of its range.
    """
    return (RATE.check(fitted_n_mm) / NEEDED.check(needed_n_mm) - 1) * 100


def spring_loss(set_bar: float, again_bar: float, own_bar: float = 0.0) -> float:
    """What an air spring has lost in percent, beyond what the pump takes when it is screwed on.

    Formula: lost = (set - again - own) / set x 100, at least 0.
    Source: definition; both readings with one gauge, at one temperature.

    Args:
        set_bar: pressure that was set, 0.3 to 40 bar.
        again_bar: reading afterwards, 0 bar to 5 % above the first.
        own_bar: what the pump alone takes, 0 to 10 bar.

    Raises:
        InputError: a value out of its range, or `bench-out-of-range` where the pressure rose.
    """
    first, again, own = PRESSURE.check(set_bar), LEFT.check(again_bar), OWN_LOSS.check(own_bar)
    if again > first * 1.05:
        hint = f"0 to {first:.3g} bar makes sense."
        raise InputError("bench-out-of-range", "The pressure rose between the readings.", hint=hint)
    return max(first - again - own, 0.0) / first * 100


def wheel_rate(rate_n_mm: float, leverage_ratio: float) -> float:
    """Spring rate in N/mm as the wheel feels it.

    Formula: wheel rate = rate / leverage^2.
    Source: work at wheel and shock is the same, with a steady leverage ratio.

    Args:
        rate_n_mm: of the coil, 1 to 400 N/mm.
        leverage_ratio: wheel travel over stroke, 0.8 to 5.

    Raises:
        InputError: a value out of its range.
    """
    return RATE.check(rate_n_mm) / LEVERAGE.check(leverage_ratio) ** 2


def _spring(share: float, main: float, negative: float) -> float:
    """Force of the spring at a share of the travel, over the pressure that fills it."""
    if main + negative < _STRAIGHT:
        return share
    return share * (main / (1 - main * share) + negative / (1 + negative * share))
