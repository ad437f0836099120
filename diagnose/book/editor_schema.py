"""JSON Schema (2020-12) of the rule book's files, made from the shapes that the loader itself reads with.

Cast: `file_schemas(ids)` gives the schema of each kind of file; `SchemaWriter.of(shape)` that of one shape; `Ids` are
the ids of a book, so that an editor offers them and underlines others; `ids_of(trees)` finds them, also in a book with
errors.

What hangs on two places at once only the loader sees: ids that stand twice, rows that cannot sum to 1, bands with a
gap, a value named in the same entry. An editor types scalars as YAML 1.2 does, the loader takes all as written: a
text may look like a number here.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from functools import singledispatchmethod
from typing import Any

from diagnose.book.about import ABOUT
from diagnose.book.likelihood import WORDS
from diagnose.book.load import ids_and_values
from diagnose.book.own import Trees
from diagnose.book.schema import READERS, SHAPES
from diagnose.book.schema_base import (
    RANGE,
    ByRole,
    ConditionShape,
    ItsValue,
    Later,
    LetStandShape,
    ReplacesShape,
)
from diagnose.book.schema_causes import STEP, StepShape
from diagnose.book.schema_deductions import SPECIAL_KEYS, WHEN_KINDS, WhenShape
from diagnose.book.schema_findings import EdgeShape, RowShape
from diagnose.book.schema_workings import ASKS, AsksShape, SupplyShape
from diagnose.book.shape import (
    IDENT,
    LONGEST_ID,
    LONGEST_TEXT,
    NUMBER_WITH_UNIT,
    Chances,
    Choice,
    Counted,
    Either,
    Flag,
    IfKey,
    ListOf,
    MapOf,
    Name,
    Number,
    Percent,
    Prose,
    Record,
    Ref,
    Words,
    bare,
)
from diagnose.book.tree import Listing, Text
from diagnose.book.tree import Mapping as Lines

Schema = dict[str, Any]
DIALECT = "https://json-schema.org/draft/2020-12/schema"
SCALAR = ["string", "number", "boolean"]
UNSEEN = (
    r"\u0000-\u0008\u000b\u000c\u000e-\u001f\u007f-\u009f\u00ad\u200b-\u200f\u2028-\u202e\u2060-\u206f"
    r"\ufeff\ufffe\uffff"
)
PLAIN_NUMBER = r"^\s*[+-]?[0-9]{1,20}(\.[0-9]{1,20})?\s*$"
COUNT = r"[0-9]{1,6}(\.[0-9]{1,3})? in 0*[1-9][0-9]{0,5}"
PERCENT = r"(0?[0-9]{1,2}(\.[0-9]{1,4})?|100(\.0{1,4})?) ?%"
NOT_NOTHING = r"(?!\s*0+(\.0+)?( ?%| in ))"
WORD = "|".join(word.replace(" ", r"\s+") for word in WORDS)


@dataclass(frozen=True)
class Ids:
    """The ids of a book.

    Attributes:
        known: kind to id to the name that goes with it (empty where there is none).
        values: fact, finding or conclusion to its values with their texts.
        finding_of: check to its finding.
        measured: checks that take a reading.
        book: the own folder for whose files the schemas are; empty: the book itself.
        replaceable: ids of the book that an own folder may replace.
        raw: checks whose reading a sum makes, with the readings that it asks for.
    """

    known: Mapping[str, Mapping[str, str]] = field(default_factory=dict)
    values: Mapping[str, Mapping[str, str]] = field(default_factory=dict)
    finding_of: Mapping[str, str] = field(default_factory=dict)
    measured: frozenset[str] = frozenset()
    book: str = ""
    replaceable: tuple[str, ...] = ()
    raw: Mapping[str, tuple[str, ...]] = field(default_factory=dict)

    def of(self, kinds: Iterable[str]) -> dict[str, str]:
        """The ids of these kinds with their names, sorted."""
        return dict(sorted((name, told) for kind in kinds for name, told in self.known.get(kind, {}).items()))


def ids_of(trees: Trees, book: str = "") -> Ids:
    """The ids of a book as far as its files can be read, as they are written in its files or in an own folder's."""

    def written(name: str) -> str | None:
        own = name.rpartition(":")[0]
        return name if own and own != book and book else bare(name) if own in ("", book) else None

    known, values = ids_and_values(trees)
    names: dict[str, str] = {}
    texts: dict[str, dict[str, str]] = {}
    finding_of: dict[str, str] = {}
    measured = set()
    raw: dict[str, tuple[str, ...]] = {}
    for source, node in trees.items():
        entries = {source.id: node} if source.kind == "cause" else node.items
        for name, entry in entries.items():
            names[name] = _text(entry, "name", "quantity", "because", "ask", "to")
            if isinstance(entry, Lines):
                texts[name] = _texts(entry.items.get("values"))
                checks = entry.items.get("checks")
                for check, told in checks.items.items() if isinstance(checks, Lines) else ():
                    names[check] = _text(told, "ask")
                    finding_of[check] = name
                    if isinstance(told, Lines) and "measure" in told.items:
                        measured.add(check)
                        raw[check] = _raw_readings(told.items["measure"])
    return Ids(
        {kind: {here: names.get(name, "") for name in ids if (here := written(name))} for kind, ids in known.items()},
        {
            here: {value: texts.get(owner, {}).get(value, "") for value in ones}
            for owner, ones in values.items()
            if (here := written(owner))
        },
        {here: written(owner) or "" for check, owner in finding_of.items() if (here := written(check))},
        frozenset(here for check in measured if (here := written(check))),
        book,
        tuple(sorted({name for ids in known.values() for name in ids if ":" not in name})) if book else (),
        {here: asked for check, asked in raw.items() if asked and (here := written(check))},
    )


