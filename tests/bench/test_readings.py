"""What people type and what a sum takes: spans, words, several readings, markings, bands."""

from __future__ import annotations

import math
import string

import pytest
from hypothesis import given
from hypothesis import strategies as st

from diagnose.bench.bands import Band, around, band_for
from diagnose.bench.span import LONGEST, Span, one_of, written
from diagnose.bench.typed import Marking, parse_marking, parse_several
from diagnose.bench.units import same_kind, unit_of
from diagnose.errors import InputError

TRAVEL = Span("travel", 20, 320, "mm")


def code_of(*arguments: object) -> str:
    """The code of the error that calling the first argument with the rest raises."""
    function, *rest = arguments
    assert callable(function)
    with pytest.raises(InputError) as caught:
        function(*rest)
    return caught.value.code


@given(st.floats(allow_nan=True, allow_infinity=True))
def test_a_span_hands_back_what_lies_in_it_and_refuses_the_rest(value: float) -> None:
    """A number in the range comes back as it is, every other one is refused."""
    if 20 <= value <= 320:
        assert TRAVEL.check(value) == value
    else:
        assert code_of(TRAVEL.check, value) in {"bench-out-of-range", "bench-not-a-number"}


def test_a_refusal_states_name_value_and_range() -> None:
    """The message says what was given, the hint what makes sense, with the unit."""
    with pytest.raises(InputError) as caught:
        TRAVEL.check(1200)
    assert str(caught.value) == "The travel cannot be 1200. 20 to 320 mm makes sense."


@pytest.mark.parametrize(
    ("value", "code"),
    [
        (None, "bench-missing"), ("30", "bench-not-a-number"), (True, "bench-not-a-number"), (3j, "bench-not-a-number"),
        (math.nan, "bench-not-a-number"), (10**400, "bench-not-a-number"), (19.999, "bench-out-of-range"),
    ],
)  # fmt: skip
def test_each_kind_of_slip_has_its_code(value: object, code: str) -> None:
    """Missing, no number, out of range are told apart."""
    assert code_of(TRAVEL.check, value) == code


def test_whole_numbers_and_counts_of_readings() -> None:
    """Half a bolt is refused, and so are too few or too many readings, and one where several are asked."""
    assert code_of(Span("number of bolts", 1, 12, "count", whole=True).check, 2.5) == "bench-not-whole"
    assert code_of(TRAVEL.check_all, [30], 2, 3) == "bench-readings"
    assert code_of(TRAVEL.check_all, [30] * 4, 2, 3) == "bench-readings"
    assert code_of(TRAVEL.check_all, 30, 1, 3) == "bench-not-a-number"
    assert code_of(TRAVEL.check_all, None, 1, 3) == "bench-missing"
    assert TRAVEL.check_all((30, 40), 2, 2) == (30, 40)


def test_words_and_markings() -> None:
    """A word is one of a list; a marking is a short line of printable signs."""
    assert one_of("place", "tread", ["tread", "sidewall"]) == "tread"
    assert code_of(one_of, "place", "rim", ["tread"]) == "bench-unknown-word"
    assert code_of(one_of, "place", None, ["tread"]) == "bench-missing"
    assert written("thread", "  M5 ", "") == "M5"
    assert code_of(written, "thread", " ", "") == "bench-missing"
    assert code_of(written, "thread", "M5\x1b[2J", "") == "bench-unknown-word"
    assert code_of(written, "thread", "M" * (LONGEST + 1), "") == "bench-unknown-word"
    with pytest.raises(InputError) as caught:
        one_of("place", "x" * 500, ["tread"])
    assert len(str(caught.value)) < 100


@pytest.mark.parametrize(
    ("text", "values"),
    [
        ("0.1 0.3 -0.2 mm", [0.1, 0.3, -0.2]),
        ("0,1 0,3 -0,2", [0.1, 0.3, -0.2]),
        ("0.1, 0.3, 0.2", [0.1, 0.3, 0.2]),
        ("0.1;0.3;0.2", [0.1, 0.3, 0.2]),
        ("3mm 4mm", [3, 4]),
        ("1/16 1/8 in", [1.5875, 3.175]),
        ("1 1/2 2 in", [38.1, 50.8]),
        ("1/16 in; 2 1/2 in", [1.5875, 63.5]),
        ("3 in 4 in", [76.2, 101.6]),
        ("12", [12]),
        ("1 cm; 2 mm", [10, 2]),
        ("\u22120.1\u00a0 0.2", [-0.1, 0.2]),
    ],
)
def test_several_readings_as_they_are_typed(text: str, values: list[float]) -> None:
    """Blanks or semicolons between, points or commas, fractions; a unit once at the end counts for all."""
    assert [reading.value for reading in parse_several(text, "mm")] == pytest.approx(values)


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("", "quantity-empty"),
        ("3mm 4 5mm", "quantity-mixed-units"),
        ("3 in 4", "quantity-mixed-units"),
        ("one two", "quantity-not-a-number"),
        ("3 4 psi", "quantity-wrong-unit"),
        ("1 " * 1001, "quantity-too-long"),
    ],
)
def test_readings_that_cannot_be_told_apart_are_refused(text: str, code: str) -> None:
    """A unit on some of the readings only is never guessed."""
    assert code_of(parse_several, text, "mm") == code


