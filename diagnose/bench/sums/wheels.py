"""The sums of wheels and spokes."""

from __future__ import annotations

from typing import Final

from diagnose.bench import runout, wheels
from diagnose.bench.bands import around
from diagnose.bench.bolts import THREADS_PER_INCH
from diagnose.bench.span import Span
from diagnose.bench.sums.givens import Choice, Number, Readings, Several
from diagnose.bench.sums.model import Answer, Part, Sum
from diagnose.bench.units import show

_SPREAD: Final = Span("spread allowed", 1, 100, "%")
_SIDEWAYS: Final = Span("sideways shift of the rim", -15, 15, "mm")
_OFFSET: Final = Span("flange offset from the middle", 1, 90, "mm")
_ALLOWED: Final = Span("run-out allowed", 0.1, 5, "mm")
_DISH_ALLOWED: Final = Span("dish allowed", 0.1, 5, "mm")


def _rim_run_out(given: Readings) -> Answer:
    good = given.number("allowed")
    out = runout.run_out(given.row("readings"), good / 2)
    parts = [Part("lean of the whole", out.lean, "mm")]
    parts += [Part(f"place {spot.place}", spot.off, "mm") for spot in out.spots[:8]]
    notes = ["Check hub play and spoke tension first; half and quarter turns, and read again."]
    if out.leans:
        notes.insert(0, "The whole rim leans once a turn: look at hub play, axle and seat in the dropouts first.")
    elif out.spots and out.total > good:
        way = "away from" if out.spots[0].off > 0 else "towards"
        notes.insert(0, f"Pull the rim {way} the gauge at place {out.spots[0].place} first.")
    return Answer(out.total, "mm", bands=runout.rim_bands(good), parts=tuple(parts), notes=tuple(notes))


def _dish(given: Readings) -> Answer:
    dish = wheels.dish(given.number("left"), given.number("right"))
    bands = around(None, given.number("allowed"), ("", "in the middle", "off the middle"))
    note = "The rim is in the middle."
    if dish.side != "middle":
        other = "left" if dish.side == "right" else "right"
        note = f"The rim stands to the {dish.side}: tighten the {other} side, loosen the {dish.side} one."
    return Answer(dish.off, "mm", bands=bands, parts=(Part("towards", dish.side),), notes=(note,))


def _spoke_length(given: Readings) -> Answer:
    spokes, crosses = given.whole("spokes"), given.whole("crosses")
    sizes = (given.number("erd"), given.number("flange"), given.number("offset"))
    length = wheels.spoke_length(*sizes, spokes, crosses, given.number("hole"))
    parts = (
        Part("lacing factor", wheels.lacing_factor(spokes, crosses), "ratio"),
        Part("order", float(round(length)), "mm"),
    )
    notes = ("Each side has its own length. Measure the rim with two spokes and nipples rather than trust a list.",)
    return Answer(length, "mm", parts=parts, notes=notes)


def _spoke_tension(given: Readings) -> Answer:
    limit = given.number("limit")
    side = wheels.tension_balance(given.row("tensions"), limit)
    most = given.number("most")
    parts = [Part("mean", side.mean, "kgf"), Part("lowest", side.lowest, "kgf"), Part("highest", side.highest, "kgf")]
    notes = []
    for word, places in (("Tighten", side.loose), ("Loosen", side.tight)):
        if places:
            notes.append(f"{word} at {', '.join(str(place) for place in places)}, in small steps, and true again.")
    if side.highest > most:
        notes.insert(0, f"Above {show(most, 'kgf')}: the rim's marking governs; too much cracks it at the nipples.")
    first, second = given.maybe("offset"), given.maybe("other-offset")
    if first is not None and second is not None:
        parts.append(Part("other side should have", wheels.other_side_tension(side.mean, first, second), "kgf"))
    bands = around(None, limit, ("", "even", "uneven"))
    return Answer(side.spread, "%", bands=bands, parts=tuple(parts), notes=tuple(notes))


