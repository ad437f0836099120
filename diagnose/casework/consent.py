"""Consent: what a job has come to in money, and whether the next fix would go beyond what the rider agreed to.

Cast: `crossing` gives what is to be read over the phone, or None. Money is in the book's currency; a fix counts with
the high end of its minutes at the labour rate and the high price of its parts, so that a sum is never outrun unasked.
"""

from __future__ import annotations

from collections.abc import Iterable
from math import ceil
from typing import Any

from diagnose.book.conditions import Profile, parts_for
from diagnose.book.model import Book
from diagnose.casework.fold import Folded
from diagnose.casework.settings import Settings

View = dict[str, Any]


def crossing(book: Book, settings: Settings, folded: Folded, fixes: Iterable[str]) -> View | None:
    """Whether doing these fixes now would cost more than was agreed.

    Of a bike from the counter with no sum agreed everything does; where nobody spoke of money nothing does.

    Returns:
        `fixes` [names], `so_far`, `together` (with these, in whole units) and `agreed` (0: nothing), or None.
    """
    agreed = 0.0 if folded.agreed is None and folded.situation.from_counter else folded.agreed
    if agreed is None:
        return None
    names = list(fixes)
    profile = folded.situation.profile
    done = [fix for repair in folded.situation.repairs for fix in repair.fixes]
    looking = settings.diagnosis_minutes * book.constants.rate
    so_far = looking + sum(_most(book, fix, profile) for fix in done)
    together = ceil(max(so_far + sum(_most(book, fix, profile) for fix in names), settings.minimum_charge) - 1e-9)
    if together <= agreed:
        return None
    shown = {"so_far": so_far if done else 0.0, "together": together, "agreed": agreed}
    return {"fixes": [book.fixes[fix].name for fix in names], **shown, "currency": book.constants.currency}


def _most(book: Book, fix: str, profile: Profile) -> float:
    """What a fix costs at most, as far as the book says."""
    one = book.fixes[fix]
    parts = parts_for(one, profile).items()
    return one.high * book.constants.rate + sum(book.parts[part].high * count for part, count in parts)
