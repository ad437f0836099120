"""The sums by name: each example, what is refused, and that readings typed or given as numbers come to the same."""

from __future__ import annotations

import json
from typing import Any

import hypothesis
import pytest
from hypothesis import strategies as st

from diagnose.bench.sums.givens import Choice, Number, Range, Several, Text, Value
from diagnose.bench.sums.model import Result
from diagnose.bench.sums.table import NAMES, sum_named, sum_of
from diagnose.bench.typed import Marking
from diagnose.errors import InputError

EMPTY: dict[str, object] = {}


def example_of(name: str) -> dict[str, object]:
    """The example's readings by key."""
    return sum_named(name).example_readings


def as_number(value: Value) -> object:
    """A reading as a program would give it: a number, a row of them, a pair of ends, or a word."""
    if isinstance(value, Marking):
        return value.low, value.high
    return list(value) if isinstance(value, tuple) else value


def code_of(name: str, readings: dict[str, Any]) -> str:
    """The code of the error that the sum raises."""
    with pytest.raises(InputError) as caught:
        sum_of(name, readings)
    assert str(caught.value).isprintable()
    return caught.value.code


@pytest.mark.parametrize("name", NAMES)
def test_example_gives_what_it_says(name: str) -> None:
    """The sum's example comes out as it is printed beside it, with formula, source and the readings as typed."""
    result = sum_of(name, example_of(name))
    assert result.shown() == sum_named(name).prints
    assert result.formula
    assert result.source
    assert result.unit == sum_named(name).unit
    typed = {one.key: one.typed for one in result.inputs}
    assert all(typed[key] == value for key, value in example_of(name).items())


@pytest.mark.parametrize("name", NAMES)
def test_result_is_plain_json(name: str) -> None:
    """The seven keys that programs read come first, and the whole survives JSON without a number that is none."""
    plain = sum_of(name, example_of(name)).as_json()
    assert list(plain)[:7] == ["value", "unit", "low", "high", "formula", "source", "inputs"]
    assert json.loads(json.dumps(plain, allow_nan=False)) == plain


@pytest.mark.parametrize("name", NAMES)
def test_line_of_help_is_the_sums_own(name: str) -> None:
    """The list of sums and each sum say the same of it; names and keys are plain words."""
    sum_ = sum_named(name)
    assert sum_.name == name
    assert NAMES[name][1].removesuffix(".") in sum_.title.removesuffix(".") or sum_.title.startswith(
        NAMES[name][1][:20]
    )
    for key in (name, *(one.key for one in sum_.givens)):
        assert key.replace("-", "").isalpha()
        assert key == key.lower()


@pytest.mark.parametrize("name", NAMES)
def test_a_missing_reading_is_named(name: str) -> None:
    """Without what it cannot do without, a sum says which reading is missing, and what it looks like."""
    needed = [one for one in sum_named(name).givens if one.default is None]
    if not needed:
        assert code_of(name, EMPTY) == "bench-missing"
        return
    with pytest.raises(InputError) as caught:
        sum_of(name, EMPTY)
    assert caught.value.code == "bench-missing"
    assert str(caught.value).startswith(f"{needed[0].key}: ")
    assert caught.value.hint


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("nonsense", ["nonsense", "-99999999", "1e400", "\x1b[2J", "5 furlongs", "9" * 3000])
def test_nonsense_in_any_place_is_refused(name: str, nonsense: str) -> None:
    """Each reading in turn typed as nonsense gives one clear error that begins with its key."""
    for one in sum_named(name).givens:
        if isinstance(one, Text) and nonsense.isprintable() and len(nonsense) < 40:
            continue
        with pytest.raises(InputError) as caught:
            sum_of(name, {**example_of(name), one.key: nonsense})
        assert str(caught.value).startswith(f"{one.key}: ")
        assert len(str(caught.value)) < 400


@pytest.mark.parametrize("name", NAMES)
def test_numbers_and_typed_text_come_to_the_same(name: str) -> None:
    """A reading given as a number in the asked unit is the reading typed in any unit."""
    typed = sum_of(name, example_of(name))
    as_numbers = {one.key: as_number(one.value) for one in typed.inputs}
    again = sum_of(name, as_numbers)
    assert (again.value, again.unit, again.low, again.high, again.parts) == (
        typed.value, typed.unit, typed.low, typed.high, typed.parts,
    )  # fmt: skip


