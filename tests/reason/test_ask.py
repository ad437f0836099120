"""What to do next: by expected cost, one step and two steps deep, worked out by hand; ties, and how a job ends."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from itertools import permutations
from pathlib import Path
from typing import Any

import pytest

from diagnose.book.model import Book, Check
from diagnose.reason import ahead, ask
from diagnose.reason.ask import Adviser
from diagnose.reason.diagnosis import Diagnosis
from diagnose.reason.option import Option
from diagnose.reason.position import Position
from diagnose.reason.situation import Repair, Situation
from tests.reason.small_book import Raw, answer, cause, deduction, diagnose, finding, fix, reasoner, small_book
from tests.reason.visits import lot

# --- the value of a check, by hand ---------------------------------------------------------------------------------


def tiny_book(folder: Path, **constants: Any) -> Book:
    """Two causes, one check, one fix each; nothing costs anything beyond what is written.

    a: 54 of 100, shows yes in 80; its fix costs 9 + 1 and cures 90.
    b: 36 of 100, shows yes in 25; its fix costs 29 + 1 and cures 75.
    Something else: 10 of 100, shows yes in 50. The check costs 2. Hand-off 100. Test 1.
    """
    return small_book(
        folder,
        complaints={"knocks": {}},
        causes={
            "a": cause({"knocks": "54 %"}, {"play": {"yes": "80 %"}}, fix("set", "90 %", 9)),
            "b": cause({"knocks": "36 %"}, {"play": {"yes": "25 %"}}, fix("press", "75 %", 29)),
        },
        findings={"play": finding("yes no", {"yes": "50 %"}, {"rock": {"minutes": 2}})},
        constants={"hand_off_minutes": 100, **constants},
    )


def options(found: Diagnosis, depth: int = 1) -> dict[str, Option]:
    """The options that are weighed, by id."""
    assert found.outlook is not None
    return {option.id: option for option in Adviser(found.outlook, depth).options()}


def test_the_value_of_a_check_is_its_cost_plus_what_follows_each_report(tmp_path: Path) -> None:
    """Worked out by hand for the tiny book.

    yes: .54 · .80 = .432 a, .36 · .25 = .09 b, .10 · .50 = .05 else; .572 together.
      set first (.3888 / 10 > .0675 / 30): .572 · 10 = 5.72, then .1832 stand;
      press would cost .1832 · 30 = 5.496 and save .0675 · 100 = 6.75: worth it, .1157 · 100 = 11.57 left.
      5.72 + 5.496 + 11.57 = 22.786
    no: .108 a, .27 b, .05 else; .428 together.
      set first (.0972 / 10 > .2025 / 30): .428 · 10 = 4.28, then .3308 stand;
      press: .3308 · 30 = 9.924, then .1283 · 100 = 12.83.
      4.28 + 9.924 + 12.83 = 27.034
    The check: 2 + 22.786 + 27.034 = 51.82. Without it: 10 + .514 · 30 + .244 · 100 = 49.82. It changes nothing here:
    the order is the same after either report, so all that it brings is its cost.
    """
    found = options(diagnose(tiny_book(tmp_path)))
    assert found["rock"].expected == pytest.approx(51.82, abs=1e-9)
    assert found["set"].expected == pytest.approx(49.82, abs=1e-9)
    # press first: 30 + .73 standing · 10 + .244 · 100 = 30 + 7.3 + 24.4
    assert found["press"].expected == pytest.approx(61.7, abs=1e-9)
    assert found["hand-off"].expected == pytest.approx(100, abs=1e-9)


def test_cannot_tell_is_a_branch_of_its_own(tmp_path: Path) -> None:
    """In one of four no answer comes and the course is as before: here nothing changes but what asking costs."""
    book = tiny_book(tmp_path, cannot_tell={"mechanic": "25 %", "rider": "0 %"}, asking_minutes=0.5)
    assert options(diagnose(book))["rock"].expected == pytest.approx(2.5 + 49.82, abs=1e-9)


def splitting_book(folder: Path, minutes: float = 3, **constants: Any) -> Book:
    """Two causes alike in share, told apart by one check: yes in 90 of a, in 10 of b, in 50 of something else.

    Each fix costs 39 + 1 and cures 80 of its cause; the check costs so many minutes, hand-off 100.
    """
    return small_book(
        folder,
        complaints={"knocks": {}},
        causes={
            "a": cause({"knocks": "45 %"}, {"play": {"yes": "90 %"}}, fix("mend-a", "80 %", 39)),
            "b": cause({"knocks": "45 %"}, {"play": {"yes": "10 %"}}, fix("mend-b", "80 %", 39)),
        },
        findings={"play": finding("yes no", {"yes": "50 %"}, {"rock": {"minutes": minutes}})},
        constants={"hand_off_minutes": 100, **constants},
    )


def test_a_check_that_turns_the_order_saves_what_it_costs(tmp_path: Path) -> None:
    """Worked out by hand.

    Without: 40 + .64 · 40 + .28 · 100 = 93.6 (second fix saves .36 · 100 for 25.6: worth it).
    yes (.405 a, .045 b, .05 else, .5 together): mend-a, .5 · 40 = 20, .176 stand; mend-b saves 3.6 for 7.04: no.
      20 + 17.6 = 37.6. no: the same the other way round. 3 + 37.6 + 37.6 = 78.2.
    With one in five untold: 3 + .2 · 93.6 + .8 · 75.2 = 81.88.
    """
    found = options(diagnose(splitting_book(tmp_path / "told")))
    assert found["mend-a"].expected == pytest.approx(93.6, abs=1e-9)
    assert found["rock"].expected == pytest.approx(78.2, abs=1e-9)
    untold = splitting_book(tmp_path / "untold", cannot_tell={"mechanic": "20 %", "rider": "0 %"})
    assert options(diagnose(untold))["rock"].expected == pytest.approx(81.88, abs=1e-9)


def test_the_next_step_is_the_option_that_is_expected_to_cost_least(tmp_path: Path) -> None:
    """The check here; its saving over the runner-up is the difference of the two."""
    found = diagnose(splitting_book(tmp_path), depth=1).next
    assert (found.kind, found.id) == ("check", "rock")
    assert found.runner_up is not None
    assert found.runner_up.id == "mend-a"
    assert found.saves == pytest.approx(93.6 - 78.2)


def test_a_check_that_brings_nothing_is_not_asked(tmp_path: Path) -> None:
    """In the tiny book the order is the same whatever is seen: the fix is next."""
    assert diagnose(tiny_book(tmp_path)).next.id == "set"


# --- two steps deep, against a recursion of the test's own ---------------------------------------------------------

Shares = dict[str, float]
"""Mass of each cause; what has failed is taken off already."""


@dataclass(frozen=True, slots=True)
class ByHand:
    """Expected costs of a book whose causes have one fix each and whose checks are true where they are told.

    `fixes`: cause to (cost with test, cured); `rows`: check to how often each cause shows "yes"; `asked`: what a check
    costs; `untold`: how often nobody can tell.
    """

    fixes: Mapping[str, tuple[float, float]]
    rows: Mapping[str, Mapping[str, float]]
    asked: float
    untold: float

    def course(self, shares: Shares) -> float:
        """The best order of fixes and the best place to hand off at 100, by trying all."""
        best = sum(shares.values()) * 100
        for order in permutations(self.fixes):
            standing, spent = sum(shares.values()), 0.0
            for name in order:
                cost, cured = self.fixes[name]
                spent += standing * cost
                standing -= shares[name] * cured
                best = min(best, spent + standing * 100)
        return best

    def after(self, check: str, shares: Shares) -> list[Shares]:
        """What is left of each cause after each report."""
        row = self.rows[check]
        yes = {name: share * row[name] for name, share in shares.items()}
        no = {name: share * (1 - row[name]) for name, share in shares.items()}
        return [yes, no]

    def ask(self, check: str, shares: Shares, then: int) -> float:
        """A check, and `then` more steps before the course of fixes."""
        left = [other for other in self.rows if other != check] if then else []
        told = sum(self.best(one, left, then) for one in self.after(check, shares))
        silent = self.best(shares, left, then)
        return sum(shares.values()) * self.asked + (1 - self.untold) * told + self.untold * silent

    def best(self, shares: Shares, checks: list[str], then: int) -> float:
        """The course of fixes, or one more check before it."""
        return min([self.course(shares), *(self.ask(check, shares, then - 1) for check in checks)])

    def exact(self, shares: Shares, checks: tuple[str, ...]) -> float:
        """The least that can be expected: questions, fixes and the hand-off in any order."""
        mass = sum(shares.values())
        least = mass * 100
        for check in checks:
            left = tuple(other for other in checks if other != check)
            told = sum(self.exact(one, left) for one in self.after(check, shares))
            silent = self.exact(shares, left) if self.untold else 0.0
            least = min(least, mass * self.asked + (1 - self.untold) * told + self.untold * silent)
        for name, (cost, cured) in self.fixes.items():
            left_over = {one: share * (1 - cured if one == name else 1) for one, share in shares.items()}
            spent = replace(self, fixes={one: fix_ for one, fix_ in self.fixes.items() if one != name})
            least = min(least, mass * cost + spent.exact(left_over, checks))
        return least

    def mend(self, cause_: str, shares: Shares) -> float:
        """A fix, and if it fails a check or the course of fixes."""
        cost, cured = self.fixes[cause_]
        left = {name: share * (1 - cured if name == cause_ else 1) for name, share in shares.items()}
        spent = replace(self, fixes={name: one for name, one in self.fixes.items() if name != cause_})
        return sum(shares.values()) * cost + spent.best(left, list(self.rows), 1)


def drawn_book(folder: Path, seed: object) -> tuple[Book, ByHand, Shares]:
    """Three causes, one fix each, and three checks; the same by hand, and the shares at the start."""
    draw = lot(f"two steps {seed}")
    names = ["a", "b", "c", "else"]
    rows = {check: {name: draw.randint(1, 19) / 20 for name in names} for check in ("x", "y", "z")}
    fixes = {name: (float(draw.randint(5, 60)), draw.randint(10, 19) / 20) for name in ("a", "b", "c")}
    cuts = sorted(draw.sample(range(5, 85), 2))
    weights = {"a": cuts[0], "b": cuts[1] - cuts[0], "c": 90 - cuts[1]}
    untold = draw.choice((0, 20))
    book = small_book(
        folder,
        complaints={"knocks": {}},
        causes={
            name: cause(
                {"knocks": f"{weights[name]} %"},
                {f"see-{check}": {"yes": f"{row[name] * 100:g} %"} for check, row in rows.items()},
                fix(f"mend-{name}", f"{cured * 100:g} %", cost - 1),
            )
            for name, (cost, cured) in fixes.items()
        },
        findings={
            f"see-{check}": finding("yes no", {"yes": f"{row['else'] * 100:g} %"}, {check: {"minutes": 2}})
            for check, row in rows.items()
        },
        constants={"hand_off_minutes": 100, "cannot_tell": {"mechanic": f"{untold} %", "rider": "0 %"}},
    )
    hand = ByHand(fixes, rows, 2, untold / 100)
    shares = {"else": 0.1, **{name: weight / 100 for name, weight in weights.items()}}
    return book, hand, shares


@pytest.mark.parametrize("seed", range(8))
def test_options_two_steps_deep_equal_a_recursion_of_their_own(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, seed: int
) -> None:
    """Three causes and three checks, none left out: each option costs what trying all orders after all reports says."""
    monkeypatch.setitem(ask.AGAIN, "fix", 3)
    book, hand, shares = drawn_book(tmp_path, seed)
    rows, fixes = hand.rows, hand.fixes
    one, two = options(diagnose(book), depth=1), options(diagnose(book), depth=2)
    wanted = {check: (hand.ask(check, shares, 0), hand.ask(check, shares, 1)) for check in rows}
    assert {check: (one[check].expected, two[check].expected) for check in rows} == {
        check: pytest.approx(costs, abs=1e-9) for check, costs in wanted.items()
    }
    mended = {f"mend-{name}": hand.mend(name, shares) for name in fixes}
    assert {name: two[name].expected for name in mended} == pytest.approx(mended, abs=1e-9)


def test_a_third_step_lies_between_two_steps_and_the_least_that_can_be(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Looking further never makes an option dearer, never promises what cannot be, and now and then finds something."""
    monkeypatch.setattr(ahead, "HOPE", 0.0)
    cheaper = 0
    for seed in range(8):
        book, hand, shares = drawn_book(tmp_path / str(seed), seed)
        two, three = options(diagnose(book), depth=2), options(diagnose(book), depth=3)
        assert all(three[name].expected <= two[name].expected + 1e-9 for name in two)
        assert min(one.expected for one in three.values()) >= hand.exact(shares, tuple(hand.rows)) - 1e-9
        cheaper += any(three[name].expected < two[name].expected - 1e-6 for name in two)
    assert cheaper >= 4


