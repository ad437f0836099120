"""Whole cases out of a store and into another, as JSON Lines; and copies of the store while it is in use."""

from __future__ import annotations

import json
import sqlite3
import threading
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest

from diagnose.casework import events
from diagnose.casework.record import CaseRecord
from diagnose.casework.store import SqliteStore
from diagnose.errors import DiagnoseError, InputError, StoreError

BOOK = "bike-book@4f2a"
OPENED = events.opened("mechanic", "mechanic").data


@pytest.fixture
def store(tmp_path: Path) -> Iterator[SqliteStore]:
    """A store of two cases, the first with a label, a note, and what is loose."""
    with SqliteStore(tmp_path / "cases.sqlite3") as store:
        other = store.create(OPENED, "", BOOK)
        one = store.create(OPENED, "Rack 7, <b>blue</b>", BOOK)
        store.append(other, 2, *events.note(store.add_text(other, "first in the store")), BOOK)
        store.append(one, 2, *events.complaint("front-knock"), BOOK)
        store.append(one, 3, *events.loose(store.add_text(one, "front wheel\naxle in the drawer 🚲")), BOOK)
        store.append(one, 4, *events.measured("gap", "mechanic", 2.5, "mm", "2.5 mm"), BOOK)
        yield store


def lines_of(store: SqliteStore) -> list[str]:
    """Every case as a line."""
    return [record.to_line() for record in store.records()]


def test_a_case_comes_through_a_line_whole(store: SqliteStore, tmp_path: Path) -> None:
    """Number, texts, events with their times and books: in the new store all is as it was, and so is its own line."""
    lines = lines_of(store)
    assert all("\n" not in line and line.isascii() for line in lines)
    with SqliteStore(tmp_path / "other") as other:
        other.create(OPENED, "somebody else", BOOK)  # so that numbers of texts differ
        assert [other.take(CaseRecord.read_line(line)) for line in lines] == ["new", "new"]
        assert lines_of(other)[1:] == lines
        for summary in store.cases():
            listed = next(one for one in other.cases() if one.id == summary.id)
            assert listed == summary
        assert [one.id for one in other.cases("drawer knock")] == [store.cases()[0].id]
        assert other.cases()[0].id == store.cases()[0].id  # the order of work too


def test_taking_a_case_again_changes_nothing(store: SqliteStore) -> None:
    """What is there is known, also where only the beginning comes."""
    before = lines_of(store)
    for line in before:
        record = CaseRecord.read_line(line)
        assert store.take(record) == "known"
        assert store.take(record._replace(rows=record.rows[:1])) == "known"
    assert lines_of(store) == before


def test_a_case_that_went_on_elsewhere_goes_on_here(store: SqliteStore, tmp_path: Path) -> None:
    """Only the new events come, with the texts that they name."""
    case_id = store.cases()[0].id
    with SqliteStore(tmp_path / "other") as other:
        other.take_all(store.records())
        other.append(case_id, 5, *events.note(other.add_text(case_id, "done tomorrow")), BOOK)
        (record,) = other.records([case_id])
        assert store.take(record) == "longer"
        assert store.events(case_id)[-1].kind == "note"
        assert store.text(store.events(case_id)[-1].data["text_ref"]) == "done tomorrow"
        assert [one.to_line() for one in store.records([case_id])] == [record.to_line()]


def test_a_case_that_tells_something_else_is_refused(store: SqliteStore, tmp_path: Path) -> None:
    """Two histories under one number are not mixed; nothing of the whole lot is taken."""
    case_id = store.cases()[0].id
    with SqliteStore(tmp_path / "other") as other:
        other.take_all(store.records())
        other.append(case_id, 5, *events.complaint("brake-rubs"), BOOK)
        new = other.create(OPENED, "new", BOOK)
        store.append(case_id, 5, *events.complaint("no-drive"), BOOK)
        before = lines_of(store)
        with pytest.raises(InputError) as why:
            store.take_all(other.records([new, case_id]))
        assert why.value.code == "jobs.differs"
        assert lines_of(store) == before


def test_erased_text_stays_erased(store: SqliteStore, tmp_path: Path) -> None:
    """A line of a case whose text was erased holds none, and taking an older line brings none back."""
    case_id = store.cases()[0].id
    (old,) = store.records([case_id])
    store.erase_text(case_id)
    (line,) = [record.to_line() for record in store.records([case_id])]
    assert "drawer" not in line
    assert "Rack" not in line
    assert store.take(old) == "known"
    assert store.cases()[0].label is None
    with SqliteStore(tmp_path / "other") as other:
        other.take(CaseRecord.read_line(line))
        assert other.events(case_id)[2].kind == "loose"
        assert other.text(other.events(case_id)[2].data["text_ref"]) is None


