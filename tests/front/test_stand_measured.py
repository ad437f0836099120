"""`diagnose stand`: a measurement made of several readings, asked one after the other, with its gauge."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from pathlib import Path

import pytest

from diagnose.front import gauges, wording
from diagnose.front.main import main
from diagnose.front.paper import Paper
from tests.casework.measured_book import AROUND, GAPS, lay
from tests.front.conftest import Stand
from tests.front.terminal import Terminal

TICKS = ("lab", "ticking from the spokes", "1", "", "1", "c")
"""Label, complaint, no more, nothing on the walk round, the axle could not be looked at: the spokes are measured."""
ROUND = "0 0.1 0.4 9.6 0.3 0.1 0 -0.1 mm"


@pytest.fixture
def gaps(stand: Stand, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Stand:
    """The stand on the book in which two gaps make one reading."""
    monkeypatch.setattr("tests.front.conftest.SMALL", lay(tmp_path, GAPS))
    return stand


@pytest.fixture
def around(stand: Stand, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Stand:
    """The stand on the book in which many readings around a rim make one."""
    monkeypatch.setattr("tests.front.conftest.SMALL", lay(tmp_path, AROUND))
    return stand


def test_each_reading_is_asked_and_the_gauge_is_shown(gaps: Stand) -> None:
    """Two questions, each with its range; then the result, its band, the gauge and what the sum says beside it."""
    out = gaps(*TICKS, "1 in", "5.4", columns=60)
    assert "Reading 1 of 2: Gap on the left?" in out
    assert "Type the reading, -60 to 60 mm, then Enter." in out
    assert "Gap on the left? 25.4 mm" in out
    assert "Reading 2 of 2: Gap on the right?" in out
    assert "10 mm: too slack" in out
    assert "▶ ░░ too slack: from 8 mm" in out
    assert "towards: right" in out
    kind, data = gaps.told()[-1]
    assert kind == "answer"
    assert data["readings"]["left"] == {"value": 25.4, "unit": "mm", "typed": "1 in"}
    assert gaps.told()[-2][0] == "reading"


def test_a_row_of_readings_is_one_line(around: Stand) -> None:
    """Many readings are typed with blanks between; one that has a default is left out with Enter alone."""
    out = around(*TICKS, ROUND, "")
    assert "Type 4 to 48 readings, -60 to 60 mm, blanks between them, then Enter." in " ".join(out.split())
    assert "Enter  0.5 mm" in out
    assert "9.7 mm: too slack" in out
    assert around.told()[-1][1]["readings"] == {
        "readings": {"value": [0.0, 0.1, 0.4, 9.6, 0.3, 0.1, 0.0, -0.1], "unit": "mm", "typed": ROUND}
    }


@pytest.mark.parametrize("columns", [40, 60, 100])
def test_every_line_fits_and_ascii_is_enough(gaps: Stand, columns: int) -> None:
    """At 40 to 100 columns no line is wider; with --plain nothing but ASCII is written."""
    out = gaps(*TICKS, "25.4", "5.4", columns=columns, options=("--new", "--plain"))
    assert out.isascii()
    assert "> .. too slack: from 8 mm" in out
    assert all(len(line) <= min(columns, 76) for line in out.splitlines() if "--store" not in line)


def test_a_wrong_reading_is_told_and_asked_again(gaps: Stand) -> None:
    """Absurd, wordy or empty input gives one clear line with what makes sense; what was read before stays."""
    out = gaps(*TICKS, "12", "absurd", "9000", "", "3 bar", "2")
    assert 'That cannot be the reading: "absurd" is not a number.' in " ".join(out.split())
    assert "The dish gauge reading cannot be 9000. -60 to 60 mm makes sense." in " ".join(out.split())
    assert "asked for is length" in " ".join(out.split())
    assert "5 mm: right" in out
    assert [kind for kind, _ in gaps.told()].count("reading") == 1


def test_a_reading_outside_the_range_may_be_kept_the_second_time(gaps: Stand) -> None:
    """It counts as can't tell, is kept as it was typed, and goes to other eyes; or it is typed again."""
    out = gaps(*TICKS, "900", "900", "2", "910", "1", "")
    assert " ".join(out.split()).count(wording.READS_SO) == 3  # offered twice, taken once
    kind, data = gaps.told()[-1]
    assert (kind, data["cannot_tell"]) == ("answer", True)
    assert data["outside"].endswith("910")
    assert any("910" in one["reason"] for one in gaps.view()["hand_off"])
    gaps(*TICKS, "900", "900", "c")
    assert "outside" not in gaps.told()[-1][1]


