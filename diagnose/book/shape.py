"""Shapes that a node of a file may have: each reads a node, reports what is wrong, and gives the value.

Cast: `Reader` (what is known, and the problems so far); the shapes `Words`, `Prose`, `Number`, `Choice`, `Flag`,
`Name`, `Ref`, `Percent`, `Chances`, `Counted`, `ListOf`, `MapOf`, `Either` and `Record` (named fields, unknown ones
refused). A shape gives None for what it could not read, after saying why.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any, Protocol

from diagnose.book.conditions import INLINE_LIMIT
from diagnose.book.likelihood import WORDS, Chance, read_chance, read_count, read_percent
from diagnose.book.problems import Problems, nearest
from diagnose.book.tree import UNSEEN, Listing, Mapping, Node, Text
from diagnose.errors import Location

LONGEST_TEXT = 1_000
LONGEST_ID = 100
NUMBER_WITH_UNIT = re.compile(
    r"(?<![\w-])\d[\d.,/]*(?:\s?[-–]\s?\d[\d.,/]*)?\s?(?:"
    r"(?:mm|cm|m|N·m|N\.m|N|°C|g|h|s|V|lb|lbs|ft|km/h)(?![\w-])"
    r"|(?i:Nm|bar|psi|kPa|lbf|kgf|kg|ml|°|deg|degrees?|%|inch|inches|(?:milli|centi)?met(?:re|er)s?|newtons?"
    r"|minutes?|mins?|seconds?|secs?|hours?|volts?|grams?|kilos?|teeth)(?![\w-]))"
)
"""A unit's letters are read as they are written where another reading is possible ("5 N", but "M5 n")."""
IDENT = re.compile(r"[a-z0-9]+(?:-[a-z0-9]+)*")
IN_LINES = "Write each in a line of its own, further to the right: `key: value`."
IN_ONE = "Write it in one piece behind the colon; a text with brackets or `: ` in it needs quotes."
RESERVED = ("complaint", "fix-failed", "something-else", "hand-off", "done")
"""Words that mean something of their own where an id may stand."""


@dataclass(slots=True)
class Reader:
    """What a reader knows: ids by kind, values by id, and where problems go.

    `unsure` are the kinds of which a file could not be read: of those an unknown id is no news. `formerly` gives the
    present id of a thing that was renamed. `book` is the own folder whose file is being read (empty: the book itself),
    `base` the id of the book itself. Where `of_all` is set, a bare id may also be that of the one own folder which has
    it.
    """

    problems: Problems
    known: dict[str, dict[str, Location]] = field(default_factory=dict)
    values: dict[str, tuple[str, ...]] = field(default_factory=dict)
    unsure: set[str] = field(default_factory=set)
    formerly: dict[str, str] = field(default_factory=dict)
    book: str = ""
    base: str = ""
    of_all: bool = False
    of_folders: dict[str, tuple[str, ...]] = field(init=False, default_factory=dict)
    """Kind to the ids of own folders that may stand bare."""

    def __post_init__(self) -> None:
        if self.of_all:
            self.of_folders = {kind: tuple(one for one in ids if ":" in one) for kind, ids in self.known.items()}

    def known_id(self, kinds: tuple[str, ...], name: str, where: Location, what: str) -> str | None:
        """The id that `name` means here, of one of the kinds; None after reporting it with the nearest match."""
        meant = self.meant(kinds, name)
        if meant is not None or not self.unsure.isdisjoint(kinds):
            return meant
        others = [kind for kind, ids in self.known.items() if name in ids]
        choices = [known for kind in kinds for known in self.known.get(kind, {})]
        hint = (
            nearest(name, choices)
            or f"Write one that there is: `diagnose rules show {in_plural(kinds[0])}` lists them."
        )
        if others:
            hint = f"'{name}' is a {others[0]}, which does not go here."
        if name in self.formerly:
            hint = f"It is now called '{self.formerly[name]}'."
        self.problems.error("id.unknown", where, f"there is no {what} '{name}'", hint)
        return None

    def meant(self, kinds: tuple[str, ...], name: str) -> str | None:
        """The id that a written one means: the folder's own, else the book's; `folder:id` says which."""
        known = [self.known[kind] for kind in kinds if kind in self.known]
        if ":" in name:
            candidates = [name.removeprefix(f"{self.base}:")]
        else:
            candidates = [qualified(self.book, name), name] if self.book else [name]
        for candidate in candidates:
            if any(candidate in ids for ids in known):
                return candidate
        own = [one for kind in kinds for one in self.of_folders.get(kind, ()) if bare(one) == name]
        return own[0] if len(own) == 1 else None

    def known_value(self, owner: str, value: str, where: Location) -> bool:
        """Whether `value` is a value of the fact, finding or conclusion `owner`."""
        if value in self.values.get(owner, ()):
            return True
        if owner not in self.values and self.unsure:
            return False
        self.problems.error(
            "value.unknown", where, f"'{owner}' has no value '{value}'", _values_hint(self, owner, value)
        )
        return False