def _raw_readings(measure: object) -> tuple[str, ...]:
    """What a measure asks for where a sum makes its reading."""
    asked = measure.items.get("readings") if isinstance(measure, Lines) else None
    if isinstance(asked, Lines):
        return tuple(asked.items)
    ones = asked.items if isinstance(asked, Listing) else [asked]
    return tuple(one.value for one in ones if isinstance(one, Text))


def _text(node: object, *keys: str) -> str:
    """What a thing is called: its own text, or the first of these keys that it has."""
    if isinstance(node, Text):
        return node.value
    items = node.items if isinstance(node, Lines) else {}
    return next((one.value for key in keys if isinstance(one := items.get(key), Text)), "")


def _texts(node: object) -> dict[str, str]:
    return {key: _text(child) for key, child in node.items.items()} if isinstance(node, Lines) else {}


def file_schemas(ids: Ids) -> dict[str, Schema]:
    """File name in a book (`cause` for the files in `causes`) to its schema."""
    files = {file: kind for file, (kind, _) in READERS.items()}
    schemas = {"book.yaml": _whole(ids, "own-book" if ids.book else "book"), "cause": _whole(ids, "cause")}
    for file, kind in files.items():
        writer = SchemaWriter(ids)
        entry = writer.of(SHAPES[kind])
        lines = {"type": "object", "propertyNames": writer.name(), "additionalProperties": entry}
        schemas[file] = writer.finish(lines, f"{file} of a rule book")
    return schemas


def _whole(ids: Ids, kind: str) -> Schema:
    writer = SchemaWriter(ids)
    return writer.finish(writer.of(SHAPES[kind]), f"{kind} of a rule book")


