"""The sums of suspension."""

from __future__ import annotations

from typing import Final

from diagnose.bench import suspension as spring
from diagnose.bench.bands import around
from diagnose.bench.sums.givens import Choice, Number, Readings, Several
from diagnose.bench.sums.model import Answer, Part, Sum, both
from diagnose.bench.units import convert, show

_KIT: Final = "Riding kit on, damping open, no bouncing; standing for the fork. The maker's figure governs."
_STEADY: Final = 3.0
"""Tries that differ by more mm than this are repeated (common practice, no source)."""
_TRAVEL: Final = Number("travel", "Travel of the fork or stroke of the shock", spring.TRAVEL)
_END: Final = Choice("end", "Which end", ("fork", "shock"), "")
_USE: Final = Choice("use", "What it is ridden on", ("cross-country", "trail", "gravity"), "")
_WANTED: Final = (
    Number("least", "Least sag that is wanted", spring.SAG, ""),
    Number("most", "Most sag that is wanted", spring.SAG, ""),
)
_COIL_STEP: Final = 25.0
_COIL_NEAR: Final = 10.0
"""How far in percent a coil may be off (common practice, no source)."""

_COIL: Final = (
    Number("weight", "Rider, kit and sprung parts", spring.LOAD),
    Number("wheel-travel", "Travel of the rear wheel", spring.WHEEL_TRAVEL),
    Number("stroke", "Stroke of the shock", spring.STROKE),
    Number("sag", "Sag wanted", spring.SAG, "30%"),
    Number("share", "Share of the weight on the rear wheel", spring.SHARE, "0.6"),
)


def _sag(given: Readings) -> Answer:
    travel = given.number("travel")
    tries = given.row("sag")
    sag = spring.sag_readings(tries, travel)
    usual = spring.sag_band(given.word("end") or None, given.word("use") or None)
    low, high = given.maybe("least") or usual.low, given.maybe("most") or usual.high
    bands = around(low, high, ("too little sag", "right", "too much sag"))
    parts = (
        Part("mean", sag.length, "mm"),
        Part("wanted from", spring.sag_length(low, travel), "mm"),
        Part("wanted to", spring.sag_length(high, travel), "mm"),
        *((Part("spread of the tries", sag.spread, "mm"),) if len(tries) > 1 else ()),
    )
    again = ("The tries differ: measure once more, letting the bike settle.",) if sag.spread > _STEADY else ()
    return Answer(sag.share, "% of travel", bands=bands, parts=parts, notes=(*again, _KIT))


def _travel_used(given: Readings) -> Answer:
    travel = given.number("travel")
    left = Part("left", travel - given.number("ring"), "mm")
    return Answer(spring.sag_share(given.number("ring"), travel), "% of travel", parts=(left,))


def _spring_loss(given: Readings) -> Answer:
    lost = spring.spring_loss(given.number("set"), given.number("again"), given.number("own"))
    notes = ("The pump lets a little out each time that it is screwed on; try that at once to know how much.",)
    return Answer(lost, "%", parts=(Part("gauge's own loss", given.number("own"), "bar"),), notes=notes)


def _sag_mark(given: Readings) -> Answer:
    travel, share = given.number("travel"), given.number("share")
    return Answer(spring.sag_length(share, travel), "mm", verdict="o-ring off the seal", notes=(_KIT,))


def _air_pressure(given: Readings) -> Answer:
    before, measured, wanted = given.number("pressure"), given.number("sag"), given.number("target")
    after = spring.next_pressure(before, measured, wanted, given.number("compression"), given.number("negative"))
    most = given.maybe("most")
    notes = [
        "An estimate: ride the suspension through its travel a few times, then measure the sag again.",
        "Fitting the pump alone lets some air out; read the pressure with the pump on.",
    ]
    if most is not None and after > most:
        notes.insert(
            0, f"The sum asks for more than the {show(most, 'bar')} marked: the spring is too small. Stop there."
        )
        after = most
    verdict = f"{show(convert(after, 'bar', 'psi'), 'psi')}, then measure again"
    return Answer(after, "bar", None, most, verdict, parts=(Part("change", after - before, "bar"),), notes=tuple(notes))


def _needed(given: Readings) -> tuple[float, float]:
    """The rate that is needed, in N/mm, and the leverage ratio."""
    ratio = spring.leverage(given.number("wheel-travel"), given.number("stroke"))
    weight, share, stroke, sag = (given.number(key) for key in ("weight", "share", "stroke", "sag"))
    return spring.coil_rate(weight, share, ratio, stroke, sag), ratio


def _coil_check(given: Readings) -> Answer:
    rate, ratio = _needed(given)
    off = spring.rate_off(given.number("fitted"), rate)
    bands = around(-_COIL_NEAR, _COIL_NEAR, ("too soft", "near enough", "too hard"))
    parts = (Part("needed", rate, "N/mm"), Part("the same", convert(rate, "N/mm", "lbf/in"), "lbf/in"))
    return Answer(off, "%", bands=bands, parts=(*parts, Part("leverage", ratio, "ratio")), notes=(_KIT,))


