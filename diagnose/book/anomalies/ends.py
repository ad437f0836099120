"""Roads that lead nowhere: conditions that can never be met, goals nothing leads to, conclusions nobody uses.

Cast: `DeadCondition`, `DeadGoal`, `Unreachable`, and `clash`, which says of two conditions that no bike meets both.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from diagnose.book.anomalies.anomaly import Anomaly, Example, Found, Named, Study
from diagnose.book.model import Book, Cause, Condition, Deduction, Fix, Limit, When

DEDUCTIONS = "front/deductions.yaml"
_WORD = ("conclusions.yaml", 'fork-history: {name: "what the fork has been through", values: {fallen: "a fall"}}')


def clash(book: Book, one: Condition, other: Condition) -> str:
    """A fact that would have to have two values for both to hold, or an empty text."""
    for fact, values in one.items():
        if fact in other and not book.facts[fact].several and not set(values) & set(other[fact]):
            return fact
    return ""


class DeadCondition(Anomaly):
    """A condition that no bike can ever meet."""

    name = "condition.dead-end"
    why = "What stands under it never happens, though it reads as if it were taken care of."
    wrong = Example(
        DEDUCTIONS,
        """
fallen-so-stop:
  when: {fork-history: fallen}
  then: {danger: stop}
  because: "A fork that has fallen may be cracked."
  basis: common practice
""",
        (_WORD,),
    )
    right = Example(
        DEDUCTIONS,
        """
fallen-so-stop:
  when: {fork-history: fallen}
  then: {danger: stop}
  because: "A fork that has fallen may be cracked."
  basis: common practice
fork-out-after-a-fall:
  when: {recent-work: fork, play-at-headset: clear}
  then: {conclude: {fork-history: fallen}}
  because: "Nobody takes a fork out for fun."
  basis: memory
""",
        (_WORD,),
    )

    def find(self, study: Study) -> Iterator[Found]:
        """Report conditions of deductions, hand-offs, checks, causes' rows, and of the cases of limits and parts."""
        for deduction in study.book.deductions.values():
            yield from self._of_deduction(study, deduction)
        for cause in study.book.causes.values():
            yield from self._of_cause(study, cause)
        for limit in study.book.limits.values():
            yield from self._of_limit(study, limit)
        for fix in study.book.fixes.values():
            yield from self._of_parts(study, fix)
        for finding in study.book.findings.values():
            for check in finding.checks:
                fact = clash(study.book, check.applies, finding.applies)
                if fact:
                    owner = ("check", check.id)
                    message = f"'{check.id}' applies to no bike to which its finding applies: '{fact}' differs"
                    yield Found(study.place(owner, "applies", fact), message, "Change one of the two.", owner)

    def _of_deduction(self, study: Study, deduction: Deduction) -> Iterator[Found]:
        owner = ("deduction", deduction.id)
        facts = facts_of(study.book, deduction)
        hint = "Delete the deduction, or change the condition."
        for when in deduction.when:
            why = _never(study.book, when) or _not_on_such_a_bike(study.book, when, facts)
            if why:
                yield Found(when.where, f"'{deduction.id}' can never fire: {why}", hint, owner)
                return
        if any(map(study.closure.no_reading_meets, deduction.when)):
            return  # told as an illegal value
        if not study.closure.can_fire(deduction):
            message = f"'{deduction.id}' can never fire: no one bike leads to all that it looks at"
            yield Found(study.place(owner), message, hint, owner)

    def _of_cause(self, study: Study, cause: Cause) -> Iterator[Found]:
        book, owner = study.book, ("cause", cause.id)
        for finding in cause.shows:
            fact = clash(book, cause.applies, book.findings[finding].applies)
            if fact:
                message = f"'{finding}' is never looked at on a bike that can have '{cause.id}': '{fact}' differs"
                place = study.place(owner, "shows", finding)
                yield Found(place, message, "Delete the row, or change what applies.", owner, (finding,))
        for hand_off in cause.hand_off_when:
            fact = clash(book, cause.applies, hand_off.when)
            if fact:
                message = f"this hand-off never holds: '{cause.id}' applies to bikes of another '{fact}'"
                yield Found(hand_off.where, message, "Delete it, or change its `if:`.", owner)

    def _of_limit(self, study: Study, limit: Limit) -> Iterator[Found]:
        owner = ("limit", limit.id)
        for number, why in self._in_vain(study.book, limit.applies, [case.when for case in limit.cases]):
            message = f"case {number} of '{limit.id}' never holds: {why}"
            yield Found(study.place(owner, "cases"), message, "Delete it, or put it first.", owner)

    def _of_parts(self, study: Study, fix: Fix) -> Iterator[Found]:
        owner = ("fix", fix.id)
        for part, cases in fix.part_cases.items():
            for number, why in self._in_vain(study.book, {}, [case.when for case in cases]):
                message = f"case {number} of the part '{part}' never holds: {why}"
                yield Found(study.place(owner, "parts", part), message, "Delete it, or put it first.", owner)

    def _in_vain(self, book: Book, applies: Condition, cases: Sequence[Condition]) -> Iterator[tuple[int, str]]:
        """The places of the cases that never hold, and why."""
        for number, when in enumerate(cases, start=1):
            fact = clash(book, applies, when)
            why = f"the limit applies to bikes of another '{fact}'" if fact else ""
            if any(_within(when, before) for before in cases[: number - 1]):
                why = "a case before it holds wherever it does"
            if why:
                yield number, why


