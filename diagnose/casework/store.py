"""Where cases are kept: `SqliteStore` on disk, a `Store` as `memory.MemoryStore` is one for a run. All SQL stands here.

Start reading at `SqliteStore.append`. One file holds three tables: cases, their events, and their free text, which
alone can change, and only by being erased. `unique (case_number, seq)` settles two writers. The journal is a
write-ahead log with `synchronous = FULL`: what `append` has returned survives a crash and a loss of power.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from itertools import count
from pathlib import Path
from threading import RLock
from time import monotonic, sleep
from types import TracebackType
from typing import TYPE_CHECKING, Any, Final, Self

from diagnose.casework.caseid import random_id
from diagnose.casework.events import Event, how_ended
from diagnose.casework.protocol import CaseSummary, Clock, Store, conflict, no_case, no_text, stamp, utc_now
from diagnose.casework.row import EventRow
from diagnose.casework.shapes import validated, validated_at, validated_book
from diagnose.casework.storefile import default_path, prepare, refusal, told_clearly
from diagnose.casework.text import has_all_words, not_empty, one_line, reference, text_number
from diagnose.errors import StoreError

if TYPE_CHECKING:
    from sqlite3 import Connection

__all__ = ["CaseSummary", "SqliteStore", "Store", "default_path"]

SCHEMA: Final = 1
"""Number of the tables' layout, kept in the file's `user_version`."""

APPLICATION: Final = 0x6469_6167
"""What the file's `application_id` says of whose it is: "diag"."""

_LAYOUT: Final = (
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
    f"pragma user_version = {SCHEMA}",
)

# `events.number` grows with every event of any case, so it tells the order of work where the clock might not.
_SUMMARIES: Final = """
    select cases.number, cases.id, label.text, first.at, last.at, last.seq
    from cases
    join (select case_number, max(number) as number from events group by case_number) as latest
        on latest.case_number = cases.number
    join events as last on last.number = latest.number
    join events as first on first.case_number = cases.number and first.seq = 1
    left join texts as label on label.case_number = cases.number and label.use = 'label'
    where has_all_words(?, cases.id, coalesce(label.text, ''))
    order by latest.number desc
    limit ?
"""

_EVENTS: Final = "select seq, kind, data, schema, at, book from events where case_number = ? order by seq"

_ENDINGS: Final = """
    select seq, kind, data, schema, at, book from events
    where case_number = ? and kind in ('ended', 'reopened', 'undo') order by seq
"""


class SqliteStore:
    """A `Store` in one SQLite file.

    Nothing is opened or created before the first use. Several programs, and several threads of one, may use one file.

    Attributes:
        path: the file, as an absolute path.
        wait: how long to wait for another program that is writing, in seconds.
    """

    def __init__(self, path: str | Path, *, wait: float = 5.0, clock: Clock = utc_now) -> None:
        if not str(path) or "\0" in str(path):
            raise refusal("store.cannot-open", Path(str(path).replace("\0", "")))
        self.path = Path(path).absolute()
        self.wait = wait
        self._clock = clock
        self._lock = RLock()
        self._db: Connection | None = None

    def create(self, opened: Mapping[str, Any], label: str, book: str) -> str:
        """Opens a case; see `Store`."""
        name = one_line(label, "label")
        data = validated("opened", {**opened, "label": None})
        validated_book(book)
        with self._transaction("begin immediate") as db:
            number, case_id = _new_case(db)
            if name:
                data["label"] = _keep(db, number, "label", name)
            _insert(db, number, EventRow.write(1, "opened", data, stamp(self._clock), book))
        return case_id

    def append(self, case_id: str, expected_seq: int, kind: str, data: Mapping[str, Any], book: str) -> Event:
        """Stores one event; see `Store`."""
        taken = validated_at(expected_seq, kind, data)
        validated_book(book)
        with self._transaction("begin immediate") as db:
            number = _case_number(db, case_id)
            last_seq = _last_seq(db, number)
            if expected_seq != last_seq + 1:
                raise conflict(case_id, expected_seq, last_seq)
            if "text_ref" in taken:
                _check_text(db, number, taken["text_ref"])
            row = EventRow.write(expected_seq, kind, taken, stamp(self._clock), book)
            _insert(db, number, row)
        return row.read(case_id)

    def events(self, case_id: str) -> tuple[Event, ...]:
        """All events of a case; see `Store`."""
        with self._transaction("begin") as db:
            number = _case_number(db, case_id)
            rows = [EventRow(*row) for row in db.execute(_EVENTS, (number,))]
        events = tuple(row.read(case_id) for row in rows)
        if not events or events[-1].seq != len(events):
            raise refusal("store.damaged", self.path, f"job {case_id} has events missing")
        return events

    def cases(self, search: str = "", limit: int = 50) -> tuple[CaseSummary, ...]:
        """The cases that fit, last worked on first; see `Store`."""
        words = one_line(search, "search")
        with told_clearly(self.path):
            if not self.path.exists():
                return ()  # looking at the list creates nothing
        with self._transaction("begin") as db:
            rows = db.execute(_SUMMARIES, (words, max(limit, 0))).fetchall()
            return tuple(
                CaseSummary(case_id, label, first, last, _how_ended(db, number, case_id), seq)
                for number, case_id, label, first, last, seq in rows
            )

    def add_text(self, case_id: str, text: str) -> str:
        """Stores free text; see `Store`."""
        clean = not_empty(text)
        with self._transaction("begin immediate") as db:
            return _keep(db, _case_number(db, case_id), "other", clean)

    def text(self, ref: str) -> str | None:
        """The text of a reference; see `Store`."""
        with self._transaction("begin") as db:
            row: tuple[str | None] | None = db.execute(
                "select text from texts where number = ?", (text_number(ref),)
            ).fetchone()
        if row is None:
            raise no_text(ref)
        return row[0]

    def erase_text(self, case_id: str) -> int:
        """Erases all free text of a case, out of the file's unused corners too; see `Store`.

        Raises:
            StoreError: `store.locked` if another program kept the log in use: the text is gone for every reader, but
                its bytes still lie in the file; erase once more to be rid of them.
        """
        with self._lock, told_clearly(self.path):
            with self._transaction("begin immediate") as db:
                erased = db.execute(
                    "update texts set text = null where case_number = ? and text is not null",
                    (_case_number(db, case_id),),
                ).rowcount
            # `secure_delete` has overwritten it in the pages; older pages still stand in the log until it is emptied.
            kept_back, *_ = db.execute("pragma wal_checkpoint(truncate)").fetchone()
            if kept_back:
                raise refusal("store.locked", self.path, "the erased text is still in the log")
        return erased

    def close(self) -> None:
        """Closes the file; the next use opens it again."""
        with self._lock:
            db, self._db = self._db, None
            if db is not None:
                with told_clearly(self.path):
                    db.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    @contextmanager
    def _transaction(self, begin: str) -> Iterator[Connection]:
        with self._lock, told_clearly(self.path):
            if self._db is None:
                self._db = _opened(self.path, self.wait)
            db = self._db
            try:
                db.execute(begin)
                yield db
                db.execute("commit")
            except BaseException:
                self._roll_back(db)
                raise

    def _roll_back(self, db: Connection) -> None:
        try:
            with told_clearly(self.path):
                if db.in_transaction:
                    db.execute("rollback")
        except StoreError:  # closing leaves nothing half done either
            self._db = None
            db.close()


