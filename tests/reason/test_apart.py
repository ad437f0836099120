"""Telling two causes apart: bikes called right against sums done by hand and against counting every outcome."""

from __future__ import annotations

from itertools import product
from math import isclose, prod
from pathlib import Path

import pytest

from diagnose.book.model import Book
from diagnose.reason.apart import Way, never_together, shortest_path, stories, ways_apart
from tests.reason.small_book import Raw, cause, deduction, finding, small_book
from tests.shipped import shipped_book

PAIRS = [
    ("preload-lost", "steerer-gap-wrong"),
    ("pads-contaminated", "air-in-brake"),
    ("gear-cable-settled", "gear-cable-friction"),
    ("preload-lost", "threaded-headset-loose"),
    ("valve-core-leaks", "thorn-in-tread"),
]


@pytest.fixture
def book(tmp_path: Path) -> Book:
    """Two findings: one seen by a sure, a half sure and a rider's check, one by a check that needs an opening."""
    looks: dict[str, Raw] = {"sure": {}, "half": {"trust": "50 %"}, "asked": {"by": "rider", "minutes": 0.5}}
    return small_book(
        tmp_path,
        complaints={"knock": {}},
        facts={
            "headset": {"ask": "Which?", "values": {"threaded": "threaded", "plain": "plain"}},
            "story": {"ask": "What was done?", "values": {"nothing": "nothing", "stem": "stem"}, "several": "yes"},
        },
        teardowns={
            "cap-off": {"name": "cap off", "open": 2, "close": 1},
            "fork-out": {"name": "fork out", "open": 10, "close": 9, "inside": "cap-off"},
        },
        findings={
            "noise": finding("yes no", {"yes": "80 %"}, looks),
            "wear": finding("worn good", {"worn": "50 %"}, {"inside": {"minutes": 4, "teardown": "fork-out"}}),
            "colour": finding("red blue", {"red": "50 %"}, {"look": {}}),
        },
        causes={
            "dry": cause({"knock": "40 in 100"}, {"noise": {"yes": "90 %"}, "wear": {"worn": "20 %"}}),
            "loose": cause(
                {"knock": "40 in 100"},
                {"noise": {"yes": "30 %"}, "wear": {"worn": "70 %"}},
                applies={"headset": "plain"},
            ),
            "other": cause({"knock": "10 in 100"}, {"colour": {"red": "60 %"}}, applies={"headset": "threaded"}),
        },
        deductions={
            "stem": deduction({"story": "stem"}, {"likelier": {"dry": 3, "loose": 3, "other": 2}}),
            "no-stem": deduction({"headset": "threaded"}, {"rule_out": ["loose"]}),
            "seen": deduction({"colour": "red"}, {"rule_out": ["dry"]}),
        },
    )


def way(book: Book, one: str, other: str, check: str, by: str = "mechanic") -> Way:
    """One way to tell two causes apart."""
    return next(way for way in ways_apart(book, one, other, by) if way.check.id == check)


def test_a_sure_check_calls_right_what_its_rows_say(book: Book) -> None:
    """Half of 90 and of 70: what each cause shows more often than the other."""
    sure = way(book, "dry", "loose", "sure")
    assert isclose(sure.right, (0.9 + 0.7) / 2)
    assert [round(chance, 9) for chance in (*sure.one, *sure.other)] == [0.9, 0.1, 0.3, 0.7]


def test_an_unsure_check_tells_less(book: Book) -> None:
    """Trusted half, it reports half as it is and half as bikes show otherwise: 85 and 55 of 100."""
    half = way(book, "dry", "loose", "half")
    assert isclose(half.one[0], 0.5 * 0.9 + 0.5 * 0.8)
    assert isclose(half.other[0], 0.5 * 0.3 + 0.5 * 0.8)
    assert isclose(half.right, (0.85 + 0.45) / 2)


