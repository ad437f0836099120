"""Tyres: size names as several lists print them, pressures against a second fit, leaks by integration."""

from __future__ import annotations

import string
from math import pi

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from diagnose.bench import sizes, tyres
from diagnose.bench.units import convert
from diagnose.errors import InputError

WIDTHS = st.floats(18, 110)
SEATS = st.sampled_from([203, 305, 349, 355, 406, 451, 507, 520, 540, 559, 571, 584, 590, 622, 630, 635])


@pytest.mark.parametrize(
    ("marking", "seats", "width"),
    [
        # Printed together on one list, michelinbicycle.com.
        ("44-406", (406,), 44),
        ('20"x1.75"', (406,), 44.45),
        ('24" x 1.75"', (507,), 44.45),
        ("650x23C", (571,), 23),
        ("650x35A", (590,), 35),
        ('28"x 1"', (622,), 25.4),
        ('28"x1 5/8"x1 1/16"', (622,), 26.9875),
        ('29"x2.0"', (622,), 50.8),
        # bikefix.co.uk
        ("28 x 1 1/2", (635,), 38.1),
        ("27 x 1 1/4", (630,), 31.75),
        ("26 x 1 1/4", (597,), 31.75),
        ("24 x 1", (507, 520), 25.4),
        # dimensionsinfo.com
        ("24 x 1 1/8", (520,), 28.575),
        ("20 x 1 1/8", (451,), 28.575),
        ("17 x 1 1/4", (369,), 31.75),
        ("16 x 1.75", (305,), 44.45),
        ("16 x 1 3/4", (317,), 44.45),
        ("10 x 2", (152,), 50.8),
        ("8 x 1 1/4", (137,), 31.75),
        ("700D", (587,), None),
        # nicecurmudgeon.com
        ("28 x 1.75", (622,), 44.45),
        ("22 x 1.75", (457,), 44.45),
        ("18 x 1.5", (355,), 38.1),
        # fietssite.jouwweb.nl and vaalmtb.co.za
        ("26 x 1 3/8", (590, 597), 34.925),
        ("28×1⅝×1¼", (622,), 31.75),
        ("28x1 1/4x1 5/8", (622,), 31.75),
        ("37-349", (349,), 37),
        # Blanks, commas, capitals, a rim's marking.
        ("26X2,10", (559,), 53.34),
        ("  700c ", (622,), None),
        ("650b x 47", (584,), 47),
        ("622 x 19C", (622,), 19),
        ("26 x 1-3/8", (590, 597), 34.925),
        ("26 x 1.0", (559,), 25.4),
        ("12 1/2 x 2 1/4", (203,), 57.15),
    ],
)
def test_what_a_marking_means(marking: str, seats: tuple[int, ...], width: float | None) -> None:
    """The bead seats are those of the list named beside, several where lists or naming systems differ."""
    found = sizes.meaning(marking)
    assert set(found.bead_seats) == set(seats)
    assert found.ambiguous == (len(seats) > 1)
    assert found.width == (None if width is None else pytest.approx(width))


def test_equal_numbers_are_different_sizes() -> None:
    """A fraction and a decimal that are the same number never name the same bead seat (sheldonbrown.com)."""
    for decimal, fraction in (("26 x 1.5", "26 x 1 1/2"), ("20 x 1.75", "20 x 1 3/4"), ("24 x 1.25", "24 x 1 1/4")):
        assert not set(sizes.meaning(decimal).bead_seats) & set(sizes.meaning(fraction).bead_seats)


def test_a_bare_26_is_one_of_six() -> None:
    """At least six sizes are called 26 inch (ISO 5775 as restated by Wikipedia), the mountain bike's first."""
    found = sizes.meaning("26").bead_seats
    assert len(found) >= 6
    assert found[0] == 559


@given(st.sampled_from(sorted(sizes._KNOWN)), st.integers(18, 60))
def test_every_known_bead_seat_is_read_back_and_named(seat: int, width: int) -> None:
    """The standard's own marking is never ambiguous, and a size that is known has a name."""
    found = sizes.meaning(f"{width}-{seat}")
    assert (found.bead_seats, found.width) == ((seat,), width)
    assert sizes.names_of(seat)


def test_every_seat_that_a_name_can_mean_is_known() -> None:
    """No table names a bead seat that the list of names does not have."""
    tables = [*sizes._BARE.values(), *sizes._FRENCH_BARE.values()]
    tables += [seats for family in sizes._FRACTION.values() for seats in family.values()]
    seats = {seat for table in tables for seat in table}
    seats |= {*sizes._FRENCH.values(), *sizes._DECIMAL.values(), *sizes._OLD_DECIMAL.values()}
    assert seats == set(sizes._KNOWN)


@given(st.text(max_size=45) | st.text(alphabet=string.digits + ' x./-½⅜cCaB"', max_size=20))
def test_any_marking_is_a_size_or_a_clear_refusal(marking: str) -> None:
    """Whatever is typed names known or plainly written sizes, or gives one error that can be shown."""
    try:
        found = sizes.meaning(marking)
    except InputError as error:
        assert error.code in {"bench-missing", "bench-unknown-word", "bench-unknown-size", "bench-out-of-range"}
        assert str(error).isprintable()
        assert error.hint
    else:
        assert found.bead_seats
        assert all(80 <= seat <= 800 for seat in found.bead_seats)


@given(WIDTHS, SEATS)
def test_circumference_is_that_of_a_circle_a_tyre_wider(width: float, seat: int) -> None:
    """Wheel and tyre as one circle; narrow tyres stand 2.5 mm higher by the older standard, others as wide as high."""
    across = tyres.overall_diameter(width, seat)
    assert tyres.circumference(width, seat) == pytest.approx(pi * (across - (5 if width < 28 else 0)))


