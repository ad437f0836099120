"""What follows from what, for the anomalies of deductions: least inputs, and all that they lead to.

Cast: `Ground` is what is told of a bike (words under keys, readings of measuring checks); `Closure` runs the deductions
over a ground until nothing new follows; `Closure.least_grounds` lists the least grounds on which a deduction fires.

Nothing is ever taken back, so more that is known never means less that follows: what holds on every least ground of a
deduction holds wherever the deduction fires. The bands of a reading are the one exception, as they change with the
profile; a ground with a reading therefore stands once for every profile that its bands hang on.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from functools import cached_property
from itertools import chain, islice, pairwise, product
from operator import itemgetter
from typing import NamedTuple

from diagnose.book.conditions import band_of, edge_number, facts_of_bands, profiles_over
from diagnose.book.model import Book, Check, Deduction, When

Told = tuple[str, str | float]
"""A key with a word, or a measuring check with its reading."""
Ground = frozenset[Told]
Effect = tuple[str | float, ...]
"""What a deduction does: its kind, then what it is about."""

MOST_GROUNDS = 4_000
"""A deduction that fires on more least grounds than this is not followed."""


class Followed(NamedTuple):
    """What follows from a ground: the deductions that fire, and all that they do."""

    fired: tuple[str, ...]
    effects: frozenset[Effect]


def effects_of(deduction: Deduction) -> frozenset[Effect]:
    """What a deduction does. A factor is its own: two that say the same multiply."""
    found: list[Effect] = [("conclude", word, value) for word, value in deduction.conclude.items()]
    found += [("rule out", cause) for cause in deduction.rule_out]
    found += [("rule in", cause) for cause in deduction.rule_in]
    found += [("factor", cause, times, deduction.id) for cause, times in deduction.likelier.items()]
    found += [("danger", deduction.danger)] if deduction.danger else []
    found += [("caution", caution) for caution in deduction.cautions]
    found += [("demand", check) for check in deduction.demand]
    found += [("demand first", check) for check in deduction.demand[: deduction.first]]
    found += [("before riding", check) for check in deduction.before_riding]
    found += [("ask", fact) for fact in deduction.ask]
    found += [("ask last", fact) for fact in deduction.ask_last]
    found += [("also", one.fix, one.level) for one in deduction.also]
    if deduction.hand_off:
        found.append(("hand-off", deduction.hand_off.receiver, deduction.hand_off.urgency, deduction.hand_off.reason))
    return frozenset(found)


def covers(one: When, other: When) -> bool:
    """Whether whatever meets the other condition meets this one; both look at the same key."""
    if one.any_of or other.any_of:
        return bool(one.any_of) and set(other.any_of) <= set(one.any_of)
    return _starts_before(one, other) and _stops_after(one, other)


def _starts_before(one: When, other: When) -> bool:
    mine, theirs = _start(one), _start(other)
    return mine is None or (theirs is not None and mine <= theirs)


def _stops_after(one: When, other: When) -> bool:
    mine, theirs = _stop(one), _stop(other)
    return mine is None or (theirs is not None and mine >= theirs)


def _start(when: When) -> tuple[float, int] | None:
    """Where a range starts; one that leaves its edge out starts later."""
    if when.at_least is not None:
        return when.at_least, 0
    return None if when.above is None else (when.above, 1)


def _stop(when: When) -> tuple[float, int] | None:
    if when.up_to is not None:
        return when.up_to, 0
    return None if when.below is None else (when.below, -1)


def implies(one: Deduction, other: Deduction) -> bool:
    """Whether the other fires wherever the one does, by their conditions alone."""
    mine = {when.key: when for when in one.when}
    return all(when.key in mine and covers(when, mine[when.key]) for when in other.when)


def within(when: When, reading: float) -> bool:
    """Whether a reading meets a condition on a measuring check."""
    start, stop = _start(when), _stop(when)
    return (start is None or start <= (reading, 0)) and (stop is None or stop >= (reading, 0))


def _least(grounds: Sequence[Ground]) -> list[Ground]:
    """The grounds that hold no other."""
    kept: list[Ground] = []
    for ground in sorted(set(grounds), key=lambda one: (len(one), sorted(map(str, one)))):
        if not any(one < ground for one in kept):
            kept.append(ground)
    return kept


def _by_rarest_key(deductions: Sequence[Deduction]) -> dict[str, list[tuple[int, Deduction, frozenset[str]]]]:
    """Each deduction, with its place and its keys, under the one of its keys that the fewest others look at."""
    asked = Counter(key for one in deductions for key in {when.key for when in one.when})
    found: dict[str, list[tuple[int, Deduction, frozenset[str]]]] = {}
    for place, one in enumerate(deductions):
        keys = frozenset(when.key for when in one.when)
        rarest = min(keys, key=lambda key: (asked[key], key))
        found.setdefault(rarest, []).append((place, one, keys))
    return found


class Closure:
    """The deductions of a book, run over grounds."""

    def __init__(self, book: Book) -> None:
        self.book = book
        self.effects = {name: effects_of(deduction) for name, deduction in book.deductions.items()}
        self._by_rarest_key = _by_rarest_key([*book.deductions.values()])
        self._known: dict[tuple[Ground, str], Followed] = {}

    def of(self, ground: Ground, without: str = "") -> Followed:
        """All that follows from a ground, with one deduction left out."""
        if (ground, without) not in self._known:
            self._known[ground, without] = self._run(ground, without)
        return self._known[ground, without]

    def _run(self, ground: Ground, without: str) -> Followed:
        known = set(ground) | set(self._banded(ground))
        fired: dict[str, None] = {}
        effects: set[Effect] = set()
        while True:
            ready = [one for one in self._near(known) if one.id not in fired and one.id != without]
            ready = [one for one in ready if self._fires(one, known)]
            if not ready:
                return Followed(tuple(fired), frozenset(effects))
            for one in ready:
                fired[one.id] = None
                effects |= self.effects[one.id]
                known.update(one.conclude.items())

    def _near(self, known: set[Told]) -> Iterator[Deduction]:
        """The deductions whose keys all are known, in the order of the book."""
        keys = {key for key, _ in known}
        near = sorted(chain.from_iterable(self._by_rarest_key.get(key, ()) for key in keys), key=itemgetter(0))
        return (one for _, one, wanted in near if wanted <= keys)

    def _fires(self, deduction: Deduction, known: set[Told]) -> bool:
        return all(self._met(when, known) for when in deduction.when)

    def _met(self, when: When, known: set[Told]) -> bool:
        if when.any_of:
            return any((when.key, value) in known for value in when.any_of)
        return any(key == when.key and isinstance(value, int | float) and within(when, value) for key, value in known)

    def _banded(self, ground: Ground) -> Iterator[Told]:
        """The values that readings mean."""
        for key, reading in ground:
            check = self.book.checks.get(key)
            if check and not isinstance(reading, str):
                value = band_of(check, reading, self.book, self._profile(ground))
                if value is not None:
                    yield check.finding, value

    def _profile(self, ground: Ground) -> dict[str, tuple[str, ...]]:
        told = [(key, str(value)) for key, value in ground if key in self.book.facts]
        return {fact: tuple(value for key, value in told if key == fact) for fact, _ in told}

    # --- least grounds -----------------------------------------------------------------------------------------------

    def no_reading_meets(self, when: When) -> bool:
        """Whether a condition is on a measuring check none of whose readings meets it."""
        return when.key in self.readings and not any(within(when, reading) for reading in self.readings[when.key])

    def least_grounds(self, deduction: Deduction, leaving: str = "", adding: Sequence[Told] = ()) -> list[Ground]:
        """The least grounds on which a deduction fires.

        Args:
            deduction: the deduction.
            leaving: a key whose condition is left out.
            adding: told besides.

        Returns:
            Each ground once; none where it can never fire; none either where they are too many to follow.
        """
        whens = [when for when in deduction.when if when.key != leaving]
        grounds = list(islice(self._possible(whens, deduction.id, adding), MOST_GROUNDS + 1))
        if len(grounds) > MOST_GROUNDS:
            return []
        return list(dict.fromkeys(chain.from_iterable(self._under_profiles(one) for one in _least(grounds))))

    def can_fire(self, deduction: Deduction) -> bool:
        """Whether there can be a bike on which it fires."""
        return next(self._possible(deduction.when, deduction.id, ()), None) is not None

    def _possible(self, whens: Sequence[When], deduction: str, adding: Sequence[Told]) -> Iterator[Ground]:
        """The grounds that meet all these conditions and that one bike can have."""
        for ground in self._meet(whens, frozenset((deduction,))):
            whole = ground | set(adding)
            if self._can_be(whole):
                yield whole

    def _meet(self, whens: Sequence[When], using: frozenset[str]) -> Iterator[Ground]:
        """The grounds that meet all these conditions, words by way of deductions that are not in use."""
        for picked in product(*(list(self._ways(when, using)) for when in whens)):
            yield frozenset(chain.from_iterable(picked))

    def _ways(self, when: When, using: frozenset[str]) -> Iterator[Ground]:
        if not when.any_of:
            for reading in self.readings.get(when.key, ()):
                if within(when, reading):
                    yield frozenset(((when.key, reading),))
        elif when.key not in self.book.words:
            for value in when.any_of:
                yield frozenset(((when.key, value),))
        else:
            for other in self.book.deductions.values():
                if other.id not in using and other.conclude.get(when.key) in when.any_of:
                    yield from self._meet(other.when, using | {other.id})

    def _can_be(self, ground: Ground) -> bool:
        """Whether one bike can be so: a fact with one value has one, and a check one reading."""
        keys = [key for key, _ in ground if self._single(key)]
        return len(keys) == len(set(keys))

    def _single(self, key: str) -> bool:
        return not self.book.facts[key].several if key in self.book.facts else key in self.book.checks

    def _under_profiles(self, ground: Ground) -> Iterator[Ground]:
        """The ground for every profile that its bands hang on."""
        facts = {fact for key, _ in ground if key in self.book.checks for fact in self._facts_of_bands(key)}
        open_facts = facts - {key for key, _ in ground}
        for profile in profiles_over(self.book, open_facts) if open_facts else [{}]:
            yield ground | {(fact, value) for fact, values in profile.items() for value in values}

    def _facts_of_bands(self, check: str) -> set[str]:
        return facts_of_bands(self.book, self.book.checks[check])

    @cached_property
    def readings(self) -> dict[str, tuple[float, ...]]:
        """For each measuring check readings of every kind that deductions and bands tell apart."""
        return {check.id: tuple(self._readings(check)) for check in self.book.checks.values() if check.measure}

    def _readings(self, check: Check) -> list[float]:
        measure = check.measure
        if measure is None:
            return []
        edges = {measure.low, measure.high}
        for deduction in self.book.deductions.values():
            for when in deduction.when:
                if when.key == check.id:
                    edges |= {edge for edge in (when.at_least, when.above, when.below, when.up_to) if edge is not None}
        for profile in profiles_over(self.book, facts_of_bands(self.book, check)):
            for band in measure.bands:
                numbers = [edge_number(edge, self.book, profile) for edge in (band.start, band.stop) if edge]
                edges |= {number for number in numbers if number is not None}
        inside = sorted(edge for edge in edges if measure.low <= edge <= measure.high)
        return sorted({*inside, *((one + two) / 2 for one, two in pairwise(inside))})
