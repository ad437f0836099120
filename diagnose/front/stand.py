"""`diagnose stand`: work on one bike at the stand; `--play` shows a worked case from the first question to the plan."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from diagnose.book.load import load_book
from diagnose.book.place import shipped_rules
from diagnose.errors import InputError
from diagnose.front import wording
from diagnose.front.keys import EndOfInput, Keyboard, keyboard
from diagnose.front.paper import Paper

if TYPE_CHECKING:
    from diagnose.casework.desk import Desk
    from diagnose.reason.diagnosis import Reasoner


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
@click.option("--plain", is_flag=True, help="ASCII only, no colour.")
def command(
    case_id: str | None,
    new: bool,
    play: str | None,
    at_home: bool,
    without: tuple[str, ...],
    rules: Path | None,
    store: Path | None,
    plain: bool,
) -> int:
    """Find what is wrong with the bike in the stand, and put it right.

    Type the complaint in the rider's words; then one question at a time, one key an answer. Everything told is kept at once.

    Examples: diagnose stand; diagnose stand --play knock-after-new-stem
    """
    from diagnose.reason.diagnosis import Reasoner

    paper = Paper(plain=True if plain else None)
    reasoner = Reasoner(load_book(rules or shipped_rules()))
    if play:
        from diagnose.front.play import play_case

        return play_case(reasoner, play, paper)
    return _work(reasoner, paper, case_id, new, at_home, without, store)


def _work(
    reasoner: Reasoner,
    paper: Paper,
    case_id: str | None,
    new: bool,
    at_home: bool,
    without: tuple[str, ...],
    store: Path | None,
) -> int:
    from diagnose.casework.caseid import read_id
    from diagnose.casework.desk import Desk
    from diagnose.casework.store import SqliteStore, default_path
    from diagnose.front.job import Job

    _check_tools(reasoner, without)
    keys = keyboard()
    with SqliteStore(store or default_path()) as kept:
        desk = Desk(reasoner, kept)
        try:
            if case_id:
                chosen: str | None = read_id(case_id)
            else:
                chosen = None if new else _open_job(desk, paper, keys)
            if chosen is None:
                paper.say(wording.ASK_LABEL)
                chosen = desk.open(keys.line(), "mechanic", "rider" if at_home else "mechanic", without)
                paper.say(f"Job {chosen}.")
        except (EndOfInput, KeyboardInterrupt):
            return 0
        Job(desk, paper, keys, str(chosen)).run()
    return 0


def _check_tools(reasoner: Reasoner, without: tuple[str, ...]) -> None:
    from diagnose.book.problems import nearest

    for tool in without:
        if tool not in reasoner.book.tools:
            raise InputError("input.tool", f"the book knows no tool '{tool}'", None, nearest(tool, reasoner.book.tools))


def _open_job(desk: Desk, paper: Paper, keys: Keyboard) -> str | None:
    """One of the jobs that are still open, or None for a new one."""
    jobs = [one for one in desk.store.cases(limit=50) if one.ended is None][:9]
    if not jobs:
        return None
    paper.say(wording.OPEN_JOBS, style="bold")
    for number, job in enumerate(jobs, 1):
        paper.item(str(number), f"{job.id}  {job.label or '(no label)'}  last {job.last_at[:16].replace('T', ' ')} UTC")
    while True:
        typed = keys.key()
        if typed in ("", "n"):
            return None
        if typed == "q":
            raise EndOfInput
        if typed.isascii() and typed.isdigit() and 1 <= int(typed[:4]) <= len(jobs):
            return jobs[int(typed) - 1].id
        paper.say(wording.WRONG_KEY.format(keys=f"1 to {len(jobs)}, Enter, q"))
