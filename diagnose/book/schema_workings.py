"""Sums of the bench as a rule file names them: what is asked at the stand, and what the book supplies.

Cast: `WORKING_FIELDS` stand in a measure, `WORKING` in a step; `working_of` makes a `Working` of what was read. Whether
the sum asks for such things is looked at once the whole book is there, in `sums_fit`.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Final

from diagnose.bench.sums.table import NAMES
from diagnose.book.model import Ask, Supply, Working
from diagnose.book.schema_base import FILLED
from diagnose.book.shape import Choice, Either, Fields, ListOf, MapOf, Name, Reader, Record, Words, may, must
from diagnose.book.tree import Mapping, Node, Text

_SOURCE: Final = re.compile(r"((?:[a-z0-9-]+:)?[a-z0-9]+(?:-[a-z0-9]+)*)\.([a-z][a-z0-9-]*)")
"""An end of a limit, or a reading of a check; no quantity looks like that."""


ASKS: Final = Either(ListOf(Name(), least=1), MapOf((), FILLED, least=1))


@dataclass(frozen=True, slots=True)
class AsksShape:
    """What is asked for: the sum's keys, each with a question, or in a list, where the sum's own words will do."""

    def read(self, node: Node, reader: Reader) -> dict[str, Ask]:
        """Key to question, in the order written."""
        ASKS.read(node, reader)
        if isinstance(node, Mapping):
            texts = {key: child for key, child in node.items.items() if isinstance(child, Text)}
            return {key: Ask(" ".join(child.value.split()), node.keys[key]) for key, child in texts.items()}
        ones = [node] if isinstance(node, Text) else node.items
        return {one.value: Ask("", one.where) for one in ones if isinstance(one, Text)}


@dataclass(frozen=True, slots=True)
class SupplyShape:
    """A quantity or word as it would be typed, an end of a limit, or what was read at a check."""

    def read(self, node: Node, reader: Reader) -> Supply | None:
        """The supply."""
        text = Words().read(node, reader)
        if text is None:
            return None
        match = _SOURCE.fullmatch(text)
        if match:
            name, part = match.groups()
            source = reader.known_id(("limit", "check"), name, node.where, "limit or check")
            return Supply("", source or name, part, node.where)
        source = reader.meant(("limit", "check"), text)
        return Supply("", source, "", node.where) if source else Supply(text, "", "", node.where)


_SUM = Choice(tuple(NAMES), "sum of the bench", "sum.unknown")
SUPPLIES = may(MapOf((), SupplyShape()), {})
WORKING_FIELDS: Final = {
    "sum": may(_SUM),
    "readings": may(AsksShape(), {}),
    "with": SUPPLIES,
    "result": may(Words(), ""),
}
WORKING: Final = Record("a sum", {"sum": must(_SUM), "with": SUPPLIES})


def working_of(got: Fields) -> Working:
    """The working of fields read by `WORKING_FIELDS` or `WORKING`."""
    return Working(got["sum"], got.get("readings") or {}, got["with"], got["where"])