def in_plural(kind: str) -> str:
    """The word for more than one of a kind, as `diagnose rules show` takes it."""
    return f"{kind}es" if kind == "fix" else f"{kind}s"


def qualified(book: str, name: str) -> str:
    """The id of a thing of an own folder."""
    return f"{book}:{name}"


def bare(name: str) -> str:
    """An id without the folder that it is of."""
    return name.rpartition(":")[2]


def _values_hint(reader: Reader, owner: str, value: str) -> str:
    return nearest(value, reader.values.get(owner, ())) or "Known: " + ", ".join(reader.values.get(owner, ())) + "."


class Shape(Protocol):
    """Reads one node."""

    def read(self, node: Node, reader: Reader) -> Any:
        """The value, or None after reporting what is wrong."""


def _scalar(node: Node, reader: Reader, wanted: str) -> str | None:
    if isinstance(node, Text):
        if node.value.strip():
            return node.value
        reader.problems.error("value.empty", node.where, f"{wanted} is missing here", "Write it, or delete the key.")
        return None
    kind = "a list" if isinstance(node, Listing) else "a mapping"
    reader.problems.error("type.wrong", node.where, f"{wanted} is wanted here, not {kind}", IN_ONE)
    return None


@dataclass(frozen=True, slots=True)
class Words:
    """A short text without a check on numbers (sources, notes)."""

    def read(self, node: Node, reader: Reader) -> str | None:
        """The text with white space folded."""
        text = _scalar(node, reader, "a text")
        if text is None:
            return None
        unseen = UNSEEN.search(text)
        if unseen:
            message = f"a control character or invisible sign (U+{ord(unseen[0]):04X}) stands in this text"
            reader.problems.error("text.control", node.where, message, "Delete it.")
            return None
        if len(text) > LONGEST_TEXT:
            message = f"the text has {len(text)} characters; at most {LONGEST_TEXT} fit a screen"
            reader.problems.error("text.long", node.where, message, "Shorten it.")
            return None
        return " ".join(text.split())


@dataclass(frozen=True, slots=True)
class Prose:
    """A text for the screen: no number with a unit. `filled` ones may hold `{limit-id}`, which becomes the limit."""

    filled: bool = False

    def read(self, node: Node, reader: Reader) -> str | None:
        """The text with white space folded."""
        text = Words().read(node, reader)
        if text is None:
            return None
        numbers = [number[0].strip() for number in NUMBER_WITH_UNIT.finditer(text)]
        if numbers:
            here = "or {id} in the sentence" if self.filled else "at the step or check it belongs to"
            hint = f"Put it into limits.yaml and name the limit: `limits: [id]`, {here}."
            shown = ", ".join(f"'{one}'" for one in numbers)
            message = f"a number with a unit stands in a sentence: {shown}"
            reader.problems.error("prose.number", node.where, message, hint)
        self._check_braces(text, node, reader)
        return INLINE_LIMIT.sub(lambda match: f"{{{reader.meant(('limit',), match[1]) or match[1]}}}", text)

    def _check_braces(self, text: str, node: Node, reader: Reader) -> None:
        names = INLINE_LIMIT.findall(text)
        if not self.filled and ("{" in text or "}" in text):
            message = "no limit is put into this text: '{' and '}' would be shown as they are"
            hint = "Limits go into steps, questions, tests and reasons for a hand-off."
            reader.problems.error("prose.brace", node.where, message, hint)
            return
        for name in names:
            reader.known_id(("limit",), name, node.where, "limit")
        if set("{}") & set(INLINE_LIMIT.sub("", text)):
            message = "a bracket '{' or '}' without its partner"
            reader.problems.error("prose.brace", node.where, message, "Write {limit-id}.")


@dataclass(frozen=True, slots=True)
class Number:
    """A plain number from `low` to `high`."""

    low: float = -1e9
    high: float = 1e9

    def read(self, node: Node, reader: Reader) -> float | None:
        """The number."""
        text = _scalar(node, reader, "a number")
        if text is None:
            return None
        try:
            value = float(text) if re.fullmatch(r"[+-]?[0-9]{1,20}(\.[0-9]{1,20})?", text.strip()) else math.nan
        except ValueError:
            value = math.nan
        if not math.isfinite(value):
            hint = "Write digits with a point, such as 2.5; no unit."
            reader.problems.error("number.wrong", node.where, f"'{text}' is not a plain number", hint)
            return None
        if not self.low <= value <= self.high:
            message = f"{text} is outside {self.low:g} to {self.high:g}"
            reader.problems.error("number.range", node.where, message, "Check the number and its unit.")
            return None
        return value


