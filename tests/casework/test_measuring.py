"""Measurements that are made of raw readings: what is kept, what it comes to, and what is seen of it."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from diagnose.book.model import Book
from diagnose.book.reckoning import asked_of
from diagnose.book.shelf import load_book
from diagnose.casework import events
from diagnose.casework.casefile import CaseProblemsError, read_case
from diagnose.casework.desk import Desk
from diagnose.casework.events import Draft
from diagnose.casework.fold import fold
from diagnose.casework.measuring import kept, left_out, measured, noted, raw_of, take, told_of
from diagnose.casework.memory import MemoryStore
from diagnose.casework.replay import replay
from diagnose.casework.view import View, make_view
from diagnose.errors import InputError
from diagnose.reason.reasoner import Reasoner
from diagnose.reason.situation import Raw, Situation
from tests.casework.measured_book import AROUND, GAPS, lay

OPENED = events.opened("mechanic", "mechanic")
TICKS = events.complaint("wheel-ticks")
CHECK = "measure-spoke"
ROUND = "0 0.1 0.4 9.6 0.3 0.1 0 -0.1 mm"


@pytest.fixture(scope="module")
def gaps(tmp_path_factory: pytest.TempPathFactory) -> Book:
    """The book in which the reading is half the difference of two gaps."""
    return load_book(lay(tmp_path_factory.mktemp("gaps"), GAPS), cache=False)


@pytest.fixture(scope="module")
def around(tmp_path_factory: pytest.TempPathFactory) -> Book:
    """The book in which the reading is the run-out of many readings around a rim."""
    return load_book(lay(tmp_path_factory.mktemp("around"), AROUND), cache=False)


def told(book: Book, *typed: tuple[str, str], situation: Situation | None = None) -> Draft:
    """The answer that these typed readings make."""
    check = book.checks[CHECK]
    return measured(
        book, check, "mechanic", [take(check, *one) for one in typed], situation or Situation(("wheel-ticks",))
    )


def view_of(book: Book, drafts: Sequence[Draft]) -> View:
    """The View of a case in which this was told."""
    return make_view(Reasoner(book), fold(book, [OPENED, TICKS, *drafts]), with_estimate=False)


def test_the_raw_readings_are_kept_beside_what_they_come_to(gaps: Book) -> None:
    """An answer holds each reading with its unit and as typed, the sum, and its result; the band is its value."""
    draft = told(gaps, ("left", "1 in"), ("right", "5,4"))
    assert draft.data["sum"] == "dish"
    assert draft.data["reading"] == 10
    assert draft.data["readings"] == {
        "left": {"value": 25.4, "unit": "mm", "typed": "1 in"},
        "right": {"value": 5.4, "unit": "mm", "typed": "5,4"},
    }
    answer = fold(gaps, [OPENED, draft]).situation.answers[0]
    assert (answer.reading, answer.unit, answer.value, answer.typed) == (10, "mm", "slack", "10 mm")
    assert [raw.typed for raw in answer.raw] == ["1 in", "5,4"]


def test_a_row_of_readings_is_kept_whole(around: Book) -> None:
    """Eight readings around a rim stand in the event as typed and as numbers; one that was left out does not."""
    check = around.checks[CHECK]
    raws = [take(check, "readings", ROUND), left_out("allowed")]
    draft = measured(around, check, "mechanic", raws, Situation(("wheel-ticks",)))
    assert draft.data["readings"] == {
        "readings": {"value": [0, 0.1, 0.4, 9.6, 0.3, 0.1, 0, -0.1], "unit": "mm", "typed": ROUND}
    }
    assert draft.data["reading"] == 9.7


@pytest.mark.parametrize(("left", "value"), [("15.98 mm", "right"), ("16 mm", "slack")])
def test_both_sides_of_an_edge(gaps: Book, left: str, value: str) -> None:
    """The limit of 8 mm is met by a difference of 16 mm: just below it is right, from it on too slack."""
    assert fold(gaps, [OPENED, told(gaps, ("left", left), ("right", "0"))]).situation.answers[0].value == value


def test_binary_arithmetic_pushes_nothing_over_an_edge(gaps: Book) -> None:
    """(16.1 - 0.1) / 2 is 8.000000000000002 in a computer, and 8 for a mechanic."""
    assert told(gaps, ("left", "16.1"), ("right", "0.1")).data["reading"] == 8


@pytest.mark.parametrize(
    ("key", "typed", "says"),
    [
        ("left", "absurd", "is not a number"),
        ("left", "9000 mm", "-60 to 60 mm makes sense"),
        ("left", "3 bar", "asked for is length"),
        ("left", "", "Nothing was typed"),
        ("left", "1e400", "is not a unit known here"),
        ("left", "1 2 3", "is not a number"),
    ],
)
def test_a_reading_that_cannot_be_is_refused(gaps: Book, key: str, typed: str, says: str) -> None:
    """One clear error that names the range or how to type it."""
    with pytest.raises(InputError) as caught:
        take(gaps.checks[CHECK], key, typed)
    assert says in f"{caught.value.message} {caught.value.hint}"


def test_what_cannot_come_of_readings_is_refused(gaps: Book) -> None:
    """Each reading may be, and what they come to still not: the message says what and what makes sense."""
    with pytest.raises(InputError, match="These readings come to 60 mm, which cannot be") as caught:
        told(gaps, ("left", "60"), ("right", "-60"))
    assert "0 to 30 mm makes sense" in caught.value.hint
    with pytest.raises(InputError, match=r"right: .* missing"):
        told(gaps, ("left", "60"))


def test_a_reading_begun_is_kept_until_the_last_one(gaps: Book) -> None:
    """The first of two readings is an event of its own; answer, can't tell or a fix end what was begun."""
    begun = noted(gaps.checks[CHECK], "mechanic", take(gaps.checks[CHECK], "left", "12 mm"))
    assert begun.kind == "reading"
    situation = fold(gaps, [OPENED, TICKS, begun]).situation
    assert situation.begun == {CHECK: (Raw("left", 12.0, "mm", "12 mm"),)}
    assert situation.answers == ()
    for ending in (
        told(gaps, ("left", "12 mm"), ("right", "2 mm")),
        events.cannot_tell(CHECK, "mechanic"),
        events.fix_done("tighten-spokes", {"wheel-ticks": "still-there"}),
    ):
        assert fold(gaps, [OPENED, TICKS, begun, ending]).situation.begun == {}


