"""`diagnose jobs list` and `history`: the jobs that were told, by words, by how they stand, by bike."""

from __future__ import annotations

import json
from pathlib import Path
from typing import get_args

import click

from diagnose.book.model import Book
from diagnose.casework.protocol import CaseSummary, Which
from diagnose.front import wording
from diagnose.front.happened import told_text
from diagnose.front.jobs.common import (
    complaints,
    desk_of,
    local,
    paper_of,
    plain_option,
    state,
    store_of,
    store_option,
)
from diagnose.front.options import chosen_book, rules_option
from diagnose.front.paper import Paper
from diagnose.front.table import comma_separated

HEAD = ("job", "label", "complaints", "state", "opened", "last worked on", "events")


@click.command("list")
@click.argument("words", nargs=-1)
@click.option("--which", type=click.Choice(get_args(Which)), default="all", help="Only those that stand so.")
@click.option("--limit", type=click.IntRange(1, 1_000_000), default=50, show_default=True, help="At most so many.")
@click.option("--csv", "form", flag_value="csv", help="As a table for a spreadsheet.")
@click.option("--json", "form", flag_value="json", help="As JSON.")
@rules_option
@store_option
@plain_option
def list_jobs(
    words: tuple[str, ...],
    which: Which,
    limit: int,
    form: str | None,
    rules: tuple[Path, ...],
    store: Path | None,
    plain: bool,
) -> int:
    """List jobs, last worked on first: all, or those with all WORDS in number, label, notes or complaint.

    Examples: diagnose jobs list; diagnose jobs list blue rack --which waiting
    """
    book = chosen_book(rules)
    with store_of(store) as kept:
        jobs = kept.cases(" ".join(words), limit + 1, which)
    shown = jobs[:limit]
    if form == "json":
        click.echo(json.dumps({"schema": 1, "jobs": [told(job, book) for job in shown]}, indent=1))
        return 0
    if form == "csv":
        click.echo(comma_separated(HEAD, [[str(cell) for cell in told(job, book).values()] for job in shown]), nl=False)
        return 0
    paper = paper_of(plain)
    for job in shown:
        say_job(paper, job, book)
    if not shown:
        paper.say(wording.NO_JOBS)
    if len(jobs) > limit:
        paper.say(wording.MORE_JOBS.format(limit=limit))
    return 0


def told(job: CaseSummary, book: Book) -> dict[str, str | int]:
    """A job as the columns of a table."""
    cells = (
        job.id,
        job.label or "",
        complaints(job, book),
        state(job, book),
        job.opened_at,
        job.last_at,
        job.events,
    )
    return dict(zip(("job", "label", "complaints", "state", "opened", "last", "events"), cells, strict=True))


def say_job(paper: Paper, job: CaseSummary, book: Book) -> None:
    """A job in two lines."""
    line = wording.JOB_LINE.format(id=job.id, when=local(job.last_at), label=job.label or wording.NO_LABEL)
    paper.say(line, style="bold", hang=2)
    paper.say(f"{complaints(job, book) or wording.NOTHING_TOLD}: {state(job, book)}", indent=9)


@click.command()
@click.argument("label", nargs=-1, required=True)
@rules_option
@store_option
@plain_option
def history(label: tuple[str, ...], rules: tuple[Path, ...], store: Path | None, plain: bool) -> int:
    """Tell what was done to the bike of this LABEL before, visit by visit, and what came back.

    Example: diagnose jobs history rack 7 blue
    """
    paper = paper_of(plain)
    with store_of(store) as kept:
        desk = desk_of(kept, rules)
        jobs = kept.cases(bike=" ".join(label), limit=1_000)
        for job in jobs:
            paper.say()
            say_job(paper, job, desk.book)
            for at, event in desk.work_done(job.id):
                paper.say(f"{local(at)}  {told_text(desk.book, event)}", indent=9, hang=2)
    if not jobs:
        paper.say(wording.NO_BIKE.format(label=" ".join(label)))
    return 0 if jobs else 1
