"""The sums of tyres and rims."""

from __future__ import annotations

from math import isfinite
from typing import Final

from diagnose.bench import sizes, tyres
from diagnose.bench.span import Span
from diagnose.bench.sums.givens import Choice, Number, Readings, Text
from diagnose.bench.sums.model import Answer, Part, Sum
from diagnose.bench.sums.torque import GOVERNS
from diagnose.bench.units import convert, show
from diagnose.errors import InputError

_YES_NO: Final = ("no", "yes")
_HOOKLESS: Final = Choice("hookless", "Is the rim hookless", _YES_NO, "no")
_WIDTH: Final = Number("width", "Width of the tyre", tyres.WIDTH)
_SECOND: Final = Span("second pressure", 0, tyres.PRESSURE.high, "bar")
_CHART_ENDS: Final = 40.0
"""Widest tyre in mm of the chart behind the starting pressure."""


def _tyre_size(given: Readings) -> Answer:
    found = sizes.meaning(given.word("marking"))
    parts = [Part(f"{seat} mm", sizes.names_of(seat) or "no size known here: look again") for seat in found.bead_seats]
    if found.width is not None:
        parts.append(Part("width", found.width, "mm"))
    if not found.ambiguous:
        note = "Tyre and rim go together only where this number is the same on both."
        return Answer(float(found.bead_seats[0]), "mm", verdict="bead seat", parts=tuple(parts), notes=(note,))
    seats = ", ".join(str(seat) for seat in found.bead_seats)
    note = "The name alone does not say which: look for a number like 37-590 on the tyre, or measure the rim."
    return Answer(f"{seats} mm", verdict="can mean any of these", parts=tuple(parts), notes=(note,))


def _wheel_round(given: Readings) -> Answer:
    width, seat = _width_and_seat(given)
    rolled = tyres.circumference(width, seat)
    parts = (Part("diameter over the tyre", tyres.overall_diameter(width, seat), "mm"),)
    note = "A roll-out with the rider on the bike is better; tables and formula agree with it within 1 to 2 %."
    return Answer(rolled, "mm", rolled * 0.98, rolled * 1.02, parts=parts, notes=(note,))


def _width_and_seat(given: Readings) -> tuple[float, float]:
    """Width and bead seat from a marking such as "37-622", or from the two numbers."""
    width, seat = given.maybe("width"), given.maybe("bead-seat")
    if marking := given.word("marking"):
        found = sizes.meaning(marking)
        if found.ambiguous:
            seats = ", ".join(f"{one} mm" for one in found.bead_seats)
            raise InputError("bench-ambiguous", f"{marking} can mean {seats}.", hint="Give width and bead seat.")
        width, seat = found.width if width is None else width, float(found.bead_seats[0])
    if width is None or seat is None:
        raise InputError("bench-missing", "The size of the tyre is missing.", hint='Give it like "37-622".')
    return width, seat


def _rim_width(given: Readings) -> Answer:
    fit = tyres.rim_fit(given.number("width"), given.number("rim"), hookless=given.yes("hookless"))
    low, high = (given.number("width") / share for share in reversed(tyres.USUAL_RATIO))
    parts = (Part("tyre over rim", fit.ratio, "ratio"), Part("rim by the older rule", fit.guide, "mm"))
    notes = ["The makers' lists for tyre and rim govern."]
    if fit.verdict == "not allowed":
        notes.insert(0, "Do not ride it: on a hookless rim so narrow a tyre can come off.")
    return Answer(given.number("rim"), "mm", low, high, fit.verdict, parts=tuple(parts), notes=tuple(notes))


def _pressure_limit(given: Readings) -> Answer:
    limit = tyres.pressure_limit(given.maybe("tyre"), given.maybe("rim"), hookless=given.yes("hookless"))
    by = {"tyre": "by the tyre", "rim": "by the rim", "hookless": "because the rim is hookless"}[limit.governs]
    verdict = f"at most, {by} ({show(convert(limit.high, 'bar', 'psi'), 'psi')})"
    return Answer(limit.high, "bar", None, limit.high, verdict, notes=("Also when a bead is seated. " + GOVERNS,))


def _tyre_pressure(given: Readings) -> Answer:
    hookless, off_road, tubeless = given.yes("hookless"), given.yes("off-road"), given.yes("tubeless")
    tyre, rim, width = given.maybe("tyre"), given.maybe("rim"), given.number("width")
    marked = tyre is not None or rim is not None or hookless
    most = tyres.pressure_limit(tyre, rim, hookless=hookless).high if marked else None
    start = tyres.starting_pressure(width, given.number("load"), most, off_road=off_road, tubeless=tubeless)
    notes = ["A pressure to begin with, good to about 15 %; lower for grip and comfort, higher against pinched tubes."]
    if most is None:
        notes.insert(0, "Read the markings on tyre and rim first: the lower of them is never exceeded.")
    if start.least is not None and start.most is not None and start.most < start.least:
        notes.insert(0, "The limit lies below the least pressure for this width: tyre and rim do not suit each other.")
    if width > _CHART_ENDS:
        notes.append(f"The chart behind it ends at {show(_CHART_ENDS, 'mm')}: a guess for so wide a tyre.")
    parts = (Part("sum alone", start.unbounded, "bar"), Part("basis", "the tyre gives way by 15 % of its height"))
    psi = show(convert(start.pressure, "bar", "psi"), "psi")
    return Answer(start.pressure, "bar", start.least, start.most, psi, parts=parts, notes=tuple(notes))


