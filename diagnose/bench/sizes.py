"""Tyre sizes by name: which bead seat diameter a marking means, and when it can mean several.

Cast: `meaning` reads any marking ("37-622", "700 x 25C", "26 x 1 3/8", "29") into a `SizeMeaning`; `names_of` goes
back. Two sizes fit each other only where the bead seat diameter is the same; a fraction and a decimal
that are equal numbers are two different sizes.

The tables follow the tyre sizing pages of sheldonbrown.com and the lists of bikefix.co.uk, dimensionsinfo.com,
michelinbicycle.com and fietssite; sizes marked `rare` are from memory or from one list alone.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction
from typing import Final

from diagnose.bench.span import Span, written
from diagnose.bench.tyres import BEAD_SEAT, WIDTH
from diagnose.errors import InputError

MARKED: Final = Span("width in the marking", 10, 130, "mm")

_FRENCH: Final = {
    "700A": 642, "700B": 635, "700C": 622, "700D": 587, "650A": 590, "650B": 584, "650C": 571, "600A": 540, "550A": 490,
    "500A": 440, "450A": 390, "400A": 340, "350A": 288,
}  # fmt: skip
_FRENCH_BARE: Final = {"700": (622, 635, 642), "650": (584, 571, 590), "600": (540,), "550": (490,), "500": (440,)}
_DECIMAL: Final = {
    "36": 787, "32": 686, "29": 622, "28": 622, "27.5": 584, "26": 559, "24": 507, "22": 457, "20": 406, "18": 355,
    "16": 305, "14": 254, "12.5": 203, "12": 203, "10": 152,
}  # fmt: skip
_OLD_DECIMAL: Final = {("26", "1.25"): 599, ("26", "1.375"): 599}
_FRACTION: Final[dict[str, dict[str, tuple[int, ...]]]] = {
    "28": {"7/8": (622,), "1": (622,), "1 3/8": (642, 622), "1 1/2": (635,), "1 5/8": (622,), "1 3/4": (622,)},
    "27": {"1": (630,), "1 1/8": (630,), "1 1/4": (630,), "1 3/8": (630,)},
    "26": {"1": (571,), "1 1/4": (597,), "1 3/8": (590, 597), "1 1/2": (584, 571), "1 3/4": (571,)},
    "24": {"1": (520,), "1 1/8": (520,), "1 1/4": (547,), "1 3/8": (540, 547)},
    "22": {"1 3/8": (489, 501)},
    "20": {"1 1/8": (451,), "1 1/4": (451,), "1 3/8": (451, 438), "1 3/4": (419,)},
    "18": {"1 3/8": (400, 390)},
    "17": {"1 1/4": (369,)},
    "16": {"1 3/8": (349, 337, 340), "1 3/4": (317,)},
    "14": {"1 3/8": (298, 288)},
    "12.5": {"2 1/4": (203,)},
    "10": {"2": (152,)},
    "8": {"1 1/4": (137,)},
}
_BARE: Final = {
    "36": (787,), "32": (686,), "29": (622,), "28": (622, 635, 642), "27.5": (584,), "27": (630,),
    "26": (559, 590, 584, 571, 597, 599), "24": (507, 540, 520, 547), "22": (457, 489, 501), "20": (406, 451, 438, 419),
    "18": (355, 400, 390), "17": (369,), "16": (305, 349, 340, 337, 317), "14": (254, 298, 288), "12.5": (203,),
    "12": (203,), "10": (152,), "8": (137,),
}  # fmt: skip
_KNOWN: Final = {
    787: "36 in",
    686: "32 in",
    642: "28 x 1 3/8, 700A (rare)",
    635: "28 x 1 1/2, 700B: roadsters",
    630: "27 x 1 1/4: older touring bikes",
    622: "700C, 28, 29",
    599: "26 x 1.25, 26 x 1.375 (rare)",
    597: "26 x 1 1/4, 26 x 1 3/8 (S-6)",
    590: "26 x 1 3/8, 650A",
    587: "700D (rare)",
    584: "650B, 27.5, 26 x 1 1/2",
    571: "650C, 26 x 1, 26 x 1 3/4",
    559: "26 x 1.0 to 26 x 3.0: mountain bikes",
    547: "24 x 1 1/4, 24 x 1 3/8 (S-5, rare)",
    540: "24 x 1 3/8, 600A",
    520: "24 x 1",
    507: "24 x 1.5 to 24 x 2.8",
    501: "22 x 1 3/8 (rare)",
    490: "550A (rare)",
    489: "22 x 1 3/8 (rare)",
    457: "22 x 1.75",
    451: "20 x 1 1/8 to 20 x 1 3/8",
    440: "500A (rare)",
    438: "20 x 1 3/8 (rare)",
    419: "20 x 1 3/4 (rare)",
    406: "20 x 1.5 to 20 x 2.4: small wheels",
    400: "18 x 1 3/8 (rare)",
    390: "18 x 1 3/8, 450A (rare)",
    369: "17 x 1 1/4",
    355: "18 x 1.5 to 18 x 2.1",
    349: "16 x 1 3/8: folding bikes",
    340: "16 x 1 3/8, 400A (rare)",
    337: "16 x 1 3/8 (rare)",
    317: "16 x 1 3/4 (rare)",
    305: "16 x 1.75 to 16 x 2.1",
    298: "14 x 1 3/8 (rare)",
    288: "14 x 1 3/8, 350A (rare)",
    254: "14 x 1.75",
    203: "12, 12 1/2",
    152: "10 x 2",
    137: "8 x 1 1/4",
}

_ISO: Final = re.compile(r"(\d{2,3}(?:\.\d)?)\s*[-–]\s*(\d{2,3})")
_RIM: Final = re.compile(r"(\d{3})\s*x\s*(\d{2,3}(?:\.\d)?)\s*(?:c|tc|tss)?")
_METRIC: Final = re.compile(r"(350|400|450|500|550|600|650|700)\s*([abcd])?\s*(?:x\s*(\d{2,3}(?:\.\d)?)\s*([abcd])?)?")
_INCH: Final = re.compile(r"(\d{1,2}(?:\.\d+)?(?: 1/2)?)(?:\s*x\s*([^x]+))?(?:\s*x\s*([^x]+))?")
_MIXED: Final = re.compile(r"(?:(\d) ?)?(\d{1,2})/(\d{1,2})|(\d{1,2}(?:\.\d+)?)")
_VULGAR: Final = {"¼": "1/4", "½": "1/2", "¾": "3/4", "⅛": "1/8", "⅜": "3/8", "⅝": "5/8", "⅞": "7/8"}


@dataclass(frozen=True, slots=True)
class SizeMeaning:
    """What a marking can mean.

    Attributes:
        bead_seats: bead seat diameters in mm, the usual one first.
        width: of the tyre (of the rim for a marking such as "622 x 19C") in mm; None where the marking names none.
    """

    bead_seats: tuple[int, ...]
    width: float | None = None

    @property
    def ambiguous(self) -> bool:
        """Whether the marking alone does not say which size it is."""
        return len(self.bead_seats) > 1


def meaning(marking: str) -> SizeMeaning:
    """What a size marking means.

    Formula: width-diameter is bead seat as written; metric letters, decimal and fractional inches by the tables.
    Source: ISO 5775; sheldonbrown.com, tire sizing; where lists differ each size is named.

    Args:
        marking: as it stands on tyre, rim or tube, e.g. "37-622", "700x25C", "650B", "26 x 1.75", "26 x 1 3/8", "29".

    Raises:
        InputError: `bench-missing` or `bench-unknown-size` where it is no size known here, or a number out of its
            range.
    """
    text = _clean(marking)
    found = _iso(text) or _metric(text) or _inches(text)
    if found is None or not found.bead_seats:
        hint = 'Write it like "37-622" (surest), "700 x 25C", "26 x 1.75" or "26 x 1 3/8".'
        raise InputError("bench-unknown-size", "That is no tyre size known here.", hint=hint)
    return found


def names_of(bead_seat_mm: float) -> str:
    """The names under which a bead seat diameter is sold; empty for one that is not known.

    Formula: table.
    Source: sheldonbrown.com, tire sizing; rare ones from memory.

    Args:
        bead_seat_mm: 80 to 800 mm.

    Raises:
        InputError: the diameter out of range.
    """
    return _KNOWN.get(round(BEAD_SEAT.check(bead_seat_mm)), "")


def _clean(marking: object) -> str:
    """The marking in plain signs: one blank at most, x between the parts, decimal points."""
    plain = written("size marking", marking, 'Write it like "37-622" or "26 x 1 3/8".').lower()
    text = plain.replace("×", "x").replace("*", "x").replace(",", ".").replace("⁄", "/")
    for sign, fraction in _VULGAR.items():
        text = text.replace(sign, f" {fraction}")
    text = re.sub(r'["″”“\']|\bin(ch(es)?)?\b|\bmm\b', " ", text)
    text = re.sub(r"(?<=\d)-(?=\d/)", " ", text)
    return re.sub(r"\s+", " ", text).strip()


def _iso(text: str) -> SizeMeaning | None:
    """A size such as "37-622", or a rim's "622 x 19C"."""
    if match := _ISO.fullmatch(text):
        return SizeMeaning((round(BEAD_SEAT.check(float(match[2]))),), MARKED.check(float(match[1])))
    match = _RIM.fullmatch(text)
    if match and int(match[1]) in _KNOWN:
        return SizeMeaning((int(match[1]),), float(match[2]))
    return None


