"""`diagnose rules check`: exit codes and what is printed where. The messages themselves are held in tests/book."""

from __future__ import annotations

from pathlib import Path

import pytest

from diagnose.book.problems import Problem
from diagnose.errors import Location
from diagnose.front.main import main
from diagnose.front.problems import describe
from tests.book.broken_books import lay, lay_small


def check(folder: Path, capsys: pytest.CaptureFixture[str]) -> tuple[int, list[str]]:
    """Exit code and the lines that were printed; nothing is said beside them."""
    code = main(["rules", "check", str(folder)])
    captured = capsys.readouterr()
    assert captured.err == ""
    return code, captured.out.splitlines()


def test_a_sound_book_ends_with_0(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """What it holds is counted, so that a file that was not read is noticed."""
    assert check(lay_small(tmp_path), capsys) == (
        0,
        [
            "The book reads well: 1 complaint, 3 causes, 3 findings, 4 checks, 2 limits, 4 deductions, 3 fixes.",
            "0 errors, 0 warnings.",
        ],
    )


def test_a_warning_ends_with_0(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The book can be used; a mechanic should look."""
    code, lines = check(lay("shares-far-from-100", tmp_path), capsys)
    assert code == 0
    assert ": warning: " in lines[0]
    assert lines[-1] == "0 errors, 1 warning."


def test_an_error_ends_with_1(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """And nothing says that the book reads well."""
    code, lines = check(lay("unknown-fact", tmp_path), capsys)
    assert code == 1
    assert lines[-1] == "1 error, 0 warnings."
    assert not any("reads well" in line for line in lines)


@pytest.mark.parametrize("arguments", [["rules", "chek"], ["rules", "check", "a", "b"], ["rules", "check", "--every"]])
def test_a_wrong_use_ends_with_2(arguments: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    """With the usage."""
    assert main(arguments) == 2
    assert "Usage: diagnose rules" in capsys.readouterr().err


def test_the_shipped_book_is_checked_when_none_is_named(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """From whatever folder, and it has no errors."""
    monkeypatch.chdir(tmp_path)
    assert main(["rules", "check"]) == 0
    assert "The book reads well: " in capsys.readouterr().out


def test_a_file_that_speaks_to_the_terminal_is_not_passed_on(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Names and words of files are shown without control characters, however they got in."""
    folder = lay_small(tmp_path)
    (folder / "bad\x1b[2Jname.yaml").write_text("x: y\n", encoding="utf-8")
    (folder / "front" / "tools.yaml").write_text('"a\\e[31m": "x"\n', encoding="utf-8")
    code, lines = check(folder, capsys)
    assert code == 1
    assert all(line.isprintable() for line in lines)
    assert any("bad?[2Jname.yaml:1:1: error: " in line for line in lines)


def test_a_problem_is_one_line() -> None:
    """Place, severity, message, hint, code; no full stop is doubled."""
    problem = Problem(Location("a.yaml", 3, 5), "x.y", "line\nbroken.", "Write it.", "warning")
    assert describe(problem) == "a.yaml:3:5: warning: line?broken. Write it. [x.y]"
    assert describe(problem._replace(message="no hint", hint="")) == "a.yaml:3:5: warning: no hint. [x.y]"
