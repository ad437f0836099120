"""Whole cases out of a store and into one, and the store as a whole to a second file.

Cast: `read_record`, `write_record` and `case_ids` work inside a transaction of the store; `back_up` copies the file
while others go on working with it, `examine` looks whether it is sound.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import closing, suppress
from pathlib import Path
from typing import TYPE_CHECKING, Final, Literal, NamedTuple

from diagnose.casework.record import CaseRecord, Text, local_names, renamed
from diagnose.casework.row import EventRow
from diagnose.casework.storefile import prepare, refusal, told_clearly
from diagnose.casework.storelayout import write_digest, write_words
from diagnose.casework.text import reference
from diagnose.errors import InputError, StoreError

if TYPE_CHECKING:
    from sqlite3 import Connection

Taken = Literal["new", "longer", "known"]
"""What became of an imported case: it is new, it went on from the one that was there, or nothing in it is new."""

_EVENTS: Final = "select seq, kind, data, schema, at, book from events where case_number = ? order by seq"


def case_ids(db: Connection) -> Iterator[str]:
    """The numbers of all jobs, in the order in which they were last worked on."""
    for (case_id,) in db.execute("select id from cases order by last, number"):
        yield case_id


def read_record(db: Connection, number: int, case_id: str) -> CaseRecord:
    """The whole case; raises StoreError where it cannot be read."""
    texts = db.execute(
        "select number, use, text from texts where case_number = ? order by number", (number,)
    ).fetchall()
    names = local_names([text for text, _, _ in texts])
    rows = [EventRow(*row) for row in db.execute(_EVENTS, (number,))]
    for row in rows:
        row.read(case_id)
    if not rows or rows[-1].seq != len(rows):
        raise StoreError("store.damaged", f"Job {case_id} has events missing.", hint="Keep the store's file.")
    try:
        local = tuple(renamed(row, names) for row in rows)
    except KeyError as why:
        raise StoreError("store.damaged", f"Job {case_id} names a text of another.", hint="Keep the file.") from why
    return CaseRecord(case_id, tuple(Text(use, text) for _, use, text in texts), local)


def write_record(db: Connection, record: CaseRecord) -> Taken:
    """Adds a whole case, or what it has more than the one that is there.

    Raises:
        InputError: `jobs.differs`, there is a job of this number that tells something else; nothing was changed.
    """
    record.check()
    found = db.execute("select number from cases where id = ?", (record.id,)).fetchone()
    if found is None:
        number = int(db.execute("insert into cases (id) values (?)", (record.id,)).lastrowid or 0)
        known = CaseRecord(record.id, (), ())
        taken: Taken = "new"
    else:
        number = int(found[0])
        known = read_record(db, number, record.id)
        taken = "longer" if len(record.rows) > len(known.rows) else "known"
    if known.told[: len(record.rows)] != record.told[: len(known.rows)]:
        raise InputError(
            "jobs.differs",
            f"There is a job {record.id} here already, and it tells something else.",
            hint="Nothing of it was changed. Import it into a store of its own with --store.",
        )
    if taken != "known":
        _add(db, number, record, known)
    return taken


def _add(db: Connection, number: int, record: CaseRecord, known: CaseRecord) -> None:
    here = [n for (n,) in db.execute("select number from texts where case_number = ? order by number", (number,))]
    names = {}
    for place, text in enumerate(record.texts):
        if place < len(here):
            names[reference(place + 1)] = reference(here[place])
        else:
            values = (number, text.use, text.text)
            cursor = db.execute("insert into texts (case_number, use, text) values (?, ?, ?)", values)
            names[reference(place + 1)] = reference(int(cursor.lastrowid or 0))
    for row in record.rows[len(known.rows) :]:
        insert_event(db, number, renamed(row, names))
    write_digest(db, number, record.id)
    write_words(db, number, record.id)


def insert_event(db: Connection, number: int, row: EventRow) -> None:
    """Adds an event to a case, and to what the list says of it."""
    cursor = db.execute(
        "insert into events (case_number, seq, kind, data, schema, at, book) values (?, ?, ?, ?, ?, ?, ?)",
        (number, *row),
    )
    db.execute(
        "update cases set last = ?, seq = ?, last_at = ?, opened_at = case seq when 0 then ? else opened_at end"
        " where number = ?",
        (cursor.lastrowid, row.seq, row.at, row.at, number),
    )


def back_up(db: Connection, target: Path) -> int:
    """Copies the store to a new file as it is at this moment, while others read and write; returns its bytes.

    The copy is made beside `target`, looked through, written out to the disk and only then given its name.

    Raises:
        StoreError: `store.exists`, there is such a file already; or the copy could not be made.
    """
    import sqlite3

    with told_clearly(target):
        if target.exists() and not target.is_dir():
            raise refusal("store.exists", target)
        prepare(target)
        half = target.with_name(f".{target.name}.{os.getpid()}.part")
        try:
            half.touch(mode=0o600, exist_ok=False)
            with closing(sqlite3.connect(half, isolation_level=None)) as copy:
                db.backup(copy)  # in one step: a reader of the log as it is now, who keeps nobody from writing
                copy.execute("pragma journal_mode = delete")  # the copy is one file
                (found,) = copy.execute("pragma quick_check(1)").fetchone()
                if found != "ok":
                    raise refusal("store.damaged", target, "the copy would be damaged like the store itself")
            _write_out(half)
            size = half.stat().st_size
            _give_name(half, target)
        finally:
            half.unlink(missing_ok=True)
        _write_out(target.parent)
    return size


def _write_out(path: Path) -> None:
    """Waits until the disk has it; a folder's names too, where the system can."""
    try:
        opened = os.open(path, os.O_RDONLY)
    except OSError:
        if path.is_dir():
            return  # folders cannot be opened everywhere
        raise
    try:
        with suppress(OSError):
            os.fsync(opened)
    finally:
        os.close(opened)


