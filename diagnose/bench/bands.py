"""Bands: which part of a scale a reading falls into.

Cast: `Band` is a stretch of the scale with a name; `band_for` finds the one that a reading falls into; `around` makes
the three bands of a limit: too low, right, too high.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from diagnose.errors import InputError

_DIGITS = 9
"""Decimals that count: what binary arithmetic adds to 0.7 - 0.5 must not push a reading over an edge."""


@dataclass(frozen=True, slots=True)
class Band:
    """A stretch of a scale.

    Attributes:
        name: what a reading in it means, a few words.
        low: lower edge; None where there is none.
        high: upper edge; None where there is none.
        right: whether this is where the reading should lie.
        with_low: whether the lower edge itself belongs to it.
        with_high: whether the upper edge itself belongs to it.
    """

    name: str
    low: float | None = None
    high: float | None = None
    right: bool = False
    with_low: bool = True
    with_high: bool = False

    def holds(self, reading: float) -> bool:
        """Whether the reading, in the unit of the edges, falls into this band."""
        value = round(reading, _DIGITS)
        if self.low is not None and (value < self.low or (value == self.low and not self.with_low)):
            return False
        return self.high is None or value < self.high or (value == self.high and self.with_high)


def band_for(reading: float, bands: Sequence[Band]) -> Band | None:
    """The first band that the reading falls into; None where none does."""
    return next((band for band in bands if band.holds(reading)), None)


def around(low: float | None, high: float | None, names: tuple[str, str, str]) -> tuple[Band, ...]:
    """The bands below, within and above a limit, both ends included in the one within.

    Args:
        low: lower end; None where only a highest value is set.
        high: upper end; None where only a least value is set.
        names: what the bands below, within and above are called.

    Raises:
        InputError: `bench-no-limit`, when both ends are missing or the lower is above the upper.
    """
    if (low is None and high is None) or (low is not None and high is not None and low > high):
        raise InputError("bench-no-limit", "A limit needs a lower end, an upper end above it, or both.")
    bands = [Band(names[1], low, high, right=True, with_high=True)]
    if low is not None:
        bands.insert(0, Band(names[0], None, low))
    if high is not None:
        bands.append(Band(names[2], high, None, with_low=False))
    return tuple(bands)
