"""One situation reasoned through: what follows, what is likely, may it be ridden, what comes next, and the plan.

Cast: `diagnose(reasoner, situation)` gives a `Diagnosis`. Start reading here.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence, Set
from copy import copy
from dataclasses import replace
from functools import cached_property
from typing import NamedTuple

from diagnose.book.conditions import may_hold
from diagnose.book.model import Book, Check, Deduction, HandOff
from diagnose.reason.ask import Adviser
from diagnose.reason.belief import Belief, believe, cured_by
from diagnose.reason.conclude import Conclusion, Conclusions, before_riding, conclude, outstanding
from diagnose.reason.facts import facts_of_step, facts_wanted, fits
from diagnose.reason.option import Next, Option, take
from diagnose.reason.outlook import Outlook
from diagnose.reason.plan import CalledHandOff, PlanItem, called_by, hand_offs, make_plan
from diagnose.reason.reasoner import Reasoner
from diagnose.reason.ride import ARRIVAL, COMPLAINT, Ride, judge_ride, unseen_since_arrival
from diagnose.reason.situation import Situation
from diagnose.reason.workbench import Bench, mean_minutes

AT_HAND = 4.0
"""Minutes of work up to which what was seen on a round, and stops the ride, is put right before the round goes on."""
TOO_OFTEN = 2
"""Comebacks with the same complaint at which it is handed on."""
EXPERIENCED = "experienced"
"""The class of hand-off for that, where the book has it."""
AT_ONCE = frozenset({"complaint", "arrival"})
"""What is known before any fact of the bike is asked for."""
RECENT = "recent-work"
"""The fact that says what was done to it, or happened to it, lately."""
CAME_BACK = (
    "It came back a second time: two repairs did not hold. The most experienced mechanic takes it on: end it as handed "
    "on, and open it again."
)

READS_OUTSIDE = (
    "Outside the range of the book: {finding}, {typed}. Other eyes or another gauge, before anything is decided by it."
)


class Diagnosis:
    """A situation and all that reasoning makes of it. Each part is worked out when it is first asked for.

    `extras` are the deductions that say what is to be done anyway, and whose fixes are not done yet. `outlook` is None
    where the job is over.
    """

    def __init__(self, reasoner: Reasoner, situation: Situation) -> None:
        self.book = book = reasoner.book
        self._reasoner = reasoner
        self.situation = situation
        self.conclusions = conclude(book, reasoner.chainer, situation)
        self.belief: Belief = believe(book, situation, self.conclusions)
        self.extras = outstanding(book, reasoner.chainer, situation, self.conclusions)
        over = situation.ended or not situation.standing
        self.outlook = None if over else Outlook(book, situation, self.conclusions, self.belief, self.extras)
        self._escalated = situation.comebacks >= TOO_OFTEN
        self._forced = "" if self.outlook is None else forced_hand_off(self.conclusions, self.outlook)

    @property
    def stopped(self) -> bool:
        """Whether what was seen ends the job here, whatever else the bike may have."""
        return bool(self._forced)

    def asking(self, step: Next) -> Diagnosis:
        """The same, where this is asked next."""
        other = copy(self)
        other.__dict__["next"] = step
        return other

    @cached_property
    def _adviser(self) -> Adviser | None:
        return None if self.outlook is None else Adviser(self.outlook, self._reasoner.depth)

    @cached_property
    def options(self) -> list[Option]:
        """What could come next, best first; nothing where the job is over."""
        return self._adviser.options() if self._adviser else []

    @cached_property
    def next(self) -> Next:
        """What to do next."""
        adviser = self._adviser
        if adviser is None:
            return self._last_step()
        if self._escalated:
            return Next("hand-off", "hand-off", lambda: (adviser.scales.hand_off(), None))
        if self._forced:
            return Next(
                "hand-off",
                "hand-off",
                lambda: (adviser.scales.hand_off(), adviser.choose().weigh()[0]),
                demanded_by=self._forced,
            )
        outlook = adviser.outlook
        must = must_do(adviser.book, outlook.bench, self.extras, outlook.left_out)
        return _or_must(adviser, adviser.choose(), must)

    @cached_property
    def in_a_round(self) -> tuple[str, ...]:
        """The complaints amid whose round of looks this fix comes: that it holds does not say that all else is well."""
        if self.next.kind != "fix" or self._adviser is None or self._adviser.demand is None:
            return ()
        return tuple(one for one in self.situation.standing if self._reasoner.book.complaints[one].stands_back)

    def _last_step(self) -> Next:
        """Every repeat test has passed: what must be done anyway, what must be looked at before riding, the end.

        Where what was seen since calls for not riding, or anything for somebody else before that, it is a hand-off.
        """
        book, situation, conclusions = self._reasoner.book, self.situation, self.conclusions
        if situation.ended:
            return self._end("done")
        forced = forced_hand_off(conclusions)
        again = _look_again(book, situation, conclusions)
        if forced and not again:
            return self._end("hand-off", forced)
        bench = Bench(book, situation)
        if must := must_do(book, bench, self.extras, bench.in_vain):
            one = book.fixes[must.fix]
            return take(Option("fix", one.id, mean_minutes(one.low, one.high), 0.0, (one.id,)), demanded_by=must.why)
        unseen = next(
            ((one, why.deduction.id) for why, one in unseen_since_arrival(book, situation, conclusions)), None
        )
        if look := _look_before_riding(book, situation, [*conclusions.fired, *self.extras]) or unseen or again:
            check, why = look
            return take(Option("check", check.id, check.minutes + book.constants.asking, 0.0), demanded_by=why)
        seen = conclusions.seen_dangers() & {answer.finding for answer in situation.fresh}
        return self._end("hand-off" if seen and self.ride.verdict == "stop" else "done", forced)

    def _end(self, kind: str, demanded_by: str = "") -> Next:
        """The end of a job whose complaints are gone, with what was found."""
        return take(Option(kind, kind, 0.0, 0.0), demanded_by=demanded_by, found=_found(self._reasoner, self.situation))

    @cached_property
    def ride(self) -> Ride:
        """May it be ridden."""
        adviser = self._adviser
        pending = adviser is not None and not (self._escalated or self._forced) and adviser.demand is not None
        book = self._reasoner.book
        return judge_ride(book, self.situation, self.conclusions, self.belief, pending, self.extras)

    @cached_property
    def plan(self) -> tuple[PlanItem, ...]:
        """The fixes in order, from what comes next on."""
        step = self.next
        if self.outlook is not None:
            return make_plan(self.outlook, step.with_fixes if step.kind == "fix" else ())
        if step.kind != "fix":
            return ()
        fix = self._reasoner.book.fixes[step.id]
        return (PlanItem(fix.id, 0, (), 0.0, (), (fix.low, fix.high)),)

    @cached_property
    def hand_offs(self) -> tuple[CalledHandOff, ...]:
        """To whom it is handed on, and why."""
        if self.situation.ended == "handed-off":
            return Diagnosis(self._reasoner, replace(self.situation, ended=None)).hand_offs
        return (*self._called, *_read_outside(self._reasoner.book, self.situation, self.ride))

    @cached_property
    def _called(self) -> tuple[CalledHandOff, ...]:
        chosen = self.next.kind == "hand-off"
        if self.outlook is None:
            return self._at_the_end(chosen)
        called = hand_offs(self.outlook, chosen)
        if self._escalated:
            return (CalledHandOff(_to_the_experienced(self.outlook, self.ride), "hand-off"), *called)
        if chosen and not (self._forced or _given_away(self.outlook)):
            return self._left_of_a_round(called) or (CalledHandOff(_spent(self.outlook), "hand-off"), *called)
        return called

    def _left_of_a_round(self, called: Sequence[CalledHandOff]) -> tuple[CalledHandOff, ...]:
        """What a round leaves that keeps the bike from being ridden, where all that was put right in it holds.

        It goes away for that, and not for what was put right. Empty where no round is made, or a fix did not hold.
        """
        book, situation = self._reasoner.book, self.situation
        in_a_round = all(book.complaints[one].stands_back for one in situation.standing)
        if not (in_a_round and situation.repairs and all(one.better for one in situation.repairs)):
            return ()
        reasons = dict.fromkeys(
            one.text
            for one in self.ride.because
            if one.id in book.deductions and book.deductions[one.id].danger == "stop"
        )
        where = book.complaints[situation.standing[0]].where
        given = (HandOff("workshop", "before riding", reason, {}, where) for reason in reasons)
        held = {fix for one in situation.repairs for fix in one.fixes}
        others = [one for one in called if not any(cured_by(book, one.because, fix) for fix in held)]
        return (*(CalledHandOff(one, "hand-off") for one in given), *others) if reasons else ()

    def _at_the_end(self, chosen: bool) -> tuple[CalledHandOff, ...]:
        """What calls for somebody else though the complaints are gone; `chosen`: it is not to be ridden before."""
        called = called_by(self.conclusions)
        if not chosen or any(one.hand_off.urgency == "before riding" for one in called):
            return called
        where = self._reasoner.book.complaints[self.situation.complaints[0]].where
        reasons = dict.fromkeys(one.text for one in self.ride.because)
        given = (HandOff("workshop", "before riding", reason, {}, where) for reason in reasons)
        return (*(CalledHandOff(one, "hand-off") for one in given), *called)

    @cached_property
    def wanted(self) -> tuple[str, ...]:
        """Facts of the bike to ask for now; none where it ends here, or where a look may end it at once.

        Where something is to be put right before all else, only what the next step hangs on; where all is put right,
        what the last looks hang on.
        """
        if self._forced or self.situation.ended:
            return ()
        book, situation, step = self._reasoner.book, self.situation, self.next
        if self.outlook is None:
            return () if step.kind == "hand-off" else self._asked_last()
        if ends_at_once(book, step):
            return ()
        check, fixes = (step.id, ()) if step.kind == "check" else (None, step.with_fixes)
        of_step = facts_of_step(book, situation, check, fixes)
        must = must_do(book, self.outlook.bench, self.extras, self.outlook.left_out)
        as_it_stands = _as_it_stands(book, step)
        if (
            (must is not None and must.first)
            or as_it_stands is not None
            or _seen_on_arrival(book, step)
            or _asked_before_the_bike(book, step)
            or _danger_before_the_other(book, situation, step)
        ):
            of_step += as_it_stands or ()
            return tuple(one for one in facts_wanted(book, situation, self.belief, of_step) if one in of_step)
        called_for = [fact for one in self.conclusions.fired for fact in one.deduction.ask]
        return facts_wanted(book, situation, self.belief, [*called_for, *of_step])

    def _asked_last(self) -> tuple[str, ...]:
        """Facts that nothing else hangs on than what must be seen before the bike is ridden."""
        book, situation = self._reasoner.book, self.situation
        called_for = dict.fromkeys(fact for one in self.conclusions.fired for fact in one.deduction.ask_last)
        known = {*situation.profile, *situation.asked}
        return tuple(one for one in called_for if one not in known and fits(book.facts[one], situation))


def diagnose(reasoner: Reasoner, situation: Situation) -> Diagnosis:
    """Reason a situation through."""
    return Diagnosis(reasoner, situation)


def _look_before_riding(book: Book, situation: Situation, fired: Iterable[Conclusion]) -> tuple[Check, str] | None:
    """The first check that must be made before riding and was not asked since it was touched, and what says so."""
    asked = {answer.check for answer in situation.answers if not answer.stale}
    told = {answer.finding for answer in situation.fresh}
    for conclusion, name in before_riding(fired):
        check = book.checks[name]
        open_here = name not in asked and check.finding not in told and not situation.bars(check)
        fits = all(may_hold(one, situation.profile) for one in (check.applies, book.findings[check.finding].applies))
        if open_here and fits:
            return check, conclusion.deduction.id
    return None


def _look_again(book: Book, situation: Situation, conclusions: Conclusions) -> tuple[Check, str] | None:
    """A check that showed a danger before the repair that helped: whether it still does is looked at, once."""
    shown = {one.finding: one for one in situation.fresh if one.told_after < len(situation.repairs)}
    for conclusion in conclusions.fired:
        if conclusion.deduction.danger == "stop":
            for key, value in conclusion.matched:
                answer = shown.get(key)
                check = book.checks[answer.check] if answer and answer.value == value else None
                if check and not situation.bars(check):
                    return check, conclusion.deduction.id
    return None


def _found(reasoner: Reasoner, situation: Situation) -> tuple[str, ...]:
    """For each complaint that is gone the likeliest cause that its fix cures, by what was concluded before the test.

    Before it what a fix cured that made it better: there were two faults, and both are told.
    """
    found: dict[str, None] = {}
    for complaint in situation.complaints:
        place = next((k for k, one in enumerate(situation.repairs) if one.results.get(complaint)), None)
        if place is None:
            continue
        for k, one in enumerate(situation.repairs[: place + 1]):
            if k == place or complaint in one.better:
                before, tested = _as_of(situation, k, k), _as_of(situation, k, k + 1 if k == place else k)
                conclusions = conclude(reasoner.book, reasoner.chainer, before)
                belief = believe(reasoner.book, tested, conclusions)
                found.update(dict.fromkeys(_likeliest_treated(reasoner.book, belief, complaint, one.fixes)))
    return tuple(found)


def _likeliest_treated(book: Book, belief: Belief, complaint: str, fixes: tuple[str, ...]) -> tuple[str, ...]:
    """The likeliest cause of a complaint that these fixes cure, if they cure any."""
    causes = belief.net.causes[belief.net.complaints.index(complaint)]
    treated = [
        (share, name)
        for name, share in zip(causes, belief.marginal(complaint), strict=True)
        if name and any(cured_by(book, name, fix) for fix in fixes)
    ]
    return (max(treated)[1],) if treated else ()


def _as_of(situation: Situation, place: int, repairs: int) -> Situation:
    """The situation as it was at the repair at this place, with so many tried: what it disturbed still counts."""
    answers = tuple(
        replace(one, stale=False, disturbed_by=-1) if one.disturbed_by >= place else one for one in situation.answers
    )
    return replace(situation, repairs=situation.repairs[:repairs], answers=answers)


class Must(NamedTuple):
    """A fix that must be done whatever the complaint is, what says so, and whether it comes before the checks too."""

    fix: str
    why: str
    first: bool


def must_do(book: Book, bench: Bench, extras: tuple[Conclusion, ...], in_vain: Set[str]) -> Must | None:
    """The first of them that can be done here; those that come before the checks are ahead of the others.

    What one of them includes comes after it, and is done with it. What was done before the bike came, `in_vain`, is not
    done again for the order of the search alone. Of several complaints the one that must not be ridden comes first:
    before the works of the others, and before they are looked into at all.
    """
    situation, done = bench.situation, book.with_included(bench.situation.done)
    several = len(situation.standing) > 1
    waiting: list[Must] = []
    held: set[str] = set()
    for conclusion in extras:
        danger = several and conclusion.deduction.danger == "stop" and not conclusion.from_rider
        for one in conclusion.deduction.also:
            if one.fix in in_vain and one.level == "must first" and _for_the_order(conclusion.deduction):
                continue
            if one.level.startswith("must") and one.fix not in done and not bench.lacks(book.fixes[one.fix]):
                waiting.append(Must(one.fix, conclusion.deduction.id, one.level == "must first"))
                held |= _treated(book, situation, one.fix) if danger else set()
    parts = {part for one in waiting for part in book.included.get(one.fix, ())}

    def elsewhere(one: Must) -> bool:
        return bool(held) and held.isdisjoint(_treated(book, situation, one.fix))

    if not waiting:
        return None
    must = min(waiting, key=lambda one: (elsewhere(one), not one.first, one.fix in parts))
    return must._replace(first=must.first or bool(held))


def _treated(book: Book, situation: Situation, fix: str) -> set[str]:
    """The complaints that stand and of which a cause is put right by a fix."""
    return {
        name for name in situation.standing if any(r.fix == fix for cause in book.causes_of[name] for r in cause.ladder)
    }


def _for_the_order(deduction: Deduction) -> bool:
    """Whether a deduction puts a fix first for one complaint's sake, and no danger is in it."""
    return not deduction.danger and any(when.key == "complaint" for when in deduction.when)


