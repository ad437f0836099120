"""The sums of the chain."""

from __future__ import annotations

from typing import Final

from diagnose.bench import chain
from diagnose.bench.span import Span
from diagnose.bench.sums.givens import Number, Readings
from diagnose.bench.sums.model import Answer, Part, Sum, both
from diagnose.bench.units import show

_MEASURED: Final = Span("length over the pitches", 12, 2700, "mm")
_TAUT: Final = "Chain taut, from pin centre to pin centre; gauges that push the rollers apart read high."
_STRAIGHT: Final = 5.0
"""Chain lines that differ by more than this many mm are worth putting right on one sprocket (common practice,
no source)."""


def _chain_wear(given: Readings) -> Answer:
    pitches, speeds = given.whole("pitches"), given.maybe("speeds")
    worn = chain.elongation(given.number("measured"), pitches)
    lengths = (
        Part("new", chain.length_over(pitches), "mm"),
        Part("over 24 pitches", chain.length_over(24, worn), "mm"),
    )
    if speeds is None:
        return Answer(worn, "%", parts=lengths, notes=(_TAUT,))
    limit = chain.wear_limit(int(speeds))
    parts = (
        *lengths,
        Part("new chain above", chain.length_over(pitches, limit.chain), "mm"),
        Part("sprockets too above", chain.length_over(pitches, limit.sprockets), "mm"),
    )
    return Answer(worn, "%", None, limit.chain, bands=chain.wear_bands(int(speeds)), parts=parts, notes=(_TAUT,))


def _chain_length(given: Readings) -> Answer:
    stay, ring, sprocket = given.number("chainstay"), given.whole("ring"), given.whole("sprocket")
    rule, exact = chain.length_by_rule(stay, ring, sprocket), chain.length_round_mech(stay, ring, sprocket)
    taut = chain.taut_length(stay, ring, sprocket)
    parts = (
        Part("by the rule of thumb", float(rule.pitches), "links"),
        Part("rule before rounding", rule.exact / 25.4, "in"),
        Part("round the biggest pair and two more", float(exact.pitches), "links"),
        Part("taut round the biggest pair", taut, "mm"),
    )
    notes = (
        "Lay the chain round the biggest pair without the mech and look before it is cut; too long can be cut again.",
        "With rear suspension take the chainstay where it is longest.",
    )
    longer = max(rule.pitches, exact.pitches)
    shorter = min(rule.pitches, exact.pitches)
    verdict = f"{both(longer * chain.PITCH_MM, 'mm', 'in')}"
    return Answer(float(longer), "links", float(shorter), float(longer), verdict, parts=parts, notes=notes)


def _chain_line(given: Readings) -> Answer:
    front = chain.front_chain_line(given.number("tube"), given.number("gap"))
    rear = chain.rear_chain_line(given.number("locknuts"), given.number("to-sprocket"), given.number("stack"))
    off = front - rear
    angle = chain.chain_angle(front, rear, given.number("chainstay"))
    verdict = "straight" if not round(off, 6) else f"ring {show(abs(off), 'mm')} {'outside' if off > 0 else 'inside'}"
    parts = (
        Part("ring from the middle", front, "mm"),
        Part("sprockets from the middle", rear, "mm"),
        Part("angle", angle, "deg"),
    )
    note = f"With one sprocket put right more than {show(_STRAIGHT, 'mm')}; with gears the maker's figure governs."
    return Answer(off, "mm", -_STRAIGHT, _STRAIGHT, verdict, parts=parts, notes=(note,))


SUMS: Final = (
    Sum(
        "chain-wear",
        "How far a chain is worn, from a ruler.",
        (
            Number("measured", "Length over the pitches, pin centre to pin centre, chain taut", _MEASURED),
            Number("pitches", "How many pitches (24 are a foot)", chain.PITCHES, "24"),
            Number("speeds", "Sprockets on the wheel (1 for a hub gear)", chain.SPEEDS, ""),
        ),
        (chain.elongation, chain.wear_limit),
        _chain_wear,
        ("--measured", "307mm", "--speeds", "11"),
        "0.72 %: new chain",
    ),
    Sum(
        "chain-length",
        "How long a new chain for a derailleur must be.",
        (
            Number("chainstay", "Chainstay, middle of the axle to middle of the bracket", chain.CHAINSTAY),
            Number("ring", "Teeth of the largest ring", chain.RING),
            Number("sprocket", "Teeth of the largest sprocket", chain.SPROCKET),
        ),
        (chain.length_by_rule, chain.length_round_mech, chain.taut_length),
        _chain_length,
        ("--chainstay", "16 1/4 in", "--ring", "52", "--sprocket", "28"),
        "108 links: 1372 mm (54 in)",
    ),
    Sum(
        "chain-line",
        "How straight the chain runs.",
        (
            Number("tube", "Seat tube's diameter near the ring", chain.TUBE),
            Number("gap", "Gap from the tube to the middle of the ring's teeth", chain.GAP),
            Number("locknuts", "Distance over the locknuts of the rear hub", chain.LOCKNUTS),
            Number("to-sprocket", "Drive-side locknut to the outside of the smallest sprocket", chain.TO_SPROCKET),
            Number("stack", "Width over all sprockets", chain.STACK, "2mm"),
            Number("chainstay", "Chainstay, for the angle", chain.CHAINSTAY, "430mm"),
        ),
        (chain.front_chain_line, chain.rear_chain_line, chain.chain_angle),
        _chain_line,
        ("--tube", "30mm", "--gap", "28mm", "--locknuts", "120mm", "--to-sprocket", "17mm"),
        "1 mm: ring 1 mm outside",
    ),
)
