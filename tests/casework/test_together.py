"""Which looks of a round are taken together, and that finding them stores nothing."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

import pytest

from diagnose.book.model import Book
from diagnose.casework import events
from diagnose.casework.desk import Desk
from diagnose.casework.events import Draft
from diagnose.casework.memory import MemoryStore
from tests.casework.round_book import LOOKS, round_content
from tests.reason.small_book import Raw, deduction, reasoner, small_book


def round_book(folder: Path, *checks: Mapping[str, Raw], **content: Any) -> Book:
    """The book of a round, with what a test is about."""
    return small_book(folder, **round_content(*checks, **content))


def opened(book: Book, role: Any = "mechanic", told: tuple[Draft, ...] = ()) -> tuple[Desk, str]:
    """A job of that complaint, with this told."""
    desk = Desk(reasoner(book), MemoryStore())
    case = desk.open(role=role)
    for one in (events.complaint("knocks"), events.no_more(), *told):
        desk.submit(case, one)
    return desk, case


def taken(book: Book, role: Any = "mechanic", told: tuple[Draft, ...] = ()) -> list[str]:
    """The looks that are taken together there."""
    desk, case = opened(book, role, told)
    return [one["id"] for one in desk.together(case)]


def test_four_looks_are_taken_together_and_nothing_is_stored(tmp_path: Path) -> None:
    """In the order of the round, each with its question and what is right; the rest comes after them."""
    desk, case = opened(round_book(tmp_path))
    before = desk.store.events(case)
    looks = desk.together(case)
    assert [one["id"] for one in looks] == list(LOOKS[:4])
    assert {one["text"] for one in looks} == {"What do you see?"}
    assert [one["right"] for one in looks] == [{"id": "right", "text": "right"}] * 4
    assert desk.store.events(case) == before
    for name in LOOKS[:4]:
        assert desk.view(case)["next"]["id"] == name
        desk.submit(case, events.answered(name, "mechanic", "right"))
    assert desk.together(case) == []  # one alone is asked as ever


def test_at_the_counter_and_off_a_round_each_is_asked_by_itself(tmp_path: Path) -> None:
    """A rider is asked one thing at a time, and so is a mechanic of a complaint that does not stand back."""
    checks: dict[str, Raw] = {name: {"by": "rider"} for name in LOOKS}
    assert taken(round_book(tmp_path / "counter", checks), role="rider") == []
    trouble = {"knocks": {"something_else": "5 in 100"}}
    assert taken(round_book(tmp_path / "trouble", complaints=trouble)) == []


@pytest.mark.parametrize(
    "check",
    [
        {"minutes": 3},
        {"ridden": "yes"},
        {"teardown": "wheel-out"},
        {"measure": {"unit": "mm", "from": 0, "to": 9}, "bands": {"right": {"below": 5}, "wrong": {"from": 5}}},
        {"only_if": {"cranks-seen": "right"}},
    ],
    ids=["long", "ridden", "teardown", "reading", "behind-another"],
)
def test_what_is_no_plain_look_ends_them(tmp_path: Path, check: Raw) -> None:
    """A long look, a ride, a reading, one that opens something or needs another first is not among them."""
    teardowns = {"teardowns": {"wheel-out": {"name": "wheel out", "open": 2, "close": 2}}}
    book = round_book(tmp_path, {"post": check}, **(teardowns if "teardown" in check else {}))
    assert "post" not in taken(book)


def test_what_is_often_amiss_is_asked_by_itself(tmp_path: Path) -> None:
    """A look that is wrong on half of the bikes has its own screen, with all its answers."""
    often = round_book(tmp_path, findings={"post": {"otherwise": {"wrong": "50 %"}}})
    assert taken(often) == ["axle", "bars"]


def test_a_look_that_comes_only_because_another_was_right_is_not_among_them(tmp_path: Path) -> None:
    """What a rule wants because the bars hold is looked at once they are told to hold."""
    rules = {
        "the-round": deduction({"complaint": "knocks"}, {"demand_first": ["axle", "bars", "spokes", "cranks"]}),
        "bars-hold": deduction({"complaint": "knocks", "bars-seen": "right"}, {"demand_first": ["axle", "post"]}),
    }
    assert taken(round_book(tmp_path, deductions=rules)) == ["axle", "bars"]


def test_what_must_be_seen_before_all_else_is_asked_by_itself(tmp_path: Path) -> None:
    """A rule that wants one look before the others are even begun: it has its own screen."""
    rules = {"post-first": deduction({"complaint": "knocks"}, {"demand_first": ["post"], "demand": ["bars"]})}
    book = round_book(tmp_path, deductions=rules)
    assert taken(book) == []
    assert taken(book, told=(events.answered("post", "mechanic", "right"),)) == ["axle", "bars", "spokes", "cranks"]


@pytest.mark.parametrize("then", [{"danger": "care"}, {"also": {"mend-post": "should"}}], ids=["danger", "work"])
def test_what_warns_though_it_is_right_ends_them(tmp_path: Path, then: Raw) -> None:
    """Nobody takes with one Enter what a rule makes a warning or work of."""
    rules = {"all-the-same": deduction({"spokes-seen": "right"}, then)}
    assert taken(round_book(tmp_path, deductions=rules)) == list(LOOKS[:3])


def test_a_fact_of_the_bike_in_between_ends_them(tmp_path: Path) -> None:
    """What is asked of the bike once the bars are told is asked there."""
    rules = {"which-bars": deduction({"bars-seen": "right"}, {"ask": ["kind"]})}
    facts = {"kind": {"ask": "Which bars?", "values": {"flat": "flat", "drop": "drop"}}}
    assert taken(round_book(tmp_path, deductions=rules, facts=facts)) == ["axle", "bars"]
