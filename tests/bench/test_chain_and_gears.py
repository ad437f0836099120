"""Chain, gearing and hanger against plane geometry reckoned another way, pint, and round trips over random inputs."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise
from math import atan2, cos, degrees, hypot, pi, radians, sin

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.optimize import brentq

from diagnose.bench import chain, gearing, hanger

RINGS = st.integers(18, 60)
SPROCKETS = st.integers(9, 52)
STAYS = st.floats(390, 480)


def hull_length(front: float, rear: float, stay: float) -> float:
    """Length of the taut loop round two circles: the mean width of the hull times pi (Cauchy), by quadrature."""

    def width(angle: float) -> float:
        return max(front, stay * cos(angle) + rear) + max(front, -stay * cos(angle) + rear)

    # The support function changes branch where stay x cos = front - rear; there the integrand has a kink.
    kink = brentq(lambda angle: stay * cos(angle) + rear - front, 0, pi)
    pieces = sorted({0.0, kink, pi - kink, pi})
    return float(sum(quad(width, start, end)[0] for start, end in pairwise(pieces)))


@given(RINGS, SPROCKETS, STAYS)
def test_taut_length_is_the_hull_of_the_two_pitch_circles(ring: int, sprocket: int, stay: float) -> None:
    """Cauchy's formula for a convex curve gives the same length as straight runs and arcs."""
    front, rear = (12.7 / (2 * sin(pi / teeth)) for teeth in (ring, sprocket))
    assert chain.taut_length(stay, ring, sprocket) == pytest.approx(hull_length(front, rear, stay), rel=1e-7)


@given(RINGS, SPROCKETS, STAYS)
def test_rule_of_thumb_and_geometry_agree_within_a_pair_of_links(ring: int, sprocket: int, stay: float) -> None:
    """Both ways to cut a chain give the same number of links, give or take three pairs, and always whole pairs."""
    rule, exact = chain.length_by_rule(stay, ring, sprocket), chain.length_round_mech(stay, ring, sprocket)
    assert rule.pitches % 2 == exact.pitches % 2 == 0
    assert abs(rule.pitches - exact.pitches) <= 6
    assert exact.length >= chain.taut_length(stay, ring, sprocket) + 25.4 - 1e-6


@given(RINGS, SPROCKETS, STAYS, st.floats(0, 40))
def test_a_longer_stay_or_more_teeth_need_a_longer_chain(ring: int, sprocket: int, stay: float, more: float) -> None:
    """The length rises with the chainstay, the ring and the sprocket."""
    here = chain.taut_length(stay, ring, sprocket)
    assert chain.taut_length(stay + more, ring, sprocket) >= here
    assert chain.taut_length(stay, ring + 1, sprocket) > here
    assert chain.taut_length(stay, ring, sprocket + 1) > here


@given(st.floats(12.7, 5000))
def test_links_are_rounded_up_to_whole_pairs(length: float) -> None:
    """The chain cut is never shorter than reckoned, and less than a pair longer."""
    cut = chain.links_for(length)
    assert cut.length >= length - 1e-4
    assert cut.length < length + 25.4


@given(st.integers(1, 200), st.floats(-0.9, 5.9))
def test_elongation_and_length_are_inverse(pitches: int, worn: float) -> None:
    """A chain worn so far, measured over any number of pitches, is found to be worn so far."""
    assert chain.elongation(chain.length_over(pitches, worn), pitches) == pytest.approx(worn, abs=1e-9)


@pytest.mark.parametrize("speeds", range(1, 14))
def test_wear_limits_tighten_with_speeds(speeds: int) -> None:
    """More sprockets never allow more wear; sprockets go after the chain; the edge itself is still good."""
    limit, bands = chain.wear_limit(speeds), chain.wear_bands(speeds)
    assert limit.chain < limit.sprockets
    if speeds > 1:
        assert limit.chain <= chain.wear_limit(speeds - 1).chain
        assert limit.sprockets <= chain.wear_limit(speeds - 1).sprockets
    assert [band.holds(limit.chain) for band in bands] == [True, False, False]
    assert [band.holds(limit.chain + 0.001) for band in bands] == [False, True, False]
    assert [band.holds(limit.sprockets + 0.001) for band in bands] == [False, False, True]


