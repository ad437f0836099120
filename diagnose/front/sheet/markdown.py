"""A page as Markdown that any reader shows alike: all signs that mean something to it are written as text."""

from __future__ import annotations

import io
import re
from collections.abc import Iterable
from functools import singledispatch

from diagnose.front.gauges import show_gauge
from diagnose.front.paper import Paper
from diagnose.front.sheet import blocks
from diagnose.front.sheet.blocks import PENCIL, clean

SIGNS = re.compile(r"[\\`*_{}\[\]#|~$@^]")
"""What means something anywhere in a line, in one Markdown or another; a backslash before it makes it a sign again."""
ENTITIES = re.compile(r"[<>&]|[:](?=//)|(?<=www)\.", re.IGNORECASE)
"""What would become HTML or a link by itself."""
FIRST = re.compile(r"[-+=:]|[0-9]+(?=[.)](?:\s|$))")
"""What would begin a list, a rule or a heading."""
ROOM = "\\_" * 8
MARKS = {"tick": "- [ ] ", "ticked": "- [x] ", "caution": "- **!** ", "point": "- ", "none": ""}
WIDTH = 60


def as_markdown(page: blocks.Page) -> str:
    """The page."""
    parts = [f"# {escaped(page.title)} {escaped(page.job)}", escaped(page.under), *_joined(page.blocks)]
    return "\n\n".join(part for part in parts if part) + "\n"


def escaped(text: str) -> str:
    """The text on one line, each sign in it only a sign."""
    line = " ".join(clean(text).split())
    line = SIGNS.sub(lambda match: f"\\{match[0]}", line)
    line = ENTITIES.sub(lambda match: f"&#{ord(match[0])};", line)
    first = FIRST.match(line)
    if first:
        at = first.end() if first[0].isdigit() else 0
        line = f"{line[:at]}\\{line[at:]}"
    return line


def _joined(them: Iterable[blocks.Block]) -> list[str]:
    """The blocks, items that follow each other as one list."""
    parts: list[str] = []
    in_list = False
    for block in them:
        written = _block(block)
        if in_list and isinstance(block, blocks.Item):
            parts[-1] += "\n" + written
        else:
            parts.append(written)
        in_list = isinstance(block, blocks.Item)
    return parts


@singledispatch
def _block(block: blocks.Block) -> str:
    raise TypeError(block)


@_block.register
def _(block: blocks.Head) -> str:
    return f"## {escaped(block.text)}"


@_block.register
def _(block: blocks.Say) -> str:
    return f"**{escaped(block.text)}**" if block.strong and block.text.strip() else escaped(block.text)


@_block.register
def _(block: blocks.Warn) -> str:
    return "\n".join([f"> **{escaped(block.text)}**", *(f">\n> {escaped(line)}" for line in block.because)])


@_block.register
def _(block: blocks.Gauge) -> str:
    written = io.StringIO()
    show_gauge(Paper(written, plain=False, width=WIDTH), block.gauge)
    return "\n".join([escaped(block.caption), "", "```text", written.getvalue().replace("`", "'").rstrip("\n"), "```"])


@_block.register
def _(block: blocks.Fix) -> str:
    return "\n\n".join([f"### {escaped(block.title)}", *_joined(block.lines)])


@_block.register
def _(block: blocks.Room) -> str:
    return "\n".join(f"- {escaped(text)}: {ROOM}" for text in block.texts)


@_block.register
def _(block: blocks.Item) -> str:
    lines = [f"{MARKS[block.mark]}{escaped(block.text)}"]
    lines += [f"  - **{escaped(text)}**" for text in block.limits]
    lines += [f"  - **!** {escaped(text)}" for text in block.cautions]
    return "\n".join(lines)


@_block.register
def _(block: blocks.Table) -> str:
    lines = [_row(block.head), "|" + " --- |" * len(block.head)]
    return "\n".join([*lines, *(_row(row) for row in block.rows)])


def _row(cells: tuple[str, ...]) -> str:
    return "| " + " | ".join(ROOM if cell == PENCIL else escaped(cell) or " " for cell in cells) + " |"
