"""`diagnose stand --play`: a worked case told as it went: each question, the answer, how the shares moved, the plan."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from diagnose.book.place import shipped_cases
from diagnose.book.problems import nearest
from diagnose.casework.casefile import CaseFile, read_case
from diagnose.casework.fold import fold
from diagnose.casework.replay import replay
from diagnose.casework.view import make_view
from diagnose.errors import CaseError, Location
from diagnose.front import screens
from diagnose.front.paper import Paper
from diagnose.reason.diagnosis import Reasoner


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
    return _expectations(paper, case, view)


def _play_event(reasoner: Reasoner, paper: Paper, told: list[Any], kind: str) -> None:
    """One event: what was asked and answered, and how it moved the shares."""
    book = reasoner.book
    data = told[-1].data
    if kind == "complaint":
        paper.head(f"The rider says: {book.complaints[data['id']].name}")
    elif kind == "profile":
        values = ", ".join(book.facts[data["fact"]].values[value] for value in data["values"])
        paper.say(f"{book.facts[data['fact']].ask} {values}", indent=1, hang=2)
    elif kind == "already":
        paper.say(f"Done before it came: {book.fixes[data['fix']].name} ({data['result']})", indent=1, hang=2)
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
    by = "the rider" if data["by"] == "rider" else "the mechanic"
    turn = "" if before["next"]["id"] == check.id else " (not what the program would have asked next)"
    paper.say()
    paper.say(f"Q: {check.ask}{turn}", style="bold", hang=3)
    answer = next(one for one in reversed(view["answers"]) if one["check"] == check.id)
    typed = f"{answer['typed']}: " if answer["typed"] else ""
    paper.say(f"A ({by}): {typed}{answer['value_text'] or screens.wording.CANNOT}", indent=1, hang=3)
    moved = [move for move in view["moves"] or [] if move["check"] == check.id]
    for move in moved:
        changes = [one for one in move["shares"] if abs(one["after"] - one["before"]) >= 0.005]
        for one in changes[:3]:
            name = one["name"] or "not in the book"
            paper.say(
                f"{screens.of_100(one['before']):>3} -> {screens.of_100(one['after']):>3} of 100  {name}", indent=5
            )
    if view["ride"]["verdict"] != before["ride"]["verdict"]:
        screens.show_ride(paper, view)


def _play_fix(reasoner: Reasoner, paper: Paper, data: Any) -> None:
    names = " and ".join(reasoner.book.fixes[fix].name for fix in [data["fix"], *data.get("with", ())])
    paper.say()
    if data.get("not_possible"):
        paper.say(f"{names}: cannot be done here.", style="bold")
        return
    results = "; ".join(
        f"{reasoner.book.complaints[name].name}: {result.replace('-', ' ')}" for name, result in data["results"].items()
    )
    paper.say(f"Done: {names}. Repeat test: {results}.", style="bold")


def _play_end(paper: Paper, view: dict[str, Any]) -> None:
    paper.say()
    paper.rule()
    screens.show_ride(paper, view)
    screens.show_likely(paper, view)
    kind = view["next"]["kind"]
    paper.head("What comes next")
    paper.say(view["next"]["text"])
    if kind == "check":
        screens.show_why(paper, view)
    screens.show_plan(paper, view)
    if kind == "hand-off" and view["hand_off"]:
        screens.show_hand_off(paper, view)
    for item in view["plan"][:3]:
        screens.show_plan_item(paper, item, full=True)
        paper.say(screens.wording.REPEAT.format(text=item["confirm"]["text"]), indent=1)
    if view["plan"]:
        paper.say()
        paper.say(screens.wording.GOVERNS)


def _expectations(paper: Paper, case: CaseFile, view: dict[str, Any]) -> int:
    missed = [one for one in view["expectations"] if not one["holds"]]
    paper.say()
    for one in missed:
        paper.say(f"Expected {one['path']} {one['expected']}, found {one['found']}.")
    paper.say(
        f"{len(view['expectations']) - len(missed)} of {len(view['expectations'])} expectations of this case hold."
    )
    return 1 if missed else 0
