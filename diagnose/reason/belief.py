"""How likely each cause is, given the profile, the answers and the fixes that failed: exact, over all complaints.

Cast: `Net` (causes, prior and rows under one profile) made by `build_net`; `Belief` (the weight of every joint state)
made by `believe`. For one complaint a state is one cause, or *something else*; for several it is one of these for each
complaint. A state's prior is the product of the shares, times the book's factor for each pair of complaints that one
cause explains.

What is reported is not the finding: belief sums over the finding's value, so that several reports on one finding
count once (`table`). What was told before a fix that did not help tells of the cause as before, until the finding is
looked at anew (`Situation.as_told`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations, product
from math import prod
from operator import getitem, mul

from diagnose.book.conditions import may_hold
from diagnose.book.model import Book, Cause
from diagnose.reason.conclude import Conclusions, single_answer_rule_outs, trust_in
from diagnose.reason.situation import Answer, Situation
from diagnose.reason.table import Chances, State, Table, kept_table, report_chance

CURED_BY_LUCK = 0.005
"""Chance that a fix ends a complaint whose cause it does not treat; keeps a repeat test that passed from ruling out
everything.
"""


@dataclass(frozen=True, slots=True)
class Net:
    """The causes of each complaint under one profile; the last of each list, None, is *something else*."""

    complaints: tuple[str, ...]
    causes: tuple[tuple[str | None, ...], ...]
    shares: tuple[tuple[float, ...], ...]
    states: tuple[State, ...]
    prior: tuple[float, ...]
    table: Table
    """What findings and reports come to under each state."""
    otherwise: dict[str, Chances]
    values: dict[str, tuple[str, ...]]

    @property
    def rows(self) -> dict[str, dict[str, Chances]]:
        """For every finding that a cause in the net speaks to, the rows of the causes that do."""
        return self.table.speaking

    def speakers(self, state: State) -> list[str]:
        """The different causes of a state."""
        named = (self.causes[place][index] for place, index in enumerate(state))
        return list(dict.fromkeys(name for name in named if name is not None))


def live_causes(book: Book, complaint: str, situation: Situation) -> list[Cause]:
    """The causes that a complaint can have on a bike of this profile, by id."""
    return [cause for cause in book.causes_of[complaint] if may_hold(cause.applies, situation.profile)]


def build_net(book: Book, situation: Situation, conclusions: Conclusions) -> Net:
    """Causes, prior and rows for the complaints of a situation."""
    lists = [live_causes(book, complaint, situation) for complaint in situation.complaints]
    shares = tuple(
        _shares(book, complaint, causes, conclusions)
        for complaint, causes in zip(situation.complaints, lists, strict=True)
    )
    names: tuple[tuple[str | None, ...], ...] = tuple((*(cause.id for cause in causes), None) for causes in lists)
    states = tuple(product(*(range(len(one)) for one in names)))
    raw = [prod(map(getitem, shares, state)) for state in states]
    if len({name for one in names for name in one}) < sum(map(len, names)) - len(names) + 1:  # a cause stands twice
        shared = book.constants.shared_cause
        raw = [weight * _bonus(state, names, shared) for state, weight in zip(states, raw, strict=True)]
    total = sum(raw)
    single = len(lists) == 1
    kept = [(state, weight / total) for state, weight in zip(states, raw, strict=True) if weight > 0 or single]
    kept_states = tuple(state for state, _ in kept)
    gone = single_answer_rule_outs(book, situation.profile, {name for one in names for name in one if name})
    return Net(
        complaints=situation.complaints,
        causes=names,
        shares=shares,
        states=kept_states,
        prior=tuple(weight for _, weight in kept),
        table=kept_table(book, names, kept_states, gone),
        otherwise=book.otherwise,
        values=book.values,
    )


def _shares(book: Book, complaint: str, causes: Sequence[Cause], conclusions: Conclusions) -> tuple[float, ...]:
    """Shares of one complaint: *something else* as stated, the rest among the causes by their weight."""
    unknown = book.complaints[complaint].something_else
    weights = [cause.shares[complaint].of_100 * conclusions.factors.get(cause.id, 1.0) for cause in causes]
    total = sum(weights)
    if total <= 0:
        return (*(0.0 for _ in causes), 1.0)
    return (*((1 - unknown) * weight / total for weight in weights), unknown)


def _bonus(state: State, names: tuple[tuple[str | None, ...], ...], shared: float) -> float:
    """How much likelier a state is by one cause that explains several complaints."""
    known = [name for name in map(getitem, names, state) if name is not None]
    pairs = sum(one == other for one, other in combinations(known, 2))
    return shared**pairs


class Belief:
    """The weight of every joint state, and what has been reported on each finding as it is now. Weights sum to 1."""

    __slots__ = ("messages", "net", "weights")

    def __init__(self, net: Net, weights: list[float], messages: dict[str, Chances]) -> None:
        self.net = net
        self.weights = weights
        self.messages = messages

    def rows(self, finding: str) -> list[Chances]:
        """For each state the row that the finding has under it."""
        return self.net.table.rows(finding)

    def marginal(self, complaint: str, weights: list[float] | None = None) -> list[float]:
        """The share of each cause of a complaint (last: *something else*), from the belief's own or other weights."""
        place = self.net.complaints.index(complaint)
        shares = [0.0] * len(self.net.causes[place])
        for state, weight in zip(self.net.states, self.weights if weights is None else weights, strict=True):
            shares[state[place]] += weight
        return shares

    def any_of(self, causes: set[str | None]) -> float:
        """The chance that at least one complaint has one of these causes."""
        meant = [[name in causes for name in names] for names in self.net.causes]
        return sum(
            weight
            for state, weight in zip(self.net.states, self.weights, strict=True)
            if any(map(getitem, meant, state))
        )


