"""The cost of putting one complaint right: fixes by chance per cost, each with its repeat test, or a hand-off.

Cast: `Course`, made by `build_course`, holds the treatments of one complaint (`treatment.py`) and gives the expected
cost from any belief (`expected_cost`) and the order itself (`order`); `Rest` is what of a course can still cure, once
some of it has failed.

A cause's *used* fraction is the highest cured fraction among the rungs that failed; a treatment with cured fraction N
then cures (N - used) / (1 - used) of the bikes that still have it (Heckerman, Breese and Rommelse 1995, for the order
by chance per cost). All costs are minutes; parts are priced at the labour rate.
"""

from __future__ import annotations

from bisect import insort
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from operator import mul, truediv

from diagnose.reason.treatment import Treatment, hand_off_prices, in_one_teardown, orders, single_treatments
from diagnose.reason.workbench import Bench

TOO_SMALL = 1e-9
IN_THE_PLAN = 0.1
"""A fix that comes before another does so when its chance is at least this."""
WORTH_PAIRING = 0.01
"""Chance that each of two fixes must have to be weighed as one action."""

Trial = tuple[int, float, float, float]
"""A treatment tried: its index, the mass that it cures, what it costs, and what giving that mass away would cost."""


@dataclass(slots=True)
class Course:
    """The treatments of one complaint on one stand. `hand_off` is the price of giving it away, for each cause.

    The last treatments are two fixes in one teardown: `partners` holds for the first of each two (its index and the
    second's).
    """

    treatments: tuple[Treatment, ...]
    hand_off: tuple[float, ...]
    test: float
    bench: Bench
    partners: Mapping[int, Sequence[tuple[int, int]]] = field(default_factory=dict)
    after: dict[int, tuple[int, ...]] = field(default_factory=dict)
    residual: tuple[float, ...] = ()
    """For each cause the fraction that no treatment cures."""
    simple: tuple[tuple[int, int, float], ...] = ()
    """Treatments, but for pairs, that cure one cause: (index, cause, cured)."""
    single: dict[int, tuple[int, float]] = field(default_factory=dict)
    """The same by index."""
    ways: Sequence[Sequence[tuple[float, int]]] = ()
    """For each cause the treatments, but for pairs, that cure it: (cured, index)."""
    paired: frozenset[int] = frozenset()
    """Treatments that stand in a pair, first or second."""
    several: tuple[int, ...] = ()
    """The other treatments, but for pairs."""
    cures: tuple[tuple[tuple[int, float], ...], ...] = ()
    """For each treatment what it cures."""
    known: Mapping[str, Mapping[int, float]] = field(default_factory=dict)
    """Fix to the causes that it cures, by place, each with its cured fraction."""
    left_out: frozenset[str] = frozenset()
    """Fixes that were done before in vain and are not done again, as no cause of theirs is plain."""
    singles: dict[str, int] = field(default_factory=dict)
    """Fix to the treatment that is this fix with what it needs."""
    dearest: float = 0.0
    """The highest price of giving it away."""
    _open_costs: dict[frozenset[str], tuple[float, ...]] = field(default_factory=dict)
    _rests: dict[tuple[tuple[float, ...], frozenset[str]], Rest] = field(default_factory=dict)

    def costs(self, already_open: frozenset[str]) -> tuple[float, ...]:
        """What each treatment costs when these teardowns are open: open, work, close for the test, test."""
        costs = self._open_costs.get(already_open)
        if costs is None and not already_open:
            costs = self._open_costs[already_open] = tuple([one.closed_cost for one in self.treatments])
        if costs is None:
            bench = self.bench
            costs = tuple(
                bench.opening(one.teardowns, already_open)
                + one.work
                + bench.closing(one.teardowns | already_open)
                + self.test
                for one in self.treatments
            )
            self._open_costs[already_open] = costs
        return costs

    def gain(self, treatment: int, shares: Sequence[float], used: Sequence[float]) -> float:
        """The mass that a treatment would cure; `shares` are before the used fraction is taken off."""
        gain = 0.0
        for cause, cured in self.treatments[treatment].cures:
            if cured > used[cause]:
                gain += shares[cause] * (cured - used[cause])
        return gain

    def alone(self, cause: int, used: float, already_open: frozenset[str] = frozenset()) -> float:
        """Expected cost where this is known to be the cause, and this fraction of its ladder has failed."""
        ways = [(cured, index) for cured, index in self.ways[cause] if cured > used]
        kept, costs = 1 - used, self.costs(already_open)
        left, spent = 1.0, 0.0
        best = price = self.hand_off[cause]
        while ways:
            _, cured, index = max([((cured - used) / costs[index], cured, index) for cured, index in ways])
            spent += left * costs[index]
            left = (1 - cured) / kept
            best = min(best, spent + left * price)
            used, costs = cured, self.costs(_NOTHING)
            ways = [one for one in ways if one[0] > cured]
        return best

    def rest(self, used: Sequence[float], already_open: frozenset[str] = frozenset()) -> Rest:
        """What can still cure some once these fractions have failed."""
        key = (tuple(used), already_open)
        found = self._rests.get(key)
        if found is None:
            found = self._rests[key] = Rest(self, *key)
        return found

    def order(
        self, shares: Sequence[float], used: Sequence[float], already_open: frozenset[str] = frozenset()
    ) -> list[Trial]:
        """Treatments in the order they would be tried, by chance per cost, until none is worth it.

        Args:
            shares: belief of each cause divided by (1 - used).
            used: fraction of each cause's ladder that has failed.
            already_open: teardowns that are open now; only the first treatment profits.
        """
        rest = self.rest(used, already_open)
        if not already_open:
            return rest.walk(shares, list(used))
        now = list(used)
        return rest.walk(shares, now, first_only=True) + self.rest(now).walk(shares, now)

    def expected_cost(
        self,
        shares: Sequence[float],
        used: Sequence[float],
        already_open: frozenset[str] = frozenset(),
    ) -> float:
        """Expected cost until the complaint is gone or handed off, times the total mass of the belief.

        Args:
            shares: belief of each cause divided by (1 - used).
            used: fraction of each cause's ladder that has failed.
            already_open: teardowns that are open now; only the first treatment profits.
        """
        rest = self.rest(used, already_open)
        return self._cost(rest, shares, rest.left(shares), already_open)

    def cost_of(self, left: Sequence[float], used: Sequence[float], already_open: frozenset[str]) -> float:
        """The same, by what is left of the belief of each cause."""
        rest = self.rest(used, already_open)
        return self._cost(rest, rest.before(left), left, already_open)

    def _cost(self, rest: Rest, shares: Sequence[float], left: Sequence[float], already_open: frozenset[str]) -> float:
        mass = sum(left)
        if mass <= TOO_SMALL:
            return 0.0
        handing: float = sum(map(mul, left, self.hand_off))
        now = list(rest.used)
        trials = rest.walk(shares, now, first_only=bool(already_open), mass=mass)
        if already_open:
            trials += self.rest(now).walk(shares, now)
        steps: list[tuple[float, float]] = []
        for _, gain, cost, spared in trials:
            steps.append((handing, mass * cost))
            mass -= gain
            handing -= spared
        total = handing
        for given_away, tried in reversed(steps):
            total += tried
            if given_away < total:  # noqa: PLR1730 - as in the walk
                total = given_away
        return total


