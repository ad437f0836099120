"""A process of its own that works on a store, for the tests of several programs on one file.

`python working_process.py WHAT PATH ...` does one of the functions below and writes a line for each thing that is done.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Mapping
from typing import Any

from diagnose.casework.events import answered, measured, note, opened
from diagnose.casework.store import SqliteStore
from diagnose.errors import StoreError

BOOK = "bike-book@4f2a"


def say(line: object) -> None:
    """Writes a line at once; what was written has been acknowledged."""
    sys.stdout.write(f"{line}\n")
    sys.stdout.flush()


def reading(seq: int) -> Mapping[str, Any]:
    """The data of event `seq`: known beforehand, of different lengths, so that a half-written one would show."""
    return measured("gap", "mechanic", seq / 8, "mm", "x" * (seq % 60 + 1)).data


def take_turns(path: str, case_id: str, me: str) -> None:
    """For each number on standard input, tries to write that event, and says what came of it."""
    with SqliteStore(path, wait=60) as store:
        for line in sys.stdin:
            try:
                store.append(case_id, int(line), *answered("rock", "mechanic", me), BOOK)
                say("won")
            except StoreError as refusal:
                say(refusal.code)


def hurry(path: str, case_id: str, me: str, count: str) -> None:
    """Writes `count` events as fast as can be, reading again after each conflict, and says which it wrote."""
    with SqliteStore(path, wait=60) as store:
        done = 0
        while done < int(count):
            seq = len(store.events(case_id)) + 1
            try:
                store.append(case_id, seq, *answered("rock", "mechanic", me), BOOK)
            except StoreError as refusal:
                if refusal.code != "store.conflict":
                    raise
            else:
                say(seq)
                done += 1


def begin(path: str, count: str) -> None:
    """Opens `count` cases and says their ids."""
    with SqliteStore(path, wait=60) as store:
        for number in range(int(count)):
            say(store.create(opened("rider", "rider").data, f"bike {number}", BOOK))


def write_on(path: str, case_id: str) -> None:
    """Adds readings to a case until something stops it, and says each number once it is stored."""
    with SqliteStore(path, wait=60) as store:
        try:
            seq = len(store.events(case_id))
            while True:
                seq += 1
                store.append(case_id, seq, "answer", reading(seq), BOOK)
                say(seq)
        except StoreError as refusal:
            say(refusal.code)


def write_until_full(path: str, case_id: str, room: str) -> None:
    """Adds readings while no file may grow beyond `room` bytes."""
    import resource

    resource.setrlimit(resource.RLIMIT_FSIZE, (int(room), int(room)))
    write_on(path, case_id)


def write_without_rights(path: str, case_id: str) -> None:
    """Adds one reading as a user who owns nothing, and says what came of it."""
    import sqlite3  # noqa: F401  once the rights are gone, the library may be out of reach

    data = reading(2)
    if os.geteuid() == 0:
        os.setgroups([])
        os.setgid(65_534)
        os.setuid(65_534)
    with SqliteStore(path) as store:
        try:
            store.append(case_id, 2, "answer", data, BOOK)
            say("stored")
        except StoreError as refusal:
            say(refusal.code)


def write_texts(path: str, case_id: str) -> None:
    """Adds notes to a case, each a text and the event that names it, and says each number once it is stored."""
    with SqliteStore(path, wait=60) as store:
        while True:
            seq = len(store.events(case_id)) + 1
            ref = store.add_text(case_id, f"note {seq} " + "x" * (seq % 900))
            store.append(case_id, seq, *note(ref), BOOK)
            say(seq)


def take_lines(path: str) -> None:
    """Takes jobs from lines that it makes in a store of its own, and says each id once it is stored."""
    from pathlib import Path

    other_path = Path(path).with_name(f"other-{os.getpid()}")
    with SqliteStore(other_path) as other, SqliteStore(path, wait=60) as store:
        while True:
            case_id = other.create(opened("rider", "rider").data, "from elsewhere", BOOK)
            for seq in range(2, 9):
                other.append(case_id, seq, "answer", reading(seq), BOOK)
            (record,) = other.records([case_id])
            store.take(record)
            say(case_id)


def copy_again(path: str, folder: str) -> None:
    """Makes copies of the store, one after the other, and says each name once it is there."""
    from pathlib import Path

    with SqliteStore(path, wait=60) as store:
        number = 0
        while True:
            number += 1
            name = f"{number}.sqlite3"
            store.back_up(Path(folder) / name)
            say(name)


def copy_until_full(path: str, target: str, room: str) -> None:
    """Makes a copy while no file may grow beyond `room` bytes, and says what came of it."""
    import resource
    from pathlib import Path

    resource.setrlimit(resource.RLIMIT_FSIZE, (int(room), int(room)))
    with SqliteStore(path) as store:
        try:
            say(store.back_up(Path(target)))
        except StoreError as refusal:
            say(refusal.code)


if __name__ == "__main__":
    WORK = (
        *(take_turns, hurry, begin, write_on, write_until_full, write_without_rights),
        *(write_texts, take_lines, copy_again, copy_until_full),
    )
    {work.__name__: work for work in WORK}[sys.argv[1]](*sys.argv[2:])
