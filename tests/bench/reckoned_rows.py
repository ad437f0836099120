"""How each row of the reference table that can be reckoned goes through the bench.

Cast: `RECKONED` maps a row's id to what reckons it; `Found` is what comes out.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

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
from diagnose.bench.bands import Band
from diagnose.bench.sums.table import sum_of
from diagnose.bench.units import convert
from tests.trade_values import TradeValue


@dataclass(frozen=True)
class Found:
    """What the bench says to a row: a value, a range, or both."""

    value: float | str | tuple[float, ...] | None = None
    low: float | None = None
    high: float | None = None


Reckons = Callable[[TradeValue], Found]


def inputs(row: TradeValue, *keys: str) -> tuple[float, ...]:
    """Some of a row's inputs as numbers."""
    return tuple(row.given(key) for key in keys)


def converts(key: str, unit: str) -> Reckons:
    """The row's input in `unit`, converted into the row's unit."""
    return lambda row: Found(convert(row.given(key), unit, row.unit))


def crowfoot(row: TradeValue) -> Found:
    """Setting with an extension."""
    return Found(torque.wrench_setting(*inputs(row, "torque_nm", "lever_mm", "extension_mm", "angle_deg")))


def wrench_deviation(setting: float) -> Reckons:
    """Deviation of a click wrench at a setting, both ways."""

    def reckon(_: TradeValue) -> Found:
        share = torque.wrench_deviation(setting)
        band = torque.wrench_band(setting)
        return Found(share, (band.low / setting - 1) * 100, (band.high / setting - 1) * 100)

    return reckon


def wrench_band(row: TradeValue) -> Found:
    """True torque at a setting."""
    band = torque.wrench_band(*inputs(row, "torque_nm", "deviation_percent"))
    return Found(None, band.low, band.high)


def proof_load(row: TradeValue) -> Found:
    """Proof load of a bolt."""
    return Found(bolts.proof_load(row.inputs["thread"], row.inputs["class"]))


def nut_factor(row: TradeValue) -> Found:
    """Nut factor of a joint."""
    factor = bolts.nut_factor(row.inputs["lubrication"])
    return Found(None, factor.low, factor.high)


def preload_share(_: TradeValue) -> Found:
    """Share of the proof load that the torque for an M6 bolt uses by itself."""
    result = sum_of("bolt-torque", {"thread": "M6"})
    force, proof = (result.part(name).value for name in ("clamping force", "proof load"))
    assert isinstance(force, float)
    assert isinstance(proof, float)
    return Found(force / proof)


def vdi_preload(row: TradeValue) -> Found:
    """Assembly preload, in kN as the row has it."""
    return Found(bolts.assembly_preload(*inputs(row, "diameter_mm", "pitch_mm", "yield_mpa", "friction")) / 1000)


def stretch(row: TradeValue) -> Found:
    """Elongation from the stretch over a span in inches."""
    span, stretched = inputs(row, "span_in", "stretch_in")
    return Found(chain.elongation(convert(span + stretched, "in", "mm"), round(convert(span, "in", "mm") / 12.7)))


def chain_limit(row: TradeValue) -> Found:
    """Elongation at which the chain goes; the band ends there."""
    speeds = int(row.given("speeds"))
    return Found(chain.wear_limit(speeds).chain, None, chain.wear_bands(speeds)[0].high)


def chain_rule(row: TradeValue) -> Found:
    """Chain length by the rule in inches, before rounding."""
    stay, ring, sprocket = inputs(row, "chainstay_in", "largest_ring_t", "largest_cog_t")
    return Found(chain.length_by_rule(convert(stay, "in", "mm"), int(ring), int(sprocket)).exact / 25.4)


def chain_taut(row: TradeValue) -> Found:
    """Taut chain round two sprockets."""
    stay, ring, sprocket = inputs(row, "chainstay_in", "ring_t", "cog_t")
    return Found(chain.taut_length(convert(stay, "in", "mm"), int(ring), int(sprocket)) / 25.4)


def gear(row: TradeValue) -> tuple[int, int]:
    """Ring and sprocket of a row."""
    ring, sprocket = inputs(row, "ring_t", "cog_t")
    return int(ring), int(sprocket)


def capacity(row: TradeValue) -> Found:
    """Capacity of a mech."""
    ring_most, ring_least, most, least = (int(x) for x in inputs(row, "ring_max", "ring_min", "cog_max", "cog_min"))
    return Found(float(gearing.capacity(ring_most, ring_least, most, least)))


