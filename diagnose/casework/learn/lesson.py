"""All that the ended jobs of a store teach, in one piece.

Cast: `learn` gives a `Lesson`; `told` puts it into JSON values; `mark` and `marked` keep how far a store was counted
into a book, so that no job counts twice.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any, NamedTuple

from diagnose.book.model import Book
from diagnose.casework.learn.lists import Alike, Useless, Wrong, alike, never_helped, wrong_most
from diagnose.casework.learn.outcomes import Kept, Read, read_outcomes
from diagnose.casework.learn.patch import Edit, edits, else_weight
from diagnose.casework.learn.ranges import Range, RowRange, ShareRanges, row_ranges, share_ranges
from diagnose.casework.storefile import written_whole
from diagnose.reason.reasoner import Reasoner

MARK = ".learned"
"""What is added to the store's name for the file that says how far it was counted, for each book."""


class Lesson(NamedTuple):
    """What was read, and what follows: ranges (only of what jobs speak to), the edits, and the lists."""

    read: Read
    since: str
    shares: tuple[ShareRanges, ...]
    rows: tuple[RowRange, ...]
    edits: tuple[Edit, ...]
    wrong: tuple[Wrong, ...]
    useless: tuple[Useless, ...]
    alike: tuple[Alike, ...]


def learn(reasoner: Reasoner, store: Kept, since: str = "", limit: int = 5_000) -> Lesson:
    """The lesson of a store's ended jobs, at most `limit`, none last worked on at or before `since`."""
    book = reasoner.book
    read = read_outcomes(reasoner, store, since, limit)
    complaints = sorted({one.complaint for one in read.outcomes if one.known})
    shares = tuple(share_ranges(book, name, read.outcomes, else_weight(book, name)) for name in complaints)
    rows = tuple(row_ranges(book, read.outcomes))
    return Lesson(
        read=read,
        since=since,
        shares=shares,
        rows=rows,
        edits=tuple(edits(book, shares, rows)),
        wrong=tuple(wrong_most(read.outcomes)),
        useless=tuple(never_helped(book, read.outcomes)),
        alike=tuple(alike(book, read.outcomes)),
    )


def told(lesson: Lesson, book: Book, diff: str) -> dict[str, Any]:
    """The lesson as JSON values; shares of causes as of 100 bikes with the complaint."""
    return {
        "schema": 1,
        "book": {"id": book.constants.id, "fingerprint": book.fingerprint},
        "since": lesson.since or None,
        "jobs": lesson.read.jobs,
        "uncounted": dict(lesson.read.uncounted),
        "unknown": list(lesson.read.unknown),
        "amended": list(lesson.read.amended),
        "shares": [
            {
                "complaint": one.complaint,
                "jobs": one.jobs,
                "moves": one.moves,
                "causes": [{"cause": name, **_figures(each, one.raw)} for name, each in one.causes.items()],
                "something_else": _figures(one.something_else, 100.0),
            }
            for one in lesson.shares
        ],
        "rows": [
            {
                "cause": one.cause,
                "finding": one.finding,
                "jobs": one.jobs,
                "moves": one.moves,
                "values": [{"value": name, **_figures(each, 100.0)} for name, each in one.values.items()],
            }
            for one in lesson.rows
        ],
        "edits": [{**edit._asdict(), "path": list(edit.path)} for edit in lesson.edits],
        "diff": diff,
        "wrong_most": [one._asdict() for one in lesson.wrong],
        "never_helped": [one._asdict() for one in lesson.useless],
        "alike": [
            {"complaint": one.complaint, "jobs": list(one.jobs), "shown": [list(pair) for pair in one.shown]}
            for one in lesson.alike
        ],
    }


def _figures(one: Range, whole: float) -> dict[str, Any]:
    return {
        "book": one.book * whole,
        "mean": one.mean * whole,
        "low": one.low * whole,
        "high": one.high * whole,
        "cases": one.cases,
        "jobs": one.jobs,
        "outside": one.off,
    }


def newest(lesson: Lesson) -> str:
    """When the newest job that was counted was last worked on; `since` where none was."""
    return max((one.at for one in lesson.read.outcomes), default=lesson.since)


def marked(store: Path, book: str) -> str:
    """How far the store was counted into the book of this id; empty where it never was."""
    try:
        kept = json.loads(_mark(store).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return ""
    at = kept.get(book) if isinstance(kept, dict) else None
    return at if isinstance(at, str) else ""


def mark(store: Path, book: str, at: str) -> None:
    """Note that the store was counted into the book up to this time."""
    file = _mark(store)
    try:
        kept = json.loads(file.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        kept = {}
    kept = {**(kept if isinstance(kept, dict) else {}), book: at}
    with written_whole(file, over=True) as writing:
        writing.write(json.dumps(kept, indent=1, sort_keys=True) + "\n")


def _mark(store: Path) -> Path:
    return store.with_name(store.name + MARK)
