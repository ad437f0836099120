"""The plan, as the View shows it: its fixes with their steps, what is to be done anyway, and what it may take.

Cast: `plan_item`, `parts_of`, `step_view`, `also` and `estimate_view`.
"""

from __future__ import annotations

from diagnose.book.conditions import Profile, holds, parts_for
from diagnose.book.model import Book, Fix, Step
from diagnose.casework.view.measured import step_sum
from diagnose.casework.view.page import Page, View
from diagnose.reason.estimate import Estimate
from diagnose.reason.plan import PlanItem


def plan_item(page: Page, item: PlanItem) -> View:
    """A fix of the plan: what it promises and needs, its steps, how to tell that it worked."""
    fix = page.book.fixes[item.fix]
    return {
        "fix": item.fix,
        "name": fix.name,
        "from": page.origin(item.fix),
        "rung": item.rung,
        "causes": [{"id": cause, "complaint": complaint} for cause, complaint in item.treats],
        "chance": item.chance,
        "together": list(item.together),
        "needs": _needs(page, fix),
        "after": list(fix.after),
        "skill": fix.skill,
        "minutes": {"low": item.minutes[0], "high": item.minutes[1]},
        "tools": [page.book.tools[tool] for tool in fix.tools],
        "parts": parts_of(page.book, fix, page.situation.profile),
        "teardown": page.book.teardowns[fix.teardown].name if fix.teardown else None,
        "cautions": page.cautions(fix.cautions),
        "picture": fix.picture,
        "steps": [step_view(page, step) for step in fix.steps if page.situation.takes(step)],
        "works_if": page.fill(fix.works_if),
        "if_not": page.fill(fix.if_not),
        "confirm": _confirm(page, item),
        "hand_off_when": _hand_off_when(page, item),
    }


def parts_of(book: Book, fix: Fix, profile: Profile) -> list[View]:
    """The parts that a fix takes at this bike, each with its price."""
    return [
        {
            "id": part,
            "name": book.parts[part].name,
            "count": count,
            "price": {
                "low": book.parts[part].low,
                "high": book.parts[part].high,
                "currency": book.constants.currency,
            },
        }
        for part, count in parts_for(fix, profile).items()
    ]


def _needs(page: Page, fix: Fix) -> list[View]:
    """What must be done or verified first, and whether it is."""
    outlook = page.diagnosis.outlook
    unmet = outlook.bench.unmet(fix) if outlook else []
    return [{"id": need, "text": _need(page, need), "done": need not in unmet} for need in fix.needs]


def _need(page: Page, need: str) -> str:
    return page.fill(page.book.checks[need].ask) if need in page.book.checks else page.book.fixes[need].name


def _confirm(page: Page, item: PlanItem) -> View:
    test = page.book.complaints[_tested_by(page, item)].repeat_test
    text = page.fill(test.text) + (f" ({test.repeat})" if test.repeat else "")
    return {
        "id": test.id,
        "text": text,
        "limits": page.limits(test.limits),
        "cautions": page.cautions(test.cautions),
    }


def _tested_by(page: Page, item: PlanItem) -> str:
    """The complaint whose repeat test shows what the fix did; what must be done anyway by one it would cure."""
    if item.treats:
        return item.treats[0][1]
    told = (*page.situation.standing, *page.situation.complaints)
    causes_of = page.book.causes_of
    cures = (one for one in told if any(r.fix == item.fix for cause in causes_of.get(one, ()) for r in cause.ladder))
    return next(cures, told[0])


def _hand_off_when(page: Page, item: PlanItem) -> list[str]:
    if not item.treats:
        return []
    return [
        f"{page.fill(one.reason)} To {page.book.receivers[one.receiver].to}, {one.urgency}."
        for one in page.book.causes[item.treats[0][0]].hand_off_when
        if holds(one.when, page.situation.profile)
    ]


def step_view(page: Page, step: Step) -> View:
    """One step with its limits under this profile."""
    return {
        "text": page.fill(step.text),
        "limits": page.limits(step.limits),
        "cautions": page.cautions(step.cautions),
        "sums": [step_sum(page.book, page.situation, working) for working in step.workings],
    }


def also(page: Page) -> list[View]:
    """What is to be done whatever the complaint turns out to be, and is not done yet: must first.

    What another of them includes, at least as urgent, is not told by itself.
    """
    order = {"must": 0, "should": 1, "can wait": 2}
    done = page.book.with_included(page.situation.done)
    found: dict[str, View] = {}
    for one in page.diagnosis.extras:
        for extra in one.deduction.also:
            if extra.fix in done:
                continue
            known = found.get(extra.fix)
            level = extra.level.removesuffix(" first")
            if known is None or order[level] < order[known["level"]]:
                fix = page.book.fixes[extra.fix]
                minutes = {"low": fix.low, "high": fix.high}
                found[extra.fix] = {
                    "fix": extra.fix,
                    "name": fix.name,
                    "level": level,
                    "because": one.deduction.because,
                    "conclusion": one.deduction.id,
                    "minutes": minutes,
                }
    parts = {
        (part, level)
        for whole, one in found.items()
        for part in page.book.included.get(whole, ())
        for level in order
        if order[level] >= order[one["level"]]
    }
    told = [one for name, one in found.items() if (name, one["level"]) not in parts]
    return sorted(told, key=lambda one: (order[one["level"]], one["fix"]))


def estimate_view(made: Estimate, book: Book) -> View:
    """What the plan may take: minutes, parts, the chance of a hand-off."""
    return {
        "minutes": {"p10": made.minutes.p10, "p50": made.minutes.p50, "p90": made.minutes.p90},
        "parts_price": {
            "p10": made.parts.p10,
            "p50": made.parts.p50,
            "p90": made.parts.p90,
            "currency": book.constants.currency,
        },
        "hand_off_chance": made.hand_off_chance,
        "runs": made.runs,
        "seed": made.seed,
    }
