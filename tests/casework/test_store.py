"""The promise of a store, held by both: on disk and in memory."""

from __future__ import annotations

import itertools
import json
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from diagnose.casework import events
from diagnose.casework.caseid import read_id
from diagnose.casework.events import Draft
from diagnose.casework.memory import MemoryStore
from diagnose.casework.protocol import Clock, Which, utc_now
from diagnose.casework.store import CaseSummary, SqliteStore, Store
from diagnose.errors import DiagnoseError, InputError, StoreError

BOOK = "bike-book@4f2a"
OPENED = events.opened("mechanic", "mechanic").data
KNOCK = events.complaint("front-knock")
CLEAR = events.answered("rock-finger-across-gap", "mechanic", "clear")

Make = Callable[[Clock], Store]


@pytest.fixture(params=["sqlite", "memory"])
def make(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Make]:
    """Makes a store with a clock, on disk or in memory, and closes it afterwards."""
    made: list[Store] = []

    def make_one(clock: Clock) -> Store:
        kind = SqliteStore(tmp_path / "cases.sqlite3", clock=clock) if request.param == "sqlite" else MemoryStore(clock)
        made.append(kind)
        return kind

    yield make_one
    for store in made:
        store.close()


@pytest.fixture
def store(make: Make) -> Store:
    """A new store with the usual clock."""
    return make(utc_now)


def set_back() -> Clock:
    """A clock that stands an hour earlier each time it is read."""
    start = datetime(2024, 5, 31, 12, 0, tzinfo=UTC)
    hours = itertools.count()
    return lambda: start - timedelta(hours=next(hours))


def refused(code: str, act: Callable[[], object]) -> DiagnoseError:
    """Runs `act`, which must be refused with `code` and a hint; returns the refusal."""
    with pytest.raises(DiagnoseError) as caught:
        act()
    assert caught.value.code == code
    assert caught.value.message
    assert caught.value.hint
    return caught.value


def test_a_new_case_holds_its_opening(store: Store) -> None:
    """A case begins with one event; its label is kept apart and named by a reference."""
    case_id = store.create(events.opened("rider", "mechanic", ["press"]).data, "Blue city bike", BOOK)
    (opening,) = store.events(case_id)
    assert read_id(case_id) == case_id
    assert (opening.kind, opening.seq, opening.book, opening.id) == ("opened", 1, BOOK, f"{case_id}.1")
    assert opening.data["role"] == "rider"
    assert opening.data["without"] == ["press"]
    assert store.text(opening.data["label"]) == "Blue city bike"


def test_a_case_needs_no_label(store: Store) -> None:
    """An empty label is none."""
    case_id = store.create(OPENED, " \n", BOOK)
    assert "label" not in store.events(case_id)[0].data
    assert store.cases()[0].label is None


def test_what_is_appended_comes_back_in_order(store: Store) -> None:
    """Events come back as they were given, numbered without gaps."""
    case_id = store.create(OPENED, "", BOOK)
    returned = [store.append(case_id, seq, *draft, BOOK) for seq, draft in enumerate((KNOCK, CLEAR, events.undo(3)), 2)]
    case = store.events(case_id)
    assert list(case[1:]) == returned
    assert [event.seq for event in case] == [1, 2, 3, 4]
    assert case[2].data == CLEAR.data


def test_cases_do_not_mix(store: Store) -> None:
    """Events of one case are not seen in another."""
    one, other = store.create(OPENED, "one", BOOK), store.create(OPENED, "other", BOOK)
    store.append(one, 2, *KNOCK, BOOK)
    assert one != other
    assert [event.kind for event in store.events(one)] == ["opened", "complaint"]
    assert [event.kind for event in store.events(other)] == ["opened"]


def test_a_number_already_written_is_a_conflict(store: Store) -> None:
    """Who writes second is refused, and the first one's event stays."""
    case_id = store.create(OPENED, "", BOOK)
    store.append(case_id, 2, *KNOCK, BOOK)
    refusal = refused("store.conflict", lambda: store.append(case_id, 2, *CLEAR, BOOK))
    assert case_id in refusal.message
    assert [event.kind for event in store.events(case_id)] == ["opened", "complaint"]


