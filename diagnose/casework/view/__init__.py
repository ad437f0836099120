"""The View of a case: what terminal, page, sheet, test and simulation all read. No front computes.

Cast: `make_view(reasoner, folded, ...)` gives a JSON-able dict as the headless contract describes it; absent is None,
never missing. Beyond the contract: `wanted` (profile facts to ask for now), `moves`, `why`, `loose`. `glimpse` gives
the same, each part written when it is first read. The parts are written in `known`, `coming`, `plan`, `note` and
`reasons`, each from the `Page` of the case.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Final

from diagnose.casework.fold import Folded
from diagnose.casework.view import known
from diagnose.casework.view.coming import next_step, wanted
from diagnose.casework.view.note import hand_offs
from diagnose.casework.view.page import Page, View
from diagnose.casework.view.plan import also, estimate_view, plan_item
from diagnose.casework.view.reasons import moved, why
from diagnose.reason.diagnosis import Diagnosis
from diagnose.reason.estimate import foresee
from diagnose.reason.reasoner import Reasoner

__all__ = ["View", "glimpse", "make_view"]

_PARTS: Final[dict[str, Callable[[Page], Any]]] = {
    "profile": lambda page: {fact: list(values) for fact, values in sorted(page.situation.profile.items())},
    "complaints": known.complaints,
    "answers": known.answers,
    "conclusions": known.conclusions,
    "ruled_out": known.ruled_out,
    "dangers": known.dangers,
    "cautions": known.cautions,
    "ride": known.ride,
    "next": next_step,
    "plan": lambda page: [plan_item(page, item) for item in page.diagnosis.plan],
    "also": also,
    "hand_off": hand_offs,
    "estimate": lambda page: None,
    "wanted": wanted,
    "moves": lambda page: None,
    "why": lambda page: None,
    "ended": lambda page: page.situation.ended,
    "open": lambda page: [page.book.teardowns[one].name for one in sorted(page.situation.open_teardowns)],
}
"""What a View says of a diagnosis, and how it is written. What costs more is written where it is asked for."""
_AT_A_GLANCE: Final[dict[str, Callable[[Page], Any]]] = {
    **_PARTS,
    "next": lambda page: {"kind": page.diagnosis.next.kind, "id": page.diagnosis.next.id},
    "plan": lambda page: [{"fix": item.fix} for item in page.diagnosis.plan],
    "hand_off": lambda page: [{"class": one.hand_off.receiver} for one in page.diagnosis.hand_offs],
}
"""The same in short: which step, which fixes, to whom."""


class _Glimpse(dict[str, Any]):
    """A View whose parts are written, in short, when they are first read."""

    def __init__(self, page: Page) -> None:
        super().__init__()
        self._page = page

    def __missing__(self, part: str) -> Any:
        self[part] = _AT_A_GLANCE[part](self._page)
        return self[part]


def glimpse(reasoner: Reasoner, folded: Folded) -> View:
    """What a View says of a case, in short: each part written when it is first read by its name."""
    return _Glimpse(Page(reasoner.book, reasoner.chainer, reasoner.diagnose(folded.situation)))


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
        "holds": None,
        "expectations": [],
        **{part: write(page) for part, write in _PARTS.items()},
        "loose": folded.loose,
    }
    if with_estimate and (made := foresee(diagnosis)):
        view["estimate"] = estimate_view(made, reasoner.book)
    if with_why:
        view["moves"] = moved(page)
        view["why"] = why(page)
    return view
