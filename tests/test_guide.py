"""The guide for mechanics: its examples, put together as it says, pass the check, and their cases hold."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from diagnose.book.place import rule_folders
from diagnose.book.shelf import load_book
from diagnose.casework.casefile import case_reader, read_case
from diagnose.casework.replay import replay
from diagnose.front.main import main
from diagnose.reason.reasoner import Reasoner
from tests.shipped import shipped_book

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
    """Several where plain lists share a page or two things go together; the first and the last page have none."""
    pages = re.split(r"^## ", GUIDE.read_text(encoding="utf-8"), flags=re.MULTILINE)
    titles = [page.partition("\n")[0] for page in pages]
    for kind in ("A cause", "A finding", "A check", "A fix", "A limit", "A deduction", "A complaint", "A worked case"):
        assert kind in titles
    for title, page in zip(titles, pages, strict=True):
        several = {"Tools, parts, cautions": 3, "Dangerous only when": 2}
        assert len(EXAMPLE.findall(page)) == several.get(title, page not in (pages[0], pages[-1])), title
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


LADDER = """ladder:
  - {fix: press-it-back, name: "Press it back", cured: 50 in 100, skill: mechanic, minutes: {low: 3, high: 7}}
  - {fix: new-catch, name: "New catch", cured: 85 in 100, skill: mechanic, minutes: {low: 22, high: 40}}
  - {fix: new-dynamo, name: "New dynamo", cured: 97 in 100, skill: mechanic, minutes: {low: 10, high: 20}, PARTS}
"""


@pytest.mark.parametrize(
    ("price", "plan"),
    [(25, ["press-it-back", "new-dynamo"]), (90, ["press-it-back", "new-catch"])],
)
def test_the_plan_weighs_minutes_and_parts_as_the_page_on_fixes_says(ours: Path, price: int, plan: list[str]) -> None:
    """A dear part comes after what takes longer, and not at all where giving the bike away costs less."""
    assert shipped_book().constants.rate == 1
    cause = ours / "rules/causes/side-dynamo-on-tyre.yaml"
    told = cause.read_text("utf-8").partition("ladder:")[0]
    ladder = LADDER.replace("PARTS", "parts: {whole-dynamo: 1}").replace(
        "}\n", ', steps: ["Do it."], works_if: "It turns.", if_not: "It does not."}\n'
    )
    cause.write_text(told + ladder, "utf-8")
    with (ours / "rules/parts.yaml").open("a", encoding="utf-8") as file:
        file.write(f'whole-dynamo: {{name: "side dynamo", price: {{low: {price - 5}, high: {price + 5}}}}}\n')
    case = ours / "cases/dynamo-was-on.yaml"
    case.write_text(case.read_text("utf-8").partition("expect:")[0] + CASE_END, "utf-8")
    book = load_book(*rule_folders([ours / "rules"]))
    view = replay(Reasoner(book), read_case(case, book, case_reader(book)))
    fixes = [one["fix"].rpartition(":")[2] for one in view["plan"]]
    known = ("press-it-back", "new-catch", "new-dynamo")
    assert [fix for fix in fixes if fix in known] == plan


CASE_END = "expect: {top: side-dynamo-on-tyre, ride: ride, next: press-it-back}\n"


def test_every_case_of_the_guide_holds(ours: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """As the guide says it is tried."""
    assert ours.is_dir()
    assert main(["replay", "ours/cases", "--rules", "ours/rules"]) == 0
    assert capsys.readouterr().out == "1 of 1 cases hold with Rules of our shop (ours).\n"


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
