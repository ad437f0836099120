"""Three chainers of different make agree: durable-rules, plain forward chaining, and CLIPS through clipspy."""

from __future__ import annotations

import random
from collections.abc import Callable, Sequence
from typing import Any

import clips
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from diagnose.reason.deduce import Datum, Deductions, DurableChainer, Pattern, PlainChainer, Rule

# The engine asks the time in a way that Python 3.12 and later call out of date.
pytestmark = pytest.mark.filterwarnings("ignore:datetime.datetime.utcfromtimestamp:DeprecationWarning")

Matched = set[tuple[str, frozenset[Datum]]]

TEMPLATES = ("(deftemplate word (slot k) (slot v))", "(deftemplate number (slot k) (slot n))")
SIGNS = {"at_least": ">=", "above": ">", "below": "<", "up_to": "<="}


# --- CLIPS, written from the meaning of the rules and not from the project's chainers


def text(word: str) -> str:
    """A word as CLIPS writes it."""
    return '"' + word.replace("\\", "\\\\").replace('"', '\\"') + '"'


def fact(datum: Datum) -> str:
    """A fact as CLIPS writes it."""
    if isinstance(datum.value, str):
        return f"(word (k {text(datum.key)}) (v {text(datum.value)}))"
    return f"(number (k {text(datum.key)}) (n {float(datum.value)!r}))"


def pattern(asked: Pattern, place: int) -> str:
    """A pattern as CLIPS writes it, its fact bound to `?f` and the place."""
    if asked.any_of:
        return f"?f{place} <- (word (k {text(asked.key)}) (v {'|'.join(text(word) for word in asked.any_of)}))"
    edges = {name: getattr(asked, name) for name in SIGNS}
    tests = [f":({SIGNS[name]} ?n{place} {float(edge)!r})" for name, edge in edges.items() if edge is not None]
    return f"?f{place} <- (number (k {text(asked.key)}) (n ?n{place}&{'&'.join(tests)}))"


def by_clips(rules: Sequence[Rule], data: Sequence[Datum]) -> tuple[Matched, set[Datum]]:
    """Firings and facts after CLIPS has run the rules over the facts."""
    environment = clips.Environment()
    fired: Matched = set()

    def datum(known: Any) -> Datum:
        return Datum(known["k"], known["v" if known.template.name == "word" else "n"])

    def note(number: int, *matched: Any) -> None:
        fired.add((rules[number].id, frozenset(datum(known) for known in matched)))

    environment.define_function(note, "note")
    for template in TEMPLATES:
        environment.build(template)
    for number, rule in enumerate(rules):
        places = range(len(rule.patterns))
        conditions = " ".join(pattern(rule.patterns[place], place) for place in places)
        actions = " ".join(f"(assert {fact(follows)})" for follows in rule.concludes)
        noted = " ".join(f"?f{place}" for place in places)
        environment.build(f"(defrule r{number} {conditions} => {actions} (note {number} {noted}))")
    for given_fact in data:
        environment.assert_string(fact(given_fact))
    environment.run()
    facts = {datum(known) for known in environment.facts() if known.template.name in {"word", "number"}}
    return fired, facts


def matched(result: Deductions) -> Matched:
    """The firings of a result, the matched facts without their order."""
    return {(firing.rule, frozenset(firing.matched)) for firing in result.fired}


def compare(rules: Sequence[Rule], data: Sequence[Datum]) -> Deductions:
    """Runs all three and checks that they agree on the firings and on the facts."""
    durable = DurableChainer(rules).run(data)
    assert durable == PlainChainer(rules).run(data)
    fired, facts = by_clips(rules, data)
    assert matched(durable) == fired
    assert durable.facts == facts
    assert len(durable.fired) == len(fired)
    return durable


# --- Rule bases drawn by lot

WORD_KEYS = ("play-at-headset", "recent work", 'a "quoted" key', "ключ")
NUMBER_KEYS = ("gap", "top-cap-gap")
WORDS = ("clear", "2", "", 'qu"ote', "back\\slash", "größer")
EDGES = (-1e9, -2.5, -1.0, 0.0, 1e-5, 0.1, 0.30000000000000004, 1.0, 2.0, 3.5, 1e16, 1e21)
BETWEEN = (*EDGES, -1e300, -0.3, 5e-324, 0.3, 2.5, 7.0, 1e300)


def draw_range(lot: random.Random, key: str) -> Pattern:
    """A range with one edge or two, open or closed on either side."""
    low, high = sorted(lot.sample(EDGES, 2))
    lower = {lot.choice(("at_least", "above")): low}
    upper = {lot.choice(("below", "up_to")): high}
    edges = lot.choice((lower, upper, lower | upper, lower | upper, {"at_least": low, "up_to": low}))
    return Pattern(key, **edges)  # type: ignore[arg-type]  # the names are those of the edges