def likelihood(row: Chances, message: Chances) -> float:
    """The chance of the reports on a finding, summed over its values."""
    chance: float = sum(map(mul, row, message))
    return chance


def message_of(book: Book, answers: Sequence[Answer], otherwise: Chances, values: tuple[str, ...]) -> Chances:
    """For each value of a finding the chance of all that was reported on it."""
    message = [1.0] * len(values)
    for answer in answers:
        if answer.value is None:
            continue
        reported = values.index(answer.value)
        trust = trust_in(book, book.checks[answer.check], answer.by)
        message = [heard * report_chance(value, reported, trust, otherwise) for value, heard in enumerate(message)]
    return tuple(message)


def believe(book: Book, situation: Situation, conclusions: Conclusions, net: Net | None = None) -> Belief:
    """Belief after all that is known: prior, answers, rule-outs and rule-ins, what was done before and here."""
    net = net or build_net(book, situation, conclusions)
    told = _told_factors(book, situation, conclusions, net)
    tried = _Tried(book, situation, net)
    weights = list(net.prior)
    if any(factor != 1 for factors in (told.values(), *tried.chances) for factor in factors):
        weights = [
            weight * prod(told[name] for name in net.speakers(state)) * tried.chance(state)
            for state, weight in zip(net.states, weights, strict=True)
        ]
    messages = _messages(book, situation.as_told, net)
    now = {answer.finding for answer in situation.fresh}
    belief = Belief(net, weights, {finding: message for finding, message in messages.items() if finding in now})
    for finding, message in messages.items():
        rows = belief.rows(finding)
        weights = [weight * likelihood(row, message) for weight, row in zip(weights, rows, strict=True)]
    total = sum(weights)
    belief.weights = [weight / total for weight in weights] if total > 0 else _nothing_left(net)
    return belief


def _nothing_left(net: Net) -> list[float]:
    """Every known cause is excluded: all that remains is *something else*."""
    last = tuple(len(causes) - 1 for causes in net.causes)
    return [1.0 if state == last else 0.0 for state in net.states]


def _messages(book: Book, situation: Situation, net: Net) -> dict[str, Chances]:
    by_finding: dict[str, list[Answer]] = {}
    for answer in situation.fresh:
        by_finding.setdefault(answer.finding, []).append(answer)
    return {
        finding: message_of(book, answers, net.otherwise[finding], net.values[finding])
        for finding, answers in by_finding.items()
    }


def _told_factors(book: Book, situation: Situation, conclusions: Conclusions, net: Net) -> dict[str, float]:
    """For each cause the factor of rule-outs, rule-ins and what was done before."""
    return {
        name: conclusions.weighed.get(name, 1.0) * _already_factor(book, situation, name)
        for name in {name for causes in net.causes for name in causes if name is not None}
    }


Test = tuple[int, bool]
"""A repeat test: the place of the repair before it, and whether the complaint was gone."""


