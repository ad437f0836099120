"""`--play`: the shipped cases are told from the first question to the plan, at 60 columns of ASCII."""

from __future__ import annotations

import io
from pathlib import Path

import pytest

from diagnose.book.place import shipped_cases, shipped_rules
from diagnose.book.shelf import load_book
from diagnose.errors import DiagnoseError
from diagnose.front.main import main
from diagnose.front.paper import Paper
from diagnose.front.play import find_case, play_case
from diagnose.reason.reasoner import Reasoner

FOLDER = shipped_cases() or Path("missing")
SYSTEMS = sorted(path.name for path in FOLDER.iterdir() if path.is_dir())


@pytest.fixture(scope="module")
def reasoner() -> Reasoner:
    """The shipped book; one step deep, since what is played is told, not chosen."""
    return Reasoner(load_book(shipped_rules(), cache=False), depth=1)


@pytest.mark.parametrize("system", SYSTEMS)
def test_cases_of_every_system_can_be_played(reasoner: Reasoner, system: str) -> None:
    """Every twentieth: what the rider says, what is likely and what comes next while it lasts; no line is too wide."""
    cases = sorted((FOLDER / system).rglob("*.yaml"))[::20]
    assert cases
    for path in cases:
        out = io.StringIO()
        assert play_case(reasoner, str(path), Paper(out, plain=True, width=60)) in (0, 1)
        shown = out.getvalue()
        assert shown.isascii()
        assert max(map(len, shown.splitlines())) <= 60, path
        told = " ".join(shown.split())
        for words in ("The rider says: ", "Expectations of this case that hold: "):
            assert words in told, path
        if ": gone" not in path.read_text(encoding="utf-8"):
            assert "of 100 such bikes" in told, path
            assert "What comes next" in told, path


def test_a_case_is_found_by_its_name_alone(capsys: pytest.CaptureFixture[str]) -> None:
    """The README's own case: each question, how the answer moved the shares, steps with torques in both units."""
    assert main(["stand", "--play", "knock-after-new-stem", "--plain"]) == 0
    out = " ".join(capsys.readouterr().out.split())
    for words in ("Q: ", "A (the mechanic): ", "FIX: ", "lbf.in", "REPEAT TEST: ", "The plan so far"):
        assert words in out


def test_a_missing_case_names_the_nearest(capsys: pytest.CaptureFixture[str]) -> None:
    """Exit 2, one line."""
    assert main(["stand", "--play", "knock-after-new-stm"]) == 2
    captured = capsys.readouterr()
    assert not captured.out
    assert len(captured.err.splitlines()) == 1
    assert "knock-after-new-stem" in captured.err


def test_a_file_that_is_no_case_is_one_message(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Broken YAML, another kind of file, a folder: exit 2 and a message with the place, no traceback."""
    broken = tmp_path / "broken.yaml"
    broken.write_text("case: [\n", encoding="utf-8")
    for given in (str(broken), str(tmp_path), "\x1b[31m"):
        assert main(["stand", "--play", given]) == 2
        err = capsys.readouterr().err
        assert err
        assert "Traceback" not in err
        assert "\x1b" not in err


def test_a_path_wins_over_a_shipped_name(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A file that is there is taken as it is."""
    own = tmp_path / "knock-after-new-stem.yaml"
    own.write_text("", encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    assert find_case("knock-after-new-stem.yaml") == Path("knock-after-new-stem.yaml")
    assert find_case("knock-after-new-stem") != Path("knock-after-new-stem.yaml")
    with pytest.raises(DiagnoseError):
        find_case("no-such-case-at-all")
