"""What can be saved out of a damaged store. The damaged file itself is never touched: a copy of it is read.

Cast: `rescue(path, folder)` reads every row that can be read, wherever the damage lies; it gives a `Rescue` with each
case as far as it is whole.

Rows are read by their numbers, so that a torn index costs nothing and a torn page only its own rows. Where the page
with the names of the tables is torn, that of a new store stands in for it: all stores have their tables in the same
places.
"""

from __future__ import annotations

import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import closing, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from diagnose.casework.caseid import random_id, read_id
from diagnose.casework.record import CaseRecord, Text, local_names, renamed
from diagnose.casework.row import EventRow
from diagnose.casework.shapes import validated_book
from diagnose.casework.storefile import refusal, told_clearly
from diagnose.casework.storelayout import APPLICATION, open_file, pragma
from diagnose.casework.text import cleaned
from diagnose.errors import DiagnoseError

_STEP: Final = 500
"""Rows that are read at once where nothing is torn."""
_FAR: Final = 20
"""Steps without a row after which a table is taken to be read to its end, where nobody knows how long it is."""
_PAGE_COUNT: Final = slice(28, 32)
"""Where a database's header says how many pages it has (sqlite.org/fileformat2.html, 1.3)."""
_TABLES: Final = {
    "cases": "select number, id, seq from cases where number between ? and ?",
    "texts": "select number, case_number, use, text from texts where number between ? and ?",
    "events": "select number, case_number, seq, kind, data, schema, at, book from events where number between ? and ?",
}
_SALVAGE: Final = """
create table cases (number integer primary key, id, seq);
create table texts (number integer primary key, case_number, use, text);
create table events (number integer primary key, case_number, seq, kind, data, schema, at, book);
"""
_INDEX: Final = """
create index texts_of_case on texts (case_number);
create index events_of_case on events (case_number, seq);
"""


@dataclass(frozen=True, slots=True)
class Saved:
    """One case out of a damaged store.

    Attributes:
        record: the case as far as it is whole; None where not even its opening can be read.
        id: its number; a new one where `new_id`.
        new_id: its number could not be read.
        lost: events of it that are known to have been there and cannot be saved.
        texts_lost: texts of it that cannot be saved, its label among them.
    """

    record: CaseRecord | None
    id: str
    new_id: bool
    lost: int
    texts_lost: int

    @property
    def whole(self) -> bool:
        """Whether nothing of it is known to be lost."""
        return self.record is not None and not (self.new_id or self.lost or self.texts_lost)


class Rescue:
    """The rows that could be read of a damaged store, put together in a file of their own; close it afterwards."""

    def __init__(self, db: sqlite3.Connection, given_out: int) -> None:
        self._db = db
        self._given_out = given_out

    def __enter__(self) -> Rescue:
        return self

    def __exit__(self, *_: object) -> None:
        self._db.close()

    def cases(self) -> Iterator[Saved]:
        """Every case of which anything can be read, in the order in which they were last worked on."""
        numbers = (
            "select number, max(last) from (select number, 0 as last from cases"
            " union all select case_number, max(number) from events where typeof(case_number) = 'integer'"
            " group by case_number) group by number order by max(last), number"
        )
        for number, _ in self._db.execute(numbers).fetchall():
            yield self._case(int(number))

    @property
    def gone(self) -> int:
        """How many jobs there were of which nothing at all can be read, where that is known."""
        (found,) = self._db.execute(
            "select count(*) from (select number from cases union select case_number from events)"
        ).fetchone()
        return max(0, self._given_out - int(found))

    def _case(self, number: int) -> Saved:
        case_id, known, counted = self._id(number)
        query = "select seq, kind, data, schema, at, book from events where case_number = ? order by seq, number"
        rows = self._db.execute(query, (number,)).fetchall()
        texts = self._texts(number)
        names = local_names(list(texts))
        told: list[EventRow] = []
        lost_texts: set[str] = set()
        for row in (EventRow(*row) for row in rows if row[0] == len(told) + 1):
            try:
                _check_row(row, case_id)
                told.append(_with_texts(row, names, texts, lost_texts))
            except (DiagnoseError, TypeError, ValueError):
                break
        most = max([counted, *(row[0] for row in rows if isinstance(row[0], int))])
        record = CaseRecord(case_id, tuple(texts.values()), tuple(told)) if told else None
        return Saved(record, case_id, not known, most - len(told), len(lost_texts))

    def _id(self, number: int) -> tuple[str, bool, int]:
        """A case's number, whether that is its own, and how many events it had as far as that was noted."""
        row = self._db.execute("select id, seq from cases where number = ?", (number,)).fetchone()
        with suppress(DiagnoseError, TypeError, AttributeError):
            if row and read_id(row[0]) == row[0]:
                return row[0], True, row[1] if isinstance(row[1], int) and 0 <= row[1] < 1 << 20 else 0
        return random_id(5), False, 0  # longer than usual, so that it is nobody else's

    def _texts(self, number: int) -> dict[int, Text]:
        found = {}
        query = "select number, use, text from texts where case_number = ? order by number"
        for text_number, use, text in self._db.execute(query, (number,)).fetchall():
            with suppress(DiagnoseError, UnicodeError):
                if use in ("label", "other"):
                    found[int(text_number)] = Text(use, None if text is None else cleaned(text) or None)
        return found