def facts_of(book: Book, deduction: Deduction) -> Condition:
    """The profile that a deduction stands on."""
    return {when.key: when.any_of for when in deduction.when if when.key in book.facts}


def _within(one: Condition, other: Condition) -> bool:
    """Whether every bike that meets the one meets the other."""
    return all(fact in one and set(one[fact]) <= set(values) for fact, values in other.items())


def _never(book: Book, when: When) -> str:
    """Why no word, or no check, ever gives what a condition wants."""
    if when.key in book.words:
        concluded = {one.conclude.get(when.key) for one in book.deductions.values()}
        if not concluded & set(when.any_of):
            return f"no deduction concludes that '{when.key}' is {_or(when.any_of)}"
    if when.key in book.findings:
        checks = book.findings[when.key].checks
        told = {band.value for one in checks if one.measure for band in one.measure.bands}
        if all(one.measure for one in checks) and not told & set(when.any_of):
            return f"no band of a check makes '{when.key}' {_or(when.any_of)}"
    return ""


def _not_on_such_a_bike(book: Book, when: When, facts: Condition) -> str:
    """Why what a condition looks at cannot be on a bike with these facts."""
    if when.key == "complaint":
        clashes = [clash(book, facts, book.complaints[name].applies) for name in when.any_of]
    elif when.key in book.checks:
        check = book.checks[when.key]
        clashes = [clash(book, facts, check.applies) or clash(book, facts, book.findings[check.finding].applies)]
    elif when.key in book.findings:
        finding = book.findings[when.key]
        whole = clash(book, facts, finding.applies)
        clashes = [whole or clash(book, facts, check.applies) for check in finding.checks]
    else:
        return ""
    if not clashes or not all(clashes):
        return ""
    return f"'{when.key}' is nothing for a bike with this '{clashes[0]}'"


def _or(values: Iterable[str]) -> str:
    return " or ".join(f"'{value}'" for value in values)


class DeadGoal(Anomaly):
    """A complaint that no cause explains, a cause that no bike can have, a finding that tells nobody anything."""

    name = "goal.dead-end"
    why = "Whoever comes with it, or asks about it, is led nowhere: all that is left is the hand-off."
    wrong = Example(
        "front/complaints.yaml",
        """
front-hum:
  name: "Hum at the front"
  rider_says: ["it hums at the front"]
  something_else: 10 in 100
  danger_if_unknown: 2 in 100
  repeat_test: {id: roll-and-listen, text: "Roll down the yard and listen.", minutes: 1}
  basis: common practice
""",
    )
    right = Example(
        "front/complaints.yaml",
        """
front-hum:
  name: "Hum at the front"
  rider_says: ["it hums at the front"]
  something_else: 10 in 100
  danger_if_unknown: 2 in 100
  repeat_test: {id: roll-and-listen, text: "Roll down the yard and listen.", minutes: 1}
  basis: common practice
""",
        (
            (
                "front/causes/tread-hums.yaml",
                """
name: "coarse tread"
in_short: "The knobs of the tyre hum on tar."
common_for: {front-hum: 90 in 100}
basis: common practice
shows: {}
danger: none
hand_off: {class: workshop, urgency: when convenient, reason: "Another tyre, when this one is worn."}
""",
            ),
        ),
    )

    def find(self, study: Study) -> Iterator[Found]:
        """Report complaints, causes and findings."""
        book = study.book
        for complaint in book.complaints.values():
            if not book.causes_of[complaint.id]:
                owner = ("complaint", complaint.id)
                message = f"no cause is common for '{complaint.id}'"
                yield Found(study.place(owner), message, "Add one, or delete the complaint.", owner)
        for cause in book.causes.values():
            yield from self._of_cause(study, cause)
        put_back = {finding for fact in book.facts.values() for finding in fact.off.values()}
        for finding in book.findings.values():
            used = finding.id in put_back or finding.id in study.references.shown or finding.id in study.references.keys
            if not used and not any(check.id in study.references.keys for check in finding.checks):
                owner = ("finding", finding.id)
                message = f"no cause shows '{finding.id}' and no deduction looks at it"
                hint = "Name it in a cause's `shows:` or in a deduction, or delete it."
                yield Found(study.place(owner), message, hint, owner)

    def _of_cause(self, study: Study, cause: Cause) -> Iterator[Found]:
        book, owner = study.book, ("cause", cause.id)
        for complaint in cause.shares:
            fact = clash(book, cause.applies, book.complaints[complaint].applies)
            why = (
                f"the complaint is for bikes of another '{fact}'"
                if fact
                else _always_ruled_out(study, cause, complaint)
            )
            if why:
                message = f"no bike with '{complaint}' can have '{cause.id}': {why}"
                hint = "Delete the share, or change what applies."
                yield Found(study.place(owner, "common_for", complaint), message, hint, owner, (complaint,))


