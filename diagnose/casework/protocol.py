"""What a store of cases offers, whatever it keeps them in.

`Store` is the promise, `CaseSummary` a line in the list of cases. `no_case`, `no_text` and `conflict` are the refusals
that every store words alike; `utc_now` is the usual clock.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from types import TracebackType
from typing import Any, Literal, Protocol, Self

from diagnose.casework.events import Event
from diagnose.casework.text import one_line
from diagnose.errors import StoreError

Clock = Callable[[], datetime]
SEARCHED = 2_000
"""Jobs looked through for open ones or for a mistyped number, last worked on first."""


@dataclass(frozen=True, slots=True)
class CaseSummary:
    """One case in the list.

    Attributes:
        id: the case's own id, see `caseid`.
        label: what the shop calls it; None if it has none or it was erased.
        opened_at: time of the first event, UTC, ISO 8601.
        last_at: time of the last event; earlier than `opened_at` if the clock was set back.
        ended: how it ended, None while it is open.
        events: number of events, the seq of the last one.
        complaints: ids of its complaints, in the order told.
        waiting: ids of the parts it waits for (none: not said which), None where it does not wait.
        comebacks: how often the bike came back with it.
    """

    id: str
    label: str | None
    opened_at: str
    last_at: str
    ended: str | None
    events: int
    complaints: tuple[str, ...] = ()
    waiting: tuple[str, ...] | None = None
    comebacks: int = 0


Which = Literal["all", "open", "waiting", "ended"]
"""Which cases are listed: `open` ones are not over, `waiting` ones are open and wait for a part."""


class Store(Protocol):
    """Keeps cases: append-only lists of events, and beside them free text that can be erased.

    Every method raises `InputError` for what cannot be taken and `StoreError` for what the store cannot do; then
    nothing was changed.
    """

    def create(self, opened: Mapping[str, Any], label: str, book: str) -> str:
        """Opens a case and returns its id.

        Args:
            opened: data of its first event, without the label.
            label: what the shop calls the bike, one line of free text; may be empty.
            book: fingerprint of the rule book in use.
        """
        ...

    def append(self, case_id: str, expected_seq: int, kind: str, data: Mapping[str, Any], book: str) -> Event:
        """Stores one event and returns it when it is safe.

        Args:
            case_id: the case.
            expected_seq: the number the event is to have: one more than the last event that the caller has seen.
            kind: kind of event.
            data: its data, as in `shapes`.
            book: fingerprint of the rule book in use.

        Raises:
            StoreError: `store.conflict` if somebody else wrote that event first; `store.no-case`, `store.no-text`.
        """
        ...

    def events(self, case_id: str) -> tuple[Event, ...]:
        """All events of a case in the order of `seq`; `store.no-case` if there is no such case."""
        ...

    def cases(
        self, search: str = "", limit: int = 50, which: Which = "all", bike: str | None = None
    ) -> tuple[CaseSummary, ...]:
        """The cases, last worked on first.

        Args:
            search: words that must all stand in a case's id, label, notes or complaints' ids, whatever their case.
            limit: at most so many.
            which: only those that are open, wait, or ended.
            bike: only those with this label, whatever its capitals and spaces.
        """
        ...

    def add_text(self, case_id: str, text: str) -> str:
        """Stores free text of a case, cleaned, and returns the reference that events name it by."""
        ...

    def text(self, ref: str) -> str | None:
        """The text of a reference, None once erased; `store.no-text` if there never was one."""
        ...

    def erase_text(self, case_id: str) -> int:
        """Erases all free text of a case, its label too, and returns how many texts; its events stay as they are."""
        ...

    def close(self) -> None:
        """Lets go of what is held open; the store opens again when it is next used."""
        ...

    def __enter__(self) -> Self: ...

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None, /
    ) -> None: ...


def is_one_of(which: Which, ended: str | None, waiting: object | None) -> bool:
    """Whether a case that ended so and waits for that is one of those meant."""
    if which == "all":
        return True
    if which == "ended":
        return ended is not None
    return ended is None and (which == "open" or waiting is not None)


def open_jobs(store: Store, most: int) -> list[CaseSummary]:
    """Jobs that are not over and in which something was told or that have a label, last worked on first."""
    jobs = store.cases(limit=SEARCHED, which="open")
    return [job for job in jobs if job.events > 1 or job.label][:most]


def utc_now() -> datetime:
    """The time now, in UTC."""
    return datetime.now(UTC)


def stamp(clock: Clock) -> str:
    """The clock's time as it is stored: `2024-05-31T09:15:02.125Z`."""
    return clock().astimezone(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")


def no_case(case_id: str) -> StoreError:
    """There is no such case."""
    return StoreError("store.no-case", f'There is no job "{one_line(case_id[:40])}".', hint="List the jobs.")


def no_text(ref: str) -> StoreError:
    """There is no such text, or it belongs to another case."""
    return StoreError("store.no-text", f'This job has no text "{one_line(ref[:40])}".', hint="Add the text first.")


def conflict(case_id: str, expected_seq: int, last_seq: int) -> StoreError:
    """Somebody else has written to the case."""
    return StoreError(
        "store.conflict",
        f"Event {expected_seq} of job {case_id} cannot follow event {last_seq}: it is open somewhere else too.",
        hint="Nothing was changed. Look at the job as it is now, then go on.",
    )
