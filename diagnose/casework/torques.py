"""The joints that work has touched, to be set with the wrench in hand and signed for.

Cast: `joints` gives each once, with its limit; `Joint.instead` says that the bike has it instead of the one before it,
`Joint.perhaps` that it may have neither.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

from diagnose.book.conditions import may_hold
from diagnose.book.model import Book, Limit
from diagnose.reason.situation import Situation

TORQUE = "N.m"


class Joint(NamedTuple):
    """The limit of a joint.

    `instead`: the bike has this joint or the one listed before it, or the work touched one of the two.
    `perhaps`: by what was told it may have none of them: an axle that nobody asked for may be a quick release.
    """

    limit: Limit
    instead: bool
    perhaps: bool


def joints(book: Book, situation: Situation, fixes: Iterable[str]) -> list[Joint]:
    """The joints of these fixes, each once, those that stand for each other side by side.

    What this bike cannot have is left out. A joint that one of the fixes names without the others stands by itself.
    """
    by_fix = [_groups(_of_fix(book, situation, fix)) for fix in dict.fromkeys(fixes)]
    alone = {group[0].id for groups in by_fix for group in groups if len(group) == 1}
    every = {limit.id: limit for groups in by_fix for group in groups for limit in group}
    return [
        Joint(limit, bool(place) and limit.id not in alone, _may_have_none(book, situation, group))
        for group in _groups(every.values())
        for place, limit in enumerate(group)
    ]


def _of_fix(book: Book, situation: Situation, fix: str) -> list[Limit]:
    named = dict.fromkeys(name for step in book.fixes[fix].steps if situation.takes(step) for name in step.limits)
    limits = [book.limits[name] for name in named]
    return [one for one in limits if one.unit == TORQUE and may_hold(one.applies, situation.profile)]


def _may_have_none(book: Book, situation: Situation, group: list[Limit]) -> bool:
    """Whether a fact that nobody told has a value with which the bike has none of these."""
    asked = {fact for limit in group for fact in limit.applies if fact not in situation.profile}
    return any(
        all(fact in limit.applies and value not in limit.applies[fact] for limit in group)
        for fact in asked
        for value in book.facts[fact].values
    )


def _groups(limits: Iterable[Limit]) -> list[list[Limit]]:
    """The limits, each with those that a bike has instead of it, in the order in which the first was named."""
    groups: dict[str, list[Limit]] = {}
    for one in limits:
        groups.setdefault(one.instead_of or one.id, []).append(one)
    return list(groups.values())
