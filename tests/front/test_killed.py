"""Killed at any event of a job and gone on with, the job ends as if it had never been interrupted."""

from __future__ import annotations

import signal
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from diagnose.book.shelf import load_book
from diagnose.casework.desk import Desk
from diagnose.casework.store import SqliteStore
from diagnose.reason.reasoner import Reasoner

HERE = Path(__file__).parent
SMALL = HERE / "book"
JOB: tuple[str, ...] = (
    "the blue bike",  # the label opens the job
    *("wheel is loose", "1", "grinds", "1", ""),  # two complaints, no more
    *("2", "3", ""),  # two things catch the eye
    *("w", "1"),  # why this; the axle is tight
    *("b", "2"),  # back; it is loose
    *("a", "set bearings", "1", "", "1", "2", "l"),  # that was done already; what is likely now
    *("2", "1", "1", "2"),  # a through axle; the fix is done: one complaint gone, the other not
)
"""A job of one key a line, with going back, a fact of several values and two complaints in it."""


def work(store: Path, lines: tuple[str, ...], job: str = "new", when: str = "after", count: int = 0) -> list[int]:
    """Work on a job with these lines; returns how many were read when each event of this run was stored."""
    note = store.with_name("note")
    note.unlink(missing_ok=True)
    words = [str(SMALL), str(store), job, when, str(count), str(note)]
    done = subprocess.run(
        [sys.executable, "-m", "tests.front.killed_process", *words],
        cwd=HERE.parent.parent,
        input="".join(f"{line}\n" for line in lines),
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == (-signal.SIGKILL if count else 0), done.stderr
    assert not done.stderr
    return [int(line) for line in note.read_text(encoding="ascii").split()] if note.exists() else []


def seen(store: Path) -> tuple[str, int, dict[str, Any]]:
    """The job's number, how many events it has, and its View."""
    with SqliteStore(store) as kept:
        desk = Desk(Reasoner(load_book(SMALL)), kept)
        (job,) = kept.cases()
        return job.id, job.events, desk.view(job.id, with_why=True)


@pytest.fixture(scope="module")
def uninterrupted(tmp_path_factory: pytest.TempPathFactory) -> tuple[int, dict[str, Any]]:
    """How many events the job has when nobody interrupts it, and its View."""
    store = tmp_path_factory.mktemp("whole") / "jobs.sqlite3"
    work(store, JOB)
    _, events, view = seen(store)
    return events, view


def test_the_job_is_one_that_tells_something(uninterrupted: tuple[int, dict[str, Any]]) -> None:
    """It has complaints, facts, an answer taken back, something done before, and a fix with two results."""
    events, view = uninterrupted
    assert events == 21
    assert [one["gone"] for one in view["complaints"]] == [True, False]
    assert view["profile"]["arrival"] == ["crash", "wheel-not-held"]


@pytest.mark.parametrize("when", ["after", "before"])
def test_killed_at_every_event_the_job_ends_as_if_it_was_not(
    tmp_path: Path, uninterrupted: tuple[int, dict[str, Any]], when: str
) -> None:
    """One process an event: each is killed with signal 9 at its first event, and the next goes on.

    Killed after an event was stored, the lines after it are typed; killed before, those of that event once more. The
    View at the end is that of the job nobody interrupted.
    """
    events, whole = uninterrupted
    store = tmp_path / "jobs.sqlite3"
    read = work(store, JOB[:1])  # opens the job, and ends at the end of its lines
    assert read == []
    left = JOB[1:]
    for _ in range(events - 1):
        job, _, _ = seen(store)
        if when == "before":
            work(store, left, job, "before", 1)
        (used,) = work(store, left, job, "after", 1)
        left = left[used:]
    job, count, view = seen(store)
    assert count == events
    assert {**view, "events": 0} == {**whole, "events": 0}
    work(store, left, job)
    assert seen(store) == (job, count, view)


COUNTER: tuple[str, ...] = ("the blue bike", "wheel is loose", "1", "grinds", "1", "", "1", "80")
"""A bike taken in: two complaints, nothing catches the eye, a sum is agreed."""


@pytest.mark.parametrize("when", ["before", "after"])
@pytest.mark.parametrize("count", [1, 2, 3, 4, 6])
def test_killed_at_the_counter(tmp_path: Path, when: str, count: int) -> None:
    """What was told is kept, and the counter goes on with what comes next."""
    store = tmp_path / "jobs.sqlite3"
    read = work(store, COUNTER, "intake:new", when, count)
    case, kept, _ = seen(store)
    assert kept == 1 + count - (when == "before")
    told = read[-1] if read else 1
    if when == "after":
        work(store, COUNTER[told:], f"intake:{case}")
        with SqliteStore(store) as again:
            desk = Desk(Reasoner(load_book(SMALL)), again)
            folded = desk.folded(case)
        assert folded.situation.complaints == ("wheel-wobbles", "wheel-grinds")
        assert folded.situation.profile["arrival"] == ("nothing",)
        assert folded.agreed == 80
