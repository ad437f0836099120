"""The sums of brakes."""

from __future__ import annotations

from typing import Final

from diagnose.bench import brakes, runout
from diagnose.bench.bands import around
from diagnose.bench.runout import RunOut, Spot
from diagnose.bench.span import Span
from diagnose.bench.sums.givens import Number, Readings, Several
from diagnose.bench.sums.model import Answer, Part, Sum
from diagnose.bench.units import show

_MARKED: Final = "The mark on the part governs."
_DISC: Final = Span("thickness of the disc", 0.5, 4, "mm")
_LINING: Final = Span("thickness of the lining", 0, 10, "mm")
_PLAN: Final = 0.2
"""From this share of what may wear on, new parts are planned (common practice, no source)."""
_DISC_NEW, _MAY_WEAR = 1.8, 0.3
"""mm of a new disc that does not say, and how much of one usually may wear (common practice, no source)."""
_DIFFERENCE: Final = Span("difference between the gaps", 0.05, 2, "mm")


def _wear(given: Readings, key: str) -> Answer:
    measured, least = given.number(key), given.number("least")
    new = given.maybe("new") or max(_DISC_NEW, least + _MAY_WEAR)
    left = brakes.wear_left(measured, new, least)
    plan = max(given.maybe("plan") or 0.0, least)
    if given.maybe("plan") is None:
        plan = least + _PLAN * (new - least)
    parts = (Part("left", left.left, "mm"), Part("share left", left.share * 100, "%"))
    stop = ("Do not ride with it.",) if left.left < 0 else ()
    bands = brakes.wear_bands(least, plan)
    return Answer(measured, "mm", least, None, bands=bands, parts=parts, notes=(*stop, _MARKED))


def _disc_wear(given: Readings) -> Answer:
    return _wear(given, "disc")


def _pad_wear(given: Readings) -> Answer:
    return _wear(given, "lining")


def _disc_run_out(given: Readings) -> Answer:
    out = runout.run_out(given.row("readings"), given.number("spot"))
    parts = (Part("lean of the whole", out.lean, "mm"), *_spots(out))
    notes = ["A creased or cracked disc is renewed at any figure. Clean fingers, no oil; let it cool first."]
    if out.leans:
        notes.insert(0, "The whole disc leans: look at bolts, seat, hub play and axle before bending anything.")
    elif out.spots and out.total > 0.2:
        notes.insert(0, f"Bend at {_place(out.spots[0])} first, a little at a time, and read again.")
    return Answer(out.total, "mm", bands=runout.disc_bands(), parts=parts, notes=tuple(notes))


def _spots(out: RunOut) -> tuple[Part, ...]:
    return tuple(Part(f"place {spot.place}", spot.off, "mm") for spot in out.spots[:8])


def _place(spot: Spot) -> str:
    way = "away from the gauge" if spot.off > 0 else "towards the gauge"
    return f"place {spot.place}, {show(abs(spot.off), 'mm')} {way}"


def _lever_reserve(given: Readings) -> Answer:
    left = brakes.lever_reserve(given.number("at-rest"), given.number("pulled"))
    parts = (Part("moved", left.stroke, "mm"), Part("share left", left.share * 100, "%"))
    note = "Hold it hard for ten seconds as well: a lever that creeps is not safe at any figure."
    return Answer(left.left, "mm", bands=brakes.lever_bands(), parts=parts, notes=(note,))


def _pad_centring(given: Readings) -> Answer:
    middle, even = brakes.centring(given.number("left"), given.number("right")), given.number("even")
    bands = around(None, even, ("", "even", "off its middle"))
    if round(middle.difference, 6) <= even:
        note = "Even enough. Spin the wheel and listen."
    else:
        side = "right" if middle.shift > 0 else "left"
        note = f"Move the brake {show(abs(middle.shift), 'mm')} to the {side}, the side with the smaller gap."
    parts = (Part("move", abs(middle.shift), "mm"), Part("each side then", middle.each, "mm"))
    return Answer(middle.difference, "mm", None, even, bands=bands, parts=parts, notes=(note,))


