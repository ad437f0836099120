"""How much paper a page takes, reckoned from its blocks and the measures in page.css.

Cast: `sheets` gives how many sheets of A4 a page comes to. A page is broken into `Piece`s that no browser parts, each
measured in mm; they are set one below the other. It reckons rather too much than too little: a page that comes to two
sheets here prints on two.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Iterator, Sequence
from functools import singledispatch
from itertools import pairwise
from typing import Final, NamedTuple

from diagnose.front.gauges import gauge_svg
from diagnose.front.sheet import blocks
from diagnose.front.sheet.blocks import PENCIL, clean

SHEET: Final = 297 - 11 - 13
"""Height of what is printed on one sheet of A4, in mm."""
WIDTH: Final = 210 - 2 * 12
SAFE: Final = 1.03
"""What is reckoned is taken so many times, since no two browsers set alike."""
POINT: Final = 25.4 / 72
PICTURE: Final = (45, 2.5)
"""Width of the picture beside a fix, and what is left free beside it."""
SIGNS: Final = {
    **dict.fromkeys("ijl'", 0.23),
    **dict.fromkeys(" !,./:;I[]\\ft|", 0.28),
    **dict.fromkeys('-()r"{}', 0.35),
    **dict.fromkeys("ckszvxyJ*^", 0.5),
    **dict.fromkeys("wCDHNRUGOQ", 0.75),
    **dict.fromkeys("mMW%@", 0.95),
}
"""Widths of signs, in parts of the type's size; a capital, another sign, one of another script."""
CAPITAL, OTHER, FOREIGN, SQUARE, BOLD = 0.67, 0.56, 0.75, 1.0, 1.07
LATIN: Final = 0x250


class Type(NamedTuple):
    """The measures of a page: sizes of type in points, all else in mm."""

    size: float
    line: float
    below: float
    below_item: float
    above_head: float
    pencil: float
    table: float
    wide: float
    gauge: float


ROOMY: Final = Type(9.2, 1.28, 1.2, 0.7, 3.0, 6.0, 9.2, 8.7, 86)
SMALL: Final = Type(8.3, 1.22, 0.5, 0.5, 2.0, 5.0, 7.8, 7.8, 57)


class Piece(NamedTuple):
    """What stays on one sheet: its height, the space above and below it, and whether it stays with what follows."""

    height: float
    above: float = 0.0
    below: float = 0.0
    holds: bool = False


def sheets(page: blocks.Page) -> int:
    """How many sheets of A4 this page comes to."""
    them = SMALL if page.crowded else ROOMY
    number, filled = 1, 0.0
    for group in _groups(_pieces(page, them)):
        height = SAFE * _height(group)
        if filled and filled + height > SHEET:
            number, filled = number + 1, 0.0
        filled += height
        while filled > SHEET:
            number, filled = number + 1, filled - SHEET
    return number


def _groups(pieces: Iterable[Piece]) -> Iterator[list[Piece]]:
    group: list[Piece] = []
    for piece in pieces:
        group.append(piece)
        if not piece.holds:
            yield group
            group = []
    yield group


def _height(group: Sequence[Piece]) -> float:
    """Of pieces one below the other; of two spaces that meet the greater counts."""
    if not group:
        return 0.0
    between = sum(max(above.below, below.above) for above, below in pairwise(group))
    return group[0].above + sum(piece.height for piece in group) + between + group[-1].below


def _pieces(page: blocks.Page, them: Type) -> Iterator[Piece]:
    title = 15 * them.line * POINT + 1
    under = _lines(page.under, WIDTH, them.size) * _line(them) + 3
    yield Piece(title + under, below=2)
    keep = False
    for place, block in enumerate(page.blocks):
        if isinstance(block, blocks.Head):
            keep = block.keep
        following = page.blocks[place + 1] if place + 1 < len(page.blocks) else None
        last = following is None or isinstance(following, blocks.Head)
        beside = isinstance(block, blocks.Gauge) and isinstance(following, blocks.Gauge)
        if beside and _is_left(page.blocks, place, them):
            continue
        pieces = list(_of(block, them, WIDTH))
        yield from (piece._replace(holds=True) for piece in pieces[:-1]) if keep else pieces[:-1]
        yield from (piece._replace(holds=piece.holds or (keep and not last)) for piece in pieces[-1:])


