"""`diagnose timing`: how fast the program is on this machine, as ratios and rates measured in one run.

Cast: `cold_start`, `next_question`, `replay_rate` and `memory_growth` measure; `command` prints them beside what they
should reach.
"""

from __future__ import annotations

import gc
import json
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence
from pathlib import Path
from statistics import median
from typing import Any, NamedTuple

import click

from diagnose.book.cache import decode, encode
from diagnose.book.model import Book
from diagnose.book.place import shipped_cases, shipped_rules
from diagnose.book.shelf import load_book
from diagnose.casework.casefile import CaseFile, case_reader, read_case
from diagnose.casework.fold import fold
from diagnose.casework.grown import grown
from diagnose.casework.replay import find_cases, replay, verdict
from diagnose.casework.view import make_view
from diagnose.errors import CaseError
from diagnose.reason.reasoner import Reasoner

LOOP = 50_000
"""Turns of the plain loop that a machine's speed is measured by."""
BASELINE = "import click, yaml, rich.console, rich.table, durable.engine"


class Figure(NamedTuple):
    """One measured figure beside what it should reach (`at_most`: the figure stays below it, else above)."""

    name: str
    value: float
    unit: str
    goal: float
    at_most: bool
    note: str

    @property
    def reached(self) -> bool:
        """Whether the figure reaches its goal."""
        return self.value <= self.goal if self.at_most else self.value >= self.goal


class Size(NamedTuple):
    """What a book of so many times the causes takes: milliseconds."""

    times: int
    causes: int
    load: float
    engine: float
    replay: float


SIZES = (1, 3, 10, 30, 100)
SAMPLE = 60
"""Cases replayed for the table of growth."""
CROWD = 10
"""Times as many causes and checks behind the crowded complaint."""


@click.command()
@click.option("--json", "as_json", is_flag=True, help="Print the figures as JSON.")
@click.option(
    "--runs", default=9, show_default=True, type=click.IntRange(1, 99), help="Cold starts to take the median of."
)
@click.option(
    "--replays",
    default=5000,
    show_default=True,
    type=click.IntRange(100, 1_000_000),
    help="Replays for the memory figure.",
)
@click.option(
    "--growth",
    default=0,
    type=click.IntRange(0, 100),
    help="Instead: how load and replay grow up to so many times the book.",
)
def command(as_json: bool, runs: int, replays: int, growth: int) -> int:
    """Measure cold start, the next question, replays and memory.

    Exit 0 when every figure reaches its goal, else 1. Other work on the machine moves single figures; ratios move
    least.
    """
    book = load_book(shipped_rules())
    cases = _cases(Reasoner(book))
    gc.freeze()  # as `diagnose replay` does
    if growth:
        return _growth(book, cases, growth, as_json)
    figures = [
        cold_start(runs),
        next_question(Reasoner(book), cases),
        replay_rate(Reasoner(book, depth=1), cases),
        memory_growth(Reasoner(book, depth=1), cases, replays),
    ]
    if as_json:
        rows = [{**one._asdict(), "reached": one.reached} for one in figures]
        click.echo(json.dumps({"schema": 1, "figures": rows}, indent=1))
    else:
        for one in figures:
            click.echo(_said(one))
    return 0 if all(one.reached for one in figures) else 1


def _said(one: Figure) -> str:
    sign = "at most" if one.at_most else "at least"
    state = "reached" if one.reached else "NOT reached"
    return f"{one.name}: {one.value:.3g} {one.unit} ({sign} {one.goal:g}: {state}); {one.note}"


def _growth(book: Book, cases: Sequence[CaseFile], most: int, as_json: bool) -> int:
    """Print the table of growth and the crowded complaint. Exit 1 where the crowded complaint takes too long."""
    rows = [measure_size(book, cases, times) for times in SIZES if times <= most]
    crowded = crowded_question(book, cases)
    if as_json:
        table = [row._asdict() for row in rows]
        figure = {**crowded._asdict(), "reached": crowded.reached}
        click.echo(json.dumps({"schema": 1, "growth": table, "figures": [figure]}, indent=1))
    else:
        click.echo(f"{'times':>5} {'causes':>7} {'load ms':>9} {'engine ms':>10} {'replay ms':>10}")
        for row in rows:
            click.echo(f"{row.times:5d} {row.causes:7d} {row.load:9.0f} {row.engine:10.0f} {row.replay:10.2f}")
        click.echo(
            "load: the kept copy of the book to objects; engine: its networks built; replay: a case, one step deep."
        )
        click.echo(_said(crowded))
    return 0 if crowded.reached else 1


