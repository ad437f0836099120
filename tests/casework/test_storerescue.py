"""Out of a damaged store comes what is whole, never anything that was not written, and in words what is missing."""

from __future__ import annotations

import random
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest

from diagnose.casework import events
from diagnose.casework.record import CaseRecord
from diagnose.casework.row import EventRow
from diagnose.casework.store import SqliteStore
from diagnose.casework.storerescue import Saved, rescue
from diagnose.errors import StoreError

BOOK = "bike-book@4f2a"
PAGE = 4096


def told(event_rows: tuple[EventRow, ...]) -> list[tuple[int, str, str]]:
    """What the events say, without the references of texts, which are the store's own."""
    return [(row.seq, row.kind, row.book) for row in event_rows]


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> tuple[bytes, dict[str, CaseRecord]]:
    """A store of some twenty pages: its bytes, and its cases."""
    path = tmp_path_factory.mktemp("whole") / "cases.sqlite3"
    with SqliteStore(path) as store:
        for number in range(24):
            case_id = store.create(events.opened("mechanic", "mechanic").data, f"bike {number}", BOOK)
            ref = store.add_text(case_id, f"note {number} " + "x" * 60)
            store.append(case_id, 2, *events.note(ref), BOOK)
            for seq in range(3, 15):
                reading = events.measured("gap", "rider", seq * number, "mm", "y" * seq)
                store.append(case_id, seq, *reading, BOOK)
        records = {record.id: record for record in store.records()}
    return path.read_bytes(), records


def saved_of(content: bytes) -> tuple[list[Saved], int]:
    """What is saved out of a file of these bytes, which stays as it is."""
    with TemporaryDirectory() as folder:
        path = Path(folder) / "cases.sqlite3"
        path.write_bytes(content)
        work = Path(folder) / "work"
        work.mkdir()
        with rescue(path, work) as found:
            cases, gone = list(found.cases()), found.gone
        assert path.read_bytes() == content
    return cases, gone


def check(saved: Saved, records: dict[str, CaseRecord]) -> None:
    """What was saved is the beginning of a case that was there."""
    if saved.record is None:
        return
    readings = [row.data for row in saved.record.rows if row.kind == "answer"]
    if saved.new_id:
        assert any(
            readings == [row.data for row in one.rows if row.kind == "answer"][: len(readings)]
            for one in records.values()
        )
        return
    was = records[saved.id]
    assert told(saved.record.rows) == told(was.rows[: len(saved.record.rows)])
    assert readings == [row.data for row in was.rows[: len(saved.record.rows)] if row.kind == "answer"]
    assert {text.text for text in saved.record.texts} <= {None, *(text.text for text in was.texts)}
    if saved.whole:
        assert saved.record == was


def test_out_of_a_sound_store_everything_is_saved(whole: tuple[bytes, dict[str, CaseRecord]]) -> None:
    """Nothing is lost where nothing is damaged, and the order of work stays."""
    content, records = whole
    cases, gone = saved_of(content)
    assert gone == 0
    assert [one.record for one in cases] == list(records.values())
    assert all(one.whole for one in cases)


def test_whichever_page_is_torn_the_rest_is_saved(whole: tuple[bytes, dict[str, CaseRecord]]) -> None:
    """One page of the file overwritten, each in turn: what it held is lost and said to be, all else is saved."""
    content, records = whole
    events_saved = []
    for at in range(0, len(content), PAGE):
        torn = content[:at] + random.Random(at).randbytes(PAGE) + content[at + PAGE :]  # noqa: S311
        cases, gone = saved_of(torn)
        for one in cases:
            check(one, records)
        kept = sum(len(one.record.rows) for one in cases if one.record)
        events_saved.append(kept)
        if kept < sum(len(one.rows) for one in records.values()):
            assert gone or any(not one.whole for one in cases), f"page {at // PAGE}: a loss is not told"
    everything = sum(len(one.rows) for one in records.values())
    assert sorted(events_saved)[len(events_saved) // 2] >= 0.8 * everything
    assert events_saved[0] == everything  # the first page names the tables; a new one stands in for it


def test_a_file_cut_off_gives_what_is_left(whole: tuple[bytes, dict[str, CaseRecord]]) -> None:
    """However short the file, what comes out of it was in it."""
    content, records = whole
    most = 0
    for at in range(0, len(content), 3 * PAGE + 777):
        cases, _ = saved_of(content[:at])
        for one in cases:
            check(one, records)
        most = max(most, sum(len(one.record.rows) for one in cases if one.record))
    assert most > 100


def test_scattered_damage_never_brings_up_what_was_not_written(whole: tuple[bytes, dict[str, CaseRecord]]) -> None:
    """Bytes changed here and there: each event that is saved is one that was written, or it is left out."""
    content, records = whole
    chance = random.Random(7)  # noqa: S311
    known = {(row.seq, row.kind) for one in records.values() for row in one.rows}
    for _ in range(15):
        spoiled = bytearray(content)
        for at in (chance.randrange(100, len(content)) for _ in range(12)):
            spoiled[at] ^= 1 << chance.randrange(8)
        cases, _ = saved_of(bytes(spoiled))
        assert len(cases) > 12
        for one in cases:
            assert one.record is None or {(row.seq, row.kind) for row in one.record.rows} <= known


@pytest.mark.parametrize("content", [b"", b"x", b"nothing like it " * 4_000, b"SQLite format 3\0" + b"\xff" * 40_000])
def test_out_of_something_else_comes_nothing(content: bytes) -> None:
    """A file that never was a store gives no jobs and no trouble."""
    assert saved_of(content)[0] == []


def test_what_was_saved_makes_a_store_again(whole: tuple[bytes, dict[str, CaseRecord]], tmp_path: Path) -> None:
    """The cases saved go into a new store and can be gone on with, those in part too."""
    content, _ = whole
    torn = bytearray(content)
    for page in range(6, len(content) // PAGE, 5):
        torn[page * PAGE : page * PAGE + 2_000] = b"\xaa" * 2_000
    cases, _ = saved_of(bytes(torn))
    assert any(not one.whole for one in cases)
    with SqliteStore(tmp_path / "new") as store:
        for one in cases:
            if one.record:
                assert store.take(one.record) == "new"
        for line in store.cases(limit=100):
            assert store.append(line.id, line.events + 1, *events.reopened(), BOOK).seq == line.events + 1


def test_a_file_that_is_not_there_is_said(tmp_path: Path) -> None:
    """Nothing to rescue is told as that."""
    for path in (tmp_path / "none", tmp_path):
        with pytest.raises(StoreError):
            rescue(path, tmp_path)
