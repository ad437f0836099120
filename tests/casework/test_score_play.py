"""A bike worked on: what is counted, when it ends, and what each player does; sums worked out by hand."""

from __future__ import annotations

from pathlib import Path
from statistics import mean, stdev
from typing import Any

import pytest

from diagnose.book.model import Book
from diagnose.casework.score.bikes import Bike, Fault, Twist
from diagnose.casework.score.fixed_order import choose_order
from diagnose.casework.score.play import MOST_STEPS, Visit, intake, play
from diagnose.casework.score.players import RIVALS, Clairvoyant, Player, Policy, Step, make_rival
from diagnose.casework.score.upsets import without
from diagnose.reason.conclude import rules_of
from diagnose.reason.deduce import PlainChainer
from diagnose.reason.situation import Situation
from tests.casework.score_books import LOOK, SHOWS, maker_of, one_cause, three_causes
from tests.reason.small_book import cause, deduction, finding, fix, reasoner, small_book

PLAIN = PlainChainer([])
"""For books whose deductions call no danger."""


def bikes_with(book: Book, wanted: str | None, bikes: int = 60) -> list[Bike]:
    """Bikes with this cause among those drawn."""
    maker = maker_of(book)
    drawn = [maker.bike("knocks", number) for number in range(bikes)]
    return [bike for bike in drawn if bike.faults == (Fault("knocks", wanted),)]


def played(book: Book, wanted: str | None, player: Player | None = None) -> list[Visit]:
    """Visits to bikes with this cause, by the policy unless told otherwise."""
    return [play(bike, player or Policy(reasoner(book)), PLAIN) for bike in bikes_with(book, wanted)]


def test_the_first_fix_cures_as_often_as_its_cured_says(tmp_path: Path) -> None:
    """One known cause, one fix of 80 in 100 (read as 80.5 of 101): of 400 bikes with it within four standard errors."""
    book = one_cause(tmp_path, fix("mend", "80 in 100"))
    policy, maker = Policy(reasoner(book)), maker_of(book)
    bikes = [maker.bike("knocks", number) for number in range(400)]
    visits = [play(bike, policy, PLAIN) for bike in bikes if bike.faults[0].cause]
    cured = sum(bool(visit.first_cured) for visit in visits) / len(visits)
    assert cured == pytest.approx(80.5 / 101, abs=4 * (0.16 / len(visits)) ** 0.5)


def test_a_cured_bike_costs_its_work_and_test(tmp_path: Path) -> None:
    """Ten minutes, a teardown of 3 and 2, a test of 1; a part of 30 at 60 an hour is 30 minutes more of cost."""
    book = one_cause(
        tmp_path,
        fix("mend", "99 %", teardown="wheel-out", parts={"tube": 1}),
        teardowns={"wheel-out": {"name": "wheel out", "open": 3, "close": 2}},
        parts={"tube": {"name": "a tube", "price": {"low": 30, "high": 30}}},
    )
    visits = [visit for visit in played(book, "a") if visit.end == "cured"]
    assert len(visits) > 40
    for visit in visits:
        assert visit.minutes == pytest.approx(3 + 10 + 2 + 1)
        assert visit.cost == pytest.approx(16 + 30)
        assert (visit.questions, visit.tries, visit.first_cured) == (0, 1, True)


def test_what_is_not_in_the_book_ends_in_a_hand_off(tmp_path: Path) -> None:
    """The fix is tried and fails, eleven minutes; then the bike is given away for 120."""
    book = one_cause(tmp_path, fix("mend", "99 %"), unknown=40)
    visits = played(book, None)
    assert visits
    for visit in visits:
        assert (visit.end, visit.first_cured) == ("handed-off", False)
        assert (visit.minutes, visit.cost) == pytest.approx((11, 131))


