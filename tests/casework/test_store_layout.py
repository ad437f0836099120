"""A store of an older layout is brought up to date in one go, and nothing of it is lost."""

from __future__ import annotations

import sqlite3
from contextlib import closing, suppress
from pathlib import Path
from typing import Any

import pytest

from diagnose.casework import events, storelayout
from diagnose.casework.events import Draft
from diagnose.casework.row import EventRow
from diagnose.casework.store import SqliteStore
from diagnose.casework.storelayout import MIGRATIONS, SCHEMA, check_whose, open_file, pragma

BOOK = "bike-book@4f2a"

LAYOUT_1 = """
create table cases (
    number integer primary key autoincrement,
    id text not null unique
);
create table texts (
    number integer primary key autoincrement,
    case_number integer not null references cases,
    use text not null check (use in ('label', 'other')),
    text text
);
create index texts_of_case on texts (case_number);
create table events (
    number integer primary key autoincrement,
    case_number integer not null references cases,
    seq integer not null check (seq >= 1),
    kind text not null,
    data text not null,
    schema integer not null,
    at text not null,
    book text not null,
    unique (case_number, seq)
);
create trigger events_stay before delete on events begin select raise(abort, 'events stay'); end;
create trigger events_stay_as_they_are before update on events begin select raise(abort, 'events stay'); end;
pragma application_id = 1684627815;
pragma user_version = 1;
pragma journal_mode = wal;
"""
"""The first layout as it was, word for word: never to be changed."""

OPENED = events.opened("mechanic", "mechanic")
OLD: list[tuple[str, str, str | None, list[Draft]]] = [
    ("b7k2-21", "Rack 7", None, [events.complaint("front-knock"), events.ended("cured", ["preload-lost"])]),
    ("c7k2-00", "", "axle in the drawer", [events.complaint("brake-rubs"), events.note("t2")]),
    ("d7k2-00", "rack  7", None, [events.complaint("no-drive"), events.ended("declined"), events.undo(3)]),
]
"""Number, label, note, and what was told after the opening."""


def old_store(path: Path, times: int = 1) -> Path:
    """A file of the first layout with the cases of `OLD`, each event an hour before the one before it."""
    with closing(sqlite3.connect(path)) as db:
        db.executescript(LAYOUT_1)
        clock = 23
        for turn in range(times):
            for case_id, label, note, drafts in OLD:
                number = db.execute("insert into cases (id) values (?)", (f"{case_id}{turn or ''}",)).lastrowid
                for use, text in (("label", label), ("other", note)):
                    if text:
                        db.execute("insert into texts (case_number, use, text) values (?, ?, ?)", (number, use, text))
                opened = {**OPENED.data, **({"label": f"t{text_of(db, number)}"} if label else {})}
                for seq, (kind, data) in enumerate([("opened", opened), *drafts], 1):
                    clock = (clock - 1) % 24
                    row = EventRow.write(seq, kind, data, f"2024-05-31T{clock:02}:00:00.000Z", BOOK)
                    db.execute(
                        "insert into events (case_number, seq, kind, data, schema, at, book)"
                        " values (?, ?, ?, ?, ?, ?, ?)",
                        (number, *row._replace(schema=1)),
                    )
        db.commit()
    return path


def text_of(db: sqlite3.Connection, number: int | None) -> int:
    """Number of a case's first text."""
    (found,) = db.execute("select min(number) from texts where case_number = ?", (number,)).fetchone()
    return int(found)


def version_of(path: Path) -> int:
    """The layout's number in the file."""
    with closing(sqlite3.connect(path)) as db:
        return pragma(db, "user_version")


def test_every_older_layout_has_its_way_to_the_present_one() -> None:
    """There is a step from each number to the next."""
    assert set(MIGRATIONS) == set(range(SCHEMA))


@pytest.mark.parametrize("after", [1, 2, 3])
def test_a_store_that_another_program_makes_meanwhile_is_no_foreign_file(tmp_path: Path, after: int) -> None:
    """Between any two looks at a new file another program may lay it out; it is a store before and after."""
    path = tmp_path / "cases.sqlite3"
    looks = 0

    class Interrupted(sqlite3.Connection):
        def execute(self, *given: Any) -> sqlite3.Cursor:
            nonlocal looks
            cursor = super().execute(*given)
            looks += 1
            if looks == after:
                with suppress(sqlite3.OperationalError):  # it may have to wait
                    open_file(path, 0).close()
            return cursor

    with closing(sqlite3.connect(path, isolation_level=None, factory=Interrupted)) as db:
        check_whose(db, path)
    assert looks >= after


