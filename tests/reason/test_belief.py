"""Belief, worked out by hand on small books: shares, answers, reports, fixes, and several complaints at once."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest

from diagnose.book.model import Book
from diagnose.reason.belief import Belief
from diagnose.reason.situation import Already, Answer, Repair, Situation
from tests.reason.plain_book import chance_of
from tests.reason.small_book import Raw, answer, cause, deduction, finding, fix, reasoner, small_book

ELSE = None
"""How belief names something else."""

PLAY: Raw = {
    "play": finding(
        "yes no",
        {"yes": "10 %"},
        {"rock": {}, "lift": {}, "push": {}, "rider-feels": {"by": "rider"}, "unsure": {"trust": "60 %"}},
    )
}


def play_book(folder: Path, **more: Any) -> Book:
    """Two causes, 30 and 60 of 100, something else 10; play is seen with 90, 20 and 10 of 100."""
    causes = {
        "a": cause({"knocks": "30 %"}, {"play": {"yes": "90 %"}}, fix("set", "60 %"), fix("renew", "90 %")),
        "b": cause({"knocks": "60 %"}, {"play": {"yes": "20 %"}}, fix("tighten", "80 %")),
    }
    return small_book(folder, complaints={"knocks": {}}, **{"findings": PLAY, "causes": causes, **more})


def belief_of(book: Book, *complaints: str, **known: Any) -> Belief:
    """Belief about a bike of which this is known."""
    return reasoner(book).diagnose(Situation(complaints or ("knocks",), **known)).belief


def shares(book: Book, **known: Any) -> dict[str | None, float]:
    """The shares of the one complaint."""
    belief = belief_of(book, **known)
    return dict(zip(belief.net.causes[0], belief.marginal("knocks"), strict=True))


@pytest.fixture
def book(tmp_path: Path) -> Book:
    """The book most tests here are about."""
    return play_book(tmp_path)


# --- prior --------------------------------------------------------------------------------------------------------


def test_something_else_is_taken_as_stated_and_the_causes_share_the_rest(tmp_path: Path) -> None:
    """Shares are weights: 20 and 40 of 100 beside something else 10 are .30 and .60."""
    causes = {
        "a": cause({"knocks": "20 in 100"}, {"play": {"yes": "90 %"}}),
        "b": cause({"knocks": "40 in 100"}, {"play": {"yes": "20 %"}}),
    }
    found = shares(play_book(tmp_path, causes=causes))
    assert found == pytest.approx({"a": 0.3, "b": 0.6, ELSE: 0.1})


def test_a_profile_fact_moves_the_causes_among_themselves(tmp_path: Path) -> None:
    """Three times likelier: 90 to 60 instead of 30 to 60, of the 90 of 100 that the known causes have."""
    book = play_book(
        tmp_path,
        facts={"ridden": {"ask": "Where?", "values": {"town": "town", "woods": "woods"}}},
        deductions={"woods-wear": deduction({"ridden": "woods"}, {"likelier": {"a": 3}})},
    )
    assert shares(book, profile={"ridden": ("town",)}) == pytest.approx({"a": 0.3, "b": 0.6, ELSE: 0.1})
    assert shares(book, profile={"ridden": ("woods",)}) == pytest.approx({"a": 0.54, "b": 0.36, ELSE: 0.1})


def test_a_cause_that_cannot_apply_is_none_of_the_causes(tmp_path: Path) -> None:
    """Known otherwise, it is gone and its share goes to the others; not known, it stays."""
    causes = {
        "a": cause({"knocks": "30 %"}, {"play": {"yes": "90 %"}}, applies={"headset": "threadless"}),
        "b": cause({"knocks": "60 %"}, {"play": {"yes": "20 %"}}),
    }
    facts = {"headset": {"ask": "Which?", "values": {"threadless": "threadless", "threaded": "threaded"}}}
    book = play_book(tmp_path, causes=causes, facts=facts)
    assert shares(book) == pytest.approx({"a": 0.3, "b": 0.6, ELSE: 0.1})
    assert shares(book, profile={"headset": ("threaded",)}) == pytest.approx({"b": 0.9, ELSE: 0.1})


# --- answers ------------------------------------------------------------------------------------------------------


def test_an_answer_moves_everything(book: Book) -> None:
    """Play seen: .3 · .9 to .6 · .2 to .1 · .1, which is 27 to 12 to 1 of 40."""
    found = shares(book, answers=(answer(book, "rock", "yes"),))
    assert found == pytest.approx({"a": 27 / 40, "b": 12 / 40, ELSE: 1 / 40})


def test_a_riders_word_weighs_less(book: Book) -> None:
    """Trusted at 80 %: P(says yes) is .8 P(yes) + .2 · .1, so .74, .18 and .10: 222 to 108 to 10 of 340."""
    found = shares(book, answers=(answer(book, "rider-feels", "yes", by="rider"),))
    assert found == pytest.approx({"a": 222 / 340, "b": 108 / 340, ELSE: 10 / 340})


@pytest.mark.parametrize("by", ["mechanic", "rider"])
def test_cannot_tell_is_no_evidence(book: Book, by: str) -> None:
    """Whoever cannot tell, the shares stay."""
    assert shares(book, answers=(answer(book, "rock", None, by=by),)) == pytest.approx(shares(book))


def test_a_disturbed_answer_no_longer_counts(book: Book) -> None:
    """After a fix that helped has disturbed what was seen, the shares are as if it had not been seen."""
    assert shares(book, answers=(answer(book, "rock", "yes", stale=True),)) == pytest.approx(shares(book))


def before(book: Book, check: str, value: str, repair: int = 0) -> Answer:
    """What was told before a repair that did not help, and that this repair has disturbed."""
    return answer(book, check, value, stale=True, before=True, disturbed_by=repair)


def test_what_was_told_before_a_repair_in_vain_still_tells_of_the_cause(book: Book) -> None:
    """No play, then play is taken up and it still knocks: .3 · .1 · .4 to .6 · .8 to .1 · .9, or 4 to 160 to 30."""
    found = shares(book, answers=(before(book, "rock", "no"),), repairs=(failed("set"),))
    assert found == pytest.approx({"a": 4 / 194, "b": 160 / 194, ELSE: 30 / 194})


def test_a_newer_look_takes_the_place_of_what_was_told_before(book: Book) -> None:
    """Whatever was told before the repairs; not being able to tell is no look. Of older ones the last counts."""
    seen = shares(book, answers=(answer(book, "lift", "yes"),), repairs=(failed("set"),))
    for said in ("yes", "no"):
        told = (before(book, "rock", said), answer(book, "lift", "yes"))
        assert shares(book, answers=told, repairs=(failed("set"),)) == pytest.approx(seen)
    older = (before(book, "rock", "no"), before(book, "lift", "yes", 1), answer(book, "push", None))
    twice = (failed("set"), failed("set"))
    assert shares(book, answers=older, repairs=twice) == pytest.approx(seen)


def test_what_was_told_before_a_repair_in_vain_may_be_asked_anew(book: Book) -> None:
    """It does not say what is so now: the same check is open, and a report on it still tells something.

    What was right before is right still: a repair in vain has not mended it, and nobody looks twice.
    """
    for said, asked in (("yes", True), ("no", False)):
        situation = Situation(("knocks",), answers=(before(book, "rock", said),), repairs=(failed("set"),))
        outlook = reasoner(book).diagnose(situation).outlook
        assert outlook is not None
        assert ("rock" in {check.id for check in outlook.open_checks()}) == asked


@pytest.mark.parametrize("said", ["yes", "no"])
def test_no_cause_rises_because_its_own_repair_failed(book: Book, said: str) -> None:
    """Whether what was seen before spoke for it or against it."""
    for name, mended in (("a", "set"), ("b", "tighten")):
        sure = shares(book, answers=(answer(book, "rock", said),))
        after = shares(book, answers=(before(book, "rock", said),), repairs=(failed(mended),))
        assert after[name] < sure[name]


def test_what_ruled_out_or_in_before_a_repair_in_vain_still_does(tmp_path: Path) -> None:
    """A deduction fires no more, but what it ruled out by what was seen then does not come back."""
    for said in ("rule_out", "rule_in"):
        proof = {"proof": deduction({"play": "yes", "ring": "dull"}, {said: ["b"]})}
        findings = {**PLAY, "ring": finding("dull clear", {"dull": "50 %"}, {"listen": {}})}
        book = play_book(tmp_path / said, deductions=proof, findings=findings)
        heard = answer(book, "listen", "dull")
        now = shares(book, answers=(answer(book, "rock", "yes"), heard), repairs=(failed("set"),))
        told = Situation(("knocks",), answers=(before(book, "rock", "yes"), heard), repairs=(failed("set"),))
        diagnosis = reasoner(book).diagnose(told)
        assert dict(zip(diagnosis.belief.net.causes[0], diagnosis.belief.weights, strict=True)) == pytest.approx(now)
        assert not diagnosis.conclusions.fired


def test_three_ways_to_see_the_same_play_count_once(book: Book) -> None:
    """A finding that is seen for sure can be looked at twice more without moving anything."""
    once = shares(book, answers=(answer(book, "rock", "yes"),))
    thrice = tuple(answer(book, check, "yes") for check in ("rock", "lift", "push"))
    assert shares(book, answers=thrice) == pytest.approx(once)


def test_a_riders_word_beside_a_mechanics_look_adds_nothing(book: Book) -> None:
    """What the mechanic has seen is so, whatever the rider says of it."""
    seen = answer(book, "rock", "yes")
    for said in ("yes", "no"):
        told = answer(book, "rider-feels", said, by="rider")
        assert shares(book, answers=(seen, told)) == pytest.approx(shares(book, answers=(seen,)))


def test_unsure_reports_saturate_at_what_a_sure_look_would_say(book: Book) -> None:
    """Reports trusted at 60 % move ever less, and together never more than the play itself."""
    sure = shares(book, answers=(answer(book, "rock", "yes"),))["a"]
    seen = [shares(book, answers=(answer(book, "unsure", "yes"),) * count)["a"] for count in range(40)]
    steps = [after - before for before, after in pairwise(seen)]
    assert all(step > 0 for step in steps[:6])
    assert all(later < earlier for earlier, later in pairwise(steps[1:8]))
    assert all(share <= sure + 1e-12 for share in seen)
    assert seen[-1] == pytest.approx(sure, abs=1e-6)


def test_one_value_that_rules_a_cause_out_is_never_expected_of_it(tmp_path: Path) -> None:
    """Ruled out by "no", the cause shows "yes" always: even a rider's "yes" now speaks louder for it.

    P(says yes | a) is .8 · 1 + .2 · .1 = .82 and no longer .74: .3 · .82 to .6 · .18 to .1 · .10.
    """
    book = play_book(tmp_path, deductions={"no-play-no-a": deduction({"play": "no"}, {"rule_out": ["a"]})})
    found = shares(book, answers=(answer(book, "rider-feels", "yes", by="rider"),))
    assert found == pytest.approx({"a": 246 / 364, "b": 108 / 364, ELSE: 10 / 364})
    assert shares(book, answers=(answer(book, "rock", "no"),))["a"] == 0


# --- fixes --------------------------------------------------------------------------------------------------------


def failed(*fixes: str) -> Repair:
    """Fixes after which it still knocks."""
    return Repair(fixes, {"knocks": False})


def gone(*fixes: str) -> Repair:
    """Fixes after which it knocks no more."""
    return Repair(fixes, {"knocks": True})


def test_a_fix_that_failed_leaves_what_it_does_not_cure(book: Book) -> None:
    """Set cures 60 of 100 of a: .3 · .4 to .6 to .1."""
    found = shares(book, repairs=(failed("set"),))
    assert found == pytest.approx({"a": 12 / 82, "b": 60 / 82, ELSE: 10 / 82})


def test_of_a_ladder_the_highest_rung_counts(book: Book) -> None:
    """Renew cures 90 of 100 "by it or any rung before": set and renew leave .1, not .4 · .1, in whatever order."""
    for repairs in ((failed("set"), failed("renew")), (failed("renew"), failed("set")), (failed("renew"),)):
        assert shares(book, repairs=repairs) == pytest.approx({"a": 3 / 73, "b": 60 / 73, ELSE: 10 / 73})


def test_a_fix_that_worked_points_at_its_cause(book: Book) -> None:
    """Tighten cures 80 of 100 of b; of the others five in a thousand by luck: .6 · .8 to .4 · .005."""
    found = shares(book, repairs=(gone("tighten"),))
    assert found == pytest.approx({"b": 0.48 / 0.482, "a": 0.0015 / 0.482, ELSE: 0.0005 / 0.482})


def test_a_second_rung_that_worked_cured_what_the_first_had_left(book: Book) -> None:
    """Set failed, renew worked: of 100 with a, 60 would have been well and 90 - 60 = 30 are well now.

    The others stayed and went by luck: .3 · .30 to .6 · .005 to .1 · .005.
    """
    found = shares(book, repairs=(failed("set"), gone("renew")))
    assert found == pytest.approx({"a": 0.09 / 0.0935, "b": 0.003 / 0.0935, ELSE: 0.0005 / 0.0935})


@pytest.mark.parametrize("result", ["better", "same", "worse"])
def test_what_was_done_before_weakens_and_never_rules_out(tmp_path: Path, result: str) -> None:
    """A fix that cures 99 of 100 is trusted at 60 % to have been done well: 1 - .6 · .99 of the share stay."""
    causes = {
        "a": cause({"knocks": "30 %"}, {"play": {"yes": "90 %"}}, fix("set", "99 %")),
        "b": cause({"knocks": "60 %"}, {"play": {"yes": "20 %"}}, fix("tighten", "80 %")),
    }
    found = shares(play_book(tmp_path, causes=causes), already=(Already("set", result),))
    left = 0.3 * (1 - 0.6 * 0.99)
    assert found == pytest.approx({"a": left / (left + 0.7), "b": 0.6 / (left + 0.7), ELSE: 0.1 / (left + 0.7)})


def test_what_was_done_before_strengthens_what_it_brings_about_badly_done(tmp_path: Path) -> None:
    """Setting it badly makes b three times as likely: .3 · (1 - .6 · .6) to .6 · 3 to .1."""
    causes = {
        "a": cause({"knocks": "30 %"}, {"play": {"yes": "90 %"}}, fix("set", "60 %", badly_done={"b": 3})),
        "b": cause({"knocks": "60 %"}, {"play": {"yes": "20 %"}}, fix("tighten", "80 %")),
    }
    found = shares(play_book(tmp_path, causes=causes), already=(Already("set", "same"),))
    assert found == pytest.approx({"a": 0.192 / 2.092, "b": 1.8 / 2.092, ELSE: 0.1 / 2.092})


def test_what_was_done_before_weakens_what_its_parts_cure(tmp_path: Path) -> None:
    """Replacing includes setting, which cures 60 % of a: .3 · (1 - .6 · .6) to .6 · (1 - .6 · .8) to .1."""
    causes = {
        "a": cause({"knocks": "30 %"}, {"play": {"yes": "90 %"}}, fix("set", "60 %")),
        "b": cause({"knocks": "60 %"}, {"play": {"yes": "20 %"}}, fix("replace", "80 %", includes=["set"])),
    }
    found = shares(play_book(tmp_path, causes=causes), already=(Already("replace", "same"),))
    assert found == pytest.approx({"a": 0.192 / 0.604, "b": 0.312 / 0.604, ELSE: 0.1 / 0.604})


def test_what_is_badly_done_is_not_cured_by_a_part(tmp_path: Path) -> None:
    """Replacing includes setting, but badly done it brings a about: a is made likelier and not weakened."""
    whole = fix("replace", "80 %", includes=["set"], badly_done={"a": 2})
    causes = {
        "a": cause({"knocks": "30 %"}, {"play": {"yes": "90 %"}}, fix("set", "60 %")),
        "b": cause({"knocks": "60 %"}, {"play": {"yes": "20 %"}}, whole),
    }
    found = shares(play_book(tmp_path, causes=causes), already=(Already("replace", "same"),))
    assert found == pytest.approx({"a": 0.6 / 1.012, "b": 0.312 / 1.012, ELSE: 0.1 / 1.012})


# --- something else -----------------------------------------------------------------------------------------------


def test_something_else_is_what_remains_when_every_cause_is_ruled_out(tmp_path: Path) -> None:
    """By profile or by answers: with all known causes gone it is something the book does not know."""
    book = play_book(
        tmp_path,
        facts={"ridden": {"ask": "Where?", "values": {"town": "town", "woods": "woods"}}},
        deductions={
            "by-profile": deduction({"ridden": "town"}, {"rule_out": ["a", "b"]}),
            "by-answer": deduction({"play": "no"}, {"rule_out": ["a", "b"]}),
        },
    )
    assert shares(book, profile={"ridden": ("town",)})[ELSE] == 1
    assert shares(book, answers=(answer(book, "rock", "no"),))[ELSE] == 1


def test_answers_that_contradict_each_other_leave_something_else(book: Book) -> None:
    """Two sure looks that cannot both be right fit no cause of the book."""
    found = shares(book, answers=(answer(book, "rock", "yes"), answer(book, "lift", "no")))
    assert found == {"a": 0, "b": 0, ELSE: 1}


def test_no_answers_and_fixes_take_something_else_away(book: Book) -> None:
    """Whatever is seen and tried, something else keeps a share above nothing."""
    tried = (failed("set"), failed("renew"), failed("tighten"))
    for said in ("yes", "no"):
        assert shares(book, answers=(answer(book, "rock", said),), repairs=tried)[ELSE] > 0.01


# --- several complaints -------------------------------------------------------------------------------------------


def two_complaints(folder: Path, **more: Any) -> Book:
    """A cause for both, and one each besides; play is seen with "both" (90), "knock" (50), "drag" (20), else 10."""
    return small_book(
        folder,
        complaints={"knocks": {}, "drags": {"something_else": "20 in 100"}, "squeals": {"something_else": "50 in 100"}},
        causes={
            "both": cause(
                {"knocks": "45 %", "drags": "40 %", "squeals": "25 %"}, {"play": {"yes": "90 %"}}, fix("mend", "80 %")
            ),
            "knock": cause({"knocks": "45 %"}, {"play": {"yes": "50 %"}}, fix("tighten", "80 %")),
            "drag": cause({"drags": "40 %", "squeals": "25 %"}, {"play": {"yes": "20 %"}}, fix("true", "80 %")),
        },
        findings=PLAY,
        **more,
    )


def joint(book: Book, *complaints: str, **known: Any) -> dict[tuple[str | None, ...], float]:
    """The chance of each choice of causes."""
    belief = belief_of(book, *complaints, **known)
    net = belief.net
    return {
        tuple(net.causes[place][index] for place, index in enumerate(state)): weight
        for state, weight in zip(net.states, belief.weights, strict=True)
    }


def in_proportion(weights: dict[tuple[str | None, ...], float]) -> Any:
    """These weights, normalised, as approximately expected."""
    total = sum(weights.values())
    return pytest.approx({causes: weight / total for causes, weight in weights.items()})


PRIOR: dict[tuple[str | None, ...], float] = {
    ("both", "both"): 0.45 * 0.4 * 10,
    ("both", "drag"): 0.45 * 0.4,
    ("both", ELSE): 0.45 * 0.2,
    ("knock", "both"): 0.45 * 0.4,
    ("knock", "drag"): 0.45 * 0.4,
    ("knock", ELSE): 0.45 * 0.2,
    (ELSE, "both"): 0.1 * 0.4,
    (ELSE, "drag"): 0.1 * 0.4,
    (ELSE, ELSE): 0.1 * 0.2,
}
"""Product of the shares, ten times where one cause explains both."""


def test_one_cause_for_two_complaints_is_ten_times_likelier(tmp_path: Path) -> None:
    """The prior of two complaints is the product of the shares, times ten where one cause stands in both."""
    assert joint(two_complaints(tmp_path), "knocks", "drags") == in_proportion(PRIOR)


def test_the_mean_of_two_rows_where_two_causes_speak(tmp_path: Path) -> None:
    """Play with knock (50) and drag (20) together is seen in 35 of 100, with "both" in both places in 90 as ever."""
    book = two_complaints(tmp_path)
    rows = {"both": 0.9, "knock": 0.5, "drag": 0.2}

    def seen(causes: tuple[str | None, ...]) -> float:
        speaking = {rows[name] for name in causes if name}
        return sum(speaking) / len(speaking) if speaking else 0.1

    found = joint(book, "knocks", "drags", answers=(answer(book, "rock", "yes"),))
    assert found == in_proportion({causes: weight * seen(causes) for causes, weight in PRIOR.items()})


def test_a_cause_is_ruled_in_once_however_many_complaints_it_explains(tmp_path: Path) -> None:
    """One answer, one factor of a hundred: it is one cause, whether it explains one complaint or both."""
    ruled = {"play-means-both": deduction({"play": "yes"}, {"rule_in": ["both"]})}
    book = two_complaints(tmp_path, deductions=ruled)
    plain = joint(two_complaints(tmp_path / "plain"), "knocks", "drags", answers=(answer(book, "rock", "yes"),))
    found = joint(book, "knocks", "drags", answers=(answer(book, "rock", "yes"),))
    assert found == in_proportion({c: weight * (100 if "both" in c else 1) for c, weight in plain.items()})


def test_a_fix_fails_once_however_many_complaints_it_leaves(tmp_path: Path) -> None:
    """Mending cures 80 of 100 of "both": that it did not is one event, though two complaints are still there."""
    book = two_complaints(tmp_path)
    repairs = (Repair(("mend",), {"knocks": False, "drags": False}),)
    found = joint(book, "knocks", "drags", repairs=repairs)
    assert found == in_proportion({c: weight * (0.2 if "both" in c else 1) for c, weight in PRIOR.items()})
    already = joint(book, "knocks", "drags", already=(Already("mend", "same"),))
    assert already == in_proportion({c: weight * (0.52 if "both" in c else 1) for c, weight in PRIOR.items()})


def test_a_fix_that_takes_one_complaint_away_and_leaves_the_other_parts_them(tmp_path: Path) -> None:
    """After mending it drags no more but knocks: for the knock it was tried in vain, and nothing speaks for one cause.

    The knock is what it would be alone after mending in vain: .45 · .2 to .45 to .1.
    """
    book = two_complaints(tmp_path)
    after = joint(book, "knocks", "drags", repairs=(Repair(("mend",), {"knocks": False, "drags": True}),))
    weights = {causes: weight / (10 if causes == ("both", "both") else 1) for causes, weight in PRIOR.items()}
    chance = {"both": 0.2}, {"both": 0.8}
    assert after == in_proportion(
        {
            (knock, drag): weight * chance[0].get(str(knock), 1) * chance[1].get(str(drag), 0.005)
            for (knock, drag), weight in weights.items()
        }
    )
    share = sum(weight for causes, weight in after.items() if causes[0] == "both")
    assert share == pytest.approx(0.45 * 0.2 / (0.45 * 0.2 + 0.45 + 0.1))


def test_what_was_not_tested_parts_nothing(tmp_path: Path) -> None:
    """It drags no more; whether it knocks was not tested then, and is told after the next fix: gone, or still there."""
    book = two_complaints(tmp_path)
    untested = Repair(("mend",), {"drags": True})
    found = joint(book, "knocks", "drags", repairs=(untested,))
    assert found["both", "both"] / found["knock", "both"] == pytest.approx(10)
    found = joint(book, "knocks", "drags", repairs=(untested, Repair(("tighten",), {"knocks": True})))
    # One cause for both was mended with the first, and the second had nothing to do with it.
    assert found["both", "both"] / found["knock", "both"] == pytest.approx(10 * 0.8 / (0.8 * 0.8))
    found = joint(book, "knocks", "drags", repairs=(untested, Repair(("tighten",), {"knocks": False})))
    # There after the mending that took the other away: it would be there twice, and was mended in vain once.
    assert found["both", "both"] / found["knock", "both"] == pytest.approx(0.2 / 0.2)
    assert found["both", "both"] / found[ELSE, "both"] == pytest.approx(0.45 * 0.2 / 0.1)


def test_of_three_complaints_each_pair_with_one_cause_counts(tmp_path: Path) -> None:
    """One cause for all three makes three pairs, one for two of them one pair."""
    book = two_complaints(tmp_path)
    found = joint(book, "knocks", "drags", "squeals")
    three = found["both", "both", "both"]
    assert three / found["knock", "both", "both"] == pytest.approx(1000 / 10)
    assert found["both", "both", "drag"] / found["knock", "both", "drag"] == pytest.approx(10)
    assert three / found[ELSE, ELSE, ELSE] == pytest.approx(0.45 * 0.4 * 0.25 * 1000 / (0.1 * 0.2 * 0.5))


def test_words_stand_for_the_middle_of_their_range(book: Book) -> None:
    """The seven words of Intelligence Community Directive 203 (2015), D.6.e.(2).(a), as the middle of their ranges."""
    assert chance_of("likely") == pytest.approx(0.675)
    assert book.causes["a"].shows["play"].chances == pytest.approx((0.9, 0.1))
