"""The stand under a real terminal: single keys without Enter, what must not count as an answer, leaving, resizing."""

from __future__ import annotations

import os
import signal
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from diagnose.book.shelf import load_book
from diagnose.casework import events
from diagnose.casework.desk import Desk
from diagnose.casework.store import SqliteStore
from diagnose.front import wording
from diagnose.reason.reasoner import Reasoner
from tests.front.terminal import PATIENCE, UNHEARD, Terminal

pytestmark = pytest.mark.skipif(os.name != "posix", reason="pseudo terminals are a POSIX thing")

SMALL = str(Path(__file__).parent / "book")


@pytest.fixture
def store(tmp_path: Path) -> Path:
    """Where the jobs are kept."""
    return tmp_path / "jobs.sqlite3"


@pytest.fixture
def case(store: Path) -> str:
    """A job whose next question is: is the axle closed and tight?"""
    with SqliteStore(store) as kept:
        desk = Desk(Reasoner(load_book(Path(SMALL))), kept)
        case = desk.open("a label")
        desk.submit(case, events.complaint("wheel-wobbles"))
        desk.submit(case, events.profile("arrival", ["wheel-not-held"]))
    return case


@pytest.fixture
def at_question(store: Path, case: str) -> Iterator[Terminal]:
    """The job at its question, on a terminal."""
    with Terminal("stand", "--case", case, "--rules", SMALL, "--store", str(store)) as terminal:
        assert "is the axle closed and" in terminal.wait()
        yield terminal


def told(store: Path) -> list[tuple[str, dict[str, Any]]]:
    """Kind and data of every event of the one job."""
    with SqliteStore(store) as kept:
        (job,) = kept.cases()
        return [(one.kind, dict(one.data)) for one in kept.events(job.id)]


def test_one_key_answers_without_enter(at_question: Terminal, store: Path) -> None:
    """The key is not echoed; the answer's words are, and the next question follows."""
    shown = at_question.press(b"1")
    assert shown.startswith("closed and tight\n")
    assert told(store)[-1] == ("answer", {"check": "try-axle", "by": "mechanic", "value": "tight"})


NOTHING = (
    b"\x1b[A",
    b"\x1b",
    b"\x1bOP",
    b"\x1b[15~",
    b"\x1b[1;5C",
    b"\t",
    b"\x7f",
    b"\x13",
    b"z",
    b"9",
    b"\xc3\xa9",
    b"\xff",
)
"""Arrow, escape, function, control and foreign keys."""


def test_keys_that_mean_nothing_end_nothing(at_question: Terminal, store: Path) -> None:
    """Each says so and stores nothing; the right key works after them."""
    before = told(store)
    for keys in NOTHING:
        assert "That does nothing here" in at_question.press(keys)
    assert told(store) == before
    at_question.press(b"2")
    assert told(store)[-1][1]["value"] == "loose"


@pytest.mark.parametrize("enter", [b"\r", b"\n"])
def test_a_key_with_enter_behind_it_is_that_key(at_question: Terminal, store: Path, enter: bytes) -> None:
    """Who types Enter after the key answers once, also where a slow line brings both in one piece."""
    at_question.press(b"2" + enter)
    assert [data["value"] for kind, data in told(store) if kind == "answer"] == ["loose"]


def test_pasted_text_is_no_answer(at_question: Terminal, store: Path) -> None:
    """A paste that begins with an answer's key, with line ends in it, answers nothing."""
    before = told(store)
    shown = at_question.press(b"1\n2\n1\nqqq\n" + b"junk " * 40)
    assert "That does nothing here" in shown
    assert told(store) == before


def test_what_is_typed_before_a_screen_is_there_is_dropped(store: Path) -> None:
    """Keys typed while the program starts reach neither the label nor the complaint."""
    options = ("stand", "--new", "--rules", SMALL, "--store", str(store))
    with Terminal(*options, typed_before=b"1\n2\nq\nxyz\n") as terminal:
        assert "The label on the bike" in terminal.wait()
        assert wording.ASK_COMPLAINT in terminal.press(b"blue\n")
        terminal.end(b"q\n")
    with SqliteStore(store) as kept:
        assert [job.label for job in kept.cases()] == ["blue"]


def test_leaving_and_coming_back(at_question: Terminal, store: Path) -> None:
    """Leaving asks what is loose, ends with exit 0 and gives the terminal back as it was."""
    assert "loose or apart" in at_question.press(b"q")
    shown = at_question.end("Sattelstütze 🚲\n".encode())
    assert wording.LEFT.split(":")[0] in shown
    assert at_question.process.returncode == 0
    assert at_question.echoes()
    with SqliteStore(store) as kept:
        desk = Desk(Reasoner(load_book(Path(SMALL))), kept)
        assert desk.loose(kept.cases()[0].id) == "Sattelstütze 🚲"


def test_asked_to_end_the_terminal_is_given_back(at_question: Terminal, store: Path) -> None:
    """The signal to end (15) leaves the job kept, as Ctrl-C does."""
    before = told(store)
    at_question.process.send_signal(signal.SIGTERM)
    assert wording.LEFT in at_question.end()
    assert at_question.process.returncode == 0
    assert at_question.echoes()
    assert told(store) == before


