"""The events of a case: what happened to one bike on one visit, in order, never edited.

`Event` is what the store gives back, and where to start reading; `Draft` is a checked event that has no number yet.
One function a kind makes a draft: `opened`, `profile`, `heard`, `complaint`, `no_more`, `partly`,
`words_for_complaint`, `words_for_already`, `answered`, `measured`, `noted`, `cannot_tell`, `already`, `fix_done`,
`fix_not_possible`, `loose`, `note`, `waiting`, `here_now`, `at_stand`, `agreed`, `undo`, `reopened`, `came_back`,
`ended`.
`standing` leaves out what was undone. What each kind may say stands in `shapes`.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, NamedTuple

from diagnose.casework.shapes import Ago, Change, Dialogue, Doer, Ending, OldParts, Origin, Outcome, Role, validated


@dataclass(frozen=True, slots=True)
class Event:
    """One thing that happened.

    Attributes:
        kind: what kind of event, one of `shapes.KINDS`.
        data: what happened, as `shapes.validated` leaves it: JSON values; optional keys are missing where nothing was
            said. To be read only.
        seq: place in the case, counted from 1 without gaps. It orders the events; the time does not.
        at: when it was stored by this machine's clock, UTC, ISO 8601.
        book: fingerprint of the rule book in use.
        id: the event's own id, unique in the store.
    """

    kind: str
    data: Mapping[str, Any] = field(hash=False)
    seq: int
    at: str
    book: str
    id: str


class Draft(NamedTuple):
    """A checked event without its number: `store.append(case_id, seq, *draft, book)`."""

    kind: str
    data: Mapping[str, Any]


# One function a kind


def opened(role: Role, skill: Role, without: Iterable[str] = (), label: str | None = None) -> Draft:
    """A case was opened: who answers, skill at hand, missing tools, reference of the label. `Store.create` adds it."""
    return _draft("opened", role=role, skill=skill, without=list(without), label=label)


def profile(fact: str, values: Iterable[str], *, more: bool = False) -> Draft:
    """A fact about the bike; no values: it was asked and could not be told; `more`: other values may be told yet."""
    return _draft("profile", fact=fact, values=list(values), more=more or None)


def heard(fact: str, values: Iterable[str]) -> Draft:
    """A fact that the words say which were typed for the bike or its complaint: nobody was asked for it."""
    return _draft("profile", fact=fact, values=list(values), heard=True)


def complaint(complaint_id: str, *, worst: bool = False) -> Draft:
    """The rider complains of this; `worst`: it troubles the rider more than those told before."""
    return _draft("complaint", id=complaint_id, worst=worst or None)


def no_more() -> Draft:
    """The rider was asked for more complaints and has none."""
    return _draft("no-more")


def partly(of: Dialogue, said: str, about: str | None = None) -> Draft:
    """One of several prompts about one thing was answered; the whole is told with the last of them."""
    return _draft("partly", of=of, about=about, said=said)


def words_for_complaint(text_ref: str) -> Draft:
    """Words were typed for a complaint; which of those that they may mean is told next."""
    return _draft("partly", of="complaint", text_ref=text_ref)


def words_for_already(text_ref: str) -> Draft:
    """Words were typed for what was done already; which of the fixes that they may mean is told next."""
    return _draft("partly", of="already", text_ref=text_ref)


def answered(check: str, by: Role, value: str, *, heard: bool = False) -> Draft:
    """A check was answered with one of its values; `heard`: by words that were typed, nobody was asked."""
    return _draft("answer", check=check, by=by, value=value, heard=heard or None)


def measured(
    check: str,
    by: Role,
    reading: float,
    unit: str,
    typed: str,
    sum: str | None = None,  # noqa: A002 - the word of the trade, and of the event
    readings: Mapping[str, Mapping[str, object]] | None = None,
) -> Draft:
    """A check was answered with a reading in `unit`; `typed` is what was typed for it.

    Where a sum of the bench gave it: its name, and the raw readings by key, each with `value`, `unit` and `typed`.
    """
    return _draft("answer", check=check, by=by, reading=reading, unit=unit, typed=typed, sum=sum, readings=readings)


def noted(check: str, by: Role, key: str, raw: Mapping[str, object] | None) -> Draft:
    """One of several raw readings of a check was taken, the last is still to come; None: it was left out."""
    return _draft("reading", check=check, by=by, key=key, **(raw or {"left_out": True}))


def cannot_tell(check: str, by: Role, outside: str | None = None) -> Draft:
    """A check was tried and could not be answered; `outside`: what was read, which the book has no place for."""
    return _draft("answer", check=check, by=by, cannot_tell=True, outside=outside)


def already(
    fix: str, result: Change, by: Role | None = None, who: Doer | None = None, when: Ago | None = None
) -> Draft:
    """A fix was done before the bike came, by whom, how long ago, and this is how it changed; None: nobody knows."""
    return _draft("already", fix=fix, result=result, by=by, who=who, when=when)


def fix_done(fix: str, results: Mapping[str, Outcome], others: Iterable[str] = ()) -> Draft:
    """A fix was done, with `others` in the same teardown, and each complaint's repeat test made afterwards."""
    return _draft("fix", fix=fix, results=dict(results), **{"with": list(others)})


