"""One bike from the complaint to the repeat test that passed, the hand-off, or the end of patience.

Cast: `play` lets a `Player` work on a `Bike` and gives a `Visit`, the record of it; `intake` lets a rider answer at
the counter and gives an `Intake`. What happens is stored as events and folded, as at the stand.

All costs are minutes: checks and fixes with opening, closing and repeat tests; parts at the labour rate; a hand-off
at its price.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import log

from diagnose.book.model import Check
from diagnose.casework import events
from diagnose.casework.events import Draft
from diagnose.casework.fold import Folded, fold
from diagnose.casework.intake import asked, next_prompt
from diagnose.casework.score.bikes import Bike
from diagnose.casework.score.players import Player, Policy, Step
from diagnose.casework.shapes import Outcome, Role
from diagnose.reason.belief import Belief, cured_by
from diagnose.reason.conclude import Conclusions, conclude
from diagnose.reason.deduce import Chainer
from diagnose.reason.diagnosis import forced_hand_off
from diagnose.reason.estimate import estimate
from diagnose.reason.situation import Situation
from diagnose.reason.treatment import HALF
from diagnose.reason.workbench import Bench, mean_minutes

MOST_STEPS = 80
"""Steps after which a visit is given up; a policy should never come there."""
LONG = 15.0
"""Minutes above which a repair is worth being sure first."""
LEAST = 1e-12


@dataclass(frozen=True, slots=True)
class Stated:
    """What was believed of the complaint when the first fix or the hand-off was chosen, beside what was true.

    `top` is the share of the cause on top (or of *something else*), `right` whether it was the true one, `rank` the
    place of the true one from 1, `brier` the sum over all causes of (share - truth) squared (0 to 2), `surprise`
    -ln(share of the true one).
    """

    top: float
    right: bool
    rank: int
    brier: float
    surprise: float


@dataclass(frozen=True, slots=True)
class Foreseen:
    """The estimate when the first fix was chosen, and what it came to: (P10, P90, found) of minutes and of parts.

    `checking`: minutes of the checks that came after that, which are in the minutes found.
    """

    minutes: tuple[float, float, float]
    checking: float
    parts: tuple[float, float, float]
    hand_off_chance: float


@dataclass(frozen=True, slots=True)
class Visit:
    """What one player did to one bike. `weighty`: what was stated before the first long repair, or one with a part."""

    number: int
    complaint: str
    causes: tuple[str | None, ...]
    danger: str
    end: str
    """cured, handed-off or given-up."""
    curable: bool
    """Whether the book's fixes can cure all that is wrong with it."""
    due: bool
    """Whether it was handed off as what is true of it calls for."""
    questions: int
    """Checks before the first fix or the hand-off."""
    checks: int
    tries: int
    """Repeat tests after fixes."""
    minutes: float
    cost: float
    extra: float
    """Minutes of what was put right whatever the complaint is; not in `minutes` and `cost`."""
    first_cured: bool | None
    """Whether the first fix ended it; None where none was tried."""
    verdict: str
    """The last ride verdict before the first fix or the hand-off."""
    called: bool
    """Whether a deduction called that verdict, not the shares alone."""
    seen: bool
    """Whether a deduction calls a danger by what is true of the bike: held for good reason, whatever the cause."""
    stated: Stated
    weighty: Stated | None
    foreseen: Foreseen | None

    @property
    def held(self) -> bool:
        """Whether the bike was kept from being ridden: do not ride, or not cleared."""
        return self.verdict in ("stop", "not-cleared")


@dataclass(frozen=True, slots=True)
class Intake:
    """What a rider's answers at the counter came to."""

    number: int
    complaint: str
    danger: str
    questions: int
    verdict: str
    called: bool
    seen: bool
    stated: Stated
    outright: bool
    """Whether it was said not to ride, not only that it has to be looked at first."""

    @property
    def held(self) -> bool:
        """Whether the bike was kept from being ridden: do not ride, or not cleared."""
        return self.verdict in ("stop", "not-cleared")


def state(belief: Belief, bike: Bike) -> Stated:
    """What belief says of the bike's first complaint, beside what is wrong with it."""
    complaint = bike.complaints[0]
    names = belief.net.causes[belief.net.complaints.index(complaint)]
    shares = belief.marginal(complaint)
    true = {names.index(fault.cause if fault.cause in names else None) for fault in bike.faults}
    order = sorted(range(len(names)), key=lambda place: (-shares[place], names[place] or "~"))
    rank = min(order.index(place) for place in true) + 1
    brier = sum((share - (place in true)) ** 2 for place, share in enumerate(shares))
    surprise = -log(max(LEAST, *(shares[place] for place in true)))
    return Stated(shares[order[0]], order[0] in true, rank, brier, surprise)


def shows_danger(bike: Bike, situation: Situation, chainer: Chainer) -> bool:
    """Whether a deduction calls for not riding by the true values of all that was asked."""
    return any(one.deduction.danger == "stop" for one in _by_what_is_true(bike, situation, chainer).fired)


