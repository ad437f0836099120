"""Torque: what two markings allow together, what a wrench really gives, in which order several bolts are tightened.

Cast: `lower_marking` of two mating parts; `wrench_setting` and `true_torque` with an extension on the wrench;
`wrench_deviation` and `wrench_band` for what a tool really gives; `preset_fit` for a tool with one fixed torque;
`tightening` for several bolts. Torques are in N·m, lengths in mm, angles in degrees.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import cos, radians
from typing import Final

from diagnose.bench.span import Span
from diagnose.errors import InputError

TORQUE: Final = Span("torque", 0.1, 400, "N.m")
LEVER: Final = Span("lever of the wrench", 50, 1200, "mm")
EXTENSION: Final = Span("extension", 0, 600, "mm")
ANGLE: Final = Span("angle of the extension", -180, 180, "deg")
DEVIATION: Final = Span("deviation of the wrench", 0, 30, "%")
BOLTS: Final = Span("number of bolts", 1, 12, "count", whole=True)

_FINE_UP_TO: Final = 10.0
_ROUNDS: Final = (0.5, 0.8, 1.0, 1.0)
"""Shares of the torque, round by round; the last round only checks."""


@dataclass(frozen=True, slots=True)
class TorqueBand:
    """A range of torque in N·m; `low` is None where only a highest torque is known."""

    low: float | None
    high: float


@dataclass(frozen=True, slots=True)
class TrueBand:
    """Torques in N·m between which a wrench really gives."""

    low: float
    high: float


@dataclass(frozen=True, slots=True)
class JointTorque:
    """What two markings allow together.

    Attributes:
        low: least torque in N·m that both allow; None where neither marks one or the two do not overlap.
        high: highest torque in N·m that both allow.
        governs: 1 or 2, the part whose marking sets the upper end; 1 where they are equal.
        overlap: whether one torque satisfies both markings.
    """

    low: float | None
    high: float
    governs: int
    overlap: bool


@dataclass(frozen=True, slots=True)
class PresetFit:
    """How a preset tool suits a range.

    Attributes:
        low: least torque in N·m that the tool may really give.
        high: highest torque in N·m that it may really give.
        fits: all that it may give lies in the range.
        may_fit: at least its nominal torque lies in the range.
    """

    low: float
    high: float
    fits: bool
    may_fit: bool


@dataclass(frozen=True, slots=True)
class Tightening:
    """Rounds (torques in N·m, the last round checks) and the order of the bolts, numbered around the joint from 1."""

    rounds: tuple[float, ...]
    order: tuple[int, ...]


def lower_marking(first: TorqueBand, second: TorqueBand) -> JointTorque:
    """The torque that the markings of two mating parts allow together, in N·m.

    Formula: high = min(high1, high2); low = max(low1, low2) where that is not above high.
    Source: the weaker part governs, common practice; the marking on the part always comes before a list.

    Args:
        first: marking of the first part, each end 0.1 to 400 N·m.
        second: marking of the second part, likewise.

    Raises:
        InputError: an end out of range, or a marking whose lower end is above its upper end (`bench-no-limit`).
    """
    markings = (_checked(first), _checked(second))
    high = min(marking.high for marking in markings)
    low = max((marking.low for marking in markings if marking.low is not None), default=None)
    overlap = low is None or low <= high
    return JointTorque(low if overlap else None, high, 1 if first.high <= second.high else 2, overlap)


def wrench_setting(torque_nm: float, lever_mm: float, extension_mm: float, angle_deg: float = 0.0) -> float:
    """Torque in N·m to set on a wrench with an extension, so that the bolt gets `torque_nm`.

    Formula: setting = torque x lever / (lever + extension x cos(angle)).
    Source: moment balance about the bolt (lever-length correction).

    Args:
        torque_nm: wanted at the bolt, 0.1 to 400 N·m.
        lever_mm: from the drive square to the middle of the hand, 50 to 1200 mm.
        extension_mm: from the drive square to the bolt, 0 to 600 mm and shorter than the lever where it points back.
        angle_deg: between lever and extension, -180 to 180; 0 straight on, 90 at a right angle, 180 back to the hand.

    Raises:
        InputError: a value out of its range, or `bench-extension-too-long` where the bolt would come under the hand.
    """
    return TORQUE.check(torque_nm) / _reach(lever_mm, extension_mm, angle_deg)


def true_torque(setting_nm: float, lever_mm: float, extension_mm: float, angle_deg: float = 0.0) -> float:
    """Torque in N·m that the bolt gets from a wrench set to `setting_nm` with an extension on it.

    Formula: torque = setting x (lever + extension x cos(angle)) / lever.
    Source: moment balance about the bolt (lever-length correction).

    Arguments and errors are those of `wrench_setting`, the setting being 0.1 to 400 N·m.
    """
    return TORQUE.check(setting_nm) * _reach(lever_mm, extension_mm, angle_deg)


def wrench_deviation(torque_nm: float) -> float:
    """Largest deviation in percent that a click wrench in order may have at this setting.

    Formula: 6 % up to 10 N·m, 4 % above.
    Source: ISO 6789:2003 (type II class A), second-hand.

    Args:
        torque_nm: the setting, 0.1 to 400 N·m.

    Raises:
        InputError: the torque out of range.
    """
    return 6.0 if TORQUE.check(torque_nm) <= _FINE_UP_TO else 4.0


def wrench_band(setting_nm: float, deviation_percent: float | None = None) -> TrueBand:
    """True torque in N·m that may pass at a setting.

    Formula: low = setting x (1 - deviation), high = setting x (1 + deviation).
    Source: ISO 6789:2003, second-hand.

    Args:
        setting_nm: 0.1 to 400 N·m.
        deviation_percent: of the tool, 0 to 30; left out: `wrench_deviation` of the setting.

    Raises:
        InputError: a value out of its range.
    """
    setting = TORQUE.check(setting_nm)
    share = _share(setting, deviation_percent)
    return TrueBand(setting - setting * share, setting + setting * share)


def preset_fit(
    preset_nm: float, low_nm: float | None, high_nm: float, deviation_percent: float | None = None
) -> PresetFit:
    """Whether a tool with one preset torque suits a range.

    Formula: fits where low <= preset x (1 - deviation) and preset x (1 + deviation) <= high.
    Source: ISO 6789:2003 for the deviation, second-hand.

    Args:
        preset_nm: what the tool is made for, 0.1 to 400 N·m.
        low_nm: lower end of the range in N·m; None where only a highest torque is marked.
        high_nm: upper end of the range in N·m.
        deviation_percent: of the tool, 0 to 30; left out: `wrench_deviation` of the preset torque.

    Raises:
        InputError: a value out of its range, or `bench-no-limit` where the lower end is above the upper.
    """
    wanted = _checked(TorqueBand(low_nm, high_nm))
    band = wrench_band(preset_nm, deviation_percent)
    least = 0.0 if wanted.low is None else wanted.low
    fits = least <= band.low and band.high <= wanted.high
    return PresetFit(band.low, band.high, fits, least <= preset_nm <= wanted.high)


def setting_window(low_nm: float | None, high_nm: float, deviation_percent: float) -> TorqueBand | None:
    """Settings in N·m at which all that the wrench may give stays in a range; None where there is none.

    Formula: low / (1 - deviation) to high / (1 + deviation).
    Source: the band of `wrench_band`, turned round.

    Args:
        low_nm: lower end of the range, 0.1 to 400 N·m; None where only a highest torque is marked.
        high_nm: upper end of the range, 0.1 to 400 N·m.
        deviation_percent: of the tool, 0 to 30.

    Raises:
        InputError: a value out of its range.
    """
    share = DEVIATION.check(deviation_percent) / 100
    wanted = _checked(TorqueBand(low_nm, high_nm))
    high = wanted.high / (1 + share)
    low = None if wanted.low is None else wanted.low / (1 - share)
    return None if low is not None and low > high else TorqueBand(low, high)


def tightening(torque_nm: float, bolts: int) -> Tightening:
    """Rounds and order in which the bolts of one joint are tightened, so that it closes evenly.

    Formula: rounds at 50 %, 80 % and 100 %, then 100 % again to check; next comes the bolt farthest from those done.
    Source: common practice, no source; two pinch bolts are tightened in turn.

    Args:
        torque_nm: final torque of each bolt, 0.1 to 400 N·m.
        bolts: how many, 1 to 12, numbered around the joint.

    Raises:
        InputError: a value out of its range.
    """
    torque, count = TORQUE.check(torque_nm), int(BOLTS.check(bolts))
    if count == 1:
        return Tightening((torque,), (1,))
    return Tightening(tuple(torque * share for share in _ROUNDS), _crosswise(count))


def _checked(marking: TorqueBand) -> TorqueBand:
    """The marking, both ends checked."""
    if marking.low is not None and TORQUE.check(marking.low) > TORQUE.check(marking.high):
        raise InputError("bench-no-limit", "The lower end of a torque cannot be above its upper end.", hint=TORQUE.hint)
    TORQUE.check(marking.high)
    return marking


def _reach(lever_mm: float, extension_mm: float, angle_deg: float) -> float:
    """How much longer the lever becomes, as a factor."""
    lever, extension = LEVER.check(lever_mm), EXTENSION.check(extension_mm)
    along = extension * cos(radians(ANGLE.check(angle_deg)))
    if lever + along < LEVER.low / 2:
        message = "With this extension the bolt comes under the hand; the wrench cannot turn it."
        raise InputError("bench-extension-too-long", message, hint="The extension must be shorter than the lever.")
    return (lever + along) / lever


def _share(setting: float, deviation_percent: float | None) -> float:
    return DEVIATION.check(wrench_deviation(setting) if deviation_percent is None else deviation_percent) / 100


def _crosswise(count: int) -> tuple[int, ...]:
    """Bolts, each the farthest from those before it; of several, the one farthest from the last."""
    order = [0]
    while len(order) < count:
        left = [bolt for bolt in range(count) if bolt not in order]
        order.append(max(left, key=lambda bolt: (_nearest(bolt, order, count), _gap(bolt, order[-1], count), -bolt)))
    return tuple(bolt + 1 for bolt in order)


def _nearest(bolt: int, done: list[int], count: int) -> int:
    return min(_gap(bolt, other, count) for other in done)


def _gap(one: int, other: int, count: int) -> int:
    """Places between two bolts around the ring."""
    apart = abs(one - other)
    return min(apart, count - apart)
