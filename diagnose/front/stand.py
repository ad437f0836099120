"""`diagnose stand`: work on one bike at the stand; `--play` shows a worked case from the first question to the plan."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from diagnose.book.place import shipped_rules
from diagnose.book.shelf import load_book
from diagnose.errors import InputError
from diagnose.front import wording
from diagnose.front.keys import EndOfInput, keyboard
from diagnose.front.paper import Paper
from diagnose.front.prompt import Back, Prompt, Screen

if TYPE_CHECKING:
    from diagnose.casework.desk import Desk
    from diagnose.reason.reasoner import Reasoner

LISTED = 8
"""Open jobs in the list, last worked on first; the ninth key begins a new one."""


@click.command()
@click.option("--case", "case_id", metavar="ID", help="Go on with this job.")
@click.option("--new", is_flag=True, help="Begin a new job without showing the open ones.")
@click.option(
    "--play", metavar="FILE", help="Play a worked case: each question, its answer, how the shares moved, the plan."
)
@click.option("--at-home", is_flag=True, help="An able rider at home: no work that needs a mechanic.")
@click.option("--without", multiple=True, metavar="TOOL", help="A tool that is not at hand (may be repeated).")
@click.option("--rules", type=click.Path(path_type=Path), help="Another rule book's folder.")
@click.option("--store", type=click.Path(path_type=Path), help="Another file to keep jobs in.")
@click.option("--plain", is_flag=True, help="ASCII only.")
def command(play: str | None, rules: Path | None, store: Path | None, plain: bool, **wish: Any) -> int:
    """Find what is wrong with the bike in the stand, and put it right.

    Type the complaint in the rider's words; then one question at a time, one key an answer. Everything told is kept at
    once. Where the input is no terminal, each line is an answer: first the bike's label, then the complaint.

    Examples: diagnose stand; diagnose stand --play knock-after-new-stem
    """
    from diagnose.reason.reasoner import Reasoner

    paper = Paper(plain=True if plain else None)
    reasoner = Reasoner(load_book(rules or shipped_rules()))
    if play:
        from diagnose.front.play import play_case

        return play_case(reasoner, play, paper)
    _work(reasoner, paper, store, Wish(**wish))
    return 0


@dataclass(frozen=True, slots=True)
class Wish:
    """What the command line says of the job: which one, or how a new one is to be opened."""

    case_id: str | None
    new: bool
    at_home: bool
    without: tuple[str, ...]


def _work(reasoner: Reasoner, paper: Paper, store: Path | None, wish: Wish) -> None:
    from diagnose.casework.desk import Desk
    from diagnose.casework.store import SqliteStore, default_path
    from diagnose.front.job import Job

    tools = _tools(reasoner, wish.without)
    with SqliteStore(store or default_path()) as kept, keyboard() as keys:
        desk = Desk(reasoner, kept)
        prompt = Prompt(paper, keys)
        try:
            chosen = _chosen_job(desk, paper, prompt, wish)
            if chosen is None:
                chosen = _new_job(desk, paper, prompt, wish.at_home, tools)
            elif wish.at_home or tools:
                paper.say(wording.KEEPS_BENCH)
        except (EndOfInput, KeyboardInterrupt, Back):
            paper.tail()
            return
        Job(desk, paper, keys, chosen).run()


def _tools(reasoner: Reasoner, named: tuple[str, ...]) -> tuple[str, ...]:
    """The ids of tools, each named by its id or by its name.

    Raises:
        InputError: `input.tool`, the book knows no such tool.
    """
    from diagnose.book.problems import nearest

    tools = reasoner.book.tools
    by_name = {name.casefold(): tool for tool, name in tools.items()} | {tool: tool for tool in tools}
    found = []
    for name in named:
        tool = by_name.get(" ".join(name.casefold().split()))
        if tool is None:
            hint = nearest(name.casefold(), by_name) or wording.TOOLS_KNOWN.format(text=", ".join(sorted(tools)))
            raise InputError("input.tool", wording.NO_TOOL.format(name=name[:60]), None, hint)
        found.append(tool)
    return tuple(found)


def _chosen_job(desk: Desk, paper: Paper, prompt: Prompt, wish: Wish) -> str | None:
    """The job to go on with, None for a new one."""
    if wish.case_id is not None:
        return desk.find(wish.case_id)
    return None if wish.new else _open_job(desk, paper, prompt)


def _open_job(desk: Desk, paper: Paper, prompt: Prompt) -> str | None:
    """One of the jobs that are still open, or None for a new one. Raises Back to leave."""
    jobs = desk.open_jobs(LISTED)
    if not jobs:
        return None
    lines = tuple(
        wording.OPEN_JOB.format(id=job.id, when=job.last_at[:16].replace("T", " "), label=job.label or wording.NO_LABEL)
        for job in jobs
    )
    screen = Screen(lambda: paper.head(wording.OPEN_JOBS), lines, enter=wording.NEW_JOB, hints="q")
    chosen = prompt.ask(screen, _leaves)
    return jobs[chosen].id if chosen >= 0 else None


def _new_job(desk: Desk, paper: Paper, prompt: Prompt, at_home: bool, without: tuple[str, ...]) -> str:
    """Open a job under a label that the shop gives it."""
    while True:
        paper.say(wording.ASK_LABEL)
        label = prompt.line()
        if label.lower() == "q":
            raise Back
        try:
            case_id = desk.open(label, "mechanic", "rider" if at_home else "mechanic", without)
        except InputError as why:
            paper.say(str(why))
            continue
        paper.say(wording.OPENED.format(case=case_id))
        return case_id


def _leaves(letter: str) -> bool:
    """The keys at the list of jobs: going back and leaving are the same."""
    if letter in ("b", "q"):
        raise Back
    return False