@pytest.mark.parametrize("keys", [b"\x04", b"\x03"])
def test_ctrl_d_and_ctrl_c_leave_the_job_kept(at_question: Terminal, store: Path, keys: bytes) -> None:
    """Both end with exit 0, say how to go on, lose nothing, and give the terminal back."""
    before = told(store)
    shown = at_question.end(keys)
    assert "diagnose stand --case" in shown
    assert "Traceback" not in shown
    assert at_question.process.returncode == 0
    assert at_question.echoes()
    assert told(store) == before


def test_ctrl_c_is_heard_when_it_breaks_off_no_reading(store: Path, tmp_path: Path) -> None:
    """A signal just before the program waits, or one that another thread takes, is heard without a key more."""
    sign = tmp_path / "now"
    words = ("stand", "--rules", SMALL, "--store", str(store))
    with Terminal(*words, str(sign), command=UNHEARD) as terminal:
        terminal.wait()
        sign.touch()
        terminal.end()
        assert terminal.process.returncode == 0
        assert terminal.echoes()


def test_ctrl_d_and_ctrl_c_at_a_line(at_question: Terminal, store: Path) -> None:
    """While words are typed, Ctrl-C leaves what was told kept."""
    at_question.press(b"m")
    shown = at_question.end(b"\x03")
    assert at_question.process.returncode == 0
    assert "Traceback" not in shown
    with Terminal("stand", "--rules", SMALL, "--store", str(store)) as again:
        assert wording.OPEN_JOBS in again.wait()
        again.press(b"1")
        again.press(b"m")
        again.end(b"\x04")
        assert again.process.returncode == 0


def test_a_look_elsewhere_waits_and_comes_back(at_question: Terminal) -> None:
    """Why, likely and plan follow each other by one key each; any other key brings the question back."""
    assert wording.GO_ON in at_question.press(b"w")
    assert "of 100 such bikes" in at_question.press(b"l")
    assert wording.PLAN in at_question.press(b"p")
    assert "is the axle closed and" in at_question.press(b"1")
    at_question.press(b"w")
    assert "is the axle closed and" in at_question.press(b"\r")


def test_a_new_size_is_used_at_once(at_question: Terminal) -> None:
    """After the window was made narrower, what is shown next fits it."""
    at_question.resize(40, 40)
    shown = at_question.press(b"\r")
    assert "is the axle closed" in shown
    assert max(map(len, shown.splitlines())) <= 40


def test_a_screen_that_is_full_waits(store: Path, case: str) -> None:
    """On 12 lines a fix stops where the screen is full; any key goes on; nothing of it is lost."""
    with Terminal("stand", "--case", case, "--rules", SMALL, "--store", str(store), lines=12) as terminal:
        terminal.wait()
        terminal.press(b"2")
        shown = terminal.press(b"2")
        while shown.endswith(f"{wording.MORE} > "):
            assert len(shown.splitlines()) <= 12
            shown = terminal.press(b" ")
        assert wording.MORE in terminal.shown
        told_all = " ".join(terminal.shown.split())
        for words in ("FIX: Close the axle", "1. Stand the bike", "REPEAT TEST", wording.DONE_GONE):
            assert words in told_all


def test_stopped_and_continued(at_question: Terminal, store: Path) -> None:
    """After Ctrl-Z and going on, with a terminal that the shell has set back, single keys work still."""
    import termios

    mode = termios.tcgetattr(at_question.slave)
    mode[3] |= termios.ECHO | termios.ICANON
    at_question.process.send_signal(signal.SIGSTOP)
    termios.tcsetattr(at_question.slave, termios.TCSANOW, mode)
    at_question.process.send_signal(signal.SIGCONT)
    while at_question.echoes():
        os.sched_yield()
    at_question.press(b"1")
    assert told(store)[-1][1]["value"] == "tight"


@pytest.mark.parametrize("environ", [{"LC_ALL": "C"}, {"LANG": "C"}, {"PYTHONIOENCODING": "ascii"}])
def test_without_unicode(store: Path, environ: dict[str, str]) -> None:
    """With the C locale or an ASCII output every byte is ASCII, and a job goes through."""
    options = ("stand", "--new", "--rules", SMALL, "--store", str(store))
    with Terminal(*options, environ=environ) as terminal:
        terminal.wait()
        for keys in ("Müller\n".encode(), b"loose\n", b"1", b"\n", b"3", b"\r", b"2", b"2"):
            terminal.press(keys)
        program = terminal.shown.replace("Müller", "")  # the terminal's own echo
        assert program.isascii()
        assert "5 to 6 N.m" not in program
        assert "8 to 15 N.m (71 to 133 lbf.in)" in program


def test_hanging_up_loses_nothing(at_question: Terminal, store: Path) -> None:
    """A terminal that goes away ends the program; what was told is there."""
    before = told(store)
    at_question.process.send_signal(signal.SIGHUP)
    at_question.process.wait(PATIENCE)
    assert told(store) == before
