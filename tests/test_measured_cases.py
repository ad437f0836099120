"""The shipped book asks for raw readings wherever the bench has a sum for them, and worked cases hold such readings."""

from __future__ import annotations

from pathlib import Path

import pytest

from diagnose.bench.sums.givens import Several
from diagnose.bench.sums.table import sum_named
from diagnose.book.place import shipped_cases
from diagnose.casework.casefile import read_case
from diagnose.casework.measuring import take
from diagnose.casework.replay import find_cases, replay
from diagnose.errors import InputError
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
