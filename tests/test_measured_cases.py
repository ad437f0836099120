"""The shipped book asks for raw readings wherever the bench has a sum for them, and worked cases hold such readings."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from diagnose.bench.sums.givens import Several
from diagnose.bench.sums.table import sum_named
from diagnose.book.place import shipped_cases
from diagnose.casework.casefile import read_case
from diagnose.casework.measuring import take
from diagnose.casework.replay import find_cases, replay
from diagnose.errors import InputError
from diagnose.front.paper import Paper
from diagnose.front.screens import show_step, step_sum_lines
from diagnose.reason.reasoner import Reasoner
from tests.shipped import shipped_book

AT_THE_STAND = (
    "sag", "travel-used", "spring-loss", "coil-check", "chain-wear", "hanger", "disc-run-out", "rim-run-out",
    "disc-wear", "pad-wear", "lever-reserve", "pad-centring", "dish", "spoke-tension", "leak", "cap-gap",
    "post-insertion", "post-clearance",
)  # fmt: skip
"""Sums whose readings are taken from the bike itself, so that a check of the book can ask for them."""

WITH_READINGS = [
    path for path in find_cases(shipped_cases() or Path("cases")) if "readings:" in path.read_text(encoding="utf-8")
]


@pytest.fixture(scope="module")
def worked() -> dict[str, list[str]]:
    """Sum to what each worked case with raw readings makes of it, as its View shows it."""
    reasoner = Reasoner(shipped_book())
    found: dict[str, list[str]] = {}
    for path in WITH_READINGS:
        view = replay(reasoner, read_case(path, shipped_book()))
        for answer in view["answers"]:
            if answer["worked"]:
                assert answer["readings"], path
                assert answer["gauge"]["bands"], path
                found.setdefault(answer["worked"]["sum"], []).append(answer["worked"]["text"])
    return found


@pytest.mark.parametrize("name", AT_THE_STAND)
def test_the_stand_asks_for_the_readings_and_a_worked_case_holds_some(name: str, worked: dict[str, list[str]]) -> None:
    """A check of the book names the sum and asks for all that it cannot do without; a case was reckoned with it."""
    checks = [
        check
        for check in shipped_book().checks.values()
        if check.measure and check.measure.working and check.measure.working.sum == name
    ]
    assert checks
    needed = {given.key for given in sum_named(name).givens if given.default is None}
    for check in checks:
        assert check.measure
        assert check.measure.working
        assert needed <= {*check.measure.working.asks, *check.measure.working.supplies}
        assert check.measure.working.asks
    assert worked.get(name)


def test_readings_around_a_wheel_are_four_or_more() -> None:
    """Run-out, the hanger and the spokes of a side are never read at fewer places than show where it is."""
    for check in shipped_book().checks.values():
        working = check.measure.working if check.measure else None
        if working and working.sum in ("disc-run-out", "rim-run-out", "hanger", "spoke-tension"):
            (row,) = (given for given in sum_named(working.sum).givens if isinstance(given, Several))
            assert row.least >= 4
            with pytest.raises(InputError, match="not 3"):
                take(check, row.key, "20 20 20")
            assert take(check, row.key, "20 20 20 20").value == (20, 20, 20, 20)


def step_sums(case: str, fix: str) -> list[dict[str, Any]]:
    """The sums of a fix of the plan that a worked case ends with, as its View has them."""
    (path,) = (path for path in find_cases(shipped_cases() or Path("cases")) if path.stem == case)
    view = replay(Reasoner(shipped_book()), read_case(path, shipped_book()))
    (item,) = (item for item in view["plan"] if item["fix"] == fix)
    return [one for step in item["steps"] for one in step["sums"]]


def test_a_step_reckons_with_what_was_measured() -> None:
    """0.55 mm on the left and none on the right: the caliper goes half of that to the right (geometry)."""
    (one,) = step_sums("gaps-by-feeler-gauge", "centre-caliper")
    assert one["lacks"] == []
    lines = step_sum_lines(one)
    assert lines[0] == "Worked out from the measurements: 0.55 mm: off its middle"
    assert lines[1] == "move: 0.28 mm, each side then: 0.28 mm"
    assert lines[2].endswith("to the right, the side with the smaller gap.")


def test_a_reading_of_one_check_and_the_result_of_another_go_into_a_step() -> None:
    """5 mm at a gauge turned over are 2.5 mm off; the turns of the nipples follow from that (trade: dish)."""
    dish, turns = step_sums("pulls-dish", "re-dish-wheel")
    assert dish["worked"]["text"] == "2.5 mm"
    wanted = sum_named("nipple-turns").result({"shift": "2.5 mm"})
    assert turns["worked"]["value"] == pytest.approx(wanted.value)


def test_a_step_says_what_its_sum_lacks(capsys: pytest.CaptureFixture[str]) -> None:
    """Looked at by eye, nothing is reckoned: the screen names the command, the sheet is silent."""
    (one,) = step_sums("constant-rub-one-side", "centre-caliper")
    assert one["worked"] is None
    assert [given["id"] for given in one["lacks"]] == ["left", "right"]
    assert all(given["text"] and given["shape"] for given in one["lacks"])
    assert step_sum_lines(one) == ()
    show_step(Paper(plain=True), 1, {"text": "Centre it.", "limits": [], "cautions": [], "sums": [one]}, set())
    assert "To work it out from measurements: diagnose bench pad-centring" in capsys.readouterr().out
