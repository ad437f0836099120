"""The format of the rule book: for each kind of file the shape of an entry and the object it becomes.

Cast: one `read_*` function for each kind of entry. `load` calls them file by file; the format is told in
rules/FORMAT.md.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

from diagnose.book.likelihood import Chance, cannot_sum, complete_row
from diagnose.book.model import (
    Band,
    Cause,
    Check,
    Complaint,
    Condition,
    Constants,
    Deduction,
    Edge,
    Extra,
    Fact,
    Finding,
    Fix,
    HandOff,
    Limit,
    LimitCase,
    Measure,
    Part,
    Receiver,
    RepeatTest,
    Row,
    Rung,
    Share,
    Step,
    Teardown,
    When,
    Word,
)
from diagnose.book.shape import (
    Chances,
    Choice,
    Counted,
    Either,
    Field,
    Fields,
    Flag,
    ListOf,
    MapOf,
    Name,
    Number,
    Percent,
    Prose,
    Reader,
    Record,
    Ref,
    Words,
    may,
    must,
)
from diagnose.book.tree import Listing, Mapping, Node, Text
from diagnose.errors import Location

UNITS = ("% of travel", *"N.m mm cm m bar psi kPa deg % min s N kg g kgf °C V ml count teeth".split())
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


@dataclass(frozen=True, slots=True)
class ConditionShape:
    """Facts of the profile with the values that count."""

    def read(self, node: Node, reader: Reader) -> Condition:
        """Fact to values."""
        raw = MapOf(("fact",), ListOf(Words(), least=1)).read(node, reader)
        if isinstance(node, Mapping):
            for fact in raw:
                for one in _one_by_one(node.items[fact]):
                    reader.known_value(fact, one.value, one.where)
        return raw


def _one_by_one(node: Node) -> list[Text]:
    """The words of a list, or the one word that stands for a list."""
    nodes = node.items if isinstance(node, Listing) else [node]
    return [one for one in nodes if isinstance(one, Text) and one.value.strip()]


CONDITION = may(ConditionShape(), {})


def _plain(fields: Fields, *names: str) -> dict[str, Any]:
    return {name: fields[name] for name in names}


def read_fact(name: str, node: Node, reader: Reader) -> Fact | None:
    """A fact of the profile."""
    shape = Record(
        "a fact",
        {
            "name": may(Prose(), name.replace("-", " ")),
            "ask": must(Prose()),
            "values": VALUES,
            "several": may(Flag(), False),
            "opens": may(MapOf((), Ref(("teardown",))), {}),
        },
    )
    got = shape.read(node, reader)
    for value in got["opens"] if got else ():
        reader.known_value(name, value, place_of(node, "opens", value))
    if got and NOT_KNOWN in got["values"]:
        message = f"'{NOT_KNOWN}' is what an unanswered fact is called and cannot be a value"
        reader.problems.error("id.reserved", place_of(node, "values", NOT_KNOWN), message, "Choose another word.")
    return Fact(name, **got) if got else None


def read_word(name: str, node: Node, reader: Reader) -> Word | None:
    """A word that deductions may conclude."""
    got = Record("a conclusion", {"name": must(Prose()), "values": VALUES}).read(node, reader)
    return Word(name, **got) if got else None


def read_teardown(name: str, node: Node, reader: Reader) -> Teardown | None:
    """A teardown."""
    shape = Record(
        "a teardown", {"name": must(Prose()), "open": MINUTES, "close": MINUTES, "inside": may(Ref(("teardown",)))}
    )
    got = shape.read(node, reader)
    return Teardown(name, **got) if got else None


def read_receiver(name: str, node: Node, reader: Reader) -> Receiver | None:
    """A class of hand-off."""
    got = Record("a hand-off class", {"to": must(Prose()), "minutes": must(Number(1, 10_000))}).read(node, reader)
    return Receiver(name, **got) if got else None


def read_tool(name: str, node: Node, reader: Reader) -> str | None:
    """A tool's name."""
    return Prose().read(node, reader)


def read_caution(name: str, node: Node, reader: Reader) -> str | None:
    """A caution's text."""
    return Prose().read(node, reader)


