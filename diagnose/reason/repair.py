"""The cost of putting one complaint right: fixes by chance per cost, each with its repeat test, or a hand-off.

Cast: `Bench` says what this stand can do and what its work costs; `Treatment` is one action (one fix, a fix with what
it needs, or two fixes in one teardown with one test); `Course` holds the treatments of one complaint and gives the
expected cost from any belief (`expected_cost`) and the order itself (`order`).

A cause's *used* fraction is the highest cured fraction among the rungs that failed; a treatment with cured fraction N
then cures (N - used) / (1 - used) of the bikes that still have it (Heckerman, Breese and Rommelse 1995, for the order
by chance per cost). All costs are minutes; parts are priced at the labour rate.
"""

from __future__ import annotations

from bisect import insort
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import lru_cache
from math import exp, log
from operator import mul

from diagnose.book.conditions import may_hold
from diagnose.book.model import Book, Cause, Check, Condition, Finding, Fix
from diagnose.reason.situation import Situation

P90 = 1.2815515655446004
"""Standard normal quantile of 0.9: minutes are lognormal with their low and high as P10 and P90."""

TOO_SMALL = 1e-9
IN_THE_PLAN = 0.05
"""A fix that comes before another does so when its chance is at least this."""
MOST_PAIRED = 60
"""Fixes with a teardown, of one complaint, that are weighed in pairs."""
WORTH_PAIRING = 0.01
"""Chance that each of two fixes must have to be weighed as one action."""

Trial = tuple[int, float, float, float]
"""A treatment tried: its index, the mass that it cures, what it costs, and what giving that mass away would cost."""


@lru_cache(maxsize=4096)
def mean_minutes(low: float, high: float) -> float:
    """Mean of the lognormal with P10 `low` and P90 `high`: exp(mu + sigma^2 / 2)."""
    sigma = log(high / low) / (2 * P90)
    return exp((log(low) + log(high)) / 2 + sigma * sigma / 2)


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


