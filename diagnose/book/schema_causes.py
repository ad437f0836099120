"""Causes with their ladders of fixes.

Cast: `read_cause` gives a cause and the fixes whose home it is; `read_shows` its rows, once all findings are read.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

from diagnose.book.model import Cause, Fix, PartCase, Row, Rung, Share, Step
from diagnose.book.pictures import PICTURES
from diagnose.book.schema_base import (
    BASIS,
    CAUTIONS,
    CONDITION,
    DANGERS,
    FILLED,
    FORMERLY,
    HAND_OFF,
    LET_STAND,
    LIMITS,
    ONLY_IF,
    REPLACES,
    SKILLS,
    TOOLS,
    ConditionShape,
    Later,
    hand_off,
    place_of,
    plain,
    tried,
)
from diagnose.book.schema_findings import ROW, read_row
from diagnose.book.schema_workings import WORKING, working_of
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
    Prose,
    Reader,
    Record,
    Ref,
    Words,
    may,
    must,
)
from diagnose.book.tree import Mapping, Node

STEP = Either(
    FILLED,
    Record(
        "a step",
        {
            "text": must(FILLED),
            "applies": CONDITION,
            "only_if": ONLY_IF,
            "limits": LIMITS,
            "cautions": CAUTIONS,
            "sums": may(ListOf(WORKING), ()),
        },
    ),
)


@dataclass(frozen=True, slots=True)
class StepShape:
    """A step: a sentence, or a sentence with what it is for, limits and cautions."""

    def read(self, node: Node, reader: Reader) -> Step | None:
        """The step."""
        got = STEP.read(node, reader)
        if got is None:
            return None
        if isinstance(got, str):
            return Step(got, (), (), node.where, {})
        workings = tuple(working_of(one) for one in got["sums"])
        return Step(got["text"], got["limits"], got["cautions"], node.where, got["applies"], workings, got["only_if"])


_COUNT = Number(1, 100)
_PART_CASE = Record("a case of a part", {"if": must(ConditionShape()), "count": must(_COUNT)})
TAKEN = Either(
    _COUNT, Record("a part that is taken", {"count": must(_COUNT), "cases": must(ListOf(_PART_CASE, least=1))})
)
"""How many of a part a fix takes: a number, or one with other numbers for some bikes."""
_SPAN = Record("a span of minutes", {"low": must(Number(0.1, 600)), "high": must(Number(0.1, 600))})


_FIX: dict[str, Field] = {
    "fix": must(Name()),
    "formerly": FORMERLY,
    "name": must(Prose()),
    "cured": must(Chances()),
    "skill": must(Choice(SKILLS, "skill")),
    "minutes": must(_SPAN),
    "tools": TOOLS,
    "parts": may(MapOf(("part",), TAKEN), {}),
    "teardown": may(Ref(("teardown",))),
    "cautions": CAUTIONS,
    "needs": may(ListOf(Ref(("check", "fix"))), ()),
    "only_if": ONLY_IF,
    "picture": may(Choice(tuple(PICTURES), "picture")),
    "steps": must(ListOf(StepShape(), least=1)),
    "works_if": must(FILLED),
    "if_not": must(FILLED),
    "disturbs": may(ListOf(Ref(("finding",)))),
    "after": may(ListOf(Ref(("fix",))), ()),
    "includes": may(ListOf(Ref(("fix",))), ()),
    "badly_done": may(MapOf(("cause",), Number(1, 100)), {}),
    "let_stand": LET_STAND,
}


_ALSO = Record("an entry of also_by", {"fix": must(Ref(("fix",))), "cured": must(Chances())})
CAUSE = Record(
    "a cause",
    {
        "name": must(Prose()),
        "formerly": FORMERLY,
        "in_short": must(Prose()),
        "applies": CONDITION,
        "common_for": must(MapOf(("complaint",), Counted(), least=1)),
        "basis": BASIS,
        "shows": must(MapOf(("finding",), Later(ROW))),
        "danger": must(Choice(DANGERS, "danger")),
        "danger_because": may(Prose(), ""),
        "normal": may(Flag(), False),
        "ladder": may(ListOf(Record("a rung", _FIX)), ()),
        "also_by": may(ListOf(_ALSO), ()),
        "hand_off_when": may(ListOf(Record("a hand-off", HAND_OFF)), ()),
        "hand_off": may(Record("a hand-off", HAND_OFF)),
        "note": may(Words(), ""),
        "replaces": REPLACES,
        "let_stand": LET_STAND,
    },
)


def read_cause(name: str, node: Node, reader: Reader) -> tuple[Cause, tuple[Fix, ...]] | None:
    """One cause with the fixes whose home is this file."""
    got = CAUSE.read(node, reader)
    if not got:
        return None
    if got["danger"] != "none" and not got["danger_because"]:
        message = "a dangerous cause says why"
        reader.problems.error("key.missing", got["where"], message, "Add a line `danger_because: ...`.")
    if not (got["ladder"] or got["also_by"] or got["hand_off"] or tried(node, got, "ladder", "also_by", "hand_off")):
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
            hand_off_when=tuple(hand_off(one) for one in got["hand_off_when"]),
            hand_off=hand_off(got["hand_off"]) if got["hand_off"] else None,
            **plain(got, "name", "in_short", "applies", "basis", "danger", "danger_because", "normal", "where"),
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
        for written, child in shows.items.items():
            finding = reader.meant(("finding",), written)
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
        parts={part: int(one["count"] if isinstance(one, dict) else one) for part, one in got["parts"].items()},
        part_cases={
            part: tuple(PartCase(case["if"], int(case["count"])) for case in one["cases"])
            for part, one in got["parts"].items()
            if isinstance(one, dict)
        },
        disturbs=findings if got["disturbs"] is None else got["disturbs"],
        **plain(got, "name", "skill", "tools", "teardown", "steps", "works_if", "if_not", "cautions"),
        **plain(got, "needs", "only_if", "picture", "after", "includes", "badly_done", "where"),
    )
