"""Facts, patterns and the plain forward chainer: what may go in, and what every chainer makes of it."""

from __future__ import annotations

import math
import random

import pytest

from diagnose.errors import EngineError
from diagnose.reason.deduce import Chainer, Datum, Deductions, DurableChainer, Fired, Pattern, PlainChainer, Rule

# The engine asks the time in a way that Python 3.12 and later call out of date.
pytestmark = pytest.mark.filterwarnings("ignore:datetime.datetime.utcfromtimestamp:DeprecationWarning")

BOTH = pytest.mark.parametrize("make", [PlainChainer, DurableChainer])
Make = type[PlainChainer] | type[DurableChainer]


def fired(chainer: Chainer, *data: Datum) -> list[tuple[str, tuple[str | float, ...]]]:
    """Rules that fired on these facts, with the values they matched."""
    return [(firing.rule, tuple(datum.value for datum in firing.matched)) for firing in chainer.run(data).fired]


@BOTH
def test_a_rule_fires_when_every_pattern_is_met(make: Make) -> None:
    """A rule fires when each of its patterns has its fact, and not when one is missing or another word."""
    knock = make([Rule("knock", (Pattern("play", ("slight", "clear")), Pattern("headset", ("threadless",))))])
    assert fired(knock, Datum("play", "clear"), Datum("headset", "threadless")) == [("knock", ("clear", "threadless"))]
    assert fired(knock, Datum("play", "none"), Datum("headset", "threadless")) == []
    assert fired(knock, Datum("play", "clear")) == []
    assert fired(knock) == []


@BOTH
@pytest.mark.parametrize(
    ("pattern", "inside", "outside"),
    [
        (Pattern("gap", at_least=3), [3, 3.5, 1e9], [2.999, -3]),
        (Pattern("gap", above=3), [3.0000001, 4], [3, 0]),
        (Pattern("gap", below=5), [4.9999, -1e9], [5, 6]),
        (Pattern("gap", up_to=5), [5, 4], [5.0000001, 9]),
        (Pattern("gap", at_least=3, below=5), [3, 4.9], [2.9, 5]),
        (Pattern("gap", above=3, up_to=5), [3.1, 5], [3, 5.1]),
        (Pattern("gap", at_least=3, up_to=3), [3], [2.9, 3.1]),
        (Pattern("gap", above=-1e-5, below=1e-5), [0, 9e-6, -0.0], [1e-5, -1e-5]),
        (Pattern("gap", at_least=1e21), [1e21, 1e300, 10**21], [9.9e20, -1e300]),
        (Pattern("gap", above=0, up_to=5e-324), [5e-324], [0.0, -5e-324, 1e-323]),
    ],
)
def test_edges(make: Make, pattern: Pattern, inside: list[float], outside: list[float]) -> None:
    """`at_least` and `up_to` take the edge in, `above` and `below` leave it out, at any size of number."""
    band = make([Rule("band", (pattern,))])
    for number in inside:
        assert fired(band, Datum("gap", number)) == [("band", (number,))]
    for number in outside:
        assert fired(band, Datum("gap", number)) == []


@BOTH
def test_neighbouring_floats_fall_on_their_own_side_of_an_edge(make: Make) -> None:
    """The float next to an edge is not taken for the edge: numbers are compared to the last bit."""
    for edge in (0.1, 4.35, 1e-12, 123456789.123456789, 1e16, -7.3):
        band = make([Rule("low", (Pattern("gap", below=edge),)), Rule("high", (Pattern("gap", at_least=edge),))])
        assert fired(band, Datum("gap", math.nextafter(edge, -math.inf)))[0][0] == "low"
        assert fired(band, Datum("gap", edge))[0][0] == "high"
        assert fired(band, Datum("gap", math.nextafter(edge, math.inf)))[0][0] == "high"


@BOTH
def test_whole_numbers_floats_and_the_sign_of_zero_are_one_fact(make: Make) -> None:
    """2 and 2.0, or 0.0 and -0.0, are one fact and come back as floats."""
    band = make([Rule("band", (Pattern("gap", at_least=0),))])
    result = band.run([Datum("gap", 2), Datum("gap", 2.0), Datum("gap", -0.0), Datum("gap", 0)])
    assert result.fired == (Fired("band", (Datum("gap", 0.0),)), Fired("band", (Datum("gap", 2.0),)))
    assert {(type(datum.value), str(datum.value)) for datum in result.facts} == {(float, "0.0"), (float, "2.0")}


