"""Options that several commands have, and what they and the shop's settings choose.

Cast: `rules_option`; `chosen_folders` for the folders of rules, `chosen_book` for the book as it is written,
`chosen_shop` for the book with the shop's settings upon it: jobs are worked on with that one, worked cases are not;
`command_line` for what to type to go on, with the files that were named.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from shlex import quote
from typing import TYPE_CHECKING, Any, NamedTuple

import click

if TYPE_CHECKING:
    from diagnose.book.model import Book
    from diagnose.casework.settings import Settings

RULES_HELP = "An own folder of rules beside the book, or another book; may be given again."
SETTINGS_HELP = "Another file with the shop's settings."
READ_LATER = click.Path(path_type=Path, readable=False)
"""A path that is read in its turn: one without rights is then told like any other, beside what the rest gave."""
SETTINGS = "diagnose.settings"
"""Where the context of a command keeps what `--settings` names."""


class Shop(NamedTuple):
    """The settings, the book with them upon it, and the ids of the tools that the shop lacks."""

    settings: Settings
    book: Book
    without: tuple[str, ...]


def rules_option(command: Callable[..., Any]) -> Callable[..., Any]:
    """`--rules FOLDER`, any number of times, and `--settings FILE`, which is kept in the context."""
    option = click.option("--rules", metavar="FOLDER", multiple=True, type=READ_LATER, help=RULES_HELP)
    return option(settings_option(command))


def settings_option(command: Callable[..., Any]) -> Callable[..., Any]:
    """`--settings FILE`, which is kept in the context."""
    kind = click.Path(path_type=Path)
    return click.option(
        "--settings", metavar="FILE", type=kind, help=SETTINGS_HELP, expose_value=False, callback=_keep_settings
    )(command)


def _keep_settings(ctx: click.Context, _: click.Parameter, value: Path | None) -> None:
    if value is not None:
        ctx.meta[SETTINGS] = value


def named_settings() -> Path | None:
    """The file that `--settings` names."""
    context = click.get_current_context(silent=True)
    named = context.meta.get(SETTINGS) if context else None
    return named if isinstance(named, Path) else None


def named_files(rules: Sequence[Path], store: Path | None) -> tuple[tuple[str, Path], ...]:
    """The files that the command line names, each with its option, to be named again on going on."""
    settings = named_settings()
    single = (("--settings", settings), ("--store", store))
    return (*(("--rules", folder) for folder in rules), *((option, path) for option, path in single if path))


def command_line(line: str, case_id: str, files: tuple[tuple[str, Path], ...]) -> str:
    """What to type to go on with a job, with the book and the store that it was begun with."""
    named = [f"{option} {quote(str(path))}" for option, path in files]
    return " ".join([line.format(case=case_id), *named])


def chosen_settings() -> Settings:
    """The shop's settings; how figures are written follows them until the command ends.

    Raises:
        InputError: they cannot be used.
    """
    from diagnose.bench.units import BESIDE
    from diagnose.casework.settings import load_settings

    settings = load_settings(named_settings())
    context = click.get_current_context(silent=True)
    if context and settings.units == "metric":
        token = BESIDE.set(False)
        context.call_on_close(lambda: BESIDE.reset(token))
    return settings


def chosen_folders(rules: Sequence[Path], settled: Sequence[Path] | None = None) -> tuple[Path, ...]:
    """The folders that make up the book, the book itself first.

    Args:
        rules: what `--rules` names.
        settled: what the shop's settings name, used where it fits the book; left out: they are looked up.

    Raises:
        BookError: they do not go together.
        InputError: the settings cannot be used.
    """
    from diagnose.book.place import rule_folders

    return rule_folders(rules, chosen_settings().rules if settled is None else settled)


def chosen_book(rules: Sequence[Path]) -> Book:
    """The book with all own folders, as it is written.

    Raises:
        BookError: it cannot be used.
    """
    from diagnose.book.shelf import load_book

    return load_book(*chosen_folders(rules))


def chosen_shop(rules: Sequence[Path]) -> Shop:
    """The book with all own folders and the shop's settings upon it.

    Raises:
        BookError: the book cannot be used.
        InputError: the settings cannot, or do not fit the book.
    """
    from diagnose.book.shelf import load_book
    from diagnose.casework.settings import fit, refuse

    settings = chosen_settings()
    fitted, problems = fit(settings, load_book(*chosen_folders(rules, settings.rules)))
    refuse(problems)
    return Shop(settings, fitted.book, fitted.without)