def _brake_force(given: Readings) -> Answer:
    force = brakes.force_at(given.number("force"), given.number("intended"), given.number("recorded"))
    return Answer(force, "N", verdict="at the lever force that was meant")


def _stopping_distance(given: Readings) -> Answer:
    distance = brakes.distance_at(given.number("specified"), given.number("measured"), given.number("distance"))
    return Answer(distance, "m", verdict="at the speed that was meant")


SUMS: Final = (
    Sum(
        "disc-wear",
        "What is left of a brake disc.",
        (
            Number("disc", "Thickness of the track where it is thinnest", _DISC),
            Number("new", "Thickness when new, where it is known (often 1.8 mm)", _DISC, ""),
            Number("least", "Least thickness, marked on the disc", _DISC, "1.5mm"),
            Number("plan", "Thickness at which a new one is planned", _DISC, ""),
        ),
        (brakes.wear_left,),
        _disc_wear,
        ("--disc", "1.62mm"),
        "1.62 mm: good",
    ),
    Sum(
        "pad-wear",
        "What is left of a pad's lining.",
        (
            Number("lining", "Thickness of the lining without its plate", _LINING),
            Number("new", "Thickness when new", _LINING, "2mm"),
            Number("least", "Least thickness", _LINING, "0.5mm"),
            Number("plan", "Thickness at which new pads are planned", _LINING, "1mm"),
        ),
        (brakes.wear_left,),
        _pad_wear,
        ("--lining", "0.8mm"),
        "0.8 mm: plan new parts",
    ),
    Sum(
        "disc-run-out",
        "How far a disc is bent, where, and whether it can be trued.",
        (
            Several(
                "readings",
                "Readings evenly around the disc, more where it comes nearer",
                runout.READING,
                runout.FEWEST,
                runout.MOST,
            ),
            Number("spot", "How far a place may be off before it is named", runout.SPOT, "0.1mm"),
        ),
        (runout.run_out, runout.disc_bands),
        _disc_run_out,
        ("--readings", "0 0.05 0.1 0.4 0.1 0 -0.05 0 mm"),
        "0.45 mm: true it",
    ),
    Sum(
        "lever-reserve",
        "The room left between lever and grip.",
        (
            Number("at-rest", "Gap between lever and grip at rest", brakes.LEVER_GAP),
            Number("pulled", "The same gap pulled hard", brakes.LEVER_GAP),
        ),
        (brakes.lever_reserve, brakes.lever_bands),
        _lever_reserve,
        ("--at-rest", "55mm", "--pulled", "18mm"),
        "18 mm: look closer",
    ),
    Sum(
        "pad-centring",
        "How far a brake stands off its middle.",
        (
            Number("left", "Gap on the left as the rider sits", brakes.PAD_GAP),
            Number("right", "Gap on the right", brakes.PAD_GAP),
            Number("even", "Difference that counts as even (1 mm at a rim)", _DIFFERENCE, "0.1mm"),
        ),
        (brakes.centring,),
        _pad_centring,
        ("--left", "0.5mm", "--right", "0.1mm"),
        "0.4 mm: off its middle",
    ),
    Sum(
        "brake-force",
        "A brake force brought to the lever force that was meant.",
        (
            Number("force", "Brake force measured", brakes.BRAKE_FORCE),
            Number("intended", "Lever force that was meant", brakes.LEVER_FORCE),
            Number("recorded", "Lever force that there was", brakes.LEVER_FORCE),
        ),
        (brakes.force_at,),
        _brake_force,
        ("--force", "225N", "--intended", "180N", "--recorded", "184N"),
        "220.1 N: at the lever force that was meant",
    ),
    Sum(
        "stopping-distance",
        "A stopping distance brought to the speed that was meant.",
        (
            Number("specified", "Speed that was meant", brakes.SPEED),
            Number("measured", "Speed that was ridden", brakes.SPEED),
            Number("distance", "Stopping distance measured", brakes.DISTANCE),
        ),
        (brakes.distance_at,),
        _stopping_distance,
        ("--specified", "25 km/h", "--measured", "26 km/h", "--distance", "6m"),
        "5.55 m: at the speed that was meant",
    ),
)
