"""Are the shares that are stated true? And how far off would a perfect model look on so few bikes?

Cast: `bins` sorts (stated, true) into tenths; `error` is the mean distance of stated from true over them, weighted by
their number of bikes (expected calibration error); `perfect` is what the error of a model is whose every share is
exactly true.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from diagnose.casework.score.bikes import lot

BINS = 10
ROUNDS = 200

Pair = tuple[float, bool]
"""A share that was stated, and whether it came true."""


class Bin(NamedTuple):
    """Bikes whose stated share falls into one tenth: the mean stated, and what came true with its 95 % interval."""

    bikes: int
    stated: float
    true: float
    low: float
    high: float


def bins(pairs: Sequence[Pair]) -> list[Bin]:
    """The tenths that hold any bikes, lowest first."""
    found: dict[int, list[Pair]] = {}
    for pair in pairs:
        found.setdefault(min(BINS - 1, int(pair[0] * BINS)), []).append(pair)
    made = []
    for _, some in sorted(found.items()):
        true = sum(right for _, right in some)
        low, high = wilson(true, len(some))
        made.append(Bin(len(some), sum(share for share, _ in some) / len(some), true / len(some), low, high))
    return made


def error(pairs: Sequence[Pair]) -> float:
    """Mean |stated - true| over the tenths, weighted by their bikes; 0 for none."""
    return sum(one.bikes * abs(one.stated - one.true) for one in bins(pairs)) / len(pairs) if pairs else 0.0


def perfect(shares: Sequence[float], seed: int, rounds: int = ROUNDS) -> tuple[float, float]:
    """(Mean, 95th percentile) of the error if every share were exactly true: as many bikes, outcomes by lot."""
    draw = lot(seed, "perfect")
    found = sorted(error([(share, draw.random() < share) for share in shares]) for _ in range(rounds))
    return sum(found) / rounds, found[int(rounds * 0.95)]


def wilson(count: int, of: int) -> tuple[float, float]:
    """The 95 % interval of a fraction (Wilson 1927); (0, 1) for none."""
    if of == 0:
        return 0.0, 1.0
    z = 1.959964
    share = count / of
    middle = share + z * z / (2 * of)
    half = z * (share * (1 - share) / of + z * z / (4 * of * of)) ** 0.5
    scale = 1 + z * z / of
    return max(0.0, (middle - half) / scale), min(1.0, (middle + half) / scale)
