"""A page as one HTML file of its own: styles and pictures inside, no script, all text as text, black on white.

Cast: `as_html`. It prints on A4 in black and white; what belongs together stays on one sheet of paper. The content
policy in it lets a browser load and run nothing.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from functools import singledispatch
from html import escape
from importlib.resources import files
from itertools import count

from diagnose.front.gauges import gauge_svg
from diagnose.front.sheet import blocks, pictures
from diagnose.front.sheet.blocks import PENCIL, clean

POLICY = "default-src 'none'; style-src 'unsafe-inline'; img-src 'none'"
BOXES = {"tick": "box", "ticked": "box ticked", "caution": "caution", "point": "point", "none": "none"}
WITH_NUMBERS = 5
"""Columns from which a table's cells are set smaller."""


def as_html(page: blocks.Page) -> str:
    """The file's text."""
    title = f"{page.title} {page.job}"
    head = [
        "<!DOCTYPE html>",
        '<html lang="en">',
        "<head>",
        '<meta charset="utf-8">',
        f'<meta http-equiv="Content-Security-Policy" content="{POLICY}">',
        '<meta name="viewport" content="width=device-width, initial-scale=1">',
        f"<title>{_text(title)}</title>",
        f"<style>{_style(page.job)}</style>",
        "</head>",
        '<body class="crowded">' if page.crowded else "<body>",
        f'<header><h1>{_text(page.title)} <span class="job">{_text(page.job)}</span></h1>',
        f"<p>{_text(page.under)}</p></header>",
    ]
    body = _sections(page.blocks, count(1))
    return "\n".join([*head, *body, "</body>", "</html>", ""])


def _style(job: str) -> str:
    told = "".join(char for char in job if char.isascii() and (char.isalnum() or char == "-"))
    return files("diagnose.front.sheet").joinpath("page.css").read_text(encoding="utf-8").replace("JOB", told)


def _text(text: str) -> str:
    return escape(clean(text)).replace("\n", "<br>")


_Keys = Iterator[int]
"""Numbers for the ids inside pictures, each given once."""
_OPEN = {"": "", "ul": "<ul>", "gauges": '<div class="gauges">'}
_CLOSE = {"": "", "ul": "</ul>", "gauges": "</div>"}


def _sections(them: Iterable[blocks.Block], keys: _Keys) -> list[str]:
    """The elements of a page; what is kept together is an element of its own."""
    lines: list[str] = []
    for keep, part in _parts(them):
        inner = _blocks(part, keys)
        lines += ['<section class="keep">', *inner, "</section>"] if keep else inner
    return lines


def _parts(them: Iterable[blocks.Block]) -> Iterator[tuple[bool, list[blocks.Block]]]:
    """The blocks from one heading to the next, and whether they are kept together."""
    keep, part = False, list[blocks.Block]()
    for block in them:
        if isinstance(block, blocks.Head):
            yield keep, part
            keep, part = block.keep, []
        part.append(block)
    yield keep, part


def _blocks(them: Iterable[blocks.Block], keys: _Keys) -> list[str]:
    """The elements one after the other; lines with marks become lists, gauges stand side by side."""
    lines: list[str] = []
    kind = ""
    for block in them:
        now = "ul" if isinstance(block, blocks.Item) else "gauges" if isinstance(block, blocks.Gauge) else ""
        if now != kind:
            lines += [_CLOSE[kind], _OPEN[now]]
            kind = now
        lines.append(_block(block, keys))
    return [line for line in [*lines, _CLOSE[kind]] if line]


@singledispatch
def _block(block: blocks.Block, keys: _Keys) -> str:
    raise TypeError(block, keys)


@_block.register
def _(block: blocks.Head, _keys: _Keys) -> str:
    return f"<h2>{_text(block.text)}</h2>"


@_block.register
def _(block: blocks.Say, _keys: _Keys) -> str:
    return f"<p><strong>{_text(block.text)}</strong></p>" if block.strong else f"<p>{_text(block.text)}</p>"


@_block.register
def _(block: blocks.Warn, _keys: _Keys) -> str:
    lines = "".join(f"<p>{_text(line)}</p>" for line in block.because)
    return f'<div class="warn"><p class="first">{_text(block.text)}</p>{lines}</div>'


@_block.register
def _(block: blocks.Gauge, keys: _Keys) -> str:
    picture = gauge_svg(block.gauge, f"g{next(keys)}")
    return f"<figure><figcaption>{_text(block.caption)}</figcaption>{picture}</figure>"


@_block.register
def _(block: blocks.Fix, keys: _Keys) -> str:
    inner = "".join(_blocks(block.lines, keys))
    beside = f'<figure class="picture">{pictures.svg(block.picture)}</figure>' if block.picture else ""
    return f'<section class="fix">{beside}<h3>{_text(block.title)}</h3>{inner}</section>'


@_block.register
def _(block: blocks.Room, _keys: _Keys) -> str:
    return "".join(f'<p class="room"><span>{_text(text)}</span></p>' for text in block.texts)


@_block.register
def _(block: blocks.Item, _keys: _Keys) -> str:
    limits = "".join(f'<p class="limit">{_text(text)}</p>' for text in block.limits)
    cautions = "".join(f'<p class="under caution">{_text(text)}</p>' for text in block.cautions)
    return f'<li class="{BOXES[block.mark]}"><p>{_text(block.text)}</p>{limits}{cautions}</li>'


@_block.register
def _(block: blocks.Table, _keys: _Keys) -> str:
    small = ' class="wide"' if len(block.head) >= WITH_NUMBERS else ""
    head = "".join(f"<th>{_text(cell)}</th>" for cell in block.head)
    rows = "".join("<tr>" + "".join(_cell(cell) for cell in row) + "</tr>" for row in block.rows)
    return f"<table{small}><thead><tr>{head}</tr></thead><tbody>{rows}</tbody></table>"


def _cell(cell: str) -> str:
    return '<td class="pencil"></td>' if cell == PENCIL else f"<td>{_text(cell)}</td>"
