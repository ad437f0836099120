"""What the shapes of several kinds of entry have in common: the closed lists of words, conditions, hand-offs.

Cast: the constants, `ConditionShape`, `ByRole`, `Later`, and small helpers that read a place or a pair.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from diagnose.book.model import Condition, HandOff
from diagnose.book.shape import (
    Choice,
    Either,
    Fields,
    ListOf,
    MapOf,
    Name,
    Number,
    Percent,
    Prose,
    Reader,
    Record,
    Ref,
    Shape,
    Words,
    aside,
    bare,
    may,
    must,
)
from diagnose.book.tree import Listing, Mapping, Node, Text
from diagnose.errors import Location

UNITS = ("% of travel", *"N.m mm cm m bar psi kPa deg % min s N kg g kgf °C V ml km/h count teeth".split())
"""Canonical, as stored."""
NOT_KNOWN = "not-known"
BASES = ("standard", "handbook", "maker", "common practice", "memory")
URGENCY = ("before riding", "soon", "when convenient")
DANGERS = ("none", "care", "stop")
SKILLS = ("rider", "mechanic")

BASIS = must(Choice(BASES, "basis"))
LIMITS = may(ListOf(Ref(("limit",))), ())
CAUTIONS = may(ListOf(Ref(("caution",))), ())
TOOLS = may(ListOf(Ref(("tool",))), ())
MINUTES = must(Number(0, 600))
MOST_VALUES = 30
"""More answers than anybody reads; the reasoning sums over all of them."""
VALUES = must(MapOf((), Prose(), least=1, most=MOST_VALUES))
FILLED = Prose(filled=True)
"""A text that limits are put into."""
FORMERLY = aside(ListOf(Name()))
"""Ids that a renamed thing had; the first pass over the book has noted them."""


@dataclass(frozen=True, slots=True)
class ItsValue:
    """One of the values of the fact, finding or conclusion under whose id it stands; which it has is seen later."""

    def read(self, node: Node, reader: Reader) -> str | None:
        """The word."""
        return Words().read(node, reader)


@dataclass(frozen=True, slots=True)
class ConditionShape:
    """Facts of the profile (or findings) with the values that count."""

    kind: str = "fact"

    @property
    def ids(self) -> MapOf:
        """The mapping as it is written."""
        return MapOf((self.kind,), ListOf(ItsValue(), least=1))

    def read(self, node: Node, reader: Reader) -> Condition:
        """Fact or finding to values."""
        raw: Condition = self.ids.read(node, reader)
        if isinstance(node, Mapping):
            for written, child in node.items.items():
                thing = reader.meant((self.kind,), written)
                for one in one_by_one(child) if thing in raw else ():
                    reader.known_value(str(thing), one.value, one.where)
        return raw


def one_by_one(node: Node) -> list[Text]:
    """The words of a list, or the one word that stands for a list."""
    nodes = node.items if isinstance(node, Listing) else [node]
    return [one for one in nodes if isinstance(one, Text) and one.value.strip()]


CONDITION = may(ConditionShape(), {})
ONLY_IF = may(ConditionShape("finding"), {})
"""Findings that must have been told, and with which value, before something may be done."""


@dataclass(frozen=True, slots=True)
class Later:
    """Something of this shape, which is read later, when more is known."""

    shape: Shape

    def read(self, node: Node, reader: Reader) -> Node:
        """The node itself."""
        return node


@dataclass(frozen=True, slots=True)
class ByRole:
    """A share for the rider and one for the mechanic; one share alone stands for both where `both` need not be told."""

    both: bool

    @property
    def record(self) -> Record:
        """A share for each role."""
        return Record("a share by role", dict.fromkeys(SKILLS, must(Percent()) if self.both else may(Percent())))

    def read(self, node: Node, reader: Reader) -> dict[str, float] | None:
        """Role to share."""
        if not self.both and not isinstance(node, Mapping):
            share = Percent().read(node, reader)
            return None if share is None else dict.fromkeys(SKILLS, share)
        got = self.record.read(node, reader)
        return got and {role: got[role] for role in SKILLS if got[role] is not None}


@dataclass(frozen=True, slots=True)
class LetStandShape:
    """What the check may find here and why that is right: its code to a reason, or to a reason for each other id."""

    def read(self, node: Node, reader: Reader) -> None:
        """Only what is wrong is told; whether there is such a code, the check says, which knows them all."""
        if not isinstance(node, Mapping) or not node.items:
            message = "what may stand here, and why, is wanted as lines of `code: reason`"
            reader.problems.error("type.wrong", node.where, message, "The code is what the check says in brackets.")
            return
        for child in node.items.values():
            for reason in child.items.values() if isinstance(child, Mapping) else [child]:
                Prose().read(reason, reader)


LET_STAND = aside(LetStandShape())
"""Findings of the check on the book that are right as they are, each with a reason."""


@dataclass(frozen=True, slots=True)
class ReplacesShape:
    """The id of what an entry of an own folder takes the place of; what it is, was seen when the ids were collected."""

    def read(self, node: Node, reader: Reader) -> str | None:
        """The id."""
        text = Words().read(node, reader)
        if text is not None and not reader.book:
            message = "nothing is replaced in the book itself"
            reader.problems.error("replaces.base", node.where, message, "Delete the line; own folders replace.")
        return text


REPLACES = aside(ReplacesShape())
SHORT = Either(
    Prose(), Record("a text that replaces another", {"text": must(Prose()), "replaces": must(ReplacesShape())})
)
"""A tool's name, a caution, other words for a word: a text and nothing beside it."""