class Rest:
    """The treatments of a course that can still cure some, from one state of what has failed and what is open."""

    __slots__ = ("_costs", "_course", "_kept", "_mixed", "_rates", "used")

    def __init__(self, course: Course, used: tuple[float, ...], already_open: frozenset[str]) -> None:
        self._course = course
        self.used = used
        self._costs = costs = course.costs(already_open)
        self._kept = [1 - gone for gone in used] if any(used) else None
        self._rates = [
            (index, cause, (cured - used[cause]) / costs[index])
            for index, cause, cured in course.simple
            if cured > used[cause]
        ]
        self._mixed = [
            (
                index,
                [
                    (cause, (cured - used[cause]) / costs[index])
                    for cause, cured in course.cures[index]
                    if cured > used[cause]
                ],
            )
            for index in course.several
        ]

    def left(self, shares: Sequence[float]) -> Sequence[float]:
        """Shares after the used fraction is taken off."""
        return shares if self._kept is None else list(map(mul, shares, self._kept))

    def before(self, left: Sequence[float]) -> Sequence[float]:
        """Shares before the used fraction was taken off."""
        return left if self._kept is None else list(map(truediv, left, self._kept))

    def _queue(self, shares: Sequence[float], mass: float) -> list[tuple[float, int]]:
        """Treatments by chance per cost, worst first. One whose chance per cost never beats the hand-off stays out."""
        floor = sum(map(mul, shares, self._course.residual))
        least = max(floor, mass * 1e-6) / self._course.dearest
        queue = [(ratio, index) for index, cause, rate in self._rates if (ratio := shares[cause] * rate) > least]
        costs, course = self._costs, self._course
        for index, rates in self._mixed:
            ratio = 0.0
            for cause, rate in rates:
                ratio += shares[cause] * rate
            if ratio > least:
                queue.append((ratio, index))
        if course.paired:
            enough = WORTH_PAIRING * mass
            able = {index: ratio for ratio, index in queue if index in course.paired and ratio * costs[index] >= enough}
            if len(able) > 1:
                queue.extend(self._pairs(able, shares))
        queue.sort()
        return queue

    def _pairs(self, able: Mapping[int, float], shares: Sequence[float]) -> Iterator[tuple[float, int]]:
        """Two of these in one teardown where that gives more chance per cost than either alone.

        Any other pair would never be tried: once the better of the two is done, the other alone costs less.
        """
        course, costs, used = self._course, self._costs, self.used
        for one, ratio in able.items():
            for index, two in course.partners.get(one, ()):
                if two in able:
                    both = course.gain(index, shares, used) / costs[index]
                    if both > ratio and both > able[two]:
                        yield both, index

    def walk(  # noqa: C901, PLR0912, PLR0915 - the innermost loop of look-ahead, kept in one piece
        self, shares: Sequence[float], now: list[float], *, first_only: bool = False, mass: float | None = None
    ) -> list[Trial]:
        """Try the best again and again; what comes before it, where both are in the plan, is tried first.

        Gains only fall, so an entry that is still the best when looked at anew is the best.

        Args:
            shares: belief of each cause divided by (1 - used).
            now: the fractions that have failed; raised as treatments are tried.
            first_only: stop after the first treatment and what comes before it.
            mass: what is left of the shares, where the caller knows it.
        """
        queue = self._queue(shares, sum(self.left(shares)) if mass is None else mass)
        taken: list[Trial] = []
        costs, used, single = self._costs, self.used, self._course.single
        hand_off, after, all_cures = self._course.hand_off, self._course.after, self._course.cures
        while queue:
            ratio, index = queue.pop()
            if index in after and self._put_first(index, queue, shares, now):
                continue
            if index in single:
                cause, cured = single[index]
                before = now[cause]
                gain = shares[cause] * (cured - before)
                if gain <= TOO_SMALL:
                    continue
                if before != used[cause] and queue and ratio != FORCED:
                    fresh = gain / costs[index]
                    if fresh < ratio and fresh < queue[-1][0]:
                        insort(queue, (fresh, index))
                        continue
                taken.append((index, gain, costs[index], gain * hand_off[cause]))
                now[cause] = cured
            else:
                gain = spared = 0.0
                stale = False
                cures = all_cures[index]
                for cause, cured in cures:
                    before = now[cause]
                    if before != used[cause]:
                        stale = True
                    if cured > before:
                        part = shares[cause] * (cured - before)
                        gain += part
                        spared += part * hand_off[cause]
                if gain <= TOO_SMALL:
                    continue
                if stale and queue and ratio != FORCED:
                    fresh = gain / costs[index]
                    if fresh < ratio and fresh < queue[-1][0]:
                        insort(queue, (fresh, index))
                        continue
                taken.append((index, gain, costs[index], spared))
                for cause, cured in cures:
                    if cured > now[cause]:  # noqa: PLR1730 - a call to max would cost more than all the rest
                        now[cause] = cured
            if first_only and ratio != FORCED:
                break
        return taken

    def _put_first(
        self, index: int, queue: list[tuple[float, int]], shares: Sequence[float], now: Sequence[float]
    ) -> bool:
        """Put a treatment back behind those that come before it; whether there are any."""
        course = self._course
        gains = [(course.gain(before, shares, now), before) for before in course.after[index]]
        if not any(gain for gain, _ in gains):
            return False
        least = IN_THE_PLAN * sum([share * (1 - gone) for share, gone in zip(shares, now, strict=True)])
        ahead = [before for gain, before in gains if gain >= least]
        if ahead:
            queue.append((BEHIND, index))
            queue.extend((FORCED, before) for before in reversed(ahead))
        return bool(ahead)