class Bench:
    """What this stand can do (tools, skill) and what its work costs."""

    def __init__(self, book: Book, situation: Situation) -> None:
        self.book = book
        self.situation = situation
        self._chains: dict[str, frozenset[str]] = {}
        self._told = {answer.finding for answer in situation.fresh}
        self._values: dict[str, set[str]] = {}
        for answer in situation.fresh:
            if answer.value is not None:
                self._values.setdefault(answer.finding, set()).add(answer.value)
        self._off = {
            back
            for fact, values in situation.profile.items()
            for value, back in book.facts[fact].off.items()
            if value in values
        }
        self._answered = {answer.check for answer in situation.answers if answer.value is not None}

    def lacks(self, fix: Fix) -> str:
        """Why this fix cannot be done here, or an empty text."""
        situation = self.situation
        if fix.id in situation.not_possible:
            return "not possible here"
        if fix.skill == "mechanic" and situation.skill == "rider":
            return "work for a mechanic"
        missing = [self.book.tools[tool] for tool in self._tools(fix) if tool in situation.without]
        if missing:
            return f"no {missing[0]} here"
        if kept := self.kept_back(fix.only_if):
            return kept
        needed = [self.book.fixes[need] for need in fix.needs if need in self.book.fixes and need not in situation.done]
        return next((why for why in map(self.lacks, needed) if why), "")

    def only_if(self, check: Check) -> Condition:
        """What must be told, and so, before a check: its own condition, and that what it needs on the bike is back."""
        if not self._off:
            return check.only_if
        findings = self.book.findings
        needed = {*check.mounted, *findings[check.finding].mounted} & self._off
        back: Condition = {name: (next(iter(findings[name].values)),) for name in sorted(needed)}
        return {**check.only_if, **back}

    def kept_back(self, only_if: Condition) -> str:
        """Why something that is done only if findings were told so may not be done here, or an empty text.

        It is kept back where one was told otherwise, or nobody could tell and no check is left that could.
        """
        for name, values in only_if.items():
            finding = self.book.findings[name]
            told = self._values.get(name, set())
            unseen = not told and may_hold(finding.applies, self.situation.profile) and not self._may_look(finding)
            if unseen or not told <= set(values):
                wanted = " or ".join(finding.values[value] for value in values)
                return f"{finding.name} not known to be {wanted}"
        return ""

    def looked_at_first(self, only_if: Condition) -> list[str]:
        """For each finding that must have been told so, and was not told yet, the quickest check that could tell it."""
        waiting = [self.book.findings[name] for name in only_if if name not in self._told]
        ways = [self._may_look(finding) for finding in waiting]
        return [min(open_checks, key=lambda one: (one.minutes, one.id)).id for open_checks in ways if open_checks]

    def _may_look(self, finding: Finding) -> list[Check]:
        """Checks of a finding that this stand can make and that were not asked yet."""
        situation, profile = self.situation, self.situation.profile
        asked = {answer.check for answer in situation.answers if not answer.stale}
        fitting = [
            one for one in finding.checks if may_hold(finding.applies, profile) and may_hold(one.applies, profile)
        ]
        return [one for one in fitting if one.id not in asked and not situation.bars(one)]

    def _tools(self, fix: Fix) -> list[str]:
        """The tools of a fix, and of the checks that it needs and that nobody has answered yet."""
        checks = [self.book.checks[need] for need in fix.needs if need in self.book.checks]
        open_checks = [
            one for one in checks if one.finding not in self._told and may_hold(one.applies, self.situation.profile)
        ]
        return [*fix.tools, *(tool for one in open_checks for tool in one.tools)]

    def chain(self, teardown: str | None) -> frozenset[str]:
        """A teardown with all that must be open before it."""
        if teardown is None:
            return frozenset()
        if teardown not in self._chains:
            one = self.book.teardowns[teardown]
            self._chains[teardown] = self.chain(one.inside) | {teardown}
        return self._chains[teardown]

    def opening(self, teardowns: frozenset[str], already_open: frozenset[str]) -> float:
        """Minutes to open what is still closed."""
        total = 0.0
        for one in teardowns - already_open if already_open else teardowns:
            total += self.book.teardowns[one].open
        return total

    def closing(self, teardowns: Iterable[str]) -> float:
        """Minutes to close all these."""
        total = 0.0
        for one in teardowns:
            total += self.book.teardowns[one].close
        return total

    def parts_price(self, fix: Fix) -> tuple[float, float]:
        """Low and high price of a fix's parts, in the book's currency."""
        parts = [(self.book.parts[part], count) for part, count in fix.parts.items()]
        return sum(part.low * count for part, count in parts), sum(part.high * count for part, count in parts)

    def work(self, fix: Fix) -> float:
        """Mean minutes of a fix and of its parts at the labour rate, without teardown and test."""
        low, high = self.parts_price(fix)
        return mean_minutes(fix.low, fix.high) + (low + high) / 2 / self.book.constants.rate

    def unmet(self, fix: Fix) -> list[str]:
        """Checks and fixes that this fix needs and that are not done yet, in order, each with what it needs itself."""
        wanted = self.looked_at_first(fix.only_if)
        for need in fix.needs:
            before = self._unmet_of(need) if need in self.book.fixes else self._before(need)
            for one in [*before, need]:
                if one not in wanted and not self._met(one):
                    wanted.append(one)
        return wanted

    def unmet_of(self, fixes: Iterable[str]) -> list[str]:
        """All that these fixes need and that is not done yet, in order."""
        return list(dict.fromkeys(need for fix in fixes for need in self.unmet(self.book.fixes[fix])))

    def _unmet_of(self, need: str) -> list[str]:
        return self.unmet(self.book.fixes[need])

    def _before(self, need: str) -> list[str]:
        """What is told first before a check that is still to be made."""
        return [] if self._met(need) else self.looked_at_first(self.only_if(self.book.checks[need]))

    def _met(self, need: str) -> bool:
        if need in self.book.fixes:
            return need in self.situation.done
        check = self.book.checks[need]
        return (
            need in self._answered
            or check.finding in self._told
            or any(need == answer.check for answer in self.situation.answers)
            or not may_hold(check.applies, self.situation.profile)
        )


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
    several: tuple[int, ...] = ()
    """The other treatments, but for pairs."""
    cures: tuple[tuple[tuple[int, float], ...], ...] = ()
    """For each treatment what it cures."""
    known: Mapping[str, Mapping[int, float]] = field(default_factory=dict)
    """Fix to the causes that it cures, by place, each with its cured fraction."""
    singles: dict[str, int] = field(default_factory=dict)
    """Fix to the treatment that is this fix with what it needs."""
    dearest: float = 0.0
    """The highest price of giving it away."""
    _open_costs: dict[frozenset[str], tuple[float, ...]] = field(default_factory=dict)
    _known_rates: dict[tuple[tuple[float, ...], frozenset[str]], list[tuple[int, int, float]]] = field(
        default_factory=dict
    )

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

    def alone(self, cause: int) -> Course:
        """What is left of the course where only one cause is possible."""
        few = replace(
            self,
            simple=tuple(one for one in self.simple if one[1] == cause),
            several=tuple(index for index in self.several if any(one == cause for one, _ in self.cures[index])),
            partners={},
            _known_rates={},
        )
        few._open_costs = self._open_costs  # noqa: SLF001 - the same treatments
        return few

    def order(
        self, shares: Sequence[float], used: Sequence[float], already_open: frozenset[str] = frozenset()
    ) -> list[Trial]:
        """Treatments in the order they would be tried, by chance per cost, until none is worth it.

        Args:
            shares: belief of each cause divided by (1 - used).
            used: fraction of each cause's ladder that has failed.
            already_open: teardowns that are open now; only the first treatment profits.
        """
        now = list(used)
        if not already_open:
            return self._walk(self._queue(shares, now, _NOTHING), shares, now, self.costs(_NOTHING))
        queue = self._queue(shares, now, already_open)
        taken = self._walk(queue, shares, now, self.costs(already_open), first_only=True)
        return taken + self._walk(self._queue(shares, now, _NOTHING), shares, now, self.costs(_NOTHING))

    def _rates(self, used: Sequence[float], already_open: frozenset[str]) -> list[tuple[int, int, float]]:
        """For each treatment of one cause that can still cure some: (index, cause, fraction cured per minute)."""
        key = (tuple(used), already_open)
        rates = self._known_rates.get(key)
        if rates is None:
            costs = self.costs(already_open)
            rates = self._known_rates[key] = [
                (index, cause, (cured - used[cause]) / costs[index])
                for index, cause, cured in self.simple
                if cured > used[cause]
            ]
        return rates

    def _queue(
        self,
        shares: Sequence[float],
        used: Sequence[float],
        already_open: frozenset[str],
    ) -> list[tuple[float, int]]:
        """Treatments by chance per cost, worst first. One whose chance per cost never beats the hand-off stays out."""
        costs, partners = self.costs(already_open), self.partners
        mass = sum(_left(shares, used))
        floor = sum(map(mul, shares, self.residual))
        least = max(floor, mass * 1e-6) / self.dearest
        queue = [
            (ratio, index)
            for index, cause, rate in self._rates(used, already_open)
            if (ratio := shares[cause] * rate) > least
        ]
        for index in self.several:
            ratio = self.gain(index, shares, used) / costs[index]
            if ratio > least:
                queue.append((ratio, index))
        if partners:
            enough = WORTH_PAIRING * mass
            able = {index for ratio, index in queue if ratio * costs[index] >= enough}
            for one in able:
                if one in partners:
                    for index, two in partners[one]:
                        if two in able:
                            queue.append((self.gain(index, shares, used) / costs[index], index))
        queue.sort()
        return queue

    def _walk(  # noqa: C901, PLR0912 - the innermost loop of look-ahead, kept in one piece
        self,
        queue: list[tuple[float, int]],
        shares: Sequence[float],
        used: list[float],
        costs: Sequence[float],
        first_only: bool = False,
    ) -> list[Trial]:
        """Try the best again and again; what comes before it, where both are in the plan, is tried first.

        Gains only fall, so an entry that is still the best when looked at anew is the best.
        """
        taken: list[Trial] = []
        touched: set[int] = set()
        hand_off, after, all_cures = self.hand_off, self.after, self.cures
        while queue:
            ratio, index = queue.pop()
            if index in after and self._put_first(index, queue, shares, used):
                continue
            cures = all_cures[index]
            if len(cures) == 1:
                ((cause, cured),) = cures
                gain = shares[cause] * (cured - used[cause])
                spared = gain * hand_off[cause]
                stale = cause in touched
            else:
                gain = spared = 0.0
                stale = False
                for cause, cured in cures:
                    if cause in touched:
                        stale = True
                    if cured > used[cause]:
                        part = shares[cause] * (cured - used[cause])
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
            if first_only and ratio != FORCED:
                queue.clear()
            for cause, cured in cures:
                touched.add(cause)
                if cured > used[cause]:  # noqa: PLR1730 - a call to max would cost more than all the rest
                    used[cause] = cured
        return taken

    def _put_first(
        self, index: int, queue: list[tuple[float, int]], shares: Sequence[float], used: Sequence[float]
    ) -> bool:
        """Put a treatment back behind those that come before it; whether there are any."""
        least = IN_THE_PLAN * sum(shares)
        ahead = [before for before in self.after[index] if self.gain(before, shares, used) >= least]
        if ahead:
            queue.append((BEHIND, index))
            queue.extend((FORCED, before) for before in reversed(ahead))
        return bool(ahead)

    def expected_cost(
        self, shares: Sequence[float], used: Sequence[float], already_open: frozenset[str] = frozenset()
    ) -> float:
        """Expected cost until the complaint is gone or handed off, times the total mass of the belief."""
        left = _left(shares, used)
        mass = sum(left)
        handing: float = sum(map(mul, left, self.hand_off))
        if mass <= TOO_SMALL:
            return 0.0
        steps: list[tuple[float, float]] = []
        for _, gain, cost, spared in self.order(shares, used, already_open):
            steps.append((handing, mass * cost))
            mass -= gain
            handing -= spared
        total = handing
        for given_away, tried in reversed(steps):
            total = min(given_away, tried + total)
        return total


