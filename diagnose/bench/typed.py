"""What people type where one number is not enough: several readings, or a range as it is marked on a part.

Cast: `parse_several` reads "0.1 0.3 -0.2 mm" into `Reading`s; `parse_marking` reads "5-7 Nm", "max 6 Nm" or "6 Nm" into
a `Marking` with two ends.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Final

from diagnose.bench.units import Reading, parse_quantity
from diagnose.errors import InputError

LONGEST: Final = 2000
"""Characters that a row of readings may have."""

_BETWEEN: Final = re.compile(r"\s+(?:to|-|–|…|\.\.\.?)\s+|(?<=[\da-zA-Z½¼¾])\s*(?:-|–|…)\s*(?=\d)(?!\d+/\d)")
_AT_MOST: Final = re.compile(r"(?:max\.?|maximum|at most|up to|<=?|≤)\s*", re.IGNORECASE)
_STARTS: Final = re.compile(r"[+\-−]?\s*[\d.,½¼¾⅛⅜⅝⅞]")
_FRACTION: Final = re.compile(r"\d+/\d+")
_WHOLE: Final = re.compile(r"[+\-−]?\d+")


@dataclass(frozen=True, slots=True)
class Marking:
    """A range as marked: both ends in the unit asked for, `low` None where only the most is marked."""

    low: float | None
    high: float


def parse_several(text: str, unit: str) -> tuple[Reading, ...]:
    """Read several quantities, apart by blanks or semicolons: "0.1 0.3 -0.2 mm", "1/16 in; 1/8 in".

    A unit typed once, behind the last number, counts for all; otherwise each number without one is in the asked unit.

    Args:
        text: what was typed.
        unit: name of the unit asked for.

    Raises:
        InputError: as `parse_quantity`; `quantity-mixed-units` where some have a unit and some none.
    """
    if len(text) > LONGEST:
        raise InputError("quantity-too-long", f"That is too long for readings: at most {LONGEST} characters are read.")
    parts = [part.strip() for part in text.split(";") if part.strip()] if ";" in text else _parts(text)
    if not parts:
        parse_quantity(text, unit)
    readings = [parse_quantity(part, unit) for part in parts]
    bare = [_bare(part) for part in parts]
    if len(parts) > 1 and any(bare) and not all(bare):
        if not all(bare[:-1]):
            message = "Some of the readings have a unit and some have none."
            raise InputError(
                "quantity-mixed-units", message, hint="Type the unit once, behind the last, or behind each."
            )
        last = readings[-1].typed_unit
        readings = [parse_quantity(f"{part} {last}", unit) for part in parts[:-1]] + readings[-1:]
    return tuple(readings)


def parse_marking(text: str, unit: str) -> Marking:
    """Read a range as it is marked on a part: "5-7 Nm", "5 to 7 Nm", "max 6 Nm", "6 Nm" (which counts as the most).

    Args:
        text: what was typed.
        unit: name of the unit asked for.

    Raises:
        InputError: as `parse_quantity`; `bench-no-limit` where the first end is above the second.
    """
    plain = text.strip()
    if match := _AT_MOST.match(plain):
        return Marking(None, parse_quantity(plain[match.end() :], unit).value)
    ends = _BETWEEN.split(plain, maxsplit=1)
    if len(ends) == 1:
        return Marking(None, parse_quantity(plain, unit).value)
    high = parse_quantity(ends[1], unit)
    low = parse_quantity(f"{ends[0]} {high.typed_unit}" if _bare(ends[0]) else ends[0], unit)
    if low.value > high.value:
        raise InputError("bench-no-limit", "The first end of a range is the lower one.", hint='Type it like "5-7 Nm".')
    return Marking(low.value, high.value)


def _parts(text: str) -> list[str]:
    """The numbers of a row with what belongs to each: a unit behind it, a fraction behind a whole number."""
    parts: list[str] = []
    for word in text.replace("\u00a0", " ").split():
        bit = word.removesuffix(",")
        joined = parts and _FRACTION.match(bit) and _WHOLE.fullmatch(parts[-1])
        if parts and (joined or not _STARTS.match(bit)):
            parts[-1] += f" {bit}"
        else:
            parts.append(bit)
    return parts


def _bare(part: str) -> bool:
    """Whether a part is a number without a unit."""
    return not any(sign.isalpha() or sign in "\"″'%°" for sign in part)
