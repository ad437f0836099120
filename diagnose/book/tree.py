"""YAML text to a tree of located nodes: the one loader of the project, always safe.

Cast: `read_tree(path, shown)` gives a `Text`, `Listing` or `Mapping`; every scalar stays the text as written (`no`, `1.10`, `12:30`),
and every node and key knows its line and column. Aliases, tags, duplicate keys, a second document, a file that is too big, too deep
or not UTF-8 are refused with a `BookError` that says what to write instead. No object is ever constructed from a tag.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from diagnose.errors import BookError, Location

MOST_BYTES = 1_000_000
MOST_DEPTH = 40


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


def read_tree(path: Path, shown: str) -> Node | None:
    """Read one YAML file; `shown` is the file's name in messages.

    Returns:
        The root node, or None for a file with nothing in it.

    Raises:
        BookError: what is wrong, with line and column.
    """
    return parse(read_text(path, shown), shown)


def read_text(path: Path, shown: str) -> str:
    """The file's text. Raises BookError when it is missing, not readable, too big or not UTF-8."""
    place = Location(shown)
    try:
        if path.is_dir():
            raise BookError("file.folder", "this is a folder, not a file", place, "Name a .yaml file.")
        size = path.stat().st_size
        if size > MOST_BYTES:
            raise BookError(
                "file.too-big",
                f"the file has {size:,} bytes, more than the {MOST_BYTES:,} that a file here may have",
                place,
                "Split it: one file a cause or a case.",
            )
        raw = path.read_bytes()
    except FileNotFoundError:
        raise BookError("file.missing", "there is no such file", place, "Check the path.") from None
    except OSError as why:
        reason = why.strerror or str(why)
        raise BookError(
            "file.unreadable", f"cannot be read: {reason}", place, "Check the rights of the file."
        ) from None
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError as why:
        line = raw.count(b"\n", 0, why.start) + 1
        column = why.start - (raw.rfind(b"\n", 0, why.start) + 1) + 1
        raise BookError(
            "file.not-utf8", "the file is not UTF-8 text", Location(shown, line, column), "Save it as UTF-8."
        ) from None


def parse(text: str, shown: str) -> Node | None:
    """Parse YAML text into a tree. Raises BookError as `read_tree` does."""
    import yaml

    loader: Any = getattr(yaml, "CBaseLoader", yaml.BaseLoader)
    try:
        return _Composer(shown).compose(yaml.parse(text, Loader=loader))
    except yaml.MarkedYAMLError as why:
        raise _broken(why, text, shown) from None
    except yaml.reader.ReaderError as why:
        before = text[: why.position]
        place = Location(shown, before.count("\n") + 1, len(before) - (before.rfind("\n") + 1) + 1)
        raise BookError(
            "yaml.character", "a control character that YAML does not allow", place, "Delete the character."
        ) from None


def _broken(why: Any, text: str, shown: str) -> BookError:
    """A parser's complaint in plain words."""
    mark = why.problem_mark or why.context_mark
    place = Location(shown, mark.line + 1, mark.column + 1) if mark else Location(shown)
    problem = str(why.problem or why)
    line = text.split("\n")[mark.line] if mark and mark.line < text.count("\n") + 1 else ""
    if "\t" in line and ("token" in problem or "tab" in problem):
        return BookError("yaml.tab", "a tab where YAML wants spaces", place, "Indent with spaces.")
    hint = "Look at the indentation, the colon and the quotes here; a text with ': ' or '#' in it needs quotes."
    return BookError("yaml.broken", f"this is not valid YAML: {problem}", place, hint)


class _Composer:
    """Builds the tree from parser events without recursion."""

    def __init__(self, shown: str) -> None:
        self.shown = shown
        self.root: Node | None = None
        self.documents = 0
        self.stack: list[tuple[Node, list[tuple[str, Location]]]] = []

    def compose(self, events: Any) -> Node | None:
        for event in events:
            self.take(type(event).__name__, event)
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
            raise BookError("yaml.alias", "an alias (*name) is not allowed here", self.place(event), "Write it out.")
        elif kind == "DocumentStartEvent":
            self.documents += 1
            if self.documents > 1:
                message = "a second document begins here; a file holds one"
                raise BookError("yaml.documents", message, self.place(event), "Delete the '---' or split the file.")

    def refuse_extras(self, event: Any) -> None:
        if event.anchor is not None:
            message = f"an anchor (&{event.anchor}) is not allowed here"
            raise BookError("yaml.anchor", message, self.place(event), "Delete it and write things out.")
        if event.tag not in (None, "!"):
            message = f"a tag ({event.tag}) is not allowed here"
            raise BookError("yaml.tag", message, self.place(event), "Delete the tag; everything is read as text.")

    def open(self, node: Node) -> None:
        if len(self.stack) >= MOST_DEPTH:
            raise BookError("yaml.deep", f"nested deeper than {MOST_DEPTH} levels", node.where, "Flatten it.")
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

    def add_to_mapping(self, parent: Mapping, pending: list[tuple[str, Location]], node: Node) -> None:
        if not pending:
            if not isinstance(node, Text):
                raise BookError("yaml.key", "a key must be a word", node.where, "Write `key: value`.")
            if node.value in parent.keys:
                first = parent.keys[node.value]
                message = f"the key '{node.value}' stands here twice (first in line {first.line})"
                raise BookError("yaml.duplicate", message, node.where, "Keep one of the two.")
            pending.append((node.value, node.where))
            return
        key, place = pending.pop()
        parent.items[key] = node
        parent.keys[key] = place