def read_part(name: str, node: Node, reader: Reader) -> Part | None:
    """A part with its price band."""
    price = Record("a price", {"low": must(Number(0, 10_000)), "high": must(Number(0, 10_000))})
    got = Record("a part", {"name": must(Words()), "price": must(price)}).read(node, reader)
    if not got:
        return None
    low, high = got["price"]["low"], got["price"]["high"]
    if low > high:
        reader.problems.error("price.range", got["where"], "the low price is above the high one", "Swap them.")
    return Part(name, got["name"], low, high, got["where"])


def read_limit(name: str, node: Node, reader: Reader) -> Limit | None:
    """A limit with its cases."""
    ends = {"low": may(Number()), "high": may(Number())}
    case = Record(
        "a case",
        {"if": must(ConditionShape()), **ends, "basis": may(Choice(BASES, "basis"), ""), "source": may(Words(), "")},
    )
    shape = Record(
        "a limit",
        {
            "quantity": must(Words()),
            **ends,
            "unit": must(Choice(UNITS, "unit", "unit.unknown")),
            "kind": must(Choice(("target", "maximum", "minimum"), "kind")),
            "basis": BASIS,
            "source": may(Words(), ""),
            "note": may(Words(), ""),
            "applies": CONDITION,
            "cases": may(ListOf(case), ()),
        },
    )
    got = shape.read(node, reader)
    if not got:
        return None
    raw_cases = got.pop("cases")
    cases = tuple(LimitCase(c["if"], c["low"], c["high"], c["basis"], c["source"]) for c in raw_cases)
    for one in [got, *raw_cases]:
        if one is not got or not _tried(node, one, "low", "high"):
            _check_ends(one["low"], one["high"], got["kind"], one["where"], reader)
    return Limit(name, cases=cases, **got)


def _tried(node: Node, got: Fields, *keys: str) -> bool:
    """Whether something stands under one of these keys that could not be read; that has been told."""
    return isinstance(node, Mapping) and any(
        key in node.items and not got[key] and not _is_bare(node.items[key]) for key in keys
    )


def _is_bare(node: Node) -> bool:
    """Whether a list or mapping is empty."""
    return not isinstance(node, Text) and not node.items


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


