"""A folder of rules to a checked `Book`.

Cast: `read_book(folder)` gives the book, if it can be used, and all problems; `shelf.load_book` gives it or raises, by
way of the cache. Two passes: the first collects every id with its place, so that the second can say of an
unknown one what is nearest. What cannot be read is left out and the rest is checked all the same, so that one bad file
hides nothing.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any, NamedTuple

from diagnose.book.files import ENDINGS, fingerprint, joined, rule_files
from diagnose.book.model import Book, Cause, Constants, Fix, Row, Volume
from diagnose.book.own import SHARED_NAMES, Own, Source, Trees, take_in
from diagnose.book.patch import Patch
from diagnose.book.problems import Problem, Problems
from diagnose.book.schema import READERS, SAYINGS, SHAPES, read_addition, read_constants
from diagnose.book.schema_base import one_by_one, place_of
from diagnose.book.schema_causes import read_cause, read_shows
from diagnose.book.shape import IDENT, RESERVED, MapOf, Reader, Shape, qualified, well_formed
from diagnose.book.tree import Listing, Mapping, Node, Text, read_tree
from diagnose.errors import BookError, Location

NO_CONSTANTS = Constants("", "", "", 0, 0, 0, 0, {}, {}, 0, 0, 0, 0)
"""Stands for those of a book.yaml that cannot be read, so that the rest is checked; such a book is never handed out."""


UNCHANGED = Patch()


class Reading(NamedTuple):
    """What came of reading a folder: the book (None when it cannot be used), its files, and every problem by place."""

    book: Book | None
    trees: Trees
    problems: tuple[Problem, ...]


def read_book(*folders: Path) -> tuple[Book | None, tuple[Problem, ...]]:
    """Read and check a folder of rules, with the own folders beside it.

    Returns:
        The book (None when it cannot be used) and every problem, sorted by place.

    Raises:
        BookError: a folder itself cannot be read.
    """
    book, _, problems = read_folder(*folders)
    return book, problems


def read_folder(*folders: Path, patch: Patch = UNCHANGED) -> Reading:
    """Read folders of rules as `read_book` does, and keep what stands in their files; some of them as a patch says."""
    from diagnose.book.checks import check_book

    problems = Problems()
    reader = Reader(problems)
    trees, volumes, replaced, sayings = _read_volumes(folders, reader, patch)
    _collect_ids(trees, reader)
    book = _assemble(trees, reader, volumes)
    _add_sayings(book, sayings, reader)
    check_book(book, problems)
    known = {name for ids in reader.known.values() for name in ids}
    taken = {name: own for name, own in replaced.items() if name in known}
    final = replace(
        book, volumes=volumes, replaced=taken, fingerprint=patch.mark(joined([one.fingerprint for one in volumes]))
    )
    return Reading(None if problems.errors else final, trees, problems.sorted())


def _read_volumes(
    folders: Sequence[Path], reader: Reader, patch: Patch
) -> tuple[Trees, tuple[Volume, ...], dict[str, str], list[tuple[str, str, Node]]]:
    """The files of all folders with their final ids, the folders, what is replaced by which, what is added to what."""
    problems = reader.problems
    trees: Trees = {}
    volumes: list[Volume] = []
    replaced: dict[str, str] = {}
    sayings: list[tuple[str, str, Node]] = []
    for number, folder in enumerate(folders):
        files = rule_files(folder, problems.take)
        sources = patch.sources(folder, files)
        read = patch.pruned(_read_trees(sources, problems))
        for source in sources:
            if source not in read:
                reader.unsure.update(_kinds_in(source.path))
        _require_constants(folder, sources, problems)
        told = next((node for source, node in read.items() if source.kind == "book"), None)
        volume = _volume(folder, files, told)
        if number == 0:
            trees, reader.base = read, volume.id
        else:
            _check_volume(volume, volumes, told, problems)
            own = Own(volume.id, read)
            trees = take_in(trees, own, reader.base, problems)
            replaced.update(dict.fromkeys(own.taken.values(), own.id))
            sayings += [(own.id, complaint, node) for complaint, node in own.sayings.items()]
        volumes.append(volume)
    return trees, tuple(volumes), replaced, sayings


def _add_sayings(book: Book, sayings: list[tuple[str, str, Node]], reader: Reader) -> None:
    """Add a rider's sentences that own folders have for complaints that are there; one that is there is not added."""
    for own, name, node in sayings:
        reader.book = own
        got = SAYINGS.read(node, reader)
        complaint = book.complaints.get(name)
        if got and complaint:
            new = tuple(said for said in got["rider_says"] if said not in complaint.rider_says)
            changed = complaint._replace(rider_says=(*complaint.rider_says, *new), added={**complaint.added, own: new})
            book.complaints[name] = changed
    reader.book = ""


def _volume(folder: Path, files: list[Path], told: Mapping | None) -> Volume:
    """A folder by what its book.yaml says, as far as it says so."""
    words = {key: node.value for key, node in (told.items if told else {}).items() if isinstance(node, Text)}
    name = words.get("book", "")
    name = name if IDENT.fullmatch(name) else "own"
    return Volume(name, words.get("title", ""), folder.as_posix(), fingerprint(folder, files), words.get("adds_to", ""))


