"""What the tests of the stand share: the command run with piped answers on the small book, and its job afterwards."""

from __future__ import annotations

import io
import os
import re
import sys
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any

import pytest

from diagnose.book.shelf import load_book
from diagnose.casework import events
from diagnose.casework.desk import Desk
from diagnose.casework.store import SqliteStore
from diagnose.front.main import main
from diagnose.reason.reasoner import Reasoner

SMALL = Path(__file__).parent / "book"
JOB = re.compile(r"\b[a-z][a-z0-9]{3}-[0-9]{2}\b")


WOBBLES = ("", "wheel is loose", "1", "")
"""No label, the complaint in the rider's words, the first match, no more."""
SOUND = (*WOBBLES, "1")
"""The walk round the bike shows nothing."""
LOOSE_AXLE = (*WOBBLES, "3", "", "2", "2")
"""The axle is found loose and it is a through axle: closing it is the fix."""


class Stand:
    """`diagnose stand` with piped lines, over one store."""

    def __init__(self, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, store: Path) -> None:
        self.capsys = capsys
        self.monkeypatch = monkeypatch
        self.store = store
        self.code = 0
        self.out = self.err = ""
        self.case = ""

    def __call__(self, *lines: str, options: Iterable[str] = ("--new",), columns: int = 60) -> str:
        """Run it with these lines; returns what was printed. The first job number in it becomes `case`."""
        return self.piped("".join(f"{line}\n" for line in lines).encode("utf-8", "surrogateescape"), options, columns)

    def piped(self, sent: bytes, options: Iterable[str] = ("--new",), columns: int = 60) -> str:
        """Run it with these bytes on standard input."""
        self.monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(sent), encoding="utf-8"))
        self.monkeypatch.setenv("COLUMNS", str(columns))
        self.code = main(["stand", "--rules", str(SMALL), "--store", str(self.store), *options])
        captured = self.capsys.readouterr()
        self.out, self.err = captured.out, captured.err
        found = JOB.search(self.out)
        self.case = found[0] if found else self.case
        return self.out

    def resume(self, *lines: str, columns: int = 60) -> str:
        """Go on with the last job."""
        return self(*lines, options=("--case", self.case), columns=columns)

    def desk(self) -> Desk:
        """A desk over the same store."""
        return Desk(Reasoner(load_book(SMALL)), SqliteStore(self.store))

    def view(self, case: str = "") -> dict[str, Any]:
        """The View of the job as it stands."""
        return self.desk().view(case or self.case)

    def told(self) -> list[tuple[str, dict[str, Any]]]:
        """Kind and data of every event of the job, in order."""
        return [(one.kind, dict(one.data)) for one in self.desk().store.events(self.case)]

    def standing(self) -> list[tuple[str, dict[str, Any]]]:
        """Those that count, without the words for a complaint and that there are no more."""
        kept = events.standing(self.desk().store.events(self.case))
        return [
            (one.kind, dict(one.data)) for one in kept if one.kind != "no-more" and one.data.get("of") != "complaint"
        ]

    def hand_off(self) -> None:
        """Begin a job in which a fall has pitted the races: a hand-off before riding."""
        self("", "wobbles", "1", "", "2", "")
        self.desk().submit(self.case, events.answered("look-at-races", "mechanic", "pitted"))


@pytest.fixture
def stand(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Stand:
    """The command on the small book, with a store of its own."""
    return Stand(capsys, monkeypatch, tmp_path / "jobs.sqlite3")


@pytest.fixture
def golden() -> Callable[[str, str], None]:
    """Compares a text with a kept one; with DIAGNOSE_GOLDEN=write it is kept anew."""

    def compare(name: str, text: str) -> None:
        path = Path(__file__).parent / "golden" / f"{name}.txt"
        if os.environ.get("DIAGNOSE_GOLDEN") == "write":
            path.write_text(text, encoding="utf-8")
        assert text == path.read_text(encoding="utf-8")

    return compare
