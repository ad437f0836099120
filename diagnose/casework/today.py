"""A stored job gone through with today's rule book: what it would ask and say otherwise.

Cast: `through(reasoner, events)` gives a `Through`: names that the book does not have any more, the steps at which it
would have gone another way, and its View at the end. What the book asked then is known from what was answered.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from diagnose.book.model import Book
from diagnose.casework.events import Event, standing
from diagnose.casework.fold import Folded, fold
from diagnose.casework.ticket import counter_view
from diagnose.casework.view import make_view
from diagnose.errors import CaseError
from diagnose.reason.reasoner import Reasoner

View = dict[str, Any]
STEPS = {"answer": "check", "fix": "fix"}
"""Kinds of event that followed what the book said was next, and where they name it."""


@dataclass(frozen=True, slots=True)
class Turn:
    """One step at which today's book would go another way: the event that followed, and the View before it."""

    event: Event
    view: View


@dataclass(frozen=True, slots=True)
class Through:
    """A job with today's book.

    Attributes:
        books: fingerprints of the books that it was told with, in order, each with the count of its events.
        unknown: events that today's book cannot take, each with the reason; they are left out of the rest.
        steps: answers and fixes that were held against what today's book says is next.
        turns: those among them that it would have gone another way at.
        ended: how the job ended, None while it is open.
        found: causes found at the stand, as they were noted.
        view: the View at the end.
    """

    books: dict[str, int]
    unknown: tuple[tuple[Event, str], ...]
    steps: int
    turns: tuple[Turn, ...]
    ended: str | None
    found: tuple[str, ...]
    view: View | None

    @property
    def differs(self) -> bool:
        """Whether today's book would go another way anywhere."""
        return bool(self.unknown or self.turns)


def through(reasoner: Reasoner, events: Sequence[Event]) -> Through:
    """Go through a job's events with today's book."""
    books: dict[str, int] = {}
    for event in events:
        books[event.book] = books.get(event.book, 0) + 1
    taken: list[Event] = []
    unknown: list[tuple[Event, str]] = []
    turns: list[Turn] = []
    steps = 0
    for event in standing(events):
        why = _refusal(reasoner.book, [*taken, event])
        if why:
            unknown.append((event, why))
            continue
        before = _before(reasoner, taken, event)
        if before is not None:
            steps += 1
            if not _same_way(reasoner.book, before, event):
                turns.append(Turn(event, before))
        taken.append(event)
    folded = fold(reasoner.book, taken)
    return Through(
        books, tuple(unknown), steps, tuple(turns), folded.situation.ended, folded.found, _view(reasoner, folded)
    )


def _refusal(book: Book, events: Sequence[Event]) -> str:
    """Why today's book cannot take the last of these events; empty where it can."""
    try:
        fold(book, events)
    except CaseError as why:
        return why.message
    return ""


def _before(reasoner: Reasoner, taken: Sequence[Event], event: Event) -> View | None:
    """The View before an event that followed what was next; None before any other."""
    if event.kind not in STEPS:
        return None
    folded = fold(reasoner.book, taken)
    if folded.situation.role == "rider" and folded.situation.complaints:
        return counter_view(reasoner, folded)  # the counter chooses for itself what a rider is asked
    return _view(reasoner, folded)


def _view(reasoner: Reasoner, folded: Folded) -> View | None:
    return make_view(reasoner, folded, with_estimate=False) if folded.situation.complaints else None


def _same_way(book: Book, view: View, event: Event) -> bool:
    name = event.data[STEPS[event.kind]]
    here = book.formerly.get(name, name)
    prompt = view.get("prompt")
    if prompt:
        return bool(here == prompt["id"])
    step = view["next"]
    return here == step["id"] or here in step["with"]
