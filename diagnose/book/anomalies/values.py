"""Values that nobody names, and values that can never be.

Cast: `Unreferenced`, `Illegal`. A value outside a closed list is refused when the file is read (`value.unknown`).
"""

from __future__ import annotations

from collections.abc import Iterator

from diagnose.book.anomalies.anomaly import ERROR, Anomaly, Example, Found, Study
from diagnose.book.conditions import facts_of_bands, interval, profiles_over
from diagnose.book.model import Band, Check, Fact, Finding

FINDINGS = "front/findings.yaml"


class Unreferenced(Anomaly):
    """A value that nothing in the book tells from its neighbours, so that choosing it says nothing."""

    name = "value.unreferenced"
    why = "It reads as if it made a difference, and makes none: whoever chooses or writes it is led astray."
    wrong = Example(
        FINDINGS,
        """
fork-crown:
  name: "the fork's crown"
  values: {sound: "sound", scratched: "scratched", cracked: "cracked"}
  otherwise: {sound: almost certain}
  basis: common practice
  checks:
    look-at-crown:
      ask: "What do you see at the crown of the fork?"
      by: mechanic
      minutes: 0.5
""",
        (
            (
                "front/deductions.yaml",
                """
crown-cracked-stop:
  when: {fork-crown: cracked}
  then: {danger: stop}
  because: "A cracked crown breaks."
  basis: common practice
""",
            ),
        ),
    )
    right = Example(
        FINDINGS,
        """
fork-crown:
  name: "the fork's crown"
  values: {sound: "sound or scratched", cracked: "cracked"}
  otherwise: {sound: almost certain}
  basis: common practice
  checks:
    look-at-crown:
      ask: "What do you see at the crown of the fork?"
      by: mechanic
      minutes: 0.5
""",
        (
            (
                "front/deductions.yaml",
                """
crown-cracked-stop:
  when: {fork-crown: cracked}
  then: {danger: stop}
  because: "A cracked crown breaks."
  basis: common practice
""",
            ),
        ),
    )

    def find(self, study: Study) -> Iterator[Found]:
        """Report values of facts, findings and conclusions; each list may have one for all the rest."""
        for fact in study.book.facts.values():
            yield from self._of_fact(study, fact)
        for finding in study.book.findings.values():
            yield from self._of_finding(study, finding)
        for word in study.book.words.values():
            concluded = {one.conclude.get(word.id) for one in study.book.deductions.values()}
            for value in word.values:
                if value not in concluded:
                    owner = ("conclusion", word.id)
                    message = f"no deduction concludes that '{word.id}' is '{value}'"
                    yield Found(study.place(owner, "values", value), message, "Delete the value.", owner, (value,))

    def _of_fact(self, study: Study, fact: Fact) -> Iterator[Found]:
        """One value, and of several at once the first, stands for all that matters to nobody."""
        unnamed = [value for value in fact.values if value not in study.references.values[fact.id]]
        spare = unnamed[:1] if not fact.several or unnamed[:1] == list(fact.values)[:1] else []
        for value in unnamed[len(spare) :]:
            owner = ("fact", fact.id)
            same = f": it comes to the same as '{spare[0]}'" if spare else ""
            message = f"nothing hangs on '{fact.id}' being '{value}'{same}"
            hint = "Put the two into one value, or use it in an `applies:`, an `if:` or a deduction."
            if not spare:
                hint = "Delete the value, or use it in an `applies:`, an `if:` or a deduction."
            yield Found(study.place(owner, "values", value), message, hint, owner, (value,))

    def _of_finding(self, study: Study, finding: Finding) -> Iterator[Found]:
        """Values that no row names share what is left in one proportion: one may stand for it, two come to the same.

        Where nothing names any value of it, the finding itself is a dead end and told as such.
        """
        named = study.references.values[finding.id]
        chances = dict(zip(finding.values, finding.otherwise.chances, strict=True))
        unnamed = sorted((value for value in finding.values if value not in named), key=lambda one: -chances[one])
        for value in unnamed[1:] if named else ():
            owner = ("finding", finding.id)
            message = f"no cause and no deduction tells '{value}' of '{finding.id}' from '{unnamed[0]}'"
            hint = "Put the two into one value, or say in a cause's `shows:` or in a deduction what it means."
            yield Found(study.place(owner, "values", value), message, hint, owner, (value,))


class Illegal(Anomaly):
    """A reading that a check never takes: a deduction's range or a band outside what may be entered."""

    name = "value.illegal"
    severity = ERROR
    why = "The reading that is meant is refused when it is typed, and what should follow from it never does."
    wrong = Example(
        "front/deductions.yaml",
        """
gap-beyond-the-steerer:
  when: {measure-gap: {above: 45}}
  then: {hand_off: {class: workshop, urgency: before riding, reason: "It wants a longer steerer."}}
  because: "The stem does not grip the steerer."
  basis: common practice
""",
    )
    right = Example(
        "front/deductions.yaml",
        """
gap-beyond-the-steerer:
  when: {measure-gap: {above: 25}}
  then: {hand_off: {class: workshop, urgency: before riding, reason: "It wants a longer steerer."}}
  because: "The stem does not grip the steerer."
  basis: common practice
""",
    )

    def find(self, study: Study) -> Iterator[Found]:
        """Report ranges and bands that no accepted reading falls into."""
        book = study.book
        for deduction in book.deductions.values():
            for when in deduction.when:
                if study.closure.no_reading_meets(when):
                    message = f"no reading of '{when.key}' can meet this: it takes {_span(book.checks[when.key])}"
                    hint = "Check the number and its unit, or the measure's `from` and `to`."
                    yield Found(when.where, message, hint, ("deduction", deduction.id), (when.key,))
        for check in book.checks.values():
            for band in check.measure.bands if check.measure else ():
                if not _can_be(study, check, band):
                    message = f"no reading of '{check.id}' falls into the band '{band.value}': it takes {_span(check)}"
                    hint = "Check the limit and its unit, or the measure's `from` and `to`."
                    yield Found(band.where, message, hint, ("check", check.id))


def _span(check: Check) -> str:
    measure = check.measure
    return f"{measure.low:g} to {measure.high:g} {measure.unit}" if measure else "no reading"


def _can_be(study: Study, check: Check, band: Band) -> bool:
    """Whether a reading that may be entered falls into the band, for some profile."""
    for profile in profiles_over(study.book, facts_of_bands(study.book, check)):
        span = interval(band, study.book, profile)
        if span and any(span.has(reading) for reading in study.closure.readings[check.id]):
            return True
    return False
