"""Which facts of the bike to ask for now: those that could move belief, and those that the next step hangs on.

Cast: `facts_wanted`, `fits`, and `values_that_matter` for a fact that has many. A fact is worth a key when one of its
values would move at least `MATTERS` of belief between causes, by what applies to such a bike and by the deductions that
stand on it, or would take the stop-riding causes below the book's threshold; what the others say is taken as known or
left out.
"""

from __future__ import annotations

from collections.abc import Sequence
from operator import mul

from diagnose.book.conditions import holds, may_hold
from diagnose.book.model import Book, Deduction, Fact, When
from diagnose.reason.belief import Belief
from diagnose.reason.situation import Situation

MATTERS = 0.24
"""Belief that a fact must be able to move to be worth asking."""
CLEARED = 0.5
"""What may be left of a danger that a fact is asked for to clear: less off it, and it is looked at anyway."""
Shared = tuple[Sequence[str | None], Sequence[float]]
"""The causes of a complaint, the last of them *something else*, and their shares."""
LIVE = 0.005
"""A cause below this share brings no value of a fact on to the screen."""


def facts_wanted(book: Book, situation: Situation, belief: Belief, called_for: Sequence[str]) -> tuple[str, ...]:
    """Facts to ask for before the next step: by what they could move, then those that are called for anyway.

    Ahead of all of them one with which the bike may be given away before anything else, then what of it is off.
    """
    known = {*situation.profile, *situation.asked}
    order = {fact: place for place, fact in enumerate(book.facts)}
    fitting = {name for name, fact in book.facts.items() if fits(fact, situation)}
    standing = [
        (belief.net.causes[place], belief.marginal(complaint)) for complaint, place in _places(situation, belief)
    ]
    moving = {fact: _moves(book, situation, standing, fact) for fact in book.facts if fact in fitting - known}
    held = [one for one in standing if _stopping(book, one) >= book.constants.stop_threshold]
    worth = sorted(
        (fact for fact, moved in moving.items() if moved >= MATTERS or _clears(book, situation, held, fact)),
        key=lambda fact: (-moving[fact], order[fact]),
    )
    called = sorted(
        {fact for fact in called_for if fact in fitting - known and not _told_otherwise(book, situation, fact)},
        key=lambda fact: order[fact],
    )
    wanted = dict.fromkeys([*worth, *called])
    return tuple(sorted(wanted, key=lambda fact: (not _may_end_it(book, situation, fact), not book.facts[fact].off)))


def _told_otherwise(book: Book, situation: Situation, fact: str) -> bool:
    """Whether words told already all that the fact would say of others: which wheel it is about, so which brake."""
    meant = {other for values in book.facts[fact].means.values() for other in values}
    return bool(meant) and meant <= situation.heard


def fits(fact: Fact, situation: Situation) -> bool:
    """Whether a fact is asked of such a bike at all: a bike with two mechs has no belt."""
    never = bool(fact.not_of) and holds(fact.not_of, situation.profile)
    return holds(fact.applies, situation.profile) and not never


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
    wanted = set(book.facts[fact].off)
    wanted |= {value for cause in live for value in book.causes[cause].applies.get(fact, ())}
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
        known = when.key in situation.profile and when.key != fact
        if known and not set(when.any_of) & set(situation.profile[when.key]):
            return False
    moved = {*deduction.likelier, *deduction.rule_out, *deduction.rule_in}
    warns = deduction.danger or deduction.hand_off or deduction.conclude or deduction.cautions
    asks = deduction.demand or deduction.before_riding
    return bool(moved & live) or (not moved and bool(warns or asks))


def _places(situation: Situation, belief: Belief) -> list[tuple[str, int]]:
    """The complaints that stand, each with its place in the net."""
    return [(complaint, belief.net.complaints.index(complaint)) for complaint in situation.standing]


def _moves(book: Book, situation: Situation, standing: Sequence[Shared], fact: str) -> float:
    """The most belief that any value of the fact would move, in any complaint: its causes, and their shares."""
    bearing, values = book.bearing[fact], tuple(book.facts[fact].values)
    most = 0.0
    for causes, shares in standing:
        live = [(name, share) for name, share in zip(causes, shares, strict=True) if name and name in bearing]
        if not live or _may_move(book, fact, live) < MATTERS:
            continue
        before = [share for _, share in live]
        factors = [_factors(book, situation, name, fact, values) for name, _ in live]
        total = sum(shares[:-1])
        most = max(most, *(_moved(before, [one[place] for one in factors], total) for place in range(len(values))))
    return most


def _stopping(book: Book, shared: Shared) -> float:
    """The share of the stop-riding causes of a complaint."""
    return sum(share for name, share in zip(*shared, strict=True) if name in book.stops)


