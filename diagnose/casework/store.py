"""Where cases are kept: `SqliteStore` on disk, a `Store` as `memory.MemoryStore` is one for a run.

Start reading at `SqliteStore.append`. One file holds three tables: cases, their events, and their free text, which
alone can change, and only by being erased. `unique (case_number, seq)` settles two writers. The journal is a
write-ahead log with `synchronous = FULL`: what `append` has returned survives a crash and a loss of power.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from itertools import count
from pathlib import Path
from threading import RLock
from types import TracebackType
from typing import TYPE_CHECKING, Any, Final, Self

from diagnose.casework.caseid import random_id
from diagnose.casework.digest import DIGESTED, bike_key
from diagnose.casework.events import Event
from diagnose.casework.protocol import CaseSummary, Clock, Store, Which, conflict, no_case, no_text, stamp, utc_now
from diagnose.casework.record import CaseRecord
from diagnose.casework.row import EventRow
from diagnose.casework.shapes import validated, validated_at, validated_book
from diagnose.casework.storecopy import (
    Examined,
    Taken,
    back_up,
    case_ids,
    examine,
    insert_event,
    read_record,
    write_record,
)
from diagnose.casework.storefile import default_path, refusal, told_clearly
from diagnose.casework.storelayout import open_file, write_digest, write_words
from diagnose.casework.text import not_empty, one_line, reference, text_number
from diagnose.errors import StoreError

if TYPE_CHECKING:
    from sqlite3 import Connection

__all__ = ["CaseSummary", "SqliteStore", "Store", "default_path"]

_SUMMARY: Final = """
    select cases.id, label.text, cases.opened_at, cases.last_at, cases.ended, cases.seq, cases.complaints,
        cases.waiting, cases.comebacks
    from cases
    left join texts as label on label.case_number = cases.number and label.use = 'label'
