"""Worked cases as files: a sentence, the bike, answers and fixes, and what is expected of the program.

Cast: `read_case(path, book)` gives a `CaseFile` whose `told` are the events of the case; every problem of a file is
told at once.
"""

from __future__ import annotations

from collections.abc import Mapping as Map
from dataclasses import dataclass
from pathlib import Path
from typing import Any, NamedTuple

from diagnose.book.model import Book
from diagnose.book.problems import Problem, Problems, nearest
from diagnose.book.schema_base import SKILLS, ConditionShape, place_of
from diagnose.book.shape import (
    Choice,
    Either,
    Fields,
    ListOf,
    MapOf,
    Number,
    Reader,
    Record,
    Ref,
    Shape,
    Words,
    may,
    must,
)
from diagnose.book.tree import Mapping, Node, Text, read_tree
from diagnose.casework.caseanswers import Answers, worked_out
from diagnose.casework.shapes import OUTCOMES
from diagnose.errors import BookError, CaseError, Location

MOST_COMPLAINTS = 3


class Event(NamedTuple):
    """One event of a case file."""

    kind: str
    data: Map[str, Any]


@dataclass(frozen=True, slots=True)
class CaseFile:
    """A case file: its sentence, events in order, and what is expected."""

    sentence: str
    file: str
    told: tuple[Event, ...]
    expect: Fields
    questions: int

    @property
    def complaints(self) -> tuple[str, ...]:
        """What the rider reports."""
        return tuple(one.data["id"] for one in self.told if one.kind == "complaint")


class CaseProblemsError(CaseError):
    """Everything that is wrong with a case file; the first problem is the error's own message."""

    def __init__(self, problems: tuple[Problem, ...]) -> None:
        first = problems[0]
        super().__init__(first.code, first.message, first.where, first.hint)
        self.problems = problems


def case_reader(book: Book) -> Reader:
    """A reader that knows the ids of the book."""
    known: dict[str, Any] = {
        "fact": book.facts,
        "complaint": book.complaints,
        "cause": book.causes,
        "finding": book.findings,
        "check": book.checks,
        "fix": book.fixes,
        "tool": book.tools,
        "hand-off": book.receivers,
        "conclusion": book.words,
    }
    values: dict[str, tuple[str, ...]] = {name: tuple(fact.values) for name, fact in book.facts.items()}
    values.update({name: tuple(finding.values) for name, finding in book.findings.items()})
    values.update({name: tuple(word.values) for name, word in book.words.items()})
    places = {
        kind: {name: getattr(one, "where", Location("")) for name, one in ids.items()} for kind, ids in known.items()
    }
    return Reader(Problems(), places, values, formerly=book.formerly, base=book.volumes[0].id, of_all=True)


def read_case(path: Path, book: Book, reader: Reader | None = None) -> CaseFile:
    """Read one case file.

    Raises:
        CaseProblemsError: everything that is wrong with it, each with file, line and column.
    """
    reader = reader or case_reader(book)
    reader.problems = Problems()
    try:
        node = read_tree(path, str(path), reader.problems.take)
    except BookError as why:
        reader.problems.take(why)
        raise CaseProblemsError(reader.problems.sorted()) from None
    if node is None:
        reader.problems.error("file.empty", Location(str(path), 1, 1), "the file is empty", "Write a case into it.")
        raise CaseProblemsError(reader.problems.sorted())
    case = _CaseReader(book, reader).read(node, str(path))
    if case is None or reader.problems.errors:
        raise CaseProblemsError(reader.problems.sorted())
    return case


