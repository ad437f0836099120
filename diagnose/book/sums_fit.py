"""Whether the sums that a book names ask for what the book gives them: the one check that knows the bench.

Cast: `SumsFit` looks at every measure and step that names a sum. It runs with the others of `checks`.
"""

from __future__ import annotations

from collections.abc import Iterator

from diagnose.bench.sums.givens import WORDS, Given, Number, Range, Several
from diagnose.bench.sums.model import Sum
from diagnose.bench.sums.table import sum_named
from diagnose.bench.units import convert, same_kind
from diagnose.book.model import Book, Check, Limit, Measure, Supply, Working
from diagnose.book.problems import Problems, nearest
from diagnose.errors import InputError

Fault = tuple[str, str, str]
"""Code, message and hint."""


class SumsFit:
    """What a sum is given is what it asks for, in a unit that it can take, and what it gives is what is measured."""

    name = "sums-fit"
    partial = True

    def look(self, book: Book, problems: Problems) -> None:
        """Report what does not fit."""
        for check in book.checks.values():
            if check.measure and check.measure.working:
                self._look_at(check.measure.working, book, problems)
                self._look_at_measure(check.measure, check.measure.working, problems)
        for fix in book.fixes.values():
            for step in fix.steps:
                for working in step.workings:
                    self._look_at(working, book, problems)

    def _look_at(self, working: Working, book: Book, problems: Problems) -> None:
        asked_of = sum_named(working.sum)
        givens = {given.key: given for given in asked_of.givens}
        places = {key: supply.where for key, supply in working.supplies.items()}
        places.update({key: ask.where for key, ask in working.asks.items()})
        for key, where in places.items():
            if key not in givens:
                hint = nearest(key, givens) or f"It asks for {', '.join(givens)}."
                message = f"the sum '{working.sum}' asks for no '{key}'"
                problems.error("sum.reading", where, message, hint)
        for key, supply in working.supplies.items():
            for code, message, hint in _faults(supply, givens[key], book) if key in givens else ():
                problems.error(code, supply.where, message, hint)

    def _look_at_measure(self, measure: Measure, working: Working, problems: Problems) -> None:
        asked_of = sum_named(working.sum)
        named = {*working.asks, *working.supplies}
        misspelt = named - {given.key for given in asked_of.givens}
        for given in () if misspelt else asked_of.givens:
            if given.default is None and given.key not in named:
                message = f"the sum '{working.sum}' also needs '{given.key}': {given.asks[:1].lower()}{given.asks[1:]}"
                hint = f"Ask it under `readings:`, or supply it: `with: {{{given.key}: ...}}`."
                problems.error("sum.lacks", working.where, message, hint)
        for code, message, hint in _result_faults(asked_of, measure):
            problems.error(code, working.where, message, hint)


def _result_faults(asked_of: Sum, measure: Measure) -> Iterator[Fault]:
    """Whether the figure that is taken exists, and is in the measure's unit."""
    example = asked_of.result(asked_of.example_readings)
    figures = {"": example.unit, **{part.name: part.unit for part in example.parts}}
    if measure.result not in figures:
        known = ", ".join(name for name, unit in figures.items() if name and unit != WORDS)
        hint = nearest(measure.result, figures) or (f"It has {known}." if known else "Leave `result` out.")
        yield "sum.result", f"the sum '{asked_of.name}' has no figure '{measure.result}'", hint
        return
    unit = figures[measure.result]
    what = f"'{measure.result}' of the sum '{asked_of.name}'" if measure.result else f"the sum '{asked_of.name}'"
    if unit == WORDS:
        yield "sum.words", f"{what} gives words, which no band can sort", "Take another figure, or no sum."
    elif unit != measure.unit:
        yield "sum.unit", f"{what} is in {unit}, the measure in {measure.unit}", f"Write `unit: {unit}`."


def _faults(supply: Supply, given: Given, book: Book) -> Iterator[Fault]:
    if not supply.source:
        try:
            given.read(supply.typed)
        except InputError as why:
            yield "sum.supply", f"'{given.key}' cannot be '{supply.typed}': {why.message.removesuffix('.')}", why.hint
    elif supply.source in book.limits:
        yield from _limit_faults(supply, given, book.limits[supply.source])
    elif supply.source in book.checks:
        yield from _check_faults(supply, given, book.checks[supply.source])


def _limit_faults(supply: Supply, given: Given, limit: Limit) -> Iterator[Fault]:
    if supply.part not in ("low", "high"):
        what = f"a limit has no '{supply.part}'" if supply.part else f"which end of the limit '{limit.id}' is meant"
        yield "sum.limit", what, f"Write {limit.id}.low or {limit.id}.high."
    elif None in [getattr(one, supply.part) for one in (limit, *limit.cases)]:
        hint = "Give the limit, and each of its cases, that end; or write a quantity."
        yield "sum.limit", f"the limit '{limit.id}' has not always a '{supply.part}'", hint
    elif not isinstance(given, Number | Range) or not same_kind(limit.unit, given.unit):
        yield "sum.unit", *_differs(given, f"the limit '{limit.id}' is in {limit.unit}")
    else:
        for one in (limit, *limit.cases):
            try:
                given.read(convert(getattr(one, supply.part), limit.unit, given.unit))
            except InputError as why:
                message = f"'{given.key}' cannot take the limit '{limit.id}': {why.message.removesuffix('.')}"
                yield "sum.supply", message, why.hint
                return


def _check_faults(supply: Supply, given: Given, check: Check) -> Iterator[Fault]:
    measure = check.measure
    if measure is None:
        hint = "Take a check that measures, or write a quantity."
        yield "sum.check", f"'{check.id}' takes no reading", hint
        return
    if not supply.part:
        if not isinstance(given, Number | Several) or not same_kind(measure.unit, given.unit):
            yield "sum.unit", *_differs(given, f"'{check.id}' is in {measure.unit}")
        return
    asks = measure.working.asks if measure.working else {}
    if supply.part not in asks:
        hint = nearest(supply.part, asks) or (f"It asks for {', '.join(asks)}." if asks else f"Write {check.id}.")
        yield "sum.check", f"the check '{check.id}' asks for no '{supply.part}'", hint
    elif measure.working:
        other = next((one for one in sum_named(measure.working.sum).givens if one.key == supply.part), None)
        if other and not _goes_into(other, given):
            yield "sum.unit", *_differs(given, f"'{supply.part}' of '{check.id}' is {other.shape}")


def _goes_into(other: Given, given: Given) -> bool:
    """Whether what one given takes can be handed to another."""
    if isinstance(other, Number) and isinstance(given, Number | Several):
        return same_kind(other.unit, given.unit)
    if type(other) is not type(given):
        return False
    return given.unit == WORDS or same_kind(other.unit, given.unit)


def _differs(given: Given, other: str) -> tuple[str, str]:
    return f"'{given.key}' wants {given.shape}, and {other}", "Take what is in a unit of the same kind."