@BOTH
def test_conclusions_are_facts(make: Make) -> None:
    """A conclusion, word or number, sets off further rules whatever the order of rules, and is among the facts."""
    rules = [
        Rule("last", (Pattern("torque", below=6), Pattern("band", ("right",))), (Datum("done", "yes"),)),
        Rule("middle", (Pattern("band", ("right",)),), (Datum("torque", 5),)),
        Rule("first", (Pattern("gap", at_least=3),), (Datum("band", "right"),)),
    ]
    result = make(rules).run([Datum("gap", 3.5)])
    assert [firing.rule for firing in result.fired] == ["first", "last", "middle"]
    assert result.facts == {Datum("gap", 3.5), Datum("band", "right"), Datum("torque", 5.0), Datum("done", "yes")}


@BOTH
def test_conclusions_that_go_round_in_a_circle_end(make: Make) -> None:
    """Rules that conclude one another's conditions stop when nothing new follows."""
    rules = [
        Rule("there", (Pattern("a", ("on",)),), (Datum("b", "on"),)),
        Rule("back", (Pattern("b", ("on",)),), (Datum("a", "on"),)),
        Rule("self", (Pattern("a", ("on",)),), (Datum("a", "on"),)),
    ]
    result = make(rules).run([Datum("b", "on")])
    assert [firing.rule for firing in result.fired] == ["back", "self", "there"]
    assert result.facts == {Datum("a", "on"), Datum("b", "on")}


@BOTH
def test_each_distinct_matching_is_reported_once(make: Make) -> None:
    """With several facts under a key every choice of them is a firing, sorted, and repeated facts add none."""
    rule = Rule("work", (Pattern("recent", ("stem", "wheel")), Pattern("brake", ("disc", "rim"))))
    data = [Datum("recent", "wheel"), Datum("recent", "stem"), Datum("recent", "tyre"), Datum("brake", "disc")] * 2
    assert fired(make([rule, rule]), *data) == [("work", ("stem", "disc")), ("work", ("wheel", "disc"))]


@BOTH
def test_alternatives_of_one_deduction_share_an_id(make: Make) -> None:
    """Rules of one id fire as one: the same facts count once, also if two alternatives name them in another order."""
    stem, disc = Pattern("recent", ("stem",)), Pattern("brake", ("disc",))
    chainer = make([Rule("work", (stem, disc)), Rule("work", (disc, stem)), Rule("work", (stem,))])
    assert fired(chainer, Datum("recent", "stem")) == [("work", ("stem",))]
    assert fired(chainer, Datum("recent", "stem"), Datum("brake", "disc")) == [
        ("work", ("disc", "stem")),
        ("work", ("stem",)),
    ]


@BOTH
def test_facts_that_no_rule_mentions_are_kept(make: Make) -> None:
    """Facts that no rule asks for disturb nothing and are among the facts of the result."""
    data = {Datum("nobody", "asks"), Datum("nor", 3.0), Datum("play", "none"), Datum("gap", 99.0), Datum("gap", "odd")}
    chainer = make([Rule("knock", (Pattern("play", ("clear",)),)), Rule("band", (Pattern("gap", below=3),))])
    assert chainer.run(data) == Deductions((), frozenset(data))
    assert make([]).run(data) == Deductions((), frozenset(data))


@BOTH
def test_the_result_does_not_depend_on_order(make: Make) -> None:
    """Shuffled facts and rules give an equal result, firings in the same order."""
    shuffle = random.Random(5).shuffle  # noqa: S311  # drawn by lot, not secret
    rules = [Rule(f"r{n}", (Pattern(f"k{n}", ("a", "b")),), (Datum(f"k{n + 1}", "b"),)) for n in range(8)]
    data = [Datum("k0", "a"), Datum("k3", "a"), Datum("k5", "c"), Datum("k3", "b")]
    expected = make(rules).run(data)
    assert len(expected.fired) == 9
    for _ in range(10):
        shuffle(rules)
        shuffle(data)
        assert make(rules).run(data) == expected


LONG = "x" * 100_000
ODD_WORDS = [
    *("2", "2.0", "-2", "1e5", "true", "false", "null", "NaN", "None", "", " ", "0"),
    *('"', "\\", "'", '\\"', 'a"b', "a'b", "a\\", "{", "}", "[]", ",", ":", "$or", "$all", "m0", "sid", "id"),
    *(
        "\n",
        "\r\n",
        "\t",
        "\0",
        "a\0b",
        "\x7f",
        "\u2028",
        "\ufeff",
        "ö",
        "Ö",
        "ß",
        "字",
        "é",
        "e\u0301",
        "🚲",
        "\ud800",
    ),
    *("front-knock", "Front-Knock", "front", "front-", "-", LONG, LONG + "y", LONG[:-1], LONG[: 2**16]),
]


@BOTH
def test_words_are_compared_to_the_last_character(make: Make) -> None:
    """A word matches itself alone, whatever it looks like: numbers, quotes, other scripts, and very long ones."""
    assert len(set(ODD_WORDS)) == len(ODD_WORDS)
    chainer = make([Rule(f"r{n}", (Pattern("word", (word,)),)) for n, word in enumerate(ODD_WORDS)])
    for n, word in enumerate(ODD_WORDS):
        assert fired(chainer, Datum("word", word)) == [(f"r{n}", (word,))]
    assert len(chainer.run([Datum("word", word) for word in ODD_WORDS]).fired) == len(ODD_WORDS)


