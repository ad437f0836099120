"""Each anomaly is found in the example that has it, not in the one that has not, and is told as agreed."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from diagnose.book.anomalies.anomaly import ERROR, WARNING, Anomaly
from tests.book.anomalies.example_books import GOLDEN, anomalies, found_in, lay_example
from tests.book.broken_books import told

EVERY = pytest.mark.parametrize("anomaly", anomalies(), ids=lambda one: one.name)


@EVERY
def test_it_is_found_in_the_wrong_example(anomaly: Anomaly, tmp_path: Path) -> None:
    """At a place of a file that the example writes to, or that it makes wrong."""
    found = found_in(anomaly.wrong, anomaly.name, tmp_path)
    assert found
    assert all(one.where.line >= 1 and one.where.column >= 1 for one in found)


@EVERY
def test_it_is_not_found_in_the_right_example(anomaly: Anomaly, tmp_path: Path) -> None:
    """Which differs in that one thing."""
    assert not found_in(anomaly.right, anomaly.name, tmp_path)


@EVERY
def test_nothing_else_is_wrong_with_the_right_example(anomaly: Anomaly, tmp_path: Path) -> None:
    """Whoever copies it is told nothing."""
    said = told(lay_example(anomaly.right, tmp_path))
    assert said.endswith("\n0 errors, 0 warnings.\nexit 0\n"), said


@EVERY
def test_the_wrong_example_is_told_as_agreed(anomaly: Anomaly, tmp_path: Path) -> None:
    """What, where, why it matters and what to write, word by word."""
    said = told(lay_example(anomaly.wrong, tmp_path))
    assert said == (GOLDEN / f"{anomaly.name}.txt").read_text(encoding="utf-8")
    assert f"[{anomaly.name}]\n    Why: {anomaly.why}\n" in said


@EVERY
def test_it_is_named_and_explained(anomaly: Anomaly) -> None:
    """Code, severity, what it is and why it matters, each in a sentence."""
    assert re.fullmatch(r"[a-z-]+\.[a-z-]+", anomaly.name)
    assert anomaly.severity in (ERROR, WARNING)
    assert anomaly.what().endswith(".")
    assert anomaly.why.endswith(".")


def test_no_two_have_one_code() -> None:
    """A code is what a file lets stand."""
    codes = [one.name for one in anomalies()]
    assert len(set(codes)) == len(codes)


def test_no_golden_text_is_left_over() -> None:
    """Each belongs to an anomaly."""
    assert sorted(path.stem for path in GOLDEN.glob("*.txt")) == [one.name for one in anomalies()]
