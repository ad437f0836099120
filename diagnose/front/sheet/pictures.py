"""Simple line pictures of adjustments, drawn for this sheet, black on white.

Cast: `PICTURES` has a drawing for each name in `book/pictures.py`, by which a fix chooses it; `svg` gives one with its
words below.
"""

from __future__ import annotations

from html import escape
from typing import Final, NamedTuple


class Drawn(NamedTuple):
    """A picture on a field of 180 by 110, and what it says below."""

    words: str
    shapes: str


WIDE, TALL = 180, 110
LINE: Final = 'fill="none" stroke="#000" stroke-width="1.6" stroke-linecap="round" stroke-linejoin="round"'
PLAIN: Final = 'stroke="none" fill="#000"'


def svg(name: str) -> str:
    """The picture as one SVG element with its words."""
    drawn = PICTURES[name]
    words = escape(drawn.words)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDE} {TALL}" width="{WIDE}" height="{TALL}" role="img"'
        f' font-family="sans-serif" font-size="10"><title>{words}</title><g {LINE}>{drawn.shapes}</g></svg>'
        f"<figcaption>{words}</figcaption>"
    )


def _path(way: str, width: float = 1.6, dashes: str = "") -> str:
    dashed = f' stroke-dasharray="{dashes}"' if dashes else ""
    return f'<path d="{way}" stroke-width="{width}"{dashed}/>'


def _text(x: float, y: float, words: str, anchor: str = "middle", bold: bool = False) -> str:
    weight = ' font-weight="bold"' if bold else ""
    return f'<text x="{x}" y="{y}" text-anchor="{anchor}" {PLAIN}{weight}>{escape(words)}</text>'


def _circle(x: float, y: float, radius: float, fill: str = "none") -> str:
    return f'<circle cx="{x}" cy="{y}" r="{radius}" fill="{fill}"/>'


def _box(x: float, y: float, wide: float, tall: float, fill: str = "none", round_: float = 0) -> str:
    return f'<rect x="{x}" y="{y}" width="{wide}" height="{tall}" rx="{round_}" fill="{fill}"/>'


def _arrow(x: float, y: float, to_x: float, to_y: float) -> str:
    """A line with a head at its end."""
    length = max(((to_x - x) ** 2 + (to_y - y) ** 2) ** 0.5, 1.0)
    along, across = (to_x - x) / length, (to_y - y) / length
    left = f"{to_x - 5 * along - 3 * across:.1f} {to_y - 5 * across + 3 * along:.1f}"
    right = f"{to_x - 5 * along + 3 * across:.1f} {to_y - 5 * across - 3 * along:.1f}"
    return f'<path d="M{x} {y}L{to_x} {to_y}"/><path d="M{to_x} {to_y}L{left}L{right}Z" fill="#000" stroke="none"/>'


def _between(x: float, to_x: float, y: float) -> str:
    """A measure: arrows from outside to two lines."""
    return _arrow(x - 14, y, x, y) + _arrow(to_x + 14, y, to_x, y)


def _bolt(x: float, y: float, number: str = "", radius: float = 8) -> str:
    hexagon = "".join(
        f"{'M' if at == 0 else 'L'}{x + radius * 0.55 * a:.1f} {y + radius * 0.55 * b:.1f}"
        for at, (a, b) in enumerate([(1, 0), (0.5, 0.87), (-0.5, 0.87), (-1, 0), (-0.5, -0.87), (0.5, -0.87)])
    )
    inside = _text(x, y + 3.5, number, bold=True) if number else _path(hexagon + "Z", 1.2)
    return _circle(x, y, radius, "#fff") + inside


def _ribs(x: float, y: float, wide: float, tall: float, count: int) -> str:
    return "".join(_path(f"M{x + wide * at / count:.1f} {y}v{tall}", 1) for at in range(1, count))


