"""The schemas for editors against the loader: both accept, and both refuse, the same files."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft202012Validator

from diagnose.book.about import ABOUT
from diagnose.book.editor_schema import Ids, file_schemas, ids_of
from diagnose.book.load import Reading, ids_and_values, read_folder
from diagnose.book.problems import Problem, Problems
from diagnose.book.schema import READERS, SHAPES
from diagnose.book.schema_base import ByRole
from diagnose.book.schema_causes import STEP, read_cause, read_shows
from diagnose.book.shape import Either, IfKey, ListOf, MapOf, Reader, Record, well_formed
from diagnose.book.tree import Listing, Mapping, Node, Text, parse
from diagnose.casework.case_schema import AnswersShape, case_schema
from diagnose.casework.caseanswers import ANSWER
from diagnose.casework.casefile import CaseProblemsError, case_shape, read_case
from diagnose.errors import BookError
from tests.book.broken_books import lay, lay_small, names
from tests.book.spoiling import dice, spoil
from tests.shipped import shipped_book

ROOT = Path(__file__).resolve().parent.parent.parent
CASES = sorted((ROOT / "cases").rglob("*.yaml"))
BROKEN_CASES = Path(__file__).parent.parent / "casework" / "broken"
SEEN = {
    *(
        "type.wrong",
        "key.unknown",
        "key.missing",
        "value.empty",
        "text.long",
        "text.control",
        "list.short",
        "list.long",
    ),
    *("number.wrong", "number.range", "word.unknown", "unit.unknown", "id.malformed", "id.unknown", "share.wrong"),
    *("share.zero", "chance.wrong", "prose.number", "prose.brace", "limit.empty", "limit.kind", "band.empty"),
    *("sum.unknown", "sum.readings", "sum.missing"),
    *("band.both", "deduction.range", "measure.half", "cause.no-fix", "finding.unseen", "value.unknown"),
    *("expect.thin", "answer.one", "answer.no-reading", "answer.no-readings", "replaces.base"),
}
"""What is wrong within one place of a file: an editor sees it too."""
ONLY_THE_LOADER = {
    *("id.twice", "id.reserved", "row.sum", "ladder.rising", "ladder.twice", "minutes.range", "price.range"),
    *("limit.range", "measure.range", "share.something-else", "bands.cover", "bands.several", "bands.facts"),
    *("sum.reading", "sum.lacks", "sum.unit", "sum.supply", "sum.limit", "sum.check", "sum.result", "sum.words"),
    *("unit.differs", "deduction.twice", "deduction.no-reading", "file.unknown", "file.empty", "book.constants"),
    *("order.circular", "deduction.empty", "deduction.factor", "bench-readings", "bench-out-of-range"),
    *("yaml.duplicate", "yaml.anchor", "yaml.tag", "case.complaints", "fact.several", "share.range", "reading.range"),
    *(
        "quantity-not-a-number",
        "quantity-too-long",
        "quantity-not-whole",
        "quantity-unknown-unit",
        "quantity-wrong-unit",
    ),
}
"""What hangs on two places at once, on the file's name, or on arithmetic."""
MORE_THAN_ALL = re.compile(r"'\s*([0-9.]+) in ([0-9]+)\s*'")
ODD = re.compile(r"~|null|Null|NULL|true|True|TRUE|false|False|FALSE|\S*[0-9.]([eE][-+]?[0-9]+|\.)|[-+.0-9]+\.|\..*|")
"""Plain scalars that an editor takes for nothing, a truth value or another number: the loader takes them as written."""


def typed(node: Node) -> Any:
    """A tree as an editor sees it: plain scalars typed by YAML 1.2."""
    if isinstance(node, Listing):
        return [typed(one) for one in node.items]
    if isinstance(node, Mapping):
        return {key: typed(one) for key, one in node.items.items()}
    if not node.quoted and re.fullmatch(r"[-+]?[0-9]+", node.value):
        return int(node.value) if len(node.value) < 300 else node.value
    if not node.quoted and re.fullmatch(r"[-+]?[0-9]+\.[0-9]+", node.value):
        return float(node.value)
    return None if node.value == "" and not node.quoted else node.value


def odd(node: Node) -> bool:
    """Whether a scalar of the tree is one that an editor types differently."""
    if isinstance(node, Text):
        return not node.quoted and node.value != "" and ODD.fullmatch(node.value) is not None
    return any(map(odd, node.items if isinstance(node, Listing) else node.items.values()))


def validators(ids: Ids) -> dict[str, Draft202012Validator]:
    """Kind of file to a validator, worked cases included."""
    return {
        kind: Draft202012Validator(schema) for kind, schema in {**file_schemas(ids), "case": case_schema(ids)}.items()
    }