@given(
    st.lists(st.decimals(min_value=-99, max_value=99, places=2), min_size=1, max_size=20), st.sampled_from([" ", "; "])
)
def test_any_row_of_numbers_comes_back(numbers: list[object], between: str) -> None:
    """What is written out with blanks or semicolons is read as the same numbers."""
    text = between.join(str(number) for number in numbers)
    assert [reading.value for reading in parse_several(text, "mm")] == [float(str(number)) for number in numbers]


@pytest.mark.parametrize(
    ("text", "low", "high"),
    [
        ("5-7 Nm", 5, 7),
        ("5 to 7 Nm", 5, 7),
        ("5,2 – 6,5 Nm", 5.2, 6.5),
        ("5Nm-7Nm", 5, 7),
        ("5 Nm to 7 Nm", 5, 7),
        ("max 6 Nm", None, 6),
        ("MAX. 6", None, 6),
        ("≤ 6 N·m", None, 6),
        ("at most 6", None, 6),
        ("6 Nm", None, 6),
        ("44-62 in-lbs", 4.97133, 7.00506),
        ("2-1/2 Nm", None, 2.5),
    ],
)
def test_markings_as_they_stand_on_parts(text: str, low: float | None, high: float) -> None:
    """A range, a highest value, or one number, which counts as the highest."""
    marking = parse_marking(text, "N.m")
    assert marking.low == (None if low is None else pytest.approx(low, rel=1e-5))
    assert marking.high == pytest.approx(high, rel=1e-5)


@given(st.text(max_size=50) | st.text(alphabet=string.digits + "-–. toNmax½/", max_size=25))
def test_any_text_is_a_marking_or_a_clear_refusal(text: str) -> None:
    """Whatever is typed gives ends in order, or one error that can be shown on a line."""
    try:
        marking = parse_marking(text, "N.m")
    except InputError as error:
        assert str(error).isprintable()
    else:
        assert isinstance(marking, Marking)
        assert marking.low is None or marking.low <= marking.high


def test_a_range_the_wrong_way_round_is_refused() -> None:
    """The first end is the lower one."""
    assert code_of(parse_marking, "7-5 Nm", "N.m") == "bench-no-limit"


@pytest.mark.parametrize(
    ("text", "name"),
    [("Nm", "N.m"), ("in-lbs", "lbf.in"), ("ft lb", "lbf.ft"), ("PSI", "psi"), ('"', "in"), ("kg", "kg")],
)
def test_units_by_any_spelling(text: str, name: str) -> None:
    """A unit alone is known by every spelling; "kg" is a mass."""
    assert unit_of(text) == name
    assert same_kind(name, unit_of(text))


def test_an_unknown_unit_is_refused() -> None:
    """With the units that there are."""
    assert code_of(unit_of, "cubit") == "quantity-unknown-unit"
    assert not same_kind("N.m", "psi")


@given(st.floats(-50, 50), st.floats(-50, 50), st.floats(-100, 100))
def test_the_three_bands_of_a_limit_leave_no_gap(one: float, other: float, reading: float) -> None:
    """Every reading falls into exactly one band, both ends of the limit into the right one."""
    low, high = sorted((round(one, 6), round(other, 6)))
    bands = around(low, high, ("under", "right", "over"))
    assert sum(band.holds(reading) for band in bands) == 1
    found = [band_for(edge, bands) for edge in (low, high, low - 1, high + 1)]
    assert [band.name for band in found if band] == ["right", "right", "under", "over"]


def test_a_limit_needs_an_end() -> None:
    """No end, or ends the wrong way round, is no limit."""
    assert code_of(around, None, None, ("", "", "")) == "bench-no-limit"
    assert code_of(around, 5, 4, ("", "", "")) == "bench-no-limit"
    assert [band.name for band in around(None, 4, ("a", "b", "c"))] == ["b", "c"]
    assert [band.name for band in around(4, None, ("a", "b", "c"))] == ["a", "b"]


def test_open_and_closed_edges() -> None:
    """An edge belongs to the band that says so."""
    half_open = Band("slight", 1, 3)
    assert [half_open.holds(value) for value in (0.999, 1, 2.999, 3)] == [False, True, True, False]
    other = Band("more", 1, 3, with_low=False, with_high=True)
    assert [other.holds(value) for value in (1, 1.001, 3, 3.001)] == [False, True, True, False]
    assert band_for(9, [half_open, other]) is None
