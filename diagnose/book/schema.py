"""The format of the rule book: for each kind of file the shape of an entry and the object it becomes.

Cast: one `read_*` function for each kind of entry, here and in the modules beside; `READERS` lists them by file. `load`
calls them file by file; the format is told in rules/FORMAT.md.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from diagnose.book.model import (
    Caution,
    Complaint,
    Constants,
    Fact,
    Limit,
    LimitCase,
    Part,
    Receiver,
    RepeatTest,
    Teardown,
    Word,
)
from diagnose.book.phrases import looked_over
from diagnose.book.schema_base import (
    BASES,
    BASIS,
    CAUTION,
    CAUTIONS,
    CONDITION,
    FILLED,
    FORMERLY,
    LET_STAND,
    LIMITS,
    MINUTES,
    NOT_KNOWN,
    REPLACES,
    SHORT,
    UNITS,
    VALUES,
    ByRole,
    ConditionShape,
    place_of,
    plain,
    read_short,
    tried,
)
from diagnose.book.schema_causes import CAUSE
from diagnose.book.schema_deductions import DEDUCTION, read_deduction
from diagnose.book.schema_findings import FINDING, read_finding
from diagnose.book.shape import (
    Choice,
    Fields,
    Flag,
    IfKey,
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
    bare,
    may,
    must,
)
from diagnose.book.tree import Mapping, Node
from diagnose.errors import Location

FACT = Record(
    "a fact",
    {
        "name": may(Prose()),
        "formerly": FORMERLY,
        "ask": must(Prose()),
        "how": may(Prose(), ""),
        "several": may(Flag(), False),
        "values": VALUES,
        "opens": may(MapOf((), Ref(("teardown",))), {}),
        "off": may(MapOf((), Ref(("finding",))), {}),
        "applies": CONDITION,
        "not_of": CONDITION,
        "means": may(MapOf((), ConditionShape()), {}),
        "told_by": may(MapOf((), ListOf(Words(), least=1)), {}),
        "on_label": may(Flag(), True),
        "not_told_by": may(ListOf(Words(), least=1), ()),
        "of_end": may(MapOf((), Choice(("front", "rear"))), {}),
        "replaces": REPLACES,
        "let_stand": LET_STAND,
    },
)


def read_fact(name: str, node: Node, reader: Reader) -> Fact | None:
    """A fact of the profile."""
    got = FACT.read(node, reader)
    for key in ("opens", "off", "means", "told_by", "of_end"):
        for value in got[key] if got else ():
            reader.known_value(name, value, place_of(node, key, value))
    if got:
        looked_over(got["told_by"], place_of(node, "told_by"), reader)
    if got and NOT_KNOWN in got["values"]:
        message = f"'{NOT_KNOWN}' is what an unanswered fact is called and cannot be a value"
        reader.problems.error("id.reserved", place_of(node, "values", NOT_KNOWN), message, "Choose another word.")
    if got:
        got["name"] = got["name"] or bare(name).replace("-", " ")
    return Fact(name, **got) if got else None


WORD = Record("a conclusion", {"name": must(Prose()), "values": VALUES, "replaces": REPLACES, "let_stand": LET_STAND})


def read_word(name: str, node: Node, reader: Reader) -> Word | None:
    """A word that deductions may conclude."""
    got = WORD.read(node, reader)
    return Word(name, **got) if got else None


TEARDOWN = Record(
    "a teardown",
    {
        "name": must(Prose()),
        "open": MINUTES,
        "close": MINUTES,
        "inside": may(Ref(("teardown",))),
        "replaces": REPLACES,
        "let_stand": LET_STAND,
    },
)


def read_teardown(name: str, node: Node, reader: Reader) -> Teardown | None:
    """A teardown."""
    got = TEARDOWN.read(node, reader)
    return Teardown(name, **got) if got else None


RECEIVER = Record(
    "a hand-off class",
    {"to": must(Prose()), "minutes": must(Number(1, 10_000)), "replaces": REPLACES, "let_stand": LET_STAND},
)


def read_receiver(name: str, node: Node, reader: Reader) -> Receiver | None:
    """A class of hand-off."""
    got = RECEIVER.read(node, reader)
    return Receiver(name, **got) if got else None


def read_tool(name: str, node: Node, reader: Reader) -> str | None:
    """A tool's name."""
    return read_short(node, reader)


def read_caution(name: str, node: Node, reader: Reader) -> Caution | None:
    """A caution's text, and the bikes that it is for."""
    got: Any = CAUTION.read(node, reader)
    if got is None:
        return None
    return Caution(got["text"], got["applies"]) if isinstance(got, dict) else Caution(got, {})