def _tyre_cut(given: Readings) -> Answer:
    verdict = tyres.cut_repair(given.number("cut"), given.word("place"))
    notes = {
        "plug": ("From inside a patch lasts longer; above about 4 bar a plug gets you home only.",),
        "patch inside": ("A plug may not hold so long a cut: patch it from inside and look again after a ride.",),
        "new tyre": ("Get home slowly with a boot behind the cut, or walk.",),
    }[verdict]
    casing = "Casing threads that show or are cut: a new tyre whatever the size."
    return Answer(verdict, parts=(Part("cut", given.number("cut"), "mm"),), notes=(*notes, casing))


def _leak(given: Readings) -> Answer:
    temperatures = (given.maybe("first-temperature"), given.maybe("second-temperature"))
    loss = tyres.leak(given.number("first"), given.number("second"), given.number("hours"), *temperatures)
    parts = [Part("lost between the readings", loss.lost, "%")]
    if isfinite(loss.half_h):
        parts.append(Part("half is gone after", loss.half_h, "h"))
    notes = (
        "Latex and light plastic tubes lose more than butyl and are sound.",
        "Each reading lets out a little.",
    )
    return Answer(loss.per_12_h, "%", verdict="", bands=tyres.leak_bands(), parts=tuple(parts), notes=notes)


SUMS: Final = (
    Sum(
        "tyre-size",
        "What a size marking means.",
        (Text("marking", "Size as it stands on the tyre, rim or tube", "26 x 1 3/8"),),
        (sizes.meaning,),
        _tyre_size,
        ("--marking", "26 x 1.75"),
        "559 mm: bead seat",
    ),
    Sum(
        "wheel-round",
        "The circumference of a wheel.",
        (
            Text("marking", "Size as it stands on the tyre", "37-622", ""),
            Number("width", "Width of the tyre as measured", tyres.WIDTH, ""),
            Number("bead-seat", "Bead seat diameter, if there is no marking", tyres.BEAD_SEAT, ""),
        ),
        (tyres.circumference, tyres.overall_diameter),
        _wheel_round,
        ("--marking", "28-622"),
        "2130 mm",
    ),
    Sum(
        "rim-width",
        "Whether a tyre suits the width of a rim.",
        (_WIDTH, Number("rim", "Inner width of the rim", tyres.RIM_WIDTH), _HOOKLESS),
        (tyres.rim_fit, tyres.rim_guide),
        _rim_width,
        ("--width", "28mm", "--rim", "17mm"),
        "17 mm: right",
    ),
    Sum(
        "pressure-limit",
        "The highest pressure that tyre and rim allow.",
        (
            Number("tyre", "Highest pressure marked on the tyre", tyres.PRESSURE, ""),
            Number("rim", "Highest pressure marked on the rim", tyres.PRESSURE, ""),
            _HOOKLESS,
        ),
        (tyres.pressure_limit,),
        _pressure_limit,
        ("--tyre", "8 bar", "--rim", "5 bar"),
        "5 bar: at most, by the rim (72.52 psi)",
    ),
    Sum(
        "tyre-pressure",
        "A pressure to begin with.",
        (
            _WIDTH,
            Number("load", "Weight on this wheel: rider, kit and bike", tyres.WHEEL_LOAD),
            Number("tyre", "Highest pressure marked on the tyre", tyres.PRESSURE, ""),
            Number("rim", "Highest pressure marked on the rim", tyres.PRESSURE, ""),
            _HOOKLESS,
            Choice("off-road", "Is it ridden off the road", _YES_NO, "no"),
            Choice("tubeless", "Is it without a tube", _YES_NO, "no"),
        ),
        (tyres.starting_pressure, tyres.pressure_limit),
        _tyre_pressure,
        ("--width", "32mm", "--load", "50kg", "--tyre", "6 bar"),
        "4.42 bar: 64.09 psi",
    ),
    Sum(
        "tyre-cut",
        "Whether a cut can be plugged.",
        (Number("cut", "Length of the cut", tyres.CUT), Choice("place", "Where it is", ("tread", "sidewall"))),
        (tyres.cut_repair,),
        _tyre_cut,
        ("--cut", "4mm", "--place", "tread"),
        "plug",
    ),
    Sum(
        "leak",
        "How fast a tyre loses air.",
        (
            Number("first", "First reading", tyres.PRESSURE),
            Number("second", "Second reading", _SECOND),
            Number("hours", "Time between them", tyres.HOURS),
            Number("first-temperature", "Temperature at the first reading, if it changed", tyres.TEMPERATURE, ""),
            Number("second-temperature", "Temperature at the second reading, if it changed", tyres.TEMPERATURE, ""),
        ),
        (tyres.leak,),
        _leak,
        ("--first", "4 bar", "--second", "3.5 bar", "--hours", "10 h"),
        "14.81 %: watch it",
    ),
)
