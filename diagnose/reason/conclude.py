"""Deductions of the book over a situation: what is ruled out or in, dangers, cautions, hand-offs, demands.

Cast: `rules_of(book)` turns deductions and bands into engine rules; `conclude(book, chainer, situation)` runs them
and sorts what they conclude into a `Conclusions`. A conclusion counts as *profile* when everything behind it is
profile or complaint. It is as sure as the least sure answer behind it: only a sure one rules a cause out for certain.
Nothing is sure of what a rider says: a rider's word may warn, but neither rules out nor in.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from typing import Any, NamedTuple

from diagnose.book.conditions import Interval, Profile, facts_of_bands, holds, interval, profiles_over
from diagnose.book.model import Book, Check, Deduction, HandOff, When
from diagnose.book.reckoning import right_values
from diagnose.errors import Location
from diagnose.reason.deduce import Chainer, Datum, Deductions, Pattern, Rule
from diagnose.reason.situation import Answer, Situation

UNKNOWN = "not-known"
"""Asserted for a fact that is not known: what is absent is a fact of its own."""


SURE = 1.0


class Conclusion(NamedTuple):
    """A deduction that fired: which, where it stands, and the facts it matched as (key, value)."""

    deduction: Deduction
    matched: tuple[tuple[str, str | float], ...]
    from_profile: bool
    trust: float
    """How far the least sure answer behind it is trusted: 1 is sure, 0 is a rider's word."""

    @property
    def from_rider(self) -> bool:
        """Whether it stands on a rider's word."""
        return self.trust <= 0

    @property
    def where(self) -> Location:
        """Where the deduction stands."""
        return self.deduction.where


@dataclass(frozen=True, slots=True)
class Conclusions:
    """What followed: `factors` from the profile (0 is ruled out), the rest from answers.

    `ruled_out` and `ruled_in` name the deduction that does so for certain. `weighed` is the factor of every cause that
    answers rule out or in, unsure ones as far as they are trusted; a rule-out by one unsure answer is not among them,
    as the row of the finding holds it already. What was told before a fix that did not help is among them.
    """

    fired: tuple[Conclusion, ...]
    factors: dict[str, float]
    ruled_out: dict[str, str]
    ruled_in: dict[str, str]
    weighed: dict[str, float]

    def seen_dangers(self) -> set[str]:
        """The findings that show, and not only by a rider's word, what nobody may ride with."""
        stops = [one for one in self.fired if one.deduction.danger == "stop" and not one.from_rider]
        return {key for one in stops for key, _ in one.matched}

    def hand_offs(self) -> Iterator[tuple[Conclusion, HandOff]]:
        """Each hand-off that a deduction calls for."""
        for one in self.fired:
            if one.deduction.hand_off:
                yield one, one.deduction.hand_off

    def demands(self) -> Iterator[tuple[Conclusion, str]]:
        """Each check that a deduction demands before anything else."""
        for one in self.fired:
            for check in one.deduction.demand:
                yield one, check


def before_riding(fired: Iterable[Conclusion]) -> Iterator[tuple[Conclusion, str]]:
    """Each check that must be made before the bike is ridden, and that may come last."""
    for one in fired:
        for check in one.deduction.before_riding:
            yield one, check


def rules_of(book: Book) -> tuple[Rule, ...]:
    """Every deduction, and every band of a measurement for every profile that can matter, as engine rules."""
    rules = [_rule(deduction) for deduction in book.deductions.values()]
    for check in book.checks.values():
        rules.extend(_band_rules(check, book))
    return tuple(rules)


def _rule(deduction: Deduction) -> Rule:
    patterns = tuple(_pattern(when) for when in deduction.when)
    return Rule(deduction.id, patterns, tuple(Datum(key, value) for key, value in deduction.conclude.items()))


def _pattern(when: When) -> Pattern:
    return Pattern(when.key, when.any_of, when.at_least, when.above, when.below, when.up_to)


