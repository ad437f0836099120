"""Several programs on one file, and programs that die: nothing that was acknowledged is lost, nothing is half there."""

from __future__ import annotations

import os
import random
import runpy
import sqlite3
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import IO

import pytest

from diagnose.casework import events
from diagnose.casework import store as store_module
from diagnose.casework.store import SqliteStore

BOOK = "bike-book@4f2a"
SCRIPT = Path(__file__).with_name("working_process.py")
ABOVE = Path(store_module.__file__).parents[2]

posix_only = pytest.mark.skipif(os.name != "posix", reason="needs rights and limits as POSIX has them")


@contextmanager
def working(what: str, *given: object) -> Iterator[subprocess.Popen[str]]:
    """A process doing `what`; it is dead afterwards."""
    command = [sys.executable, str(SCRIPT), what, *map(str, given)]
    environ = {**os.environ, "PYTHONPATH": str(ABOVE)}
    with subprocess.Popen(
        command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, env=environ
    ) as process:
        try:
            yield process
        finally:
            process.kill()


def pipe(stream: IO[str] | None) -> IO[str]:
    """The stream, which is there because it was asked for."""
    if stream is None:
        raise TypeError
    return stream


def lines_of(process: subprocess.Popen[str]) -> list[str]:
    """All that the process still says; it must end well."""
    said, complaints = process.communicate()
    assert process.returncode == 0, complaints
    return said.split()


def a_case(path: Path) -> str:
    """A new case in a store at `path`."""
    with SqliteStore(path) as store:
        return store.create(events.opened("mechanic", "mechanic").data, "Blue city bike", BOOK)


def test_of_two_who_write_the_same_event_one_wins(tmp_path: Path) -> None:
    """Two processes try each number; each time one stores its event, and the other is told of the conflict."""
    path = tmp_path / "cases.sqlite3"
    case_id = a_case(path)
    winners = []
    with working("take_turns", path, case_id, "one") as one, working("take_turns", path, case_id, "other") as other:
        for seq in range(2, 42):
            for process in (one, other):
                pipe(process.stdin).write(f"{seq}\n")
                pipe(process.stdin).flush()
            said = [pipe(process.stdout).readline().strip() for process in (one, other)]
            assert sorted(said) == ["store.conflict", "won"]
            winners.append("one" if said[0] == "won" else "other")
    with SqliteStore(path) as store:
        assert [event.data["value"] for event in store.events(case_id)[1:]] == winners


def test_two_who_hurry_lose_nothing(tmp_path: Path) -> None:
    """Two processes append as fast as they can to one case; every event that either was told of is there, once."""
    path = tmp_path / "cases.sqlite3"
    case_id = a_case(path)
    with working("hurry", path, case_id, "one", 60) as one, working("hurry", path, case_id, "other", 60) as other:
        told = {int(seq): "one" for seq in lines_of(one)}
        told_other = {int(seq): "other" for seq in lines_of(other)}
    assert not told.keys() & told_other.keys()
    with SqliteStore(path) as store:
        case = store.events(case_id)
    assert {event.seq: event.data["value"] for event in case[1:]} == told | told_other
    assert len(case) == 121


def test_several_may_open_a_new_store_at_once(tmp_path: Path) -> None:
    """Processes that all find no store yet agree on one, and every case that was opened is in it."""
    for round_ in range(4):
        path = tmp_path / str(round_) / "deep" / "cases.sqlite3"
        with working("begin", path, 5) as a, working("begin", path, 5) as b, working("begin", path, 5) as c:
            opened = [*lines_of(a), *lines_of(b), *lines_of(c)]
        with SqliteStore(path) as store:
            assert {summary.id for summary in store.cases()} == set(opened)
            assert len(set(opened)) == 15


def check_after_a_death(path: Path, case_id: str, acknowledged: int) -> int:
    """Opens the store of a process that died: what it acknowledged is there, whole, and at most one event more."""
    reading = runpy.run_path(str(SCRIPT))["reading"]
    with SqliteStore(path) as store:
        case = store.events(case_id)
        assert acknowledged <= case[-1].seq <= acknowledged + 1
        assert [event.seq for event in case] == list(range(1, case[-1].seq + 1))
        assert all(event.data == reading(event.seq) for event in case[1:])
        assert store.cases()[0].label == "Blue city bike"
    check_file(path)
    return case[-1].seq


def check_file(path: Path) -> None:
    """SQLite itself finds the file in order."""
    with closing(sqlite3.connect(path)) as db:
        assert db.execute("pragma integrity_check").fetchall() == [("ok",)]


def test_a_killed_writer_leaves_what_it_acknowledged(tmp_path: Path) -> None:
    """Killed at 48 points, at its start and while it writes, the writer never loses an event nor leaves half a one."""
    path = tmp_path / "cases.sqlite3"
    case_id = a_case(path)
    chance = random.Random(48)  # noqa: S311  moments, not secrets
    stored = 1
    for _ in range(48):
        told_before = chance.choice([0, 1, 2, 5, 9])
        with working("write_on", path, case_id) as process:
            told = [pipe(process.stdout).readline() for _ in range(told_before)]
            time.sleep(chance.random() * (0.003 if told else 0.15))
            process.kill()
            told += pipe(process.stdout).readlines()
        stored = check_after_a_death(path, case_id, int(told[-1]) if told else stored)
    assert stored > 48


