"""Where a new cause is written: its file, what else it needs, and a worked case; and how they fare there.

Cast: `Place` knows the folders and writes a `Draft` as often as it is changed; `Tried` says what the check and the
case made of it.
"""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, NamedTuple

from diagnose.book.load import read_folder, shape_of
from diagnose.book.model import Book
from diagnose.book.own import kind_of
from diagnose.book.place import adds_to, cases_beside
from diagnose.book.problems import Problem
from diagnose.book.tidy import tidy
from diagnose.casework.casefile import case_reader, read_case
from diagnose.casework.draft import Draft, Expected, case_of, files_of, id_of
from diagnose.casework.replay import replay
from diagnose.errors import DiagnoseError, InputError
from diagnose.front.options import chosen_book, chosen_folders
from diagnose.front.problems import describe
from diagnose.front.rules_check import look
from diagnose.reason.reasoner import Reasoner

MARKS = ("mark.to-be-told", "mark.in-a-case")


class Tried(NamedTuple):
    """What came of a draft.

    `problems` are lines of the check about its files, `errors` how many are errors, `marks` the places of marks;
    `on_top`: whether the case puts the cause on top, `rival` what stands there instead, `top` a sentence on that;
    `ride`: the verdict of the case, `asked` what would be asked next; `other_fix`: what would be done first, if that is
    none of the author's fixes; `holds`: the case, or both, as a whole.
    """

    problems: tuple[str, ...] = ()
    errors: int = 0
    marks: tuple[str, ...] = ()
    on_top: bool = False
    rival: str = ""
    top: str = ""
    ride: str = ""
    asked: str = ""
    other_fix: str = ""
    holds: bool = False


