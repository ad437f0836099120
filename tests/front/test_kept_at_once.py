"""Every answer is safe before the next question shows: killed at every prompt, a job goes on with that very prompt.

A job is told line by line, each line by a process of its own that is killed (signal 9) as soon as it asks for the next
one. The prompts that it shows are those of a job that nobody interrupts, and so is what has been told at the end.
"""

from __future__ import annotations

import io
import json
import os
import shutil
import signal
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Any, NamedTuple

import pytest

from diagnose.casework import events
from diagnose.casework.store import SqliteStore
from diagnose.front import wording
from diagnose.front.keys import PipedKeyboard
from diagnose.front.main import main
from diagnose.front.prompt import Prompt, Screen
from tests.front.conftest import SMALL

Line = str | tuple[str, ...]
"""What is typed at a prompt; several lines where only all of them together tell something."""

GATE: tuple[Line, ...] = ("2", "3", "")
COMPLAINTS: tuple[Line, ...] = ("wheel is loose", "1", "grinds", "1", "")
STAND: tuple[Line, ...] = (
    "the blue bike",
    *COMPLAINTS,
    *GATE,
    *("1", "b", "2"),  # the axle is tight, or rather not
    *(("a", "set bearings"), "1", "", "1", "2"),  # done already, by nobody knows whom, days ago, no different
    *("2", "1", "1", "2"),  # a through axle; the fix is done; one complaint gone, the other not
    *(("n", "photo 7"), ("m", "ticking"), "1"),
    ("x", "2"),  # not reproduced
)
"""A job at the stand: two complaints, then a third, and one thing that is told after the other."""
COUNTER: tuple[Line, ...] = ("the blue bike", *COMPLAINTS, "1", "80", "commuting, Friday", "1")
"""A bike taken in, with a sum, a wish and old parts."""
NO_SUM: tuple[Line, ...] = ("", ("wheel is loose", "1"), "", *GATE, "", "", "2")
"""The same with Enter wherever it is an answer."""
AGAIN: tuple[Line, ...] = ("3", "1", "1")
"""A job that is over: the bike came back, by our own work; nothing catches the eye now."""


class Shown(NamedTuple):
    """A prompt: what was drawn last above the answers, the answers, and what Enter and "can't tell" mean."""

    asked: str
    answers: tuple[str, ...]
    enter: str
    cannot: bool


class Killed:
    """A command that is told lines and killed where it asks for one more."""

    def __init__(self, command: str, book: Path, store: Path) -> None:
        self.command, self.book, self.store = command, book, store
        self.case = ""

    def tell(self, script: Sequence[Line]) -> list[Shown | None]:
        """Tell these lines in a process; the prompts after each, None where it came to its end; it is killed then."""
        note = self.store.with_name("shown")
        note.unlink(missing_ok=True)
        chosen = ["--case", self.case] if self.case else [] if self.command == "intake" else ["--new"]
        child = os.fork()
        if not child:
            _told(script, [self.command, "--rules", str(self.book), "--store", str(self.store), *chosen], note)
        status = os.waitpid(child, 0)[1]
        with SqliteStore(self.store) as kept:
            self.case = kept.cases()[0].id if kept.cases() else ""
        ended = os.WIFEXITED(status)
        assert os.WEXITSTATUS(status) == 0 if ended else os.WTERMSIG(status) == signal.SIGKILL
        told = json.loads(note.read_text(encoding="utf-8"))
        shown = [Shown(asked, tuple(answers), enter, cannot) for asked, answers, enter, cannot in told]
        return [*shown[1:], *([None] if ended else [])] if script else list(shown)

    def standing(self) -> list[tuple[str, dict[str, Any]]]:
        """What counts of the job."""
        with SqliteStore(self.store) as kept:
            return [(one.kind, dict(one.data)) for one in events.standing(kept.events(self.case))]


def _told(script: Sequence[Line], words: list[str], note: Path) -> None:
    """In the forked process: run the command on these lines, and die at the prompt after the last. Never returns."""
    now: list[Any] = ["", (), "", False]
    shown: list[list[Any]] = []
    out, before = io.StringIO(), Prompt._draw

    def draw(self: Prompt, screen: Screen, keys: dict[str, int]) -> None:
        start = len(out.getvalue())
        screen.draw()
        told = [line.strip() for line in out.getvalue()[start:].splitlines() if line.strip()]
        now[:] = [told[-1] if told else "", screen.answers, screen.enter, screen.cannot]
        before(self, screen, keys)

    def line(self: PipedKeyboard) -> str:
        text, first = left.pop(0) if left else ("", True)
        if first:
            shown.append(list(now))
            note.write_text(json.dumps(shown), encoding="utf-8")
        if len(shown) > len(script):
            os.kill(os.getpid(), signal.SIGKILL)
        return text

    left = [(line, not place) for one in script for place, line in enumerate((one,) if isinstance(one, str) else one)]
    Prompt._draw = draw  # type: ignore[method-assign]
    PipedKeyboard._next = line  # type: ignore[method-assign]
    sys.stdout = out
    code = 3
    try:
        code = main(words)
    finally:
        os._exit(code)


@pytest.fixture
def book(tmp_path: Path) -> Path:
    """The small book, in which closing the axle takes a part."""
    book = Path(shutil.copytree(SMALL, tmp_path / "book"))
    path = book / "wheels" / "causes" / "axle-loose.yaml"
    text = path.read_text(encoding="utf-8")
    path.write_text(text.replace("    steps:", "    parts: {bearings: 1}\n    steps:", 1), encoding="utf-8")
    return book


def interrupted(killed: Killed, script: Sequence[Line]) -> list[Shown | None]:
    """The prompts of a job of which each process tells one thing."""
    return [shown for one in script for shown in killed.tell([one])]


@pytest.mark.parametrize(
    ("command", "script"),
    [("stand", STAND), ("intake", COUNTER), ("intake", NO_SUM)],
    ids=["stand", "counter", "counter-no-sum"],
)
def test_killed_at_every_prompt_a_job_goes_on_with_that_prompt(
    tmp_path: Path, book: Path, command: str, script: Sequence[Line]
) -> None:
    """No answer is lost, none is asked for twice, and the job is told as if nobody had interrupted it."""
    told, killed = (Killed(command, book, tmp_path / f"{name}.sqlite3") for name in ("told", "killed"))
    whole = told.tell(script)
    assert len(whole) == len(script)
    assert len(set(whole)) > len(script) // 2
    assert interrupted(killed, script) == whole
    assert killed.standing() == told.standing()


def test_a_comeback_is_kept_at_once_too(tmp_path: Path, book: Path) -> None:
    """That it came back is known before it is asked where from."""
    told, killed = (Killed("stand", book, tmp_path / f"{name}.sqlite3") for name in ("told", "killed"))
    told.tell(("", ("wheel is loose", "1"), "", "1", ("x", "2")))
    shutil.copy(told.store, killed.store)
    killed.case = told.case
    assert interrupted(killed, AGAIN) == told.tell(AGAIN)
    assert killed.standing() == told.standing()
    assert ("reopened", {"comeback": True, "origin": "own-work"}) in killed.standing()


def test_a_ticket_that_is_whole_asks_for_nothing_that_was_told(tmp_path: Path, book: Path) -> None:
    """Going on with it shows it, and asks only whether anything is to be changed."""
    killed = Killed("intake", book, tmp_path / "jobs.sqlite3")
    assert killed.tell(COUNTER)[-1] is None
    before = killed.standing()
    (shown,) = killed.tell([])
    assert shown
    assert shown.answers == wording.CHANGE
    assert killed.standing() == before
