"""Why one step comes next and not another, and why one cause is on top now, in a sentence.

Cast: `in_words(book, why)` for the next step; `of_plan(book, diagnosis, wanted)` for the fixes of the plan;
`shifts_in_words(books, shifts)` for the cause on top.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from diagnose.book.model import Book
from diagnose.front.rulebook import phrases
from diagnose.front.rulebook.phrases import of_100
from diagnose.reason.belief import cured_by
from diagnose.reason.diagnosis import Diagnosis
from diagnose.reason.instead import Instead
from diagnose.reason.ontop import LEAST, RULE, SHARE, Shift
from diagnose.reason.outlook import Outlook
from diagnose.reason.plan import LEAST_CHANCE, PlanItem

REASONS = {
    "over": "the job is over there: the repeat test has passed",
    "again": "it came back a second time: the most experienced takes it on",
    "needed": "it is looked at before this fix: {by}",
    "nothing": "the other saves nothing there",
    "told": "the other was answered before",
    "known": "nothing that the other tells is still in doubt there",
    "barred": "the other is not for such a bike, or cannot be done at that stand",
    "idle": "no cause that can still be there has a line on the other",
    "unasked": "the other is asked only where a deduction demands it, or for other complaints",
    "done": "the other was done before",
    "useless": "nothing that the other cures can still be there",
    "anyway": "the other is done in any case, ahead of the first fix; a question comes before both",
    "lacks": "the other cannot be done there: {by}",
    "waits": "before the other comes: {by}",
    "unlikely": "what the other cures is too unlikely there",
    "closed": "the book has no such step",
}
LITTLE = "the other saves {saved:.1f} min only, too little to be asked"
DEARER = "{now:.1f} min to be expected until it is gone; {other:.1f} with the other first"
TIE = "a tie: {now:.2f} min to be expected until it is gone, {other:.2f} with the other first"
A_TIE = 0.1
"""Minutes that are no difference."""

NOT_IN_BOOK = "what is not in the book"
NEW = "{cause} is new, or now one for such a bike"
GONE = "{cause} is no cause of it any more, or not on such a bike"
SHARES = "of 100 such bikes {after:g} have {cause} ({before:g} before)"
ROWS = 'what was told of "{about}" is seen on {after} with {cause} ({before} before)'
RULES = "the deduction {about} counts {cause} {after:g} times ({before:g} before): {because}"
RULES_OUT = "the deduction {about} rules out {cause} {when}: {because}"
MANY = "many small differences"


def in_words(book: Book, why: Instead) -> str:
    """Why something comes next and `the other` does not."""
    if why.now is not None and why.other is not None:
        text = LITTLE if why.reason == "little" else TIE if why.other - why.now < A_TIE else DEARER
        return text.format(saved=why.now - why.other, now=why.now, other=why.other)
    if why.reason == "demanded":
        return f"first, because: {_because(book, why.by)}"
    return REASONS[why.reason].format(by=phrases.named(book.fixes[why.by]) if why.by in book.fixes else why.by)


def of_plan(book: Book, diagnosis: Diagnosis, wanted: Sequence[str]) -> str:
    """Why the plan is not as wanted: the first fix that is missing, or the first that stands too late."""
    plan = {item.fix: item for item in diagnosis.plan}
    missing = next((fix for fix in wanted if fix not in plan), "")
    if missing:
        return f"{phrases.named(book.fixes[missing])}: {_out(book, diagnosis.outlook, missing)}"
    places = list(plan)
    for before, after in pairwise(wanted):
        if places.index(before) > places.index(after):
            return f"{_worth(book, plan[after])} comes before {_worth(book, plan[before])}"
    return ""


def _out(book: Book, outlook: Outlook | None, fix: str) -> str:
    """Why a fix is not in the plan."""
    if outlook is None:
        return "no plan is made there, the job is over"
    if not any(fix in one.fixes for course in outlook.courses.values() for one in course.treatments):
        return "it cannot be done at that stand or on that bike, or nothing that it cures can still be"
    if _gained(book, outlook, fix) < LEAST_CHANCE:
        return "what it cures is too unlikely there"
    return "from there on giving the bike away, or another fix that cures the same, is expected to cost less"


def _gained(book: Book, outlook: Outlook, fix: str) -> float:
    """The chance that it cures what stands."""
    belief = outlook.belief
    return sum(
        share * cured_by(book, cause, fix)
        for complaint, causes in zip(belief.net.complaints, belief.net.causes, strict=True)
        if complaint in outlook.courses
        for cause, share in zip(causes, belief.marginal(complaint), strict=True)
        if cause
    )


def _worth(book: Book, item: PlanItem) -> str:
    low, high = item.minutes
    return f"{phrases.named(book.fixes[item.fix])} (cures {item.chance * 100:.0f} of 100, {low:.0f} to {high:.0f} min)"


def _because(book: Book, name: str) -> str:
    if name in book.causes:
        cause = book.causes[name]
        return f"{phrases.named(cause)}: {cause.danger_because}"
    if name in book.fixes:
        return f"{phrases.named(book.fixes[name])}: it helped, and something is left"
    return f"{book.deductions[name].because} ({name})"


def shifts_in_words(books: tuple[Book, Book], shifts: Sequence[Shift]) -> str:
    """What put another cause on top, the greatest difference first, with the books before and after."""
    return "; ".join(_shift(books, one) for one in shifts) or MANY


def _shift(books: tuple[Book, Book], shift: Shift) -> str:
    before, after = books
    cause = NOT_IN_BOOK
    if shift.cause:
        cause = (after if shift.cause in after.causes else before).causes[shift.cause].name
    if shift.kind in ("new", "gone"):
        return (NEW if shift.kind == "new" else GONE).format(cause=cause)
    if shift.kind == SHARE:
        return SHARES.format(cause=cause, before=shift.before, after=shift.after)
    if shift.kind != RULE:
        about = after.findings[shift.about].name
        return ROWS.format(about=about, cause=cause, before=of_100(shift.before), after=of_100(shift.after))
    rule = (after if shift.about in after.deductions else before).deductions[shift.about]
    told = {"about": rule.id, "cause": cause, "because": rule.because}
    if LEAST in (shift.before, shift.after):
        return RULES_OUT.format(when="now" if shift.after == LEAST else "no more", **told)
    return RULES.format(before=shift.before, after=shift.after, **told)
