"""Findings with their checks: rows of chances, measures and bands.

Cast: `read_finding`; `read_row` serves causes as well.
"""

from __future__ import annotations

from dataclasses import dataclass

from diagnose.book.likelihood import Chance, cannot_sum, complete_row
from diagnose.book.model import Band, Check, Edge, Finding, Measure, Row
from diagnose.book.phrases import looked_over
from diagnose.book.problems import nearest
from diagnose.book.schema_base import (
    BASIS,
    CAUTIONS,
    CONDITION,
    EDGE_ENDS,
    FILLED,
    FORMERLY,
    LET_STAND,
    LIMITS,
    MINUTES,
    MOST_VALUES,
    ONLY_IF,
    REPLACES,
    SKILLS,
    TOOLS,
    UNITS,
    ByRole,
    Later,
    one_of_each_pair,
    place_of,
    tried,
)
from diagnose.book.schema_workings import WORKING_FIELDS, working_of
from diagnose.book.shape import (
    Chances,
    Choice,
    Fields,
    Flag,
    ListOf,
    MapOf,
    Number,
    Prose,
    Reader,
    Record,
    Ref,
    Words,
    may,
    must,
)
from diagnose.book.tree import Mapping, Node, Text
from diagnose.errors import Location


@dataclass(frozen=True, slots=True)
class EdgeShape:
    """A number, or a limit's `.low` or `.high`."""

    def read(self, node: Node, reader: Reader) -> Edge | None:
        """The edge."""
        text = node.value.strip() if isinstance(node, Text) else ""
        limit, dot, end = text.rpartition(".")
        if dot and end in ("low", "high") and not limit.isdigit():
            known = reader.known_id(("limit",), limit, node.where, "limit")
            return Edge(None, known, end) if known else None
        number = Number().read(node, reader)
        return None if number is None else Edge(number)


@dataclass(frozen=True, slots=True)
class RowShape:
    """How often each value of the finding under whose id it stands is seen; see `read_row`."""

    def read(self, node: Node, reader: Reader) -> Node:
        """The node itself."""
        return node


ROW = RowShape()
MOUNTED = may(ListOf(Ref(("finding",))), ())
BAND = Record("a band", {end: may(Later(EdgeShape())) for end in EDGE_ENDS})
MEASURE = Record(
    "a measure",
    {
        "unit": must(Choice(UNITS, "unit", "unit.unknown")),
        "from": must(Number()),
        "to": must(Number()),
        "right": may(ListOf(Words()), ()),
        **WORKING_FIELDS,
    },
)
CHECK = Record(
    "a check",
    {
        "ask": must(FILLED),
        "formerly": FORMERLY,
        "by": must(Choice(SKILLS, "role")),
        "skill": may(Choice(SKILLS, "skill"), ""),
        "minutes": MINUTES,
        "applies": CONDITION,
        "needs": may(ListOf(Ref(("check",))), ()),
        "only_if": ONLY_IF,
        "not_if": ONLY_IF,
        "mounted": MOUNTED,
        "tools": TOOLS,
        "trust": may(ByRole(both=False), {}),
        "teardown": may(Ref(("teardown",))),
        "danger": may(Flag(), False),
        "ridden": may(Flag(), False),
        "limits": LIMITS,
        "cautions": CAUTIONS,
        "measure": may(MEASURE),
        "bands": may(MapOf((), Later(BAND))),
        "how": may(FILLED, ""),
        "told_by": may(MapOf((), ListOf(Words(), least=1)), {}),
        "on_label": may(Flag(), False),
        "let_stand": LET_STAND,
    },
)
FINDING = Record(
    "a finding",
    {
        "name": must(Prose()),
        "formerly": FORMERLY,
        "asked_for": may(ListOf(Ref(("complaint",))), ()),
        "lasting": may(Flag(), False),
        "on_demand": may(Flag(), False),
        "mounted": MOUNTED,
        "values": must(MapOf((), Prose(), least=2, most=MOST_VALUES)),
        "otherwise": must(Later(ROW)),
        "basis": BASIS,
        "applies": CONDITION,
        "checks": may(MapOf((), Later(CHECK)), {}),
        "replaces": REPLACES,
        "let_stand": LET_STAND,
    },
)


def read_finding(name: str, node: Node, reader: Reader) -> Finding | None:
    """A finding with its checks."""
    got = FINDING.read(node, reader)
    if not got or not isinstance(node, Mapping):
        return None
    values = tuple(got["values"])
    otherwise = read_row(node.items["otherwise"], name, values, None, reader)
    checks = [read_check(key, child, name, values, reader) for key, child in got.pop("checks").items()]
    if not checks:
        message = f"no check looks at the finding '{name}'"
        reader.problems.error(
            "finding.unseen", got["where"], message, "Add one under `checks:`, or delete the finding."
        )
    if otherwise is None:
        return None
    del got["otherwise"]
    return Finding(name, otherwise=otherwise, checks=tuple(check for check in checks if check), **got)


def read_row(
    node: Node, finding: str, values: tuple[str, ...], otherwise: tuple[float, ...] | None, reader: Reader
) -> Row | None:
    """A row of chances over the values of a finding; None after reporting what is wrong."""
    if not isinstance(node, Mapping) or not node.items:
        message = "how often each value is seen is wanted here, as lines of `value: likely`"
        reader.problems.error("type.wrong", node.where, message, f"Such as `{values[0]}: very likely`.")
        return None
    named: dict[str, Chance] = {}
    written: dict[str, str] = {}
    for value, child in node.items.items():
        if value not in values:
            hint = _row_hint(value, values)
            reader.problems.error("value.unknown", node.keys[value], f"'{finding}' has no value '{value}'", hint)
            continue
        got = Chances().read(child, reader)
        if got:
            named[value], written[value] = got
    why = cannot_sum(named, values)
    if why or len(named) < len(node.items):
        if why:
            hint = "Lower or raise a word, or leave one value out: it takes the rest."
            reader.problems.error("row.sum", node.where, f"these chances cannot add up to 1: {why}", hint)
        return None
    weight = max(chance.weight for chance in named.values())
    return Row(complete_row(named, values, otherwise), written, weight, node.where)