def _band_rules(check: Check, book: Book) -> Iterator[Rule]:
    if check.measure is None:
        return
    for number, (conditions, spans) in enumerate(_told_apart(book, check)):
        for band, span in zip(check.measure.bands, spans, strict=True):
            if span is None:
                continue
            finite = [None if abs(end) == float("inf") else end for end in (span.start, span.stop)]
            start, stop = finite
            if start is None and stop is None:
                start = check.measure.low
            reading = Pattern(
                check.id,
                at_least=None if span.start_open else start,
                above=start if span.start_open else None,
                below=stop if span.stop_open else None,
                up_to=None if span.stop_open else stop,
            )
            name = f"band:{check.id}:{band.value}:{number}"
            yield Rule(name, (reading, *conditions), (Datum(check.finding, band.value),))


def _told_apart(book: Book, check: Check) -> list[tuple[tuple[Pattern, ...], tuple[Interval | None, ...]]]:
    """The conditions under which a measurement's bands differ, and the bands: profiles with the same bands are one."""
    facts = sorted(facts_of_bands(book, check))
    bands = check.measure.bands if check.measure else ()
    entries = [
        (
            {fact: profile.get(fact, (UNKNOWN,)) for fact in facts},
            tuple(interval(band, book, profile) for band in bands),
        )
        for profile in profiles_over(book, facts)
    ]
    for fact in facts:
        merged: dict[Any, tuple[str, ...]] = {}
        for values, spans in entries:
            others = tuple((name, told) for name, told in values.items() if name != fact)
            merged[others, spans] = merged.get((others, spans), ()) + values[fact]
        entries = [({**dict(others), fact: told}, spans) for (others, spans), told in merged.items()]
    return [
        (
            tuple(Pattern(fact, told) for fact, told in values.items() if len(told) <= len(book.facts[fact].values)),
            spans,
        )
        for values, spans in entries
    ]


def facts_of(book: Book, situation: Situation, *, gone_too: bool = False) -> list[Datum]:
    """The facts that the engine is given: those that can be part of a firing; can't tell is never among them.

    A fact that is not known is told as such only where a reading's bands depend on it. `gone_too`: complaints that are
    gone are told as well.
    """
    told = [Datum("complaint", name) for name in (situation.complaints if gone_too else situation.standing)]
    read: set[str] = set()
    for answer in _heard(book, situation):
        if answer.reading is not None:
            told.append(Datum(answer.check, answer.reading))
            read.add(answer.check)
        elif answer.value is not None:
            told.append(Datum(answer.finding, answer.value))
    gone = situation.gone
    for repair in situation.repairs:
        if any(not result for name, result in repair.results.items() if name not in gone | repair.better):
            told.extend(Datum("fix-failed", fix) for fix in repair.fixes)
    for fact, values in situation.profile.items():
        told.extend(Datum(fact, value) for value in values)
    banded = {fact for check in read for fact in facts_of_bands(book, book.checks[check])}
    told.extend(Datum(fact, UNKNOWN) for fact in sorted(banded - set(situation.profile)))
    wanted = banded | read | _keys_that_can_fire(book, {datum.key for datum in told}, read)
    return [datum for datum in told if datum.key in wanted]


def _heard(book: Book, situation: Situation) -> tuple[Answer, ...]:
    """The answers that count. A rider's word does not where a mechanic's later, surer look at the finding differs."""
    fresh = situation.fresh
    return tuple(
        answer
        for place, answer in enumerate(fresh)
        if answer.by != "rider" or not any(_overrules(book, later, answer) for later in fresh[place:])
    )


def _overrules(book: Book, look: Answer, word: Answer) -> bool:
    if look.by == "rider" or look.finding != word.finding or look.value == word.value:
        return False
    return trust_in(book, book.checks[look.check], look.by) > trust_in(book, book.checks[word.check], word.by)