def test_two_ways_to_the_same_answers_lead_to_the_same_place(tmp_path: Path) -> None:
    """What is left does not hang on which of two questions came first, so it is worked out once."""
    book, _, _ = drawn_book(tmp_path, 3)
    outlook = diagnose(book).outlook
    assert outlook is not None
    x, y = book.checks["x"], book.checks["y"]

    def both(first: Check, second: Check) -> dict[int | None, Position]:
        places = {}
        for one in outlook.branches(first, outlook.here):
            between = outlook.after_report(first, one, outlook.here, outlook.here.open)
            for two in outlook.branches(second, between):
                place = outlook.after_report(second, two, between, between.open)
                places[place.told] = place
        return places

    there, back = both(x, y), both(y, x)
    assert there.keys() == back.keys()
    assert len(there) == 4
    for told, place in there.items():
        alone = place._replace(told=None)
        assert back[told].weights == pytest.approx(place.weights, abs=1e-12)
        assert outlook.value(place) == pytest.approx(outlook.value(alone), abs=1e-9)
        assert outlook.value(back[told]) == outlook.value(place)


# --- ties and ends -------------------------------------------------------------------------------------------------


def twin_book(folder: Path, danger: str) -> Book:
    """Two checks alike in everything but name, and one of them may guard against a danger."""
    rows: Raw = {"see-x": {"yes": "90 %"}, "see-y": {"yes": "90 %"}}
    other: Raw = {"see-x": {"yes": "10 %"}, "see-y": {"yes": "10 %"}}
    checks: Raw = {name: {"minutes": 3, **({"danger": "yes"} if name == danger else {})} for name in ("x", "y")}
    return small_book(
        folder,
        complaints={"knocks": {}},
        causes={
            "a": cause({"knocks": "45 %"}, rows, fix("mend-a", "80 %", 39)),
            "b": cause({"knocks": "45 %"}, other, fix("mend-b", "80 %", 39)),
        },
        findings={f"see-{name}": finding("yes no", {"yes": "50 %"}, {name: checks[name]}) for name in checks},
    )


