"""`diagnose stand --play`: a worked case told as it went: each question, the answer, how the shares moved, the plan."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from diagnose.book.place import shipped_cases
from diagnose.book.problems import nearest
from diagnose.casework.casefile import read_case
from diagnose.casework.fold import fold
from diagnose.casework.replay import replay
from diagnose.casework.view import make_view
from diagnose.errors import CaseError, Location
from diagnose.front import asides, screens, wording
from diagnose.front.paper import Paper
from diagnose.reason.diagnosis import Reasoner

View = dict[str, Any]
FIXES_SHOWN = 3
"""Fixes of the plan that are shown in full."""
LEAST_MOVE = 0.005


def find_case(name: str) -> Path:
    """A case file by its path, or a shipped one by its name.

    Raises:
        CaseError: there is none.
    """
    path = Path(name)
    if path.is_file():
        return path
    folder = shipped_cases()
    shipped = {found.stem: found for found in folder.rglob("*.yaml")} if folder else {}
    if path.stem in shipped:
        return shipped[path.stem]
    raise CaseError("file.missing", "there is no such case", Location(name), nearest(path.stem, shipped))


def play_case(reasoner: Reasoner, name: str, paper: Paper) -> int:
    """Play a case; returns 0 when its expectations hold, else 1."""
    case = read_case(find_case(name), reasoner.book)
    paper.say(case.sentence, style="bold")
    told: list[Any] = []
    for event in case.told:
        told.append(event)
        _play_event(reasoner, paper, told, event.kind)
    view = replay(reasoner, case, with_estimate=True, with_why=True)
    _play_end(paper, view)
    return _expectations(paper, view)


def _play_event(reasoner: Reasoner, paper: Paper, told: list[Any], kind: str) -> None:
    """One event: what was asked and answered, and how it moved the shares."""
    book = reasoner.book
    data = told[-1].data
    if kind == "complaint":
        paper.head(wording.RIDER_SAYS.format(name=book.complaints[data["id"]].name))
    elif kind == "profile":
        values = ", ".join(book.facts[data["fact"]].values[value] for value in data["values"])
        paper.say(f"{book.facts[data['fact']].ask} {values or wording.CANNOT}", indent=1, hang=2)
    elif kind == "already":
        result = wording.RESULT[data["result"]]
        paper.say(wording.DONE_BEFORE.format(name=book.fixes[data["fix"]].name, result=result), indent=1, hang=2)
    elif kind == "answer":
        _play_answer(reasoner, paper, told)
    elif kind == "fix":
        _play_fix(reasoner, paper, data)


def _play_answer(reasoner: Reasoner, paper: Paper, told: list[Any]) -> None:
    book = reasoner.book
    data = told[-1].data
    before = make_view(reasoner, fold(book, told[:-1]), with_estimate=False)
    view = make_view(reasoner, fold(book, told), with_estimate=False, with_why=True)
    check = book.checks[data["check"]]
    paper.say()
    paper.say(wording.ASKED.format(text=check.ask), style="bold", hang=3)
    if before["next"]["id"] != check.id:
        paper.say(wording.NOT_NEXT, indent=3)
    answer = next(one for one in reversed(view["answers"]) if one["check"] == check.id)
    typed = f"{answer['typed']}: " if answer["typed"] else ""
    said = f"{typed}{answer['value_text'] or wording.CANNOT}"
    paper.say(wording.ANSWERED.format(by=wording.BY[data["by"]], text=said), indent=1, hang=3)
    for move in view["moves"] or []:
        if move["check"] == check.id:
            _play_move(paper, move)
    if view["ride"]["verdict"] != before["ride"]["verdict"]:
        screens.show_ride(paper, view)


def _play_move(paper: Paper, move: View) -> None:
    changes = [one for one in move["shares"] if abs(one["after"] - one["before"]) >= LEAST_MOVE]
    for one in changes[:3]:
        shown = {end: screens.of_100(one[end]) for end in ("before", "after")}
        paper.say(wording.PLAYED_MOVE.format(name=one["name"] or wording.NOT_IN_BOOK, **shown), indent=5)


def _play_fix(reasoner: Reasoner, paper: Paper, data: Any) -> None:
    names = " and ".join(reasoner.book.fixes[fix].name for fix in [data["fix"], *data.get("with", ())])
    paper.say()
    if data.get("not_possible"):
        paper.say(wording.PLAYED_NOT_HERE.format(names=names), style="bold")
        return
    shown = {"gone": wording.TEST_GONE, "still-there": wording.TEST_STILL}
    results = "; ".join(
        f"{reasoner.book.complaints[name].name}: {shown[result]}" for name, result in data["results"].items()
    )
    paper.say(wording.PLAYED_FIX.format(names=names, results=results), style="bold")


def _play_end(paper: Paper, view: View) -> None:
    kind = view["next"]["kind"]
    paper.say()
    paper.rule()
    screens.show_ride(paper, view)
    asides.show_likely(paper, view)
    paper.head(wording.COMES_NEXT)
    paper.say(view["next"]["text"])
    if kind == "check":
        asides.show_why(paper, view)
    if kind != "done":
        asides.show_plan(paper, view)
    if kind == "hand-off":
        screens.show_hand_off(paper, view)
    told: set[str] = set()
    for item in view["plan"][:FIXES_SHOWN]:
        paper.head(wording.FIX.format(name=item["name"]))
        screens.show_fix_item(paper, view, item, told)
        screens.show_repeat_test(paper, item["confirm"])
        screens.show_outcome(paper, item)
    if view["plan"]:
        paper.say()
        paper.say(wording.GOVERNS)


def _expectations(paper: Paper, view: View) -> int:
    missed = [one for one in view["expectations"] if not one["holds"]]
    paper.say()
    for one in missed:
        paper.say(wording.EXPECTED.format(path=one["path"], expected=one["expected"], found=one["found"]))
    paper.say(wording.HOLD.format(held=len(view["expectations"]) - len(missed), all=len(view["expectations"])))
    return 1 if missed else 0
