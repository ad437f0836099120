"""Every public function of the bench: documented, right for a plain example, and one clear error for anything else."""

from __future__ import annotations

import inspect
import math
from collections.abc import Callable, Iterator
from importlib import import_module
from typing import Any

import pytest

from diagnose.bench import (
    battery,
    bolts,
    brakes,
    chain,
    gearing,
    hanger,
    headset,
    posts,
    runout,
    sizes,
    suspension,
    torque,
    tyres,
    wheels,
)
from diagnose.bench.torque import TorqueBand
from diagnose.errors import InputError

MODULES = (
    "battery", "bolts", "brakes", "chain", "gearing", "hanger", "headset", "posts", "runout", "sizes", "suspension",
    "torque", "tyres", "wheels",
)  # fmt: skip

PLAIN: dict[Callable[..., object], dict[str, Any]] = {
    battery.battery_energy: {"voltage_v": 36, "charge_ah": 14},
    bolts.assembly_preload: {"diameter_mm": 8, "pitch_mm": 1, "yield_mpa": 640, "friction": 0.1, "use": 0.9},
    bolts.bolt_preload: {"torque_nm": 5, "nut_factor": 0.2, "diameter_mm": 5},
    bolts.bolt_torque: {"nut_factor": 0.2, "preload_n": 5000, "diameter_mm": 5},
    bolts.nut_factor: {"lubrication": "oil"},
    bolts.preload: {"torque_nm": 5, "marking": "M5", "bolt_class": "8.8", "lubrication": "dry"},
    bolts.proof_load: {"marking": "M5", "bolt_class": "8.8"},
    bolts.stress_area: {"diameter_mm": 5, "pitch_mm": 0.8},
    bolts.thread: {"marking": "M5"},
    bolts.thread_pitch: {"threads_per_inch": 24},
    brakes.centring: {"left_mm": 0.3, "right_mm": 0.2},
    brakes.distance_at: {"specified_kmh": 25, "measured_kmh": 26, "measured_m": 6},
    brakes.force_at: {"recorded_force_n": 225, "intended_n": 180, "recorded_n": 184},
    brakes.lever_bands: {},
    brakes.lever_reserve: {"at_rest_mm": 60, "pulled_mm": 25},
    brakes.wear_bands: {"least_mm": 0.5, "plan_mm": 1},
    brakes.wear_left: {"measured_mm": 1.6, "new_mm": 1.8, "least_mm": 1.5},
    chain.chain_angle: {"front_mm": 43, "rear_mm": 42, "chainstay_mm": 430},
    chain.elongation: {"measured_mm": 306, "pitches": 24},
    chain.front_chain_line: {"tube_mm": 30, "gap_mm": 28},
    chain.length_by_rule: {"chainstay_mm": 420, "ring_teeth": 50, "sprocket_teeth": 34},
    chain.length_over: {"pitches": 24, "elongation_percent": 0.5},
    chain.length_round_mech: {"chainstay_mm": 420, "ring_teeth": 50, "sprocket_teeth": 34},
    chain.links_for: {"length_mm": 1400},
    chain.rear_chain_line: {"locknuts_mm": 130, "to_sprocket_mm": 5, "stack_mm": 30},
    chain.taut_length: {"chainstay_mm": 420, "ring_teeth": 50, "sprocket_teeth": 34},
    chain.wear_bands: {"speeds": 9},
    chain.wear_limit: {"speeds": 9},
    gearing.bolt_circle: {"chord_mm": 64.7, "arms": 5},
    gearing.bolt_distance: {"circle_mm": 110, "arms": 5},
    gearing.capacity: {"ring_most": 50, "ring_least": 34, "sprocket_most": 28, "sprocket_least": 11},
    gearing.development: {"ring_teeth": 50, "sprocket_teeth": 11, "circumference_mm": 2105},
    gearing.gain_ratio: {"ring_teeth": 50, "sprocket_teeth": 11, "wheel_radius_mm": 335, "crank_mm": 170},
    gearing.gear_inches: {"ring_teeth": 50, "sprocket_teeth": 11, "wheel_in": 26},
    gearing.nearest_circle: {"circle_mm": 110.3, "arms": 5},
    gearing.ratio: {"ring_teeth": 50, "sprocket_teeth": 11},
    gearing.rolled_diameter: {"circumference_mm": 2105},
    hanger.hanger: {"gaps_mm": [10, 6, 4, 6], "across_mm": 584},
    hanger.hanger_angle: {"difference_mm": 10, "across_mm": 584},
    headset.kinds_for: {"bore_mm": 44, "tube_mm": 28.6, "kind": "ZS"},
    headset.read_code: {"code": "EC34/28.6"},
    headset.spacers_for: {"height_mm": 8, "at_hand_mm": [3, 5, 10]},
    headset.steerer_cut: {"steerer_mm": 300, "wanted_mm": 220},
    headset.steerer_length: {"head_tube_mm": 140, "stack_mm": 28, "spacers_mm": 20, "stem_mm": 40, "gap_mm": 3},
    headset.top_cap_gap: {"gap_mm": 3},
    posts.clearance: {"post_mm": 27.2, "bore_mm": 27.35},
    posts.insertion: {"length_mm": 350, "out_mm": 200, "kind": "post", "diameter_mm": 27.2, "deeper_mm": 90},
    posts.least_insertion: {"kind": "post", "diameter_mm": 27.2},
    runout.disc_bands: {"good_mm": 0.2, "true_mm": 0.5, "reject_mm": 1.0},
    runout.rim_bands: {"good_mm": 0.5, "bent_mm": 3.0},
    runout.run_out: {"readings_mm": [0, 0.1, 0, 0.1], "spot_mm": 0.1},
    sizes.meaning: {"marking": "37-622"},
    sizes.names_of: {"bead_seat_mm": 622},
    suspension.air_stiffness: {"absolute_bar": 11, "area_cm2": 10, "volume_cm3": 150, "exponent": 1.4},
    suspension.coil_rate: {
        "mass_kg": 95, "rear_share": 0.6, "leverage_ratio": 2.8, "stroke_mm": 60, "sag_percent": 30,
    },
    suspension.compressed: {"pressure_bar": 10, "volume_ratio": 2, "exponent": 1.4},
    suspension.leverage: {"wheel_travel_mm": 150, "stroke_mm": 50},
    suspension.next_pressure: {
        "pressure_bar": 6, "sag_percent": 32, "target_percent": 25, "compression": 2, "negative": 2,
    },
    suspension.rate_off: {"fitted_n_mm": 90, "needed_n_mm": 96},
    suspension.spring_loss: {"set_bar": 6, "again_bar": 5.5, "own_bar": 0.2},
    suspension.sag_band: {"end": "fork", "use": "trail"},
    suspension.sag_length: {"share_percent": 25, "travel_mm": 150},
    suspension.sag_readings: {"readings_mm": [30, 32], "travel_mm": 150},
    suspension.sag_share: {"sag_mm": 38, "travel_mm": 150},
    suspension.wheel_rate: {"rate_n_mm": 90, "leverage_ratio": 2.8},
    torque.lower_marking: {"first": TorqueBand(5, 7), "second": TorqueBand(None, 6)},
    torque.preset_fit: {"preset_nm": 5, "low_nm": 4, "high_nm": 6, "deviation_percent": 6},
    torque.setting_window: {"low_nm": 4, "high_nm": 6, "deviation_percent": 6},
    torque.tightening: {"torque_nm": 5, "bolts": 4},
    torque.true_torque: {"setting_nm": 40, "lever_mm": 300, "extension_mm": 30, "angle_deg": 0},
    torque.wrench_band: {"setting_nm": 5, "deviation_percent": 6},
    torque.wrench_deviation: {"torque_nm": 5},
    torque.wrench_setting: {"torque_nm": 40, "lever_mm": 300, "extension_mm": 30, "angle_deg": 0},
    tyres.circumference: {"width_mm": 28, "bead_seat_mm": 622},
    tyres.cut_repair: {"cut_mm": 4, "place": "tread"},
    tyres.leak: {"first_bar": 4, "second_bar": 3.5, "hours": 10, "first_c": 20, "second_c": 15},
    tyres.leak_bands: {},
    tyres.overall_diameter: {"width_mm": 28, "bead_seat_mm": 622},
    tyres.pressure_least: {"width_mm": 28},
    tyres.pressure_limit: {"tyre_bar": 8, "rim_bar": 5},
    tyres.rim_fit: {"width_mm": 28, "rim_mm": 17},
    tyres.rim_guide: {"width_mm": 28},
    tyres.starting_pressure: {"width_mm": 32, "load_kg": 50, "most_bar": 6},
    wheels.dish: {"left_mm": 4, "right_mm": 1},
    wheels.lacing_factor: {"spokes": 32, "crosses": 3},
    wheels.nipple_travel: {"turns": 0.25, "threads_per_inch": 56},
    wheels.nipple_turns: {"travel_mm": 0.2, "threads_per_inch": 56},
    wheels.other_side_tension: {"tension_kgf": 120, "offset_mm": 18, "other_offset_mm": 37},
    wheels.spoke_length: {
        "erd_mm": 600, "flange_mm": 45, "offset_mm": 35, "spokes": 32, "crosses": 3, "hole_mm": 2.6,
    },
    wheels.tension_balance: {"tensions_kgf": [100, 101, 99, 100], "limit_percent": 20},
    wheels.turns_for_shift: {"shift_mm": 1, "offset_mm": 35, "spoke_mm": 290, "threads_per_inch": 56},
}  # fmt: skip
"""Each public function with arguments that make sense."""