def _by_what_is_true(bike: Bike, situation: Situation, chainer: Chainer) -> Conclusions:
    """What follows from the true values of all that was asked."""
    true = tuple(
        replace(one, value=bike.shows(one.finding), reading=None) if one.value is not None else one
        for one in situation.answers
    )
    return conclude(bike.book, chainer, replace(situation, answers=true))


def play(bike: Bike, player: Player, chainer: Chainer) -> Visit:
    """Work on a bike until it is cured or given away. `chainer` tells what is true of it apart from what was told."""
    job = _Job(bike, chainer)
    for _ in range(MOST_STEPS):
        step = player.step(job.situation)
        if step.kind == "done":
            return job.over("cured")
        if step.kind == "hand-off":
            if not job.situation.standing:
                return job.over("cured")
            job.decide(step)
            job.give_away()
            return job.over("handed-off")
        if step.kind == "check":
            job.ask(bike.book.checks[step.id])
        elif job.treats(step.fixes):
            job.decide(step)
            job.mend(step)
        else:
            job.put_right(step.fixes)
    job.decide(player.step(job.situation))
    return job.over("given-up")


def intake(bike: Bike, player: Policy, chainer: Chainer) -> Intake:
    """What the rider is asked and answers at the counter, as `diagnose intake` asks, and the verdict.

    Nothing is known of the bike before; a fact of it that is asked for counts as a question.
    """
    job = _Job(bike, chainer, "rider")
    while prompt := next_prompt(player.reasoner, job.folded):
        if prompt.kind == "check":
            job.ask(bike.book.checks[prompt.id])
        else:
            job.tell(events.profile(prompt.id, bike.profile.get(prompt.id, ())))
    step = player.step(job.situation)
    ride, stated, seen = step.ride, state(step.belief, bike), shows_danger(bike, job.situation, chainer)
    count = asked(job.folded)
    outright = ride.verdict == "stop" and not ride.by_chance
    return Intake(bike.number, bike.complaints[0], bike.danger, count, ride.verdict, ride.said, seen, stated, outright)


