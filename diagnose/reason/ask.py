"""What to do next: every open check, every open fix and the hand-off weighed by expected cost; danger first.

Cast: `Adviser` weighs the options of an outlook and chooses. All options are weighed one step deep (`weigh`); for a
single complaint the best few are weighed again two steps deep, and those that then lie near each other three (`ahead`).
Where a complaint has very many causes one step must do. The work is counted, never clocked. Ties break by danger, then
by ease, then by id; between the fixes of several complaints by how likely they cure.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import cached_property

from diagnose.book.model import Check
from diagnose.reason.ahead import Ahead
from diagnose.reason.demand import LEADING, demanded, worth_a_look
from diagnose.reason.option import Next, Option, Weighed
from diagnose.reason.outlook import Outlook, before_used
from diagnose.reason.reasoner import DEPTH
from diagnose.reason.weigh import Scales
from diagnose.reason.workbench import mean_minutes

AGAIN = {"check": 4, "fix": 2}
"""Options of a kind that are weighed a second time, two steps deep."""
SECOND = 6
"""Checks that the second step looks at."""
TRIFLE = 0.015
"""A question that saves less than this part of the expected cost is not asked, where that is less than a moment."""
MOMENT = 1.0
"""Minutes: a question that saves more is asked before a fix, however long the job."""
HEAVY_MOMENT = 0.5
"""The same before a fix that takes a part, or longer than `LONG`."""
LONG = 15.0
SHORT_MOMENT = 0.6
"""Minutes: a question that saves more is asked before the bike is given away."""
SURE = 0.75
"""Where a fix is less sure to cure than this, less in proportion is a trifle."""
AT_HAND = 0.004
"""Chance of a report for which a look that a fix needs anyway is asked as a question of its own, before the fix."""
EVEN = 0.01
"""Minutes: of several complaints two fixes that lie within this may be done in either order."""
DEEP = 80
"""States up to which options are weighed more than one step deep."""


class Adviser:
    """Weighs the options of one outlook, `depth` steps deep."""

    def __init__(self, outlook: Outlook, depth: int = DEPTH) -> None:
        self.outlook = outlook
        self.book = outlook.book
        self.depth = depth if outlook.single and len(outlook.kept) <= DEEP else 1
        self.scales = Scales(outlook)

    @cached_property
    def demand(self) -> tuple[Check, str] | None:
        """The check that a danger demands before everything else, and the deduction or cause that does."""
        return demanded(self.outlook)

    # --- the choice ------------------------------------------------------------------------------------------------

    def choose(self) -> Next:
        """What to do next."""
        if self.demand:
            return self._for_danger(*self.demand)
        options = self.options(1)
        best = options[0]
        if best.kind == "check":
            acting = next((one for one in options if one.kind != "check"), best)
            trifle = min(1.0, self._sure(acting) / SURE) * min(TRIFLE * best.expected, self._moment(acting))
            best = acting if acting.expected - best.expected <= trifle else best
        best = self._verified_first(self._danger_first(self._surest_first(best)))
        if best.kind != "check" and (look := worth_a_look(self.outlook)):
            return self._for_danger(*look)

        def weigh() -> Weighed:
            weighed = options if self.depth > 1 else self.options()
            return best, next((one for one in weighed if one.id not in (best.id, best.prepares)), None)

        return Next(best.kind, best.id, weigh, best.with_fixes, best.prepares)

    def _surest_first(self, best: Option) -> Option:
        """Of several complaints the fix that most likely cures, where it costs the same whose turn is first.

        What is plain is put right before anything is tried on a guess, and may show what the other complaint was.
        """
        outlook, here = self.outlook, self.outlook.here
        if outlook.single or best.kind != "fix":
            return best

        def rank(option: Option) -> tuple[float, float]:
            return -round(outlook.chance_to_cure(option.with_fixes, here), 1), option.cost

        even = [one for one in self._first_of_each() if one.expected <= best.expected + EVEN]
        return min([best, *even], key=rank)

    def _first_of_each(self) -> Iterator[Option]:
        """For each complaint the fix that its course begins with, where nothing has to come before it."""
        outlook, here = self.outlook, self.outlook.here
        for complaint, course in outlook.courses.items():
            used = here.used[complaint]
            order = course.order(before_used(outlook.marginal(complaint, here.weights), used), used, here.open)
            for index, _, cost, *_ in order[:1]:
                one = course.treatments[index]
                if not outlook.must_wait(one.fixes, here):
                    expected = cost + outlook.value_after_failure(one.fixes, here) / here.mass
                    yield Option("fix", one.first, cost, expected, one.fixes)

    def _danger_first(self, best: Option) -> Option:
        """Of several complaints the fix of the one that most likely must not be ridden, where another's came first."""
        outlook, here = self.outlook, self.outlook.here
        if outlook.single or best.kind != "fix":
            return best
        for complaint, course in outlook.courses.items():
            dangers = outlook.stop_places(complaint)
            shares = outlook.marginal(complaint, here.weights)
            if sum(shares[place] for place in dangers) < LEADING * here.mass:
                continue
            if dangers & outlook.cured_by(complaint, best.with_fixes).keys():
                return best
            used = here.used[complaint]
            raw = before_used(shares, used)
            for index, _, cost, *_ in course.order(raw, used, here.open):
                fixes = course.treatments[index].fixes
                if dangers & outlook.cured_by(complaint, fixes).keys() and not outlook.must_wait(fixes, here):
                    return Option("fix", course.treatments[index].first, cost, best.expected, fixes)
        return best

    def _for_danger(self, check: Check, why: str) -> Next:
        """A look that a danger wants, or what it needs first."""
        needed = self.outlook.check_cost(check, self.outlook.here)[2]
        name, prepares = (needed[0], check.id) if needed else (check.id, "")
        return Next("check", name, lambda: self._weigh_demanded(check), (), prepares, why)

    def _weigh_demanded(self, check: Check) -> Weighed:
        """What a danger demands, one step deep: what comes after it is weighed when its answer is there."""
        option = self.scales.check(check, self.outlook.here)
        others = Adviser(self.outlook, depth=1).options()
        return option, next((one for one in others if one.id != option.id), None)

    def _moment(self, acting: Option) -> float:
        """Minutes that a question must save to be asked before this fix or hand-off."""
        if acting.kind != "fix":
            return SHORT_MOMENT
        fixes = [self.book.fixes[fix] for fix in acting.with_fixes]
        heavy = any(fix.parts for fix in fixes) or sum(mean_minutes(fix.low, fix.high) for fix in fixes) > LONG
        return HEAVY_MOMENT if heavy else MOMENT

    def _sure(self, acting: Option) -> float:
        """How sure a fix is to cure; for a hand-off, how likely its likeliest cause is."""
        here = self.outlook.here
        if acting.kind == "fix":
            return self.outlook.chance_to_cure(acting.with_fixes, here)
        return max(here.weights) / here.mass

    def _verified_first(self, option: Option) -> Option:
        """A fix that needs a check which is still open: the check comes first where its answer may change the fix.

        One that the fix is done only after comes first in any case.
        """
        outlook = self.outlook
        kept = [self.book.fixes[fix].only_if for fix in option.with_fixes]
        guards = {name for only_if in kept for name in outlook.bench.looked_at_first(only_if)}
        for name in outlook.bench.unmet_of(option.with_fixes):
            check = self.book.checks.get(name)
            if check and outlook.can_do(check) and (name in guards or self._may_change(check, option)):
                cost = outlook.check_cost(check, outlook.here)[0]
                return Option("check", name, cost, option.expected, prepares=option.id)
        return option

    def _may_change(self, check: Check, option: Option) -> bool:
        """Whether some report of the check, not too rare, would put another fix first."""
        outlook, here = self.outlook, self.outlook.here
        for branch in outlook.branches(check, here):
            if sum(branch.weights) >= AT_HAND * here.mass:
                after = outlook.after_report(check, branch, here, here.open)
                if outlook.first_fixes(after) not in ((), option.with_fixes):
                    return True
        return False

    # --- the options -----------------------------------------------------------------------------------------------

    def options(self, few: int = 2) -> list[Option]:
        """The options, best first, of fixes and of checks at least the best few. What saves nothing is left out."""
        here, deep, scales = self.outlook.here, self.depth > 1, self.scales
        fixes = sorted(scales.fixes(here, AGAIN["fix"] if deep else few), key=self._rank)
        hand_off = scales.hand_off()
        best = min(option.expected for option in [*fixes, hand_off])
        checks = sorted(scales.checks(here, best, SECOND if deep else few), key=self._rank)
        if not deep:
            return sorted([*fixes, hand_off, *checks], key=self._rank)
        ahead = Ahead(scales, [self.book.checks[option.prepares or option.id] for option in checks[:SECOND]])
        tried = [ahead.again(option) for option in [*checks[: AGAIN["check"]], *fixes[: AGAIN["fix"]]]]
        others = [hand_off, *checks[AGAIN["check"] :], *fixes[AGAIN["fix"] :]]
        if self.depth > 2:
            ahead.further(tried, others)
        return sorted([*(one.option for one in tried), *others], key=self._rank)

    def _rank(self, option: Option) -> tuple[float, int, float, str]:
        check = self.book.checks.get(option.id)
        return round(option.expected, 9), 0 if check and check.danger else 1, option.cost, option.id
