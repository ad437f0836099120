"""`diagnose jobs export`, `import`, `backup`, `check` and `rescue`: the store's file, and jobs as JSON Lines."""

from __future__ import annotations

import sys
from collections import Counter
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import BinaryIO, TextIO

import click

from diagnose.casework.record import LONGEST_LINE, CaseRecord
from diagnose.casework.store import SqliteStore, default_path
from diagnose.casework.storefile import told_clearly, written_whole
from diagnose.casework.storerescue import Saved, rescue
from diagnose.errors import DiagnoseError, InputError, Location
from diagnose.front import wording
from diagnose.front.jobs.common import paper_of, plain_option, store_of, store_option
from diagnose.front.paper import Paper

TOGETHER = 200
"""Jobs that are imported in one go, so that others are not kept waiting."""


@click.command("export")
@click.argument("jobs", nargs=-1, metavar="[JOB]...")
@click.option("--output", type=click.Path(path_type=Path), help="A new file, instead of standard output.")
@store_option
def export_jobs(jobs: tuple[str, ...], output: Path | None, store: Path | None) -> int:
    """Write JOBs, or all, as JSON Lines: one job a line, with its events and its texts, the last worked on last.

    Example: diagnose jobs export --output jobs.jsonl
    """
    from diagnose.casework.caseid import read_id

    count = 0
    with store_of(store) as kept, _written(output) as file:
        for record in kept.records([read_id(job) for job in jobs] if jobs else None):
            file.write(record.to_line() + "\n")
            count += 1
    click.echo(wording.EXPORTED.format(count=count), err=True)
    return 0


@contextmanager
def _written(output: Path | None) -> Iterator[TextIO]:
    if output is None:
        yield sys.stdout
        sys.stdout.flush()  # before it is said that it was written
        return
    with written_whole(output) as file:
        yield file


@click.command("import")
@click.argument("file", type=click.Path(path_type=Path, allow_dash=True))
@store_option
def import_jobs(file: Path, store: Path | None) -> int:
    """Take jobs from JSON Lines as `export` writes them; `-` reads standard input.

    A job that is here already goes on where the line goes on; one that tells something else is left as it is. Exit 1
    when any line was not taken. Example: diagnose jobs import jobs.jsonl
    """
    counts: Counter[str] = Counter()
    with store_of(store) as kept, _read(file) as lines:
        batch: list[tuple[int, CaseRecord]] = []
        for number, line in enumerate(iter(lambda: lines.readline(LONGEST_LINE + 1), b""), 1):
            if not line.strip():
                continue
            try:
                batch.append((number, CaseRecord.read_line(line)))
            except DiagnoseError as why:
                _say_refused(file, number, why)
                counts["refused"] += 1
            if len(batch) >= TOGETHER:
                _take(kept, file, batch, counts)
                batch = []
        _take(kept, file, batch, counts)
    click.echo(wording.IMPORTED.format(**{name: counts[name] for name in ("new", "longer", "known", "refused")}))
    return 1 if counts["refused"] else 0


@contextmanager
def _read(file: Path) -> Iterator[BinaryIO]:
    if str(file) == "-":
        yield sys.stdin.buffer
        return
    with told_clearly(file), file.open("rb") as opened:
        yield opened


def _take(kept: SqliteStore, file: Path, batch: list[tuple[int, CaseRecord]], counts: Counter[str]) -> None:
    """Take a batch in one go; where a job of it cannot be taken, one by one."""
    try:
        counts.update(kept.take_all([record for _, record in batch]) if batch else [])
        return
    except InputError:
        pass
    for number, record in batch:
        try:
            counts[kept.take(record)] += 1
        except InputError as why:
            _say_refused(file, number, why)
            counts["refused"] += 1


def _say_refused(file: Path, number: int, why: DiagnoseError) -> None:
    place = Location("standard input" if str(file) == "-" else str(file), number, 1)
    click.echo(_plain(f"{place}: {why.message} {why.hint}"), err=True)