# Opening the file


def _opened(path: Path, wait: float) -> Connection:
    import sqlite3  # not needed before a case is

    prepare(path)
    # Transactions are begun and ended here alone; the store's own lock keeps threads apart.
    db = sqlite3.connect(path, timeout=wait, isolation_level=None, check_same_thread=False)
    try:
        _check_whose(db, path)
        _write_ahead(db, wait)
        db.execute("pragma synchronous = full")
        db.execute("pragma foreign_keys = on")
        db.execute("pragma secure_delete = on")
        db.create_function("has_all_words", 3, has_all_words, deterministic=True)
        _lay_out(db)
    except BaseException:
        db.close()
        raise
    return db


def _check_whose(db: Connection, path: Path) -> None:
    version, application = _pragma(db, "user_version"), _pragma(db, "application_id")
    if application == APPLICATION:
        if version > SCHEMA:
            raise refusal("store.newer", path, f"layout {version}, known up to {SCHEMA}")
    elif version or application or db.execute("select 1 from sqlite_master limit 1").fetchone():
        raise refusal("store.foreign", path)


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
    if _pragma(db, "user_version"):
        return
    db.execute("begin immediate")
    if not _pragma(db, "user_version"):  # nobody was quicker
        for statement in _LAYOUT:
            db.execute(statement)
    db.execute("commit")


def _pragma(db: Connection, name: str) -> int:
    (value,) = db.execute(f"pragma {name}").fetchone()
    return int(value)


# Inside a transaction


def _new_case(db: Connection) -> tuple[int, str]:
    for attempt in count():
        case_id = random_id(4 + attempt // 20)  # a store so full that short ids run out gets longer ones
        cursor = db.execute("insert or ignore into cases (id) values (?)", (case_id,))
        if cursor.rowcount == 1:
            break
    return int(cursor.lastrowid or 0), case_id


def _case_number(db: Connection, case_id: str) -> int:
    found = db.execute("select number from cases where id = ?", (case_id,)).fetchone() if case_id.isascii() else None
    if found is None:
        raise no_case(case_id)
    return int(found[0])


def _last_seq(db: Connection, number: int) -> int:
    (last,) = db.execute("select coalesce(max(seq), 0) from events where case_number = ?", (number,)).fetchone()
    return int(last)


def _insert(db: Connection, number: int, row: EventRow) -> None:
    db.execute(
        "insert into events (case_number, seq, kind, data, schema, at, book) values (?, ?, ?, ?, ?, ?, ?)",
        (number, *row),
    )


def _keep(db: Connection, number: int, use: str, text: str) -> str:
    cursor = db.execute("insert into texts (case_number, use, text) values (?, ?, ?)", (number, use, text))
    return reference(int(cursor.lastrowid or 0))


def _check_text(db: Connection, number: int, ref: str) -> None:
    mine = "select 1 from texts where number = ? and case_number = ?"
    if db.execute(mine, (text_number(ref), number)).fetchone() is None:
        raise no_text(ref)


def _how_ended(db: Connection, number: int, case_id: str) -> str | None:
    try:
        return how_ended([EventRow(*row).read(case_id) for row in db.execute(_ENDINGS, (number,))])
    except StoreError:
        return None  # one case that cannot be read hides no other from the list; opening it tells what is wrong
