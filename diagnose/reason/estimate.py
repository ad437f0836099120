"""What a job may take: minutes and parts as P10, median and P90, and the chance that it ends in a hand-off.

Cast: `estimate` draws a few hundred seeded runs along the plan: a cause out of the belief, lognormal minutes for each
fix (its low and high are P10 and P90), parts between their low and high price, the chance of each fix to cure, and
the checks that follow a repeat test that failed. `estimate_asking` is for a job on which a question comes next: what is
drawn is found out by asking, and then its own fixes are done; `estimate_beside` does so for the complaints that wait
while another is put right. `foresee` takes the one that fits.
Hand-off is a chance, not minutes.
"""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache, partial
from math import exp, log
from typing import TYPE_CHECKING

from diagnose.reason.belief import cured_by
from diagnose.reason.outlook import Outlook
from diagnose.reason.plan import PlanItem, plan_if_known
from diagnose.reason.workbench import P90

if TYPE_CHECKING:
    from diagnose.reason.diagnosis import Diagnosis

LOOKED_AT_AGAIN = 5.0
"""Mean minutes of checks after a repeat test that failed, before the next fix or the hand-off (exponential).

What the policy took on bikes drawn from the shipped book (`diagnose score`): 6.4 minutes on bikes that were cured in
2.3 tries, 8.2 on those given away after 2.4.
"""
ASKED_FIRST = 6.0
"""Mean minutes of checks before the first fix or the hand-off, where the job begins with asking (exponential).

On 357 bikes drawn from the shipped book it was 6.6; 79 % of them took minutes inside P10 to P90 of what was foreseen at
the first question, and so 90 % of those mended with their parts.
"""
MISTAKEN = 0.2
"""Chance that another cause than the true one is on top when the first fix is chosen, and its first fix is done."""
RUNS = 400
SEED = 1

PlanOf = Callable[[tuple[int, ...]], Sequence[PlanItem]]
"""The plan of a job whose causes are these."""


@dataclass(frozen=True, slots=True)
class Spread:
    """Tenth, fiftieth and ninetieth percentile."""

    p10: float
    p50: float
    p90: float


@dataclass(frozen=True, slots=True)
class Estimate:
    """What the plan may take, in minutes and in the book's currency, over `runs` seeded runs."""

    minutes: Spread
    parts: Spread
    hand_off_chance: float
    runs: int
    seed: int
    done: Mapping[str, float]
    """Fix to the chance that it is done, the surest first."""


def foresee(found: Diagnosis) -> Estimate | None:
    """What the job may take as it stands; None where nothing is to be foreseen."""
    if found.outlook is None:
        return None
    if found.next.kind == "check":
        return estimate_asking(found.outlook)
    planned = {complaint for item in found.plan for _, complaint in item.treats}
    if found.next.kind == "fix" and planned and found.outlook.courses.keys() - planned:
        return estimate_beside(found.outlook, found.plan)
    return estimate(found.outlook, found.plan)


def estimate(outlook: Outlook, plan: Sequence[PlanItem], runs: int = RUNS, seed: int = SEED) -> Estimate:
    """Simulate the plan from the present belief."""
    return _simulate(outlook, lambda _: plan, 0.0, runs, seed)


def estimate_asking(outlook: Outlook, runs: int = RUNS, seed: int = SEED) -> Estimate:
    """Simulate asking first, and then the plan of whoever knows the cause; of some bikes, another is taken for it."""
    draw = random.Random(f"mistaken {seed}")  # noqa: S311 - a simulation that must repeat
    states, weights = outlook.belief.net.states, outlook.belief.weights
    known = cache(partial(plan_if_known, outlook))

    def plan_of(state: tuple[int, ...]) -> Sequence[PlanItem]:
        plan = known(state)
        if draw.random() >= MISTAKEN:
            return plan
        other = known(draw.choices(states, weights=weights)[0])[:1]
        return (*other, *(item for item in plan if item.fix not in {one.fix for one in other}))

    return _simulate(outlook, plan_of, ASKED_FIRST, runs, seed)


