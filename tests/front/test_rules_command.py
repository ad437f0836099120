"""`diagnose rules check`: exit codes and what is printed where. The messages themselves are held in tests/book."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from diagnose.book.anomalies.anomaly import Anomaly
from diagnose.book.kind import Kind
from diagnose.book.problems import Problem
from diagnose.errors import Location
from diagnose.front.anomalies import every_kind
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


@pytest.mark.parametrize("arguments", [["rules", "chek"], ["rules", "check", "--every"]])
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


# --- the closer look ------------------------------------------------------------------------------------------------

STANDS = """seat:
  quantity: "seat"
  low: 26.4
  unit: mm
  kind: minimum
  basis: memory
  let_stand: {limit.unused: "The next system needs it."}
"""


def lay_one_that_stands(place: Path) -> Path:
    """The small book with a limit that nobody uses, and the reason why it stays."""
    folder = lay_small(place)
    limits = folder / "front" / "limits.yaml"
    limits.write_text(limits.read_text(encoding="utf-8") + STANDS, encoding="utf-8")
    return folder


def as_json(arguments: list[str], capsys: pytest.CaptureFixture[str]) -> tuple[int, dict[str, Any]]:
    """Exit code and the envelope; nothing is said beside it."""
    code = main(["rules", "check", "--json", *arguments])
    captured = capsys.readouterr()
    assert captured.err == ""
    envelope = json.loads(captured.out)
    assert list(envelope) == [
        "schema", "program", "book", "counts", "problems", "let_stand", "by_kind", "errors", "warnings",
    ]  # fmt: skip
    return code, envelope


def test_a_warning_ends_with_1_where_it_is_asked_to(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """With --strict; a finding that is let stand is none."""
    assert main(["rules", "check", "--strict", str(lay("shares-far-from-100", tmp_path / "one"))]) == 1
    assert main(["rules", "check", "--strict", str(lay_one_that_stands(tmp_path / "two"))]) == 0
    capsys.readouterr()


def test_what_stands_is_listed_where_it_is_asked_for(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """With --all, each with its reason."""
    assert main(["rules", "check", "--all", str(lay_one_that_stands(tmp_path))]) == 0
    said = capsys.readouterr().out
    assert ": let stand: nothing names the limit 'seat'" in said
    assert "\n    Because: The next system needs it.\n" in said


def test_the_json_of_a_warning_says_all_that_the_text_says(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Code, severity, place, message, why and hint; counts of each kind."""
    code, said = as_json([str(lay("shares-far-from-100", tmp_path))], capsys)
    assert code == 0
    assert said["book"]["id"] == "small"
    assert said["counts"]["causes"] == 4
    assert (said["errors"], said["warnings"], said["by_kind"]) == (0, 1, {"shares.sum": 1})
    (problem,) = said["problems"]
    assert problem["file"].endswith("book/front/complaints.yaml")
    assert (problem["line"], problem["column"], problem["severity"]) == (1, 1, "warning")
    assert all(problem[key] for key in ("code", "message", "why", "hint"))


def test_the_json_of_what_stands_has_the_reason(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Apart from the problems."""
    code, said = as_json([str(lay_one_that_stands(tmp_path))], capsys)
    assert (code, said["problems"], said["errors"], said["warnings"]) == (0, [], 0, 0)
    assert [(one["code"], one["reason"]) for one in said["let_stand"]] == [
        ("limit.unused", "The next system needs it.")
    ]


def test_the_json_of_a_book_that_cannot_be_used_has_its_errors(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Book and counts are null; where there is no folder at all, the exit code is 2."""
    code, said = as_json([str(lay("unknown-fact", tmp_path))], capsys)
    assert (code, said["book"], said["counts"], said["errors"]) == (1, None, None, 1)
    code, said = as_json([str(tmp_path / "nowhere")], capsys)
    assert (code, said["book"], said["problems"][0]["code"]) == (2, None, "book.missing")


def test_cases_are_looked_for_beside_the_rules_or_where_told(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Without any, nothing is said of causes without a case."""
    folder = lay_small(tmp_path)
    assert as_json([str(folder)], capsys)[1]["by_kind"] == {}
    (tmp_path / "elsewhere").mkdir()
    assert as_json([str(folder), "--cases", str(tmp_path / "elsewhere")], capsys)[1]["by_kind"] == {
        "cause.without-case": 3
    }
    (tmp_path / "cases").mkdir()
    assert as_json([str(folder)], capsys)[1]["by_kind"] == {"cause.without-case": 3}
    monkeypatch.chdir(folder)
    assert as_json(["."], capsys)[1]["by_kind"] == {"cause.without-case": 3}


# --- what is looked for ---------------------------------------------------------------------------------------------


def test_all_that_is_looked_for_is_listed(capsys: pytest.CaptureFixture[str]) -> None:
    """One line each: code, severity, what it is."""
    assert main(["rules", "explain"]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert [line.split()[:2] for line in lines] == [[one.name, one.severity] for one in every_kind()]


@pytest.mark.parametrize("kind", every_kind(), ids=lambda one: one.name)
def test_each_is_explained_with_an_example_of_either_kind(kind: Kind, capsys: pytest.CaptureFixture[str]) -> None:
    """The files of both stand in it as they are written, and, where that may be, how to let it stand."""
    assert main(["rules", "explain", kind.name]) == 0
    said = capsys.readouterr().out
    for example in (kind.wrong, kind.right):
        for file, text in example.files() if example else ():
            shown = text.replace("\t", "<tab>").replace("\u200b", "<U+200B>")
            assert f"  {file}\n" in said
            assert "".join(f"    {line}\n" for line in shown.splitlines()) in said
    assert kind.why in said
    assert all(line.isprintable() for line in said.splitlines())
    assert (f"let_stand: {{{kind.name}:" in said) == isinstance(kind, Anomaly)


def test_what_is_not_looked_for_is_told_with_the_nearest_word(capsys: pytest.CaptureFixture[str]) -> None:
    """And is a wrong use."""
    assert main(["rules", "explain", "limit.unusd"]) == 2
    assert "Did you mean 'limit.unused'?" in capsys.readouterr().err