CAUTION = Either(
    Prose(),
    Record(
        "a caution for some bikes",
        {"text": must(Prose()), "applies": may(ConditionShape(), {}), "replaces": REPLACES},
    ),
)
"""A caution: a text, or a text with the bikes that it is for."""


def read_short(node: Node, reader: Reader) -> str | None:
    """The text of a `SHORT`."""
    got: Any = SHORT.read(node, reader)
    text: str | None = got["text"] if isinstance(got, dict) else got
    return text


EDGE_ENDS = ("from", "above", "below", "up_to")
RANGE = Record("a range", {end: may(Number()) for end in EDGE_ENDS})


def one_of_each_pair(got: Fields, what: str, reader: Reader) -> bool:
    """Whether at most one lower and one upper end is given."""
    for one, other in (("from", "above"), ("below", "up_to")):
        if got[one] is not None and got[other] is not None:
            message = f"{what} takes `{one}` or `{other}`, not both"
            reader.problems.error("band.both", got["where"], message, "Keep one.")
            return False
    return True


HAND_OFF = {
    "if": CONDITION,
    "class": must(Ref(("hand-off",))),
    "urgency": must(Choice(URGENCY, "urgency")),
    "reason": must(FILLED),
}


def hand_off(got: Fields) -> HandOff:
    """The hand-off of fields read by `HAND_OFF`."""
    return HandOff(got["class"], got["urgency"], got["reason"], got.get("if") or {}, got["where"])


def plain(fields: Fields, *names: str) -> dict[str, Any]:
    """These fields alone."""
    return {name: fields[name] for name in names}


def tried(node: Node, got: Fields, *keys: str) -> bool:
    """Whether something stands under one of these keys that could not be read; that has been told."""
    return isinstance(node, Mapping) and any(
        key in node.items and not got[key] and not _is_bare(node.items[key]) for key in keys
    )


def _is_bare(node: Node) -> bool:
    """Whether a list or mapping is empty."""
    return not isinstance(node, Text) and not node.items


def place_of(node: Node, *path: str) -> Location:
    """Where a nested key's value stands; an id may be written there without its folder."""
    for key in path:
        if isinstance(node, Mapping):
            node = node.items.get(key) or node.items.get(bare(key), node)
    return node.where