def test_going_back_asks_for_the_last_reading_again(gaps: Book) -> None:
    """Undo of the answer leaves the readings before the last; undo of those leaves none. Nothing else is lost."""
    desk = Desk(Reasoner(gaps), MemoryStore())
    case = desk.open()
    check = gaps.checks[CHECK]
    for draft in (
        TICKS,
        noted(check, "mechanic", take(check, "left", "12 mm")),
        told(gaps, ("left", "12 mm"), ("right", "2 mm")),
    ):
        desk.submit(case, draft)
    assert desk.folded(case).situation.answers[0].reading == 5
    back = desk.back(case)
    assert back is not None
    assert back.kind == "answer"
    assert [raw.key for raw in desk.folded(case).situation.begun[CHECK]] == ["left"]
    back = desk.back(case)
    assert back is not None
    assert back.kind == "reading"
    assert desk.folded(case).situation.begun == {}


def test_a_changed_book_reckons_anew_or_keeps_what_was(gaps: Book, around: Book) -> None:
    """Kept readings are reckoned under the book as it is; where it asks for another sum the stored result stands."""
    draft = told(gaps, ("left", "12 mm"), ("right", "2 mm"))
    stored = Draft(draft.kind, {**draft.data, "reading": 29.0, "typed": "29 mm"})
    assert fold(gaps, [OPENED, stored]).situation.answers[0].reading == 5
    assert fold(gaps, [OPENED, stored]).situation.answers[0].typed == "5 mm"
    assert fold(around, [OPENED, stored]).situation.answers[0].reading == 29


def test_a_result_without_its_readings_is_an_answer_too(gaps: Book) -> None:
    """A simulated bike, or a gauge that reckons itself, gives the result alone."""
    answer = fold(gaps, [OPENED, events.measured(CHECK, "mechanic", 0.5, "in", "1/2 in")]).situation.answers[0]
    assert (answer.reading, answer.unit, answer.value, answer.raw) == (12.7, "mm", "slack", ())


def test_what_was_read_before_is_offered_again(gaps: Book) -> None:
    """What the book supplies stands in where a reading is left out, here what was read at the same check before."""
    first = told(gaps, ("left", "12 mm"), ("right", "2 mm"))
    situation = fold(gaps, [OPENED, TICKS, first]).situation
    check = gaps.checks[CHECK]
    again = measured(gaps, check, "mechanic", [take(check, "left", "6 mm"), left_out("right")], situation)
    assert again.data["reading"] == 2
    working = check.measure.working if check.measure else None
    assert working
    defaults = [one.default for one in asked_of(working, gaps, {}, told_of(situation.answers))]
    assert defaults == [None, "2 mm"]
    assert [one.default for one in asked_of(working, gaps, {}, {})] == [None, None]


def test_the_view_shows_readings_gauge_and_sum(around: Book) -> None:
    """Beside the contract's keys: raw readings, the bands with the one that is right, the sum's further figures."""
    check = around.checks[CHECK]
    raws = [take(check, "readings", ROUND), left_out("allowed")]
    draft = measured(around, check, "mechanic", raws, Situation(("wheel-ticks",)))
    answer = view_of(around, [draft])["answers"][0]
    assert answer["readings"][0]["typed"] == ROUND
    assert answer["readings"][0]["value"][3] == 9.6
    gauge = answer["gauge"]
    assert (gauge["reading"], gauge["unit"], gauge["text"]) == (9.7, "mm", "9.7 mm")
    assert [(band["id"], band["low"], band["high"], band["right"]) for band in gauge["bands"]] == [
        ("right", None, 8.0, True),
        ("slack", 8.0, None, False),
    ]
    assert answer["worked"]["sum"] == "rim-run-out"
    assert any(part["name"] == "place 4" for part in answer["worked"]["parts"])
    assert answer["worked"]["formula"]


