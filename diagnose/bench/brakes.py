"""Brakes: what is left of disc and pads, the lever's reserve, the caliper's middle, readings made comparable.

Cast: `wear_left` for anything that wears from new to a least size; `lever_reserve`; `centring` from two gaps;
`force_at` and `distance_at` correct a measured brake force and stopping distance. Run-out of a disc is in `runout`.
Lengths are in mm.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from diagnose.bench.bands import Band
from diagnose.bench.span import Span
from diagnose.errors import InputError

THICKNESS: Final = Span("thickness", 0, 12, "mm")
LEVER_GAP: Final = Span("gap between lever and grip", 0, 120, "mm")
PAD_GAP: Final = Span("gap between pad and disc or rim", 0, 8, "mm")
BRAKE_FORCE: Final = Span("brake force", 1, 5000, "N")
LEVER_FORCE: Final = Span("force on the lever", 1, 500, "N")
SPEED: Final = Span("speed", 1, 80, "km/h")
DISTANCE: Final = Span("stopping distance", 0.1, 100, "m")


@dataclass(frozen=True, slots=True)
class WearLeft:
    """What is left before a part is worn out.

    Attributes:
        left: in mm above the least size; negative where it is past it.
        share: of what may wear, 0 to 1.
    """

    left: float
    share: float


@dataclass(frozen=True, slots=True)
class LeverReserve:
    """Room between lever and grip when pulled hard.

    Attributes:
        left: in mm.
        stroke: what the lever moved, in mm.
        share: room left of the room at rest, 0 to 1.
    """

    left: float
    stroke: float
    share: float


@dataclass(frozen=True, slots=True)
class Centring:
    """How to centre a caliper or rim brake.

    Attributes:
        shift: how far the brake is moved in mm, positive to the right: towards the side with the smaller gap.
        each: gap on each side afterwards, in mm.
        difference: the larger gap less the smaller, in mm.
    """

    shift: float
    each: float
    difference: float


def wear_left(measured_mm: float, new_mm: float, least_mm: float) -> WearLeft:
    """What is left of a disc's track or a pad's lining, in mm and as a share of what may wear.

    Formula: left = measured - least; share = left / (new - least), held between 0 and 1.
    Source: definition; the least thickness is the mark on the disc or the maker's figure for the pad.

    Args:
        measured_mm: thinnest of several places, 0 to 12 mm; the lining without its back plate.
        new_mm: when new, 0 to 12 mm, more than the least.
        least_mm: worn out, 0 to 12 mm.

    Raises:
        InputError: a value out of its range, or `bench-no-limit` where new is not above the least.
    """
    measured, new, least = (
        Span(f"{name} thickness", THICKNESS.low, THICKNESS.high, "mm").check(value)
        for name, value in (("measured", measured_mm), ("new", new_mm), ("least", least_mm))
    )
    if new <= least:
        hint = f"More than {least:.3g} mm makes sense."
        raise InputError("bench-no-limit", "The thickness when new must be above the least.", hint=hint)
    left = measured - least
    return WearLeft(left, min(max(left / (new - least), 0.0), 1.0))


def wear_bands(least_mm: float, plan_mm: float) -> tuple[Band, ...]:
    """What a thickness in mm means: replace below the least, plan new parts up to `plan_mm`, good above.

    Formula: replace below the least; plan from there up to the second figure; good above.
    Source: common practice, no source.

    Args:
        least_mm: 0 to 12 mm.
        plan_mm: 0 to 12 mm, not less than the least.

    Raises:
        InputError: a value out of its range or out of order.
    """
    least, plan = THICKNESS.check(least_mm), THICKNESS.check(plan_mm)
    if plan < least:
        hint = f"{least:.3g} mm or more makes sense."
        raise InputError("bench-no-limit", "New parts are planned before the least thickness.", hint=hint)
    return (
        Band("replace", None, least),
        Band("plan new parts", least, plan),
        Band("good", plan, None, right=True),
    )


def lever_reserve(at_rest_mm: float, pulled_mm: float) -> LeverReserve:
    """Room between lever and grip when pulled hard, and how far the lever moved.

    Formula: stroke = at rest - pulled; share = pulled / at rest.
    Source: definition; measured where the middle finger pulls.

    Args:
        at_rest_mm: gap between lever and grip at rest, 5 to 120 mm.
        pulled_mm: the same pulled hard, 0 mm to the gap at rest.

    Raises:
        InputError: a value out of its range, or more room pulled than at rest.
    """
    rest = Span("gap at rest", 5, LEVER_GAP.high, "mm").check(at_rest_mm)
    pulled = Span("gap when pulled", 0, rest, "mm").check(pulled_mm)
    return LeverReserve(pulled, rest - pulled, pulled / rest)


def lever_bands() -> tuple[Band, ...]:
    """What the room left in mm means.

    Formula: do not ride below 10, look closer up to 25, good from there.
    Source: 25 mm: League of American Bicyclists check list; 10 to 15 mm: common practice, no source.
    """
    return (
        Band("do not ride", None, 10),
        Band("look closer", 10, 25),
        Band("good", 25, None, right=True),
    )


def centring(left_mm: float, right_mm: float) -> Centring:
    """How far a caliper or rim brake is off its middle, from the gaps at rest.

    Formula: shift = (left - right) / 2; each = (left + right) / 2.
    Source: geometry.

    Args:
        left_mm: gap on the left as the rider sits, 0 to 8 mm.
        right_mm: gap on the right, 0 to 8 mm.

    Raises:
        InputError: a value out of its range, or no gap on either side: there is nothing to share out.
    """
    left, right = PAD_GAP.check(left_mm), PAD_GAP.check(right_mm)
    if left + right == 0:
        hint = "Make room first, so that one side has a gap; 0 to 8 mm makes sense."
        raise InputError("bench-no-gap", "Both pads touch: there is no gap to share out.", hint=hint)
    return Centring((left - right) / 2, (left + right) / 2, abs(left - right))


def force_at(recorded_force_n: float, intended_n: float, recorded_n: float) -> float:
    """Brake force in N brought to the lever force that was meant.

    Formula: force = recorded force x intended / recorded.
    Source: TBIS 4210-4:2017; EN 14766:2005 (withdrawn).

    Args:
        recorded_force_n: brake force measured, 1 to 5000 N.
        intended_n: lever force meant, 1 to 500 N.
        recorded_n: lever force that there was, 1 to 500 N.

    Raises:
        InputError: a value out of its range.
    """
    force = BRAKE_FORCE.check(recorded_force_n)
    return force * LEVER_FORCE.check(intended_n) / LEVER_FORCE.check(recorded_n)


def distance_at(specified_kmh: float, measured_kmh: float, measured_m: float) -> float:
    """Stopping distance in m brought to the speed that was meant.

    Formula: distance = (specified / measured)^2 x measured distance.
    Source: EN 14766:2005 (withdrawn).

    Args:
        specified_kmh: speed meant, 1 to 80 km/h.
        measured_kmh: speed ridden, 1 to 80 km/h.
        measured_m: 0.1 to 100 m.

    Raises:
        InputError: a value out of its range.
    """
    return (SPEED.check(specified_kmh) / SPEED.check(measured_kmh)) ** 2 * DISTANCE.check(measured_m)
