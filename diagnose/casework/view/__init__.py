"""The View of a case: what terminal, page, sheet, test and simulation all read. No front computes.

Cast: `make_view(reasoner, folded, ...)` gives a JSON-able dict as the headless contract describes it; absent is None,
never missing. Beyond the contract: `wanted` (profile facts to ask for now), `moves`, `why`, `loose`. Its parts are
written in `known`, `coming`, `plan`, `note` and `reasons`, each from the `Page` of the case.
"""

from __future__ import annotations

from diagnose.casework.fold import Folded
from diagnose.casework.view import known
from diagnose.casework.view.coming import next_step, wanted
from diagnose.casework.view.note import hand_offs
from diagnose.casework.view.page import Page, View
from diagnose.casework.view.plan import also, estimate_view, plan_item
from diagnose.casework.view.reasons import moved, why
from diagnose.reason.diagnosis import Diagnosis
from diagnose.reason.estimate import estimate
from diagnose.reason.reasoner import Reasoner

__all__ = ["View", "make_view"]


def make_view(
    reasoner: Reasoner,
    folded: Folded,
    *,
    sentence: str | None = None,
    file: str | None = None,
    with_estimate: bool = True,
    with_why: bool = False,
    diagnosis: Diagnosis | None = None,
) -> View:
    """The View of a case.

    Args:
        reasoner: the book with its engine.
        folded: the case.
        sentence: the case file's sentence, or the label.
        file: the case file.
        with_estimate: also simulate minutes and parts.
        with_why: also say how answers moved the shares, and why this comes next.
        diagnosis: of this case, where the caller has it.
    """
    diagnosis = diagnosis or reasoner.diagnose(folded.situation)
    page = Page(reasoner.book, reasoner.chainer, diagnosis)
    view: View = {
        "case": sentence,
        "file": file,
        "profile": {fact: list(values) for fact, values in sorted(folded.situation.profile.items())},
        "holds": None,
        "expectations": [],
        "complaints": known.complaints(page),
        "answers": known.answers(page),
        "conclusions": known.conclusions(page),
        "ruled_out": known.ruled_out(page),
        "dangers": known.dangers(page),
        "cautions": known.cautions(page),
        "ride": known.ride(page),
        "next": next_step(page),
        "plan": [plan_item(page, item) for item in diagnosis.plan],
        "also": also(page),
        "hand_off": hand_offs(page),
        "estimate": None,
        "wanted": wanted(page),
        "moves": None,
        "why": None,
        "loose": folded.loose,
        "ended": folded.situation.ended,
        "open": [reasoner.book.teardowns[one].name for one in sorted(folded.situation.open_teardowns)],
    }
    if with_estimate and diagnosis.outlook:
        view["estimate"] = estimate_view(estimate(diagnosis.outlook, diagnosis.plan), reasoner.book)
    if with_why:
        view["moves"] = moved(page)
        view["why"] = why(page)
    return view