_NOTHING: frozenset[str] = frozenset()
FORCED = float("inf")
"""Stands for the chance per cost of what must come before another treatment."""
BEHIND = 1e300
"""Stands for that of the treatment that waits for it."""


PLAIN = 0.5
"""From this share on a cause is put right also by a fix that was done before in vain: it was done badly then."""


def build_course(
    bench: Bench,
    complaint: str,
    causes: Sequence[str | None],
    used: Sequence[float],
    shares: Sequence[float] = (),
) -> Course:
    """The treatments that this stand can give for a complaint with these causes (None: *something else*).

    Where very many fixes share teardowns, only those of the likeliest causes by `shares` are paired.
    """
    known: dict[str, dict[int, float]] = {}
    left_out = set()
    for index, name in enumerate(causes):
        plain = bool(shares) and shares[index] >= PLAIN
        for rung in bench.book.causes[name].ladder if name else ():
            if plain or rung.fix not in bench.in_vain:
                known.setdefault(rung.fix, {})[index] = rung.cured
            else:
                left_out.add(rung.fix)
    test = bench.book.complaints[complaint].repeat_test.minutes
    singles = single_treatments(bench, known, test)
    pairs = in_one_teardown(bench, singles, shares, test)
    hand_off = hand_off_prices(bench, causes, used)
    made = (*singles, *(pair for pair, _, _ in pairs))
    partners: dict[int, list[tuple[int, int]]] = {}
    for place, (_, first, second) in enumerate(pairs, len(singles)):
        partners.setdefault(first, []).append((place, second))
    course = Course(made, hand_off, test, bench, partners, orders(bench.book, made), _residual(made, len(causes)))
    course.simple = tuple((index, *one.cures[0]) for index, one in enumerate(singles) if len(one.cures) == 1)
    course.single = {index: (cause, cured) for index, cause, cured in course.simple}
    ways: list[list[tuple[float, int]]] = [[] for _ in causes]
    for place, one in enumerate(singles):
        for cause, cured in one.cures:
            ways[cause].append((cured, place))
    course.ways = ways
    course.paired = frozenset(index for one, others in partners.items() for index in (one, *(two for _, two in others)))
    course.cures = tuple(one.cures for one in made)
    course.known = known
    course.left_out = frozenset(left_out - known.keys())
    course.dearest = max(hand_off)
    course.singles = {one.first: index for index, one in enumerate(singles)}
    course.several = tuple(index for index, one in enumerate(singles) if len(one.cures) != 1)
    return course


def _residual(treatments: Sequence[Treatment], causes: int) -> tuple[float, ...]:
    best = [0.0] * causes
    for one in treatments:
        for cause, cured in one.cures:
            best[cause] = max(best[cause], cured)
    return tuple(1 - cured for cured in best)
