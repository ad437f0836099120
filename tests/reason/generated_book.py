"""Small rule books drawn at random, valid by construction, to hold the program against its oracles.

Cast: `draw_book` writes one. Every way to write a chance, every kind of condition and every consequence that moves
belief may come up.
"""

from __future__ import annotations

from pathlib import Path
from random import Random
from typing import Any

from tests.reason.plain_book import SCALE, chance_of
from tests.reason.small_book import Raw, cause, deduction, finding, fix, write_book

COMPLAINTS = ("knocks", "drags", "squeals")
WORDS = ("hurt", "soaked")


def draw_book(folder: Path, draw: Random) -> Path:
    """A book with one to three complaints, two to six causes, and what it takes to tell them apart."""
    facts = {f"fact-{n}": _fact(n, draw) for n in range(draw.randint(1, 3))}
    complaints = {
        name: {"something_else": f"{draw.randint(3, 40)} in 100"} for name in COMPLAINTS[: draw.randint(1, 3)]
    }
    findings = {f"finding-{n}": _finding(n, draw) for n in range(draw.randint(1, 4))}
    limits: Raw = {}
    if draw.random() < 0.5:
        findings["measured"], limits = _measured(facts, draw)
    names = [f"cause-{n}" for n in range(draw.randint(2, 6))]
    causes = {name: _cause(name, names, complaints, findings, facts, draw) for name in names}
    _also_by(causes, draw)
    return write_book(
        folder,
        complaints=complaints,
        causes=causes,
        findings=findings,
        facts=facts,
        limits=limits,
        conclusions={word: {"name": word, "values": {"yes": "yes"}} for word in WORDS},
        deductions=_deductions(names, causes, findings, facts, list(complaints), draw),
    )


def _fact(number: int, draw: Random) -> Raw:
    several: Raw = {"several": "yes"} if number == 2 else {}
    return {
        "ask": "Which?",
        "values": {value: value for value in ("one", "two", "three")[: draw.randint(2, 3)]},
    } | several


def _finding(number: int, draw: Random) -> Raw:
    values = [f"v{place}" for place in range(draw.randint(2, 4))]
    checks = {f"look-{number}-{place}": _check(draw) for place in range(draw.randint(1, 3))}
    return finding(" ".join(values), _row(values, draw), checks)


def _check(draw: Random) -> Raw:
    check: Raw = {"by": draw.choice(("rider", "mechanic"))}
    kind = draw.randrange(3)
    if kind == 0:
        check["trust"] = f"{draw.randint(5, 100)} %"
    elif kind == 1:
        check["trust"] = {draw.choice(("rider", "mechanic")): f"{draw.randint(5, 100)} %"}
    return check


def _measured(facts: Raw, draw: Random) -> tuple[Raw, Raw]:
    """A finding with a measuring check whose bands hang on a limit that has another number for one profile."""
    limit: Raw = {"quantity": "gap", "low": 3, "high": 5, "unit": "mm", "kind": "target", "basis": "memory"}
    fact = next(iter(facts))
    limit["cases"] = [{"if": {fact: draw.choice(list(facts[fact]["values"]))}, "low": 4, "high": 8}]
    check = {
        **_check(draw),
        "measure": {"unit": "mm", "from": 0, "to": 20},
        "bands": {
            "v0": {"below": "gap-limit.low"},
            "v1": {"from": "gap-limit.low", "up_to": "gap-limit.high"},
            "v2": {"above": "gap-limit.high"},
        },
    }
    values = ["v0", "v1", "v2"]
    return finding(" ".join(values), _row(values, draw), {"measure-gap": check}), {"gap-limit": limit}


def _row(values: list[str], draw: Random) -> Raw:
    """A row: all values named as percentages that sum to 100, or some of them in words, counts or percentages."""
    if draw.random() < 0.3:
        cuts = sorted(draw.sample(range(1, 100), len(values) - 1))
        parts = [after - before for before, after in zip([0, *cuts], [*cuts, 100], strict=True)]
        return {value: f"{part} %" for value, part in zip(values, parts, strict=True)}
    row: Raw = {}
    for value in draw.sample(values, draw.randint(1, len(values) - 1)):
        written = _chance(draw)
        if sum(chance_of(text) for text in row.values()) + chance_of(written) <= 1:
            row[value] = written
    return row or {values[0]: "99 %"}


