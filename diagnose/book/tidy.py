"""Rule and case files in one layout: keys in the order of the format, two spaces a level, no spaces at line ends.

Cast: `tidy(text, shown, shape)` gives the tidy text; comments, quotes and line breaks within a text stay as they are.

The text is patched, not written anew. A comment on lines of its own goes with the key below it, unless it stands
further to the right than that key: then it ends the block above. Blank lines stay, one at most. What the loader reads
is the same before and after: that is looked at each time, and a text for which it would not hold is refused.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator, Sequence
from itertools import pairwise
from typing import Any

import yaml

from diagnose.book.schema_base import ByRole, Later
from diagnose.book.schema_causes import STEP, StepShape
from diagnose.book.shape import Either, IfKey, ListOf, MapOf, Record
from diagnose.book.tree import Listing, Mapping, Node, Text, parse
from diagnose.errors import BookError, Location

STEP_IN = 2
"""Columns that a level stands further to the right."""
Orders = dict[int, tuple[str, ...]]
"""Identity of a mapping's node to its keys in the order of the format."""


def tidy(text: str, shown: str, shape: object) -> str:
    """The tidy text of a file whose shape is known; `shown` is the file's name in messages.

    Args:
        text: the file's text.
        shown: its name in messages.
        shape: the shape of the whole file, see `schema.SHAPES`; a `MapOf` for a file of several entries.

    Raises:
        BookError: the text is not what the loader reads, or `tidy.changed` where tidying would change what it reads.
    """
    before = parse(text, shown)
    lines = text.replace("\r\n", "\n").replace("\r", "\n")
    after = lines if before is None else _laid_out(_flows_ordered(lines, shape), shape)
    try:
        after = _without_loose_space(after)
        same = before is None or _plain(parse(after, shown)) == _plain(before)
    except (yaml.YAMLError, BookError):  # moved apart so that it cannot be read any more
        same = False
    if not same or _signs(after) != _signs(text):
        message = "this file cannot be tidied without changing what it says"
        hint = "Write lists and mappings one entry a line, and run it again."
        raise BookError("tidy.changed", message, Location(shown, 1, 1), hint)
    return after


def _plain(node: Node | None) -> Any:
    """What a tree says, without places; the order of keys does not matter here."""
    if isinstance(node, Mapping):
        return {key: _plain(child) for key, child in node.items.items()}
    if isinstance(node, Listing):
        return [_plain(child) for child in node.items]
    return (node.value, node.quoted) if isinstance(node, Text) else None


def _signs(text: str) -> Counter[str]:
    """Every sign that is no white space: comments are part of it."""
    return Counter("".join(text.split()))


def _compose(text: str) -> Any:
    loader: Any = getattr(yaml, "CBaseLoader", yaml.BaseLoader)
    return yaml.compose(text, Loader=loader)


def _orders(shape: object, node: Any) -> Iterator[tuple[int, tuple[str, ...]]]:
    """Every mapping of a node that is a record, with its keys in order."""
    shape = _underlying(shape)
    if isinstance(shape, ListOf):
        for item in node.value if isinstance(node, yaml.SequenceNode) else [node]:
            yield from _orders(shape.item, item)
    if not isinstance(node, yaml.MappingNode):
        return
    if isinstance(shape, IfKey):
        shape = shape.of([key.value for key, _ in node.value])
    if isinstance(shape, Record):
        yield id(node), tuple(shape.fields)
    for key, child in node.value:
        if isinstance(shape, MapOf):
            yield from _orders(shape.value, child)
        elif isinstance(shape, Record) and key.value in shape.fields:
            yield from _orders(shape.fields[key.value].shape, child)


def _underlying(shape: object) -> object:
    """The list, mapping or record that a shape reads with, if it does; of a text or a mapping the mapping."""
    if isinstance(shape, StepShape):
        return _underlying(STEP)
    if isinstance(shape, Later):
        return _underlying(shape.shape)
    if isinstance(shape, ByRole):
        return shape.record
    return _underlying(shape.mapping) if isinstance(shape, Either) else shape


