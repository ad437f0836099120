"""What the plan may take: minutes and parts as P10, median and P90, and the chance that it ends in a hand-off.

Cast: `estimate` draws a few hundred seeded runs along the plan: a cause out of the belief, lognormal minutes for each
fix (its low and high are P10 and P90), parts between their low and high price, the chance of each fix to cure, and
the checks that follow a repeat test that failed.
Hand-off is a chance, not minutes.
"""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import dataclass
from math import exp, log

from diagnose.reason.belief import cured_by
from diagnose.reason.outlook import Outlook
from diagnose.reason.plan import PlanItem
from diagnose.reason.workbench import P90

LOOKED_AT_AGAIN = 5.0
"""Mean minutes of checks after a repeat test that failed, before the next fix or the hand-off (exponential).

What the policy took on bikes drawn from the shipped book (`diagnose score`): 6.4 minutes on bikes that were cured in
2.3 tries, 8.2 on those given away after 2.4.
"""
RUNS = 400
SEED = 1


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


def estimate(outlook: Outlook, plan: Sequence[PlanItem], runs: int = RUNS, seed: int = SEED) -> Estimate:
    """Simulate the plan from the present belief."""
    draw = random.Random(seed)  # noqa: S311 - a simulation that must repeat
    states, weights = outlook.belief.net.states, outlook.belief.weights
    minutes, parts, handed = [], [], 0
    for state in draw.choices(states, weights=weights, k=runs):
        spent, paid, gone = _one_run(outlook, plan, state, draw)
        minutes.append(spent)
        parts.append(paid)
        handed += not gone
    return Estimate(_spread(minutes), _spread(parts), handed / runs, runs, seed)


def _one_run(
    outlook: Outlook, plan: Sequence[PlanItem], state: tuple[int, ...], draw: random.Random
) -> tuple[float, float, bool]:
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
    return spent, paid, not waiting


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