def _left(shares: Sequence[float], used: Sequence[float]) -> Sequence[float]:
    """Shares after the used fraction is taken off."""
    return [share * (1 - gone) for share, gone in zip(shares, used, strict=True)] if any(used) else shares


_NOTHING: frozenset[str] = frozenset()
FORCED = float("inf")
"""Stands for the chance per cost of what must come before another treatment."""
BEHIND = 1e300
"""Stands for that of the treatment that waits for it."""


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
    book = bench.book
    known: dict[str, dict[int, float]] = {}
    for index, name in enumerate(causes):
        for rung in book.causes[name].ladder if name else ():
            known.setdefault(rung.fix, {})[index] = rung.cured
    possible = [fix for fix in sorted(known) if not bench.lacks(book.fixes[fix])]
    test = book.complaints[complaint].repeat_test.minutes
    singles = [_treatment(bench, [fix], known, test) for fix in possible]
    pairs = _in_one_teardown(bench, _worth_pairing(singles, shares), test)
    hand_off = tuple(
        _hand_off_price(bench, book.causes[name] if name else None, gone)
        for name, gone in zip(causes, used, strict=True)
    )
    made = (*singles, *(pair for pair, _, _ in pairs))
    partners: dict[int, list[tuple[int, int]]] = {}
    for place, (_, one, two) in enumerate(pairs, len(singles)):
        partners.setdefault(one, []).append((place, two))
    course = Course(made, hand_off, test, bench, partners, _orders(book, made), _residual(made, len(causes)))
    course.simple = tuple((index, *one.cures[0]) for index, one in enumerate(singles) if len(one.cures) == 1)
    course.cures = tuple(one.cures for one in made)
    course.known = known
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


