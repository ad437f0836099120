"""YAML text to a tree of located nodes: the one loader of the project, always safe.

Cast: `read_tree(path, shown)` gives a `Text`, `Listing` or `Mapping`; every scalar stays the text as written (`no`,
`1.10`, `12:30`), and every node and key knows its line and column. Anchors, aliases, tags, duplicate keys, a second
document, a file that is too big, too deep or not UTF-8 are refused with a `BookError` that says what to write instead.
No object is ever constructed from a tag.
"""

from __future__ import annotations

import re
import stat
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from diagnose.book.files import Refuse
from diagnose.errors import BookError, Location

MOST_BYTES = 1_000_000
MOST_DEPTH = 40
UNSEEN = re.compile(
    "[^\t\n\r\x20-\x7e\xa0-\xac\xae-\u200a\u2010-\u2027\u202f-\u205f\u2070-\ud7ff"
    "\ue000-\ufefe\uff00-\ufffd\U00010000-\U0010ffff]"
)
"""What nobody sees: controls, soft hyphens, zero-width and direction marks, and what no Unicode text may hold."""


@dataclass(slots=True)
class Text:
    """A scalar, as written."""

    value: str
    where: Location
    quoted: bool = False


@dataclass(slots=True)
class Listing:
    """A sequence."""

    items: list[Node]
    where: Location


@dataclass(slots=True)
class Mapping:
    """A mapping: `items` by key in the order written, `keys` says where each key stands."""

    items: dict[str, Node]
    where: Location
    keys: dict[str, Location] = field(default_factory=dict)


Node = Text | Listing | Mapping


def read_tree(path: Path, shown: str, refuse: Refuse | None = None) -> Node | None:
    """Read one YAML file; `shown` is the file's name in messages.

    Args:
        path: the file.
        shown: its name in messages.
        refuse: takes duplicate keys, anchors and tags, so that the rest is still read; raised as well when None.

    Returns:
        The root node, or None for a file with nothing in it.

    Raises:
        BookError: what is wrong, with line and column.
    """
    return parse(read_text(path, shown), shown, refuse)


def read_text(path: Path, shown: str) -> str:
    """The file's text. Raises BookError when it is missing, not readable, too big or not UTF-8."""
    raw = _read_bytes(path, Location(shown, 1, 1))
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError as why:
        line = raw.count(b"\n", 0, why.start) + 1
        column = len(raw[raw.rfind(b"\n", 0, why.start) + 1 : why.start].decode("utf-8-sig")) + 1
        raise BookError(
            "file.not-utf8",
            "the file is not UTF-8 text; the first byte that is not stands here",
            Location(shown, line, column),
            "Save it as UTF-8 in your editor.",
        ) from None


def _read_bytes(path: Path, place: Location) -> bytes:
    """At most MOST_BYTES; a pipe or device, which might never end, is not opened."""
    try:
        mode = path.stat().st_mode
        if stat.S_ISDIR(mode):
            raise BookError("file.folder", "this is a folder, not a file", place, "Name a .yaml file.")
        if not stat.S_ISREG(mode):
            raise BookError("file.special", "this is no ordinary file", place, "Name a .yaml file.")
        with path.open("rb") as file:
            raw = file.read(MOST_BYTES + 1)
    except FileNotFoundError:
        raise BookError("file.missing", "there is no such file", place, "Check the path.") from None
    except (OSError, ValueError) as why:
        reason = getattr(why, "strerror", None) or str(why)
        raise BookError("file.unreadable", f"cannot be read: {reason}", place, "Check the file's rights.") from None
    if len(raw) > MOST_BYTES:
        message = f"the file has more than the {MOST_BYTES:,} bytes that a file here may have"
        raise BookError("file.too-big", message, place, "Split it: one file a cause or a case.")
    return raw


