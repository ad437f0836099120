"""`diagnose rules tidy`: which files it takes, what it changes, what it says."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from diagnose.front.main import main
from tests.book.broken_books import lay_small

UNTIDY = "in_short: x\nname: y   \n"
TIDY = "name: y\nin_short: x\n"
CASE = "expect: {ride: care, top: a}\ncase: one\n"


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder of two causes, one of them tidy, and a case."""
    monkeypatch.chdir(tmp_path)
    for name, text in (("rules/causes/a.yaml", UNTIDY), ("rules/causes/b.yaml", TIDY), ("cases/c.yaml", CASE)):
        path = tmp_path / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")
    return tmp_path


def run(capsys: pytest.CaptureFixture[str], *arguments: str) -> tuple[int, str, str]:
    """Exit code, output and errors."""
    code = main(["rules", "tidy", *arguments])
    captured = capsys.readouterr()
    return code, captured.out, captured.err


def test_files_become_tidy(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Of a folder all that are not; a worked case is known by its sentence. The second time there is nothing to do."""
    assert run(capsys, "rules", "cases") == (
        0,
        "rules/causes/a.yaml: tidied\ncases/c.yaml: tidied\n3 files: 2 tidied, 1 tidy before.\n",
        "",
    )
    assert (folder / "rules/causes/a.yaml").read_text(encoding="utf-8") == TIDY
    assert (folder / "cases/c.yaml").read_text(encoding="utf-8") == "case: one\nexpect: {top: a, ride: care}\n"
    assert run(capsys, "rules", "cases") == (0, "3 files: 0 tidied, 3 tidy before.\n", "")


def test_check_changes_nothing(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Exit 1 where something is not tidy, 0 where all is."""
    assert run(capsys, "--check", "rules/causes/a.yaml") == (
        1,
        "rules/causes/a.yaml: not tidy\n1 file: 1 not tidy, 0 tidy before.\n",
        "",
    )
    assert (folder / "rules/causes/a.yaml").read_text(encoding="utf-8") == UNTIDY
    assert run(capsys, "--check", "rules/causes/b.yaml")[0] == 0


def test_a_file_that_cannot_be_read_hides_no_other(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """It is told and left alone."""
    (folder / "rules/causes/0.yaml").write_text("name: [\n", encoding="utf-8")
    (folder / "rules/notes.yaml").write_text("name: a\n", encoding="utf-8")
    code, out, err = run(capsys, "rules")
    assert code == 1
    assert out == "rules/causes/a.yaml: tidied\n4 files: 1 tidied, 1 tidy before, 2 left alone.\n"
    assert "rules/causes/0.yaml:2:1: " in err
    assert "rules/notes.yaml:1:1: this is neither a rule file nor a worked case." in err
    assert (folder / "rules/causes/0.yaml").read_text(encoding="utf-8") == "name: [\n"


def test_a_file_is_written_whole_or_not_at_all(
    folder: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where the disk is full the old file stays, and nothing is left beside it."""

    def full(*_: object) -> None:
        raise OSError(28, os.strerror(28))

    monkeypatch.setattr(Path, "write_bytes", full)
    code, _, err = run(capsys, "rules")
    assert code == 1
    assert "rules/causes/a.yaml:1:1: cannot be written: No space left on device." in err
    assert sorted(path.name for path in (folder / "rules/causes").iterdir()) == ["a.yaml", "b.yaml"]
    assert (folder / "rules/causes/a.yaml").read_text(encoding="utf-8") == UNTIDY


def test_the_files_rights_stay(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """As they were."""
    (folder / "rules/causes/a.yaml").chmod(0o640)
    assert run(capsys, "rules")[0] == 0
    assert (folder / "rules/causes/a.yaml").stat().st_mode & 0o777 == 0o640


def test_a_whole_book_is_known_wherever_it_stands(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Also when it is named from within, and file by file."""
    book = lay_small(tmp_path)
    monkeypatch.chdir(book / "front")
    assert run(capsys, "..")[0] == 0
    assert run(capsys, "--check", ".", "causes/gap-wrong.yaml", "../book.yaml")[0] == 0


@pytest.mark.parametrize("arguments", [[], ["nowhere"]])
def test_a_wrong_use_ends_with_2(folder: Path, arguments: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    """Nothing named, or nothing there."""
    assert folder.is_dir()
    assert run(capsys, *arguments)[:2] == (2, "")
