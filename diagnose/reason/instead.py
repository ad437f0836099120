"""Why one step comes next and not another.

Cast: `instead(diagnosis, other)` gives an `Instead`.
"""

from __future__ import annotations

from typing import NamedTuple

from diagnose.book.model import Check, Fix
from diagnose.reason.diagnosis import TOO_OFTEN, Diagnosis, must_do
from diagnose.reason.outlook import Outlook
from diagnose.reason.weigh import LEAST_FIX


class Instead(NamedTuple):
    """What puts the next step before another one.

    `reason`: demanded (`by` a deduction or a cause), needed (before the fix `by`), over (nothing is asked any more),
    again (it came back too often), dearer (the other one is expected to take longer), little (it saves too little to be
    asked), nothing (it saves nothing) or closed (the book has no such step).

    Of a check: told (it was answered), known (nothing it tells is in doubt), barred (not for such a bike, or not to be
    done there), idle (no cause that can still be has a line on it) or unasked (only where a rule demands it, or for
    other complaints). Of a fix: done, lacks (`by` what is missing), useless (nothing that it cures can still be), waits
    (`by` the fix that comes before it), unlikely, or anyway (it is done in any case, ahead of the first fix).

    `now` and `other`: the minutes expected until the complaint is gone with either one first, where both were weighed.
    """

    reason: str
    by: str = ""
    now: float | None = None
    other: float | None = None


def instead(diagnosis: Diagnosis, other: str) -> Instead:
    """Why the next step comes before the check, fix or hand-off `other`."""
    step, outlook = diagnosis.next, diagnosis.outlook
    if step.demanded_by:
        return Instead("demanded", step.demanded_by)
    if outlook is None:
        return Instead("over")
    if diagnosis.situation.comebacks >= TOO_OFTEN:
        return Instead("again")
    if step.prepares and other == step.prepares:
        return Instead("needed", step.prepares)
    return _weighed(diagnosis, outlook, other)


def _weighed(diagnosis: Diagnosis, outlook: Outlook, other: str) -> Instead:
    """What the scales say of the other step, or why it was not on them."""
    book, now = diagnosis.book, diagnosis.next.expected
    option = next((one for one in diagnosis.options if other in (one.id, *one.with_fixes)), None)
    if option:
        return Instead("little" if option.expected < now else "dearer", "", now, option.expected)
    must = must_do(book, outlook.bench, diagnosis.extras, outlook.left_out)
    if must and other == must.fix:
        return Instead("anyway")
    if other in book.fixes:
        return _fix(outlook, book.fixes[other], now)
    return _check(outlook, book.checks[other]) if other in book.checks else Instead("closed")


def _check(outlook: Outlook, check: Check) -> Instead:
    """Why a check was not weighed."""
    situation, finding = outlook.situation, outlook.book.findings[check.finding]
    if situation.told(check, finding.lasting):
        return Instead("told")
    if check.finding not in outlook.belief.net.rows:
        return Instead("idle")
    if finding.on_demand or (finding.asked_for and set(finding.asked_for).isdisjoint(situation.standing)):
        return Instead("unasked")
    if not outlook.can_do(check):
        return Instead("barred")
    if outlook.settled(check, outlook.here) or outlook.met(check):
        return Instead("known")
    return Instead("nothing")


def _fix(outlook: Outlook, fix: Fix, now: float) -> Instead:
    """Why a fix was not weighed, or is not among the best."""
    if fix.id in outlook.book.with_included(outlook.situation.done):
        return Instead("done")
    if missing := outlook.bench.lacks(fix):
        return Instead("lacks", missing)
    here = outlook.here
    courses = [course for course in outlook.courses.values() if fix.id in course.singles]
    if not courses:
        return Instead("useless")
    if outlook.chance_to_cure((fix.id,), here) <= LEAST_FIX:
        return Instead("unlikely")
    if before := outlook.waits_for((fix.id,), here):
        return Instead("waits", before)
    cost = min(course.costs(here.open)[course.singles[fix.id]] for course in courses)
    return Instead("dearer", "", now, cost + outlook.value_after_failure((fix.id,), here) / here.mass)