class _CaseReader:
    def __init__(self, book: Book, reader: Reader) -> None:
        self.book = book
        self.reader = reader

    def read(self, node: Node, file: str) -> CaseFile | None:
        """The case, or None after reporting what is wrong."""
        got = case_shape(Answers(self.book)).read(node, self.reader)
        if got is None:
            return None
        self._check_complaints(got["complaints"], place_of(node, "complaints"))
        for fact, values in got["profile"].items():
            if len(values) > 1 and not self.book.facts[fact].several:
                hint = "Keep one of them."
                self.reader.problems.error(
                    "fact.several", place_of(node, "profile", fact), f"the fact '{fact}' takes one value", hint
                )
        for one in got["fixes"]:
            self._check_results(one, got["complaints"])
        self._check_expectations(got["expect"], got["complaints"], node)
        if self.reader.problems.errors:
            return None
        told = self._told(worked_out(self.book, got, self.reader.problems))
        questions = len(got["answers"]) + sum(len(one["answers"]) for one in got["fixes"])
        return CaseFile(got["case"], file, told, got["expect"], questions)

    def _check_complaints(self, complaints: tuple[str, ...], where: Location) -> None:
        if len(complaints) > MOST_COMPLAINTS:
            message = f"{len(complaints)} complaints; at most {MOST_COMPLAINTS} are taken together"
            self.reader.problems.error("case.complaints", where, message, "Split the case.")
        if len(set(complaints)) < len(complaints):
            self.reader.problems.error(
                "case.complaints", where, "a complaint stands here twice", "Keep one of the two."
            )

    def _check_results(self, one: Fields, complaints: tuple[str, ...]) -> None:
        for complaint in one["result"] if isinstance(one["result"], dict) else ():
            if complaint not in complaints:
                message = f"'{complaint}' is not among the case's complaints"
                self.reader.problems.error("id.unknown", one["where"], message, nearest(complaint, complaints))

    def _told(self, got: Fields) -> tuple[Event, ...]:
        by = got["by"]
        shop = got["workshop"]
        opened = {"role": by, "skill": shop["skill"], "without": list(shop["without"])}
        told = [Event("opened", opened)]
        told += [Event("complaint", {"id": name}) for name in got["complaints"]]
        told += [Event("profile", {"fact": fact, "values": list(values)}) for fact, values in got["profile"].items()]
        told += [Event("already", {"fix": one["fix"], "result": one["result"]}) for one in got["already"]]
        told += [_answer(data, by) for data in got["answers"]]
        for one in got["fixes"]:
            told.append(self._fix(one, got["complaints"]))
            told += [_answer(data, by) for data in one["answers"]]
        return tuple(told)

    def _fix(self, one: Fields, complaints: tuple[str, ...]) -> Event:
        first, *others = one["fix"]
        data: dict[str, Any] = {"fix": first, "with": others}
        result = one["result"]
        if result == "not-possible":
            return Event("fix", {**data, "not_possible": True})
        results = result if isinstance(result, dict) else dict.fromkeys(self._treated(one["fix"], complaints), result)
        return Event("fix", {**data, "results": results})

    def _treated(self, fixes: tuple[str, ...], complaints: tuple[str, ...]) -> list[str]:
        """The complaints that these fixes can cure; all of them where the book knows of none."""
        treated = [
            complaint
            for complaint in complaints
            if any(
                complaint in cause.shares and any(rung.fix in fixes for rung in cause.ladder)
                for cause in self.book.causes.values()
            )
        ]
        return treated or list(complaints)

    def _check_expectations(self, expect: Fields, complaints: tuple[str, ...], node: Node) -> None:
        problems, where = self.reader.problems, expect["where"]
        written = node.items["expect"] if isinstance(node, Mapping) else node
        stands = written.items if isinstance(written, Mapping) else {}
        if not {"top", "hand_off"} & set(stands):
            problems.error("expect.thin", where, "a case expects a `top` cause or a `hand_off`", "Add one.")
        if "ride" not in stands:
            hint = "Add `ride:` with ride, care, stop or not-cleared."
            problems.error("expect.thin", where, "a case expects a `ride` verdict", hint)
        if not {"next", "plan_order"} & set(stands):
            problems.error("expect.thin", where, "a case expects a `next` step or a `plan_order`", "Add one.")
        step = expect["next"]
        book = self.book
        if step is not None and step not in ("hand-off", "done") and step not in book.checks and step not in book.fixes:
            known = {*book.checks, *book.fixes, "hand-off", "done"}
            message = f"there is no check or fix '{step}' to come next"
            problems.error("id.unknown", place_of(node, "expect", "next"), message, nearest(step, known))
        for complaint in expect["top"] if isinstance(expect["top"], dict) else ():
            if complaint not in complaints:
                message = f"'{complaint}' is not among the case's complaints"
                place = place_of(node, "expect", "top", complaint)
                problems.error("id.unknown", place, message, nearest(complaint, complaints))
        for share in expect["share"]:
            if share["low"] > share["high"]:
                message = "the low end of the share is above its high end"
                problems.error("share.range", share["where"], message, "Swap them.")