def _or_must(adviser: Adviser, step: Next, must: Must | None) -> Next:
    """Before the first fix comes one that must be done whatever the complaint is.

    Where it is to come first, it comes before checks too, but for those that guard a danger. On a round what stops the
    ride and takes a minute or two comes before those as well: a wheel that is not held is closed, and then gone on.
    """
    book = adviser.book
    if must is None:
        return step
    cost = adviser.outlook.bench.work(book.fixes[must.fix])
    in_a_round = any(book.complaints[one].stands_back for one in adviser.outlook.situation.standing)
    at_once = in_a_round and cost <= AT_HAND and book.deductions[must.why].danger == "stop"
    waits = at_once or _of_another(adviser, step, must)
    before_check = step.kind == "check" and (waits or not book.checks[step.id].danger)
    if not (step.kind == "fix" or (must.first and before_check)):
        return step
    return take(Option("fix", must.fix, cost, step.expected, (must.fix,)), step.weigh()[0], must.why)


def _of_another(adviser: Adviser, step: Next, must: Must) -> bool:
    """Whether a look is for a danger that only another complaint has, while one that was seen holds the bike anyway.

    It is made once that is put right.
    """
    book, situation = adviser.book, adviser.outlook.situation
    treated = _treated(book, situation, must.fix)
    if book.deductions[must.why].danger != "stop" or not treated or step.demanded_by not in book.causes:
        return False
    return not any(cause.id == step.demanded_by for one in treated for cause in book.causes_of[one])


