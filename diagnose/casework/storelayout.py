"""The tables of the store's file, how an older file is brought up to date, and with which settings it is opened.

Cast: `open_file` gives a connection to a file that is a store of the present layout; `MIGRATIONS` has a step for each
older one. Whatever a file lacks is made in one transaction: a program that dies on the way leaves it as it was.

    journal_mode = wal     readers and a writer do not wait for each other; what is committed is in the log
    synchronous = full     each commit waits until the disk has the log: power may fail right after it
    secure_delete = on     erased text is overwritten, also in the indexes
    foreign_keys = on      an event or a text belongs to a case
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path
from time import monotonic, sleep
from typing import TYPE_CHECKING, Final

from diagnose.casework.digest import DIGESTED, Digest, bike_key, digest, search_text
from diagnose.casework.row import EventRow
from diagnose.casework.storefile import prepare, refusal
from diagnose.casework.text import has_all_words
from diagnose.errors import StoreError

if TYPE_CHECKING:
    from sqlite3 import Connection

SCHEMA: Final = 2
"""Number of the tables' layout, kept in the file's `user_version`. 2 keeps what the list says beside each case."""

APPLICATION: Final = 0x6469_6167
"""What the file's `application_id` says of whose it is: "diag"."""

_FIRST: Final = (
    """create table cases (
        number integer primary key autoincrement,
        id text not null unique
    )""",
    """create table texts (
        number integer primary key autoincrement,
        case_number integer not null references cases,
        use text not null check (use in ('label', 'other')),
        text text  -- null once erased
    )""",
    "create index texts_of_case on texts (case_number)",
    """create table events (
        number integer primary key autoincrement,
        case_number integer not null references cases,
        seq integer not null check (seq >= 1),
        kind text not null,
        data text not null,
        schema integer not null,
        at text not null,
        book text not null,
        unique (case_number, seq)
    )""",
    "create trigger events_stay before delete on events begin select raise(abort, 'events stay'); end",
    "create trigger events_stay_as_they_are before update on events begin select raise(abort, 'events stay'); end",
    f"pragma application_id = {APPLICATION}",
)
"""The first layout. An empty file begins with it and goes the way of every older one."""

# What the list says is kept beside each case, so that it is the same work among a million events as among ten.
# `last` is the number of its last event: it tells the order of work where the clock might not.
_KEPT_BESIDE: Final = (
    "alter table cases add column last integer not null default 0",
    "alter table cases add column seq integer not null default 0",
    "alter table cases add column opened_at text not null default ''",
    "alter table cases add column last_at text not null default ''",
    "alter table cases add column ended text",
    "alter table cases add column waiting text",
    "alter table cases add column complaints text not null default ''",
    "alter table cases add column comebacks integer not null default 0",
    "alter table cases add column bike text",
    "alter table cases add column words text not null default ''",
    "create index cases_by_work on cases (last)",
    "create index cases_open on cases (last) where ended is null",
    "create index cases_of_bike on cases (bike, last) where bike is not null",
)

_DIGEST_EVENTS: Final = (
    "select seq, kind, data, schema, at, book from events where case_number = ?"
    " and kind in (?, ?, ?, ?, ?) order by seq"
)


def open_file(path: Path, wait: float) -> Connection:
    """A connection to the store at `path`, made or brought up to date where that is needed.

    Args:
        path: the file; missing folders are made.
        wait: how long to wait for another program that is writing, in seconds.

    Raises:
        StoreError: it is no store, a newer version's, damaged, or cannot be opened.
    """
    import sqlite3  # not needed before a case is

    prepare(path)
    # Transactions are begun and ended by the store alone; its own lock keeps threads apart.
    db = sqlite3.connect(path, timeout=wait, isolation_level=None, check_same_thread=False)
    try:
        check_whose(db, path)
        _write_ahead(db, wait)
        db.execute("pragma synchronous = full")
        db.execute("pragma foreign_keys = on")
        db.execute("pragma secure_delete = on")
        db.create_function("has_all_words", 2, has_all_words, deterministic=True)
        _lay_out(db)
    except BaseException:
        db.close()
        raise
    return db


