"""A page on the terminal: wrapped to its width, boxes as `[ ]`, gauges drawn in signs."""

from __future__ import annotations

from functools import singledispatch

from diagnose.front import wording
from diagnose.front.gauges import show_gauge
from diagnose.front.paper import Paper
from diagnose.front.sheet.blocks import PENCIL, Block, Fix, Gauge, Head, Item, Page, Room, Say, Table, Warn

MARKS = {"tick": wording.TICK, "ticked": wording.TICKED, "caution": "!", "point": "-", "none": ""}


def as_text(page: Page, paper: Paper) -> None:
    """Say a page."""
    paper.say(f"{page.title}  {page.job}", style="bold")
    paper.say(page.under)
    for block in page.blocks:
        _say(block, paper)


@singledispatch
def _say(block: Block, paper: Paper) -> None:
    raise TypeError(block)


@_say.register
def _(block: Head, paper: Paper) -> None:
    paper.head(block.text.upper())


@_say.register
def _(block: Say, paper: Paper) -> None:
    paper.say(block.text, style="bold" if block.strong else "")


@_say.register
def _(block: Warn, paper: Paper) -> None:
    paper.head(block.text)
    for line in block.because:
        paper.say(line, indent=1)


@_say.register
def _(block: Gauge, paper: Paper) -> None:
    paper.say()
    paper.say(block.caption)
    show_gauge(paper, block.gauge)


@_say.register
def _(block: Fix, paper: Paper) -> None:
    paper.head(block.title)
    for line in block.lines:
        _say(line, paper)


@_say.register
def _(block: Room, paper: Paper) -> None:
    for text in block.texts:
        paper.say(f"{text}: {PENCIL * max(4, paper.width - len(text) - 2)}")


@_say.register
def _(block: Item, paper: Paper) -> None:
    mark = MARKS[block.mark]
    if mark:
        paper.item(mark, block.text)
    else:
        paper.say(block.text, indent=1)
    for text in block.limits:
        paper.say(text, indent=5, hang=2, style="bold")
    for text in block.cautions:
        paper.item("!", text, indent=5)


@_say.register
def _(block: Table, paper: Paper) -> None:
    """Each row a line of its own, its further cells below, so that the narrowest screen is wide enough."""
    for first, *rest in block.rows:
        paper.item("-", first)
        cells = [
            f"{head}: {PENCIL * 8 if cell == PENCIL else cell}"
            for head, cell in zip(block.head[1:], rest, strict=True)
            if cell
        ]
        if cells:
            paper.say("; ".join(cells), indent=3, hang=2)
