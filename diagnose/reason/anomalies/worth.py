"""Checks that never save what they cost.

Cast: `NeverWorth`. A check is weighed as the program weighs it, with one after another of the pairs of causes that it
tells apart left as the only ones, in several mixtures: where it pays for none of them, it pays nowhere.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations

from diagnose.book.anomalies.anomaly import Anomaly, Example, Found, Study
from diagnose.book.anomalies.closure import effects_of
from diagnose.book.model import Book, Check
from diagnose.reason.ask import TRIFLE, Adviser
from diagnose.reason.belief import believe, build_net
from diagnose.reason.conclude import conclude
from diagnose.reason.outlook import Outlook
from diagnose.reason.position import Position
from diagnose.reason.reasoner import Reasoner
from diagnose.reason.situation import Situation

MIXTURES = (0.5, 0.3, 0.7, 0.15, 0.85, 0.05, 0.95)
"""How much of the belief is the first cause of a pair, the rest being the second."""
MOST_PAIRS = 60
"""Pairs of causes that a check is weighed between, those first that it tells apart best."""
NO_WORTH = {"factor", "rule out", "rule in"}
"""What an answer may conclude that counts for minutes only; anything else makes its check worth asking."""
ROLES = ("mechanic", "rider")


class NeverWorth(Anomaly):
    """A check that costs more than it can save, whichever two causes are left and however likely each is."""

    name = "check.never-worth"
    why = "It is never asked, and what hangs on it is never known."
    wrong = Example(
        "front/findings.yaml",
        """
races-inside:
  name: "what the races look like"
  values: {bright: "bright", dull: "dull"}
  otherwise: {bright: likely}
  basis: common practice
  checks:
    polish-and-look:
      ask: "Fork out, races washed and polished: bright or dull?"
      by: mechanic
      minutes: 90
      teardown: fork-out
""",
        (
            (
                "front/causes/grease-dry.yaml",
                """
name: "grease dried out"
in_short: "The races are dry and knock a little."
common_for: {front-knock: 4 in 100}
basis: memory
shows: {races-inside: {dull: likely}, steering-feel: {notchy: unlikely}}
danger: none
also_by:
  - {fix: replace-bearings, cured: 9 in 10}
""",
            ),
        ),
    )
    right = Example(
        "front/findings.yaml",
        """
races-inside:
  name: "what the races look like"
  values: {bright: "bright", dull: "dull"}
  otherwise: {bright: very likely}
  basis: common practice
  checks:
    lift-seal-and-look:
      ask: "Upper seal lifted with a pick: bright or dull races?"
      by: mechanic
      minutes: 1
""",
        (
            (
                "front/causes/grease-dry.yaml",
                """
name: "grease dried out"
in_short: "The races are dry and knock a little."
common_for: {front-knock: 4 in 100}
basis: memory
shows: {races-inside: {dull: almost certain}, steering-feel: {notchy: unlikely}}
danger: none
also_by:
  - {fix: replace-bearings, cured: 9 in 10}
""",
            ),
        ),
    )

    def find(self, study: Study) -> Iterator[Found]:
        """Report checks that no complaint, no danger and no other step makes worth asking."""
        book = study.book
        wanted = set(_wanted_anyway(book))
        reasoner = Reasoner(book)
        left = {name for name in book.checks if name not in wanted}
        asked: set[str] = set()
        for complaint in book.complaints:
            for role in ROLES:
                adviser = _adviser(reasoner, complaint, role)
                for check in adviser.outlook.open_checks():
                    asked.add(check.id)
                    if check.id in left and pays(adviser, check):
                        left.remove(check.id)
        for name in sorted(left):
            why = "saves less than it costs, whichever two causes are left" if name in asked else "is asked for nothing"
            message = f"'{name}' {why}"
            hint = "Make it shorter, let it tell more apart, or delete it."
            yield Found(study.place(("check", name)), message, hint, ("check", name), (book.checks[name].finding,))


def _wanted_anyway(book: Book) -> Iterator[str]:
    """Checks that are asked for other reasons than minutes: danger, order, or what follows from an answer."""
    telling = {
        when.key
        for deduction in book.deductions.values()
        if {str(effect[0]) for effect in effects_of(deduction)} - NO_WORTH
        for when in deduction.when
    }
    for check in book.checks.values():
        if check.danger or check.finding in telling or check.id in telling:
            yield check.id
        yield from check.needs
    for fix in book.fixes.values():
        yield from fix.needs
    for deduction in book.deductions.values():
        yield from deduction.demand
        yield from deduction.before_riding
    for fact in book.facts.values():
        for finding in fact.off.values():
            yield from (check.id for check in book.findings[finding].checks)


def _adviser(reasoner: Reasoner, complaint: str, role: str) -> Adviser:
    situation = Situation((complaint,), role=role)
    conclusions = conclude(reasoner.book, reasoner.chainer, situation)
    belief = believe(reasoner.book, situation, conclusions, build_net(reasoner.book, situation, conclusions))
    return Adviser(Outlook(reasoner.book, situation, conclusions, belief), depth=1)


def pays(adviser: Adviser, check: Check) -> bool:
    """Whether a check is the best next step for some pair of causes (or *something else*) in some mixture."""
    outlook = adviser.outlook
    for one, other in _pairs(adviser, check):
        for part in MIXTURES:
            weights = [0.0] * len(outlook.here.weights)
            weights[one], weights[other] = part, 1 - part
            at = Position(weights, outlook.here.used, outlook.here.open, {})
            if adviser.scales.check(check, at).expected * (1 + TRIFLE) < outlook.value(at) / at.mass:
                return True
    return False


def _pairs(adviser: Adviser, check: Check) -> list[tuple[int, int]]:
    """Pairs of states with different rows, the most different first."""
    rows = adviser.outlook.belief.rows(check.finding)
    distances = {}
    for one, other in combinations(range(len(rows)), 2):
        if rows[one] != rows[other]:
            distances[one, other] = sum(abs(a - b) for a, b in zip(rows[one], rows[other], strict=True))
    return sorted(distances, key=lambda pair: -distances[pair])[:MOST_PAIRS]