def test_an_old_store_is_listed_searched_and_gone_on_with(tmp_path: Path) -> None:
    """What the list shows is made from the events; the events are those that were written, and new ones follow."""
    path = old_store(tmp_path / "cases.sqlite3")
    with SqliteStore(path) as store:
        listed = store.cases()
        assert [(one.id, one.label, one.ended, one.complaints, one.events) for one in listed] == [
            ("d7k2-00", "rack  7", None, ("no-drive",), 4),
            ("c7k2-00", None, None, ("brake-rubs",), 3),
            ("b7k2-21", "Rack 7", "cured", ("front-knock",), 3),
        ]
        assert [(one.opened_at[11:13], one.last_at[11:13]) for one in listed] == [
            ("16", "13"),
            ("19", "17"),
            ("22", "20"),
        ]
        assert [one.id for one in store.cases(bike="RACK 7")] == ["d7k2-00", "b7k2-21"]
        assert [one.id for one in store.cases("drawer rubs")] == ["c7k2-00"]
        for case_id, _, _, drafts in OLD:
            assert [(one.kind, one.data) for one in store.events(case_id)[1:]] == drafts
        store.append("b7k2-21", 4, *events.came_back("part"), BOOK)
        assert store.cases()[0].comebacks == 1
        assert store.text("t2") == "axle in the drawer"
    assert version_of(path) == SCHEMA


def test_a_new_file_and_an_old_one_end_up_alike(tmp_path: Path) -> None:
    """There is one layout, whichever way a file came to it."""
    shapes = []
    for path in (old_store(tmp_path / "old"), tmp_path / "new"):
        with SqliteStore(path) as store:
            store.create(OPENED.data, "", BOOK)
        with closing(sqlite3.connect(path)) as db:
            shapes.append(
                [
                    (name, " ".join(str(sql).replace("  -- null once erased", "").split()))
                    for name, sql in db.execute("select name, sql from sqlite_master order by name")
                ]
            )
    assert shapes[0] == shapes[1]


def test_a_way_that_breaks_off_leaves_the_old_store(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Stopped in the midst of it, the file is the old one still, and the next opening gets it done."""
    path = old_store(tmp_path / "cases.sqlite3")
    write_words, turns = storelayout.write_words, iter(range(9))

    def stop_at_the_second(db: sqlite3.Connection, number: int, case_id: str) -> None:
        if next(turns) == 1:
            raise KeyboardInterrupt
        write_words(db, number, case_id)

    with monkeypatch.context() as patched:
        patched.setattr(storelayout, "write_words", stop_at_the_second)
        with SqliteStore(path) as store, pytest.raises(KeyboardInterrupt):
            store.cases()
    assert version_of(path) == 1
    with SqliteStore(path) as store:
        assert len(store.cases()) == 3
    assert version_of(path) == SCHEMA


def test_two_may_bring_it_up_to_date_at_once(tmp_path: Path) -> None:
    """Who comes second waits, and finds it done."""
    path = old_store(tmp_path / "cases.sqlite3", times=100)
    with SqliteStore(path) as one, SqliteStore(path) as other:
        assert one.cases(limit=1_000) == other.cases(limit=1_000)
        assert len(one.cases(limit=1_000)) == 300


def test_a_case_that_cannot_be_read_does_not_stop_the_way(tmp_path: Path) -> None:
    """It stands in the list with what is known of it; opening it tells what is wrong."""
    path = old_store(tmp_path / "cases.sqlite3")
    with closing(sqlite3.connect(path)) as db:
        db.execute(
            "insert into events (case_number, seq, kind, data, schema, at, book) values (1, 4, 'ended', '{', 1, '', '')"
        )
        db.commit()
    with SqliteStore(path) as store:
        assert {one.id: one.ended for one in store.cases()}["b7k2-21"] is None
        assert store.events("c7k2-00")