def _in_order(entries: Sequence[Any], order: tuple[str, ...] | None) -> list[Any]:
    """Entries (key, value) as the order has them; keys that it does not know come last, as they were."""
    if order is None:
        return list(entries)
    place = {key: number for number, key in enumerate(order)}
    return sorted(entries, key=lambda entry: place.get(entry[0].value, len(place)))


# --- mappings in braces ---------------------------------------------------------------------------------------------


def _flows_ordered(text: str, shape: object) -> str:
    """The text with the entries of mappings in braces in order; the signs between them stay where they are."""
    root = _compose(text)
    orders = dict(_orders(shape, root))
    starts = [0, *(place.end() for place in re.finditer("\n", text))]

    def at(mark: Any) -> int:
        return int(starts[mark.line] + mark.column)

    flows = [node for node in _nodes(root) if isinstance(node, yaml.MappingNode) and node.flow_style]
    for node in sorted(flows, key=lambda node: -at(node.start_mark)):
        entries = _in_order(node.value, orders.get(id(node)))
        if [id(entry[0]) for entry in entries] == [id(entry[0]) for entry in node.value]:
            continue
        spans = [(at(key.start_mark), at(value.end_mark)) for key, value in node.value]
        between = [text[stop:start] for (_, stop), (start, _) in pairwise(spans)]
        if all(re.fullmatch(r"\s*,\s*", one) for one in between):
            parts = [text[at(key.start_mark) : at(value.end_mark)] for key, value in entries]
            pieces = [piece for pair in zip(parts, [*between, ""], strict=True) for piece in pair]
            text = text[: spans[0][0]] + "".join(pieces) + text[spans[-1][1] :]
    return text


def _nodes(node: Any) -> Iterator[Any]:
    yield node
    if isinstance(node, yaml.MappingNode):
        for key, value in node.value:
            yield from _nodes(key)
            yield from _nodes(value)
    elif isinstance(node, yaml.SequenceNode):
        for item in node.value:
            yield from _nodes(item)


# --- blocks ---------------------------------------------------------------------------------------------------------


def _laid_out(text: str, shape: object) -> str:
    root = _compose(text)
    layout = _Layout(text.rstrip().split("\n"), dict(_orders(shape, root)))
    return "\n".join(layout.whole(root))


