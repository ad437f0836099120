"""Ranges of a Beta distribution.

Cast: `span(a, b)` gives the central 95 %; `below(x, a, b)` is the regularised incomplete beta function, by its
continued fraction (Abramowitz and Stegun 1964, 26.5.8, summed by Lentz's method).
"""

from __future__ import annotations

from math import exp, lgamma, log, log1p

SURE = 0.95
"""How much of the distribution a range holds, as much left out below as above."""
_TINY = 1e-300
_EXACT = 1e-14


def span(a: float, b: float) -> tuple[float, float]:
    """Low and high end of the middle 95 % of Beta(a, b); a and b above 0."""
    tail = (1 - SURE) / 2
    return quantile(tail, a, b), quantile(1 - tail, a, b)


def quantile(part: float, a: float, b: float) -> float:
    """Where `part` (0 to 1) of Beta(a, b) lies below."""
    low, high = 0.0, 1.0
    for _ in range(60):
        middle = (low + high) / 2
        low, high = (middle, high) if below(middle, a, b) < part else (low, middle)
    return (low + high) / 2


def below(x: float, a: float, b: float) -> float:
    """How much of Beta(a, b) lies below x."""
    if x <= 0:
        return 0.0
    if x >= 1:
        return 1.0
    front = exp(lgamma(a + b) - lgamma(a) - lgamma(b) + a * log(x) + b * log1p(-x))
    if x < (a + 1) / (a + b + 2):
        return front * _fraction(x, a, b) / a
    return 1 - front * _fraction(1 - x, b, a) / b


def _fraction(x: float, a: float, b: float) -> float:
    c, d = 1.0, 1 / _away(1 - (a + b) * x / (a + 1))
    value = d
    for m in range(1, 1_000):
        for term in (
            m * (b - m) * x / ((a + 2 * m - 1) * (a + 2 * m)),
            -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1)),
        ):
            d = 1 / _away(1 + term * d)
            c = _away(1 + term / c)
            value *= c * d
        if abs(c * d - 1) < _EXACT:
            break
    return value


def _away(number: float) -> float:
    return number if abs(number) > _TINY else _TINY