class SchemaWriter:
    """Writes the schemas of one file; what occurs often stands in `$defs`."""

    def __init__(self, ids: Ids) -> None:
        self.ids = ids
        self.defs: dict[str, Schema] = {}

    def finish(self, schema: Schema, title: str) -> Schema:
        """The whole schema of a file."""
        return {"$schema": DIALECT, "title": title, **schema, "$defs": dict(sorted(self.defs.items()))}

    def defined(self, name: str, schema: Schema) -> Schema:
        """A reference to a schema that is written once."""
        self.defs.setdefault(name, schema)
        return {"$ref": f"#/$defs/{name}"}

    def name(self) -> Schema:
        """A well-formed id that is made here."""
        pattern = f"^{IDENT.pattern}$"
        return self.defined(
            "id", {"type": ["string", "integer"], "minimum": 0, "pattern": pattern, "maxLength": LONGEST_ID}
        )

    def one_of(self, kinds: Iterable[str]) -> Schema:
        """The id of something that exists."""
        kinds = tuple(kinds)
        return self.defined("-or-".join(kinds), {"enum": list(self.ids.of(kinds))})

    def values_of(self, owner: str) -> Schema:
        """One of the values of a fact, finding or conclusion; any where it is not known of what."""
        if not owner:
            return self.name()
        return self.defined(f"value-of-{owner}", {"enum": list(self.ids.values.get(owner, ()))})

    # --- shapes ----------------------------------------------------------------------------------------------------

    @singledispatchmethod
    def of(self, shape: object, owner: str = "") -> Schema:
        """The schema of a shape; `owner` is the id under which it stands, where that matters."""
        raise TypeError(f"no schema for {type(shape).__name__}")

    @of.register
    def _(self, shape: Words, owner: str = "") -> Schema:
        return self.defined("text", self._text(rf"^(?=[\s\S]*\S)[^{UNSEEN}]*$"))

    @of.register
    def _(self, shape: Prose, owner: str = "") -> Schema:
        no_number = rf"(?![\s\S]*{_ecma(NUMBER_WITH_UNIT)})"
        seen = rf"[^{{}}{UNSEEN}]"
        if not shape.filled:
            return self.defined("sentence", self._text(rf"^(?=[\s\S]*\S){no_number}{seen}*$"))
        limits = "|".join(self.ids.of(["limit"])) or "(?!)"
        pattern = rf"^(?=[\s\S]*\S){no_number}({seen}|\{{({limits})\}})*$"
        return self.defined("sentence-with-limits", self._text(pattern))

    def _text(self, pattern: str) -> Schema:
        return {"type": SCALAR, "maxLength": LONGEST_TEXT, "pattern": pattern}

    @of.register
    def _(self, shape: Number, owner: str = "") -> Schema:
        number = {"type": "number", "minimum": shape.low, "maximum": shape.high}
        return {"anyOf": [number, {"type": "string", "pattern": PLAIN_NUMBER}]}

    @of.register
    def _(self, shape: Choice, owner: str = "") -> Schema:
        return {"enum": list(shape.words)}

    @of.register
    def _(self, shape: Flag, owner: str = "") -> Schema:
        return {"enum": ["yes", "no"]}

    @of.register
    def _(self, shape: Name, owner: str = "") -> Schema:
        return self.name()

    @of.register
    def _(self, shape: Ref, owner: str = "") -> Schema:
        return self.one_of(shape.kinds)

    @of.register
    def _(self, shape: Percent, owner: str = "") -> Schema:
        return self.defined("share", {"type": "string", "pattern": rf"^\s*({COUNT}|{PERCENT})\s*$"})

    @of.register
    def _(self, shape: Counted, owner: str = "") -> Schema:
        pattern = rf"^{NOT_NOTHING}\s*({COUNT}|{PERCENT})\s*$"
        return self.defined("share-of-100", {"type": "string", "pattern": pattern})

    @of.register
    def _(self, shape: Chances, owner: str = "") -> Schema:
        pattern = rf"^\s*({WORD}|{COUNT}|{PERCENT})\s*$"
        return self.defined("chance", {"anyOf": [{"enum": list(WORDS)}, {"type": "string", "pattern": pattern}]})

    @of.register
    def _(self, shape: ListOf, owner: str = "") -> Schema:
        item = self.of(shape.item, owner)
        several = {"type": "array", "items": item, **({"minItems": shape.least} if shape.least else {})}
        return {"anyOf": [item, several]}

    @of.register
    def _(self, shape: MapOf, owner: str = "") -> Schema:
        if shape.value == Later(WhenShape()):
            return self.whens(shape.least)
        ends = {"maxProperties": shape.most, **({"minProperties": shape.least} if shape.least else {})}
        if not shape.kinds:
            value = self.of(shape.value, owner)
            return {"type": "object", **ends, "propertyNames": self.name(), "additionalProperties": value}
        return {"type": "object", **ends, **self.keyed(self.ids.of(shape.kinds), shape.value)}

    def keyed(self, names: Mapping[str, str], value: Any) -> Schema:
        """Keys that are these ids, each with its value."""
        entries = {name: _about(self.of(value, name), told) for name, told in names.items()}
        return {"properties": entries, "additionalProperties": False}

    @of.register
    def _(self, shape: IfKey, owner: str = "") -> Schema:
        if not self.ids.book:
            return self.of(shape.else_, owner)
        has = {"type": "object", "required": [shape.key]}
        return {"if": has, "then": self.of(shape.there, owner), "else": self.of(shape.else_, owner)}

    @of.register
    def _(self, shape: Either, owner: str = "") -> Schema:
        return {"anyOf": [self.of(shape.text, owner), self.of(shape.mapping, owner)]}

    @of.register
    def _(self, shape: Record, owner: str = "") -> Schema:
        told = ABOUT.get(shape.what, {})
        fields = {key: _about(self.of(one.shape), told.get(key, "")) for key, one in shape.fields.items()}
        required = [key for key, one in shape.fields.items() if one.required]
        schema: Schema = {"type": "object", "properties": fields, "additionalProperties": False}
        schema.update({"required": required} if required else {})
        return self.defined(_def_name(shape), {**schema, **BESIDE.get(shape.what, {})})

    @of.register
    def _(self, shape: Later, owner: str = "") -> Schema:
        return self.of(shape.shape, owner)

    # --- shapes of the book's own ----------------------------------------------------------------------------------

    @of.register
    def _(self, shape: ConditionShape, owner: str = "") -> Schema:
        return self.defined(f"condition-on-{shape.kind}", self.of(shape.ids))

    @of.register
    def _(self, shape: ItsValue, owner: str = "") -> Schema:
        return self.values_of(owner)

    @of.register
    def _(self, shape: RowShape, owner: str = "") -> Schema:
        chance = self.of(Chances())
        if not owner:
            return {"type": "object", "minProperties": 1, "additionalProperties": chance}
        row = {"type": "object", "minProperties": 1, **self.keyed(self.ids.values.get(owner, {}), Chances())}
        return self.defined(f"row-of-{owner}", row)

    @of.register
    def _(self, shape: WhenShape, owner: str = "") -> Schema:
        if owner in SPECIAL_KEYS:
            return self.of(ListOf(Ref((SPECIAL_KEYS[owner],)), least=1))
        if owner in self.ids.finding_of:
            return self.of(RANGE)
        return self.of(ListOf(ItsValue(), least=1), owner)

    def whens(self, least: int) -> Schema:
        """The conditions of a deduction."""
        names = {**dict.fromkeys(SPECIAL_KEYS, ""), **self.ids.of(WHEN_KINDS)}
        return {"type": "object", "minProperties": least, **self.keyed(names, WhenShape())}

    @of.register
    def _(self, shape: StepShape, owner: str = "") -> Schema:
        return self.of(STEP)

    @of.register
    def _(self, shape: EdgeShape, owner: str = "") -> Schema:
        ends = [f"{limit}.{end}" for limit in self.ids.of(["limit"]) for end in ("low", "high")]
        return self.defined("edge", {"anyOf": [{"enum": ends}, *self.of(Number())["anyOf"]]})

    @of.register
    def _(self, shape: AsksShape, owner: str = "") -> Schema:
        return self.of(ASKS)

    @of.register
    def _(self, shape: SupplyShape, owner: str = "") -> Schema:
        return self.of(Words())

    @of.register
    def _(self, shape: ByRole, owner: str = "") -> Schema:
        roles = self.of(shape.record)
        return roles if shape.both else {"anyOf": [self.of(Percent()), roles]}

    @of.register
    def _(self, shape: ReplacesShape, owner: str = "") -> Schema:
        return self.defined("replaces", {"enum": list(self.ids.replaceable)} if self.ids.book else {"not": {}})

    @of.register
    def _(self, shape: LetStandShape, owner: str = "") -> Schema:
        reason = self.of(Prose())
        reasons = {"anyOf": [reason, {"type": "object", "additionalProperties": reason}]}
        return self.defined("let-stand", {"type": "object", "minProperties": 1, "additionalProperties": reasons})


