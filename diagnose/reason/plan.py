"""The ordered fix plan: which fixes in which order, what each can be expected to do, and where it ends in a hand-off.

Cast: `make_plan` gives `PlanItem`s in the order they would be tried, `plan_if_known` those where the causes are known;
`hand_offs` says to whom the bike goes, and why.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from diagnose.book.conditions import holds
from diagnose.book.model import Book, HandOff
from diagnose.reason.belief import cured_by
from diagnose.reason.conclude import Conclusions
from diagnose.reason.outlook import Outlook, before_used
from diagnose.reason.repair import Trial
from diagnose.reason.treatment import Treatment

LEAST_CHANCE = 0.005
LIKELY_ENOUGH = 0.3
"""A cause at or above this share brings its own hand-off into the note."""


@dataclass(frozen=True, slots=True)
class PlanItem:
    """One fix of the plan.

    `chance` is that it cures what still stands, given that none before it did, of several complaints the one that it
    cures most surely; `treats` is (cause, complaint).
    """

    fix: str
    rung: int
    treats: tuple[tuple[str, str], ...]
    chance: float
    together: tuple[str, ...]
    minutes: tuple[float, float]


@dataclass(frozen=True, slots=True)
class CalledHandOff:
    """A hand-off that is called for: the book's words, and what calls for it."""

    hand_off: HandOff
    because: str


def make_plan(outlook: Outlook, first: tuple[str, ...]) -> tuple[PlanItem, ...]:
    """The plan: the fixes that come next (none: a check does), then by chance per cost, until a hand-off is cheaper.

    What comes next stands in it even where it cures no complaint: what must be done anyway.
    """
    return _planned(outlook, {complaint: outlook.belief.marginal(complaint) for complaint in outlook.courses}, first)


def plan_if_known(outlook: Outlook, state: Sequence[int]) -> tuple[PlanItem, ...]:
    """The plan of somebody who knows the cause of each complaint: `state` has their places."""
    net, known = outlook.belief.net, {}
    for complaint in outlook.courses:
        place = net.complaints.index(complaint)
        known[complaint] = [float(index == state[place]) for index in range(len(net.causes[place]))]
    return _planned(outlook, known, ())


def _planned(
    outlook: Outlook, shares_of: Mapping[str, Sequence[float]], first: tuple[str, ...]
) -> tuple[PlanItem, ...]:
    """The plan under these shares of the causes of each complaint."""
    book, belief = outlook.book, outlook.belief
    used = {complaint: list(outlook.used[complaint]) for complaint in outlook.courses}
    raw = {complaint: before_used(shares_of[complaint], used[complaint]) for complaint in outlook.courses}
    items: list[PlanItem] = []
    seen: set[str] = set()
    for fixes, treatment in _sequence(outlook, raw, used, first):
        for fix in fixes:
            if fix in seen:
                continue
            item = _item(outlook, fix, treatment.fixes, raw, used)
            needed = fix != treatment.first
            if item.chance >= LEAST_CHANCE or needed:
                seen.add(fix)
                items.append(item)
            _use(book, belief.net.causes, belief.net.complaints, fix, used)
    anyway = [_item(outlook, fix, first, raw, outlook.used) for fix in first if fix not in seen]
    return (*anyway, *items)


def _sequence(
    outlook: Outlook, raw: Mapping[str, Sequence[float]], used: dict[str, list[float]], first: tuple[str, ...]
) -> list[tuple[tuple[str, ...], Treatment]]:
    """Treatments of all complaints in one order: what comes next, then by chance per cost to the hand-off."""
    found: list[tuple[float, int, tuple[str, ...], Treatment]] = []
    for place, (complaint, course) in enumerate(outlook.courses.items()):
        left = [share * (1 - gone) for share, gone in zip(raw[complaint], used[complaint], strict=True)]
        handing = sum(share * price for share, price in zip(left, course.hand_off, strict=True))
        order = course.order(raw[complaint], used[complaint], outlook.situation.open_teardowns)
        ends = _worth_trying(order, sum(left), handing)
        best = float("inf")
        for index, gain, cost, _ in order[:ends]:
            best = min(best, gain / cost)
            treatment = course.treatments[index]
            found.append((-best, place, treatment.fixes, treatment))
    found.sort(key=lambda one: one[:2])
    sequence = _in_order(outlook.book, [(fixes, treatment) for _, _, fixes, treatment in found])
    if first:
        for course in outlook.courses.values():
            for treatment in course.treatments:
                if treatment.fixes == first:
                    return [(treatment.fixes, treatment), *sequence]
    return sequence


def _in_order(book: Book, sequence: list[tuple[tuple[str, ...], Treatment]]) -> list[tuple[tuple[str, ...], Treatment]]:
    """The sequence with each treatment behind those that its fixes come after, wherever both are in the plan."""
    waiting, ordered = list(sequence), []
    while waiting:
        ahead = {fix for fixes, _ in waiting for fix in fixes}
        ready = next(
            (
                one
                for one in waiting
                if not {name for fix in one[0] for name in book.fixes[fix].after} & (ahead - set(one[0]))
            ),
            waiting[0],
        )
        waiting.remove(ready)
        ordered.append(ready)
    return ordered


