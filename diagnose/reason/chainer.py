"""Facts, rules over them, and the plain forward chainer.

Cast: `Datum` (one fact: a word or a number under a key), `Pattern` (what a rule asks of one fact), `Rule` (patterns
that must all hold, and what follows), `Fired` and `Deductions` (what came of a run), `Chainer` (what every chainer
offers), `prepared` and `distinct` (what may go in, checked and in one form), `PlainChainer` (forward chaining in plain
Python). Start reading at `PlainChainer.run`.

A key may hold several facts at once: a bike with two kinds of recent work has two facts under one key. Nothing is ever
taken back: what is absent has to be stated as a fact of its own.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from itertools import product
from typing import NamedTuple, Protocol

from diagnose.errors import EngineError


class Datum(NamedTuple):
    """One fact: `value` is a word or a number (in the unit that the rules for this key use)."""

    key: str
    value: str | float


@dataclass(frozen=True, slots=True)
class Pattern:
    """What one fact must be: one of the words `any_of`, or a number within the edges that are given.

    `at_least` and `up_to` include the edge itself, `above` and `below` do not.
    """

    key: str
    any_of: tuple[str, ...] = ()
    at_least: float | None = None
    above: float | None = None
    below: float | None = None
    up_to: float | None = None

    def edges(self) -> dict[str, float]:
        """The edges that are given, by name."""
        named = {"at_least": self.at_least, "above": self.above, "below": self.below, "up_to": self.up_to}
        return {name: edge for name, edge in named.items() if edge is not None}

    def matches(self, datum: Datum) -> bool:
        """Whether this one fact fits; a word never fits a range, however much it looks like a number."""
        if datum.key != self.key:
            return False
        if isinstance(datum.value, str):
            return datum.value in self.any_of
        return bool(self.edges()) and self._spans(datum.value)

    def _spans(self, number: float) -> bool:
        return (
            (self.at_least is None or number >= self.at_least)
            and (self.above is None or number > self.above)
            and (self.below is None or number < self.below)
            and (self.up_to is None or number <= self.up_to)
        )


@dataclass(frozen=True, slots=True)
class Rule:
    """When every pattern is met by a fact, the rule fires and `concludes` are facts too.

    Rules that share an `id` are alternatives of one deduction. With nothing to conclude the firing is the result.
    """

    id: str
    patterns: tuple[Pattern, ...]
    concludes: tuple[Datum, ...] = ()


class Fired(NamedTuple):
    """A rule that fired and the facts that made it, in the order of its patterns."""

    rule: str
    matched: tuple[Datum, ...]


class Deductions(NamedTuple):
    """What came of a run: each distinct firing once, sorted, and all facts, given and concluded."""

    fired: tuple[Fired, ...]
    facts: frozenset[Datum]


class Chainer(Protocol):
    """Anything that runs rules forward over facts until nothing new follows."""

    @property
    def name(self) -> str:
        """What does the work, in words."""

    @property
    def notice(self) -> str:
        """One line that the user should see once, such as why a stand-in is at work; else empty."""

    def run(self, data: Iterable[Datum]) -> Deductions:
        """All that follows from `data`.

        Raises:
            EngineError: a value is neither a word nor a finite number, or the engine failed.
        """

    def forget(self) -> None:
        """Drop what is remembered of earlier runs, for a fair measurement."""


class PlainChainer:
    """Forward chaining in plain Python: the stand-in for the engine, and its oracle in tests."""

    name = "plain forward chaining"

    def __init__(self, rules: Iterable[Rule], notice: str = "") -> None:
        """Checks and keeps the rules.

        Raises:
            EngineError: a rule cannot be run; see `prepared`.
        """
        self.notice = notice
        self._asking: defaultdict[str, list[tuple[Rule, int]]] = defaultdict(list)
        for rule in prepared(rules):
            for place, pattern in enumerate(rule.patterns):
                self._asking[pattern.key].append((rule, place))

    def forget(self) -> None:
        """Nothing is remembered here."""

    def run(self, data: Iterable[Datum]) -> Deductions:
        """All that follows from `data`; each fact is joined once with the facts that came before it."""
        agenda = distinct(data)
        facts = set(agenda)
        seen: defaultdict[str, list[Datum]] = defaultdict(list)
        fired: set[Fired] = set()
        for datum in agenda:  # grows while it is walked
            seen[datum.key].append(datum)
            for rule, matched in self._firings(datum, seen):
                fired.add(Fired(rule.id, matched))
                new = [follows for follows in rule.concludes if follows not in facts]
                facts.update(new)
                agenda += dict.fromkeys(new)
        return deductions(fired, facts)

    def _firings(self, datum: Datum, seen: Mapping[str, list[Datum]]) -> Iterator[tuple[Rule, tuple[Datum, ...]]]:
        """Each rule that the new fact completes, with every choice of facts that completes it."""
        for rule, place in self._asking.get(datum.key, ()):
            if not rule.patterns[place].matches(datum):
                continue
            choices = [
                [datum] if other == place else [known for known in seen.get(pattern.key, ()) if pattern.matches(known)]
                for other, pattern in enumerate(rule.patterns)
            ]
            for matched in product(*choices):
                yield rule, matched


def deductions(fired: Iterable[Fired], facts: Iterable[Datum]) -> Deductions:
    """The result in its one form: firings sorted, and once each even where two alternatives matched the same facts."""
    once: dict[tuple[str, frozenset[Datum]], Fired] = {}
    for firing in sorted(fired):
        once.setdefault((firing.rule, frozenset(firing.matched)), firing)
    return Deductions(tuple(once.values()), frozenset(facts))


def distinct(data: Iterable[Datum]) -> list[Datum]:
    """The facts, once each, numbers as floats.

    Raises:
        EngineError: a value is neither a word nor a finite number.
    """
    return list(dict.fromkeys(_prepared_datum(datum, "the facts") for datum in data))


def prepared(rules: Iterable[Rule]) -> tuple[Rule, ...]:
    """The rules with their numbers as floats, once it is sure that every chainer takes them alike.

    Raises:
        EngineError: a rule without patterns; two patterns of one rule on the same key (one fact cannot fill both); a
            pattern with neither words nor edges, or with both; a range that nothing can fall into, or with an edge that
            is not a finite number; words and numbers under one key.
    """
    ready = tuple(_prepared_rule(rule) for rule in rules)
    _refuse_mixed_keys(ready)
    return ready


def _prepared_rule(rule: Rule) -> Rule:
    if not rule.patterns:
        raise EngineError("rule-empty", f"Rule {rule.id!r} has no pattern.", hint="State what must hold.")
    keys = [pattern.key for pattern in rule.patterns]
    twice = sorted({key for key in keys if keys.count(key) > 1})
    if twice:
        raise EngineError(
            "rule-key-twice",
            f"Rule {rule.id!r} has two patterns on {twice[0]!r}, and one fact cannot fill both.",
            hint="Put a range into one pattern, and alternatives into rules of the same id.",
        )
    patterns = tuple(_prepared_pattern(pattern, f"rule {rule.id!r}") for pattern in rule.patterns)
    concludes = tuple(_prepared_datum(datum, f"rule {rule.id!r}") for datum in rule.concludes)
    return replace(rule, patterns=patterns, concludes=concludes)


def _prepared_pattern(pattern: Pattern, where: str) -> Pattern:
    place = f"{where}, pattern on {pattern.key!r}"
    edges = {name: _number(edge, place) for name, edge in pattern.edges().items()}
    if bool(edges) == bool(pattern.any_of):
        raise EngineError("pattern-unclear", f"In {place}: state either words or the edges of a range.")
    if not all(isinstance(word, str) for word in pattern.any_of):
        raise EngineError("value-unclear", f"In {place}: {pattern.any_of!r} holds something that is not a word.")
    if edges:
        _refuse_void_range(edges, place)
    return Pattern(
        pattern.key,
        any_of=tuple(dict.fromkeys(pattern.any_of)),
        at_least=edges.get("at_least"),
        above=edges.get("above"),
        below=edges.get("below"),
        up_to=edges.get("up_to"),
    )


def _refuse_void_range(edges: Mapping[str, float], place: str) -> None:
    for one, other in (("at_least", "above"), ("below", "up_to")):
        if one in edges and other in edges:
            raise EngineError("range-unclear", f"In {place}: `{one}` and `{other}` are two edges on one side.")
    low = edges.get("at_least", edges.get("above", -math.inf))
    high = edges.get("up_to", edges.get("below", math.inf))
    meets = "at_least" in edges and "up_to" in edges
    if low > high or (low == high and not meets):
        raise EngineError(
            "range-void", f"In {place}: no number is from {low:g} to {high:g}.", hint="Are the two edges swapped?"
        )


def _refuse_mixed_keys(rules: Iterable[Rule]) -> None:
    kinds: dict[str, str] = {}
    for rule in rules:
        named = [(pattern.key, "words" if pattern.any_of else "numbers") for pattern in rule.patterns]
        named += [(datum.key, "words" if isinstance(datum.value, str) else "numbers") for datum in rule.concludes]
        for key, kind in named:
            if kinds.setdefault(key, kind) != kind:
                raise EngineError(
                    "key-mixed",
                    f"Rule {rule.id!r} uses {key!r} for {kind}, a rule before it (or itself) for {kinds[key]}.",
                    hint="Give words and numbers keys of their own.",
                )


def _prepared_datum(datum: Datum, where: str) -> Datum:
    if isinstance(datum.value, str):
        return datum
    return Datum(datum.key, _number(datum.value, f"{where}, fact {datum.key!r}"))


def _number(value: object, where: str) -> float:
    """A finite float, zero without a sign; truth values are no numbers here, though Python counts them as such."""
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise EngineError("value-unclear", f"In {where}: {value!r} is neither a word nor a number.")
    try:
        number = float(value)
    except OverflowError:
        number = math.inf
    if not math.isfinite(number):
        raise EngineError("number-not-finite", f"In {where}: a number must be finite and a float can hold it.")
    return number + 0.0