NONSENSE: tuple[Any, ...] = (None, "many", True, math.nan, math.inf, -math.inf, -1e9, 1e9, 10**400, [], {}, b"5")


def functions() -> Iterator[Callable[..., object]]:
    """The public functions of the rooms' sums, wherever they are declared."""
    for name in MODULES:
        module = import_module(f"diagnose.bench.{name}")
        for found in vars(module).values():
            if inspect.isfunction(found) and found.__module__ == module.__name__ and not found.__name__.startswith("_"):
                yield found


def asked_for() -> Iterator[Any]:
    """Each function with each of its arguments in turn."""
    for function, plain in PLAIN.items():
        for key, parameter in inspect.signature(function).parameters.items():
            if key in plain and not isinstance(plain[key], TorqueBand):
                optional = "None" in str(parameter.annotation)
                yield pytest.param(function, key, optional, id=f"{function.__module__[15:]}.{function.__name__} {key}")


def test_no_public_function_is_left_out() -> None:
    """What follows looks at every public function of the bench."""
    assert set(functions()) == set(PLAIN)


@pytest.mark.parametrize("function", PLAIN, ids=lambda function: f"{function.__module__[15:]}.{function.__name__}")
def test_docstring_states_formula_source_domain_and_errors(function: Callable[..., object]) -> None:
    """Each public function says what it gives and in which unit, its formula, its source, its domain and its errors."""
    said = function.__doc__ or ""
    parameters = inspect.signature(function).parameters
    if function.__name__.endswith("_bands"):
        assert "percent" in said or "mm" in said
    if parameters and "limits, source and errors of" not in said and "Arguments" not in said:
        assert "Args:" in said
        assert "Raises:" in said
        assert "InputError" in said
        assert all(f" {key}" in said for key in parameters)
    if "limits, source and errors of" not in said and "common practice, no source; tubes" not in said:
        assert "Formula:" in said
        assert "Source:" in said


