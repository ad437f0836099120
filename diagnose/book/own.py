"""Own folders beside a book: what they add gets their name before its id, what they replace keeps the book's id.

Cast: `Own` is one folder as it is taken in; `take_in(trees, own, ...)` joins its files to those that are there already.
A folder changes the book only where an entry says `replaces:`, or `adds_to:` for a rider's sentences; an id that the
book has too is an error otherwise.

In an own folder an id without a folder's name is its own, else the book's. What replaces another has that one's name;
a cause that is replaced takes the fixes told in its file along, a finding its checks.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import NamedTuple

from diagnose.book.files import ENDINGS
from diagnose.book.problems import Problems, nearest
from diagnose.book.schema import READERS
from diagnose.book.shape import bare, qualified
from diagnose.book.tree import Listing, Mapping, Node, Text
from diagnose.errors import Location

SHARED_NAMES = ("tool", "part", "caution", "jargon")
"""Kinds whose ids live in lists of their own and may repeat an id of another kind."""


class Source(NamedTuple):
    """One file of a book.

    Attributes:
        path: where it is.
        shown: how it is shown.
        kind: what it holds by its name (see `kind_of`).
        book: the own folder that it is of; empty: the book itself.
        id: of a cause's file the cause's id.
    """

    path: Path
    shown: str
    kind: str | None
    book: str = ""
    id: str = ""

    @classmethod
    def of(cls, folder: Path, path: Path) -> Source:
        """The source of a file below the book's folder."""
        return cls(path, path.as_posix(), kind_of(path.relative_to(folder)), "", path.stem)


Trees = dict[Source, Mapping]
"""What stands in each file that could be read."""


def kind_of(path: Path) -> str | None:
    """What a file holds: a name out of READERS, `cause`, `book`, or None where it has no place in a book."""
    if path.suffix != ENDINGS[0]:
        return None
    if path.parent.name == "causes":
        return "cause"
    if path.as_posix() == "book.yaml":
        return "book"
    return path.name if path.name in READERS else None


class Part(NamedTuple):
    """A check told within a finding, or a fix within a cause: where its id stands, and the word where it is one."""

    kind: str
    id: str
    where: Location
    word: Text | None


class Entry(NamedTuple):
    """One entry of a file: what it is, its id, where the id stands, and what stands under it."""

    kind: str
    id: str
    where: Location
    node: Node
    source: Source

    def parts(self) -> Iterator[Part]:
        """The checks or fixes that are told within it."""
        items = self.node.items if isinstance(self.node, Mapping) else {}
        checks, ladder = items.get("checks"), items.get("ladder")
        if self.kind == "finding" and isinstance(checks, Mapping):
            yield from (Part("check", name, where, None) for name, where in checks.keys.items())
        if self.kind == "cause":
            for rung in ladder.items if isinstance(ladder, Listing) else [ladder]:
                fix = rung.items.get("fix") if isinstance(rung, Mapping) else None
                if isinstance(fix, Text):
                    yield Part("fix", fix.value, fix.where, fix)


def entries_of(trees: Trees) -> Iterator[Entry]:
    """Every entry of the files."""
    for source, node in trees.items():
        if source.kind == "cause":
            yield Entry("cause", source.id, Location(source.shown, 1, 1), node, source)
        elif source.kind in READERS:
            kind = READERS[source.kind][0]
            for name, child in node.items.items():
                yield Entry(kind, name, node.keys[name], child, source)


@dataclass
class Own:
    """An own folder: its id, its files, what it takes over (id there to whose it was), what it adds to complaints."""

    id: str
    trees: Trees
    taken: dict[str, str] = field(default_factory=dict)
    sayings: dict[str, Node] = field(default_factory=dict)


def take_in(trees: Trees, own: Own, base: str, problems: Problems) -> Trees:
    """The files of a book joined by those of an own folder, with the ids as they are then.

    Args:
        trees: the files so far, the book's own and those of other own folders.
        own: the folder; `taken` and `sayings` are filled.
        base: the id of the book itself.
        problems: takes what would change the book by accident.
    """
    there = list(entries_of(trees))
    _set_aside_sayings(own, there, base, problems)
    gone = [target for entry in entries_of(own.trees) if (target := _target(entry, there, base, problems)) is not None]
    for entry in gone:
        own.taken[bare(entry.id)] = entry.id
        own.taken.update({bare(part.id): part.id for part in entry.parts()})
    kept = _without(trees, gone)
    _refuse_clashes(kept, own, base, problems)
    return {**kept, **_renamed(own)}