"""

_WHICH: Final[Mapping[Which, str]] = {
    "all": "true",
    "open": "cases.ended is null",
    "waiting": "cases.ended is null and cases.waiting is not null",
    "ended": "cases.ended is not null",
}

_QUICK: Final = 6
"""Words of a search that SQLite looks for itself, the longest ones; the rest are looked for where those stand."""

_EVENTS: Final = "select seq, kind, data, schema, at, book from events where case_number = ? order by seq"


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
        with self.transaction("begin immediate") as db:
            number, case_id = _new_case(db)
            if name:
                data["label"] = _keep(db, number, "label", name)
            insert_event(db, number, EventRow.write(1, "opened", data, stamp(self._clock), book))
            write_words(db, number, case_id)
        return case_id

    def append(self, case_id: str, expected_seq: int, kind: str, data: Mapping[str, Any], book: str) -> Event:
        """Stores one event; see `Store`."""
        taken = validated_at(expected_seq, kind, data)
        validated_book(book)
        with self.transaction("begin immediate") as db:
            number = _case_number(db, case_id)
            last_seq = _last_seq(db, number)
            if expected_seq != last_seq + 1:
                raise conflict(case_id, expected_seq, last_seq)
            if "text_ref" in taken:
                _check_text(db, number, taken["text_ref"])
            row = EventRow.write(expected_seq, kind, taken, stamp(self._clock), book)
            insert_event(db, number, row)
            if kind in DIGESTED:
                write_digest(db, number, case_id)
                write_words(db, number, case_id)
        return row.read(case_id)

    def events(self, case_id: str) -> tuple[Event, ...]:
        """All events of a case; see `Store`."""
        with self.transaction("begin") as db:
            number = _case_number(db, case_id)
            rows = [EventRow(*row) for row in db.execute(_EVENTS, (number,))]
        events = tuple(row.read(case_id) for row in rows)
        if not events or events[-1].seq != len(events):
            raise refusal("store.damaged", self.path, f"job {case_id} has events missing")
        return events

    def cases(
        self, search: str = "", limit: int = 50, which: Which = "all", bike: str | None = None
    ) -> tuple[CaseSummary, ...]:
        """The cases that fit, last worked on first; see `Store`."""
        words = one_line(search, "search").casefold().split()
        key = None if bike is None else bike_key(one_line(bike, "label"))
        with told_clearly(self.path):
            if not self.path.exists():
                return ()  # looking at the list creates nothing
        conditions, values = _conditions(words, which, key)
        query = f"{_SUMMARY} where {conditions} order by cases.last desc limit ?"
        with self.transaction("begin") as db:
            rows = db.execute(query, (*values, max(limit, 0))).fetchall()
        return tuple(_summary(*row) for row in rows)

    def add_text(self, case_id: str, text: str) -> str:
        """Stores free text; see `Store`."""
        clean = not_empty(text)
        with self.transaction("begin immediate") as db:
            number = _case_number(db, case_id)
            ref = _keep(db, number, "other", clean)
            write_words(db, number, case_id)
        return ref

    def text(self, ref: str) -> str | None:
        """The text of a reference; see `Store`."""
        with self.transaction("begin") as db:
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
            with self.transaction("begin immediate") as db:
                number = _case_number(db, case_id)
                erased = db.execute(
                    "update texts set text = null where case_number = ? and text is not null", (number,)
                ).rowcount
                write_words(db, number, case_id)
            # `secure_delete` has overwritten it in the pages; older pages still stand in the log until it is emptied.
            kept_back, *_ = db.execute("pragma wal_checkpoint(truncate)").fetchone()
            if kept_back:
                raise refusal("store.locked", self.path, "the erased text is still in the log")
        return erased

    def back_up(self, target: Path) -> int:
        """Copies the store to a new file while others go on working; returns its bytes. See `storecopy.back_up`."""
        with self._lock, told_clearly(self.path):
            if not self.path.exists():
                raise refusal("store.none", self.path)
            return back_up(self._connection(), target.absolute())

    def examine(self) -> Examined:
        """Looks the whole store through; see `storecopy.examine`."""
        with told_clearly(self.path):
            if not self.path.exists():
                raise refusal("store.none", self.path)
        with self.transaction("begin") as db:
            return examine(db, self.path)

    def records(self, ids: Iterable[str] | None = None) -> Iterator[CaseRecord]:
        """Whole cases, all of them in the order in which they were last worked on, or those of `ids`.

        Raises:
            StoreError: a case that is not there, or cannot be read.
        """
        if ids is None:
            with told_clearly(self.path):
                if not self.path.exists():
                    return
            with self.transaction("begin") as db:
                ids = list(case_ids(db))
        for case_id in ids:
            with self.transaction("begin") as db:
                record = read_record(db, _case_number(db, case_id), case_id)
            yield record

    def take(self, record: CaseRecord) -> Taken:
        """Adds a whole case as it was told elsewhere; see `storecopy.write_record`."""
        return self.take_all([record])[0]

    def take_all(self, records: Iterable[CaseRecord]) -> list[Taken]:
        """Adds several whole cases in one go; where one cannot be taken none is."""
        with self.transaction("begin immediate") as db:
            return [write_record(db, record) for record in records]

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
    def transaction(self, begin: str) -> Iterator[Connection]:
        """A transaction, for the modules of the store alone; `begin` says of which kind. It is undone by any error."""
        with self._lock, told_clearly(self.path):
            db = self._connection()
            try:
                db.execute(begin)
                yield db
                db.execute("commit")
            except BaseException:
                self._roll_back(db)
                raise

    def _connection(self) -> Connection:
        if self._db is None:
            self._db = open_file(self.path, self.wait)
        return self._db

    def _roll_back(self, db: Connection) -> None:
        try:
            with told_clearly(self.path):
                if db.in_transaction:
                    db.execute("rollback")
        except StoreError:  # closing leaves nothing half done either
            self._db = None
            db.close()


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


def _keep(db: Connection, number: int, use: str, text: str) -> str:
    cursor = db.execute("insert into texts (case_number, use, text) values (?, ?, ?)", (number, use, text))
    return reference(int(cursor.lastrowid or 0))


def _check_text(db: Connection, number: int, ref: str) -> None:
    mine = "select 1 from texts where number = ? and case_number = ?"
    if db.execute(mine, (text_number(ref), number)).fetchone() is None:
        raise no_text(ref)


# The list


def _conditions(words: Sequence[str], which: Which, key: str | None) -> tuple[str, list[str]]:
    """What the cases of a list must meet, and the values for it."""
    conditions, values = [_WHICH[which]], list[str]()
    if key is not None:
        conditions.append("cases.bike = ?")
        values.append(key)
    by_length = sorted(set(words), key=len, reverse=True)
    for word in by_length[:_QUICK]:
        conditions.append("instr(cases.words, ?)")
        values.append(word)
    if len(by_length) > _QUICK:
        conditions.append("has_all_words(?, cases.words)")
        values.append(" ".join(by_length[_QUICK:]))
    return " and ".join(conditions), values


def _summary(*row: Any) -> CaseSummary:
    case_id, label, first, last, ended, seq, complaints, waiting, comebacks = row
    parts = None if waiting is None else tuple(waiting.split())
    return CaseSummary(case_id, label, first, last, ended, seq, tuple(complaints.split()), parts, comebacks)
