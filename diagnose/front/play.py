"""`diagnose stand --play`: a worked case told as it went: each question, the answer, how the shares moved, the plan."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from diagnose.book.place import shipped_cases
from diagnose.book.problems import nearest
from diagnose.casework.casefile import Event, read_case
from diagnose.casework.desk import filled
from diagnose.casework.fold import fold
from diagnose.casework.replay import replay
from diagnose.casework.view import make_view
from diagnose.errors import CaseError, Location
from diagnose.front import asides, gauges, screens, wording
from diagnose.front.happened import done_before
from diagnose.front.paper import Paper
from diagnose.reason.reasoner import Reasoner

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
    player = _Player(reasoner, paper)
    for event in case.told:
        player.play(event)
    view = replay(reasoner, case, with_estimate=True, with_why=True)
    _play_end(paper, view)
    return _expectations(paper, view)


class _Player:
    """Tells one event after the other: what was asked and answered, and how it moved the shares."""

    def __init__(self, reasoner: Reasoner, paper: Paper) -> None:
        self.reasoner = reasoner
        self.book = reasoner.book
        self.paper = paper
        self.told: list[Event] = []
        self._known: tuple[int, View] | None = None
        """How many events the last View was made of, and that View."""

    def play(self, event: Event) -> None:
        """One event."""
        self.told.append(event)
        data, book, paper = event.data, self.book, self.paper
        if event.kind == "complaint":
            paper.head(wording.RIDER_SAYS.format(name=book.complaints[data["id"]].name))
        elif event.kind == "profile":
            values = ", ".join(book.facts[data["fact"]].values[value] for value in data["values"])
            paper.say(f"{book.facts[data['fact']].ask} {values or wording.CANNOT}", indent=1, hang=2)
        elif event.kind == "already":
            done = done_before(book.fixes[data["fix"]].name, data["result"])
            paper.say(done, indent=1, hang=2)
        elif event.kind == "answer":
            self._answer(data)
        elif event.kind == "fix":
            self._fix(data)

    def _view(self, count: int, with_why: bool = False) -> View:
        """The View after the first `count` events; the last one is kept."""
        if self._known is None or self._known[0] != count:
            folded = fold(self.book, self.told[:count])
            view = make_view(self.reasoner, folded, with_estimate=False, with_why=with_why)
            self._known = count, view
        return self._known[1]

    def _answer(self, data: Mapping[str, Any]) -> None:
        paper, check = self.paper, self.book.checks[data["check"]]
        before = self._view(len(self.told) - 1)
        view = self._view(len(self.told), with_why=True)
        paper.say()
        profile = fold(self.book, self.told).situation.profile
        paper.say(wording.ASKED.format(text=filled(self.book, check.ask, profile)), style="bold", hang=3)
        if before["next"]["id"] != check.id:
            paper.say(wording.NOT_NEXT, indent=3)
        answer = next(one for one in reversed(view["answers"]) if one["check"] == check.id)
        typed = f"{answer['typed']}: " if answer["typed"] else ""
        said = f"{typed}{answer['value_text'] or wording.CANNOT}"
        paper.say(wording.ANSWERED.format(by=wording.BY[data["by"]], text=said), indent=1, hang=3)
        self._measured(answer)
        for move in view["moves"] or []:
            if move["check"] == check.id:
                _play_move(paper, move)
        if view["ride"]["verdict"] != before["ride"]["verdict"]:
            screens.show_ride(paper, view)

    def _measured(self, answer: View) -> None:
        """What was read, and where it lies."""
        for raw in answer["readings"] or ():
            self.paper.say(wording.RAW.format(**raw), indent=5, hang=2)
        if answer["gauge"]:
            self.paper.say()
            gauges.show_gauge(self.paper, answer["gauge"])
            self.paper.say()

    def _fix(self, data: Mapping[str, Any]) -> None:
        book = self.book
        names = " and ".join(book.fixes[fix].name for fix in [data["fix"], *data.get("with", ())])
        self.paper.say()
        if data.get("not_possible"):
            self.paper.say(wording.PLAYED_NOT_HERE.format(names=names), style="bold")
            return
        shown = {"gone": wording.TEST_GONE, "better": wording.TEST_BETTER, "still-there": wording.TEST_STILL}
        results = "; ".join(
            f"{book.complaints[name].name}: {shown[result]}" for name, result in data["results"].items()
        )
        self.paper.say(wording.PLAYED_FIX.format(names=names, results=results), style="bold")


def _play_move(paper: Paper, move: View) -> None:
    changes = [one for one in move["shares"] if abs(one["after"] - one["before"]) >= LEAST_MOVE]
    for one in changes[:3]:
        shown = {end: screens.of_100(one[end]) for end in ("before", "after")}
        paper.say(wording.PLAYED_MOVE.format(name=one["name"] or wording.NOT_IN_BOOK, **shown), indent=5)


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