def _chance(draw: Random) -> str:
    kind = draw.randrange(3)
    if kind == 0:
        return draw.choice(list(SCALE))
    if kind == 1:
        of = draw.choice((8, 20, 30))
        return f"{draw.randint(0, of)} in {of}"
    return f"{draw.choice((0, 0.3, 5, 25, 60, 90, 99, 100))} %"


def _cause(name: str, names: list[str], complaints: Raw, findings: Raw, facts: Raw, draw: Random) -> Raw:
    common_for = {
        complaint: f"{draw.randint(2, 60)} in 100"
        for complaint in draw.sample(list(complaints), draw.randint(1, len(complaints)))
    }
    shows = {
        one: _row(list(findings[one]["values"]), draw)
        for one in draw.sample(list(findings), draw.randint(1, len(findings)))
    }
    cures = sorted(draw.sample(range(10, 99), draw.randint(1, 3)))
    ladder = [fix(f"mend-{name}-{place}", f"{cured} in 100") for place, cured in enumerate(cures)]
    if draw.random() < 0.4:
        ladder[0]["badly_done"] = {draw.choice(names): draw.choice((2, 3.5))}
    more: Raw = {}
    if draw.random() < 0.4:
        fact = draw.choice(list(facts))
        more["applies"] = {fact: draw.sample(list(facts[fact]["values"]), 1)}
    return cause(common_for, shows, *ladder, **more)


def _also_by(causes: Raw, draw: Random) -> None:
    """Some causes are also put right by another's fix."""
    for name, one in causes.items():
        other = draw.choice(list(causes))
        if other != name and draw.random() < 0.4:
            one["also_by"] = [{"fix": causes[other]["ladder"][0]["fix"], "cured": _chance(draw)}]


def _deductions(
    names: list[str], causes: Raw, findings: Raw, facts: Raw, complaints: list[str], draw: Random
) -> dict[str, Any]:
    """One deduction of each sort, or none of it."""

    def one_of(kind: Raw) -> Raw:
        name = draw.choice(list(kind))
        return {name: draw.sample(list(kind[name]["values"]), 1)}

    def told() -> Raw:
        words = {name: one for name, one in findings.items() if name != "measured"}
        return one_of(words)

    def ruled() -> Raw:
        return {draw.choice(("rule_out", "rule_in")): draw.sample(names, draw.randint(1, 2))}

    up, down = draw.sample(names, 2)
    moved = {"likelier": {up: draw.choice((2, 7))}, "less_likely": {down: 3}}
    spent = draw.choice([rung["fix"] for one in causes.values() for rung in one["ladder"]])
    chosen = {
        "profile-moves": deduction(one_of(facts), moved),
        "profile-rules": deduction(one_of(facts), ruled()),
        "answer-rules": deduction(told(), ruled()),
        "answer-and-profile-rule": deduction({**told(), **one_of(facts)}, ruled()),
        "complaint-rules": deduction({"complaint": draw.choice(complaints), **told()}, ruled()),
        "profile-concludes": deduction(one_of(facts), {"conclude": {"hurt": "yes"}}),
        "answer-concludes": deduction(told(), {"conclude": {draw.choice(WORDS): "yes"}}),
        "answer-and-profile-conclude": deduction({**told(), **one_of(facts)}, {"conclude": {"hurt": "yes"}}),
        "conclusion-rules": deduction({"hurt": "yes"}, ruled()),
        "conclusion-and-answer-rule": deduction({"soaked": "yes", **told()}, {**ruled(), "conclude": {"hurt": "yes"}}),
        "failure-rules": deduction({"fix-failed": spent}, ruled()),
    }
    if "measured" in findings:
        chosen["reading-rules"] = deduction({"measure-gap": {"above": 6}}, ruled())
    return {name: one for name, one in chosen.items() if draw.random() < 0.5}