@dataclass(frozen=True, slots=True)
class Choice:
    """One of a closed list of words."""

    words: tuple[str, ...]
    what: str = "word"
    code: str = "word.unknown"

    def read(self, node: Node, reader: Reader) -> str | None:
        """The word."""
        text = _scalar(node, reader, f"a {self.what}")
        if text is None or text in self.words:
            return text
        hint = nearest(text, self.words) or "Known: " + ", ".join(self.words) + "."
        reader.problems.error(self.code, node.where, f"unknown {self.what} '{text}'", hint)
        return None


@dataclass(frozen=True, slots=True)
class Flag:
    """yes or no."""

    def read(self, node: Node, reader: Reader) -> bool | None:
        """True for yes."""
        text = Choice(("yes", "no"), "answer").read(node, reader)
        return None if text is None else text == "yes"


@dataclass(frozen=True, slots=True)
class Name:
    """A well-formed id that is made here."""

    def read(self, node: Node, reader: Reader) -> str | None:
        """The id."""
        text = _scalar(node, reader, "an id")
        return text if text is not None and well_formed(text, node.where, reader) else None


def well_formed(name: str, where: Location, reader: Reader) -> bool:
    """Whether `name` may be an id or a value; reports it when not."""
    name = name.removeprefix(f"{reader.book}:") if reader.book else name
    if IDENT.fullmatch(name) and len(name) <= LONGEST_ID:
        return True
    hint = "Use lower-case ASCII letters, digits and single hyphens, such as `wheel-out`."
    reader.problems.error("id.malformed", where, f"'{name}' cannot be an id", hint)
    return False


@dataclass(frozen=True, slots=True)
class Ref:
    """The id of something that exists: a complaint, a check, a fix."""

    kinds: tuple[str, ...]

    def read(self, node: Node, reader: Reader) -> str | None:
        """The id."""
        what = " or ".join(self.kinds)
        text = _scalar(node, reader, f"the id of a {what}")
        return None if text is None else reader.known_id(self.kinds, text, node.where, what)


@dataclass(frozen=True, slots=True)
class Percent:
    """A percentage or `n in m`, as a fraction."""

    def read(self, node: Node, reader: Reader) -> float | None:
        """The fraction."""
        text = _scalar(node, reader, "a share")
        if text is None:
            return None
        percent = read_percent(text)
        count = read_count(text)
        if percent is None and count is None:
            reader.problems.error("share.wrong", node.where, f"'{text}' is not a share", "Write `6 in 100` or `6 %`.")
            return None
        return percent if count is None else count[0] / count[1]


@dataclass(frozen=True, slots=True)
class Counted:
    """A share out of 100 that keeps how it was written and how many cases it counts as."""

    def read(self, node: Node, reader: Reader) -> tuple[float, str, float] | None:
        """(of 100, as written, weight)."""
        share = Percent().read(node, reader)
        if share is None or not isinstance(node, Text):
            return None
        count = read_count(node.value)
        if share <= 0:
            reader.problems.error(
                "share.zero", node.where, "a share of nothing", "Delete the line or write at least 0.5 in 100."
            )
            return None
        return share * 100, node.value, float(count[1]) if count else 10.0


@dataclass(frozen=True, slots=True)
class Chances:
    """A chance: a word of the scale, `n in m` or a percentage."""

    def read(self, node: Node, reader: Reader) -> tuple[Chance, str] | None:
        """(the chance, as written)."""
        text = _scalar(node, reader, "a chance")
        if text is None:
            return None
        chance = read_chance(text)
        if chance is None:
            hint = nearest(text, WORDS)
            hint = (
                hint if hint.startswith("Did") else "Write one of: " + ", ".join(WORDS) + "; or `17 in 20`, or `80 %`."
            )
            reader.problems.error("chance.wrong", node.where, f"'{text}' is not a chance", hint)
            return None
        return chance, text


def _counted(least: int) -> str:
    return "one entry is" if least == 1 else f"{least} entries are"


@dataclass(frozen=True, slots=True)
class ListOf:
    """A list; a single item stands for a list of one."""

    item: Shape
    least: int = 0

    def read(self, node: Node, reader: Reader) -> tuple[Any, ...]:
        """The items that could be read."""
        nodes = node.items if isinstance(node, Listing) else [node]
        if len(nodes) < self.least:
            reader.problems.error(
                "list.short",
                node.where,
                f"at least {_counted(self.least)} wanted here",
                "Write it between the brackets.",
            )
        read = [self.item.read(one, reader) for one in nodes]
        return tuple(one for one in read if one is not None)


