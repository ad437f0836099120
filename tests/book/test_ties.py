"""Who speaks of whom in a book: every mention that the files hold is found, and nothing is found that they do not."""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest
import yaml

from diagnose.book.place import shipped_rules
from diagnose.book.shelf import load_book
from diagnose.book.ties import Tie, find, things_of, ties_of, ties_to
from diagnose.errors import BookError, Location
from tests.shipped import shipped_book

SMALL = Path(__file__).with_name("small")
LOADER = getattr(yaml, "CBaseLoader", yaml.BaseLoader)
BRACES = re.compile(r"\{([a-z0-9-]+)\}")
DEFINED = {"facts", "conclusions", "teardowns", "hand-offs", "tools", "parts", "cautions", "limits"}
"""Files whose top keys are ids, and whose other words are not looked at closely here."""


@cache
def mentions() -> frozenset[tuple[str, str]]:
    """(id, file) of every word of a cause's, finding's, deduction's or complaint's file that is an id mentioned there.

    Read with the YAML library alone: what a file defines itself, and values of facts and findings, are left out.
    """
    book = shipped_book()
    ids = {thing.id for thing in things_of(book)}
    values = {value for one in book.facts.values() for value in one.values}
    values |= {value for one in book.findings.values() for value in one.values}
    found = set()
    for path in sorted(shipped_rules().rglob("*.yaml")):
        if path.stem in DEFINED or path.name in ("book.yaml", "jargon.yaml"):  # plain words, no ids
            continue
        for word in _words(read_plainly(path), _defines(path)):
            if word in ids and word not in values:
                found.add((word, path.as_posix()))
    return frozenset(found)


def read_plainly(path: Path) -> object:
    """A file as the YAML library reads it, every scalar as written."""
    return yaml.load(path.read_text(encoding="utf-8"), Loader=LOADER)  # noqa: S506 - makes texts, lists and mappings only


def _defines(path: Path) -> str:
    return {"complaints": "complaint", "findings": "finding", "deductions": "deduction"}.get(path.stem, "cause")


def _words(node: object, inside: str) -> Iterator[str]:
    """Every key and word that may be a mention, and limits in braces; `inside` is what the node is."""
    if isinstance(node, dict):
        for key, child in node.items():
            defines = inside in ("complaint", "finding", "deduction", "checks") or (inside, key) == ("rung", "fix")
            if not defines:
                yield key
            if (inside, key) == ("rung", "fix"):
                continue
            if key not in ("basis", "danger", "values", "id", "by", "skill", "kind", "let_stand", "picture"):
                yield from _words(child, {"checks": "checks", "ladder": "rung"}.get(key, "other"))
    elif isinstance(node, list):
        for one in node:
            yield from _words(one, inside)
    else:
        yield str(node)
        yield from BRACES.findall(str(node))


def test_every_mention_in_the_files_is_a_tie() -> None:
    """Whatever kind of thing is named wherever: the tie stands in the same file."""
    ties = {(tie.id, tie.where.file) for tie in ties_of(shipped_book())}
    assert len(mentions()) > 2_000
    own = {(cause.id, cause.where.file) for cause in shipped_book().causes.values()}
    assert mentions() - ties - own == set()


def test_every_tie_leads_to_its_file() -> None:
    """The file that a tie names holds the id that is spoken of, unless nothing is written: a fix that disturbs all."""
    texts: dict[str, str] = {}
    for tie in set(ties_of(shipped_book())):
        file = tie.where.file
        texts[file] = texts.get(file) or Path(file).read_text(encoding="utf-8")
        assert tie.where.line <= texts[file].count("\n")
        assert tie.id in texts[file] or tie.how == "has it looked at again", tie


def test_ties_name_things_of_the_book() -> None:
    """No tie to or from anything that is not there."""
    things = {(thing.kind, thing.id) for thing in things_of(shipped_book())}
    for tie in ties_of(shipped_book()):
        assert (tie.kind, tie.id) in things
        assert (tie.by.kind, tie.by.id) in things


def test_the_ties_of_the_small_book_are_these() -> None:
    """All that speaks of one cause and one limit, told in words."""
    book = load_book(SMALL)

    def told(name: str) -> list[tuple[str, str]]:
        return [(tie.by.id, tie.how) for tie in ties_to(book)[find(book, name)[0][:2]]]

    assert sorted(told("preload-lost")) == [
        ("correct-gap", "badly done, makes it 2 times likelier"),
        ("stem-was-off", "makes it 3 times likelier"),
        ("threaded-has-no-cap", "rules it out"),
    ]
    assert sorted(told("top-cap-gap")) == [
        ("correct-gap", "has it in a sentence"),
        ("measure-gap", "has it in a sentence"),
        ("measure-gap", "is banded by it"),
        ("measure-gap", "is banded by it"),
        ("measure-gap", "is banded by it"),
    ]


def test_a_tie_tells_its_place() -> None:
    """File, line and column of the mention where the book keeps them."""
    book = load_book(SMALL)
    ties = [tie for tie in ties_to(book)["complaint", "front-knock"] if tie.by.id == "gap-wrong"]
    file = SMALL / "front" / "causes" / "gap-wrong.yaml"
    lines = file.read_text(encoding="utf-8").splitlines()
    line, text = next((number, text) for number, text in enumerate(lines, 1) if text.startswith("common_for:"))
    place = Location(file.as_posix(), line, text.index("20 in 100") + 1)
    assert [(tie.how, tie.where) for tie in ties] == [("is behind it: 20 in 100", place)]
    assert isinstance(ties[0], Tie)


@pytest.mark.parametrize(
    ("typed", "kinds"),
    [
        ("preload-lost", ["cause"]),
        ("headset preload lost", ["cause"]),
        ("  Headset   preload lost ", ["cause"]),
        ("hex-keys", ["tool"]),
        ("Knock at the front", ["complaint"]),
    ],
)
def test_a_thing_is_found_by_its_id_or_its_name(typed: str, kinds: list[str]) -> None:
    """As it stands on the screen, whatever the letters' size."""
    assert [thing.kind for thing in find(load_book(SMALL), typed)] == kinds


def test_a_renamed_thing_is_found_by_its_former_id() -> None:
    """As stored cases find it."""
    book = load_book(SMALL)
    book.formerly["preload-gone"] = "preload-lost"
    assert [thing.id for thing in find(book, "preload-gone")] == ["preload-lost"]


@pytest.mark.parametrize(
    ("typed", "hint"),
    [
        ("preload-lots", "Did you mean 'preload-lost'?"),
        ("headset preload lots", "Did you mean 'headset preload lost'?"),
    ],
)
def test_what_is_not_there_is_told_with_the_nearest(typed: str, hint: str) -> None:
    """Id or name."""
    with pytest.raises(BookError) as told:
        find(load_book(SMALL), typed)
    assert (told.value.code, told.value.hint) == ("id.unknown", hint)
