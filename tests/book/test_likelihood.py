"""Words, counts and percentages as chances, and rows that sum to 1.

The scale of words is held against Intelligence Community Directive 203, Analytic Standards (2 January 2015), section
D.6.e.(2)(a), as printed there; `n in m` against the mean of a beta distribution by scipy.
"""

from __future__ import annotations

from math import fsum, isclose

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import beta

from diagnose.book.likelihood import (
    FLOOR,
    WORD_WEIGHT,
    WORDS,
    Chance,
    cannot_sum,
    complete_row,
    read_chance,
    read_count,
    read_percent,
)

PRINTED = {
    "almost no chance": (1, 5),
    "very unlikely": (5, 20),
    "unlikely": (20, 45),
    "roughly even chance": (45, 55),
    "likely": (55, 80),
    "very likely": (80, 95),
    "almost certain": (95, 99),
}
"""Percentages as the directive prints them."""


def chance(text: str) -> Chance:
    """What a text is read as."""
    read = read_chance(text)
    assert read is not None, text
    return read


def row(values: str, named: dict[str, str], otherwise: tuple[float, ...] | None = None) -> dict[str, float]:
    """A completed row by value."""
    chances = {value: chance(text) for value, text in named.items()}
    names = tuple(values.split())
    assert not cannot_sum(chances, names)
    return dict(zip(names, complete_row(chances, names, otherwise), strict=True))


# One entry


@pytest.mark.parametrize("word", WORDS)
def test_each_word_stands_for_its_published_range(word: str) -> None:
    """The directive's range, and the middle of it as the value."""
    low, high = PRINTED[word]
    read = chance(word)
    assert (read.low, read.high) == (low / 100, high / 100)
    assert isclose(read.value, (low + high) / 200)
    assert read.weight == WORD_WEIGHT


def test_no_word_is_left_out() -> None:
    """The seven words of the directive, in rising order, and no other."""
    assert list(WORDS) == list(PRINTED)
    values = [value for value, _, _ in WORDS.values()]
    assert values == sorted(values)


@pytest.mark.parametrize(
    ("text", "value"), [("17 in 20", 17.5 / 21), ("0 in 20", 0.5 / 21), ("20 in 20", 20.5 / 21), ("2.5 in 4", 3 / 5)]
)
def test_a_count_is_read_with_half_a_case_more_on_either_side(text: str, value: float) -> None:
    """(n + 1/2) / (m + 1): never quite 0 or 1; it weighs as many cases as were counted."""
    read = chance(text)
    assert isclose(read.value, value)
    assert read.weight == float(text.rsplit(maxsplit=1)[-1])


@given(st.integers(0, 500), st.integers(1, 500))
def test_a_count_is_the_mean_under_a_jeffreys_prior(n: int, m: int) -> None:
    """The same as a beta distribution with 1/2 added to what was seen and what was not."""
    if n <= m:
        assert isclose(chance(f"{n} in {m}").value, float(beta(n + 0.5, m - n + 0.5).mean()), rel_tol=1e-12)


@pytest.mark.parametrize(("text", "value"), [("80 %", 0.8), ("80%", 0.8), ("2.5 %", 0.025), ("0 %", FLOOR)])
def test_a_percentage_is_that_fraction(text: str, value: float) -> None:
    """Nothing is held to be impossible: 0 % is the floor."""
    assert isclose(chance(text).value, value)
    assert isclose(chance("100 %").value, 1 - FLOOR)


@pytest.mark.parametrize(
    "text",
    [
        *("", "often", "Likely", "very  unlikly", "80", "0.8", "101 %", "-1 %", "1e1 %", "80 percent", "٨٠ %"),
        *("21 in 20", "1 in 0", "-1 in 20", "1/20", "1 in 20.5", "one in two", "1 in 1000000000"),
    ],
)
def test_anything_else_is_no_chance(text: str) -> None:
    """Neither rounded nor guessed at."""
    assert read_chance(text) is None


def test_blanks_do_not_matter() -> None:
    """A word may be broken over two lines."""
    assert read_chance("very\n  likely") == read_chance("very likely")
    assert read_count(" 6 in 100 ") == (6.0, 100)
    assert read_percent(" 6 % ") == 0.06


# A row


def test_the_rest_is_shared_in_the_proportion_of_otherwise() -> None:
    """By hand: 1 - 0.675 = 0.325 left, split 3 to 1."""
    found = row("none slight clear", {"clear": "likely"}, (0.6, 0.2, 0.2))
    assert found == pytest.approx({"none": 0.24375, "slight": 0.08125, "clear": 0.675})


def test_without_otherwise_the_rest_is_shared_evenly() -> None:
    """So an `otherwise` row itself is read. By hand: 0.125 left for two."""
    assert row("none slight clear", {"none": "very likely"}) == pytest.approx(
        {"none": 0.875, "slight": 0.0625, "clear": 0.0625}
    )