def forced_hand_off(conclusions: Conclusions, outlook: Outlook | None = None) -> str:
    """A deduction that says: stop here, before riding, somebody else.

    What the bike's facts alone call for waits while a rule that hands it on wants a look first.
    """
    book = outlook.book if outlook is not None and _looked_at_first(outlook) else None
    for conclusion, hand_off in conclusions.hand_offs():
        waits = book is not None and _of_the_bike_alone(book, conclusion.deduction)
        if hand_off.urgency == "before riding" and not conclusion.from_rider and not waits:
            return conclusion.deduction.id
    return ""


def _looked_at_first(outlook: Outlook) -> bool:
    """Whether a look is open that a rule wants first and then hands the bike on, whatever it shows."""
    for one in outlook.conclusions.fired:
        rule = one.deduction
        for name in rule.demand[: rule.first] if rule.hand_off else ():
            check = outlook.book.checks[name]
            if outlook.can_do(check) and not outlook.met(check):
                return True
    return False


def _of_the_bike_alone(book: Book, rule: Deduction) -> bool:
    """Whether nothing that was looked at is behind a rule: the bike as it was told, and its complaint."""
    return all(when.key == COMPLAINT or when.key in book.facts for when in rule.when)


def ends_at_once(book: Book, step: Next) -> bool:
    """Whether a look that the complaint alone demands may call for a hand-off by itself, whatever the bike is."""
    rule = book.deductions.get(step.demanded_by)
    if step.kind != "check" or rule is None or not book.checks[step.id].danger:
        return False
    finding = book.checks[step.id].finding
    return {when.key for when in rule.when} <= AT_ONCE and any(
        one.hand_off and one.hand_off.urgency == "before riding" and {when.key for when in one.when} == {finding}
        for one in book.deductions.values()
    )