def _metric(text: str) -> SizeMeaning | None:
    """A size such as "700 x 25C" or "650B"."""
    match = _METRIC.fullmatch(text)
    if match is None:
        return None
    letter = (match[2] or match[4] or "").upper()
    width = WIDTH.check(float(match[3])) if match[3] else None
    if letter:
        known = _FRENCH.get(match[1] + letter)
        return SizeMeaning(() if known is None else (known,), width)
    # Nobody sells 700 x 25 in anything but 622; the bare number was once three sizes.
    if match[1] == "700" and width is not None:
        return SizeMeaning((622,), width)
    return SizeMeaning(_FRENCH_BARE.get(match[1], ()), width)


def _inches(text: str) -> SizeMeaning | None:
    """A size such as "26 x 1.75", "26 x 1 3/8", "28 x 1 5/8 x 1 3/8", "29"."""
    match = _INCH.fullmatch(text)
    if match is None:
        return None
    wheel = match[1].replace(" 1/2", ".5")
    wheel = wheel.removesuffix(".0")
    widths = [_width(part.strip()) for part in (match[2], match[3]) if part]
    if any(width is None for width in widths):
        return None
    seats = _BARE.get(wheel, ()) if not widths else _seats(wheel, [width for width in widths if width])
    return SizeMeaning(seats, _wide([width for width in widths if width]))


