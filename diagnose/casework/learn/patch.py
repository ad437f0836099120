"""A lesson as a change to the book's files: only the figures are replaced, all else stays as it stands.

Cast: `Edit` is one figure; `edits` makes them of ranges, `patched` puts them into the files' text, `unified` shows the
change as a unified diff, `proven` reads the changed book and looks whether it says what was meant.
"""

from __future__ import annotations

import shutil
from collections.abc import Iterable, Mapping, Sequence
from difflib import unified_diff
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import NamedTuple

from diagnose.book.likelihood import read_count
from diagnose.book.model import Book
from diagnose.book.shape import bare
from diagnose.book.shelf import load_book
from diagnose.book.tree import Mapping as Branch
from diagnose.book.tree import Node, Text, parse, read_text
from diagnose.casework.learn.ranges import Range, RowRange, ShareRanges
from diagnose.errors import BookError, Location

LEAST_ELSE = 3.0
"""*Something else* is at least so many of 100."""
NEAR = 0.006
"""What the changed book says may differ by so much from what was meant: figures are rounded when they are written."""


class Edit(NamedTuple):
    """One figure: in which file, under which keys, as it stands and as it is to be."""

    file: str
    path: tuple[str, ...]
    old: str
    new: str


def edits(book: Book, shares: Iterable[ShareRanges], rows: Iterable[RowRange]) -> list[Edit]:
    """The figures that change; those that would be written as they stand are left out."""
    found: list[Edit] = []
    for one in shares:
        if one.moves:
            found += _share_edits(book, one)
    for row in rows:
        if row.moves:
            found += _row_edits(book, row)
    return [edit for edit in found if edit.old != edit.new]


def _share_edits(book: Book, ranges: ShareRanges) -> Iterable[Edit]:
    """The shares of a complaint belong together: where one moves, all that have moved are written."""
    for name, one in ranges.causes.items():
        share = book.causes[name].shares[ranges.complaint]
        if abs(one.mean - one.book) * ranges.raw >= 0.5 or one.off:
            new = _count(max(one.mean * ranges.raw / 100, 0.005), one.weight, 0.0)
            yield Edit(share.where.file, ("common_for", bare(ranges.complaint)), share.written, new)
    if ranges.something_else.off:
        complaint = book.complaints[ranges.complaint]
        path = (bare(ranges.complaint), "something_else")
        old = written_at(complaint.where.file, path)
        new = _count(max(ranges.something_else.mean, LEAST_ELSE / 100), ranges.something_else.weight, 0.0)
        yield Edit(complaint.where.file, path, old, new)


def _row_edits(book: Book, row: RowRange) -> Iterable[Edit]:
    """The values that the row names; the others share what is left, as before."""
    written = book.causes[row.cause].shows[row.finding]
    for value, old in written.written.items():
        one = row.values[value]
        yield Edit(written.where.file, ("shows", bare(row.finding), value), old, _count(one.mean, one.weight, 0.5))


def _count(share: float, weight: float, half: float) -> str:
    """`n in m` that reads as this share; `half` is what is added to n when it is read, and twice that to m."""
    cases = max(1, round(weight))
    n = min(max(share * (cases + 2 * half) - half, 0.0), float(cases))
    text = f"{n:.0f}" if cases >= 200 else f"{n:.1f}".removesuffix(".0")
    return f"{text} in {cases}"


def written_at(file: str, path: Sequence[str]) -> str:
    """What stands under these keys; empty where nothing does."""
    found = _node(parse(read_text(Path(file), file), file), path)
    return found.value if found else ""


def else_weight(book: Book, complaint: str) -> float:
    """How many cases the book's *something else* counts as."""
    written = written_at(book.complaints[complaint].where.file, (bare(complaint), "something_else"))
    count = read_count(written)
    return float(count[1]) if count else 10.0


def _node(node: Node | None, path: Sequence[str]) -> Text | None:
    for key in path:
        if not isinstance(node, Branch):
            return None
        node = node.items.get(key) or next((child for name, child in node.items.items() if bare(name) == key), None)
    return node if isinstance(node, Text) else None


def patched(changes: Iterable[Edit]) -> dict[str, tuple[str, str]]:
    """File to its text before and after.

    Raises:
        BookError: `learn.moved`, a figure does not stand where it stood when the book was read.
    """
    by_file: dict[str, list[Edit]] = {}
    for edit in changes:
        by_file.setdefault(edit.file, []).append(edit)
    return {file: _file(file, found) for file, found in sorted(by_file.items())}


