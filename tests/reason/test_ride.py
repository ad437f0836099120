"""May it be ridden: both sides of each threshold, what counts towards it, and what leaves a bike not cleared.

The thresholds are the book's: stop at 5 of 100, care at 20 of 100.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from diagnose.book.model import Book
from diagnose.reason.ride import Ride
from diagnose.reason.situation import Answer, Repair, Situation
from tests.reason.small_book import Raw, answer, cause, deduction, finding, fix, reasoner, small_book

FINDINGS: Raw = {
    "crack": finding(
        "yes no",
        {"yes": "5 %"},
        {"look": {"danger": "yes"}, "lamp": {"danger": "yes"}, "rider-saw": {"by": "rider"}},
    ),
    "play": finding("yes no", {"yes": "20 %"}, {"rock": {}}),
}


def book_of(
    folder: Path,
    stop: float,
    care: float,
    unknown: int = 10,
    rate: int = 0,
    deductions: Raw | None = None,
    ladder: Sequence[Raw] = (),
) -> Book:
    """Of 100 bikes so many must not be ridden, so many with care; of the `unknown` the `rate` (of 100) must not."""
    harmless = 100 - unknown - stop - care
    causes = {
        "cracked": cause({"knocks": f"{stop:.2f} %"}, {"crack": {"yes": "90 %"}}, *ladder, danger="stop"),
        "loose": cause({"knocks": f"{care:.2f} %"}, {"play": {"yes": "90 %"}}, fix("set", "80 %"), danger="care"),
        "dry": cause({"knocks": f"{harmless:.2f} %"}, {"play": {"yes": "30 %"}}, fix("grease", "80 %")),
    }
    complaint = {"something_else": f"{unknown} in 100", "danger_if_unknown": f"{rate} in 100"}
    return small_book(
        folder,
        complaints={"knocks": complaint, "squeals": {}},
        causes=causes,
        findings=FINDINGS,
        deductions=deductions or {},
    )


def ride(book: Book, *answers: Answer, **known: Any) -> Ride:
    """The verdict on a bike that knocks."""
    return reasoner(book).diagnose(Situation(("knocks",), answers=answers, **known)).ride


@pytest.mark.parametrize(
    ("stop", "care", "verdict"),
    [
        (0.1, 1, "ride"),
        (4.9, 1, "ride"),
        (5.1, 1, "stop"),
        (0.1, 19.8, "ride"),
        (0.1, 20.1, "care"),
        (4.9, 15.2, "care"),
    ],
)
def test_both_sides_of_each_threshold(tmp_path: Path, stop: float, care: float, verdict: str) -> None:
    """Stop from 5 of 100 on; care from 20 of 100 on, to which the stop causes count as well."""
    found = ride(book_of(tmp_path, stop, care))
    assert found.verdict == verdict
    assert found.stop == pytest.approx(stop / 100)
    assert found.care == pytest.approx((stop + care) / 100)


@pytest.mark.parametrize(("rate", "verdict"), [(9, "ride"), (11, "stop")])
def test_something_else_counts_at_its_own_rate(tmp_path: Path, rate: int, verdict: str) -> None:
    """Half of the bikes have a cause the book does not know: at 9 of 100 that makes 4.5 of 100, at 11 it makes 5.5."""
    found = ride(book_of(tmp_path, 0.1, 0.1, unknown=50, rate=rate))
    assert found.verdict == verdict
    assert found.stop == pytest.approx(0.001 + 0.5 * rate / 100)


def test_two_complaints_add_their_dangers(tmp_path: Path) -> None:
    """Something else at 20 of 100, of which 20 of 100 must not be ridden: .04 for one complaint, 1 - .96² for two."""
    complaint = {"something_else": "20 in 100", "danger_if_unknown": "20 in 100"}
    causes = {
        name: cause({name[4:]: "80 %"}, {"play": {"yes": "30 %"}}, fix(f"mend-{name}", "80 %"))
        for name in ("dry-knocks", "dry-squeals")
    }
    book = small_book(
        tmp_path, complaints={"knocks": complaint, "squeals": complaint}, causes=causes, findings=FINDINGS
    )
    one = reasoner(book).diagnose(Situation(("knocks",))).ride
    both = reasoner(book).diagnose(Situation(("knocks", "squeals"))).ride
    assert (one.verdict, both.verdict) == ("ride", "stop")
    assert one.stop == pytest.approx(0.04)
    assert both.stop == pytest.approx(1 - 0.96**2)


def test_the_reasons_name_the_dangerous_causes_the_likeliest_first(tmp_path: Path) -> None:
    """Causes with their text; a harmless cause is no reason, however likely."""
    book = book_of(tmp_path, 4, 30)
    found = ride(book)
    assert found.verdict == "care"
    assert [(one.kind, one.id) for one in found.because] == [("cause", "loose"), ("cause", "cracked")]
    assert all("It can fail." in one.text for one in found.because)


def test_a_deduction_forbids_riding_whatever_the_shares(tmp_path: Path) -> None:
    """Said by a deduction, `stop` is stop and `care` at least care, and the deduction is the reason."""
    rules = {
        "cracks-stop": deduction({"crack": "yes"}, {"danger": "stop"}),
        "play-care": deduction({"play": "yes"}, {"danger": "care"}),
    }
    book = book_of(tmp_path, 0.1, 1, deductions=rules)
    assert ride(book).verdict == "ride"
    care = ride(book, answer(book, "rock", "yes"))
    assert (care.verdict, care.because[0].id) == ("care", "play-care")
    stop = ride(book, answer(book, "rock", "yes"), answer(book, "look", "yes"))
    assert (stop.verdict, stop.because[0].id) == ("stop", "cracks-stop")


def test_a_riders_word_can_raise_a_danger(tmp_path: Path) -> None:
    """That the rider saw a crack is enough not to ride it."""
    book = book_of(tmp_path, 0.1, 1, deductions={"cracks-stop": deduction({"crack": "yes"}, {"danger": "stop"})})
    assert ride(book, answer(book, "rider-saw", "yes", by="rider")).verdict == "stop"


def test_looking_clears_the_bike(tmp_path: Path) -> None:
    """Eight of 100 could be cracked: not ridden until a look shows no crack, which leaves less than one of 100."""
    book = book_of(tmp_path, 8, 1)
    assert ride(book).verdict == "stop"
    cleared = ride(book, answer(book, "look", "no"))
    assert cleared.verdict == "ride"
    assert cleared.stop < 0.01


def test_a_danger_check_that_could_not_be_told_leaves_it_not_cleared(tmp_path: Path) -> None:
    """Eight of 100 could be cracked and nobody can tell: not cleared, and the reason is what could not be looked at."""
    book = book_of(tmp_path, 8, 1)
    found = ride(book, answer(book, "look", None))
    assert found.verdict == "not-cleared"
    assert found.because[0].id == "cracked"
    assert "could not be looked at" in found.because[0].text


@pytest.mark.parametrize(("stop", "verdict"), [(0.9, "ride"), (1.1, "not-cleared")])
def test_a_danger_that_could_not_be_looked_at_stays_not_cleared_until_it_is_rare(
    tmp_path: Path, stop: float, verdict: str
) -> None:
    """From one in 100 on, though other answers may have taken it far below the threshold: nobody has looked at it."""
    assert (
        ride(book_of(tmp_path, stop, 1), answer(book_of(tmp_path / "same", stop, 1), "look", None)).verdict == verdict
    )


@pytest.mark.parametrize(("cures", "verdict"), [("49 %", "not-cleared"), ("51 %", "ride")])
def test_what_a_repair_has_put_right_need_not_have_been_looked_at(tmp_path: Path, cures: str, verdict: str) -> None:
    """Nobody could see the crack; the fix that mostly cures it was done, and the repeat test passed."""
    book = book_of(tmp_path, 8, 1, ladder=(fix("weld", cures),))
    untold = replace(answer(book, "look", None), stale=True, disturbed_by=0)
    assert ride(book, untold, repairs=(Repair(("weld",), {"knocks": True}),)).verdict == verdict
    assert ride(book, untold, repairs=(Repair(("weld",), {"knocks": False}),)).verdict == "not-cleared"


def test_another_way_to_look_clears_what_the_first_could_not_tell(tmp_path: Path) -> None:
    """The crack was looked for with a lamp as well: told is told."""
    book = book_of(tmp_path, 8, 1)
    assert ride(book, answer(book, "look", None), answer(book, "lamp", "no")).verdict == "ride"


def test_cannot_tell_about_what_is_no_danger_changes_nothing(tmp_path: Path) -> None:
    """Neither an unlikely danger nor a check that guards against none leaves a bike not cleared."""
    book = book_of(tmp_path, 0.1, 1)
    assert ride(book, answer(book, "look", None)).verdict == "ride"
    assert ride(book_of(tmp_path / "other", 3, 1), answer(book, "rock", None)).verdict == "ride"
    rules = {"order": deduction({"complaint": "knocks"}, {"demand": ["rock"]})}
    assert ride(book_of(tmp_path / "demanded", 3, 1, deductions=rules), answer(book, "rock", None)).verdict == "ride"


def test_a_demanded_danger_check_that_could_not_be_told_leaves_it_not_cleared(tmp_path: Path) -> None:
    """Demanded by a deduction, it counts even where no cause reaches the threshold."""
    rules = {"play-look": deduction({"play": "yes"}, {"demand": ["look"]})}
    book = book_of(tmp_path, 0.1, 1, deductions=rules)
    seen = answer(book, "rock", "yes")
    assert ride(book, seen).verdict == "ride"
    found = ride(book, seen, answer(book, "look", None))
    assert (found.verdict, found.because[0].id) == ("not-cleared", "play-look")


def test_more_likely_than_not_is_stop_even_where_it_could_not_be_told(tmp_path: Path) -> None:
    """Where a dangerous cause is the likeliest by far, not cleared would say too little."""
    book = book_of(tmp_path, 60, 1)
    assert ride(book, answer(book, "look", None)).verdict == "stop"


def test_what_is_put_right_is_no_danger_any_more(tmp_path: Path) -> None:
    """Once the repeat test has passed, the complaint's causes do not count."""
    book = book_of(tmp_path, 0.1, 40)
    assert ride(book).verdict == "care"
    assert ride(book, repairs=(Repair(("set",), {"knocks": True}),)).verdict == "ride"


