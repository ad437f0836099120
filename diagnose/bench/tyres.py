"""Tyres: how big the wheel is, how wide the rim may be, how much air goes in, and what a cut or a leak asks for.

Cast: `circumference`, `overall_diameter`; `rim_guide` and `rim_fit` for the width; `pressure_limit`, `pressure_least`
and `starting_pressure`; `cut_repair`; `leak` from two readings. Sizes by name are in `sizes`. Lengths are in mm,
pressures in bar over the outside air.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import inf, log, pi
from typing import Final

from diagnose.bench.bands import Band
from diagnose.bench.span import Span, one_of
from diagnose.bench.units import convert
from diagnose.errors import InputError

WIDTH: Final = Span("width of the tyre", 16, 130, "mm")
BEAD_SEAT: Final = Span("bead seat diameter", 80, 800, "mm")
RIM_WIDTH: Final = Span("inner width of the rim", 10, 110, "mm")
PRESSURE: Final = Span("pressure", 0.2, 16, "bar")
WHEEL_LOAD: Final = Span("weight on this wheel", 5, 200, "kg")
CUT: Final = Span("length of the cut", 0.1, 100, "mm")
HOURS: Final = Span("time between the readings", 0.05, 24 * 60, "h")
TEMPERATURE: Final = Span("temperature", -30, 60, "°C")

HOOKLESS_MOST: Final = 5.0
"""Highest pressure in bar on a hookless road rim (schwalbe.com)."""
TREAD_PLUG: Final = (5.0, 6.0)
"""Cut in mm that a plug holds for certain, and at most (common practice, no source)."""
HOOKLESS_OVERLAP: Final = 4.0
"""Least tyre width in mm over the inner width of a hookless rim: ETRTO 2023 asks 29 on 25 as quoted by a rim maker,
5 mm as quoted by a magazine; sources disagree."""
TUBELESS_FLOOR: Final = 0.5
"""Below this pressure in bar the sum says nothing; it is for tyres far wider than the chart."""
USUAL_RATIO: Final = (1.45, 2.0)
"""Tyre width over inner rim width that is usual (sheldonbrown.com, tire sizing, as quoted)."""


@dataclass(frozen=True, slots=True)
class RimFit:
    """A tyre's width against the rim.

    Attributes:
        ratio: tyre width over inner rim width.
        guide: inner rim width in mm by the older rule of ISO 5775.
        verdict: `right`, `rim too narrow`, `rim too wide`, or `not allowed` on a hookless rim.
    """

    ratio: float
    guide: float
    verdict: str


@dataclass(frozen=True, slots=True)
class PressureLimit:
    """Highest pressure in bar, and which limit sets it: `tyre`, `rim` or `hookless`."""

    high: float
    governs: str


@dataclass(frozen=True, slots=True)
class StartingPressure:
    """A pressure to begin with.

    Attributes:
        pressure: in bar, held between `least` and `most`.
        unbounded: what the sum alone gives, in bar.
        least: lowest pressure in bar for this width; None without a tube.
        most: highest pressure in bar by the limits given; None where none was.
    """

    pressure: float
    unbounded: float
    least: float | None
    most: float | None


@dataclass(frozen=True, slots=True)
class Leak:
    """How fast a tyre loses air.

    Attributes:
        lost: share of the pressure lost between the readings, in percent, the temperature taken out.
        per_12_h: the same over twelve hours, in percent.
        half_h: hours in which half the pressure goes; infinite where nothing is lost.
    """

    lost: float
    per_12_h: float
    half_h: float


def circumference(width_mm: float, bead_seat_mm: float) -> float:
    """Circumference of the wheel in mm; a roll-out with the rider on it is better by 1 to 2 %.

    Formula: circumference = pi x (bead seat + 2 x width).
    Source: sheldonbrown.com, cyclecomputer calibration.

    Args:
        width_mm: of the tyre, 16 to 130 mm.
        bead_seat_mm: 80 to 800 mm.

    Raises:
        InputError: a value out of its range.
    """
    return pi * (BEAD_SEAT.check(bead_seat_mm) + 2 * WIDTH.check(width_mm))


def overall_diameter(width_mm: float, bead_seat_mm: float) -> float:
    """Diameter over the tyre in mm.

    Formula: diameter = bead seat + 2 x height, height = width, or width + 2.5 below 28 mm.
    Source: ISO 5775 (older edition) as restated by en-academic.com.

    Args:
        width_mm: of the tyre, 16 to 130 mm.
        bead_seat_mm: 80 to 800 mm.

    Raises:
        InputError: a value out of its range.
    """
    width = WIDTH.check(width_mm)
    return BEAD_SEAT.check(bead_seat_mm) + 2 * (width + 2.5 if width < 28 else width)


def rim_guide(width_mm: float) -> float:
    """Inner rim width in mm for a tyre by the older rule; later rims are wider.

    Formula: rim = 0.65 x tyre below 30 mm, 0.55 x tyre from there.
    Source: ISO 5775 (older edition) as restated by en-academic.com.

    Args:
        width_mm: of the tyre, 16 to 130 mm.

    Raises:
        InputError: the width out of range.
    """
    width = WIDTH.check(width_mm)
    return width * (0.65 if width < 30 else 0.55)


def rim_fit(width_mm: float, rim_mm: float, *, hookless: bool = False) -> RimFit:
    """Whether a tyre's width suits a rim; the makers' lists govern.

    Formula: right where 1.45 <= tyre / rim <= 2.0; hookless: tyre at least 4 mm wider than the rim.
    Source: sheldonbrown.com, tire sizing, as quoted; ETRTO 2023 for hookless rims, second-hand; sources disagree
    (4 or 5 mm).

    Args:
        width_mm: of the tyre, 16 to 130 mm.
        rim_mm: inner width, 10 to 110 mm.
        hookless: whether the rim has no hooks.

    Raises:
        InputError: a value out of its range.
    """
    width, rim = WIDTH.check(width_mm), RIM_WIDTH.check(rim_mm)
    ratio, (least, most) = width / rim, USUAL_RATIO
    if hookless and width < rim + HOOKLESS_OVERLAP:
        verdict = "not allowed"
    elif ratio < least:
        verdict = "rim too wide"
    else:
        verdict = "rim too narrow" if ratio > most else "right"
    return RimFit(ratio, rim_guide(width), verdict)


def pressure_limit(tyre_bar: float | None, rim_bar: float | None, *, hookless: bool = False) -> PressureLimit:
    """Highest pressure in bar that tyre and rim allow together, also for seating a bead.

    Formula: high = min(tyre, rim), and 5 bar on a hookless rim.
    Source: TBIS 4210-1:2018 2.27 (the lower governs); schwalbe.com for hookless road rims.

    Args:
        tyre_bar: marked on the tyre, 0.2 to 16 bar; None where it marks none.
        rim_bar: marked on the rim, 0.2 to 16 bar; None where it marks none.
        hookless: whether the rim has no hooks.

    Raises:
        InputError: a value out of its range, or `bench-missing` where nothing limits the pressure.
    """
    limits = [(PRESSURE.check(bar), name) for bar, name in ((tyre_bar, "tyre"), (rim_bar, "rim")) if bar is not None]
    if hookless:
        limits.append((HOOKLESS_MOST, "hookless"))
    if not limits:
        raise InputError("bench-missing", "The marking of the tyre or of the rim is missing.", hint=PRESSURE.hint)
    return PressureLimit(*min(limits, key=lambda limit: limit[0]))


def pressure_least(width_mm: float, *, off_road: bool = False) -> float:
    """Lowest pressure in bar for a tyre with a tube.

    Formula: 3 bar up to 25 mm, else 2 bar on the road and 1.5 bar off it.
    Source: ISO 5775 (older edition) as restated by en-academic.com.

    Args:
        width_mm: of the tyre, 16 to 130 mm.
        off_road: whether it is ridden off the road.

    Raises:
        InputError: the width out of range.
    """
    if WIDTH.check(width_mm) <= 25:
        return 3.0
    return 1.5 if off_road else 2.0


def starting_pressure(
    width_mm: float, load_kg: float, most_bar: float | None = None, *, off_road: bool = False, tubeless: bool = False
) -> StartingPressure:
    """Pressure in bar to begin with: the tyre gives way by about 15 % of its height. Good to about 15 %.

    Formula: psi = 153.6 x pounds on the wheel / width^1.5785 - 7.1685, held between the least pressure and the limit.
    Source: fit to the chart of 15 % tyre drop in Bicycle Quarterly, from public code; ISO 5775 (older edition)
    for the least.

    Args:
        width_mm: measured on the rim, 16 to 130 mm; the chart ends at about 40 mm.
        load_kg: rider, kit and bike on this wheel, 5 to 200 kg; often four tenths in front and six behind.
        most_bar: from `pressure_limit`, 0.2 to 16 bar; None where it is not known.
        off_road: whether it is ridden off the road.
        tubeless: without a tube the least pressure is what the tyre marks, not `pressure_least`.

    Raises:
        InputError: a value out of its range.
    """
    width, load = WIDTH.check(width_mm), convert(WHEEL_LOAD.check(load_kg), "kg", "lb")
    alone = convert(153.6 * load / width**1.5785 - 7.1685, "psi", "bar")
    least = None if tubeless else pressure_least(width, off_road=off_road)
    held = max(alone, TUBELESS_FLOOR if least is None else least)
    if most_bar is not None:
        held = min(held, PRESSURE.check(most_bar))
    return StartingPressure(held, alone, least, most_bar)


def cut_repair(cut_mm: float, place: str) -> str:
    """What a cut in a tubeless tyre asks for: `plug`, `patch inside` or `new tyre`.

    Formula: tread: plug up to 5 mm, patch inside up to 6 mm, above a new tyre; sidewall: a new tyre.
    Source: common practice, no source.

    Args:
        cut_mm: 0.1 to 100 mm.
        place: `tread` or `sidewall`.

    Raises:
        InputError: the cut out of range or another word.
    """
    cut, (sure, most) = CUT.check(cut_mm), TREAD_PLUG
    if one_of("place", place, ("tread", "sidewall")) == "sidewall" or cut > most:
        return "new tyre"
    return "plug" if cut <= sure else "patch inside"


def leak(
    first_bar: float, second_bar: float, hours: float, first_c: float | None = None, second_c: float | None = None
) -> Leak:
    """How fast a tyre loses air, from two readings with the same gauge.

    Formula: lost = 1 - p2 x (T1 / T2) / p1 (absolute for the temperature); per 12 h = 1 - (1 - lost)^(12 / hours).
    Source: even loss by share; ideal gas for the temperature.

    Args:
        first_bar: first reading over the outside air, 0.2 to 16 bar.
        second_bar: second reading, 0 bar to 5 % above the first.
        hours: between them, 0.05 to 1440 h; wait a quarter of an hour after pumping before the first.
        first_c: temperature of the tyre at the first reading, -30 to 60 °C; give both or none.
        second_c: at the second reading.

    Raises:
        InputError: a value out of its range, or `bench-out-of-range` where the pressure rose.
    """
    first, time = PRESSURE.check(first_bar), HOURS.check(hours)
    second = Span("second pressure", 0, PRESSURE.high, "bar").check(second_bar)
    if first_c is not None or second_c is not None:
        warm = (TEMPERATURE.check(first_c) + 273.15) / (TEMPERATURE.check(second_c) + 273.15)
        second = (second + 1.01325) * warm - 1.01325
    if second > first * 1.05:
        hint = f"0 to {first:.3g} bar makes sense, or give both temperatures."
        raise InputError("bench-out-of-range", "The pressure rose between the readings.", hint=hint)
    left = min(max(second / first, 0.0), 1.0)
    per_12 = 1 - left ** (12 / time)
    return Leak((1 - left) * 100, per_12 * 100, _half_life(left, time))


def leak_bands() -> tuple[Band, ...]:
    """What the loss over twelve hours in percent means (common practice, no source; tubes of butyl)."""
    return (
        Band("normal", None, 10, right=True, with_high=True),
        Band("watch it", 10, 20, with_low=False, with_high=True),
        Band("leak", 20, None, with_low=False),
    )


def _half_life(left: float, hours: float) -> float:
    """Hours in which half goes, where `left` of it is left after `hours`."""
    if left <= 0:
        return 0.0
    return inf if left >= 1 else hours * log(0.5) / log(left)
