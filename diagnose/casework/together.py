"""Looks of a round that one screen takes in one go: they come one after the other where each is as it should be.

Cast: `together` gives the looks, `as_right` the event that tells one of them as it should be. What would come is found
on the fold: nothing is stored. Each of them is wanted already as the job stands, so that none comes only because
another was as it should be; and none that shows something, wants work or hands the bike on by being so.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final, cast

from diagnose.book.model import Book, Check
from diagnose.book.reckoning import right_values
from diagnose.casework import events
from diagnose.casework.events import Draft
from diagnose.casework.fold import Told, fold
from diagnose.casework.shapes import Role
from diagnose.casework.view.coming import check_view
from diagnose.casework.view.page import Page
from diagnose.reason.conclude import Conclusions
from diagnose.reason.diagnosis import Diagnosis
from diagnose.reason.outlook import Outlook
from diagnose.reason.reasoner import Reasoner
from diagnose.reason.situation import Situation

View = dict[str, Any]
MOST: Final = 4
"""Looks that are taken together."""
LONGEST: Final = 2.0
"""Minutes that one of them may take."""
USUAL: Final = 0.65
"""Of such bikes, on how many a look must be as it should be: what is often amiss is asked by itself."""


def together(reasoner: Reasoner, told: Sequence[Told]) -> list[View]:
    """The looks that come next and are taken together, each with its right answer; none where fewer than two do.

    Each is a `check_view` with `id`, `text`, `from`, and `right`, the `id` and `text` of its answer. At the counter and
    where no complaint that stands back is being looked into there are none.
    """
    situation = fold(reasoner.book, told).situation
    if situation.role == "rider" or not _stand_back(reasoner.book, situation):
        return []
    diagnosis = reasoner.diagnose(situation)
    wanted, known, looks = _wanted_now(diagnosis), list(told), list[View]()
    while len(looks) < MOST:
        check = _look(diagnosis, wanted)
        if check is None:
            break
        known.append(as_right(reasoner.book, check.id, situation.role))
        after = reasoner.diagnose(fold(reasoner.book, known).situation)
        if _tells_something(diagnosis.conclusions, after.conclusions):
            break
        looks.append(_look_view(Page(reasoner.book, reasoner.chainer, diagnosis), check))
        diagnosis = after
    return looks if len(looks) > 1 else []


def as_right(book: Book, check: str, by: str) -> Draft:
    """The event that tells a look as it should be."""
    return events.answered(check, cast("Role", by), right_values(book.checks[check], book)[0])


def _stand_back(book: Book, situation: Situation) -> set[str]:
    """The complaints that are looked into and stand back."""
    return {name for name in situation.standing if book.complaints[name].stands_back}


def _look_view(page: Page, check: Check) -> View:
    value = right_values(check, page.book)[0]
    right = {"id": value, "text": page.book.findings[check.finding].values[value]}
    told = {"id": check.id, "text": page.fill(check.ask), "from": page.origin(check.id), "right": right}
    return {**told, **check_view(page, check)}


def _wanted_now(diagnosis: Diagnosis) -> set[str]:
    """The looks that a round wants as the job stands, and that can be made so."""
    outlook, book = diagnosis.outlook, diagnosis.book
    if outlook is None:
        return set()
    back = _stand_back(book, diagnosis.situation)
    wanted = {
        name
        for conclusion, name in diagnosis.conclusions.demands()
        if any(when.key == "complaint" and back.intersection(when.any_of) for when in conclusion.deduction.when)
    }
    alone = {one.deduction.demand[0] for one in diagnosis.conclusions.fired if one.deduction.first == 1}
    return {name for name in wanted - alone if _plain(outlook, book.checks[name])}


def _plain(outlook: Outlook, check: Check) -> bool:
    """Whether this is a short look that can be made as the bike stands: no reading, no ride, nothing else first."""
    if check.measure or check.ridden or check.minutes > LONGEST or outlook.book.findings[check.finding].lasting:
        return False
    opens = check.teardown and check.teardown not in outlook.situation.open_teardowns
    ready = outlook.can_do(check) and not outlook.met(check) and not opens
    return ready and not outlook.check_cost(check, outlook.here)[2]


def _look(diagnosis: Diagnosis, wanted: set[str]) -> Check | None:
    """The next step, where it is one of these looks, no fact comes before it, and it is mostly as it should be."""
    step, outlook = diagnosis.next, diagnosis.outlook
    if outlook is None or step.kind != "check" or step.id not in wanted or step.prepares or diagnosis.wanted:
        return None
    check = diagnosis.book.checks[step.id]
    return check if step.demanded_by in diagnosis.book.deductions and _mostly_right(outlook, check) else None


def _mostly_right(outlook: Outlook, check: Check) -> bool:
    """Whether, by what is known of this bike, the look is as it should be on most such bikes."""
    right, here = right_values(check, outlook.book)[0], outlook.here
    chance = sum(sum(one.weights) for one in outlook.branches(check, here) if one.value == right)
    return chance >= USUAL * here.mass


def _tells_something(before: Conclusions, after: Conclusions) -> bool:
    """Whether a look that is as it should be warns, wants work, or hands the bike on all the same."""
    known = {one.deduction.id for one in before.fired}
    new = [one.deduction for one in after.fired if one.deduction.id not in known]
    return any(one.danger or one.also or one.hand_off for one in new)