def test_readings_that_do_not_go_together_are_asked_again(gaps: Stand) -> None:
    """What they come to cannot be: the last one is asked again, and one step back the one before."""
    out = gaps(*TICKS, "60", "-60", "b", "10", "0")
    assert "These readings come to 60 mm, which cannot be." in " ".join(out.split())
    assert "taken back" in out.lower()
    assert "5 mm: right" in out
    assert gaps.view()["answers"][-1]["reading"] == 5


def test_a_measurement_that_was_begun_is_gone_on_with(gaps: Stand) -> None:
    """Killed or left between two readings, the job asks for the second one; the first is shown."""
    gaps(*TICKS, "25.4 mm")
    out = gaps.resume("5.4")
    assert "Gap on the left? 25.4 mm" in out
    assert "Reading 2 of 2" in out
    assert "10 mm: too slack" in out


def test_cannot_tell_ends_a_measurement_that_was_begun(gaps: Stand) -> None:
    """After the first reading can't tell is still allowed; back from it, the second is asked again."""
    out = gaps(*TICKS, "25.4 mm", "c", "b", "5.4 mm")
    assert out.count("Reading 2 of 2") >= 2
    assert "10 mm: too slack" in out


def test_a_real_terminal_takes_lines_for_readings(tmp_path: Path) -> None:
    """Under a terminal too: a key pressed with the line is no reading, the gauge is drawn, the next screen follows."""
    rules = lay(tmp_path, GAPS)
    with Terminal("stand", "--new", "--rules", str(rules), "--store", str(tmp_path / "s"), columns=60) as terminal:
        terminal.wait()
        for keys in (b"lab\n", b"ticking from the spokes\n", b"1", b"\n", b"1"):
            terminal.press(keys)
        assert "Reading 1 of 2" in terminal.press(b"c")
        assert "Reading 2 of 2" in terminal.press(b"25.4\n")
        assert "Back to the question" in terminal.press(b"w\n") or "WHY" in terminal.shown.upper()
        assert "Reading 2 of 2" in terminal.press(b"x")
        shown = terminal.press(b"5.4\n")
        assert "10 mm: too slack" in shown
        assert "▼" in shown


def test_the_gauge_of_a_view_is_a_picture_too(gaps: Stand) -> None:
    """The SVG for the printed sheet is well formed, black on white, names the band in words, and is the terminal's."""
    gaps(*TICKS, "25.4", "5.4")
    gauge = gaps.view()["answers"][-1]["gauge"]
    picture = ET.fromstring(gauges.gauge_svg(gauge, "job-1"))  # noqa: S314 - our own
    said = "".join(picture.itertext())
    assert "10 mm: too slack" in said
    assert "right: below 8 mm" in said
    assert {one.get("id") for one in picture.iter() if one.get("id")} >= {"job-1-title"}


def test_a_played_case_shows_the_readings(gaps: Stand, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """`--play` tells each reading, what they came to, and the gauge."""
    path = tmp_path / "case.yaml"
    path.write_text(
        'case: "It ticks"\nprofile: {axle: quick-release}\ncomplaints: [wheel-ticks]\nanswers:\n'
        "  try-axle: can't tell\n  measure-spoke: {readings: {left: 1 in, right: 5.4}}\n"
        "expect: {top: spokes-slack, ride: not-cleared, next: tighten-spokes}\n",
        encoding="utf-8",
    )
    main(["stand", "--rules", str(tmp_path / "book"), "--play", str(path)])
    out = capsys.readouterr().out
    assert "Gap on the left: 1 in" in out
    assert "10 mm: too slack" in out
    assert "too slack: from 8 mm" in out


def test_a_gauge_is_as_wide_as_the_paper(gaps: Stand, capsys: pytest.CaptureFixture[str]) -> None:
    """Drawn on a narrow paper it is narrow, on a wide one at most 60 columns."""
    gaps(*TICKS, "25.4", "5.4")
    gauge = gaps.view()["answers"][-1]["gauge"]
    widths = []
    for width in (30, 50, 200):
        gauges.show_gauge(Paper(plain=True, width=width), gauge)
        widths.append(max(map(len, capsys.readouterr().out.splitlines())))
    assert widths == [30, 50, 60]