def bead_seat(*markings: str) -> Reckons:
    """Bead seat diameter that all of these markings name first, and without doubt."""

    def reckon(_: TradeValue) -> Found:
        found = {sizes.meaning(marking).bead_seats for marking in markings}
        assert len(found) == 1
        return Found(float(*found.pop()))

    return reckon


def sag_band(end: str | None, use: str | None) -> Reckons:
    """Usual sag."""

    def reckon(_: TradeValue) -> Found:
        band = suspension.sag_band(end, use)
        return Found((band.low + band.high) / 2, band.low, band.high)

    return reckon


def coil_rate(key: str, unit: str) -> Reckons:
    """Coil for a sag, the weight given in `unit`."""

    def reckon(row: TradeValue) -> Found:
        rest = inputs(row, "rear_share", "leverage_ratio", "stroke_mm", "sag_percent")
        mass = row.given(key) if unit == "kg" else convert(row.given(key), unit, "N") / 9.80665
        return Found(suspension.coil_rate(mass, *rest))

    return reckon


def right_band(bands: Iterable[Band]) -> Found:
    """The band in which a reading should lie."""
    band = next(band for band in bands if band.right)
    return Found(None, band.low, band.high)


def post(kind: str) -> Reckons:
    """Least insertion, as a lower end too."""

    def reckon(row: TradeValue) -> Found:
        least = posts.least_insertion(kind, float(row.inputs["diameter_mm"]) if row.inputs else None)
        return Found(least, least)

    return reckon


def wheel_round_tolerance(_: TradeValue) -> Found:
    """Range that the sum gives beside a circumference, in percent of it."""
    result = sum_of("wheel-round", {"marking": "25-622"})
    assert isinstance(result.value, float)
    low, high = (((end or 0) / result.value - 1) * 100 for end in (result.low, result.high))
    return Found(None, low, high)


def tension_spread(_: TradeValue) -> Found:
    """A spoke just inside the limit is let pass, one just outside is named, on either side."""
    even, low, high = [100.0] * 34, 79.4, 120.6
    assert wheels.tension_balance([*even, 80.6, 119.4]).loose == ()
    side = wheels.tension_balance([*even, low, high])
    assert (side.loose, side.tight) == ((35,), (36,))
    return Found(20, -20, 20)


def cap_gap(_: TradeValue) -> Found:
    """The gap that the sum calls right; from no gap it adds up to the value."""
    band = right_band(sum_of("cap-gap", {"gap": 3}).bands)
    return Found(headset.top_cap_gap(0).add, band.low, band.high)


def steerer_below(_: TradeValue) -> Found:
    """The deepest steerer that counts as safe, to a tenth of a millimetre."""
    safe = [tenth / 10 for tenth in range(101) if headset.top_cap_gap(tenth / 10).safe]
    return Found(max(safe), None, max(safe))


def bore(code: str) -> Reckons:
    """Bore behind a code; the nominal size is the upper end."""

    def reckon(_: TradeValue) -> Found:
        found = headset.read_code(code)
        return Found(found.high, found.low, found.high)

    return reckon


def headset_code(row: TradeValue) -> Found:
    """Bore and steerer read from a code."""
    code = headset.read_code(row.inputs["code"])
    return Found((code.bore, code.tube))


def crown_race(_: TradeValue) -> Found:
    """Crown race seat of the code found for a measured 1 1/8 in fork in an external cup."""
    return Found(float(headset.kinds_for(33.92, 30.05, "EC")[0].split("/")[1]))


def hanger_thread(row: TradeValue) -> Found:
    """The thread, read and written again."""
    size = bolts.thread(row.value)
    return Found(f"M{size.diameter:g} x {size.pitch:g}")


def hanger_spots(_: TradeValue) -> Found:
    """Clock positions at which the gauge is pressed when each of the four readings in turn is the largest."""
    gaps = [[10.0 if at == spot else 5.0 for at in range(4)] for spot in range(4)]
    return Found(tuple(float(hanger.hanger(row, 584).bend_at) for row in gaps))


def hanger_tolerance(_: TradeValue) -> Found:
    """Spread that the sum lets pass unless told otherwise."""
    band = right_band(sum_of("hanger", {"gaps": [5, 5, 5, 5]}).bands)
    return Found(band.high, None, band.high)