def test_a_hand_off_does_not_save_the_parts(tmp_path: Path) -> None:
    """A cause that is handed on costs its class's minutes; one given away unmended its parts as well."""
    findings = {"seen": finding("a b", {"a": "50 %"}, {"look": {"minutes": 1}})}
    book = small_book(
        tmp_path,
        complaints={"knocks": {"something_else": "3 in 100"}},
        causes={
            "a": cause({"knocks": "49 %"}, {"seen": {"a": "99.5 %"}}),
            "b": cause({"knocks": "48 %"}, {"seen": {"b": "99.5 %"}}, fix("long", "90 %", 300, parts={"rim": 1})),
        },
        findings=findings,
        parts={"rim": {"name": "a rim", "price": {"low": 40, "high": 40}}},
        hand_offs={"workshop": {"to": "a workshop", "minutes": 90}},
        constants={"hand_off_minutes": 100},
    )
    assert {visit.cost - visit.minutes for visit in played(book, "a")} == {90}
    assert {visit.cost - visit.minutes for visit in played(book, "b")} == {140}


def test_what_is_handed_off_as_its_signs_call_for_is_told_from_what_a_wrong_answer_sent_away(tmp_path: Path) -> None:
    """A crack is to be handed off at once. Looks err: some bikes without one are sent away as well."""
    away = {"class": "workshop", "urgency": "before riding", "reason": "Not here."}
    crack = finding("no yes", {"no": "60 %"}, {"glance": {"minutes": 0.1, "trust": "70 %", "danger": "yes"}})
    book = small_book(
        tmp_path,
        complaints={"knocks": {}},
        causes={"a": cause({"knocks": "97 %"}, {"crack": {"no": "60 %"}}, fix("mend", "99 %"))},
        findings={"crack": crack},
        deductions={
            "look-first": deduction({"complaint": "knocks"}, {"demand": ["glance"]}),
            "cracked": deduction({"crack": "yes"}, {"hand_off": away}),
        },
    )
    chaining = PlainChainer(rules_of(book))
    policy = Policy(reasoner(book))
    visits = [(bike.shows("crack"), play(bike, policy, chaining)) for bike in bikes_with(book, "a", 200)]
    due = [seen for seen, visit in visits if visit.end == "handed-off" and visit.due]
    sent = [seen for seen, visit in visits if visit.end == "handed-off" and not visit.due and not visit.tries]
    assert set(due) == {"yes"}
    assert sent
    assert set(sent) == {"no"}
    assert not any(visit.due for _, visit in visits if visit.end == "cured")


def test_what_must_be_done_anyway_is_counted_apart(tmp_path: Path) -> None:
    """A fix that a deduction says belongs to the bike is no try at the complaint and no part of its cost."""
    findings = {
        "seen": finding("a b", {"a": "50 %"}, {"look": {"minutes": 1}}),
        "tyre": finding("sound cut", {"sound": "50 %"}, {"look-tyre": {}}),
    }
    shared = {"knocks": "45 %"}
    book = small_book(
        tmp_path,
        complaints={"knocks": {}, "flat": {}},
        causes={
            "a": cause(shared, {"seen": {"a": "97 %"}, "tyre": {"cut": "97 %"}}, fix("mend-a", "99 %", 40)),
            "b": cause(shared, {"seen": {"b": "97 %"}, "tyre": {"sound": "97 %"}}, fix("mend-b", "99 %", 40)),
            "hole": cause({"flat": "90 %"}, {"tyre": {"cut": "97 %"}}, fix("new-tyre", "99 %", 7)),
        },
        findings=findings,
        deductions={
            "first": deduction({"complaint": "knocks"}, {"demand": ["look-tyre"]}),
            "cut": deduction({"tyre": "cut"}, {"also": {"new-tyre": "must"}}),
        },
    )
    visits = played(book, "a")
    cut = [visit for visit in visits if visit.extra]
    assert cut
    for visit in cut:
        assert visit.extra == pytest.approx(7)
        assert visit.end != "cured" or visit.tries <= 2


class Stubborn:
    """A player that does the same check again and again."""

    name = "stubborn"

    def __init__(self, book: Book) -> None:
        self.policy = Policy(reasoner(book))

    def step(self, situation: Situation) -> Step:
        """Look again."""
        step = self.policy.step(situation)
        return Step("check", "look", (), step.belief, step.ride)


