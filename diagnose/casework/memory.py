"""`MemoryStore`: cases kept for as long as the program runs, for replays and tests.

It takes and gives the same as the store on disk; its ids follow from the order of creation, so that runs repeat.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import TracebackType
from typing import Any, Self

from diagnose.casework.caseid import numbered_id
from diagnose.casework.digest import bike_key, digest, search_text
from diagnose.casework.events import Event
from diagnose.casework.protocol import CaseSummary, Clock, Which, conflict, is_one_of, no_case, no_text, stamp, utc_now
from diagnose.casework.row import EventRow
from diagnose.casework.shapes import validated, validated_at, validated_book
from diagnose.casework.text import has_all_words, not_empty, one_line, reference


class MemoryStore:
    """A `Store` that forgets everything with the program; not for several threads at once."""

    def __init__(self, clock: Clock = utc_now) -> None:
        self._clock = clock
        self._cases: dict[str, list[EventRow]] = {}  # last worked on last
        self._texts: dict[str, tuple[str, str | None]] = {}  # reference: case and text

    def create(self, opened: Mapping[str, Any], label: str, book: str) -> str:
        """Opens a case; see `Store`."""
        name = one_line(label, "label")
        data = validated("opened", {**opened, "label": None})
        validated_book(book)
        case_id = numbered_id(len(self._cases))
        if name:
            data["label"] = self._keep(case_id, name)
        self._cases[case_id] = [EventRow.write(1, "opened", data, stamp(self._clock), book)]
        return case_id

    def append(self, case_id: str, expected_seq: int, kind: str, data: Mapping[str, Any], book: str) -> Event:
        """Stores one event; see `Store`."""
        taken = validated_at(expected_seq, kind, data)
        validated_book(book)
        rows = self._rows(case_id)
        if expected_seq != len(rows) + 1:
            raise conflict(case_id, expected_seq, len(rows))
        ref = taken.get("text_ref")
        if ref is not None and self._texts.get(ref, ("",))[0] != case_id:
            raise no_text(ref)
        row = EventRow.write(expected_seq, kind, taken, stamp(self._clock), book)
        self._cases[case_id] = [*self._cases.pop(case_id), row]
        return row.read(case_id)

    def events(self, case_id: str) -> tuple[Event, ...]:
        """All events of a case; see `Store`."""
        return tuple(row.read(case_id) for row in self._rows(case_id))

    def cases(
        self, search: str = "", limit: int = 50, which: Which = "all", bike: str | None = None
    ) -> tuple[CaseSummary, ...]:
        """The cases that fit, last worked on first; see `Store`."""
        words, key = one_line(search, "search"), None if bike is None else bike_key(one_line(bike, "label"))
        fitting = []
        for case_id in reversed(self._cases):
            summary = self._summary(case_id)
            if key is not None and (not key or key != bike_key(summary.label or "")):
                continue
            if is_one_of(which, summary.ended, summary.waiting) and has_all_words(words, self._searched(summary)):
                fitting.append(summary)
        return tuple(fitting[: max(limit, 0)])

    def add_text(self, case_id: str, text: str) -> str:
        """Stores free text; see `Store`."""
        clean = not_empty(text)
        self._rows(case_id)
        return self._keep(case_id, clean)

    def text(self, ref: str) -> str | None:
        """The text of a reference; see `Store`."""
        if ref not in self._texts:
            raise no_text(ref)
        return self._texts[ref][1]

    def erase_text(self, case_id: str) -> int:
        """Erases all free text of a case; see `Store`."""
        self._rows(case_id)
        mine = [ref for ref, (owner, text) in self._texts.items() if owner == case_id and text is not None]
        self._texts.update((ref, (case_id, None)) for ref in mine)
        return len(mine)

    def close(self) -> None:
        """Does nothing: what is in memory stays until the store itself goes."""

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def _rows(self, case_id: str) -> list[EventRow]:
        if case_id not in self._cases:
            raise no_case(case_id)
        return self._cases[case_id]

    def _keep(self, case_id: str, text: str) -> str:
        ref = reference(len(self._texts) + 1)
        self._texts[ref] = (case_id, text)
        return ref

    def _summary(self, case_id: str) -> CaseSummary:
        events = self.events(case_id)
        first, last = events[0], events[-1]
        label = self._texts[first.data["label"]][1] if "label" in first.data else None
        told = digest(events)
        return CaseSummary(
            case_id, label, first.at, last.at, told.ended, last.seq, told.complaints, told.waiting, told.comebacks
        )

    def _searched(self, summary: CaseSummary) -> str:
        texts = [text for owner, text in self._texts.values() if owner == summary.id and text is not None]
        return search_text(summary.id, summary.complaints, texts)
