"""`diagnose rules tidy`: rule files and worked cases in one layout, with their comments, saying the same as before."""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path

import click

from diagnose.book.files import yaml_files
from diagnose.book.load import shape_of
from diagnose.book.own import Source
from diagnose.book.shape import Either, MapOf, Shape, Words
from diagnose.book.tidy import tidy
from diagnose.book.tree import Mapping, parse, read_text
from diagnose.casework.caseanswers import ANSWER
from diagnose.casework.casefile import case_shape
from diagnose.errors import BookError, DiagnoseError, InputError, Location

ANSWERS = MapOf((), Either(Words(), ANSWER))


@click.command()
@click.argument("paths", nargs=-1, required=True, type=click.Path(path_type=Path), metavar="PATH...")
@click.option("--check", is_flag=True, help="Change nothing: name what is not tidy, exit 1 if there is any.")
def command(paths: tuple[Path, ...], check: bool) -> int:
    """Put rule files and worked cases, or folders of them, into one layout.

    Keys stand in the order of the format, levels two spaces apart, nothing at line ends. Comments stay. What the
    program reads from a file is never changed. A file that cannot be read is told and left alone.

    Exit 0 when all is tidy now, 1 when a file could not be tidied.

    Example: diagnose rules tidy rules/steering
    """
    untidy = failed = count = 0
    for path in _files(paths):
        count += 1
        try:
            changed = _tidy(path, write=not check)
        except DiagnoseError as why:
            click.echo(str(why), err=True)
            failed += 1
            continue
        if changed:
            untidy += 1
            click.echo(f"{path}: {'not tidy' if check else 'tidied'}")
    click.echo(_summary(count, untidy, failed, check))
    return 1 if failed or (check and untidy) else 0


def _summary(count: int, untidy: int, failed: int, check: bool) -> str:
    files = "1 file" if count == 1 else f"{count} files"
    told = [f"{untidy} {'not tidy' if check else 'tidied'}", f"{count - untidy - failed} tidy before"]
    told += [f"{failed} left alone"] if failed else []
    return f"{files}: {', '.join(told)}."


def _files(paths: tuple[Path, ...]) -> Iterator[Path]:
    """The files that are named, and those of named folders, each once."""
    seen = set()
    for path in paths:
        if not path.exists():
            raise InputError("input.path", f"There is no {path}.", None, "Name a file or folder of rules or cases.")
        for one in sorted(yaml_files(path)) if path.is_dir() else [path]:
            if one not in seen:
                seen.add(one)
                yield one


def _tidy(path: Path, write: bool) -> bool:
    """Whether a file is not tidy; it is written anew then, unless `write` is off."""
    shown = path.as_posix()
    text = read_text(path, shown)
    after = tidy(text, shown, _shape(path, text))
    raw = after.encode()
    if raw == path.read_bytes():
        return False
    if write:
        _write(path, raw)
    return True


def _write(path: Path, raw: bytes) -> None:
    """Write a file so that it is either the old or the new one, whatever happens."""
    partial = path.with_name(f".{path.name}.{os.getpid()}")
    try:
        partial.write_bytes(raw)
        partial.chmod(path.stat().st_mode)
        partial.replace(path)
    except OSError as why:
        partial.unlink(missing_ok=True)
        message = f"cannot be written: {why.strerror}"
        raise BookError("file.unwritable", message, Location(path.as_posix(), 1, 1), "Check its rights.") from None


def _shape(path: Path, text: str) -> Shape:
    """The shape of a file: a worked case says `case:`, a rule file is known by its name.

    Raises:
        BookError: it is neither.
    """
    full = path.resolve()
    kind = Source.of(full.parent.parent, full).kind or Source.of(full.parent, full).kind
    node = parse(text, path.as_posix())
    if isinstance(node, Mapping) and "case" in node.items:
        return case_shape(ANSWERS)
    if kind is None:
        message, hint = "this is neither a rule file nor a worked case", "A case has a line `case: ...`."
        raise BookError("file.unknown", message, Location(path.as_posix(), 1, 1), hint)
    return shape_of("own-book" if kind == "book" and isinstance(node, Mapping) and "adds_to" in node.items else kind)