def _worth_trying(order: list[Trial], mass: float, handing: float) -> int:
    """How many treatments come before the hand-off, whose price is `handing`, takes over as the cheaper one."""
    standing = []
    for _, gain, cost, spared in order:
        standing.append((handing, mass * cost))
        mass -= gain
        handing -= spared
    total = handing
    ends = len(order)
    for place in range(len(order) - 1, -1, -1):
        given_away, tried = standing[place]
        going_on = tried + total
        total = min(given_away, going_on)
        if given_away < going_on:
            ends = place
    return ends


def _item(
    outlook: Outlook,
    fix: str,
    fixes: Sequence[str],
    raw: Mapping[str, Sequence[float]],
    used: Mapping[str, Sequence[float]],
) -> PlanItem:
    book = outlook.book
    chance, treats, rung = 0.0, [], 0
    for complaint in outlook.courses:
        gained = standing = 0.0
        causes = outlook.belief.net.causes[outlook.belief.net.complaints.index(complaint)]
        for index, cause in enumerate(causes):
            left = raw[complaint][index] * (1 - used[complaint][index])
            standing += left
            cured = cured_by(book, cause, fix) if cause else 0.0
            if cause and cured > used[complaint][index] and left > 0:
                gained += raw[complaint][index] * (cured - used[complaint][index])
                treats.append((left, cause, complaint))
        chance = max(chance, gained / standing if standing > 0 else 0.0)
    treats.sort(key=lambda one: (-one[0], one[1], one[2]))
    if treats:
        ladder = book.causes[treats[0][1]].ladder
        also_done = book.with_included([fix])
        rung = max(place for place, one in enumerate(ladder, 1) if one.fix in also_done)
    together = tuple(one for one in fixes if one != fix)
    low, high = _minutes(outlook, fix)
    return PlanItem(
        fix, rung, tuple((cause, complaint) for _, cause, complaint in treats), chance, together, (low, high)
    )


def _minutes(outlook: Outlook, fix: str) -> tuple[float, float]:
    """Low and high minutes of a fix with opening, the checks that it needs, closing and the repeat test."""
    book, bench = outlook.book, outlook.bench
    one = book.fixes[fix]
    chain = bench.chain(one.teardown)
    tests = [course.test for course in outlook.courses.values() if any(fix in t.fixes for t in course.treatments)]
    looked_at = sum(book.checks[need].minutes for need in bench.unmet(one) if need in book.checks)
    extra = bench.opening(chain, frozenset()) + looked_at + bench.closing(chain) + max(tests, default=0.0)
    return one.low + extra, one.high + extra


def _use(
    book: Book,
    causes: tuple[tuple[str | None, ...], ...],
    complaints: tuple[str, ...],
    fix: str,
    used: dict[str, list[float]],
) -> None:
    for complaint, spent in used.items():
        for index, cause in enumerate(causes[complaints.index(complaint)]):
            if cause:
                spent[index] = max(spent[index], cured_by(book, cause, fix))


def called_by(conclusions: Conclusions) -> tuple[CalledHandOff, ...]:
    """The hand-offs that deductions call for."""
    return tuple(CalledHandOff(one, conclusion.deduction.id) for conclusion, one in conclusions.hand_offs())


def hand_offs(outlook: Outlook, chosen: bool) -> tuple[CalledHandOff, ...]:
    """The hand-offs that are called for: by deductions, by the likeliest causes, and by the choice itself."""
    book, situation = outlook.book, outlook.situation
    called = list(called_by(outlook.conclusions))
    for complaint in situation.standing:
        causes = outlook.belief.net.causes[outlook.belief.net.complaints.index(complaint)]
        ranked = sorted(
            zip(causes, outlook.belief.marginal(complaint), strict=True), key=lambda one: (-one[1], one[0] or "~")
        )
        for cause, share in ranked:
            if cause is None or share < LIKELY_ENOUGH:
                continue
            own = book.causes[cause].hand_off
            if own and holds(own.when, situation.profile):
                called.append(CalledHandOff(own, cause))
            if chosen:
                when = book.causes[cause].hand_off_when
                called.extend(CalledHandOff(one, cause) for one in when if holds(one.when, situation.profile))
    told = {(one.hand_off.receiver, one.hand_off.reason): one for one in reversed(called)}
    return tuple(one for key, one in reversed(told.items()) if not any(_says_more(other, key) for other in told))


def _says_more(other: tuple[str, str], one: tuple[str, str]) -> bool:
    """Whether another reason, for the same hands, begins with this one and says more."""
    return other != one and other[0] == one[0] and other[1].startswith(one[1])