def read_complaint(name: str, node: Node, reader: Reader) -> Complaint | None:
    """A complaint with its repeat test."""
    test = Record(
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
    shape = Record(
        "a complaint",
        {
            "name": must(Prose()),
            "rider_says": must(ListOf(Prose(), least=1)),
            "applies": CONDITION,
            "something_else": must(Percent()),
            "danger_if_unknown": must(Percent()),
            "repeat_test": must(test),
            "basis": BASIS,
        },
    )
    got = shape.read(node, reader)
    if not got:
        return None
    if not 0.03 <= got["something_else"] < 0.9:
        message = "something_else is outside 3 to 90 in 100: no book knows every cause"
        reader.problems.error("share.something-else", got["where"], message, "Write at least `3 in 100`.")
    return Complaint(name, repeat_test=RepeatTest(**got.pop("repeat_test")), **got)


def read_finding(name: str, node: Node, reader: Reader) -> Finding | None:
    """A finding with its checks."""
    shape = Record(
        "a finding",
        {
            "name": must(Prose()),
            "values": must(MapOf((), Prose(), least=2, most=MOST_VALUES)),
            "otherwise": must(_AnyNode()),
            "basis": BASIS,
            "applies": CONDITION,
            "asked_for": may(ListOf(Ref(("complaint",))), ()),
            "lasting": may(Flag(), False),
            "checks": may(MapOf((), _AnyNode()), {}),
        },
    )
    got = shape.read(node, reader)
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


@dataclass(frozen=True, slots=True)
class _AnyNode:
    def read(self, node: Node, reader: Reader) -> Node:
        return node


def read_row(
    node: Node, finding: str, values: tuple[str, ...], otherwise: tuple[float, ...] | None, reader: Reader
) -> Row | None:
    """A row of chances over the values of a finding; None after reporting what is wrong."""
    if not isinstance(node, Mapping) or not node.items:
        message = "how often each value is seen is wanted here, as lines of `value: likely`"
        reader.problems.error("type.wrong", node.where, message, "")
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
    from diagnose.book.problems import nearest

    return nearest(value, values) or "Known: " + ", ".join(values) + "."


_EDGE_ENDS = ("from", "above", "below", "up_to")


def read_check(name: str, node: Node, finding: str, values: tuple[str, ...], reader: Reader) -> Check | None:
    """One way to look at a finding."""
    measure = Record(
        "a measure",
        {
            "unit": must(Choice(UNITS, "unit", "unit.unknown")),
            "from": must(Number()),
            "to": must(Number()),
        },
    )
    shape = Record(
        "a check",
        {
            "ask": must(FILLED),
            "by": must(Choice(SKILLS, "role")),
            "minutes": MINUTES,
            "tools": TOOLS,
            "trust": may(ByRole(both=False), {}),
            "teardown": may(Ref(("teardown",))),
            "needs": may(ListOf(Ref(("check",))), ()),
            "applies": CONDITION,
            "measure": may(measure),
            "bands": may(MapOf((), _AnyNode())),
            "how": may(FILLED, ""),
            "limits": LIMITS,
            "cautions": CAUTIONS,
            "danger": may(Flag(), False),
            "skill": may(Choice(SKILLS, "skill"), ""),
        },
    )
    got = shape.read(node, reader)
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
        read_measure = _read_measure(raw, node.items["bands"], finding, values, reader)
        if read_measure is None:
            return None
    return Check(name, finding, measure=read_measure, **got)


def _read_measure(raw: Fields, node: Node, finding: str, values: tuple[str, ...], reader: Reader) -> Measure | None:
    """The measure of a check, or None when a band cannot be read: what is left would seem to leave a gap."""
    bands = node if isinstance(node, Mapping) else Mapping({}, node.where)
    if raw["from"] >= raw["to"]:
        message = "a measure's `from` is not below its `to`"
        reader.problems.error("measure.range", raw["where"], message, "These are the lowest and highest reading.")
        return None
    read = [
        _read_band(value, bands.keys[value], child, finding, values, reader) for value, child in bands.items.items()
    ]
    known = tuple(band for band in read if band)
    return Measure(raw["unit"], raw["from"], raw["to"], known) if len(known) == len(read) else None


@dataclass(frozen=True, slots=True)
class ByRole:
    """A share for the rider and one for the mechanic; one share alone stands for both where `both` need not be told."""

    both: bool

    def read(self, node: Node, reader: Reader) -> dict[str, float] | None:
        """Role to share."""
        if not self.both and not isinstance(node, Mapping):
            share = Percent().read(node, reader)
            return None if share is None else dict.fromkeys(SKILLS, share)
        field = must(Percent()) if self.both else may(Percent())
        got = Record("a share by role", dict.fromkeys(SKILLS, field)).read(node, reader)
        return got and {role: got[role] for role in SKILLS if got[role] is not None}


def _read_band(
    value: str, where: Location, node: Node, finding: str, values: tuple[str, ...], reader: Reader
) -> Band | None:
    if value not in values:
        hint = _row_hint(value, values)
        reader.problems.error("value.unknown", where, f"'{finding}' has no value '{value}'", hint)
        return None
    got = Record("a band", {end: may(_AnyNode()) for end in _EDGE_ENDS}).read(node, reader)
    if not got or not isinstance(node, Mapping) or not set(node.items) <= set(_EDGE_ENDS):
        return None
    if not node.items:
        message = f"the band '{value}' has no edge"
        reader.problems.error("band.empty", where, message, "Write `from:`, `above:`, `below:` or `up_to:`.")
        return None
    if not _one_of_each_pair(got, "a band", reader):
        return None
    edges = {end: _read_edge(node.items[end], reader) for end in _EDGE_ENDS if got[end] is not None}
    if any(edge is None for edge in edges.values()):
        return None
    start = edges.get("from") or edges.get("above")
    stop = edges.get("below") or edges.get("up_to")
    return Band(value, start, "above" in edges, stop, "below" in edges, node.where)


def _one_of_each_pair(got: Fields, what: str, reader: Reader) -> bool:
    """Whether at most one lower and one upper end is given."""
    for one, other in (("from", "above"), ("below", "up_to")):
        if got[one] is not None and got[other] is not None:
            message = f"{what} takes `{one}` or `{other}`, not both"
            reader.problems.error("band.both", got["where"], message, "Keep one.")
            return False
    return True


def _read_edge(node: Node, reader: Reader) -> Edge | None:
    text = node.value.strip() if isinstance(node, Text) else ""
    limit, dot, end = text.rpartition(".")
    if dot and end in ("low", "high") and not limit.isdigit():
        return Edge(None, limit, end) if reader.known_id(("limit",), limit, node.where, "limit") else None
    number = Number().read(node, reader)
    return None if number is None else Edge(number)


_HAND_OFF = {
    "if": CONDITION,
    "class": must(Ref(("hand-off",))),
    "urgency": must(Choice(URGENCY, "urgency")),
    "reason": must(FILLED),
}


def _hand_off(got: Fields) -> HandOff:
    return HandOff(got["class"], got["urgency"], got["reason"], got.get("if") or {}, got["where"])


_STEP = Either(FILLED, Record("a step", {"text": must(FILLED), "limits": LIMITS, "cautions": CAUTIONS}))


@dataclass(frozen=True, slots=True)
class StepShape:
    """A step: a sentence, or a sentence with limits and cautions."""

    def read(self, node: Node, reader: Reader) -> Step | None:
        """The step."""
        got = _STEP.read(node, reader)
        if got is None:
            return None
        if isinstance(got, str):
            return Step(got, (), (), node.where)
        return Step(got["text"], got["limits"], got["cautions"], node.where)


_SPAN = Record("a span of minutes", {"low": must(Number(0.1, 600)), "high": must(Number(0.1, 600))})
_FIX: dict[str, Field] = {
    "fix": must(Name()),
    "name": must(Prose()),
    "cured": must(Chances()),
    "skill": must(Choice(SKILLS, "skill")),
    "minutes": must(_SPAN),
    "tools": TOOLS,
    "parts": may(MapOf(("part",), Number(1, 100)), {}),
    "teardown": may(Ref(("teardown",))),
    "steps": must(ListOf(StepShape(), least=1)),
    "works_if": must(FILLED),
    "if_not": must(FILLED),
    "cautions": CAUTIONS,
    "needs": may(ListOf(Ref(("check", "fix"))), ()),
    "after": may(ListOf(Ref(("fix",))), ()),
    "disturbs": may(ListOf(Ref(("finding",)))),
    "badly_done": may(MapOf(("cause",), Number(1, 100)), {}),
}


def read_cause(name: str, node: Node, reader: Reader) -> tuple[Cause, tuple[Fix, ...]] | None:
    """One cause with the fixes whose home is this file."""
    also = Record("an entry of also_by", {"fix": must(Ref(("fix",))), "cured": must(Chances())})
    shape = Record(
        "a cause",
        {
            "name": must(Prose()),
            "in_short": must(Prose()),
            "applies": CONDITION,
            "common_for": must(MapOf(("complaint",), Counted(), least=1)),
            "basis": BASIS,
            "shows": must(MapOf(("finding",), _AnyNode())),
            "danger": must(Choice(DANGERS, "danger")),
            "danger_because": may(Prose(), ""),
            "ladder": may(ListOf(Record("a rung", _FIX)), ()),
            "also_by": may(ListOf(also), ()),
            "hand_off_when": may(ListOf(Record("a hand-off", _HAND_OFF)), ()),
            "hand_off": may(Record("a hand-off", _HAND_OFF)),
            "note": may(Words(), ""),
            "formerly": may(ListOf(Words()), ()),
        },
    )
    got = shape.read(node, reader)
    if not got:
        return None
    if got["danger"] != "none" and not got["danger_because"]:
        message = "a dangerous cause says why"
        reader.problems.error("key.missing", got["where"], message, "Add a line `danger_because: ...`.")
    if not (got["ladder"] or got["also_by"] or got["hand_off"] or _tried(node, got, "ladder", "also_by", "hand_off")):
        message = f"the cause '{name}' has no fix"
        hint = "Add a `ladder:`, an `also_by:`, or a `hand_off:` saying who can help."
        reader.problems.error("cause.no-fix", got["where"], message, hint)
    findings = tuple(got["shows"])
    fixes = tuple(_fix(one, name, findings, reader) for one in got["ladder"])
    rungs = [_rung(one, True) for one in got["ladder"]] + [_rung(one, False) for one in got["also_by"]]
    _check_rising(rungs, reader)
    _check_once(rungs, reader)
    return (
        Cause(
            id=name,
            shares=_shares(got["common_for"], node),
            shows={},
            ladder=tuple(sorted(rungs, key=lambda rung: rung.cured)),
            hand_off_when=tuple(_hand_off(one) for one in got["hand_off_when"]),
            hand_off=_hand_off(got["hand_off"]) if got["hand_off"] else None,
            **_plain(got, "name", "in_short", "applies", "basis", "danger", "danger_because", "where"),
        ),
        fixes,
    )


def _shares(common_for: dict[str, tuple[float, str, float]], node: Node) -> dict[str, Share]:
    return {
        complaint: Share(of_100, written, weight, place_of(node, "common_for", complaint))
        for complaint, (of_100, written, weight) in common_for.items()
    }


def read_shows(node: Node, rows: dict[str, tuple[tuple[str, ...], Row]], reader: Reader) -> dict[str, Row]:
    """The rows of a cause; `rows` gives each finding's values and otherwise row."""
    shows = node.items.get("shows") if isinstance(node, Mapping) else None
    read: dict[str, Row] = {}
    if isinstance(shows, Mapping):
        for finding, child in shows.items.items():
            if finding in rows:
                values, otherwise = rows[finding]
                row = read_row(child, finding, values, otherwise.chances, reader)
                if row:
                    read[finding] = row
    return read


def _rung(got: Fields, own: bool) -> Rung:
    chance, written = got["cured"]
    return Rung(got["fix"], chance.value, written, own, got["where"])


def _check_rising(rungs: list[Rung], reader: Reader) -> None:
    own = [rung for rung in rungs if rung.own]
    for before, after in pairwise(own):
        if after.cured <= before.cured:
            message = f"'{after.fix}' says {after.written} cured, no more than the rung before it ({before.written})"
            hint = "A rung counts the bikes cured by it or any rung before: the numbers rise."
            reader.problems.error("ladder.rising", after.where, message, hint)


def _check_once(rungs: list[Rung], reader: Reader) -> None:
    """A fix in `also_by` stands neither in the ladder nor there twice."""
    seen: set[str] = set()
    for rung in rungs:
        if rung.fix in seen and not rung.own:
            message = f"the fix '{rung.fix}' is already a rung of this cause"
            reader.problems.error("ladder.twice", rung.where, message, "Keep one of the two.")
        seen.add(rung.fix)


def _fix(got: Fields, home: str, findings: tuple[str, ...], reader: Reader) -> Fix:
    minutes = got["minutes"]
    if minutes["low"] > minutes["high"]:
        message = "the low minutes are above the high ones"
        reader.problems.error("minutes.range", minutes["where"], message, "Swap them.")
    return Fix(
        id=got["fix"],
        home=home,
        low=minutes["low"],
        high=minutes["high"],
        parts={part: int(count) for part, count in got["parts"].items()},
        disturbs=findings if got["disturbs"] is None else got["disturbs"],
        **_plain(got, "name", "skill", "tools", "teardown", "steps", "works_if", "if_not", "cautions"),
        **_plain(got, "needs", "after", "badly_done", "where"),
    )


_THEN = Record(
    "`then`",
    {
        "conclude": may(MapOf(("conclusion",), Words()), {}),
        "rule_out": may(ListOf(Ref(("cause",))), ()),
        "rule_in": may(ListOf(Ref(("cause",))), ()),
        "likelier": may(MapOf(("cause",), Number(1, 1000)), {}),
        "less_likely": may(MapOf(("cause",), Number(1, 1000)), {}),
        "danger": may(Choice(("care", "stop"), "danger")),
        "caution": may(ListOf(Ref(("caution",))), ()),
        "hand_off": may(Record("a hand-off", _HAND_OFF)),
        "demand": may(ListOf(Ref(("check",))), ()),
        "also": may(MapOf(("fix",), Choice(("must", "should", "can wait"), "level")), {}),
    },
)


def read_deduction(name: str, node: Node, reader: Reader) -> Deduction | None:
    """A when/then rule."""
    shape = Record(
        "a deduction",
        {
            "when": must(MapOf((), _AnyNode(), least=1)),
            "then": must(_THEN),
            "because": must(Prose()),
            "basis": BASIS,
        },
    )
    got = shape.read(node, reader)
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
        hand_off=_hand_off(then["hand_off"]) if then["hand_off"] else None,
        also=tuple(Extra(fix, level) for fix, level in then["also"].items()),
        because=got["because"],
        where=got["where"],
        **_plain(then, "conclude", "rule_out", "rule_in", "danger", "demand"),
    )


