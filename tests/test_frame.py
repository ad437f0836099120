"""The project's frame: which room may import which, what the first prompt loads, and what the README promises."""

from __future__ import annotations

import ast
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from diagnose import __version__

CLONE = Path(__file__).resolve().parent.parent
MAY_IMPORT = {
    "bench": {"bench"},
    "book": {"book", "bench"},
    "reason": {"reason", "book", "bench"},
    "casework": {"casework", "reason", "book", "bench"},
    "front": {"front", "casework", "reason", "book", "bench"},
}
NOT_ON_THE_WAY_TO_THE_FIRST_PROMPT = ("durable", "rich", "yaml", "sqlite3", "json")


def modules_of(room: str) -> list[Path]:
    """The source files of one room."""
    return sorted((CLONE / "diagnose" / room).rglob("*.py"))


def imported_by(module: Path) -> Iterator[str]:
    """Full names that a module imports, wherever in it and in whichever way."""
    for node in ast.walk(ast.parse(module.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{module}: relative import"
            yield node.module or ""
            yield from (f"{node.module}.{alias.name}" for alias in node.names)
        elif isinstance(node, ast.Call) and ast.unparse(node.func).endswith("import_module"):
            yield from (str(word.value) for word in node.args if isinstance(word, ast.Constant))


def run(*command: str) -> subprocess.CompletedProcess[str]:
    """Run this Python in the clone."""
    return subprocess.run([sys.executable, *command], cwd=CLONE, capture_output=True, text=True, check=False)


@pytest.mark.parametrize("room", MAY_IMPORT)
def test_imports_run_downward_only(room: str) -> None:
    """Front, casework, reason, book in this order; all may use the bench, the bench uses none."""
    modules = modules_of(room)
    assert modules
    for module in modules:
        parts = [name.split(".") for name in imported_by(module)]
        rooms = {part[1] for part in parts if part[0] == "diagnose" and len(part) > 1 and part[1] in MAY_IMPORT}
        assert rooms <= MAY_IMPORT[room], module


@pytest.mark.parametrize("room", MAY_IMPORT)
def test_no_constant_is_told_twice(room: str) -> None:
    """A second one would silently speak in place of the first, on a screen that means something else."""
    for module in modules_of(room):
        body = ast.parse(module.read_text(encoding="utf-8")).body
        told = [one.targets[0] for one in body if isinstance(one, ast.Assign)]
        told += [one.target for one in body if isinstance(one, ast.AnnAssign) and one.value]
        names = [one.id for one in told if isinstance(one, ast.Name)]
        assert len(names) == len(set(names)), module


def test_one_module_imports_the_engine() -> None:
    """The engine stands behind one typed module."""
    importers = {
        module.relative_to(CLONE).as_posix()
        for room in MAY_IMPORT
        for module in modules_of(room)
        if any(name.split(".")[0] == "durable" for name in imported_by(module))
    }
    assert importers == {"diagnose/reason/deduce.py"}


def test_the_first_prompt_loads_nothing_heavy() -> None:
    """Naming the command loads neither the engine nor the terminal library nor a parser."""
    loaded = run("-c", "import sys, diagnose.front.main; print(*sys.modules)").stdout.split()
    assert "click" in loaded
    assert not set(loaded) & set(NOT_ON_THE_WAY_TO_THE_FIRST_PROMPT)


def test_the_package_runs_as_a_module() -> None:
    """`python -m diagnose` is the command, so that a path with a space does not matter."""
    done = run("-m", "diagnose", "--version")
    assert (done.returncode, done.stdout) == (0, f"diagnose {__version__}\n")


@pytest.mark.parametrize(("number", "end"), [("1", "diagnose stand --play cases/"), ("2", "-m pytest")])
def test_each_command_of_the_readme_is_one_line(number: str, end: str) -> None:
    """The first block runs the main job, the second the tests; each is one line to paste."""
    line = run(".ci/readme_blocks.py", number).stdout
    assert line.count("\n") == 1
    assert end in line


def test_a_missing_block_of_the_readme_is_an_error() -> None:
    """The reader of the blocks never hands out an empty command."""
    done = run(".ci/readme_blocks.py", "99")
    assert done.returncode == 1
    assert "none is number 99" in done.stderr