def test_patience_ends(tmp_path: Path) -> None:
    """A player that never ends is given up after so many steps, and it is said."""
    book = one_cause(tmp_path, fix("mend", "99 %"))
    visit = play(maker_of(book).bike("knocks", 1), Stubborn(book), PLAIN)
    assert (visit.end, visit.checks) == ("given-up", MOST_STEPS)


def test_what_was_stated_is_held_against_the_truth(tmp_path: Path) -> None:
    """Shares 60, 30, 10 of 100 without a question: Brier 0.16 + 0.09 + 0.01, and -ln 0.6, where the first is true."""
    book = small_book(
        tmp_path,
        complaints={"knocks": {}},
        causes={
            "a": cause({"knocks": "60 %"}, SHOWS, fix("mend-a", "90 %", 20)),
            "b": cause({"knocks": "30 %"}, SHOWS, fix("mend-b", "90 %", 20)),
        },
        findings=LOOK,
    )
    for visit in played(book, "a"):
        assert visit.stated.top == pytest.approx(0.6)
        assert (visit.stated.right, visit.stated.rank) == (True, 1)
        assert visit.stated.brier == pytest.approx(0.26)
        assert visit.stated.surprise == pytest.approx(0.5108256)
        assert visit.weighty == visit.stated
    for visit in played(book, None):
        assert (visit.stated.right, visit.stated.rank) == (False, 3)
        assert visit.stated.brier == pytest.approx(0.36 + 0.09 + 0.81)


def test_a_short_fix_without_parts_is_not_weighty(tmp_path: Path) -> None:
    """Ten minutes and nothing bought: nobody needs to be sure first."""
    book = one_cause(tmp_path, fix("mend", "90 %", 10))
    assert {visit.weighty for visit in played(book, "a")} == {None}


def test_the_estimate_meets_the_minutes(tmp_path: Path) -> None:
    """One fix of 10 to 40 minutes that always cures: about eight in ten of 300 visits fall between P10 and P90."""
    book = one_cause(tmp_path, fix("mend", "99.5 %", (10, 40)))
    policy, maker = Policy(reasoner(book)), maker_of(book)
    bikes = [maker.bike("knocks", number) for number in range(300)]
    found = [play(bike, policy, PLAIN).foreseen for bike in bikes if bike.faults[0].cause]
    inside = [one.minutes[0] <= one.minutes[2] <= one.minutes[1] for one in found if one]
    assert sum(inside) / len(inside) == pytest.approx(0.8, abs=4 * (0.16 / len(inside)) ** 0.5 + 0.03)


def test_a_dangerous_bike_is_known_as_such(tmp_path: Path) -> None:
    """The cause that must not be ridden, and something else at the rate of the complaint."""
    book = three_causes(tmp_path)
    assert {visit.danger for visit in played(book, "cracked")} == {"known"}
    assert {visit.danger for visit in played(book, "loose")} == {""}
    risky = small_book(
        tmp_path / "risky",
        complaints={"knocks": {"something_else": "50 in 100", "danger_if_unknown": "100 in 100"}},
        causes={"a": cause({"knocks": "50 %"}, SHOWS, fix("mend", "90 %"))},
        findings=LOOK,
    )
    assert {visit.danger for visit in played(risky, None)} <= {"unknown", ""}
    assert "unknown" in {visit.danger for visit in played(risky, None)}


# --- players --------------------------------------------------------------------------------------------------------


@pytest.fixture
def book(tmp_path: Path) -> Book:
    """Three causes, two findings."""
    return three_causes(tmp_path)


def rival(book: Book, name: str, **more: Any) -> Player:
    """A rival over a small book; the fixed order looks for rust and then rocks."""
    return make_rival(name, reasoner(book), {"knocks": ("look", "rock")}, **more)


@pytest.mark.parametrize("name", [kind.name for kind in RIVALS])
def test_rivals_work_on_the_same_bikes_and_come_to_an_end(book: Book, name: str) -> None:
    """Bike by bike the same causes, dangers, and at most the price of a hand-off beyond the work."""
    maker, player, policy = maker_of(book), rival(book, name), Policy(reasoner(book))
    for number in range(12):
        one = play(maker.bike("knocks", number), player, PLAIN)
        two = play(maker.bike("knocks", number), policy, PLAIN)
        assert (one.number, one.causes, one.danger) == (two.number, two.causes, two.danger)
        assert one.end in ("cured", "handed-off")
        assert one.cost >= one.minutes