def place_of(node: Node, *path: str) -> Location:
    """Where a nested key's value stands."""
    for key in path:
        node = node.items.get(key, node) if isinstance(node, Mapping) else node
    return node.where


SPECIAL_KEYS: dict[str, str] = {"complaint": "complaint", "fix-failed": "fix"}
"""Keys of `when` whose values are ids of a kind."""


def _read_when(key: str, node: Node, deduction: Mapping, reader: Reader) -> When | None:
    when = deduction.items["when"]
    place = when.keys[key] if isinstance(when, Mapping) else node.where
    if key in SPECIAL_KEYS:
        values = ListOf(Ref((SPECIAL_KEYS[key],)), least=1).read(node, reader)
        return When(key, values, None, None, None, None, place)
    kinds = ("fact", "finding", "conclusion", "check")
    what = "fact, finding, conclusion or measuring check"
    if not reader.known_id(kinds, key, place, what):
        return None
    if key in reader.known.get("check", {}):
        ends = {end: may(Number()) for end in _EDGE_ENDS}
        got = Record("a range", ends).read(node, reader)
        if not got or not _one_of_each_pair(got, "a range", reader):
            return None
        if all(got[end] is None for end in _EDGE_ENDS):
            hint = "Write `from:`, `above:`, `below:` or `up_to:`."
            reader.problems.error("deduction.range", place, f"the range of '{key}' has no end", hint)
        return When(key, (), got["from"], got["above"], got["below"], got["up_to"], place)
    ListOf(Words(), least=1).read(node, reader)
    known = [one.value for one in _one_by_one(node) if reader.known_value(key, one.value, one.where)]
    return When(key, tuple(known), None, None, None, None, place)


