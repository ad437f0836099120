"""Who names what in a book: values of facts, findings and words; limits, tools, parts, cautions, teardowns, hand-offs.

Cast: `References` over a book; a name that is in none of its sets is used by nobody.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from functools import cached_property
from itertools import chain

from diagnose.book.conditions import INLINE_LIMIT
from diagnose.book.model import Book, Condition, Fix, HandOff
from diagnose.book.ties import workings_of

WITHOUT_A_CAUSE = "workshop"
"""The class that a bike goes to where its cause is not known; no file need name it."""


class References:
    """Who names what in a book."""

    def __init__(self, book: Book) -> None:
        self.book = book

    def hand_offs(self) -> Iterator[HandOff]:
        """Every hand-off of the book."""
        for cause in self.book.causes.values():
            yield from cause.hand_off_when
            if cause.hand_off:
                yield cause.hand_off
        for deduction in self.book.deductions.values():
            if deduction.hand_off:
                yield deduction.hand_off

    def conditions(self) -> Iterator[Condition]:
        """Every condition over facts, but those of deductions."""
        book = self.book
        yield from (one.applies for one in book.causes.values())
        yield from (one.applies for one in book.complaints.values())
        yield from (one.applies for one in book.findings.values())
        yield from (one.applies for one in book.checks.values())
        yield from (one.applies for one in book.limits.values())
        for limit in book.limits.values():
            for case in limit.cases:
                yield case.when
        for fix in self.book.fixes.values():
            yield from (case.when for cases in fix.part_cases.values() for case in cases)
        for hand_off in self.hand_offs():
            yield hand_off.when
        for fact in self.book.facts.values():
            yield fact.applies

    @cached_property
    def values(self) -> dict[str, set[str]]:
        """Fact, finding or word to the values that somebody names."""
        named: dict[str, set[str]] = defaultdict(set)
        for condition in self.conditions():
            for fact, values in condition.items():
                named[fact].update(values)
        for fact_ in self.book.facts.values():
            named[fact_.id].update([*fact_.opens, *fact_.off])
        for deduction in self.book.deductions.values():
            for when in deduction.when:
                named[when.key].update(when.any_of)
        for cause in self.book.causes.values():
            for finding, row in cause.shows.items():
                named[finding].update(row.written)
        return named

    @cached_property
    def keys(self) -> set[str]:
        """Every fact, finding, word or measuring check that a deduction looks at, and every fact of a condition."""
        looked_at = {when.key for deduction in self.book.deductions.values() for when in deduction.when}
        return looked_at | {fact for condition in self.conditions() for fact in condition}

    @cached_property
    def shown(self) -> set[str]:
        """Findings that some cause speaks to."""
        return {finding for cause in self.book.causes.values() for finding in cause.shows}

    @cached_property
    def ruling_out(self) -> dict[str, list[str]]:
        """Cause to the deductions that rule it out."""
        found: dict[str, list[str]] = defaultdict(list)
        for deduction in self.book.deductions.values():
            for cause in deduction.rule_out:
                found[cause].append(deduction.id)
        return found

    @cached_property
    def limits(self) -> set[str]:
        """Limits that a band, a check, a step, a test or a sentence names."""
        book = self.book
        named = {name for text in self._sentences() for name in INLINE_LIMIT.findall(text)}
        for check in book.checks.values():
            named.update(check.limits)
            for band in check.measure.bands if check.measure else ():
                named.update(edge.limit for edge in (band.start, band.stop) if edge and edge.limit)
        for fix in book.fixes.values():
            named.update(limit for step in fix.steps for limit in step.limits)
        for working in workings_of(book):
            named.update(one.source for one in working.supplies.values() if one.source in book.limits)
        for complaint in book.complaints.values():
            named.update(complaint.repeat_test.limits)
        return named

    def _sentences(self) -> Iterator[str]:
        for check in self.book.checks.values():
            yield from (check.ask, check.how, *(check.measure.questions if check.measure else ()))
        for fix in self.book.fixes.values():
            yield from sentences_of(fix)
        for complaint in self.book.complaints.values():
            yield complaint.repeat_test.text
        for hand_off in self.hand_offs():
            yield hand_off.reason

    @cached_property
    def tools(self) -> set[str]:
        """Tools that a check or fix needs."""
        checks, fixes = self.book.checks.values(), self.book.fixes.values()
        return set(chain(*(check.tools for check in checks), *(fix.tools for fix in fixes)))

    @cached_property
    def parts(self) -> set[str]:
        """Parts that a fix needs."""
        return {part for fix in self.book.fixes.values() for part in fix.parts}

    @cached_property
    def cautions(self) -> set[str]:
        """Cautions that are shown somewhere."""
        book = self.book
        named = {caution for check in book.checks.values() for caution in check.cautions}
        for fix in book.fixes.values():
            named.update(chain(fix.cautions, *(step.cautions for step in fix.steps)))
        named.update(caution for one in book.complaints.values() for caution in one.repeat_test.cautions)
        named.update(caution for one in book.deductions.values() for caution in one.cautions)
        return named

    @cached_property
    def teardowns(self) -> set[str]:
        """Teardowns that a check, a fix, another teardown or a state on arrival names."""
        book = self.book
        named = {check.teardown for check in book.checks.values() if check.teardown}
        named.update(fix.teardown for fix in book.fixes.values() if fix.teardown)
        named.update(one.inside for one in book.teardowns.values() if one.inside)
        named.update(teardown for fact in book.facts.values() for teardown in fact.opens.values())
        return named

    @cached_property
    def receivers(self) -> set[str]:
        """Classes of hand-off that somebody hands to."""
        return {hand_off.receiver for hand_off in self.hand_offs()} | {WITHOUT_A_CAUSE}


def sentences_of(fix: Fix) -> tuple[str, ...]:
    """Every sentence of a fix that limits are filled into."""
    return (*(step.text for step in fix.steps), fix.works_if, fix.if_not)