@pytest.mark.parametrize(
    ("marking", "rolled"), [((23, 622), 2096), ((28, 622), 2136), ((32, 622), 2155), ((37, 622), 2205)]
)
def test_circumference_agrees_with_a_roll_out_table(marking: tuple[int, int], rolled: int) -> None:
    """Within 2 % of roll-outs of computer manuals (from memory; trade-values: circumference-tolerance)."""
    assert tyres.circumference(*marking) == pytest.approx(rolled, rel=0.02)


@given(WIDTHS, st.floats(12, 60))
def test_rim_fit_follows_the_width(width: float, rim: float) -> None:
    """A right rim stays right a little wider or narrower only within the usual ratio; hookless never allows more."""
    fit = tyres.rim_fit(width, rim)
    assert (fit.verdict == "right") == (1.45 <= fit.ratio <= 2.0)
    hookless = tyres.rim_fit(width, rim, hookless=True).verdict
    assert hookless == ("not allowed" if width < rim + 4 else fit.verdict)


@pytest.mark.parametrize(
    ("width", "rim", "verdict"), [(28, 25, "not allowed"), (29, 25, "rim too wide"), (35, 23, "right")]
)
def test_hookless_rims_need_a_wider_tyre(width: float, rim: float, verdict: str) -> None:
    """28 on 25 is out, 29 on 25 just in, as a rim maker quotes ETRTO 2023."""
    assert tyres.rim_fit(width, rim, hookless=True).verdict == verdict


@given(st.none() | st.floats(0.5, 12), st.none() | st.floats(0.5, 12), st.booleans())
def test_pressure_limit_is_above_no_marking(tyre: float | None, rim: float | None, hookless: bool) -> None:
    """The limit is one of the markings and above none of them; hookless it is never above 5 bar."""
    marked = [bar for bar in (tyre, rim, 5.0 if hookless else None) if bar is not None]
    if not marked:
        with pytest.raises(InputError, match="missing"):
            tyres.pressure_limit(tyre, rim, hookless=hookless)
        return
    assert tyres.pressure_limit(tyre, rim, hookless=hookless).high == min(marked)


@given(st.floats(23, 38), st.floats(40, 60))
def test_starting_pressure_agrees_with_a_second_fit_of_the_same_chart(width: float, load: float) -> None:
    """Within 15 % of psi = 600 L / W^2 + 0.75 W - 25 (doi 10.5281/zenodo.20671797) at usual loads."""
    second = 600 * convert(load, "kg", "lb") / width**2 + 0.75 * width - 25
    alone = convert(tyres.starting_pressure(width, load).unbounded, "bar", "psi")
    assert alone == pytest.approx(second, rel=0.15)


@given(WIDTHS, st.floats(10, 150), st.floats(0.5, 12), st.booleans(), st.booleans())
def test_starting_pressure_never_passes_the_limit(
    width: float, load: float, most: float, off_road: bool, tubeless: bool
) -> None:
    """Whatever the sum gives, the markings hold; a heavier rider never gets less, a wider tyre never more."""
    start = tyres.starting_pressure(width, load, most, off_road=off_road, tubeless=tubeless)
    assert start.pressure <= most
    heavier = tyres.starting_pressure(width, load + 5, most, off_road=off_road, tubeless=tubeless)
    wider = tyres.starting_pressure(width + 5, load, most, off_road=off_road, tubeless=tubeless)
    assert heavier.pressure >= start.pressure
    assert wider.pressure <= start.pressure


@given(st.floats(0.2, 90), st.floats(0, 9))
def test_a_longer_cut_never_needs_less(cut: float, more: float) -> None:
    """Plug, patch, new tyre come in this order with the length; a sidewall is never plugged."""
    order = ["plug", "patch inside", "new tyre"]
    assert order.index(tyres.cut_repair(cut, "tread")) <= order.index(tyres.cut_repair(cut + more, "tread"))
    assert tyres.cut_repair(cut, "sidewall") == "new tyre"


@given(st.floats(1, 8), st.floats(0.01, 0.3), st.floats(0.5, 48))
def test_leak_comes_back_from_an_integrated_loss(first: float, rate: float, hours: float) -> None:
    """A tyre that loses a steady share an hour, integrated by scipy, is found to lose that share in twelve."""
    end = solve_ivp(lambda _, bar: -rate * bar, (0, hours), [first], rtol=1e-10, atol=1e-12).y[0][-1]
    twelve = solve_ivp(lambda _, bar: -rate * bar, (0, 12), [1.0], rtol=1e-10, atol=1e-12).y[0][-1]
    found = tyres.leak(first, float(end), hours)
    assert found.per_12_h == pytest.approx((1 - twelve) * 100, abs=1e-4)
    assert first * 0.5 ** (hours / found.half_h) == pytest.approx(end, rel=1e-6)


@given(st.floats(2, 6), st.floats(-5, 35), st.floats(-5, 35))
def test_cooling_alone_is_no_leak(first: float, warm: float, cold: float) -> None:
    """A sound tyre whose pressure went with its temperature (ideal gas) has lost nothing."""
    second = (first + 1.01325) * (cold + 273.15) / (warm + 273.15) - 1.01325
    assert tyres.leak(first, second, 10, warm, cold).lost == pytest.approx(0, abs=1e-9)


def test_bands_of_a_leak() -> None:
    """Ten percent in twelve hours is normal, over twenty a leak (common practice, no source)."""
    bands = tyres.leak_bands()
    assert [next(band.name for band in bands if band.holds(loss)) for loss in (10, 10.1, 20, 20.1)] == [
        "normal", "watch it", "watch it", "leak",
    ]  # fmt: skip