def test_an_unknown_sum_or_reading_names_the_nearest() -> None:
    """A slip in a name is told with what is known."""
    with pytest.raises(InputError, match="chain-wear"):
        sum_named("chain-ware")
    assert code_of("chain-wear", {"measured": 307, "sped": 11}) == "bench-unknown-reading"
    with pytest.raises(InputError, match="asks for no"):
        sum_of("chain-wear", {"measured": 307, "sped": 11})


def test_every_given_has_a_shape_and_a_question() -> None:
    """What is asked for says what an answer looks like, and its default can be taken."""
    for name in NAMES:
        for one in sum_named(name).givens:
            assert one.asks
            assert one.shape
            assert isinstance(one, Number | Several | Choice | Text | Range)
            if one.default:
                assert one.read(one.default).typed == one.default


def test_raw_readings_are_kept() -> None:
    """Four readings of a gauge stand in the result as typed and as taken, so that a case can keep them."""
    result = sum_of("disc-run-out", {"readings": "0 0.1 0.3 0.1 mm"})
    assert result.inputs[0].typed == "0 0.1 0.3 0.1 mm"
    assert result.inputs[0].value == (0.0, 0.1, 0.3, 0.1)
    assert result.band is not None
    assert result.band.name == result.verdict == "true it"
    assert sum_of("disc-run-out", {"readings": ["0 mm", "0.1", 0.3, 0.1]}).value == result.value


@hypothesis.given(st.floats(303, 320), st.integers(1, 13))
def test_band_of_chain_wear_is_decided_by_its_value(measured: float, speeds: int) -> None:
    """The verdict is the name of the band that holds the value, for any chain."""
    result: Result = sum_of("chain-wear", {"measured": measured, "speeds": speeds})
    assert result.band is not None
    assert result.verdict == result.band.name
    assert result.high == next(band.high for band in result.bands if band.right)
    assert result.shown().endswith(result.verdict)


