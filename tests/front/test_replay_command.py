"""`diagnose replay`: exit codes, the text and the JSON envelope, with files that hold, fail and cannot be read."""

from __future__ import annotations

import json
import os
import re
from pathlib import Path
from typing import Any

import pytest

from diagnose.book.place import shipped_cases
from diagnose.front.main import main
from tests.book.broken_books import lay, lay_small
from tests.contract import Json, check_envelope

HOLDS = """case: "A knock after a new stem is lost preload"
profile: {headset: threadless, recent-work: [stem]}
complaints: [front-knock]
answers: {finger-across-gap: clear, measure-gap: 3.5 mm, turn-bars: smooth}
expect: {top: preload-lost, ride: care, next: set-preload}
"""
CANARY = HOLDS.replace("top: preload-lost", "top: bearings-worn").replace("A knock", "A canary: a knock")
STAND_IN = re.compile("Plain forward chaining stands in")
"""Said where the engine is not installed; what the cases come to does not depend on it."""
BROKEN = HOLDS.replace("finger-across-gap", "finger-in-gap").replace("ride: care", "ride: soon")


@pytest.fixture(autouse=True)
def bench(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with the small book and three cases, in which the commands are run."""
    lay_small(tmp_path)
    (tmp_path / "cases").mkdir()
    for name, text in (("holds", HOLDS), ("canary", CANARY), ("broken", BROKEN)):
        (tmp_path / "cases" / f"{name}.yaml").write_text(text, encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    return tmp_path


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str]) -> Any:
    """Exit code, what was printed, and what was said beside it."""

    def replay(*arguments: str, rules: str = "book") -> tuple[int, str, str]:
        code = main(["replay", "--rules", rules, *arguments])
        captured = capsys.readouterr()
        return code, captured.out, "".join(line for line in captured.err.splitlines(True) if not STAND_IN.match(line))

    return replay


def envelope(run: Any, *arguments: str) -> tuple[int, Json]:
    """Exit code and the checked envelope."""
    code, text, _ = run("--json", *arguments)
    return code, check_envelope(text)


def test_a_case_that_holds_ends_with_0(run: Any) -> None:
    """One line says how many."""
    assert run("cases/holds.yaml") == (0, "1 of 1 cases hold.\n", "")


def test_the_canary_ends_with_1(run: Any) -> None:
    """A wrong expectation is told with its file, its sentence, what was expected and what was found."""
    code, text, errors = run("cases/canary.yaml", "cases/holds.yaml")
    assert (code, errors) == (1, "")
    assert text == (
        "cases/canary.yaml: A canary: a knock after a new stem is lost preload\n"
        "  top: expected bearings-worn, found preload-lost\n"
        "1 of 2 cases hold.\n"
    )


def test_another_next_step_than_the_expected_one_says_why(run: Any) -> None:
    """What is known already is not asked; what takes longer is told in minutes."""
    for name, step in (("known", "turn-bars"), ("dearer", "hand-off")):
        Path(f"{name}.yaml").write_text(HOLDS.replace("next: set-preload", f"next: {step}"), encoding="utf-8")
    code, text, errors = run("known.yaml", "dearer.yaml")
    assert (code, errors) == (1, "")
    assert "  next: expected turn-bars, found set-preload\n    why: the other was answered before\n" in text
    assert re.search(
        r"next: expected hand-off, found set-preload\n    why: (\d+\.\d) min to be expected until it is gone; "
        r"(\d+\.\d) with the other first\n",
        text,
    )


def test_another_plan_than_the_expected_one_says_why(run: Any) -> None:
    """What stands too late is told with chance and minutes, what is missing with what keeps it out."""
    for name, order in (("late", "correct-gap, set-preload"), ("out", "replace-bearings")):
        text = HOLDS.replace("next: set-preload", f"plan_order: [{order}]")
        Path(f"{name}.yaml").write_text(text, encoding="utf-8")
    code, text, _ = run("late.yaml", "out.yaml")
    assert code == 1
    assert re.search(r"    why: .*\(set-preload\) \(cures \d+ of 100, .* min\) comes before .*\(correct-gap\)", text)
    assert re.search(r"plan_order: expected replace-bearings, found .*\n    why: .*\(replace-bearings\): ", text)


def test_one_problem_is_one(run: Any) -> None:
    """And the file that has it is counted among the cases, as one that does not hold."""
    Path("one.yaml").write_text(HOLDS.replace("ride: care", "ride: soon"), encoding="utf-8")
    assert run("one.yaml", "cases/holds.yaml")[1] == "1 of 2 cases hold; 1 problem in a file.\n"


def test_a_broken_file_ends_with_2_and_the_others_still_run(run: Any) -> None:
    """Each of its problems is told with file, line and column, beside what the others gave."""
    code, text, errors = run("cases")
    assert code == 2
    assert text.endswith("1 of 3 cases hold; 2 problems in files.\n")
    assert errors == (
        "cases/broken.yaml:4:11: error: there is no check 'finger-in-gap'. Did you mean 'finger-across-gap'? "
        "[id.unknown]\n"
        "cases/broken.yaml:5:35: error: unknown verdict 'soon'. Known: care, not-cleared, ride, stop. [word.unknown]\n"
    )


def test_a_file_that_is_missing_is_told_and_the_others_still_run(run: Any) -> None:
    """Also a folder without any case."""
    Path("empty").mkdir()
    code, text, errors = run("gone.yaml", "empty", "cases/holds.yaml")
    assert code == 2
    assert text == "1 of 2 cases hold; 2 problems in files.\n"
    assert errors == (
        "gone.yaml:1:1: error: there is no such file. Check the path. [file.missing]\n"
        "empty: error: this folder holds no case file. Name a folder of cases. [case.none]\n"
    )


def test_what_may_not_be_read_is_told_and_the_others_still_run(run: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    """A file without rights and a folder without any: each is told, as text and in the envelope."""
    Path("locked.yaml").write_text(HOLDS, encoding="utf-8")
    Path("shut").mkdir()
    denied = {"locked.yaml", "shut"}
    access, opened, scanned = os.access, Path.open, os.scandir

    def refused(path: Any) -> bool:
        return str(path) in denied

    def refuse(call: Any) -> Any:
        def asked(path: Any, *how: Any, **more: Any) -> Any:
            if refused(path):
                raise PermissionError(13, "Permission denied", str(path))
            return call(path, *how, **more)

        return asked

    monkeypatch.setattr(os, "access", lambda path, mode, **more: not refused(path) and access(path, mode, **more))
    monkeypatch.setattr(os, "scandir", refuse(scanned))
    monkeypatch.setattr(Path, "open", refuse(opened))
    code, text, errors = run("locked.yaml", "shut", "cases/holds.yaml")
    assert (code, text) == (2, "1 of 2 cases hold; 2 problems in files.\n")
    assert errors == (
        "locked.yaml:1:1: error: cannot be read: Permission denied. Check the file's rights. [file.unreadable]\n"
        "shut:1:1: error: this folder cannot be read: Permission denied. Check the folder's rights. [book.unreadable]\n"
    )
    code, found = envelope(run, "locked.yaml", "shut", "cases/holds.yaml")
    assert code == 2
    assert [view["holds"] for view in found["cases"]] == [True]
    assert [one["code"] for one in found["errors"]] == ["file.unreadable", "book.unreadable"]


@pytest.mark.parametrize("given", ["gone.yaml", "empty"])
def test_a_run_that_checked_nothing_fails(given: str, run: Any) -> None:
    """Neither as text nor as JSON is that a success."""
    Path("empty").mkdir()
    assert run(given)[0] == 2
    code, found = envelope(run, given)
    assert code == 2
    assert found["cases"] == []
    assert len(found["errors"]) == 1


def test_a_case_without_expectations_is_refused(run: Any) -> None:
    """It would hold whatever the program said."""
    for end in ("expect: {}", "expect: {in_first_three: [preload-lost]}", ""):
        Path("thin.yaml").write_text(HOLDS[: HOLDS.index("expect:")] + end, encoding="utf-8")
        assert run("thin.yaml")[0] == 2


# The envelope


def test_the_envelope_keeps_the_contract(run: Any) -> None:
    """Cases in the order given, errors with their place; exit 2, since there is an error."""
    code, found = envelope(run, "cases")
    assert code == 2
    assert [(view["file"], view["holds"]) for view in found["cases"]] == [
        ("cases/canary.yaml", False),
        ("cases/holds.yaml", True),
    ]
    assert found["book"]["id"] == "small"
    assert found["errors"] == [
        {
            "code": "id.unknown",
            "file": "cases/broken.yaml",
            "line": 4,
            "column": 11,
            "message": "there is no check 'finger-in-gap'",
            "hint": "Did you mean 'finger-across-gap'?",
        },
        {
            "code": "word.unknown",
            "file": "cases/broken.yaml",
            "line": 5,
            "column": 35,
            "message": "unknown verdict 'soon'",
            "hint": "Known: care, not-cleared, ride, stop.",
        },
    ]


@pytest.mark.parametrize(("name", "code"), [("holds", 0), ("canary", 1)])
def test_exit_codes_are_the_same_with_json(name: str, code: int, run: Any) -> None:
    """And nothing but the envelope is printed."""
    found, told = envelope(run, f"cases/{name}.yaml")
    assert found == code
    assert told["errors"] == []
    assert told["cases"][0]["holds"] is (code == 0)


def test_an_estimate_comes_on_request(run: Any) -> None:
    """Null otherwise, and the same for the same case."""
    _, without = envelope(run, "cases/holds.yaml")
    assert without["cases"][0]["estimate"] is None
    first, second = (envelope(run, "cases/holds.yaml", "--estimate")[1]["cases"][0]["estimate"] for _ in range(2))
    assert first == second
    assert first["minutes"]["p50"] > 0


def test_the_envelope_is_ascii(run: Any) -> None:
    """Whatever the terminal or the pipe can take."""
    Path("umlaut.yaml").write_text(HOLDS.replace("A knock", "Ein Gef\u00fchl: \u732b"), encoding="utf-8")
    _, text, _ = run("--json", "umlaut.yaml")
    assert text.isascii()
    assert json.loads(text)["cases"][0]["case"].startswith("Ein Gef\u00fchl: \u732b")


def test_views_of_the_shipped_cases_keep_the_contract(capsys: pytest.CaptureFixture[str]) -> None:
    """A few of each system, with the estimate."""
    folder = shipped_cases()
    assert folder is not None
    systems = [sorted(system.glob("*.yaml")) for system in sorted(folder.iterdir())]
    some = sorted({cases[number] for cases in systems for number in (0, len(cases) // 3, -1)})
    main(["replay", "--json", "--estimate", *map(str, some)])
    found = check_envelope(capsys.readouterr().out)
    assert len(found["cases"]) + len({error["file"] for error in found["errors"]}) == len(some)
    assert any(view["estimate"] for view in found["cases"])


# Wrong use


@pytest.mark.parametrize("rules", ["gone", "cases/holds.yaml", "empty"])
def test_a_missing_book_is_a_wrong_use(rules: str, run: Any) -> None:
    """Nothing is run; one message says what to name instead."""
    Path("empty").mkdir()
    code, text, errors = run("cases/holds.yaml", rules=rules)
    assert (code, text) == (2, "")
    assert "Name the folder that holds book.yaml.\n" in errors


def test_a_broken_book_is_told_once(run: Any, tmp_path: Path) -> None:
    """Its first problem with the place, and where all of them are listed."""
    lay("unknown-fact", tmp_path / "broken")
    code, text, errors = run("cases/holds.yaml", rules="broken/book")
    assert (code, text) == (2, "")
    assert errors.startswith("broken/book/front/causes/stem-loose.yaml:3:11: the rule book cannot be used: ")
    assert "`diagnose rules check`" in errors


@pytest.mark.parametrize(
    ("option", "said"), [("--wrong", "Usage: diagnose replay"), ("--rules", "requires an argument")]
)
def test_a_wrong_option_ends_with_2(option: str, said: str, capsys: pytest.CaptureFixture[str]) -> None:
    """The message says what is wrong with it."""
    assert main(["replay", option]) == 2
    assert said in capsys.readouterr().err


def test_help_names_the_exit_codes(capsys: pytest.CaptureFixture[str]) -> None:
    """So that a script can rely on them."""
    assert main(["replay", "--help"]) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert "Exit 0 when every expectation holds, 1 when one fails, 2 when a file cannot be used." in said


def test_a_book_that_cannot_be_used_has_an_envelope_of_its_own(run: Any) -> None:
    """A program that reads the output finds the reason where every reason stands; there is no book to name."""
    code, text, said = run("--json", "cases/holds.yaml", rules="nowhere")
    found = check_envelope(text)
    assert (code, said, found["book"], found["cases"]) == (2, "", None, [])
    assert [(one["file"], one["line"]) for one in found["errors"]] == [("nowhere", None)]


def test_a_fault_of_the_program_is_told_without_a_traceback(run: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    """One message says that it is not the user's fault and how to see more; with the variable it is raised."""

    def broken(*_: Any, **__: Any) -> None:
        raise ZeroDivisionError("for a \x1b test")

    monkeypatch.setattr("diagnose.front.replay.verdict", broken)
    monkeypatch.delenv("DIAGNOSE_TRACE", raising=False)
    code, out, said = run("cases/holds.yaml")
    assert (code, out) == (70, "")
    assert said.startswith("This is a fault of the program, not of what you typed: ZeroDivisionError: for a ? test\n")
    monkeypatch.setenv("DIAGNOSE_TRACE", "1")
    with pytest.raises(ZeroDivisionError):
        run("cases/holds.yaml")