@cache
def shipped() -> tuple[Reading, Ids, dict[str, Draft202012Validator]]:
    """The shipped book's files, ids and validators."""
    reading = read_folder(ROOT / "rules")
    ids = ids_of(reading.trees)
    return reading, ids, validators(ids)


def file_kind(kind: str | None) -> str:
    """What the schemas call a kind of file."""
    return {"book": "book.yaml"}.get(kind or "", kind or "")


def seen_by_an_editor(problem: Problem) -> bool:
    """Whether a problem lies within one place of a file; each code is known to be of one sort or the other."""
    assert problem.code in SEEN | ONLY_THE_LOADER, problem
    if problem.code in ("share.wrong", "chance.wrong"):
        count = MORE_THAN_ALL.search(problem.message)
        return not (count and float(count[1]) > float(count[2]) > 0)
    return problem.code in SEEN


def test_the_schemas_are_sound() -> None:
    """Each is a schema by the 2020-12 dialect, every reference in it leads somewhere, and it can be written."""
    for validator in shipped()[2].values():
        schema: Any = validator.schema
        Draft202012Validator.check_schema(schema)
        text = json.dumps(schema)
        assert set(re.findall(r'"#/\$defs/([^"]+)"', text)) <= set(schema["$defs"])
        assert set(re.findall(r'"#/\$defs/([^"]+)"', text)) == set(schema["$defs"])


def test_every_shipped_rule_file_is_valid() -> None:
    """As an editor types it."""
    reading, _, by_kind = shipped()
    assert len(reading.trees) > 250
    for source, node in reading.trees.items():
        errors = [error.message for error in by_kind[file_kind(source.kind)].iter_errors(typed(node))]
        assert errors == [], source.shown


def test_no_word_of_a_shipped_file_is_taken_for_a_truth_value() -> None:
    """Nor for nothing: `true`, `false`, `null` stand in quotes where they are words, as keys too."""
    bare = re.compile(r"(?:^|[\s{\[,])(?:true|false|null|~)\s*(?:[:,}\]]|$)", re.MULTILINE | re.IGNORECASE)
    paths = [*(ROOT / "rules").rglob("*.yaml"), *CASES]
    found = [path for path in paths if bare.search(re.sub(r'"(?:\\.|[^"])*"|#.*', "", path.read_text("utf-8")))]
    assert found == []


def test_every_shipped_case_is_valid() -> None:
    """As an editor types it."""
    by_kind = shipped()[2]
    assert len(CASES) > 300
    for path in CASES:
        node = parse(path.read_text(encoding="utf-8"), path.name)
        assert node
        assert [error.message for error in by_kind["case"].iter_errors(typed(node))] == [], path


@pytest.mark.parametrize("name", names())
def test_a_broken_book_is_underlined_where_the_loader_finds_something(name: str, tmp_path: Path) -> None:
    """File by file: invalid where a problem lies within one place, else valid."""
    folder = lay(name, tmp_path)
    reading = read_folder(folder)
    if set(folder.rglob("*.y*ml")) != {source.path for source in reading.trees}:
        pytest.skip("a file that cannot be read hides ids")
    by_kind = validators(ids_of(reading.trees))
    errors = [problem for problem in reading.problems if problem.severity == "error"]
    for source, node in reading.trees.items():
        here = [problem for problem in errors if problem.where.file == source.shown and seen(problem, source.kind)]
        valid = by_kind[file_kind(source.kind)].is_valid(typed(node))
        assert valid == (not here), (source.shown, here)


def seen(problem: Problem, kind: str | None) -> bool:
    """As `seen_by_an_editor`; a value that the same entry declares is beyond it."""
    return seen_by_an_editor(problem) and not (
        problem.code == "value.unknown" and kind in ("findings.yaml", "facts.yaml")
    )


def problems_of(kind: str, name: str, node: Mapping) -> list[Problem]:
    """What the loader says of one file of the shipped book, taken alone."""
    reading, _, _ = shipped()
    known, values = ids_and_values(reading.trees)
    reader = Reader(Problems(), known, values)
    if kind == "cause":
        book = shipped_book()
        rows = {key: (tuple(finding.values), finding.otherwise) for key, finding in book.findings.items()}
        read_shows(node, rows, reader)
        read_cause(name, node, reader)
    else:
        for key, child in node.items.items():
            well_formed(key, node.keys[key], reader)
            READERS[kind][1](key, child, reader)
    return list(reader.problems.sorted())


def spoiled(text: str, seed: str) -> Mapping | None:
    """The tree of a file after tired hands were at it; None where an editor would not get as far."""
    raw = spoil(text, dice(seed))
    try:
        node = parse(raw.decode("utf-8"), "spoiled")
    except (BookError, UnicodeDecodeError):
        return None
    return node if isinstance(node, Mapping) and not odd(node) else None