def test_a_rider_answers_what_a_rider_can(book: Book) -> None:
    """With the trust that a rider's answer has."""
    ways = ways_apart(book, "dry", "loose", "rider")
    assert [one.check.id for one in ways] == ["asked"]
    assert isclose(ways[0].one[0], 0.8 * 0.9 + 0.2 * 0.8)


def test_what_must_be_opened_is_counted_beside(book: Book) -> None:
    """With what lies before it."""
    assert (way(book, "dry", "loose", "inside").minutes, way(book, "dry", "loose", "inside").opening) == (4, 12)


def test_a_finding_that_neither_speaks_to_is_left_out(book: Book) -> None:
    """The colour tells nothing between these two but for the rule that excludes one by it."""
    assert way(book, "dry", "loose", "look").one[0] == 0.0
    assert isclose(way(book, "loose", "other", "look").right, (0.6 + 0.5) / 2)


def test_what_is_asked_for_another_complaint_tells_nothing_here(tmp_path: Path) -> None:
    """A finding counts where it is asked for with a complaint that both are behind, or with any where there is none."""
    rows = {"noise": {"yes": "90 %"}, "colour": {"red": "90 %"}}
    plain = finding("yes no", {"yes": "50 %"}, {"listen": {}})
    red = finding("red blue", {"red": "50 %"}, {"look": {}})
    book = small_book(
        tmp_path,
        complaints={"knock": {}, "hum": {}},
        findings={"noise": {**plain, "asked_for": ["knock"]}, "colour": {**red, "asked_for": ["hum"]}},
        causes={
            "dry": cause({"knock": "30 in 100"}, rows),
            "loose": cause({"knock": "30 in 100", "hum": "30 in 100"}, {}),
            "worn": cause({"hum": "30 in 100"}, {}),
        },
    )
    assert [one.check.id for one in ways_apart(book, "dry", "loose")] == ["listen"]
    assert {one.check.id for one in ways_apart(book, "dry", "worn")} == {"listen", "look"}


def test_facts_of_the_bike_and_deductions_are_told_beside(book: Book) -> None:
    """Different values of a fact: no bike has both. A deduction counts where it does not treat both alike."""
    assert never_together(book, "loose", "other") == ["headset"]
    assert never_together(book, "dry", "other") == []
    assert [(one.id, a, b) for one, a, b in stories(book, "dry", "other")] == [("stem", 3, 2), ("seen", 0, 1)]
    assert [(one.id, a, b) for one, a, b in stories(book, "dry", "loose")] == [("no-stem", 1, 0), ("seen", 0, 1)]


@pytest.mark.parametrize(("one", "other"), PAIRS)
def test_the_order_of_the_two_does_not_matter(one: str, other: str) -> None:
    """The same checks, called right as often, with the reports the other way round."""
    book = shipped_book()
    here, there = ways_apart(book, one, other), ways_apart(book, other, one)
    assert here
    assert [(a.check.id, a.one, a.other, a.right) for a in here] == [
        (b.check.id, b.other, b.one, b.right) for b in there
    ]
    assert all(0.5 < a.right <= 1 for a in here)
    assert [round(a.right, 4) for a in here] == sorted((round(a.right, 4) for a in here), reverse=True)


@pytest.mark.parametrize(("one", "other"), PAIRS)
def test_several_checks_together_are_counted_outcome_by_outcome(one: str, other: str) -> None:
    """The share called right after each step is the sum over all combinations of reports, and it only grows."""
    book = shipped_book()
    steps = shortest_path(book, ways_apart(book, one, other))
    findings = [step.way.check.finding for step in steps]
    assert len(set(findings)) == len(findings)
    before = 0.5
    for count in range(1, len(steps) + 1):
        ways = [step.way for step in steps[:count]]
        right = 0.0
        for reports in product(*(range(len(way.one)) for way in ways)):
            chances = [
                prod(row[report] for row, report in zip(rows, reports, strict=True))
                for rows in ([way.one for way in ways], [way.other for way in ways])
            ]
            right += max(chances) / 2
        assert isclose(right, steps[count - 1].right)
        assert right > before
        before = right
