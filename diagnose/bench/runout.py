"""Run-out: what readings around a disc or a rim say about where it is off, and what to do.

Cast: `run_out` turns evenly spaced readings into a `RunOut`: how far in all, how much of it is a lean of the whole
(hub, mount, dish) and which spots are bent by themselves; `disc_bands` and `rim_bands` say what the figure means.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import cos, hypot, pi, sin
from statistics import median, pvariance
from typing import Final

from diagnose.bench.bands import Band
from diagnose.bench.span import Span
from diagnose.errors import InputError

READING: Final = Span("gauge reading", -60, 60, "mm")
SPOT: Final = Span("distance that counts as a bent spot", 0.01, 10, "mm")
FEWEST: Final = 4
MOST: Final = 48
_LEANS: Final = 0.75
"""Share of the readings' variance that a lean explains; a single bend among four readings explains two thirds."""


@dataclass(frozen=True, slots=True)
class Spot:
    """A place that is off by itself: its number as read, from 1, and how far in mm (+ as the gauge counts up)."""

    place: int
    off: float


@dataclass(frozen=True, slots=True)
class RunOut:
    """What the readings show; all in mm.

    Attributes:
        total: largest reading less the smallest.
        highest: place of the largest reading, counted from 1.
        lowest: place of the smallest reading, counted from 1.
        lean: run-out of the whole leaning once a turn, the best fit through the readings.
        leans: whether that is nearly all of it: look at seat, bolts and bearing before bending anything.
        spots: places that are off by themselves, the worst first.
    """

    total: float
    highest: int
    lowest: int
    lean: float
    leans: bool
    spots: tuple[Spot, ...]


def run_out(readings_mm: Sequence[float], spot_mm: float = 0.1) -> RunOut:
    """What evenly spaced readings of a gauge around a disc or a rim show.

    Formula: total = largest - smallest; lean = 2 x sqrt(a^2 + b^2), a and b fitting mean + a cos + b sin; spots = what
    is off the fit where the lean explains three quarters of the variance, else off the median.
    Source: definition of total run-out; harmonic analysis of evenly spaced readings.

    Args:
        readings_mm: 4 to 48 readings, each -60 to 60 mm, evenly spaced once around.
        spot_mm: how far a place may be off, the lean taken out, before it is named, 0.01 to 10 mm.

    Raises:
        InputError: a value out of its range, too few or too many readings.
    """
    readings, limit = READING.check_all(readings_mm, FEWEST, MOST), SPOT.check(spot_mm)
    total = max(readings) - min(readings)
    fit = _turn(readings)
    swing = hypot(fit.first, fit.second)
    leans = total > limit and swing**2 / 2 >= _LEANS * pvariance(readings)
    middle = median(readings)
    level = [fit.at(place) if leans else middle for place in range(len(readings))]
    spots = [Spot(place + 1, reading - level[place]) for place, reading in enumerate(readings)]
    off = sorted((spot for spot in spots if abs(spot.off) > limit), key=lambda spot: (-abs(spot.off), spot.place))
    highest, lowest = (readings.index(end(readings)) + 1 for end in (max, min))
    return RunOut(total, highest, lowest, 2 * swing, leans, tuple(off))


def disc_bands(good_mm: float = 0.2, true_mm: float = 0.5, reject_mm: float = 1.0) -> tuple[Band, ...]:
    """What the sideways run-out of a brake disc in mm means; a creased disc is renewed at any figure.

    Formula: good up to 0.2, true it up to 0.5, one try up to 1.0, new disc above.
    Source: common practice, no source.

    Args:
        good_mm: 0.01 to 10 mm.
        true_mm: not less.
        reject_mm: not less.

    Raises:
        InputError: a value out of its range or out of order.
    """
    _rising(good_mm, true_mm, reject_mm)
    return (
        Band("good", None, good_mm, right=True, with_high=True),
        Band("true it", good_mm, true_mm, with_low=False, with_high=True),
        Band("one try, then a new disc", true_mm, reject_mm, with_low=False, with_high=True),
        Band("new disc", reject_mm, None, with_low=False),
    )


def rim_bands(good_mm: float = 0.5, bent_mm: float = 3.0) -> tuple[Band, ...]:
    """What the sideways run-out of a rim in mm means; with disc brakes 1 mm is good.

    Formula: good up to 0.5, true it up to 3, above look for a bent rim or a broken spoke.
    Source: common practice, no source; ISO 4210-2 allows 1 mm with rim brakes, from memory.

    Args:
        good_mm: 0.01 to 10 mm.
        bent_mm: not less.

    Raises:
        InputError: a value out of its range or out of order.
    """
    _rising(good_mm, bent_mm)
    return (
        Band("good", None, good_mm, right=True, with_high=True),
        Band("true it", good_mm, bent_mm, with_low=False, with_high=True),
        Band("rim bent or spoke broken", bent_mm, None, with_low=False),
    )


@dataclass(frozen=True, slots=True)
class _Turn:
    """Mean of the readings, and the cosine and sine part that come round once a turn."""

    count: int
    mean: float
    first: float
    second: float

    def at(self, place: int) -> float:
        """What the fit says at a place, counted from 0."""
        angle = 2 * pi * place / self.count
        return self.mean + self.first * cos(angle) + self.second * sin(angle)


def _turn(readings: tuple[float, ...]) -> _Turn:
    count = len(readings)
    angles = [2 * pi * place / count for place in range(count)]
    first = 2 / count * sum(reading * cos(angle) for reading, angle in zip(readings, angles, strict=True))
    second = 2 / count * sum(reading * sin(angle) for reading, angle in zip(readings, angles, strict=True))
    return _Turn(count, sum(readings) / count, first, second)


def _rising(*edges: float) -> None:
    for edge in edges:
        SPOT.check(edge)
    if list(edges) != sorted(edges):
        raise InputError("bench-no-limit", "The limits of run-out must rise.", hint=SPOT.hint)
