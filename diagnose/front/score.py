"""`diagnose score`: the policy played on simulated bikes, beside rivals and under upsets: tables, JSON and pictures."""

from __future__ import annotations

import json
import os
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import click

from diagnose import __version__
from diagnose.book.model import Book
from diagnose.book.problems import nearest
from diagnose.book.shelf import load_book
from diagnose.casework.score.players import RIVALS, Clairvoyant
from diagnose.casework.score.run import Order, Progress, run
from diagnose.casework.score.summary import Summary, plain, summarise
from diagnose.casework.score.upsets import UPSETS
from diagnose.errors import InputError
from diagnose.front.options import chosen_folders, rules_option
from diagnose.front.score_pictures import costs, reliability
from diagnose.front.score_text import text_of
from diagnose.reason.reasoner import DEPTH, Reasoner

SCHEMA = 1
ALL = "all"
RIVAL_NAMES = (*(rival.name for rival in RIVALS), Clairvoyant.name)


@click.command()
@click.option("--bikes", default=25, show_default=True, type=click.IntRange(1, 1_000_000), help="Bikes a complaint.")
@click.option("--seed", default=1, show_default=True, type=int, help="Another seed draws other bikes.")
@click.option("--complaint", "complaints", multiple=True, help="Only this complaint; may be given again.")
@click.option(
    "--rival",
    "rivals",
    multiple=True,
    type=click.Choice([*RIVAL_NAMES, ALL]),
    help="Also let this rival play the same bikes; may be given again. The clairvoyant knows the cause: the floor.",
)
@click.option("--free", is_flag=True, help="Spare the rivals the checks that danger demands.")
@click.option(
    "--robust",
    "upsets",
    multiple=True,
    type=click.Choice([*UPSETS, ALL]),
    help="Also play with this wrong; may be given again.",
)
@click.option("--counter", is_flag=True, help="Also let riders answer at the counter, six questions at most.")
@click.option("--depth", default=DEPTH, show_default=True, type=click.IntRange(1, 3), help="Steps of look-ahead.")
@click.option("--jobs", default=0, type=click.IntRange(0, 1024), help="Processes; all cores when left out.")
@rules_option
@click.option("--json", "as_json", is_flag=True, help="Print the figures as JSON.")
@click.option(
    "--pictures", type=click.Path(path_type=Path, file_okay=False), help="Also draw them, as SVG, into a folder."
)
def command(**given: Any) -> int:
    """Simulate bikes from the rule book, work on them as at the stand, and print how it went.

    The same seed gives the same figures, whatever the number of processes. More bikes give surer figures. Exit 0
    whatever the figures are.

    Example: diagnose score --complaint front-knock --rival all
    """
    order = Order(
        rules=chosen_folders(given["rules"]),
        bikes=given["bikes"],
        seed=given["seed"],
        complaints=tuple(dict.fromkeys(given["complaints"])),
        depth=given["depth"],
        rivals=_chosen(given["rivals"], RIVAL_NAMES),
        upsets=_chosen(given["upsets"], tuple(UPSETS)),
        counter=given["counter"],
        free=given["free"],
    )
    book = load_book(*order.rules)
    _check_complaints(order, book)
    if notice := Reasoner(book).notice:
        click.echo(notice, err=True)
    made = summarise(run(order, given["jobs"] or os.cpu_count() or 1, _progress()))
    if given["pictures"]:
        _draw(made, given["pictures"])
    click.echo(_json(made) if given["as_json"] else text_of(made))
    return 0


def _chosen(given: Sequence[str], names: tuple[str, ...]) -> tuple[str, ...]:
    """What was chosen, in the order of the names; all of them for `all`."""
    return tuple(name for name in names if ALL in given or name in given)


def _check_complaints(order: Order, book: Book) -> None:
    for name in order.complaints:
        if name not in book.complaints:
            message = f'There is no complaint "{name}" in this book.'
            raise InputError("input.complaint", message, None, nearest(name, book.complaints))


def _progress() -> Progress | None:
    """Tells how far it is, on a terminal only."""
    if not sys.stderr.isatty():
        return None

    def tell(done: int, of: int) -> None:
        end = "\n" if done == of else ""
        sys.stderr.write(f"\r{done} of {of} parts played{end}")
        sys.stderr.flush()

    return tell


def _draw(made: Summary, folder: Path) -> None:
    drawn = {"reliability.svg": reliability(made.overall.calibration), "costs.svg": costs(made)}
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for name, text in drawn.items():
            (folder / name).write_text(text, encoding="utf-8")
    except OSError as why:
        message = f"the pictures cannot be written to {folder}: {why.strerror}"
        raise InputError("input.pictures", message, None, "Name a folder that can be written to.") from why


def _json(made: Summary) -> str:
    envelope = {
        "schema": SCHEMA,
        "program": __version__,
        "book": {"id": made.book, "fingerprint": made.fingerprint},
        "seed": made.order.seed,
        "bikes": made.order.bikes,
        "depth": made.order.depth,
        "free_rivals": made.order.free,
        "all": plain(made.overall),
        "complaints": plain(made.complaints),
        "rivals": plain(made.rivals),
        "robust": plain(made.upsets),
        "counter": plain(made.counter),
        "fixed_orders": plain(made.lists),
        "goals": [{**plain(one), "reached": one.reached} for one in made.goals],
    }
    return json.dumps(envelope, indent=1, ensure_ascii=True)