def changed(line: str, *path: str | int, to: Any) -> str:
    """The line with one value changed."""
    told = json.loads(line)
    place = told
    for key in path[:-1]:
        place = place[key]
    place[path[-1]] = to
    return json.dumps(told)


SPOILED: list[tuple[tuple[str | int, ...], Any]] = [
    (("diagnose",), 2),
    (("diagnose",), "1"),
    (("case",), "b7k2-22"),
    (("case",), ["b7k2-21"]),
    (("case",), "'; drop table cases; --"),
    (("texts",), {}),
    (("texts", 0, "use"), "name"),
    (("texts", 0, "text"), 7),
    (("texts", 0, "text"), ""),
    (("texts", 0, "text"), "x" * 3_000),
    (("texts",), []),
    (("events",), []),
    (("events", 1), None),
    (("events", 1, "seq"), 1),
    (("events", 1, "seq"), True),
    (("events", 1, "kind"), "opened"),
    (("events", 1, "kind"), "party"),
    (("events", 1, "data"), {"id": "../x"}),
    (("events", 1, "data"), "id"),
    (("events", 1, "schema"), 99),
    (("events", 1, "schema"), "2"),
    (("events", 1, "at"), "\u202enow"),
    (("events", 1, "at"), "x" * 50),
    (("events", 1, "book"), "two words"),
    (("events", 1, "more"), 1),
    (("more",), 1),
]


@pytest.mark.parametrize(("path", "to"), SPOILED, ids=[".".join(map(str, path)) for path, _ in SPOILED])
def test_a_line_that_was_changed_is_refused(store: SqliteStore, path: tuple[str | int, ...], to: Any) -> None:
    """Whatever does not fit is refused in words, and nothing is taken."""
    case_id = store.cases()[0].id
    (line,) = [record.to_line() for record in store.records([case_id])]
    with pytest.raises(DiagnoseError) as why:
        CaseRecord.read_line(changed(line, *path, to=to))
    assert why.value.hint


@pytest.mark.parametrize("line", ["", "x", "[]", "{}", "1", '"case"', "[" * 100_000, b"\xff\xfe", '{"diagnose": NaN}'])
def test_what_is_no_line_is_refused(line: str | bytes) -> None:
    """Rubbish is said to be no job."""
    with pytest.raises(DiagnoseError):
        CaseRecord.read_line(line)


# Backup


def test_a_copy_holds_all_and_is_one_file(store: SqliteStore, tmp_path: Path) -> None:
    """The copy is a store like the first, without a log beside it, its owner's alone."""
    target = tmp_path / "copies" / "monday.sqlite3"
    assert store.back_up(target) == target.stat().st_size
    assert [path.name for path in target.parent.iterdir()] == ["monday.sqlite3"]
    assert target.stat().st_mode & 0o077 == 0
    with SqliteStore(target) as copy:
        assert lines_of(copy) == lines_of(store)


def test_a_copy_is_never_made_over_another_file(store: SqliteStore, tmp_path: Path) -> None:
    """What is there stays as it is."""
    target = tmp_path / "there"
    target.write_bytes(b"mine")
    for place, code in ((target, "store.exists"), (store.path, "store.exists"), (tmp_path, "store.is-folder")):
        with pytest.raises(StoreError) as why:
            store.back_up(place)
        assert why.value.code == code
    assert target.read_bytes() == b"mine"
    assert not list(tmp_path.glob(".*.part"))


def test_of_nothing_no_copy_is_made(tmp_path: Path) -> None:
    """A store that is not there is said not to be there, and is not made."""
    with SqliteStore(tmp_path / "none") as store, pytest.raises(StoreError) as why:
        store.back_up(tmp_path / "copy")
    assert why.value.code == "store.none"
    assert list(tmp_path.iterdir()) == [tmp_path / "home"]


def test_copies_made_while_others_write_are_each_whole(store: SqliteStore, tmp_path: Path) -> None:
    """Each copy is the store as it was at one moment: no case is half there, no event without the one before it."""
    case_id = store.cases()[0].id
    stop = threading.Event()

    def write() -> None:
        with SqliteStore(store.path, wait=60) as other:
            seq = len(other.events(case_id))
            while not stop.is_set():
                seq += 1
                other.append(case_id, seq, *events.measured("gap", "rider", seq, "mm", "x" * 50), BOOK)

    writer = threading.Thread(target=write)
    writer.start()
    try:
        counts = []
        for number in range(8):
            target = tmp_path / f"copy{number}"
            store.back_up(target)
            with closing(sqlite3.connect(target)) as db:
                assert db.execute("pragma integrity_check").fetchall() == [("ok",)]
            with SqliteStore(target) as copy:
                counts.append(len(copy.events(case_id)))
    finally:
        stop.set()
        writer.join()
    assert counts == sorted(counts)
    assert len(store.events(case_id)) >= counts[-1] > 4
