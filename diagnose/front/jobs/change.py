"""Commands of `diagnose jobs` that add to a job: notes, going back, waiting, ends, comebacks; and the erasing of text.

What was told is never changed: each of these adds an event, except for erasing, which takes free text away and leaves
the events as they are.
"""

from __future__ import annotations

from pathlib import Path
from typing import cast

import click

from diagnose.book.model import Book
from diagnose.book.problems import nearest
from diagnose.casework.desk import Desk
from diagnose.casework.shapes import ENDINGS, ORIGINS, Ending, Origin
from diagnose.errors import InputError
from diagnose.front import wording
from diagnose.front.happened import told_text
from diagnose.front.jobs.common import desk_of, paper_of, plain_option, store_of, store_option
from diagnose.front.options import command_line, named_files, rules_option
from diagnose.front.screens import show_comeback, verdict


@click.command()
@click.argument("job")
@click.argument("text", nargs=-1, required=True)
@rules_option
@store_option
def note(job: str, text: tuple[str, ...], rules: tuple[Path, ...], store: Path | None) -> int:
    """Keep a note with a JOB: a photo's file name, what was agreed. It stands on the sheet and can be erased.

    Example: diagnose jobs note b7k2-21 "crack photographed, IMG_0412"
    """
    with store_of(store) as kept:
        desk = desk_of(kept, rules)
        desk.note(desk.find(job), " ".join(text))
    click.echo(wording.NOTE_KEPT)
    return 0


@click.command()
@click.argument("job")
@click.option("--steps", type=click.IntRange(1, 1_000), default=1, show_default=True, help="How many things told.")
@rules_option
@store_option
@plain_option
def undo(job: str, steps: int, rules: tuple[Path, ...], store: Path | None, plain: bool) -> int:
    """Take back the last thing told of a JOB that still counts. Nothing is deleted; it counts no more.

    Exit 1 when there was less to take back. Example: diagnose jobs undo b7k2-21
    """
    paper = paper_of(plain)
    with store_of(store) as kept:
        desk = desk_of(kept, rules)
        case_id = desk.find(job)
        for _ in range(steps):
            taken = desk.back(case_id)
            if taken is None:
                paper.say(wording.NO_BACK)
                return 1
            paper.say(wording.TOOK_BACK.format(text=told_text(desk.book, taken)))
    return 0


@click.command()
@click.argument("job")
@click.argument("text", nargs=-1)
@click.option("--part", "parts", multiple=True, metavar="PART", help="A part of the book (may be repeated).")
@click.option("--over", is_flag=True, help="It is here: the job goes on.")
@rules_option
@store_option
@plain_option
def wait(
    job: str,
    text: tuple[str, ...],
    parts: tuple[str, ...],
    over: bool,
    rules: tuple[Path, ...],
    store: Path | None,
    plain: bool,
) -> int:
    """Leave a JOB waiting: for parts of the book, for what TEXT says, or for something that nobody named.

    Examples: diagnose jobs wait b7k2-21 --part inner-tube; diagnose jobs wait b7k2-21 --over
    """
    if over and (text or parts):
        raise click.UsageError(wording.WAIT_OR_OVER)
    paper = paper_of(plain)
    with store_of(store) as kept:
        desk = desk_of(kept, rules)
        case_id = _open_job(desk, job)
        if over:
            desk.here_now(case_id)
            paper.say(wording.WAITS_NO_MORE.format(case=case_id))
            return 0
        desk.wait(case_id, _parts(desk.book, parts), " ".join(text))
        view = desk.view(case_id)
        paper.say(wording.NOW_WAITS.format(case=case_id))
        if view["open"] or view["loose"]:
            paper.say(wording.TAG_APART, style="bold")
        paper.say(wording.WAIT_HOW)
    return 0


def _parts(book: Book, named: tuple[str, ...]) -> list[str]:
    """The ids of parts, each named by its id or by its name.

    Raises:
        InputError: `input.part`, the book knows no such part.
    """
    by_name = {part.name.casefold(): part.id for part in book.parts.values()} | {part: part for part in book.parts}
    found = []
    for name in named:
        part = by_name.get(" ".join(name.casefold().split()))
        if part is None:
            hint = nearest(name.casefold()[:60], by_name) or wording.PART_AS_TEXT
            raise InputError("input.part", wording.NO_PART.format(name=name[:60]), None, hint)
        found.append(part)
    return found