def _file(file: str, changes: Sequence[Edit]) -> tuple[str, str]:
    with Path(file).open(encoding="utf-8", newline="") as opened:
        before = opened.read()
    tree = parse(before, file)
    lines = before.splitlines(keepends=True)
    places = []
    for edit in changes:
        node = _node(tree, edit.path)
        if node is None or node.value != edit.old:
            raise _moved(file, edit)
        places.append((node.where, edit))
    for where, edit in sorted(places, key=lambda one: one[0], reverse=True):
        line, at = lines[where.line - 1], where.column - 1
        if line[at : at + len(edit.old)] != edit.old:
            raise _moved(file, edit)
        lines[where.line - 1] = line[:at] + edit.new + line[at + len(edit.old) :]
    return before, "".join(lines)


def _moved(file: str, edit: Edit) -> BookError:
    message = f"'{edit.old}' does not stand here as a plain figure under {' / '.join(edit.path)}"
    return BookError("learn.moved", message, Location(file, 1, 1), "Write the figure unquoted on one line, or again.")


def unified(texts: Mapping[str, tuple[str, str]], folders: Sequence[Path]) -> str:
    """The change as a unified diff, files named from the folder that they stand in."""
    parts = []
    for file, (before, after) in texts.items():
        name = _name(Path(file), folders)
        lines = unified_diff(before.splitlines(True), after.splitlines(True), f"a/{name}", f"b/{name}", n=2)
        parts.append(
            "".join(line if line.endswith("\n") else f"{line}\n\\ No newline at end of file\n" for line in lines)
        )
    return "".join(parts)


def _name(file: Path, folders: Sequence[Path]) -> str:
    for folder in folders:
        if file.resolve().is_relative_to(folder.resolve()):
            return f"{folder.resolve().name}/{file.resolve().relative_to(folder.resolve()).as_posix()}"
    return file.name


def proven(texts: Mapping[str, tuple[str, str]], folders: Sequence[Path]) -> Book:
    """The changed book, read from a copy.

    Raises:
        BookError: it could not be used any more.
    """
    with TemporaryDirectory(prefix="diagnose-") as above:
        copies = [Path(above) / str(at) / folder.resolve().name for at, folder in enumerate(folders)]
        for folder, copy in zip(folders, copies, strict=True):
            shutil.copytree(folder, copy)
        for file, (_, after) in texts.items():
            for folder, copy in zip(folders, copies, strict=True):
                if Path(file).resolve().is_relative_to(folder.resolve()):
                    into = copy / Path(file).resolve().relative_to(folder.resolve())
                    into.write_text(after, encoding="utf-8", newline="")
        return load_book(*copies, cache=False)


def says(book: Book, shares: Iterable[ShareRanges], rows: Iterable[RowRange]) -> list[str]:
    """Figures of a changed book that differ from what was meant; none where all is well."""
    wrong = []
    for one in shares:
        for name, meant in one.causes.items():
            is_now = book.causes[name].shares[one.complaint].of_100 / one.raw
            if meant.off and abs(is_now - meant.mean) > NEAR + LEAST_ELSE / 100:
                wrong.append(f"{name} / {one.complaint}")
    for row in rows:
        written = book.causes[row.cause].shows[row.finding]
        for value, chance in zip(book.values[row.finding], written.chances, strict=True):
            if value in written.written and _differs(row.values[value], chance):
                wrong.append(f"{row.cause} / {row.finding} / {value}")
    return wrong


def _differs(meant: Range, chance: float) -> bool:
    return abs(chance - meant.mean) > NEAR + 1 / meant.weight


def write(texts: Mapping[str, tuple[str, str]]) -> None:
    """Write the files, each whole or not at all.

    Raises:
        BookError: `learn.unwritable`; files written before it stay written.
    """
    for file, (_, after) in texts.items():
        path = Path(file)
        half = path.with_name(f".{path.name}.part")
        try:
            half.write_text(after, encoding="utf-8", newline="")
            half.chmod(path.stat().st_mode & 0o777)
            half.replace(path)
        except OSError as why:
            half.unlink(missing_ok=True)
            reason = why.strerror or str(why)
            raise BookError("learn.unwritable", f"cannot be written: {reason}", Location(file)) from None