def _always_ruled_out(study: Study, cause: Cause, complaint: str) -> str:
    """The deduction that rules a cause out on every bike that it applies to, by the profile and complaint alone."""
    given = {**cause.applies, "complaint": (complaint,)}
    for name in study.references.ruling_out.get(cause.id, ()):
        deduction = study.book.deductions[name]
        if all(when.key in given and set(given[when.key]) <= set(when.any_of) for when in deduction.when):
            return f"'{name}' rules it out"
    return ""


class Unreachable(Anomaly):
    """A conclusion that reaches nobody: a word that no deduction looks at, a cause or check that cannot be there."""

    name = "conclusion.unreachable"
    why = "The deduction seems to do something, and does nothing."
    wrong = Example(
        DEDUCTIONS,
        """
fork-out-after-a-fall:
  when: {recent-work: fork, play-at-headset: clear}
  then: {conclude: {fork-history: fallen}}
  because: "Nobody takes a fork out for fun."
  basis: memory
""",
        (_WORD,),
    )
    right = DeadCondition.right

    def find(self, study: Study) -> Iterator[Found]:
        """Report words that are concluded, causes that are moved, and checks that are demanded."""
        for deduction in study.book.deductions.values():
            owner = ("deduction", deduction.id)
            for word, value in deduction.conclude.items():
                if value not in study.references.values[word]:
                    message = f"'{deduction.id}' concludes that '{word}' is '{value}', which no deduction looks at"
                    hint = "Delete this conclusion, or use it in the `when:` of another deduction."
                    yield Found(study.place(owner, "then", "conclude", word), message, hint, owner, (word,))
            yield from self._of_causes(study, deduction, owner)
            yield from self._of_checks(study, deduction, owner)

    def _of_causes(self, study: Study, deduction: Deduction, owner: Named) -> Iterator[Found]:
        book, facts = study.book, facts_of(study.book, deduction)
        moved = [("rule_out", name) for name in deduction.rule_out] + [("rule_in", name) for name in deduction.rule_in]
        moved += [("likelier" if times >= 1 else "less_likely", name) for name, times in deduction.likelier.items()]
        for key, name in moved:
            fact = clash(book, facts, book.causes[name].applies)
            if fact:
                message = f"'{deduction.id}' speaks of '{name}', which such a bike cannot have: '{fact}' differs"
                hint = f"Delete '{name}' here: what it applies to says so already."
                yield Found(study.place(owner, "then", key, name), message, hint, owner, (name,))

    def _of_checks(self, study: Study, deduction: Deduction, owner: Named) -> Iterator[Found]:
        book, facts = study.book, facts_of(study.book, deduction)
        asked = [("demand_first", name) for name in deduction.demand[: deduction.first]]
        asked += [("demand", name) for name in deduction.demand[deduction.first :]]
        asked += [("before_riding", name) for name in deduction.before_riding]
        for key, name in asked:
            check = book.checks[name]
            fact = clash(book, facts, check.applies) or clash(book, facts, book.findings[check.finding].applies)
            if fact:
                message = f"'{deduction.id}' demands '{name}', which is nothing for such a bike: '{fact}' differs"
                hint = "Demand a check that fits, or change the condition."
                yield Found(study.place(owner, "then", key, name), message, hint, owner, (name,))
