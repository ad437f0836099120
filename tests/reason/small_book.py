"""Small rule books for tests: what a test is about is written, the rest is filled in.

Cast: `write_book` (dictionaries to the files of a rule book) and `small_book` (the same, read by the program);
`finding`, `fix` and `cause` write one entry. Chances, shares and conditions are written as in a rule book
(rules/FORMAT.md).
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

import yaml

from diagnose.book.load import read_book
from diagnose.book.model import Book
from diagnose.reason.conclude import rules_of
from diagnose.reason.deduce import PlainChainer
from diagnose.reason.diagnosis import Diagnosis
from diagnose.reason.reasoner import DEPTH, Reasoner
from diagnose.reason.situation import Answer, Situation

Raw = dict[str, Any]

CONSTANTS: Raw = {
    "book": "small",
    "title": "A small book",
    "currency": "EUR",
    "labour_rate": 60,
    "hand_off_minutes": 120,
    "asking_minutes": 0,
    "stop_threshold": "5 %",
    "care_threshold": "20 %",
    "trust": {"mechanic": "100 %", "rider": "80 %"},
    "cannot_tell": {"mechanic": "0 %", "rider": "0 %"},
    "already_done_trust": "60 %",
    "shared_cause": 10,
    "rule_in": 100,
    "basis": "memory",
}
"""As the shipped book, but that answers cost nothing beyond their minutes and are always given."""

WORKSHOP = {"workshop": {"to": "a workshop", "minutes": 120}}


def finding(values: str, otherwise: Mapping[str, str], checks: Mapping[str, Raw], **more: Any) -> Raw:
    """A finding. `values` in one string; a check is a mechanic's minute unless it says otherwise."""
    usual: Raw = {"ask": "What do you see?", "by": "mechanic", "minutes": 1}
    return {
        "name": "something to see",
        "values": {value: value for value in values.split()},
        "otherwise": dict(otherwise),
        "basis": "memory",
        "checks": {name: {**usual, **check} for name, check in checks.items()},
        **more,
    }


def fix(name: str, cured: str, minutes: float | tuple[float, float] = 10, **more: Any) -> Raw:
    """A rung: a fix of so many minutes (one number: always that many)."""
    low, high = minutes if isinstance(minutes, tuple) else (minutes, minutes)
    return {
        "fix": name,
        "name": name.replace("-", " "),
        "cured": cured,
        "skill": "rider",
        "minutes": {"low": low, "high": high},
        "steps": ["Do it."],
        "works_if": "It is gone.",
        "if_not": "It is something else.",
        **more,
    }


def cause(common_for: Mapping[str, str], shows: Mapping[str, Mapping[str, str]], *ladder: Raw, **more: Any) -> Raw:
    """A cause with its ladder; without one it is handed off to a workshop."""
    end: Raw = {"ladder": list(ladder)}
    if not ladder and "also_by" not in more:
        end = {"hand_off": {"class": "workshop", "urgency": "soon", "reason": "Not done here."}}
    why = {"danger_because": "It can fail."} if more.get("danger", "none") != "none" else {}
    return {
        "name": "a cause",
        "in_short": "Something is wrong.",
        "common_for": dict(common_for),
        "basis": "memory",
        "shows": {name: dict(row) for name, row in shows.items()},
        "danger": "none",
        **why,
        **end,
        **more,
    }


def _complaint(name: str, said: Raw) -> Raw:
    test = {"id": f"test-{name}", "text": "Ride it.", "minutes": said.pop("test", 1)}
    filled = {"something_else": "10 in 100", "danger_if_unknown": "0 in 100", "basis": "memory"}
    return {"name": name, "rider_says": [f"it does {name}"], "repeat_test": test, **filled, **said}


def write_book(
    folder: Path,
    *,
    complaints: Mapping[str, Raw],
    causes: Mapping[str, Raw],
    findings: Mapping[str, Raw] | None = None,
    constants: Mapping[str, Any] | None = None,
    **others: Mapping[str, Any],
) -> Path:
    """Write the files of a book. A complaint needs nothing but its name; `others` are files by name (`facts` …)."""
    files: dict[str, Mapping[str, Any]] = {
        "book": {**CONSTANTS, **(constants or {})},
        "hand-offs": WORKSHOP,
        "complaints": {name: _complaint(name, dict(said)) for name, said in complaints.items()},
        "findings": findings or {},
        **{name.replace("_", "-"): content for name, content in others.items()},
    }
    (folder / "causes").mkdir(parents=True)
    for name, content in files.items():
        if content:
            _dump(folder / f"{name}.yaml", content)
    for name, content in causes.items():
        _dump(folder / "causes" / f"{name}.yaml", content)
    return folder


class _Dumper(yaml.SafeDumper):
    """Writes everything out: the reader refuses anchors."""

    def ignore_aliases(self, data: Any) -> bool:
        return True


def _dump(path: Path, content: Mapping[str, Any]) -> None:
    path.write_text(yaml.dump(dict(content), Dumper=_Dumper, sort_keys=False, width=200), encoding="utf-8")


def read_small(folder: Path) -> Book:
    """The book of a folder, which must be free of errors."""
    book, problems = read_book(folder)
    errors = [problem for problem in problems if problem.severity == "error"]
    assert not errors, errors
    assert book is not None
    return book


def small_book(folder: Path, **content: Any) -> Book:
    """Write a book and read it; see `write_book`."""
    return read_small(write_book(folder / "rules", **content))


def reasoner(book: Book, depth: int = DEPTH) -> Reasoner:
    """A reasoner over a small book; plain chaining, which starts faster than the engine."""
    return Reasoner(book, PlainChainer(rules_of(book)), depth)


def diagnose(book: Book, depth: int = DEPTH, **known: Any) -> Diagnosis:
    """A bike that knocks and of which this is known, reasoned through."""
    return reasoner(book, depth).diagnose(Situation(("knocks",), **known))


def answer(book: Book, check: str, value: str | None, by: str = "mechanic", **more: Any) -> Answer:
    """An answer to a check; None is can't tell."""
    return Answer(check, book.checks[check].finding, value, by, **more)


def deduction(when: Mapping[str, Any], then: Mapping[str, Any]) -> Raw:
    """A deduction."""
    return {"when": dict(when), "then": dict(then), "because": "So it is.", "basis": "memory"}