def _nipple_turns(given: Readings) -> Answer:
    shift, threads = given.number("shift"), given.number("threads")
    if given.word("way") == "sideways":
        offset, spoke = given.number("offset"), given.number("spoke")
        turns = wheels.turns_for_shift(shift, offset, spoke, threads)
        note = "Every nipple of that side so much tighter, every nipple of the other side as much looser."
    else:
        turns = wheels.nipple_turns(shift, threads)
        note = "Along the spoke: the rim comes in by about as much where it is out of round."
    parts = (Part("a quarter turn moves", wheels.nipple_travel(0.25, threads), "mm"),)
    return Answer(turns, "turns", parts=parts, notes=(note, "Mind the tension: too tight or a seized nipple, stop."))


SUMS: Final = (
    Sum(
        "rim-run-out",
        "How far a rim is out of true, and where.",
        (
            Several(
                "readings",
                "Readings evenly around the rim, more where it comes nearer",
                runout.READING,
                runout.FEWEST,
                runout.MOST,
            ),
            Number("allowed", "Run-out that is good (1 mm with disc brakes)", _ALLOWED, "0.5mm"),
        ),
        (runout.run_out, runout.rim_bands),
        _rim_run_out,
        ("--readings", "0 0.1 0.2 1.2 0.3 0 -0.1 0 mm"),
        "1.3 mm: true it",
    ),
    Sum(
        "dish",
        "How far a rim stands off the middle.",
        (
            Number("left", "Gap at the rim, dish gauge on the left", wheels.GAUGE),
            Number("right", "Gap at the rim, dish gauge on the right", wheels.GAUGE),
            Number("allowed", "How far off the middle is good (common practice)", _DISH_ALLOWED, "1mm"),
        ),
        (wheels.dish,),
        _dish,
        ("--left", "4mm", "--right", "1mm"),
        "1.5 mm: off the middle",
    ),
    Sum(
        "spoke-length",
        "The length of a spoke.",
        (
            Number("erd", "Effective rim diameter", wheels.ERD),
            Number("flange", "Flange diameter at the holes", wheels.FLANGE),
            Number("offset", "Flange to the middle between the locknuts", wheels.OFFSET),
            Number("spokes", "Spokes in the whole wheel", wheels.SPOKES, "32"),
            Number("crosses", "Crosses", wheels.CROSSES, "3"),
            Number("hole", "Diameter of the hole in the flange", wheels.HOLE, "2.6mm"),
        ),
        (wheels.spoke_length, wheels.lacing_factor),
        _spoke_length,
        ("--erd", "600mm", "--flange", "45mm", "--offset", "18mm"),
        "291.4 mm",
    ),
    Sum(
        "spoke-tension",
        "How evenly the spokes of one side are tightened.",
        (
            Several("tensions", "Tensions of one side in order", wheels.TENSION, 4, 36),
            Number("limit", "How far a spoke may lie off the mean", _SPREAD, "20%"),
            Number("most", "Highest tension that the rim allows", wheels.TENSION, "120kgf"),
            Number("offset", "Offset of this flange, for the other side", _OFFSET, ""),
            Number("other-offset", "Offset of the other flange", _OFFSET, ""),
        ),
        (wheels.tension_balance, wheels.other_side_tension),
        _spoke_tension,
        ("--tensions", "110 115 108 80 112 109 kgf"),
        "24.29 %: uneven",
    ),
    Sum(
        "nipple-turns",
        "Turns of the nipples for a correction.",
        (
            Number("shift", "How far the rim should move, or the nipple along the spoke", _SIDEWAYS),
            Choice("way", "Which way: sideways (dish) or along the spoke", ("sideways", "along"), "sideways"),
            Number("offset", "Flange to the middle between the locknuts", _OFFSET, "35mm"),
            Number("spoke", "Length of the spokes", wheels.SPOKE, "290mm"),
            Number("threads", "Threads of the spoke to the inch", THREADS_PER_INCH, "56"),
        ),
        (wheels.turns_for_shift, wheels.nipple_turns, wheels.nipple_travel),
        _nipple_turns,
        ("--shift", "1.5mm"),
        "0.4 turns",
    ),
)