@pytest.mark.parametrize(
    ("name", "readings", "verdict", "note"),
    [
        ("lower-marking", {"first": "8-10 Nm", "second": "4-6 Nm"}, "the markings do not overlap",
         "No torque satisfies"),
        ("preset-tool", {"preset": 5, "range": "max 5 Nm"}, "may miss the range", "within: at most"),
        ("preset-tool", {"preset": 6, "range": "4-5 Nm"}, "does not fit", "within: 4.26"),
        ("preset-tool", {"preset": 5, "range": "5-5.1 Nm"}, "may miss the range", "No wrench of this class"),
        ("bolt-preload", {"torque": 40, "thread": "M8"}, "stretches for good", "weakest part"),
        ("bolt-order", {"torque": 5, "bolts": 1}, "one bolt, one pull", "marking"),
        ("chain-length", {"chainstay": 437, "ring": 32, "sprocket": 51}, "1448 mm (57 in)", "Lay the chain"),
        ("mech-capacity", {"largest-ring": 50, "smallest-ring": 34, "largest-sprocket": 34, "smallest-sprocket": 11,
                           "listed": 35}, "4 teeth too many", "largest sprocket"),
        ("bolt-circle", {"distance": 69.4, "arms": 5}, "nearest is 118 mm", ""),
        ("bolt-circle", {"distance": 60, "arms": 5}, "no size in use is near", "Measure again"),
        ("hanger", {"gaps": [5, 6, 7, 6]}, "straight enough", "same spot"),
        ("sag", {"sag": "20 26 mm", "travel": 150, "end": "fork", "use": "trail"}, "too little sag",
         "The tries differ"),
        ("air-pressure", {"pressure": "8 bar", "sag": 35, "target": 25, "most": "9 bar"},
         "130.5 psi, then measure again", "too small"),
        ("tyre-size", {"marking": "26"}, "can mean any of these", "does not say which"),
        ("rim-width", {"width": 28, "rim": 25, "hookless": "yes"}, "not allowed", "Do not ride"),
        ("pressure-limit", {"tyre": 8, "rim": 6, "hookless": "yes"}, "at most, because the rim is hookless (72.52 psi)",
         "bead"),
        ("tyre-pressure", {"width": 20, "load": 60, "rim": 2}, "29.01 psi", "do not suit each other"),
        ("tyre-pressure", {"width": 57, "load": 50, "tubeless": "yes"}, "21.48 psi", "Read the markings"),
        ("tyre-cut", {"cut": 3, "place": "sidewall"}, "", "boot"),
        ("disc-wear", {"disc": 1.4}, "replace", "Do not ride"),
        ("disc-run-out", {"readings": [0.3, 0.2121, 0, -0.2121, -0.3, -0.2121, 0, 0.2121]}, "one try, then a new disc",
         "The whole disc leans"),
        ("rim-run-out", {"readings": [-1, 0, 1, 0]}, "true it", "The whole rim leans"),
        ("pad-centring", {"left": 0.3, "right": 0.25}, "even", "Even enough"),
        ("pad-centring", {"left": 0.1, "right": 0.5}, "off its middle", "0.2 mm to the left"),
        ("cap-gap", {"gap": 7}, "too much", "do not ride"),
        ("cap-gap", {"gap": 3}, "right", "only sets the bearing"),
        ("steerer-cut", {"head-tube": 140, "stack": 28, "spacers": 20, "stem": 40, "steerer": 200}, "too short",
         "too short"),
        ("steerer-cut", {"head-tube": 140, "stack": 28, "spacers": 20, "stem": 40},
         "from the crown race seat to the top", ""),
        ("headset-size", {"bore": 46, "tube": 28.6}, "", "twice at a right angle"),
        ("headset-size", {"bore": 43.97, "tube": 28.6}, "or ZS44/28.6", "Give the kind"),
        ("post-insertion", {"length": 350, "out": 310, "diameter": 27.2}, "not deep enough", "14.4 mm deeper"),
        ("spoke-tension", {"tensions": [100, 100, 100, 60, 140], "offset": 18, "other-offset": 36}, "uneven",
         "Tighten at 4"),
        ("dish", {"left": 1, "right": 1}, "in the middle", "in the middle"),
        ("nipple-turns", {"shift": "0.4536mm", "way": "along"}, "", "Along the spoke"),
    ],
)  # fmt: skip
def test_what_a_sum_says_of_a_reading(name: str, readings: dict[str, Any], verdict: str, note: str) -> None:
    """The verdict and the note that matter, for readings on the other side of the limit than the example's."""
    result = sum_of(name, readings)
    assert result.verdict == verdict
    assert any(note in said for said in result.notes) or not note


@pytest.mark.parametrize(
    ("name", "readings", "code"),
    [
        ("gear", {"ring": 50, "sprocket": 11}, "bench-missing"),
        ("gear", {"ring": 50, "sprocket": 11, "width": 28}, "bench-missing"),
        ("wheel-round", {"marking": "26 x 1 3/8"}, "bench-ambiguous"),
        ("wheel-round", {"width": 28}, "bench-missing"),
        ("convert", {"quantity": "5", "into": "psi"}, "bench-missing"),
        ("convert", {"quantity": "5 Nm", "into": "psi"}, "quantity-wrong-unit"),
        ("sag", {"sag": 160, "travel": 150}, "bench-not-a-number"),
        ("sag", {"sag": [160], "travel": 150}, "bench-out-of-range"),
        ("lower-marking", {"first": "7-5 Nm", "second": "6 Nm"}, "bench-no-limit"),
        ("lower-marking", {"first": (5, 7, 9), "second": "6 Nm"}, "bench-not-a-number"),
    ],
)
def test_readings_that_do_not_go_together(name: str, readings: dict[str, Any], code: str) -> None:
    """What is missing between two readings, or does not go with another one, has its code."""
    assert code_of(name, readings) == code


def test_a_further_figure_is_found_by_name() -> None:
    """Figures beside the value are had by name, and an unknown one is an error."""
    result = sum_of("gear", {"ring": 48, "sprocket": 11, "width": 57, "bead-seat": 559, "crank": 175})
    assert result.part("ratio").shown() == "4.36"
    assert result.part("ratio").value == 48 / 11
    with pytest.raises(InputError, match="no figure"):
        result.part("speed")