def read_constants(node: Node, reader: Reader) -> Constants | None:
    """The book's name and numbers (book.yaml)."""
    shape = Record(
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
    got = shape.read(node, reader)
    if not got:
        return None
    names = ("title", "currency", "hand_off_minutes", "stop_threshold", "care_threshold", "trust", "cannot_tell")
    return Constants(
        id=got["book"],
        rate=got["labour_rate"] / 60,
        asking=got["asking_minutes"],
        **_plain(got, *names, "already_done_trust", "shared_cause", "rule_in"),
    )


READERS: dict[str, tuple[str, Callable[[str, Node, Reader], Any]]] = {
    "facts.yaml": ("fact", read_fact),
    "conclusions.yaml": ("conclusion", read_word),
    "teardowns.yaml": ("teardown", read_teardown),
    "hand-offs.yaml": ("hand-off", read_receiver),
    "tools.yaml": ("tool", read_tool),
    "parts.yaml": ("part", read_part),
    "cautions.yaml": ("caution", read_caution),
    "limits.yaml": ("limit", read_limit),
    "complaints.yaml": ("complaint", read_complaint),
    "findings.yaml": ("finding", read_finding),
    "deductions.yaml": ("deduction", read_deduction),
}
"""File name to the kind of thing it holds and the reader of one entry."""
