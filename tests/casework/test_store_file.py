"""The store's file: where it lies, what it does on disk, and how its troubles are told."""

from __future__ import annotations

import itertools
import sqlite3
import stat
import subprocess
import sys
import threading
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest

from diagnose.casework import events
from diagnose.casework.store import SqliteStore, default_path
from diagnose.casework.storelayout import APPLICATION, SCHEMA
from diagnose.errors import StoreError

BOOK = "bike-book@4f2a"
OPENED = events.opened("mechanic", "mechanic").data
KNOCK = events.complaint("front-knock")


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """Where the store is to lie."""
    return tmp_path / "data" / "cases.sqlite3"


@pytest.fixture
def store(path: Path) -> Iterator[SqliteStore]:
    """A store that does not wait long."""
    with SqliteStore(path, wait=0.05) as store:
        yield store


def told(code: str, act: object, path: Path) -> StoreError:
    """Calls `act`, which must be refused with `code`, the file's path and a hint; returns the refusal."""
    assert callable(act)
    with pytest.raises(StoreError) as caught:
        act()
    assert caught.value.code == code
    assert caught.value.location is not None
    assert caught.value.location.file == str(path)
    assert caught.value.hint
    return caught.value


def of_file(path: Path, sql: str, values: tuple[object, ...] = ()) -> list[tuple[object, ...]]:
    """Runs one statement on the file behind the store's back."""
    with closing(sqlite3.connect(path, isolation_level=None)) as db:
        return db.execute(sql, values).fetchall()


# Where it lies


def test_the_store_lies_in_the_users_data_folder() -> None:
    """XDG first where it is absolute, as the XDG Base Directory Specification says, else the platform's folder."""
    home = {"HOME": "/home/rider"}
    assert default_path({**home, "XDG_DATA_HOME": "/data"}, "linux") == Path("/data/diagnose/cases.sqlite3")
    assert default_path({**home, "XDG_DATA_HOME": "data"}, "linux") == default_path(home, "linux")
    assert default_path({**home, "XDG_DATA_HOME": ""}, "linux") == default_path(home, "linux")
    assert default_path(home, "linux") == Path("/home/rider/.local/share/diagnose/cases.sqlite3")
    assert default_path(home, "darwin") == Path("/home/rider/Library/Application Support/diagnose/cases.sqlite3")
    assert default_path({**home, "LOCALAPPDATA": "/local"}, "win32") == Path("/local/diagnose/cases.sqlite3")
    assert default_path(home, "win32") == Path("/home/rider/AppData/Local/diagnose/cases.sqlite3")