def read_jargon(name: str, node: Node, reader: Reader) -> str | None:
    """What a rider is told instead of a word of the workshop."""
    return read_short(node, reader)


_PRICE = Record("a price", {"low": must(Number(0, 10_000)), "high": must(Number(0, 10_000))})
PART = Record("a part", {"name": must(Words()), "price": must(_PRICE), "replaces": REPLACES, "let_stand": LET_STAND})


def read_part(name: str, node: Node, reader: Reader) -> Part | None:
    """A part with its price band."""
    got = PART.read(node, reader)
    if not got:
        return None
    low, high = got["price"]["low"], got["price"]["high"]
    if low > high:
        reader.problems.error("price.range", got["where"], "the low price is above the high one", "Swap them.")
    return Part(name, got["name"], low, high, got["where"])


_ENDS = {"low": may(Number()), "high": may(Number())}
_CASE = Record(
    "a case of a limit",
    {"if": must(ConditionShape()), **_ENDS, "basis": may(Choice(BASES, "basis"), ""), "source": may(Words(), "")},
)
LIMIT = Record(
    "a limit",
    {
        "quantity": must(Words()),
        **_ENDS,
        "unit": must(Choice(UNITS, "unit", "unit.unknown")),
        "kind": must(Choice(("target", "maximum", "minimum"), "kind")),
        "basis": BASIS,
        "source": may(Words(), ""),
        "note": may(Words(), ""),
        "applies": CONDITION,
        "instead_of": may(Ref(("limit",)), ""),
        "cases": may(ListOf(_CASE), ()),
        "table": may(Ref(("fact",)), ""),
        "replaces": REPLACES,
        "let_stand": LET_STAND,
    },
)


def read_limit(name: str, node: Node, reader: Reader) -> Limit | None:
    """A limit with its cases."""
    got = LIMIT.read(node, reader)
    if not got:
        return None
    raw_cases = got.pop("cases")
    cases = tuple(LimitCase(c["if"], c["low"], c["high"], c["basis"], c["source"]) for c in raw_cases)
    for one in [got, *raw_cases]:
        if one is not got or not tried(node, one, "low", "high"):
            _check_ends(one["low"], one["high"], got["kind"], one["where"], reader)
    return Limit(name, cases=cases, **got)


def _check_ends(low: float | None, high: float | None, kind: str, where: Location, reader: Reader) -> None:
    """One pair of ends of a limit."""
    decisive = {"maximum": ("high", high), "minimum": ("low", low)}.get(kind)
    if low is None and high is None:
        reader.problems.error("limit.empty", where, "the limit has no number", "Add `low:`, `high:` or both.")
    elif low is not None and high is not None and low > high:
        reader.problems.error("limit.range", where, "the limit's low end is above its high end", "Swap them.")
    elif decisive and decisive[1] is None:
        message = f"a {kind} without its {decisive[0]} end"
        reader.problems.error("limit.kind", where, message, f"Add `{decisive[0]}:` or change `kind:`.")


_TEST = Record(
    "a repeat test",
    {
        "id": must(Name()),
        "text": must(FILLED),
        "minutes": MINUTES,
        "repeat": may(Prose(), ""),
        "limits": LIMITS,
        "cautions": CAUTIONS,
    },
)
COMPLAINT = Record(
    "a complaint",
    {
        "name": must(Prose()),
        "formerly": FORMERLY,
        "under": may(ListOf(Prose()), ()),
        "rider_says": must(ListOf(Prose(), least=1)),
        "never_missed": may(ListOf(Prose()), ()),
        "stands_back": may(Flag(), False),
        "applies": CONDITION,
        "something_else": must(Percent()),
        "danger_if_unknown": must(Percent()),
        "repeat_test": must(_TEST),
        "basis": BASIS,
        "replaces": REPLACES,
        "let_stand": LET_STAND,
    },
)


SAYINGS = Record(
    "sentences for a complaint of the book",
    {"adds_to": must(Words()), "rider_says": must(ListOf(Prose(), least=1))},
)
"""What an own folder may say of a complaint that is there already, without taking its place."""


def read_complaint(name: str, node: Node, reader: Reader) -> Complaint | None:
    """A complaint with its repeat test."""
    got = COMPLAINT.read(node, reader)
    if not got:
        return None
    if not 0.03 <= got["something_else"] < 0.9:
        message = "something_else is outside 3 to 90 in 100: no book knows every cause"
        reader.problems.error("share.something-else", got["where"], message, "Write at least `3 in 100`.")
    return Complaint(name, repeat_test=RepeatTest(**got.pop("repeat_test")), **got)


