"""Keys pressed at random: nothing is ever raised, every job stays whole, and it can be gone on with."""

from __future__ import annotations

import io
import json
import random
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from diagnose.book.shelf import load_book
from diagnose.casework import events
from diagnose.casework.desk import Desk
from diagnose.casework.memory import MemoryStore
from diagnose.front.job import Job
from diagnose.front.keys import EndOfInput
from diagnose.front.paper import Paper
from diagnose.reason.reasoner import Reasoner

SMALL = Path(__file__).parent / "book"
KEYS = (*"1 1 1 2 2 3 4 5 6 7 8 9 0 b b c c w l p a m x h q z".split(), "", "", "\ufffd")
LINES = (
    "wheel",
    "wobbles",
    "grinds and ticks",
    "bearings",
    "7.5 mm",
    "9",
    "1/4 in",
    "300",
    "-",
    "1",
    "2",
    "b",
    "c",
    "a",
    "m",
    "x",
    "q",
    "",
    "[bold]{0}%s\x1b[31m",
    "💥" * 50,
    "\udcff",
)


class Mashed:
    """A keyboard whose keys come from a list, on a terminal of single keys or from a pipe."""

    def __init__(self, pressed: list[str], typed: list[str], single: bool) -> None:
        self.single = single
        self._pressed = pressed
        self._typed = typed

    def key(self) -> str:
        """The next key."""
        return self._next(self._pressed)

    def line(self) -> str:
        """The next line."""
        return self._next(self._typed)

    def _next(self, left: list[str]) -> str:
        if not left:
            raise EndOfInput
        return left.pop()

    def __enter__(self) -> Mashed:
        return self

    def __exit__(self, *_: object) -> None:
        pass


@pytest.fixture(scope="module")
def reasoner() -> Reasoner:
    """The small book; one step deep, since no choice is judged here."""
    return Reasoner(load_book(SMALL, cache=False), depth=1)


def mash(desk: Desk, case: str, keys: Mashed) -> str:
    """Work on a job until the keys are used up, coming back whenever it was left or ended; returns what was shown."""
    out = io.StringIO()
    paper = Paper(out, width=60)
    while keys._pressed and keys._typed:
        Job(desk, paper, keys, case).run()
    return out.getvalue()


def check_whole(desk: Desk, case: str) -> None:
    """The job's events stand in order, its View can be made and written, and a fold of all events gives it again."""
    stored = desk.store.events(case)
    assert [one.seq for one in stored] == list(range(1, len(stored) + 1))
    view = desk.view(case, with_why=True, with_estimate=True) if desk.folded(case).situation.complaints else None
    json.dumps(view, allow_nan=False)
    again = Desk(desk.reasoner, MemoryStore())
    copy = again.open()
    for event in events.standing(stored)[1:]:
        if event.kind not in ("loose", "note") and event.data.get("text_ref") is None:
            again.submit(copy, events.Draft(event.kind, event.data))
    assert again.folded(copy).situation == desk.folded(case).situation


@settings(max_examples=25)
@given(
    pressed=st.lists(st.sampled_from(KEYS), max_size=80),
    typed=st.lists(st.one_of(st.sampled_from(LINES), st.text(max_size=40)), max_size=40),
    single=st.booleans(),
)
def test_any_keys_leave_a_whole_job(reasoner: Reasoner, pressed: list[str], typed: list[str], single: bool) -> None:
    """Whatever is pressed and typed, nothing is raised and nothing is broken."""
    desk = Desk(reasoner, MemoryStore())
    case = desk.open()
    shown = mash(desk, case, Mashed(pressed, typed, single))
    assert not set(shown) & set("\x1b\x07")
    check_whole(desk, case)


@pytest.mark.parametrize("seed", range(4))
def test_hundreds_of_keys(reasoner: Reasoner, seed: int) -> None:
    """Five hundred keys at random on one job, after a sound beginning."""
    chance = random.Random(seed)  # noqa: S311 - no secret hangs on it
    desk = Desk(reasoner, MemoryStore())
    case = desk.open()
    desk.submit(case, events.complaint("wheel-wobbles"))
    pressed = [chance.choice(KEYS) for _ in range(500)]
    typed = [chance.choice(LINES) for _ in range(500)]
    mash(desk, case, Mashed(pressed, typed, single=seed % 2 == 0))
    kinds = {one.kind for one in desk.store.events(case)}
    assert {"complaint", "profile", "answer", "undo"} <= kinds
    check_whole(desk, case)
