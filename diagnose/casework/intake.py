"""The counter: what the rider is asked, and when that is enough.

Cast: `next_prompt` says what to ask now, None where the ticket can be written; `more_matters` whether another value of
a fact is asked for; `asked` counts what was asked. Start there. The screens, the score and the tests ask the same way.

First one look round the bike, then what a danger demands, then facts of the bike and questions by what they are
expected to save. Nothing is asked that could not change the ride verdict or the first thing to be put right, and never
more than `MOST_PROMPTS`: a further value of a fact ("Another one?") counts too. The bike's label, the complaints in the
rider's words and what is agreed on the ticket are no questions of the diagnosis, and do not count. Only what a rider
can say or show is asked; what a mechanic must see is left to the stand.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from math import log, prod
from operator import mul
from typing import NamedTuple

from diagnose.book.model import Book, Check
from diagnose.casework.fold import COMEBACK, Folded
from diagnose.reason.diagnosis import Diagnosis
from diagnose.reason.facts import facts_wanted, fits
from diagnose.reason.glance import Glance, after, glance, with_fact
from diagnose.reason.reasoner import Reasoner
from diagnose.reason.situation import Situation

MOST_PROMPTS = 6
"""What is asked at the counter at most, the look round the bike and facts of the bike included."""
GATE = "arrival"
"""The fact that the look round the bike answers."""
TOO_RARE = 0.02
"""Chance that an answer must have for a question to be asked because of it."""
TOO_RARE_IN_THE_ROUND = 0.005
"""The same for what a deduction demands before anything else, as whether a battery was dropped: the danger round."""


class Prompt(NamedTuple):
    """What to ask: a fact or a check, by id; `danger`: to keep the rider from being hurt."""

    kind: str
    id: str
    danger: bool = False


def asked(folded: Folded) -> int:
    """How much was asked at the counter at this visit: facts of the bike, further values of them, and checks."""
    situation = folded.situation
    facts = len(situation.asked - {COMEBACK})  # that it came back is told by the job, and asked of nobody
    answers = sum(one.by == "rider" and not one.heard for one in situation.answers)
    return facts + answers + folded.asked_more - folded.asked_before


def next_prompt(
    reasoner: Reasoner, folded: Folded, found: Diagnosis | None = None, most: int = MOST_PROMPTS
) -> Prompt | None:
    """What to ask now; None where nothing more is worth asking here.

    Args:
        reasoner: the book with its engine.
        folded: the job, with at least one complaint, a rider answering.
        found: its diagnosis, where the caller has it.
        most: how much may be asked in all.
    """
    situation = folded.situation
    if situation.ended or not situation.standing or asked(folded) >= most:
        return None
    if GATE in reasoner.book.facts and GATE not in situation.asked:
        return Prompt("fact", GATE, danger=True)
    return _Counter(reasoner, situation, found or reasoner.diagnose(situation), most - asked(folded)).choose()


def more_matters(reasoner: Reasoner, folded: Folded, fact: str, told: Sequence[str]) -> bool:
    """Whether another value of a fact is asked for, once these are told.

    Each thing that the look round the bike shows is a danger of its own; of other facts a further value is asked for
    where it could change the verdict or the first thing to be put right, and a question is left after it. None beyond
    `MOST_PROMPTS`.
    """
    left = MOST_PROMPTS - asked(folded) - 1
    if fact == GATE or not folded.situation.standing:
        return left > 0
    if left <= 1:
        return False
    now = glance(reasoner, with_fact(folded.situation, fact, told))
    rest = [value for value in reasoner.book.facts[fact].values if value not in told]
    return any(glance(reasoner, with_fact(folded.situation, fact, [*told, value])) != now for value in rest)


def _odds(chance: float) -> float:
    return chance / max(1 - chance, 1e-9)


def _doubt(chance: float) -> float:
    """How open it is whether something is so: its entropy, in nats."""
    return -sum(one * log(one) for one in (chance, 1 - chance) if one > 0)


class _Counter:
    def __init__(self, reasoner: Reasoner, situation: Situation, found: Diagnosis, room: int) -> None:
        self.room = room
        """How much may still be asked."""
        self.reasoner = reasoner
        self.book: Book = reasoner.book
        self.situation = situation
        self.found = found
        self.now = glance(reasoner, situation)

    def choose(self) -> Prompt | None:
        """The first that could change what is done; None where nothing could, or the bike is handed on anyway."""
        if self.found.next.kind == "hand-off" and self.found.next.demanded_by:
            return None
        return next(self._wishes(), None)

    def _wishes(self) -> Iterator[Prompt]:
        """What is worth asking: danger, what could clear the bike, facts, what is worth most, other dangers."""
        step = self.found.next
        first = self.book.checks[step.id] if step.kind == "check" else None
        least = TOO_RARE_IN_THE_ROUND if step.demanded_by in self.book.deductions else TOO_RARE
        if first and step.demanded_by and self._changes_by(first, least=least):
            yield self._to_ask(first, danger=True)
        if clearing := self._clearing():
            yield self._to_ask(clearing, danger=True)
        for fact in facts_wanted(self.book, self.situation, self.found.belief, ()):
            if self._changes_by_fact(fact):
                yield Prompt("fact", fact)
        if first and not step.demanded_by and self._changes_by(first):
            yield self._to_ask(first)
        for check in self._open_dangers():
            if self._changes_by(check, verdict_only=True):
                yield self._to_ask(check, danger=True)

    # --- what an answer could change -------------------------------------------------------------------------------

    def _changes_by(self, check: Check, verdict_only: bool = False, least: float = TOO_RARE) -> bool:
        """Whether some answer that is not too rare would change the verdict or the first thing to be put right."""
        answers = (after(self.situation, check, value) for value in self._usual(check, least))
        return any(self._differs(glance(self.reasoner, one), verdict_only) for one in answers)

    def _usual(self, check: Check, least: float) -> Iterator[str]:
        outlook = self.now.outlook
        for branch in outlook.branches(check, outlook.here):
            if sum(branch.weights) >= least * outlook.here.mass:
                yield branch.value

    def _changes_by_fact(self, fact: str) -> bool:
        values: Iterable[str] = self.book.facts[fact].values
        told = (with_fact(self.situation, fact, [value]) for value in values)
        return any(self._differs(glance(self.reasoner, one)) for one in told)

    def _differs(self, then: Glance, verdict_only: bool = False) -> bool:
        return then.verdict != self.now.verdict or (not verdict_only and then.first != self.now.first)

    # --- what could clear the bike ---------------------------------------------------------------------------------

    def _clearing(self) -> Check | None:
        """What tells most about whether it may be ridden, where it may not by the chances alone.

        None where no answers to what is left, as many as there is room for, could clear it together: one answer seldom
        does, since a rider is trusted only so far.
        """
        threshold, stop = self.book.constants.stop_threshold, self.now.ride.stop
        if self.now.verdict not in ("stop", "not-cleared") or not threshold <= stop < 1 or self.now.ride.said:
            return None
        best: dict[str, tuple[float, Check]] = {}
        helps: dict[str, float] = {}
        for check in self.now.outlook.open_checks():
            chances = self._chances(check)
            told = sum(part * _doubt(chance) for part, chance in chances)
            best[check.finding] = max(
                best.get(check.finding, (0.0, check)), (_doubt(stop) - told, check), key=lambda one: one[0]
            )
            least = min((chance for part, chance in chances if part >= TOO_RARE), default=stop)
            helps[check.finding] = min(helps.get(check.finding, 1.0), _odds(least) / _odds(stop))
        if _odds(stop) * prod(sorted(helps.values())[: self.room]) >= _odds(threshold):
            return None
        return max(best.values(), key=lambda one: one[0])[1] if best else None

    def _chances(self, check: Check) -> list[tuple[float, float]]:
        """For each answer how often it is heard, and the chance of a stop-riding cause after it."""
        outlook = self.now.outlook
        risks, mass, found = outlook.stop_risks(), outlook.here.mass, []
        for branch in outlook.branches(check, outlook.here):
            part = sum(branch.weights)
            if part > 0:
                found.append((part / mass, sum(map(mul, risks, branch.weights)) / part))
        return found

    # --- what else to ask ------------------------------------------------------------------------------------------

    def _to_ask(self, check: Check, danger: bool = False) -> Prompt:
        """The check; before it a fact that decides whether it can be done at all, where nobody asked for it."""
        for condition in (self.book.findings[check.finding].applies, check.applies):
            for fact in condition:
                open_yet = fact not in self.situation.profile and fact not in self.situation.asked
                if open_yet and fits(self.book.facts[fact], self.situation):
                    return Prompt("fact", fact)
        return Prompt("check", check.id, danger)

    def _open_dangers(self) -> Iterator[Check]:
        """Open checks whose answers could move the verdict: by the shares, or by a deduction that warns."""
        outlook = self.now.outlook
        threshold = self.book.constants.stop_threshold
        risks = outlook.stop_risks()
        stops = sum(risk * weight for risk, weight in zip(risks, outlook.here.weights, strict=True))
        above = stops >= threshold * outlook.here.mass
        warning = {when.key for one in self.book.deductions.values() if one.danger for when in one.when}
        for check in outlook.open_checks():
            if check.finding in warning:
                yield check
                continue
            for branch in outlook.branches(check, outlook.here):
                part = sum(branch.weights)
                chance = sum(risk * weight for risk, weight in zip(risks, branch.weights, strict=True))
                if part >= TOO_RARE * outlook.here.mass and (chance >= threshold * part) != above:
                    yield check
                    break
