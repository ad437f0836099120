"""Picking a complaint by the part of the bike: two keys from nowhere to any complaint of the book."""

from __future__ import annotations

from pathlib import Path

import pytest

from diagnose.book.place import shipped_rules
from diagnose.book.shelf import load_book
from diagnose.front import wording
from diagnose.front.complaints import by_place
from diagnose.front.prompt import KEYS
from tests.front.conftest import SMALL, Stand


def test_every_complaint_of_the_book_is_two_keys_away() -> None:
    """Nine parts of the bike with nine complaints at most, each a key; no complaint stands nowhere."""
    book = load_book(shipped_rules())
    places = by_place(book.complaints.values())
    assert wording.ELSEWHERE not in places
    assert len(places) <= KEYS
    assert {place: len(ones) for place, ones in places.items() if len(ones) > KEYS} == {}
    assert {one.id for ones in places.values() for one in ones} == set(book.complaints)


OURS = """\
hums:
  name: "Wheel hums"
  under: ["Wheels"]
  rider_says: ["it hums at the front"]
  something_else: 85 in 100
  danger_if_unknown: 3 in 100
  repeat_test: {id: spin-and-listen, text: "Spin the wheel and listen.", minutes: 1}
  basis: common practice
"""


@pytest.fixture
def ours(tmp_path: Path) -> Path:
    """An own folder with a complaint that stands under a part of the bike; those of the small book stand under none."""
    folder = tmp_path / "ours"
    folder.mkdir()
    adds_to = load_book(SMALL).constants.id
    (folder / "book.yaml").write_text(f'book: ours\ntitle: "Ours"\nadds_to: {adds_to}\n', encoding="utf-8")
    (folder / "complaints.yaml").write_text(OURS, encoding="utf-8")
    return folder


def complaints(stand: Stand) -> list[str]:
    """The complaints that were told in the job."""
    return [data["id"] for kind, data in stand.told() if kind == "complaint"]


def test_where_the_book_knows_no_parts_all_are_listed_at_once(stand: Stand) -> None:
    """Enter lists them by name, and a key takes one; Enter again leads to other words."""
    names = sorted(one.name for one in load_book(SMALL).complaints.values())
    out = stand("", "", "", "", "2", "q", "")
    assert wording.WHERE not in out
    assert out.count(f"1  {names[0]}") == 2
    assert [stand.desk().book.complaints[one].name for one in complaints(stand)] == [names[1]]
    assert wording.OTHER_WORDS in out


def test_first_the_part_of_the_bike_then_the_complaint(stand: Stand, ours: Path) -> None:
    """What stands under no part comes last; back and Enter lead to the parts again, and from there to other words."""
    options = ("--new", "--rules", str(ours))
    out = stand("", "", "2", "b", "1", "", "1", "1", "q", "", options=options)
    assert out.count(wording.WHERE) == 3, stand.err
    assert out.index("1  Wheels") < out.index(f"2  {wording.ELSEWHERE}")
    assert complaints(stand) == ["ours:hums"]


def test_one_that_was_told_already_is_not_taken_twice(stand: Stand, ours: Path) -> None:
    """It says so and shows the parts again."""
    out = stand("", "", "1", "1", "0", "1", "1", "b", "", "q", "", options=("--new", "--rules", str(ours)))
    assert wording.NOTED_BEFORE in out
    assert complaints(stand) == ["ours:hums"]
