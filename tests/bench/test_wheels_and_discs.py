"""Run-out, dish, spokes, brakes, headset and posts against geometry in space, least squares and statics."""

from __future__ import annotations

from math import cos, hypot, pi, sin

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.linalg import lstsq

from diagnose.bench import brakes, headset, posts, runout, wheels
from diagnose.bench.runout import Spot
from diagnose.errors import InputError

COUNTS = st.integers(6, 36)
SMALL = st.floats(-2, 2)


def lean(count: int, swing: float, phase: float, level: float = 0.0) -> list[float]:
    """Readings of a sound disc that leans once a turn."""
    return [level + swing * cos(2 * pi * place / count - phase) for place in range(count)]


@given(st.lists(SMALL, min_size=4, max_size=48), SMALL)
def test_run_out_does_not_depend_on_the_gauges_zero(readings: list[float], shift: float) -> None:
    """Moving the gauge's zero changes neither the run-out nor the lean."""
    one, other = runout.run_out(readings), runout.run_out([reading + shift for reading in readings])
    assert other.total == pytest.approx(one.total, abs=1e-9)
    assert other.lean == pytest.approx(one.lean, abs=1e-9)
    assert one.total == max(readings) - min(readings)


@given(st.lists(SMALL, min_size=4, max_size=24))
def test_lean_is_the_least_squares_fit(readings: list[float]) -> None:
    """Scipy's least-squares fit of a mean and one swing a turn has the same swing."""
    angles = 2 * pi * np.arange(len(readings)) / len(readings)
    columns = np.column_stack([np.ones(len(readings)), np.cos(angles), np.sin(angles)])
    _, first, second = lstsq(columns, np.array(readings))[0]
    assert runout.run_out(readings).lean == pytest.approx(2 * hypot(first, second), abs=1e-9)


@given(COUNTS, st.floats(0.2, 3), st.floats(0, 6.2), SMALL)
def test_a_leaning_disc_is_not_called_bent(count: int, swing: float, phase: float, level: float) -> None:
    """Readings that only swing once a turn are a lean of the whole, and no place is named for bending."""
    out = runout.run_out(lean(count, swing, phase, level))
    assert out.leans
    assert out.lean == pytest.approx(2 * swing)
    assert out.spots == ()


@given(st.integers(4, 36), st.data(), st.floats(0.3, 3), st.booleans())
def test_a_single_bend_is_found_where_it_is(count: int, data: st.DataObject, bend: float, away: bool) -> None:
    """One place off a flat disc is named with its height and its side, and is no lean, however few the readings."""
    place = data.draw(st.integers(0, count - 1))
    readings = [0.0] * count
    readings[place] = -bend if away else bend
    out = runout.run_out(readings)
    assert not out.leans
    assert out.spots == (Spot(place + 1, -bend if away else bend),)
    assert (out.lowest if away else out.highest) == place + 1


@given(st.integers(16, 36), st.data(), st.floats(0.5, 2), st.floats(0, 6.2))
def test_a_bend_on_a_leaning_disc_is_the_worst_spot(count: int, data: st.DataObject, bend: float, phase: float) -> None:
    """With the lean taken out, the place that is bent comes first."""
    place = data.draw(st.integers(0, count - 1))
    readings = lean(count, 3 * bend, phase)
    readings[place] += bend
    out = runout.run_out(readings)
    assert out.leans
    assert out.spots[0].place == place + 1
    assert out.spots[0].off == pytest.approx(bend, rel=0.25)


@pytest.mark.parametrize(
    ("total", "name"),
    [
        (0.2, "good"), (0.21, "true it"), (0.5, "true it"), (0.51, "one try, then a new disc"),
        (1.0, "one try, then a new disc"), (1.01, "new disc"),
    ],
)  # fmt: skip
def test_what_a_discs_run_out_means(total: float, name: str) -> None:
    """Good to 0.2 mm, trued to 0.5, renewed over 1 (common practice, no source); the edge is on the better side."""
    assert [band.name for band in runout.disc_bands() if band.holds(total)] == [name]