def _keys_that_can_fire(book: Book, given: set[str], read: set[str]) -> set[str]:
    """The keys of deductions all of whose keys are given or may be concluded."""
    possible = given | set(book.words) | {book.checks[check].finding for check in read}
    bits = book.key_bits
    others = ~sum([bits[key] for key in possible if key in bits])
    wanted: set[str] = set()
    for needed, keys in book.deduction_keys:
        if not needed & others:
            wanted |= keys
    return wanted


def conclude(book: Book, chainer: Chainer, situation: Situation) -> Conclusions:
    """Run the deductions until nothing new follows, and sort what they conclude.

    What a fix that did not help has disturbed makes nothing fire any more; it still rules causes out and in.
    """
    found, told = _sort(_fire(book, chainer, situation), book), situation.as_told
    if told is situation:
        return found
    return replace(found, weighed=_sort(_fire(book, chainer, told), book).weighed)


def _fire(book: Book, chainer: Chainer, situation: Situation, *, gone_too: bool = False) -> tuple[Conclusion, ...]:
    """What the deductions conclude, each once; `gone_too` as in `facts_of`."""
    result = chainer.run(facts_of(book, situation, gone_too=gone_too))
    provenance = _Provenance(book, situation, result)
    fired = tuple(
        Conclusion(
            book.deductions[one.rule],
            tuple((datum.key, datum.value) for datum in one.matched),
            all(provenance.of_profile(datum) for datum in one.matched),
            min((provenance.trust(datum) for datum in one.matched), default=SURE),
        )
        for one in result.fired
        if one.rule in book.deductions
    )
    return _one_each(fired)


def outstanding(book: Book, chainer: Chainer, situation: Situation, conclusions: Conclusions) -> tuple[Conclusion, ...]:
    """What holds although the answer behind it was disturbed: what must be done anyway, and reasons not to ride.

    A danger that was seen stays until it is put right, even where a fix has disturbed the answer that showed it; only a
    later answer on the same finding takes it back. What must be done stays as long as its fix is not done, also where
    the complaint for which it was looked at is gone and no fix has touched what was seen; a reason not to ride stays
    while the fix that disturbed it has not helped. What was done at an earlier visit since, is done, and so is what a
    fix that was done includes. What is to be looked at before riding is owed as long: a repeat test that passed takes
    none of it back. It is looked at also once the fix has changed what was seen, but for what that fix has renewed and
    that would be taken out again for it. A fix of which every cause was seen not to be is no must any more.
    """
    here = {one.deduction.id for one in conclusions.fired}
    whole = _fire(book, chainer, situation, gone_too=True) if situation.gone else conclusions.fired
    fired = {one.deduction.id: one for one in (*whole, *conclusions.fired) if one.deduction.also}
    fired |= _owed((one for one in whole if one.deduction.id not in here | fired.keys()), book, situation)
    held: set[str] = set()
    told = {answer.finding for answer in situation.fresh}
    seen = tuple(
        replace(answer, stale=False) if answer.stale and answer.finding not in told else answer
        for answer in situation.answers
    )
    if seen != situation.answers:
        before = replace(situation, answers=seen)
        again = _fire(book, chainer, before)
        unhelped = {answer.finding for answer in situation.answers if _disturbed_in_vain(situation, answer)} - told
        for one in again:
            if one.deduction.danger == "stop" and any(key in unhelped for key, _ in one.matched):
                held.add(one.deduction.id)
            if one.deduction.also or one.deduction.id in held:
                fired[one.deduction.id] = one
        if not situation.standing:
            past = _fire(book, chainer, before, gone_too=True)
            fired |= _owed((one for one in past if one.deduction.id not in here | fired.keys()), book, situation)
    fired = {name: _not_in_vain(one, book, situation, conclusions) for name, one in fired.items()}
    return tuple(
        fired[name]
        for name in sorted(fired)
        if name in held
        or not fired[name].deduction.also
        or not book.with_included(situation.done | _mended(situation, fired[name])).issuperset(
            one.fix for one in fired[name].deduction.also
        )
    )


