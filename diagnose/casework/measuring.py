"""Measurements that are made of raw readings: taking each, reckoning the result, keeping both.

Cast: `take` looks at one reading that was typed; `measured` makes the answer of all of them, `noted` the event of one
while others are still to come; `reckoned` does the sum again from what was kept. A reading as it is stored and a `Raw`
one are the same in two shapes: `kept` and `raw_of`.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from diagnose.bench.sums.model import Result
from diagnose.bench.sums.table import sum_named
from diagnose.bench.typed import Marking
from diagnose.bench.units import show
from diagnose.book.conditions import Profile
from diagnose.book.model import Book, Check, Measure, Working
from diagnose.book.reckoning import Told, reading_of, reckon
from diagnose.casework import events
from diagnose.casework.events import Draft
from diagnose.casework.shapes import LONGEST_TYPED, Role
from diagnose.errors import InputError
from diagnose.reason.situation import Answer, Raw, Situation


def take(check: Check, key: str, typed: str) -> Raw:
    """One raw reading of a check, as it was typed.

    Raises:
        InputError: it cannot be taken; the message names the range that makes sense.
    """
    taken = sum_named(_working(check)[1].sum).given(key).read(typed)
    return Raw(key, taken.value, taken.unit, taken.typed[:LONGEST_TYPED])


def left_out(key: str) -> Raw:
    """A raw reading that was left out: what the book supplies counts, or the sum does without."""
    return Raw(key, None, "", "")


def noted(check: Check, by: Role, raw: Raw) -> Draft:
    """The event of one raw reading, while others are still to come."""
    return events.noted(check.id, by, raw.key, None if raw.value is None else kept(raw))


def measured(book: Book, check: Check, by: Role, raws: Iterable[Raw], situation: Situation) -> Draft:
    """The answer that all raw readings of a check make.

    Raises:
        InputError: one is missing, they do not go together, or what they come to cannot be.
    """
    raws = tuple(raws)
    measure, working = _working(check)
    result = reckoned(book, working, raws, situation.profile, told_of(situation.answers))
    reading = reading_of(measure, result)
    readings = {raw.key: kept(raw) for raw in raws if raw.value is not None}
    return events.measured(check.id, by, reading, measure.unit, show(reading, measure.unit), working.sum, readings)


def reckoned(book: Book, working: Working, raws: Iterable[Raw], profile: Profile, told: Told) -> Result:
    """A sum of raw readings, for a bike with this profile.

    Raises:
        InputError: as `measured`.
    """
    return reckon(working, {raw.key: raw.value for raw in raws if raw.value is not None}, book, profile, told)


def told_of(answers: Iterable[Answer]) -> Told:
    """What was read at each check, the last time counting: raw readings by key, the reading itself under no key."""
    told: dict[str, dict[str, Any]] = {}
    for answer in answers:
        if answer.reading is not None:
            told[answer.check] = {raw.key: (raw.value, raw.unit) for raw in answer.raw if raw.value is not None}
            told[answer.check][""] = (answer.reading, answer.unit)
    return told


def kept(raw: Raw) -> dict[str, object]:
    """A raw reading as an event keeps it."""
    value: object = raw.value
    if isinstance(value, Marking):
        value = {"low": value.low, "high": value.high}
    return {"value": list(value) if isinstance(value, tuple) else value, "unit": raw.unit, "typed": raw.typed}


def raw_of(key: str, data: Mapping[str, Any]) -> Raw:
    """A raw reading as an event kept it."""
    if data.get("left_out"):
        return left_out(key)
    value = data["value"]
    if isinstance(value, Mapping):
        value = Marking(value["low"], value["high"])
    return Raw(key, tuple(value) if isinstance(value, list) else value, data["unit"], data["typed"])


def _working(check: Check) -> tuple[Measure, Working]:
    if check.measure is None or check.measure.working is None:
        raise InputError("input.no-sum", f'"{check.ask}" is not answered by a sum.')
    return check.measure, check.measure.working
