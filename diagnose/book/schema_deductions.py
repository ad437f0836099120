"""When/then rules.

Cast: `read_deduction`.
"""

from __future__ import annotations

from dataclasses import dataclass

from diagnose.book.model import Deduction, Extra, When
from diagnose.book.schema_base import (
    BASIS,
    EDGE_ENDS,
    HAND_OFF,
    LET_STAND,
    RANGE,
    REPLACES,
    ItsValue,
    Later,
    hand_off,
    one_by_one,
    one_of_each_pair,
    place_of,
    plain,
)
from diagnose.book.shape import Choice, ListOf, MapOf, Number, Prose, Reader, Record, Ref, Words, may, must
from diagnose.book.tree import Mapping, Node

SPECIAL_KEYS: dict[str, str] = {"complaint": "complaint", "fix-failed": "fix"}
"""Keys of `when` whose values are ids of a kind."""
WHEN_KINDS = ("fact", "finding", "conclusion", "check")
"""Kinds of which a condition may be about."""


@dataclass(frozen=True, slots=True)
class WhenShape:
    """A condition: words, or for a measuring check a range; which, its key says."""

    def read(self, node: Node, reader: Reader) -> Node:
        """The node itself."""
        return node


_THEN = Record(
    "`then`",
    {
        "conclude": may(MapOf(("conclusion",), ItsValue()), {}),
        "likelier": may(MapOf(("cause",), Number(1, 1000)), {}),
        "less_likely": may(MapOf(("cause",), Number(1, 1000)), {}),
        "rule_in": may(ListOf(Ref(("cause",))), ()),
        "rule_out": may(ListOf(Ref(("cause",))), ()),
        "danger": may(Choice(("care", "stop"), "danger")),
        "demand_first": may(ListOf(Ref(("check",))), ()),
        "demand": may(ListOf(Ref(("check",))), ()),
        "before_riding": may(ListOf(Ref(("check",))), ()),
        "caution": may(ListOf(Ref(("caution",))), ()),
        "hand_off": may(Record("a hand-off", HAND_OFF)),
        "ask": may(ListOf(Ref(("fact",))), ()),
        "ask_last": may(ListOf(Ref(("fact",))), ()),
        "also": may(MapOf(("fix",), Choice(("must", "must first", "should", "can wait"), "level")), {}),
    },
)


DEDUCTION = Record(
    "a deduction",
    {
        "when": must(MapOf((), Later(WhenShape()), least=1, elsewhere=True)),
        "then": must(_THEN),
        "because": must(Prose()),
        "replaces": REPLACES,
        "let_stand": LET_STAND,
        "basis": BASIS,
    },
)


def read_deduction(name: str, node: Node, reader: Reader) -> Deduction | None:
    """A when/then rule."""
    got = DEDUCTION.read(node, reader)
    if not got or not isinstance(node, Mapping):
        return None
    whens = [_read_when(key, child, node, reader) for key, child in got["when"].items()]
    then = got["then"]
    for word, value in then["conclude"].items():
        reader.known_value(word, value, place_of(node, "then", "conclude", word))
    factors = dict(then["likelier"])
    factors.update({cause: 1 / times for cause, times in then["less_likely"].items()})
    return Deduction(
        id=name,
        when=tuple(when for when in whens if when),
        likelier=factors,
        cautions=then["caution"],
        hand_off=hand_off(then["hand_off"]) if then["hand_off"] else None,
        ask=then["ask"],
        also=tuple(Extra(fix, level) for fix, level in then["also"].items()),
        because=got["because"],
        where=got["where"],
        demand=(*then["demand_first"], *then["demand"]),
        first=len(then["demand_first"]),
        **plain(then, "conclude", "rule_out", "rule_in", "danger", "before_riding", "ask_last"),
    )


def _read_when(written: str, node: Node, deduction: Mapping, reader: Reader) -> When | None:
    when = deduction.items["when"]
    place = when.keys[written] if isinstance(when, Mapping) else node.where
    if written in SPECIAL_KEYS:
        values = ListOf(Ref((SPECIAL_KEYS[written],)), least=1).read(node, reader)
        return When(written, values, None, None, None, None, place)
    what = "fact, finding, conclusion or measuring check"
    key = reader.known_id(WHEN_KINDS, written, place, what)
    if key is None:
        return None
    if key in reader.known.get("check", {}):
        got = RANGE.read(node, reader)
        if not got or not one_of_each_pair(got, "a range", reader):
            return None
        if all(got[end] is None for end in EDGE_ENDS):
            hint = "Write `from:`, `above:`, `below:` or `up_to:`."
            reader.problems.error("deduction.range", place, f"the range of '{key}' has no end", hint)
        return When(key, (), got["from"], got["above"], got["below"], got["up_to"], place)
    ListOf(Words(), least=1).read(node, reader)
    known = [one.value for one in one_by_one(node) if reader.known_value(key, one.value, one.where)]
    return When(key, tuple(known), None, None, None, None, place)