@pytest.mark.parametrize(("danger", "first"), [("", "x"), ("x", "x"), ("y", "y")])
def test_ties_break_by_danger_and_then_by_id(tmp_path: Path, danger: str, first: str) -> None:
    """Of two that cost and save the same, the one that guards against a danger; else the first by name."""
    assert diagnose(twin_book(tmp_path, danger)).next.id == first


def test_ties_break_by_ease_before_id(tmp_path: Path) -> None:
    """Of two with the same expected cost the one that costs less itself, whatever it is called."""
    outlook = diagnose(twin_book(tmp_path, "y")).outlook
    assert outlook is not None
    adviser = Adviser(outlook)
    tied = [
        Option("check", "x", 3, 50),
        Option("fix", "mend-a", 2, 50),
        Option("fix", "mend-b", 2, 50),
        Option("check", "y", 9, 50),
        Option("hand-off", "hand-off", 1, 51),
    ]
    assert [option.id for option in sorted(tied, key=adviser._rank)] == ["y", "mend-a", "mend-b", "x", "hand-off"]


def test_the_same_case_gives_the_same_advice_again(tmp_path: Path) -> None:
    """Work is counted, never clocked: two runs agree in every number."""
    book = splitting_book(tmp_path)
    assert diagnose(book).next == diagnose(book).next


