"""Simulated bikes: drawn as the book says, the same for everybody, whatever is asked first."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

import pytest

from diagnose.book.model import Book
from diagnose.casework.score.bikes import Twist
from tests.casework.score_books import LOOK, SHOWS, maker_of, one_cause, three_causes
from tests.reason.small_book import cause, deduction, finding, fix, small_book

MANY = 2000
FOUR_SIGMA = 4 * (0.25 / MANY) ** 0.5
"""A fraction of so many draws lies within this of its chance but once in some 16,000 (normal approximation)."""


def fraction(flags: Iterable[bool]) -> float:
    """The fraction of draws that hold."""
    held = list(flags)
    return sum(held) / len(held)


@pytest.fixture
def book(tmp_path: Path) -> Book:
    """Three causes."""
    return three_causes(tmp_path)


def test_causes_come_by_their_shares(book: Book) -> None:
    """Shares are weights beside something else (10 of 100 here): 45 and 30 and 15 of 90."""
    maker = maker_of(book)
    drawn = [maker.bike("knocks", number).faults[0].cause for number in range(MANY)]
    for name, share in (("loose", 0.45), ("worn", 0.30), ("cracked", 0.15), (None, 0.10)):
        assert fraction(one == name for one in drawn) == pytest.approx(share, abs=FOUR_SIGMA)


def test_a_bike_hangs_on_its_name_alone(book: Book) -> None:
    """The same seed, complaint and number make the same bike, whatever it is asked first and by which maker."""
    one, two = maker_of(book).bike("knocks", 7), maker_of(book).bike("knocks", 7)
    checks = [book.checks[name] for name in ("rock", "look", "feel")]
    told = {check.id: one.report(check, "mechanic") for check in checks}
    assert {check.id: two.report(check, "mechanic") for check in reversed(checks)} == told
    assert (one.faults, one.profile, one.minutes("clean"), one.price("replace")) == (
        (two.faults, two.profile, two.minutes("clean"), two.price("replace"))
    )
    assert len({maker_of(book, seed).bike("knocks", 7).minutes("clean") for seed in range(9)}) == 9


def test_findings_come_by_their_rows(book: Book) -> None:
    """A cause's row where it speaks to the finding, else what is seen otherwise; something else always the latter."""
    maker = maker_of(book)
    bikes = [maker.bike("knocks", number) for number in range(MANY)]
    loose = [bike for bike in bikes if bike.faults[0].cause == "loose"]
    seen = fraction(bike.shows("play") == "clear" for bike in loose)
    assert seen == pytest.approx(0.675, abs=4 * (0.22 / len(loose)) ** 0.5)
    unknown = [bike for bike in bikes if bike.faults[0].cause in (None, "loose")]
    rusty = fraction(bike.shows("rust") == "yes" for bike in unknown)
    assert rusty == pytest.approx(0.125, abs=4 * (0.11 / len(unknown)) ** 0.5)


def test_answers_are_as_sure_as_the_book_says(tmp_path: Path) -> None:
    """Trust 60 %: the value itself, or any by the otherwise row; can't tell at the rate of the role."""
    book = small_book(
        tmp_path,
        complaints={"knocks": {}},
        causes={"a": cause({"knocks": "90 %"}, {"seen": {"yes": "90 %"}}, fix("mend", "90 %"))},
        findings={"seen": finding("yes no", {"yes": "30 %"}, {"look": {"trust": "60 %"}})},
        constants={"cannot_tell": {"mechanic": "20 %", "rider": "0 %"}},
    )
    maker = maker_of(book)
    bikes = [maker.bike("knocks", number) for number in range(MANY)]
    told = [(bike.shows("seen"), bike.report(book.checks["look"], "mechanic").value) for bike in bikes]
    assert fraction(report is None for _, report in told) == pytest.approx(0.2, abs=FOUR_SIGMA)
    yes = [report for value, report in told if value == "yes" and report]
    assert fraction(report == "yes" for report in yes) == pytest.approx(0.6 + 0.4 * 0.3, abs=0.05)


def test_a_reading_means_the_value(tmp_path: Path) -> None:
    """A measuring check gives a reading in the band of what is so, and a band it does not have cannot be told."""
    measuring = {
        "measure": {"unit": "mm", "from": 0, "to": 10},
        "bands": {"low": {"below": 3}, "high": {"from": 3}},
    }
    book = small_book(
        tmp_path,
        complaints={"knocks": {}},
        causes={"a": cause({"knocks": "90 %"}, {"gap": {"low": "40 %", "odd": "20 %"}}, fix("mend", "90 %"))},
        findings={"gap": finding("low high odd", {"high": "80 %"}, {"measure-gap": measuring})},
    )
    maker, seen = maker_of(book), set()
    for number in range(100):
        bike = maker.bike("knocks", number)
        report = bike.report(book.checks["measure-gap"], "mechanic")
        seen.add(bike.shows("gap"))
        if bike.shows("gap") == "odd":
            assert report == (None, None)
        else:
            assert report.reading is not None
            assert (report.reading < 3) == (report.value == bike.shows("gap") == "low")
    assert seen == {"low", "high", "odd"}


