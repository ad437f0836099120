"""The fold: events to the situation that reasoning sees. Undo, resume and replay are the same fold."""

from __future__ import annotations

from pathlib import Path
from typing import Any, Literal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from diagnose.book.model import Book
from diagnose.book.shelf import load_book
from diagnose.casework import events
from diagnose.casework.desk import Desk
from diagnose.casework.events import Draft
from diagnose.casework.fold import fold
from diagnose.casework.memory import MemoryStore
from diagnose.casework.ticket import at_the_stand
from diagnose.errors import CaseError
from diagnose.reason.reasoner import Reasoner
from tests.shipped import shipped_book

SMALL = Path(__file__).parent.parent / "front" / "book"


@pytest.fixture(scope="module")
def book() -> Book:
    """The small book of wheels."""
    return load_book(SMALL, cache=False)


OPENED = events.opened("mechanic", "mechanic")


def test_nothing_told_is_an_empty_situation(book: Book) -> None:
    """A case that was only opened has who works on it, and nothing else."""
    situation = fold(book, [events.opened("rider", "rider", ["caliper"])]).situation
    assert (situation.role, situation.skill, situation.without) == ("rider", "rider", frozenset({"caliper"}))
    told = (situation.complaints, situation.profile, situation.answers, situation.repairs, situation.already)
    assert not any(told)


def test_a_reading_falls_into_its_band(book: Book) -> None:
    """Below the limit's upper end it is right, from it on too slack: both sides of the edge of 8 mm."""
    values = []
    for reading in (7.99, 8.0):
        told = [OPENED, events.measured("measure-spoke", "mechanic", reading, "mm", f"{reading} mm")]
        values.append(fold(book, told).situation.answers[0].value)
    assert values == ["right", "slack"]


def test_a_later_answer_to_a_check_replaces_the_earlier(book: Book) -> None:
    """One check has one answer that counts, the last; can't tell is one with no value."""
    told = [
        OPENED,
        events.answered("rock-wheel", "mechanic", "clear"),
        events.answered("rock-wheel", "mechanic", "none"),
        events.cannot_tell("try-axle", "mechanic"),
    ]
    answers = fold(book, told).situation.answers
    assert [(one.check, one.value) for one in answers] == [("rock-wheel", "none"), ("try-axle", None)]


def test_a_fact_is_replaced_and_can_be_unknown(book: Book) -> None:
    """The last word on a fact counts; asked and not told is asked all the same."""
    told = [OPENED, events.profile("axle", ["quick-release"]), events.profile("axle", [])]
    situation = fold(book, told).situation
    assert "axle" not in situation.profile
    assert situation.asked == {"axle"}


def test_a_fix_makes_stale_what_it_disturbs(book: Book) -> None:
    """What a fix's cause speaks to is stale after it and may be asked anew; other answers stand."""
    told = [
        OPENED,
        events.complaint("wheel-wobbles"),
        events.answered("rock-wheel", "mechanic", "clear"),
        events.answered("ask-when", "mechanic", "load"),
        events.fix_done("set-cones", {"wheel-wobbles": "still-there"}),
        events.answered("rock-wheel", "mechanic", "slight"),
    ]
    situation = fold(book, told).situation
    shown = [(one.check, one.value, one.stale) for one in situation.answers]
    assert shown == [("rock-wheel", "clear", True), ("ask-when", "load", False), ("rock-wheel", "slight", False)]
    assert situation.done == {"set-cones"}
    assert situation.standing == ("wheel-wobbles",)


@pytest.mark.parametrize(("result", "kept"), [("gone", [True, False]), ("still-there", [False])])
def test_what_is_seen_after_a_repair_that_helped_stands_for_what_was_seen_before(
    book: Book, result: Literal["gone", "still-there"], kept: list[bool]
) -> None:
    """The earlier answer is kept, and counts no more; where the repair did not help it is the same look anew."""
    told = [
        OPENED,
        events.complaint("wheel-wobbles"),
        events.answered("ask-when", "mechanic", "load"),
        events.fix_done("set-cones", {"wheel-wobbles": result}),
        events.answered("ask-when", "mechanic", "load"),
    ]
    answers = fold(book, told).situation.answers
    assert [one.stale for one in answers] == kept
    assert answers[-1].told_after == 1


def test_what_got_better_had_two_faults(book: Book) -> None:
    """It stands, but what the mended fault has shown tells no more of the one that is left."""
    told = [
        OPENED,
        events.complaint("wheel-wobbles"),
        events.answered("rock-wheel", "mechanic", "clear"),
        events.fix_done("set-cones", {"wheel-wobbles": "better"}),
    ]
    situation = fold(book, told).situation
    assert situation.standing == ("wheel-wobbles",)
    assert situation.repairs[0].better == {"wheel-wobbles"}
    assert [(one.stale, one.before) for one in situation.answers] == [(True, False)]


