"""Quantities against the reference table, against the unit registry pint, and as a mechanic types them."""

from __future__ import annotations

import math
import string
from fractions import Fraction
from functools import cache

import pint
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from diagnose.bench import units
from diagnose.bench.units import convert, is_unit, parse_quantity, show, show_also, show_range
from diagnose.errors import InputError
from tests.trade_values import trade_value

PINT_NAMES = {
    "N.m": "N*m", "lbf.in": "lbf*inch", "lbf.ft": "lbf*foot", "kgf.cm": "kgf*cm",
    "mm": "mm", "cm": "cm", "m": "m", "in": "inch", "ft": "foot",
    "bar": "bar", "psi": "psi", "kPa": "kPa",
    "min": "minute", "s": "second", "h": "hour",
    "N": "newton", "kgf": "kgf", "lbf": "lbf",
    "kg": "kg", "g": "gram", "lb": "pound", "oz": "ounce",
    "°C": "degC", "°F": "degF",
    "N/mm": "N/mm", "lbf/in": "lbf/inch",
    "mm2": "mm**2", "cm2": "cm**2", "km/h": "km/hour", "mph": "mile/hour",
}  # fmt: skip
ALL_UNITS = units.UNITS + units.TYPED_ONLY
PAIRS = [
    (here.name, there.name)
    for here in ALL_UNITS
    for there in ALL_UNITS
    if here.dimension == there.dimension and here is not there
]
READINGS = st.decimals(min_value=-2000, max_value=2000, places=3).map(float)


@cache
def registry() -> pint.UnitRegistry[float]:
    """The unit registry, built once."""
    return pint.UnitRegistry()


def code_of(text: str, unit: str) -> str:
    """The code of the error that reading `text` raises."""
    with pytest.raises(InputError) as caught:
        parse_quantity(text, unit)
    return caught.value.code


@pytest.mark.parametrize(
    ("row", "given_key", "unit"),
    [
        ("unit-lbfin-to-nm", "torque_lbfin", "lbf.in"),
        ("unit-lbfft-to-nm", "torque_lbfft", "lbf.ft"),
        ("unit-kgfcm-to-nm", "torque_kgfcm", "kgf.cm"),
        ("unit-nm-to-lbfin", "torque_nm", "N.m"),
        ("unit-nm-to-lbfft", "torque_nm", "N.m"),
        ("unit-psi-to-kpa", "pressure_psi", "psi"),
        ("unit-bar-to-psi", "pressure_bar", "bar"),
        ("unit-lbfin-rate-to-nmm", "rate_lbf_per_in", "lbf/in"),
        ("unit-conv-5-nm-to-lbfin", "torque_nm", "N.m"),
        ("unit-conv-40-nm-to-lbfft", "torque_nm", "N.m"),
        ("unit-conv-100-psi-bar", "pressure_psi", "psi"),
        ("unit-conv-2p5-bar-psi", "pressure_bar", "bar"),
        ("steerer-1-1-8", "diameter_in", "in"),
        ("pedal-thread-diameter", "diameter_in", "in"),
        ("ball-1-4", "diameter_in", "in"),
        ("bb-iso-diameter", "diameter_in", "in"),
    ],
)
def test_conversion_of_the_reference_table(row: str, given_key: str, unit: str) -> None:
    """Converting what the row gives lands within the row's tolerance of its value (trade-values: the row named)."""
    expected = trade_value(row)
    assert convert(expected.given(given_key), unit, expected.unit) == pytest.approx(
        expected.number, abs=expected.allowed
    )


def test_typed_fraction_of_the_reference_table() -> None:
    """Chain stretch of a sixteenth of an inch is typed as such (trade-values: chain-wear-sixteenth, 1.5875 mm)."""
    assert parse_quantity("1/16 in", "in").value == trade_value("chain-wear-sixteenth").given("stretch_in")
    assert parse_quantity("1/16 in", "mm").value == 1.5875


