"""Two books side by side: what differs, and what that does to worked cases, questions and minutes.

Cast: `differences(before, after)` gives the `Change`s and `concerned` the complaints that they can touch; `Pair` holds
both books ready to reason, `compare_case` and `compare_complaint` say what becomes of one case and one complaint.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, NamedTuple

from diagnose.book.model import Book, Deduction
from diagnose.book.problems import Problem
from diagnose.casework.casefile import CaseFile, CaseProblemsError, case_reader, read_case
from diagnose.casework.replay import replay, situation_of
from diagnose.errors import DiagnoseError, Location
from diagnose.reason.course import Course, course
from diagnose.reason.instead import Instead, instead
from diagnose.reason.ontop import Shift, on_top
from diagnose.reason.reasoner import Reasoner

KINDS: dict[str, Callable[[Book], Mapping[str, Any]]] = {
    "cause": lambda book: book.causes,
    "fix": lambda book: book.fixes,
    "complaint": lambda book: book.complaints,
    "finding": lambda book: book.findings,
    "deduction": lambda book: book.deductions,
    "limit": lambda book: book.limits,
    "fact": lambda book: book.facts,
    "conclusion": lambda book: book.words,
    "teardown": lambda book: book.teardowns,
    "hand-off": lambda book: book.receivers,
    "tool": lambda book: book.tools,
    "part": lambda book: book.parts,
    "caution": lambda book: book.cautions,
}
"""Kinds of things, by what a book holds of each."""
CALLED = {"rate": "labour_rate", "asking": "asking_minutes"}
"""Constants that are called otherwise in the file."""
WORDS = {("tool", "changed"), ("caution", "changed")}
"""Changes that are of words only."""
SOMETHING_ELSE = "something-else"
"""Stands among the causes for the one that the book does not know."""
MOVED = 0.05
"""A share that moves by less is not told of, in text."""


class Change(NamedTuple):
    """A thing that is `added`, `removed` or `changed`, by kind and id."""

    kind: str
    id: str
    how: str


# --- what differs -----------------------------------------------------------------------------------------------------


def differences(before: Book, after: Book) -> tuple[Change, ...]:
    """Everything that one of two books says otherwise; where it stands does not count."""
    found = list(_of_constants(before, after))
    for kind, of in KINDS.items():
        one, other = of(before), of(after)
        for name in sorted({*one, *other}):
            if name not in one or name not in other:
                found.append(Change(kind, name, "added" if name in other else "removed"))
            elif _said(one[name]) != _said(other[name]):
                found.append(Change(kind, name, "changed"))
    return tuple(found)


def _of_constants(before: Book, after: Book) -> Iterator[Change]:
    for name, one, other in zip(before.constants._fields, before.constants, after.constants, strict=True):
        if one != other and name not in ("id", "title"):
            yield Change("constant", CALLED.get(name, name), "changed")


def _said(value: Any) -> Any:
    """A thing of the book without places, in which the order of every mapping counts."""
    if isinstance(value, Location):
        return None
    if isinstance(value, dict):
        return [(key, _said(one)) for key, one in value.items()]
    if isinstance(value, tuple):
        return [_said(one) for one in value]
    return value


def concerned(before: Book, after: Book, changes: tuple[Change, ...]) -> frozenset[str]:
    """The complaints for which changes can make a difference, by what hangs on what; rather one too many."""
    found: set[str] = set()
    for change in changes:
        for book in (before, after):
            of = KINDS.get(change.kind)
            if of is None or change.id in of(book):
                found.update(_complaints_of(book, change))
    return frozenset(found)


def _complaints_of(book: Book, change: Change) -> Iterator[str]:
    name = change.id
    if change.kind == "cause":
        yield from book.causes[name].shares
    elif change.kind == "fix":
        yield from _complaints_of_fix(book, name)
    elif change.kind == "complaint":
        yield name
    elif change.kind == "finding":
        yield from _complaints_of_finding(book, name)
    elif change.kind == "deduction":
        yield from _complaints_of_rule(book, book.deductions[name])
    elif change.kind == "limit":
        yield from _read_against(book, name)
    elif change.how != "added" and (change.kind, change.how) not in WORDS:
        yield from book.complaints


def _complaints_of_fix(book: Book, name: str) -> Iterator[str]:
    """Those of the causes that it or a fix that waits for it cures, or that it brings, and where a rule wants it."""
    waiting = {one.id for one in book.fixes.values() if name in (one.id, *one.needs, *one.after)}
    yield from _behind(book, [cause for cause, fix in book.cured if fix in waiting])
    yield from _behind(book, list(book.fixes[name].badly_done))
    for rule in book.deductions.values():
        if name in [one.fix for one in rule.also]:
            yield from _complaints_of_rule(book, rule)


def _complaints_of_finding(book: Book, name: str) -> Iterator[str]:
    """Those of the causes that speak to it, those it is asked for, and where a rule or a fix looks at it."""
    finding = book.findings[name]
    keys = {name, *(check.id for check in finding.checks)}
    yield from _behind(book, [cause.id for cause in book.causes.values() if name in cause.shows])
    yield from finding.asked_for
    for rule in book.deductions.values():
        if not keys.isdisjoint([*(when.key for when in rule.when), *rule.demand, *rule.before_riding]):
            yield from _complaints_of_rule(book, rule)
    for fix in book.fixes.values():
        if not keys.isdisjoint(fix.needs):
            yield from _complaints_of_fix(book, fix.id)


def _behind(book: Book, causes: list[str]) -> Iterator[str]:
    for name in causes:
        yield from book.causes[name].shares


def _complaints_of_rule(book: Book, rule: Deduction) -> Iterator[str]:
    """Those it is told of by name; else those of the causes that it moves, or all where it does more than that."""
    named = [when.any_of for when in rule.when if when.key == "complaint"]
    more = (
        rule.conclude,
        rule.danger,
        rule.cautions,
        rule.hand_off,
        rule.demand,
        rule.before_riding,
        rule.ask,
        rule.ask_last,
        rule.also,
    )
    if named:
        yield from named[0]
    if any(more) and not named:
        yield from book.complaints
    if not any(more):
        yield from _behind(book, [*rule.rule_out, *rule.rule_in, *rule.likelier])


def _read_against(book: Book, limit: str) -> Iterator[str]:
    """The complaints of causes that speak to a finding whose readings are held against a limit, else none."""
    for check in book.checks.values():
        bands = check.measure.bands if check.measure else ()
        if any(edge and edge.limit == limit for band in bands for edge in (band.start, band.stop)):
            yield from _complaints_of(book, Change("finding", check.finding, "changed"))


# --- both sides -------------------------------------------------------------------------------------------------------


class Pair:
    """Two books, each ready to reason and to read cases."""

    def __init__(self, before: Book, after: Book) -> None:
        self.before, self.after = Reasoner(before), Reasoner(after)
        self._readers = (case_reader(before), case_reader(after))

    def read(self, path: Path) -> tuple[CaseFile | None, CaseFile | None]:
        """A case as each book reads it; None where it cannot."""
        return self._read(path, 0)[0], self._read(path, 1)[0]

    def _read(self, path: Path, which: int) -> tuple[CaseFile | None, tuple[Problem, ...]]:
        reasoner = self.after if which else self.before
        try:
            return read_case(path, reasoner.book, self._readers[which]), ()
        except CaseProblemsError as why:
            return None, why.problems
        except DiagnoseError as why:
            return None, (Problem(why.location or Location(str(path), 1, 1), why.code, why.message, why.hint),)

    def run(self, path: Path, which: int) -> Outcome:
        """What one book makes of a case."""
        case, problems = self._read(path, which)
        if case is None:
            return Outcome(problems=problems)
        try:
            view = replay(self.after if which else self.before, case)
        except DiagnoseError as why:
            where = why.location or Location(str(path), 1, 1)
            return Outcome(case.sentence, problems=(Problem(where, why.code, why.message, why.hint),))
        return Outcome(
            case.sentence,
            bool(view["holds"]),
            tuple(one for one in view["expectations"] if not one["holds"]),
            {one["id"]: _top(one) for one in view["complaints"]},
            view["ride"]["verdict"],
            (view["next"]["kind"], view["next"]["id"]),
            tuple(sorted({one["class"] for one in view["hand_off"]})),
            held=_held(view, (self.after if which else self.before).book),
            told=frozenset(view["profile"]),
        )

    def why_not(self, path: Path, other: str) -> Instead | None:
        """Why the book after puts what comes next before another step; None where it cannot read the case."""
        case, _ = self._read(path, 1)
        if case is None:
            return None
        return instead(self.after.diagnose(situation_of(self.after, case)), other)

    def why_on_top(self, path: Path, complaint: str, was: str, now: str) -> tuple[Shift, ...]:
        """What puts one cause above another with the book after, and not with the book before."""
        first, second = self.read(path)
        if first is None or second is None:
            return ()
        before = self.before.diagnose(situation_of(self.before, first))
        after = self.after.diagnose(situation_of(self.after, second))
        one, other = (None if name == SOMETHING_ELSE else name for name in (was, now))
        return tuple(on_top(before, after, complaint, one, other))


def _held(view: Mapping[str, Any], book: Book) -> Held:
    shares: dict[str, float] = {}
    for one in (one for complaint in view["complaints"] for one in complaint["causes"] if one["id"] in book.stops):
        shares[one["id"]] = max(shares.get(one["id"], 0.0), float(one["share"]))
    return Held(float(view["ride"]["stop"]), shares)


def _top(complaint: Mapping[str, Any]) -> tuple[str, float]:
    shares = [(one["id"], float(one["share"])) for one in complaint["causes"]]
    return max([*shares, (SOMETHING_ELSE, float(complaint["something_else"]))], key=lambda one: one[1])


class Held(NamedTuple):
    """How likely it is that the bike must not be ridden, and the causes behind that with their shares."""

    chance: float
    causes: Mapping[str, float]


NOT_HELD = Held(0.0, {})


@dataclass(frozen=True, slots=True)
class Outcome:
    """What a book makes of a case; `holds` is None where it cannot be run, and `problems` say why.

    `tops`: for each complaint the likeliest cause and its share; `step`: kind and id of what comes next; `held`: what
    must not be ridden; `told`: the facts that the case tells.
    """

    sentence: str = ""
    holds: bool | None = None
    failed: tuple[Mapping[str, Any], ...] = ()
    tops: Mapping[str, tuple[str, float]] | None = None
    ride: str | None = None
    step: tuple[str, str] | None = None
    hand_off: tuple[str, ...] = ()
    problems: tuple[Problem, ...] = ()
    held: Held = NOT_HELD
    told: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class CaseChange:
    """What becomes of a case.

    `how`: broken, mended, new (only the book after can run it), new-fails, fails (with both), unread (with neither),
    moved (something else on top, next, of the ride or the hand-off, or a share by more than MOVED) or same. `why`:
    what puts another step next than before, or than a new case expects. `on_top`: for each complaint that has another
    cause on top than before, what made the difference.
    """

    file: Path
    how: str
    before: Outcome
    after: Outcome
    why: Instead | None = None
    on_top: Mapping[str, tuple[Shift, ...]] = field(default_factory=dict)

    @property
    def sentence(self) -> str:
        """What the case shows."""
        return self.after.sentence or self.before.sentence


def compare_case(pair: Pair, path: Path) -> CaseChange:
    """Run a case with both books."""
    before, after = pair.run(path, 0), pair.run(path, 1)
    other = _other_step(before, after)
    why = pair.why_not(path, other) if other else None
    shifts = {name: pair.why_on_top(path, name, was, now) for name, was, now in _other_tops(before, after)}
    return CaseChange(path, _how(before, after), before, after, why, shifts)


def _other_tops(before: Outcome, after: Outcome) -> Iterator[tuple[str, str, str]]:
    """The complaints that have another cause on top, with both causes."""
    tops = after.tops or {}
    for complaint, (was, _) in (before.tops or {}).items():
        if complaint in tops and tops[complaint][0] != was:
            yield complaint, was, tops[complaint][0]


def _other_step(before: Outcome, after: Outcome) -> str:
    """The step that was next before, or that a new case expects, where another is now."""
    if before.step is None:
        return next((str(one["expected"]) for one in after.failed if one["path"] == "next"), "")
    return before.step[1] if after.step and after.step != before.step else ""


def _how(before: Outcome, after: Outcome) -> str:
    if before.holds is None:
        return {None: "unread", True: "new", False: "new-fails"}[after.holds]
    if before.holds != after.holds:
        return "mended" if after.holds else "broken"
    if not after.holds:
        return "fails"
    return "moved" if _moved(before, after) else "same"


def _moved(before: Outcome, after: Outcome) -> bool:
    if (before.step, before.ride, before.hand_off) != (after.step, after.ride, after.hand_off):
        return True
    tops, now = before.tops or {}, after.tops or {}
    return any(now[name][0] != top or abs(now[name][1] - share) > MOVED for name, (top, share) in tops.items())


@dataclass(frozen=True, slots=True)
class ComplaintChange:
    """A complaint's course with either book; None where a book has no such complaint."""

    id: str
    before: Course | None
    after: Course | None


def compare_complaint(pair: Pair, complaint: str) -> ComplaintChange:
    """Follow a complaint with both books."""
    sides = [course(one, complaint) if complaint in one.book.complaints else None for one in (pair.before, pair.after)]
    return ComplaintChange(complaint, *sides)
