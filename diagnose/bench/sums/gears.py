"""The sums of gears, rings and the derailleur hanger."""

from __future__ import annotations

from math import pi
from typing import Final

from diagnose.bench import gearing, hanger, tyres
from diagnose.bench.bands import around
from diagnose.bench.chain import RING, SPROCKET
from diagnose.bench.span import Span
from diagnose.bench.sums.givens import Number, Readings, Several
from diagnose.bench.sums.model import Answer, Part, Sum
from diagnose.bench.units import show
from diagnose.errors import InputError

_LISTED: Final = Span("capacity listed for the mech", 5, 80, "teeth", whole=True)
_ALLOWED: Final = Span("spread allowed", 0.5, 20, "mm")


def _gear(given: Readings) -> Answer:
    ring, sprocket, crank = given.whole("ring"), given.whole("sprocket"), given.maybe("crank")
    rolled = _rolled(given)
    parts = [
        Part("ratio", gearing.ratio(ring, sprocket), "ratio"),
        Part("gear inches", gearing.gear_inches(ring, sprocket, gearing.rolled_diameter(rolled)), "in"),
        Part("circumference", rolled, "mm"),
    ]
    if crank is not None:
        gain = gearing.gain_ratio(ring, sprocket, rolled / (2 * pi), crank)
        parts.append(Part("gain ratio", gain, "ratio"))
    return Answer(
        gearing.development(ring, sprocket, rolled), "m", verdict="for one turn of the cranks", parts=tuple(parts)
    )


def _rolled(given: Readings) -> float:
    """Circumference as given, or from the tyre's size."""
    rolled, width, seat = given.maybe("circumference"), given.maybe("width"), given.maybe("bead-seat")
    if rolled is not None:
        return rolled
    if width is None or seat is None:
        hint = f"Give the circumference ({gearing.ROLLOUT.hint.removesuffix('.')}), or width and bead seat of the tyre."
        raise InputError("bench-missing", "The size of the wheel is missing.", hint=hint)
    return tyres.circumference(width, seat)


def _mech_capacity(given: Readings) -> Answer:
    rings = (given.whole("largest-ring"), given.whole("smallest-ring"))
    needed = gearing.capacity(*rings, given.whole("largest-sprocket"), given.whole("smallest-sprocket"))
    listed = given.maybe("listed")
    if listed is None:
        return Answer(float(needed), "teeth", verdict="needed")
    spare = int(listed) - needed
    verdict = f"fits, {show(spare, 'teeth')} to spare" if spare >= 0 else f"{show(-spare, 'teeth')} too many"
    note = "The largest sprocket that the mech takes is a limit of its own; see its marking."
    return Answer(float(needed), "teeth", None, listed, verdict, notes=(note,))


def _bolt_circle(given: Readings) -> Answer:
    arms = given.whole("arms")
    circle = gearing.bolt_circle(given.number("distance"), arms)
    near = gearing.nearest_circle(circle, arms)
    if near is None or abs(near - circle) > 1:
        return Answer(circle, "mm", verdict="no size in use is near", notes=("Measure again, middle to middle.",))
    parts = (
        Part("nearest size in use", near, "mm"),
        Part("distance of that size", gearing.bolt_distance(near, arms), "mm"),
    )
    return Answer(circle, "mm", verdict=f"nearest is {show(near, 'mm')}", parts=parts)


def _hanger(given: Readings) -> Answer:
    allowed = given.number("allowed")
    bent = hanger.hanger(given.row("gaps"), given.number("across"))
    bands = around(None, allowed, ("", "straight enough", "bent"))
    parts = (
        Part("leaning", bent.upright_angle, "deg"),
        Part("turned", bent.level_angle, "deg"),
    )
    notes = ["Read at the same spot of the rim each time; screw the gauge fully home."]
    if bent.spread > allowed:
        where = f"at {bent.bend_at} o'clock"
        notes.insert(0, f"Press the gauge towards the wheel {where}, by half of the difference, once and gently.")
    return Answer(bent.spread, "mm", None, allowed, bands=bands, parts=parts, notes=tuple(notes))


SUMS: Final = (
    Sum(
        "gear",
        "How far one turn of the cranks carries.",
        (
            Number("ring", "Teeth of the ring", RING),
            Number("sprocket", "Teeth of the sprocket", SPROCKET),
            Number("circumference", "Circumference of the wheel, if it was rolled out", gearing.ROLLOUT, ""),
            Number("width", "Width of the tyre, if it was not", tyres.WIDTH, ""),
            Number("bead-seat", "Bead seat diameter of the tyre (the number behind the hyphen)", tyres.BEAD_SEAT, ""),
            Number("crank", "Length of the crank, for the gain ratio", gearing.CRANK, ""),
        ),
        (gearing.development, gearing.gear_inches, gearing.gain_ratio, gearing.rolled_diameter),
        _gear,
        ("--ring", "53", "--sprocket", "11", "--circumference", "2105mm"),
        "10.14 m: for one turn of the cranks",
    ),
    Sum(
        "mech-capacity",
        "The teeth that a rear derailleur must take up.",
        (
            Number("largest-ring", "Teeth of the largest ring", RING),
            Number("smallest-ring", "Teeth of the smallest ring", RING),
            Number("largest-sprocket", "Teeth of the largest sprocket", SPROCKET),
            Number("smallest-sprocket", "Teeth of the smallest sprocket", SPROCKET),
            Number("listed", "Capacity that the mech is listed at", _LISTED, ""),
        ),
        (gearing.capacity,),
        _mech_capacity,
        (
            "--largest-ring",
            "50",
            "--smallest-ring",
            "34",
            "--largest-sprocket",
            "25",
            "--smallest-sprocket",
            "12",
            "--listed",
            "33",
        ),
        "29 teeth: fits, 4 teeth to spare",
    ),
    Sum(
        "bolt-circle",
        "The bolt circle of a ring from two neighbouring bolts.",
        (
            Number("distance", "Distance between two neighbouring bolts, middle to middle", gearing.CHORD),
            Number("arms", "How many arms, evenly spaced", gearing.ARMS),
        ),
        (gearing.bolt_circle,),
        _bolt_circle,
        ("--distance", "64.7mm", "--arms", "5"),
        "110.1 mm: nearest is 110 mm",
    ),
    Sum(
        "hanger",
        "How far a derailleur hanger is bent, and which way.",
        (
            Several("gaps", "Gaps between gauge and rim at 12, 3, 6 and 9 o'clock", hanger.GAP, 4, 4),
            Number("across", "Distance between opposite spots, about the rim's diameter", hanger.ACROSS, "584mm"),
            Number("allowed", "Spread that passes (2 mm for 11 and 12 speeds)", _ALLOWED, "4mm"),
        ),
        (hanger.hanger,),
        _hanger,
        ("--gaps", "12 6 2 5 mm"),
        "10 mm: bent",
    ),
)
