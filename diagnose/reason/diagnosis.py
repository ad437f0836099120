"""One situation reasoned through: what follows, what is likely, may it be ridden, what comes next, and the plan.

Cast: `diagnose(reasoner, situation)` gives a `Diagnosis`, with the `Next` step. Start reading here.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from diagnose.book.conditions import may_hold
from diagnose.book.model import Book, Check, HandOff
from diagnose.reason.ask import Adviser, Choice, Option
from diagnose.reason.belief import Belief, believe, build_net, cured_by
from diagnose.reason.conclude import Conclusion, Conclusions, conclude, outstanding
from diagnose.reason.facts import facts_of_step, facts_wanted
from diagnose.reason.outlook import Outlook
from diagnose.reason.plan import CalledHandOff, PlanItem, hand_offs, make_plan
from diagnose.reason.reasoner import Reasoner
from diagnose.reason.repair import Bench, mean_minutes
from diagnose.reason.ride import Ride, judge_ride
from diagnose.reason.situation import Situation

TOO_OFTEN = 2
"""Comebacks with the same complaint at which it is handed on."""
EXPERIENCED = "experienced"
"""The class of hand-off for that, where the book has it."""
CAME_BACK = (
    "It came back a second time: two repairs did not hold. The most experienced mechanic takes it on: end it as handed "
    "on, and open it again."
)


@dataclass(frozen=True, slots=True)
class Next:
    """What to do next. `kind` is check, fix, hand-off or done; `saves` minutes over the runner-up."""

    kind: str
    id: str
    cost: float
    expected: float
    with_fixes: tuple[str, ...]
    prepares: str
    runner_up: Option | None
    demanded_by: str
    found: tuple[str, ...] = ()

    @property
    def saves(self) -> float | None:
        """Expected minutes less than doing the runner-up first."""
        return None if self.runner_up is None else self.runner_up.expected - self.expected


@dataclass(frozen=True, slots=True)
class Diagnosis:
    """A situation and all that reasoning makes of it."""

    situation: Situation
    conclusions: Conclusions
    belief: Belief
    ride: Ride
    outlook: Outlook | None
    next: Next
    plan: tuple[PlanItem, ...]
    hand_offs: tuple[CalledHandOff, ...]
    wanted: tuple[str, ...]
    extras: tuple[Conclusion, ...]
    """Deductions that say what is to be done anyway, and whose fixes are not done yet."""


def diagnose(reasoner: Reasoner, situation: Situation) -> Diagnosis:
    """Reason a situation through."""
    book = reasoner.book
    conclusions = conclude(book, reasoner.chainer, situation)
    belief = believe(book, situation, conclusions, build_net(book, situation, conclusions))
    extras = outstanding(book, reasoner.chainer, situation, conclusions)
    if situation.ended or not situation.standing:
        ride = judge_ride(book, situation, conclusions, belief, extras=extras)
        step, plan = _last_step(reasoner, situation, conclusions, extras)
        return Diagnosis(situation, conclusions, belief, ride, None, step, plan, (), (), extras)
    outlook = Outlook(book, situation, conclusions, belief)
    escalated = situation.comebacks >= TOO_OFTEN
    adviser = Adviser(outlook, reasoner.depth)
    step = _escalated(adviser) if escalated else _next(adviser, must_do(book, outlook.bench, extras))
    pending = step.kind == "check" and bool(step.demanded_by)
    ride = judge_ride(book, situation, conclusions, belief, pending, extras)
    plan = make_plan(outlook, Option("fix", step.id, 0, 0, step.with_fixes) if step.kind == "fix" else None)
    called = hand_offs(outlook, step.kind == "hand-off")
    if escalated:
        called = (CalledHandOff(_to_the_experienced(outlook, ride), "hand-off"), *called)
    elif step.kind == "hand-off" and not (step.demanded_by or _given_away(outlook)):
        called = (CalledHandOff(_spent(outlook), "hand-off"), *called)
    check = step.id if step.kind == "check" else None
    called_for = [fact for one in conclusions.fired for fact in one.deduction.ask]
    wanted = facts_wanted(
        book, situation, belief, [*called_for, *facts_of_step(book, situation, check, step.with_fixes)]
    )
    return Diagnosis(situation, conclusions, belief, ride, outlook, step, plan, called, wanted, extras)


def _last_step(
    reasoner: Reasoner, situation: Situation, conclusions: Conclusions, extras: tuple[Conclusion, ...]
) -> tuple[Next, tuple[PlanItem, ...]]:
    """Every repeat test has passed: what must be done anyway, then what must be looked at before riding, else done."""
    must = None if situation.ended else must_do(reasoner.book, Bench(reasoner.book, situation), extras)
    look = None if situation.ended or must else _look_before_riding(reasoner.book, situation, conclusions)
    if look:
        check, why = look
        return Next("check", check.id, check.minutes + reasoner.book.constants.asking, 0.0, (), "", None, why), ()
    if must is None:
        return Next("done", "done", 0.0, 0.0, (), "", None, "", _found(reasoner, situation)), ()
    fix, why = must
    one = reasoner.book.fixes[fix]
    item = PlanItem(fix, 0, (), 0.0, (), (one.low, one.high))
    return Next("fix", fix, mean_minutes(one.low, one.high), 0.0, (fix,), "", None, why), (item,)


def _look_before_riding(book: Book, situation: Situation, conclusions: Conclusions) -> tuple[Check, str] | None:
    """The first check that must be made before the bike is ridden and was not asked yet, and what says so."""
    asked = {answer.check for answer in situation.answers}
    told = {answer.finding for answer in situation.fresh}
    for conclusion, name in conclusions.before_riding():
        check = book.checks[name]
        open_here = name not in asked and check.finding not in told and not situation.bars(check)
        if open_here and may_hold(check.applies, situation.profile):
            return check, conclusion.deduction.id
    return None


def _found(reasoner: Reasoner, situation: Situation) -> tuple[str, ...]:
    """For each complaint that is gone the likeliest cause that its fix cures, by what was known then."""
    found: dict[str, None] = {}
    for complaint in situation.complaints:
        place = next((k for k, one in enumerate(situation.repairs) if one.results.get(complaint)), None)
        if place is None:
            continue
        then = _as_of(situation, place)
        conclusions = conclude(reasoner.book, reasoner.chainer, then)
        belief = believe(reasoner.book, then, conclusions)
        causes = belief.net.causes[belief.net.complaints.index(complaint)]
        treated = [
            (share, name)
            for name, share in zip(causes, belief.marginal(complaint), strict=True)
            if name and any(cured_by(reasoner.book, name, fix) for fix in situation.repairs[place].fixes)
        ]
        if treated:
            found[max(treated)[1]] = None
    return tuple(found)


def _as_of(situation: Situation, place: int) -> Situation:
    """The situation as it was when the repair at this place had just been tried: what it disturbed still counts."""
    answers = tuple(
        replace(one, stale=False, disturbed_by=-1) if one.disturbed_by >= place else one for one in situation.answers
    )
    return replace(situation, repairs=situation.repairs[: place + 1], answers=answers)


def must_do(book: Book, bench: Bench, extras: tuple[Conclusion, ...]) -> tuple[str, str] | None:
    """The first fix that must be done whatever the complaint is and can be done here, and what says so."""
    for conclusion in extras:
        for one in conclusion.deduction.also:
            fix = book.fixes[one.fix]
            if one.level == "must" and one.fix not in bench.situation.done and not bench.lacks(fix):
                return one.fix, conclusion.deduction.id
    return None


def _next(adviser: Adviser, must: tuple[str, str] | None) -> Next:
    choice = adviser.choose()
    forced = forced_hand_off(adviser.outlook)
    if forced:
        option = adviser.weigh_hand_off()
        return _as_next(Choice(option, choice.best, forced))
    if must and choice.best.kind == "fix":
        fix, why = must
        cost = adviser.outlook.bench.work(adviser.book.fixes[fix])
        return _as_next(Choice(Option("fix", fix, cost, choice.best.expected, (fix,)), choice.best, why))
    return _as_next(choice)


def _as_next(choice: Choice) -> Next:
    best = choice.best
    return Next(
        best.kind,
        best.id,
        best.cost,
        best.expected,
        best.with_fixes,
        best.prepares,
        choice.runner_up,
        choice.demanded_by,
    )


def forced_hand_off(outlook: Outlook) -> str:
    """A deduction that says: stop here, before riding, somebody else."""
    for conclusion, hand_off in outlook.conclusions.hand_offs():
        if hand_off.urgency == "before riding" and not conclusion.from_rider:
            return conclusion.deduction.id
    return ""


def _escalated(adviser: Adviser) -> Next:
    """It came back too often to be tried again by the same hands."""
    option = adviser.weigh_hand_off()
    return _as_next(Choice(option, None, ""))


def _given_away(outlook: Outlook) -> bool:
    """Whether the likeliest cause is one that nobody mends at a stand."""
    for complaint in outlook.situation.standing:
        causes = outlook.belief.net.causes[outlook.belief.net.complaints.index(complaint)]
        shares = outlook.belief.marginal(complaint)
        name = causes[shares.index(max(shares))]
        if name and outlook.book.causes[name].hand_off:
            return True
    return False


def _to_the_experienced(outlook: Outlook, ride: Ride) -> HandOff:
    """The hand-off of a bike that came back too often (common practice: at the second comeback)."""
    receiver = EXPERIENCED if EXPERIENCED in outlook.book.receivers else "workshop"
    urgency = "before riding" if ride.verdict in ("stop", "not-cleared") else "soon"
    where = outlook.book.complaints[outlook.situation.standing[0]].where
    return HandOff(receiver, urgency, CAME_BACK, {}, where)


def _spent(outlook: Outlook) -> HandOff:
    """The hand-off of a case whose fixes are spent, or which the book does not know."""
    book, situation = outlook.book, outlook.situation
    complaint = situation.standing[0]
    place = outlook.belief.net.complaints.index(complaint)
    shares = outlook.belief.marginal(complaint)
    unknown = shares[-1] >= max(shares[:-1], default=0.0)
    lacking = sorted(
        {
            outlook.bench.lacks(book.fixes[rung.fix])
            for cause, share in zip(outlook.belief.net.causes[place], shares, strict=True)
            if cause and share >= 0.1
            for rung in book.causes[cause].ladder
        }
        - {"", "not possible here"}
    )
    refused = sorted(book.fixes[fix].name for fix in situation.not_possible)
    if unknown:
        reason = "Most likely something that is not in the book."
    elif lacking:
        reason = "What is left to do cannot be done here: " + ", ".join(lacking) + "."
    elif refused:
        reason = "It could not be done here: " + "; ".join(refused) + "."
    elif situation.repairs:
        reason = "The fixes worth trying here are used up and the complaint is still there."
    else:
        reason = "What is likely costs more to try here than to give away."
    stop = judge_ride(book, situation, outlook.conclusions, outlook.belief).verdict in ("stop", "not-cleared")
    where = book.complaints[complaint].where
    return HandOff("workshop", "before riding" if stop else "soon", reason, {}, where)
