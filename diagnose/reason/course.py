"""What a job of one complaint comes to from its first question on: minutes, and which questions are asked when.

Cast: `course(reasoner, complaint)` follows the likeliest turns of a job on a bike of which nothing else is told and
gives a `Course`, with an `Asked` for each question. Nothing is drawn by lot: the same book gives the same course.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from heapq import heappop, heappush

from diagnose.book.model import Check
from diagnose.reason.option import Next
from diagnose.reason.outlook import Outlook
from diagnose.reason.reasoner import Reasoner
from diagnose.reason.situation import Answer, Situation

TURNS = 40
"""Turns of a job that are followed, the likeliest first."""
LEAST = 0.005
"""Turns less likely than this are not followed."""


@dataclass(frozen=True, slots=True)
class Asked:
    """A question: on how many bikes of one it is asked (`chance`), and as which question (`place`, 1: the first)."""

    chance: float
    place: float


@dataclass(frozen=True, slots=True)
class Course:
    """`minutes` expected until the complaint is gone, `questions` by check, `followed`: on how many bikes of one.

    What is not followed to the first fix counts for no question.
    """

    minutes: float
    questions: dict[str, Asked] = field(default_factory=dict)
    followed: float = 0.0


def course(reasoner: Reasoner, complaint: str, turns: int = TURNS) -> Course:
    """Follow the likeliest turns of a job of this complaint, each to its first fix or hand-off."""
    number = 0
    waiting: list[tuple[float, int, Situation]] = [(-1.0, number, Situation(complaints=(complaint,)))]
    minutes, ended = 0.0, 0.0
    seen: dict[str, list[tuple[float, int]]] = {}
    for turn in range(turns):
        if not waiting:
            break
        least, _, situation = heappop(waiting)
        found = reasoner.diagnose(situation)
        if turn == 0:
            minutes = _expected(found.next)
        if found.next.kind != "check" or found.outlook is None:
            ended -= least
            continue
        check = reasoner.book.checks[found.next.id]
        seen.setdefault(check.id, []).append((-least, len(situation.answers) + 1))
        for chance, value in _reports(found.outlook, check):
            if -least * chance >= LEAST:
                number += 1
                told = Answer(check.id, check.finding, value, situation.role)
                heappush(waiting, (least * chance, number, replace(situation, answers=(*situation.answers, told))))
    return Course(minutes, {name: _asked(places) for name, places in seen.items()}, ended)


def _expected(step: Next) -> float:
    """Minutes until the complaint is gone.

    A check that danger demands is weighed one step deep only: after it the job can go on as the runner-up says.
    """
    if step.demanded_by and step.runner_up:
        return min(step.expected, step.cost + step.runner_up.expected)
    return step.expected


def _reports(outlook: Outlook, check: Check) -> Iterator[tuple[float, str | None]]:
    """Every report with its chance; None: can't tell."""
    untold = outlook.book.constants.cannot_tell[outlook.situation.role]
    yield untold, None
    for branch in outlook.branches(check, outlook.here):
        yield (1 - untold) * sum(branch.weights) / outlook.here.mass, branch.value


def _asked(places: list[tuple[float, int]]) -> Asked:
    chance = sum(one for one, _ in places)
    return Asked(chance, sum(one * place for one, place in places) / chance)
