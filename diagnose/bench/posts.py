"""Posts and quill stems: how deep they must stand in the frame, and whether they do.

Cast: `least_insertion` by kind and diameter; `insertion` from the whole length and what stands out. Lengths and
diameters are in mm. The mark on the part and the frame maker's own figure govern; the deeper of the two counts.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from diagnose.bench.span import Span, one_of

DIAMETER: Final = Span("diameter", 19, 40, "mm")
LENGTH: Final = Span("whole length", 50, 700, "mm")
OUT: Final = Span("length that stands out", 0, 600, "mm")
ASKED: Final = Span("insertion asked for", 0, 300, "mm")
BORE: Final = Span("bore", 19, 40, "mm")

KINDS: Final = {"post": 2.0, "post, deeper": 2.5, "quill": 2.5}
"""Least insertion in diameters: 16 CFR 1512.15 for posts, one maker for the deeper figure, 16 CFR 1512.6 and
ISO 4210-2 for quill stems (from memory)."""
SHAPED_POST: Final = 65.0
"""Least insertion in mm of a post that is not round (ISO 4210-2 4.16.2, from memory)."""


@dataclass(frozen=True, slots=True)
class Insertion:
    """How deep a post stands in the frame.

    Attributes:
        inside: in mm.
        least: in mm.
        spare: inside less the least, in mm; negative where it must go deeper.
        enough: whether it is deep enough to be tightened and ridden.
    """

    inside: float
    least: float
    spare: float
    enough: bool


def least_insertion(kind: str, diameter_mm: float | None = None) -> float:
    """Least length in mm that must stand in the frame.

    Formula: post 2 x diameter; post, deeper 2.5 x diameter; quill 2.5 x diameter; post that is not round 65 mm.
    Source: 16 CFR 1512.15; one maker's manual for 2.5; ISO 4210-2 and 16 CFR 1512.6 for quill and shaped post, from
    memory.

    Args:
        kind: `post`, `post, deeper`, `quill` or `shaped post`.
        diameter_mm: 19 to 40 mm; not needed for a shaped post.

    Raises:
        InputError: another kind, or the diameter out of range or missing.
    """
    if one_of("kind", kind, (*KINDS, "shaped post")) == "shaped post":
        return SHAPED_POST
    return KINDS[kind] * DIAMETER.check(diameter_mm)


def insertion(
    length_mm: float, out_mm: float, kind: str, diameter_mm: float | None = None, deeper_mm: float | None = None
) -> Insertion:
    """Whether a post or quill stem stands deep enough, from its whole length and what stands out.

    Formula: inside = whole length - out; spare = inside - least; the deeper of two least figures counts.
    Source: as the least insertion.

    Args:
        length_mm: end to end of the part that can be clamped, 50 to 700 mm.
        out_mm: from the frame's edge upwards, 0 mm to the whole length.
        kind: as in `least_insertion`.
        diameter_mm: 19 to 40 mm; not needed for a shaped post.
        deeper_mm: what mark or frame maker ask for, 0 to 300 mm; None where they do not say.

    Raises:
        InputError: a value out of its range or another kind.
    """
    length, least = LENGTH.check(length_mm), least_insertion(kind, diameter_mm)
    least = max(least, ASKED.check(deeper_mm)) if deeper_mm is not None else least
    inside = length - Span(OUT.name, 0, length, "mm").check(out_mm)
    return Insertion(inside, least, inside - least, inside >= least)


def clearance(post_mm: float, bore_mm: float) -> float:
    """How much smaller a post is than its bore, in mm; 0.05 to 0.15 is right (common practice, no source).

    Posts come in steps of 0.2 mm: room of a whole step is one size too thin.

    Formula: clearance = bore - post.
    Source: geometry.

    Args:
        post_mm: 19 to 40 mm.
        bore_mm: measured twice at a right angle, 19 to 40 mm, at most 3 mm apart from the post.

    Raises:
        InputError: a value out of its range.
    """
    post = DIAMETER.check(post_mm)
    return Span(BORE.name, max(BORE.low, post - 1), min(BORE.high, post + 3), "mm").check(bore_mm) - post