def test_a_writer_killed_over_a_new_store_leaves_one_that_works(tmp_path: Path) -> None:
    """Killed while the file is being made or the first cases are opened, the writer leaves a store that can be used."""
    chance = random.Random(12)  # noqa: S311
    for point in range(12):
        path = tmp_path / str(point) / "cases.sqlite3"
        with working("begin", path, 1_000) as process:
            told = [pipe(process.stdout).readline() for _ in range(point % 3)]
            time.sleep(chance.random() * (0.003 if told else 0.15))
            process.kill()
            told += pipe(process.stdout).readlines()
        with SqliteStore(path) as store:
            listed = {summary.id for summary in store.cases(limit=2_000)}
            assert {line.strip() for line in told} <= listed
            assert len(listed) <= len(told) + 1
            assert all(len(store.events(case_id)) == 1 for case_id in listed)
            store.create(events.opened("rider", "rider").data, "one more", BOOK)
        check_file(path)


def test_a_log_cut_off_anywhere_gives_what_came_before(tmp_path: Path) -> None:
    """A log of which only a part reached the disk, or the end of which is garbled, gives the earlier events."""
    path = tmp_path / "cases.sqlite3"
    case_id = a_case(path)
    with SqliteStore(path) as store:
        for seq in range(2, 12):
            store.append(case_id, seq, *events.answered("rock", "mechanic", f"v{seq}"), BOOK)
        file, log = path.read_bytes(), path.with_name("cases.sqlite3-wal").read_bytes()
    found = set()
    chance = random.Random(60)  # noqa: S311
    for number in range(60):
        cut = chance.randrange(len(log) + 1)
        part = log[:cut] if number % 2 else log[:cut] + chance.randbytes(len(log) - cut)
        copy = tmp_path / f"copy{number}"
        copy.write_bytes(file)
        copy.with_name(f"copy{number}-wal").write_bytes(part)
        with SqliteStore(copy) as store:
            case = store.events(case_id)
            assert [event.data["value"] for event in case[1:]] == [f"v{seq}" for seq in range(2, len(case) + 1)]
            found.add(len(case))
            assert store.append(case_id, len(case) + 1, *events.reopened(), BOOK).seq == len(case) + 1
    assert len(found) > 5


@posix_only
@pytest.mark.parametrize("room", [0, 9_000, 40_000, 70_000, 200_000])
def test_a_full_disk_costs_only_the_event_that_did_not_fit(tmp_path: Path, room: int) -> None:
    """With no room to grow, the writer is told so; what was stored stays, and with room again the case goes on."""
    path = tmp_path / "cases.sqlite3"
    case_id = a_case(path)
    with working("write_until_full", path, case_id, room) as process:
        *told, refusal = lines_of(process)
    assert refusal in {"store.full", "store.disk"}
    stored = check_after_a_death(path, case_id, int(told[-1]) if told else 1)
    assert stored == len(told) + 1
    with SqliteStore(path) as store:
        assert store.append(case_id, stored + 1, *events.reopened(), BOOK).seq == stored + 1


@posix_only
@pytest.mark.parametrize(
    ("folder_mode", "file_mode", "codes"),
    [
        (0o777, 0o444, {"store.read-only"}),
        (0o555, 0o444, {"store.read-only", "store.rights"}),
        (0o777, 0o000, {"store.rights"}),
        (0o700, 0o600, {"store.rights"}),
    ],
)
def test_without_the_right_to_write_nothing_changes(folder_mode: int, file_mode: int, codes: set[str]) -> None:
    """A file or folder that may not be written or read is told apart from a fault, and stays as it was."""
    with TemporaryDirectory() as above:
        Path(above).chmod(0o755)
        path = Path(above) / "shop" / "cases.sqlite3"
        case_id = a_case(path)
        before = path.read_bytes()
        path.chmod(file_mode)
        path.parent.chmod(folder_mode)
        with working("write_without_rights", path, case_id) as process:
            assert set(lines_of(process)) <= codes
        path.parent.chmod(0o700)
        path.chmod(0o600)
        assert path.read_bytes() == before


@posix_only
def test_a_folder_that_may_not_be_made_is_said(tmp_path: Path) -> None:
    """Where the folder cannot be created, the refusal speaks of the right to do so."""
    with TemporaryDirectory() as above:
        Path(above).chmod(0o555)
        with working("write_without_rights", Path(above) / "new" / "cases.sqlite3", "b7k2-21") as process:
            assert lines_of(process) == ["store.rights"]
        assert list(Path(above).iterdir()) == []
        Path(above).chmod(0o700)
