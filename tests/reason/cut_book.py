"""A complaint of the rule book cut to a size that can be solved exactly: at most nine fixes and six checks.

Cast: `cut` writes the small book of one complaint and gives a `Cut`, which tells what was left out.

The causes with the largest shares stay, as long as all their fixes fit. Of the findings that these speak to, the six
stay of which the best check (a mechanic's) tells most about the cause, in bits, before anything else is known; of each
that one check. Deductions stay that stand on what is left alone: nothing of the bike is known, a condition on the
complaint holds. An answer that rules a cause in, and several that rule one out together, are left to their rows, since
no table of chances can say the same. What the book commands, instead of weighing it, is left out: a fix that must be
done whatever the complaint is, and a hand-off that an answer calls for. Who does not look never hears of either, so
that a sum of minutes alone would pay for not looking.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import log2
from pathlib import Path
from typing import Any

from tests.reason.plain_book import PlainBook, Raw, fraction, listed
from tests.reason.plain_job import Job
from tests.reason.small_book import write_book

MOST_FIXES = 9
MOST_CHECKS = 6


@dataclass(frozen=True, slots=True)
class Cut:
    """A complaint cut down: the folder, and how many causes, fixes and checks are left out of how many."""

    folder: Path
    complaint: str
    causes: tuple[int, int]
    fixes: tuple[int, int]
    checks: tuple[int, int]
    share: float
    """What the causes that stay have of all shares."""


def cut(book: PlainBook, complaint: str, folder: Path, fixes: int = MOST_FIXES, checks: int = MOST_CHECKS) -> Cut:
    """Write the small book of a complaint."""
    every = book.can_have(complaint, {})
    shares = {name: fraction(book.causes[name]["common_for"][complaint]) for name in every}
    names = _largest(book, shares, fixes)
    kept_fixes = {fix for name in names for fix in _fixes(book, name)}
    all_checks = {
        check
        for name in every
        for finding in book.causes[name]["shows"]
        if _asked_for(book, finding, complaint)
        for check in book.findings[finding]["checks"]
    }
    kept = _most_telling(book, complaint, names, sorted(all_checks))[:checks]
    write_book(
        folder,
        complaints={complaint: _complaint(book.complaints[complaint])},
        causes={name: _cause(book, name, complaint, names, kept, kept_fixes) for name in names},
        findings={book.home[check]: _finding(book, check, kept) for check in kept},
        constants={**book.constants, "currency": "EUR"},
        hand_offs=book.hand_offs,
        teardowns=book.teardowns,
        parts=book.parts,
        conclusions=book.conclusions,
        deductions=_deductions(book, complaint, names, kept, kept_fixes),
    )
    all_fixes = {fix for name in every for fix in _fixes(book, name)}
    return Cut(
        folder,
        complaint,
        (len(names), len(every)),
        (len(kept_fixes), len(all_fixes)),
        (len(kept), len(all_checks)),
        sum(shares[name] for name in names) / sum(shares.values()),
    )


def _largest(book: PlainBook, shares: Mapping[str, float], most: int) -> list[str]:
    """The causes with the largest shares whose fixes are together no more than allowed."""
    names: list[str] = []
    fixes: set[str] = set()
    for name in sorted(shares, key=lambda one: (-shares[one], one)):
        if len(fixes | set(_fixes(book, name))) <= most:
            names.append(name)
            fixes |= set(_fixes(book, name))
    return sorted(names)


def _fixes(book: PlainBook, cause: str) -> list[str]:
    said = book.causes[cause]
    return [rung["fix"] for rung in [*said.get("ladder", ()), *said.get("also_by", ())]]


def _asked_for(book: PlainBook, finding: str, complaint: str) -> bool:
    only = listed(book.findings[finding].get("asked_for"))
    return not only or complaint in only


# --- which checks tell most -------------------------------------------------------------------------------------------


def _most_telling(book: PlainBook, complaint: str, names: Sequence[str], checks: Sequence[str]) -> list[str]:
    """One check a finding that these causes speak to, the most telling first."""
    shares = [fraction(book.causes[name]["common_for"][complaint]) for name in names]
    unknown = fraction(book.complaints[complaint]["something_else"])
    prior = [(1 - unknown) * share / sum(shares) for share in shares] + [unknown]
    best: dict[str, tuple[float, float, str]] = {}
    for check in checks:
        finding = book.home[check]
        if any(finding in book.causes[name]["shows"] for name in names):
            entry = (-_bits(book, check, names, prior), float(book.checks[check]["minutes"]), check)
            best[finding] = min(entry, best.get(finding, entry))
    return [check for *_, check in sorted(best.values())]


def _bits(book: PlainBook, check: str, names: Sequence[str], prior: Sequence[float]) -> float:
    """What a check tells of the cause: the mean of log2 of how much each report moves each cause."""
    finding = book.home[check]
    otherwise = book.otherwise(finding)
    trust = book.trust(check, "mechanic")
    rows = [book.row(name, finding) or otherwise for name in names] + [otherwise]
    bits = 0.0
    for value in otherwise:
        chances = [trust * row[value] + (1 - trust) * otherwise[value] for row in rows]
        mean = sum(share * chance for share, chance in zip(prior, chances, strict=True))
        bits += sum(
            share * chance * log2(chance / mean) for share, chance in zip(prior, chances, strict=True) if chance > 0
        )
    return bits


# --- what is left of each entry ---------------------------------------------------------------------------------------


def _complaint(said: Raw) -> Raw:
    return {
        "something_else": said["something_else"],
        "danger_if_unknown": said["danger_if_unknown"],
        "test": said["repeat_test"]["minutes"],
    }


def _only(said: Mapping[str, Any], *keys: str) -> Raw:
    return {key: said[key] for key in keys if key in said}


def _finding(book: PlainBook, check: str, kept: Sequence[str]) -> Raw:
    finding = book.findings[book.home[check]]
    asked = {
        "ask": "What is it?",
        **_only(book.checks[check], "by", "minutes", "trust", "teardown", "danger"),
        "needs": [need for need in listed(book.checks[check].get("needs")) if need in kept],
    }
    return {**_only(finding, "name", "values", "otherwise", "lasting"), "basis": "memory", "checks": {check: asked}}


def _cause(
    book: PlainBook, name: str, complaint: str, names: Sequence[str], kept: Sequence[str], fixes: set[str]
) -> Raw:
    said = book.causes[name]
    findings = {book.home[check] for check in kept}
    homes = {rung["fix"]: one for one in reversed(names) for rung in _rungs(book, one)}
    homes |= {rung["fix"]: one for one in names for rung in book.causes[one].get("ladder", ())}
    cured = sorted(_rungs(book, name), key=lambda rung: book.cured(name, rung["fix"]))
    cut_down: Raw = {
        **_only(said, "name", "in_short", "danger", "danger_because"),
        "common_for": {complaint: said["common_for"][complaint]},
        "basis": "memory",
        "shows": {finding: row for finding, row in said["shows"].items() if finding in findings},
        "ladder": [_fix(book, rung["fix"], rung["cured"], kept, fixes) for rung in cured if homes[rung["fix"]] == name],
        "also_by": [_only(rung, "fix", "cured") for rung in cured if homes[rung["fix"]] != name],
    }
    if "hand_off" in said:
        away = said["hand_off"]
        cut_down["hand_off"] = {**_only(away, "class", "urgency"), "reason": "Not done here."}
    return cut_down


def _rungs(book: PlainBook, cause: str) -> list[Raw]:
    said = book.causes[cause]
    return [*said.get("ladder", ()), *said.get("also_by", ())]


def _parts(said: Raw) -> Raw:
    parts = said.get("parts", {})
    return dict(parts) if isinstance(parts, dict) else dict.fromkeys(listed(parts), 1)


def _fix(book: PlainBook, name: str, cured: str, kept: Sequence[str], fixes: set[str]) -> Raw:
    said = book.fixes[name]
    home = next(one for one in book.causes.values() if any(r["fix"] == name for r in one.get("ladder", ())))
    disturbed = listed(said["disturbs"]) if "disturbs" in said else list(home["shows"])
    findings = {book.home[check] for check in kept}
    return {
        **_only(said, "fix", "name", "skill", "minutes", "teardown"),
        "parts": {one: many["count"] if isinstance(many, dict) else many for one, many in _parts(said).items()},
        "cured": cured,
        "needs": [need for need in listed(said.get("needs")) if need in kept or need in fixes],
        "after": [fix for fix in listed(said.get("after")) if fix in fixes],
        "disturbs": [finding for finding in disturbed if finding in findings],
        "steps": ["Do it."],
        "works_if": "It is gone.",
        "if_not": "It is something else.",
    }


def _deductions(book: PlainBook, complaint: str, names: Sequence[str], kept: Sequence[str], fixes: set[str]) -> Raw:
    """Deductions that stand on findings, conclusions and failures that are left, with what is left of their ends."""
    found: Raw = {}
    findings = {book.home[check] for check in kept}
    for name, said in book.deductions.items():
        when = dict(said["when"])
        if complaint in listed(when.get("complaint")):
            when["complaint"] = complaint
            if len(when) > 1:
                del when["complaint"]
        if "fix-failed" in when:
            when["fix-failed"] = [fix for fix in listed(when["fix-failed"]) if fix in fixes]
        known = {*findings, *book.conclusions, "complaint", "fix-failed"}
        if any(key not in known or isinstance(value, dict) or not listed(value) for key, value in when.items()):
            continue
        if complaint not in listed(when.get("complaint", complaint)):
            continue
        then = _then(said["then"], names, kept, fixes)
        if len(when) > 1:
            then.pop("rule_out", None)
        if then:
            found[name] = {"when": when, "then": then, "because": "So it is.", "basis": "memory"}
    return found


def _then(then: Raw, names: Sequence[str], kept: Sequence[str], fixes: set[str]) -> Raw:
    left: Raw = _only(then, "conclude", "danger")
    out = [cause for cause in listed(then.get("rule_out")) if cause in names]
    demanded = [*listed(then.get("demand_first")), *listed(then.get("demand"))]
    demand = [check for check in dict.fromkeys(demanded) if check in kept]
    for key, value in (("rule_out", out), ("demand", demand)):
        if value:
            left[key] = value
    return left


def job_of(cut_down: Cut, book: PlainBook) -> Job:
    """The problem of a book that was cut."""
    return Job(book, cut_down.complaint)
