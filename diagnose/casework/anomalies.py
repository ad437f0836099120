"""Anomalies of a rule book that its worked cases show.

Cast: `of_cases(folders)` gives `WithoutCase` and `MarkInCase` over the worked cases of folders; without any they find
nothing.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path

from diagnose.book.anomalies.anomaly import Anomaly, Example, Found, Study
from diagnose.book.anomalies.speech import ToBeTold, marks_in
from diagnose.book.marks import TO_BE_TOLD
from diagnose.book.shape import bare
from diagnose.book.tree import Mapping, Node, Text, parse, read_text
from diagnose.casework.replay import find_cases
from diagnose.errors import DiagnoseError

CASES = "../cases/front"


def of_cases(folders: Sequence[Path]) -> tuple[Anomaly, ...]:
    """The anomalies that worked cases show; a folder or file that cannot be read is left to `diagnose replay`."""
    cases = Cases(folders)
    return (WithoutCase(cases), MarkInCase(cases))


class Cases:
    """The text of the case files of folders, read when it is first wanted; `known` says whether there is a folder."""

    def __init__(self, folders: Sequence[Path]) -> None:
        self.folders = tuple(folders)
        self.known = bool(folders)
        self._texts: dict[str, str] | None = None

    def texts(self) -> dict[str, str]:
        """File to its text."""
        if self._texts is None:
            self._texts = dict(self._read())
        return self._texts

    def _read(self) -> Iterator[tuple[str, str]]:
        for path in self._paths():
            try:
                yield str(path), read_text(path, str(path))
            except DiagnoseError:
                continue

    def _paths(self) -> Iterator[Path]:
        for folder in self.folders:
            try:
                yield from find_cases(folder, lambda _: None)
            except DiagnoseError:
                continue

    def tops(self) -> set[str]:
        """The causes that some case expects on top."""
        found: set[str] = set()
        for shown, text in self.texts().items():
            try:
                node = parse(text, shown)
            except DiagnoseError:
                continue
            found.update(_words(_under(_under(node, "expect"), "top")))
        return found


def _under(node: Node | None, key: str) -> Node | None:
    return node.items.get(key) if isinstance(node, Mapping) else None


def _words(node: Node | None) -> Iterator[str]:
    """The word that stands here, or the words of each complaint."""
    for one in node.items.values() if isinstance(node, Mapping) else [node]:
        if isinstance(one, Text):
            yield one.value


class WithoutCase(Anomaly):
    """A cause that no worked case expects on top."""

    name = "cause.without-case"
    why = "Nothing shows that it is ever found, and a later change may lose it without anybody noticing."
    wrong = Example(
        f"{CASES}/gap.yaml",
        """
case: "A knock and no gap above the steerer: a spacer is missing"
profile: {headset: threadless}
complaints: [front-knock]
answers: {finger-across-gap: clear, measure-gap: 0.5 mm, turn-bars: smooth}
expect: {top: gap-wrong, ride: care, next: correct-gap}
""",
    )
    right = Example(
        f"{CASES}/gap.yaml",
        wrong.text,
        (
            (
                f"{CASES}/preload.yaml",
                """
case: "A knock with the gap right: the preload is lost"
profile: {headset: threadless}
complaints: [front-knock]
answers: {finger-across-gap: clear, measure-gap: 3.5 mm, turn-bars: smooth}
expect: {top: preload-lost, ride: care, next: set-preload}
""",
            ),
            (
                f"{CASES}/bearings.yaml",
                """
case: "A knock and bars that catch: the bearings are worn"
profile: {headset: threadless}
complaints: [front-knock]
answers: {finger-across-gap: clear, turn-bars: notchy}
expect: {top: bearings-worn, ride: care, next: replace-bearings}
""",
            ),
        ),
    )

    def __init__(self, cases: Cases) -> None:
        self.cases = cases

    def find(self, study: Study) -> Iterator[Found]:
        """Report causes."""
        if self.cases.known:
            tops = self.cases.tops()
            for name in study.book.causes:
                if not {name, bare(name)} & tops:
                    owner = ("cause", name)
                    message = f"no worked case has '{name}' on top"
                    hint = f"Write one in {self._folder(study, name)}, with `expect: {{top: {name}, ...}}`."
                    yield Found(study.place(owner), message, hint, owner)

    def _folder(self, study: Study, cause: str) -> str:
        """Where its case belongs: beside the own folder that it comes from, else among those of the book."""
        volume = study.book.volume_of(cause)
        if not volume.adds_to:
            return str(self.cases.folders[0])
        folder = Path(volume.folder)
        return (folder if folder.name not in ("", "..") else folder.resolve()).with_name("cases").as_posix()


class MarkInCase(Anomaly):
    """A mark in a worked case where something is still to be told."""

    name = "mark.in-a-case"
    why = ToBeTold.why
    wrong = Example(
        f"{CASES}/gap.yaml", f"# {TO_BE_TOLD}: what was seen at the steerer\n{WithoutCase.wrong.text.strip()}"
    )
    right = WithoutCase.right

    def __init__(self, cases: Cases) -> None:
        self.cases = cases

    def find(self, study: Study) -> Iterator[Found]:
        """Report every mark of every case file."""
        del study
        for shown, text in self.cases.texts().items():
            yield from marks_in(text, shown)
