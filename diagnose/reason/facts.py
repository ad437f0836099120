"""Which facts of the bike to ask for now: those that could move belief, and those that the next step hangs on.

Cast: `facts_wanted`, and `values_that_matter` for a fact that has many. A fact is worth a key when one of its values
would move at least `MATTERS` of belief between causes, by what applies to such a bike and by the deductions that
stand on it; what the others say is taken as known or left out.
"""

from __future__ import annotations

from collections.abc import Sequence

from diagnose.book.conditions import holds, may_hold
from diagnose.book.model import Book, Cause, Deduction
from diagnose.reason.belief import Belief
from diagnose.reason.situation import Situation

MATTERS = 0.1
"""Belief that a fact must be able to move to be worth asking."""
LIVE = 0.005
"""A cause below this share brings no value of a fact on to the screen."""


def facts_wanted(book: Book, situation: Situation, belief: Belief, called_for: Sequence[str]) -> tuple[str, ...]:
    """Facts to ask for before the next step: by what they could move, then those that are called for anyway."""
    known = {*situation.profile, *situation.asked}
    order = {fact: place for place, fact in enumerate(book.facts)}
    fitting = {name for name, fact in book.facts.items() if holds(fact.applies, situation.profile)}
    moving = {fact: _moves(book, situation, belief, fact) for fact in book.facts if fact in fitting - known}
    worth = sorted(
        (fact for fact, moved in moving.items() if moved >= MATTERS), key=lambda fact: (-moving[fact], order[fact])
    )
    called = sorted({fact for fact in called_for if fact in fitting - known}, key=lambda fact: order[fact])
    return tuple(dict.fromkeys([*worth, *called]))


def values_that_matter(book: Book, situation: Situation, belief: Belief, fact: str) -> tuple[str, ...]:
    """The values of a fact that bear on the complaints that stand, in the book's order; the first (nothing) always."""
    net = belief.net
    live = {
        cause
        for complaint in situation.standing
        for cause, share in zip(net.causes[net.complaints.index(complaint)], belief.marginal(complaint), strict=True)
        if cause and share >= LIVE
    }
    first, *others = book.facts[fact].values
    wanted = {value for cause in live for value in book.causes[cause].applies.get(fact, ())}
    for deduction in book.deductions.values():
        if _speaks_to(book, situation, deduction, fact, live):
            wanted.update(value for when in deduction.when if when.key == fact for value in when.any_of)
    return (first, *(value for value in others if value in wanted))


def _speaks_to(book: Book, situation: Situation, deduction: Deduction, fact: str, live: set[str]) -> bool:
    """Whether a deduction stands on the fact, can still hold, and says something about this job."""
    if not any(when.key == fact for when in deduction.when):
        return False
    for when in deduction.when:
        if when.key == "complaint" and not set(when.any_of) & set(situation.standing):
            return False
        if when.key in situation.profile and not set(when.any_of) & set(situation.profile[when.key]):
            return False
    moved = {*deduction.likelier, *deduction.rule_out, *deduction.rule_in}
    warns = deduction.danger or deduction.hand_off or deduction.conclude or deduction.demand or deduction.cautions
    return bool(moved & live) or (not moved and bool(warns))


def _moves(book: Book, situation: Situation, belief: Belief, fact: str) -> float:
    """The most belief that any value of the fact would move, in any complaint."""
    most = 0.0
    for complaint in situation.standing:
        net = belief.net
        causes = net.causes[net.complaints.index(complaint)]
        shares = belief.marginal(complaint)
        bearing = book.bearing[fact]
        live = [(book.causes[name], share) for name, share in zip(causes, shares, strict=True) if name in bearing]
        if live:
            total = sum(shares[:-1])
            for value in book.facts[fact].values:
                most = max(most, _moved(book, situation, live, total, (fact, value)))
    return most


def _moved(
    book: Book, situation: Situation, live: list[tuple[Cause, float]], total: float, fact: tuple[str, str]
) -> float:
    """Belief that moves between the known causes if the fact had this value: half the sum of all changes.

    `live` are the causes that the fact bears on, each with its share; `total` is the share of all known causes.
    """
    changed = [share * _factor(book, situation, cause, *fact) for cause, share in live]
    rest = total - sum([share for _, share in live])
    whole = rest + sum(changed)
    if whole <= 0 or total <= 0:
        return total
    grown = total / whole
    moved = sum([abs(after * grown - before) for after, (_, before) in zip(changed, live, strict=True)])
    return (moved + rest * abs(grown - 1)) / 2


def _factor(book: Book, situation: Situation, cause: Cause, fact: str, value: str) -> float:
    if fact in cause.applies and value not in cause.applies[fact]:
        return 0.0
    factor = 1.0
    for deduction in book.moving.get((cause.id, fact), ()):
        if not all(_holds(situation, when.key, when.any_of, fact, value) for when in deduction.when):
            continue
        if cause.id in deduction.rule_out:
            return 0.0
        factor *= deduction.likelier.get(cause.id, 1.0)
        if cause.id in deduction.rule_in:
            factor *= book.constants.rule_in
    return factor


def _holds(situation: Situation, key: str, any_of: tuple[str, ...], fact: str, value: str) -> bool:
    if key == fact:
        return value in any_of
    if key == "complaint":
        return any(name in any_of for name in situation.standing)
    return any(one in any_of for one in situation.profile.get(key, ()))


def facts_of_step(book: Book, situation: Situation, check: str | None, fixes: Sequence[str]) -> list[str]:
    """Facts that decide whether the next step applies, and which of its limits."""
    facts: list[str] = []
    limits: list[str] = []
    if check is not None:
        one = book.checks[check]
        facts += [*one.applies, *book.findings[one.finding].applies]
        limits += one.limits
        for band in one.measure.bands if one.measure else ():
            limits += [edge.limit for edge in (band.start, band.stop) if edge and edge.limit]
    for fix in fixes:
        limits += [limit for step in book.fixes[fix].steps for limit in step.limits]
    for limit in limits:
        open_cases = [case.when for case in book.limits[limit].cases if may_hold(case.when, situation.profile)]
        facts += [fact for when in [book.limits[limit].applies, *open_cases] for fact in when]
    return facts