def test_a_rival_without_questions_asks_only_what_danger_demands(book: Book) -> None:
    """Free of danger's demands it asks nothing at all."""
    maker, player = maker_of(book), rival(book, "no-questions", free=True)
    assert {play(maker.bike("knocks", number), player, PLAIN).checks for number in range(12)} == {0}
    held = rival(book, "no-questions")
    assert max(play(maker.bike("knocks", number), held, PLAIN).checks for number in range(12)) > 0


def test_what_is_found_is_what_was_said(book: Book) -> None:
    """The mean cost of 500 bikes without questions is the course's own expected cost, within four standard errors."""
    maker, player = maker_of(book), rival(book, "no-questions", free=True)
    costs = [play(maker.bike("knocks", number), player, PLAIN).cost for number in range(500)]
    outlook = reasoner(book).diagnose(Situation(("knocks",))).outlook
    assert outlook is not None
    assert mean(costs) == pytest.approx(outlook.value(outlook.here), abs=4 * stdev(costs) / 500**0.5)


def test_asking_everything_asks_everything_once(book: Book) -> None:
    """One report on each finding is enough where a mechanic's word is certain."""
    maker, player = maker_of(book), rival(book, "ask-all")
    visits = [play(maker.bike("knocks", number), player, PLAIN) for number in range(12)]
    assert {visit.questions for visit in visits} == {2}


def test_the_likeliest_is_treated_first_whatever_it_costs(tmp_path: Path) -> None:
    """A likely cause with a fix of an hour before an unlikely one of a minute; chance per cost does the reverse."""
    book = small_book(
        tmp_path,
        complaints={"knocks": {}},
        causes={
            "a": cause({"knocks": "50 %"}, SHOWS, fix("hour", "90 %", 60)),
            "b": cause({"knocks": "40 %"}, SHOWS, fix("minute", "90 %", 1)),
        },
        findings=LOOK,
    )
    situation = Situation(("knocks",))
    assert rival(book, "likeliest").step(situation).fixes == ("hour",)
    assert rival(book, "no-questions").step(situation).fixes == ("minute",)


def test_bits_a_minute_choose_the_check_that_tells_most_a_minute(tmp_path: Path) -> None:
    """One bit in ten minutes beside nearly nothing in one, and beside half the bits in two."""
    told = {"far": "99.5 %"}
    findings = {
        "dear": finding("near far", {"near": "99.5 %"}, {"ten-minutes": {"minutes": 10}}),
        "vague": finding("near far", {"near": "50 %"}, {"one-minute": {"minutes": 1}}),
        "fair": finding("near far", {"near": "90 %"}, {"two-minutes": {"minutes": 2}}),
    }
    book = small_book(
        tmp_path,
        complaints={"knocks": {"something_else": "3 in 100"}},
        causes={
            "a": cause({"knocks": "49 %"}, {"dear": told, "fair": {"far": "80 %"}}, fix("mend-a", "90 %", 60)),
            "b": cause({"knocks": "48 %"}, {"vague": {"near": "52 %"}}, fix("mend-b", "90 %", 60)),
        },
        findings=findings,
    )
    step = rival(book, "gain-per-minute").step(Situation(("knocks",)))
    assert (step.kind, step.id) == ("check", "two-minutes")


def test_a_fixed_order_asks_down_its_list_until_it_is_sure(book: Book) -> None:
    """Rust first, then the rocking, whatever the first answer is; and nothing once the fixes have begun."""
    player = rival(book, "fixed-order", free=True)
    situation = Situation(("knocks",))
    assert player.step(situation).id == "look"
    order = choose_order(maker_of(book, "list"), "knocks", 20)
    assert set(order) <= {"look", "rock", "feel"}


