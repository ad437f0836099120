"""What must hold of a whole book before it can be used: each check a small class with a name.

Cast: `check_book` runs them all whenever a book is read. What they find are errors: the program would do something
wrong. What is weak in a book that can be used is looked for in `anomalies`, by `diagnose rules check` only. Entries
that could not be read are missing from the book; a check says nothing of what leans on them.
"""

from __future__ import annotations

from itertools import pairwise
from math import prod
from typing import Protocol

from diagnose.book.conditions import Interval, facts_of_bands, interval, profiles_over
from diagnose.book.model import Book, Check, Deduction, Limit
from diagnose.book.problems import Problems
from diagnose.book.sums_fit import SumsFit

MOST_PROFILES = 2_000
"""How many profiles the bands of one check may tell apart; each becomes a rule of the engine."""


NO_END = "name an end that the limit does not have"


class BookCheck(Protocol):
    """One check: looks at the book and reports. One that is not `partial` makes sense on a book without errors only."""

    name: str
    partial: bool

    def look(self, book: Book, problems: Problems) -> None:
        """Report what is wrong."""


def check_book(book: Book, problems: Problems) -> None:
    """Run every check on the book."""
    checks: tuple[BookCheck, ...] = (
        BandsCover(),
        BandUnits(),
        SumsFit(),
        OneFactOnce(),
        FactorsFromProfile(),
        NothingCircular(),
        ThenDoesSomething(),
    )
    readable = not problems.errors
    for check in checks:
        if readable or check.partial:
            check.look(book, problems)


class BandsCover:
    """Every reading falls into exactly one band, for every profile."""

    name = "bands"
    partial = True

    def look(self, book: Book, problems: Problems) -> None:
        """Report the first gap or overlap of each check."""
        for check in book.checks.values():
            limits = _limits_of(check, book)
            if limits is not None and self._countable(check, book, problems):
                self._look_at(check, book, problems)

    def _countable(self, check: Check, book: Book, problems: Problems) -> bool:
        """Whether each profile has one value a fact, and there are not too many of them."""
        facts = facts_of_bands(book, check)
        if not facts <= set(book.facts):
            return False
        several = sorted(fact for fact in facts if book.facts[fact].several)
        if several:
            message = f"the bands of '{check.id}' hang on '{several[0]}', which may have several values at once"
            hint = "Take a limit whose cases use facts with one value."
            problems.error("bands.several", check.where, message, hint)
        if prod(len(book.facts[fact].values) + 1 for fact in facts) > MOST_PROFILES:
            message = f"the bands of '{check.id}' hang on too many facts: {', '.join(sorted(facts))}"
            problems.error("bands.facts", check.where, message, "Use limits with fewer cases.")
            return False
        return not several

    def _look_at(self, check: Check, book: Book, problems: Problems) -> None:
        for profile in profiles_over(book, facts_of_bands(book, check)):
            why = self._fault(check, book, profile)
            if why:
                shown = " and ".join(f"{fact} is {values[0]}" for fact, values in profile.items())
                case = f" when {shown}" if shown else ""
                message = f"the bands of '{check.id}' {why}{case}"
                hint = "One band ends with `below: x` where the next begins `from: x` (or `up_to` and `above`)."
                if why == NO_END:
                    hint = "Give the limit, and each of its cases, that end; or write a number."
                problems.error("bands.cover", check.where, message, hint)
                return

    def _fault(self, check: Check, book: Book, profile: dict[str, tuple[str, ...]]) -> str:
        measure = check.measure
        if measure is None:
            return ""
        spans = [interval(band, book, profile) for band in measure.bands]
        if None in spans:
            return NO_END
        known = [span for span in spans if span]
        points = sorted({measure.low, measure.high, *(end for span in known for end in (span.start, span.stop))})
        inside = [point for point in points if measure.low <= point <= measure.high]
        middles = [(one + two) / 2 for one, two in pairwise(inside)]
        for reading in sorted(inside + middles):
            count = _hits(known, reading)
            if count != 1:
                return f"{'leave a gap' if count == 0 else 'overlap'} at {reading:g} {measure.unit}"
        return ""


def _limits_of(check: Check, book: Book) -> list[Limit] | None:
    """The limits that a measurement's bands name; None when there is no measurement or one could not be read."""
    if check.measure is None:
        return None
    names = [edge.limit for band in check.measure.bands for edge in (band.start, band.stop) if edge and edge.limit]
    return [book.limits[name] for name in names] if set(names) <= set(book.limits) else None


def _hits(spans: list[Interval], reading: float) -> int:
    return sum(span.has(reading) for span in spans)