def parse(text: str, shown: str, refuse: Refuse | None = None) -> Node | None:
    """Parse YAML text into a tree. Raises BookError as `read_tree` does."""
    import yaml

    unseen = UNSEEN.search(text)
    if unseen:
        before = text[: unseen.start()]
        place = Location(shown, before.count("\n") + 1, len(before) - (before.rfind("\n") + 1) + 1)
        message = f"a control character or invisible sign (U+{ord(unseen[0]):04X}) stands here"
        raise BookError("yaml.character", message, place, "Delete it, or type the word again by hand.")
    loader: Any = getattr(yaml, "CBaseLoader", yaml.BaseLoader)
    try:
        return _Composer(shown, refuse).compose(loader(text))
    except yaml.MarkedYAMLError as why:
        raise _broken(why, text, shown) from None
    except (yaml.YAMLError, RecursionError) as why:
        message = f"this is not valid YAML: {why}"
        raise BookError("yaml.broken", message, Location(shown, 1, 1), "Write it anew.") from None


_IN_PLAIN_WORDS: tuple[tuple[str, str, str], ...] = (
    (
        "node content",
        "a value is missing here, or a bracket before it is not closed",
        "Write it, or close the bracket.",
    ),
    (
        "mapping values are not allowed",
        "a second colon in one line, or a line that stands too far to the right",
        'A text with ": " in it needs quotes.',
    ),
    ("expected ':'", "a line without a colon", "Write `key: value`; a text that runs on stands further right."),
    ("cannot start any token", "a text cannot begin with this sign", "Put the text into quotes."),
    ("expected alphabetic or numeric", "a text cannot begin with this sign", "Put the text into quotes."),
    (
        "quoted scalar",
        "a quote opens here and is never closed",
        "Close it; a quote inside a text in the same quotes is written twice.",
    ),
    (
        "flow mapping",
        "the bracket { that opens here is not closed",
        "Close it; a text that begins with { needs quotes.",
    ),
    (
        "flow sequence",
        "the bracket [ that opens here is not closed",
        "Close it; a text that begins with [ needs quotes.",
    ),
    (
        "block",
        "this does not fit here: another column than its neighbours, or a quotation mark before it missing or too many",
        "Lines of one block begin in the same column; a text in quotes has a mark at both ends.",
    ),
)
"""Part of a parser's complaint (problem or context), what it means, what to write."""


_CURLY = re.compile(r"(?:^|[:\-\[{,]\s)\s*([\u201c\u201d\u201e])")
_NO_BREAK = re.compile("[\u00a0\u202f]")
_COLON_AND_WORD = re.compile(r"(\s*(?:- )?[\w-]+:)(\S.*)")
_BRACKET_THEN_TEXT = re.compile(r":\s+(\{[^{}]*\}|\[[^\[\]]*\])\s*[^\s#,}\]]")


def _broken(why: Any, text: str, shown: str) -> BookError:
    """A parser's complaint in plain words; where something opened and never closed, the place where it opened."""
    problem, context = str(why.problem or why), str(why.context or "")
    opened = why.context_mark is not None and any(word in context for word in ("quoted", "flow", "simple key"))
    mark = why.context_mark if opened else why.problem_mark or why.context_mark
    place = Location(shown, mark.line + 1, mark.column + 1) if mark else Location(shown, 1, 1)
    line = text.split("\n")[mark.line] if mark and mark.line < text.count("\n") + 1 else ""
    if "\t" in line and ("token" in problem or "tab" in problem):
        return BookError("yaml.tab", "a tab where YAML wants spaces", place, "Indent with spaces.")
    if "nesting depth" in problem:
        return _too_deep(place)
    if line and (slip := _of_the_line(line, mark.column, problem)):
        column, message, hint = slip
        return BookError("yaml.broken", message, Location(shown, mark.line + 1, column + 1), hint)
    for part, message, hint in _IN_PLAIN_WORDS:
        if part in problem or part in context:
            return BookError("yaml.broken", message, place, hint)
    hint = "Look at the indentation, the colon and the quotes here."
    return BookError("yaml.broken", f"this is not valid YAML: {problem}", place, hint)


def _of_the_line(line: str, column: int, problem: str) -> tuple[int, str, str] | None:
    """What is plain to see in the line that a parser stumbles over: the column, what it is, what to write."""
    if _BRACKET_THEN_TEXT.search(line):
        return column, "a text cannot begin with a bracket", "Put the whole text into quotes."
    if line[column : column + 1] == "%" and "cannot start any token" in problem:
        return column, "the sign % stands without quotes", 'Write "%".'
    if found := _CURLY.search(line):
        return found.start(1), f"a curly quotation mark {found[1]}, which quotes nothing here", 'Write ".'
    if found := _NO_BREAK.search(line):
        return found.start(), "a no-break space, which only looks like a blank", "Type the blank again."
    if "expected ':'" in problem and (found := _COLON_AND_WORD.match(line)):
        return found.end(1), "a colon without a blank behind it", f"Write `{found[1].strip()} {found[2].strip()}`."
    return None


