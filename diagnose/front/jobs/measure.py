"""`diagnose jobs measure`: how fast the store is with very many events, as a table. It works on a store of its own.

Cast: `fill` makes the store, `measured` times what people wait for. No test times anything: what moves on a busy
machine stands in this table beside what it should reach.
"""

from __future__ import annotations

import json
import random
import time
from collections.abc import Callable
from pathlib import Path
from statistics import median
from tempfile import TemporaryDirectory
from typing import NamedTuple

import click

from diagnose.book.place import shipped_rules
from diagnose.book.shelf import load_book
from diagnose.casework import events
from diagnose.casework.caseid import numbered_id
from diagnose.casework.desk import Desk
from diagnose.casework.record import CaseRecord, Text
from diagnose.casework.row import EventRow
from diagnose.casework.store import SqliteStore
from diagnose.reason.reasoner import Reasoner

GOAL = 100.0
"""Milliseconds that listing, resuming and searching may take."""
IN_A_CASE = 25
"""Events of a case."""
TOGETHER = 1_000
COLOURS = "black white silver red blue green yellow orange grey purple brown pink".split()
KINDS = "city road gravel trail cargo folding touring child tandem track".split()


class Row(NamedTuple):
    """One thing measured: median and 95th percentile in milliseconds, and the goal where there is one."""

    name: str
    median: float
    p95: float
    goal: float | None

    @property
    def reached(self) -> bool:
        """Whether the 95th percentile is below the goal."""
        return self.goal is None or self.p95 < self.goal


@click.command()
@click.option("--events", "count", type=click.IntRange(IN_A_CASE, 100_000_000), default=1_000_000, show_default=True)
@click.option("--runs", type=click.IntRange(3, 10_000), default=40, show_default=True, help="Times each is measured.")
@click.option("--json", "as_json", is_flag=True, help="As JSON.")
def measure(count: int, runs: int, as_json: bool) -> int:
    """Fill a store of its own with a million events and measure listing, searching, resuming and writing.

    Exit 1 when a goal is not reached. Other work on the machine moves the figures.
    """
    with TemporaryDirectory(prefix="diagnose-") as folder:
        path = Path(folder) / "cases.sqlite3"
        started = time.perf_counter()
        ids = fill(path, count)
        filled = time.perf_counter() - started
        rows = measured(path, ids, runs)
        size = path.stat().st_size
    if as_json:
        told = [{**row._asdict(), "reached": row.reached} for row in rows]
        click.echo(json.dumps({"schema": 1, "events": count, "cases": len(ids), "bytes": size, "rows": told}, indent=1))
    else:
        click.echo(f"{count:,} events in {len(ids):,} jobs, {size / 1e6:.0f} MB, written in {filled:.0f} s")
        click.echo(f"{'':38} {'median':>9} {'p95':>9}  goal")
        for row in rows:
            goal = "" if row.goal is None else f"under {row.goal:.0f} ms: {'reached' if row.reached else 'NOT reached'}"
            click.echo(f"{row.name:38} {row.median:6.1f} ms {row.p95:6.1f} ms  {goal}".rstrip())
    return 0 if all(row.reached for row in rows) else 1


def fill(path: Path, count: int) -> list[str]:
    """Fill a new store with so many events; returns the numbers of its jobs, in the order of work."""
    cases = range(-(-count // IN_A_CASE))
    with SqliteStore(path) as store:
        for start in range(0, len(cases), TOGETHER):
            store.take_all(_record(number) for number in cases[start : start + TOGETHER])
    return [numbered_id(number, 5) for number in cases]


def _record(number: int) -> CaseRecord:
    """A case like those of a shop: label, complaint, answers, a fix, a note, an ending on most."""
    draw = random.Random(number)  # noqa: S311 - made-up jobs
    label = f"Rack {number % 997} {draw.choice(COLOURS)} {draw.choice(KINDS)}"
    complaint, check, fix = ("knock-when-braking", "rock-finger-across-gap", "set-preload")
    drafts = [
        events.opened("mechanic", "mechanic", (), "t1"),
        events.complaint(complaint),
        *(events.answered(f"{check}-{k}", "mechanic", "slight") for k in range(IN_A_CASE - 5)),
        events.note("t2"),
        events.fix_done(fix, {complaint: "gone"}),
        events.ended("cured", ["preload-lost"]) if draw.random() < 0.95 else events.reopened(),
    ]
    at = f"20{number % 90 + 10}-05-31T09:15:02.125Z"
    rows = tuple(EventRow.write(seq, kind, data, at, "measured") for seq, (kind, data) in enumerate(drafts, 1))
    texts = (Text("label", label), Text("other", f"drawer {draw.randrange(100_000)}, axle in the bag"))
    return CaseRecord(numbered_id(number, 5), texts, rows)


def measured(path: Path, ids: list[str], runs: int) -> list[Row]:
    """Time what people wait for."""
    draw = random.Random(1)  # noqa: S311 - which jobs are looked at

    def opened() -> None:
        with SqliteStore(path) as store:
            store.cases(limit=1)

    rows = [_row("open the file", opened, runs)]
    with SqliteStore(path) as store:
        desk = Desk(Reasoner(load_book(shipped_rules())), store)
        case_id = desk.open("measured here")
        desk.complain(case_id, next(iter(desk.book.complaints)))
        desk.view(case_id)
        rows += [
            _row("list the last 50", lambda: store.cases(limit=50), runs, GOAL),
            _row("list those that are open", lambda: store.cases(limit=50, which="open"), runs, GOAL),
            _row("search two words, many fit", lambda: store.cases("rack blue"), runs, GOAL),
            _row("search two words, few fit", lambda: store.cases(f"drawer {draw.randrange(100_000)}"), runs, GOAL),
            _row("search a word that none has", lambda: store.cases("unicycle"), runs, GOAL),
            _row("history of one bike", lambda: store.cases(bike="rack 7 blue city"), runs, GOAL),
            _row("resume: read any job", lambda: store.events(draw.choice(ids)), runs, GOAL),
            _row("resume: up to the next question", lambda: desk.view(case_id), runs, GOAL),
            _row("store one event, safe on the disk", lambda: desk.submit(case_id, events.reopened()), runs),
        ]
    return rows


def _row(name: str, act: Callable[[], object], runs: int, goal: float | None = None) -> Row:
    spans = []
    for _ in range(runs):
        started = time.perf_counter()
        act()
        spans.append((time.perf_counter() - started) * 1000)
    spans.sort()
    return Row(name, median(spans), spans[min(len(spans) - 1, int(len(spans) * 0.95))], goal)
