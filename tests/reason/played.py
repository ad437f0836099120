"""What following the program's advice is expected to cost: every course that it can take, weighed by its chance.

Cast: `Played` lets a reasoner advise on a `Job` and gives `value`. What may be reported, how likely it is and what all
costs come from the job alone; the program is asked for nothing but the next step. It sees the job as at the stand: a
fix that failed makes the answers stale that it disturbs; they still tell of the cause.
"""

from __future__ import annotations

from operator import mul
from typing import NamedTuple

from diagnose.reason.option import Next
from diagnose.reason.reasoner import Reasoner
from diagnose.reason.situation import Answer, Repair, Situation
from tests.reason.optimum import Optimum
from tests.reason.plain_job import CLOSED, UNASKED, Fixes, Open, Slots

TOO_RARE = 1e-5
"""Courses that come less often are charged as the optimum's, not followed; `Played.unfollowed` sums their chances."""


class Standing(NamedTuple):
    """Where the job stands: what counts of the answers, what was told and no longer does, fixes done, what is open.

    Answers are (place of the check, place of the value or -1 for can't tell).
    """

    fresh: frozenset[tuple[int, int]]
    stale: frozenset[tuple[int, int]]
    heard: tuple[tuple[int, int], ...]
    """Everything that was ever told, by check."""
    repairs: tuple[Fixes, ...]
    open: Open


class Played:
    """The advice of a reasoner on one complaint, whose optimum is given."""

    def __init__(self, best: Optimum, reasoner: Reasoner) -> None:
        self.job = best.job
        self.best = best
        self.reasoner = reasoner
        self.asked = 0
        self.unfollowed = 0.0
        self._costs: dict[Standing, float] = {}

    def value(self) -> float:
        """Expected minutes until the complaint is gone or the job is given away."""
        return self._cost(Standing(frozenset(), frozenset(), (), (), CLOSED), 1.0)

    def weights(self, at: Standing) -> list[float]:
        """For each cause the chance that it is the one and that all went as it did."""
        failed = frozenset(fix for repair in at.repairs for fix in repair)
        left = [1 - gone for gone in self.job.used(failed)]
        return list(map(mul, self.job.shown(at.heard), left))

    def advice(self, at: Standing) -> Next:
        """The program's next step."""
        return self.reasoner.diagnose(self.situation(at)).next

    def situation(self, at: Standing) -> Situation:
        """The job as the program sees it."""
        answers = [self._answer(one, stale=True) for one in sorted(at.stale)]
        answers += [self._answer(one) for one in sorted(at.fresh)]
        return Situation(
            (self.job.complaint,),
            answers=tuple(answers),
            repairs=tuple(Repair(fixes, {self.job.complaint: False}) for fixes in at.repairs),
            open_teardowns=at.open,
        )

    def _answer(self, told: tuple[int, int], stale: bool = False) -> Answer:
        check, said = told
        value = self.job.values[check][said] if said >= 0 else None
        one = self.job.checks[check]
        place = 0 if stale else -1
        return Answer(one.name, one.finding, value, "mechanic", stale=stale, before=stale, disturbed_by=place)

    # --- every course ----------------------------------------------------------------------------------------------

    def _cost(self, at: Standing, chance: float) -> float:
        """Expected minutes from here on. `chance` is that of coming here this way."""
        key = at._replace(repairs=tuple(sorted(at.repairs)))
        if key not in self._costs:
            if chance < TOO_RARE:
                self.unfollowed += chance
                return self.best.at(self._looked(at), frozenset(fix for one in at.repairs for fix in one), at.open)
            self._costs[key] = self._follow(at, self.advice(at), chance)
            self.asked += 1
        return self._costs[key]

    def _follow(self, at: Standing, step: Next, chance: float) -> float:
        if step.kind == "hand-off":
            return self._give_away(at)
        if step.kind == "check":
            return self._ask(at, self.job.places[step.id], chance)
        assert step.kind == "fix", step.kind
        unmet = self.job.unmet(step.with_fixes, self._looked(at))
        return self._ask(at, unmet[0], chance) if unmet else self._mend(at, step.with_fixes, chance)

    def _give_away(self, at: Standing) -> float:
        failed = frozenset(fix for repair in at.repairs for fix in repair)
        weights = self.weights(at)
        given_away: float = sum(map(mul, weights, self.job.prices(failed)))
        return given_away / sum(weights)

    def _looked(self, at: Standing) -> Slots:
        """What each check has told, at any time."""
        told = dict(at.stale) | dict(at.fresh)
        return tuple(told.get(place, UNASKED) if told.get(place) != -1 else -2 for place in range(len(self.job.checks)))

    def _ask(self, at: Standing, check: int, chance: float) -> float:
        assert all(one != check for one, _ in at.fresh), self.job.checks[check].name
        minutes, is_open = self.job.ask(check, at.open)
        mass = sum(self.weights(at))
        untold = self.job.cannot_tell
        total = minutes
        if untold > 0:
            after = at._replace(fresh=at.fresh | {(check, -1)}, open=is_open)
            total += untold * self._cost(after, chance * untold)
        for value in range(len(self.job.values[check])):
            heard = tuple(sorted((*at.heard, (check, value))))
            after = at._replace(fresh=at.fresh | {(check, value)}, heard=heard, open=is_open)
            part = (1 - untold) * sum(self.weights(after)) / mass
            if part > 0:
                total += part * self._cost(after, chance * part)
        return total

    def _mend(self, at: Standing, fixes: Fixes, chance: float) -> float:
        minutes = self.job.cost(fixes, at.open)
        disturbed = self.job.disturbed(tuple(sorted(fixes)))
        gone = {one for one in at.fresh if one[0] in disturbed}
        after = Standing(at.fresh - gone, at.stale | gone, at.heard, (*at.repairs, fixes), CLOSED)
        part = sum(self.weights(after)) / sum(self.weights(at))
        return minutes + (part * self._cost(after, chance * part) if part > 0 else 0.0)