CONSTANTS = Record(
    "book.yaml",
    {
        "book": must(Name()),
        "title": must(Prose()),
        "currency": must(Words()),
        "labour_rate": must(Number(1, 10_000)),
        "hand_off_minutes": must(Number(1, 10_000)),
        "asking_minutes": must(Number(0, 60)),
        "stop_threshold": must(Percent()),
        "care_threshold": must(Percent()),
        "trust": must(ByRole(both=True)),
        "cannot_tell": must(ByRole(both=True)),
        "already_done_trust": must(Percent()),
        "shared_cause": must(Number(1, 1000)),
        "rule_in": must(Number(1, 10_000)),
        "basis": BASIS,
    },
)


_CHANGEABLE = tuple(key for key in CONSTANTS.fields if key not in ("book", "title", "basis"))
ADDITION = Record(
    "book.yaml of an own folder",
    {
        "book": must(Name()),
        "title": must(Prose()),
        "adds_to": must(Name()),
        "replaces": may(ListOf(Choice(_CHANGEABLE, "constant")), ()),
        **{key: may(CONSTANTS.fields[key].shape) for key in _CHANGEABLE},
        "basis": may(Choice(BASES, "basis"), ""),
    },
)


def read_constants(node: Node, reader: Reader) -> Constants | None:
    """The book's name and numbers (book.yaml)."""
    got = CONSTANTS.read(node, reader)
    return Constants(id=got["book"], title=got["title"], **_numbers(got)) if got else None


def _numbers(got: Fields) -> dict[str, Any]:
    """What book.yaml says of the constants, by their names in the model; what it does not say is None."""
    names = ("currency", "hand_off_minutes", "stop_threshold", "care_threshold", "trust", "cannot_tell")
    found = plain(got, *names, "already_done_trust", "shared_cause", "rule_in")
    return {**found, "rate": got["labour_rate"] and got["labour_rate"] / 60, "asking": got["asking_minutes"]}


def read_addition(node: Node, reader: Reader) -> dict[str, Any]:
    """The constants that an own folder replaces; it says so, or they are refused."""
    got = ADDITION.read(node, reader)
    if not got or not isinstance(node, Mapping):
        return {}
    for key in _CHANGEABLE:
        if key in node.items and key not in got["replaces"]:
            message = f"'{key}' would change the book's own"
            hint = f"If it is to take its place, write `replaces: [{', '.join([*got['replaces'], key])}]`."
            reader.problems.error("id.clash", node.keys[key], message, hint)
        if key in got["replaces"] and key not in node.items:
            message = f"'{key}' is to be replaced, and nothing is given for it"
            reader.problems.error("replaces.unknown", place_of(node, "replaces"), message, f"Add a line `{key}: ...`.")
    return {key: value for key, value in _numbers(got).items() if value is not None}


READERS: dict[str, tuple[str, Callable[[str, Node, Reader], Any]]] = {
    "facts.yaml": ("fact", read_fact),
    "conclusions.yaml": ("conclusion", read_word),
    "teardowns.yaml": ("teardown", read_teardown),
    "hand-offs.yaml": ("hand-off", read_receiver),
    "tools.yaml": ("tool", read_tool),
    "parts.yaml": ("part", read_part),
    "cautions.yaml": ("caution", read_caution),
    "jargon.yaml": ("jargon", read_jargon),
    "limits.yaml": ("limit", read_limit),
    "complaints.yaml": ("complaint", read_complaint),
    "findings.yaml": ("finding", read_finding),
    "deductions.yaml": ("deduction", read_deduction),
}
"""File name to the kind of thing it holds and the reader of one entry."""

SHAPES: dict[str, Shape] = {
    "fact": FACT,
    "conclusion": WORD,
    "teardown": TEARDOWN,
    "hand-off": RECEIVER,
    "tool": SHORT,
    "part": PART,
    "caution": CAUTION,
    "jargon": SHORT,
    "limit": LIMIT,
    "complaint": IfKey("adds_to", SAYINGS, COMPLAINT),
    "finding": FINDING,
    "deduction": DEDUCTION,
    "cause": CAUSE,
    "book": CONSTANTS,
    "own-book": ADDITION,
}
"""Kind to the shape of one entry, or of the whole file where it holds one."""