def test_one_variable_names_the_file(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """`DIAGNOSE_STORE` goes before everything, means the home folder by a tilde, and is nothing when it is empty."""
    named = {"DIAGNOSE_STORE": "/shop/jobs", "XDG_DATA_HOME": "/data"}
    assert default_path(named, "linux") == Path("/shop/jobs")
    assert default_path({**named, "DIAGNOSE_STORE": ""}, "linux") == Path("/data/diagnose/cases.sqlite3")
    monkeypatch.setenv("HOME", str(tmp_path))
    monkeypatch.setenv("DIAGNOSE_STORE", "~/jobs")
    assert default_path() == tmp_path / "jobs"


def test_nothing_is_made_before_it_is_needed(path: Path) -> None:
    """Making a store, closing it and looking at an empty list leave no folder behind and do not load the library."""
    script = (
        "import sys; from diagnose.casework.store import SqliteStore\n"
        "store = SqliteStore(sys.argv[1]); store.close(); print('sqlite3' in sys.modules)"
    )
    above = Path(events.__file__).parents[2]
    done = subprocess.run(
        [sys.executable, "-c", script, str(path)], cwd=above, capture_output=True, text=True, check=True
    )
    assert done.stdout.strip() == "False"
    with SqliteStore(path) as store:
        assert store.cases() == ()
    assert not path.parent.exists()


def test_a_new_folder_is_its_owners_alone(tmp_path: Path) -> None:
    """Each folder that had to be made has mode 700; one that was there keeps its own."""
    there = tmp_path / "there"
    there.mkdir()
    before = there.stat().st_mode
    with SqliteStore(there / "a" / "b" / "cases.sqlite3") as store:
        store.create(OPENED, "", BOOK)
    assert [stat.S_IMODE(folder.stat().st_mode) for folder in (there / "a", there / "a" / "b")] == [0o700, 0o700]
    assert there.stat().st_mode == before


def test_the_file_stays_the_same_when_the_working_folder_changes(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A relative path means the folder in which the store was made."""
    monkeypatch.chdir(tmp_path)
    with SqliteStore("cases.sqlite3") as store:
        (tmp_path / "elsewhere").mkdir()
        monkeypatch.chdir(tmp_path / "elsewhere")
        store.create(OPENED, "", BOOK)
    assert (tmp_path / "cases.sqlite3").is_file()


@pytest.mark.parametrize("name", ["file:x?mode=memory", ":memory:", "a b#c%20.sqlite3", "é🚲", "-wal"])
def test_a_strange_name_is_a_name(tmp_path: Path, name: str) -> None:
    """No name is taken for an address or an order to the database."""
    with SqliteStore(tmp_path / name) as store:
        case_id = store.create(OPENED, "", BOOK)
    assert (tmp_path / name).is_file()
    with SqliteStore(tmp_path / name) as store:
        assert store.events(case_id)


# What it does on disk


def test_each_append_is_on_the_disk_before_it_returns(store: SqliteStore) -> None:
    """The connection writes ahead, waits for the disk, and keeps the ties between tables."""
    store.create(OPENED, "", BOOK)
    with store.transaction("begin") as db:
        found = {name: db.execute(f"pragma {name}").fetchone()[0] for name in ("journal_mode", "synchronous")}
        found |= {name: db.execute(f"pragma {name}").fetchone()[0] for name in ("foreign_keys", "secure_delete")}
    assert found == {"journal_mode": "wal", "synchronous": 2, "foreign_keys": 1, "secure_delete": 1}


def test_another_reader_sees_an_append_at_once(store: SqliteStore, path: Path) -> None:
    """What `append` returned is there for others while the store is still open."""
    case_id = store.create(OPENED, "", BOOK)
    store.append(case_id, 2, *KNOCK, BOOK)
    with SqliteStore(path) as other:
        assert len(other.events(case_id)) == 2
        other.append(case_id, 3, *KNOCK, BOOK)
    assert len(store.events(case_id)) == 3


def test_events_cannot_be_changed_even_by_hand(store: SqliteStore, path: Path) -> None:
    """The tables themselves refuse to change, remove or double an event."""
    store.create(OPENED, "", BOOK)
    store.close()
    for sql in (
        "update events set kind = 'note'",
        "delete from events",
        "insert into events (case_number, seq, kind, data, schema, at, book) values (1, 1, '', '', 1, '', '')",
    ):
        with pytest.raises(sqlite3.IntegrityError):
            of_file(path, sql)


def test_threads_may_share_a_store(store: SqliteStore) -> None:
    """Four threads appending to one case through one store lose nothing."""
    store.wait = 60
    case_id = store.create(OPENED, "", BOOK)

    def work() -> None:
        done = 0
        while done < 15:
            try:
                store.append(case_id, len(store.events(case_id)) + 1, *KNOCK, BOOK)
            except StoreError as refusal:
                assert refusal.code == "store.conflict"
            else:
                done += 1

    threads = [threading.Thread(target=work) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(store.events(case_id)) == 61


def test_erased_text_is_nowhere_in_the_files(store: SqliteStore, path: Path) -> None:
    """After erasing, no byte of a text stands in the file or its log, whatever its length; others' text does."""
    one, other = store.create(OPENED, "SECRET-label", BOOK), store.create(OPENED, "public-label", BOOK)
    for length in (0, 1, 40, 700, 1_900, 1_980) * 12:
        store.add_text(one, f"SECRET-{'🚲' * (length // 2)}{'x' * (length // 2)}-SECRET")
        store.add_text(other, f"public-{'y' * length}")
    assert any(b"SECRET" in file.read_bytes() for file in path.parent.iterdir())
    assert store.erase_text(one) == 73
    for file in path.parent.iterdir():
        assert b"SECRET" not in file.read_bytes()
        assert "🚲".encode() not in file.read_bytes()
    store.close()
    assert b"SECRET" not in path.read_bytes()
    assert b"public-label" in path.read_bytes()


def test_text_that_a_reader_holds_back_is_said_and_goes_the_next_time(store: SqliteStore, path: Path) -> None:
    """While another program reads an old state the bytes cannot go: that is told; erasing once more removes them."""
    case_id = store.create(OPENED, "SECRET", BOOK)
    with closing(sqlite3.connect(path, isolation_level=None)) as reader:
        reader.execute("begin")
        reader.execute("select count(*) from texts").fetchone()
        told("store.locked", lambda: store.erase_text(case_id), path)
        assert store.cases()[0].label is None
    assert store.erase_text(case_id) == 0
    assert not any(b"SECRET" in file.read_bytes() for file in path.parent.iterdir())


# Troubles


def test_a_store_of_a_newer_version_is_left_alone(store: SqliteStore, path: Path) -> None:
    """A file with a later layout is refused, and not a byte of it changes."""
    store.create(OPENED, "", BOOK)
    store.close()
    of_file(path, f"pragma user_version = {SCHEMA + 1}")
    before = path.read_bytes()
    with SqliteStore(path) as again:
        refusal = told("store.newer", again.cases, path)
        told("store.newer", lambda: again.create(OPENED, "", BOOK), path)
    assert str(SCHEMA + 1) in refusal.message
    assert path.read_bytes() == before


def test_an_event_of_a_newer_shape_is_refused(store: SqliteStore, path: Path) -> None:
    """One event that a later version wrote stops the case from being read half understood; other cases go on."""
    newer, other = store.create(OPENED, "", BOOK), store.create(OPENED, "", BOOK)
    of_file(
        path,
        "insert into events (case_number, seq, kind, data, schema, at, book)"
        " select number, 2, 'ended', '{}', 99, '', 'b' from cases order by number limit 1",
    )
    with pytest.raises(StoreError) as caught:
        store.events(newer)
    assert caught.value.code == "store.newer"
    assert newer in caught.value.message
    assert store.events(other)
    assert {summary.id for summary in store.cases()} == {newer, other}
    found = store.examine()
    assert (found.cases, found.troubles) == (1, ())
    assert len(found.newer) == 1
    assert newer in found.newer[0]


@pytest.mark.parametrize(
    "sql",
    ["create table bikes (id)", "pragma user_version = 7", "pragma application_id = 7"],
    ids=["tables", "version", "id"],
)
def test_another_programs_database_is_left_alone(store: SqliteStore, path: Path, sql: str) -> None:
    """A database that is not a store is refused and stays as it was."""
    path.parent.mkdir()
    of_file(path, sql)
    before = path.read_bytes()
    told("store.foreign", lambda: store.create(OPENED, "", BOOK), path)
    assert path.read_bytes() == before


def test_an_empty_file_becomes_a_store(store: SqliteStore, path: Path) -> None:
    """A file without a byte, as a crash may leave it, is taken for a new store."""
    path.parent.mkdir()
    path.touch()
    assert store.cases() == ()
    assert store.create(OPENED, "", BOOK)
    assert of_file(path, "pragma application_id") == [(APPLICATION,)]


@pytest.mark.parametrize(
    "content", [b"x", b"y" * 99, b"y" * 100, b"not a database, " * 400, b"SQLite format 3\0" + b"\xff" * 4_080]
)
def test_a_file_that_is_no_store_is_left_alone(store: SqliteStore, path: Path, content: bytes) -> None:
    """Something else under the store's name is refused and stays as it was."""
    path.parent.mkdir()
    path.write_bytes(content)
    refusal = told("store.damaged", lambda: store.create(OPENED, "", BOOK), path)
    told("store.damaged", store.cases, path)
    assert "keep it" in refusal.hint
    assert path.read_bytes() == content


def test_a_damaged_file_is_never_read_wrongly(store: SqliteStore, path: Path) -> None:
    """With any page overwritten or cut off, a case is either read as it was or refused in words."""
    cases = [store.create(OPENED, f"bike {number}", BOOK) for number in range(6)]
    for seq in range(2, 30):
        for case_id in cases:
            store.append(case_id, seq, *events.measured("gap", "rider", seq, "mm", "x" * seq), BOOK)
    whole = {case_id: store.events(case_id) for case_id in cases}
    store.close()
    good = path.read_bytes()
    broken = [good[: at + 20] + bytes(range(256)) * 15 + good[at + 3_860 :] for at in range(0, len(good), 4_096)]
    broken += [good[:at] for at in range(4_096, len(good), 4_096)]
    codes = set()
    for content in broken:
        path.write_bytes(content)
        with SqliteStore(path, wait=0.05) as again:
            for case_id in cases:
                try:
                    assert again.events(case_id) == whole[case_id]
                except StoreError as refusal:
                    codes.add(refusal.code)
    assert "store.damaged" in codes
    assert codes <= {"store.damaged", "store.foreign", "store.no-case", "store.newer", "store.disk"}


@pytest.mark.parametrize("data", ["{", "[]", "null", '{"seq": 9}', '{"id": 7}', "[" * 100_000, '{"id": "a", "x": 1}'])
def test_an_event_that_was_tampered_with_is_said_to_be_damaged(store: SqliteStore, path: Path, data: str) -> None:
    """An event that is not what was written is refused by case and number."""
    case_id = store.create(OPENED, "", BOOK)
    row = (1, 2, "complaint", data, 1, "", "b")
    of_file(
        path, "insert into events (case_number, seq, kind, data, schema, at, book) values (?, ?, ?, ?, ?, ?, ?)", row
    )
    with pytest.raises(StoreError) as caught:
        store.events(case_id)
    assert caught.value.code == "store.damaged"
    assert f"Event 2 of job {case_id}" in caught.value.message


def test_a_missing_event_is_noticed(store: SqliteStore, path: Path) -> None:
    """A gap in the numbers is damage, not a shorter case."""
    case_id = store.create(OPENED, "", BOOK)
    store.append(case_id, 2, *KNOCK, BOOK)
    store.append(case_id, 3, *KNOCK, BOOK)
    store.close()
    for sql in ("drop trigger events_stay", "delete from events where seq = 2"):
        of_file(path, sql)
    told("store.damaged", lambda: store.events(case_id), path)


def test_a_lock_that_is_not_let_go_is_said(store: SqliteStore, path: Path) -> None:
    """While another program holds the file, writing is refused and reading goes on; afterwards the step succeeds."""
    case_id = store.create(OPENED, "", BOOK)
    with closing(sqlite3.connect(path, isolation_level=None)) as other:
        other.execute("begin immediate")
        told("store.locked", lambda: store.append(case_id, 2, *KNOCK, BOOK), path)
        told("store.locked", lambda: store.create(OPENED, "", BOOK), path)
        assert len(store.events(case_id)) == 1
    assert store.append(case_id, 2, *KNOCK, BOOK).seq == 2


def test_a_lock_on_a_new_file_is_said(store: SqliteStore, path: Path) -> None:
    """Also the first opening ends in words when another program holds the file."""
    path.parent.mkdir()
    with closing(sqlite3.connect(path, isolation_level=None)) as other:
        other.execute("begin exclusive")
        told("store.locked", lambda: store.create(OPENED, "", BOOK), path)
    assert store.create(OPENED, "", BOOK)


def test_a_full_disk_is_said_and_the_case_goes_on_with_room(store: SqliteStore) -> None:
    """When the file may not grow, the step is refused and nothing of it stays; with room it is stored."""
    case_id = store.create(OPENED, "", BOOK)
    with store.transaction("begin") as db:
        pages = db.execute("pragma page_count").fetchone()[0]
    assert store._db is not None
    store._db.execute(f"pragma max_page_count = {pages}")
    told("store.full", lambda: fill(store, case_id), store.path)
    stored = len(store.events(case_id))
    assert stored > 10
    told("store.full", lambda: [store.create(OPENED, "x" * 1_000, BOOK) for _ in range(100)], store.path)
    assert all(store.events(summary.id) for summary in store.cases(limit=200))
    store._db.execute("pragma max_page_count = 100000")
    assert store.append(case_id, stored + 1, *KNOCK, BOOK).seq == stored + 1


def fill(store: SqliteStore, case_id: str) -> None:
    """Appends until something stops it."""
    for seq in itertools.count(2):
        store.append(case_id, seq, *events.measured("gap", "rider", seq, "mm", "x" * 60), BOOK)


def test_a_folder_in_the_files_place_is_said(tmp_path: Path) -> None:
    """A path that is a folder is refused as that."""
    with SqliteStore(tmp_path) as store:
        told("store.is-folder", lambda: store.create(OPENED, "", BOOK), tmp_path)
        told("store.is-folder", store.cases, tmp_path)


def test_a_file_in_the_folders_place_is_said(tmp_path: Path) -> None:
    """A path through something that is not a folder cannot be opened."""
    (tmp_path / "file").touch()
    path = tmp_path / "file" / "cases.sqlite3"
    with SqliteStore(path) as store:
        told("store.cannot-open", lambda: store.create(OPENED, "", BOOK), path)


def test_a_path_that_cannot_be_one_is_refused(tmp_path: Path) -> None:
    """Too long a name, a circle of links and a NUL are told like any other trouble."""
    long = tmp_path / ("x" * 5_000)
    circle = tmp_path / "circle"
    circle.symlink_to(circle)
    for path in (long, circle, circle / "cases.sqlite3"):
        with SqliteStore(path) as store:
            told("store.cannot-open", lambda store=store: store.create(OPENED, "", BOOK), path)
    for wrong in ("", "a\0b"):
        with pytest.raises(StoreError) as caught:
            SqliteStore(wrong)
        assert caught.value.code == "store.cannot-open"


def test_a_refused_step_leaves_the_store_usable(store: SqliteStore) -> None:
    """An error inside a transaction is rolled back and the next step works."""
    case_id = store.create(OPENED, "", BOOK)
    with pytest.raises(KeyboardInterrupt):
        stop_half_way(store)
    assert of_file(store.path, "select id from cases") == [(case_id,)]
    assert store.append(case_id, 2, *KNOCK, BOOK).seq == 2


def stop_half_way(store: SqliteStore) -> None:
    """Begins something and is interrupted."""
    with store.transaction("begin immediate") as db:
        db.execute("insert into cases (id) values ('half')")
        raise KeyboardInterrupt
