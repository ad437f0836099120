"""`diagnose score`: what it prints as text, JSON and pictures, and what it refuses."""

from __future__ import annotations

import json
import xml.etree.ElementTree as ET
from pathlib import Path
from typing import Any

import pytest

from diagnose.casework.score.calibration import Bin
from diagnose.casework.score.figures import Calibration
from diagnose.casework.score.players import RIVALS
from diagnose.casework.score.upsets import UPSETS
from diagnose.front.drawing import MARKS, Drawing
from diagnose.front.main import main
from diagnose.front.score_pictures import reliability
from tests.casework.score_books import three_causes

SVG = "{http://www.w3.org/2000/svg}"
KEYS = {
    *("schema", "program", "book", "seed", "bikes", "depth", "free_rivals", "all", "complaints", "rivals", "robust"),
    *("counter", "fixed_orders", "goals"),
}
FIGURES = {
    *(
        "bikes",
        "cured",
        "curable",
        "due",
        "handed_off",
        "given_up",
        "first_fix",
        "before_repair",
        "before_fix",
        "questions",
        "checks",
    ),
    *(
        "tries",
        "minutes",
        "minutes_p90",
        "cost",
        "extra",
        "danger",
        "brier",
        "log_loss",
        "ruled_out",
        "calibration",
        "foresight",
    ),
}


@pytest.fixture
def run(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Any:
    """Exit code, what was printed, and what was said beside it, for a few bikes of a small book in this process."""
    three_causes(tmp_path)

    def score(*arguments: str) -> tuple[int, str, str]:
        code = main(["score", "--rules", str(tmp_path / "rules"), "--jobs", "1", "--bikes", "6", *arguments])
        captured = capsys.readouterr()
        return code, captured.out, captured.err

    return score


def test_json_has_every_figure(run: Any) -> None:
    """The keys of the envelope, of the figures, of a rival, of an upset and of a goal; null for what was not played."""
    code, out, _ = run("--json")
    made = json.loads(out)
    assert code == 0
    assert set(made) == KEYS
    assert set(made["all"]) == set(made["complaints"]["knocks"]) == FIGURES
    assert (made["counter"], made["rivals"], made["robust"], made["fixed_orders"]) == (None, {}, {}, {})
    assert {key for one in made["goals"] for key in one} == {"name", "value", "goal", "at_most", "note", "reached"}


def test_json_of_everything(run: Any) -> None:
    """Every rival and every upset that the book allows, the counter, and the lists of the fixed order."""
    made = json.loads(run("--json", "--rival", "all", "--robust", "all", "--counter", "--depth", "1")[1])
    assert set(made["rivals"]) == {*(kind.name for kind in RIVALS), "clairvoyant"}
    assert set(made["rivals"]["likeliest"]) == {"figures", "overall", "complaints"}
    assert set(made["robust"]) == set(UPSETS) - {"two-complaints"}
    figures = {"bikes", "questions", "named", "danger", "outright", "away_of_all", "brier", "log_loss"}
    assert set(made["counter"]) == figures
    assert set(made["fixed_orders"]) == {"knocks"}


def test_text_says_what_json_says(run: Any) -> None:
    """The table with a row for the complaint and one for all, rivals, upsets, the counter and the goals."""
    code, out, _ = run("--rival", "all", "--robust", "rows-off", "--counter")
    assert code == 0
    lines = out.splitlines()
    assert lines[0] == "6 bikes, 6 a complaint, seed 1, three steps deep"
    assert sum(line.startswith("knocks ") for line in lines) == 2
    for begins in ("in all ", "Calibration ", "cost in all ", "rows-off ", "At the counter", "  false stops: "):
        assert any(line.startswith(begins) for line in lines), begins
    assert all(len(line) <= 130 for line in lines)


def test_the_same_seed_prints_the_same(run: Any) -> None:
    """Twice the same bytes; another seed prints others."""
    assert run("--json") == run("--json")
    assert run("--json")[1] != run("--json", "--seed", "2")[1]


def test_nothing_is_told_beside_the_figures_where_no_terminal_listens(run: Any) -> None:
    """No progress in a log; the stand-in for the engine may be named."""
    assert "played" not in run()[2]


def test_an_unknown_complaint_is_named(run: Any) -> None:
    """Exit 2, with the nearest one there is."""
    code, out, err = run("--complaint", "knock")
    assert (code, out) == (2, "")
    assert 'There is no complaint "knock" in this book.' in err
    assert "knocks" in err


@pytest.mark.parametrize("wrong", [("--bikes", "0"), ("--rival", "nobody"), ("--robust", "rain"), ("--depth", "4")])
def test_what_cannot_be_is_refused(run: Any, wrong: tuple[str, str]) -> None:
    """Exit 2 for numbers and names that there are not."""
    assert run(*wrong)[0] == 2


# --- pictures -------------------------------------------------------------------------------------------------------


def shapes(path: Path, kind: str) -> list[ET.Element]:
    """All shapes of a kind; reading fails where the file is not well-formed."""
    return list(ET.fromstring(path.read_text(encoding="utf-8")).iter(f"{SVG}{kind}"))  # noqa: S314  # drawn just now


def test_pictures_are_drawn(run: Any, tmp_path: Path) -> None:
    """Two well-formed files: a point for each tenth, a mark for each player and row with its name beside it."""
    folder = tmp_path / "new" / "pictures"
    assert run("--rival", "likeliest", "--pictures", str(folder))[0] == 0
    made = json.loads(run("--json")[1])
    tenths = made["all"]["calibration"]["bins"]
    assert len(shapes(folder / "reliability.svg", "circle")) == len(tenths)
    words = {one.text for one in shapes(folder / "costs.svg", "text")}
    assert {"policy", "likeliest", "knocks", "in all"} <= words
    assert len(shapes(folder / "costs.svg", "circle")) == 2 * 3
    assert all(one.text for name in ("reliability", "costs") for one in shapes(folder / f"{name}.svg", "title"))


def test_pictures_that_cannot_be_written_are_told(run: Any, tmp_path: Path) -> None:
    """A file where the folder should be: exit 2 and a sentence."""
    (tmp_path / "taken").write_text("", encoding="utf-8")
    code, _, err = run("--pictures", str(tmp_path / "taken" / "in"))
    assert code == 2
    assert "pictures cannot be written" in err


def test_a_point_stands_where_its_shares_say() -> None:
    """Stated 100 % and true 0 % is the lower right corner, 64 + 360 to the right and 64 + 360 down."""
    drawn = reliability(Calibration(3, 0.5, 0.1, 0.2, [Bin(3, 1.0, 0.0, 0.0, 0.5)]))
    (point,) = ET.fromstring(drawn).iter(f"{SVG}circle")  # noqa: S314  # drawn just now
    assert (point.get("cx"), point.get("cy")) == ("424.0", "424.0")


@pytest.mark.parametrize("kind", MARKS)
def test_words_are_escaped_and_marks_need_no_colour(kind: str) -> None:
    """Signs that mean something in XML come back as they were; black, white and grey are all the colours there are."""
    sheet = Drawing(10, 10, 'a < b & "c"')
    sheet.text(1, 1, "<&>")
    sheet.mark(kind, 5, 5)
    root = ET.fromstring(sheet.svg())  # noqa: S314  # drawn just now
    assert [one.text for one in root.iter(f"{SVG}text")] == ["<&>"]
    used = {value for one in root.iter() for key, value in one.attrib.items() if key in ("fill", "stroke")}
    assert used <= {"black", "white", "none"}