@BOTH
def test_keys_are_compared_to_the_last_character(make: Make) -> None:
    """The same holds for keys, also in what is concluded."""
    keys = [*ODD_WORDS, "k", "v", "n", "$s"]
    chainer = make([Rule(f"r{n}", (Pattern(key, ("a",)),), (Datum(key, "b"),)) for n, key in enumerate(keys)])
    for n, key in enumerate(keys):
        given, concluded = Datum(key, "a"), Datum(key, "b")
        expected = Deductions((Fired(f"r{n}", (given,)),), frozenset({given, concluded}))
        assert chainer.run([given]) == expected


@BOTH
def test_a_word_is_never_a_number(make: Make) -> None:
    """A word that looks like a number falls into no range, and a number matches no word."""
    chainer = make([Rule("range", (Pattern("gap", up_to=1e9),)), Rule("word", (Pattern("word", ("2", "2.0")),))])
    assert fired(chainer, Datum("gap", "2"), Datum("gap", ""), Datum("gap", "abc"), Datum("word", 2)) == []
    assert fired(chainer, Datum("gap", 2), Datum("word", "2")) == [("range", (2.0,)), ("word", ("2",))]


def test_a_pattern_answers_for_one_fact() -> None:
    """`matches` looks at the key, and takes words for words and numbers for numbers."""
    assert Pattern("play", ("clear",)).matches(Datum("play", "clear"))
    assert not Pattern("play", ("clear",)).matches(Datum("slack", "clear"))
    assert not Pattern("play", ("clear",)).matches(Datum("play", 1.0))
    assert Pattern("gap", above=1, up_to=2).matches(Datum("gap", 2))
    assert not Pattern("gap", above=1, up_to=2).matches(Datum("gap", "2"))


ON = Pattern("a", ("on",))


@BOTH
@pytest.mark.parametrize(
    ("code", "rules"),
    [
        ("rule-empty", [Rule("r", ())]),
        ("rule-key-twice", [Rule("r", (Pattern("n", at_least=1), Pattern("n", below=3)))]),
        ("rule-key-twice", [Rule("r", (ON, Pattern("b", ("on",)), ON))]),
        ("pattern-unclear", [Rule("r", (Pattern("a"),))]),
        ("pattern-unclear", [Rule("r", (Pattern("a", ("on",), below=3),))]),
        ("range-void", [Rule("r", (Pattern("n", at_least=3, below=1),))]),
        ("range-void", [Rule("r", (Pattern("n", at_least=3, below=3),))]),
        ("range-void", [Rule("r", (Pattern("n", above=3, up_to=3),))]),
        ("range-unclear", [Rule("r", (Pattern("n", at_least=3, above=3),))]),
        ("range-unclear", [Rule("r", (Pattern("n", up_to=3, below=4),))]),
        ("number-not-finite", [Rule("r", (Pattern("n", at_least=-math.inf),))]),
        ("number-not-finite", [Rule("r", (Pattern("n", below=math.nan),))]),
        ("number-not-finite", [Rule("r", (Pattern("n", below=10**400),))]),
        ("number-not-finite", [Rule("r", (ON,), (Datum("n", math.inf),))]),
        ("value-unclear", [Rule("r", (Pattern("n", below=True),))]),
        ("value-unclear", [Rule("r", (ON,), (Datum("n", True),))]),
        ("key-mixed", [Rule("r", (ON,)), Rule("s", (Pattern("a", below=3),))]),
        ("key-mixed", [Rule("r", (ON,), (Datum("a", 3),))]),
        ("key-mixed", [Rule("r", (ON,), (Datum("n", 3),)), Rule("s", (ON,), (Datum("n", "three"),))]),
    ],
)
def test_rules_that_no_chainer_can_run_are_refused(make: Make, code: str, rules: list[Rule]) -> None:
    """A rule that would be misread is refused when the chainer is built, by its name."""
    with pytest.raises(EngineError) as refused:
        make(rules)
    assert refused.value.code == code
    assert "'r'" in str(refused.value) or "'s'" in str(refused.value)


@BOTH
@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf, 10**400, True])
def test_facts_that_are_no_fact_are_refused(make: Make, value: float) -> None:
    """A reading that is no finite number is refused, and the chainer works on."""
    chainer = make([Rule("band", (Pattern("gap", below=3),))])
    with pytest.raises(EngineError, match="gap"):
        chainer.run([Datum("gap", value)])
    assert fired(chainer, Datum("gap", 1)) == [("band", (1.0,))]
