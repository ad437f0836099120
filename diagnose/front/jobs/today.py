"""`diagnose jobs replay`: jobs gone through with today's rule book, and what would differ."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from diagnose.book.model import Book
from diagnose.casework.today import Through, through
from diagnose.front import wording
from diagnose.front.happened import told_text
from diagnose.front.jobs.common import desk_of, local, paper_of, plain_option, store_of, store_option
from diagnose.front.options import rules_option
from diagnose.front.paper import Paper
from diagnose.front.screens import verdict


@click.command()
@click.argument("jobs", nargs=-1, metavar="[JOB]...")
@rules_option
@store_option
@plain_option
def replay(jobs: tuple[str, ...], rules: tuple[Path, ...], store: Path | None, plain: bool) -> int:
    """Go through JOBs, or all, with today's rule book, and say where it would go another way. Nothing is changed.

    Exit 1 when anything would differ. Example: diagnose jobs replay b7k2-21
    """
    paper = paper_of(plain)
    with store_of(store) as kept:
        desk = desk_of(kept, rules)
        ids = [desk.find(job) for job in jobs] if jobs else [job.id for job in kept.cases(limit=1_000_000)]
        differing = 0
        for case_id in ids:
            gone = through(desk.reasoner, kept.events(case_id))
            differing += gone.differs
            if gone.differs or jobs:
                paper.say()
                paper.say(wording.TODAY.format(case=case_id), style="bold")
                _say(paper, desk.book, gone)
    paper.say()
    paper.say(wording.TODAY_COUNT.format(differing=differing, all=len(ids)))
    return 1 if differing else 0


def _say(paper: Paper, book: Book, gone: Through) -> None:
    others = sum(count for name, count in gone.books.items() if name != book.fingerprint)
    paper.say(wording.TODAY_BOOK.format(others=others, all=sum(gone.books.values())), indent=1)
    for event, why in gone.unknown:
        paper.item("!", wording.TODAY_UNKNOWN.format(seq=event.seq, why=why))
    paper.say(wording.TODAY_STEPS.format(same=gone.steps - len(gone.turns), all=gone.steps), indent=1)
    for turn in gone.turns:
        told = told_text(book, turn.event)
        paper.item("-", wording.TODAY_TURN.format(when=local(turn.event.at), told=told))
        paper.say(wording.TODAY_NEXT.format(text=_next_text(book, turn.view)), indent=3)
    if gone.view is None:
        return
    if gone.ended:
        names = ", ".join(book.causes[name].name if name in book.causes else name for name in gone.found)
        how = wording.JOB_ENDED.get(gone.ended, gone.ended)
        paper.say(wording.TODAY_ENDED.format(how=f"{how}: {names}" if names else how), indent=1)
    paper.say(wording.TODAY_NOW.format(text=gone.view["next"]["text"], ride=verdict(gone.view)), indent=1)


def _next_text(book: Book, view: dict[str, Any]) -> str:
    """What is asked or done next: at the counter it may be a fact of the bike."""
    prompt = view.get("prompt")
    return str(book.facts[prompt["id"]].ask if prompt and prompt["kind"] == "fact" else view["next"]["text"])
