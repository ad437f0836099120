"""Why: how answers moved the shares, what a check separates, what would speak for another cause or change the plan."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import pytest

from diagnose.book.model import Book
from diagnose.reason.explain import against, moves, separates, would_change
from diagnose.reason.outlook import Outlook
from diagnose.reason.situation import Answer, Repair, Situation
from tests.reason.small_book import Raw, answer, cause, deduction, diagnose, finding, fix, reasoner, small_book

FINDINGS: Raw = {
    "play": finding("yes no", {"yes": "50 %"}, {"rock": {"minutes": 1}, "rider-feels": {"by": "rider", "minutes": 1}}),
    "noise": finding("dull sharp none", {"none": "60 %", "dull": "20 %"}, {"listen": {"minutes": 1}}),
}


@pytest.fixture
def book(tmp_path: Path) -> Book:
    """Two causes of 45 of 100 that two findings tell apart; a sharp noise rules the second out."""
    return small_book(
        tmp_path,
        complaints={"knocks": {}, "drags": {}},
        causes={
            "a": cause(
                {"knocks": "45 %", "drags": "45 %"},
                {"play": {"yes": "90 %"}, "noise": {"sharp": "70 %"}},
                fix("mend-a", "80 %", 39),
            ),
            "b": cause(
                {"knocks": "45 %"}, {"play": {"yes": "10 %"}, "noise": {"dull": "70 %"}}, fix("mend-b", "80 %", 39)
            ),
            "c": cause({"drags": "45 %"}, {"noise": {"dull": "90 %"}}, fix("mend-c", "80 %", 20)),
        },
        findings=FINDINGS,
        deductions={"sharp-is-not-b": deduction({"noise": "sharp"}, {"rule_out": ["b"]})},
    )


def outlook_of(book: Book, *answers: Answer) -> Outlook:
    """Where a bike that knocks stands."""
    outlook = diagnose(book, answers=answers).outlook
    assert outlook is not None
    return outlook


# --- moves --------------------------------------------------------------------------------------------------------


def test_moves_lead_from_the_shares_before_any_answer_to_the_shares_now(book: Book) -> None:
    """Each move starts where the one before ended: from the shares without answers to the shares as they are now."""
    told = (
        answer(book, "rider-feels", "yes", by="rider"),
        answer(book, "rock", "yes"),
        answer(book, "listen", "sharp"),
    )
    situation = Situation(("knocks",), answers=told)
    engine = reasoner(book)
    found = moves(book, engine.chainer, situation)
    assert [move.check for move in found] == ["rider-feels", "rock", "listen"]
    belief = diagnose(book).belief
    assert found[0].before == pytest.approx(dict(zip(belief.net.causes[0], belief.marginal("knocks"), strict=True)))
    for earlier, later in pairwise(found):
        assert later.before == earlier.after
    belief = engine.diagnose(situation).belief
    assert found[-1].after == pytest.approx(dict(zip(belief.net.causes[0], belief.marginal("knocks"), strict=True)))


def test_a_move_is_what_the_answer_did_to_the_posterior(book: Book) -> None:
    """Play seen: .45 · .9 to .45 · .1 to .1 · .5, so a goes from .45 to .81 and b to .09."""
    (move,) = moves(book, reasoner(book).chainer, Situation(("knocks",), answers=(answer(book, "rock", "yes"),)))
    assert move.before == pytest.approx({"a": 0.45, "b": 0.45, None: 0.1})
    assert move.after == pytest.approx({"a": 0.81, "b": 0.09, None: 0.1})
    assert (move.finding, move.value, move.complaint) == ("play", "yes", "knocks")


def test_an_answer_that_rules_out_moves_its_cause_to_nothing(book: Book) -> None:
    """The rule-out is part of what the answer did."""
    (move,) = moves(book, reasoner(book).chainer, Situation(("knocks",), answers=(answer(book, "listen", "sharp"),)))
    assert move.after["b"] == 0


def test_answers_that_do_not_count_move_nothing(book: Book) -> None:
    """Can't tell and what a fix has disturbed are no moves; a second look at the same moves nothing more."""
    told = (
        answer(book, "listen", None),
        answer(book, "listen", "dull", stale=True),
        answer(book, "rock", "yes"),
        answer(book, "rider-feels", "yes", by="rider"),
    )
    found = moves(book, reasoner(book).chainer, Situation(("knocks",), answers=told))
    assert [move.check for move in found] == ["rock", "rider-feels"]
    assert found[1].after == pytest.approx(found[1].before)