def draw_datum(lot: random.Random) -> Datum:
    """A fact under one of the keys."""
    if lot.random() < 0.6:
        return Datum(lot.choice(WORD_KEYS), lot.choice(WORDS))
    return Datum(lot.choice(NUMBER_KEYS), lot.choice(BETWEEN))


def draw_rules(lot: random.Random) -> list[Rule]:
    """Rules of one to four patterns, some sharing an id, each with up to two conclusions."""
    rules = []
    for _ in range(lot.randint(2, 16)):
        keys = lot.sample(WORD_KEYS + NUMBER_KEYS, lot.choice((1, 1, 2, 2, 3, 4)))
        patterns = tuple(
            draw_range(lot, key) if key in NUMBER_KEYS else Pattern(key, tuple(lot.sample(WORDS, lot.randint(1, 5))))
            for key in keys
        )
        concludes = tuple(draw_datum(lot) for _ in range(lot.choice((0, 1, 1, 2))))
        rules.append(Rule(f"rule-{lot.randint(1, 10)}", patterns, concludes))
    return rules


@pytest.mark.parametrize("part", range(8))
def test_three_chainers_agree_on_rule_bases_drawn_by_lot(part: int) -> None:
    """On 2,000 rule bases drawn by lot the three agree on every firing and every fact."""
    lot = random.Random(f"part {part}")  # noqa: S311  # drawn by lot, not secret
    firings = chained = joined = quiet = 0
    for _ in range(250):
        rules = draw_rules(lot)
        data = [draw_datum(lot) for _ in range(lot.randint(2, 14))]
        result = compare(rules, data)
        given_facts = {Datum(key, value) for key, value in data}
        firings += len(result.fired)
        chained += any(set(firing.matched) - given_facts for firing in result.fired)
        joined += any(len(firing.matched) > 1 for firing in result.fired)
        quiet += not result.fired
    # The lot is worth drawing: much fires, much is chained and joined, and some bases stay silent.
    assert firings > 1000
    assert chained > 50
    assert joined > 50
    assert quiet > 5


# --- Rule bases as hypothesis makes and shrinks them


@st.composite
def rule_bases(draw: Callable[[st.SearchStrategy[Any]], Any], letters: st.SearchStrategy[str]) -> tuple[Any, Any]:
    """Rules and facts over words of any letters and finite numbers of any size."""
    words = draw(st.lists(st.text(letters, max_size=4), min_size=2, max_size=6, unique=True))
    numbers = draw(st.lists(st.floats(allow_nan=False, allow_infinity=False), min_size=2, max_size=6, unique=True))
    numbers.sort()

    def some_datum() -> Datum:
        name = draw(st.sampled_from(("w1", "w2", "w3", "n1", "n2")))
        return Datum(name, draw(st.sampled_from(words if name[0] == "w" else numbers)))

    def some_pattern(name: str) -> Pattern:
        if name[0] == "w":
            return Pattern(name, tuple(draw(st.lists(st.sampled_from(words), min_size=1, max_size=3))))
        low, high = sorted(draw(st.lists(st.sampled_from(numbers), min_size=2, max_size=2, unique=True)))
        ranges = (
            *(Pattern(name, at_least=low), Pattern(name, above=low), Pattern(name, below=high)),
            *(Pattern(name, at_least=low, below=high), Pattern(name, above=low, up_to=high)),
            *(Pattern(name, up_to=low), Pattern(name, at_least=high, up_to=high)),
        )
        return ranges[draw(st.integers(0, len(ranges) - 1))]

    def some_rule(number: int) -> Rule:
        names = draw(st.lists(st.sampled_from(("w1", "w2", "w3", "n1", "n2")), min_size=1, max_size=3, unique=True))
        concludes = [some_datum() for _ in range(draw(st.integers(0, 2)))]
        return Rule(f"r{number // 2}", tuple(some_pattern(name) for name in names), tuple(concludes))

    rules = [some_rule(number) for number in range(draw(st.integers(1, 6)))]
    return rules, [some_datum() for _ in range(draw(st.integers(0, 8)))]


# CLIPS reads strings as if they were typed: a backspace in one takes the letter before it away.
@given(rule_bases(st.characters(exclude_categories=["Cs", "Cc"])))
@settings(max_examples=150)
def test_three_chainers_agree_on_any_rule_base(base: tuple[list[Rule], list[Datum]]) -> None:
    """On whatever rule base, with words in any script that CLIPS can hold, the three agree."""
    compare(*base)


@given(rule_bases(st.characters()))
@settings(max_examples=150)
def test_durable_rules_and_plain_chaining_agree_on_any_words(base: tuple[list[Rule], list[Datum]]) -> None:
    """With words of any code points at all, lone surrogates and zero among them, the two agree."""
    rules, data = base
    assert DurableChainer(rules).run(data) == PlainChainer(rules).run(data)
