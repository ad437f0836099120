"""Bolts: from torque to clamping force and back, against what the bolt itself bears.

Cast: `thread` reads "M5" or "M8 x 1"; `stress_area` and `proof_load` say what such a bolt bears; `bolt_preload` and
`bolt_torque` are T = K x F x d both ways; `preload` sets the force against the proof load for the friction of a joint;
`assembly_preload` is the force by thread friction; `thread_pitch` from threads to the inch. Forces are in N, stresses
in MPa (N/mm2), diameters and pitches in mm.

The weakest part decides, and that is often not the bolt: an aluminium thread, a hollow bolt or a carbon clamp gives
way first.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from math import pi, sqrt
from typing import Final

from diagnose.bench.span import Span, one_of, written
from diagnose.bench.torque import TORQUE
from diagnose.errors import InputError

DIAMETER: Final = Span("thread diameter", 2, 40, "mm")
PITCH: Final = Span("thread pitch", 0.2, 4, "mm")
FORCE: Final = Span("clamping force", 1, 500_000, "N")
FACTOR: Final = Span("nut factor", 0.05, 0.6, "ratio")
SHARE: Final = Span("share of the proof load", 0.05, 1, "ratio")
YIELD: Final = Span("yield stress", 100, 1500, "MPa")
FRICTION: Final = Span("thread friction", 0.02, 0.5, "ratio")
THREADS_PER_INCH: Final = Span("number of threads to the inch", 4, 120, "count")

COARSE_PITCH: Final = {
    "M3": 0.5, "M4": 0.7, "M5": 0.8, "M6": 1.0, "M7": 1.0, "M8": 1.25, "M10": 1.5, "M12": 1.75, "M14": 2.0, "M16": 2.0,
}  # fmt: skip
"""Pitch in mm of a thread that names none (ISO 261, from memory; M5 and M8 agree with the table of ISO 898-1)."""

PROOF_STRESS: Final = {
    "4.6": 225, "4.8": 310, "5.6": 280, "5.8": 380, "6.8": 440, "8.8": 580, "9.8": 650, "10.9": 830, "12.9": 970,
}  # fmt: skip
"""Proof stress in MPa by property class (EN ISO 898-1:2013 as restated by nfgab.se; 8.8 up to M16)."""

NUT_FACTOR: Final = {"dry": (0.2, 0.25), "oil": (0.15, 0.2)}
"""Nut factor K by lubrication, lowest and highest (mechconcepts.tech)."""

REUSABLE: Final = 0.75
"""Preload of a joint that is opened again, as a share of the proof load (mechconcepts.tech)."""

_THREAD: Final = re.compile(r"m\s*(\d{1,2}(?:[.,]\d{1,2})?)(?:\s*[x×*]\s*(\d(?:[.,]\d{1,3})?))?", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Thread:
    """A metric thread: nominal diameter and pitch in mm."""

    diameter: float
    pitch: float


@dataclass(frozen=True, slots=True)
class Factor:
    """Lowest and highest nut factor K of a joint, without unit."""

    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Preload:
    """Clamping force of a bolt, between what the friction of the joint allows.

    Attributes:
        low: force in N at the higher friction.
        high: force in N at the lower friction.
        proof: proof load of the bolt in N.
        share_low: `low` as a share of the proof load.
        share_high: `high` as a share of the proof load; above 1 the bolt stretches for good.
    """

    low: float
    high: float
    proof: float
    share_low: float
    share_high: float


def thread(marking: str) -> Thread:
    """The thread that a marking names, e.g. "M5", "M8x1", "M10 x 1,25".

    Formula: without a pitch, the coarse pitch of the diameter.
    Source: ISO 261, from memory.

    Args:
        marking: M and a diameter of 2 to 40 mm, and a pitch of 0.2 to 4 mm where it is not the coarse one of M3 to M16.

    Raises:
        InputError: `bench-unknown-word` where it is no such marking, or a number out of its range.
    """
    hint = 'Write it like "M5" or "M8 x 1".'
    match = _THREAD.fullmatch(written("thread", marking, hint))
    if match is None:
        raise InputError("bench-unknown-word", "That is no metric thread.", hint=hint)
    diameter = DIAMETER.check(_number(match[1]))
    if match[2]:
        pitch = PITCH.check(_number(match[2]))
    elif (name := f"M{diameter:g}") in COARSE_PITCH:
        pitch = COARSE_PITCH[name]
    else:
        raise InputError("bench-unknown-word", f"{name} needs its pitch.", hint=f'Write it like "{name} x 1".')
    _check_pitch(diameter, pitch)
    return Thread(diameter, pitch)


def stress_area(diameter_mm: float, pitch_mm: float) -> float:
    """Tensile stress area in mm2 of a metric thread.

    Formula: area = pi / 4 x (diameter - 0.9382 x pitch)^2.
    Source: ISO 898-1.

    Args:
        diameter_mm: nominal, 2 to 40 mm.
        pitch_mm: 0.2 to 4 mm, at most a third of the diameter.

    Raises:
        InputError: a value out of its range.
    """
    diameter, pitch = DIAMETER.check(diameter_mm), PITCH.check(pitch_mm)
    _check_pitch(diameter, pitch)
    return pi / 4 * (diameter - 0.9382 * pitch) ** 2


def proof_load(marking: str, bolt_class: str) -> float:
    """Force in N that a bolt bears without stretching for good.

    Formula: proof load = proof stress x pi / 4 x (diameter - 0.9382 x pitch)^2.
    Source: EN ISO 898-1:2013; the printed tables round the area first.

    Args:
        marking: thread, as `thread` reads it.
        bolt_class: property class on the bolt's head, one of `PROOF_STRESS`.

    Raises:
        InputError: an unknown thread or class.
    """
    stress = PROOF_STRESS[one_of("property class", bolt_class, PROOF_STRESS)]
    size = thread(marking)
    return stress * stress_area(size.diameter, size.pitch)


def nut_factor(lubrication: str) -> Factor:
    """Lowest and highest nut factor K of a joint.

    Formula: dry 0.20 to 0.25, oiled 0.15 to 0.20.
    Source: mechconcepts.tech.

    Args:
        lubrication: `dry` or `oil`; grease counts as oil.

    Raises:
        InputError: another word.
    """
    return Factor(*NUT_FACTOR[one_of("lubrication", lubrication, NUT_FACTOR)])


def bolt_torque(nut_factor: float, preload_n: float, diameter_mm: float) -> float:
    """Torque in N·m that gives a bolt the clamping force `preload_n`.

    Formula: torque = K x force x diameter / 1000.
    Source: T = K x F x d, a textbook rule.

    Args:
        nut_factor: K, 0.05 to 0.6.
        preload_n: 1 to 500000 N.
        diameter_mm: nominal, 2 to 40 mm.

    Raises:
        InputError: a value out of its range.
    """
    return FACTOR.check(nut_factor) * FORCE.check(preload_n) * DIAMETER.check(diameter_mm) / 1000


def bolt_preload(torque_nm: float, nut_factor: float, diameter_mm: float) -> float:
    """Clamping force in N of a bolt tightened to `torque_nm`.

    Formula: force = torque x 1000 / (K x diameter).
    Source: T = K x F x d, a textbook rule.

    Args:
        torque_nm: 0.1 to 400 N·m.
        nut_factor: K, 0.05 to 0.6.
        diameter_mm: nominal, 2 to 40 mm.

    Raises:
        InputError: a value out of its range.
    """
    return TORQUE.check(torque_nm) * 1000 / (FACTOR.check(nut_factor) * DIAMETER.check(diameter_mm))


def preload(torque_nm: float, marking: str, bolt_class: str, lubrication: str) -> Preload:
    """Clamping force of a bolt against its proof load, over the friction that such a joint may have.

    Formula: force = torque x 1000 / (K x diameter); share = force / proof load.
    Source: T = K x F x d, a textbook rule; EN ISO 898-1:2013.

    Args:
        torque_nm: 0.1 to 400 N·m.
        marking: thread, as `thread` reads it.
        bolt_class: property class, one of `PROOF_STRESS`.
        lubrication: `dry` or `oil`.

    Raises:
        InputError: a value out of its range, an unknown thread, class or word.
    """
    factor, size, proof = nut_factor(lubrication), thread(marking), proof_load(marking, bolt_class)
    low, high = (bolt_preload(torque_nm, k, size.diameter) for k in (factor.high, factor.low))
    return Preload(low, high, proof, low / proof, high / proof)


def assembly_preload(diameter_mm: float, pitch_mm: float, yield_mpa: float, friction: float, use: float = 0.9) -> float:
    """Clamping force in N at which a bolt, pulled and twisted by tightening, uses the share `use` of its yield stress.

    Formula: force = area x use x yield / sqrt(1 + 3 x (1.5 x d2 / d0 x (pitch / (pi x d2) + 1.155 x friction))^2),
    d2 = d - 0.64952 x pitch, d3 = d - 1.22687 x pitch, d0 = (d2 + d3) / 2, area = pi / 4 x d0^2.
    Source: VDI 2230 (2001), second-hand.

    Args:
        diameter_mm: nominal, 2 to 40 mm.
        pitch_mm: 0.2 to 4 mm, at most a third of the diameter.
        yield_mpa: 100 to 1500 MPa.
        friction: in the thread, 0.02 to 0.5.
        use: 0.05 to 1.

    Raises:
        InputError: a value out of its range.
    """
    diameter, pitch = DIAMETER.check(diameter_mm), PITCH.check(pitch_mm)
    _check_pitch(diameter, pitch)
    flank, core = diameter - 0.64952 * pitch, diameter - 1.22687 * pitch
    middle = (flank + core) / 2
    twist = 1.5 * flank / middle * (pitch / (pi * flank) + 1.155 * FRICTION.check(friction))
    return pi / 4 * middle**2 * SHARE.check(use) * YIELD.check(yield_mpa) / sqrt(1 + 3 * twist**2)


def thread_pitch(threads_per_inch: float) -> float:
    """Pitch in mm of a thread that is named by its threads to the inch.

    Formula: pitch = 25.4 / threads to the inch.
    Source: 1 in = 25.4 mm.

    Args:
        threads_per_inch: 4 to 120; a bottom bracket has 24, a spoke 56, a pedal 20.

    Raises:
        InputError: the number out of range.
    """
    return 25.4 / THREADS_PER_INCH.check(threads_per_inch)


def _check_pitch(diameter: float, pitch: float) -> None:
    if pitch > diameter / 3:
        hint = f"At most {diameter / 3:.3g} mm on {diameter:g} mm makes sense."
        raise InputError("bench-out-of-range", f"A pitch of {pitch:g} mm does not go with that diameter.", hint=hint)


def _number(text: str) -> float:
    return float(text.replace(",", "."))