def _open_job(desk: Desk, typed: str) -> str:
    """The id of a job that is not over."""
    case_id = desk.find(typed)
    how = desk.folded(case_id).situation.ended
    if how:
        text = wording.JOB_ENDED.get(how, how)
        raise InputError("input.over", wording.JOB_IS_OVER.format(case=case_id, how=text), None, wording.OVER_HOW)
    return case_id


@click.command()
@click.argument("job")
@click.argument("how", type=click.Choice(ENDINGS))
@click.option("--found", "causes", multiple=True, metavar="CAUSE", help="A cause that was found (may be repeated).")
@rules_option
@store_option
@plain_option
def end(job: str, how: str, causes: tuple[str, ...], rules: tuple[Path, ...], store: Path | None, plain: bool) -> int:
    """End a JOB: HOW says in which way. What was found is counted when the book learns.

    Cured means that the repeat test passed: where the stand was told of none, --found says what was put right. With
    --found a job that is over is ended once more: what somebody else has found is told afterwards.

    Example: diagnose jobs end b7k2-21 handed-off --found steerer-cracked
    """
    paper = paper_of(plain)
    with store_of(store) as kept:
        desk = desk_of(kept, rules)
        case_id = desk.find(job) if causes else _open_job(desk, job)
        standing = desk.folded(case_id).situation.standing
        if how == "cured" and standing and not causes:
            names = "; ".join(desk.book.complaints[one].name for one in standing)
            hint = wording.NOT_PASSED_HOW.format(case=case_id)
            raise InputError("input.not-passed", wording.NOT_PASSED.format(case=case_id, names=names), None, hint)
        unknown = [name for name in causes if name not in desk.book.causes]
        if unknown:
            hint = nearest(unknown[0][:60], desk.book.causes)
            raise InputError("input.cause", wording.NO_CAUSE.format(name=unknown[0][:60]), None, hint)
        desk.end(case_id, cast(Ending, how), causes)
        view = desk.view(case_id)
        paper.say(wording.IS_OVER.format(case=case_id, how=wording.JOB_ENDED[how]))
        if view["ride"]["verdict"] != "ride":
            paper.say(verdict(view), style="bold")
    return 0


@click.command()
@click.argument("job")
@click.option("--origin", type=click.Choice(ORIGINS), help="What it comes from, where that is known already.")
@rules_option
@store_option
@plain_option
def comeback(job: str, origin: str | None, rules: tuple[Path, ...], store: Path | None, plain: bool) -> int:
    """Open a JOB that was over again, because the bike is back with the same complaint.

    What was done the last time counts as done before the bike came; what was seen then is looked at afresh.
    Example: diagnose jobs comeback b7k2-21 --origin own-work
    """
    paper = paper_of(plain)
    with store_of(store) as kept:
        desk = desk_of(kept, rules)
        case_id = desk.find(job)
        desk.come_back(case_id, cast("Origin | None", origin))
        show_comeback(paper, case_id, desk.view(case_id))
        paper.say(wording.GO_ON_WITH)
        paper.whole(command_line(wording.COMMAND, case_id, named_files(rules, store)))
    return 0


@click.command()
@click.argument("job")
@click.option("--yes", is_flag=True, help="Do not ask.")
@rules_option
@store_option
def erase(job: str, yes: bool, rules: tuple[Path, ...], store: Path | None) -> int:
    """Erase all free text of a JOB for good: label, the rider's words, notes, what was noted as loose.

    Its events stay valid.

    Copies made before, by `backup` or `export`, keep what they hold. Example: diagnose jobs erase b7k2-21
    """
    with store_of(store) as kept:
        desk = desk_of(kept, rules)
        case_id = desk.find(job)
        if not yes:
            click.confirm(wording.ERASE_ASK.format(case=case_id), abort=True)
        count = kept.erase_text(case_id)
    click.echo(wording.ERASED.format(count=count, case=case_id))
    return 0
