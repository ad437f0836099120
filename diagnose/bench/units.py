"""Quantities: what a mechanic types becomes a number in the unit that was asked, and numbers become text.

Cast: `parse_quantity` reads "2 1/2 in" or "5,2 Nm" into a `Reading`, `unit_of` a unit alone; `convert` changes the unit
of a number; `show`, `show_range` and `show_also` write them, with the signs of the trade or in plain ASCII. `Unit` and
the tables `UNITS` and `TYPED_ONLY` declare each unit once. The factors are the exact definitions: 1 in = 25.4 mm, 1 lb
= 0.45359237 kg, g = 9.80665 m/s2.
"""

from __future__ import annotations

import re
import unicodedata
from contextvars import ContextVar
from dataclasses import dataclass
from decimal import ROUND_CEILING, ROUND_FLOOR, ROUND_HALF_UP, Decimal
from fractions import Fraction
from functools import cache, lru_cache
from math import isfinite
from typing import Final

from diagnose.errors import InputError

LONGEST: Final = 40
"""Characters a quantity may have; nobody types more for one reading."""

_INCH: Final = Fraction("0.0254")
_KGF: Final = Fraction("9.80665")
_POUND: Final = Fraction("0.45359237")
_LBF: Final = _POUND * _KGF
_PSI: Final = _LBF / _INCH**2


@dataclass(frozen=True, slots=True)
class Unit:
    """One unit: `value * factor + offset` is the quantity in the base unit of its dimension.

    Attributes:
        name: how the rule book writes it, ASCII.
        dimension: units of one dimension convert into each other.
        sign: what the screen shows behind a number, with its leading space if it has one.
        plain: the same in ASCII.
        factor: size in the base unit.
        offset: zero point in the base unit.
        typed: other spellings that people type, lower case, without spaces, dots and hyphens.
        whole: only whole numbers make sense.
    """

    name: str
    dimension: str
    sign: str
    plain: str
    factor: Fraction
    typed: tuple[str, ...] = ()
    offset: Fraction = Fraction(0)
    whole: bool = False


@dataclass(frozen=True, slots=True)
class Reading:
    """A quantity as it was meant and as it was typed.

    Attributes:
        value: the number in `unit`.
        unit: the unit that was asked for.
        typed: the text as typed, without surrounding blanks.
        typed_unit: name of the unit the text was in; `unit` where the text named none.
    """

    value: float
    unit: str
    typed: str
    typed_unit: str


def _unit(
    name: str,
    dimension: str,
    factor: Fraction | str,
    *typed: str,
    sign: str | None = None,
    plain: str | None = None,
    offset: Fraction | str = "0",
    whole: bool = False,
) -> Unit:
    shown = f" {name}" if sign is None else sign
    ascii_shown = f" {name}" if plain is None else plain
    return Unit(name, dimension, shown, ascii_shown, Fraction(factor), typed, Fraction(offset), whole)


UNITS: Final = (
    _unit("N.m", "torque", "1", "newtonmeter", "newtonmetre", sign=" N·m"),
    _unit("mm", "length", "0.001", "millimeter", "millimetre"),
    _unit("cm", "length", "0.01", "centimeter", "centimetre"),
    _unit("m", "length", "1", "meter", "metre"),
    _unit("bar", "pressure", "100000", "bars"),
    _unit("psi", "pressure", _PSI),
    _unit("kPa", "pressure", "1000"),
    _unit("deg", "angle", "1", "°", "degree", "degrees", sign="°"),
    _unit("%", "share", "1", "percent", "pct"),
    _unit("% of travel", "share of travel", "1", "%", "percent", "pct"),
    _unit("min", "time", "60", "mins", "minute", "minutes"),
    _unit("s", "time", "1", "sec", "secs", "second", "seconds"),
    _unit("N", "force", "1", "newton", "newtons"),
    _unit("kg", "mass", "1", "kgs", "kilo", "kilos", "kilogram"),
    _unit("g", "mass", "0.001", "gr", "gram", "grams"),
    _unit("kgf", "force", _KGF, "kg", "kgs"),
    _unit("°C", "temperature", "1", "c", "degc", sign=" °C", plain=" deg C"),
    _unit("V", "voltage", "1", "volt", "volts"),
    _unit("ml", "volume", "1", "cc", "cm3", "millilitre", "milliliter"),
    _unit("km/h", "speed", "1", "kmh", "kph"),
    _unit("count", "count", "1", "times", sign="", plain="", whole=True),
    _unit("teeth", "teeth", "1", "t", "tooth", whole=True),
)
"""The units that a limit or a measuring check may be in."""