def _seen_on_arrival(book: Book, step: Next) -> bool:
    """Whether a danger noticed in the walk round, or what happened to it, calls for this look, or how it stands here.

    It is made before the bike is asked about.
    """
    rule = book.deductions.get(step.demanded_by)
    if step.kind != "check" or rule is None:
        return False
    keys = {when.key for when in rule.when}
    if ARRIVAL in keys and step.id in rule.demand[: rule.first]:
        return True
    return book.checks[step.id].danger and (ARRIVAL in keys or (RECENT in keys and keys <= {RECENT, *AT_ONCE}))


def _as_it_stands(book: Book, step: Next) -> tuple[str, ...] | None:
    """What a rule asks of the bike that wants this look first because of what is off it; None where no such rule does.

    What else is to be known of the bike waits for what the look shows: it may end the job.
    """
    rule = book.deductions.get(step.demanded_by)
    if step.kind != "check" or rule is None or step.id not in rule.demand[: rule.first]:
        return None
    return rule.ask if any(when.key in book.facts and book.facts[when.key].off for when in rule.when) else None


def _asked_before_the_bike(book: Book, step: Next) -> bool:
    """Whether a rule wants one question to the rider before all else: of the bike only what still counts is asked."""
    rule = book.deductions.get(step.demanded_by)
    if step.kind != "check" or rule is None:
        return False
    check = book.checks[step.id]
    return rule.demand[: rule.first] == (step.id,) and check.by == "rider" and not check.danger