def _is_left(them: Sequence[blocks.Block], place: int, sizes: Type) -> bool:
    """Whether this gauge stands in a row whose height the last gauge of the row will give."""
    before = 0
    while before < place and isinstance(them[place - 1 - before], blocks.Gauge):
        before += 1
    a_row = int((WIDTH + 6) // (sizes.gauge + 6))
    return before % a_row < a_row - 1


@singledispatch
def _of(block: blocks.Block, them: Type, width: float) -> Iterator[Piece]:
    raise TypeError(block, them, width)


@_of.register
def _(block: blocks.Head, them: Type, width: float) -> Iterator[Piece]:
    lines = _lines(block.text, width, 10.5 * BOLD)
    yield Piece(lines * 10.5 * them.line * POINT + 0.7, them.above_head, 1.0, holds=True)


@_of.register
def _(block: blocks.Say, them: Type, width: float) -> Iterator[Piece]:
    yield from _paragraph(block.text, them, width, BOLD if block.strong else 1.0)


def _paragraph(text: str, them: Type, width: float, bold: float = 1.0) -> Iterator[Piece]:
    """A paragraph; a long one may be parted between its lines, but not its first two and its last two."""
    lines = _lines(text, width, them.size * bold)
    for place in range(lines):
        whole = lines <= 3 or place in (0, lines - 2)
        end = place == lines - 1
        yield Piece(_line(them), below=them.below if end else 0.0, holds=whole and not end)


@_of.register
def _(block: blocks.Warn, them: Type, width: float) -> Iterator[Piece]:
    inner = width - 6
    first = _lines(block.text, inner, 12 * BOLD) * 12 * them.line * POINT + them.below
    rest = sum(_lines(line, inner, them.size) * _line(them) + them.below for line in block.because)
    yield Piece(first + rest + 3.1, below=2)


@_of.register
def _(block: blocks.Gauge, them: Type, _width: float) -> Iterator[Piece]:
    caption = _lines(block.caption, them.gauge, 8.4 * BOLD) * 8.4 * them.line * POINT
    yield Piece(caption + _drawn(gauge_svg(block.gauge), them.gauge), 1.5, 2)


def _drawn(svg: str, width: float) -> float:
    """The height of a drawing that is so wide."""
    found = re.search(r'viewBox="0 0 ([0-9.]+) ([0-9.]+)"', svg)
    return width * float(found[2]) / float(found[1]) if found else width


@_of.register
def _(block: blocks.Fix, them: Type, width: float) -> Iterator[Piece]:
    inner = width - 5
    pieces = [Piece(9.6 * them.line * POINT, 2, 0.8, holds=True)]
    if block.picture:
        pieces += _beside_picture(block.lines, them, inner)
    else:
        pieces += [piece for line in block.lines for piece in _of(line, them, inner)]
    yield from pieces
    yield Piece(1, below=1.8)


def _beside_picture(lines: Iterable[blocks.Say | blocks.Item], them: Type, width: float) -> Iterator[Piece]:
    """Lines beside a picture are narrower, as far down as it reaches; the fix ends below it."""
    left = PICTURE[0] * 110 / 180 + 5 * 8.4 * them.line * POINT
    for line in lines:
        pieces = list(_of(line, them, width - sum(PICTURE) if left > 0 else width))
        left -= _height(pieces)
        yield from pieces
    if left > 0:
        yield Piece(left)


@_of.register
def _(block: blocks.Room, them: Type, _width: float) -> Iterator[Piece]:
    for _ in block.texts:
        yield Piece(_line(them) + 0.3, 2.6, them.below)


@_of.register
def _(block: blocks.Item, them: Type, width: float) -> Iterator[Piece]:
    inner = width - 5.5
    height = _lines(block.text, inner, them.size) * _line(them)
    for text in block.limits:
        height += _lines(text, inner - 3, them.size * BOLD) * _line(them) + them.below
    for text in block.cautions:
        height += _lines(text, inner - 5, them.size) * _line(them) + them.below
    yield Piece(height, below=them.below_item + 0.5 * (them is SMALL))


@_of.register
def _(block: blocks.Table, them: Type, width: float) -> Iterator[Piece]:
    size = them.wide if len(block.head) >= 5 else them.table
    columns = _columns(block, width, size)
    yield Piece(8.4 * them.line * POINT + 1.3, holds=True)
    for row in block.rows:
        lines = max(_lines(cell, column, size) for cell, column in zip(row, columns, strict=True))
        height = lines * size * them.line * POINT + 1.3
        yield Piece(max(height, them.pencil if PENCIL in row else 0.0))
    yield Piece(0, below=1.5)


def _columns(block: blocks.Table, width: float, size: float) -> list[float]:
    """The columns' widths: what each would like, less where all together are too wide."""
    pairs = zip(block.head, *block.rows, strict=True)
    wish = [max(22 if cell == PENCIL else _wide(cell, size) for cell in column) + 2.7 for column in pairs]
    part = max(1.0, sum(wish) / width)
    return [one / part - 2.7 for one in wish]


def _line(them: Type) -> float:
    return them.size * them.line * POINT


def _lines(text: str, width: float, size: float) -> int:
    """How many lines of so many mm a text takes in type of so many points."""
    return sum(_wrapped(part, width, size) for part in clean(text).split("\n"))


def _wrapped(text: str, width: float, size: float) -> int:
    lines, filled = 1, 0.0
    space = _wide(" ", size)
    for word in text.split():
        wide = _wide(word, size)
        if filled and filled + space + wide > width:
            lines, filled = lines + 1, wide
        else:
            filled += wide + (space if filled else 0.0)
        while filled > width:
            lines, filled = lines + 1, filled - width
    return lines


def _wide(text: str, size: float) -> float:
    return sum(_sign(char) for char in text) * size * POINT


def _sign(char: str) -> float:
    if char in SIGNS:
        return SIGNS[char]
    if ord(char) < LATIN:
        return CAPITAL if char.isupper() else OTHER
    return SQUARE if unicodedata.east_asian_width(char) in "WF" else FOREIGN