TYPED_ONLY: Final = (
    _unit("lbf.in", "torque", _LBF * _INCH, "inlbf", "lbin", "inlb", "lbsin", "inlbs", sign=" lbf·in"),
    _unit("lbf.ft", "torque", _LBF * _INCH * 12, "ftlbf", "lbft", "ftlb", "lbsft", "ftlbs", sign=" lbf·ft"),
    _unit("kgf.cm", "torque", _KGF / 100, "kgcm", sign=" kgf·cm"),
    _unit("in", "length", _INCH, '"', "″", "inch", "inches"),
    _unit("ft", "length", _INCH * 12, "foot", "feet"),
    _unit("h", "time", "3600", "hour", "hours"),
    _unit("lbf", "force", _LBF, "lb", "lbs"),
    _unit("lb", "mass", _POUND, "lbs", "pound", "pounds"),
    _unit("oz", "mass", _POUND / 16, "ounce", "ounces"),
    _unit("°F", "temperature", Fraction(5, 9), "f", "degf", offset=Fraction(-160, 9), plain=" deg F"),
    _unit("N/mm", "spring rate", "1"),
    _unit("lbf/in", "spring rate", _LBF / _INCH / 1000, "lb/in", "lbs/in"),
    _unit("MPa", "stress", "1", "N/mm2", "N/mm²"),
    _unit("mm2", "area", "1", "mm²", sign=" mm²"),
    _unit("cm2", "area", "100", "cm²", sign=" cm²"),
    _unit("mph", "speed", "1.609344"),
    _unit("Ah", "charge", "1"),
    _unit("Wh", "energy", "1"),
    _unit("ratio", "ratio", "1", ":1", "to1", sign="", plain=""),
    _unit("turns", "turns", "1", "turn"),
    _unit("links", "links", "1", "link", "pitches", whole=True),
)
"""Units that are understood and shown beside or in a sum of the bench, but never stored."""

_BESIDE: Final = {"N.m": ("lbf.in", 0), "bar": ("psi", 0), "psi": ("bar", 1)}
"""The second unit that a workshop's tools are marked in, with the decimals that it is shown to."""

BESIDE: Final = ContextVar("BESIDE", default=True)
"""Whether `show_range` writes the second unit too; whoever changes it puts it back."""

REMEMBERED: Final = 2048
"""Limits that are kept as text: a book has a few hundred, each is shown again and again."""

_NUMBER: Final = re.compile(
    r"(?P<sign>[+-]?)\s*"
    r"(?:(?:(?P<whole>[0-9]+)(?:\s+|-))?(?P<over>[0-9]+)\s*/\s*(?P<under>[0-9]+)"
    r"|(?P<decimal>[0-9]+(?:[.,][0-9]*)?|[.,][0-9]+))"
    r"\s*+(?P<unit>(?![0-9.,/]).*)"
)
_VULGAR: Final = {"¼": "1/4", "½": "1/2", "¾": "3/4", "⅛": "1/8", "⅜": "3/8", "⅝": "5/8", "⅞": "7/8"}
_WHOLE_FLOATS: Final = 16
"""From this power of ten on every float is a whole number."""
_JOINTS: Final = str.maketrans(dict.fromkeys(" .·⋅∙•*-", ""))


def is_unit(name: str) -> bool:
    """Whether a limit or a measuring check may be in the unit `name`."""
    return any(unit.name == name for unit in UNITS)


def unit_of(text: str) -> str:
    """The name of the unit that somebody typed, e.g. "N.m" for "Nm"; of two units with one spelling, that of mass.

    Raises:
        InputError: `quantity-unknown-unit`.
    """
    typed = _folded(text.strip())
    order = sorted(UNITS + TYPED_ONLY, key=lambda unit: unit.dimension != "mass")
    for unit in order:
        if typed in {_folded(spelling) for spelling in (unit.name, *unit.typed)}:
            return unit.name
    known = ", ".join(unit.name for unit in UNITS + TYPED_ONLY)
    raise InputError("quantity-unknown-unit", f'"{text.strip()[:LONGEST]}" is no unit.', hint=f"Known: {known}.")


def same_kind(unit: str, other: str) -> bool:
    """Whether a quantity in the one unit can be told in the other."""
    return _named(unit).dimension == _named(other).dimension


def convert(value: float, unit: str, into: str) -> float:
    """The quantity `value` in `unit`, as a number in the unit `into`.

    Formula: each unit is its size in the base unit of its dimension; temperatures also by their zero.
    Source: exact definitions: 1 in = 25.4 mm, 1 lb = 0.45359237 kg, g = 9.80665 m/s2.

    Raises:
        InputError: `quantity-unknown-unit`, `quantity-wrong-unit`, or `quantity-not-a-number` for nan and infinity.
    """
    here, there = _named(unit), _named(into)
    if here.dimension != there.dimension:
        raise _wrong_unit(unit, here, there)
    return float(_convert(Fraction(_decimal(value)), here, there))