def _treatment(bench: Bench, fixes: Sequence[str], known: Mapping[str, Mapping[int, float]], test: float) -> Treatment:
    """Fixes with all that they need, as one action."""
    book = bench.book
    together: list[str] = []
    work = 0.0
    teardowns: frozenset[str] = frozenset()
    for name in fixes:
        for need in bench.unmet(book.fixes[name]):
            if need in book.checks:
                work += book.checks[need].minutes
                teardowns |= bench.chain(book.checks[need].teardown)
            elif need not in together:
                together.append(need)
    together += [name for name in fixes if name not in together]
    cures: dict[int, float] = {}
    for name in together:
        fix = book.fixes[name]
        work += bench.work(fix)
        teardowns |= bench.chain(fix.teardown)
        for cause, cured in known.get(name, {}).items():
            cures[cause] = max(cures.get(cause, 0.0), cured)
    closed = bench.opening(teardowns, frozenset()) + work + bench.closing(teardowns) + test
    return Treatment(tuple(together), work, teardowns, tuple(sorted(cures.items())), max(closed, 0.1))


def _worth_pairing(singles: Sequence[Treatment], shares: Sequence[float]) -> list[tuple[int, Treatment]]:
    """The treatments, with their places, that need something open: of very many those that cure most."""
    opened = [(place, one) for place, one in enumerate(singles) if one.teardowns]
    if len(opened) <= MOST_PAIRED or not shares:
        return opened
    cured = {place: sum(shares[cause] * part for cause, part in one.cures) for place, one in opened}
    kept = sorted(opened, key=lambda one: (-cured[one[0]], one[0]))[:MOST_PAIRED]
    return sorted(kept, key=lambda one: one[0])


