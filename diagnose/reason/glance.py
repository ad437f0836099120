"""What a situation comes to in short: the ride verdict and the first thing to put right, without weighing questions.

Cast: `glance` gives a `Glance`; two situations with equal glances lead to the same doing. `after` is a situation with
one more answer, `with_fact` one with a fact of the bike.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace

from diagnose.book.model import Check
from diagnose.reason.belief import believe, build_net
from diagnose.reason.conclude import conclude, outstanding
from diagnose.reason.diagnosis import Must, forced_hand_off, must_do
from diagnose.reason.outlook import Outlook
from diagnose.reason.reasoner import Reasoner
from diagnose.reason.ride import Ride, judge_ride
from diagnose.reason.situation import Answer, Situation

HAND_OFF = ("hand-off",)


@dataclass(frozen=True, slots=True)
class Glance:
    """`verdict` is the ride verdict, `first` the fixes that the plan begins with, or the hand-off."""

    verdict: str
    first: tuple[str, ...]
    ride: Ride = field(compare=False)
    outlook: Outlook = field(compare=False)


def glance(reasoner: Reasoner, situation: Situation) -> Glance:
    """Look at a situation in which a complaint stands."""
    book = reasoner.book
    conclusions = conclude(book, reasoner.chainer, situation)
    belief = believe(book, situation, conclusions, build_net(book, situation, conclusions))
    extras = outstanding(book, reasoner.chainer, situation, conclusions)
    outlook = Outlook(book, situation, conclusions, belief)
    ride = judge_ride(book, situation, conclusions, belief, extras=extras)
    return Glance(ride.verdict, _first(outlook, must_do(book, outlook.bench, extras, outlook.left_out)), ride, outlook)


def _first(outlook: Outlook, must: Must | None) -> tuple[str, ...]:
    if forced_hand_off(outlook.conclusions, outlook):
        return HAND_OFF
    if must:
        return (must.fix,)
    here = outlook.here
    worth = outlook.value(here) < outlook.hand_off(here)
    return (outlook.first_fixes(here) if worth else ()) or HAND_OFF


def after(situation: Situation, check: Check, value: str | None) -> Situation:
    """The situation once this check was answered so, by whoever answers here."""
    kept = tuple(one for one in situation.answers if one.check != check.id or one.stale)
    return replace(situation, answers=(*kept, Answer(check.id, check.finding, value, situation.role)))


def with_fact(situation: Situation, fact: str, values: Iterable[str]) -> Situation:
    """The situation once this fact of the bike was told; no values: it could not be told."""
    told = tuple(values)
    profile = {**situation.profile, fact: told} if told else situation.profile
    return replace(situation, profile=profile, asked=situation.asked | {fact})