def parse_quantity(text: str, unit: str) -> Reading:
    """Read one typed quantity.

    Decimal point or comma, fractions ("1/16 in", "2 1/2 in") and every unit of the same dimension are taken; a number
    alone is in the asked unit.

    Args:
        text: what was typed.
        unit: name of the unit asked for, one of `UNITS` or `TYPED_ONLY`.

    Raises:
        InputError: `quantity-empty`, `quantity-too-long`, `quantity-control`, `quantity-not-a-number`,
            `quantity-unknown-unit`, `quantity-wrong-unit` or `quantity-not-whole`.
    """
    asked = _named(unit)
    typed = _clean(text, asked)
    spelled_out = _spelled_out(typed)
    match = _NUMBER.fullmatch(spelled_out)
    number = match and _number(match)
    if match is None or number is None:
        raise InputError("quantity-not-a-number", f'"{spelled_out}" is not a number.', hint=_example(asked))
    typed_unit = _typed_unit(match["unit"], asked)
    value = _convert(number, typed_unit, asked)
    if asked.whole and value.denominator != 1:
        raise InputError("quantity-not-whole", f'"{spelled_out}" is not a whole number.', hint=_example(asked))
    return Reading(float(value), unit, typed, typed_unit.name)


def show(value: float, unit: str, *, plain: bool = False) -> str:
    """The quantity as text, e.g. "5 N·m" or "306.3 mm"; `plain` keeps to ASCII.

    Two to four significant digits, no more than two decimals where that leaves two digits; whole numbers are not cut.
    """
    shown = _named(unit)
    number = _decimal(value)
    digits = _plain_digits(number, min(3 - number.adjusted(), max(2, 1 - number.adjusted())))
    return digits + (" tooth" if shown.name == "teeth" and digits == "1" else _sign(shown, plain))


def show_range(low: float | None, high: float | None, unit: str, kind: str = "target", *, plain: bool = False) -> str:
    """A limit as text, e.g. "5 to 7 N·m (44 to 62 lbf·in)", "at most 0.5 mm", "at least 25 mm".

    Args:
        low: lower end in `unit`, included; None where there is none.
        high: upper end in `unit`, included; None where there is none.
        unit: name of the unit.
        kind: target, maximum or minimum. Where only one end is given, that end decides.
        plain: keep to ASCII.

    Raises:
        InputError: `quantity-no-limit`, when both ends are missing.
    """
    return _range(low, high, unit, kind, plain, BESIDE.get())


@lru_cache(maxsize=REMEMBERED)
def _range(low: float | None, high: float | None, unit: str, kind: str, plain: bool, with_other: bool) -> str:
    written = [None if end is None else _as_written(end) for end in (low, high)]
    text = _phrase(written[0], written[1], kind, _sign(_named(unit), plain), plain)
    if low is not None and high is not None and low != high:
        text += {"maximum": ", never more", "minimum": ", never less"}.get(kind, "")
    beside = show_also(low, high, unit, kind, plain=plain) if with_other else ""
    return f"{text} ({beside})" if beside else text


@lru_cache(maxsize=REMEMBERED)
def show_also(low: float | None, high: float | None, unit: str, kind: str = "target", *, plain: bool = False) -> str:
    """The limit in the other unit that tools are marked in, e.g. "44 to 62 lbf·in"; empty where there is none.

    A maximum is rounded down and a minimum up, so that the second figure never allows what the first one forbids.
    Arguments and errors are those of `show_range`.
    """
    if unit not in _BESIDE:
        return ""
    other, places = _BESIDE[unit]
    floor = ROUND_CEILING if high is None or kind == "minimum" else ROUND_HALF_UP
    ceiling = ROUND_FLOOR if low is None or kind == "maximum" else ROUND_HALF_UP
    ends = [
        None if end is None else _beside(convert(end, unit, other), places, way)
        for end, way in ((low, floor), (high, ceiling))
    ]
    return _phrase(ends[0], ends[1], kind, _sign(_named(other), plain), plain)


def _named(name: str) -> Unit:
    unit = _by_name().get(name)
    if unit is None:
        known = ", ".join(unit.name for unit in UNITS)
        raise InputError("quantity-unknown-unit", f'"{name}" is not a unit of the rule book.', hint=f"Known: {known}.")
    return unit


@cache
def _by_name() -> dict[str, Unit]:
    return {unit.name: unit for unit in UNITS + TYPED_ONLY}


@cache
def _by_spelling(dimension: str) -> dict[str, Unit]:
    """The units of a dimension by every spelling; a spelling means something else in another dimension ("kg")."""
    units = [unit for unit in UNITS + TYPED_ONLY if unit.dimension == dimension]
    return {_folded(spelling): unit for unit in units for spelling in (unit.name, *unit.typed)}


