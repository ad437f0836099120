"""Chain: how worn it is, how long a new one must be, how straight it runs.

Cast: `elongation` from a ruler over any number of pitches, `length_over` back; `wear_limit` and `wear_bands` by the
number of speeds; `length_by_rule` and `taut_length` (exact geometry) for a new chain, `links_for` what to cut it to;
`front_chain_line`, `rear_chain_line` and `chain_angle` for how straight it runs. Lengths are in mm, elongations in
percent.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import asin, atan2, ceil, cos, degrees, pi, sin
from typing import Final

from diagnose.bench.bands import Band
from diagnose.bench.span import Span
from diagnose.errors import InputError

PITCH_MM: Final = 12.7
"""Pitch of a bicycle chain, half an inch (ISO 606)."""

PITCHES: Final = Span("number of pitches", 1, 200, "count", whole=True)
ELONGATION: Final = Span("elongation", -1, 6, "%")
SPEEDS: Final = Span("number of speeds", 1, 13, "count", whole=True)
CHAINSTAY: Final = Span("chainstay, middle of the axle to middle of the bracket", 150, 1500, "mm")
RING: Final = Span("number of teeth of the chainring", 18, 80, "teeth", whole=True)
SPROCKET: Final = Span("number of teeth of the sprocket", 8, 60, "teeth", whole=True)
TUBE: Final = Span("diameter of the seat tube", 20, 60, "mm")
GAP: Final = Span("gap from seat tube to ring", 0, 80, "mm")
LOCKNUTS: Final = Span("distance over the locknuts", 90, 220, "mm")
TO_SPROCKET: Final = Span("distance from locknut to smallest sprocket", 0, 60, "mm")
STACK: Final = Span("width over the sprockets", 0, 60, "mm")
LINE: Final = Span("chain line", 20, 80, "mm")


@dataclass(frozen=True, slots=True)
class WearLimit:
    """Elongations in percent above which the chain is replaced, and above which its sprockets go with it."""

    chain: float
    sprockets: float


@dataclass(frozen=True, slots=True)
class ChainLength:
    """A chain's length.

    Attributes:
        exact: what the sum gives, in mm.
        pitches: whole pairs of links that it is rounded up to, counted as pitches.
        length: of those pitches, in mm.
    """

    exact: float
    pitches: int
    length: float


def length_over(pitches: int, elongation_percent: float = 0.0) -> float:
    """Length in mm of a number of pitches, pin centre to pin centre, of a chain worn so far.

    Formula: length = pitches x 12.7 x (1 + elongation / 100).
    Source: ISO 606 for the pitch; definition of elongation.

    Args:
        pitches: 1 to 200.
        elongation_percent: -1 to 6 %; 0 is a new chain.

    Raises:
        InputError: a value out of its range.
    """
    return PITCHES.check(pitches) * PITCH_MM * (1 + ELONGATION.check(elongation_percent) / 100)


def elongation(measured_mm: float, pitches: int = 24) -> float:
    """Elongation in percent of a chain measured with a ruler, pin centre to pin centre, pulled taut.

    Formula: elongation = (measured - pitches x 12.7) / (pitches x 12.7) x 100.
    Source: definition of elongation; ISO 606 for the pitch.

    Args:
        measured_mm: between 1 % short and 6 % over the new length of so many pitches, to a tenth.
        pitches: 1 to 200; the more, the finer.

    Raises:
        InputError: a value out of its range.
    """
    new = length_over(pitches)
    least, most = (round(new * (1 + end / 100), 1) for end in (ELONGATION.low, ELONGATION.high))
    measured = Span(f"length over {pitches:g} pitches", least, most, "mm").check(measured_mm)
    return (measured - new) / new * 100


def wear_limit(speeds: int) -> WearLimit:
    """Elongations in percent at which chain and sprockets are replaced.

    Formula: 11 speeds and more 0.5 and 0.75 %, 6 to 10 speeds 0.75 and 1.04 %, fewer and hub gears 1 and 1.5 %.
    Source: common practice, no source; 1.04 % is 1/8 in to the foot (quoted by bicycletutor.com).

    Args:
        speeds: sprockets on the wheel, 1 to 13; 1 for a hub gear.

    Raises:
        InputError: the number out of range.
    """
    count = SPEEDS.check(speeds)
    if count >= 11:
        return WearLimit(0.5, 0.75)
    return WearLimit(0.75, 1.04) if count >= 6 else WearLimit(1.0, 1.5)


def wear_bands(speeds: int) -> tuple[Band, ...]:
    """What an elongation in percent means; limits, source and errors of `wear_limit`."""
    limit = wear_limit(speeds)
    return (
        Band("good", None, limit.chain, right=True, with_high=True),
        Band("new chain", limit.chain, limit.sprockets, with_low=False, with_high=True),
        Band("chain and sprockets", limit.sprockets, None, with_low=False),
    )


def length_by_rule(chainstay_mm: float, ring_teeth: int, sprocket_teeth: int) -> ChainLength:
    """Length of a new chain for a derailleur by the rule of thumb in inches.

    Formula: length = 2 x chainstay + ring / 4 + sprocket / 4 + 1, in inches, rounded up to whole inches.
    Source: chain-length how-to, yellowsweet.pages.dev.

    Args:
        chainstay_mm: 150 to 1500 mm; with rear suspension, where it is longest.
        ring_teeth: largest ring, 18 to 80.
        sprocket_teeth: largest sprocket, 8 to 60.

    Raises:
        InputError: a value out of its range.
    """
    inches = (
        2 * CHAINSTAY.check(chainstay_mm) / 25.4 + (RING.check(ring_teeth) + SPROCKET.check(sprocket_teeth)) / 4 + 1
    )
    return links_for(inches * 25.4)


def taut_length(chainstay_mm: float, ring_teeth: int, sprocket_teeth: int) -> float:
    """Length in mm of a chain drawn taut round ring and sprocket alone, as an open belt.

    Formula: length = 2 x stay x cos(a) + r1 x (pi + 2a) + r2 x (pi - 2a), sin(a) = (r1 - r2) / stay,
    r = 12.7 / (2 x sin(pi / teeth)).
    Source: open-belt geometry.

    Args:
        chainstay_mm: 150 to 1500 mm.
        ring_teeth: 18 to 80.
        sprocket_teeth: 8 to 60.

    Raises:
        InputError: a value out of its range, or `bench-out-of-range` where ring and sprocket would overlap.
    """
    stay = CHAINSTAY.check(chainstay_mm)
    front, rear = (
        PITCH_MM / (2 * sin(pi / teeth)) for teeth in (RING.check(ring_teeth), SPROCKET.check(sprocket_teeth))
    )
    if front + rear >= stay:
        hint = f"More than {front + rear:.0f} mm makes sense with these teeth."
        raise InputError("bench-out-of-range", "Ring and sprocket would overlap on so short a chainstay.", hint=hint)
    lean = asin((front - rear) / stay)
    return 2 * stay * cos(lean) + front * (pi + 2 * lean) + rear * (pi - 2 * lean)


def length_round_mech(chainstay_mm: float, ring_teeth: int, sprocket_teeth: int) -> ChainLength:
    """Length of a new chain for a derailleur: taut round the biggest pair, and one pair of links.

    Formula: length = taut length round the biggest pair + 25.4, rounded up to whole pairs of links.
    Source: common practice, no source; open-belt geometry for the taut length.

    Arguments and errors are those of `taut_length`, with the largest ring and the largest sprocket.
    """
    return links_for(taut_length(chainstay_mm, ring_teeth, sprocket_teeth) + 2 * PITCH_MM)


def links_for(length_mm: float) -> ChainLength:
    """A length rounded up to whole pairs of links.

    Formula: pitches = 2 x ceil(length / 25.4).
    Source: inner and outer links alternate; ISO 606 for the pitch.

    Args:
        length_mm: 12.7 to 5080 mm.

    Raises:
        InputError: the length out of range.
    """
    exact = Span("length of the chain", PITCH_MM, 5080, "mm").check(length_mm)
    pitches = 2 * ceil(round(exact / (2 * PITCH_MM), 6))
    return ChainLength(exact, pitches, pitches * PITCH_MM)


def front_chain_line(tube_mm: float, gap_mm: float) -> float:
    """Chain line of the ring in mm from the middle of the frame.

    Formula: line = tube / 2 + gap.
    Source: geometry.

    Args:
        tube_mm: seat tube's diameter near the ring, 20 to 60 mm.
        gap_mm: from the tube to the middle of the ring's teeth (with two rings, to midway between), 0 to 80 mm.

    Raises:
        InputError: a value out of its range.
    """
    return TUBE.check(tube_mm) / 2 + GAP.check(gap_mm)


def rear_chain_line(locknuts_mm: float, to_sprocket_mm: float, stack_mm: float = 0.0) -> float:
    """Chain line of the sprockets in mm from the middle of the frame.

    Formula: line = locknuts / 2 - to sprocket - stack / 2.
    Source: geometry; so measured in a toolmaker's guide (hozan.co.jp).

    Args:
        locknuts_mm: over the locknuts, 90 to 220 mm.
        to_sprocket_mm: from the drive-side locknut to the outside of the smallest sprocket, 0 to 60 mm.
        stack_mm: from the outside of the smallest to the outside of the largest sprocket, 0 to 60 mm; one sprocket:
            its thickness.

    Raises:
        InputError: a value out of its range, or `bench-out-of-range` where the sprockets would sit left of the middle.
    """
    half = LOCKNUTS.check(locknuts_mm) / 2
    line = half - TO_SPROCKET.check(to_sprocket_mm) - STACK.check(stack_mm) / 2
    if line <= 0:
        hint = f"Less than {half:.0f} mm together makes sense."
        raise InputError("bench-out-of-range", "The sprockets would sit left of the frame's middle.", hint=hint)
    return line


def chain_angle(front_mm: float, rear_mm: float, chainstay_mm: float) -> float:
    """Angle in degrees at which the chain runs off straight; positive where the ring stands farther out.

    Formula: angle = atan((front - rear) / chainstay).
    Source: geometry.

    Args:
        front_mm: chain line of the ring, 20 to 80 mm.
        rear_mm: chain line of the sprockets, 20 to 80 mm.
        chainstay_mm: 150 to 1500 mm.

    Raises:
        InputError: a value out of its range.
    """
    return degrees(atan2(LINE.check(front_mm) - LINE.check(rear_mm), CHAINSTAY.check(chainstay_mm)))
