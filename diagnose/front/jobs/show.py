"""`diagnose jobs show`: how a job stands, on one screen, for whoever takes it over."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import click

from diagnose.casework.desk import Desk
from diagnose.casework.sheet import told_of_bike
from diagnose.front import wording
from diagnose.front.happened import told_text
from diagnose.front.jobs.common import consent_lines, desk_of, local, paper_of, plain_option, store_of, store_option
from diagnose.front.options import command_line, named_files, rules_option
from diagnose.front.paper import Paper
from diagnose.front.screens import (
    NAMED,
    of_100,
    ranked,
    reasons,
    show_also,
    show_cautions,
    show_wishes,
    to_read_out,
    verdict,
)

View = dict[str, Any]
LAST = 6
"""Things done that are told, the newest last."""


@click.command()
@click.argument("job")
@click.option("--json", "as_json", is_flag=True, help="The whole View, as JSON.")
@rules_option
@store_option
@plain_option
def show_job(job: str, as_json: bool, rules: tuple[Path, ...], store: Path | None, plain: bool) -> int:
    """Show how a JOB stands: complaint, what is proven, suspected, done, loose, waited for, and what comes next.

    Example: diagnose jobs show b7k2-21
    """
    with store_of(store) as kept:
        desk = desk_of(kept, rules)
        case_id = desk.find(job)
        shown = desk.view if as_json else desk.view_for_stand
        view = shown(case_id, with_estimate=as_json) if desk.folded(case_id).situation.complaints else None
        if as_json:
            click.echo(json.dumps({"schema": 1, "job": case_id, "view": view}, indent=1))
            return 0
        paper = paper_of(plain)
        if view is None:
            label = desk.label(case_id) or wording.NO_LABEL
            paper.say(wording.TAKE_OVER.format(case=case_id, label=label), style="bold")
            paper.say(wording.NOTHING_TOLD)
            _say_list(paper, wording.NOTES, desk.notes(case_id))
            return 0
        _say(paper, desk, case_id, view, named_files(rules, store))
    return 0


def _say(paper: Paper, desk: Desk, case_id: str, view: View, files: tuple[tuple[str, Path], ...]) -> None:
    paper.say(wording.TAKE_OVER.format(case=case_id, label=view["case"] or wording.NO_LABEL), style="bold")
    paper.say(verdict(view), style="bold" if view["ride"]["verdict"] != "ride" else "")
    for text in reasons(view, 2):
        paper.say(text, indent=1)
    _say_loose(paper, view)
    show_wishes(paper, view)
    for line in consent_lines(view):
        paper.item("-", line)
    if consent := desk.open_consent(case_id, view):
        paper.say(wording.CONSENT, style="bold")
        paper.say(to_read_out(consent), indent=1)
    several = len(view["complaints"]) > 1
    paper.head(wording.COMPLAINTS_RANKED if several else wording.COMPLAINTS)
    for mark, text in ranked(view["complaints"]):
        paper.item(mark, text)
    _say_list(paper, wording.THE_BIKE, list(told_of_bike(desk.book, desk.folded(case_id))))
    seen = [one for one in view["answers"] if one["value"] and not one["stale"]]
    _say_list(paper, wording.SEEN_AT_STAND, [_answer(one) for one in seen if one["by"] == "mechanic"])
    _say_list(paper, wording.SAID_BY_RIDER, [_answer(one) for one in seen if one["by"] == "rider"])
    for one in view["complaints"]:
        head = wording.SUSPECTED_OF.format(complaint=one["text"]) if several else wording.SUSPECTED
        _say_list(paper, head, _suspected(one))
    done = [f"{local(at)}  {told_text(desk.book, event)}" for at, event in desk.work_done(case_id, before=True)]
    _say_list(paper, wording.DONE_SO_FAR, done[-LAST:])
    _say_list(paper, wording.NOTES, desk.notes(case_id))
    show_also(paper, view)
    show_cautions(paper, [one["text"] for one in view["cautions"]], set(), 0)
    paper.head(wording.COMES_NEXT)
    paper.say(_next(view), indent=1)
    paper.say(wording.OPEN_WITH if view["ended"] else wording.GO_ON_WITH)
    paper.whole(command_line(wording.COMMAND, case_id, files))
    if view["ended"]:
        paper.say(wording.CAME_BACK_WITH)
        paper.whole(command_line(wording.COMEBACK_COMMAND, case_id, files))


def _say_loose(paper: Paper, view: View) -> None:
    """What is apart or loose, and what is waited for, before anything else: somebody could get hurt by it."""
    if view["loose"]:
        paper.say(wording.LOOSE_READ.format(text=view["loose"]), style="bold")
    if view["open"]:
        paper.say(wording.OPEN_NOW.format(text=", ".join(view["open"])), style="bold")
    if view["waits"] is not None:
        paper.say(wording.STILL_WAITS.format(text=view["waits"] or wording.NOT_SAID), style="bold")
    if view["comebacks"]:
        paper.say(wording.COMEBACKS.format(count=view["comebacks"]), style="bold")
        if view["earlier"]:
            paper.say(wording.TOUCHED_LAST.format(text="; ".join(view["earlier"])))


def _say_list(paper: Paper, head: str, lines: list[str]) -> None:
    if lines:
        paper.head(head)
    for line in lines:
        paper.item("-", line)


def _answer(one: View) -> str:
    typed = f" ({one['typed']})" if one["typed"] else ""
    return f"{one['name']}: {one['value_text']}{typed}"


def _suspected(complaint: View) -> list[str]:
    if complaint["gone"]:
        return []
    named = [(one["name"], one["share"]) for one in complaint["causes"][:3] if one["share"] >= NAMED]
    named.append((wording.NOT_IN_BOOK, complaint["something_else"]))
    return [wording.OF_100.format(name=name, share=of_100(share)) for name, share in named]


def _next(view: View) -> str:
    if view["ended"]:
        return wording.IT_ENDED.format(how=wording.JOB_ENDED[view["ended"]])
    return str(view["wanted"][0]["text"] if view["wanted"] else view["next"]["text"])
