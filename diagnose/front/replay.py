"""`diagnose replay`: run case files, hold them against what they expect, and say it as text or as JSON."""

from __future__ import annotations

import gc
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import Any

import click

from diagnose import __version__
from diagnose.book.model import Book
from diagnose.book.place import shipped_cases
from diagnose.book.problems import Problem
from diagnose.casework.casefile import CaseFile, CaseProblemsError, case_reader, read_case
from diagnose.casework.replay import find_cases, replay, situation_of, verdict
from diagnose.errors import BookError, CaseError, DiagnoseError
from diagnose.front.options import READ_LATER, chosen_book, rules_option
from diagnose.front.problems import describe, problem_of, told
from diagnose.reason.reasoner import Reasoner

SCHEMA = 1


@click.command()
@click.argument("files", nargs=-1, type=READ_LATER, metavar="FILE...")
@click.option("--json", "as_json", is_flag=True, help="Print one View a case, as JSON.")
@rules_option
@click.option("--estimate", is_flag=True, help="Also estimate minutes and parts.")
def command(files: tuple[Path, ...], as_json: bool, rules: tuple[Path, ...], estimate: bool) -> int:
    """Run case FILEs or folders of them (the shipped cases when left out).

    Exit 0 when every expectation holds, 1 when one fails, 2 when a file cannot be used.

    Example: diagnose replay cases/steering
    """
    try:
        book = chosen_book(rules)
    except BookError as why:
        if not as_json:
            raise
        _print_json(None, [], [problem_of(why)])
        return 2
    reasoner = Reasoner(book)
    _notice(reasoner)
    gc.freeze()  # the book stays as it is: the collector need not look at it after every few cases
    run = partial(replay, reasoner, with_estimate=estimate) if as_json else partial(_judged, reasoner)
    views, problems, spoiled = _run_all(reasoner.book, files or _shipped(), run)
    if as_json:
        _print_json(book, views, problems)
    else:
        _print_text(book, views, problems, spoiled)
    if problems:
        return 2
    return 0 if all(view["holds"] for view in views) else 1


def _judged(reasoner: Reasoner, case: CaseFile) -> dict[str, Any]:
    """The expectations of a case, and why another step comes next or another plan is made than the expected one."""
    view = verdict(reasoner, case)
    for one in view["expectations"]:
        if one["path"] in ("next", "plan_order") and not one["holds"]:
            from diagnose.front.instead import in_words, of_plan
            from diagnose.reason.instead import instead

            diagnosis = reasoner.diagnose(situation_of(reasoner, case))
            if one["path"] == "next":
                one["why"] = in_words(reasoner.book, instead(diagnosis, str(one["expected"])))
            else:
                one["why"] = of_plan(reasoner.book, diagnosis, one["expected"])
    return view


def _shipped() -> tuple[Path, ...]:
    folder = shipped_cases()
    if folder is None:
        raise CaseError("case.none", "no worked cases came with this installation", None, "Name a case file.")
    return (folder,)


def _notice(reasoner: Reasoner) -> None:
    if reasoner.notice:
        click.echo(reasoner.notice, err=True)


def _run_all(
    book: Book, paths: tuple[Path, ...], run: Callable[[CaseFile], dict[str, Any]]
) -> tuple[list[dict[str, Any]], list[Problem], int]:
    """What came of each file, the problems, and how many files could not be used."""
    views: list[dict[str, Any]] = []
    problems: list[Problem] = []
    spoiled = 0
    reader = case_reader(book)
    for given in paths:
        try:
            found = find_cases(given, lambda why: problems.append(problem_of(why)))
        except DiagnoseError as why:
            problems.append(problem_of(why))
            continue
        for path in found:
            try:
                views.append(run(read_case(path, book, reader)))
            except CaseProblemsError as many:
                spoiled += 1
                problems.extend(many.problems)
            except DiagnoseError as why:
                spoiled += 1
                problems.append(problem_of(why))
    return views, problems, spoiled


def _print_json(book: Book | None, views: list[dict[str, Any]], problems: list[Problem]) -> None:
    """One envelope, also where the book cannot be used: it is null then, and the reason stands among the errors."""
    import json

    envelope = {
        "schema": SCHEMA,
        "program": __version__,
        "book": {"id": book.constants.id, "fingerprint": book.fingerprint} if book else None,
        "own_folders": [
            {"id": one.id, "title": one.title, "fingerprint": one.fingerprint}
            for one in (book.volumes[1:] if book else ())
        ],
        "cases": views,
        "errors": [told(one) for one in problems],
    }
    click.echo(json.dumps(envelope, indent=1, ensure_ascii=True))


def _print_text(book: Book, views: list[dict[str, Any]], problems: list[Problem], spoiled: int) -> None:
    for view in views:
        for one in view["expectations"]:
            if not one["holds"]:
                click.echo(f"{view['file']}: {view['case']}")
                click.echo(f"  {one['path']}: expected {_said(one['expected'])}, found {_said(one['found'])}")
                if one.get("why"):
                    click.echo(f"    why: {one['why']}")
    for problem in problems:
        click.echo(describe(problem), err=True)
    held = sum(bool(view["holds"]) for view in views)
    own_folders = ", ".join(f"{one.title} ({one.id})" for one in book.volumes[1:])
    beside = f" with {own_folders}" if own_folders else ""
    count = len(problems)
    end = "." if not problems else "; 1 problem in a file." if count == 1 else f"; {count} problems in files."
    click.echo(f"{held} of {len(views) + spoiled} cases hold{beside}{end}")
    if held < len(views) and book.volumes[1:]:
        own = book.volumes[-1].folder
        click.echo(f"`diagnose rules compare {own}` says which of them hold without that folder, and what it moves.")


def _said(value: Any) -> str:
    if isinstance(value, list):
        return ", ".join(map(str, value)) or "nothing"
    if isinstance(value, dict):
        return ", ".join(f"{key}: {one}" for key, one in value.items())
    return str(value)
