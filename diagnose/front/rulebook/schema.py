"""`diagnose rules schema`: JSON Schemas of rule files and worked cases, so that an editor completes and underlines."""

from __future__ import annotations

import json
from pathlib import Path

import click

from diagnose.book.editor_schema import Schema, file_schemas, ids_of
from diagnose.book.load import read_folder
from diagnose.book.own import Trees
from diagnose.casework.case_schema import case_schema
from diagnose.errors import InputError
from diagnose.front.options import chosen_folders, rules_option

CAUSES, CASES = "**/causes/*.yaml", "**/cases/**/*.yaml"


@click.command()
@click.argument("folder", type=click.Path(path_type=Path), default=Path("schema"))
@rules_option
def command(folder: Path, rules: tuple[Path, ...]) -> int:
    """Write a JSON Schema for each kind of rule file, and for worked cases, into FOLDER (`schema` when left out).

    They know the ids of the book as it is now, also of one with errors: write them again when ids have come or gone.
    With --rules and an own folder they are for that folder's files.
    What is printed tells an editor which files each is for.

    Example: diagnose rules schema .schema
    """
    folders = chosen_folders(rules)
    trees = read_folder(*folders).trees
    ids = ids_of(trees, _own(trees, rules[-1]) if rules and rules[-1] in folders[1:] else "")
    schemas = {**file_schemas(ids), "case": case_schema(ids)}
    _write(folder, {_name(kind): schema for kind, schema in schemas.items()})
    patterns = {f"{folder.as_posix()}/{_name(kind)}": _files(kind) for kind in schemas}
    click.echo(json.dumps({"yaml.schemas": patterns}, indent=2))
    return 0


def _own(trees: Trees, folder: Path) -> str:
    """The id of an own folder."""
    return next((source.book for source in trees if source.path.is_relative_to(folder)), "")


def _name(kind: str) -> str:
    return f"{kind.removesuffix('.yaml')}.schema.json"


def _files(kind: str) -> str:
    return {"cause": CAUSES, "case": CASES}.get(kind, f"**/{kind}")


def _write(folder: Path, schemas: dict[str, Schema]) -> None:
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for name, schema in schemas.items():
            (folder / name).write_text(json.dumps(schema, indent=1, ensure_ascii=True) + "\n", encoding="utf-8")
    except OSError as why:
        message = f"The schemas cannot be written to {folder}: {why.strerror}."
        raise InputError("input.folder", message, None, "Name a folder that can be written to.") from why
