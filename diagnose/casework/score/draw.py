"""Bikes drawn by lot from the rule book.

Cast: `Maker` draws a `Bike` for a complaint and a number. Start at `Maker.bike`.

The profile comes first, so that it is one which the complaint's common causes meet; then the cause, or *something
else*, by the book's shares among those that such a bike can have. So the book's shares are to be read, and belief
should be calibrated on such bikes. `cause_first` reads them the other way round: the cause by its share of all bikes,
and then a profile that it can have.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from random import Random

from diagnose.book.conditions import Profile, holds, may_hold
from diagnose.book.model import Book, Cause, Condition
from diagnose.casework.score.bikes import AS_THE_BOOK_SAYS, Bike, Fault, Twist, lot
from diagnose.reason.belief import Net, build_net
from diagnose.reason.conclude import conclude
from diagnose.reason.deduce import Chainer
from diagnose.reason.situation import Situation
from diagnose.reason.table import Chances

NOTHING_SEEN = ("arrival", "state", "comeback")
"""Facts of which a simulated bike has the first value: nothing catches the eye, it stands there complete, and it is not
back with what was mended before."""
PLAIN = 0.6
"""Chance that a fact of which several may hold has its first value (nothing of these)."""
DRAWS = 200
"""Draws before giving up on a bike of the kind that is wanted."""

Shares = Mapping[str | None, float]
Drawn = tuple[Profile, Net]
"""A profile, and the causes with their shares and rows under it."""


class Maker:
    """Draws bikes from a book. `seed` tells one run's bikes from another's."""

    def __init__(self, book: Book, chainer: Chainer, seed: int | str) -> None:
        self.book = book
        self.chainer = chainer
        self.seed = seed

    # --- the kinds of bikes ----------------------------------------------------------------------------------------

    def bike(self, complaint: str, number: int, twist: Twist = AS_THE_BOOK_SAYS) -> Bike:
        """A bike with one fault, or something else, behind a complaint."""
        name, draw = self._named(complaint, number)
        profile, net = self._profile(complaint, draw, lambda: self._by_share(complaint, draw))
        shares = _shares(net)
        cause = draw.choices(list(shares), weights=list(shares.values()))[0]
        return self._made(name, number, (Fault(complaint, cause),), profile, _pairs(net), twist)

    def cause_first(self, complaint: str, number: int) -> Bike:
        """A bike whose cause is drawn by its share of all bikes, and then a profile that the cause can have."""
        name, draw = self._named(complaint, number)
        cause = self._by_share(complaint, draw)
        profile, net = self._profile(complaint, draw, lambda: cause)
        fault = Fault(complaint, cause.id if cause else None)
        return self._made(name, number, (fault,), profile, _pairs(net), AS_THE_BOOK_SAYS)

    def two_faults(self, complaint: str, number: int, twist: Twist = AS_THE_BOOK_SAYS) -> Bike | None:
        """A bike with two faults behind one complaint, both put right at a stand; None where the book has no two."""
        name, draw = self._named(complaint, number)
        for _ in range(DRAWS):
            profile, net = self._profile(complaint, draw, lambda: self._by_share(complaint, draw))
            pair = self._two(_shares(net), _shares(net), draw)
            if pair:
                faults = (Fault(complaint, pair[0]), Fault(complaint, pair[1]))
                return self._made(name, number, faults, profile, _pairs(net), twist)
        return None

    def two_complaints(self, complaint: str, number: int) -> Bike | None:
        """A bike with two complaints, each with a fault of its own put right at a stand; None where there are none."""
        name, draw = self._named(complaint, number)
        others = [one for one in sorted(self.book.complaints) if one != complaint]
        for _ in range(DRAWS if others else 0):
            profile, net = self._profile(complaint, draw, lambda: self._by_share(complaint, draw))
            other = draw.choice(others)
            if not may_hold(self.book.complaints[other].applies, profile):
                continue
            second = self._net(other, profile)
            pair = self._two(_shares(net), _shares(second), draw)
            if pair:
                faults = (Fault(complaint, pair[0]), Fault(other, pair[1]))
                return self._made(name, number, faults, profile, {**_pairs(net), **_pairs(second)}, AS_THE_BOOK_SAYS)
        return None

    # --- drawing ---------------------------------------------------------------------------------------------------

    def _named(self, complaint: str, number: int) -> tuple[str, Random]:
        name = f"{self.seed}|{complaint}|{number}"
        return name, lot(name, "bike")

    def _made(
        self,
        name: str,
        number: int,
        faults: tuple[Fault, ...],
        profile: Profile,
        rows: Mapping[tuple[str, str], tuple[float, ...]],
        twist: Twist,
    ) -> Bike:
        unknown = [self.book.complaints[one.complaint].danger_if_unknown for one in faults if one.cause is None]
        danger = bool(unknown) and lot(name, "danger").random() < max(unknown)
        telling = self._telling([one.complaint for one in faults], profile)
        return Bike(self.book, name, number, faults, profile, rows, danger, twist, telling)

    def _telling(self, complaints: Sequence[str], profile: Profile) -> Mapping[tuple[str, str], frozenset[str]]:
        """(finding, value) to the causes of these complaints that one answer rules in on a bike of this profile."""
        every = [cause for complaint in complaints for cause in self.book.causes_of[complaint]]
        causes = {cause.id for cause in every if may_hold(cause.applies, profile)}
        found: dict[tuple[str, str], frozenset[str]] = {}
        for deduction in self.book.deductions.values():
            told = causes.intersection(deduction.rule_in)
            answers = [when for when in deduction.when if when.key in self.book.findings]
            rest = {when.key: when.any_of for when in deduction.when if when not in answers}
            if told and len(answers) == 1 and holds(rest, {**profile, "complaint": tuple(complaints)}):
                for value in answers[0].any_of:
                    found[answers[0].key, value] = found.get((answers[0].key, value), frozenset()) | told
        return found

    def _two(self, first: Shares, second: Shares, draw: Random) -> tuple[str, str] | None:
        """Two different causes, each put right at a stand, drawn by their shares."""
        one = self._mendable(first, draw)
        other = self._mendable({name: share for name, share in second.items() if name != one}, draw)
        return (one, other) if one and other else None

    def _mendable(self, shares: Shares, draw: Random) -> str | None:
        causes = self.book.causes
        kept = {one: share for one, share in shares.items() if one and share > 0 and not causes[one].hand_off}
        kept = {one: share for one, share in kept.items() if causes[one].ladder}
        return draw.choices(list(kept), weights=list(kept.values()))[0] if kept else None

    def _by_share(self, complaint: str, draw: Random) -> Cause | None:
        """A cause by its share of all bikes with the complaint, None for *something else*."""
        causes = self.book.causes_of[complaint]
        unknown = self.book.complaints[complaint].something_else
        weights = [cause.shares[complaint].of_100 for cause in causes]
        known = [(1 - unknown) * weight / sum(weights) for weight in weights]
        return draw.choices([*causes, None], weights=[*known, unknown])[0]

    def _profile(self, complaint: str, draw: Random, meet: Callable[[], Cause | None]) -> Drawn:
        """A profile such as a bike has that has this cause (`meet`), and the net under it."""
        for _ in range(DRAWS - 1):
            cause = meet()
            profile = self._one_profile(complaint, cause, draw)
            net = self._net(complaint, profile)
            if cause is None or _shares(net).get(cause.id, 0.0) > 0:
                return profile, net
        profile = self._one_profile(complaint, meet(), draw)
        return profile, self._net(complaint, profile)

    def _one_profile(self, complaint: str, cause: Cause | None, draw: Random) -> Profile:
        wanted: list[Condition] = [self.book.complaints[complaint].applies, cause.applies if cause else {}]
        profile: dict[str, tuple[str, ...]] = {}
        for name, fact in self.book.facts.items():
            values = list(fact.values)
            for condition in wanted:
                values = [value for value in values if value in condition.get(name, values)] or values
            bound = any(name in condition for condition in wanted)
            plain = name in NOTHING_SEEN or (fact.several and draw.random() < PLAIN)
            if fact.several and not plain and not bound:
                values = values[1:] or values
            profile[name] = (values[0] if plain and not bound else draw.choice(values),)
        return profile

    def _net(self, complaint: str, profile: Profile) -> Net:
        situation = Situation((complaint,), profile, frozenset(self.book.facts))
        return build_net(self.book, situation, conclude(self.book, self.chainer, situation))


def _shares(net: Net) -> Shares:
    return dict(zip(net.causes[0], net.shares[0], strict=True))


def _pairs(net: Net) -> dict[tuple[str, str], Chances]:
    """(cause, finding) to how often each value is seen."""
    return {(cause, finding): row for finding, rows in net.rows.items() for cause, row in rows.items()}
