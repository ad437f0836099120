"""Several looks of a round on one screen: Enter tells each as it should be, a number asks one by itself.

Cast: `looks_for` gives those that one screen holds, `ask_together` asks for them. Each is an answer of its own, kept
before the next is. A look is above the line that Enter stands on with all its words, or it is not among them.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from typing import Any

from diagnose.front import asides, screens, wording
from diagnose.front.paper import Paper
from diagnose.front.prompt import ENTER, Command, Screen
from diagnose.front.telling import Telling

View = dict[str, Any]
FEWEST = 2


def looks_for(telling: Telling, view: View) -> list[View]:
    """The looks that come next and are asked together, as many as one screen holds; none where it holds only one."""
    looks, changed = telling.desk.together(telling.case_id), telling.verdict_news(view)
    for count in range(len(looks), FEWEST - 1, -1):
        if telling.prompt.holds(partial(_screen, view=view, looks=looks[:count], changed=changed)):
            return looks[:count]
    return []


def ask_together(telling: Telling, view: View, looks: Sequence[View], command: Command) -> str:
    """Tell the looks as they should be, up to one that is asked by itself: its id, or nothing."""
    screen = _screen(telling.paper, view, looks, telling.verdict_changed(view))
    chosen = telling.ask(screen, _with_why(telling, view, looks, command))
    right = looks if chosen == ENTER else looks[:chosen]
    _tell(telling, right, view["role"])
    return "" if chosen == ENTER else str(looks[chosen]["id"])


def _tell(telling: Telling, looks: Sequence[View], role: str) -> None:
    """Tell these looks as they should be, one after the other."""
    from diagnose.casework.together import as_right

    for look in looks:
        telling.tell(as_right(telling.book, look["id"], role))
    if looks:
        telling.paper.say(wording.TOLD_RIGHT.format(names="; ".join(look["finding"] for look in looks)))


def _screen(paper: Paper, view: View, looks: Sequence[View], changed: bool) -> Screen:
    """The looks by number, each with its question and what is right, above what Enter means."""
    said: set[str] = set()

    def draw() -> None:
        said.clear()
        _show_head(paper, view, looks, changed)

    def under(place: int) -> None:
        look = looks[place]
        paper.say(wording.AS_IT_SHOULD_BE.format(text=look["right"]["text"]), style="bold", indent=4, hang=2)
        screens.show_origin(paper, look)
        screens.show_cautions(paper, look["cautions"], said, 4)

    questions = tuple(look["text"] for look in looks)
    enter = wording.ALL_AS_THEY_SHOULD.format(count=len(looks))
    return Screen(draw, questions, enter=enter, below=lambda: paper.say(wording.ONE_IS_NOT), under=under)


def _show_head(paper: Paper, view: View, looks: Sequence[View], changed: bool) -> None:
    paper.rule()
    screens.show_danger(paper, view, changed)
    first = f"{wording.DANGER_FIRST} " if any(look["danger"] for look in looks) else ""
    paper.say(first + wording.TOGETHER.format(count=len(looks)), style="bold")
    tools = dict.fromkeys(tool for look in looks for tool in look["tools"])
    if tools:
        paper.say(wording.TOOLS.format(text=", ".join(tools)), indent=1)


def _with_why(telling: Telling, view: View, looks: Sequence[View], command: Command) -> Command:
    """The command, which tells why these are asked together, not why the first one is."""

    def told(letter: str) -> bool:
        if letter != "w":
            return command(letter)
        asides.show_why_together(telling.paper, view, looks)
        telling.paper.say()
        return True

    return told