def test_where_nothing_is_worth_trying_it_is_handed_off(tmp_path: Path) -> None:
    """The only fix needs a tool that is not here: hand-off, and the reason says what is lacking."""
    book = small_book(
        tmp_path,
        complaints={"knocks": {}},
        causes={"a": cause({"knocks": "90 %"}, {"play": {"yes": "90 %"}}, fix("press-in", "95 %", tools=["press"]))},
        findings={"play": finding("yes no", {"yes": "10 %"}, {"rock": {}})},
        tools={"press": "bearing press"},
    )
    assert diagnose(book).next.id == "press-in"
    found = diagnose(book, without=frozenset({"press"}))
    assert (found.next.kind, found.next.id) == ("hand-off", "hand-off")
    assert "bearing press" in found.hand_offs[0].hand_off.reason


def test_spent_fixes_end_in_a_hand_off(tmp_path: Path) -> None:
    """When what could be tried has failed, something else is on top and the job is given away."""
    book = tiny_book(tmp_path)
    tried = (Repair(("set",), {"knocks": False}), Repair(("press",), {"knocks": False}))
    found = diagnose(book, repairs=tried)
    assert found.next.kind == "hand-off"
    assert found.belief.marginal("knocks")[-1] == max(found.belief.marginal("knocks"))


def test_a_passed_repeat_test_ends_the_job(tmp_path: Path) -> None:
    """Gone is done, and what was found is the cause that the fix treats."""
    found = diagnose(tiny_book(tmp_path), repairs=(Repair(("set",), {"knocks": True}),))
    assert (found.next.kind, found.next.found) == ("done", ("a",))