def lacing(row: TradeValue) -> tuple[int, int]:
    """Spokes and crosses of a row."""
    spokes, crosses = inputs(row, "spokes", "crosses")
    return int(spokes), int(crosses)


def spoke_length(row: TradeValue) -> Found:
    """Length of a spoke."""
    erd, flange, offset, hole = inputs(row, "erd_mm", "flange_pcd_mm", "flange_offset_mm", "hole_mm")
    return Found(wheels.spoke_length(erd, flange, offset, *lacing(row), hole))


def tension_ceiling(_: TradeValue) -> Found:
    """The highest whole tension of which the sum does not warn, all spokes being alike."""
    fine = [level for level in range(100, 141) if not sum_of("spoke-tension", {"tensions": [level] * 6}).notes]
    return Found(float(max(fine)), None, float(max(fine)))


RECKONED: dict[str, Reckons] = {
    "torque-wrench-deviation-above-10": wrench_deviation(10.01),
    "torque-wrench-deviation-to-10": wrench_deviation(10),
    "torque-wrench-band-5-nm": wrench_band,
    "crowfoot-80-400-50-0": crowfoot,
    "crowfoot-40-300-30-0": crowfoot,
    "crowfoot-40-300-30-90": crowfoot,
    "crowfoot-40-300-30-45": crowfoot,
    "crowfoot-80-400-50-180": crowfoot,
    "crowfoot-error-ignored-inline": lambda row: Found(
        torque.true_torque(*inputs(row, "setting_nm", "lever_mm", "extension_mm", "angle_deg"))
    ),
    "stress-area-m5": lambda row: Found(bolts.stress_area(*inputs(row, "diameter_mm", "pitch_mm"))),
    "stress-area-m8": lambda row: Found(bolts.stress_area(*inputs(row, "diameter_mm", "pitch_mm"))),
    "proof-load-m5-8p8": proof_load,
    "proof-load-m8-8p8": proof_load,
    "proof-load-m8-10p9": proof_load,
    "nut-factor-dry": nut_factor,
    "nut-factor-oiled": nut_factor,
    "preload-share-reusable": preload_share,
    "kfd-m5-8p8-k020": lambda row: Found(bolts.bolt_torque(*inputs(row, "nut_factor", "preload_n", "diameter_mm"))),
    "kfd-m6-8p8-k020": lambda row: Found(bolts.bolt_torque(*inputs(row, "nut_factor", "preload_n", "diameter_mm"))),
    "preload-5nm-m5-k020": lambda row: Found(
        bolts.bolt_preload(*inputs(row, "torque_nm", "nut_factor", "diameter_mm"))
    ),
    "preload-40nm-m8-k020": lambda row: Found(
        bolts.bolt_preload(*inputs(row, "torque_nm", "nut_factor", "diameter_mm"))
    ),
    "vdi-preload-m8x1-mu010": vdi_preload,
    "torque-centre-lock-ring": converts("torque_lbfin", "lbf.in"),
    "unit-lbfin-to-nm": converts("torque_lbfin", "lbf.in"),
    "unit-lbfft-to-nm": converts("torque_lbfft", "lbf.ft"),
    "unit-kgfcm-to-nm": converts("torque_kgfcm", "kgf.cm"),
    "unit-nm-to-lbfin": converts("torque_nm", "N.m"),
    "unit-nm-to-lbfft": converts("torque_nm", "N.m"),
    "unit-psi-to-kpa": converts("pressure_psi", "psi"),
    "unit-bar-to-psi": converts("pressure_bar", "bar"),
    "unit-lbfin-rate-to-nmm": converts("rate_lbf_per_in", "lbf/in"),
    "unit-conv-5-nm-to-lbfin": converts("torque_nm", "N.m"),
    "unit-conv-40-nm-to-lbfft": converts("torque_nm", "N.m"),
    "unit-conv-100-psi-bar": converts("pressure_psi", "psi"),
    "unit-conv-2p5-bar-psi": converts("pressure_bar", "bar"),
    "chain-pitch": lambda _: Found(chain.length_over(1)),
    "chain-ruler-span": lambda row: Found(chain.length_over(int(row.given("pitches")))),
    "chain-elongation-0p5": lambda row: Found(chain.length_over(24, row.given("elongation_percent"))),
    "chain-elongation-0p75": lambda row: Found(chain.length_over(24, row.given("elongation_percent"))),
    "chain-wear-from-307p0-mm": lambda row: Found(
        chain.elongation(row.given("measured_mm"), int(row.given("pitches")))
    ),
    "chain-wear-sixteenth": stretch,
    "chain-wear-eighth": stretch,
    "chain-limit-11-12-speed": chain_limit,
    "chain-limit-6-10-speed": chain_limit,
    "chain-length-16p25-52-28": chain_rule,
    "chain-length-16p5-50-34": chain_rule,
    "chain-length-17p2-32-51": chain_rule,
    "chain-length-exact-16p25-52-28": chain_taut,
    "gear-inches-48-11-26in": lambda row: Found(gearing.gear_inches(*gear(row), row.given("wheel_in"))),
    "gear-inches-40-13-2085": lambda row: Found(
        gearing.gear_inches(*gear(row), gearing.rolled_diameter(row.given("circumference_mm")))
    ),
    "development-53-11-2105": lambda row: Found(gearing.development(*gear(row), row.given("circumference_mm"))),
    "development-32-51-2312": lambda row: Found(gearing.development(*gear(row), row.given("circumference_mm"))),
    "gain-ratio-48-11": lambda row: Found(gearing.gain_ratio(*gear(row), *inputs(row, "wheel_radius_mm", "crank_mm"))),
    "gain-ratio-50-34": lambda row: Found(gearing.gain_ratio(*gear(row), *inputs(row, "wheel_radius_mm", "crank_mm"))),
    "capacity-39-53-12-23": capacity,
    "capacity-34-50-12-25": capacity,
    "gear-inches-track-48-15": lambda row: Found(gearing.gear_inches(*gear(row), row.given("wheel_in"))),
    "bsd-26-mtb": bead_seat("26 x 1.95", "26x2.35", '26" x 2.1', "54-559"),
    "bsd-650b": bead_seat("27.5 x 2.25", "650B", "650 x 42B", "27,5", "47-584"),
    "bsd-700c": bead_seat("700C", "700 x 25C", "29 x 2.2", "29", "28-622"),
    "bsd-20-bmx": bead_seat("20 x 1.95", "20x2.125", "47-406"),
    "bsd-27": bead_seat("27 x 1 1/4", "27x1⅛", "27", "32-630"),
    "tyre-diameter-25-622": lambda row: Found(tyres.overall_diameter(*inputs(row, "width_mm", "bsd_mm"))),
    "tyre-diameter-28-622": lambda row: Found(tyres.overall_diameter(*inputs(row, "width_mm", "bsd_mm"))),
    "pressure-min-narrow": lambda row: Found(convert(tyres.pressure_least(row.given("width_mm")), "bar", "kPa")),
    "rim-inner-width-25": lambda row: Found(tyres.rim_guide(row.given("width_mm"))),
    "hookless-max-pressure": lambda _: Found(tyres.pressure_limit(8, 9, hookless=True).high),
    "max-pressure-tyre-rim": lambda row: Found(tyres.pressure_limit(*inputs(row, "tyre_max_bar", "rim_max_bar")).high),
    "circumference-28-622": lambda row: Found(tyres.circumference(*inputs(row, "width_mm", "bsd_mm"))),
    "circumference-57-622": lambda row: Found(tyres.circumference(*inputs(row, "width_mm", "bsd_mm"))),
    "circumference-table-25-622": lambda row: Found(tyres.circumference(*inputs(row, "width_mm", "bsd_mm"))),
    "circumference-tolerance": wheel_round_tolerance,
    "sag-band-general": sag_band(None, None),
    "sag-trail": sag_band("shock", "trail"),
    "sag-30-of-170": lambda row: Found(suspension.sag_length(*inputs(row, "sag_percent", "travel_mm"))),
    "sag-25-of-100": lambda row: Found(suspension.sag_length(*inputs(row, "sag_percent", "travel_mm"))),
    "sag-percent-38-of-150": lambda row: Found(suspension.sag_share(*inputs(row, "sag_mm", "travel_mm"))),
    "leverage-ratio-150-50": lambda row: Found(suspension.leverage(*inputs(row, "wheel_travel_mm", "shock_stroke_mm"))),
    "coil-rate-180lb-lr3-50": coil_rate("rider_lbf", "lbf"),
    "coil-rate-95kg-lr2p8-60": coil_rate("rider_and_sprung_mass_kg", "kg"),
    "air-isothermal-10bar-ratio-2": lambda row: Found(
        suspension.compressed(*inputs(row, "pressure_bar_gauge", "volume_ratio", "exponent"))
    ),
    "air-adiabatic-10bar-ratio-2": lambda row: Found(
        suspension.compressed(*inputs(row, "pressure_bar_gauge", "volume_ratio", "exponent"))
    ),
    "air-stiffness-isothermal": lambda row: Found(
        suspension.air_stiffness(*inputs(row, "pressure_bar_abs", "area_cm2", "volume_cm3", "exponent"))
    ),
    "brake-force-correction": lambda row: Found(
        brakes.force_at(*inputs(row, "recorded_force_n", "intended_n", "recorded_n"))
    ),
    "brake-speed-correction": lambda row: Found(
        brakes.distance_at(*inputs(row, "specified_kmh", "measured_kmh", "measured_m"))
    ),
    "rotor-min-a": lambda _: Found(sum_of("disc-wear", {"disc": 1.7}).low, sum_of("disc-wear", {"disc": 1.7}).low),
    "pad-lining-min": lambda _: Found(sum_of("pad-wear", {"lining": 2}).low, sum_of("pad-wear", {"lining": 2}).low),
    "lever-reserve": lambda _: Found(right_band(brakes.lever_bands()).low, right_band(brakes.lever_bands()).low),
    "steerer-below-stem-top": steerer_below,
    "top-cap-gap": cap_gap,
    "shis-read-zs44-28p6": headset_code,
    "bore-ec34": bore("EC34/28.6"),
    "bore-zs44": bore("ZS44/28.6"),
    "steerer-1-1-8": converts("diameter_in", "in"),
    "crown-race-1-1-8": crown_race,
    "bcd-130-5-arm": lambda row: Found(gearing.bolt_distance(row.given("bcd_mm"), int(row.given("arms")))),
    "bcd-110-5-arm": lambda row: Found(gearing.bolt_distance(row.given("bcd_mm"), int(row.given("arms")))),
    "bcd-104-4-arm": lambda row: Found(gearing.bolt_distance(row.given("bcd_mm"), int(row.given("arms")))),
    "bcd-64-4-arm": lambda row: Found(gearing.bolt_distance(row.given("bcd_mm"), int(row.given("arms")))),
    "bcd-110-4-arm": lambda row: Found(gearing.bolt_distance(row.given("bcd_mm"), int(row.given("arms")))),
    "bcd-inverse-64p7": lambda row: Found(gearing.bolt_circle(row.given("chord_mm"), int(row.given("arms")))),
    "bb-iso-pitch": lambda row: Found(bolts.thread_pitch(row.given("threads_per_inch"))),
    "bb-iso-diameter": converts("diameter_in", "in"),
    "bb-iso-diameter-1p375": converts("diameter_in", "in"),
    "pedal-thread-diameter": converts("diameter_in", "in"),
    "hanger-thread": hanger_thread,
    "hanger-check-points": hanger_spots,
    "hanger-tolerance": hanger_tolerance,
    "hanger-angle-from-reading-2": lambda row: Found(hanger.hanger_angle(*inputs(row, "difference_mm", "span_mm"))),
    "wheel-true-shop": lambda _: Found(right_band(runout.rim_bands()).high, None, right_band(runout.rim_bands()).high),
    "spoke-tension-spread": tension_spread,
    "spoke-tension-from-offsets": lambda row: Found(
        wheels.other_side_tension(*inputs(row, "drive_tension_kgf", "drive_offset_mm", "nondrive_offset_mm"))
    ),
    "spoke-36-3x": spoke_length,
    "spoke-32-3x-drive": spoke_length,
    "spoke-cos-factor-32-3x": lambda row: Found(wheels.lacing_factor(*lacing(row))),
    "spoke-thread-pitch": lambda row: Found(bolts.thread_pitch(row.given("threads_per_inch"))),
    "nipple-quarter-turn": lambda row: Found(wheels.nipple_travel(*inputs(row, "turns", "threads_per_inch"))),
    "ball-1-4": converts("diameter_in", "in"),
    "seatpost-mark-us": post("post"),
    "seatpost-insertion-one-maker": post("post, deeper"),
    "seatpost-mark-iso-noncircular": post("shaped post"),
    "quill-stem-insertion": post("quill"),
    "battery-energy-36v-14ah": lambda row: Found(battery.battery_energy(*inputs(row, "voltage_v", "charge_ah"))),
    "spoke-tension-ceiling": tension_ceiling,
}
