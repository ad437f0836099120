"""Causes that no set of answers brings to the top.

Cast: `NeverOnTop`; `best_case` gives the belief after the answers, finding by finding, that speak most for a cause.
"""

from __future__ import annotations

from collections.abc import Iterator
from math import log

from diagnose.book.anomalies.anomaly import Anomaly, Example, Found, Study
from diagnose.book.conditions import may_hold
from diagnose.book.model import Book, Cause
from diagnose.reason.belief import Net, build_net, report_chance
from diagnose.reason.conclude import conclude, trust_in
from diagnose.reason.reasoner import Reasoner
from diagnose.reason.situation import Situation

NOTHING = 1e-12
"""Stands for a chance of nothing where a logarithm is taken."""


class NeverOnTop(Anomaly):
    """A cause that stays below another one, or below *something else*, even if every answer speaks for it."""

    name = "cause.never-on-top"
    why = "Nobody will ever be told that it is this; its bikes get another cause's fix."
    wrong = Example(
        "front/causes/race-loose.yaml",
        """
name: "crown race loose"
in_short: "The lower race turns on the fork."
common_for: {front-knock: 1 in 100}
basis: memory
shows:
  play-at-headset: {clear: very likely}
danger: none
hand_off: {class: frame-builder, urgency: soon, reason: "The seat is cut anew."}
""",
    )
    right = Example(
        "front/causes/race-loose.yaml",
        """
name: "crown race loose"
in_short: "The lower race turns on the fork."
common_for: {front-knock: 4 in 100}
basis: memory
shows:
  play-at-headset: {clear: very likely}
  steering-feel: {smooth: almost certain}
  steerer-gap: {too-much: almost certain}
danger: none
hand_off: {class: frame-builder, urgency: soon, reason: "The seat is cut anew."}
""",
    )

    def find(self, study: Study) -> Iterator[Found]:
        """Report causes by complaint."""
        book = study.book
        reasoner = Reasoner(book)
        for cause in book.causes.values():
            for complaint in cause.shares:
                shares = best_case(reasoner, cause, complaint)
                best = max(shares, key=lambda name: shares[name])
                if best != cause.id:
                    owner = ("cause", cause.id)
                    above = f"'{best}'" if best else "*something else*"
                    message = (
                        f"'{cause.id}' never comes out on top of '{complaint}': with every answer for it,"
                        f" {above} still has {shares[best]:.0%} and it has {shares.get(cause.id, 0.0):.0%}"
                    )
                    hint = "Say in `shows:` what only it shows, raise its share, or take the share away."
                    others = (complaint, best) if best else (complaint,)
                    yield Found(study.place(owner, "common_for", complaint), message, hint, owner, others)


def best_case(reasoner: Reasoner, cause: Cause, complaint: str) -> dict[str, float]:
    """The shares of a complaint's causes ("" is *something else*) once every finding has spoken most for one of them.

    Each finding is told by its best mechanic's check, the answers are taken one after the other.
    """
    book = reasoner.book
    situation = Situation((complaint,), best_profile(book, cause, complaint))
    net = build_net(book, situation, conclude(book, reasoner.chainer, situation))
    names = [name or "" for name in net.causes[0]]
    weights = list(net.prior)
    if cause.id not in names:
        return dict(zip(names, weights, strict=True))
    place = names.index(cause.id)
    for finding, trust in _told(book, net, situation):
        rows = [_reported(net, finding, name, trust) for name in net.causes[0]]
        answer = max(range(len(rows[0])), key=lambda value: _speaks(rows, weights, place, value))
        weights = [weight * row[answer] for weight, row in zip(weights, rows, strict=True)]
        total = sum(weights)
        weights = [weight / total for weight in weights]
    return dict(zip(names, weights, strict=True))


def best_profile(book: Book, cause: Cause, complaint: str) -> dict[str, tuple[str, ...]]:
    """A bike that the cause applies to, with what deductions on the profile say makes it likelier."""
    profile = {fact: values[:1] for fact, values in cause.applies.items()}
    for deduction in book.deductions.values():
        if deduction.likelier.get(cause.id, 1.0) <= 1 and cause.id not in deduction.rule_in:
            continue
        whens = {when.key: when.any_of for when in deduction.when}
        if not set(whens) <= {*book.facts, "complaint"} or complaint not in whens.pop("complaint", (complaint,)):
            continue
        if all(fact not in profile or set(profile[fact]) & set(values) for fact, values in whens.items()):
            profile.update({fact: values[:1] for fact, values in whens.items() if fact not in profile})
    return profile


def _told(book: Book, net: Net, situation: Situation) -> Iterator[tuple[str, float]]:
    """The findings that some cause speaks to and such a bike takes a check on, with the trust in the best one."""
    for finding in net.rows:
        seen = book.findings[finding]
        if may_hold(seen.applies, situation.profile):
            checks = [check for check in seen.checks if may_hold(check.applies, situation.profile)]
            if checks:
                yield finding, max(trust_in(book, check, "mechanic") for check in checks)


def _reported(net: Net, finding: str, name: str | None, trust: float) -> list[float]:
    """For each report on a finding its chance under a cause."""
    otherwise = net.otherwise[finding]
    row = net.rows[finding].get(name or "", otherwise)
    values = range(len(row))
    return [sum(row[v] * report_chance(v, told, trust, otherwise) for v in values) for told in values]


def _speaks(rows: list[list[float]], weights: list[float], place: int, value: int) -> float:
    """How much a report speaks for one cause against all others as they stand."""
    against = sum(w * row[value] for at, (w, row) in enumerate(zip(weights, rows, strict=True)) if at != place)
    rest = sum(weights) - weights[place]
    return log(max(rows[place][value], NOTHING)) - log(max(against / max(rest, NOTHING), NOTHING))