def estimate_beside(outlook: Outlook, plan: Sequence[PlanItem], runs: int = RUNS, seed: int = SEED) -> Estimate:
    """Simulate the plan, and for a complaint that it leaves out asking first, as of a job that begins with that."""
    planned = {complaint for item in plan for _, complaint in item.treats}
    fixes = {item.fix for item in plan}
    known = cache(partial(plan_if_known, outlook))

    def plan_of(state: tuple[int, ...]) -> Sequence[PlanItem]:
        others = (item for item in known(state) if item.fix not in fixes)
        return (*plan, *(item for item in others if not planned.issuperset(complaint for _, complaint in item.treats)))

    return _simulate(outlook, plan_of, ASKED_FIRST, runs, seed)


def _simulate(outlook: Outlook, plan_of: PlanOf, asking: float, runs: int, seed: int) -> Estimate:
    """Draw causes out of the belief, and go through the plan of each after so many minutes of asking."""
    draw = random.Random(seed)  # noqa: S311 - a simulation that must repeat
    states, weights = outlook.belief.net.states, outlook.belief.weights
    minutes, parts, handed, counts = [], [], 0, Counter[str]()
    for state in draw.choices(states, weights=weights, k=runs):
        spent, paid, gone, done = _one_run(outlook, plan_of(state), state, draw)
        counts.update(done)
        spent += draw.expovariate(1 / asking) if asking else 0.0
        minutes.append(spent)
        parts.append(paid)
        handed += not gone
    ranked = sorted(counts.items(), key=lambda one: (-one[1], one[0]))
    done_in = {fix: count / runs for fix, count in ranked}
    return Estimate(_spread(minutes), _spread(parts), handed / runs, runs, seed, done_in)


def _one_run(
    outlook: Outlook, plan: Sequence[PlanItem], state: tuple[int, ...], draw: random.Random
) -> tuple[float, float, bool, set[str]]:
    net, book = outlook.belief.net, outlook.book
    waiting = {}
    for complaint in outlook.situation.standing:
        place = net.complaints.index(complaint)
        waiting[complaint] = (net.causes[place][state[place]], outlook.used[complaint][state[place]])
    spent = paid = 0.0
    done: set[str] = set()
    for item in plan:
        if not waiting:
            break
        wanted = {complaint for _, complaint in item.treats}
        if item.treats and not wanted & set(waiting):
            continue
        saved = _already_open(outlook, item, done)
        spent += _lognormal(draw, item.minutes) - saved
        low, high = outlook.bench.parts_price(book.fixes[item.fix])
        paid += draw.uniform(low, high)
        done.add(item.fix)
        _try(outlook, item.fix, waiting, draw)
        if waiting:
            spent += draw.expovariate(1 / LOOKED_AT_AGAIN)
    return spent, paid, not waiting, done


def _already_open(outlook: Outlook, item: PlanItem, done: set[str]) -> float:
    """Minutes saved where a fix of the same teardown was just done with it."""
    if not set(item.together) & done:
        return 0.0
    bench, fixes = outlook.bench, outlook.book.fixes
    shared = bench.chain(fixes[item.fix].teardown)
    both = [bench.chain(fixes[one].teardown) & shared for one in item.together if one in done]
    best = max(both, key=len, default=frozenset())
    tests = [course.test for course in outlook.courses.values() if any(item.fix in t.fixes for t in course.treatments)]
    return bench.opening(best, frozenset()) + bench.closing(best) + max(tests, default=0.0)


def _try(outlook: Outlook, fix: str, waiting: dict[str, tuple[str | None, float]], draw: random.Random) -> None:
    """Try a fix. A cause that explains several complaints is cured for all of them or for none."""
    cures: dict[tuple[str | None, float], bool] = {}
    for complaint, (cause, used) in list(waiting.items()):
        cured = cured_by(outlook.book, cause, fix) if cause else 0.0
        if cured > used:
            if (cause, used) not in cures:
                cures[cause, used] = draw.random() < (cured - used) / (1 - used)
            if cures[cause, used]:
                del waiting[complaint]
            else:
                waiting[complaint] = (cause, cured)


def _lognormal(draw: random.Random, span: tuple[float, float]) -> float:
    low, high = span
    return exp(draw.gauss((log(low) + log(high)) / 2, log(high / low) / (2 * P90)))


def _spread(values: Sequence[float]) -> Spread:
    ranked = sorted(values)
    return Spread(*(ranked[min(len(ranked) - 1, int(share * len(ranked)))] for share in (0.1, 0.5, 0.9)))
