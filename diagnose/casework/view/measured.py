"""Measurements, as the View shows them: what is asked, what was read, what it came to, and its gauge.

Cast: `measure_view` for a check that comes next, `measured_view` for an answer, `step_sum` for a step of a fix.
A gauge is the bands of the finding's values for this bike and where the reading lies: what a terminal or the printed
sheet draws.
"""

from __future__ import annotations

from contextlib import suppress

from diagnose.bench.sums.givens import Taken
from diagnose.bench.sums.model import Result
from diagnose.bench.sums.table import sum_named
from diagnose.bench.units import show
from diagnose.book.conditions import Profile
from diagnose.book.model import Book, Check, Working
from diagnose.book.reckoning import asked_of, gauge_of, missing, reckon, shown
from diagnose.casework.measuring import kept, reckoned, told_of
from diagnose.casework.view.page import Page, View
from diagnose.errors import InputError
from diagnose.reason.situation import Answer, Raw, Situation

NOTHING: View = {"readings": None, "gauge": None, "worked": None}
"""Of an answer that is no measurement."""


def measure_view(page: Page, check: Check) -> View | None:
    """What a measuring check takes; with a sum, each reading that it asks for and what was told of them already."""
    measure = check.measure
    if measure is None:
        return None
    view: View = {"unit": measure.unit, "from": measure.low, "to": measure.high, "sum": None, "readings": None}
    if measure.working:
        begun = {raw.key: raw for raw in page.situation.begun.get(check.id, ())}
        told = told_of(page.situation.answers)
        asked = asked_of(measure.working, page.book, page.situation.profile, told)
        view["sum"] = measure.working.sum
        view["readings"] = [
            {
                "id": one.key,
                "text": page.fill(one.text),
                "shape": one.shape,
                "unit": one.unit,
                "several": one.several,
                "default": one.default,
                "told": _told(begun[one.key]) if one.key in begun else None,
            }
            for one in asked
        ]
    return view


def _told(raw: Raw) -> View:
    if raw.value is None:
        return {"value": None, "unit": None, "typed": None, "text": None}
    return {**kept(raw), "text": shown(Taken(raw.key, raw.value, raw.unit, raw.typed))}


def measured_view(book: Book, situation: Situation, answer: Answer) -> View:
    """The raw readings of an answer, its gauge, and what else its sum says; each None where there is none."""
    check = book.checks[answer.check]
    if answer.reading is None or answer.value is None or check.measure is None:
        return NOTHING
    return {
        "readings": [_raw_view(check, answer.sum, raw) for raw in answer.raw] if answer.raw else None,
        "gauge": gauge_view(book, situation.profile, check, answer.reading),
        "worked": _worked(book, situation, answer) if answer.raw else None,
    }


def _raw_view(check: Check, name: str, raw: Raw) -> View:
    return {"id": raw.key, "name": _asked_as(check, name, raw.key), **_told(raw)}


def _asked_as(check: Check, name: str, key: str) -> str:
    """What was asked for; the reading's key, where book or bench have changed and know it no more."""
    working = check.measure.working if check.measure else None
    if working and key in working.asks and working.asks[key].text:
        return working.asks[key].text.rstrip("?.")
    try:
        return sum_named(name).given(key).asks
    except InputError:
        return key


def gauge_view(book: Book, profile: Profile, check: Check, reading: float) -> View | None:
    """The bands of a measuring check for this bike, from low to high, and where the reading lies."""
    if check.measure is None:
        return None
    bands = [
        {
            "id": value,
            "text": band.name,
            "low": band.low,
            "high": band.high,
            "with_low": band.with_low,
            "with_high": band.with_high,
            "right": band.right,
        }
        for value, band in gauge_of(check, book, profile)
    ]
    unit = check.measure.unit
    return {"reading": reading, "text": show(reading, unit), "unit": unit, "bands": bands}


def _worked(book: Book, situation: Situation, answer: Answer) -> View | None:
    """What the sum says beside the reading; None where the book or the bench has changed since."""
    measure = book.checks[answer.check].measure
    working = measure.working if measure else None
    if working is None or working.sum != answer.sum:
        return None
    try:
        return worked_view(reckoned(book, working, answer.raw, situation.profile, told_of(situation.answers)))
    except InputError:
        return None


def step_sum(book: Book, situation: Situation, working: Working) -> View:
    """A sum that a step names: what it comes to from what was read, or what it still lacks."""
    told = told_of(situation.answers)
    lacks = missing(working, book, situation.profile, told)
    worked: View | None = None
    if not lacks:
        with suppress(InputError):
            worked = worked_view(reckon(working, {}, book, situation.profile, told))
    lacking = [{"id": one.key, "text": one.asks, "shape": one.shape} for one in lacks]
    return {"sum": working.sum, "title": sum_named(working.sum).title, "worked": worked, "lacks": lacking}


def worked_view(result: Result) -> View:
    """A sum that was done: what it came to, further figures, what to mind, how it is reckoned and who says so."""
    return {
        "sum": result.name,
        "value": result.value,
        "unit": result.unit,
        "text": result.value if isinstance(result.value, str) else show(result.value, result.unit),
        "verdict": result.verdict or None,
        "parts": [
            {"name": part.name, "value": part.value, "unit": part.unit, "text": part.shown()} for part in result.parts
        ],
        "notes": list(result.notes),
        "formula": result.formula,
        "source": result.source,
    }