def test_what_a_repair_in_vain_disturbed_tells_of_the_cause_until_one_helps(book: Book) -> None:
    """Stale after the first; once a second one has mended a fault that shows in it, it tells no more."""
    told = [
        OPENED,
        events.complaint("wheel-wobbles"),
        events.answered("rock-wheel", "mechanic", "clear"),
        events.fix_done("set-cones", {"wheel-wobbles": "still-there"}),
    ]
    (first,) = fold(book, told).situation.answers
    assert first.stale
    assert first.before
    (then,) = fold(book, [*told, events.fix_done("set-cones", {"wheel-wobbles": "better"})]).situation.answers
    assert then.stale
    assert not then.before
    (back,) = fold(book, [*told, events.ended("cured"), events.came_back()]).situation.answers
    assert not back.before


@pytest.mark.parametrize(("result", "stale"), [("gone", True), ("still-there", False)])
def test_work_that_helped_takes_back_all_that_the_mended_fault_showed(
    result: Literal["gone", "still-there"], stale: bool
) -> None:
    """Taking up a hub's play in vain changes nothing of how the wheel wobbles; where it helped, that was the play's."""
    told = [
        OPENED,
        events.complaint("wheel-wobbles"),
        events.complaint("brake-drags"),
        events.answered("lift-spin-and-push", "mechanic", "gives"),
        events.fix_done("adjust-hub-bearings", {"wheel-wobbles": result, "brake-drags": "still-there"}),
    ]
    assert [one.stale for one in fold(shipped_book(), told).situation.answers] == [stale]


def test_what_was_told_of_the_complaint_that_is_as_it_was_stays_told() -> None:
    """The pedal no longer wobbles, the creak is as before: when it creaks, which only it is asked for, still counts."""
    told = [
        OPENED,
        events.complaint("crank-wobbles"),
        events.complaint("part-creaks"),
        events.answered("ask-creak-when", "rider", "both"),
        events.answered("wiggle-the-pedals", "mechanic", "bearing"),
        events.fix_done("adjust-pedal-bearing", {"crank-wobbles": "gone", "part-creaks": "still-there"}),
    ]
    assert [one.stale for one in fold(shipped_book(), told).situation.answers] == [False, True]
    better = events.fix_done("adjust-pedal-bearing", {"crank-wobbles": "gone", "part-creaks": "better"})
    assert [one.stale for one in fold(shipped_book(), [*told[:-1], better]).situation.answers] == [True, True]


def test_a_complaint_whose_test_passed_is_gone(book: Book) -> None:
    """Of two complaints the one that passed its test no longer stands."""
    told = [
        OPENED,
        events.complaint("wheel-wobbles"),
        events.complaint("wheel-ticks"),
        events.fix_done("close-axle", {"wheel-wobbles": "gone", "wheel-ticks": "still-there"}),
    ]
    situation = fold(book, told).situation
    assert situation.gone == {"wheel-wobbles"}
    assert situation.standing == ("wheel-ticks",)


def test_looking_opens_and_the_next_look_closes(book: Book) -> None:
    """A check in an opened hub leaves hub and wheel open; a fix closes all."""
    told = [OPENED, events.answered("look-at-races", "mechanic", "smooth")]
    assert fold(book, told).situation.open_teardowns == {"hub-open", "wheel-out"}
    told.append(events.fix_done("set-cones", {"wheel-wobbles": "gone"}))
    assert fold(book, told).situation.open_teardowns == frozenset()


def test_what_nobody_could_tell_opens_nothing(book: Book) -> None:
    """A look that nobody could make has taken nothing apart, and has closed nothing that is open."""
    told = [OPENED, events.cannot_tell("look-at-races", "mechanic")]
    assert fold(book, told).situation.open_teardowns == frozenset()
    told = [
        OPENED,
        events.answered("look-at-races", "mechanic", "smooth"),
        events.cannot_tell("rock-wheel", "mechanic"),
    ]
    assert fold(book, told).situation.open_teardowns == {"hub-open", "wheel-out"}


def test_what_cannot_be_done_and_what_was_done_before(book: Book) -> None:
    """A fix that cannot be done here, and one done before with its last word on how it went."""
    told = [
        OPENED,
        events.fix_not_possible("set-cones"),
        events.already("close-axle", "better"),
        events.already("close-axle", "same"),
    ]
    situation = fold(book, told).situation
    assert situation.not_possible == {"set-cones"}
    assert [(one.fix, one.result) for one in situation.already] == [("close-axle", "same")]


