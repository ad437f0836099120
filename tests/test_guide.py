"""The guide for mechanics: its examples, put together as it says, pass the check, and their cases hold."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from diagnose.front.main import main

GUIDE = Path(__file__).parent.parent / "rules" / "GUIDE.md"
PAGE = 48
"""Lines of a page: what a sheet of paper holds."""
EXAMPLE = re.compile(r"```yaml\n# (\S+)\n(.*?)```", re.DOTALL)


def examples() -> list[tuple[str, str]]:
    """File and text of every example."""
    return EXAMPLE.findall(GUIDE.read_text(encoding="utf-8"))


@pytest.fixture
def ours(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The folder that somebody makes who writes down every example; the current folder is the one above."""
    for name, text in examples():
        path = tmp_path / name
        path.parent.mkdir(parents=True, exist_ok=True)
        with path.open("a", encoding="utf-8") as file:
            file.write(text)
    monkeypatch.chdir(tmp_path)
    return tmp_path / "ours"


def test_there_is_an_example_for_each_kind_of_file() -> None:
    """Each of what an own folder usually holds."""
    names = {Path(name).parent.name + "/" + Path(name).name for name, _ in examples()}
    for kind in ("book", "findings", "limits", "deductions", "facts", "tools", "cautions", "parts", "complaints"):
        assert f"rules/{kind}.yaml" in names
    assert any(name.startswith("causes/") for name in names)
    assert any(name.startswith("cases/") for name in names)


def test_each_kind_of_thing_has_a_short_page_with_one_example() -> None:
    """Three where plain lists share a page; the first page has none."""
    pages = re.split(r"^## ", GUIDE.read_text(encoding="utf-8"), flags=re.MULTILINE)
    titles = [page.partition("\n")[0] for page in pages]
    for kind in ("A cause", "A finding", "A check", "A fix", "A limit", "A deduction", "A complaint", "A worked case"):
        assert kind in titles
    for title, page in zip(titles, pages, strict=True):
        examples = 3 if title == "Tools, parts, cautions" else 0 if page == pages[0] else 1
        assert len(EXAMPLE.findall(page)) == examples, title
        assert page.count("\n") <= PAGE, title


def test_every_link_of_the_guide_leads_to_a_page() -> None:
    """By its title."""
    text = GUIDE.read_text(encoding="utf-8")
    titles = re.findall(r"^## (.+)$", text, flags=re.MULTILINE)
    anchors = {re.sub(r"[^a-z -]", "", title.lower()).replace(" ", "-") for title in titles}
    assert set(re.findall(r"\(#([a-z-]+)\)", text)) <= anchors


def test_every_example_passes_the_check(ours: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """No error, and no warning about any file of the folder."""
    main(["rules", "check", "ours/rules"])
    told = [line for line in capsys.readouterr().out.splitlines() if line.startswith(str(ours.name))]
    assert told == []


def test_every_case_of_the_guide_holds(ours: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """As the guide says it is tried."""
    assert ours.is_dir()
    assert main(["replay", "ours/cases", "--rules", "ours/rules"]) == 0
    assert capsys.readouterr().out == "1 of 1 cases hold.\n"


def test_the_layout_of_the_examples_is_that_of_tidy(ours: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """So that what is copied stays as it is."""
    assert main(["rules", "tidy", "--check", "ours/rules", "ours/cases"]) == 0, capsys.readouterr().out
    assert ours.is_dir()


def test_every_command_of_the_guide_is_one(capsys: pytest.CaptureFixture[str]) -> None:
    """By its help."""
    for words in sorted(
        set(re.findall(r"diagnose ((?:rules )?[a-z]+(?:-[a-z]+)?)", GUIDE.read_text(encoding="utf-8")))
    ):
        assert main([*words.split(), "--help"]) == 0, words
    assert "Usage" in capsys.readouterr().out