def _row_hint(value: str, values: tuple[str, ...]) -> str:
    return nearest(value, values) or "Known: " + ", ".join(values) + "."


def read_check(name: str, node: Node, finding: str, values: tuple[str, ...], reader: Reader) -> Check | None:
    """One way to look at a finding."""
    got = CHECK.read(node, reader)
    if not got:
        return None
    bands = got.pop("bands")
    raw = got.pop("measure")
    if (raw is None) != (bands is None):
        missing = "bands" if bands is None else "measure"
        if isinstance(node, Mapping) and missing not in node.items:
            message = f"a measurement needs both `measure` and `bands`; '{missing}' is missing"
            reader.problems.error("measure.half", got["where"], message, f"Add `{missing}:`.")
        return None
    got["skill"] = got["skill"] or got["by"]
    read_measure = None
    if raw is not None and isinstance(node, Mapping):
        read_measure = _read_measure(raw, node, finding, values, reader)
        if read_measure is None:
            return None
    _look_over_words(node, got, finding, values, reader)
    return Check(name, finding, measure=read_measure, **got)


def _look_over_words(node: Node, got: Fields, finding: str, values: tuple[str, ...], reader: Reader) -> None:
    """Report words that tell no answer of the finding, could not be heard, or stand at a check no rider answers."""
    told_by = got["told_by"]
    where = place_of(node, "told_by") if told_by else got["where"]
    for value in told_by:
        if value not in values:
            message = f"'{finding}' has no value '{value}'"
            reader.problems.error("value.unknown", place_of(node, "told_by", value), message, _row_hint(value, values))
    if told_by and (got["by"] != "rider" or "measure" in getattr(node, "items", {})):
        hint = "Leave the words out, or move them to a check that is answered `by: rider` with one of the values."
        reader.problems.error("phrase.unasked", where, "a rider's words do not answer this check", hint)
    looked_over(told_by, where, reader)


def _read_measure(raw: Fields, node: Mapping, finding: str, values: tuple[str, ...], reader: Reader) -> Measure | None:
    """The measure of a check, or None when a band cannot be read: what is left would seem to leave a gap."""
    bands, written = node.items["bands"], node.items["measure"]
    bands = bands if isinstance(bands, Mapping) else Mapping({}, bands.where)
    if raw["from"] >= raw["to"]:
        message = "a measure's `from` is not below its `to`"
        reader.problems.error("measure.range", raw["where"], message, "These are the lowest and highest reading.")
        return None
    read = [
        _read_band(value, bands.keys[value], child, finding, values, reader) for value, child in bands.items.items()
    ]
    known = tuple(band for band in read if band)
    fits = _sum_goes_with(raw, written, reader) and _right_is_known(raw, finding, values, reader)
    if len(known) < len(read) or not fits:
        return None
    working = working_of(raw) if raw["sum"] else None
    return Measure(raw["unit"], raw["from"], raw["to"], known, working, raw["result"], raw["right"])


def _sum_goes_with(raw: Fields, written: Node, reader: Reader) -> bool:
    """Whether what belongs to a sum stands beside one; reports it when not."""
    if tried(written, raw, "sum"):
        return False
    if raw["sum"]:
        if not raw["readings"] and isinstance(written, Mapping) and "readings" not in written.items:
            message = f"nothing is asked for the sum '{raw['sum']}'"
            hint = "Name what the stand asks under `readings:`, by the sum's words for it."
            reader.problems.error("sum.readings", raw["where"], message, hint)
        return bool(raw["readings"])
    for key in ("readings", "with", "result"):
        if raw[key]:
            message = f"a measure has `{key}` only beside a `sum`"
            reader.problems.error("sum.missing", raw["where"], message, "Name the sum of the bench: `sum: sag`.")
            return False
    return True


def _right_is_known(raw: Fields, finding: str, values: tuple[str, ...], reader: Reader) -> bool:
    for value in raw["right"]:
        if value not in values:
            message = f"'{finding}' has no value '{value}'"
            reader.problems.error("value.unknown", raw["where"], message, _row_hint(value, values))
    return set(raw["right"]) <= set(values)


def _read_band(
    value: str, where: Location, node: Node, finding: str, values: tuple[str, ...], reader: Reader
) -> Band | None:
    if value not in values:
        hint = _row_hint(value, values)
        reader.problems.error("value.unknown", where, f"'{finding}' has no value '{value}'", hint)
        return None
    got = BAND.read(node, reader)
    if not got or not isinstance(node, Mapping) or not set(node.items) <= set(EDGE_ENDS):
        return None
    if not node.items:
        message = f"the band '{value}' has no edge"
        reader.problems.error("band.empty", where, message, "Write `from:`, `above:`, `below:` or `up_to:`.")
        return None
    if not one_of_each_pair(got, "a band", reader):
        return None
    edges = {end: EdgeShape().read(node.items[end], reader) for end in EDGE_ENDS if got[end] is not None}
    if any(edge is None for edge in edges.values()):
        return None
    start = edges.get("from") or edges.get("above")
    stop = edges.get("below") or edges.get("up_to")
    return Band(value, start, "above" in edges, stop, "below" in edges, node.where)