def test_binary_arithmetic_pushes_no_reading_over_an_edge() -> None:
    """0.7 less 0.5 is 0.2 for a mechanic, whatever a float says."""
    out = runout.run_out([0.7, 0.5, 0.6, 0.6])
    assert [band.name for band in runout.disc_bands() if band.holds(out.total)] == ["good"]
    assert [band.name for band in runout.disc_bands() if band.holds(0.1 + 0.2 - 0.1)] == ["good"]


@given(st.floats(110, 150), st.floats(-8, 8), st.floats(15, 60))
def test_dish_comes_back_from_a_rim_off_the_middle(locknuts: float, off: float, reach: float) -> None:
    """A gauge that touches the locknut and reaches down to the rim shows the offset, and to which side."""
    rim = 20.0
    left, right = (locknuts / 2 + side * off - rim / 2 - reach for side in (1, -1))
    assume(all(abs(gap) <= 60 for gap in (left, right)))
    found = wheels.dish(left, right)
    assert found.off == pytest.approx(abs(off), abs=1e-9)
    if abs(off) > 1e-6:
        assert found.side == ("right" if off > 0 else "left")


@given(
    st.floats(350, 620), st.floats(38, 70), st.floats(10, 45), st.sampled_from([20, 24, 28, 32, 36]), st.integers(0, 3)
)
def test_spoke_is_as_long_as_the_way_in_space(
    erd: float, flange: float, offset: float, spokes: int, crosses: int
) -> None:
    """Distance between the hole in the flange and the one in the rim, by coordinates, less half the hole."""
    assume(crosses <= 0.3 * spokes / 2)
    turn = 2 * pi * crosses / (spokes / 2)
    hub = np.array([flange / 2, 0, offset])
    rim = np.array([erd / 2 * cos(turn), erd / 2 * sin(turn), 0])
    far = float(np.linalg.norm(hub - rim))
    assert wheels.spoke_length(erd, flange, offset, spokes, crosses, 2.6) == pytest.approx(far - 1.3)


@given(st.floats(350, 620), st.floats(38, 70), st.floats(10, 45))
def test_more_crosses_need_longer_spokes(erd: float, flange: float, offset: float) -> None:
    """From radial to four crosses the spoke only grows."""
    lengths = [wheels.spoke_length(erd, flange, offset, 36, crosses) for crosses in range(5)]
    assert lengths == sorted(lengths)


@given(st.floats(40, 130), st.floats(15, 40), st.floats(15, 40))
def test_tensions_of_both_sides_hold_the_rim(tension: float, offset: float, other: float) -> None:
    """Sideways pulls of both sides cancel, and going back gives the tension that was measured."""
    across = wheels.other_side_tension(tension, offset, other)
    assert across * other == pytest.approx(tension * offset)
    if wheels.TENSION.low <= across <= wheels.TENSION.high:
        assert wheels.other_side_tension(across, other, offset) == pytest.approx(tension)


@given(st.lists(st.floats(60, 140), min_size=4, max_size=18), st.floats(1, 50))
def test_spokes_named_are_those_off_the_mean(tensions: list[float], limit: float) -> None:
    """Every spoke off the mean by more than the limit is named, once, on its side; no other is."""
    side = wheels.tension_balance(tensions, limit)
    off = [(tension / np.mean(tensions) - 1) * 100 for tension in tensions]
    assume(all(abs(abs(share) - limit) > 1e-6 for share in off))
    assert side.loose == tuple(place for place, share in enumerate(off, 1) if share < -limit)
    assert side.tight == tuple(place for place, share in enumerate(off, 1) if share > limit)
    assert side.spread == pytest.approx(max(abs(share) for share in off), abs=1e-6)


@given(st.floats(-10, 10), st.floats(40, 80))
def test_nipple_turns_and_travel_are_inverse(travel: float, threads: float) -> None:
    """Turns for a way along the spoke move the nipple that far."""
    turns = wheels.nipple_turns(travel, threads)
    assume(abs(turns) <= 20)
    assert wheels.nipple_travel(turns, threads) == pytest.approx(travel, abs=1e-12)


