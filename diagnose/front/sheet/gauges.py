"""Gauges as the View has them, drawn in signs and as a picture."""

from __future__ import annotations

from typing import Any

from diagnose.bench.bands import Band
from diagnose.bench.gauge import draw, draw_svg

WIDEST = 60


def drawn(gauge: dict[str, Any], width: int, plain: bool) -> tuple[str, ...]:
    """Lines of signs."""
    return draw(gauge["reading"], gauge["unit"], _bands(gauge), width=min(width, WIDEST), plain=plain)


def pictured(gauge: dict[str, Any], key: str) -> str:
    """One SVG element; `key` begins the ids inside."""
    return draw_svg(gauge["reading"], gauge["unit"], _bands(gauge), key=key)


def _bands(gauge: dict[str, Any]) -> list[Band]:
    return [
        Band(one["text"], one["low"], one["high"], one["right"], one["with_low"], one["with_high"])
        for one in gauge["bands"]
    ]