def test_no_number_is_left_out(store: Store) -> None:
    """An event that would leave a gap is refused."""
    case_id = store.create(OPENED, "", BOOK)
    refused("store.conflict", lambda: store.append(case_id, 3, *KNOCK, BOOK))
    refused("store.conflict", lambda: store.append(case_id, 10**30, *KNOCK, BOOK))
    assert len(store.events(case_id)) == 1


def test_what_does_not_fit_is_not_stored(store: Store) -> None:
    """A broken event, a second opening, an undo ahead of itself and a nameless book are refused; nothing changes."""
    case_id = store.create(OPENED, "", BOOK)
    refused("input.event-kind", lambda: store.append(case_id, 2, "anser", {}, BOOK))
    refused("input.event-data", lambda: store.append(case_id, 2, "answer", {"check": "rock"}, BOOK))
    refused("input.event-data", lambda: store.append(case_id, 2, "opened", OPENED, BOOK))
    refused("input.event-data", lambda: store.append(case_id, 2, *events.undo(2), BOOK))
    refused("input.book", lambda: store.append(case_id, 2, *KNOCK, ""))
    assert len(store.events(case_id)) == 1
    refused("input.event-data", lambda: store.create({}, "", BOOK))
    refused("input.book", lambda: store.create(OPENED, "", ""))
    assert len(store.cases()) == 1


@pytest.mark.parametrize("case_id", ["b7k2-21", "", "\ud800", "\x1b[2J", "ö", "' or 1=1 --", "x" * 9_000])
def test_an_unknown_case_is_said_to_be_unknown(store: Store, case_id: str) -> None:
    """Whatever is given for an id, the answer is that there is no such case, in words that can be shown."""
    store.create(OPENED, "", BOOK)
    for act in (
        lambda: store.events(case_id),
        lambda: store.append(case_id, 2, *KNOCK, BOOK),
        lambda: store.add_text(case_id, "note"),
        lambda: store.erase_text(case_id),
    ):
        refusal = refused("store.no-case", act)
        str(refusal).encode("utf-8")
        assert "\x1b" not in str(refusal)


def test_a_note_is_kept_apart_from_its_event(store: Store) -> None:
    """Free text is stored under a reference, and the event names it."""
    case_id = store.create(OPENED, "", BOOK)
    ref = store.add_text(case_id, "stem bolts finger-tight")
    event = store.append(case_id, 2, *events.loose(ref), BOOK)
    assert store.text(event.data["text_ref"]) == "stem bolts finger-tight"


def test_an_event_names_only_texts_of_its_own_case(store: Store) -> None:
    """A text that is not there, or another case's, cannot be named."""
    one, other = store.create(OPENED, "", BOOK), store.create(OPENED, "", BOOK)
    ref = store.add_text(other, "of the other")
    refused("store.no-text", lambda: store.append(one, 2, *events.note(ref), BOOK))
    refused("store.no-text", lambda: store.append(one, 2, *events.note("t999999999999999999"), BOOK))
    assert len(store.events(one)) == 1


@pytest.mark.parametrize("ref", ["t77", "", "t", "x", "t-1", "t" + "9" * 40, "\ud800"])
def test_an_unknown_text_is_said_to_be_unknown(store: Store, ref: str) -> None:
    """Whatever is given for a reference, the answer is that there is no such text."""
    store.create(OPENED, "label", BOOK)
    refused("store.no-text", lambda: store.text(ref))


HOSTILE = [
    "<script>alert(1)</script>[bold]{{7*7}}",
    "'; drop table events; --",
    "\x1b[2J\x1b]0;title\x07gone\x00after",
    "\u202egnp.exe",
    "🚲" * 2_000,
    "half \ud83d and \udeb2 half",
    "line\r\nline\u2028line",
    "e\u0301" * 700,
]


@pytest.mark.parametrize("text", HOSTILE, ids=ascii)
def test_hostile_text_is_kept_tame(store: Store, text: str) -> None:
    """Markup stays text, control characters go, halves of signs are marked, and all of it comes back and is found."""
    case_id = store.create(OPENED, text, BOOK)
    note = store.text(store.add_text(case_id, text))
    label = store.cases()[0].label
    assert note
    assert label
    assert not {*note, *label} & {"\x1b", "\x00", "\x07", "\r", "\u202e", "\u2028"}
    note.encode("utf-8")
    assert store.cases(label)[0].id == case_id
    assert store.cases(text)[0].id == case_id