class _Tried:
    """What the repeat tests showed: the chance of it under each state."""

    def __init__(self, book: Book, situation: Situation, net: Net) -> None:
        self._book, self._situation, self._net = book, situation, net
        self._tests = [_tests_of(situation, complaint) for complaint in net.complaints]
        self.chances = [
            [_fix_factor(book, situation, tests, name) for name in names]
            for tests, names in zip(self._tests, net.causes, strict=True)
        ]
        """For each complaint and cause the chance of the tests of this complaint alone."""
        self._kept: dict[tuple[str, tuple[int, ...]], float] = {}

    def chance(self, state: State) -> float:
        """The chance of all tests: a cause is put right once, however many complaints it explains."""
        named = [self._net.causes[place][index] for place, index in enumerate(state)]
        chance = 1.0
        for place, name in enumerate(named):
            if name is None or named.count(name) == 1:
                chance *= self.chances[place][state[place]]
            elif named.index(name) == place:
                chance *= self._of_one_cause(name, tuple(k for k, one in enumerate(named) if one == name))
        return chance

    def _of_one_cause(self, cause: str, places: tuple[int, ...]) -> float:
        """The chance of the tests of several complaints of one cause, which may be there twice.

        Where it was put right for one complaint and is still there for another, it stands in two places of the bike:
        that one cause explains both is then no reason to think so.
        """
        key = (cause, places)
        if key not in self._kept:
            parts = _parted([self._tests[place] for place in places])
            pairs = sum(len(one) * len(other) for one, other in combinations(parts, 2))
            chances = [_fix_factor(self._book, self._situation, _as_one(part), cause) for part in parts]
            self._kept[key] = prod(chances) / self._book.constants.shared_cause**pairs
        return self._kept[key]


def _tests_of(situation: Situation, complaint: str) -> list[Test]:
    """The repeat tests of a complaint, the last of them the first that passed."""
    tests = [(place, one.results[complaint]) for place, one in enumerate(situation.repairs) if complaint in one.results]
    passed = next((count for count, (_, gone) in enumerate(tests, 1) if gone), len(tests))
    return tests[:passed]


def _parted(histories: Sequence[Sequence[Test]]) -> list[list[Sequence[Test]]]:
    """The tests of complaints that may have gone together, apart from those of others."""
    parts: list[list[Sequence[Test]]] = []
    for tests in histories:
        part = next(
            (part for part in parts if not any(_apart(tests, other) for other in part)),
            None,
        )
        if part is None:
            parts.append([tests])
        else:
            part.append(tests)
    return parts


def _apart(one: Sequence[Test], other: Sequence[Test]) -> bool:
    """Whether one of two complaints was still there when, or after, the other had gone."""
    still = [max((place for place, gone in tests if not gone), default=-1) for tests in (other, one)]
    return any(gone and place <= last for tests, last in zip((one, other), still, strict=True) for place, gone in tests)


def _as_one(histories: Sequence[Sequence[Test]]) -> list[Test]:
    """The tests of complaints that may have gone together: as of one that was tested whenever one of them was."""
    tests = sorted({test for tests in histories for test in tests})
    passed = next((count for count, (_, gone) in enumerate(tests, 1) if gone), len(tests))
    return tests[:passed]


def cured_by(book: Book, cause: str, fix: str) -> float:
    """The fraction of bikes with the cause that are well after the fix or any rung before; 0 when it treats it not."""
    return book.cured.get((cause, fix), 0.0)


def _already_factor(book: Book, situation: Situation, cause: str) -> float:
    """A fix done before weakens what it cures, as far as it is trusted, and strengthens what a bad one causes."""
    trust = book.constants.already_done_trust
    factor = 1.0
    for already in situation.already:
        factor *= 1 - trust * cured_by(book, cause, already.fix)
        factor *= book.fixes[already.fix].badly_done.get(cause, 1.0)
    return factor


def _fix_factor(book: Book, situation: Situation, tests: Sequence[Test], cause: str | None) -> float:
    """The chance that the fixes tried here gave what these repeat tests showed, had the complaint this cause.

    A rung's number counts the bikes that are well after it or any before: the chance of all tests is what the last
    one left. A test speaks of every fix since the one before it.
    """
    used, tested = 0.0, 0
    for place, gone in tests:
        fixes = [fix for repair in situation.repairs[tested : place + 1] for fix in repair.fixes]
        best = max((cured_by(book, cause, fix) for fix in fixes), default=0.0) if cause else 0.0
        if gone:
            return max(best - used, CURED_BY_LUCK * (1 - used))
        used, tested = max(used, best), place + 1
    return 1 - used
