"""A small drawn gauge: the bands of a scale and where the reading lies, as text and as SVG, readable without colour.

Cast: `draw` gives lines of text of a given width, in Unicode or ASCII; `draw_svg` the same as a picture for the
printed sheet. `Scale` is the stretch of the scale that both show. Every band has its own filling and is named in words
below; the one that holds is marked.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from html import escape
from typing import Final

from diagnose.bench.bands import Band, band_for
from diagnose.bench.units import show
from diagnose.errors import InputError

NARROWEST: Final = 24
_MARGIN: Final = 0.25
"""Scale shown beyond the outermost edges, as a share of what lies between them."""
_DIGITS: Final = 6
"""Decimals that a label may need."""
_FAR: Final = 3.0
"""A reading farther out than so many times the scale is drawn at its end, with an arrow."""
_RIGHT: Final = ("█", "=")
_WRONG: Final = (("░", "."), ("▒", ":"), ("▓", "-"))
_HATCH: Final = ("M0 6L6 0", "M0 0L6 6", "M3 0V6", "M0 3H6")
_WIDE: Final = 360
_BAR_TOP, _BAR_TALL, _SIDE = 34, 18, 12


@dataclass(frozen=True, slots=True)
class Scale:
    """The stretch of the scale that is drawn: both ends, and whether the reading lies beyond one of them."""

    low: float
    high: float
    beyond: int = 0

    def place(self, value: float) -> float:
        """Where a value lies: 0 at the left end, 1 at the right one."""
        return min(max((value - self.low) / (self.high - self.low), 0.0), 1.0)


def scale_for(reading: float, bands: Sequence[Band]) -> Scale:
    """A scale that shows every edge of the bands, and the reading where it is not too far out.

    Args:
        reading: in the unit of the edges.
        bands: at least one edge among them.

    Raises:
        InputError: `bench-no-limit` where the bands have no edge.
    """
    edges = _edges(bands)
    if not edges:
        raise InputError("bench-no-limit", "A gauge needs a band with an edge.")
    least, most = edges[0], edges[-1]
    wide = (most - least) or abs(most) or 1.0
    low, high = least - _MARGIN * wide, most + _MARGIN * wide
    if least == most:
        low, high = least - wide, most + wide
    if least >= 0 and reading >= 0:
        low = max(low, 0.0)
    beyond = 1 if reading > high + _FAR * (high - low) else -1 if reading < low - _FAR * (high - low) else 0
    if not beyond:
        low, high = min(low, reading), max(high, reading)
    return Scale(low, high if high > low else low + 1.0, beyond)


def draw(
    reading: float, unit: str, bands: Sequence[Band], *, width: int = 60, plain: bool = False, holds: str | None = None
) -> tuple[str, ...]:
    """The gauge as lines of text, none longer than `width` unless a band's name alone is.

    Args:
        reading: in `unit`.
        unit: a unit of `diagnose.bench.units`.
        bands: from low to high, with at least one edge.
        width: characters of a line, 24 or more.
        plain: keep to ASCII.
        holds: name of the band that holds, where somebody else decides that; left out: the one that the reading falls
            into.

    Raises:
        InputError: `bench-no-limit`, or an unknown unit.
    """
    wide, scale = max(width, NARROWEST), scale_for(reading, bands)
    here = min(int(scale.place(reading) * wide), wide - 1)
    held = _held(reading, bands, holds)
    label = show(round(reading, _DIGITS), unit, plain=plain)
    pointer = ("v" if plain else "▼") if not scale.beyond else (">" if scale.beyond > 0 else "<")
    cells = [scale.low + (scale.high - scale.low) * (at + 0.5) / wide for at in range(wide)]
    bar = "".join(_filling(cell, bands, plain) for cell in cells)
    lines = [_beside(label, here, wide), " " * here + pointer, _with_edges(bar, scale, bands, wide, plain)]
    lines.append(_numbers(scale, bands, wide))
    lines += [_legend(band, at, unit, band is held, plain, bands) for at, band in enumerate(bands) if band.name]
    return tuple(line.rstrip() for line in lines)


def draw_svg(reading: float, unit: str, bands: Sequence[Band], *, key: str = "gauge", holds: str | None = None) -> str:
    """The gauge as one SVG element, black on white, each band with its own hatching; the right one is blank.

    Args:
        reading: in `unit`.
        unit: a unit of `diagnose.bench.units`.
        bands: from low to high, with at least one edge.
        key: begins the ids inside, so that several may stand on one page: letters, digits and hyphens.
        holds: as in `draw`.

    Raises:
        InputError: `bench-no-limit`, or an unknown unit.
    """
    scale, held = scale_for(reading, bands), _held(reading, bands, holds)
    name = "".join(sign if sign.isascii() and (sign.isalnum() or sign == "-") else "-" for sign in key) or "gauge"
    named = [(at, band) for at, band in enumerate(bands) if band.name]
    tall = _BAR_TOP + _BAR_TALL + 22 + 16 * len(named) + 6
    said = f"{show(round(reading, _DIGITS), unit)}{': ' + held.name if held and held.name else ''}"
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {_WIDE} {tall}" width="{_WIDE}" height="{tall}"',
        f' role="img" aria-labelledby="{name}-title" font-family="sans-serif" font-size="11" fill="#000">',
        f'<title id="{name}-title">{escape(said)}</title>',
        _patterns(name),
        f'<rect width="{_WIDE}" height="{tall}" fill="#fff"/>',
        *(_svg_band(scale, band, at, bands, name) for at, band in enumerate(bands)),
        _svg_pointer(scale, reading, unit),
        *(_svg_number(scale, edge) for edge in _spread(scale, bands)),
        *(_svg_legend(band, at, row, unit, band is held, bands, name) for row, (at, band) in enumerate(named)),
        "</svg>",
    ]
    return "".join(parts)


def _held(reading: float, bands: Sequence[Band], holds: str | None) -> Band | None:
    if holds is None:
        return band_for(reading, bands)
    return next((band for band in bands if band.name == holds), None)


def _edges(bands: Sequence[Band]) -> list[float]:
    """All edges, rising, each once."""
    return sorted({edge for band in bands for edge in (band.low, band.high) if edge is not None})


def _filling(value: float, bands: Sequence[Band], plain: bool) -> str:
    """The sign that fills the bar at a value."""
    for at, band in enumerate(bands):
        if band.holds(value):
            return _sign(band, at, bands, plain)
    return " "


def _sign(band: Band, at: int, bands: Sequence[Band], plain: bool) -> str:
    if band.right:
        return _RIGHT[plain]
    return _WRONG[_wrong(at, bands) % len(_WRONG)][plain]


def _wrong(at: int, bands: Sequence[Band]) -> int:
    """Which of the bands outside the right one this is, so that two neighbours never look the same."""
    return sum(not band.right for band in bands[:at])


def _with_edges(bar: str, scale: Scale, bands: Sequence[Band], wide: int, plain: bool) -> str:
    signs = list(bar)
    for edge in _edges(bands):
        signs[min(int(scale.place(edge) * wide), wide - 1)] = "|" if plain else "│"
    return "".join(signs)


def _beside(label: str, here: int, wide: int) -> str:
    """The label as near above its place as the width allows."""
    start = min(max(here - len(label) // 2, 0), max(wide - len(label), 0))
    return " " * start + label


def _numbers(scale: Scale, bands: Sequence[Band], wide: int) -> str:
    """The edges' numbers under the bar, each under its edge; one that would touch the one before is left out."""
    line = ""
    for edge in _edges(bands):
        text = f"{edge:.6g}"
        start = min(max(int(scale.place(edge) * wide) - len(text) // 2, 0), max(wide - len(text), 0))
        if not line or start > len(line):
            line = line.ljust(start) + text
    return line


def _legend(band: Band, at: int, unit: str, holds: bool, plain: bool, bands: Sequence[Band]) -> str:
    mark = (">" if plain else "▶") if holds else " "
    return f"{mark} {_sign(band, at, bands, plain) * 2} {band.name}: {_stretch(band, unit, plain)}"


def _stretch(band: Band, unit: str, plain: bool) -> str:
    """The band in words, e.g. "above 0.5 to 0.75 %"."""
    low = None if band.low is None else f"{band.low:.6g}"
    high = None if band.high is None else f"{band.high:.6g}"
    one = show(1, unit, plain=plain)
    sign = " teeth" if unit == "teeth" else one.removeprefix("1")
    if low is None and high is None:
        return "any"
    if low is None:
        return f"{'up to' if band.with_high else 'below'} {high}{sign}"
    if high is None:
        return f"{'from' if band.with_low else 'above'} {low}{sign}"
    return f"{'' if band.with_low else 'above '}{low} {'to' if band.with_high else 'to below'} {high}{sign}"


def _spread(scale: Scale, bands: Sequence[Band]) -> list[float]:
    """The edges whose numbers do not touch in the picture."""
    kept: list[float] = []
    for edge in _edges(bands):
        if not kept or scale.place(edge) - scale.place(kept[-1]) > 0.1:
            kept.append(edge)
    return kept


def _x(scale: Scale, value: float) -> float:
    return _SIDE + scale.place(value) * (_WIDE - 2 * _SIDE)


def _patterns(name: str) -> str:
    hatches = "".join(
        f'<pattern id="{name}-{at}" width="6" height="6" patternUnits="userSpaceOnUse">'
        f'<path d="{path}" stroke="#000" stroke-width="1" fill="none"/></pattern>'
        for at, path in enumerate(_HATCH)
    )
    return f"<defs>{hatches}</defs>"


def _fill(band: Band, at: int, bands: Sequence[Band], name: str) -> str:
    return "#fff" if band.right else f"url(#{name}-{_wrong(at, bands) % len(_HATCH)})"


def _svg_band(scale: Scale, band: Band, at: int, bands: Sequence[Band], name: str) -> str:
    left = _x(scale, scale.low if band.low is None else band.low)
    right = _x(scale, scale.high if band.high is None else band.high)
    return (
        f'<rect x="{left:.1f}" y="{_BAR_TOP}" width="{max(right - left, 0):.1f}" height="{_BAR_TALL}"'
        f' fill="{_fill(band, at, bands, name)}" stroke="#000" stroke-width="{2 if band.right else 1}"/>'
    )


def _svg_pointer(scale: Scale, reading: float, unit: str) -> str:
    x, top = _x(scale, reading), _BAR_TOP
    anchor = "start" if scale.place(reading) < 0.15 else "end" if scale.place(reading) > 0.85 else "middle"
    arrow = {0: "", 1: " →", -1: "← "}[scale.beyond]
    figure = show(round(reading, _DIGITS), unit)
    label = f"{arrow}{figure}" if scale.beyond < 0 else f"{figure}{arrow}"
    return (
        f'<path d="M{x:.1f} {top - 1}l-5 -9h10z"/><path d="M{x:.1f} {top}v{_BAR_TALL}" stroke="#000" stroke-width="2"/>'
        f'<text x="{x:.1f}" y="{top - 14}" text-anchor="{anchor}" font-weight="bold">{escape(label)}</text>'
    )


def _svg_number(scale: Scale, edge: float) -> str:
    return f'<text x="{_x(scale, edge):.1f}" y="{_BAR_TOP + _BAR_TALL + 13}" text-anchor="middle">{edge:.6g}</text>'


def _svg_legend(band: Band, at: int, row: int, unit: str, holds: bool, bands: Sequence[Band], name: str) -> str:
    y = _BAR_TOP + _BAR_TALL + 22 + 16 * row
    mark = f'<path d="M{_SIDE} {y + 2}l7 4l-7 4z"/>' if holds else ""
    words = escape(f"{band.name}: {_stretch(band, unit, plain=False)}")
    weight, line = ' font-weight="bold"' if holds else "", 2 if band.right else 1
    return (
        f'{mark}<rect x="{_SIDE + 12}" y="{y}" width="20" height="12" fill="{_fill(band, at, bands, name)}"'
        f' stroke="#000" stroke-width="{line}"/><text x="{_SIDE + 38}" y="{y + 10}"{weight}>{words}</text>'
    )