def _clears(book: Book, situation: Situation, held: Sequence[Shared], fact: str) -> bool:
    """Whether some value would take half or more of a complaint's danger off it, and it below the book's threshold."""
    bearing, values = book.bearing[fact], tuple(book.facts[fact].values)
    if book.stops.isdisjoint(bearing):
        return False
    for causes, shares in held:
        known = [(name, share) for name, share in zip(causes, shares, strict=True) if name]
        if not any(name in bearing and name in book.stops for name, share in known if share >= LIVE):
            continue
        factors = [_factors(book, situation, name, fact, values) if name in bearing else None for name, _ in known]
        for place in range(len(values)):
            after = [share * (one[place] if one else 1.0) for (_, share), one in zip(known, factors, strict=True)]
            stopping = sum(share for (name, _), share in zip(known, after, strict=True) if name in book.stops)
            left = stopping / sum(after) * sum(shares[:-1]) if sum(after) > 0 else 1.0
            if left < book.constants.stop_threshold and left <= CLEARED * _stopping(book, (causes, shares)):
                return True
    return False


def _may_move(book: Book, fact: str, live: list[tuple[str, float]]) -> float:
    """A bound of what the fact may move: what its causes would have if it raised each by the most that it can."""
    low = sum([share for _, share in live])
    high = sum([share * book.raising.get((name, fact), 1.0) for name, share in live])
    return high / (high + 1 - low)


def _moved(before: Sequence[float], factors: Sequence[float], total: float) -> float:
    """Belief that moves between the known causes if those that a fact bears on changed so: half the sum of all changes.

    `before` are their shares, `total` is the share of all known causes.
    """
    changed = list(map(mul, before, factors))
    rest: float = total - sum(before)
    whole: float = rest + sum(changed)
    if whole <= 0 or total <= 0:
        return total
    grown = total / whole
    moved: float = sum([abs(after * grown - share) for after, share in zip(changed, before, strict=True)])
    return (moved + rest * abs(grown - 1)) / 2


def _factors(book: Book, situation: Situation, cause: str, fact: str, values: Sequence[str]) -> list[float]:
    """For each value of the fact by how much it would multiply the cause."""
    applies = book.causes[cause].applies.get(fact)
    factors = [1.0 if applies is None or value in applies else 0.0 for value in values]
    for deduction in book.moving.get((cause, fact), ()):
        if all(when.key == fact or _holds(situation, when) for when in deduction.when):
            factor = 0.0 if cause in deduction.rule_out else deduction.likelier.get(cause, 1.0)
            if cause in deduction.rule_in:
                factor *= book.constants.rule_in
            (wanted,) = [when.any_of for when in deduction.when if when.key == fact]
            factors = [one * factor if value in wanted else one for one, value in zip(factors, values, strict=True)]
    return factors


def _may_end_it(book: Book, situation: Situation, fact: str) -> bool:
    """Whether some value of the fact, with what is known of the bike, calls for a hand-off before riding."""
    return any(
        deduction.hand_off is not None
        and deduction.hand_off.urgency == "before riding"
        and any(when.key == fact for when in deduction.when)
        and all(when.key == fact or _holds(situation, when) for when in deduction.when)
        for deduction in book.deductions.values()
    )


def _holds(situation: Situation, when: When) -> bool:
    told = situation.standing if when.key == "complaint" else situation.profile.get(when.key, ())
    return any(one in when.any_of for one in told)


def facts_of_step(book: Book, situation: Situation, check: str | None, fixes: Sequence[str]) -> list[str]:
    """Facts that decide whether the next check applies, which steps of a fix stand for others, and a limit's numbers.

    Of a check only where it is measured: a look does not wait for a figure that is shown beside it.
    What belongs to one kind of bike alone says so itself and is told with the rest: "nuts: ...", "front wheel nuts".
    """
    facts: list[str] = []
    limits: list[str] = []
    if check is not None:
        one = book.checks[check]
        facts += [*one.applies, *book.findings[one.finding].applies]
        for band in one.measure.bands if one.measure else ():
            limits += [edge.limit for edge in (band.start, band.stop) if edge and edge.limit]
        shown = [limit for limit in one.limits if one.measure and not book.limits[limit].table]
        deciding = [*limits, *(limit for limit in shown if not book.limits[limit].instead_of)]
        facts += [fact for limit in deciding for fact in book.limits[limit].applies]
        limits += shown
    for fix in fixes:
        steps = [step for step in book.fixes[fix].steps if situation.takes(step)]
        kinds = {(fact, values) for step in steps for fact, values in step.applies.items()}
        named = [fact for fact, _ in kinds]
        facts += [fact for fact in named if named.count(fact) > 1]
        limits += [limit for step in steps for limit in step.limits if not book.limits[limit].table]
    for limit in limits:
        open_cases = [case.when for case in book.limits[limit].cases if may_hold(case.when, situation.profile)]
        facts += [fact for when in open_cases for fact in when]
    return facts