def _check_volume(volume: Volume, others: list[Volume], told: Mapping | None, problems: Problems) -> None:
    """Whether an own folder may stand beside the others."""
    base = others[0]
    place = Location(f"{volume.folder}/book.yaml", 1, 1)
    if any(volume.id == other.id for other in others):
        where = place_of(told, "book") if told else place
        other = next(other for other in others if other.id == volume.id)
        message = f"there is a book '{volume.id}' already, in {other.folder}"
        problems.error("book.twice", where, message, "Give this one another name.")
    if told and volume.adds_to and volume.adds_to != base.id:
        message = f"this folder adds to the book '{volume.adds_to}', and stands beside '{base.id}'"
        problems.error("book.adds-to", place_of(told, "adds_to"), message, f"Write `adds_to: {base.id}` if it fits.")


def shape_of(kind: str) -> Shape:
    """The shape of a whole file by what it holds, see `Source.kind`."""
    return SHAPES[kind] if kind in SHAPES else MapOf((), SHAPES[READERS[kind][0]])


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
        reader.book = source.book
        if source.kind == "cause":
            _note_id("cause", source.id, Location(source.shown, 1, 1), reader)
            _note_former_names(source.id, node, reader)
            _note_fixes(node, reader)
        elif source.kind in READERS:
            _note_entries(READERS[source.kind][0], node, reader)
    reader.book = ""
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
        old = qualified(reader.book, former.value) if ":" in name else former.value
        other = reader.formerly.setdefault(old, name)
        if other != name:
            message = f"'{former.value}' is said to be the former name of '{other}' too"
            reader.problems.error("id.twice", former.where, message, "Keep one of the two.")


def _note_id(kind: str, name: str, where: Location, reader: Reader) -> None:
    if name in RESERVED:
        message = f"'{name}' has a meaning of its own and cannot be an id"
        reader.problems.error("id.reserved", where, message, "Choose another word.")
    else:
        well_formed(name, where, reader)
    for other, ids in reader.known.items():
        separate = other != kind and (other in SHARED_NAMES or kind in SHARED_NAMES)
        if name in ids and not separate:
            message = f"the {kind} '{name}' stands twice: there is a {other} of this name at {ids[name]}"
            reader.problems.error("id.twice", where, message, "Rename one of them.")
            return
    reader.known[kind][name] = where


def _assemble(trees: Trees, reader: Reader, volumes: Sequence[Volume]) -> Book:
    """Second pass: every entry to its object; what cannot be read is missing from the book."""
    made: dict[str, dict[str, Any]] = defaultdict(dict)
    constants: Constants | None = None
    changes: dict[str, Any] = {}
    own = {volume.folder for volume in volumes[1:]}
    for source, node in trees.items():
        reader.book = source.book
        if source.kind == "book":
            if source.path.parent.as_posix() in own:
                changes.update(read_addition(node, reader))
            else:
                constants = read_constants(node, reader)
        elif source.kind in READERS:
            what, read = READERS[source.kind]
            for name, child in node.items.items():
                value = read(name, child, reader)
                if value is not None:
                    made[what][name] = value
    _read_causes([(source, node) for source, node in trees.items() if source.kind == "cause"], made, reader)
    return _bind(made, (constants or NO_CONSTANTS)._replace(**changes), reader.formerly)


def _require_constants(folder: Path, sources: list[Source], problems: Problems) -> None:
    if not any(source.kind == "book" for source in sources):
        hint = "A book has one in its top folder, with its name and constants; an own folder one that says `adds_to:`."
        place = Location((folder / "book.yaml").as_posix(), 1, 1)
        problems.error("book.constants", place, "there is no book.yaml", hint)


def _read_causes(causes: list[tuple[Source, Mapping]], made: dict[str, dict[str, Any]], reader: Reader) -> None:
    rows: dict[str, tuple[tuple[str, ...], Row]] = {
        name: (tuple(finding.values), finding.otherwise) for name, finding in made["finding"].items()
    }
    for source, node in causes:
        reader.book = source.book
        shows = read_shows(node, rows, reader)
        got = read_cause(source.id, node, reader)
        if got:
            cause, fixes = got
            made["cause"][source.id] = _with_shows(cause, shows)
            made["fix"].update({fix.id: fix for fix in fixes})


def _with_shows(cause: Cause, shows: dict[str, Row]) -> Cause:
    return cause._replace(shows=shows)


def _bind(made: dict[str, dict[str, Any]], constants: Constants, formerly: dict[str, str]) -> Book:
    fixes: dict[str, Fix] = made["fix"]
    return Book(
        fingerprint="",
        constants=constants,
        facts=made["fact"],
        words=made["conclusion"],
        teardowns=made["teardown"],
        receivers=made["hand-off"],
        tools=made["tool"],
        parts=made["part"],
        cautions={name: caution.text for name, caution in made["caution"].items()},
        limits=made["limit"],
        complaints=made["complaint"],
        findings=made["finding"],
        causes=made["cause"],
        fixes=fixes,
        deductions=made["deduction"],
        formerly=dict(formerly),
        jargon=made["jargon"],
        cautions_apply={name: caution.applies for name, caution in made["caution"].items() if caution.applies},
    )