@given(st.floats(25, 40), st.floats(10, 40), st.floats(100, 160), st.floats(0, 10), st.floats(0, 45), STAYS)
def test_chain_angle_follows_from_the_two_lines(
    tube: float, gap: float, locknuts: float, near: float, stack: float, stay: float
) -> None:
    """The angle is that of the triangle with the chainstay, and mirrored when ring and sprocket change places."""
    front, rear = chain.front_chain_line(tube, gap), chain.rear_chain_line(locknuts, near, stack)
    assume(20 <= front <= 80)
    assume(20 <= rear <= 80)
    assert hypot(stay, front - rear) * sin(radians(chain.chain_angle(front, rear, stay))) == pytest.approx(front - rear)
    assert chain.chain_angle(front, rear, stay) == pytest.approx(-chain.chain_angle(rear, front, stay))


@given(RINGS, SPROCKETS, st.floats(1200, 2400), st.floats(150, 180))
def test_gears_by_four_names_are_one_gear(ring: int, sprocket: int, rolled: float, crank: float) -> None:
    """Development is gear inches times pi, and gain ratio times the pedal's circle."""
    metres = gearing.development(ring, sprocket, rolled)
    inches = gearing.gear_inches(ring, sprocket, gearing.rolled_diameter(rolled))
    gain = gearing.gain_ratio(ring, sprocket, rolled / (2 * pi), crank)
    assert inches * 0.0254 * pi == pytest.approx(metres)
    assert gain * 2 * pi * crank / 1000 == pytest.approx(metres)
    assert Fraction(ring, sprocket) == Fraction(gearing.ratio(ring, sprocket)).limit_denominator(60)


@given(RINGS, RINGS, SPROCKETS, SPROCKETS)
def test_capacity_is_the_slack_of_the_two_extreme_gears(a: int, b: int, c: int, d: int) -> None:
    """Capacity is what lies between the most and the least teeth that the chain runs round."""
    rings, sprockets = sorted((a, b)), sorted((c, d))
    teeth = [ring + sprocket for ring in rings for sprocket in sprockets]
    assert gearing.capacity(rings[1], rings[0], sprockets[1], sprockets[0]) == max(teeth) - min(teeth)


@given(st.floats(56, 150), st.integers(3, 8))
def test_bolt_circle_and_distance_are_inverse(circle: float, arms: int) -> None:
    """The distance of two points on the circle, by their coordinates, gives the circle back."""
    turn = 2 * pi / arms
    apart = hypot(circle / 2 * (1 - cos(turn)), circle / 2 * sin(turn))
    assert gearing.bolt_distance(circle, arms) == pytest.approx(apart)
    assert gearing.bolt_circle(apart, arms) == pytest.approx(circle)


@pytest.mark.parametrize(("chord", "arms", "circle"), [(76.4, 5, 130), (64.7, 5, 110), (73.6, 4, 104), (45.3, 4, 64)])
def test_nearest_bolt_circle_of_the_printed_distances(chord: float, arms: int, circle: float) -> None:
    """Distances as printed by sheldonbrown.com lead to the size in use (trade-values: bcd-130-5-arm and others)."""
    assert gearing.nearest_circle(gearing.bolt_circle(chord, arms), arms) == circle


def test_no_size_is_invented_for_arms_without_any() -> None:
    """Where no size is known for so many arms there is no nearest one."""
    assert gearing.nearest_circle(110, 9) is None


@given(st.floats(-3, 3), st.floats(-3, 3), st.floats(20, 40))
def test_hanger_angles_come_back_from_a_bent_plane(lean: float, turn: float, gap: float) -> None:
    """Readings off a plane leaning so far give the lean back; the gauge is pressed where it stands off most."""
    across = 584.0
    up, level = (across * sin(radians(angle)) / cos(radians(angle)) / 2 for angle in (lean, turn))
    gaps = [gap + up, gap + level, gap - up, gap - level]
    found = hanger.hanger(gaps, across)
    assert found.upright_angle == pytest.approx(lean, abs=1e-9)
    assert found.level_angle == pytest.approx(turn, abs=1e-9)
    assert found.spread == pytest.approx(2 * max(abs(up), abs(level)), abs=1e-9)
    if found.spread > 1e-6:
        assert gaps[(12, 3, 6, 9).index(found.bend_at)] == max(gaps)


def test_a_straight_hanger_is_left_alone() -> None:
    """Equal readings are no bend and no place to press."""
    found = hanger.hanger([7, 7, 7, 7], 584)
    assert (found.spread, found.bend_at, found.upright_angle) == (0, 0, 0)
    assert hanger.hanger_angle(10, 584) == pytest.approx(degrees(atan2(10, 584)))
