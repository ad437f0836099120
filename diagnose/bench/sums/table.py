"""The sums by name, none loaded before it is asked for.

Cast: `sum_of` reckons one from raw readings; `sum_named` hands it out, to ask for its givens; `NAMES` lists them all.
A check of the rule book that measures names a sum.
"""

from __future__ import annotations

from collections.abc import Mapping
from difflib import get_close_matches
from importlib import import_module
from typing import Final

from diagnose.bench.sums.model import Result, Sum
from diagnose.errors import InputError

_TORQUE, _CHAIN, _GEARS = "diagnose.bench.sums.torque", "diagnose.bench.sums.chain", "diagnose.bench.sums.gears"
_SUSPENSION, _TYRES, _BRAKES = (f"diagnose.bench.sums.{name}" for name in ("suspension", "tyres", "brakes"))
_FRONT_END, _WHEELS, _UNITS = (f"diagnose.bench.sums.{name}" for name in ("front_end", "wheels", "units"))

NAMES: Final[Mapping[str, tuple[str, str]]] = {
    "convert": (_UNITS, "A quantity in another unit."),
    "lower-marking": (_TORQUE, "The torque that the markings of two mating parts allow together."),
    "wrench-setting": (_TORQUE, "What to set on a wrench with an extension."),
    "wrench-band": (_TORQUE, "What a wrench really gives at a setting."),
    "preset-tool": (_TORQUE, "Whether a tool with one torque suits a range."),
    "bolt-preload": (_TORQUE, "How hard a bolt clamps at a torque, against what it bears."),
    "bolt-torque": (_TORQUE, "The torque for a share of what a bolt bears."),
    "bolt-order": (_TORQUE, "Rounds and order for the bolts of one joint."),
    "chain-wear": (_CHAIN, "How far a chain is worn, from a ruler."),
    "chain-length": (_CHAIN, "How long a new chain must be."),
    "chain-line": (_CHAIN, "How straight the chain runs."),
    "gear": (_GEARS, "How far one turn of the cranks carries."),
    "mech-capacity": (_GEARS, "The teeth that a rear derailleur must take up."),
    "bolt-circle": (_GEARS, "The bolt circle of a ring from two neighbouring bolts."),
    "hanger": (_GEARS, "How far a derailleur hanger is bent, and which way."),
    "battery-energy": (_UNITS, "The energy of a pack from its marking."),
    "sag": (_SUSPENSION, "Sag from the o-ring, against the usual band."),
    "travel-used": (_SUSPENSION, "How much of the travel a ride used."),
    "sag-mark": (_SUSPENSION, "Where the o-ring should end up for a sag."),
    "air-pressure": (_SUSPENSION, "The pressure to try next, from the sag measured."),
    "spring-loss": (_SUSPENSION, "How much an air spring has lost between two readings."),
    "coil-rate": (_SUSPENSION, "The coil that gives a sag."),
    "coil-check": (_SUSPENSION, "How far a coil is off the rate that its rider needs."),
    "wheel-rate": (_SUSPENSION, "A coil as the wheel feels it."),
    "tyre-size": (_TYRES, "What a size marking means."),
    "wheel-round": (_TYRES, "The circumference of a wheel."),
    "rim-width": (_TYRES, "Whether a tyre suits the width of a rim."),
    "pressure-limit": (_TYRES, "The highest pressure that tyre and rim allow."),
    "tyre-pressure": (_TYRES, "A pressure to begin with."),
    "tyre-cut": (_TYRES, "Whether a cut can be plugged."),
    "leak": (_TYRES, "How fast a tyre loses air."),
    "disc-wear": (_BRAKES, "What is left of a brake disc."),
    "pad-wear": (_BRAKES, "What is left of a pad's lining."),
    "disc-run-out": (_BRAKES, "How far a disc is bent, where, and whether it can be trued."),
    "lever-reserve": (_BRAKES, "The room left between lever and grip."),
    "pad-centring": (_BRAKES, "How far a brake stands off its middle."),
    "brake-force": (_BRAKES, "A brake force brought to the lever force that was meant."),
    "stopping-distance": (_BRAKES, "A stopping distance brought to the speed that was meant."),
    "cap-gap": (_FRONT_END, "What the gap above the steerer asks for."),
    "steerer-cut": (_FRONT_END, "What to cut off a steerer."),
    "headset-size": (_FRONT_END, "Which headset a bore and a steerer take."),
    "headset-code": (_FRONT_END, "What a headset's code means."),
    "post-insertion": (_FRONT_END, "Whether a post or quill stem stands deep enough."),
    "post-clearance": (_FRONT_END, "How much smaller a post is than its bore."),
    "rim-run-out": (_WHEELS, "How far a rim is out of true, and where."),
    "dish": (_WHEELS, "How far a rim stands off the middle."),
    "spoke-length": (_WHEELS, "The length of a spoke."),
    "spoke-tension": (_WHEELS, "How evenly the spokes of one side are tightened."),
    "nipple-turns": (_WHEELS, "Turns of the nipples for a correction."),
}
"""Name to the module that declares the sum, and one line of help."""


def sum_named(name: str) -> Sum:
    """The sum called `name`.

    Raises:
        InputError: `bench-unknown-sum`, with the nearest name.
    """
    if name not in NAMES:
        near = get_close_matches(str(name), NAMES, 1)
        hint = f"Did you mean {near[0]}?" if near else f"Known: {', '.join(NAMES)}."
        raise InputError("bench-unknown-sum", f"The bench has no sum called {str(name)[:40]!r}.", hint=hint)
    sums: tuple[Sum, ...] = import_module(NAMES[name][0]).SUMS
    return next(one for one in sums if one.name == name)


def sum_of(name: str, readings: Mapping[str, object]) -> Result:
    """Reckon the sum called `name` from raw readings.

    Args:
        name: one of `NAMES`.
        readings: by the key of what the sum asks for, a number in its unit, a row of numbers,
        or text as typed ("51mm", "5,2 Nm").
            What has a default may be left out.

    Raises:
        InputError: an unknown name or reading, one that is missing, or one out of the range that makes sense.
    """
    return sum_named(name).result(readings)
