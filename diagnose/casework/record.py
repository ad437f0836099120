"""A whole case as one line of JSON: what is exported, imported and saved out of a damaged store.

Cast: `CaseRecord`; `to_line` writes it and `read_line` reads and checks it. In a record the texts of a case are
numbered from 1, so that the line is the same whichever store it came from. One line holds one case and stands for
itself: lines may be sorted, cut out and joined.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from typing import Any, Final, NamedTuple, Self

from diagnose.casework.caseid import read_id
from diagnose.casework.row import EventRow
from diagnose.casework.shapes import validated, validated_book
from diagnose.casework.text import not_empty, one_line, reference, text_number
from diagnose.errors import DiagnoseError, InputError

VERSION: Final = 1
"""Number of the shape of a line."""
LONGEST_LINE: Final = 64 * 1024 * 1024
"""Bytes of a line; a longer one is not of this program's making."""
_KEYS: Final = {"diagnose": int, "case": str, "texts": list, "events": list}
_EVENT_KEYS: Final = {"seq": int, "kind": str, "data": dict, "schema": int, "at": str, "book": str}
_USES: Final = ("label", "other")


class Text(NamedTuple):
    """A free text of a case; `use` is label or other, `text` None once erased."""

    use: str
    text: str | None


class CaseRecord(NamedTuple):
    """A whole case: its number, its texts, its events, in which `t1` is the first of these texts."""

    id: str
    texts: tuple[Text, ...]
    rows: tuple[EventRow, ...]

    def to_line(self) -> str:
        """The record as one line of JSON in ASCII, without its end."""
        told = {
            "diagnose": VERSION,
            "case": self.id,
            "texts": [one._asdict() for one in self.texts],
            "events": [{**row._asdict(), "data": json.loads(row.data)} for row in self.rows],
        }
        return json.dumps(told, allow_nan=False, separators=(",", ":"), sort_keys=True)

    @property
    def told(self) -> list[tuple[str, Any, str, str]]:
        """What the events tell, to be compared: the order of keys and the number of the shape do not matter."""
        return [(row.kind, json.loads(row.data), row.at, row.book) for row in self.rows]

    @classmethod
    def read_line(cls, line: str | bytes) -> Self:
        """The record of a line, checked throughout.

        Raises:
            DiagnoseError: it is not such a line, it is of a newer version, or an event in it cannot be.
        """
        try:
            told = json.loads(line)
        except (ValueError, RecursionError) as why:
            raise _wrong(f"is not JSON ({str(why)[:80]})") from None
        if isinstance(told, dict) and isinstance(told.get("diagnose"), int) and told["diagnose"] > VERSION:
            raise InputError(
                "jobs.newer", "This job was exported by a newer version.", hint="Use that version to import it."
            )
        given = _taken(told, _KEYS, "job")
        texts = tuple(_text(one) for one in given["texts"])
        rows = tuple(_row(one) for one in given["events"])
        record = cls(read_id(given["case"]), texts, rows)
        record.check()
        return record

    def check(self) -> None:
        """Raises DiagnoseError where the events are not those of a whole case, or name a text that is not there."""
        if not self.rows or [row.seq for row in self.rows] != list(range(1, len(self.rows) + 1)):
            raise _wrong("has events missing")
        if sum(text.use == "label" for text in self.texts) > 1:
            raise _wrong("has two labels")
        for row in self.rows:
            event = row.read(self.id)
            for ref in refs_in(event.data):
                if not 1 <= (text_number(ref) or 0) <= len(self.texts):
                    raise _wrong(f"names the text {ref}, which it does not have")


def refs_in(data: Mapping[str, Any]) -> list[str]:
    """The references of texts that an event's data names."""
    return [data[key] for key in ("label", "text_ref") if key in data]


def renamed(row: EventRow, names: Mapping[str, str]) -> EventRow:
    """The row with its references of texts replaced."""
    data = json.loads(row.data)
    if not refs_in(data):
        return row
    for key in ("label", "text_ref"):
        if key in data:
            data[key] = names[data[key]]
    return row._replace(data=json.dumps(data, allow_nan=False, separators=(",", ":")))


def local_names(numbers: Sequence[int]) -> dict[str, str]:
    """Reference in a store to reference in a record, for the texts of a case by their numbers in the store."""
    return {reference(number): reference(place) for place, number in enumerate(numbers, 1)}


def _taken(told: object, keys: Mapping[str, type], what: str) -> dict[str, Any]:
    if not isinstance(told, dict):
        raise _wrong(f"has a {what} that is not a mapping")
    for key, kind in keys.items():
        if not isinstance(told.get(key), kind) or isinstance(told[key], bool):
            raise _wrong(f'has a {what} without a proper "{key}"')
    unknown = sorted(str(key) for key in told if key not in keys)
    if unknown:
        raise _wrong(f'has a {what} with "{unknown[0][:40]}", which does not belong there')
    return told


def _text(told: object) -> Text:
    if not isinstance(told, dict) or set(told) != {"use", "text"} or told["use"] not in _USES:
        raise _wrong("has a text that is not one")
    text = told["text"]
    if text is None:
        return Text(told["use"], None)
    return Text(told["use"], not_empty(one_line(text, "label") if told["use"] == "label" else text))


def _row(told: object) -> EventRow:
    given = _taken(told, _EVENT_KEYS, "event")
    validated_book(given["book"])
    if len(given["at"]) > 40 or not given["at"].isascii() or not given["at"].isprintable():
        raise _wrong("has an event without a proper time")
    try:
        data = validated(given["kind"], given["data"])
    except DiagnoseError:
        data = given["data"]  # told when it is read, with its place
    try:
        written = json.dumps(data, allow_nan=False, separators=(",", ":"))
    except (ValueError, RecursionError):
        raise _wrong("has an event that cannot be written") from None
    return EventRow(given["seq"], given["kind"], written, given["schema"], given["at"], given["book"])


def _wrong(what: str) -> InputError:
    return InputError(
        "jobs.line", f"This line {what}.", hint="It was not exported by this program, or was changed since."
    )