def test_a_ladder_cures_as_many_as_it_says(tmp_path: Path) -> None:
    """Of 100, 40 are well after the first rung and 85 after the second: of those left by the first 45 of 60."""
    book = one_cause(tmp_path, fix("clean", "40 %"), fix("replace", "85 %"))
    bikes = [maker_of(book).bike("knocks", number) for number in range(MANY)]
    sick = [bike for bike in bikes if bike.faults[0].cause]
    first = [bike.take(["clean"])["knocks"] for bike in sick]
    assert fraction(first) == pytest.approx(0.40, abs=FOUR_SIGMA)
    left = [bike for bike in sick if bike.standing]
    assert fraction(bike.take(["replace"])["knocks"] for bike in left) == pytest.approx(0.75, abs=0.06)


def test_nothing_cures_what_the_book_does_not_know(tmp_path: Path) -> None:
    """Something else stands after every fix."""
    book = one_cause(tmp_path, fix("clean", "99 %"), unknown=60)
    bikes = [maker_of(book).bike("knocks", number) for number in range(50)]
    unknown = [bike for bike in bikes if bike.faults[0].cause is None]
    assert len(unknown) > 10
    assert not any(bike.take(["clean"])["knocks"] for bike in unknown)


def test_minutes_and_prices_lie_as_the_book_says(book: Book) -> None:
    """A tenth of the fixes are quicker than low, a tenth slower than high; a part's price lies between its ends."""
    maker = maker_of(book)
    bikes = [maker.bike("knocks", number) for number in range(MANY)]
    minutes = [bike.minutes("replace") for bike in bikes]
    assert fraction(one < 25 for one in minutes) == pytest.approx(0.1, abs=4 * (0.09 / MANY) ** 0.5)
    assert fraction(one > 50 for one in minutes) == pytest.approx(0.1, abs=4 * (0.09 / MANY) ** 0.5)
    prices = [bike.price("replace") for bike in bikes]
    assert 20 <= min(prices) < 21
    assert 39 < max(prices) <= 40


def test_a_profile_fits_the_cause(tmp_path: Path) -> None:
    """A cause never comes on a bike that it does not apply to, nor on one where a deduction rules it out."""
    book = small_book(
        tmp_path,
        complaints={"knocks": {}},
        causes={
            "a": cause({"knocks": "50 %"}, SHOWS, fix("mend-a", "90 %"), applies={"axle": ["nuts"]}),
            "b": cause({"knocks": "40 %"}, SHOWS, fix("mend-b", "90 %")),
        },
        findings=LOOK,
        facts={
            "axle": {"ask": "Which?", "values": {"nuts": "nuts", "through": "through"}},
            "frame": {"ask": "Which?", "values": {"metal": "metal", "carbon": "carbon"}},
        },
        deductions={"no-carbon": deduction({"frame": "carbon"}, {"rule_out": ["b"]})},
    )
    maker = maker_of(book)
    bikes = [maker.bike("knocks", number) for number in range(300)]
    for bike in bikes:
        assert bike.faults[0].cause != "a" or bike.profile["axle"] == ("nuts",)
        assert bike.faults[0].cause != "b" or bike.profile["frame"] == ("metal",)
    assert {bike.faults[0].cause for bike in bikes} == {"a", "b", None}


def test_by_share_first_keeps_the_shares(tmp_path: Path) -> None:
    """Drawn the other way round, a cause that few bikes can have still comes as often as its share."""
    book = small_book(
        tmp_path,
        complaints={"knocks": {}},
        causes={
            "a": cause({"knocks": "45 %"}, SHOWS, fix("mend-a", "90 %"), applies={"axle": ["nuts"]}),
            "b": cause({"knocks": "45 %"}, SHOWS, fix("mend-b", "90 %")),
        },
        findings=LOOK,
        facts={"axle": {"ask": "Which?", "values": {"nuts": "nuts", "through": "through", "quick": "quick"}}},
    )
    maker = maker_of(book)
    bikes = [maker.cause_first("knocks", number) for number in range(MANY)]
    assert fraction(bike.faults[0].cause == "a" for bike in bikes) == pytest.approx(0.45, abs=FOUR_SIGMA)
    assert all(bike.profile["axle"] == ("nuts",) for bike in bikes if bike.faults[0].cause == "a")


def test_two_faults_are_two_and_can_be_mended(book: Book) -> None:
    """Neither something else nor a cause that is handed off; the complaint is gone when both are."""
    maker = maker_of(book)
    for number in range(30):
        bike = maker.two_faults("knocks", number, Twist(sure=True))
        assert bike is not None
        assert {fault.cause for fault in bike.faults} == {"loose", "worn"}
        assert not bike.take(["tighten"])["knocks"]
        assert bike.take(["replace"])["knocks"]