def _coil_rate(given: Readings) -> Answer:
    rate, ratio = _needed(given)
    pounds = convert(rate, "N/mm", "lbf/in")
    nearest = _COIL_STEP * round(pounds / _COIL_STEP)
    parts = (
        Part("leverage", ratio, "ratio"),
        Part("nearest coil", nearest, "lbf/in"),
        Part("at the wheel", spring.wheel_rate(rate, ratio), "N/mm"),
    )
    note = "With the mean leverage ratio: fit the nearest coil, measure the sag, and change by one step if it is off."
    return Answer(rate, "N/mm", verdict=show(pounds, "lbf/in"), parts=parts, notes=(note, _KIT))


def _wheel_rate(given: Readings) -> Answer:
    ratio = spring.leverage(given.number("wheel-travel"), given.number("stroke"))
    rate = spring.wheel_rate(given.number("rate"), ratio)
    verdict = both(rate, "N/mm", "lbf/in").split("(")[1].removesuffix(")")
    return Answer(rate, "N/mm", verdict=verdict, parts=(Part("leverage", ratio, "ratio"),))


SUMS: Final = (
    Sum(
        "sag",
        "Sag from the o-ring, against the usual band.",
        (
            Several("sag", "O-ring's way off the seal, one to ten tries", spring.RING, 1, 10),
            _TRAVEL,
            _END,
            _USE,
            *_WANTED,
        ),
        (spring.sag_readings, spring.sag_band),
        _sag,
        ("--sag", "38mm", "--travel", "150mm"),
        "25.33 % of travel: right",
    ),
    Sum(
        "travel-used",
        "How much of the travel a ride used.",
        (Number("ring", "O-ring's way off the seal after the ride", spring.RING), _TRAVEL),
        (spring.sag_share,),
        _travel_used,
        ("--ring", "128mm", "--travel", "150mm"),
        "85.33 % of travel",
    ),
    Sum(
        "sag-mark",
        "Where the o-ring should end up for a sag.",
        (_TRAVEL, Number("share", "Sag wanted", spring.SAG)),
        (spring.sag_length,),
        _sag_mark,
        ("--travel", "170mm", "--share", "30%"),
        "51 mm: o-ring off the seal",
    ),
    Sum(
        "air-pressure",
        "The pressure to try next, from the sag measured.",
        (
            Number("pressure", "Pressure now", spring.PRESSURE),
            Number("sag", "Sag measured at it", spring.SAG),
            Number("target", "Sag wanted", spring.SAG),
            Number("compression", "Compression ratio of the main chamber, if it is known", spring.COMPRESSION, "1"),
            Number("negative", "Swept volume over the negative chamber, 0 with a coil", spring.NEGATIVE, "2"),
            Number("most", "Highest pressure marked", spring.PRESSURE, ""),
        ),
        (spring.next_pressure,),
        _air_pressure,
        ("--pressure", "80 psi", "--sag", "32%", "--target", "25%"),
        "6.63 bar: 96.17 psi, then measure again",
    ),
    Sum(
        "spring-loss",
        "How much an air spring has lost between two readings.",
        (
            Number("set", "Pressure that was set", spring.PRESSURE),
            Number("again", "Pressure when the pump is screwed on again", spring.LEFT),
            Number("own", "What the pump alone takes when it is screwed on", spring.OWN_LOSS, "0 bar"),
        ),
        (spring.spring_loss,),
        _spring_loss,
        ("--set", "80 psi", "--again", "72 psi", "--own", "4 psi"),
        "5 %",
    ),
    Sum(
        "coil-rate",
        "The coil that gives a sag.",
        _COIL,
        (spring.coil_rate, spring.leverage, spring.wheel_rate),
        _coil_rate,
        ("--weight", "180 lb", "--wheel-travel", "150mm", "--stroke", "50mm"),
        "96.08 N/mm: 548.6 lbf/in",
    ),
    Sum(
        "coil-check",
        "How far a coil is off the rate that its rider needs.",
        (Number("fitted", "Rate of the coil that is fitted", spring.RATE), *_COIL),
        (spring.rate_off, spring.coil_rate, spring.leverage),
        _coil_check,
        ("--fitted", "500 lbf/in", "--weight", "180 lb", "--wheel-travel", "150mm", "--stroke", "50mm"),
        "-8.87 %: near enough",
    ),
    Sum(
        "wheel-rate",
        "A coil as the wheel feels it.",
        (
            Number("rate", "Spring rate", spring.RATE),
            Number("wheel-travel", "Travel of the rear wheel", spring.WHEEL_TRAVEL),
            Number("stroke", "Stroke of the shock", spring.STROKE),
        ),
        (spring.wheel_rate, spring.leverage),
        _wheel_rate,
        ("--rate", "550 lbf/in", "--wheel-travel", "150mm", "--stroke", "50mm"),
        "10.7 N/mm: 61.11 lbf/in",
    ),
)