@pytest.mark.parametrize(("here", "there"), PAIRS)
@settings(max_examples=20)
@given(value=READINGS)
def test_conversion_agrees_with_pint(here: str, there: str, value: float) -> None:
    """Each pair of units of one dimension converts as the unit registry pint does."""
    expected = registry().Quantity(value, PINT_NAMES[here]).to(PINT_NAMES[there]).magnitude
    assert convert(value, here, there) == pytest.approx(expected, rel=1e-12, abs=1e-9)


@pytest.mark.parametrize(("here", "there"), PAIRS)
@settings(max_examples=20)
@given(value=READINGS)
def test_conversion_there_and_back_changes_nothing(here: str, there: str, value: float) -> None:
    """A number converted into another unit and back is the same number."""
    assert convert(convert(value, here, there), there, here) == pytest.approx(value, rel=1e-12, abs=1e-9)


@pytest.mark.parametrize(
    ("text", "unit", "value", "typed_unit"),
    [
        ("3.5 mm", "mm", 3.5, "mm"),
        ("3,5mm", "mm", 3.5, "mm"),
        ("51mm", "mm", 51, "mm"),
        ("3.5", "mm", 3.5, "mm"),
        ("  7\n", "mm", 7, "mm"),
        (".5", "mm", 0.5, "mm"),
        ("5.", "mm", 5, "mm"),
        ("-2,5 mm", "mm", -2.5, "mm"),
        ("\u22122.5\u00a0mm", "mm", -2.5, "mm"),
        ("5,2 Nm", "N.m", 5.2, "N.m"),
        ("5 N·m", "N.m", 5, "N.m"),
        ("5 n.m.", "N.m", 5, "N.m"),
        ("2 1/2 in", "mm", 63.5, "in"),
        ("2-1/2in", "mm", 63.5, "in"),
        ('2½"', "mm", 63.5, "in"),
        ("12 INCHES", "mm", 304.8, "in"),
        ("30,6 cm", "mm", 306, "cm"),
        ("44 lbf.in", "N.m", float(44 * Fraction("0.45359237") * Fraction("9.80665") * Fraction("0.0254")), "lbf.in"),
        ("44 in-lbs", "N.m", 4.971332477, "lbf.in"),
        ("30 ft-lb", "N.m", 40.67453845, "lbf.ft"),
        ("36 psi", "bar", 2.482112626, "psi"),
        ("250 kpa", "bar", 2.5, "kPa"),
        ("110 kg", "kgf", 110, "kgf"),
        ("1 kg", "g", 1000, "kg"),
        ("68 °F", "°C", 20, "°F"),
        ("20 C", "°C", 20, "°C"),
        ("25%", "% of travel", 25, "% of travel"),
        ("25 % of travel", "% of travel", 25, "% of travel"),
        ("1/2 h", "min", 30, "h"),
        ("11t", "teeth", 11, "teeth"),
        ("24", "count", 24, "count"),
    ],
)
def test_what_a_mechanic_types(text: str, unit: str, value: float, typed_unit: str) -> None:
    """Point or comma, fractions, blanks or none, and the other units of the dimension are all taken."""
    reading = parse_quantity(text, unit)
    assert reading.value == pytest.approx(value, rel=1e-9)
    assert (reading.unit, reading.typed, reading.typed_unit) == (unit, text.strip(), typed_unit)


