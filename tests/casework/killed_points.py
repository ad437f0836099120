"""Kills a program at random points while it works on a store, and looks whether the store kept its promise.

`python -m tests.casework.killed_points [POINTS [SEED]]` does it at 500 points or as many as are asked for; a slice is
among the tests. At each point the program adds events, opens jobs, erases text, takes jobs from lines or makes a copy,
and is stopped with signal 9 after a time drawn by lot, most often within the first milliseconds of its work. Then: all
that it had acknowledged is there, at most one thing more, every event is whole, SQLite finds the file in order, a copy
is whole or not there, and the next program goes on.
"""

from __future__ import annotations

import json
import random
import shutil
import sqlite3
import sys
import time
from collections import Counter
from contextlib import closing
from pathlib import Path
from tempfile import TemporaryDirectory

from diagnose.casework import events
from diagnose.casework.store import SqliteStore
from tests.casework.test_store_processes import BOOK, pipe, working
from tests.casework.working_process import reading

WORK = ("write_on", "begin", "write_texts", "take_lines", "copy_again")


def kill_once(what: str, path: Path, case_id: str, lot: random.Random) -> list[str]:
    """Starts the work, kills it at a point drawn by lot, and returns what it had acknowledged by then."""
    given = {"begin": ["100000"], "copy_again": [str(path.with_name("copies"))]}.get(what, [case_id])
    if what == "take_lines":
        given = []
    with working(what, path, *given) as process:
        told = [pipe(process.stdout).readline() for _ in range(lot.choice([0, 1, 1, 2, 5, 9]))]
        time.sleep(lot.random() * (0.004 if told else 0.2))
        process.kill()
        told += pipe(process.stdout).readlines()
    return [line.strip() for line in told if line.endswith("\n")]


def look(path: Path, what: str, case_id: str, told: list[str], before: dict[str, int]) -> dict[str, int]:
    """Looks at the store after a death; returns case to number of events as they are now.

    Raises:
        AssertionError: something acknowledged is lost, or something half-written is seen.
    """
    with SqliteStore(path) as store:
        now = {}
        for job in store.cases(limit=1_000_000):
            case = store.events(job.id)
            assert [event.seq for event in case] == list(range(1, len(case) + 1))
            assert all(event.kind != "answer" or event.data == reading(event.seq) for event in case)
            texts = [event.data["text_ref"] for event in case if "text_ref" in event.data]
            assert all(store.text(ref) for ref in texts)
            now[job.id] = len(case)
        assert all(now[case] >= count for case, count in before.items())
        _acknowledged(what, case_id, told, before, now)
        assert store.examine().troubles == ()
    with closing(sqlite3.connect(path)) as db:
        assert db.execute("pragma integrity_check").fetchall() == [("ok",)]
    _copies(path.with_name("copies"), told if what == "copy_again" else [])
    return now


def _acknowledged(what: str, case_id: str, told: list[str], before: dict[str, int], now: dict[str, int]) -> None:
    new = set(now) - set(before)
    if what == "begin":
        assert set(told) <= new
        assert len(new) <= len(told) + 1
    elif what == "take_lines":
        assert set(told) <= set(now)
        assert len(new) <= len(told) + 1
    elif told and what != "copy_again":
        assert int(told[-1]) <= now[case_id] <= int(told[-1]) + 1


def _copies(folder: Path, told: list[str]) -> None:
    """Every copy that has its name is whole; those that were acknowledged are there."""
    names = {file.name for file in folder.glob("*.sqlite3")} if folder.is_dir() else set()
    assert set(told) <= names
    for name in names:
        with SqliteStore(folder / name) as copy:
            assert copy.examine().troubles == ()
    shutil.rmtree(folder, ignore_errors=True)


def run(points: int, seed: int, folder: Path) -> Counter[str]:
    """Kills at so many points; returns how often each work was killed, and how often before and after a first word."""
    lot = random.Random(seed)  # noqa: S311  moments, not secrets
    path = folder / "cases.sqlite3"
    with SqliteStore(path) as store:
        case_id = store.create(events.opened("mechanic", "mechanic").data, "Blue city bike", BOOK)
    counts: Counter[str] = Counter()
    now = {case_id: 1}
    for _ in range(points):
        what = lot.choice(WORK)
        told = kill_once(what, path, case_id, lot)
        now = look(path, what, case_id, told, now)
        counts[what] += 1
        counts["after something was acknowledged" if told else "before anything was"] += 1
        if len(now) > 60:
            path.unlink()
            for log in folder.glob("cases.sqlite3-*"):
                log.unlink()
            with SqliteStore(path) as store:
                case_id = store.create(events.opened("mechanic", "mechanic").data, "Blue city bike", BOOK)
            now = {case_id: 1}
    return counts


if __name__ == "__main__":
    asked = [int(word) for word in sys.argv[1:]]
    number, first = (*asked, *(500, 1)[len(asked) :])
    with TemporaryDirectory() as above:
        print(json.dumps(run(number, first, Path(above)), indent=1))
    print(f"{number} points: nothing acknowledged was lost, nothing half-written was seen")
