"""The desk: what is told is stored, taken back, found again; and two hands on one case are told apart."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from diagnose.book.shelf import load_book
from diagnose.casework import events
from diagnose.casework.desk import MOST_COMPLAINTS, Desk
from diagnose.casework.memory import MemoryStore
from diagnose.casework.store import SqliteStore, Store
from diagnose.errors import InputError, StoreError
from diagnose.reason.reasoner import Reasoner

SMALL = Path(__file__).parent.parent / "front" / "book"
RULES = Path(__file__).parent.parent.parent / "rules"


@pytest.fixture(scope="module")
def reasoner() -> Reasoner:
    """The small book of wheels, with its engine."""
    return Reasoner(load_book(SMALL, cache=False))


@pytest.fixture(params=["memory", "disk"])
def store(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Store]:
    """A store of each kind."""
    with MemoryStore() if request.param == "memory" else SqliteStore(tmp_path / "cases.sqlite3") as opened:
        yield opened


@pytest.fixture
def desk(reasoner: Reasoner, store: Store) -> Desk:
    """A desk over the small book."""
    return Desk(reasoner, store)


def test_a_case_is_opened_told_and_seen(desk: Desk) -> None:
    """A View shows what was told, under the label, with the number of events that it was made of."""
    case = desk.open("blue bike", without=["caliper"])
    desk.submit(case, events.complaint("wheel-wobbles"))
    desk.submit(case, events.answered("rock-wheel", "mechanic", "clear"))
    view = desk.view(case)
    assert (view["case"], view["events"], view["skill"], view["role"]) == ("blue bike", 3, "mechanic", "mechanic")
    assert [one["value"] for one in view["answers"]] == ["clear"]
    assert desk.folded(case).situation.without == {"caliper"}


def test_a_fact_told_in_part_keeps_its_keys() -> None:
    """Once one value is told the others are offered in the same order, in the same places, as before."""
    with MemoryStore() as kept:
        desk = Desk(Reasoner(load_book(RULES)), kept)
        case = desk.open()
        desk.submit(case, events.complaint("rubs-now-and-then"))
        desk.submit(case, events.profile("brake", ["hydraulic-disc"]))
        asked = next(one for one in desk.view(case)["wanted"] if one["several"])
        desk.submit(case, events.profile(asked["fact"], [asked["answers"][3]["id"]], more=True))
        assert desk.fact(case, asked["fact"]) == asked
        assert len(asked["answers"]) < len(desk.book.facts[asked["fact"]].values)


def test_going_back_takes_back_one_thing_at_a_time(desk: Desk) -> None:
    """Each step back takes the last thing told that counts, down to nothing, and loses nothing else."""
    case = desk.open()
    desk.submit(case, events.complaint("wheel-wobbles"))
    desk.submit(case, events.profile("axle", ["quick-release"]))
    desk.submit(case, events.answered("rock-wheel", "mechanic", "clear"))
    desk.note_loose(case, "front wheel")
    kinds = []
    while True:
        last = desk.last_told(case)
        taken = desk.back(case)
        assert taken == last
        if taken is None:
            break
        kinds.append(taken.kind)
    assert kinds == ["answer", "profile", "complaint"]
    assert desk.folded(case).situation.complaints == ()
    assert desk.loose(case) == "front wheel"


def test_an_undone_fix_gives_its_stale_answers_back(desk: Desk) -> None:
    """What a fix disturbed counts again when the fix is taken back."""
    case = desk.open()
    desk.submit(case, events.complaint("wheel-wobbles"))
    desk.submit(case, events.answered("rock-wheel", "mechanic", "clear"))
    before = desk.view(case)
    desk.submit(case, events.fix_done("set-cones", {"wheel-wobbles": "still-there"}))
    assert [one["stale"] for one in desk.view(case)["answers"]] == [True]
    desk.back(case)
    after = desk.view(case)
    assert {**after, "events": 0} == {**before, "events": 0}


def test_two_hands_on_one_case_are_told(desk: Desk) -> None:
    """Who has not seen what another wrote neither adds to it nor takes it back."""
    case = desk.open()
    desk.submit(case, events.complaint("wheel-wobbles"))
    seen = len(desk.store.events(case))
    desk.submit(case, events.answered("rock-wheel", "mechanic", "clear"))
    with pytest.raises(StoreError) as why:
        desk.submit_after(case, events.complaint("wheel-grinds"), seen)
    assert why.value.code == "store.conflict"
    with pytest.raises(StoreError) as why:
        desk.back(case, seen)
    assert why.value.code == "store.conflict"
    assert len(desk.store.events(case)) == seen + 1


def test_a_reopened_case_goes_on_and_its_ending_lies_behind(desk: Desk) -> None:
    """Going back after reopening takes back what was told before the ending; a second ending ends it again."""
    case = desk.open()
    desk.submit(case, events.complaint("wheel-wobbles"))
    desk.end(case, "declined")
    assert desk.folded(case).situation.ended == "declined"
    desk.reopen(case)
    assert desk.folded(case).situation.ended is None
    last = desk.last_told(case)
    assert last is not None
    assert last.kind == "complaint"
    desk.end(case, "collected")
    taken = desk.back(case)
    assert taken is not None
    assert taken.kind == "ended"
    assert desk.folded(case).situation.ended is None


def test_at_most_three_complaints(desk: Desk) -> None:
    """A fourth complaint is refused in one clear sentence; one that is told already is no fourth."""
    case = desk.open()
    names = list(desk.book.complaints)
    for name in names[:MOST_COMPLAINTS]:
        desk.complain(case, name)
    desk.complain(case, names[0])
    with pytest.raises(InputError, match="complaints are taken together"):
        desk.complain(case, names[MOST_COMPLAINTS])


def test_a_job_number_is_found_however_it_is_typed(desk: Desk) -> None:
    """Capitals, spaces and a missing hyphen do not matter."""
    case = desk.open()
    assert desk.find(f"  {case.upper().replace('-', ' ')} ") == case


def test_a_wrong_job_number_names_those_like_it(desk: Desk) -> None:
    """A slip of one sign brings up the job that was meant, with its label."""
    case = desk.open("blue bike")
    slip = case[:-1] + ("0" if case[-1] != "0" else "1")
    with pytest.raises(InputError) as why:
        desk.find(slip)
    assert case in why.value.hint
    assert "blue bike" in why.value.hint
    for junk in ("zzzzzz", "", "\x1b[31m", "\ud800", "x" * 5000):
        with pytest.raises(InputError, match="job number"):
            desk.find(junk)


def test_a_job_number_of_another_store_is_not_here(reasoner: Reasoner, desk: Desk) -> None:
    """A well-formed number that this store does not have is said to be missing."""
    other = Desk(reasoner, MemoryStore())
    missing = [other.open() for _ in range(3)][-1]
    if any(job.id == missing for job in desk.store.cases()):
        pytest.skip("this store drew the same number")
    with pytest.raises(InputError, match="There is no job"):
        desk.find(missing)


def test_open_jobs_are_those_worth_going_on_with(desk: Desk) -> None:
    """Ended jobs and empty ones without a label are left out; the last worked on comes first."""
    empty, labelled, told, over = desk.open(), desk.open("tagged"), desk.open(), desk.open()
    desk.submit(told, events.complaint("wheel-wobbles"))
    desk.end(over, "declined")
    assert [job.id for job in desk.open_jobs(9)] == [told, labelled]
    assert empty not in [job.id for job in desk.open_jobs(9)]
    assert len(desk.open_jobs(1)) == 1


def test_what_is_loose_is_replaced_and_cleared(desk: Desk) -> None:
    """The last note counts; an empty one says that nothing is loose."""
    case = desk.open()
    assert desk.loose(case) is None
    desk.note_loose(case, "stem bolts finger-tight")
    desk.note_loose(case, "front wheel out")
    assert desk.loose(case) == "front wheel out"
    desk.note_loose(case, "  ")
    assert desk.loose(case) is None


def test_torques_of_the_fixes_done_are_listed(desk: Desk) -> None:
    """Each torque of a fix that was done stands there once, with lbf·in; other limits do not."""
    case = desk.open()
    desk.submit(case, events.complaint("wheel-wobbles"))
    assert desk.torques(case) == []
    desk.submit(case, events.fix_done("close-axle", {"wheel-wobbles": "still-there"}))
    desk.submit(case, events.fix_done("set-cones", {"wheel-wobbles": "gone"}))
    listed = {one["quantity"]: one["text"] for one in desk.torques(case)}
    assert listed["through axle"].startswith("8 to 15 N·m (71 to 133 lbf·in)")  # 1 N·m is 8.8507 lbf·in (NIST SP 811)
    assert set(listed) == {"through axle", "lock nut of the hub"}


def test_a_repeat_test_says_how_often(desk: Desk) -> None:
    """The text of a complaint's own test, with the number of times."""
    case = desk.open()
    assert desk.test_text(case, "wheel-wobbles").endswith("Does it move? (at three places)")
    assert "(" not in desk.test_text(case, "wheel-ticks")
