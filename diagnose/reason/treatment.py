"""What this stand can do about a complaint as one action, and what giving the bike away would cost.

Cast: `Treatment`, made by `single_treatments` (one fix, with what it needs) and `in_one_teardown` (two of them, with
one repeat test); `orders` tells which come before which, `hand_off_prices` what each cause costs when it is given
away. All costs are minutes; parts are priced at the labour rate. What follows from the book alone is kept with it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from diagnose.book.model import Book, Cause
from diagnose.reason.workbench import Bench

MOST_PAIRED = 60
"""Fixes with a teardown, of one complaint, that are weighed in pairs."""
LITTLE = 0.2
"""Two fixes are done in one go where that spares more than this part of what the cheaper one costs."""
HALF = 0.5
"""The parts of a fix are paid wherever it is done, if it still cures so much of what is left."""

_NOTHING: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class Treatment:
    """Fixes done together, then one repeat test. `cures` is (cause index, cured fraction) for each cause it treats."""

    fixes: tuple[str, ...]
    work: float
    teardowns: frozenset[str]
    cures: tuple[tuple[int, float], ...]
    closed_cost: float

    @property
    def first(self) -> str:
        """The fix that is named on the screen (the last: what it needs comes before it)."""
        return self.fixes[-1]


Work = tuple[tuple[str, ...], float, frozenset[str], float]
"""Fixes done together, their minutes, what they open, and the minutes to open and to close that."""


Known = Mapping[str, Mapping[int, float]]
"""Fix to the causes that it cures, by place, each with its cured fraction."""


def single_treatments(bench: Bench, known: Known, test: float) -> list[Treatment]:
    """Every fix of these that this stand can do, with all that it needs, by id; `test`: minutes of the repeat test."""
    book = bench.book
    return [_treatment(bench, fix, known, test) for fix in sorted(known) if not bench.lacks(book.fixes[fix])]


def _treatment(bench: Bench, fix: str, known: Known, test: float) -> Treatment:
    """A fix with all that it needs, as one action."""
    together, work, teardowns, around = _work_of(bench, fix)
    if together == (fix,):
        cures = known[fix].items()
    else:
        most: dict[int, float] = {}
        for name in together:
            for cause, cured in known.get(name, {}).items():
                most[cause] = max(most.get(cause, 0.0), cured)
        cures = most.items()
    return Treatment(together, work, teardowns, tuple(sorted(cures)), max(around + work + test, 0.1))


def _work_of(bench: Bench, fix: str) -> Work:
    """A fix with all that it needs here, as one piece of work; kept for the next job that needs the same for it."""
    book, needs = bench.book, bench.unmet(bench.book.fixes[fix])
    kept: dict[tuple[object, ...], Work] = book.kept["work"]
    key = (fix, *needs, *bench.counted([*needs, fix]))
    if key not in kept:
        checks = [book.checks[need] for need in needs if need in book.checks]
        together = tuple(dict.fromkeys([*(need for need in needs if need not in book.checks), fix]))
        fixes = [book.fixes[name] for name in together]
        teardowns = frozenset[str]().union(
            *map(bench.chain, [one.teardown for one in checks] + [one.teardown for one in fixes])
        )
        work = sum(check.minutes for check in checks) + sum(map(bench.work, fixes))
        kept[key] = (together, work, teardowns, bench.opening(teardowns, _NOTHING) + bench.closing(teardowns))
    return kept[key]


def in_one_teardown(
    bench: Bench, singles: Sequence[Treatment], shares: Sequence[float], test: float
) -> list[tuple[Treatment, int, int]]:
    """Two fixes that share a teardown, done in one with one test; with the places of the two.

    Where very many fixes need something open, only those of the likeliest causes by `shares` are paired.
    """
    pairs = []
    opened = _worth_pairing(singles, shares)
    kept: dict[tuple[object, ...], Work | None] = bench.book.kept["pairs"]
    for rank, (place, one) in enumerate(opened):
        for other, two in opened[rank + 1 :]:
            if one.teardowns.isdisjoint(two.teardowns):
                continue
            key = (one.fixes, one.work, two.fixes, two.work, test)
            if key not in kept:
                kept[key] = _work_of_both(bench, one, two, test)
            if both := kept[key]:
                pairs.append((_both(both, one, two, test), place, other))
    return pairs


def _worth_pairing(singles: Sequence[Treatment], shares: Sequence[float]) -> list[tuple[int, Treatment]]:
    """The treatments, with their places, that need something open: of very many those that cure most."""
    opened = [(place, one) for place, one in enumerate(singles) if one.teardowns]
    if len(opened) <= MOST_PAIRED or not shares:
        return opened
    cured = {place: sum(shares[cause] * part for cause, part in one.cures) for place, one in opened}
    kept = sorted(opened, key=lambda one: (-cured[one[0]], one[0]))[:MOST_PAIRED]
    return sorted(kept, key=lambda one: one[0])


def _work_of_both(bench: Bench, one: Treatment, two: Treatment, test: float) -> Work | None:
    """Two treatments as one piece of work; None where they have a fix in common, or little is saved."""
    shared = one.teardowns & two.teardowns
    worth = bench.opening(shared, _NOTHING) + bench.closing(shared) + test
    if not set(one.fixes).isdisjoint(two.fixes) or worth <= LITTLE * min(one.closed_cost, two.closed_cost):
        return None
    teardowns = one.teardowns | two.teardowns
    around = bench.opening(teardowns, _NOTHING) + bench.closing(teardowns)
    return (*one.fixes, *two.fixes), one.work + two.work, teardowns, around


def _both(both: Work, one: Treatment, two: Treatment, test: float) -> Treatment:
    """Two treatments without a fix in common as one action."""
    fixes, work, teardowns, around = both
    cures = dict(one.cures)
    for cause, cured in two.cures:
        cures[cause] = max(cures.get(cause, 0.0), cured)
    return Treatment(fixes, work, teardowns, tuple(sorted(cures.items())), around + work + test)


def orders(book: Book, treatments: Sequence[Treatment]) -> dict[int, tuple[int, ...]]:
    """For each treatment the single ones that come before it where both are in the plan."""
    single = {one.fixes[-1]: index for index, one in enumerate(treatments) if len(set(one.fixes)) == 1}
    named = {fix for one in treatments for fix in one.fixes}
    after = {fix: book.fixes[fix].after for fix in named if book.fixes[fix].after}
    found = {}
    for index, one in enumerate(treatments):
        before = [name for fix in one.fixes if fix in after for name in after[fix] if name not in one.fixes]
        places = tuple([single[name] for name in before if name in single])
        if places:
            found[index] = places
    return found


def hand_off_prices(bench: Bench, causes: Sequence[str | None], used: Sequence[float]) -> tuple[float, ...]:
    """For each cause (None: *something else*) what giving the bike away costs once so much of its ladder has failed."""
    book = bench.book
    prices: dict[tuple[object, ...], float] = book.kept["prices"]
    keys = []
    for name, gone in zip(causes, used, strict=True):
        cause = book.causes[name] if name else None
        key = (name, gone, *(bench.counted([rung.fix for rung in cause.ladder]) if cause else ()))
        if key not in prices:
            prices[key] = _hand_off_price(bench, cause, gone)
        keys.append(key)
    return tuple([prices[key] for key in keys])


def _hand_off_price(bench: Bench, cause: Cause | None, used: float) -> float:
    """The class's price, and the parts of the cheapest fix that still cures half: they are paid wherever it is done."""
    book = bench.book
    price = book.constants.hand_off_minutes
    if cause is None:
        return price
    if cause.hand_off:
        price = book.receivers[cause.hand_off.receiver].minutes
    prices = [
        sum(bench.parts_price(book.fixes[rung.fix])) / 2
        for rung in cause.ladder
        if rung.cured - used >= HALF * (1 - used)
    ]
    return price + min(prices, default=0.0) / book.constants.rate