def test_the_list_begins_with_the_check_that_saves_most(tmp_path: Path) -> None:
    """A check that tells two dear fixes apart is on the list; one that tells nothing is not."""
    findings = {
        "telling": finding("a b", {"a": "50 %"}, {"tell": {"minutes": 2}}),
        "idle": finding("a b", {"a": "50 %"}, {"idle-look": {"minutes": 2}}),
    }
    book = small_book(
        tmp_path,
        complaints={"knocks": {"something_else": "3 in 100"}},
        causes={
            "one": cause({"knocks": "49 %"}, {"telling": {"a": "97 %"}, "idle": {"a": "52 %"}}, fix("m1", "95 %", 50)),
            "two": cause({"knocks": "48 %"}, {"telling": {"b": "97 %"}}, fix("m2", "95 %", 50)),
        },
        findings=findings,
    )
    assert choose_order(maker_of(book, "list"), "knocks", 20) == ("tell",)


def test_a_policy_without_the_cause_gives_the_bike_away(tmp_path: Path) -> None:
    """Where the only cause that is wrong was never written down, no fix of another one cures it."""
    book = three_causes(tmp_path)
    poorer = Policy(reasoner(without(book, "worn")))
    visits = played(book, "worn", poorer)
    assert visits
    assert {visit.end for visit in visits} == {"handed-off"}


def test_the_clairvoyant_mends_what_is_wrong(book: Book) -> None:
    """It asks nothing, tries only what treats the cause, and gives away what nobody mends, at the price alone."""
    for wanted, most in (("loose", 1), ("worn", 2), ("cracked", 0), (None, 0)):
        for visit in played(book, wanted, Clairvoyant(reasoner(book), wanted)):
            assert (visit.checks, visit.tries <= most) == (0, True)
            assert wanted not in ("cracked", None) or visit.cost == 120


# --- the counter ----------------------------------------------------------------------------------------------------


def test_at_the_counter_only_what_a_rider_can_answer_is_asked(book: Book) -> None:
    """At most six questions, and of these two findings one has a rider's question."""
    policy, maker = Policy(reasoner(book)), maker_of(book)
    told = [intake(maker.bike("knocks", number), policy, PLAIN) for number in range(12)]
    assert max(one.questions for one in told) == 1
    assert all(one.held == (one.verdict in ("stop", "not-cleared")) for one in told)


def test_an_exaggerating_rider_changes_what_the_counter_says(book: Book) -> None:
    """The same bikes with every answer one step rarer come to other shares."""
    policy, maker = Policy(reasoner(book)), maker_of(book)
    plain = [intake(maker.bike("knocks", number), policy, PLAIN).stated for number in range(12)]
    worse = [intake(maker.bike("knocks", number, Twist(exaggerated=1)), policy, PLAIN).stated for number in range(12)]
    assert plain != worse


def test_a_danger_that_shows_in_itself_is_no_false_stop(tmp_path: Path) -> None:
    """The lever at the bar is a danger whatever let it go there: where it is so, not where a mistake says so."""
    at_the_bar = finding("bar short", {"bar": "50 %"}, {"squeeze": {"trust": {"mechanic": "60 %"}, "minutes": 0.1}})
    book = small_book(
        tmp_path,
        complaints={"knocks": {}},
        causes={
            "a": cause({"knocks": "45 %"}, {"reach": {"bar": "50 %"}}, fix("mend-a", "90 %")),
            "b": cause({"knocks": "45 %"}, {"reach": {"bar": "51 %"}}, fix("mend-b", "90 %")),
        },
        findings={"reach": at_the_bar},
        deductions={
            "first": deduction({"complaint": "knocks"}, {"demand": ["squeeze"]}),
            "at-bar": deduction({"reach": "bar"}, {"danger": "stop"}),
        },
    )
    chainer, policy = PlainChainer(rules_of(book)), Policy(reasoner(book))
    told: dict[tuple[bool, bool], list[str]] = {}
    for number in range(200):
        bike = maker_of(book).bike("knocks", number)
        shown = bike.shows("reach")
        visit = play(bike, policy, chainer)
        told.setdefault((visit.held, visit.seen), []).append(shown)
    assert set(told) == {(True, True), (True, False), (False, True), (False, False)}
    assert {one for (_, seen), shown in told.items() for one in shown if seen} == {"bar"}
    assert {one for (_, seen), shown in told.items() for one in shown if not seen} == {"short"}