def _def_name(shape: Record) -> str:
    words = re.sub(r"[^a-z ]", "", shape.what).split()
    name = "-".join(word for word in words if word not in ("a", "an", "of"))
    return f"{name}-{len(shape.fields)}"


def _about(schema: Schema, told: str) -> Schema:
    """A schema with a sentence that an editor shows."""
    return {**schema, "description": told} if told else schema


def _ecma(pattern: re.Pattern[str]) -> str:
    """A pattern of ours as JSON Schema's dialect has it: letters of either case written out, any run of white space."""

    def either(match: re.Match[str]) -> str:
        return "(?:" + re.sub(r"(?<!\\)[a-z]", lambda one: f"[{one[0]}{one[0].upper()}]", match[1])

    written = re.sub(r"\(\?i:((?:[^()]|\((?:[^()]|\([^()]*\))*\))*)", either, pattern.pattern)
    return written.replace(r"\s?", r"\s*")


_NO_TWO_STARTS = {"not": {"required": ["from", "above"]}}
_NO_TWO_STOPS = {"not": {"required": ["below", "up_to"]}}
_ENDS = {"minProperties": 1, "allOf": [_NO_TWO_STARTS, _NO_TWO_STOPS]}


def _needs(key: str, word: str, then: Schema) -> Schema:
    return {"if": {"properties": {key: {"const": word}}, "required": [key]}, "then": then}