def rule_files() -> Iterator[tuple[str, Path]]:
    """Kind and path of the shipped files that are spoiled: all of the shared kinds, one cause in five."""
    for number, source in enumerate(shipped()[0].trees):
        if source.kind and source.kind != "book" and (source.kind != "cause" or number % 5 == 0):
            yield source.kind, source.path


def test_spoiled_rule_files_are_underlined_where_the_loader_finds_something() -> None:
    """Both refuse, or neither does, whatever was done to a file.

    Behind a value that its entry does not declare the loader reads no further; the editor does, and underlines that.
    """
    by_kind = shipped()[2]
    compared = refused = 0
    for kind, path in rule_files():
        text = path.read_text(encoding="utf-8")
        for number in range(3 if kind == "cause" else 2):
            node = spoiled(text, f"{path.name}{number}")
            if node is None:
                continue
            errors = [one for one in problems_of(kind, path.stem, node) if one.severity == "error"]
            found = [one for one in errors if seen(one, kind)]
            compared += 1
            refused += bool(found)
            valid = by_kind[kind].is_valid(typed(node))
            assert not valid if found else valid or errors, (
                path,
                number,
                found,
                [e.message for e in by_kind[kind].iter_errors(typed(node))],
            )
    assert compared > 150
    assert 50 < refused < compared - 20


def test_spoiled_cases_are_underlined_where_the_reader_finds_something(tmp_path: Path) -> None:
    """Both refuse, or neither does."""
    by_kind = shipped()[2]
    compared = refused = 0
    for number, path in enumerate(CASES):
        node = spoiled(path.read_text(encoding="utf-8"), f"{path.name}{number}")
        if node is None:
            continue
        file = tmp_path / "case.yaml"
        file.write_bytes(spoil(path.read_text(encoding="utf-8"), dice(f"{path.name}{number}")))
        found = [one for one in case_problems(file) if seen(one, "case") and not _of_its_own_complaints(one)]
        compared += 1
        refused += bool(found)
        assert by_kind["case"].is_valid(typed(node)) == (not found), (path, number, found)
    assert compared > 150
    assert 50 < refused < compared - 20


def case_problems(path: Path) -> list[Problem]:
    """What the reader of cases says of a file."""
    try:
        read_case(path, shipped_book())
    except CaseProblemsError as many:
        return list(many.problems)
    return []


def _of_its_own_complaints(problem: Problem) -> bool:
    return "is not among the case's complaints" in problem.message


# --- what an editor shows ------------------------------------------------------------------------------------------


def records(shape: object) -> Iterator[Record]:
    """Every record within a shape."""
    if isinstance(shape, Record):
        yield shape
        for field in shape.fields.values():
            yield from records(field.shape)
    elif isinstance(shape, ListOf):
        yield from records(shape.item)
    elif isinstance(shape, MapOf):
        yield from records(shape.value)
    elif isinstance(shape, Either):
        yield from records(shape.text)
        yield from records(shape.mapping)
    elif isinstance(shape, IfKey):
        yield from records(shape.there)
        yield from records(shape.else_)
    elif isinstance(shape, ByRole):
        yield shape.record
    elif hasattr(shape, "shape"):
        yield from records(shape.shape)


def test_every_key_has_its_sentence() -> None:
    """No key without one, and no sentence without a key."""
    keys: dict[str, set[str]] = {}
    for shape in [*SHAPES.values(), STEP, case_shape(AnswersShape()), ANSWER]:
        for record in records(shape):
            keys.setdefault(record.what, set()).update(record.fields)
    keys["a range"] = keys["a band"]
    assert {what: set(told) for what, told in ABOUT.items()} == keys


def test_an_editor_is_offered_the_ids_and_values_of_the_book(tmp_path: Path) -> None:
    """Complaints, findings with their own values, facts with theirs; each with its name."""
    ids = ids_of(read_folder(lay_small(tmp_path)).trees)
    cause = file_schemas(ids)["cause"]
    (name,) = [name for name in cause["$defs"] if re.fullmatch("cause-[0-9]+", name)]
    common_for = cause["$defs"][name]["properties"]["common_for"]["properties"]
    assert common_for["front-knock"]["description"] == "Knock at the front"
    row = cause["$defs"]["row-of-play-at-headset"]["properties"]
    assert {value: told["description"] for value, told in row.items()} == {
        "none": "no movement",
        "clear": "plain to feel",
    }
    assert cause["$defs"]["condition-on-fact"]["properties"]["headset"]["anyOf"][0] == {
        "$ref": "#/$defs/value-of-headset"
    }