@pytest.mark.parametrize(
    ("function", "arguments"),
    [
        pytest.param(function, plain, id=f"{function.__module__[15:]}.{function.__name__}")
        for function, plain in PLAIN.items()
    ],
)
def test_plain_example_is_answered_and_frozen(function: Callable[..., object], arguments: dict[str, Any]) -> None:
    """Each function answers its example, the same twice over, with numbers that are finite or a frozen object."""
    answer = function(**arguments)
    assert answer == function(**arguments)
    assert answer is not None
    hash(answer)
    if isinstance(answer, float):
        assert math.isfinite(answer)


@pytest.mark.parametrize(("function", "key", "optional"), list(asked_for()))
def test_nonsense_is_refused_with_the_range(function: Callable[..., object], key: str, optional: bool) -> None:
    """One wrong argument gives an InputError of the bench, on one line, with what would make sense."""
    for wrong in NONSENSE[optional:]:
        with pytest.raises(InputError) as caught:
            function(**{**PLAIN[function], key: wrong})
        assert caught.value.code.startswith("bench-")
        assert caught.value.hint
        assert str(caught.value).isprintable()
        assert len(str(caught.value)) < 300


@pytest.mark.parametrize(
    ("function", "arguments"),
    [
        (torque.lower_marking, {"first": TorqueBand(7, 5), "second": TorqueBand(5, 7)}),
        (torque.lower_marking, {"first": TorqueBand(5, 7), "second": TorqueBand(-5, 7)}),
        (torque.lower_marking, {"first": TorqueBand(5, math.nan), "second": TorqueBand(5, 7)}),
        (torque.preset_fit, {"preset_nm": 5, "low_nm": 6, "high_nm": 4}),
        (torque.wrench_setting, {"torque_nm": 5, "lever_mm": 100, "extension_mm": 100, "angle_deg": 180}),
        (bolts.thread, {"marking": "M9"}),
        (bolts.thread, {"marking": "1/4 in"}),
        (bolts.thread, {"marking": "M5 x 3"}),
        (bolts.stress_area, {"diameter_mm": 4, "pitch_mm": 2}),
        (bolts.preload, {"torque_nm": 5, "marking": "M5", "bolt_class": "8.9", "lubrication": "dry"}),
        (bolts.nut_factor, {"lubrication": "Dry"}),
        (brakes.wear_left, {"measured_mm": 1.6, "new_mm": 1.5, "least_mm": 1.8}),
        (brakes.wear_bands, {"least_mm": 1.0, "plan_mm": 0.5}),
        (brakes.centring, {"left_mm": 0, "right_mm": 0}),
        (brakes.lever_reserve, {"at_rest_mm": 25, "pulled_mm": 60}),
        (chain.elongation, {"measured_mm": 12, "pitches": 24}),
        (chain.length_over, {"pitches": 24.5}),
        (chain.taut_length, {"chainstay_mm": 150, "ring_teeth": 60, "sprocket_teeth": 50}),
        (chain.rear_chain_line, {"locknuts_mm": 90, "to_sprocket_mm": 50, "stack_mm": 10}),
        (gearing.capacity, {"ring_most": 34, "ring_least": 50, "sprocket_most": 28, "sprocket_least": 11}),
        (gearing.bolt_circle, {"chord_mm": 175, "arms": 10}),
        (hanger.hanger, {"gaps_mm": [1, 2, 3], "across_mm": 584}),
        (headset.read_code, {"code": "44/28.6"}),
        (headset.read_code, {"code": "ZS99/28.6"}),
        (headset.kinds_for, {"bore_mm": 44, "tube_mm": 28.6, "kind": "zs"}),
        (posts.least_insertion, {"kind": "post"}),
        (posts.insertion, {"length_mm": 300, "out_mm": 301, "kind": "shaped post"}),
        (posts.clearance, {"post_mm": 27.2, "bore_mm": 38}),
        (runout.run_out, {"readings_mm": [0, 1, 2]}),
        (runout.run_out, {"readings_mm": [0.0] * 49}),
        (runout.disc_bands, {"good_mm": 0.5, "true_mm": 0.2, "reject_mm": 1.0}),
        (suspension.sag_share, {"sag_mm": 160, "travel_mm": 150}),
        (suspension.leverage, {"wheel_travel_mm": 300, "stroke_mm": 20}),
        (suspension.next_pressure, {"pressure_bar": 0.3, "sag_percent": 2, "target_percent": 80}),
        (tyres.pressure_limit, {"tyre_bar": None, "rim_bar": None}),
        (tyres.leak, {"first_bar": 3, "second_bar": 4, "hours": 10}),
        (tyres.leak, {"first_bar": 4, "second_bar": 3, "hours": 10, "first_c": 20, "second_c": None}),
        (tyres.cut_repair, {"cut_mm": 3, "place": "rim"}),
        (wheels.spoke_length, {"erd_mm": 200, "flange_mm": 160, "offset_mm": 3, "spokes": 32, "crosses": 3}),
        (wheels.lacing_factor, {"spokes": 31, "crosses": 3}),
        (wheels.lacing_factor, {"spokes": 16, "crosses": 3}),
        (wheels.turns_for_shift, {"shift_mm": 1, "offset_mm": 80, "spoke_mm": 70}),
        (sizes.meaning, {"marking": "26 x banana"}),
        (sizes.meaning, {"marking": "26 x 1/0"}),
        (sizes.meaning, {"marking": "13 x 1 3/8"}),
        (sizes.meaning, {"marking": "9" * 60}),
        (sizes.meaning, {"marking": "25-29"}),
    ],
)
def test_what_does_not_go_together_is_refused(function: Callable[..., object], arguments: dict[str, Any]) -> None:
    """Arguments that each make sense and not together, and markings that are none, are refused with a hint."""
    with pytest.raises(InputError) as caught:
        function(**arguments)
    assert caught.value.code.startswith("bench-")
    assert caught.value.hint