@dataclass(frozen=True, slots=True)
class MapOf:
    """A mapping whose keys are ids of one of `kinds` (any well-formed id when empty).

    Where they are `elsewhere`, such an id may have the name of an own folder before it; what it means is seen later.
    """

    kinds: tuple[str, ...]
    value: Shape
    least: int = 0
    most: int = 1_000
    elsewhere: bool = False

    def read(self, node: Node, reader: Reader) -> dict[str, Any]:
        """The entries that could be read."""
        if not isinstance(node, Mapping):
            reader.problems.error("type.wrong", node.where, "lines of `key: value` are wanted here", IN_LINES)
            return {}
        if len(node.items) < self.least:
            reader.problems.error("list.short", node.where, f"at least {_counted(self.least)} wanted here", IN_LINES)
        if len(node.items) > self.most:
            message = f"{len(node.items)} stand here; at most {self.most} are taken"
            reader.problems.error("list.long", node.where, message, "Leave some out.")
            return {}
        read: dict[str, Any] = {}
        for key, child in node.items.items():
            value = self.value.read(child, reader)
            name = self.known(key, node.keys[key], reader)
            if name is not None and value is not None:
                read[name] = value
        return read

    def known(self, key: str, where: Location, reader: Reader) -> str | None:
        """What the key means; None when it may not stand here."""
        if self.kinds:
            return reader.known_id(self.kinds, key, where, " or ".join(self.kinds))
        name = key.partition(":")[2] or key if self.elsewhere else key
        return key if well_formed(name, where, reader) else None


@dataclass(frozen=True, slots=True)
class Either:
    """A text, or else a mapping."""

    text: Shape
    mapping: Shape

    def read(self, node: Node, reader: Reader) -> Any:
        """Whatever the fitting shape gives."""
        return (self.mapping if isinstance(node, Mapping) else self.text).read(node, reader)


@dataclass(frozen=True, slots=True)
class IfKey:
    """A mapping that is another record where it has this key."""

    key: str
    there: Record
    else_: Record

    def of(self, keys: Iterable[str]) -> Record:
        """The record that a mapping with these keys is."""
        return self.there if self.key in keys else self.else_

    def read(self, node: Node, reader: Reader) -> Any:
        """Whatever the fitting record gives."""
        return self.of(node.items if isinstance(node, Mapping) else ()).read(node, reader)


@dataclass(frozen=True, slots=True)
class Field:
    """One named field of a record. One that is `aside` is read for what is wrong with it and handed to nobody."""

    shape: Shape
    required: bool = False
    default: Any = None
    aside: bool = False


Fields = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Record:
    """Named fields; unknown ones are refused, missing ones filled with their default or reported."""

    what: str
    fields: dict[str, Field]

    def read(self, node: Node, reader: Reader) -> Fields | None:
        """Field name to value, with `where` for the place; None when a required field is missing or wrong."""
        if not isinstance(node, Mapping):
            must_have = [name for name, one in self.fields.items() if one.required]
            known = [f"`{name}: ...`" for name in must_have or self.fields]
            hint = f"Write {(', ' if must_have else ' or ').join(known[:4])}{' and so on' if known[4:] else ''}."
            message = f"{self.what} is wanted here, as lines of `key: value`"
            reader.problems.error("type.wrong", node.where, message, hint)
            return None
        hints = {key: nearest(key, self.fields, most=30) for key in node.items if key not in self.fields}
        for key, hint in hints.items():
            reader.problems.error("key.unknown", node.keys[key], f"{self.what} has no key '{key}'", hint)
        read: Fields = {"where": node.where}
        complete = True
        for name, one in self.fields.items():
            child = node.items.get(name)
            value = None if child is None else one.shape.read(child, reader)
            misspelt = f"Did you mean '{name}'?" in hints.values()
            if child is None and one.required and not misspelt:
                message = f"{self.what} lacks '{name}'"
                reader.problems.error("key.missing", node.where, message, f"Add a line `{name}: ...`.")
            complete = complete and not (one.required and value is None)
            if not one.aside:
                read[name] = one.default if value is None else value
        return read if complete else None


def must(shape: Shape) -> Field:
    """A required field."""
    return Field(shape, required=True)


def may(shape: Shape, default: Any = None) -> Field:
    """An optional field."""
    return Field(shape, default=default)


def aside(shape: Shape) -> Field:
    """An optional field that somebody else reads."""
    return Field(shape, aside=True)