def check_whose(db: Connection, path: Path) -> None:
    """Refuses a file that is another program's, or a newer version's."""
    db.execute("begin")  # one view of the file: another program may be making a store of it right now
    try:
        version, application = pragma(db, "user_version"), pragma(db, "application_id")
        tables = db.execute("select 1 from sqlite_master limit 1").fetchone()
    finally:
        if db.in_transaction:  # some errors have ended it
            db.execute("rollback")
    if application == APPLICATION:
        if version > SCHEMA:
            raise refusal("store.newer", path, f"layout {version}, known up to {SCHEMA}")
    elif version or application or tables:
        raise refusal("store.foreign", path)


def pragma(db: Connection, name: str) -> int:
    """A setting or property of the file that is a number."""
    (value,) = db.execute(f"pragma {name}").fetchone()
    return int(value)


def _write_ahead(db: Connection, wait: float) -> None:
    """Turns the write-ahead log on; SQLite itself does not wait when two programs do so to a new file at once."""
    import sqlite3

    until = monotonic() + wait
    while True:
        try:
            db.execute("pragma journal_mode = wal")
            return
        except sqlite3.OperationalError as error:
            if error.sqlite_errorcode & 0xFF != sqlite3.SQLITE_BUSY or monotonic() > until:
                raise
            sleep(0.01)


def _lay_out(db: Connection) -> None:
    if pragma(db, "user_version") == SCHEMA:
        return
    db.execute("begin immediate")
    for version in range(pragma(db, "user_version"), SCHEMA):  # none where somebody was quicker
        MIGRATIONS[version](db)
    db.execute(f"pragma user_version = {SCHEMA}")
    db.execute("commit")


def _begin(db: Connection) -> None:
    for statement in _FIRST:
        db.execute(statement)


def _keep_beside(db: Connection) -> None:
    for statement in _KEPT_BESIDE:
        db.execute(statement)
    latest = (
        "select cases.number, cases.id, max(events.number), max(events.seq) from cases"
        " join events on events.case_number = cases.number group by cases.number"
    )
    for number, case_id, last, seq in db.execute(latest).fetchall():
        times = "select at from events where case_number = ? and seq in (1, ?) order by seq"
        first_at, *_, last_at = [at for (at,) in db.execute(times, (number, seq))] * 2
        db.execute(
            "update cases set last = ?, seq = ?, opened_at = ?, last_at = ? where number = ?",
            (last, seq, first_at, last_at, number),
        )
        write_digest(db, number, case_id)
        write_words(db, number, case_id)


MIGRATIONS: Final[Mapping[int, Callable[[Connection], None]]] = {0: _begin, 1: _keep_beside}
"""Layout to what makes the next one of it."""


# What is kept beside a case


def write_digest(db: Connection, number: int, case_id: str) -> None:
    """Writes again what the list says of a case.

    A case that cannot be read hides no other from the list; opening it tells what is wrong.
    """
    try:
        now = digest([EventRow(*row).read(case_id) for row in db.execute(_DIGEST_EVENTS, (number, *DIGESTED))])
    except StoreError:
        now = Digest()
    db.execute(
        "update cases set ended = ?, waiting = ?, complaints = ?, comebacks = ? where number = ?",
        (now.ended, _joined(now.waiting), _joined(now.complaints), now.comebacks, number),
    )


def _joined(names: tuple[str, ...] | None) -> str | None:
    return None if names is None else " ".join(names)


def write_words(db: Connection, number: int, case_id: str) -> None:
    """Writes again what a search of a case looks through, and which bike it is."""
    (complaints,) = db.execute("select complaints from cases where number = ?", (number,)).fetchone()
    kept = db.execute(
        "select use, text from texts where case_number = ? and text is not null order by number", (number,)
    ).fetchall()
    label = next((text for use, text in kept if use == "label"), None)
    words = search_text(case_id, complaints.split(), [text for _, text in kept])
    bike = bike_key(label) if label else None
    db.execute("update cases set words = ?, bike = ? where number = ?", (words, bike, number))
