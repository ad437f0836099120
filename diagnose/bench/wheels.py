"""Wheels: dish, spoke length, spoke tension, turns of a nipple.

Cast: `dish` from two gauge readings; `spoke_length` and `lacing_factor`; `tension_balance` of one side and
`other_side_tension` of a dished wheel; `nipple_travel`, `nipple_turns` and `turns_for_shift`. Run-out of a rim is in
`runout`. Lengths are in mm, tensions in kgf.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import cos, pi, sqrt
from typing import Final

from diagnose.bench.bolts import thread_pitch
from diagnose.bench.span import Span
from diagnose.errors import InputError

GAUGE: Final = Span("dish gauge reading", -60, 60, "mm")
ERD: Final = Span("effective rim diameter", 200, 720, "mm")
FLANGE: Final = Span("flange diameter at the holes", 20, 160, "mm")
OFFSET: Final = Span("flange offset from the middle", 0, 90, "mm")
HOLE: Final = Span("diameter of the spoke hole", 1.5, 5, "mm")
SPOKES: Final = Span("number of spokes", 8, 72, "count", whole=True)
CROSSES: Final = Span("number of crosses", 0, 9, "count", whole=True)
TENSION: Final = Span("spoke tension", 5, 250, "kgf")
SPOKE: Final = Span("length of the spoke", 60, 340, "mm")
TURNS: Final = Span("number of turns", -20, 20, "turns")
CORRECTION: Final = Span("correction", -15, 15, "mm")

SPOKE_THREADS: Final = 56.0
"""Threads to the inch of a spoke (DIN 79012 as quoted)."""
SPREAD: Final = 20.0
"""Percent that a spoke may lie off the mean of its side (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Dish:
    """How far the rim stands off the middle: in mm, towards `side` (`left`, `right`, or `middle`)."""

    off: float
    side: str


@dataclass(frozen=True, slots=True)
class Tension:
    """Tension of the spokes of one side.

    Attributes:
        mean: in kgf.
        spread: the larger distance from the mean, in percent of it.
        lowest: smallest tension in kgf.
        highest: largest tension in kgf.
        loose: places more than the limit below the mean, counted from 1.
        tight: places more than the limit above the mean.
    """

    mean: float
    spread: float
    lowest: float
    highest: float
    loose: tuple[int, ...]
    tight: tuple[int, ...]


def dish(left_mm: float, right_mm: float) -> Dish:
    """How far the rim stands off the middle, from a dish gauge set against each side in turn.

    Formula: off = (left - right) / 2, towards the side with the smaller gap.
    Source: geometry: turning the gauge over shows the error twice.

    Args:
        left_mm: gap between gauge and locknut (or rim) with the gauge on the left, -60 to 60 mm.
        right_mm: the same on the right. Gaps at the rim; read at the locknut, exchange the two.

    Raises:
        InputError: a value out of its range.
    """
    off = (GAUGE.check(left_mm) - GAUGE.check(right_mm)) / 2
    return Dish(abs(off), "right" if off > 0 else "left" if off < 0 else "middle")


def lacing_factor(spokes: int, crosses: int) -> float:
    """Twice the cosine of the angle that a spoke goes round the hub.

    Formula: factor = 2 x cos(360 x crosses / (spokes / 2)).
    Source: tristable.net, spoke length.

    Args:
        spokes: in the whole wheel, 8 to 72, even.
        crosses: 0 to 9, so that the spoke does not go past a right angle by more than a hole.

    Raises:
        InputError: a value out of its range, an odd number of spokes, or more crosses than the flange has room for.
    """
    return 2 * cos(_lacing_angle(spokes, crosses))


def spoke_length(
    erd_mm: float, flange_mm: float, offset_mm: float, spokes: int, crosses: int, hole_mm: float = 2.6
) -> float:
    """Spoke length in mm from the elbow to the end of the thread.

    Formula: length = sqrt(offset^2 + (flange/2)^2 + (ERD/2)^2 - 2 x flange/2 x ERD/2 x cos(a)) - hole / 2, a = 360 x
    crosses / (spokes / 2).
    Source: tristable.net, spoke length.

    Args:
        erd_mm: effective rim diameter, 200 to 720 mm.
        flange_mm: circle of the holes in the flange, 20 to 160 mm.
        offset_mm: flange to the middle between the locknuts, 0 to 90 mm.
        spokes: in the whole wheel, 8 to 72, even.
        crosses: 0 to 9.
        hole_mm: in the flange, 1.5 to 5 mm.

    Raises:
        InputError: a value out of its range, or a hub larger than the rim.
    """
    rim, hub, offset = ERD.check(erd_mm) / 2, FLANGE.check(flange_mm) / 2, OFFSET.check(offset_mm)
    angle, hole = _lacing_angle(spokes, crosses), HOLE.check(hole_mm)
    if hub >= rim - 20:
        hint = f"Less than {2 * rim - 40:.0f} mm makes sense with this rim."
        raise InputError("bench-out-of-range", "The flange does not fit into the rim.", hint=hint)
    return sqrt(offset**2 + hub**2 + rim**2 - 2 * hub * rim * cos(angle)) - hole / 2


def tension_balance(tensions_kgf: Sequence[float], limit_percent: float = SPREAD) -> Tension:
    """How evenly the spokes of one side are tightened.

    Formula: mean of all; spread = largest distance from the mean / mean x 100.
    Source: definition; 20 % is common practice, shops aim for 10.

    Args:
        tensions_kgf: one side in order, each 5 to 250 kgf, 4 to 36 spokes.
        limit_percent: how far a spoke may lie off the mean, 1 to 100 %.

    Raises:
        InputError: a value out of its range.
    """
    tensions = TENSION.check_all(tensions_kgf, 4, 36)
    limit = Span("spread allowed", 1, 100, "%").check(limit_percent)
    mean = sum(tensions) / len(tensions)
    off = [round((tension - mean) / mean * 100, 9) for tension in tensions]
    loose = tuple(place + 1 for place, share in enumerate(off) if share < -limit)
    tight = tuple(place + 1 for place, share in enumerate(off) if share > limit)
    return Tension(mean, max(map(abs, off)), min(tensions), max(tensions), loose, tight)


def other_side_tension(tension_kgf: float, offset_mm: float, other_offset_mm: float) -> float:
    """Tension in kgf on the other side of a dished wheel, as many spokes on each.

    Formula: other = tension x offset / other offset.
    Source: statics: the sideways pulls are equal.

    Args:
        tension_kgf: on the side measured, 5 to 250 kgf.
        offset_mm: of its flange from the middle, above 0 to 90 mm.
        other_offset_mm: of the other flange, above 0 to 90 mm.

    Raises:
        InputError: a value out of its range.
    """
    here, there = (Span(OFFSET.name, 1, OFFSET.high, "mm").check(value) for value in (offset_mm, other_offset_mm))
    return TENSION.check(tension_kgf) * here / there


def nipple_travel(turns: float, threads_per_inch: float = SPOKE_THREADS) -> float:
    """How far in mm a nipple moves along the spoke.

    Formula: travel = 25.4 / threads to the inch x turns.
    Source: 1 in = 25.4 mm; DIN 79012 as quoted for 56 threads.

    Args:
        turns: -20 to 20, positive to tighten.
        threads_per_inch: 4 to 120.

    Raises:
        InputError: a value out of its range.
    """
    return thread_pitch(threads_per_inch) * TURNS.check(turns)


def nipple_turns(travel_mm: float, threads_per_inch: float = SPOKE_THREADS) -> float:
    """Turns of a nipple for a way along the spoke.

    Formula: turns = travel x threads to the inch / 25.4.
    Source: 1 in = 25.4 mm; DIN 79012 as quoted for 56 threads.

    Args:
        travel_mm: -15 to 15 mm, positive to tighten.
        threads_per_inch: 4 to 120.

    Raises:
        InputError: a value out of its range.
    """
    return CORRECTION.check(travel_mm) / thread_pitch(threads_per_inch)


def turns_for_shift(
    shift_mm: float, offset_mm: float, spoke_mm: float, threads_per_inch: float = SPOKE_THREADS
) -> float:
    """Turns that all nipples of one side are tightened, those of the other side loosened, to move the rim sideways.

    Formula: turns = shift x offset / spoke x threads to the inch / 25.4.
    Source: geometry of a small shift: a spoke changes by the shift times its lean.

    Args:
        shift_mm: of the rim, -15 to 15 mm, towards the side that is tightened.
        offset_mm: of the flange from the middle, above 0 to 90 mm.
        spoke_mm: length of the spokes, 60 to 340 mm, more than the offset.
        threads_per_inch: 4 to 120.

    Raises:
        InputError: a value out of its range.
    """
    offset = Span(OFFSET.name, 1, OFFSET.high, "mm").check(offset_mm)
    spoke = Span(SPOKE.name, max(SPOKE.low, offset), SPOKE.high, "mm").check(spoke_mm)
    return nipple_turns(CORRECTION.check(shift_mm) * offset / spoke, threads_per_inch)


def _lacing_angle(spokes: int, crosses: int) -> float:
    """Angle in radians between a spoke's hole in the flange and its hole in the rim."""
    count, crossed = SPOKES.check(spokes), CROSSES.check(crosses)
    if count % 2:
        raise InputError("bench-not-whole", "The number of spokes is even.", hint=SPOKES.hint)
    angle = 2 * pi * crossed / (count / 2)
    if angle > pi * 0.6:
        most = int(0.3 * count / 2)
        raise InputError("bench-out-of-range", "So many crosses do not fit.", hint=f"At most {most} make sense.")
    return angle
