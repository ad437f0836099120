"""`diagnose stand`: work on one bike at the stand; `--play` shows a worked case from the first question to the plan."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from diagnose.casework.protocol import open_jobs
from diagnose.casework.text import one_line
from diagnose.errors import InputError
from diagnose.front import wording
from diagnose.front.keys import EndOfInput, Keyboard, keyboard
from diagnose.front.options import (
    Shop,
    chosen_book,
    chosen_settings,
    chosen_shop,
    command_line,
    named_files,
    rules_option,
)
from diagnose.front.paper import Paper
from diagnose.front.prompt import Back, Prompt, Screen

if TYPE_CHECKING:
    from diagnose.casework.protocol import Store
    from diagnose.casework.shapes import Role

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
@rules_option
@click.option("--store", type=click.Path(path_type=Path), help="Another file to keep jobs in.")
@click.option("--plain", is_flag=True, help="ASCII only.")
def command(play: str | None, rules: tuple[Path, ...], store: Path | None, plain: bool, **wish: Any) -> int:
    """Find what is wrong with the bike in the stand, and put it right.

    Type the complaint in the rider's words; then one question at a time, one key an answer. Everything told is kept at
    once. Where the input is no terminal, each line is an answer: first the bike's label, then the complaint.

    Examples: diagnose stand; diagnose stand --play knock-after-new-stem
    """
    paper = Paper(plain=True if plain else None)
    if play:
        from diagnose.front.play import play_case
        from diagnose.reason.reasoner import Reasoner

        return play_case(Reasoner(chosen_book(rules)), play, paper)
    files = named_files(rules, store)
    _work(rules, paper, store, Wish(files=files, **wish))
    return 0


@dataclass(frozen=True, slots=True)
class Wish:
    """What the command line says of the job: which one, or how a new one is to be opened."""

    case_id: str | None
    new: bool
    at_home: bool
    without: tuple[str, ...]
    files: tuple[tuple[str, Path], ...]


def _work(rules: tuple[Path, ...], paper: Paper, store: Path | None, wish: Wish) -> None:
    """Open or find the job, then work on it.

    The book is read once the first question has been asked and answered, unless tools were named that it must know.
    """
    from diagnose.casework.store import SqliteStore, default_path

    chosen_settings()  # what is wrong with them is told before anything is typed
    shop = chosen_shop(rules) if wish.without else None
    tools = _tools(shop, wish.without) if shop else ()
    with SqliteStore(store or default_path()) as kept, keyboard() as keys:
        prompt = Prompt(paper, keys)
        try:
            chosen = wish.case_id or (None if wish.new else _open_job(kept, paper, prompt))
            label = "" if chosen else ask_label(paper, prompt)
        except (EndOfInput, KeyboardInterrupt, Back):
            paper.tail()
            return
        job = _Job(chosen, label, wish, tools)
        _begin(shop or chosen_shop(rules), kept, paper, keys, job)


@dataclass(frozen=True, slots=True)
class _Job:
    """The job that was chosen, or None and the label of a new one, with the tools that are missing."""

    chosen: str | None
    label: str
    wish: Wish
    tools: tuple[str, ...]


def _begin(shop: Shop, kept: Store, paper: Paper, keys: Keyboard, job: _Job) -> None:
    from diagnose.casework import events
    from diagnose.casework.desk import Desk
    from diagnose.front.earlier import say_earlier
    from diagnose.front.job import Job
    from diagnose.reason.reasoner import Reasoner

    desk, wish = Desk(Reasoner(shop.book), kept, shop.settings), job.wish
    skill: Role = "rider" if wish.at_home or shop.settings.skill == "rider" else "mechanic"
    without = tuple(dict.fromkeys([*shop.without, *job.tools]))
    if job.chosen is None:
        case_id = desk.open(job.label, "mechanic", skill, without)
        paper.say(wording.OPENED.format(case=case_id))
        say_earlier(paper, desk, job.label, case_id, wish.files)
    else:
        case_id = desk.find(job.chosen)
        if desk.folded(case_id).situation.role == "rider":
            desk.submit(case_id, events.at_stand(skill, without))
            paper.say(wording.FROM_COUNTER)
        elif wish.at_home or wish.without:
            paper.say(wording.KEEPS_BENCH)
    Job(desk, paper, keys, case_id, command_line(wording.COMMAND, case_id, wish.files)).run()


def _tools(shop: Shop, named: tuple[str, ...]) -> tuple[str, ...]:
    """The ids of tools, each named by its id or by its name.

    Raises:
        InputError: `input.tool`, the book knows no such tool.
    """
    from diagnose.book.problems import nearest
    from diagnose.casework.settings import tool_named

    tools = shop.book.tools
    found = []
    for name in named:
        tool = tool_named(shop.book, name)
        if tool is None:
            hint = nearest(name.casefold(), {*tools, *tools.values()}) or wording.TOOLS_KNOWN.format(
                text=", ".join(sorted(tools))
            )
            raise InputError("input.tool", wording.NO_TOOL.format(name=name[:60]), None, hint)
        found.append(tool)
    return tuple(found)


def _open_job(kept: Store, paper: Paper, prompt: Prompt) -> str | None:
    """One of the jobs that are still open, or None for a new one. Raises Back to leave."""
    jobs = open_jobs(kept, LISTED)
    if not jobs:
        return None
    lines = tuple(
        wording.OPEN_JOB.format(id=job.id, when=_local(job.last_at), label=job.label or wording.NO_LABEL)
        for job in jobs
    )
    screen = Screen(lambda: paper.head(wording.OPEN_JOBS), lines, enter=wording.NEW_JOB, hints="q")
    chosen = prompt.ask(screen, _leaves)
    return jobs[chosen].id if chosen >= 0 else None


def _local(at: str) -> str:
    """A stored time as the clock on the wall shows it."""
    from datetime import datetime

    return datetime.fromisoformat(at).astimezone().strftime("%Y-%m-%d %H:%M")


def ask_label(paper: Paper, prompt: Prompt) -> str:
    """What the shop calls the bike; asked again until it can be kept. Raises Back to leave."""
    while True:
        paper.say(wording.ASK_LABEL)
        label = prompt.line()
        if label.lower() == "q":
            raise Back
        try:
            return one_line(label, "label")
        except InputError as why:
            paper.say(str(why))


def _leaves(letter: str) -> bool:
    """The keys at the list of jobs: going back and leaving are the same."""
    if letter in ("b", "q"):
        raise Back
    return False