def _folded(text: str) -> str:
    return text.replace("º", "°").casefold().translate(_JOINTS)


def _convert(value: Fraction, here: Unit, there: Unit) -> Fraction:
    return (value * here.factor + here.offset - there.offset) / there.factor


def _clean(text: str, asked: Unit) -> str:
    """The text without surrounding blanks, refused where it cannot be a reading."""
    typed = text.strip()
    if not typed:
        raise InputError("quantity-empty", "Nothing was typed.", hint=_example(asked))
    if len(typed) > LONGEST:
        length = f"{len(typed)} characters, at most {LONGEST} are read"
        raise InputError("quantity-too-long", f"That is too long for a reading: {length}.", hint=_example(asked))
    if any(unicodedata.category(sign)[0] == "C" or unicodedata.category(sign) in {"Zl", "Zp"} for sign in typed):
        raise InputError("quantity-control", "The reading holds control characters.", hint=_example(asked))
    return typed


def _spelled_out(typed: str) -> str:
    """The typed text with typographic fractions, minus and blanks in their plain forms."""
    for sign, fraction in _VULGAR.items():
        typed = typed.replace(sign, f" {fraction}")
    typed = typed.replace("⁄", "/").replace("−", "-")
    return "".join(" " if unicodedata.category(sign) == "Zs" else sign for sign in typed).strip()


def _number(match: re.Match[str]) -> Fraction | None:
    """The number that was typed, exactly; None for a fraction of nothing."""
    if match["decimal"]:
        number = Fraction(match["decimal"].replace(",", "."))
    elif int(match["under"]) == 0:
        return None
    else:
        number = int(match["whole"] or 0) + Fraction(int(match["over"]), int(match["under"]))
    return -number if match["sign"] == "-" else number


def _typed_unit(text: str, asked: Unit) -> Unit:
    if not text:
        return asked
    fitting = _by_spelling(asked.dimension)
    unit = fitting.get(_folded(text))
    if unit is not None:
        return unit
    for other in UNITS + TYPED_ONLY:
        if _folded(text) in _by_spelling(other.dimension):
            raise _wrong_unit(text, other, asked)
    raise InputError("quantity-unknown-unit", f'"{text}" is not a unit known here.', hint=_example(asked))


def _wrong_unit(text: str, unit: Unit, asked: Unit) -> InputError:
    message = f'"{text}" is a unit of {unit.dimension}; asked for is {asked.dimension}.'
    return InputError("quantity-wrong-unit", message, hint=_example(asked))


def _example(asked: Unit) -> str:
    """How an answer may look, with the units that are taken."""
    units = [unit.name for unit in UNITS + TYPED_ONLY if unit.dimension == asked.dimension]
    number = "12" if asked.whole else "2.5"
    taken = f" Also in {', '.join(name for name in units if name != asked.name)}." if len(units) > 1 else ""
    alike = f'"{number} {asked.name}", or the number alone' if asked.sign else f'"{number}", the number alone'
    return f"Type it like {alike}.{taken}"


def _decimal(value: float) -> Decimal:
    if not isfinite(value):
        raise InputError("quantity-not-a-number", f"{value} cannot be shown as a quantity.")
    return Decimal(repr(float(value)))


def _as_written(value: float) -> str:
    """The number as the author wrote it; six significant digits hide what binary arithmetic added."""
    number = _decimal(value)
    return _plain_digits(number, 5 - number.adjusted())


def _beside(value: float, places: int, rounding: str) -> str:
    number = _decimal(value)
    return _plain_digits(number, max(places, 1 - number.adjusted()), rounding)


def _plain_digits(number: Decimal, places: int, rounding: str = ROUND_HALF_UP) -> str:
    """Digits without exponent, to `places` decimals (never fewer than none), without trailing zeros."""
    if number.adjusted() < _WHOLE_FLOATS:
        number = number.quantize(Decimal(1).scaleb(-max(places, 0)), rounding)
    text = f"{number:f}"
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return "0" if text == "-0" else text


def _sign(unit: Unit, plain: bool) -> str:
    return unit.plain if plain else unit.sign


def _phrase(low: str | None, high: str | None, kind: str, sign: str, plain: bool) -> str:
    """Two ends, already digits, as words."""
    if low is None and high is None:
        raise InputError("quantity-no-limit", "A limit needs a lower end, an upper end or both.")
    if low is None or (low == high and kind == "maximum"):
        return f"at most {high}{sign}"
    if high is None or (low == high and kind == "minimum"):
        return f"at least {low}{sign}"
    if low == high:
        return f"{low}{sign}"
    if low == f"-{high}":
        return f"within {'+-' if plain else '±'}{high}{sign}"
    return f"{low} to {high}{sign}"
