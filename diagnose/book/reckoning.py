"""A sum of the bench for one bike: what is asked, what the book supplies, what comes of it, and its gauge.

Cast: `Asked` is a reading that the stand asks for, `asked_of` lists them; `reckon` does the sum; `reading_of` is the
figure that a measure takes of it; `gauge_of` sorts a measure's bands for drawing.
"""

from __future__ import annotations

from collections.abc import Mapping
from contextlib import suppress
from typing import NamedTuple

from diagnose.bench.bands import Band
from diagnose.bench.sums.givens import Given, Several, Taken, Value
from diagnose.bench.sums.model import Result
from diagnose.bench.sums.table import sum_named
from diagnose.bench.typed import Marking
from diagnose.bench.units import convert, show
from diagnose.book.conditions import Profile, edge_number, interval, numbers
from diagnose.book.model import Book, Check, Measure, Supply, Working
from diagnose.errors import InputError

Told = Mapping[str, Mapping[str, tuple[Value, str]]]
"""Check to what was read there: key of the sum to value and unit; under the empty key what the check came to."""
DIGITS = 6
"""Decimals that a result keeps: what binary arithmetic adds to 0.7 - 0.5 must not push it over an edge."""


class Asked(NamedTuple):
    """A reading that the stand asks for.

    Attributes:
        key: the sum's name for it.
        text: the question.
        shape: what an answer looks like, e.g. "20 to 320 mm".
        unit: its unit; `text` for words.
        default: what counts where nothing is typed, as text; empty: it is then left out; None: it must be told.
        several: whether it takes a row of readings.
    """

    key: str
    text: str
    shape: str
    unit: str
    default: str | None
    several: bool


def asked_of(working: Working, book: Book, profile: Profile, told: Told) -> tuple[Asked, ...]:
    """The readings that the stand asks for, in the order of asking."""
    givens = {given.key: given for given in sum_named(working.sum).givens}
    supplied = supplies(working, book, profile, told)
    return tuple(
        Asked(
            key,
            ask.text or f"{givens[key].asks}.",
            givens[key].shape,
            givens[key].unit,
            _default(givens[key], supplied.get(key)),
            isinstance(givens[key], Several),
        )
        for key, ask in working.asks.items()
    )


def _default(given: Given, supplied: Taken | None) -> str | None:
    """What counts where nothing is typed, as text."""
    if supplied is None and not given.default:
        return given.default
    return shown(supplied or given.read(given.default))


def shown(taken: Taken) -> str:
    """A reading as text."""
    value, unit = taken.value, taken.unit
    if isinstance(value, str):
        return value
    if isinstance(value, Marking):
        return show(value.high, unit) if value.low is None else f"{show(value.low, unit)} to {show(value.high, unit)}"
    if isinstance(value, tuple):
        return f"{' '.join(f'{one:.6g}' for one in value[:-1])} {show(value[-1], unit)}".strip()
    return show(value, unit)


def supplies(working: Working, book: Book, profile: Profile, told: Told) -> dict[str, Taken]:
    """What the book supplies for this bike, by key; what is not known, or cannot be, is left out."""
    givens = {given.key: given for given in sum_named(working.sum).givens}
    found: dict[str, Taken] = {}
    for key, supply in working.supplies.items():
        value = _supplied(supply, givens[key], book, profile, told)
        if value is not None:
            with suppress(InputError):
                found[key] = givens[key].read(value)
    return found


def _supplied(supply: Supply, given: Given, book: Book, profile: Profile, told: Told) -> object:
    if not supply.source:
        return supply.typed
    if supply.source in book.limits:
        limit = book.limits[supply.source]
        number = getattr(numbers(limit, profile), supply.part)
        return None if number is None else convert(number, limit.unit, given.unit)
    read = told.get(supply.source, {}).get(supply.part)
    if read is None:
        return None
    value, unit = read
    if isinstance(value, str) or unit == given.unit:
        return value
    if isinstance(value, tuple):
        return tuple(convert(one, unit, given.unit) for one in value)
    return convert(value, unit, given.unit) if isinstance(value, float) else None


def reckon(working: Working, readings: Mapping[str, object], book: Book, profile: Profile, told: Told) -> Result:
    """The sum for this bike.

    Args:
        working: the sum and where its givens come from.
        readings: what was read, by key; it goes before what the book supplies.
        book: the rule book.
        profile: what is known of the bike.
        told: what was read at other checks.

    Raises:
        InputError: a reading is missing or cannot be, or they do not go together.
    """
    supplied = {key: one.value for key, one in supplies(working, book, profile, told).items()}
    return sum_named(working.sum).result({**supplied, **readings})


def missing(working: Working, book: Book, profile: Profile, told: Told) -> tuple[Given, ...]:
    """What a sum cannot do without and nobody has told."""
    known = supplies(working, book, profile, told)
    return tuple(one for one in sum_named(working.sum).givens if one.default is None and one.key not in known)


def reading_of(measure: Measure, result: Result) -> float:
    """The figure of a sum that a measure takes as its reading, in the measure's unit.

    Raises:
        InputError: `bench-no-figure`, there is none this time; or `bench-out-of-range`, it is none that can be.
    """
    value = result.part(measure.result).value if measure.result else result.value
    if isinstance(value, str):
        raise InputError("bench-no-figure", f"These readings give no figure: {value}.")
    number = round(value, DIGITS)
    if measure.low <= number <= measure.high:
        return number
    came = f"These readings come to {show(number, measure.unit)}, which cannot be."
    hint = f"{measure.low:g} to {show(measure.high, measure.unit)} makes sense: look at each reading and its unit."
    raise InputError("bench-out-of-range", came, hint=hint)


def gauge_of(check: Check, book: Book, profile: Profile) -> tuple[tuple[str, Band], ...]:
    """The bands of a measure for this bike, from low to high, each with its value; named by what the value means."""
    finding, found = book.findings[check.finding], []
    measure = check.measure
    right = right_values(check, book)
    for band in measure.bands if measure else ():
        span = interval(band, book, profile)
        if span is None:
            continue
        low = None if band.start is None else edge_number(band.start, book, profile)
        high = None if band.stop is None else edge_number(band.stop, book, profile)
        name = finding.values[band.value]
        found.append((band.value, Band(name, low, high, band.value in right, not band.start_open, not band.stop_open)))
    return tuple(sorted(found, key=lambda one: (one[1].low is not None, one[1].low or 0.0)))


def right_values(check: Check, book: Book) -> tuple[str, ...]:
    """The values at which nothing is amiss: as the measure says, else the likeliest one `otherwise`."""
    if check.measure and check.measure.right:
        return check.measure.right
    finding = book.findings[check.finding]
    chances = finding.otherwise.chances
    return (tuple(finding.values)[chances.index(max(chances))],)