def test_text_beyond_the_cap_is_refused_whole(store: Store) -> None:
    """Nothing is cut off in silence, and no case is opened for a label that does not fit."""
    refused("input.text-long", lambda: store.create(OPENED, "x" * 2_001, BOOK))
    assert store.cases() == ()
    case_id = store.create(OPENED, "", BOOK)
    refused("input.text-long", lambda: store.add_text(case_id, "x" * 2_001))
    refused("input.text-empty", lambda: store.add_text(case_id, "\x00"))


def test_erasing_leaves_the_events_as_they_were(store: Store) -> None:
    """All text of one case is gone, its label too; events and other cases stay, and a reference is never used again."""
    one, other = store.create(OPENED, "Ms Example's bike", BOOK), store.create(OPENED, "other", BOOK)
    ref = store.add_text(one, "ring her at noon")
    store.append(one, 2, *events.note(ref), BOOK)
    before = store.events(one)
    assert store.erase_text(one) == 2
    assert store.events(one) == before
    assert store.text(ref) is None
    assert store.text(before[0].data["label"]) is None
    assert [summary.label for summary in store.cases()] == [None, "other"]
    assert store.cases("Example") == ()
    assert store.events(other)
    assert store.erase_text(one) == 0
    assert store.add_text(one, "new") not in {ref, before[0].data["label"]}
    store.append(one, 3, *events.note(ref), BOOK)


def test_the_list_says_what_is_needed(store: Store) -> None:
    """A line in the list holds id, label, times, ending and number of events."""
    case_id = store.create(OPENED, "Blue city bike", BOOK)
    last = store.append(case_id, 2, *events.ended("cured", ["preload-lost"]), BOOK)
    first = store.events(case_id)[0]
    assert store.cases() == (CaseSummary(case_id, "Blue city bike", first.at, last.at, "cured", 2, (), None, 0),)
    store.append(case_id, 3, *events.undo(2), BOOK)
    assert store.cases()[0].ended is None
    assert store.cases()[0].events == 3


def test_the_list_is_searched_by_words_of_label_and_id(store: Store) -> None:
    """Words in any order and case; signs that mean something to a database mean themselves."""
    blue = store.create(OPENED, "Blue city bike, 100 % STRASSE", BOOK)
    red = store.create(OPENED, "red_trail bike", BOOK)
    assert [summary.id for summary in store.cases("CITY blue")] == [blue]
    assert [summary.id for summary in store.cases("straße")] == [blue]
    assert [summary.id for summary in store.cases(red.upper())] == [red]
    assert [summary.id for summary in store.cases("100 %")] == [blue]
    assert [summary.id for summary in store.cases("d_t")] == [red]
    assert store.cases("green") == ()
    assert store.cases("\ud800") == ()


def test_the_list_has_no_more_than_was_asked_for(store: Store) -> None:
    """The limit keeps the cases last worked on."""
    first, second, third = (store.create(OPENED, str(n), BOOK) for n in range(3))
    store.append(first, 2, *KNOCK, BOOK)
    assert [summary.id for summary in store.cases()] == [first, third, second]
    assert [summary.id for summary in store.cases(limit=2)] == [first, third]
    assert store.cases(limit=0) == ()
    assert store.cases(limit=-1) == ()


def test_a_clock_set_back_changes_no_order(make: Make) -> None:
    """Events are ordered by their number and cases by their last work, whatever the clock says."""
    store = make(set_back())
    one, other = store.create(OPENED, "one", BOOK), store.create(OPENED, "other", BOOK)
    store.append(one, 2, *KNOCK, BOOK)
    case = store.events(one)
    assert [event.seq for event in case] == [1, 2]
    assert case[0].at > case[1].at
    assert [summary.id for summary in store.cases()] == [one, other]
    assert store.cases()[0].last_at < store.cases()[0].opened_at


