"""`diagnose rules compare`: what a change of rules does to worked cases, questions and minutes.

Cast: `command`; `_sides` finds the book before and after; `compared` says what differs, as text or as JSON.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import NamedTuple, TypeVar

import click

from diagnose.book.load import UNCHANGED, Reading, read_folder
from diagnose.book.model import Book
from diagnose.book.patch import Patch, patch_for
from diagnose.book.place import adds_to, cases_beside
from diagnose.book.standing import Fallen, read_standing
from diagnose.casework.compare import (
    CaseChange,
    ComplaintChange,
    Pair,
    compare_case,
    compare_complaint,
    concerned,
    differences,
)
from diagnose.casework.replay import find_cases
from diagnose.errors import BookError, InputError
from diagnose.front.options import READ_LATER, chosen_folders, rules_option
from diagnose.front.paper import Paper
from diagnose.front.rulebook.compared import Report, Without, as_json_of, write

Found = TypeVar("Found", CaseChange, ComplaintChange)
TENTHS, WORTH_TELLING = 10, 20
"""Lines that tell how far it is where there is no terminal, and from how many cases and complaints on."""
BAD = ("broken", "new-fails")
"""What becomes of a case when the change is at fault."""


@click.command()
@click.argument("changed", nargs=-1, required=True, type=READ_LATER, metavar="BEFORE AFTER | CHANGED...")
@rules_option
@click.option("--cases", multiple=True, type=READ_LATER, help="Worked cases (those beside the folders).")
@click.option("--json", "as_json", is_flag=True, help="Print everything as JSON.")
@click.option("--plain", is_flag=True, help="ASCII only.")
def command(
    changed: tuple[Path, ...], rules: tuple[Path, ...], cases: tuple[Path, ...], as_json: bool, plain: bool
) -> int:
    """Say what a change of rules does to worked cases, questions and minutes.

    Two folders: the book before and the book after. One folder: the book as it is, and with that folder beside it or,
    if it is a whole book, instead. Rule files: the book as it is, and with these in the place of the files of their
    name; files that are in it already are left out for the time before, and with a file of an own folder what names
    something that is told in it. One file takes some seconds; a folder takes minutes, for every case and complaint that
    it touches is worked through with both books.

    Exit 0 when every worked case that held holds still, and every new one holds; else 1.

    Example: diagnose rules compare ours/causes/basket-slaps.yaml
    """
    sides = _sides(changed, rules)
    after = _usable(sides[1], read_folder(*sides[1].folders, patch=sides[1].patch))
    before, fallen = _before(sides[0])
    changes = differences(before, after)
    touched = concerned(before, after, changes)
    pair = Pair(before, after)
    given = [path for folder in cases for path in find_cases(folder)]
    files = given or _beside(sides)
    asked = [path for path in files if _is_touched(pair, path, touched)]
    tell = _progress(len(asked) + len(touched))
    found = [tell(compare_case(pair, path)) for path in asked]
    courses = [tell(compare_complaint(pair, name)) for name in sorted(touched)]
    report = Report(before, after, changes, len(files), found, courses, Without(sides[0].patch.without, fallen))
    if as_json:
        click.echo(json.dumps(as_json_of(report), indent=1, ensure_ascii=True))
    else:
        write(report, Paper(plain=True if plain else None))
    return 1 if any(one.how in BAD for one in found) else 0


# --- which books ------------------------------------------------------------------------------------------------------


class Side(NamedTuple):
    """The folders of a book, and what is read otherwise in them."""

    folders: tuple[Path, ...]
    patch: Patch = UNCHANGED


def _sides(changed: Sequence[Path], rules: Sequence[Path]) -> tuple[Side, Side]:
    folders = [path for path in changed if path.is_dir()]
    if not folders:
        return _of_files(changed, rules)
    if len(folders) < len(changed) or len(folders) > 2:
        message = "One or two folders of rules are compared, or files."
        raise InputError("input.compare", message, None, "Name BEFORE and AFTER, one folder, or rule files.")
    if len(folders) == 2:
        return tuple(Side(chosen_folders([*_fitting(one, rules), one])) for one in folders)  # type: ignore[return-value]
    (folder,) = folders
    beside = [path for path in rules if path.resolve() != folder.resolve()]
    now = chosen_folders([*_fitting(folder, beside), folder])
    if adds_to(folder) is not None:
        return Side(tuple(one for one in now if one.resolve() != folder.resolve())), Side(now)
    return Side(chosen_folders(rules)), Side(now)


def _fitting(folder: Path, rules: Sequence[Path]) -> Iterator[Path]:
    """Of the folders that `--rules` names those that can stand with this one: a whole book takes another's place."""
    whole = adds_to(folder) is None
    return (path for path in rules if not (whole and adds_to(path) is None))


def _of_files(files: Sequence[Path], rules: Sequence[Path]) -> tuple[Side, Side]:
    homes = [home for path in files if (home := _home(path)) is not None and adds_to(home) is not None]
    folders = chosen_folders([*rules, *homes])
    before, after = patch_for(files, folders)
    return Side(folders, before), Side(folders, after)


def _home(path: Path) -> Path | None:
    """The folder of rules in which a file lies."""
    return next((folder for folder in path.parents if (folder / "book.yaml").is_file()), None)


def _before(side: Side) -> tuple[Book, tuple[Fallen, ...]]:
    """The book without what is compared, and what of an own folder cannot stand without that."""
    loose = [folder for folder in side.folders if adds_to(folder) is not None] if side.patch.without else []
    reading, fallen = read_standing(side.folders, side.patch, loose)
    return _usable(side, reading), fallen


def _usable(side: Side, reading: Reading) -> Book:
    if reading.book is None:
        first = next(problem for problem in reading.problems if problem.severity == "error")
        left = ", ".join(sorted(path.name for path in side.patch.without))
        without = f" without {left}" if left else ""
        message = f"the rule book cannot be used{without}: {first.message}"
        hint = f"{first.hint} `diagnose rules check` lists all.".strip()
        if left:
            hint = "Other files name what stands in it. Change a copy of it in another folder and compare that copy."
        raise BookError(first.code, message, first.where, hint)
    return reading.book


def _beside(sides: tuple[Side, Side]) -> list[Path]:
    """The worked cases beside the folders after, or before where there are none."""
    for side in reversed(sides):
        found = [path for folder in cases_beside(side.folders) for path in find_cases(folder)]
        if found:
            return found
    return []


def _is_touched(pair: Pair, path: Path, touched: frozenset[str]) -> bool:
    """Whether the change can make a difference to a case; one that a book cannot read is looked at."""
    before, after = pair.read(path)
    if before is None or after is None:
        return True
    return not touched.isdisjoint({*before.complaints, *after.complaints})


def _progress(of: int) -> Callable[[Found], Found]:
    """Hands on what it is given and tells how far it is: at every step on a terminal, else a line at every tenth."""
    done = 0
    shown = sys.stderr.isatty()
    lines = {-(-of * tenth // TENTHS) for tenth in range(1, TENTHS + 1)} if of >= WORTH_TELLING else set()

    def tell(one: Found) -> Found:
        nonlocal done
        done += 1
        if shown:
            sys.stderr.write(f"\r{done} of {of} looked at" + ("\n" if done == of else ""))
        elif done in lines:
            sys.stderr.write(f"{done} of {of} cases and complaints looked at\n")
        sys.stderr.flush()
        return one

    return tell
