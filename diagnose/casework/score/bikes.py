"""A simulated bike: what is wrong with it, what it shows, what is answered, what a fix does to it.

Cast: a `Bike` with its `Fault`s answers checks (`report`), takes fixes (`take`) and says what they took (`minutes`,
`price`). `draw` makes them.

Everything about a bike hangs on its name, not on the order in which it is asked: each thing is drawn by a lot of its
own. So every policy meets the same bikes, and the same answers, minutes and cures.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from math import exp, log
from random import Random
from typing import NamedTuple

from diagnose.book.conditions import Profile, band_of, interval, parts_for
from diagnose.book.model import Book, Check
from diagnose.reason.belief import cured_by
from diagnose.reason.conclude import trust_in
from diagnose.reason.table import Chances
from diagnose.reason.workbench import P90


def lot(*names: object) -> Random:
    """Chance of this name: the same names draw the same."""
    return Random("|".join(map(str, names)))  # noqa: S311  # drawn by lot, not secret


class Fault(NamedTuple):
    """What is wrong: a cause (None: something the book does not know) that shows as this complaint."""

    complaint: str
    cause: str | None


class Report(NamedTuple):
    """What a check gave: a value (None: can't tell), and the reading where it measures."""

    value: str | None
    reading: float | None = None


@dataclass(frozen=True, slots=True)
class Twist:
    """How answers differ from what the book expects of them; chances.

    `wrong`: another value is told. `exaggerated`: a rider tells the next rarer value. `sure`: the last rung of every
    ladder cures.
    """

    wrong: float = 0.0
    exaggerated: float = 0.0
    sure: bool = False


AS_THE_BOOK_SAYS = Twist()


@dataclass(slots=True)
class Bike:
    """One bike: its faults and profile; `rows` hold how often each (cause, finding) shows what.

    `telling`: (finding, value) to the causes that an answer of it rules in; without them it is as much rarer.
    """

    book: Book
    name: str
    number: int
    faults: tuple[Fault, ...]
    profile: Profile
    rows: Mapping[tuple[str, str], Chances]
    unknown_danger: bool
    twist: Twist = AS_THE_BOOK_SAYS
    telling: Mapping[tuple[str, str], frozenset[str]] = field(default_factory=dict)
    cured: set[Fault] = field(default_factory=set)
    eased: frozenset[str] = frozenset()
    """Complaints that the last fixes have made better, and that are still there."""
    _asked: dict[str, int] = field(default_factory=dict)

    def lot(self, *names: object) -> Random:
        """Chance that belongs to something of this bike."""
        return lot(self.name, *names)

    @property
    def complaints(self) -> tuple[str, ...]:
        """What the rider complains of."""
        return tuple(dict.fromkeys(fault.complaint for fault in self.faults))

    @property
    def standing(self) -> tuple[Fault, ...]:
        """Faults that are still there."""
        return tuple(fault for fault in self.faults if fault not in self.cured)

    @property
    def danger(self) -> str:
        """`known`: a cause of the book that must not be ridden; `unknown`: such a one outside the book; else empty."""
        causes = [fault.cause for fault in self.faults]
        if any(cause and self.book.causes[cause].danger == "stop" for cause in causes):
            return "known"
        return "unknown" if self.unknown_danger else ""

    # --- what it shows ---------------------------------------------------------------------------------------------

    def shows(self, finding: str) -> str:
        """The value that a finding has; of several faults one that speaks to it decides, for as long as it stands."""
        one = self.book.findings[finding]
        causes = dict.fromkeys(fault.cause for fault in self.standing if fault.cause)
        speaking = [cause for cause in causes if (cause, finding) in self.rows]
        speaker = self.lot("speaks", finding).choice(speaking) if speaking else None
        row = self.rows[speaker, finding] if speaker else one.otherwise.chances
        weights = [chance / self._rarer(finding, value, causes) for value, chance in zip(one.values, row, strict=True)]
        return self.lot("shows", finding, speaker).choices(list(one.values), weights=weights)[0]

    def _rarer(self, finding: str, value: str, causes: Iterable[str]) -> float:
        """By how much a value is seen less often than its row says, where it rules in a cause that is not there."""
        told = self.telling.get((finding, value), frozenset())
        return self.book.constants.rule_in if told and told.isdisjoint(causes) else 1.0

    def report(self, check: Check, role: str) -> Report:
        """What a check gives this time: can't tell, what is so, or anything as far as answers are not to be trusted."""
        times = self._asked[check.id] = self._asked.get(check.id, 0) + 1
        draw = self.lot("reports", check.id, times)
        if draw.random() < self.book.constants.cannot_tell[role]:
            return Report(None)
        value = self.shows(check.finding)
        values = list(self.book.findings[check.finding].values)
        otherwise = self.book.findings[check.finding].otherwise.chances
        if draw.random() >= trust_in(self.book, check, role):
            value = draw.choices(values, weights=otherwise)[0]
        value = self._twisted(check, value, values)
        return self._read(check, value, draw) if check.measure else Report(value)

    def _twisted(self, check: Check, value: str, values: Sequence[str]) -> str:
        draw = self.lot("twists", check.id, self._asked[check.id])
        if check.by == "rider" and draw.random() < self.twist.exaggerated:
            chances = self.book.findings[check.finding].otherwise.chances
            ranked = sorted(values, key=lambda one: -chances[values.index(one)])
            value = ranked[min(ranked.index(value) + 1, len(ranked) - 1)]
        others = [one for one in values if one != value]
        if others and draw.random() < self.twist.wrong:
            value = draw.choice(others)
        return value

    def _read(self, check: Check, value: str, draw: Random) -> Report:
        """A reading that means the value; can't tell where this check has no reading for it."""
        if check.measure is None:
            return Report(value)
        for band in check.measure.bands:
            span = interval(band, self.book, self.profile) if band.value == value else None
            if span is None:
                continue
            low, high = max(span.start, check.measure.low), min(span.stop, check.measure.high)
            for reading in (round(draw.uniform(low, high), 2), (low + high) / 2):
                if low <= high and band_of(check, reading, self.book, self.profile) == value:
                    return Report(value, reading)
        return Report(None)

    # --- what a fix does -------------------------------------------------------------------------------------------

    def take(self, fixes: Sequence[str]) -> dict[str, bool]:
        """Do these fixes together: complaint to True (gone) or False (still there), for all that still stood."""
        tested = dict.fromkeys(fault.complaint for fault in self.standing)
        before = set(self.cured)
        for fault in self.standing:
            if any(self._cures(fault, fix) for fix in fixes):
                self.cured.add(fault)
        still = {fault.complaint for fault in self.standing}
        self.eased = frozenset(fault.complaint for fault in self.cured - before) & still
        return {complaint: complaint not in still for complaint in tested}

    @property
    def curable(self) -> bool:
        """Whether the fixes of the book, all of them, would cure every fault of this bike."""
        ladders = [(fault, self.book.causes[fault.cause].ladder if fault.cause else ()) for fault in self.faults]
        return all(any(self._cures(fault, rung.fix) for rung in ladder) for fault, ladder in ladders)

    def _cures(self, fault: Fault, fix: str) -> bool:
        """Whether it cures this bike: its place among 100 with the cause, of which the book says how many are well."""
        if fault.cause is None:
            return False
        best = max((rung.cured for rung in self.book.causes[fault.cause].ladder), default=1.0) if self.twist.sure else 1
        return self.lot("cures", fault.cause).random() * best < cured_by(self.book, fault.cause, fix)

    def minutes(self, fix: str) -> float:
        """Minutes of a fix by itself: lognormal with its low and high as P10 and P90."""
        one = self.book.fixes[fix]
        spread = log(one.high / one.low) / (2 * P90)
        return exp(self.lot("minutes", fix).gauss((log(one.low) + log(one.high)) / 2, spread))

    def price(self, fix: str) -> float:
        """What the parts of a fix cost, in the book's currency; a part's price is even between its low and high."""
        taken = parts_for(self.book.fixes[fix], self.profile)
        parts = [(self.book.parts[part], count) for part, count in taken.items()]
        return sum(count * self.lot("part", part.id).uniform(part.low, part.high) for part, count in parts)