def _plain(text: str) -> str:
    return "".join(char if char.isprintable() else "?" for char in text)


@click.command()
@click.argument("file", type=click.Path(path_type=Path))
@store_option
def backup(file: Path, store: Path | None) -> int:
    """Copy the store to a new FILE as it is at this moment, also while others work with it.

    The copy is looked through and safe on the disk when this ends; it is a store itself, to be used with --store.
    Example: diagnose jobs backup monday.sqlite3
    """
    with store_of(store) as kept:
        size = kept.back_up(file)
    click.echo(wording.BACKED_UP.format(file=file, size=size))
    return 0


@click.command()
@store_option
@plain_option
def check(store: Path | None, plain: bool) -> int:
    """Say where the store is, how it is kept, and whether it is sound. Exit 1 when it is not.

    Example: diagnose jobs check
    """
    paper = paper_of(plain)
    with store_of(store) as kept:
        paper.whole(str(kept.path))
        found = kept.examine()
    for name, value in found.settings.items():
        paper.say(wording.SETTING.format(name=name, value=value), indent=1)
    paper.say(wording.HOLDS.format(cases=found.cases, events=found.events, size=found.size), indent=1)
    for trouble in (*found.troubles, *found.newer):
        paper.item("!", trouble)
    told = wording.UNSOUND if found.troubles else wording.NEWER_INSIDE if found.newer else wording.SOUND
    paper.say(told, style="bold")
    return 1 if found.troubles or found.newer else 0


@click.command("rescue")
@click.option("--store", type=click.Path(path_type=Path), help="The damaged file; the usual one when left out.")
@click.option("--into", type=click.Path(path_type=Path), help="A new store for what can be saved.")
@plain_option
def rescue_jobs(store: Path | None, into: Path | None, plain: bool) -> int:
    """Say what can be saved out of a damaged store; with --into, save it. The damaged file itself is left as it is.

    Exit 1 when anything is lost. Example: diagnose jobs rescue --into saved.sqlite3
    """
    paper = paper_of(plain)
    path = (store or default_path()).absolute()
    if into is not None and into.exists():
        raise InputError("input.exists", wording.INTO_NEW.format(file=into), None, wording.INTO_HOW)
    with TemporaryDirectory(prefix="diagnose-") as folder, rescue(path, Path(folder)) as found:
        counts = _save(paper, found.cases(), into)
        gone = found.gone
    paper.say(wording.SAVED.format(**{name: counts[name] for name in ("whole", "part", "lost")}), style="bold")
    if gone:
        paper.say(wording.SAVED_GONE.format(count=gone))
    paper.say(wording.SAVED_INTO.format(file=into) if into else wording.SAVE_HOW)
    return 1 if counts["part"] or counts["lost"] or gone or not counts["whole"] else 0


def _save(paper: Paper, cases: Iterable[Saved], into: Path | None) -> Counter[str]:
    counts: Counter[str] = Counter(whole=0, part=0, lost=0)
    records: list[CaseRecord] = []
    for one in cases:
        counts["whole" if one.whole else "part" if one.record else "lost"] += 1
        if not one.whole:
            paper.item("-", _loss(one))
        if one.record and into:
            records.append(one.record)
        if len(records) >= TOGETHER:
            _keep(into, records)
            records = []
    _keep(into, records)
    return counts


def _keep(into: Path | None, records: list[CaseRecord]) -> None:
    if into and records:
        with SqliteStore(into) as new:
            new.take_all(records)


def _loss(one: Saved) -> str:
    if one.record is None:
        return wording.LOST_JOB.format(case=one.id)
    told = [wording.LOST_NUMBER] if one.new_id else []
    if one.lost:
        told.append(wording.LOST_EVENTS.format(kept=len(one.record.rows), all=len(one.record.rows) + one.lost))
    if one.texts_lost:
        told.append(wording.LOST_TEXTS.format(count=one.texts_lost))
    return wording.LOST.format(case=one.id, what=", ".join(told))
