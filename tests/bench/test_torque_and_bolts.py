"""Torque and bolts against moment balance, strength of materials, pint, and round trips over random inputs."""

from __future__ import annotations

from functools import cache
from math import cos, pi, radians, sin, sqrt
from typing import Any

import pint
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.optimize import brentq

from diagnose.bench import bolts, torque
from diagnose.bench.torque import TorqueBand
from diagnose.errors import InputError

TORQUES = st.floats(0.5, 100)
LEVERS = st.floats(100, 800)
EXTENSIONS = st.floats(0, 400)
ANGLES = st.floats(-180, 180)
FACTORS = st.floats(0.06, 0.5)
DIAMETERS = st.sampled_from([4.0, 5.0, 6.0, 8.0, 10.0, 12.0])


@cache
def registry() -> pint.UnitRegistry[float]:
    """The unit registry, built once."""
    return pint.UnitRegistry()


def reachable(lever: float, extension: float, angle: float) -> bool:
    """Whether the hand is well clear of the bolt."""
    return lever + extension * cos(radians(angle)) > 40


@given(TORQUES, LEVERS, EXTENSIONS, ANGLES)
def test_setting_and_true_torque_are_inverse(wanted: float, lever: float, extension: float, angle: float) -> None:
    """What is set for a torque gives that torque at the bolt."""
    assume(reachable(lever, extension, angle))
    setting = torque.wrench_setting(wanted, lever, extension, angle)
    assume(torque.TORQUE.low <= setting <= torque.TORQUE.high)
    assert torque.true_torque(setting, lever, extension, angle) == pytest.approx(wanted, rel=1e-12)


@given(TORQUES, LEVERS, EXTENSIONS, ANGLES)
def test_true_torque_is_the_moment_of_the_hand_about_the_bolt(
    setting: float, lever: float, extension: float, angle: float
) -> None:
    """Moment balance in the plane: the force that clicks the wrench, crossed with the way from bolt to hand."""
    assume(reachable(lever, extension, angle))
    force = setting / lever
    # The drive square is the origin, the hand along x, the force along y, the bolt at the end of the extension.
    bolt = (-extension * cos(radians(angle)), -extension * sin(radians(angle)))
    moment = (lever - bolt[0]) * force
    assert torque.true_torque(setting, lever, extension, angle) == pytest.approx(moment, rel=1e-12)


@given(TORQUES, LEVERS, EXTENSIONS, st.floats(0, 89), st.floats(0, 89))
def test_the_straighter_the_extension_the_less_is_set(
    wanted: float, lever: float, extension: float, one: float, other: float
) -> None:
    """Between straight on and a right angle the setting rises with the angle, and never above the torque wanted."""
    nearer, farther = sorted((one, other))
    least, more = (torque.wrench_setting(wanted, lever, extension, angle) for angle in (nearer, farther))
    assert least <= more * (1 + 1e-12)
    assert more <= wanted * (1 + 1e-12)


@given(TORQUES, LEVERS)
def test_no_extension_changes_nothing(wanted: float, lever: float) -> None:
    """Without an extension the setting is the torque wanted, at any angle."""
    assert torque.wrench_setting(wanted, lever, 0, 73) == pytest.approx(wanted, rel=1e-15)


@given(st.floats(0.1, 380), st.floats(0, 29))
def test_band_lies_evenly_around_the_setting(setting: float, deviation: float) -> None:
    """The band of a wrench is its setting plus and minus the deviation."""
    band = torque.wrench_band(setting, deviation)
    assert (band.low + band.high) / 2 == pytest.approx(setting)
    assert (band.high - band.low) / setting == pytest.approx(deviation / 50, abs=1e-12)