class _Job:
    """A bike at the stand (or its rider at the counter): the events so far and what they took."""

    def __init__(self, bike: Bike, chainer: Chainer, role: Role = "mechanic") -> None:
        self.bike = bike
        self.chainer = chainer
        self.role = role
        self.told: list[Draft] = [events.opened(role, "mechanic")]
        self.told += [events.complaint(complaint) for complaint in bike.complaints]
        if role == "mechanic":
            self.told += [events.profile(fact, values) for fact, values in bike.profile.items()]
        self.folded: Folded = fold(bike.book, self.told)
        self.checks = self.questions = self.tries = 0
        self.minutes = self.parts = self.given = self.extra = 0.0
        self.first: Step | None = None
        self.seen = False
        self.first_cured: bool | None = None
        self.weighty: Stated | None = None
        self.checking = self.spent_before = self.checked_before = 0.0

    def tell(self, *drafts: Draft) -> None:
        """Note what was told."""
        self.told += drafts
        self.folded = fold(self.bike.book, self.told)

    @property
    def situation(self) -> Situation:
        """What is known of the job."""
        return self.folded.situation

    @property
    def bench(self) -> Bench:
        """What work costs as the job stands."""
        return Bench(self.bike.book, self.situation)

    # --- checks ----------------------------------------------------------------------------------------------------

    def ask(self, check: Check) -> None:
        """Do a check: its minutes with opening what it needs, or closing what is open where it needs nothing open."""
        bench, is_open = self.bench, self.situation.open_teardowns
        chain = bench.chain(check.teardown)
        minutes = check.minutes + self.bike.book.constants.asking + bench.opening(chain, is_open)
        if not chain and check.by == "mechanic":
            minutes += bench.closing(is_open)
        self.minutes += minutes
        self.checking += minutes
        self.checks += 1
        report = self.bike.report(check, self.role)
        if report.value is None:
            self.tell(events.cannot_tell(check.id, self.role))
        elif report.reading is not None and check.measure:
            self.tell(events.measured(check.id, self.role, report.reading, check.measure.unit, str(report.reading)))
        else:
            self.tell(events.answered(check.id, self.role, report.value))

    # --- fixes -----------------------------------------------------------------------------------------------------

    def decide(self, step: Step) -> None:
        """Note what was believed when a fix or the hand-off was chosen."""
        if self.first is None:
            self.first = step
            self.seen = shows_danger(self.bike, self.situation, self.chainer)
            self.questions = self.checks
            self.spent_before, self.checked_before = self.minutes, self.checking
        if step.kind == "fix" and self.weighty is None and self._is_weighty(step):
            self.weighty = state(step.belief, self.bike)

    def _is_weighty(self, step: Step) -> bool:
        fixes = [self.bike.book.fixes[name] for name in step.fixes]
        return any(fix.parts for fix in fixes) or sum(mean_minutes(fix.low, fix.high) for fix in fixes) > LONG

    def treats(self, fixes: Sequence[str]) -> list[str]:
        """The bike's complaints that these fixes can cure."""
        book = self.bike.book
        return [
            complaint
            for complaint in self.bike.complaints
            if any(cured_by(book, cause.id, fix) > 0 for cause in book.causes_of[complaint] for fix in fixes)
        ]

    def mend(self, step: Step) -> None:
        """Do what the fixes need, the fixes, and the repeat tests of what they treat."""
        tests = self._tested(step.fixes)
        for need in self.bench.unmet_of(step.fixes):
            if need in self.bike.book.checks:
                self.ask(self.bike.book.checks[need])
        self.minutes += self._work(step.fixes)
        self.minutes += max((self.bike.book.complaints[one].repeat_test.minutes for one in tests), default=0.0)
        self.parts += sum(self.bike.price(name) for name in step.fixes)
        self.tries += 1
        gone = self._do(step.fixes, tests)
        if self.first_cured is None:
            self.first_cured = all(gone.values())

    def put_right(self, fixes: Sequence[str]) -> None:
        """Do fixes that belong to the bike whatever the complaint is: their work is counted apart."""
        self.extra += self._work(fixes)
        self._do(fixes, self._tested(fixes))

    def _tested(self, fixes: Sequence[str]) -> list[str]:
        """The complaints whose repeat test follows: of those that stand, what the fixes treat; the only one always."""
        standing = self.situation.standing
        treated = [one for one in standing if one in self.treats(fixes)]
        return treated or list(standing[:1])

    def _work(self, fixes: Sequence[str]) -> float:
        """Minutes of opening, of the fixes themselves and of closing everything again."""
        bench, is_open = self.bench, self.situation.open_teardowns
        chains = [bench.chain(self.bike.book.fixes[name].teardown) for name in fixes]
        wanted: frozenset[str] = frozenset().union(*chains)
        work = sum(self.bike.minutes(name) for name in fixes)
        return bench.opening(wanted, is_open) + work + bench.closing(wanted | is_open)

    def _do(self, fixes: Sequence[str], tested: Sequence[str]) -> dict[str, bool]:
        """Do the fixes and tell what the repeat tests showed; of what they do not treat only what is gone is told."""
        gone = self.bike.take(fixes)
        told = {complaint: is_gone for complaint, is_gone in gone.items() if is_gone or complaint in tested}
        results: dict[str, Outcome] = {
            name: "gone" if is_gone else "better" if name in self.bike.eased else "still-there"
            for name, is_gone in told.items()
        }
        self.tell(events.fix_done(fixes[-1], results or {self.bike.complaints[0]: "gone"}, fixes[:-1]))
        return told

    def calls_for_hand_off(self) -> bool:
        """Whether a deduction calls for a hand-off at once by the true values of all that was asked."""
        return bool(forced_hand_off(_by_what_is_true(self.bike, self.situation, self.chainer)))

    # --- the end ---------------------------------------------------------------------------------------------------

    def give_away(self) -> None:
        """The price of a hand-off for each complaint that still stands: its class's minutes, and parts paid there."""
        book, bench = self.bike.book, self.bench
        prices: dict[tuple[str, str | None], float] = {}
        for fault in self.bike.standing:
            price, parts = book.constants.hand_off_minutes, 0.0
            if fault.cause:
                cause = book.causes[fault.cause]
                price = book.receivers[cause.hand_off.receiver].minutes if cause.hand_off else price
                done = self.situation.done
                used = max((rung.cured for rung in cause.ladder if rung.fix in done), default=0.0)
                wanted = [rung.fix for rung in cause.ladder if rung.cured - used >= HALF * (1 - used)]
                parts = min((sum(bench.parts_price(book.fixes[fix])) / 2 for fix in wanted), default=0.0)
            prices[fault] = price + parts / book.constants.rate
        self.given = sum(
            max(price for (one, _), price in prices.items() if one == complaint)
            for complaint in dict.fromkeys(one for one, _ in prices)
        )

    def over(self, end: str) -> Visit:
        """The record of the visit."""
        bike, first = self.bike, self.first
        if first is None:
            raise RuntimeError("a visit ended before anything was chosen")
        return Visit(
            number=bike.number,
            complaint=bike.complaints[0],
            causes=tuple(fault.cause for fault in bike.faults),
            danger=bike.danger,
            end=end,
            curable=bike.curable,
            due=end == "handed-off" and self.calls_for_hand_off(),
            questions=self.questions,
            checks=self.checks,
            tries=self.tries,
            minutes=self.minutes,
            cost=self.minutes + self.parts / bike.book.constants.rate + self.given,
            extra=self.extra,
            first_cured=self.first_cured,
            verdict=first.ride.verdict,
            called=first.ride.said,
            seen=self.seen,
            stated=state(first.belief, bike),
            weighty=self.weighty,
            foreseen=self._foreseen(first),
        )

    def _foreseen(self, first: Step) -> Foreseen | None:
        """The estimate when the first fix was chosen, beside what all from there on took."""
        found = first.diagnosis
        if first.kind != "fix" or found is None or found.outlook is None:
            return None
        made = estimate(found.outlook, found.plan)
        minutes = (made.minutes.p10, made.minutes.p90, self.minutes - self.spent_before)
        return Foreseen(
            minutes,
            self.checking - self.checked_before,
            (made.parts.p10, made.parts.p90, self.parts),
            made.hand_off_chance,
        )
