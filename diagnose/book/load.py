"""A folder of rules to a checked `Book`.

Cast: `read_book(folder)` gives the book, if it can be used, and all problems; `shelf.load_book` gives it or raises, by
way of the cache. Two passes: the first collects every id with its place, so that the second can say of an
unknown one what is nearest. What cannot be read is left out and the rest is checked all the same, so that one bad file
hides nothing.
"""

from __future__ import annotations

from collections import defaultdict
from pathlib import Path
from typing import Any, NamedTuple

from diagnose.book.files import ENDINGS, fingerprint, rule_files
from diagnose.book.model import Book, Cause, Constants, Fix, Row
from diagnose.book.problems import Problem, Problems
from diagnose.book.schema import READERS, SHAPES, read_constants
from diagnose.book.schema_base import one_by_one
from diagnose.book.schema_causes import read_cause, read_shows
from diagnose.book.shape import RESERVED, MapOf, Reader, Shape, well_formed
from diagnose.book.tree import Listing, Mapping, Node, Text, read_tree
from diagnose.errors import BookError, Location

NO_CONSTANTS = Constants("", "", "", 0, 0, 0, 0, {}, {}, 0, 0, 0, 0)
"""Stands for those of a book.yaml that cannot be read, so that the rest is checked; such a book is never handed out."""


class Source(NamedTuple):
    """One file of a book: where it is, how it is shown, and what it holds by its name (see `_kind`)."""

    path: Path
    shown: str
    kind: str | None

    @classmethod
    def of(cls, folder: Path, path: Path) -> Source:
        """The source of a file below the book's folder."""
        return cls(path, path.as_posix(), _kind(path.relative_to(folder)))


Trees = dict[Source, Mapping]
"""What stands in each file that could be read."""


class Reading(NamedTuple):
    """What came of reading a folder: the book (None when it cannot be used), its files, and every problem by place."""

    book: Book | None
    trees: Trees
    problems: tuple[Problem, ...]


def read_book(folder: Path) -> tuple[Book | None, tuple[Problem, ...]]:
    """Read and check a folder of rules.

    Returns:
        The book (None when it cannot be used) and every problem, sorted by place.

    Raises:
        BookError: the folder itself cannot be read.
    """
    book, _, problems = read_folder(folder)
    return book, problems


def read_folder(folder: Path) -> Reading:
    """Read a folder of rules as `read_book` does, and keep what stands in its files."""
    from diagnose.book.checks import check_book

    problems = Problems()
    files = rule_files(folder, problems.take)
    sources = [Source.of(folder, path) for path in files]
    trees = _read_trees(sources, problems)
    reader = Reader(problems)
    _collect_ids(trees, reader)
    for source in sources:
        if source not in trees:
            reader.unsure.update(_kinds_in(source.path))
    _require_constants(folder, sources, problems)
    book = _assemble(trees, reader, fingerprint(folder, files))
    check_book(book, problems)
    return Reading(None if problems.errors else book, trees, problems.sorted())


def shape_of(kind: str) -> Shape:
    """The shape of a whole file by what it holds, see `Source.kind`."""
    return SHAPES[kind] if kind in SHAPES else MapOf((), SHAPES[READERS[kind][0]])


def _kind(path: Path) -> str | None:
    """What a file holds: a name out of READERS, `cause`, `book`, or None where it has no place in a book."""
    if path.suffix != ENDINGS[0]:
        return None
    if path.parent.name == "causes":
        return "cause"
    if path.as_posix() == "book.yaml":
        return "book"
    return path.name if path.name in READERS else None


def _kinds_in(path: Path) -> tuple[str, ...]:
    """The kinds of things that a file by this name would hold, whatever the ending of its name."""
    name = f"{path.stem.lower()}{ENDINGS[0]}"
    if path.parent.name == "causes":
        return ("cause", "fix")
    if name == "findings.yaml":
        return ("finding", "check")
    return (READERS[name][0],) if name in READERS else ()


def _read_trees(sources: list[Source], problems: Problems) -> Trees:
    trees: Trees = {}
    for source in sources:
        shown = source.shown
        if source.kind is None:
            _refuse_name(source, problems)
            continue
        try:
            node = read_tree(source.path, shown, problems.take)
        except BookError as why:
            problems.take(why)
            continue
        if node is None:
            problems.error("file.empty", Location(shown, 1, 1), "the file is empty", "Fill it or delete it.")
        elif not isinstance(node, Mapping):
            hint = "Copy a neighbouring file and change it."
            problems.error("type.wrong", node.where, "a file holds lines of `key: value`", hint)
        else:
            trees[source] = node
    return trees


def _refuse_name(source: Source, problems: Problems) -> None:
    path = source.path
    if path.suffix != ENDINGS[0]:
        message, hint = "the name of a rule file ends in .yaml", f"Call it {path.stem}.yaml."
    elif path.name == "book.yaml":
        message, hint = "book.yaml stands in the top folder only", "Move it there or delete it."
    else:
        message = "a file of this name has no place in a book"
        hint = "A cause goes into a folder named causes; the other files are called " + ", ".join(READERS) + "."
    problems.error("file.unknown", Location(source.shown, 1, 1), message, hint)


def _collect_ids(trees: Trees, reader: Reader) -> None:
    """First pass: every id with its place, and the values of facts, findings and conclusions."""
    for kind in ("check", "fix", "cause", *(kind for kind, _ in READERS.values())):
        reader.known[kind] = {}
    for source, node in trees.items():
        if source.kind == "cause":
            _note_id("cause", source.path.stem, Location(source.shown, 1, 1), reader)
            _note_former_names(source.path.stem, node, reader)
            _note_fixes(node, reader)
        elif source.kind in READERS:
            _note_entries(READERS[source.kind][0], node, reader)
    for former, name in reader.formerly.items():
        for kind, ids in reader.known.items():
            if former in ids:
                message = f"'{former}' is a {kind}, and '{name}' says that it was called so"
                reader.problems.error("id.twice", ids[former], message, "An id is never used again: choose another.")


