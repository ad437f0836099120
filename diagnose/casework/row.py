"""`EventRow`: an event as every store keeps it, its data written as JSON with the number of its shape."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any, NamedTuple

from diagnose.casework.events import Event
from diagnose.casework.shapes import SCHEMA, validated_at
from diagnose.errors import InputError, StoreError


class EventRow(NamedTuple):
    """One stored event; the columns of the table on disk in their order."""

    seq: int
    kind: str
    data: str
    schema: int
    at: str
    book: str

    @classmethod
    def write(cls, seq: int, kind: str, data: Mapping[str, Any], at: str, book: str) -> EventRow:
        """The row of an event whose data has been checked."""
        return cls(seq, kind, json.dumps(data, allow_nan=False, separators=(",", ":")), SCHEMA, at, book)

    def read(self, case_id: str) -> Event:
        """The event of this row; its data belongs to the caller alone.

        Raises:
            StoreError: `store.newer` if a later version wrote it, `store.damaged` if it is not what was written.
        """
        place = f"Event {self.seq} of job {case_id}"
        try:
            if self.schema > SCHEMA:
                raise StoreError("store.newer", f"{place} was written by a newer version.", hint="Use that version.")
            data = validated_at(self.seq, self.kind, json.loads(self.data))
        except (TypeError, ValueError, RecursionError, InputError) as error:
            raise StoreError(
                "store.damaged",
                f"{place} cannot be read: {error}",
                hint="Keep the file. `diagnose jobs rescue` says what can be saved.",
            ) from error
        return Event(self.kind, data, self.seq, self.at, self.book, f"{case_id}.{self.seq}")