def _not_empty(key: str) -> Schema:
    return {"required": [key], "not": {"properties": {key: {"const": []}}, "required": [key]}}


def _with_end(end: str) -> Schema:
    case = {"required": [end]}
    cases = {"anyOf": [{"type": "array", "items": case}, {"type": "object", **case}]}
    return {"required": [end], "properties": {"cases": cases}}


BESIDE: dict[str, Schema] = {
    "a band": _ENDS,
    "a range": _ENDS,
    "a check": {"dependentRequired": {"measure": ["bands"], "bands": ["measure"]}},
    "a measure": {"dependentRequired": {"sum": ["readings"], "readings": ["sum"], "with": ["sum"], "result": ["sum"]}},
    "a finding": {"allOf": [{"required": ["checks"], "properties": {"checks": {"minProperties": 1}}}]},
    "a limit": {
        "anyOf": [{"required": ["low"]}, {"required": ["high"]}],
        "allOf": [_needs("kind", "maximum", _with_end("high")), _needs("kind", "minimum", _with_end("low"))],
    },
    "a case of a limit": {"anyOf": [{"required": ["low"]}, {"required": ["high"]}]},
    "a cause": {
        "anyOf": [_not_empty(key) for key in ("ladder", "also_by", "hand_off")],
        "if": {"properties": {"danger": {"const": "none"}}},
        "else": {"required": ["danger_because"]},
    },
    "`expect`": {
        "required": ["ride"],
        "allOf": [
            {"anyOf": [{"required": ["top"]}, {"required": ["hand_off"]}]},
            {"anyOf": [{"required": ["next"]}, {"required": ["plan_order"]}]},
        ],
    },
}
"""What must be so of a record besides its fields, by what the record is called."""
