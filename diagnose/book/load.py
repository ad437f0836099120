"""A folder of rules to a checked `Book`.

Cast: `read_book(folder)` gives the book, if it can be used, and all problems; `load_book(folder)` gives the book or raises, by way
of the cache. Two passes: the first collects every id with its place, so that the second can say of an unknown one what is nearest.
"""

from __future__ import annotations

import hashlib
from collections import defaultdict
from pathlib import Path
from typing import Any

from diagnose.book.model import Book, Cause, Constants, Fix, Row
from diagnose.book.problems import Problem, Problems
from diagnose.book.schema import READERS, read_cause, read_constants, read_shows
from diagnose.book.shape import IDENT, Reader
from diagnose.book.tree import Listing, Mapping, Node, Text, read_tree
from diagnose.errors import BookError, Location

Trees = dict[str, Node]
MOST_FILES = 5_000


def rule_files(folder: Path) -> list[Path]:
    """The YAML files of a book, sorted. Raises BookError when the folder is missing, unreadable or holds none."""
    place = Location(str(folder))
    if not folder.is_dir():
        raise BookError("book.missing", "there is no rule book here", place, "Name a folder of rules.")
    try:
        files = sorted(path for path in folder.rglob("*.yaml") if path.is_file())
    except OSError as why:
        raise BookError("book.unreadable", f"cannot be read: {why.strerror}", place, "Check the rights.") from None
    if not files:
        raise BookError("book.empty", "this folder holds no .yaml file", place, "Name a folder of rules.")
    if len(files) > MOST_FILES:
        raise BookError("book.too-many", f"more than {MOST_FILES} files", place, "Name a folder of rules.")
    return files


def fingerprint(folder: Path, files: list[Path]) -> str:
    """SHA-256 over the names and bytes of the files, as 16 hexadecimal digits."""
    digest = hashlib.sha256()
    for path in files:
        try:
            raw = path.read_bytes()
        except OSError:
            raw = b"unreadable"
        digest.update(f"{path.relative_to(folder).as_posix()}\0{len(raw)}\0".encode("utf-8", "surrogateescape"))
        digest.update(raw)
    return digest.hexdigest()[:16]


def load_book(folder: Path, cache: bool = True) -> Book:
    """The book of a folder.

    Raises:
        BookError: the folder cannot be read, or the first of its errors and how many there are.
    """
    from diagnose.book.cache import recall, remember

    files = rule_files(folder)
    mark = fingerprint(folder, files)
    book = recall(mark) if cache else None
    if book is None:
        book, problems = read_book(folder)
        errors = [problem for problem in problems if problem.severity == "error"]
        if book is None or errors:
            raise _unusable(errors)
        if cache:
            remember(book)
    return book


def _unusable(errors: list[Problem]) -> BookError:
    first = errors[0]
    more = f" (and {len(errors) - 1} more)" if len(errors) > 1 else ""
    hint = f"{first.hint} `diagnose rules check` lists all.".strip()
    return BookError(first.code, f"the rule book cannot be used: {first.message}{more}", first.where, hint)


def read_book(folder: Path) -> tuple[Book | None, tuple[Problem, ...]]:
    """Read and check a folder of rules.

    Returns:
        The book (None when it cannot be used) and every problem, sorted by place.

    Raises:
        BookError: the folder itself cannot be read.
    """
    from diagnose.book.checks import check_book

    files = rule_files(folder)
    problems = Problems()
    trees = _read_trees(folder, files, problems)
    reader = Reader(problems)
    _collect_ids(trees, reader)
    book = _assemble(trees, reader, fingerprint(folder, files))
    if book and not problems.errors:
        check_book(book, problems)
    return (None if problems.errors else book), problems.sorted()


def _shown(folder: Path, path: Path) -> str:
    return (folder / path.relative_to(folder)).as_posix()


def _read_trees(folder: Path, files: list[Path], problems: Problems) -> Trees:
    trees: Trees = {}
    for path in files:
        shown = _shown(folder, path)
        try:
            node = read_tree(path, shown)
        except BookError as why:
            problems.take(why)
            continue
        if node is None:
            problems.error("file.empty", Location(shown, 1, 1), "the file is empty", "Fill it or delete it.")
        elif not isinstance(node, Mapping):
            problems.error("type.wrong", node.where, "a file holds lines of `key: value`", "")
        else:
            trees[shown] = node
    return trees


def _kind(shown: str) -> str | None:
    """What a file holds, by its name: a name out of READERS, `cause`, `book`, or None."""
    path = Path(shown)
    if path.parent.name == "causes":
        return "cause"
    if path.name == "book.yaml":
        return "book"
    return path.name if path.name in READERS else None