def test_what_was_concluded_for_the_complaint_counts_for_what_is_found(tmp_path: Path) -> None:
    """The rule that left one cause names the complaint, which is gone now: it is still the one that was mended."""
    book = small_book(
        tmp_path,
        complaints={"knocks": {}},
        causes={
            "a": cause({"knocks": "30 %"}, {"play": {"yes": "50 %"}}, fix("set", "90 %")),
            "b": cause({"knocks": "60 %"}, {"play": {"yes": "50 %"}}, also_by=[{"fix": "set", "cured": "90 %"}]),
        },
        findings={"play": finding("yes no", {"yes": "10 %"}, {"rock": {}})},
        deductions={"so-not-b": deduction({"play": "yes", "complaint": "knocks"}, {"rule_out": ["b"]})},
    )
    told = diagnose(book, answers=(answer(book, "rock", "yes"),), repairs=(Repair(("set",), {"knocks": True}),))
    assert told.next.found == ("a",)


def test_what_made_it_better_on_the_way_is_found_too(tmp_path: Path) -> None:
    """Pressed in and better, then set and gone: two faults, and the sheet tells both; in vain is not told."""
    helped = Repair(("press",), {"knocks": False}, frozenset({"knocks"}))
    then = Repair(("set",), {"knocks": True})
    book = tiny_book(tmp_path)
    assert diagnose(book, repairs=(helped, then)).next.found == ("b", "a")
    assert diagnose(book, repairs=(replace(helped, better=frozenset()), then)).next.found == ("a",)


@pytest.mark.parametrize(("by", "kind"), [("mechanic", "hand-off"), ("rider", "check")])
def test_a_deduction_that_says_before_riding_ends_it_on_a_mechanics_word_only(
    tmp_path: Path, by: str, kind: str
) -> None:
    """Seen by a mechanic, "before riding, somebody else" is the next step; on a rider's word it is looked at first."""
    away: Raw = {"class": "workshop", "urgency": "before riding", "reason": "Cracked."}
    book = small_book(
        tmp_path,
        complaints={"knocks": {}},
        causes={
            "a": cause({"knocks": "45 %"}, {"play": {"yes": "90 %"}}, fix("mend-a", "80 %", 39)),
            "b": cause({"knocks": "45 %"}, {"play": {"yes": "10 %"}}, fix("mend-b", "80 %", 39)),
        },
        findings={
            "play": finding("yes no", {"yes": "50 %"}, {"rock": {"minutes": 1}}),
            "crack": finding("yes no", {"yes": "5 %"}, {"look": {"by": "rider", "minutes": 1}}),
        },
        deductions={"cracked": deduction({"crack": "yes"}, {"hand_off": away})},
    )
    found = diagnose(book, answers=(answer(book, "look", "yes", by=by),))
    assert found.next.kind == kind
    assert found.hand_offs[0].hand_off.reason == "Cracked."


def test_of_two_complaints_what_is_plain_comes_before_a_cheap_guess(tmp_path: Path) -> None:
    """Either order costs the same: the flat is put right at once, the clicking is guessed at afterwards."""
    book = small_book(
        tmp_path,
        complaints={"clicks": {}, "flat": {"something_else": "5 in 100"}},
        causes={
            "chain": cause({"clicks": "40 %"}, {}, fix("lead-chain", "95 %", 1)),
            "axle": cause({"clicks": "50 %"}, {}, fix("turn-axle", "95 %", 3)),
            "hole": cause({"flat": "95 %"}, {}, fix("patch", "95 %", 20)),
        },
    )
    assert reasoner(book).diagnose(Situation(("clicks",))).next.id == "lead-chain"
    found = reasoner(book).diagnose(Situation(("clicks", "flat")))
    assert (found.next.id, [item.fix for item in found.plan]) == ("patch", ["patch", "lead-chain", "turn-axle"])


def test_one_cause_of_two_complaints_is_given_away_once(tmp_path: Path) -> None:
    """Handing off weighs 100 for each fault, not for each complaint.

    One known cause, .9 of each complaint: both by it .81 · 10 = 8.1, one by it .09 each, none .01, of 8.29 together.
    Two faults where only one or none has the known cause: .19 of 8.29.
    """
    book = small_book(
        tmp_path,
        complaints={"knocks": {}, "drags": {}},
        causes={
            "both": cause({"knocks": "90 %", "drags": "90 %"}, {"play": {"yes": "80 %"}}, fix("mend", "90 %", 9)),
        },
        findings={"play": finding("yes no", {"yes": "50 %"}, {"rock": {"minutes": 2}})},
        constants={"hand_off_minutes": 100},
    )
    found = options(reasoner(book).diagnose(Situation(("knocks", "drags"))))
    assert found["hand-off"].expected == pytest.approx(100 * (1 + 0.19 / 8.29))
