"""What a printed page is made of, whatever it is printed as.

Cast: a `Page` is a title and `Block`s; the writers `as_text`, `as_markdown` and `as_html` stand in modules of their
own and treat all text as text. `clean` takes out what no paper can show.
"""

from __future__ import annotations

import unicodedata
from typing import Any, Literal, NamedTuple

Mark = Literal["tick", "ticked", "caution", "point", "none"]
"""A box to tick, one that is ticked, an exclamation mark, a bullet, nothing."""
PENCIL = "\N{LOW LINE}"
"""A cell that is left free for the pencil."""


class Head(NamedTuple):
    """A heading; `keep`: what stands below it, up to the next heading, stays on one sheet of paper."""

    text: str
    keep: bool = False


class Say(NamedTuple):
    """A paragraph."""

    text: str
    strong: bool = False


class Item(NamedTuple):
    """A line with a mark before it; `under` stands below it: figures first, then cautions."""

    mark: Mark
    text: str
    limits: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()


class Warn(NamedTuple):
    """What must be seen first, in a frame: a line in capitals or bold, and its reasons."""

    text: str
    because: tuple[str, ...] = ()


class Table(NamedTuple):
    """Rows under a head; `PENCIL` is a cell to be written in, an empty one has nothing to say."""

    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


class Gauge(NamedTuple):
    """A reading on its scale, as the View has it under `gauge`."""

    caption: str
    gauge: dict[str, Any]


class Fix(NamedTuple):
    """A fix with its steps: a heading, lines below it, a picture beside them; kept together on a page."""

    title: str
    lines: tuple[Say | Item, ...]
    picture: str = ""


class Room(NamedTuple):
    """Lines to write on, each after a few words."""

    texts: tuple[str, ...]


Block = Head | Say | Item | Warn | Table | Gauge | Fix | Room


class Page(NamedTuple):
    """A page, or two.

    Attributes:
        title: what it is.
        job: the job's number, on every sheet of it.
        under: what stands beside the title: label, date.
        blocks: all the rest.
        crowded: printed in smaller type, so that two pages are enough.
    """

    title: str
    job: str
    under: str
    blocks: tuple[Block, ...]
    crowded: bool = False


def clean(text: str) -> str:
    """The text without control characters and signs that turn the direction of reading; line ends are kept."""
    return "".join(_shown(char) for char in text)


def _shown(char: str) -> str:
    if char.isprintable() or char == "\n":
        return char
    return "" if unicodedata.category(char) in ("Cf", "Cs") else " "
