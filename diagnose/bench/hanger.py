"""Derailleur hanger: how far it is bent, and which way, from a gauge read against the rim.

Cast: `hanger_angle` from two opposite readings; `hanger` from readings at 12, 3, 6 and 9 o'clock; `Hanger` holds what
they show. Readings are gaps in mm between gauge and rim, at the same spot of the rim each time, so that the wheel need
not be true.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import atan2, degrees
from typing import Final

from diagnose.bench.span import Span

GAP: Final = Span("gap between gauge and rim", 0, 80, "mm")
DIFFERENCE: Final = Span("difference between opposite readings", -80, 80, "mm")
ACROSS: Final = Span("distance between the two spots read", 200, 700, "mm")


@dataclass(frozen=True, slots=True)
class Hanger:
    """What the four readings show.

    Attributes:
        spread: largest reading less the smallest, in mm.
        upright: reading at 12 less that at 6, in mm.
        level: reading at 3 less that at 9, in mm.
        upright_angle: degrees that the hanger leans, seen from behind.
        level_angle: degrees that it is turned, seen from above.
        bend_at: clock position where the gauge is pressed towards the wheel to put it right; 0 where all are equal.
    """

    spread: float
    upright: float
    level: float
    upright_angle: float
    level_angle: float
    bend_at: int


def hanger_angle(difference_mm: float, across_mm: float) -> float:
    """Angle in degrees by which the hanger is off, from two opposite readings.

    Formula: angle = atan(difference / distance between the spots).
    Source: geometry.

    Args:
        difference_mm: one reading less the opposite one, -80 to 80 mm.
        across_mm: between the two spots, about the rim's diameter, 200 to 700 mm.

    Raises:
        InputError: a value out of its range.
    """
    return degrees(atan2(DIFFERENCE.check(difference_mm), ACROSS.check(across_mm)))


def hanger(gaps_mm: Sequence[float], across_mm: float) -> Hanger:
    """How far a hanger is off from four readings.

    Formula: spread = largest - smallest; each angle = atan(difference of opposite readings / distance between the
    spots).
    Source: geometry; clock positions of urbanvelo.org no. 32.

    Args:
        gaps_mm: readings at 12, 3, 6 and 9 o'clock in this order, each 0 to 80 mm.
        across_mm: between opposite spots, about the rim's diameter, 200 to 700 mm.

    Raises:
        InputError: a value out of its range, or another number of readings than four.
    """
    top, front, bottom, back = readings = GAP.check_all(gaps_mm, 4, 4)
    spread = max(readings) - min(readings)
    bend_at = (12, 3, 6, 9)[readings.index(max(readings))] if spread else 0
    upright, level = top - bottom, front - back
    angles = (hanger_angle(upright, across_mm), hanger_angle(level, across_mm))
    return Hanger(spread, upright, level, *angles, bend_at)
