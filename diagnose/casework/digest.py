"""What the list of cases says of one: the few things that are looked for among many cases, kept beside its events.

Cast: `digest(events)` gives a `Digest`; only events of the kinds in `DIGESTED` change it. `search_text` is what a
search looks through, `bike_key` what makes two labels those of one bike.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Final, NamedTuple

from diagnose.casework.events import Event, standing

DIGESTED: Final = ("complaint", "ended", "reopened", "undo", "waiting")
"""Kinds of event that change a digest."""


class Digest(NamedTuple):
    """One case in short.

    Attributes:
        complaints: ids, in the order told.
        ended: how it ended, None while it is open.
        waiting: ids of the parts it waits for (none: not said which), None where it does not wait.
        comebacks: how often the bike came back with it.
    """

    complaints: tuple[str, ...] = ()
    ended: str | None = None
    waiting: tuple[str, ...] | None = None
    comebacks: int = 0


def digest(events: Sequence[Event]) -> Digest:
    """The digest of a case; its events of the kinds in `DIGESTED` are enough."""
    now = Digest()
    for event in standing(events):
        data = event.data
        if event.kind == "complaint":
            others = tuple(one for one in now.complaints if one != data["id"])
            if data.get("worst"):
                now = now._replace(complaints=(data["id"], *others))
            elif others == now.complaints:
                now = now._replace(complaints=(*others, data["id"]))
        elif event.kind == "ended":
            now = now._replace(ended=data["how"], waiting=None)
        elif event.kind == "reopened":
            now = now._replace(ended=None, comebacks=now.comebacks + bool(data.get("comeback")))
        elif event.kind == "waiting":
            now = now._replace(waiting=None if data.get("over") else tuple(data.get("parts", ())))
    return now


def search_text(case_id: str, complaints: Iterable[str], texts: Iterable[str]) -> str:
    """What a search looks through: the number, the complaints' words, the label and the notes, without capitals."""
    words = [case_id, *(name.replace("-", " ") for name in complaints), *texts]
    return "\n".join(words).casefold()


def bike_key(label: str) -> str:
    """What two labels of one bike have in common: capitals and the width of spaces do not matter.

    Nor does what the bike is, behind a comma, where a number of the shop stands before it.
    """
    number, comma, _ = label.partition(",")
    own = number if comma and any(map(str.isdigit, number)) else label
    return " ".join(own.casefold().split())