def _set_aside_sayings(own: Own, there: list[Entry], base: str, problems: Problems) -> None:
    """Take out the entries that add sentences to a complaint that is there, and keep them by that one's id."""
    adding = [entry for entry in entries_of(own.trees) if entry.kind == "complaint" and _adds_to(entry)]
    own.trees = _without(own.trees, adding)
    complaints = [one.id for one in there if one.kind == "complaint"]
    for entry in adding:
        told = _adds_to(entry)
        if told is None:
            continue
        wanted = told.value.strip().removeprefix(f"{base}:")
        if wanted not in complaints:
            message = f"there is no complaint '{told.value}' to add sentences to"
            hint = nearest(wanted, complaints) or "Take the line out to make it a complaint of its own."
            problems.error("adds.unknown", told.where, message, hint)
        elif bare(wanted) != entry.id:
            message = f"'{entry.id}' would add to '{wanted}' under another name"
            problems.error("adds.name", told.where, message, f"Call it {bare(wanted)}.")
        else:
            own.sayings[wanted] = entry.node


def _adds_to(entry: Entry) -> Text | None:
    told = entry.node.items.get("adds_to") if isinstance(entry.node, Mapping) else None
    return told if isinstance(told, Text) else None


def _target(entry: Entry, there: list[Entry], base: str, problems: Problems) -> Entry | None:
    """What an entry replaces; None where it replaces nothing, or says so wrongly."""
    told = entry.node.items.get("replaces") if isinstance(entry.node, Mapping) else None
    if not isinstance(told, Text):
        return None
    wanted = told.value.strip().removeprefix(f"{base}:")
    same = [one for one in there if one.kind == entry.kind]
    target = next((one for one in same if one.id == wanted), None)
    if target is None:
        message = f"there is no {entry.kind} '{told.value}' to be replaced"
        problems.error(
            "replaces.unknown",
            told.where,
            message,
            nearest(wanted, [one.id for one in same]) or "Take the line out to add it beside what is there.",
        )
    elif bare(wanted) != entry.id:
        where = "name the file" if entry.kind == "cause" else "call it"
        message = f"'{entry.id}' would take the place of '{wanted}' under another name"
        hint = f"What replaces another has its name: {where} {bare(wanted)}{'.yaml' if entry.kind == 'cause' else ''}."
        problems.error("replaces.name", told.where, message, hint)
        return None
    elif target.source.book and ":" not in target.id:
        message = f"'{wanted}' is replaced already, by the folder '{target.source.book}'"
        problems.error("replaces.twice", told.where, message, "Keep one of the two.")
        return None
    return target


def _without(trees: Trees, gone: list[Entry]) -> Trees:
    """The files without these entries."""
    kept: Trees = {}
    for source, node in trees.items():
        names = {entry.id for entry in gone if entry.source == source}
        if source.kind == "cause" and names:
            continue
        items = {key: child for key, child in node.items.items() if key not in names}
        kept[source] = Mapping(items, node.where, {key: node.keys[key] for key in items}) if names else node
    return kept


def _refuse_clashes(kept: Trees, own: Own, base: str, problems: Problems) -> None:
    """What the folder names like a thing of the book, without saying that it replaces it."""
    there = {
        (_list_of(kind), name): (kind, where)
        for entry in entries_of(kept)
        if not entry.source.book
        for kind, name, where in _defined(entry)
    }
    for entry in entries_of(own.trees):
        for kind, name, where in _defined(entry):
            found = there.get((_list_of(kind), name))
            if found is None or name in own.taken:
                continue
            other, place = found
            message = f"'{name}' is a {other} of the book '{base}' too, at {place}"
            hint = "Give it another id."
            if kind == other:
                hint = "Delete it here to use the book's, give it another id, or say "
                hint += f"`replaces: {name}` if it is to take that one's place."
            problems.error("id.clash", where, message, hint)


def _defined(entry: Entry) -> Iterator[tuple[str, str, Location]]:
    """Kind, id and place of all that an entry defines."""
    yield entry.kind, entry.id, entry.where
    yield from ((part.kind, part.id, part.where) for part in entry.parts())


def _list_of(kind: str) -> str:
    """The list in which an id of this kind may stand but once."""
    return kind if kind in SHARED_NAMES else ""


def _renamed(own: Own) -> Trees:
    """The folder's files with the final ids of all that they define."""
    final: Trees = {}
    for source, node in own.trees.items():
        mine = source._replace(book=own.id, id=_final(own, source.id))
        for entry in entries_of({source: node}):
            _rename_parts(entry, own)
        final[mine] = node if source.kind not in READERS else _with_keys(node, own)
    return final


def _rename_parts(entry: Entry, own: Own) -> None:
    for part in list(entry.parts()):
        if part.word:
            part.word.value = _final(own, part.id)
    checks = entry.node.items.get("checks") if isinstance(entry.node, Mapping) else None
    if entry.kind == "finding" and isinstance(checks, Mapping) and isinstance(entry.node, Mapping):
        entry.node.items["checks"] = _with_keys(checks, own)


def _with_keys(node: Mapping, own: Own) -> Mapping:
    keys = {name: _final(own, name) for name in node.items}
    return Mapping(
        {keys[name]: child for name, child in node.items.items()},
        node.where,
        {keys[name]: where for name, where in node.keys.items()},
    )


def _final(own: Own, name: str) -> str:
    return own.taken.get(name, qualified(own.id, name))