@given(st.floats(0.2, 3), st.floats(15, 45), st.floats(180, 310))
def test_turns_for_a_shift_are_the_change_of_length_in_space(shift: float, offset: float, spoke: float) -> None:
    """Rim moved sideways: the spoke's length by Pythagoras changes by as much as the turns take up, to first order."""
    reach = (spoke**2 - offset**2) ** 0.5
    shorter = spoke - hypot(reach, offset - shift)
    turns = wheels.turns_for_shift(shift, offset, spoke)
    assert wheels.nipple_travel(turns) == pytest.approx(shorter, abs=shift**2 / spoke)


@given(st.floats(0, 10), st.floats(0.2, 8), st.floats(0.1, 4))
def test_wear_left_falls_with_the_thickness(measured: float, least: float, depth: float) -> None:
    """What is left is counted from the least thickness; its share runs from 1 when new to 0 and stays there."""
    new = least + depth
    left = brakes.wear_left(measured, new, least)
    assert left.left == pytest.approx(measured - least)
    assert 0 <= left.share <= 1
    assert brakes.wear_left(new, new, least).share == 1
    assert brakes.wear_left(least, new, least).share == 0
    assert brakes.wear_left(max(measured - 0.05, 0), new, least).share <= left.share


@given(st.floats(0, 3), st.floats(0, 3))
def test_moved_by_the_shift_the_gaps_are_even(left: float, right: float) -> None:
    """A brake moved to the right opens the gap on the right and closes the one on the left; then both are the same."""
    assume(left + right > 0)
    middle = brakes.centring(left, right)
    assert left - middle.shift == pytest.approx(middle.each)
    assert right + middle.shift == pytest.approx(middle.each)
    assert middle.difference == pytest.approx(abs(left - right))


def test_pads_that_both_touch_leave_no_gap_to_share_out() -> None:
    """Two gaps of nought are not an even brake: that is said, with what to do."""
    with pytest.raises(InputError, match="Both pads touch") as told:
        brakes.centring(0, 0)
    assert "0 to 8 mm" in told.value.hint


@given(st.floats(20, 100), st.floats(0, 1))
def test_lever_reserve_and_stroke_are_the_whole(rest: float, share: float) -> None:
    """What the lever moved and what is left make up the gap at rest."""
    left = brakes.lever_reserve(rest, rest * share)
    assert left.left + left.stroke == pytest.approx(rest)
    assert left.share == pytest.approx(share)


@pytest.mark.parametrize(
    ("gap", "name"), [(9.9, "do not ride"), (10, "look closer"), (24.9, "look closer"), (25, "good")]
)
def test_what_the_levers_room_means(gap: float, name: str) -> None:
    """Below 10 mm nobody rides (common practice, no source), from 25 all is well (trade-values: lever-reserve)."""
    assert [band.name for band in brakes.lever_bands() if band.holds(gap)] == [name]


@given(st.floats(50, 1000), st.floats(50, 200), st.floats(50, 200))
def test_brake_force_goes_with_the_lever_force(force: float, intended: float, recorded: float) -> None:
    """Corrected there and back it is the force recorded; as meant, nothing changes."""
    there = brakes.force_at(force, intended, recorded)
    assert brakes.force_at(there, recorded, intended) == pytest.approx(force)
    assert brakes.force_at(force, intended, intended) == pytest.approx(force)


@given(st.floats(10, 40), st.floats(10, 40), st.floats(2, 20))
def test_stopping_distance_keeps_the_deceleration(specified: float, ridden: float, distance: float) -> None:
    """Speed squared over distance, the deceleration, is the same before and after."""
    there = brakes.distance_at(specified, ridden, distance)
    assert specified**2 / there == pytest.approx(ridden**2 / distance)