class BandUnits:
    """The limits that cut a measurement into bands have its unit."""

    name = "band-units"
    partial = True

    def look(self, book: Book, problems: Problems) -> None:
        """Report a limit of another unit."""
        for check in book.checks.values():
            for band in check.measure.bands if check.measure else ():
                for edge in (band.start, band.stop):
                    limit = book.limits.get(edge.limit) if edge and edge.limit else None
                    if check.measure and limit and limit.unit != check.measure.unit:
                        message = f"the reading is in {check.measure.unit}, the limit '{limit.id}' in {limit.unit}"
                        problems.error("unit.differs", band.where, message, "Use a limit of the same unit.")


class OneFactOnce:
    """No deduction looks at one fact twice: a measuring check and its own finding are one fact."""

    name = "one-fact-once"
    partial = True

    def look(self, book: Book, problems: Problems) -> None:
        """Report deductions that do."""
        for deduction in book.deductions.values():
            keys = [book.checks[when.key].finding if when.key in book.checks else when.key for when in deduction.when]
            for when, key in zip(deduction.when, keys, strict=True):
                if keys.count(key) > 1:
                    message = f"the deduction '{deduction.id}' looks at '{key}' twice"
                    hint = "A reading and the value it means are one fact: keep one of the two."
                    problems.error("deduction.twice", when.where, message, hint)
                    break
                if when.key in book.checks and book.checks[when.key].measure is None:
                    message = f"'{when.key}' takes no reading"
                    hint = f"Name its finding, '{book.checks[when.key].finding}', and a value."
                    problems.error("deduction.no-reading", when.where, message, hint)
                    break


class FactorsFromProfile:
    """`likelier` and `less_likely` stand on profile facts only: an answer already moves belief through its row."""

    name = "factors-from-profile"
    partial = True

    def look(self, book: Book, problems: Problems) -> None:
        """Report factors that stand on anything else."""
        answers = {*book.findings, *book.checks, *book.words, "fix-failed"}
        for deduction in book.deductions.values():
            other = [when for when in deduction.when if when.key in answers]
            if deduction.likelier and other:
                message = f"'{deduction.id}' makes causes likelier from '{other[0].key}', which is not a profile fact"
                hint = "Say it in the cause's `shows:`, or rule the cause in or out."
                problems.error("deduction.factor", other[0].where, message, hint)


class NothingCircular:
    """What must be done or opened first never leads back to itself."""

    name = "circular"
    partial = True

    def look(self, book: Book, problems: Problems) -> None:
        """Report circles in `needs`, `after`, `includes` and `inside`."""
        needs = {check.id: check.needs for check in book.checks.values()}
        needs.update({fix.id: fix.needs for fix in book.fixes.values()})
        after = {fix.id: fix.after for fix in book.fixes.values()}
        includes = {fix.id: fix.includes for fix in book.fixes.values()}
        inside: dict[str, tuple[str, ...]] = {
            one.id: (one.inside,) if one.inside else () for one in book.teardowns.values()
        }
        places = {check.id: check.where for check in book.checks.values()}
        places.update({fix.id: fix.where for fix in book.fixes.values()})
        places.update({one.id: one.where for one in book.teardowns.values()})
        for what, graph in (("needs", needs), ("after", after), ("includes", includes), ("inside", inside)):
            for name in sorted(graph):
                if _reaches_itself(name, graph):
                    message = f"`{what}` of '{name}' leads back to itself"
                    problems.error("order.circular", places[name], message, "Break the circle at one place.")


def _reaches_itself(name: str, graph: dict[str, tuple[str, ...]]) -> bool:
    seen: set[str] = set()
    waiting = list(graph.get(name, ()))
    while waiting:
        one = waiting.pop()
        if one == name:
            return True
        if one not in seen:
            seen.add(one)
            waiting.extend(graph.get(one, ()))
    return False


class ThenDoesSomething:
    """A deduction does something."""

    name = "then-empty"
    partial = False

    def look(self, book: Book, problems: Problems) -> None:
        """Report deductions that conclude nothing."""
        for deduction in book.deductions.values():
            if not _does_something(deduction):
                message = f"the deduction '{deduction.id}' concludes nothing"
                problems.error("deduction.empty", deduction.where, message, "Fill `then:` or delete it.")


def _does_something(deduction: Deduction) -> bool:
    return bool(
        deduction.conclude
        or deduction.rule_out
        or deduction.rule_in
        or deduction.likelier
        or deduction.danger
        or deduction.cautions
        or deduction.hand_off
        or deduction.demand
        or deduction.before_riding
        or deduction.ask
        or deduction.ask_last
        or deduction.also
    )
