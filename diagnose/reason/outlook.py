"""Where a job stands, and where each step could take it: the ground that `ask` weighs options on.

Cast: `Outlook` knows the checks and courses of one situation and steps from position to position. Look-ahead never
calls the engine.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from functools import cached_property
from operator import mul

from diagnose.book.conditions import may_hold
from diagnose.book.model import Book, Check
from diagnose.book.reckoning import right_values
from diagnose.reason.belief import Belief, cured_by
from diagnose.reason.conclude import Conclusion, Conclusions, trust_in
from diagnose.reason.position import Branch, Position, Used
from diagnose.reason.repair import IN_THE_PLAN, Course, build_course
from diagnose.reason.ride import judge_ride
from diagnose.reason.situation import Situation
from diagnose.reason.workbench import Bench

_NOTHING: frozenset[str] = frozenset()
MOST_STATES = 120
"""Joint states that look-ahead follows for several complaints, the likeliest first."""


class Outlook:
    """The checks and courses of one situation."""

    def __init__(
        self,
        book: Book,
        situation: Situation,
        conclusions: Conclusions,
        belief: Belief,
        extras: Sequence[Conclusion] = (),
    ) -> None:
        self.book = book
        self._extras = extras
        self.situation = situation
        self.conclusions = conclusions
        self.belief = belief
        self.bench = Bench(book, situation)
        self.single = len(belief.net.complaints) == 1
        self.kept = _likeliest(belief)
        table, states = belief.net.table, belief.net.states
        self._table = table if self.single else table.over([states[index] for index in self.kept])
        self._causes = {name: belief.net.causes[belief.net.complaints.index(name)] for name in situation.standing}
        self.used = {name: _used(book, situation, name, causes) for name, causes in self._causes.items()}
        self.here = Position(
            [belief.weights[index] for index in self.kept],
            self.used,
            situation.open_teardowns,
            belief.messages,
            told=0,
        )
        self._paid_by = {} if self.single else self._payers()
        self._cures: dict[tuple[str, tuple[str, ...]], dict[int, float]] = {}
        self._closed_values: dict[str, float] = {}
        self._bits: dict[tuple[str, ...], int] = {}
        self._tells: dict[str, list[tuple[str, int]]] = {}
        self._needs: dict[str, list[str]] = {}
        self._plain_costs: dict[tuple[str, frozenset[str]], tuple[float, frozenset[str], list[str]]] = {}
        self._values: dict[tuple[int, frozenset[str]], float] = {}
        self._here_after: dict[str, list[Branch]] = {}
        self._open_checks: list[Check] | None = None
        self._known_costs: dict[tuple[str, tuple[float, ...], frozenset[str]], tuple[float, ...]] = {}

    @cached_property
    def courses(self) -> dict[str, Course]:
        """The course of fixes of each complaint that stands."""
        return {
            name: build_course(self.bench, name, causes, self.used[name], self.belief.marginal(name))
            for name, causes in self._causes.items()
        }

    @property
    def left_out(self) -> frozenset[str]:
        """Fixes that were done before in vain and that are not done again for any complaint that stands."""
        if not self.bench.in_vain:
            return _NOTHING
        kept = {fix for course in self.courses.values() for fix in course.known}
        return frozenset().union(*(course.left_out for course in self.courses.values())) - kept

    # --- the value of a position -----------------------------------------------------------------------------------

    def value(self, at: Position) -> float:
        """Expected minutes until everything is gone or handed off without another check, times the mass.

        Several complaints are put right one after the other, each with its own hand-off. Two ways that lead to the
        same answers, failures and open teardowns lead to the same place.
        """
        return self._value_of(at.weights, at.used, at.open, at.told)

    def value_after_report(self, branch: Branch, at: Position, open_after: frozenset[str]) -> float:
        """The value of the position once a check has given this report."""
        told = None if at.told is None else at.told | branch.told
        return self._value_of(branch.weights, at.used, open_after, told)

    def _value_of(self, weights: list[float], used: Used, is_open: frozenset[str], told: int | None) -> float:
        if told is None:
            return self._work_out(weights, used, is_open)
        key = told, is_open
        value = self._values.get(key)
        if value is None:
            value = self._values[key] = self._work_out(weights, used, is_open)
        return value

    def _work_out(self, weights: list[float], used: Used, is_open: frozenset[str]) -> float:
        total = 0.0
        for complaint, course in self.courses.items():
            total += course.cost_of(self.burden(complaint, weights), used[complaint], is_open)
        return total

    def clairvoyant(self, at: Position) -> float:
        """What somebody who knew the causes would spend, times the mass: no check leads below it."""
        return sum([sum(self._known_shares(complaint, at, at.open)) for complaint in self.courses])

    def _known_shares(self, complaint: str, at: Position, already_open: frozenset[str]) -> list[float]:
        """For each cause of a complaint the expected minutes if it were known, times its mass."""
        known = self._known(complaint, at.used[complaint], already_open)
        return list(map(mul, self.burden(complaint, at.weights), known))

    def _known(self, complaint: str, used: tuple[float, ...], already_open: frozenset[str]) -> tuple[float, ...]:
        """For each cause of a complaint the expected minutes if it were known."""
        key = (complaint, used, already_open)
        if key not in self._known_costs:
            course, count = self.courses[complaint], len(used)
            self._known_costs[key] = tuple(course.alone(cause, used[cause], already_open) for cause in range(count))
        return self._known_costs[key]

    def hand_off(self, at: Position) -> float:
        """What giving everything away weighs, times the mass, summed over the complaints."""
        total = 0.0
        for complaint, course in self.courses.items():
            shares = self.burden(complaint, at.weights)
            total += sum(map(mul, shares, course.hand_off))
        return total

    def marginal(self, complaint: str, weights: Sequence[float]) -> list[float]:
        """The mass of each cause of a complaint under weights over the kept states."""
        if self.single:
            return list(weights)
        net = self.belief.net
        place = net.complaints.index(complaint)
        shares = [0.0] * len(net.causes[place])
        for index, weight in zip(self.kept, weights, strict=True):
            shares[net.states[index][place]] += weight
        return shares

    def burden(self, complaint: str, weights: Sequence[float]) -> Sequence[float]:
        """The mass of each cause that a complaint pays for: one that explains several complaints is paid for once."""
        if self.single:
            return weights
        net = self.belief.net
        place = net.complaints.index(complaint)
        shares = [0.0] * len(net.causes[place])
        for index, weight in zip(self._paid_by[complaint], weights, strict=True):
            if index >= 0:
                shares[index] += weight
        return shares

    def _payers(self) -> dict[str, list[int]]:
        """For each standing complaint and kept state the cause it pays for, or -1 where an earlier complaint does."""
        net = self.belief.net
        standing = [(complaint, net.complaints.index(complaint)) for complaint in self.used]
        paid: dict[str, list[int]] = {complaint: [] for complaint, _ in standing}
        for index in self.kept:
            state = net.states[index]
            seen: set[str] = set()
            for complaint, place in standing:
                cause = net.causes[place][state[place]]
                paid[complaint].append(-1 if cause in seen else state[place])
                if cause is not None:
                    seen.add(cause)
        return paid

    def stop_risks(self) -> list[float]:
        """For each kept state the chance of a stop-riding cause, *something else* at its danger rate included."""
        net, book = self.belief.net, self.book
        standing = [(net.complaints.index(complaint), book.complaints[complaint]) for complaint in self.used]
        risks = []
        for index in self.kept:
            safe = 1.0
            for place, complaint in standing:
                cause = net.causes[place][net.states[index][place]]
                if cause is None:
                    safe *= 1 - complaint.danger_if_unknown
                elif book.causes[cause].danger == "stop":
                    safe = 0.0
            risks.append(1 - safe)
        return risks

    def stop_places(self, complaint: str) -> set[int]:
        """The places of the stop-riding causes of a complaint."""
        return {place for place, cause in enumerate(self._causes[complaint]) if cause in self.book.stops}

    # --- checks ----------------------------------------------------------------------------------------------------

    def open_checks(self) -> list[Check]:
        """Checks that can be done here, can move belief, and that no answer, nor a surer look, has made needless."""
        if self._open_checks is None:
            self._open_checks = list(self._look_for_open_checks())
        return self._open_checks

    def _look_for_open_checks(self) -> Iterator[Check]:
        standing = set(self.situation.standing)
        for finding in sorted(self.belief.net.rows):
            one = self.book.findings[finding]
            if one.on_demand or (one.asked_for and standing.isdisjoint(one.asked_for)):
                continue
            for check in one.checks:
                needless = self.settled(check, self.here) or self.met(check) or self.right_before(check)
                if self.can_do(check) and not needless:
                    yield check

    def can_do(self, check: Check) -> bool:
        """Whether this role, skill, tools and profile allow the check, and it was not asked yet."""
        situation = self.situation
        if situation.told(check, self.book.findings[check.finding].lasting):
            return False
        if situation.bars(check) or self.bench.pointless(check) or self.bench.kept_back(self.bench.only_if(check)):
            return False
        if check.ridden and self._not_ridden and situation.role == "mechanic":
            return False
        applies = self.book.findings[check.finding].applies
        return may_hold(applies, situation.profile) and may_hold(check.applies, situation.profile)

    def right_before(self, check: Check) -> bool:
        """Whether, no less surely, nothing was amiss here before a fix that did not help: what was right is so still.

        Not where a danger was found that a fix has disturbed, nor where the finding was told anew since.
        """
        book, told = self.book, [one for one in self.situation.answers if one.finding == check.finding]
        if not told or not (told[-1].stale and told[-1].before) or any(not one.stale for one in told):
            return False
        last, held = told[-1], {key for one in self._extras for key, _ in one.matched if one.deduction.danger == "stop"}
        looked = book.checks[last.check]
        needed = trust_in(book, check, self.situation.role)
        return (
            check.finding not in held
            and last.value in right_values(looked, book)
            and trust_in(book, looked, last.by) >= needed
        )

    @cached_property
    def _not_ridden(self) -> bool:
        """Whether nobody rides it now, not even to hear it: a danger was seen or said, or something is still apart."""
        ride = judge_ride(self.book, self.situation, self.conclusions, self.belief, True, self._extras)
        return ride.verdict in ("stop", "not-cleared") and not ride.by_chance

    def settled(self, check: Check, at: Position) -> bool:
        """Whether what was reported on the finding leaves one value only."""
        message = at.messages.get(check.finding)
        return message is not None and sum(heard > 0 for heard in message) <= 1

    def met(self, check: Check) -> bool:
        """Whether another look, trusted no less, has told what a check would tell: nobody asks that twice."""
        situation, book = self.situation, self.book
        needed = trust_in(book, check, situation.role)
        return any(
            one.finding == check.finding and trust_in(book, book.checks[one.check], one.by) >= needed
            for one in situation.fresh
            if one.check != check.id
        )

    def seen_before(self) -> Iterator[tuple[Check, str]]:
        """What showed a danger before a fix that did not help, and what says so: it stands until looked at anew."""
        fired = {one.deduction.id for one in self.conclusions.fired}
        told = {answer.finding for answer in self.situation.fresh}
        last = {one.finding: one.check for one in self.situation.answers if one.stale and one.finding not in told}
        for one in self._extras:
            if one.deduction.danger == "stop" and one.deduction.id not in fired:
                for key, _ in one.matched:
                    if key in last:
                        yield self.book.checks[last[key]], one.deduction.id

    def branches(self, check: Check, at: Position) -> list[Branch]:
        """Every report of a check with the weights of the states after it."""
        if at is not self.here:
            return self._branches(check, at)
        if check.id not in self._here_after:
            self._here_after[check.id] = self._branches(check, at)
        return self._here_after[check.id]

    def _branches(self, check: Check, at: Position) -> list[Branch]:
        finding, weights = check.finding, at.weights
        trust = trust_in(self.book, check, self.situation.role)
        given = self._table.given(finding, trust, at.messages.get(finding))
        if check.id not in self._tells:
            values = self.belief.net.values[finding]
            self._tells[check.id] = [(value, self._bit((check.id, value))) for value in values]
        return [
            Branch(value, list(map(mul, weights, chances)), told)
            for (value, told), chances in zip(self._tells[check.id], given, strict=True)
        ]

    def _bit(self, event: tuple[str, ...]) -> int:
        """The bit of a report (check, value), or of fixes that failed."""
        return self._bits.setdefault(event, 1 << len(self._bits))

    def after_report(self, check: Check, branch: Branch, at: Position, open_after: frozenset[str]) -> Position:
        """The position once a check has given this report."""
        trust = trust_in(self.book, check, self.situation.role)
        report = self._table.reports(check.finding, trust)[self.belief.net.values[check.finding].index(branch.value)]
        message = at.messages.get(check.finding)
        heard = report if message is None else tuple(one * two for one, two in zip(report, message, strict=True))
        messages = {**at.messages, check.finding: heard}
        told = None if at.told is None else at.told | branch.told
        return Position(branch.weights, at.used, open_after, messages, at.asked | {check.id}, told)

    def check_cost(self, check: Check, at: Position) -> tuple[float, frozenset[str], list[str]]:
        """(minutes with opening and what it needs first, what is open afterwards, the checks it needs first)."""
        wanted = self._needs.get(check.id)
        if wanted is None:
            wanted = self._needs[check.id] = [one for one in self._needed(check) if one != check.id]
        key = check.id, at.open
        if wanted:
            needed = [one for one in wanted if one not in at.asked]
            return self._check_cost(check, at.open, needed)
        if key not in self._plain_costs:
            self._plain_costs[key] = self._check_cost(check, at.open, [])
        return self._plain_costs[key]

    def _check_cost(
        self, check: Check, is_open: frozenset[str], needed: list[str]
    ) -> tuple[float, frozenset[str], list[str]]:
        asking = self.book.constants.asking
        minutes = check.minutes + asking
        chain = self.bench.chain(check.teardown)
        for name in needed:
            minutes += self.book.checks[name].minutes + asking
            chain |= self.bench.chain(self.book.checks[name].teardown)
        if not chain and is_open and check.by == "mechanic":
            return minutes + self.bench.closing(is_open), frozenset(), needed
        return minutes + self.bench.opening(chain, is_open), is_open | chain, needed

    def _needed(self, check: Check) -> list[str]:
        wanted: list[str] = self.bench.looked_at_first(self.bench.only_if(check))
        for name in check.needs:
            need = self.book.checks[name]
            if self.can_do(need):
                wanted += [one for one in [*self._needed(need), name] if one not in wanted]
        return wanted

    # --- fixes -----------------------------------------------------------------------------------------------------

    def after_failure(self, fixes: Sequence[str], at: Position) -> Position:
        """The position once these fixes are done and a complaint is still there.

        A complaint that is cured costs nothing more.
        """
        used = {complaint: self._used_after(complaint, fixes, at) for complaint in self.courses}
        told = None if at.told is None else at.told | self._bit(("", *fixes))
        if self.single:
            (complaint,) = self.courses
            weights, before, after = list(at.weights), at.used[complaint], used[complaint]
            for cause in self.cured_by(complaint, fixes):
                weights[cause] *= (1 - after[cause]) / (1 - before[cause])
            return Position(weights, used, _NOTHING, at.messages, at.asked, told)
        return Position(at.weights, used, _NOTHING, at.messages, at.asked, told)

    def _used_after(self, complaint: str, fixes: Sequence[str], at: Position) -> tuple[float, ...]:
        used = list(at.used[complaint])
        for cause, cured in self.cured_by(complaint, fixes).items():
            used[cause] = max(used[cause], cured)
        return tuple(used)

    def cured_by(self, complaint: str, fixes: Sequence[str]) -> dict[int, float]:
        """The causes of a complaint that any of these fixes cures, by place, with the highest cured fraction."""
        key = complaint, tuple(fixes)
        if key not in self._cures:
            cures: dict[int, float] = {}
            for fix in fixes:
                for cause, cured in self.courses[complaint].known.get(fix, {}).items():
                    cures[cause] = max(cures.get(cause, 0.0), cured)
            self._cures[key] = cures
        return self._cures[key]

    def chance_to_cure(self, fixes: Sequence[str], at: Position) -> float:
        """The chance that these fixes, done here, cure a complaint; of several complaints the best."""
        chances = []
        for complaint in self.courses:
            before, after = at.used[complaint], self._used_after(complaint, fixes, at)
            shares = self.marginal(complaint, at.weights)
            gains = [s * (a - b) / (1 - b) for s, a, b in zip(shares, after, before, strict=True)]
            chances.append(sum(gains) / at.mass)
        return max(chances)

    def must_wait(self, fixes: Sequence[str], at: Position) -> bool:
        """Whether another fix that is in the plan, of whichever complaint, comes before these."""
        return bool(self.waits_for(fixes, at))

    def waits_for(self, fixes: Sequence[str], at: Position) -> str:
        """A fix that is in the plan, of whichever complaint, and comes before these; an empty text where none does."""
        before = {name for fix in fixes for name in self.book.fixes[fix].after} - set(fixes)
        return next((name for name in sorted(before) if self._in_the_plan(name, at)), "")

    def _in_the_plan(self, fix: str, at: Position) -> bool:
        for complaint, course in self.courses.items():
            index = course.singles.get(fix)
            if index is None:
                continue
            used = at.used[complaint]
            raw = before_used(self.burden(complaint, at.weights), used)
            if course.gain(index, raw, used) >= IN_THE_PLAN * at.mass:
                return True
        return False

    def first_fixes(self, at: Position) -> tuple[str, ...]:
        """The treatment that a course of fixes would begin with; empty where none is left."""
        return self.first_treatment(at)[0]

    def first_treatment(self, at: Position) -> tuple[tuple[str, ...], float]:
        """The fixes that a course would begin with, and their minutes; no fixes where none is left."""
        best: tuple[float, tuple[str, ...], float] = (0.0, (), 0.0)
        for complaint, course in self.courses.items():
            used = at.used[complaint]
            raw = before_used(self.burden(complaint, at.weights), used)
            order = course.order(raw, used, at.open)
            if order:
                index, gain, cost, *_ = order[0]
                best = max(best, (gain / cost, course.treatments[index].fixes, cost))
        return best[1:]

    def value_after_failure(self, fixes: Sequence[str], at: Position) -> float:
        """Expected minutes, times the mass, that are left once these fixes are done."""
        after = self.after_failure(fixes, at)
        if self.single:
            return self.value(after)
        total = 0.0
        for complaint, course in self.courses.items():
            used = after.used[complaint]
            if at is self.here and used == at.used[complaint]:
                total += self._untouched(complaint)
            else:
                raw = before_used(self.burden(complaint, at.weights), at.used[complaint])
                total += course.expected_cost(raw, used, frozenset())
        return total

    def least_after_failure(self, at: Position) -> Callable[[Sequence[str]], float]:
        """For fixes that are tried here what is left at least once they have failed, times the mass.

        That is what they do not treat, if it is known then.
        """
        known = {name: self._known_shares(name, at, _NOTHING) for name in self.courses}
        total = sum(map(sum, known.values()))

        def least(fixes: Sequence[str]) -> float:
            return total - sum([known[name][cause] for name in known for cause in self.cured_by(name, fixes)])

        return least

    def _untouched(self, complaint: str) -> float:
        """What a complaint costs from here, times the mass, once everything is closed."""
        if complaint not in self._closed_values:
            used = self.here.used[complaint]
            raw = before_used(self.burden(complaint, self.here.weights), used)
            self._closed_values[complaint] = self.courses[complaint].expected_cost(raw, used, frozenset())
        return self._closed_values[complaint]


def before_used(shares: Sequence[float], used: Sequence[float]) -> Sequence[float]:
    """Shares before the used fraction was taken off."""
    if not any(used):
        return shares
    return [share / (1 - gone) for share, gone in zip(shares, used, strict=True)]


def _used(book: Book, situation: Situation, complaint: str, causes: Sequence[str | None]) -> tuple[float, ...]:
    """For each cause the highest cured fraction among the fixes that failed on this complaint.

    What was done before the bike came has failed too, as it is here again: by so much as that is trusted.
    """
    trust = book.constants.already_done_trust
    failed = [(fix, 1.0) for fix in situation.in_vain(complaint)] + [(one.fix, trust) for one in situation.already]
    return tuple(
        max((sure * cured_by(book, cause, fix) for fix, sure in failed), default=0.0) if cause else 0.0
        for cause in causes
    )


def _likeliest(belief: Belief) -> list[int]:
    """The states that look-ahead follows: all of one complaint, the likeliest of several."""
    everything = range(len(belief.weights))
    if len(belief.net.complaints) == 1:
        return list(everything)
    ranked = sorted(everything, key=lambda index: -belief.weights[index])
    return sorted(ranked[:MOST_STATES])
