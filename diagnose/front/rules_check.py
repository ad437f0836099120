"""`diagnose rules check`: what is wrong with a rule book, by file, line and column, why it matters, what to write.

Cast: `check`; `look` reads the book and looks at it closely, `Outcome` is what came of it.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any, NamedTuple

import click

from diagnose import __version__
from diagnose.book.anomalies.examine import LetStand, examine
from diagnose.book.anomalies.study import study_book
from diagnose.book.model import Book
from diagnose.book.place import cases_beside
from diagnose.book.problems import Problem
from diagnose.book.slips.catalogue import why_of
from diagnose.errors import BookError
from diagnose.front.anomalies import every_anomaly
from diagnose.front.options import READ_LATER, chosen_folders, rules_option
from diagnose.front.problems import describe, problem_of, told

SCHEMA = 1


@click.command()
@click.argument("folders", type=READ_LATER, nargs=-1, metavar="[FOLDER]...")
@rules_option
@click.option("--cases", type=READ_LATER, help="Worked cases (a folder `cases` beside each FOLDER if unsaid).")
@click.option("--all", "show_all", is_flag=True, help="List also what a file lets stand with a reason.")
@click.option("--strict", is_flag=True, help="Exit 1 on a warning as well.")
@click.option("--json", "as_json", is_flag=True, help="Print everything as JSON.")
def check(
    folders: tuple[Path, ...],
    rules: tuple[Path, ...],
    cases: Path | None,
    show_all: bool,
    strict: bool,
    as_json: bool,
) -> int:
    """Say what is wrong with the rule book, and with own folders beside it.

    FOLDER is what `--rules FOLDER` names: an own folder, which is looked at together with the book that it adds to, or
    another book. Left out: the book that every command uses.

    An error: the book cannot be used, or somebody may be told something wrong. A warning: something is asked, written
    or read in vain. `diagnose rules explain` tells what is looked for.

    Exit 0 when there is no error, else 1; 2 when the folder cannot be read.

    Example: diagnose rules check ours/rules
    """
    try:
        every = chosen_folders([*folders, *rules])
        outcome = look(every, [cases] if cases else cases_beside(every))
    except BookError as why:
        if not as_json:
            raise
        told_why = problem_of(why)._replace(why=why_of(why.code))
        _print_json(Outcome(None, (told_why,), ()))
        return 2
    if as_json:
        _print_json(outcome)
    else:
        for line in _lines(outcome, show_all):
            click.echo(line)
    return 1 if outcome.errors or (strict and outcome.problems) else 0


class Outcome(NamedTuple):
    """What came of a look: the book (None when it cannot be used), the problems, and what is right as it is."""

    book: Book | None
    problems: tuple[Problem, ...]
    let_stand: tuple[LetStand, ...]

    @property
    def errors(self) -> int:
        """How many errors."""
        return sum(problem.severity == "error" for problem in self.problems)

    @property
    def by_kind(self) -> dict[str, int]:
        """Code to how many problems, the most first."""
        counted = Counter(problem.code for problem in self.problems)
        return dict(sorted(counted.items(), key=lambda one: (-one[1], one[0])))


def look(folders: Sequence[Path], cases: Sequence[Path]) -> Outcome:
    """Read a book and, where it can be used, look for every anomaly.

    Raises:
        BookError: a folder itself cannot be read.
    """
    study, problems = study_book(*folders)
    problems = tuple(problem._replace(why=why_of(problem.code)) for problem in problems)
    if study is None:
        return Outcome(None, problems, ())
    anomalies = every_anomaly(*cases)
    verdict = examine(study, anomalies, [anomaly.name for anomaly in every_anomaly()])
    return Outcome(study.book, tuple(sorted({*problems, *verdict.problems})), verdict.let_stand)


def _lines(outcome: Outcome, show_all: bool) -> Iterator[str]:
    for problem in outcome.problems:
        yield describe(problem)
        if problem.why:
            yield f"    Why: {problem.why}"
    for one in outcome.let_stand if show_all else ():
        yield describe(one.problem._replace(severity="let stand"))
        yield f"    Because: {one.reason}"
    if outcome.book:
        counts = ", ".join(_counted(number, *names) for names, number in _contents(outcome.book))
        own = " and ".join(f"{one.title} ({one.id})" for one in outcome.book.volumes[1:])
        looked = "Looked over" if outcome.errors else "The book reads well"
        yield f"{looked}{f' with {own}' if own else ''}: {counts}."
    else:
        yield "The book cannot be used as it is; the closer look waits until the errors are mended."
    if outcome.book and len(outcome.by_kind) > 1:
        yield "By kind: " + ", ".join(f"{number} {code}" for code, number in outcome.by_kind.items()) + "."
    warnings = len(outcome.problems) - outcome.errors
    stands = f", {len(outcome.let_stand)} let stand with a reason" if outcome.let_stand else ""
    yield f"{_counted(outcome.errors, 'error', 'errors')}, {_counted(warnings, 'warning', 'warnings')}{stands}."


def _counted(number: int, one: str, many: str) -> str:
    return f"{number} {one if number == 1 else many}"


def _contents(book: Book) -> tuple[tuple[tuple[str, str], int], ...]:
    """What a book holds: the words for one and for many, and how many."""
    return (
        (("complaint", "complaints"), len(book.complaints)),
        (("cause", "causes"), len(book.causes)),
        (("finding", "findings"), len(book.findings)),
        (("check", "checks"), len(book.checks)),
        (("limit", "limits"), len(book.limits)),
        (("deduction", "deductions"), len(book.deductions)),
        (("fix", "fixes"), len(book.fixes)),
    )


def _print_json(outcome: Outcome) -> None:
    """One envelope, also where the book cannot be used: book and counts are null then."""
    import json

    book = outcome.book
    envelope = {
        "schema": SCHEMA,
        "program": __version__,
        "book": {"id": book.constants.id, "fingerprint": book.fingerprint} if book else None,
        "counts": {many: number for (_, many), number in _contents(book)} if book else None,
        "problems": [_told(problem) for problem in outcome.problems],
        "let_stand": [{**_told(one.problem), "reason": one.reason} for one in outcome.let_stand],
        "by_kind": outcome.by_kind,
        "errors": outcome.errors,
        "warnings": len(outcome.problems) - outcome.errors,
    }
    click.echo(json.dumps(envelope, indent=1, ensure_ascii=True))


def _told(problem: Problem) -> dict[str, Any]:
    return {**told(problem), "severity": problem.severity, "why": problem.why or None}
