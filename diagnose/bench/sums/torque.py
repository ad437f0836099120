"""The sums of torque and bolts."""

from __future__ import annotations

from typing import Final

from diagnose.bench import bolts, torque
from diagnose.bench.sums.givens import Choice, Number, Range, Readings, Text
from diagnose.bench.sums.model import Answer, Part, Sum, between
from diagnose.bench.torque import TorqueBand
from diagnose.bench.units import show, show_range

GOVERNS: Final = "The marking on the part and the maker's manual always govern."
_LEVER: Final = "Lever: drive square to the middle of the hand"
_EXTENSION: Final = "Extension: drive square to the bolt"
_ANGLE: Final = "Angle of the extension (0 straight on, 90 at a right angle)"
_THREAD: Final = Text("thread", "Thread of the bolt", "M5")
_CLASS: Final = Choice("class", "Property class on the bolt's head", tuple(bolts.PROOF_STRESS), "8.8")
_FRICTION: Final = Choice("lubrication", "How the thread is", tuple(bolts.NUT_FACTOR), "oil")


def _lower_marking(given: Readings) -> Answer:
    first, second = given.marking("first"), given.marking("second")
    joint = torque.lower_marking(TorqueBand(first.low, first.high), TorqueBand(second.low, second.high))
    if not joint.overlap:
        notes = (
            "No torque satisfies both markings: the lower one is never exceeded. Ask the makers before it is ridden.",
        )
        return Answer(joint.high, "N.m", None, joint.high, "the markings do not overlap", notes=(*notes, GOVERNS))
    side = ("first", "second")[joint.governs - 1]
    return Answer(joint.high, "N.m", joint.low, joint.high, f"at most, by the {side} part", notes=(GOVERNS,))


def _wrench_setting(given: Readings) -> Answer:
    wanted, lever, extension, angle = (given.number(key) for key in ("torque", "lever", "extension", "angle"))
    setting = torque.wrench_setting(wanted, lever, extension, angle)
    band = torque.wrench_band(setting)
    gets = [torque.true_torque(end, lever, extension, angle) for end in (band.low, band.high)]
    parts = (Part("bolt gets at least", gets[0], "N.m"), Part("bolt gets at most", gets[1], "N.m"))
    ignored = torque.true_torque(wanted, lever, extension, angle)
    note = f"Left at {show(wanted, 'N.m')} the bolt would get {show(ignored, 'N.m')}."
    return Answer(setting, "N.m", parts=parts, notes=(note, "Hold the wrench at the middle of its grip."))


def _wrench_band(given: Readings) -> Answer:
    setting, deviation = given.number("setting"), given.maybe("deviation")
    band = torque.wrench_band(setting, deviation)
    share = torque.wrench_deviation(setting) if deviation is None else deviation
    verdict = f"really {show_range(band.low, band.high, 'N.m')}"
    return Answer(setting, "N.m", band.low, band.high, verdict, parts=(Part("deviation", share, "%"),))


def _preset_tool(given: Readings) -> Answer:
    preset, wanted, deviation = given.number("preset"), given.marking("range"), given.maybe("deviation")
    fit = torque.preset_fit(preset, wanted.low, wanted.high, deviation)
    share = torque.wrench_deviation(preset) if deviation is None else deviation
    verdict = "fits" if fit.fits else "may miss the range" if fit.may_fit else "does not fit"
    window = torque.setting_window(wanted.low, wanted.high, share)
    note = (
        f"Settings at which a wrench of this class stays within: {between(window.low, window.high, 'N.m')}."
        if window
        else "No wrench of this class stays within so narrow a range: set its middle."
    )
    parts = (Part("really at least", fit.low, "N.m"), Part("really at most", fit.high, "N.m"))
    return Answer(preset, "N.m", wanted.low, wanted.high, verdict, parts=parts, notes=(note, GOVERNS))


def _bolt_preload(given: Readings) -> Answer:
    marking = given.word("thread")
    load = bolts.preload(given.number("torque"), marking, given.word("class"), given.word("lubrication"))
    verdict = "stretches for good" if load.share_high > 1 else "above three quarters of what it bears"
    if load.share_high <= bolts.REUSABLE:
        verdict = "the bolt bears it"
    parts = (
        Part("proof load", load.proof, "N"),
        Part("share of it, least", load.share_low * 100, "%"),
        Part("share of it, most", load.share_high * 100, "%"),
    )
    note = (
        "The bolt is often not the weakest part: an aluminium thread, a hollow bolt or a carbon clamp gives way first."
    )
    return Answer((load.low + load.high) / 2, "N", load.low, load.high, verdict, parts=parts, notes=(note, GOVERNS))