def fix_not_possible(fix: str, reason: str | None = None, others: Iterable[str] = ()) -> Draft:
    """A fix could not be done here; `reason` is a word such as `part-missing`, a sentence belongs in a note."""
    return _draft("fix", fix=fix, not_possible=True, reason=reason, **{"with": list(others)})


def loose(text_ref: str | None = None) -> Draft:
    """The stand was left: what is loose or apart right now; no reference: nothing is."""
    return _draft("loose", text_ref=text_ref)


def note(text_ref: str) -> Draft:
    """Something was noted."""
    return _draft("note", text_ref=text_ref)


def undo(seq: int) -> Draft:
    """The event `seq` does not count; undoing an undo lets it count again."""
    return _draft("undo", seq=seq)


def waiting(parts: Iterable[str] = (), text_ref: str | None = None) -> Draft:
    """The job waits for parts of the book, or for what a text says, or for something that nobody named."""
    return _draft("waiting", parts=list(parts), text_ref=text_ref)


def here_now() -> Draft:
    """What the job waited for is here."""
    return _draft("waiting", over=True)


def reopened() -> Draft:
    """An ended case goes on."""
    return _draft("reopened")


def came_back(origin: Origin | None = None) -> Draft:
    """The bike of an ended case is back with the same complaint; `origin`: own work, a part, or a new fault."""
    return _draft("reopened", comeback=True, origin=origin)


def at_stand(skill: Role, without: Iterable[str] = ()) -> Draft:
    """The bike went from the counter to the stand: from here on a mechanic answers, with this skill and these tools."""
    return _draft("stand", skill=skill, without=list(without))


def agreed(ceiling: float | None = None) -> Draft:
    """The rider agreed to this sum of the book's currency without being rung; none: nothing is agreed."""
    return _draft("agreed", ceiling=ceiling)


def wished(text_ref: str | None = None, old_parts: OldParts | None = None) -> Draft:
    """What the rider wishes: a text of what it is used for and by when, and whether old parts go back."""
    return _draft("wished", text_ref=text_ref, old_parts=old_parts)


def ended(how: Ending, found: Iterable[str] = ()) -> Draft:
    """The case ended; `found` are the causes found at the stand."""
    return _draft("ended", how=how, found=list(found))


def _draft(kind: str, **data: object) -> Draft:
    return Draft(kind, validated(kind, data))


# What stands


def standing(events: Sequence[Event]) -> tuple[Event, ...]:
    """Returns the events that count, in order: neither undone nor an undo themselves."""
    gone: set[int] = set()
    kept: list[Event] = []
    for event in reversed(events):
        if event.seq in gone:
            continue
        if event.kind == "undo":
            gone.add(event.data["seq"])
        else:
            kept.append(event)
    return tuple(reversed(kept))