def _danger_before_the_other(book: Book, situation: Situation, step: Next) -> bool:
    """Whether a danger is put right before another complaint is looked into: what that one asks of the bike waits."""
    rule = book.deductions.get(step.demanded_by)
    return step.kind == "fix" and rule is not None and rule.danger == "stop" and len(situation.standing) > 1


def _given_away(outlook: Outlook) -> bool:
    """Whether the likeliest cause is one that nobody mends at a stand."""
    for complaint in outlook.situation.standing:
        causes = outlook.belief.net.causes[outlook.belief.net.complaints.index(complaint)]
        shares = outlook.belief.marginal(complaint)
        name = causes[shares.index(max(shares))]
        if name and outlook.book.causes[name].hand_off:
            return True
    return False


def _read_outside(book: Book, situation: Situation, ride: Ride) -> Iterator[CalledHandOff]:
    """Other eyes, or another gauge, for each reading that the book has no place for, until its finding is told."""
    told = {one.finding for one in situation.fresh}
    receiver = EXPERIENCED if EXPERIENCED in book.receivers else "workshop"
    urgency = "before riding" if ride.verdict in ("stop", "not-cleared") else "soon"
    for one in situation.answers:
        if one.outside and not one.stale and one.finding not in told:
            reason = READS_OUTSIDE.format(finding=book.findings[one.finding].name, typed=one.typed)
            hand_off = HandOff(receiver, urgency, reason, {}, book.complaints[situation.complaints[0]].where)
            yield CalledHandOff(hand_off, "hand-off")


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