def test_what_is_not_measured_has_null_there(gaps: Book) -> None:
    """Absent is null and never missing, for words and for can't tell."""
    view = view_of(gaps, [events.answered("try-axle", "mechanic", "tight"), events.cannot_tell(CHECK, "mechanic")])
    for answer in view["answers"]:
        assert (answer["readings"], answer["gauge"], answer["worked"]) == (None, None, None)


def test_the_next_step_says_what_is_asked_and_what_was_told(gaps: Book) -> None:
    """Each reading with its question, shape and default; null where it was not told yet, no default is null too."""
    check = gaps.checks[CHECK]
    before = [events.profile("arrival", ["nothing"]), events.cannot_tell("try-axle", "mechanic")]
    step = view_of(gaps, before)["next"]
    assert step["id"] == CHECK
    measure = step["check"]["measure"]
    assert (measure["unit"], measure["from"], measure["to"], measure["sum"]) == ("mm", 0, 30, "dish")
    left, right = measure["readings"]
    assert left == {
        "id": "left",
        "text": "Gap on the left?",
        "shape": "-60 to 60 mm",
        "unit": "mm",
        "several": False,
        "default": None,
        "told": None,
    }
    assert right["told"] is None
    begun = noted(check, "mechanic", take(check, "left", "1/2 in"))
    left, right = view_of(gaps, [*before, begun])["next"]["check"]["measure"]["readings"]
    assert left["told"] == {"value": 12.7, "unit": "mm", "typed": "1/2 in", "text": "12.7 mm"}
    assert right["told"] is None


CASE = """
case: "A rim off the middle ticks: its spokes are slack"
profile: {axle: quick-release}
complaints: [wheel-ticks]
answers:
  try-axle: tight
  measure-spoke: %s
expect: {top: spokes-slack, ride: ride, next: tighten-spokes}
"""


def read(folder: Path, book: Book, answer: str) -> View:
    """The View of a case file with this answer."""
    path = folder / "case.yaml"
    path.write_text(CASE % answer, encoding="utf-8")
    return replay(Reasoner(book), read_case(path, book))


def test_a_case_file_may_hold_raw_readings(gaps: Book, tmp_path: Path) -> None:
    """Readings by key, as typed; who read them may be said; the result alone is taken as before."""
    for answer in (
        "{readings: {left: 25.4 mm, right: 5.4 mm}}",
        "{readings: {left: 1 in, right: 5.4}, by: mechanic}",
        "{reading: 10 mm}",
        "10 mm",
    ):
        view = read(tmp_path, gaps, answer)
        told = view["answers"][1]
        assert (told["reading"], told["unit"], told["value"]) == (10, "mm", "slack"), answer
        assert bool(told["readings"]) == ("readings" in answer)


@pytest.mark.parametrize(
    ("answer", "says"),
    [
        ("{readings: {left: 25 mm, rihgt: 5 mm}}", "7:43: error: 'measure-spoke' asks for no 'rihgt'. Did you mean"),
        ("{readings: {left: 9000 mm, right: 5 mm}}", "left: The dish gauge reading cannot be 9000. -60 to 60 mm makes"),
        ("{readings: {left: 60 mm, right: -60 mm}}", "These readings come to 60 mm, which cannot be. 0 to 30 mm makes"),
        ("{readings: {left: 60 mm}}", "right: "),
        ("{readings: {}}", "at least one entry is wanted here"),
        ("{readings: {left: 1 mm, right: 1 mm}, reading: 0 mm}", "a `reading`, the `readings` of a sum, or a reading"),
    ],
)
def test_wrong_readings_of_a_case_file_are_told(gaps: Book, tmp_path: Path, answer: str, says: str) -> None:
    """Each slip with its place and what makes sense."""
    from diagnose.front.problems import describe

    with pytest.raises(CaseProblemsError) as caught:
        read(tmp_path, gaps, answer)
    assert says in "\n".join(describe(one) for one in caught.value.problems)


def test_readings_where_none_are_asked_are_told(gaps: Book, tmp_path: Path) -> None:
    """A check that is answered in words takes no readings."""
    path = tmp_path / "case.yaml"
    text = CASE.replace("try-axle: tight", "try-axle: {readings: {left: 1 mm}}") % "3 mm"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(CaseProblemsError, match="is not made of readings"):
        read_case(path, gaps)


VALUES = (
    st.floats(-60, 60)
    | st.lists(st.floats(-60, 60), min_size=1, max_size=20).map(tuple)
    | st.text("abcz 5-", min_size=1, max_size=20).filter(str.strip)
)


@settings(max_examples=200)
@given(VALUES, st.sampled_from(["mm", "text", "% of travel"]))
def test_a_raw_reading_survives_being_kept(value: float | str | tuple[float, ...], unit: str) -> None:
    """What an event keeps of a reading gives the same reading back, through the shapes of an event."""
    raw = Raw("left", value, unit, "as typed")
    draft = events.noted("x", "mechanic", "left", kept(raw))
    again = raw_of("left", draft.data)
    if isinstance(value, str):
        assert again.value == " ".join(value.split())
    else:
        assert again == raw