@given(TORQUES, TORQUES, st.floats(0.5, 12))
def test_any_setting_of_the_window_fits(one: float, other: float, deviation: float) -> None:
    """What `setting_window` lets set is what `preset_fit` finds to fit, and nothing outside it does."""
    low, high = sorted((one, other))
    window = torque.setting_window(low, high, deviation)
    if window is None:
        assert not torque.preset_fit((low + high) / 2, low, high, deviation).fits
        return
    assert window.low is not None
    for inside in (window.low * (1 + 1e-9), (window.low + window.high) / 2, window.high * (1 - 1e-9)):
        assume(window.low <= inside <= window.high)
        assert torque.preset_fit(inside, low, high, deviation).fits
    assert not torque.preset_fit(window.low * 0.999, low, high, deviation).fits
    assert not torque.preset_fit(window.high * 1.001, low, high, deviation).fits


@given(TORQUES, TORQUES, TORQUES, TORQUES)
def test_joint_torque_exceeds_neither_marking(a: float, b: float, c: float, d: float) -> None:
    """The joint torque lies within both markings where they overlap, and is never above either."""
    first, second = TorqueBand(*sorted((a, b))), TorqueBand(*sorted((c, d)))
    joint = torque.lower_marking(first, second)
    assert joint.high == min(first.high, second.high)
    assert torque.lower_marking(second, first).high == joint.high
    if joint.overlap:
        assert joint.low == max(first.low or 0, second.low or 0)
        assert joint.low <= joint.high
    else:
        assert joint.low is None
        assert (first.low or 0) > second.high or (second.low or 0) > first.high


@pytest.mark.parametrize(
    ("bolt_count", "order"),
    [
        (1, (1,)),
        (2, (1, 2)),
        (3, (1, 2, 3)),
        (4, (1, 3, 2, 4)),
        (5, (1, 3, 5, 2, 4)),
        (6, (1, 4, 2, 5, 3, 6)),
    ],
)
def test_order_of_bolts_as_workshops_teach_it(bolt_count: int, order: tuple[int, ...]) -> None:
    """Two in turn, four crosswise, five in a star, six opposite each other (common practice, no source)."""
    assert torque.tightening(5, bolt_count).order == order


@given(st.integers(2, 12), TORQUES)
def test_every_bolt_is_tightened_in_rising_rounds(count: int, wanted: float) -> None:
    """Each bolt comes once a round; rounds rise to the torque and never pass it; even rings go to the opposite bolt."""
    plan = torque.tightening(wanted, count)
    assert sorted(plan.order) == list(range(1, count + 1))
    assert list(plan.rounds) == sorted(plan.rounds)
    assert plan.rounds[-1] == plan.rounds[-2] == pytest.approx(wanted)
    if count % 2 == 0:
        assert all(
            (here - there) % count == count // 2 for here, there in zip(plan.order[::2], plan.order[1::2], strict=True)
        )


@given(TORQUES, FACTORS, DIAMETERS)
def test_preload_and_torque_are_inverse(wanted: float, factor: float, diameter: float) -> None:
    """From torque to force and back is the same torque."""
    force = bolts.bolt_preload(wanted, factor, diameter)
    assert bolts.bolt_torque(factor, force, diameter) == pytest.approx(wanted, rel=1e-12)


@given(TORQUES, FACTORS, DIAMETERS)
def test_preload_has_the_dimension_of_a_force(wanted: float, factor: float, diameter: float) -> None:
    """Reckoned with units by pint, torque over diameter is a force of the same size."""
    unit = registry()
    force: Any = (wanted * unit.newton * unit.meter / (factor * diameter * unit.mm)).to(unit.newton)
    assert bolts.bolt_preload(wanted, factor, diameter) == pytest.approx(force.magnitude, rel=1e-12)


@given(TORQUES, FACTORS, FACTORS, DIAMETERS)
def test_more_friction_clamps_less(wanted: float, one: float, other: float, diameter: float) -> None:
    """At one torque the clamping force falls as the nut factor rises."""
    low, high = sorted((one, other))
    assert bolts.bolt_preload(wanted, high, diameter) <= bolts.bolt_preload(wanted, low, diameter)