def _give_name(half: Path, target: Path) -> None:
    """Names the copy, and never over another file."""
    try:
        os.link(half, target)
    except FileExistsError:
        raise refusal("store.exists", target) from None
    except OSError:  # a disk without links
        if target.exists():
            raise refusal("store.exists", target) from None
        half.replace(target)


class Examined(NamedTuple):
    """What a look at the store found: SQLite's settings, how much it holds, and what is wrong with it."""

    settings: dict[str, str]
    cases: int
    events: int
    size: int
    troubles: tuple[str, ...]
    newer: tuple[str, ...] = ()
    """What a newer version wrote: it is whole, but not for this one to read."""


_SETTINGS: Final = ("journal_mode", "synchronous", "secure_delete", "foreign_keys", "user_version", "page_size")
_SYNCHRONOUS: Final = {"0": "off", "1": "normal", "2": "full", "3": "extra"}


def examine(db: Connection, path: Path) -> Examined:
    """Looks through the whole store: SQLite's own check, then every event of every case."""
    import sqlite3

    settings = {"sqlite": sqlite3.sqlite_version}
    for name in _SETTINGS:
        settings[name] = str(db.execute(f"pragma {name}").fetchone()[0])
    settings["synchronous"] = _SYNCHRONOUS.get(settings["synchronous"], settings["synchronous"])
    troubles, newer = list[str](), list[str]()
    cases = events = 0
    try:
        troubles += [told for (told,) in db.execute("pragma integrity_check(20)") if told != "ok"]
        for number, case_id in db.execute("select number, id from cases order by number").fetchall():
            try:
                events += len(read_record(db, number, case_id).rows)
                cases += 1
            except StoreError as why:
                (newer if why.code == "store.newer" else troubles).append(why.message)
    except sqlite3.Error as why:
        troubles.append(str(why))
    return Examined(settings, cases, events, path.stat().st_size, tuple(troubles), tuple(newer))