def _bolt_torque(given: Readings) -> Answer:
    marking = given.word("thread")
    proof, size = bolts.proof_load(marking, given.word("class")), bolts.thread(marking)
    force = bolts.SHARE.check(given.number("share")) * proof
    factor = bolts.nut_factor(given.word("lubrication"))
    low, high = (bolts.bolt_torque(k, force, size.diameter) for k in (factor.low, factor.high))
    parts = (Part("clamping force", force, "N"), Part("proof load", proof, "N"))
    note = "A steel bolt in a steel thread; anything weaker in the joint asks for less."
    return Answer(low, "N.m", low, high, f"to {show(high, 'N.m')}", parts=parts, notes=(note, GOVERNS))


def _bolt_order(given: Readings) -> Answer:
    plan = torque.tightening(given.number("torque"), given.whole("bolts"))
    order = " ".join(str(bolt) for bolt in plan.order)
    if len(plan.rounds) == 1:
        return Answer(plan.rounds[0], "N.m", verdict="one bolt, one pull", notes=(GOVERNS,))
    parts = tuple(Part(f"round {at}", level, "N.m") for at, level in enumerate(plan.rounds, 1))
    notes = (
        "Number the bolts around the joint. The last round only checks.",
        "Keep the gaps at the clamp even.",
        GOVERNS,
    )
    return Answer(order, verdict=f"{len(plan.rounds)} rounds", parts=parts, notes=notes)


SUMS: Final = (
    Sum(
        "lower-marking",
        "The torque that the markings of two mating parts allow together.",
        (
            Range("first", "Marking of the first part", torque.TORQUE),
            Range("second", "Marking of the second part", torque.TORQUE),
        ),
        (torque.lower_marking,),
        _lower_marking,
        ("--first", "5-7 Nm", "--second", "max 6 Nm"),
        "6 N·m: at most, by the second part",
    ),
    Sum(
        "wrench-setting",
        "What to set on a wrench with an extension or crowfoot.",
        (
            Number("torque", "Torque wanted at the bolt", torque.TORQUE),
            Number("lever", _LEVER, torque.LEVER),
            Number("extension", _EXTENSION, torque.EXTENSION),
            Number("angle", _ANGLE, torque.ANGLE, "0"),
        ),
        (torque.wrench_setting, torque.true_torque),
        _wrench_setting,
        ("--torque", "40 Nm", "--lever", "300mm", "--extension", "30mm"),
        "36.36 N·m",
    ),
    Sum(
        "wrench-band",
        "What a wrench really gives at a setting.",
        (
            Number("setting", "Setting of the wrench", torque.TORQUE),
            Number("deviation", "Deviation of the tool, if it is marked", torque.DEVIATION, ""),
        ),
        (torque.wrench_band, torque.wrench_deviation),
        _wrench_band,
        ("--setting", "5 Nm"),
        "5 N·m: really 4.7 to 5.3 N·m (42 to 47 lbf·in)",
    ),
    Sum(
        "preset-tool",
        "Whether a tool with one torque suits a range.",
        (
            Number("preset", "Torque of the tool", torque.TORQUE),
            Range("range", "Range that the joint asks for", torque.TORQUE),
            Number("deviation", "Deviation of the tool, if it is marked", torque.DEVIATION, ""),
        ),
        (torque.preset_fit, torque.wrench_deviation),
        _preset_tool,
        ("--preset", "5 Nm", "--range", "4-6 Nm"),
        "5 N·m: fits",
    ),
    Sum(
        "bolt-preload",
        "How hard a bolt clamps at a torque, against what it bears.",
        (Number("torque", "Torque", torque.TORQUE), _THREAD, _CLASS, _FRICTION),
        (bolts.preload, bolts.nut_factor),
        _bolt_preload,
        ("--torque", "5 Nm", "--thread", "M5", "--lubrication", "dry"),
        "4500 N: the bolt bears it",
    ),
    Sum(
        "bolt-torque",
        "The torque for a share of what a bolt bears.",
        (_THREAD, _CLASS, _FRICTION, Number("share", "Share of the proof load", bolts.SHARE, "0.75")),
        (bolts.bolt_torque, bolts.proof_load, bolts.nut_factor),
        _bolt_torque,
        ("--thread", "M6"),
        "7.88 N·m: to 10.5 N·m",
    ),
    Sum(
        "bolt-order",
        "Rounds and order for the bolts of one joint.",
        (Number("torque", "Final torque of each bolt", torque.TORQUE), Number("bolts", "How many bolts", torque.BOLTS)),
        (torque.tightening,),
        _bolt_order,
        ("--torque", "5 Nm", "--bolts", "4"),
        "1 3 2 4: 4 rounds",
    ),
)