class _Layout:
    """Writes the lines of blocks, each entry with the comments above it, at the column where it belongs."""

    def __init__(self, lines: list[str], orders: Orders) -> None:
        self.lines = lines
        self.orders = orders

    def whole(self, root: Any) -> list[str]:
        """All lines: what stands above the first key stays there."""
        if not _is_block(root) or not root.value:
            return self.lines
        first = root.start_mark.line
        return [*self._comments(0, first, 0), *self.block(root, first, len(self.lines), 0)]

    def block(self, node: Any, start: int, stop: int, column: int) -> list[str]:
        """The lines of a mapping or list from `start` to `stop`, so that it begins in `column`."""
        entries = node.value if isinstance(node, yaml.MappingNode) else [(item, item) for item in node.value]
        begins = self._begins(node, entries, start)
        pieces = {
            id(key): self._entry(node, (key, value), begin, end, column)
            for (key, value), begin, end in zip(entries, begins, [*begins[1:], stop], strict=True)
        }
        if isinstance(node, yaml.MappingNode):
            entries = _in_order(entries, self.orders.get(id(node)))
        return [line for key, _ in entries for line in pieces[id(key)]]

    def _begins(self, node: Any, entries: Sequence[Any], start: int) -> list[int]:
        """For each entry the line where it begins, with the comments and blank lines above that go with it."""
        begins = [start]
        own = node.start_mark.column
        for key, _ in entries[1:]:
            line = self._first_line(node, key)
            while line - 1 > begins[-1] and self._goes_with_below(line - 1, own):
                line -= 1
            begins.append(line)
        return begins

    def _first_line(self, node: Any, key: Any) -> int:
        """The line of a key, or of the dash before an item."""
        line = int(key.start_mark.line)
        if isinstance(node, yaml.SequenceNode):
            while self.lines[line][node.start_mark.column : node.start_mark.column + 1] != "-":
                line -= 1
        return line

    def _goes_with_below(self, line: int, column: int) -> bool:
        told = self.lines[line].strip()
        return not told or (told.startswith("#") and _indent(self.lines[line]) <= column)

    def _entry(self, node: Any, entry: tuple[Any, Any], begin: int, end: int, column: int) -> list[str]:
        key, value = entry
        line = self._first_line(node, key)
        above = self._comments(begin, line, column)
        if isinstance(node, yaml.SequenceNode):
            return [*above, *self._item(value, line, end, column)]
        written = " " * column + self.lines[line][key.start_mark.column :]
        return [*above, written, *self._below(value, line + 1, end, column, key.start_mark.column)]

    def _item(self, value: Any, line: int, end: int, column: int) -> list[str]:
        """An item of a list with its dash; comments that would come behind the dash go above it."""
        if not _is_block(value) or not value.value:
            text = self.lines[line]
            dash = text.index("-")
            return [" " * column + text[dash:], *self._tail(value, range(line + 1, end), column, dash)]
        inside = value.start_mark.column
        if value.start_mark.line == line:
            self.lines[line] = " " * inside + self.lines[line][inside:]
            inner = []
        else:
            beside = self.lines[line].replace("-", "", 1).strip()
            inner = [*([beside] if beside else []), *self._comments(line + 1, value.start_mark.line, 0)]
        block = self.block(value, value.start_mark.line, end, column + STEP_IN)
        count = next(number for number, one in enumerate(block) if one.strip() and not one.lstrip().startswith("#"))
        first = " " * column + "-" + " " * (STEP_IN - 1) + block[count].lstrip()
        above = [" " * column + one.lstrip() if one.strip() else one for one in [*inner, *block[:count]]]
        return [*above, first, *block[count + 1 :]]

    def _below(self, value: Any, start: int, end: int, column: int, was: int) -> list[str]:
        """The lines below a key."""
        if not _is_block(value) or not value.value:
            return self._tail(value, range(start, end), column, was)
        first = max(start, value.start_mark.line)
        inside = column + STEP_IN
        return [*self._comments(start, first, inside), *self.block(value, first, end, inside)]

    def _comments(self, start: int, stop: int, column: int) -> list[str]:
        """Comments and blank lines, at a column."""
        return [" " * column + line.strip() if line.strip() else "" for line in self.lines[start:stop]]

    def _tail(self, value: Any, lines: range, column: int, was: int) -> list[str]:
        """What goes on with a text, as far from its key as it was but never left of it; then comments."""
        literal = isinstance(value, yaml.ScalarNode) and value.style in ("|", ">")
        last = value.end_mark.line - (1 if literal else 0)
        found = []
        for number in lines:
            line = self.lines[number]
            moved = _indent(line) + column - was
            if number > last:
                moved = column if _indent(line) <= was else moved
            elif not literal:
                moved = max(moved, column + STEP_IN)
            found.append(" " * moved + line.lstrip(" ") if line.strip() else line)
        return found


def _is_block(node: Any) -> bool:
    return isinstance(node, yaml.CollectionNode) and not node.flow_style


def _indent(line: str) -> int:
    return len(line) - len(line.lstrip(" "))


# --- loose space ----------------------------------------------------------------------------------------------------


def _without_loose_space(text: str) -> str:
    """Without spaces at line ends, without more than one blank line at a time, and with one line end at the end.

    Within a text of several lines every line stays, in one that begins with | or > as it is.
    """
    literal, others = _inside_texts(text)
    kept: list[str] = []
    for number, line in enumerate(text.split("\n")):
        bare = line.rstrip()
        if number in literal or (number in others and bare.endswith("\\")):
            bare = line
        if bare or number in literal or number in others or (kept and kept[-1]):
            kept.append(bare)
    while kept and not kept[-1].strip():
        kept.pop()
    return "\n".join(kept) + "\n" if kept else ""


def _inside_texts(text: str) -> tuple[frozenset[int], frozenset[int]]:
    """The lines (from 0) of texts of several lines, but for each last one: of those with | or >, and of the others."""
    root = _compose(text)
    literal: set[int] = set()
    others: set[int] = set()
    for node in _nodes(root) if root else ():
        if isinstance(node, yaml.ScalarNode):
            lines = range(node.start_mark.line, node.end_mark.line)
            (literal if node.style in ("|", ">") else others).update(lines)
    return frozenset(literal), frozenset(others)
