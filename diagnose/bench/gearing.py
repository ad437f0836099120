"""Gearing: how far a turn of the cranks carries, what a derailleur must take up, and the bolt circle of a ring.

Cast: `ratio`, `development`, `gear_inches`, `gain_ratio`; `capacity` of a rear derailleur; `bolt_distance` and
`bolt_circle`, `nearest_circle` for the standard size. Lengths are in mm unless the name says otherwise.
"""

from __future__ import annotations

from math import pi, sin
from typing import Final

from diagnose.bench.chain import RING, SPROCKET
from diagnose.bench.span import Span
from diagnose.errors import InputError

ROLLOUT: Final = Span("circumference of the wheel", 500, 3000, "mm")
WHEEL: Final = Span("diameter of the wheel", 8, 36, "in")
WHEEL_RADIUS: Final = Span("radius of the wheel", 80, 480, "mm")
CRANK: Final = Span("length of the crank", 75, 220, "mm")
ARMS: Final = Span("number of arms", 3, 10, "count", whole=True)
CIRCLE: Final = Span("bolt circle", 30, 200, "mm")
CHORD: Final = Span("distance between neighbouring bolts", 15, 175, "mm")

CIRCLES: Final = {4: (58, 64, 68, 76, 80, 88, 94, 96, 102, 104, 107, 110, 112, 120, 146), 5: (
    56, 58, 74, 86, 92, 94, 110, 116, 118, 122, 128, 130, 135, 144, 151), 3: (50.4, 56, 106)}  # fmt: skip
"""Bolt circles in use in mm by the number of arms, from memory; those of the reference table are among them."""


def ratio(ring_teeth: int, sprocket_teeth: int) -> float:
    """Turns of the wheel for one turn of the cranks.

    Formula: ratio = ring / sprocket.
    Source: definition.

    Args:
        ring_teeth: 18 to 80.
        sprocket_teeth: 8 to 60.

    Raises:
        InputError: a value out of its range.
    """
    return RING.check(ring_teeth) / SPROCKET.check(sprocket_teeth)


def development(ring_teeth: int, sprocket_teeth: int, circumference_mm: float) -> float:
    """Distance in m for one turn of the cranks.

    Formula: development = ring / sprocket x circumference / 1000.
    Source: definition.

    Args:
        ring_teeth: 18 to 80.
        sprocket_teeth: 8 to 60.
        circumference_mm: rolled out or from the tyre's size, 500 to 3000 mm.

    Raises:
        InputError: a value out of its range.
    """
    return ratio(ring_teeth, sprocket_teeth) * ROLLOUT.check(circumference_mm) / 1000


def gear_inches(ring_teeth: int, sprocket_teeth: int, wheel_in: float) -> float:
    """Diameter in inches of the wheel that would go as far without gears.

    Formula: gear inches = ring / sprocket x wheel diameter.
    Source: definition; the track convention takes 27 in, whatever the wheel.

    Args:
        ring_teeth: 18 to 80.
        sprocket_teeth: 8 to 60.
        wheel_in: diameter over the tyre, 8 to 36 in; `rolled_diameter` gives it from the circumference.

    Raises:
        InputError: a value out of its range.
    """
    return ratio(ring_teeth, sprocket_teeth) * WHEEL.check(wheel_in)


def rolled_diameter(circumference_mm: float) -> float:
    """Diameter in inches of a wheel with this circumference.

    Formula: diameter = circumference / (pi x 25.4).
    Source: geometry; 1 in = 25.4 mm.

    Args:
        circumference_mm: 500 to 3000 mm.

    Raises:
        InputError: the circumference out of range.
    """
    return ROLLOUT.check(circumference_mm) / (pi * 25.4)


def gain_ratio(ring_teeth: int, sprocket_teeth: int, wheel_radius_mm: float, crank_mm: float) -> float:
    """Distance on the road for the distance that the pedal goes round.

    Formula: gain ratio = ring / sprocket x wheel radius / crank.
    Source: definition (gear chart, cycletourist.com).

    Args:
        ring_teeth: 18 to 80.
        sprocket_teeth: 8 to 60.
        wheel_radius_mm: over the tyre, 80 to 480 mm.
        crank_mm: middle of the bracket to middle of the pedal, 75 to 220 mm.

    Raises:
        InputError: a value out of its range.
    """
    radius, crank = WHEEL_RADIUS.check(wheel_radius_mm), CRANK.check(crank_mm)
    return ratio(ring_teeth, sprocket_teeth) * radius / crank


def capacity(ring_most: int, ring_least: int, sprocket_most: int, sprocket_least: int) -> int:
    """Teeth of difference that the rear derailleur must take up.

    Formula: capacity = (largest ring - smallest ring) + (largest sprocket - smallest sprocket).
    Source: velogear.com; tkacz.pro.

    Args:
        ring_most: largest ring, 18 to 80 teeth.
        ring_least: smallest ring, 18 to 80 teeth, not larger.
        sprocket_most: largest sprocket, 8 to 60 teeth.
        sprocket_least: smallest sprocket, 8 to 60 teeth, not larger.

    Raises:
        InputError: a value out of its range, or `bench-out-of-range` where the smallest is larger than the largest.
    """
    rings = RING.check(ring_most) - RING.check(ring_least)
    sprockets = SPROCKET.check(sprocket_most) - SPROCKET.check(sprocket_least)
    if rings < 0 or sprockets < 0:
        message = "The smallest of a set has more teeth than the largest."
        raise InputError("bench-out-of-range", message, hint="Give the largest first, then the smallest.")
    return int(rings + sprockets)


def bolt_distance(circle_mm: float, arms: int) -> float:
    """Distance in mm between the middles of neighbouring bolts.

    Formula: distance = circle x sin(180 / arms).
    Source: geometry of a regular polygon; tabulated by sheldonbrown.com.

    Args:
        circle_mm: bolt circle, 30 to 200 mm.
        arms: evenly spaced, 3 to 10.

    Raises:
        InputError: a value out of its range.
    """
    return CIRCLE.check(circle_mm) * sin(pi / ARMS.check(arms))


def bolt_circle(chord_mm: float, arms: int) -> float:
    """Bolt circle in mm from the distance between the middles of neighbouring bolts.

    Formula: circle = distance / sin(180 / arms).
    Source: geometry of a regular polygon; tabulated by sheldonbrown.com.

    Args:
        chord_mm: 15 to 175 mm, and so that the circle is 30 to 200 mm.
        arms: evenly spaced, 3 to 10; uneven arms cannot be found so.

    Raises:
        InputError: a value out of its range.
    """
    circle = CHORD.check(chord_mm) / sin(pi / ARMS.check(arms))
    return CIRCLE.check(circle)


def nearest_circle(circle_mm: float, arms: int) -> float | None:
    """The bolt circle in use, in mm, that lies nearest to a measured one; None where none is known for so many arms.

    Formula: the least difference among the sizes in use.
    Source: sizes in use, from memory.

    Args:
        circle_mm: measured, 30 to 200 mm.
        arms: 3 to 10.

    Raises:
        InputError: a value out of its range.
    """
    measured, known = CIRCLE.check(circle_mm), CIRCLES.get(int(ARMS.check(arms)), ())
    return min(known, key=lambda size: abs(size - measured), default=None)
