"""Options that several commands have.

Cast: `rules_option`; `chosen_folders` for the folders that it and the settings choose, `chosen_book` for the book.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

if TYPE_CHECKING:
    from diagnose.book.model import Book

RULES_HELP = "An own folder of rules beside the book, or another book; may be given again."


def rules_option(command: Callable[..., Any]) -> Callable[..., Any]:
    """`--rules FOLDER`, any number of times."""
    option = click.option("--rules", metavar="FOLDER", multiple=True, type=click.Path(path_type=Path), help=RULES_HELP)
    return option(command)


def chosen_folders(rules: Sequence[Path], settled: Sequence[Path] = ()) -> tuple[Path, ...]:
    """The folders that make up the book, the book itself first.

    Args:
        rules: what `--rules` names.
        settled: what the shop's settings name, always used where it fits the book.

    Raises:
        BookError: they do not go together.
    """
    from diagnose.book.place import rule_folders

    return rule_folders(rules, settled)


def chosen_book(rules: Sequence[Path]) -> Book:
    """The book with all own folders.

    Raises:
        BookError: it cannot be used.
    """
    from diagnose.book.shelf import load_book

    return load_book(*chosen_folders(rules))