def _not_in_vain(one: Conclusion, book: Book, situation: Situation, conclusions: Conclusions) -> Conclusion:
    """Without the fixes of which every cause among those of the complaints was seen not to be."""
    also = tuple(
        extra
        for extra in one.deduction.also
        if not (of := _put_right(book, situation, extra.fix)) or not of <= conclusions.ruled_out.keys()
    )
    return one if also == one.deduction.also else one._replace(deduction=one.deduction._replace(also=also))


def _put_right(book: Book, situation: Situation, fix: str) -> set[str]:
    """The causes of the complaints that stand that a fix puts right."""
    causes = (cause for name in situation.standing for cause in book.causes_of[name])
    return {cause.id for cause in causes if any(rung.fix == fix for rung in cause.ladder)}


def _owed(past: Iterable[Conclusion], book: Book, situation: Situation) -> dict[str, Conclusion]:
    """Of what held once, what is left to look at before riding: no danger any more."""
    owed = {}
    for one in past:
        looks = tuple(name for name in one.deduction.before_riding if not _renewed(book, situation, one, name))
        if looks:
            owed[one.deduction.id] = one._replace(deduction=one.deduction._replace(danger=None, before_riding=looks))
    return owed


def _mended(situation: Situation, conclusion: Conclusion) -> frozenset[str]:
    """The fixes done at earlier visits since each of the answers behind a conclusion was told."""
    keys = {key for key, _ in conclusion.matched}
    behind = [one.mended for one in situation.answers if one.finding in keys]
    return frozenset.intersection(*behind) if behind else frozenset()


def _renewed(book: Book, situation: Situation, conclusion: Conclusion, look: str) -> bool:
    """Whether a fix put in new what this check looks at, or put it together, so that it is not looked at for this.

    Where it would be taken out again for it; and where it was told before, and the complaint that the rule names is
    gone: it was looked at for the complaint, and what it showed is not on the bike any more. What nothing was amiss
    with when it lay open for the fix, which begins with this look, is not opened again.
    """
    check = book.checks[look]
    for one in situation.answers:
        fixes = [book.fixes[fix] for fix in situation.repairs[one.disturbed_by].fixes] if one.disturbed_by >= 0 else []
        behind = any(key == one.finding for key, _ in conclusion.matched) and bool(check.teardown)
        looked = one.finding == check.finding and one.value is not None and _of_one_gone(situation, conclusion)
        if (behind or looked) and any(fix.parts and check.finding in fix.disturbs for fix in fixes):
            return True
        right = one.check == look and one.value in right_values(check, book)
        if right and check.teardown and any(look in fix.needs for fix in fixes):
            return True
    return False


def _of_one_gone(situation: Situation, conclusion: Conclusion) -> bool:
    """Whether a conclusion goes with complaints all of which are gone."""
    named = {value for when in conclusion.deduction.when if when.key == "complaint" for value in when.any_of}
    return bool(named) and named.isdisjoint(situation.standing)


def _disturbed_in_vain(situation: Situation, answer: Answer) -> bool:
    """Whether a fix has disturbed an answer, and the complaint that it was done for still stands."""
    if not answer.stale or answer.disturbed_by < 0:
        return False
    results = situation.repairs[answer.disturbed_by].results
    return any(not gone and complaint in situation.standing for complaint, gone in results.items())


def _one_each(fired: tuple[Conclusion, ...]) -> tuple[Conclusion, ...]:
    """A deduction once, preferring the firing with the surest ground."""
    best: dict[str, Conclusion] = {}
    for one in fired:
        kept = best.get(one.deduction.id)
        if kept is None or (one.trust, one.from_profile) > (kept.trust, kept.from_profile):
            best[one.deduction.id] = one
    return tuple(best[name] for name in sorted(best))