@pytest.mark.parametrize("bolt_class", bolts.PROOF_STRESS)
@pytest.mark.parametrize("marking", ["M5", "M6", "M8", "M8 x 1", "m10x1,25"])
def test_proof_load_is_below_the_tensile_strength_of_the_class(marking: str, bolt_class: str) -> None:
    """A class is the tensile strength by a hundred, and ten times the yield's share of it (ISO 898-1)."""
    first, second = (float(part) for part in bolt_class.split("."))
    tensile = first * 100
    size = bolts.thread(marking)
    stress = bolts.proof_load(marking, bolt_class) / bolts.stress_area(size.diameter, size.pitch)
    assert stress < tensile
    assert 0.85 <= stress / (tensile * second / 10) <= 1.0


@pytest.mark.parametrize(
    ("marking", "area"),
    [("M3", 5.03), ("M4", 8.78), ("M5", 14.2), ("M6", 20.1), ("M8", 36.6), ("M10", 58.0), ("M12", 84.3)],
)
def test_stress_area_of_coarse_threads(marking: str, area: float) -> None:
    """Coarse threads have the tabulated stress area (ISO 898-1, from memory; M5, M8 in the reference table)."""
    size = bolts.thread(marking)
    assert bolts.stress_area(size.diameter, size.pitch) == pytest.approx(area, rel=0.005)


@given(DIAMETERS, st.floats(0.06, 0.25), st.floats(200, 1200), st.floats(0.04, 0.3), st.floats(0.3, 1))
def test_assembly_preload_uses_the_yield_stress_given(
    diameter: float, pitch_share: float, yield_mpa: float, friction: float, use: float
) -> None:
    """There pull and twist together (von Mises, the core plastic in twist) reach the share of the yield stress."""
    pitch = max(diameter * pitch_share, 0.2)
    flank, core = diameter - 0.64952 * pitch, diameter - 1.22687 * pitch
    middle = (flank + core) / 2

    def stress(force: float) -> float:
        pull = force / (pi / 4 * middle**2)
        moment = force * flank / 2 * (pitch / (pi * flank) + 1.155 * friction)
        twist = moment / (pi / 12 * middle**3)
        return sqrt(pull**2 + 3 * twist**2) - use * yield_mpa

    force = brentq(stress, 1e-3, 1e7, xtol=1e-9, rtol=1e-13)
    assert bolts.assembly_preload(diameter, pitch, yield_mpa, friction, use) == pytest.approx(force, rel=1e-8)


@pytest.mark.parametrize(
    ("marking", "diameter", "pitch"),
    [("M5", 5, 0.8), (" m6 ", 6, 1), ("M8x1", 8, 1), ("M8 × 1,25", 8, 1.25), ("M10*1", 10, 1), ("M9 x 1", 9, 1)],
)
def test_threads_as_they_are_written(marking: str, diameter: float, pitch: float) -> None:
    """Blanks, signs and decimal commas do not matter; a thread without a pitch is the coarse one (ISO 261)."""
    assert bolts.thread(marking) == bolts.Thread(diameter, pitch)


def test_shares_of_a_joint_go_with_its_forces() -> None:
    """5 N·m on a dry M5 8.8 bolt are up to 5000 N, 61 % of its proof load (trade-values: preload-5nm-m5-k020)."""
    load = bolts.preload(5, "M5", "8.8", "dry")
    assert load.low == pytest.approx(4000)
    assert load.high == pytest.approx(5000)
    assert load.share_high == pytest.approx(0.608, abs=0.005)
    assert load.share_low * load.proof == pytest.approx(load.low)


def test_a_hand_under_the_bolt_is_refused() -> None:
    """An extension as long as the lever, pointing back, leaves no lever."""
    with pytest.raises(InputError) as caught:
        torque.wrench_setting(5, 100, 90, 180)
    assert caught.value.code == "bench-extension-too-long"