def _check_row(row: EventRow, case_id: str) -> None:
    """Raises where a row is not what a store writes."""
    validated_book(row.book)
    if not all(isinstance(one, str) for one in (row.kind, row.data, row.at)) or not isinstance(row.schema, int):
        raise TypeError
    row.read(case_id)


def _with_texts(row: EventRow, names: dict[str, str], texts: dict[int, Text], lost: set[str]) -> EventRow:
    """The row with the references of a record; a text that is lost is put in as one that was erased."""
    while True:
        try:
            return renamed(row, names)
        except KeyError as missing:
            ref = str(missing.args[0])
            label = row.seq == 1 and not any(text.use == "label" for text in texts.values())
            texts[-len(lost) - 1] = Text("label" if label else "other", None)
            names[ref] = f"t{len(texts)}"
            lost.add(ref)


def rescue(path: Path, folder: Path) -> Rescue:
    """Reads what can be read of the store at `path`, which is left as it is.

    Args:
        path: the damaged file.
        folder: an empty folder for a copy of it and for what is read; about three times its size is needed.

    Raises:
        StoreError: there is no such file, or the copy cannot be made.
    """
    with told_clearly(path):
        if not path.is_file():
            raise refusal("store.none" if not path.exists() else "store.is-folder", path)
        copy = folder / "damaged"
        shutil.copyfile(path, copy)
        log = path.with_name(path.name + "-wal")
        if log.exists():
            shutil.copyfile(log, copy.with_name("damaged-wal"))
        salvage = sqlite3.connect(folder / "salvage", isolation_level=None)
        salvage.executescript("pragma journal_mode = off; pragma synchronous = off;" + _SALVAGE)
        if not _names_its_tables(copy):
            _mend_first_page(copy, folder)
        with closing(sqlite3.connect(copy, isolation_level=None)) as db:
            db.text_factory = _text
            db.execute("pragma writable_schema = on")  # a torn index or a missing end keeps no table from being read
            old = not _counts_events(db)
            for table, query in _TABLES.items():
                _read_table(db, table, query.replace("id, seq", "id, 0") if old else query, salvage)
            given_out = _last_number(db, "cases")
        salvage.executescript(_INDEX)
    return Rescue(salvage, given_out)


def _text(raw: bytes) -> str:
    return raw.decode("utf-8", "replace")


def _names_its_tables(file: Path) -> bool:
    try:
        with closing(sqlite3.connect(file, isolation_level=None)) as db:
            db.execute("pragma writable_schema = on")
            if pragma(db, "application_id") != APPLICATION:
                return False
            names = {name for (name,) in db.execute("select name from sqlite_master where type = 'table'")}
            return set(_TABLES) <= names
    except sqlite3.Error:
        return False


def _counts_events(db: sqlite3.Connection) -> bool:
    """Whether the cases say how many events they have, as they do since the second layout."""
    with suppress(sqlite3.Error):
        return any(name == "seq" for _, name, *_ in db.execute("pragma table_info(cases)"))
    return True


def _mend_first_page(copy: Path, folder: Path) -> None:
    """Gives a file whose first page cannot be read the one of a new store, and its own length."""
    new = folder / "new"
    with closing(open_file(new, 0.0)) as db:
        size = pragma(db, "page_size")
        db.execute("pragma wal_checkpoint(truncate)")
    page = bytearray(new.read_bytes()[:size])
    page[_PAGE_COUNT] = max(1, copy.stat().st_size // size).to_bytes(4, "big")
    with copy.open("r+b") as file:
        file.write(page)


def _read_table(db: sqlite3.Connection, table: str, query: str, into: sqlite3.Connection) -> None:
    """Reads every row of a table that can be read."""
    last = _last_number(db, table)
    places = ", ".join("?" * len(_columns(query)))
    into.execute("begin")
    start, empty = 1, 0
    while start <= last if last else empty < _FAR:
        rows = list(_rows_between(db, query, start, start + _STEP - 1))
        into.executemany(f"insert or ignore into {table} values ({places})", rows)  # noqa: S608 - our own names
        start, empty = start + _STEP, 0 if rows else empty + 1
    into.execute("commit")


def _columns(query: str) -> list[str]:
    return query.removeprefix("select ").partition(" from ")[0].split(", ")


def _last_number(db: sqlite3.Connection, table: str) -> int:
    """The highest number that a table has given out; 0 where that cannot be told."""
    with suppress(sqlite3.Error):
        row = db.execute("select seq from sqlite_sequence where name = ?", (table,)).fetchone()
        if row and isinstance(row[0], int) and 0 < row[0] < 1 << 40:
            return row[0]
    return 0


def _rows_between(db: sqlite3.Connection, query: str, low: int, high: int) -> list[tuple[Any, ...]]:
    """The rows of these numbers, without those that cannot be read."""
    try:
        return [row for row in db.execute(query, (low, high)) if isinstance(row[0], int)]
    except (sqlite3.Error, OverflowError):
        if low == high:
            return []
    middle = (low + high) // 2
    return [*_rows_between(db, query, low, middle), *_rows_between(db, query, middle + 1, high)]