def _too_deep(place: Location) -> BookError:
    return BookError("yaml.deep", f"nested deeper than {MOST_DEPTH} levels", place, "Write it flatter.")


class _Composer:
    """Builds the tree from parser events without recursion."""

    def __init__(self, shown: str, refuse: Refuse | None) -> None:
        self.shown = shown
        self.refuse = refuse
        self.root: Node | None = None
        self.documents = 0
        self.stack: list[tuple[Node, list[tuple[str | None, Location]]]] = []

    def compose(self, parser: Any) -> Node | None:
        try:
            event = parser.get_event()
            while event is not None:
                self.take(type(event).__name__, event)
                event = parser.get_event()
        finally:
            parser.dispose()
        return self.root

    def place(self, event: Any) -> Location:
        return Location(self.shown, event.start_mark.line + 1, event.start_mark.column + 1)

    def take(self, kind: str, event: Any) -> None:
        if kind == "ScalarEvent":
            self.refuse_extras(event)
            self.add(Text(event.value, self.place(event), event.style in ("'", '"', "|", ">")))
        elif kind == "MappingStartEvent":
            self.refuse_extras(event)
            self.open(Mapping({}, self.place(event)))
        elif kind == "SequenceStartEvent":
            self.refuse_extras(event)
            self.open(Listing([], self.place(event)))
        elif kind in ("MappingEndEvent", "SequenceEndEvent"):
            node, _ = self.stack.pop()
            self.add(node)
        elif kind == "AliasEvent":
            hint = "Write it out; a text that begins with * needs quotes."
            raise BookError("yaml.alias", f"an alias (*{event.anchor}) is not allowed here", self.place(event), hint)
        elif kind == "DocumentStartEvent":
            self.documents += 1
            if self.documents > 1:
                message = "a second document begins here (---); a file holds one"
                raise BookError("yaml.documents", message, self.place(event), "Delete the '---' or split the file.")

    def refuse_extras(self, event: Any) -> None:
        if event.anchor is not None:
            message = f"an anchor (&{event.anchor}) is not allowed here"
            self.tell(BookError("yaml.anchor", message, self.place(event), "Delete it and write things out."))
        if event.tag not in (None, "!"):
            message = f"a tag ({event.tag.replace('tag:yaml.org,2002:', '!!')}) is not allowed here"
            hint = "Delete the tag; everything is read as text. A text that begins with ! needs quotes."
            self.tell(BookError("yaml.tag", message, self.place(event), hint))

    def tell(self, why: BookError) -> None:
        if self.refuse is None:
            raise why
        self.refuse(why)

    def open(self, node: Node) -> None:
        if len(self.stack) >= MOST_DEPTH:
            raise _too_deep(node.where)
        self.stack.append((node, []))

    def add(self, node: Node) -> None:
        if not self.stack:
            self.root = None if isinstance(node, Text) and node.value == "" and not node.quoted else node
            return
        parent, pending = self.stack[-1]
        if isinstance(parent, Listing):
            parent.items.append(node)
        elif isinstance(parent, Mapping):
            self.add_to_mapping(parent, pending, node)

    def add_to_mapping(self, parent: Mapping, pending: list[tuple[str | None, Location]], node: Node) -> None:
        if pending:
            key, place = pending.pop()
            if key is not None:
                parent.items[key] = node
                parent.keys[key] = place
        elif not isinstance(node, Text):
            hint = "Write `key: value`; a text that begins with { or [ needs quotes."
            raise BookError("yaml.key", "a list or a mapping where a key is wanted", node.where, hint)
        elif node.value in parent.keys:
            message = f"the key '{node.value}' stands here twice (first in line {parent.keys[node.value].line})"
            self.tell(BookError("yaml.duplicate", message, node.where, "Keep one of the two."))
            pending.append((None, node.where))
        else:
            pending.append((node.value, node.where))
