"""`diagnose rules`: look after the rule book. `check` says what is wrong with it, by file, line and column."""

from __future__ import annotations

from pathlib import Path

import click

from diagnose.book.load import read_book
from diagnose.book.place import shipped_rules
from diagnose.book.problems import Problem


@click.group()
def command() -> None:
    """Look after the rule book."""


@command.command()
@click.argument("folder", type=click.Path(path_type=Path), required=False)
def check(folder: Path | None) -> int:
    """Say what is wrong with the rule book in FOLDER (the shipped one when left out). Exit 0 when nothing is, else 1.

    Example: diagnose rules check rules
    """
    book, problems = read_book(folder or shipped_rules())
    for problem in problems:
        click.echo(describe(problem))
    errors = sum(problem.severity == "error" for problem in problems)
    if book:
        counts = ", ".join(
            f"{len(things)} {one if len(things) == 1 else many}"
            for one, many, things in (
                ("complaint", "complaints", book.complaints),
                ("cause", "causes", book.causes),
                ("finding", "findings", book.findings),
                ("check", "checks", book.checks),
                ("limit", "limits", book.limits),
                ("deduction", "deductions", book.deductions),
                ("fix", "fixes", book.fixes),
            )
        )
        click.echo(f"The book reads well: {counts}.")
    warnings = len(problems) - errors
    click.echo(f"{errors} error{'' if errors == 1 else 's'}, {warnings} warning{'' if warnings == 1 else 's'}.")
    return 1 if errors else 0


def describe(problem: Problem) -> str:
    """One problem as one line: place, severity, what is wrong, what to write, and its lasting name."""
    hint = f" {problem.hint}" if problem.hint else ""
    line = f"{problem.where}: {problem.severity}: {problem.message.removesuffix('.')}.{hint} [{problem.code}]"
    return "".join(char if char.isprintable() else "?" for char in line)