def _answer(data: dict[str, Any], by: str) -> Event:
    return Event("answer", {**data, "by": data["by"] or by})


@dataclass(frozen=True, slots=True)
class CauseOrUnknown:
    """A cause, or `something-else`."""

    def read(self, node: Node, reader: Reader) -> str | None:
        """The id."""
        if isinstance(node, Text) and node.value == "something-else":
            return node.value
        return Ref(("cause",)).read(node, reader)


@dataclass(frozen=True, slots=True)
class NextStep:
    """A check, a fix, `hand-off` or `done`; whether there is such a one is seen later."""

    def read(self, node: Node, reader: Reader) -> str | None:
        """The id."""
        text = Words().read(node, reader)
        return None if text is None else reader.meant(("check", "fix"), text) or text


_RESULT = Either(
    Choice((*OUTCOMES, "not-possible"), "result"),
    MapOf(("complaint",), Choice(OUTCOMES, "result"), least=1),
)
_TOP = Either(CauseOrUnknown(), MapOf(("complaint",), CauseOrUnknown()))
_SHARE = Record("share", {"cause": must(CauseOrUnknown()), "low": must(Number(0, 1)), "high": must(Number(0, 1))})
_EXPECT = Record(
    "`expect`",
    {
        "top": may(_TOP),
        "in_first_three": may(ListOf(Ref(("cause",))), ()),
        "share": may(ListOf(_SHARE), ()),
        "ride": may(Choice(("ride", "care", "stop", "not-cleared"), "verdict")),
        "next": may(NextStep()),
        "plan_order": may(ListOf(Ref(("fix",))), ()),
        "hand_off": may(Ref(("hand-off",))),
        "ruled_out": may(ListOf(Ref(("cause",))), ()),
        "never": may(ListOf(Ref(("cause", "fix", "check"))), ()),
        "questions_at_most": may(Number(0, 100)),
    },
)
_WORKSHOP = Record(
    "workshop", {"skill": may(Choice(SKILLS, "skill"), "mechanic"), "without": may(ListOf(Ref(("tool",))), ())}
)
_ALREADY = Record(
    "already", {"fix": must(Ref(("fix",))), "result": must(Choice(("better", "same", "worse"), "result"))}
)


def case_shape(answers: Shape) -> Record:
    """The shape of a case file, with the shape of its answers (for a book: `Answers`)."""
    fix = Record(
        "a fix done",
        {"fix": must(ListOf(Ref(("fix",)), least=1)), "result": must(_RESULT), "answers": may(answers, ())},
    )
    return Record(
        "a case",
        {
            "case": must(Words()),
            "profile": may(ConditionShape(), {}),
            "complaints": must(ListOf(Ref(("complaint",)), least=1)),
            "by": may(Choice(SKILLS, "role"), "mechanic"),
            "workshop": may(_WORKSHOP, {"skill": "mechanic", "without": ()}),
            "already": may(ListOf(_ALREADY), ()),
            "answers": may(answers, ()),
            "fixes": may(ListOf(fix), ()),
            "expect": must(_EXPECT),
        },
    )