def ids_and_values(trees: Trees) -> tuple[dict[str, dict[str, Location]], dict[str, tuple[str, ...]]]:
    """Every id by kind with its place, and the values of facts, findings and conclusions, whatever else is wrong."""
    reader = Reader(Problems())
    _collect_ids(trees, reader)
    return reader.known, reader.values


def _note_entries(kind: str, node: Mapping, reader: Reader) -> None:
    for name, child in node.items.items():
        _note_id(kind, name, node.keys[name], reader)
        if not isinstance(child, Mapping):
            continue
        _note_former_names(name, child, reader)
        values = child.items.get("values")
        if isinstance(values, Mapping):
            reader.values[name] = tuple(values.items)
        checks = child.items.get("checks")
        if kind == "finding" and isinstance(checks, Mapping):
            for check, told in checks.items.items():
                _note_id("check", check, checks.keys[check], reader)
                _note_former_names(check, told, reader)


def _note_fixes(cause: Mapping, reader: Reader) -> None:
    ladder = cause.items.get("ladder")
    rungs = ladder.items if isinstance(ladder, Listing) else [ladder] if isinstance(ladder, Mapping) else []
    for rung in rungs:
        fix = rung.items.get("fix") if isinstance(rung, Mapping) else None
        if isinstance(fix, Text):
            _note_id("fix", fix.value, fix.where, reader)
            _note_former_names(fix.value, rung, reader)


def _note_former_names(name: str, node: Node, reader: Reader) -> None:
    """What a renamed thing was called; where that is badly written, the second pass says so."""
    formerly = node.items.get("formerly") if isinstance(node, Mapping) else None
    for former in one_by_one(formerly) if formerly else ():
        other = reader.formerly.setdefault(former.value, name)
        if other != name:
            message = f"'{former.value}' is said to be the former name of '{other}' too"
            reader.problems.error("id.twice", former.where, message, "Keep one of the two.")


_SHARED_NAMES = ("tool", "part", "caution", "jargon")
"""Kinds whose ids live in lists of their own and may repeat an id of another kind."""


def _note_id(kind: str, name: str, where: Location, reader: Reader) -> None:
    if name in RESERVED:
        message = f"'{name}' has a meaning of its own and cannot be an id"
        reader.problems.error("id.reserved", where, message, "Choose another word.")
    else:
        well_formed(name, where, reader)
    for other, ids in reader.known.items():
        separate = other != kind and (other in _SHARED_NAMES or kind in _SHARED_NAMES)
        if name in ids and not separate:
            message = f"the {kind} '{name}' stands twice: there is a {other} of this name at {ids[name]}"
            reader.problems.error("id.twice", where, message, "Rename one of them.")
            return
    reader.known[kind][name] = where


def _assemble(trees: Trees, reader: Reader, mark: str) -> Book:
    """Second pass: every entry to its object; what cannot be read is missing from the book."""
    made: dict[str, dict[str, Any]] = defaultdict(dict)
    constants: Constants | None = None
    for source, node in trees.items():
        if source.kind == "book":
            constants = read_constants(node, reader)
        elif source.kind in READERS:
            what, read = READERS[source.kind]
            for name, child in node.items.items():
                value = read(name, child, reader)
                if value is not None:
                    made[what][name] = value
    causes = [(source.path.stem, node) for source, node in trees.items() if source.kind == "cause"]
    _read_causes(causes, made, reader)
    return _bind(made, constants or NO_CONSTANTS, mark, reader.formerly)


def _require_constants(folder: Path, sources: list[Source], problems: Problems) -> None:
    if not any(source.kind == "book" for source in sources):
        hint = "A rule book has a book.yaml in its top folder, with its name and its constants."
        place = Location((folder / "book.yaml").as_posix(), 1, 1)
        problems.error("book.constants", place, "there is no book.yaml", hint)


def _read_causes(causes: list[tuple[str, Mapping]], made: dict[str, dict[str, Any]], reader: Reader) -> None:
    rows: dict[str, tuple[tuple[str, ...], Row]] = {
        name: (tuple(finding.values), finding.otherwise) for name, finding in made["finding"].items()
    }
    for name, node in causes:
        shows = read_shows(node, rows, reader)
        got = read_cause(name, node, reader)
        if got:
            cause, fixes = got
            made["cause"][name] = _with_shows(cause, shows)
            made["fix"].update({fix.id: fix for fix in fixes})


def _with_shows(cause: Cause, shows: dict[str, Row]) -> Cause:
    return cause._replace(shows=shows)


def _bind(made: dict[str, dict[str, Any]], constants: Constants, mark: str, formerly: dict[str, str]) -> Book:
    fixes: dict[str, Fix] = made["fix"]
    return Book(
        fingerprint=mark,
        constants=constants,
        facts=made["fact"],
        words=made["conclusion"],
        teardowns=made["teardown"],
        receivers=made["hand-off"],
        tools=made["tool"],
        parts=made["part"],
        cautions=made["caution"],
        limits=made["limit"],
        complaints=made["complaint"],
        findings=made["finding"],
        causes=made["cause"],
        fixes=fixes,
        deductions=made["deduction"],
        formerly=dict(formerly),
        jargon=made["jargon"],
    )