def _in_one_teardown(
    bench: Bench, opened: Sequence[tuple[int, Treatment]], test: float
) -> list[tuple[Treatment, int, int]]:
    """Two fixes that share a teardown, done in one with one test; with the places of the two."""
    pairs = []
    for rank, (place, one) in enumerate(opened):
        for other, two in opened[rank + 1 :]:
            shared = one.teardowns & two.teardowns
            if not shared or not set(one.fixes).isdisjoint(two.fixes):
                continue
            worth = bench.opening(shared, _NOTHING) + bench.closing(shared) + test
            if worth > 0.2 * min(one.closed_cost, two.closed_cost):
                pairs.append((_both(bench, one, two, test), place, other))
    return pairs


def _both(bench: Bench, one: Treatment, two: Treatment, test: float) -> Treatment:
    """Two treatments without a fix in common as one action."""
    teardowns = one.teardowns | two.teardowns
    work = one.work + two.work
    cures = dict(one.cures)
    for cause, cured in two.cures:
        cures[cause] = max(cures.get(cause, 0.0), cured)
    closed = bench.opening(teardowns, _NOTHING) + work + bench.closing(teardowns) + test
    return Treatment((*one.fixes, *two.fixes), work, teardowns, tuple(sorted(cures.items())), closed)


def _orders(book: Book, treatments: Sequence[Treatment]) -> dict[int, tuple[int, ...]]:
    """For each treatment the single ones that come before it where both are in the plan."""
    single = {one.fixes[-1]: index for index, one in enumerate(treatments) if len(set(one.fixes)) == 1}
    orders = {}
    for index, one in enumerate(treatments):
        before = [name for fix in one.fixes for name in book.fixes[fix].after if name not in one.fixes]
        found = tuple(single[name] for name in before if name in single)
        if found:
            orders[index] = found
    return orders


HALF = 0.5


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
