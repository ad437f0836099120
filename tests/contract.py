"""The headless output as other programs rely on it: `check_envelope` and `check_view` hold a result against it.

Cast: the shapes below. A mapping lists the keys that must be there, in `Maybe` what may be null; a list holds one shape
for all its items; a tuple is a closed list of words. More keys than these may stand beside them.
"""

from __future__ import annotations

import json
from math import fsum
from typing import Any, NamedTuple

Json = dict[str, Any]


class Maybe(NamedTuple):
    """A shape, or null."""

    shape: Any


NUMBER = (float, int)
TEXT_BY_ID = {"id": str, "text": str}
LIMIT = {
    "id": str,
    "quantity": str,
    "low": Maybe(float),
    "high": Maybe(float),
    "unit": str,
    "also": Maybe(str),
    "kind": ("target", "maximum", "minimum"),
    "basis": ("standard", "handbook", "maker", "common practice", "memory"),
}
PART = {"id": str, "name": str, "count": int, "price": {"low": float, "high": float, "currency": str}}
STEP_SUM = {"sum": str, "title": str, "worked": Maybe(dict), "lacks": [{"id": str, "text": str, "shape": str}]}
PLAN_ITEM = {
    "fix": str,
    "rung": int,
    "causes": [{"id": str, "complaint": str}],
    "chance": float,
    "needs": list,
    "after": [str],
    "minutes": {"low": float, "high": float},
    "tools": [str],
    "parts": [PART],
    "steps": [{"text": str, "limits": [LIMIT], "cautions": [str], "sums": [STEP_SUM]}],
    "confirm": TEXT_BY_ID,
    "hand_off_when": [str],
}
NEXT = {
    "kind": ("check", "fix", "hand-off", "done"),
    "id": str,
    "text": str,
    "complaints": [str],
    "answers": Maybe([TEXT_BY_ID]),
    "unit": Maybe(str),
    "cost": float,
    "saves": Maybe(float),
    "runner_up": Maybe({"kind": ("check", "fix", "hand-off"), "id": str, "text": str}),
    "found": [str],
    "in_a_round": [str],
}
RAW = {"id": str, "name": str, "value": object, "unit": Maybe(str), "typed": Maybe(str)}
BAND = {"id": str, "text": str, "low": Maybe(float), "high": Maybe(float), "right": bool}
GAUGE = {"reading": float, "unit": str, "text": str, "bands": [BAND]}
ANSWER = {
    "check": str,
    "finding": str,
    "value": Maybe(str),
    "reading": Maybe(float),
    "unit": Maybe(str),
    "by": ("rider", "mechanic"),
    "stale": bool,
    "readings": Maybe([RAW]),
    "gauge": Maybe(GAUGE),
    "worked": Maybe(dict),
}
ESTIMATE = {
    "minutes": {"p10": float, "p50": float, "p90": float},
    "parts_price": {"p10": float, "p50": float, "p90": float, "currency": str},
    "hand_off_chance": float,
    "runs": int,
    "seed": int,
}
VIEW = {
    "case": Maybe(str),
    "file": Maybe(str),
    "profile": dict,
    "holds": Maybe(bool),
    "expectations": [{"path": str, "expected": object, "found": object, "holds": bool}],
    "complaints": [
        {"id": str, "text": str, "causes": [{"id": str, "name": str, "share": float}], "something_else": float}
    ],
    "answers": [ANSWER],
    "conclusions": [{"id": str, "file": str, "line": int, "column": int, "matched": list}],
    "ruled_out": [{"cause": str, "conclusion": str}],
    "dangers": list,
    "cautions": list,
    "ride": {
        "verdict": ("ride", "care", "stop", "not-cleared"),
        "because": [{"cause": Maybe(str), "conclusion": Maybe(str), "text": str}],
    },
    "next": NEXT,
    "plan": [PLAN_ITEM],
    "hand_off": [
        {"class": str, "reason": str, "urgency": ("before riding", "soon", "when convenient"), "to": str, "note": str}
    ],
    "estimate": Maybe(ESTIMATE),
}
ERROR = {"code": str, "file": str, "line": Maybe(int), "column": Maybe(int), "message": str, "hint": Maybe(str)}
ENVELOPE = {
    "schema": int,
    "book": Maybe({"id": str, "fingerprint": str}),
    "cases": [VIEW],
    "errors": [ERROR],
}


def check_envelope(text: str) -> Json:
    """Read what `replay --json` printed, and hold it against the contract."""
    envelope: Json = json.loads(text, parse_constant=_refuse_constant)
    _check(envelope, ENVELOPE, "")
    assert envelope["schema"] == 1
    for view in envelope["cases"]:
        check_view(view)
    return envelope


def check_view(view: Json) -> None:
    """Hold one View against the contract."""
    _check(view, VIEW, "view")
    for complaint in view["complaints"]:
        _check_shares(complaint, {one["cause"] for one in view["ruled_out"]})
    for answer in view["answers"]:
        assert answer["reading"] is None or answer["unit"] is not None, answer
    for reason in view["ride"]["because"]:
        assert (reason["cause"] is None) != (reason["conclusion"] is None), reason
    for item in view["plan"]:
        assert 0 <= item["chance"] <= 1, item
        assert item["minutes"]["low"] <= item["minutes"]["high"], item
    _check_next(view["next"])
    if view["estimate"]:
        for part in ("minutes", "parts_price"):
            found = view["estimate"][part]
            assert found["p10"] <= found["p50"] <= found["p90"], found
    if view["expectations"]:
        assert view["holds"] is all(one["holds"] for one in view["expectations"])


def _check_shares(complaint: Json, ruled_out: set[str]) -> None:
    causes = complaint["causes"]
    assert abs(fsum(one["share"] for one in causes) + complaint["something_else"] - 1) < 1e-9, complaint
    assert complaint["something_else"] > 0, complaint
    assert causes == sorted(causes, key=lambda one: (-one["share"], one["id"])), complaint
    assert not ruled_out & {one["id"] for one in causes}, complaint


def _check_next(step: Json) -> None:
    is_check = step["kind"] == "check"
    asked = (step["answers"] is not None) + (step["unit"] is not None)
    assert asked == (1 if is_check else 0), step
    assert step["kind"] not in ("hand-off", "done") or step["id"] == step["kind"], step
    over = step["kind"] == "done" or (step["kind"] == "hand-off" and not step["complaints"])
    assert over or not step["found"], step


def _check(value: Any, shape: Any, place: str) -> None:
    if isinstance(shape, Maybe):
        if value is not None:
            _check(value, shape.shape, place)
    elif isinstance(shape, dict):
        assert isinstance(value, dict), place
        missing = set(shape) - set(value)
        assert not missing, f"{place} lacks {sorted(missing)}"
        for key, one in shape.items():
            _check(value[key], one, f"{place}.{key}")
    elif isinstance(shape, list):
        assert isinstance(value, list), place
        for number, one in enumerate(value):
            _check(one, shape[0], f"{place}[{number}]")
    elif isinstance(shape, tuple):
        assert value in shape, f"{place} is {value!r}"
    elif shape is float:
        assert isinstance(value, NUMBER), f"{place} is {value!r}"
        assert not isinstance(value, bool), place
    else:
        assert isinstance(value, shape), f"{place} is {value!r}"


def _refuse_constant(name: str) -> None:
    raise AssertionError(f"{name} is no JSON")