def _seats(wheel: str, widths: list[tuple[str, Fraction]]) -> tuple[int, ...]:
    """Bead seats for a wheel and one or two widths; of two, the fraction that names the rim counts."""
    names = [name for name, _ in widths]
    if wheel == "28" and len(names) == 2 and "1 5/8" in names:
        return (622,)
    found: list[int] = []
    for name in names[:1]:
        if "/" not in name and wheel in _DECIMAL:  # a whole number belongs to both families
            found.append(_DECIMAL[wheel])
        found += [seat for seat in _FRACTION.get(wheel, {}).get(name, ()) if seat not in found]
        if (wheel, name) in _OLD_DECIMAL:
            found.append(_OLD_DECIMAL[wheel, name])
    return tuple(found)


def _wide(widths: list[tuple[str, Fraction]]) -> float | None:
    """The tyre's width in mm: the last of the widths that does not name the rim."""
    own = [number for name, number in widths if len(widths) == 1 or name != "1 5/8"]
    return float(own[-1] * Fraction("25.4")) if own else None


def _width(text: str) -> tuple[str, Fraction] | None:
    """A width in inches: as it is named in the tables, and as a number."""
    match = _MIXED.fullmatch(text)
    if match is None or (match[3] and int(match[3]) == 0):
        return None
    if match[4]:
        number = Fraction(match[4])
        return (match[4].rstrip("0") if "." in match[4] else match[4], number)
    number = int(match[1] or 0) + Fraction(int(match[2]), int(match[3]))
    whole, part = divmod(number, 1)
    return (f"{whole} {part}" if whole else str(part), number)