def _collect_ids(trees: Trees, reader: Reader) -> None:
    """First pass: every id with its place, and the values of facts, findings and conclusions."""
    for kind in ("check", "fix", "cause", *(kind for kind, _ in READERS.values())):
        reader.known[kind] = {}
    for shown, node in trees.items():
        kind = _kind(shown)
        if kind is None:
            hint = "Known: " + ", ".join([*READERS, "book.yaml", "causes/NAME.yaml"]) + "."
            reader.problems.error("file.unknown", Location(shown), "a file of this name has no place in a book", hint)
        elif kind == "cause" and isinstance(node, Mapping):
            _note_id("cause", Path(shown).stem, Location(shown, 1, 1), reader)
            _note_fixes(node, reader)
        elif kind != "book" and isinstance(node, Mapping):
            _note_entries(READERS[kind][0], node, reader)


def _note_entries(kind: str, node: Mapping, reader: Reader) -> None:
    for name, child in node.items.items():
        _note_id(kind, name, node.keys[name], reader)
        if not isinstance(child, Mapping):
            continue
        values = child.items.get("values")
        if isinstance(values, Mapping):
            reader.values[name] = tuple(values.items)
        checks = child.items.get("checks")
        if kind == "finding" and isinstance(checks, Mapping):
            for check in checks.items:
                _note_id("check", check, checks.keys[check], reader)


def _note_fixes(cause: Mapping, reader: Reader) -> None:
    ladder = cause.items.get("ladder")
    rungs = ladder.items if isinstance(ladder, Listing) else [ladder] if isinstance(ladder, Mapping) else []
    for rung in rungs:
        fix = rung.items.get("fix") if isinstance(rung, Mapping) else None
        if isinstance(fix, Text):
            _note_id("fix", fix.value, fix.where, reader)


_SHARED_NAMES = ("tool", "part", "caution")
"""Kinds whose ids live in lists of their own and may repeat an id of another kind."""


def _note_id(kind: str, name: str, where: Location, reader: Reader) -> None:
    if not IDENT.fullmatch(name):
        hint = "Use lower-case ASCII letters, digits and single hyphens."
        reader.problems.error("id.malformed", where, f"'{name}' cannot be an id", hint)
    for other, ids in reader.known.items():
        separate = other != kind and (other in _SHARED_NAMES or kind in _SHARED_NAMES)
        if name in ids and not separate:
            message = f"the {kind} '{name}' stands twice: there is a {other} of this name at {ids[name]}"
            reader.problems.error("id.twice", where, message, "Rename one of them.")
            return
    reader.known[kind][name] = where


def _assemble(trees: Trees, reader: Reader, mark: str) -> Book | None:
    """Second pass: every entry to its object."""
    made: dict[str, dict[str, Any]] = defaultdict(dict)
    constants: Constants | None = None
    causes: dict[str, tuple[str, Node]] = {}
    for shown, node in trees.items():
        kind = _kind(shown)
        if kind == "book":
            constants = read_constants(node, reader)
        elif kind == "cause":
            causes[Path(shown).stem] = (shown, node)
        elif kind is not None and isinstance(node, Mapping):
            what, read = READERS[kind]
            for name, child in node.items.items():
                value = read(name, child, reader)
                if value is not None:
                    made[what][name] = value
    if constants is None:
        _require_constants(trees, reader)
        return None
    _read_causes(causes, made, reader)
    return _bind(made, constants, mark)


def _require_constants(trees: Trees, reader: Reader) -> None:
    if not any(_kind(shown) == "book" for shown in trees):
        first = min(trees, default="book.yaml")
        hint = "A rule book has a book.yaml in its top folder."
        reader.problems.error("book.constants", Location(first), "no book.yaml was found", hint)


def _read_causes(causes: dict[str, tuple[str, Node]], made: dict[str, dict[str, Any]], reader: Reader) -> None:
    rows: dict[str, tuple[tuple[str, ...], Row]] = {
        name: (tuple(finding.values), finding.otherwise) for name, finding in made["finding"].items()
    }
    for name, (_, node) in causes.items():
        shows = read_shows(node, rows, reader)
        got = read_cause(name, node, reader)
        if got:
            cause, fixes = got
            made["cause"][name] = _with_shows(cause, shows)
            made["fix"].update({fix.id: fix for fix in fixes})


def _with_shows(cause: Cause, shows: dict[str, Row]) -> Cause:
    from dataclasses import replace

    return replace(cause, shows=shows)


def _bind(made: dict[str, dict[str, Any]], constants: Constants, mark: str) -> Book:
    checks = {check.id: check for finding in made["finding"].values() for check in finding.checks}
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
        checks=checks,
        causes=made["cause"],
        fixes=fixes,
        deductions=made["deduction"],
    )