@dataclass
class Place:
    """A folder that takes a cause: an own folder, or a system's folder in a book.

    `root` is the folder of rules, `folder` where the files go, `cases` where the worked case goes, `option` what a
    command needs to take the folder too, `rules` what `--rules` named.
    """

    folder: Path
    root: Path
    book: Book
    base: str
    cases: Path
    option: str = ""
    rules: tuple[Path, ...] = ()
    before: dict[Path, str | None] = field(default_factory=dict)
    made: list[Path] = field(default_factory=list)
    """Folders that were not there."""

    @classmethod
    def of(cls, folder: Path, rules: Sequence[Path]) -> Place:
        """The place for a folder, which need not be there yet.

        Raises:
            DiagnoseError: the book cannot be used, or the folder is none.
        """
        if folder.exists() and not folder.is_dir():
            raise InputError("input.folder", f"{folder} is a file.", None, "Name a folder of rules, or none.")
        homes = [folder, *folder.absolute().parents]
        root = next((home for home in homes if (home / "book.yaml").is_file()), folder)
        whole = (root / "book.yaml").is_file() and adds_to(root) is None
        there = (root / "book.yaml").is_file()
        if whole and root.resolve() == folder.resolve():
            hint = f"Name a system's folder in it, such as {root / 'steering'}, or a folder of your own."
            raise InputError("input.folder", f"{folder} is a whole book.", None, hint)
        chosen = [*rules, root] if there and root.resolve() not in [one.resolve() for one in rules] else list(rules)
        book = chosen_book(chosen)
        cases = root.absolute().with_name("cases")
        cases = _seen(cases / folder.name if whole else cases)
        return cls(
            folder, root, book, book.volumes[0].id, cases, "" if whole else f" --rules {root.as_posix()}", tuple(rules)
        )

    @property
    def written(self) -> list[Path]:
        """The files, in the order they were written."""
        return [path for path in self.before if path.exists()]

    def cause_path(self, draft: Draft) -> Path:
        """The cause's own file."""
        return self.folder / "causes" / f"{draft.id}.yaml"

    def case_path(self, draft: Draft, *, dangerous: bool = False) -> Path:
        """The worked case, or that of a bike that is dangerous."""
        return self.cases / f"{draft.id}{'-dangerous' if dangerous else ''}.yaml"

    def write(self, draft: Draft) -> Tried:
        """Write everything anew, in one layout, and try it."""
        if not (self.root / "book.yaml").exists() or self.before.get(self.root / "book.yaml", "") is None:
            self._put(self.root / "book.yaml", self._constants())
        for name, text in files_of(draft).items():
            path = self.folder / name
            old = self._old(path)
            self._put(path, tidy(f"{old.rstrip()}\n{text}" if old else text, str(path), shape_of(_kind(name))))
        return self._try(draft)

    def take_back(self) -> None:
        """Leave everything as it was."""
        for path, old in self.before.items():
            if old is None:
                path.unlink(missing_ok=True)
            else:
                path.write_text(old, encoding="utf-8")
        for folder in sorted(self.made, reverse=True):
            if folder.is_dir() and not any(folder.iterdir()):
                folder.rmdir()

    def _constants(self) -> str:
        name = self.root.absolute().parent.name if self.root.name == "rules" else self.root.absolute().name
        plain = name.replace("-", " ").replace("_", " ").strip() or "ours"
        title = "our shop" if plain == "ours" else plain
        return f'book: {id_of(plain, [self.base])}\ntitle: "Rules of {title}"\nadds_to: {self.base}\n'

    def _old(self, path: Path) -> str:
        if path not in self.before:
            self.before[path] = path.read_text(encoding="utf-8-sig") if path.is_file() else None
        return self.before[path] or ""

    def _put(self, path: Path, text: str) -> None:
        self._old(path)
        try:
            self.made += [folder for folder in path.parents if not folder.exists()]
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_text(text, encoding="utf-8")
        except OSError as why:
            message = f"{path} cannot be written: {why.strerror}."
            raise InputError("input.folder", message, None, "Name another folder.") from None

    # --- how it fares ----------------------------------------------------------------------------------------------

    def _try(self, draft: Draft) -> Tried:
        folders = chosen_folders([*(one for one in self.rules if one.resolve() != self.root.resolve()), self.root])
        reading = read_folder(*folders)
        if reading.book is None:
            lines = tuple(map(describe, self._mine(reading.problems)))
            return Tried(lines or tuple(map(describe, reading.problems[:3])), len(reading.problems))
        found = self._case(draft, reading.book)
        cases = [*cases_beside(folders), *([self.cases] if self.cases.is_dir() else [])]
        outcome = look(folders, cases)
        mine = self._mine(outcome.problems)
        errors = sum(problem.severity == "error" for problem in mine)
        marked = [one for one in mine if one.code in MARKS]
        lines = tuple(describe(one) for one in mine if one not in marked)
        places = tuple(f"{_seen(Path(one.where.file)).as_posix()}:{one.where.line}" for one in marked)
        return found._replace(problems=lines, errors=errors, marks=places)

    def _mine(self, problems: Sequence[Problem]) -> list[Problem]:
        names = {path.resolve() for path in self.before}
        return [one for one in problems if Path(one.where.file).resolve() in names]

    def _case(self, draft: Draft, book: Book) -> Tried:
        """Write the cases, with what the book makes of them now where the author was not asked."""
        reasoner = Reasoner(book)
        view: dict[str, Any] = {}
        holds = True
        try:
            for dangerous in (True, False) if draft.two_cases else (False,):
                view = self._replayed(draft, reasoner, dangerous=dangerous)
                holds = holds and bool(view["holds"])
        except DiagnoseError as why:
            return Tried(top=f"The case cannot be run: {why}")
        (complaint,) = (one for one in view["complaints"] if one["id"] == next(iter(draft.shares)))
        step = view["next"]
        asked = f"{step['text']} ({step['id']})" if step["kind"] == "check" else ""
        first = next((item for item in view["plan"]), None)
        other = first["name"] if first and first["fix"] not in _own_fixes(draft, reasoner.book) else ""
        found = _top(draft, complaint)
        return found._replace(ride=view["ride"]["verdict"], asked=asked, other_fix=other, holds=holds)

    def _replayed(self, draft: Draft, reasoner: Reasoner, *, dangerous: bool) -> dict[str, Any]:
        """One case, written anew by what comes of it, but with the author's fix; a dangerous bike is not ridden."""
        path, book = self.case_path(draft, dangerous=dangerous), reasoner.book
        self._put(path, case_of(draft, Expected(), dangerous=dangerous))
        view = replay(reasoner, read_case(path, book, case_reader(book)))
        ride = "stop" if dangerous else view["ride"]["verdict"]
        own = _own_fixes(draft, book)
        planned = next((item["fix"] for item in view["plan"]), "")
        fix = planned if planned in own else next(iter(own), "")
        step = fix if fix and view["next"]["kind"] == "fix" else view["next"]["id"]
        fix = "" if dangerous else fix
        self._put(path, case_of(draft, Expected(ride, *map(_bare, (step, fix))), dangerous=dangerous))
        return replay(reasoner, read_case(path, book, case_reader(book)))


def _own_fixes(draft: Draft, book: Book) -> list[str]:
    """The fixes that the author told, by their ids in the book."""
    told = {one.id for one in draft.repairs}
    return [fix for fix in book.fixes if _bare(fix) in told]


def _bare(name: str) -> str:
    """An id without the folder that it comes from."""
    return name.rpartition(":")[2]


def _top(draft: Draft, complaint: dict[str, object]) -> Tried:
    causes = complaint["causes"]
    assert isinstance(causes, list)  # noqa: S101 - what a View holds
    named = [(one["share"], str(one["name"]), one["id"].rpartition(":")[2]) for one in causes]
    mine = next((share for share, _, name in named if name == draft.id), 0.0)
    share, name, first = max([*named, (complaint["something_else"], "something that is not in the book", "")])
    if first == draft.id:
        text = f"With what was seen in the case, {100 * mine:.0f} of 100 such bikes have your cause: it is on top."
        return Tried(on_top=True, top=text)
    text = f"With what was seen in the case, likelier than yours ({100 * mine:.0f} of 100): {name}, {100 * share:.0f}."
    return Tried(rival=name, top=text)


def _kind(name: str) -> str:
    return kind_of(Path(name)) or "cause"


def _seen(path: Path) -> Path:
    """A path as it is seen from here."""
    return Path(os.path.relpath(path)) if path.is_relative_to(Path.cwd()) else path