def test_moves_are_told_for_each_complaint(book: Book) -> None:
    """One answer, two complaints: two moves."""
    situation = Situation(("knocks", "drags"), answers=(answer(book, "listen", "dull"),))
    found = moves(book, reasoner(book).chainer, situation)
    assert [move.complaint for move in found] == ["knocks", "drags"]
    assert all(sum(move.after.values()) == pytest.approx(1) for move in found)


# --- what a check separates ---------------------------------------------------------------------------------------


def test_a_check_separates_what_its_reports_would_put_on_top(book: Book) -> None:
    """Yes in .45 · .9 + .45 · .1 + .1 · .5 = half of such bikes, a then at .81; no the other way round."""
    yes, no = separates(outlook_of(book), "rock")
    assert (yes.value, no.value) == ("yes", "no")
    assert (yes.chance, no.chance) == pytest.approx((0.5, 0.5))
    assert (yes.top["knocks"][0], no.top["knocks"][0]) == ("a", "b")
    assert (yes.top["knocks"][1], no.top["knocks"][1]) == pytest.approx((0.81, 0.81))


@pytest.mark.parametrize("check", ["rock", "rider-feels", "listen"])
def test_the_chances_of_all_reports_make_up_the_whole(book: Book, check: str) -> None:
    """Before and after other answers, one of the reports must come."""
    for told in ((), (answer(book, "rider-feels", "yes", by="rider"),)):
        assert sum(report.chance for report in separates(outlook_of(book, *told), check)) == pytest.approx(1)


@pytest.mark.parametrize("value", ["dull", "sharp", "none"])
def test_what_a_report_is_said_to_put_on_top_comes_true(book: Book, value: str) -> None:
    """Give the answer, and the cause on top and its share are those foretold (rule-outs by one answer included)."""
    (report,) = [one for one in separates(outlook_of(book), "listen") if one.value == value]
    belief = diagnose(book, answers=(answer(book, "listen", value),)).belief
    shares = dict(zip(belief.net.causes[0], belief.marginal("knocks"), strict=True))
    top, share = report.top["knocks"]
    assert shares[top] == max(shares.values())
    assert shares[top] == pytest.approx(share)


# --- why not that one, and what would change ----------------------------------------------------------------------


def test_against_names_what_one_would_have_to_see(book: Book) -> None:
    """Reports that speak for b, the loudest first; each share is what the answer would give.

    Dull: a sharp noise rules b out, so that b shows dull in .7 of .7 + .225, that is .757; a in .3 · .2 / .8 = .075,
    something else in .2: .45 · .757 of .45 · .757 + .45 · .075 + .1 · .2 is .864. No play would make it .81.
    """
    found = against(outlook_of(book), "b")
    assert found[0][:2] == ("listen", "dull")
    assert found[0][2] == pytest.approx(0.864, abs=5e-4)
    assert {one[:2]: one[2] for one in found}["rock", "no"] == pytest.approx(0.81)
    for check, value, share, chance in found:
        belief = diagnose(book, answers=(answer(book, check, value),)).belief
        assert belief.marginal("knocks")[1] == pytest.approx(share)
        assert 0 < chance < 1
    assert [one[2] for one in found] == sorted((one[2] for one in found), reverse=True)


def test_what_is_seen_less_with_a_cause_than_without_does_not_speak_for_it(book: Book) -> None:
    """Play is seen with b on 10 of 100, without on 50: nobody is told to look for it, nor for no noise (.225 to .6)."""
    assert {one[:2] for one in against(outlook_of(book), "b")} == {
        ("listen", "dull"),
        ("rock", "no"),
        ("rider-feels", "no"),
    }


def test_would_change_names_the_reports_that_put_another_fix_first(book: Book) -> None:
    """No play would put b's fix first, play would leave a's; and so it comes when it is answered."""
    found = would_change(outlook_of(book), "mend-a")
    assert ("rock", "no", "mend-b") in found
    assert "yes" not in [value for check, value, _ in found if check == "rock"]
    told = diagnose(book, answers=(answer(book, "rock", "no"),))
    assert told.plan[0].fix == "mend-b"


def test_nothing_would_change_what_has_one_way_only(book: Book) -> None:
    """With everything told no report is left to change the plan."""
    told = (answer(book, "rock", "yes"), answer(book, "listen", "none"))
    assert would_change(outlook_of(book, *told), "mend-a") == []
    tried = diagnose(book, answers=told, repairs=(Repair(("mend-a",), {"knocks": False}),))
    assert tried.outlook is not None
    assert would_change(tried.outlook, "mend-b") == []
