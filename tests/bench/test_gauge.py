"""The drawn gauge: what the text shows, that it keeps its width and plainness, and that the picture is sound."""

from __future__ import annotations

import re
from itertools import pairwise
from xml.etree import ElementTree as ET

import pytest
from hypothesis import given
from hypothesis import strategies as st

from diagnose.bench.bands import Band, around, band_for
from diagnose.bench.gauge import draw, draw_svg, scale_for
from diagnose.bench.runout import disc_bands
from diagnose.errors import InputError

SVG = "{http://www.w3.org/2000/svg}"
GAP = around(2, 4, ("too little", "right", "too much"))
DISC = (
    "               0.45 mm",
    "                  ▼",
    "████████│░░░░░░░░░░░│▒▒▒▒▒▒▒▒▒▒▒▒▒▒▒▒▒▒▒▒│▓▓▓▓▓▓▓▓",
    "       0.2         0.5                   1",
    "  ██ good: up to 0.2 mm",
    "▶ ░░ true it: above 0.2 to 0.5 mm",
    "  ▒▒ one try, then a new disc: above 0.5 to 1 mm",
    "  ▓▓ new disc: above 1 mm",
)
PLAIN = (
    "                      3.5 mm",
    "                         v",
    "......|========================|::::::",
    "      2                        4",
    "  .. too little: below 2 mm",
    "> == right: 2 to 4 mm",
    "  :: too much: above 4 mm",
)
readings = st.floats(-1e6, 1e6)


@st.composite
def scales(pick: st.DrawFn) -> tuple[Band, ...]:
    """Two to five bands without gaps, one of them the right one."""
    edges = sorted(
        pick(st.lists(st.floats(-1000, 1000).map(lambda edge: round(edge, 3)), min_size=1, max_size=4, unique=True))
    )
    right = pick(st.integers(0, len(edges)))
    ends = [None, *edges, None]
    return tuple(Band(f"band {at}", ends[at], ends[at + 1], right=at == right) for at in range(len(edges) + 1))


def test_gauge_of_a_disc() -> None:
    """The picture of a bent disc's run-out, as a mechanic reads it."""
    assert draw(0.45, "mm", disc_bands(), width=50) == DISC


def test_gauge_in_ascii() -> None:
    """The same kind of picture where only ASCII can be shown."""
    assert draw(3.5, "mm", GAP, width=38, plain=True) == PLAIN


@given(readings, scales(), st.integers(24, 100), st.booleans())
def test_any_gauge_keeps_its_width_and_marks_one_band(
    reading: float, bands: tuple[Band, ...], width: int, plain: bool
) -> None:
    """Scale, pointer and numbers fit the width, and the band that holds is the only one marked."""
    lines = draw(reading, "mm", bands, width=width, plain=plain)
    assert all(len(line) <= width for line in lines[:4])
    assert all(line.isascii() for line in lines) or not plain
    assert len(lines) == 4 + len(bands)
    marked = [line for line in lines[4:] if line[0] in ">▶"]
    held = band_for(reading, bands)
    assert held is not None
    assert len(marked) == 1
    assert f" {held.name}: " in marked[0]
    assert len(lines[2]) == width
    assert lines[1].strip() in {"v", "▼", ">", "<"}


@given(readings, scales())
def test_pointer_and_bands_share_one_scale(reading: float, bands: tuple[Band, ...]) -> None:
    """The order of readings is kept, every edge is on the scale, and a reading that is beyond is drawn at the end."""
    scale = scale_for(reading, bands)
    edges = [edge for band in bands for edge in (band.low, band.high) if edge is not None]
    assert all(scale.low <= edge <= scale.high for edge in edges)
    assert scale.low < scale.high
    if scale.beyond:
        assert scale.place(reading) == (1 if scale.beyond > 0 else 0)
    else:
        assert scale.low <= reading <= scale.high
    assert scale.place(min(edges)) <= scale.place(max(edges))


def test_nothing_is_told_by_colour_alone() -> None:
    """Neighbouring bands differ in their filling, and the right one differs from all others."""
    lines = draw(0.45, "mm", disc_bands(), width=50)
    fillings = [line[2:4] for line in lines[4:]]
    assert all(here != there for here, there in pairwise(fillings))
    assert fillings.count(fillings[0]) == 1
    picture = draw_svg(0.45, "mm", disc_bands())
    assert set(re.findall(r'(?:fill|stroke)="(#[^"]*)"', picture)) == {"#000", "#fff"}


def test_somebody_else_may_say_which_band_holds() -> None:
    """Where the rule book picks the band, that one is marked, not the one reckoned from the edges."""
    lines = draw(3.5, "mm", GAP, width=38, plain=True, holds="too much")
    assert [line for line in lines if line.startswith(">")] == ["> :: too much: above 4 mm"]


def test_a_reading_far_out_is_drawn_at_the_end() -> None:
    """Forty millimetres on a scale around two to four points off the scale with its number."""
    lines = draw(40, "mm", GAP, width=40)
    assert lines[0].endswith("40 mm")
    assert lines[1].strip() == ">"
    assert "→" in draw_svg(40, "mm", GAP)


@given(readings, scales())
def test_any_picture_is_sound_and_within_its_frame(reading: float, bands: tuple[Band, ...]) -> None:
    """The SVG parses, is one element with a title, names every band, and draws nothing beyond its frame."""
    picture = draw_svg(reading, "mm", bands, key="a b<c")
    root = ET.fromstring(picture)  # noqa: S314 - our own drawing
    assert root.tag == f"{SVG}svg"
    wide, tall = (float(size) for size in (root.get("width", ""), root.get("height", "")))
    assert root.get("viewBox") == f"0 0 {wide:g} {tall:g}"
    title = root.find(f"{SVG}title")
    assert title is not None
    assert title.text
    words = [text.text or "" for text in root.iter(f"{SVG}text")]
    assert all(any(word.startswith(f"{band.name}: ") for word in words) for band in bands)
    for rect in root.iter(f"{SVG}rect"):
        left, width = float(rect.get("x", "0")), float(rect.get("width", "0"))
        assert width >= 0
        assert left >= -0.1
        assert left + width <= wide + 0.1
    named = {element.get("id") for element in root.iter() if element.get("id")}
    used = set(re.findall(r"url\(#([^)]*)\)", picture))
    assert used <= named
    assert all(name and name.startswith("a-b-c") for name in named)


def test_names_are_escaped() -> None:
    """A band's name cannot break the picture."""
    picture = draw_svg(1, "mm", around(0, 2, ("<a>", 'b & "c"', "d")))
    assert "<a>" not in picture
    ET.fromstring(picture)  # noqa: S314 - our own drawing


def test_a_gauge_without_edges_is_refused() -> None:
    """There is nothing to draw then."""
    with pytest.raises(InputError, match="edge"):
        draw(1, "mm", (Band("any"),))