@pytest.mark.parametrize(
    "draft",
    [
        events.complaint("wheel-wobbels"),
        events.profile("axel", ["quick-release"]),
        events.profile("axle", ["quick-releese"]),
        events.answered("rock-weel", "mechanic", "clear"),
        events.answered("rock-wheel", "mechanic", "cleer"),
        events.already("close-axel", "same"),
        events.fix_done("close-axel", {"wheel-wobbles": "gone"}),
        events.fix_done("close-axle", {"wheel-wobbels": "gone"}),
    ],
)
def test_what_the_book_does_not_have_is_named(book: Book, draft: Draft) -> None:
    """An id that the book lacks is one clear error with the nearest one, and says that the case is kept."""
    with pytest.raises(CaseError) as why:
        fold(book, [OPENED, draft])
    assert why.value.code == "case.unknown-id"
    assert "Did you mean" in why.value.hint
    assert "kept" in why.value.hint


DRAFTS: tuple[Draft, ...] = (
    events.complaint("wheel-wobbles"),
    events.complaint("wheel-ticks"),
    events.profile("axle", ["through-axle"]),
    events.profile("arrival", ["crash", "wheel-not-held"]),
    events.profile("arrival", []),
    events.answered("rock-wheel", "mechanic", "clear"),
    events.answered("look-at-races", "mechanic", "pitted"),
    events.cannot_tell("try-axle", "mechanic"),
    events.measured("measure-spoke", "mechanic", 9.0, "mm", "9"),
    events.already("set-cones", "worse"),
    events.fix_done("close-axle", {"wheel-wobbles": "still-there"}),
    events.fix_done("set-cones", {"wheel-wobbles": "gone"}, ["close-axle"]),
    events.fix_not_possible("new-bearings"),
    events.ended("declined"),
    events.reopened(),
)


@settings(max_examples=60)
@given(told=st.lists(st.sampled_from(DRAFTS), max_size=12), last=st.sampled_from(DRAFTS))
def test_undoing_the_last_thing_is_never_having_told_it(book: Book, told: list[Draft], last: Draft) -> None:
    """Fold of events with one undone is the fold without it; state is only ever the fold."""
    desk = Desk(Reasoner(book), MemoryStore())
    case = desk.open()
    for draft in told:
        desk.submit(case, draft)
    before = desk.folded(case)
    event = desk.submit(case, last)
    desk.submit(case, events.undo(event.seq))
    assert desk.folded(case) == before


@settings(max_examples=60)
@given(told=st.lists(st.sampled_from(DRAFTS), max_size=12))
def test_drafts_and_stored_events_fold_alike(book: Book, told: list[Draft]) -> None:
    """A case file's events and a store's are the same to the fold."""
    desk = Desk(Reasoner(book), MemoryStore())
    case = desk.open()
    for draft in told:
        desk.submit(case, draft)
    drafts: list[Any] = [OPENED, *told]
    assert desk.folded(case) == fold(book, drafts)


def test_a_complaint_says_what_kind_of_bike_it_is_until_somebody_says_otherwise() -> None:
    """A chain that comes off is a chain; told before or after the complaint, what was told counts."""
    book = load_book(Path(__file__).parents[2] / "rules")
    drops, belt = events.complaint("chain-drops"), events.profile("drive", ["belt"])
    assert fold(book, [OPENED, drops]).situation.profile["drive"] == ("chain",)
    for told in ([OPENED, drops, belt], [OPENED, belt, drops]):
        assert fold(book, told).situation.profile["drive"] == ("belt",)
    unknown = [OPENED, events.profile("drive", []), drops]
    assert "drive" not in fold(book, unknown).situation.profile


def test_which_brake_says_which_wheel_where_one_complaint_is_told() -> None:
    """Until the wheel is told itself; with a second complaint each may be about its own."""
    book = shipped_book()
    told = [OPENED, events.complaint("brake-noise"), events.profile("which-brake", ["rear-left"])]
    assert fold(book, told).situation.profile["which-wheel"] == ("rear",)
    both = [*told, events.profile("which-wheel", ["both"])]
    assert fold(book, both).situation.profile["which-wheel"] == ("both",)
    assert "which-wheel" not in fold(book, [*told, events.profile("which-wheel", [])]).situation.profile
    assert "which-wheel" not in fold(book, [*told, events.complaint("flat-tyre")]).situation.profile


def test_what_a_rider_could_not_tell_of_the_bike_the_stand_may_ask() -> None:
    """A mechanic sees which brake it is; what was done before the rider came with it nobody else can tell."""
    book = shipped_book()
    told = [
        events.opened("rider", "mechanic"),
        events.complaint("brake-noise"),
        *(events.profile(fact, []) for fact in ("arrival", "brake", "recent-work", "comeback")),
        events.profile("bike-kind", ["city"]),
    ]
    counter = fold(book, told)
    assert counter.situation.asked == {"arrival", "brake", "recent-work", "comeback", "bike-kind"}
    stand = fold(book, [*told, events.at_stand("mechanic")]).situation
    assert stand.asked == {"recent-work", "comeback", "bike-kind"}
    assert at_the_stand(counter.situation, book) == stand
    again = [*told, events.at_stand("mechanic"), events.profile("brake", []), events.at_stand("mechanic")]
    assert "brake" in fold(book, again).situation.asked
