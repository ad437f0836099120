"""`diagnose settings`, and the settings at work: skill, tools and units at the stand."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from diagnose.front.main import main
from tests.front.conftest import LOOSE_AXLE, SMALL, WOBBLES, Stand

ALL = 'labour_rate = 72\nskill = "rider"\nunits = "metric"\nwithout_tools = ["caliper"]\n'


@pytest.fixture
def shop(tmp_path: Path) -> Path:
    """A settings file."""
    path = tmp_path / "shop.toml"
    path.write_text(ALL, encoding="utf-8")
    return path


def test_they_are_shown_with_their_place(shop: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """What is said, and what holds where nothing is said."""
    assert main(["settings", "--settings", str(shop), "--rules", str(SMALL)]) == 0
    out = capsys.readouterr().out
    assert str(shop) in out
    assert "- labour_rate: 72 EUR\n" in out
    assert "- currency: EUR (not said)\n" in out
    assert "Tools that the shop lacks: vernier caliper." in out
    assert "The settings are sound." in out


def test_a_place_without_a_file_is_told(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """The usual place need not have one; what the environment names must be there."""
    assert main(["settings", "--rules", str(SMALL)]) == 0
    assert "There is no such file" in capsys.readouterr().out
    monkeypatch.setenv("DIAGNOSE_SETTINGS", str(tmp_path / "none.toml"))
    assert main(["settings", "--rules", str(SMALL)]) == 2
    assert "cannot be read" in capsys.readouterr().err


def test_for_programs(shop: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> None:
    """All that holds, and what is wrong with it."""
    monkeypatch.setenv("DIAGNOSE_SETTINGS", str(shop))
    assert main(["settings", "--json", "--rules", str(SMALL)]) == 0
    told = json.loads(capsys.readouterr().out)
    assert (told["file"], told["source"], told["there"]) == (str(shop), "environment", True)
    assert told["settings"]["labour_rate"] == 72
    assert told["settings"]["without_tools"] == ["caliper"]
    assert told["errors"] == []
    shop.write_text('without_tools = ["calliper"]\n', encoding="utf-8")
    assert main(["settings", "--json", "--rules", str(SMALL)]) == 1
    (error,) = json.loads(capsys.readouterr().out)["errors"]
    assert (error["line"], error["code"], error["hint"]) == (1, "settings.tool", "Did you mean 'caliper'?")


def test_the_example_is_a_file_to_begin_with(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """As it is, and with what stands behind the marks, it is sound."""
    assert main(["settings", "--example"]) == 0
    text = capsys.readouterr().out
    path = tmp_path / "settings.toml"
    (tmp_path / "our-rules").mkdir()
    (tmp_path / "our-rules" / "book.yaml").write_text("book: ours\nadds_to: small\ntitle: Ours\n", encoding="utf-8")
    lines = [line for line in text.replace("\n# ", "\n").splitlines() if not line.startswith(("#", "tools = "))]
    for used in (text, "\n".join(lines)):
        path.write_text(used, encoding="utf-8")
        assert main(["settings", "--settings", str(path), "--rules", str(SMALL)]) == 0, capsys.readouterr().out


def test_tools_of_the_book_are_listed(capsys: pytest.CaptureFixture[str]) -> None:
    """By id and name, to be copied."""
    assert main(["settings", "--tools", "--rules", str(SMALL)]) == 0
    assert "caliper: vernier caliper\n" in capsys.readouterr().out


def test_the_stand_works_with_the_shops_skill_and_tools(stand: Stand, shop: Path) -> None:
    """A new job is opened with them; what the command line lacks besides is added."""
    stand(*WOBBLES, options=("--new", "--settings", str(shop), "--without", "cone spanners"))
    opened = stand.told()[0][1]
    assert (opened["skill"], opened["without"]) == ("rider", ["caliper", "cone-spanners"])
    assert f"--settings {shop}" in stand.out
    stand(*WOBBLES)
    assert stand.told()[0][1] == {"role": "mechanic", "skill": "mechanic", "without": []}


def test_the_stand_writes_figures_in_the_shops_units(stand: Stand, shop: Path) -> None:
    """The other unit is left out while the command lasts, and no longer."""
    shop.write_text('units = "metric"\n', encoding="utf-8")
    out = stand(*LOOSE_AXLE, options=("--new", "--settings", str(shop)))
    assert "N·m" in out
    assert "lbf·in" not in out
    assert "lbf·in" in stand(*LOOSE_AXLE)


def test_wrong_settings_are_told_before_anything_is_typed(stand: Stand, shop: Path) -> None:
    """By file and line; nothing is begun."""
    shop.write_text("\nlabour_rate = 0\n", encoding="utf-8")
    assert stand(*WOBBLES, options=("--new", "--settings", str(shop))) == ""
    assert stand.code == 2
    assert f"{shop}:2:1: labour_rate is 0." in stand.err


def test_settings_bring_their_folders_of_rules(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """To every command that reads the book."""
    own = tmp_path / "own"
    own.mkdir()
    (own / "book.yaml").write_text('book: ours\nadds_to: small\ntitle: "Ours"\n', encoding="utf-8")
    (own / "tools.yaml").write_text('strange-tool: "strange tool"\n', encoding="utf-8")
    path = tmp_path / "shop.toml"
    path.write_text('rules = ["own"]\nwithout_tools = ["strange tool"]\n', encoding="utf-8")
    assert main(["settings", "--settings", str(path), "--rules", str(SMALL), "--json"]) == 0
    told = json.loads(capsys.readouterr().out)["settings"]
    assert told["without_tools"] == ["ours:strange-tool"]
