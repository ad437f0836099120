"""A second reader of the rule book: plain YAML, and the arithmetic of rows as rules/FORMAT.md tells it, written anew.

Cast: `PlainBook` (the files by kind, as dictionaries of text) made by `read_plain`; `chance_of` and `whole_row` (words,
counts and percentages to rows); `PlainBook.bands` (which value a reading means). Nothing of the program is imported, so
that a slip there is not repeated here. The book is taken to be sound: what is wrong in it is the program's to say.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any

import yaml

# Intelligence Community Directive 203, Analytic Standards (2 January 2015), D.6.e.(2).(a): the seven terms and their
# ranges, of which the middle is taken.
SCALE = {
    "almost no chance": (1, 5),
    "very unlikely": (5, 20),
    "unlikely": (20, 45),
    "roughly even chance": (45, 55),
    "likely": (55, 80),
    "very likely": (80, 95),
    "almost certain": (95, 99),
}
LEAST = 0.005
ROLES = ("mechanic", "rider")

Raw = dict[str, Any]
Profile = Mapping[str, tuple[str, ...]]


def listed(node: Any) -> list[str]:
    """A list, or one item that stands for a list of one."""
    if node is None:
        return []
    return list(node) if isinstance(node, list) else [node]


def fraction(text: str) -> float:
    """`6 in 100` or `6 %` as a plain fraction: shares, thresholds, trust."""
    if " in " in text:
        n, m = text.split(" in ")
        return float(n) / float(m)
    return float(text.removesuffix("%")) / 100


def chance_of(text: str) -> float:
    """A likelihood or a cure: a word is the middle of its range, `n in m` is (n + 1/2) / (m + 1).

    A percentage is as written, but neither less than .005 nor more than .995: nothing is certain.
    """
    if text in SCALE:
        low, high = SCALE[text]
        return (low + high) / 200
    if " in " in text:
        n, m = text.split(" in ")
        return (float(n) + 0.5) / (float(m) + 1)
    return min(max(fraction(text), LEAST), 1 - LEAST)


def whole_row(written: Mapping[str, str], values: list[str], otherwise: Mapping[str, float]) -> dict[str, float]:
    """A chance for each value: the named ones as written, the rest in proportion of `otherwise`, at least .005 each."""
    named = {value: chance_of(text) for value, text in written.items()}
    total = sum(named.values())
    rest = sorted((value for value in values if value not in named), key=lambda value: otherwise[value])
    if not rest:
        return {value: named[value] / total for value in values}
    room = max(1 - total, LEAST * len(rest))
    if total > 1 - room:
        named = {value: chance * (1 - room) / total for value, chance in named.items()}
    row = named | _shared(rest, room, otherwise)
    return {value: row[value] for value in values}


def _shared(rest: list[str], room: float, otherwise: Mapping[str, float]) -> dict[str, float]:
    """Split `room`: as many of the rarest as need it get the least there is, the others keep their proportion."""
    for lifted in range(len(rest)):
        free = rest[lifted:]
        each = (room - LEAST * lifted) / sum(otherwise[value] for value in free)
        if each * otherwise[free[0]] >= LEAST:
            return dict.fromkeys(rest[:lifted], LEAST) | {value: each * otherwise[value] for value in free}
    return dict.fromkeys(rest, LEAST)


@dataclass(frozen=True)
class PlainBook:
    """The rule book as dictionaries of text, by id. `home` gives each check its finding, `fixes` each fix its rung."""

    constants: Raw
    facts: Raw
    complaints: Raw
    findings: Raw
    causes: Raw
    deductions: Raw
    limits: Raw
    checks: Raw
    home: dict[str, str]
    fixes: Raw
    teardowns: Raw
    parts: Raw
    hand_offs: Raw
    conclusions: Raw

    @cached_property
    def ruling_out(self) -> dict[str, list[Raw]]:
        """For each cause the deductions that rule it out."""
        found: dict[str, list[Raw]] = {}
        for deduction in self.deductions.values():
            for cause in listed(deduction["then"].get("rule_out")):
                found.setdefault(cause, []).append(deduction)
        return found

    def values(self, finding: str) -> list[str]:
        """The values of a finding, in the order written."""
        return list(self.findings[finding]["values"])

    def otherwise(self, finding: str) -> dict[str, float]:
        """How often bikes without a cause that speaks to the finding show each value."""
        values = self.values(finding)
        return whole_row(self.findings[finding]["otherwise"], values, dict.fromkeys(values, 1.0))

    def row(self, cause: str, finding: str) -> dict[str, float] | None:
        """What a cause says of a finding, or None when it does not mention it."""
        written = self.causes[cause]["shows"].get(finding)
        return None if written is None else whole_row(written, self.values(finding), self.otherwise(finding))

    def trust(self, check: str, by: str) -> float:
        """How far an answer is trusted: as the check says (for both, or for the role), else as the book says."""
        said = self.checks[check].get("trust", {})
        if isinstance(said, str):
            return fraction(said)
        return fraction(said.get(by, self.constants["trust"][by]))

    def cured(self, cause: str, fix: str) -> float:
        """How many bikes with the cause are well after the fix or a rung before it, or after what the fix includes."""
        own = self.rung(cause, fix)
        if own or cause in self.fixes.get(fix, {}).get("badly_done", {}):
            return own
        return max((self.rung(cause, part) for part in self.parts_of(fix)), default=0.0)

    def parts_of(self, fix: str) -> set[str]:
        """All fixes whose work is done with this one."""
        named = set(self.fixes.get(fix, {}).get("includes", ()))
        return named.union(*(self.parts_of(one) for one in named))

    def rung(self, cause: str, fix: str) -> float:
        """What the cause's own ladder says of the fix."""
        rungs = [*self.causes[cause].get("ladder", ()), *self.causes[cause].get("also_by", ())]
        return max((chance_of(rung["cured"]) for rung in rungs if rung["fix"] == fix), default=0.0)

    def can_have(self, complaint: str, profile: Profile) -> list[str]:
        """The causes of a complaint that may apply: an unknown fact rules nothing out."""
        return [
            name
            for name, cause in sorted(self.causes.items())
            if complaint in cause["common_for"] and may_be(cause.get("applies", {}), profile)
        ]

    def bands(self, check: str, reading: float, profile: Profile) -> list[str]:
        """The values that a reading means; a sound book gives one."""
        return [
            value
            for value, ends in self.checks[check]["bands"].items()
            if all(self._within(side, edge, reading, profile) for side, edge in ends.items())
        ]

    def _within(self, side: str, edge: str, reading: float, profile: Profile) -> bool:
        limit, dot, end = edge.rpartition(".")
        at = self.limit(limit, end, profile) if dot and end in ("low", "high") else float(edge)
        return within(side, at, reading)

    def limit(self, name: str, end: str, profile: Profile) -> float:
        """One end of a limit under a profile: the first case that holds, else its own."""
        limit = self.limits[name]
        held = [case for case in limit.get("cases", ()) if is_so(case["if"], profile)]
        return float((held[0] if held else limit)[end])

    def edges(self, check: str, profile: Profile) -> list[float]:
        """The numbers at which a measurement's bands meet, with the ends of what is accepted."""
        measure = self.checks[check]["measure"]
        found = {float(measure["from"]), float(measure["to"])}
        for ends in self.checks[check]["bands"].values():
            for edge in ends.values():
                limit, dot, end = edge.rpartition(".")
                found.add(self.limit(limit, end, profile) if dot and end in ("low", "high") else float(edge))
        return sorted(edge for edge in found if float(measure["from"]) <= edge <= float(measure["to"]))