def test_a_cured_fault_no_longer_shows(tmp_path: Path) -> None:
    """With two faults that speak to one finding one of them decides, and the other once that is cured."""
    book = small_book(
        tmp_path,
        complaints={"knocks": {}},
        causes={
            "a": cause({"knocks": "45 %"}, {"seen": {"left": "99.5 %"}}, fix("mend-a", "90 %")),
            "b": cause({"knocks": "45 %"}, {"seen": {"right": "99.5 %"}}, fix("mend-b", "90 %")),
        },
        findings={"seen": finding("left right none", {"none": "98 %"}, {"look": {}})},
    )
    maker = maker_of(book)
    before: list[str] = []
    after: list[str] = []
    for number in range(60):
        bike = maker.two_faults("knocks", number, Twist(sure=True))
        assert bike is not None
        before.append(bike.shows("seen"))
        bike.take(["mend-a"])
        after.append(bike.shows("seen"))
    assert 15 < before.count("left") < 45
    assert after.count("right") >= 57


def test_an_exaggerating_rider_tells_what_is_rarer(book: Book) -> None:
    """On a rider's check the next rarer value, never on a mechanic's; and one answer in so many is wrong."""
    maker = maker_of(book)
    worse = {"none": "slight", "slight": "clear", "clear": "clear"}
    for number in range(40):
        bike = maker.bike("knocks", number, Twist(exaggerated=1.0))
        assert bike.report(book.checks["feel"], "mechanic").value == worse[bike.shows("play")]
        assert bike.report(book.checks["rock"], "mechanic").value == bike.shows("play")
    wrong = [maker.bike("knocks", number, Twist(wrong=0.05)) for number in range(MANY)]
    told = fraction(bike.report(book.checks["rock"], "mechanic").value != bike.shows("play") for bike in wrong)
    assert told == pytest.approx(0.05, abs=4 * (0.0475 / MANY) ** 0.5)


def test_bikes_come_for_the_first_time(tmp_path: Path) -> None:
    """What is back after work of ours is handed on by a rule of its own: simulated bikes are not."""
    book = small_book(
        tmp_path,
        complaints={"knocks": {}},
        causes={"a": cause({"knocks": "90 %"}, {"seen": {"yes": "90 %"}}, fix("mend", "90 %"))},
        findings={"seen": finding("yes no", {"yes": "30 %"}, {"look": {}})},
        facts={
            "comeback": {"ask": "Is it back?", "values": {"first": "no", "again": "yes"}},
            "frame": {"ask": "Frame?", "values": {"metal": "metal", "carbon": "carbon"}},
        },
    )
    profiles = [maker_of(book).bike("knocks", number).profile for number in range(50)]
    assert {profile["comeback"] for profile in profiles} == {("first",)}
    assert {profile["frame"] for profile in profiles} == {("metal",), ("carbon",)}


def test_what_rules_a_cause_in_is_as_much_rarer_without_it(tmp_path: Path) -> None:
    """A torn clamp rules in the torn clamp, a hundred times: of bikes with the other cause 0.3 / 100 show one."""
    book = small_book(
        tmp_path,
        complaints={"knocks": {}},
        causes={
            "torn": cause({"knocks": "45 %"}, {"clamp": {"torn": "90 %"}}, fix("renew", "90 %")),
            "greasy": cause({"knocks": "45 %"}, {"grease": {"yes": "90 %"}}, fix("wipe", "90 %")),
        },
        findings={
            "clamp": finding("sound torn", {"torn": "30 %"}, {"look": {}}),
            "grease": finding("no yes", {"yes": "30 %"}, {"feel": {}}),
        },
        deductions={"torn-seen": deduction({"clamp": "torn"}, {"rule_in": ["torn"]})},
    )
    bikes = [maker_of(book).bike("knocks", number) for number in range(MANY)]
    torn = [bike for bike in bikes if bike.faults[0].cause == "torn"]
    greasy = [bike for bike in bikes if bike.faults[0].cause == "greasy"]
    chance = 0.003 / 0.703
    seen = fraction(bike.shows("clamp") == "torn" for bike in greasy)
    assert seen == pytest.approx(chance, abs=4 * (chance / len(greasy)) ** 0.5)
    assert fraction(bike.shows("clamp") == "torn" for bike in torn) == pytest.approx(0.9, abs=0.05)


def test_a_bike_is_curable_as_far_as_its_ladders_reach(tmp_path: Path) -> None:
    """Of the bikes with the one cause 85 of 100, as the highest rung says; with what the book does not know none."""
    book = one_cause(tmp_path, fix("clean", "40 %"), fix("replace", "85 %"))
    bikes = [maker_of(book).bike("knocks", number) for number in range(MANY)]
    known = [bike.curable for bike in bikes if bike.faults[0].cause]
    assert fraction(known) == pytest.approx(0.85, abs=FOUR_SIGMA)
    assert not any(bike.curable for bike in bikes if bike.faults[0].cause is None)