def test_named_values_that_leave_nothing_are_scaled_to_leave_the_floor() -> None:
    """By hand: likely and unlikely make 1; times 0.995 they leave 0.005."""
    assert row("none slight clear", {"clear": "likely", "slight": "unlikely"}) == pytest.approx(
        {"none": 0.005, "slight": 0.323375, "clear": 0.671625}
    )


def test_a_rare_value_is_lifted_to_the_floor() -> None:
    """By hand: of the 0.5 left, 0.0005 would fall to the last value; it gets 0.005 and the other the rest."""
    assert row("a b c", {"a": "50 %"}, (0.001, 0.998, 0.001)) == pytest.approx({"a": 0.5, "b": 0.495, "c": 0.005})


def test_with_every_value_named_the_row_is_scaled_to_one() -> None:
    """By hand: 0.875 + 0.325 = 1.2."""
    assert row("yes no", {"yes": "very likely", "no": "unlikely"}) == pytest.approx(
        {"yes": 0.875 / 1.2, "no": 0.325 / 1.2}
    )


@pytest.mark.parametrize(
    ("values", "words"),
    [
        ("a b", ["very likely", "very likely"]),
        ("a b c", ["very likely", "unlikely", "very unlikely"]),
        ("a b c", ["likely", "roughly even chance", "very unlikely"]),
        ("a b", ["unlikely", "unlikely"]),
        ("a b c", ["very unlikely", "very unlikely", "roughly even chance"]),
        ("a b", ["90 %", "20 %"]),
    ],
)
def test_words_whose_ranges_cannot_sum_to_one_are_refused(values: str, words: list[str]) -> None:
    """Too much even at the lower ends, or too little even at the upper ends with no value left for the rest."""
    names = tuple(values.split())
    assert cannot_sum(dict(zip(names, map(chance, words), strict=False)), names)


@pytest.mark.parametrize(
    ("values", "words"),
    [
        ("a b", ["very likely", "very unlikely"]),
        ("a b", ["roughly even chance", "roughly even chance"]),
        ("a b c", ["very unlikely", "very unlikely"]),
        ("a b c", ["unlikely", "unlikely", "unlikely"]),
        ("a b", ["91 %", "10 %"]),
    ],
)
def test_words_whose_ranges_can_sum_to_one_are_taken(values: str, words: list[str]) -> None:
    """A value that is not named takes the rest, so two rare ones of three are fine."""
    names = tuple(values.split())
    assert not cannot_sum(dict(zip(names, map(chance, words), strict=False)), names)


texts = st.one_of(
    st.sampled_from(list(WORDS)),
    st.integers(0, 100).map("{} %".format),
    st.tuples(st.integers(0, 60), st.integers(1, 60))
    .filter(lambda two: two[0] <= two[1])
    .map("{0[0]} in {0[1]}".format),
)


@st.composite
def rows(draw: st.DrawFn) -> tuple[dict[str, Chance], tuple[str, ...], tuple[float, ...] | None]:
    """Named chances, all values, and perhaps an otherwise row."""
    count = draw(st.integers(2, 8))
    values = tuple("abcdefgh"[:count])
    named = draw(st.dictionaries(st.sampled_from(values), texts.map(chance), min_size=1))
    parts = draw(st.lists(st.floats(1e-4, 1), min_size=count, max_size=count))
    otherwise = tuple(part / sum(parts) for part in parts)
    return named, values, draw(st.sampled_from([None, otherwise]))


@given(rows())
def test_a_row_sums_to_one_and_keeps_what_was_named(
    drawn: tuple[dict[str, Chance], tuple[str, ...], tuple[float, ...] | None],
) -> None:
    """Sum 1; named values as they are where there is room; all in their proportions, none left out below the floor."""
    named, values, otherwise = drawn
    if cannot_sum(named, values):
        return
    found = dict(zip(values, complete_row(named, values, otherwise), strict=True))
    assert isclose(fsum(found.values()), 1, abs_tol=1e-9)
    scale = {found[value] / chance.value for value, chance in named.items()}
    assert isclose(min(scale), max(scale), rel_tol=1e-9)
    left = [value for value in values if value not in named]
    if not left:
        return
    total = fsum(chance.value for chance in named.values())
    room = total <= 1 - FLOOR * len(left)
    assert isclose(max(scale), 1 if room else (1 - FLOOR * len(left)) / total, rel_tol=1e-9)
    base = dict(zip(values, otherwise or [1.0] * len(values), strict=True))
    assert all(found[value] >= FLOOR * (1 - 1e-9) for value in left)
    lifted = [value for value in left if isclose(found[value], FLOOR, rel_tol=1e-9)]
    rates = [found[value] / base[value] for value in left if value not in lifted]
    assert not rates or isclose(min(rates), max(rates), rel_tol=1e-9)
    assert all(base[value] * min(rates) * (1 - 1e-9) <= FLOOR for value in lifted if rates)