BARREL = Drawn(
    "Out: tighter. In: slacker. Half a turn at a time.",
    _path("M6 52H52")
    + _box(52, 42, 18, 20)
    + _box(70, 38, 40, 28, "#fff", 3)
    + _ribs(70, 38, 40, 28, 8)
    + _path("M110 46h22v12h-22")
    + _path("M114 46v12M119 46v12M124 46v12M129 46v12", 1)
    + _box(132, 30, 16, 44)
    + _path("M148 52H174")
    + _path("M72 30C78 10 102 10 108 28")
    + _arrow(106, 22, 109, 30)
    + _arrow(94, 84, 64, 84)
    + _text(58, 100, "out: tighter", "start"),
)
CALIPER = Drawn(
    "Seen from above: the same gap on both sides, then the two bolts in turn.",
    _path("M90 4V106", 3)
    + _box(70, 30, 10, 48, "#ddd")
    + _box(100, 30, 10, 48, "#ddd")
    + _path("M62 22H118V86H62Z")
    + _path("M62 40H34V68H62M118 40H146V68H118")
    + _bolt(44, 54, "1")
    + _bolt(136, 54, "2")
    + _between(80, 88.5, 14)
    + _between(91.5, 100, 98),
)
PRELOAD = Drawn(
    "1: the cap, until the play is just gone. 2 and 3: line up, then the clamp bolts in turn.",
    _box(66, 22, 44, 58, "#fff", 3)
    + _box(58, 12, 60, 8, "#fff", 2)
    + _bolt(88, 12, "1", 7)
    + _path("M66 36H16M66 66H16")
    + _path("M16 30V72", 1, "3 3")
    + _bolt(120, 36, "2")
    + _bolt(120, 64, "3")
    + _path("M66 22V80", 1.6)
    + _box(70, 80, 36, 8)
    + _path("M72 88V106M104 88V106")
    + _path("M78 88V106M98 88V106", 1, "3 3"),
)
GAP = Drawn(
    "The fork's tube ends below the top of the stem or spacer: this gap lets the cap pull.",
    _path("M50 20V96M50 20H62M130 20V96M130 20H118")
    + _box(62, 38, 10, 64, "#ddd")
    + _box(108, 38, 10, 64, "#ddd")
    + _path("M40 20H20M62 38H20", 1, "3 2")
    + _arrow(28, 6, 28, 20)
    + _arrow(28, 52, 28, 38)
    + _text(22, 33, "gap", "end")
    + _box(44, 10, 92, 8, "#fff", 2)
    + _bolt(90, 12, "", 6)
    + _path("M90 20V60", 1, "4 3"),
)
STOPS = Drawn(
    "Seen from behind: the wheel of the mech stands under the smallest, and under the largest sprocket.",
    "".join(_path(f"M{60 + 9 * at} {42 - 4 * at}V{46 + 4 * at}", 3) for at in range(7))
    + _path("M60 44H24M114 44H140", 1)
    + _path("M60 46V94", 1, "3 3")
    + _path("M114 70V94", 1, "3 3")
    + _box(55, 80, 10, 18, "#fff", 3)
    + _box(109, 80, 10, 18, "#fff", 3)
    + _bolt(152, 76, "L", 7)
    + _bolt(152, 96, "H", 7)
    + _text(60, 108, "H", bold=True)
    + _text(114, 108, "L", bold=True),
)
TRUE_WHEEL = Drawn(
    "The rim goes to the side whose spokes are tightened: a quarter turn, then look again.",
    _path("M82 8H98V30Q90 38 82 30Z")
    + _path("M86 34L62 104M94 34L118 104")
    + _arrow(60, 20, 78, 20)
    + _arrow(120, 20, 102, 20)
    + _path("M126 12V28M54 12V28", 1)
    + _arrow(90, 52, 66, 52)
    + _text(60, 56, "rim", "end")
    + _path("M68 78a8 5 0 1 0 8 6")
    + _text(54, 90, "tighten", "end"),
)
DISC = Drawn(
    "Bend a little, back from the pad that it touches, at the place that was marked; then turn and look.",
    _path("M90 106V62C90 48 100 42 100 26S92 12 92 4", 3)
    + _box(70, 72, 10, 26, "#ddd")
    + _box(100, 72, 10, 26, "#ddd")
    + _path("M96 20H132M96 32H132", 1.6)
    + _arrow(92, 26, 66, 26)
    + _text(138, 30, "tool", "start")
    + _text(118, 88, "pads", "start"),
)
CROSS = Drawn(
    "In turn across, in steps, to the value; then once round.",
    _circle(90, 55, 48)
    + _circle(90, 55, 18)
    + "".join(
        _bolt(90 + 33 * a, 55 + 33 * b, str(number))
        for number, (a, b) in zip(
            (1, 2, 3, 4, 5, 6),
            [(0, -1), (0, 1), (0.87, -0.5), (-0.87, 0.5), (0.87, 0.5), (-0.87, -0.5)],
            strict=True,
        )
    ),
)
SAG = Drawn(
    "Ring down to the wiper, sit still, get off gently: the way of the ring is the sag.",
    _box(74, 60, 32, 46, "#ddd", 3)
    + _path("M70 60H110", 3)
    + _path("M80 60V4M100 60V4")
    + _path("M78 34H102", 4)
    + _path("M110 60H140M104 34H140", 1, "3 2")
    + _arrow(132, 22, 132, 34)
    + _arrow(132, 74, 132, 60)
    + _text(138, 51, "sag", "start"),
)
PADS = Drawn(
    "Seen from above: the front of the pad touches the rim first.",
    _box(66, 8, 14, 94, "#ddd")
    + _path("M88 22L96 84L108 82L100 20Z")
    + _path("M102 52H136M136 44V60")
    + _arrow(40, 90, 40, 20)
    + _text(34, 60, "front", "end")
    + _between(80, 86, 14),
)
PEDALS = Drawn(
    "Both are screwed in towards the front wheel: the left one has a left-hand thread.",
    _path("M34 20V90M146 20V90", 6)
    + _box(4, 12, 26, 14, "#fff", 2)
    + _box(150, 12, 26, 14, "#fff", 2)
    + _text(17, 42, "L", bold=True)
    + _text(163, 42, "R", bold=True)
    + _path("M50 66A22 22 0 0 1 66 34")
    + _arrow(63, 35, 69, 32)
    + _path("M130 66A22 22 0 0 0 114 34")
    + _arrow(117, 35, 111, 32)
    + _arrow(90, 60, 90, 20)
    + _text(90, 74, "front"),
)
CONES = Drawn(
    "Hold the cone, turn the lock nut against it, feel again.",
    _path("M4 52H60M4 60H60M120 52H176M120 60H176")
    + _box(60, 22, 60, 68, "#fff", 6)
    + _path("M60 36L44 48V64L60 76M120 36L136 48V64L120 76")
    + _box(144, 42, 12, 28)
    + _path("M138 42L142 8M150 42L160 8", 4)
    + _text(132, 14, "hold", "end")
    + _text(150, 84, "turn"),
)
CHAIN_LENGTH = Drawn(
    "Round the largest ring and the largest sprocket, past the mech: both ends, and one pair of links more.",
    _circle(130, 58, 30)
    + _circle(46, 58, 24)
    + _path("M50 30L132 24M50 87L96 92M132 92L112 91", 2.4, "4 2")
    + _path("M94 84V100M114 84V100", 1)
    + _arrow(78, 104, 94, 104)
    + _arrow(130, 104, 114, 104),
)
UPPER_GAP = Drawn(
    "On the largest sprocket: from its teeth to those of the upper wheel.",
    "".join(_circle(90, 20, 30 - 6 * at) for at in range(1))
    + _circle(90, 20, 30)
    + _circle(90, 80, 16)
    + _circle(90, 80, 3, "#000")
    + _path("M90 50H140M90 64H140", 1, "3 2")
    + _arrow(132, 38, 132, 50)
    + _arrow(132, 76, 132, 64)
    + _text(138, 60, "gap", "start"),
)
SLACK = Drawn(
    "At the tightest place, midway: up and down together.",
    _circle(136, 62, 26)
    + _circle(40, 62, 16)
    + _path("M40 78L136 88")
    + _path("M40 46L88 34L136 36", 2)
    + _path("M40 46L88 54L136 36", 1, "4 3")
    + _path("M88 34H16M88 54H16", 1, "2 3")
    + _arrow(20, 20, 20, 34)
    + _arrow(20, 70, 20, 54)
    + _text(26, 27, "slack", "start"),
)
SEATED = Drawn(
    "On the ground, weight on it: the axle right up in both slots; only then close it.",
    _path("M60 6V40Q60 54 68 54V78M84 78V54Q92 54 92 40V6")
    + _circle(76, 60, 8, "#000")
    + _arrow(76, 100, 76, 74)
    + _path("M30 108H150", 2)
    + _path("M100 60H132L150 34")
    + _path("M150 60A26 26 0 0 0 144 38")
    + _arrow(149, 52, 150, 62),
)
FACE_PLATE = Drawn(
    "Bolts in turn across, in steps; the gap above and below the same, unless the stem says otherwise.",
    _circle(90, 55, 26)
    + _circle(90, 55, 20, "#ddd")
    + _path("M62 20H118V50M62 20V50")
    + _path("M62 60V92H118V60")
    + _path("M62 50H56V60H62M118 50H124V60H118", 1)
    + _bolt(72, 28, "1", 6)
    + _bolt(108, 82, "2", 6)
    + _bolt(108, 28, "3", 6)
    + _bolt(72, 82, "4", 6)
    + _arrow(146, 36, 146, 50)
    + _arrow(146, 74, 146, 60)
    + _text(152, 59, "gap", "start"),
)
PLUG = Drawn(
    "Straight through the tread, both ends left standing, then cut off short.",
    _path("M20 90Q20 30 90 30T160 90")
    + _path("M36 92Q36 46 90 46T144 92")
    + _path("M86 18V62M94 18V62")
    + _path("M86 62Q90 72 94 62")
    + _arrow(90, 2, 90, 14)
    + _text(90, 100, "inside"),
)
PICTURES: Final = {
    "barrel": BARREL,
    "caliper": CALIPER,
    "preload": PRELOAD,
    "gap": GAP,
    "stops": STOPS,
    "true-wheel": TRUE_WHEEL,
    "disc": DISC,
    "cross": CROSS,
    "sag": SAG,
    "pads": PADS,
    "pedals": PEDALS,
    "cones": CONES,
    "chain-length": CHAIN_LENGTH,
    "upper-gap": UPPER_GAP,
    "slack": SLACK,
    "seated": SEATED,
    "face-plate": FACE_PLATE,
    "plug": PLUG,
}
