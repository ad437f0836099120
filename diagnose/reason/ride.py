"""May it be ridden? Apart from the diagnosis: no reason found not to, with care, do not ride, or not cleared.

Cast: `judge_ride` gives a `Ride`. Do not ride when stop-riding causes together reach the book's threshold, or a
deduction says so; *something else* counts at the complaint's stated danger rate. What was seen on arrival and calls
for a danger check holds the bike until that check is made. "Can't tell" on a check that a danger demanded leaves it
not cleared, and so does a check that must be made before riding for as long as it was not made.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from math import prod
from typing import NamedTuple

from diagnose.book.conditions import may_hold
from diagnose.book.model import Book, Cause, Check
from diagnose.reason.belief import Belief, cured_by
from diagnose.reason.conclude import Conclusion, Conclusions, before_riding
from diagnose.reason.situation import Situation
from diagnose.reason.table import dot

ARRIVAL = "arrival"
"""The fact that says what was noticed in the half minute after the bike came in."""
COMPLAINT = "complaint"
EVEN = 0.5
"""Above this chance of a stop-riding cause the verdict is stop even where a danger check could not be done."""
WORTH_NAMING = 0.01


class Because(NamedTuple):
    """A reason for the verdict: a cause or a deduction by id, and its text."""

    kind: str
    id: str
    text: str


@dataclass(frozen=True, slots=True)
class Ride:
    """`verdict` is ride, care, stop or not-cleared; `stop` and `care` are the chances behind it."""

    verdict: str
    because: tuple[Because, ...]
    stop: float
    care: float

    @property
    def by_chance(self) -> bool:
        """Whether it is held by chances below even: to be looked at, not known to be dangerous."""
        return self.verdict == "stop" and self.stop < EVEN and not self.said

    @property
    def said(self) -> bool:
        """Whether a deduction called the verdict, not the chances alone."""
        return any(one.kind == "conclusion" for one in self.because)


def judge_ride(
    book: Book,
    situation: Situation,
    conclusions: Conclusions,
    belief: Belief,
    pending: bool = False,
    extras: Sequence[Conclusion] = (),
) -> Ride:
    """The ride verdict of a situation, with its reasons, the heaviest first."""
    stop = danger_chance(book, situation, belief, book.stops)
    care = danger_chance(book, situation, belief, book.cares)
    fired = {one.deduction.id: one for one in [*conclusions.fired, *extras]}
    mended = _put_right(book, situation)
    said = [
        (one.deduction.danger, one)
        for _, one in sorted(fired.items(), key=lambda one: (one[1].deduction.hand_off is None, one[0]))
        if one.deduction.danger == "stop" or (one.deduction.danger and mended.isdisjoint(_stands_on(one)))
    ]
    said_reasons = {
        level: tuple(Because("conclusion", one.deduction.id, one.deduction.because) for at, one in said if at == level)
        for level in ("stop", "care")
    }
    constants = book.constants
    untold = _untold(book, situation, conclusions, belief, pending) + _not_looked_over(book, situation, fired.values())
    unseen = _unseen_since_arrival(book, situation, conclusions)
    if said_reasons["stop"] or stop >= EVEN:
        return Ride("stop", said_reasons["stop"] + unseen + _causes(book, situation, belief, ("stop",)), stop, care)
    if untold:
        return Ride("not-cleared", unseen + untold + _causes(book, situation, belief, ("stop",)), stop, care)
    if unseen or stop >= constants.stop_threshold:
        return Ride("stop", unseen + _causes(book, situation, belief, ("stop",)), stop, care)
    if said_reasons["care"] or care >= constants.care_threshold:
        reasons = said_reasons["care"] + _causes(book, situation, belief, ("stop", "care"))
        return Ride("care", reasons, stop, care)
    return Ride("ride", (), stop, care)


def complaints_of(book: Book, situation: Situation, reason: Because) -> list[str]:
    """The complaints that stand and that a reason belongs to; none where it holds the bike whatever it came for."""
    if reason.kind == "cause":
        return [one for one in situation.standing if book.causes[reason.id] in book.causes_of[one]]
    keys = {when.key for when in book.deductions[reason.id].when}
    named = {value for when in book.deductions[reason.id].when if when.key == COMPLAINT for value in when.any_of}
    return [
        one
        for one in situation.standing
        if (one in named if named else any(keys & cause.shows.keys() for cause in book.causes_of[one]))
    ]


def _put_right(book: Book, situation: Situation) -> set[str]:
    """Findings that causes speak to whose fix was followed by a repeat test that passed, once all complaints are gone.

    What they show calls for care no more; what calls for not riding stays until it is looked at again.
    """
    if situation.standing:
        return set()
    return {finding for cause, cured in _cured_here(book, situation) if cured > 0 for finding in cause.shows}


def _cured_here(book: Book, situation: Situation) -> Iterator[tuple[Cause, float]]:
    """Causes of complaints that were gone after a repair, each with the best chance that a fix of it cures them."""
    for repair in situation.repairs:
        for complaint, gone in repair.results.items():
            for cause in book.causes_of[complaint] if gone else ():
                yield cause, max((cured_by(book, cause.id, fix) for fix in repair.fixes), default=0.0)


def _stands_on(conclusion: Conclusion) -> set[str]:
    return {when.key for when in conclusion.deduction.when}


def danger_chance(book: Book, situation: Situation, belief: Belief, dangerous: frozenset[str]) -> float:
    """The chance that a complaint that still stands has one of these causes, *something else* at its danger rate."""
    net = belief.net
    standing = [net.complaints.index(complaint) for complaint in situation.standing]
    unknown = {place: book.complaints[net.complaints[place]].danger_if_unknown for place in standing}
    risk = {
        place: [unknown[place] if cause is None else float(cause in dangerous) for cause in net.causes[place]]
        for place in standing
    }
    if len(net.causes) == 1:
        return sum((dot(belief.weights, risk[place]) for place in standing), 0.0)
    total = 0.0
    for state, weight in zip(net.states, belief.weights, strict=True):
        if weight > 0:
            total += weight * (1 - prod(1 - risk[place][state[place]] for place in standing))
    return total


def _causes(book: Book, situation: Situation, belief: Belief, levels: tuple[str, ...]) -> tuple[Because, ...]:
    """The dangerous causes worth naming, the likeliest first."""
    shares: dict[str, float] = {}
    for complaint in situation.standing:
        place = belief.net.complaints.index(complaint)
        for cause, share in zip(belief.net.causes[place], belief.marginal(complaint), strict=True):
            if cause and book.causes[cause].danger in levels and share >= WORTH_NAMING:
                shares[cause] = max(shares.get(cause, 0.0), share)
    ranked = sorted(shares, key=lambda cause: (-shares[cause], cause))
    return tuple(
        Because("cause", cause, f"{book.causes[cause].name}: {book.causes[cause].danger_because}") for cause in ranked
    )


def _untold(
    book: Book, situation: Situation, conclusions: Conclusions, belief: Belief, pending: bool
) -> tuple[Because, ...]:
    """Danger checks that were demanded and could not be told or done, and whose finding nothing else has told.

    What a fix has put right that the repeat test proved is no danger any more, whoever could not look at it before it.
    A check that a deduction demands for the sake of order, and that guards no danger, leaves the verdict alone; so does
    a question that could have cleared a danger while another check for it is still `pending`.
    """
    told = {answer.finding for answer in situation.fresh}
    untold = {answer.check for answer in situation.answers if answer.value is None and answer.finding not in told}
    found = {}
    for conclusion, check in conclusions.demands():
        one = book.checks[check]
        barred = (
            situation.role == "mechanic"
            and situation.bars(one)
            and one.finding not in told
            and _fits(book, situation, one)
        )
        if one.danger and (check in untold or barred):
            found[check] = Because("conclusion", conclusion.deduction.id, conclusion.deduction.because)
    mended = _mended(book, situation)
    for check in sorted(one for one in untold - set(found) if book.checks[one].danger or not pending):
        least = WORTH_NAMING if book.checks[check].danger else book.constants.stop_threshold
        for cause in sorted(book.causes.keys() - mended):
            speaks = book.checks[check].finding in book.causes[cause].shows
            if speaks and book.causes[cause].danger == "stop" and belief.any_of({cause}) >= least:
                found.setdefault(check, Because("cause", cause, _not_looked(book, cause)))
    return tuple(found[check] for check in sorted(found))


def _mended(book: Book, situation: Situation) -> set[str]:
    """Causes that a repair mostly cures, of complaints that were gone after it."""
    return {cause.id for cause, cured in _cured_here(book, situation) if cured >= EVEN}


def _unseen_since_arrival(book: Book, situation: Situation, conclusions: Conclusions) -> tuple[Because, ...]:
    """What was noticed on arrival and calls for a look that nobody has made or tried yet."""
    found = {one.deduction.id: one.deduction.because for one, _ in unseen_since_arrival(book, situation, conclusions)}
    return tuple(Because("conclusion", name, found[name]) for name in sorted(found))


def unseen_since_arrival(
    book: Book, situation: Situation, conclusions: Conclusions
) -> Iterator[tuple[Conclusion, Check]]:
    """Each check that something noticed on arrival calls for, and that nobody has made or tried yet.

    Where nothing was noticed nothing is called for: a round that is made all the same holds no bike, nor does it once
    something was put right here. One that guards no danger counts where it goes on with the search after a look in
    vain. At the counter also one that only a mechanic can make: it is made at the stand, and not ridden there.
    """
    tried = {answer.check for answer in situation.answers}
    told = {answer.finding for answer in situation.answers if answer.value is not None}
    ordinary = {*tuple(book.facts[ARRIVAL].values)[:1]} if ARRIVAL in book.facts else set()
    noticed = {*situation.profile.get(ARRIVAL, ())} - ordinary
    worked = any(repair.better or any(repair.results.values()) for repair in situation.repairs)
    for conclusion, name in conclusions.demands():
        check = book.checks[name]
        on_arrival = any(
            when.key == ARRIVAL and noticed & {*when.any_of} and not (worked and ordinary & {*when.any_of})
            for when in conclusion.deduction.when
        )
        barred = situation.role == "mechanic" and situation.bars(check)
        waits = name not in tried and check.finding not in told and not barred
        counts = check.danger or any(when.key in book.findings for when in conclusion.deduction.when)
        if on_arrival and counts and waits and _fits(book, situation, check):
            yield conclusion, check


def _not_looked_over(book: Book, situation: Situation, fired: Iterable[Conclusion]) -> tuple[Because, ...]:
    """Checks that must be made before it is ridden, and that nobody has told yet."""
    told = {answer.finding for answer in situation.fresh}
    found = {}
    for conclusion, check in before_riding(fired):
        if book.checks[check].finding not in told and _fits(book, situation, book.checks[check]):
            name = conclusion.deduction.id
            found[name] = Because("conclusion", name, conclusion.deduction.because)
    return tuple(found[name] for name in sorted(found))


def _fits(book: Book, situation: Situation, check: Check) -> bool:
    """Whether the check may be made on this kind of bike: it and its finding."""
    return all(may_hold(one, situation.profile) for one in (check.applies, book.findings[check.finding].applies))


def _not_looked(book: Book, cause: str) -> str:
    return f"{book.causes[cause].name} could not be looked at: {book.causes[cause].danger_because}"
