"""Headset: the gap that lets the cap preload, spacers to add, steerer to cut, and which headset fits which bore.

Cast: `top_cap_gap` and `spacers_for`; `steerer_length` and `steerer_cut`; `read_code` takes "ZS44/28.6" apart,
`kinds_for` finds what a bore and a steerer can take. Lengths and diameters are in mm.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations_with_replacement
from typing import Final

from diagnose.bench.span import Span, one_of, written
from diagnose.errors import InputError

GAP: Final = Span("gap above the steerer", -5, 60, "mm")
SPACER: Final = Span("thickness of a spacer", 0.25, 60, "mm")
HEAD_TUBE: Final = Span("length of the head tube", 50, 400, "mm")
STACK: Final = Span("height of the headset parts", 0, 80, "mm")
SPACERS: Final = Span("height of the spacers", 0, 150, "mm")
STEM: Final = Span("height of the stem's clamp", 15, 80, "mm")
STEERER: Final = Span("length of the steerer", 80, 600, "mm")
BORE: Final = Span("bore of the head tube", 25, 70, "mm")
TUBE: Final = Span("diameter of steerer or crown race seat", 20, 60, "mm")

LEAST_GAP: Final = 2.0
MOST_GAP: Final = 4.0
"""Gap in mm above the steerer that lets the cap preload (Cane Creek headset guide)."""
MOST_BELOW: Final = 5.0
"""How far in mm the steerer may end below the top of the stem (TBIS 4210-2:2018 4.7.4)."""
THICKNESSES: Final = (1.0, 2.0, 3.0, 5.0, 10.0, 15.0, 20.0)
"""Spacers in mm that a workshop has (common practice, no source)."""

KINDS: Final = {
    "EC": "cup outside the head tube",
    "ZS": "cup inside the head tube",
    "IS": "bearing straight in the frame",
}

SEATS: Final = {
    "EC29": (29.8, 29.9), "EC30": (30.0, 30.1), "EC34": (33.9, 33.95), "EC37": (36.9, 36.95), "EC44": (43.95, 44.0),
    "EC49": (49.55, 49.6), "EC56": (55.95, 56.0),
    "ZS41": (41.3, 41.4), "ZS44": (43.95, 44.0), "ZS49": (49.55, 49.6), "ZS55": (54.95, 55.0), "ZS56": (55.95, 56.0),
    "IS38": (38.1, 38.3), "IS41": (41.1, 41.2), "IS42": (41.95, 42.1), "IS47": (47.0, 47.1), "IS49": (49.1, 49.2),
    "IS52": (52.05, 52.15),
}  # fmt: skip
"""Bore of the head tube in mm, lowest and highest: EC34 and ZS44 from a maker's head-tube guide, EC29 and EC30 from
another guide of that maker, the rest from memory."""

TUBES: Final = {
    25.4: "1 in steerer", 26.4: "1 in crown race seat (ISO)", 27.0: "1 in crown race seat (JIS)",
    28.6: "1 1/8 in steerer",
    30.0: "1 1/8 in crown race seat", 31.8: "1 1/4 in steerer", 33.0: "1 1/4 in crown race seat",
    38.1: "1 1/2 in steerer",
    39.8: "1 1/2 in crown race seat", 40.0: "1 1/2 in crown race seat", 52.0: "1.8 in crown race seat",
}  # fmt: skip
"""Steerers and crown race seats in mm: 25.4 and 28.6 by arithmetic, the rest from memory."""

_CODE: Final = re.compile(
    r"(EC|ZS|IS)\s*(\d{2}(?:[.,]\d{1,2})?)\s*/\s*(\d{2}(?:[.,]\d{1,2})?)(?:\s*[T])?", re.IGNORECASE
)


@dataclass(frozen=True, slots=True)
class CapGap:
    """What the gap above the steerer asks for.

    Attributes:
        verdict: `too little`, `right`, or `too much`.
        add: height of spacers in mm to add under the cap (negative: to take away) for the middle of the right gap.
        safe: whether the steerer ends high enough in the stem.
    """

    verdict: str
    add: float
    safe: bool


@dataclass(frozen=True, slots=True)
class Code:
    """One end of a headset by its code.

    Attributes:
        kind: EC, ZS or IS.
        bore: of the head tube as named, in mm.
        tube: steerer above, crown race seat below, as named, in mm.
        low: least bore in mm as measured; None where the size is not known here.
        high: largest bore in mm as measured.
    """

    kind: str
    bore: float
    tube: float
    low: float | None
    high: float | None


def top_cap_gap(gap_mm: float) -> CapGap:
    """What the gap between the top of the steerer and the top of the stem (or last spacer) asks for.

    Formula: right from 2 to 4 mm; add = 3 - gap; safe up to 5 mm where no spacer stands above the stem.
    Source: Cane Creek headset guide; TBIS 4210-2:2018 4.7.4 (same clause in ISO 4210-2:2015).

    Args:
        gap_mm: how far the steerer stands below, -5 to 60 mm; negative where it stands above.

    Raises:
        InputError: the gap out of range.
    """
    gap = GAP.check(gap_mm)
    verdict = "too little" if gap < LEAST_GAP else "right" if gap <= MOST_GAP else "too much"
    add = 0.0 if verdict == "right" else (LEAST_GAP + MOST_GAP) / 2 - gap
    return CapGap(verdict, add, gap <= MOST_BELOW)


def spacers_for(height_mm: float, at_hand_mm: Sequence[float] = THICKNESSES) -> tuple[float, ...]:
    """The fewest spacers, the thickest first, that come nearest to a height in mm; at most four.

    Formula: least distance from the height, then the fewest spacers.
    Source: search over all.

    Args:
        height_mm: 0 to 60 mm.
        at_hand_mm: thicknesses at hand, 0.25 to 60 mm, 1 to 12 of them, each as often as needed.

    Raises:
        InputError: a value out of its range.
    """
    height = Span("height to fill", 0, 60, "mm").check(height_mm)
    at_hand = sorted(set(SPACER.check_all(at_hand_mm, 1, 12)), reverse=True)
    stacks = (stack for count in range(5) for stack in combinations_with_replacement(at_hand, count))
    return min(stacks, key=lambda stack: (round(abs(sum(stack) - height), 6), len(stack)))


def steerer_length(
    head_tube_mm: float, stack_mm: float, spacers_mm: float, stem_mm: float, gap_mm: float = 3.0
) -> float:
    """Length in mm of the steerer from the crown race seat to its top.

    Formula: length = head tube + headset parts + spacers + stem - gap.
    Source: geometry; the gap of a Cane Creek headset guide.

    Args:
        head_tube_mm: 50 to 400 mm.
        stack_mm: all that the headset adds above and below the head tube, 0 to 80 mm.
        spacers_mm: below and above the stem together, 0 to 150 mm.
        stem_mm: height of the stem's clamp, 15 to 80 mm.
        gap_mm: left for the cap, 2 to 5 mm.

    Raises:
        InputError: a value out of its range.
    """
    gap = Span("gap left for the cap", LEAST_GAP, MOST_BELOW, "mm").check(gap_mm)
    stacked = HEAD_TUBE.check(head_tube_mm) + STACK.check(stack_mm) + SPACERS.check(spacers_mm)
    return stacked + STEM.check(stem_mm) - gap


def steerer_cut(steerer_mm: float, wanted_mm: float) -> float:
    """What is cut off a steerer in mm; negative where it is too short, and then nothing makes it longer.

    Formula: cut = steerer - wanted.
    Source: geometry; mark, measure again, then cut.

    Args:
        steerer_mm: as it is, 80 to 600 mm.
        wanted_mm: from `steerer_length`, 80 to 600 mm.

    Raises:
        InputError: a value out of its range.
    """
    return STEERER.check(steerer_mm) - STEERER.check(wanted_mm)


def read_code(code: str) -> Code:
    """One end of a headset from its code, e.g. "ZS44/28.6", "EC34/30".

    Formula: kind, bore of the head tube / steerer (above) or crown race seat (below).
    Source: standardized headset identification system (SHIS); bores of a maker's head-tube guide, the rest from memory.

    Args:
        code: EC, ZS or IS, a bore of 25 to 70 mm, a slash and a diameter of 20 to 60 mm.

    Raises:
        InputError: `bench-unknown-word` where it is no such code, or a diameter out of its range.
    """
    hint = 'Write one end like "ZS44/28.6": EC, ZS or IS, the bore, a slash, the steerer or the crown race seat.'
    match = _CODE.fullmatch(written("headset code", code, hint))
    if match is None:
        raise InputError("bench-unknown-word", "That is no headset code.", hint=hint)
    bore, tube = (float(part.replace(",", ".")) for part in (match[2], match[3]))
    BORE.check(bore)
    TUBE.check(tube)
    low, high = SEATS.get(f"{match[1].upper()}{int(bore)}", (None, None))
    return Code(match[1].upper(), bore, tube, low, high)


def kinds_for(bore_mm: float, tube_mm: float, kind: str | None = None) -> tuple[str, ...]:
    """Codes that a measured bore and steerer (or crown race seat) can take, the nearest first; may be empty.

    Formula: all sizes whose bore lies within 0.15 mm and whose diameter lies within 0.3 mm, by distance.
    Source: standardized headset identification system (SHIS); bores from a maker's head-tube guide, the rest from
    memory.

    Args:
        bore_mm: inside the head tube without cups, measured twice at a right angle, 25 to 70 mm.
        tube_mm: steerer above or crown race seat below, 20 to 60 mm.
        kind: EC, ZS or IS where it can be seen; left out for all.

    Raises:
        InputError: a value out of its range or another kind.
    """
    bore, tube = BORE.check(bore_mm), TUBE.check(tube_mm)
    wanted = None if kind is None else one_of("kind of headset", kind, KINDS)
    near = min(TUBES, key=lambda size: abs(size - tube))
    if abs(near - tube) > 0.3:
        return ()
    found = [
        (_off(bore, low, high), name)
        for name, (low, high) in SEATS.items()
        if wanted in (None, name[:2]) and _off(bore, low, high) <= 0.15
    ]
    return tuple(f"{name}/{near:g}" for _, name in sorted(found))


def _off(bore: float, low: float, high: float) -> float:
    """How far a bore lies outside a range."""
    return round(max(low - bore, bore - high, 0.0), 6)