@pytest.mark.parametrize(
    ("text", "unit", "code"),
    [
        ("", "mm", "quantity-empty"),
        (" \t ", "mm", "quantity-empty"),
        ("0" * 41, "mm", "quantity-too-long"),
        ("3\x1b[2Jmm", "mm", "quantity-control"),
        ("3\tmm", "mm", "quantity-control"),
        ("3\u200bmm", "mm", "quantity-control"),
        ("three", "mm", "quantity-not-a-number"),
        ("nan", "mm", "quantity-not-a-number"),
        ("inf mm", "mm", "quantity-not-a-number"),
        ("mm", "mm", "quantity-not-a-number"),
        ("3.5.5 mm", "mm", "quantity-not-a-number"),
        ("1,234.5", "mm", "quantity-not-a-number"),
        ("5 6 mm", "mm", "quantity-not-a-number"),
        ("1/0 in", "mm", "quantity-not-a-number"),
        ("1/2/3 in", "mm", "quantity-not-a-number"),
        ("--3", "mm", "quantity-not-a-number"),
        ("٣ mm", "mm", "quantity-not-a-number"),
        ("1e3 mm", "mm", "quantity-unknown-unit"),
        ("3 cubits", "mm", "quantity-unknown-unit"),
        ("3 psi", "mm", "quantity-wrong-unit"),
        ("44 lb", "N.m", "quantity-wrong-unit"),
        ("8 mm", "% of travel", "quantity-wrong-unit"),
        ("3 kgf", "kg", "quantity-wrong-unit"),
        ("11.5", "teeth", "quantity-not-whole"),
        ("1/2", "count", "quantity-not-whole"),
        ("3", "cubit", "quantity-unknown-unit"),
    ],
)
def test_what_cannot_be_a_reading_is_refused(text: str, unit: str, code: str) -> None:
    """Each kind of slip has its own code."""
    assert code_of(text, unit) == code


def test_a_refusal_says_what_was_asked_and_how_to_type_it() -> None:
    """The message names what was typed and both dimensions, the hint an example and the units that are taken."""
    with pytest.raises(InputError) as caught:
        parse_quantity("3 psi", "mm")
    assert str(caught.value) == (
        '"psi" is a unit of pressure; asked for is length. Type it like "2.5 mm", or the number alone. '
        "Also in cm, m, in, ft."
    )


@given(st.text(max_size=50))
def test_any_text_is_a_finite_reading_or_an_input_error(text: str) -> None:
    """Whatever is typed gives a finite number or an InputError that can be shown on one line."""
    try:
        reading = parse_quantity(text, "mm")
    except InputError as error:
        assert str(error).isprintable()
    else:
        assert math.isfinite(reading.value)
        assert show(reading.value, "mm").isprintable()


@given(st.text(alphabet=string.digits + ".,/- +½ einmN\"'", max_size=45))
def test_any_text_near_a_number_is_a_finite_reading_or_an_input_error(text: str) -> None:
    """The same of texts made of digits, separators and units."""
    try:
        reading = parse_quantity(text, "N.m")
    except InputError as error:
        assert error.hint
    else:
        assert math.isfinite(reading.value)
        assert show_range(reading.value, None, "N.m").startswith("at least")


@pytest.mark.parametrize("unit", [unit.name for unit in ALL_UNITS if not unit.whole])
@settings(max_examples=20)
@given(value=st.decimals(min_value=-999, max_value=999, places=1).map(float))
def test_what_is_shown_can_be_typed_again(unit: str, value: float) -> None:
    """A number of up to four digits comes back exactly from what is shown, with signs and in plain ASCII."""
    assert parse_quantity(show(value, unit), unit).value == value
    plain = show(value, unit, plain=True)
    assert plain.isascii()
    assert parse_quantity(plain, unit).value == value


@pytest.mark.parametrize(
    ("value", "unit", "text", "plain"),
    [
        (5.0, "N.m", "5 N·m", "5 N.m"),
        (306.324, "mm", "306.3 mm", "306.3 mm"),
        (28.575, "mm", "28.58 mm", "28.58 mm"),
        (1.5875, "mm", "1.59 mm", "1.59 mm"),
        (0.005, "mm", "0.005 mm", "0.005 mm"),
        (9.999, "mm", "10 mm", "10 mm"),
        (10142.3, "mm", "10142 mm", "10142 mm"),
        (0.0, "mm", "0 mm", "0 mm"),
        (-0.0, "mm", "0 mm", "0 mm"),
        (1e22, "mm", "10000000000000000000000 mm", "10000000000000000000000 mm"),
        (2.482112626, "bar", "2.48 bar", "2.48 bar"),
        (60, "deg", "60°", "60 deg"),
        (20, "°C", "20 °C", "20 deg C"),
        (0.5208, "%", "0.52 %", "0.52 %"),
        (25, "% of travel", "25 % of travel", "25 % of travel"),
        (24, "count", "24", "24"),
        (11, "teeth", "11 teeth", "11 teeth"),
        (1, "teeth", "1 tooth", "1 tooth"),
    ],
)
def test_how_a_quantity_is_shown(value: float, unit: str, text: str, plain: str) -> None:
    """Sensible digits, never an exponent, the trade's sign or its ASCII form."""
    assert show(value, unit) == text
    assert show(value, unit, plain=True) == plain