def test_care_that_was_seen_ends_with_the_repeat_test_that_passes(tmp_path: Path) -> None:
    """Play that called for care is gone with the complaint it shows; a crack is not, nor what another fix left."""
    rules = {
        "cracks-stop": deduction({"crack": "yes"}, {"danger": "stop"}),
        "play-care": deduction({"play": "yes"}, {"danger": "care"}),
    }
    book = book_of(tmp_path, 5, 1, deductions=rules)
    play, crack = answer(book, "rock", "yes"), answer(book, "look", "yes")
    gone, still = Repair(("set",), {"knocks": True}), Repair(("set",), {"knocks": False})
    assert ride(book, play, repairs=(gone,)).verdict == "ride"
    assert ride(book, play, repairs=(still,)).verdict in ("care", "stop")
    assert ride(book, play, crack, repairs=(gone,)).because[0].id == "cracks-stop"


def test_a_danger_that_was_seen_outlives_a_fix_that_did_not_help(tmp_path: Path) -> None:
    """The fix has disturbed what showed the crack: not ridden until somebody looks again and takes it back."""
    book = book_of(tmp_path, 0.1, 1, deductions={"cracks-stop": deduction({"crack": "yes"}, {"danger": "stop"})})
    crack = replace(answer(book, "look", "yes"), stale=True, disturbed_by=0)
    still, gone = Repair(("set",), {"knocks": False}), Repair(("set",), {"knocks": True})
    held = ride(book, crack, repairs=(still,))
    assert (held.verdict, held.because[0].id) == ("stop", "cracks-stop")
    assert ride(book, crack, answer(book, "look", "no"), repairs=(still,)).verdict == "ride"
    assert ride(book, crack, repairs=(gone,)).verdict == "ride"


def test_a_danger_outlives_the_very_fix_it_calls_for_where_that_did_not_help(tmp_path: Path) -> None:
    """What must be done was done and the complaint is still there: not ridden, and the crack is looked at first."""
    calls = deduction({"crack": "yes"}, {"danger": "stop", "also": {"set": "must"}})
    book = book_of(tmp_path, 0.1, 1, deductions={"cracks-stop": calls})
    crack = replace(answer(book, "look", "yes"), stale=True, disturbed_by=0)
    still, gone = Repair(("set",), {"knocks": False}), Repair(("set",), {"knocks": True})
    assert ride(book, crack, repairs=(still,)).verdict == "stop"
    asked = reasoner(book).diagnose(Situation(("knocks",), answers=(crack,), repairs=(still,))).next
    assert (asked.id, asked.demanded_by) == ("look", "cracks-stop")
    assert ride(book, crack, answer(book, "look", "no"), repairs=(still,)).verdict == "ride"
    assert ride(book, crack, repairs=(gone,)).verdict == "ride"
