"""Problems drawn at random: five causes and something else, eight fixes with ladders, a teardown, four checks.

Cast: `draw_job` writes the small rule book of one problem.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from random import Random

from tests.reason.small_book import Raw, cause, deduction, finding, fix, write_book
from tests.reason.visits import lot

KNOCKS = "knocks"
LADDERS = ((1, 1, 2, 2, 2), (1, 1, 1, 2, 3), (1, 1, 1, 1, 4))
"""How the eight fixes are spread over the causes."""


def draw_job(folder: Path, name: str, ladders: Sequence[int] = (), checks: int = 4) -> Path:
    """The rule book of a problem; another name draws another. `ladders` are the fixes of each cause, if not drawn."""
    draw = lot(f"job {name}")
    rungs = list(ladders or draw.choice(LADDERS))
    draw.shuffle(rungs)
    findings = {f"finding-{place}": _finding(place, draw) for place in range(checks)}
    causes: Raw = {}
    for place, count in enumerate(rungs):
        causes[f"c{place}"] = _cause(place, count, findings, draw)
    _ties(causes, findings, draw)
    return write_book(
        folder,
        complaints={
            KNOCKS: {
                "something_else": f"{draw.randint(3, 10)} in 100",
                "danger_if_unknown": f"{draw.choice((0, 0, 5))} in 100",
                "test": draw.choice((1, 2, 4)),
            }
        },
        causes=causes,
        findings=findings,
        constants={"asking_minutes": 0.4, "cannot_tell": {"mechanic": "5 %", "rider": "20 %"}},
        teardowns={
            "wheel-out": {"name": "wheel out", "open": draw.randint(1, 6), "close": draw.randint(2, 9)},
        },
        parts={"part": {"name": "a part", "price": {"low": 5, "high": 25}}},
        deductions=_deductions(causes, findings, draw),
    )


def _finding(number: int, draw: Random) -> Raw:
    values = [f"v{place}" for place in range(draw.choice((2, 2, 3)))]
    check: Raw = {"minutes": draw.choice((0.5, 1, 2, 3, 5, 8)), "by": draw.choice(("mechanic", "mechanic", "rider"))}
    if draw.random() < 0.25:
        check["trust"] = f"{draw.choice((80, 90, 95))} %"
    if draw.random() < 0.25:
        check["teardown"] = "wheel-out"
    if draw.random() < 0.2:
        check["danger"] = "yes"
    return finding(" ".join(values), {values[0]: f"{draw.choice((60, 75, 90))} %"}, {f"look-{number}": check})


def _cause(number: int, count: int, findings: Raw, draw: Random) -> Raw:
    shows = {}
    for name in draw.sample(sorted(findings), draw.randint(1, min(3, len(findings)))):
        value = draw.choice(list(findings[name]["values"]))
        shows[name] = {value: f"{draw.choice((50, 70, 85, 95))} %"}
    cures = sorted(draw.sample(range(40, 98), count))
    minutes = sorted(draw.sample(range(2, 45), count))
    ladder = [
        fix(f"mend-{number}-{place}", f"{cures[place]} %", (minutes[place], minutes[place] * draw.choice((1, 2))))
        for place in range(count)
    ]
    for one in ladder:
        if draw.random() < 0.35:
            one["teardown"] = "wheel-out"
        if draw.random() < 0.25:
            one["parts"] = {"part": draw.randint(1, 2)}
        if draw.random() < 0.3:
            one["disturbs"] = draw.sample(sorted(findings), 1)
    danger = draw.choice(("none", "none", "care", "stop"))
    return cause({KNOCKS: f"{draw.randint(4, 40)} in 100"}, shows, *ladder, danger=danger)


def _ties(causes: Raw, findings: Raw, draw: Random) -> None:
    """Now and then a fix that two causes share, a check that a fix needs, a fix that comes after another."""
    one, other = draw.sample(sorted(causes), 2)
    if draw.random() < 0.5:
        causes[other]["also_by"] = [{"fix": causes[one]["ladder"][0]["fix"], "cured": f"{draw.randint(20, 80)} %"}]
    if draw.random() < 0.4:
        needed = draw.choice([check for one in findings.values() for check in one["checks"]])
        causes[one]["ladder"][-1]["needs"] = [needed]
    if draw.random() < 0.2:
        causes[other]["ladder"][-1].setdefault("needs", []).append(causes[one]["ladder"][0]["fix"])
    elif draw.random() < 0.3:
        causes[other]["ladder"][0]["after"] = [causes[one]["ladder"][0]["fix"]]


def _deductions(causes: Raw, findings: Raw, draw: Random) -> Raw:
    """Now and then an answer that rules a cause out or demands a check."""

    def told() -> Raw:
        name = draw.choice(sorted(findings))
        return {name: draw.choice(list(findings[name]["values"]))}

    check = draw.choice([check for said in findings.values() for check in said["checks"]])
    chosen = {
        "rules-out": (0.4, deduction(told(), {"rule_out": [draw.choice(sorted(causes))]})),
        "demands": (0.15, deduction(told(), {"demand": [check]})),
    }
    return {name: said for name, (chance, said) in chosen.items() if draw.random() < chance}