def measure_size(book: Book, cases: Sequence[CaseFile], times: int) -> Size:
    """Load and replay with so many times the book; the cases are those of the book itself."""
    text = json.dumps(encode(grown(book, times)))
    started = time.perf_counter()
    large = decode(json.loads(text))
    for section in (large.complaints, large.findings, large.causes, large.fixes, large.deductions, large.limits):
        len(section)
    loaded = time.perf_counter()
    reasoner = Reasoner(large, depth=1)
    replay(reasoner, cases[0])
    built = time.perf_counter()
    some = cases[:: max(1, len(cases) // SAMPLE)]
    for case in some:
        make_view(reasoner, fold(large, case.told), with_estimate=False)
    done = time.perf_counter()
    load, engine, replays = 1000 * (loaded - started), 1000 * (built - loaded), 1000 * (done - built)
    return Size(times, len(large.causes), load, engine, replays / len(some))


def crowded_question(book: Book, cases: Sequence[CaseFile]) -> Figure:
    """95th percentile of the next question where a complaint with as many causes as most has ten times as many."""
    usual = len(book.causes) and sum(map(len, book.causes_of.values())) / len(book.causes_of)
    complaint = min(book.complaints, key=lambda name: (abs(len(book.causes_of[name]) - usual), name))
    large = grown(book, CROWD, complaint)
    some = [case for case in cases if fold(book, case.told).situation.complaints == (complaint,)]
    figure = next_question(Reasoner(large), some[:SAMPLE])
    causes = large.causes_of[complaint]
    checks = {check.id for cause in causes for name in cause.shows for check in large.findings[name].checks}
    return figure._replace(
        name=f"next question on a complaint with {len(causes)} causes and {len(checks)} checks, p95", goal=200.0
    )


def _cases(reasoner: Reasoner) -> list[CaseFile]:
    folder = shipped_cases()
    if folder is None:
        raise CaseError("case.none", "no worked cases came with this installation", None, "Run it in a clone.")
    reader = case_reader(reasoner.book)
    return [read_case(path, reasoner.book, reader) for path in find_cases(folder)]


def cold_start(runs: int) -> Figure:
    """Median time to the first question over median time of a Python that only imports the libraries, in turn."""
    with tempfile.TemporaryDirectory() as folder:
        store = Path(folder) / "jobs.sqlite"
        ours = [sys.executable, "-m", "diagnose", "stand", "--new", "--store", str(store)]
        bare = [sys.executable, "-c", BASELINE]
        _run(ours)
        _run(bare)
        pairs = [(_run(ours), _run(bare)) for _ in range(runs)]
    first, second = median(one for one, _ in pairs), median(two for _, two in pairs)
    return Figure(
        "cold start to the first question",
        first / second,
        "times bare imports",
        1.8,
        True,
        f"{first * 1000:.0f} ms over {second * 1000:.0f} ms",
    )


def _run(words: Sequence[str]) -> float:
    started = time.perf_counter()
    subprocess.run(  # noqa: S603 - this interpreter, words of our own
        words, input=b"", stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, check=True, cwd=Path.cwd()
    )
    return time.perf_counter() - started


def next_question(reasoner: Reasoner, cases: Sequence[CaseFile]) -> Figure:
    """95th percentile of the time from an answer to the next View, over every answer of every case, at full depth."""
    spans = []
    make_view(reasoner, fold(reasoner.book, cases[0].told), with_estimate=False)  # the engine is built once
    reasoner.chainer.forget()
    for case in cases:
        for count, event in enumerate(case.told, 1):
            if event.kind in ("answer", "fix"):
                started = time.perf_counter()
                make_view(reasoner, fold(reasoner.book, case.told[:count]), with_estimate=False)
                spans.append((time.perf_counter() - started) * 1000)
    spans.sort()
    p95 = spans[int(len(spans) * 0.95)]
    return Figure(
        "next question after an answer, p95",
        p95,
        "ms",
        50,
        True,
        f"median {median(spans):.1f} ms, longest {spans[-1]:.1f} ms, {len(spans)} answers",
    )


def loop_turn() -> float:
    """Seconds that one turn of a plain Python loop takes here: what to compare two machines by."""
    best = float("inf")
    for _ in range(20):
        started = time.perf_counter()
        total = 0
        for number in range(LOOP):
            total += number * number % 7
        best = min(best, time.perf_counter() - started)
    return best / LOOP


def replay_rate(reasoner: Reasoner, cases: Sequence[CaseFile]) -> Figure:
    """Cases a second in one process, each read and held against what it expects once, one step deep."""
    verdict(reasoner, cases[0])
    reasoner.chainer.forget()
    reader = case_reader(reasoner.book)
    started = time.perf_counter()
    for case in cases:
        verdict(reasoner, read_case(Path(case.file), reasoner.book, reader))
    rate = len(cases) / (time.perf_counter() - started)
    turn = loop_turn()
    note = f"{len(cases)} cases, one step deep; one takes as long as {1 / rate / turn / 1000:.0f} thousand turns of a "
    note += f"plain loop, each {turn * 1e9:.0f} ns on this machine"
    return Figure("replays a second", rate, "cases/s", 200, False, note)


def memory_growth(reasoner: Reasoner, cases: Sequence[CaseFile], replays: int) -> Figure:
    """Resident memory after all replays over that after the first fifth of them."""
    early = 0
    for count in range(replays):
        reasoner.diagnose(fold(reasoner.book, cases[count % len(cases)].told).situation)
        if count + 1 == replays // 5:
            early = resident()
    late = resident()
    note = f"{early // 1024} MB after {replays // 5}, {late // 1024} MB after {replays} replays"
    return Figure(
        "memory after all replays", late / early if early else 1.0, "times that after a fifth", 1.05, True, note
    )


def resident() -> int:
    """Resident memory of this process in KiB (its peak where the system tells no more)."""
    try:
        pages = Path("/proc/self/statm").read_text(encoding="ascii").split()[1]
        return int(pages) * (os.sysconf("SC_PAGE_SIZE") // 1024)
    except OSError:
        import resource

        peak: Any = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
        return int(peak)
