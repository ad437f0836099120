"""What the commands of `diagnose jobs` share: their options, the store, the desk, and how times and states are told."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import datetime
from pathlib import Path
from typing import Any, TypeVar

import click

from diagnose.book.model import Book
from diagnose.casework.desk import Desk
from diagnose.casework.protocol import CaseSummary
from diagnose.casework.store import SqliteStore, default_path
from diagnose.front import wording
from diagnose.front.options import chosen_shop
from diagnose.front.paper import Paper
from diagnose.front.screens import money

Command = TypeVar("Command", bound=Callable[..., Any])


def store_option(command: Command) -> Command:
    """`--store`."""
    return click.option("--store", type=click.Path(path_type=Path), help="Another file to keep jobs in.")(command)


def plain_option(command: Command) -> Command:
    """`--plain`."""
    return click.option("--plain", is_flag=True, help="ASCII only.")(command)


def paper_of(plain: bool) -> Paper:
    """The screen."""
    return Paper(plain=True if plain else None)


def store_of(path: Path | None) -> SqliteStore:
    """The store, opened when it is first used."""
    return SqliteStore(path or default_path())


def desk_of(store: SqliteStore, rules: Sequence[Path]) -> Desk:
    """The desk over a store, with the shop's settings."""
    from diagnose.reason.reasoner import Reasoner

    shop = chosen_shop(rules)
    return Desk(Reasoner(shop.book), store, shop.settings)


def local(at: str) -> str:
    """A stored time as the clock on the wall shows it; as it stands where it is none."""
    try:
        return datetime.fromisoformat(at).astimezone().strftime("%Y-%m-%d %H:%M")
    except (ValueError, OverflowError, OSError):
        return at


def consent_lines(view: dict[str, Any]) -> list[str]:
    """What the rider agreed to and what not, each with when."""
    agreed, lines = view["agreed"], []
    if agreed:
        lines = [
            wording.AGREED_AT.format(sum=money(agreed["sum"]), currency=agreed["currency"], when=local(agreed["at"]))
        ]
    return lines + [wording.DECLINED_AT.format(name=one["name"], when=local(one["at"])) for one in view["declined"]]


def state(job: CaseSummary, book: Book | None = None) -> str:
    """How a job stands, in a few words."""
    if job.ended:
        return wording.JOB_ENDED.get(job.ended, job.ended)
    if job.waiting is not None:
        parts = [book.parts[part].name if book and part in book.parts else part for part in job.waiting]
        return wording.JOB_WAITS.format(text=", ".join(parts)) if parts else wording.JOB_WAITING
    return wording.JOB_BACK if job.comebacks else wording.JOB_OPEN


def complaints(job: CaseSummary, book: Book) -> str:
    """The complaints of a job by name; as they stand where the book knows them no more."""
    known = book.complaints
    names = [book.formerly.get(name, name) for name in job.complaints]
    return "; ".join(known[name].name if name in known else name for name in names)