def test_times_are_utc(make: Make) -> None:
    """A clock in another zone is stored as UTC, ISO 8601 with milliseconds."""
    there = timezone(timedelta(hours=2))
    store = make(lambda: datetime(2024, 5, 31, 9, 15, 2, 125_999, tzinfo=there))
    case_id = store.create(OPENED, "", BOOK)
    assert store.events(case_id)[0].at == "2024-05-31T07:15:02.125Z"


def test_what_was_handed_out_is_the_callers_own(store: Store) -> None:
    """Changing what came out of the store, or what went in, changes nothing inside."""
    case_id = store.create(OPENED, "", BOOK)
    given = {"how": "cured", "found": ["preload-lost"]}
    event = store.append(case_id, 2, "ended", given, BOOK)
    event.data["found"].append("x")
    given["how"] = "declined"
    store.events(case_id)[1].data["found"].clear()
    assert store.events(case_id)[1].data == {"how": "cured", "found": ["preload-lost"]}


def test_a_closed_store_opens_again(store: Store) -> None:
    """Closing twice does no harm, and the next use finds everything."""
    with store as same:
        case_id = same.create(OPENED, "Blue", BOOK)
    store.close()
    assert store.append(case_id, 2, *KNOCK, BOOK).seq == 2
    assert store.cases("blue")[0].events == 2


class Side:
    """One store under comparison; cases are named by the order in which they were created."""

    def __init__(self, store: Store) -> None:
        self.store = store
        self.ids: list[str] = []

    def does(self, step: tuple[Any, ...]) -> str:
        """What came of a step: its result, or the code of the refusal."""
        name, *given = step
        try:
            return json.dumps(getattr(self, name)(*given))
        except (InputError, StoreError) as refusal:
            return refusal.code

    def create(self, label: str) -> object:
        """Opens a case."""
        self.ids.append(self.store.create(OPENED, label, BOOK))
        return self.read(len(self.ids) - 1)

    def append(self, which: int, seq: int, draft: Draft) -> object:
        """Appends, and reads the case again."""
        event = self.store.append(self.case(which), seq, *draft, BOOK)
        return event.seq, event.kind, event.data, self.read(which)

    def read(self, which: int) -> object:
        """Reads a case."""
        return [(event.seq, event.kind, event.data, event.book) for event in self.store.events(self.case(which))]

    def note(self, which: int, text: str) -> object:
        """Adds a text."""
        return self.store.add_text(self.case(which), text)

    def text(self, number: int) -> object:
        """Reads a text."""
        return self.store.text(f"t{number}")

    def erase(self, which: int) -> object:
        """Erases a case's texts."""
        return self.store.erase_text(self.case(which))

    def list(self, search: str, limit: int, which: Which, bike: str | None) -> object:
        """Lists cases by a word that no id holds."""
        hits = self.store.cases(search, limit, which, bike)
        told = [(hit.label, hit.ended, hit.events, hit.complaints, hit.waiting, hit.comebacks) for hit in hits]
        return [self.ids.index(hit.id) for hit in hits], told

    def case(self, which: int) -> str:
        """The id of a case, or one that no store has."""
        return self.ids[which] if which < len(self.ids) else "none"


DRAFTS = [
    KNOCK,
    events.undo(2),
    events.undo(3),
    events.ended("declined"),
    events.reopened(),
    events.note("t1"),
    events.waiting(["pads"]),
    events.came_back(),
    Draft("x", {}),
]
WHICH = st.integers(0, 2)
LABELS = st.text("aeiou \u0301\ud800\n", max_size=6)
STEP = st.one_of(
    st.tuples(st.just("create"), LABELS),
    st.tuples(st.just("append"), WHICH, st.integers(1, 5), st.sampled_from(DRAFTS)),
    st.tuples(st.just("note"), WHICH, LABELS),
    st.tuples(st.just("text"), st.integers(0, 5)),
    st.tuples(st.just("erase"), WHICH),
    st.tuples(
        st.just("list"),
        st.sampled_from(["", "a", "E o", "\u00e1", "a e i o u a  e"]),
        st.integers(-1, 3),
        st.sampled_from(["all", "open", "waiting", "ended"]),
        st.sampled_from([None, "", "aei", "A E"]),
    ),
)