def _sort(fired: tuple[Conclusion, ...], book: Book) -> Conclusions:
    rule_in = book.constants.rule_in
    factors: dict[str, float] = {}
    ruled_out: dict[str, str] = {}
    ruled_in: dict[str, str] = {}
    excluded: set[str] = set()
    left: dict[str, float] = {}
    backed: dict[str, float] = {}
    for one in fired:
        deduction = one.deduction
        for cause, times in deduction.likelier.items():
            factors[cause] = factors.get(cause, 1.0) * times
        if one.from_rider:
            continue
        for cause in deduction.rule_out:
            if one.from_profile:
                excluded.add(cause)
            if one.trust >= SURE:
                ruled_out.setdefault(cause, deduction.id)
            if one.trust >= SURE or deduction.id not in book.in_rows:
                left[cause] = min(left.get(cause, 1.0), 1 - one.trust)
        for cause in deduction.rule_in:
            if one.from_profile:
                factors[cause] = factors.get(cause, 1.0) * rule_in
            else:
                ruled_in.setdefault(cause, deduction.id)
                backed[cause] = max(backed.get(cause, 1.0), one.trust * rule_in + 1 - one.trust)
    factors.update(dict.fromkeys(excluded, 0.0))
    weighed = {cause: left.get(cause, 1.0) * backed.get(cause, 1.0) for cause in left | backed}
    return Conclusions(fired, factors, ruled_out, ruled_in, weighed)


class _Provenance:
    """Whether a fact rests on profile alone, and how far it is trusted: back from conclusions to what was given."""

    def __init__(self, book: Book, situation: Situation, result: Deductions) -> None:
        self._profile_keys = {*book.facts, "complaint"}
        self._told = _trust_of_told(book, situation)
        self._behind: dict[Datum, list[tuple[Datum, ...]]] = {}
        for one in result.fired:
            if one.rule in book.deductions:
                for key, value in book.deductions[one.rule].conclude.items():
                    self._behind.setdefault(Datum(key, value), []).append(one.matched)

    def of_profile(self, datum: Datum, seen: frozenset[Datum] = frozenset()) -> bool:
        """Whether some way to this fact uses profile facts only."""
        if datum.key in self._profile_keys:
            return True
        ways = self._behind.get(datum, [])
        return datum not in seen and any(all(self.of_profile(one, seen | {datum}) for one in way) for way in ways)

    def trust(self, datum: Datum, seen: frozenset[Datum] = frozenset()) -> float:
        """How far the surest way to this fact is trusted: as its least sure answer; what was done here is sure."""
        if datum in self._told:
            return self._told[datum]
        ways = [] if datum in seen else self._behind.get(datum, [])
        if not ways:
            return 0.0 if datum in seen else SURE
        return max(min(self.trust(one, seen | {datum}) for one in way) for way in ways)


def _trust_of_told(book: Book, situation: Situation) -> dict[Datum, float]:
    """How far each fact that answers tell is trusted: as its surest mechanic's answer, 0 where only a rider says so."""
    told: dict[Datum, float] = {}
    for answer in _heard(book, situation):
        if answer.value is not None:
            trust = 0.0 if answer.by == "rider" else trust_in(book, book.checks[answer.check], answer.by)
            for datum in _data_of(answer.check, answer.finding, answer.value, answer.reading):
                told[datum] = max(told.get(datum, 0.0), trust)
    return told


def trust_in(book: Book, check: Check, by: str) -> float:
    """How far an answer to this check is trusted: as the check says, else as the book says for the role."""
    return check.trust.get(by, book.constants.trust[by])


def _data_of(check: str, finding: str, value: str, reading: float | None) -> Iterator[Datum]:
    yield Datum(finding, value)
    if reading is not None:
        yield Datum(check, reading)


def single_answer_rule_outs(book: Book, profile: Profile, causes: Iterable[str]) -> dict[tuple[str, str], set[str]]:
    """(cause, finding) to the values under which the cause cannot stand: deductions that rule it out by one answer."""
    found: dict[tuple[str, str], set[str]] = {}
    for cause in causes:
        for deduction, answer in book.one_answer_of.get(cause, ()):
            if holds({when.key: when.any_of for when in deduction.when if when is not answer}, profile):
                found.setdefault((cause, answer.key), set()).update(answer.any_of)
    return found
