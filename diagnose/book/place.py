"""Where the rule book and the worked cases lie.

Cast: `rule_folders(given)` are the folders that make up the book: the book itself, then the own folders beside it,
which other packages bring, the environment names, or the command line; `cases_beside` are their worked cases.

`shipped_rules` and `shipped_cases` find the copy that the wheel carries inside the package, or, in a clone and an
editable install, the folders beside the package.
"""

from __future__ import annotations

import os
import re
from collections.abc import Iterator, Sequence
from pathlib import Path

from diagnose.errors import BookError, Location

GROUP = "diagnose.rules"
"""Entry points of this group bring own folders: each a path, or a function that gives one."""
VARIABLE = "DIAGNOSE_RULES"
"""Folders named in this variable of the environment, with the system's sign between them, are used as well."""


def shipped_rules() -> Path:
    """The folder of the shipped rule book.

    Raises:
        BookError: `book-missing`, when the installation carries no rule book.
    """
    carried, beside = _package() / "_rules", _package().parent / "rules"
    for place in (carried, beside):
        if (place / "book.yaml").is_file():
            return place
    raise BookError(
        "book-missing",
        "This installation carries no rule book.",
        Location(str(_package())),
        "Install diagnose again, or name a rule book's folder.",
    )


def shipped_cases() -> Path | None:
    """The folder of the worked cases that go with the shipped rule book, or None when there are none."""
    rules = shipped_rules()
    place = rules.with_name("_cases" if rules.name.startswith("_") else "cases")
    return place if place.is_dir() else None


def cases_beside(folders: Sequence[Path]) -> list[Path]:
    """For each folder of rules the folder of worked cases that goes with it, each once."""
    found: dict[Path, Path] = {}
    for folder in folders:
        plain = folder if folder.name not in ("", "..") else folder.resolve()
        beside = shipped_cases() if folder == shipped_rules() else plain.with_name("cases")
        if beside and beside.is_dir():
            found.setdefault(beside.resolve(), beside)
    return list(found.values())


def rule_folders(given: Sequence[Path] = (), settled: Sequence[Path] = ()) -> tuple[Path, ...]:
    """The folders that make up the book, the book itself first.

    A folder that is given and adds to no other is the book itself, instead of the shipped one. What packages bring or
    settings name for another book is left out.

    Args:
        given: named on the command line; those of the environment are used as well.
        settled: named by settings; a whole book among them gives way to one that is given.

    Raises:
        BookError: `book.two`, two whole books are given; `book.settled`, settings name no folder of rules; or what a
            package brings is no folder.
    """
    named = [Path(one) for one in os.environ.get(VARIABLE, "").split(os.pathsep) if one]
    whole = [folder for folder in [*named, *given] if adds_to(folder) is None]
    if len(whole) > 1:
        message = f"{whole[0]} and {whole[1]} are two books, each whole in itself"
        raise BookError("book.two", message, Location(str(whole[1])), "An own folder's book.yaml says `adds_to:`.")
    _refuse_gone(settled)
    whole += [folder for folder in settled if adds_to(folder) is None]
    base = whole[0] if whole else shipped_rules()
    name = _word("book", base)
    brought = [folder for folder in [*_brought(), *settled] if adds_to(folder) == name]
    own = [*brought, *(folder for folder in [*named, *given] if adds_to(folder) is not None)]
    once: dict[Path, Path] = {}
    for folder in own:
        once.setdefault(folder.resolve(), folder)
    return (base, *once.values())


def _refuse_gone(settled: Sequence[Path]) -> None:
    for folder in settled:
        if not (folder / "book.yaml").is_file():
            message = f"the settings name a folder of rules that has no book.yaml: {folder}"
            raise BookError("book.settled", message, None, "Put the folder back, or take it out of the settings.")


def adds_to(folder: Path) -> str | None:
    """The id of the book that an own folder adds to; None for a book that is whole in itself, or no book at all."""
    return _word("adds_to", folder)


def _word(key: str, folder: Path) -> str | None:
    """A word of a folder's book.yaml, found without the reader of YAML, which takes its time to be loaded."""
    try:
        text = (folder / "book.yaml").read_text(encoding="utf-8-sig")
    except (OSError, ValueError):
        return None
    found = re.search(rf"^{key}:[ \t]*[\"']?([^\s\"'#]*)", text, re.MULTILINE)
    return found[1] if found else None


def _brought() -> Iterator[Path]:
    """The folders that other packages bring."""
    from importlib.metadata import entry_points

    for point in sorted(entry_points(group=GROUP), key=lambda one: one.name):
        try:
            told = point.load()
            folder = Path(told() if callable(told) else told)
        except Exception as why:  # noqa: BLE001 - whatever another package does, it is told by its name
            raise _bad_package(point.name, f"{type(why).__name__}: {why}") from None
        if not (folder / "book.yaml").is_file():
            raise _bad_package(point.name, f"there is no book.yaml in {folder}")
        yield folder


def _bad_package(name: str, why: str) -> BookError:
    message = f"the rules that a package brings as '{name}' cannot be used: {why}"
    return BookError("book.package", message, None, "Repair that package, or take it out.")


def _package() -> Path:
    return Path(__file__).resolve().parent.parent