@given(st.floats(-5, 1.99))
def test_spacers_put_a_small_gap_right(gap: float) -> None:
    """Whatever the cap lacks, spacers at hand bring the gap between 2 and 4 mm (trade-values: top-cap-gap)."""
    asked = headset.top_cap_gap(gap)
    assert asked.verdict == "too little"
    stack = headset.spacers_for(asked.add)
    assert headset.top_cap_gap(gap + sum(stack)).verdict == "right"


@given(st.floats(0, 60), st.lists(st.sampled_from([1.0, 2.0, 2.5, 3.0, 5.0, 10.0, 20.0]), min_size=1, max_size=5))
def test_no_stack_of_four_spacers_comes_nearer(height: float, at_hand: list[float]) -> None:
    """Against brute force over up to four spacers: the stack found is nearest, and none of fewer is as near."""
    found = headset.spacers_for(height, at_hand)
    sums = {0: {0.0}}
    for count in range(1, 5):
        sums[count] = {before + one for before in sums[count - 1] for one in at_hand}
    nearest = {count: min(abs(total - height) for total in totals) for count, totals in sums.items()}
    assert abs(sum(found) - height) == pytest.approx(min(nearest.values()), abs=1e-6)
    assert all(nearest[count] > abs(sum(found) - height) - 2e-6 for count in range(len(found)))
    assert list(found) == sorted(found, reverse=True)


@given(st.floats(80, 250), st.floats(10, 60), st.floats(0, 60), st.floats(30, 60), st.floats(2, 5), st.floats(0, 120))
def test_a_steerer_cut_as_told_leaves_the_gap(
    tube: float, stack: float, spacers: float, stem: float, gap: float, spare: float
) -> None:
    """What is cut off leaves a steerer that ends the gap below the top of the stem."""
    wanted = headset.steerer_length(tube, stack, spacers, stem, gap)
    steerer = wanted + spare
    assume(80 <= wanted <= 600)
    assume(steerer <= 600)
    left = steerer - headset.steerer_cut(steerer, wanted)
    assert tube + stack + spacers + stem - left == pytest.approx(gap)


@pytest.mark.parametrize("name", headset.SEATS)
def test_a_bore_in_the_middle_of_a_size_is_found(name: str) -> None:
    """Every size is among those found for its own bore, and first among those of its kind."""
    low, high = headset.SEATS[name]
    assert f"{name}/28.6" in headset.kinds_for((low + high) / 2, 28.6)
    assert headset.kinds_for((low + high) / 2, 28.5, name[:2])[0] == f"{name}/28.6"
    code = headset.read_code(f"{name.lower()} / 28,6")
    assert (code.kind, code.low, code.high) == (name[:2], low, high)
    assert abs(code.bore - low) < 1


def test_one_bore_can_take_two_kinds() -> None:
    """A bore of 44 mm takes a cup inside or outside; a bore that no size has takes none, nor an odd steerer."""
    assert set(headset.kinds_for(43.97, 28.6)) == {"EC44/28.6", "ZS44/28.6"}
    assert headset.kinds_for(46, 28.6) == ()
    assert headset.kinds_for(44, 29.3) == ()


@given(st.floats(100, 600), st.floats(0, 1), st.floats(22, 35), st.sampled_from(list(posts.KINDS)))
def test_insertion_is_enough_from_the_mark_on(length: float, share: float, diameter: float, kind: str) -> None:
    """What stands inside and outside is the whole length, and enough is from the least insertion on."""
    deep = posts.insertion(length, length * share, kind, diameter)
    assert deep.inside + length * share == pytest.approx(length)
    assert deep.enough == (deep.inside >= posts.least_insertion(kind, diameter))
    assert deep.spare == pytest.approx(deep.inside - deep.least)
    assert posts.least_insertion("post", diameter) < posts.least_insertion("quill", diameter)


@given(st.floats(22, 35), st.floats(0, 2))
def test_clearance_is_what_the_bore_is_wider(diameter: float, room: float) -> None:
    """The bore less the post."""
    assert posts.clearance(diameter, diameter + room) == pytest.approx(room)
