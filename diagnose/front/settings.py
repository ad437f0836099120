"""`diagnose settings`: where the shop's settings are, what they say, and what is wrong with them.

Cast: `command`. What holds is told for every key, with the book's own figure where the shop says nothing.
"""

from __future__ import annotations

import json
import os
from pathlib import Path
from typing import Any

import click

from diagnose.book.model import Book
from diagnose.book.problems import Problem
from diagnose.casework.settings import KEYS, VARIABLE, Fitted, Settings, fit, read_settings, settings_path
from diagnose.front import wording
from diagnose.front.options import chosen_folders, named_settings, rules_option
from diagnose.front.paper import Paper
from diagnose.front.screens import money

EXAMPLE = """\
# What is left out, or stands behind a #, is as in the rule book.
# labour_rate = 66              # {labour_rate}
# currency = "EUR"              # {currency}
# minimum_charge = 15           # {minimum_charge}
# diagnosis_minutes = 10        # {diagnosis_minutes}
# units = "metric"              # {units}
# skill = "mechanic"            # {skill}
# without_tools = ["caliper"]   # {without_tools}
# tools = ["torque wrench"]     # {tools}
# rules = ["our-rules"]         # {rules}

# [price_factors]               # {price_factors}
# all = 1.1

# [thresholds]                  # {thresholds}
# do_not_ride = 4
# with_care = 15
"""


@click.command()
@rules_option
@click.option("--tools", "list_tools", is_flag=True, help="List the tools that the book knows, by id and name.")
@click.option("--example", is_flag=True, help="Print a file to begin with.")
@click.option("--json", "as_json", is_flag=True, help="Print them for programs.")
@click.option("--plain", is_flag=True, help="ASCII only.")
def command(rules: tuple[Path, ...], list_tools: bool, example: bool, as_json: bool, plain: bool) -> int:
    """Show where the shop's settings are and what they say; exit 1 where something is wrong with them.

    The file is what `--settings` names, else what DIAGNOSE_SETTINGS names, else settings.toml in the folder diagnose of
    your configuration folder.

    Example: diagnose settings --example
    """
    if example:
        click.echo(EXAMPLE.format(**KEYS), nl=False)
        return 0
    given = named_settings()
    path, named = settings_path(given)
    there = named or path.is_file()
    settings, problems = read_settings(path) if there else (Settings(), ())
    from diagnose.book.shelf import load_book

    usable = [folder for folder in settings.rules if (folder / "book.yaml").is_file()]
    book = load_book(*chosen_folders(rules, usable))
    paper = Paper(plain=True if plain else None)
    if list_tools:
        for tool, name in sorted(book.tools.items()):
            paper.say(f"{tool}: {name}", hang=2)
        return 0
    fitted, unfit = fit(settings, book)
    problems = tuple(sorted({*problems, *unfit}))
    source = "option" if given else "environment" if os.environ.get(VARIABLE) else "usual"
    if as_json:
        click.echo(json.dumps(_told(path, source, there, fitted, settings, problems), indent=1))
    else:
        _say(paper, wording.SETTINGS_FROM[source], path, there)
        _say_all(paper, settings, book, fitted)
        for one in problems:
            paper.say(f"{one.where}: {one.message} {one.hint}", style="bold")
        if there and not problems:
            paper.say(wording.SETTINGS_SOUND)
    return 1 if problems else 0


def _say(paper: Paper, source: str, path: Path, there: bool) -> None:
    paper.whole(wording.SETTINGS_FILE.format(file=path))
    paper.say(source, indent=1)
    if not there:
        paper.say(wording.SETTINGS_NONE)


def _say_all(paper: Paper, settings: Settings, book: Book, fitted: Fitted) -> None:
    """Every key with what holds, then the tools that are missing."""
    said = set(settings.lines)
    for key, value in _held(settings, fitted).items():
        line = wording.SETTING_SAID if key in said else wording.SETTING_UNSAID if value in (None, "") else ""
        paper.item("-", (line or wording.SETTING_BOOK).format(key=key, value=value))
        paper.item(" ", KEYS[key], style="dim")
    lacks = ", ".join(book.tools[tool] for tool in fitted.without)
    paper.say(wording.SHOP_LACKS.format(text=lacks) if lacks else wording.SHOP_HAS_ALL)


def _held(settings: Settings, fitted: Fitted) -> dict[str, Any]:
    """What holds for each key, as text."""
    constants = fitted.book.constants
    factors = ", ".join(f"{name} {one:g}" for name, one in settings.price_factors.items())
    return {
        "labour_rate": f"{money(constants.rate * 60)} {constants.currency}",
        "currency": constants.currency,
        "minimum_charge": f"{money(settings.minimum_charge)} {constants.currency}",
        "diagnosis_minutes": f"{settings.diagnosis_minutes:g}",
        "units": settings.units,
        "skill": settings.skill,
        "tools": None if settings.tools is None else ", ".join(settings.tools),
        "without_tools": ", ".join(settings.without_tools),
        "rules": ", ".join(map(str, settings.rules)),
        "price_factors": factors or "all 1",
        "thresholds": f"do_not_ride {100 * constants.stop_threshold:g}, with_care {100 * constants.care_threshold:g}",
    }


def _told(
    path: Path, source: str, there: bool, fitted: Fitted, settings: Settings, problems: tuple[Problem, ...]
) -> dict[str, Any]:
    """The same for programs; shares as fractions."""
    constants = fitted.book.constants
    return {
        "schema": 1,
        "file": str(path),
        "source": source,
        "there": there,
        "settings": {
            "labour_rate": constants.rate * 60,
            "currency": constants.currency,
            "minimum_charge": settings.minimum_charge,
            "diagnosis_minutes": settings.diagnosis_minutes,
            "units": settings.units,
            "skill": settings.skill,
            "without_tools": list(fitted.without),
            "rules": [str(folder) for folder in settings.rules],
            "price_factors": dict(settings.price_factors),
            "thresholds": {"do_not_ride": constants.stop_threshold, "with_care": constants.care_threshold},
        },
        "errors": [
            {
                "code": one.code,
                "file": one.where.file,
                "line": one.where.line,
                "column": one.where.column,
                "message": one.message,
                "hint": one.hint or None,
            }
            for one in problems
        ],
    }