def test_the_list_says_the_complaints_and_what_is_waited_for(store: Store) -> None:
    """Also after something was taken back; a case that is over waits for nothing."""
    case_id = store.create(OPENED, "Blue", BOOK)
    for seq, draft in enumerate([KNOCK, events.complaint("brake-rubs"), events.waiting(["pads"])], 2):
        store.append(case_id, seq, *draft, BOOK)
    line = store.cases()[0]
    assert (line.complaints, line.waiting, line.comebacks) == (("front-knock", "brake-rubs"), ("pads",), 0)
    store.append(case_id, 5, *events.undo(3), BOOK)
    assert store.cases()[0].complaints == ("front-knock",)
    store.append(case_id, 6, *events.here_now(), BOOK)
    assert store.cases()[0].waiting is None
    store.append(case_id, 7, *events.waiting(), BOOK)
    assert store.cases()[0].waiting == ()
    store.append(case_id, 8, *events.ended("cured"), BOOK)
    store.append(case_id, 9, *events.came_back("part"), BOOK)
    line = store.cases()[0]
    assert (line.ended, line.waiting, line.comebacks) == (None, None, 1)


def test_the_list_can_be_of_those_that_are_open_wait_or_are_over(store: Store) -> None:
    """A case stands in the lists it belongs to and no other."""
    drafts = {"open": KNOCK, "waiting": events.waiting(), "over": events.ended("declined")}
    ids = {}
    for label, draft in drafts.items():
        ids[label] = store.create(OPENED, label, BOOK)
        store.append(ids[label], 2, *draft, BOOK)
    found = {which: [line.label for line in store.cases(which=which)] for which in ("all", "open", "waiting", "ended")}
    assert found == {
        "all": ["over", "waiting", "open"],
        "open": ["waiting", "open"],
        "waiting": ["waiting"],
        "ended": ["over"],
    }


def test_the_list_can_be_of_one_bike(store: Store) -> None:
    """All visits under one label, however its capitals and spaces were typed; no label is no bike's."""
    visits = [store.create(OPENED, label, BOOK) for label in ("Rack 7  blue", "rack 7 BLUE", "Rack 7 blues", "")]
    assert [line.id for line in store.cases(bike=" rack 7 blue")] == [visits[1], visits[0]]
    assert store.cases(bike="") == ()
    assert [line.id for line in store.cases("blues", bike="rack 7 blues")] == [visits[2]]
    store.erase_text(visits[0])
    assert [line.id for line in store.cases(bike="rack 7 blue")] == [visits[1]]


def test_a_shop_s_number_is_the_bike_whatever_stands_behind_it(store: Store) -> None:
    """Behind a comma stands what it is; where no number stands before the comma the whole label is the bike's."""
    labels = ("214", "214, trekking e-bike, hydraulic discs", "blue, left pannier", "blue, no pannier")
    visits = [store.create(OPENED, label, BOOK) for label in labels]
    assert [line.id for line in store.cases(bike="214, e-bike")] == [visits[1], visits[0]]
    assert [line.id for line in store.cases(bike="Blue, left pannier")] == [visits[2]]


def test_the_list_is_searched_in_notes_and_complaints_too(store: Store) -> None:
    """Words may stand in different places; what was erased is found no more."""
    case_id = store.create(OPENED, "Blue", BOOK)
    store.append(case_id, 2, *KNOCK, BOOK)
    ref = store.add_text(case_id, "Axle in the drawer")
    store.append(case_id, 3, *events.note(ref), BOOK)
    assert [line.id for line in store.cases("DRAWER knock blue")] == [case_id]
    assert store.cases("drawer knock green") == ()
    assert store.cases("axle in the drawer knock blue front a b c d e f") != store.cases("drawer zz a b c d e f g h")
    store.erase_text(case_id)
    assert store.cases("drawer") == ()
    assert [line.id for line in store.cases("front knock")] == [case_id]


@settings(max_examples=60)
@given(st.lists(STEP, max_size=30))
def test_both_stores_do_the_same(steps: list[tuple[Any, ...]]) -> None:
    """Whatever is done, the store in memory and the one on disk answer alike."""
    with TemporaryDirectory() as folder, SqliteStore(Path(folder) / "s") as disk, MemoryStore() as memory:
        one, other = Side(disk), Side(memory)
        for step in [("create", "aei"), ("create", ""), *steps]:
            assert one.does(step) == other.does(step)