@pytest.mark.parametrize(
    ("low", "high", "unit", "kind", "text"),
    [
        (5, 7, "N.m", "target", "5 to 7 N·m (44 to 62 lbf·in)"),
        (5, 7, "N.m", "maximum", "5 to 7 N·m, never more (44 to 61 lbf·in)"),
        (5, 5, "N.m", "target", "5 N·m (44 lbf·in)"),
        (5, 5, "N.m", "maximum", "at most 5 N·m (at most 44 lbf·in)"),
        (None, 0.5, "mm", "maximum", "at most 0.5 mm"),
        (25, None, "mm", "minimum", "at least 25 mm"),
        (25, 25, "mm", "minimum", "at least 25 mm"),
        (25, 40, "mm", "minimum", "25 to 40 mm, never less"),
        (None, 5, "bar", "maximum", "at most 5 bar (at most 72 psi)"),
        (2.5, None, "bar", "minimum", "at least 2.5 bar (at least 37 psi)"),
        (100, 120, "psi", "target", "100 to 120 psi (6.9 to 8.3 bar)"),
        (-20, 20, "%", "target", "within ±20 %"),
        (0.1, 0.1 + 0.2, "mm", "target", "0.1 to 0.3 mm"),
        (33.95, 44.125, "mm", "target", "33.95 to 44.125 mm"),
        (15, 20, "% of travel", "target", "15 to 20 % of travel"),
        (25, None, "km/h", "minimum", "at least 25 km/h"),
    ],
)
def test_how_a_limit_is_shown(low: float | None, high: float | None, unit: str, kind: str, text: str) -> None:
    """Range, maximum and minimum in words; the second unit never allows what the first forbids."""
    assert show_range(low, high, unit, kind) == text


def test_a_limit_in_plain_ascii() -> None:
    """The plain form has no sign beyond ASCII."""
    assert show_range(5, 7, "N.m", plain=True) == "5 to 7 N.m (44 to 62 lbf.in)"
    assert show_range(-4, 4, "%", plain=True) == "within +-4 %"


def test_torque_limit_of_the_reference_table() -> None:
    """The stem clamp's range is shown as printed (trade-values: torque-stem-steerer-clamp)."""
    row = trade_value("torque-stem-steerer-clamp")
    assert show_range(row.low, row.high, row.unit) == "5 to 7 N·m (44 to 62 lbf·in)"
    assert show_also(row.low, row.high, row.unit) == "44 to 62 lbf·in"


@given(
    high=st.decimals(min_value="0.1", max_value=200, places=1).map(float), unit=st.sampled_from(["N.m", "bar", "psi"])
)
def test_the_second_unit_of_a_maximum_is_never_above_it(high: float, unit: str) -> None:
    """Reading the figure in the second unit back gives no more than the maximum."""
    beside = show_also(None, high, unit, "maximum").removeprefix("at most ")
    assert parse_quantity(beside, unit).value <= high * (1 + 1e-12)


def test_a_limit_without_ends_is_refused() -> None:
    """A limit that limits nothing is an error."""
    with pytest.raises(InputError, match="lower end"):
        show_range(None, None, "mm")


def test_a_number_that_is_none_is_not_shown() -> None:
    """Neither nan nor infinity reaches the screen or a conversion."""
    with pytest.raises(InputError):
        show(math.nan, "mm")
    with pytest.raises(InputError):
        convert(math.inf, "mm", "in")


def test_units_of_the_rule_book_are_known() -> None:
    """Canonical units are known to a limit, the ones that are only typed are not."""
    canonical = "N.m mm cm m bar psi kPa deg % min s N kg g kgf °C V ml km/h count teeth".split()
    assert all(map(is_unit, [*canonical, "% of travel"]))
    assert not any(map(is_unit, ["in", "lbf.in", "Nm", ""]))