def within(side: str, edge: float, reading: float) -> bool:
    """Whether a reading lies on the named side of an edge."""
    return {"from": reading >= edge, "above": reading > edge, "below": reading < edge, "up_to": reading <= edge}[side]


def may_be(condition: Raw, profile: Profile) -> bool:
    """Whether a condition may hold: a fact that is not known rules nothing out."""
    return all(fact not in profile or set(profile[fact]) & set(listed(values)) for fact, values in condition.items())


def is_so(condition: Raw, profile: Profile) -> bool:
    """Whether a condition is known to hold."""
    return all(set(profile.get(fact, ())) & set(listed(values)) for fact, values in condition.items())


def read_plain(folder: Path) -> PlainBook:
    """Read the book of a folder."""
    files: dict[str, Raw] = {}
    causes: Raw = {}
    for path in sorted(folder.rglob("*.yaml")):
        loader = getattr(yaml, "CBaseLoader", yaml.BaseLoader)
        content = yaml.load(path.read_text(encoding="utf-8"), Loader=loader)  # noqa: S506 - every scalar stays text
        if path.parent.name == "causes":
            causes[path.stem] = content
        else:
            files.setdefault(path.stem, {}).update(content)
    findings = files.get("findings", {})
    return PlainBook(
        constants=files["book"],
        facts=files.get("facts", {}),
        complaints=files["complaints"],
        findings=findings,
        causes=causes,
        deductions=files.get("deductions", {}),
        limits=files.get("limits", {}),
        checks={check: said for finding in findings.values() for check, said in finding["checks"].items()},
        home={check: name for name, finding in findings.items() for check in finding["checks"]},
        fixes={rung["fix"]: rung for cause in causes.values() for rung in cause.get("ladder", ())},
        teardowns=files.get("teardowns", {}),
        parts=files.get("parts", {}),
        hand_offs=files.get("hand-offs", {}),
        conclusions=files.get("conclusions", {}),
    )
