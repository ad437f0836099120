"""Causes that no set of answers brings to the top.

Cast: `NeverOnTop`; `best_case` gives the belief after the answers that speak most for a cause; `Fields` has what every
cause of a complaint on one bike shares.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import chain, combinations
from math import log
from operator import mul

from diagnose.book.anomalies.anomaly import Anomaly, Example, Found, Study
from diagnose.book.conditions import may_hold
from diagnose.book.model import Book, Cause
from diagnose.reason.belief import Net, build_net
from diagnose.reason.conclude import conclude, trust_in
from diagnose.reason.reasoner import Reasoner
from diagnose.reason.situation import Situation
from diagnose.reason.table import Chances, report_chance

NOTHING = 1e-12
"""Stands for a chance of nothing where a logarithm is taken."""
TRIFLE = 1e-9
"""A lead that grows by less does not grow."""
ROOM = 250
"""Up to so many answers of a complaint are changed two at once: the work grows with the cube of their number."""


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
        fields = Fields(Reasoner(book))
        for cause in book.causes.values():
            for complaint in cause.shares:
                shares = best_case(fields, cause, complaint)
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


class _Field:
    """The causes of a complaint on one bike, and what each report says of them."""

    def __init__(self, book: Book, net: Net, situation: Situation) -> None:
        self.names = [name or "" for name in net.causes[0]]
        self.prior = list(net.prior)
        self.reports: list[list[list[float]]] = []
        """For each finding its reports, each with its chance under every cause; the last one is no answer."""
        for finding, trust in _told(book, net, situation):
            speaking, otherwise = net.rows[finding], net.otherwise[finding]
            unsaid = _reported(otherwise, otherwise, trust)
            rows = [_reported(speaking[name], otherwise, trust) if name in speaking else unsaid for name in self.names]
            self.reports.append([*map(list, zip(*rows, strict=True)), [1.0] * len(rows)])


class Fields:
    """The field of each complaint and bike, made once."""

    def __init__(self, reasoner: Reasoner) -> None:
        self.reasoner = reasoner
        self._made: dict[tuple[str, tuple[tuple[str, tuple[str, ...]], ...]], _Field] = {}

    def of(self, cause: Cause, complaint: str) -> _Field:
        """The field on the bike that a cause likes best."""
        book = self.reasoner.book
        situation = Situation((complaint,), best_profile(book, cause, complaint))
        key = (complaint, tuple(sorted(situation.profile.items())))
        if key not in self._made:
            net = build_net(book, situation, conclude(book, self.reasoner.chainer, situation))
            self._made[key] = _Field(book, net, situation)
        return self._made[key]


def best_case(fields: Fields, cause: Cause, complaint: str) -> dict[str, float]:
    """The shares of a complaint's causes ("" is *something else*) after the answers that speak most for one of them.

    Each finding is told by its best mechanic's check, or not at all. The answers are first taken one after the other,
    each as far as it speaks against the others as they stand then. Where that leaves another on top, they are changed
    one by one as long as the lead grows, from there and from the answers that speak most against each other cause; at
    last two at once, unless a complaint has so many answers that this takes minutes.
    """
    field = fields.of(cause, complaint)
    if cause.id not in field.names:
        return dict(zip(field.names, field.prior, strict=True))
    search = _Search(field, field.names.index(cause.id))
    return dict(zip(field.names, search.best(), strict=True))


class _Search:
    """Looks for the answers that put one cause (by its place) on top."""

    def __init__(self, field: _Field, place: int) -> None:
        self.place = place
        self.prior = field.prior
        self.reports = field.reports

    def best(self) -> list[float]:
        """The shares after the best answers found."""
        picked = self._one_after_the_other()
        shares = self._after(picked)
        if shares[self.place] >= max(shares):
            return shares
        starts = [picked, *(self._against(other) for other in range(len(shares)) if other != self.place)]
        ends = [self._climb(start, at_once=1) for start in starts]
        best = max(ends, key=lambda end: self._lead(self._after(end)))
        return self._after(self._climb(best, at_once=2 if sum(map(len, self.reports)) <= ROOM else 1))

    def _after(self, picked: Sequence[int]) -> list[float]:
        weights = list(self.prior)
        for reports, answer in zip(self.reports, picked, strict=True):
            weights = _shares(map(mul, weights, reports[answer]))
        return weights

    def _lead(self, shares: Sequence[float]) -> float:
        others = max((share for at, share in enumerate(shares) if at != self.place), default=0.0)
        return log(max(shares[self.place], NOTHING)) - log(max(others, NOTHING))

    def _one_after_the_other(self) -> list[int]:
        picked, weights = [], list(self.prior)
        for reports in self.reports:
            answer = max(range(len(reports)), key=lambda one: self._speaks(reports[one], weights))
            picked.append(answer)
            weights = _shares(map(mul, weights, reports[answer]))
        return picked

    def _speaks(self, report: Sequence[float], weights: Sequence[float]) -> float:
        """How much a report speaks for the cause against all others as they stand."""
        own, place = weights[self.place], self.place
        against = sum(map(mul, weights, report)) - own * report[place]
        return log(max(report[place], NOTHING)) - log(max(against / max(sum(weights) - own, NOTHING), NOTHING))

    def _against(self, other: int) -> list[int]:
        """The answers that speak most for the cause against one other."""

        def ratio(report: Sequence[float]) -> float:
            return log(max(report[self.place], NOTHING)) - log(max(report[other], NOTHING))

        return [max(range(len(reports)), key=lambda one: ratio(reports[one])) for reports in self.reports]

    def _climb(self, picked: list[int], at_once: int) -> list[int]:
        """Change so many answers at once, or fewer, as long as the lead grows."""
        lead = self._lead(self._after(picked))
        grew = True
        while grew:
            grew = False
            for changed in self._near(picked, at_once):
                found = self._lead(self._after(changed))
                if found > lead + TRIFLE:
                    picked, lead, grew = changed, found, True
                    break
        return picked

    def _near(self, picked: list[int], at_once: int) -> Iterator[list[int]]:
        """The same answers but for one, then but for two where two may be changed."""
        every = [(at, answer) for at, reports in enumerate(self.reports) for answer in range(len(reports))]
        for changes in chain.from_iterable(combinations(every, count) for count in range(1, at_once + 1)):
            changed = list(picked)
            for at, answer in changes:
                changed[at] = answer
            yield changed


def _shares(weights: Iterable[float]) -> list[float]:
    """Weights scaled to 1; as they are where nothing is left."""
    kept = list(weights)
    total = sum(kept)
    return [weight / total for weight in kept] if total > 0 else kept


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


def _reported(row: Chances, otherwise: Chances, trust: float) -> list[float]:
    """For each report on a finding its chance under a row."""
    values = range(len(row))
    return [sum(row[v] * report_chance(v, told, trust, otherwise) for v in values) for told in values]
