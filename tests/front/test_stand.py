"""`diagnose stand` from the complaint to the end of the job, with piped answers: each line is one."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from diagnose.casework import events
from diagnose.casework.events import Event
from diagnose.casework.store import SqliteStore
from diagnose.errors import StoreError
from diagnose.front import wording

if TYPE_CHECKING:
    from tests.front.conftest import Stand

SMALL = Path(__file__).parent / "book"
CLONE = Path(__file__).parent.parent.parent
WOBBLES = ("", "wheel is loose", "1", "")
"""No label, the complaint in the rider's words, the first match, no more."""
SOUND = (*WOBBLES, "1")
"""The walk round the bike shows nothing."""


# --- the complaint -------------------------------------------------------------------------------------------------


def test_a_complaint_by_a_few_words(stand: Stand) -> None:
    """Words of the rider's own bring near matches; a number takes one; the half-minute walk comes next."""
    out = stand("blue", "it weobbles a lot", "1")
    assert "Wheel wobbles" in out
    assert ("complaint", {"id": "wheel-wobbles"}) in stand.told()
    assert stand.code == 0
    out = stand.resume("")
    assert "what catches your eye?" in out
    assert wording.GATE.split(":")[1].split("?")[0] in out


@pytest.mark.parametrize("enter", ["", "7"])
def test_a_complaint_from_the_list(stand: Stand, enter: str) -> None:
    """Enter alone, or a number, shows all complaints by name; a number then takes one."""
    out = stand("", enter, "2")
    assert out.index("Wheel grinds") < out.index("Wheel squeaks") < out.index("Wheel ticks")
    assert ("complaint", {"id": "wheel-squeaks"}) in stand.told()


def test_words_of_nothing_are_asked_again(stand: Stand) -> None:
    """What sounds like nothing in the book is said so, and other words are taken."""
    out = stand("", "the bell is missing", "wheel wobbles", "1")
    assert "knows nothing like that" in out
    assert ("complaint", {"id": "wheel-wobbles"}) in stand.told()


def test_none_of_the_matches_is_asked_again(stand: Stand) -> None:
    """Enter at the matches takes none; other words follow."""
    stand("", "wheel", "", "ticking", "1")
    assert [data for kind, data in stand.told() if kind == "complaint"] == [{"id": "wheel-ticks"}]


def test_up_to_three_complaints(stand: Stand) -> None:
    """Two more may follow; the same one twice is said to be noted; after three no more are asked for."""
    out = stand("", "wobbles", "1", "wobbles", "1", "grinds", "1", "ticking", "1")
    told = [data["id"] for kind, data in stand.told() if kind == "complaint"]
    assert told == ["wheel-wobbles", "wheel-grinds", "wheel-ticks"]
    assert wording.NOTED_BEFORE in out
    assert out.count(wording.ASK_MORE) == 2
    assert "what catches your eye?" in out


def test_back_and_leave_work_before_the_complaint(stand: Stand) -> None:
    """Back has nowhere to go, leaving keeps the job, every other key says that the complaint comes first."""
    out = stand("label", "b", "w", "p", "a", "h", "q")
    assert wording.NO_BACK in out
    assert wording.FIRST_COMPLAINT in out
    assert wording.SAFETY.split(",")[0] in out
    assert f"--case {stand.case}" in out
    assert stand.code == 0


def test_back_walks_through_the_complaints(stand: Stand) -> None:
    """From the walk round the bike: to "anything else?", then the second and the first complaint are taken back."""
    out = stand("", "wobbles", "1", "grinds", "1", "", "b", "b", "b", "ticking", "1")
    assert out.count("Taken back: Wheel") == 2
    assert stand.view()["complaints"][0]["id"] == "wheel-ticks"
    assert len(stand.view()["complaints"]) == 1


# --- the bike ------------------------------------------------------------------------------------------------------


def test_several_eye_catchers_keep_their_keys(stand: Stand) -> None:
    """Where several may hold each takes one key, keys stay with their texts, Enter ends it."""
    out = stand(*WOBBLES, "2", "3", "2", "")
    assert ("profile", {"fact": "arrival", "values": ["crash", "wheel-not-held"]}) in stand.told()
    assert "That does nothing here" in out  # 2 is taken already


def test_nothing_stands_alone(stand: Stand) -> None:
    """The answer that nothing catches the eye asks for no other."""
    out = stand(*WOBBLES, "1")
    assert wording.ANOTHER not in out
    assert ("profile", {"fact": "arrival", "values": ["nothing"]}) in stand.told()


def test_back_from_several_asks_for_the_fact_anew(stand: Stand) -> None:
    """Going back among several values loses only those; the complaint stands."""
    stand(*WOBBLES, "2", "3", "b", "4", "")
    assert stand.told()[-1] == ("profile", {"fact": "arrival", "values": ["tyre-damaged"]})
    assert [kind for kind, _ in stand.told()] == ["opened", "complaint", "profile"]


def test_a_fact_that_cannot_be_told_is_not_asked_again(stand: Stand) -> None:
    """Can't tell is always allowed."""
    out = stand(*WOBBLES, "c", "")
    assert ("profile", {"fact": "arrival", "values": []}) in stand.told()
    assert out.count("what catches your eye?") == 1


# --- questions -----------------------------------------------------------------------------------------------------


def test_one_key_an_answer(stand: Stand) -> None:
    """A danger comes first, with its reason; the key answers it and the next question follows, the answer in sight."""
    out = stand(*WOBBLES, "3", "", "1")
    assert wording.DANGER_FIRST in out
    assert wording.VERDICT["stop"] in out
    assert "A wheel that is not held can come out." in out
    assert ("answer", {"check": "try-axle", "by": "mechanic", "value": "tight"}) in stand.told()
    assert "> closed and tight\n" in out


def test_can_t_tell_is_an_answer(stand: Stand) -> None:
    """It is stored as such and the next question follows."""
    stand(*WOBBLES, "3", "", "c")
    assert ("answer", {"check": "try-axle", "by": "mechanic", "cannot_tell": True}) in stand.told()


TICKS_AFTER_A_FALL = ("", "ticking", "1", "", "2", "", "1")


@pytest.mark.parametrize(
    ("typed", "reading", "shown"),
    [("9", 9.0, "9: too slack"), ("7,5 mm", 7.5, "7,5 mm: right"), ("1/4 in", 6.35, "1/4 in: right")],
)
def test_a_reading_is_typed_with_or_without_its_unit(stand: Stand, typed: str, reading: float, shown: str) -> None:
    """Comma, fraction and inches are taken (1 in = 25.4 mm exactly); the band that it falls into is said."""
    out = stand(*TICKS_AFTER_A_FALL, typed)
    kind, data = stand.told()[-1]
    assert kind == "answer"
    assert (data["check"], data["typed"], data["unit"]) == ("measure-spoke", typed, "mm")
    assert data["reading"] == pytest.approx(reading, abs=1e-9)
    assert shown in out


@pytest.mark.parametrize("typed", ["banana", "5 bar", "31", "-1", "1e999", "[bold]5", "5 5"])
def test_what_is_no_reading_is_asked_again(stand: Stand, typed: str) -> None:
    """Another word, another dimension or a number out of range stores nothing and ends nothing."""
    stand(*TICKS_AFTER_A_FALL, typed, "c")
    assert stand.told()[-1] == ("answer", {"check": "measure-spoke", "by": "mechanic", "cannot_tell": True})


@pytest.mark.parametrize(
    "junk", ["0", "7", "z", "11", "²", "[/bold]", "\x1b[A", "\x1bOP", "💥", "\u202eabc", "x" * 5000, "é", "yes", "1 2"]
)
def test_wrong_keys_say_what_works(stand: Stand, junk: str) -> None:
    """A key that means nothing here changes nothing, and says which do; the right one is taken after it."""
    out = stand(*WOBBLES, "3", "", junk, "1")
    assert ("answer", {"check": "try-axle", "by": "mechanic", "value": "tight"}) in stand.told()
    if junk not in ("\x1b[A", "\x1bOP"):  # arrow and function keys are dropped from lines: an empty line shows it again
        assert "That does nothing here. Keys: 1 to 2, c, b, h." in out


def test_enter_shows_the_question_again(stand: Stand) -> None:
    """An empty line answers nothing."""
    out = stand(*WOBBLES, "3", "", "", "1")
    assert out.count("is the axle closed and") == 2
    assert len(stand.told()) == 4


@pytest.mark.parametrize(
    ("key", "shown"),
    [
        ("w", ("Why this", "A wheel that is not held", "Open it and close it again")),
        ("l", ("Wheel wobbles: of 100 such bikes", "axle not tight", wording.NOT_IN_BOOK)),
        ("p", ("The plan so far", "Close the axle", wording.NO_QUOTE)),
        ("h", ("can't tell", "leave; the job is kept")),
    ],
)
def test_one_key_away(stand: Stand, key: str, shown: tuple[str, ...]) -> None:
    """Why this, what is likely, the plan and the keys: each shown, the question after it, and nothing is stored."""
    before, after = stand(*WOBBLES, "3", "", key).split(f"> {wording.DID[key]}\n")
    told = " ".join(after.split())
    for words in shown:
        assert " ".join(words.split()) in told
    assert "is the axle closed and" in before
    assert after.rindex("is the axle closed and") > after.index(shown[0].split()[0])
    assert len(stand.told()) == 3


def test_why_a_fact_is_asked(stand: Stand) -> None:
    """At the walk round the bike, why says why that."""
    out = stand(*WOBBLES, "w")
    assert "comes first" in " ".join(out.split())


def test_back_takes_back_one_answer(stand: Stand) -> None:
    """Back says what it took, the question stands again, and a second back takes the one before."""
    out = stand(*WOBBLES, "3", "", "1", "b", "b")
    assert "Taken back: how the axle is held: closed and tight" in out
    assert "Taken back: A walk round the bike" in " ".join(out.split())
    assert stand.view()["answers"] == []
    assert stand.view()["complaints"]


# --- what was done already, one more complaint ---------------------------------------------------------------------


def test_i_already_did_that(stand: Stand) -> None:
    """A few words find the fix, one key says how it went; what is likely moves."""
    stand(*SOUND)
    before = {one["id"]: one["share"] for one in stand.view()["complaints"][0]["causes"]}
    stand.resume("a", "set bearings", "1", "2")
    assert ("already", {"fix": "set-cones", "result": "same"}) in stand.told()
    after = {one["id"]: one["share"] for one in stand.view()["complaints"][0]["causes"]}
    assert after["cone-loose"] < before["cone-loose"]


@pytest.mark.parametrize("keys", [("",), ("b",), ("bells", ""), ("set bearings", "", ""), ("set bearings", "1", "b")])
def test_going_back_from_already_tells_nothing(stand: Stand, keys: tuple[str, ...]) -> None:
    """Each way back leads to the question; nothing is stored or taken back."""
    out = stand(*SOUND, "a", *keys)
    assert [kind for kind, _ in stand.told()] == ["opened", "complaint", "profile"]
    assert out.splitlines()[-1].startswith(f" diagnose stand --case {stand.case} --rules ")


def test_one_more_complaint_at_any_time(stand: Stand) -> None:
    """A complaint that the rider remembers later is added; the job goes on without asking for others."""
    out = stand(*SOUND, "m", "grinds", "1")
    assert [one["id"] for one in stand.view()["complaints"]] == ["wheel-wobbles", "wheel-grinds"]
    assert out.count(wording.ASK_MORE) == 2
    out = stand.resume("", "m", "ticking", "1", "m")
    assert "3 complaints are taken together" in out


# --- fixes ---------------------------------------------------------------------------------------------------------

LOOSE_AXLE = (*WOBBLES, "3", "", "2", "2")
"""The axle is found loose and it is a through axle: closing it is the fix."""


def test_a_fix_shows_all_that_is_needed(stand: Stand) -> None:
    """Steps, the torque with lbf·in and its basis, tools, cautions, how to tell, if not, the repeat test."""
    out = " ".join(stand(*LOOSE_AXLE).split())
    for words in (
        "FIX: Close the axle",
        "Tools: hex keys, torque wrench.",
        "1. Stand the bike on its wheels",
        "8 to 15 N·m (71 to 133 lbf·in): through axle (handbook)",
        "! Never ride on a wheel that is not clamped.",
        wording.GOVERNS,
        "REPEAT TEST: Rock the wheel",
        "Worked if: The wheel does not move in the dropouts.",
        "If not: The thread or the dropout is worn.",
    ):
        assert words in out


def test_the_repeat_test_ends_it(stand: Stand) -> None:
    """Done and gone: the cause is named, the last check and the torques are listed, and the job ends as cured."""
    out = stand(*LOOSE_AXLE, "1", "1")
    assert "found at the stand: axle not tight" in " ".join(out.split())
    assert wording.FINAL_CHECK in out
    assert "[ ] 8 to 15 N·m" in out
    assert stand.told()[-1] == ("ended", {"how": "cured", "found": ["axle-loose"]})
    assert f"Job {stand.case} is over. Repeat test passed, found at the stand: axle not tight." in " ".join(out.split())


def test_still_there_goes_on(stand: Stand) -> None:
    """A fix that failed is not proposed again, and what it disturbed may be asked anew."""
    out = stand(*LOOSE_AXLE, "2")
    assert ("fix", {"fix": "close-axle", "results": {"wheel-wobbles": "still-there"}}) in stand.told()
    assert out.count("FIX: Close the axle") == 1
    assert stand.view()["next"]["id"] != "close-axle"


def test_back_after_a_fix_result_shows_the_fix_again(stand: Stand) -> None:
    """Only the result is taken back."""
    out = stand(*LOOSE_AXLE, "2", "b")
    assert "Taken back: Close the axle: still there" in " ".join(out.split())
    assert out.count("FIX: Close the axle") == 2
    assert [one["value"] for one in stand.view()["answers"]] == ["loose"]


def test_a_fix_that_cannot_be_done_here(stand: Stand) -> None:
    """It is noted and something else is proposed."""
    stand(*LOOSE_AXLE, "3")
    assert ("fix", {"fix": "close-axle", "not_possible": True}) in stand.told()
    assert "close-axle" not in [item["fix"] for item in stand.view()["plan"]]


def in_one_go(stand: Stand) -> None:
    """A job whose next action is two fixes in one go: clean the hub, then fit new bearings."""
    stand("", "grinds", "1", "", "1")
    stand.desk().submit(stand.case, events.answered("try-axle", "mechanic", "tight"))
    stand.desk().submit(stand.case, events.answered("look-at-races", "mechanic", "pitted"))


def test_fixes_done_together_are_both_shown(stand: Stand) -> None:
    """Both with their steps, the one that comes first first; one repeat test, and one result for both."""
    in_one_go(stand)
    out = " ".join(stand.resume("2").split(f"> {wording.DONE_STILL}")[0].split())
    places = [
        out.index(words)
        for words in ("2 FIXES IN ONE GO", "FIX: 1. Clean and grease", "Wipe balls", "FIX: 2. Fit new", "Press the new")
    ]
    assert places == sorted(places)
    assert out.count("REPEAT TEST") == 1
    assert "Parts: 2 hub bearings, 8 to 20 EUR each." in out
    done = {"fix": "new-bearings", "with": ["clean-hub"], "results": {"wheel-grinds": "still-there"}}
    assert ("fix", done) in stand.told()


def test_of_fixes_done_together_one_cannot_be_done(stand: Stand) -> None:
    """It is asked which; going back shows the fixes again."""
    in_one_go(stand)
    out = stand.resume("3", "b", "3", "2")
    assert out.count("2 FIXES IN ONE GO") >= 2
    assert out.count(wording.WHICH_NOT) == 2
    assert ("fix", {"fix": "new-bearings", "not_possible": True}) in stand.told()


TWO = ("", "wobbles", "1", "grinds", "1", "", "1")


def test_with_several_complaints_each_test_is_asked(stand: Stand) -> None:
    """After one fix every complaint's own test is asked: one gone, the other still there."""
    lines = list(TWO)
    stand(*lines)
    while stand.view()["next"]["kind"] == "check":
        stand.resume("1")
    fix = stand.view()["next"]["id"]
    out = stand.resume("1", "1", "2")
    assert out.count("Repeat test of: ") == 2
    assert (
        "fix",
        {"fix": fix, "results": {"wheel-wobbles": "gone", "wheel-grinds": "still-there"}},
    ) in [(kind, {key: data[key] for key in ("fix", "results")}) for kind, data in stand.told() if kind == "fix"]
    assert "Wheel wobbles: gone." in out


def test_back_among_the_tests_shows_the_fix_again(stand: Stand) -> None:
    """Going back between two tests stores none of them."""
    stand(*TWO)
    while stand.view()["next"]["kind"] == "check":
        stand.resume("1")
    before = stand.told()
    out = stand.resume("1", "1", "b")
    assert stand.told() == before
    assert out.count("REPEAT TEST") == 2


# --- ends ----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("how", wording.ENDINGS)
def test_other_proper_endings(stand: Stand, how: str) -> None:
    """Each is one key behind x, is stored, and is said."""
    place = list(wording.ENDINGS).index(how) + 1
    out = stand(*SOUND, "x", str(place))
    assert stand.told()[-1] == ("ended", {"how": how, "found": []})
    assert f"is over: {wording.ENDINGS[how]}." in " ".join(out.split())
    assert wording.ASK_LOOSE not in out


@pytest.mark.parametrize("key", ["", "b"])
def test_not_ending_after_all(stand: Stand, key: str) -> None:
    """Enter or back leads back to the question; nothing is taken back."""
    stand(*SOUND, "x", key)
    assert [kind for kind, _ in stand.told()] == ["opened", "complaint", "profile"]


def test_an_ending_warns_where_the_bike_must_not_be_ridden(stand: Stand) -> None:
    """A rider who declines is told: do not ride."""
    out = stand(*WOBBLES, "3", "", "x", "3")
    assert out.count(wording.VERDICT["stop"]) == 2
    assert "is over: the rider does not want it done." in " ".join(out.split())


def test_an_ended_job_says_how_it_ended(stand: Stand) -> None:
    """Coming back to it says so; Enter or the end of the input leaves it as it is."""
    stand(*SOUND, "x", "3")
    ended = stand.told()
    for lines in ((), ("2",), ("b",), ("q",)):
        out = stand.resume(*lines)
        assert "is over: the rider does not want it done." in " ".join(out.split())
        assert stand.code == 0
    assert stand.told() == ended


def test_an_ended_job_can_be_opened_again(stand: Stand) -> None:
    """It goes on where it was."""
    stand(*SOUND, "x", "3")
    stand.resume("1", "1")
    kinds = [kind for kind, _ in stand.told()]
    assert kinds[-2:] == ["reopened", "answer"]
    assert stand.view()["ended"] is None


HAND_OFF = ("", "wobbles", "1", "", "2", "")


def hand_off(stand: Stand) -> None:
    """A job in which a fall has pitted the races: a hand-off before riding."""
    stand(*HAND_OFF)
    desk = stand.desk()
    desk.submit(stand.case, events.answered("look-at-races", "mechanic", "pitted"))


def test_a_hand_off_shows_to_whom_why_and_the_note(stand: Stand) -> None:
    """Capitals first, then to whom, how urgent and why, and the note that goes along."""
    hand_off(stand)
    out = " ".join(stand.resume().split())
    for words in (
        wording.HAND_ON,
        "To a workshop with the tools for it, before riding.",
        "Why: The hub shell may be cracked after the fall.",
        wording.NOTE,
        "Complaint: Wheel wobbles.",
        "signs of a fall",
    ):
        assert words in out


def test_a_hand_off_ends_the_job_or_leaves_it(stand: Stand) -> None:
    """Handed on: the job is over; not yet: it is left and stays open."""
    hand_off(stand)
    out = stand.resume("2", "")
    assert f"--case {stand.case}" in out
    assert stand.view()["ended"] is None
    out = stand.resume("1")
    assert stand.view()["ended"] == "handed-off"
    assert "is over: handed on to somebody else." in " ".join(out.split())


# --- leaving and coming back ---------------------------------------------------------------------------------------


def test_the_end_of_the_input_saves_and_leaves(stand: Stand) -> None:
    """Piped lines are answers; where they end the job is kept, and the exit code is 0."""
    for count in range(len(LOOSE_AXLE) + 1):
        out = stand(*LOOSE_AXLE[:count])
        assert stand.code == 0
        assert not stand.err
        if count:
            assert f"--case {stand.case}" in out


def test_what_is_loose_is_noted_and_read_back(stand: Stand) -> None:
    """Leaving asks for it; coming back reads it before anything else."""
    stand(*SOUND, "q", "front wheel out, stem bolts finger-tight")
    assert stand.view()["loose"] == "front wheel out, stem bolts finger-tight"
    out = stand.resume()
    assert "SEE TO THIS FIRST, left loose or apart: front wheel out, stem bolts finger-tight" in " ".join(out.split())


def test_a_note_of_what_is_loose_outlives_a_second_leaving(stand: Stand) -> None:
    """Only Enter: still so; another line replaces it; a dash says that all is tight."""
    stand(*SOUND, "q", "front wheel out")
    out = stand.resume("q", "")
    assert "Noted as loose or apart: front wheel out" in out
    assert stand.view()["loose"] == "front wheel out"
    stand.resume("q", "chain off")
    assert stand.view()["loose"] == "chain off"
    stand.resume("q", "-")
    assert stand.view()["loose"] is None


def test_what_is_open_is_said_on_leaving_and_coming_back(stand: Stand) -> None:
    """A hub that was opened for a look is named, as far as the answers tell."""
    stand(*SOUND)
    stand.desk().submit(stand.case, events.answered("look-at-races", "mechanic", "smooth"))
    out = stand.resume("q", "")
    assert "Open right now: hub opened, wheel out." in out
    assert "Open when it was left: hub opened, wheel out." in " ".join(out.split())


def test_leaving_a_dangerous_bike_says_to_tag_it(stand: Stand) -> None:
    """A bike that must not be ridden is tagged."""
    out = stand(*WOBBLES, "3", "", "q", "")
    assert f"Tag it: {wording.VERDICT['stop']}" in out


def test_open_jobs_are_listed_first(stand: Stand) -> None:
    """Without --new the open ones come first, the last worked on on top; a number goes on, Enter begins a new one."""
    stand("first bike", "wobbles", "1")
    first = stand.case
    stand("second bike", "grinds", "1")
    second = stand.case
    out = stand("2", options=())
    assert out.index(second) < out.index(first)
    assert f"Job {first}, first bike" in out
    out = stand("", "third bike", options=())
    assert "write it on the tag" in out
    for lines in (("q",), ("b",), ()):
        stand(*lines, options=())
        assert stand.code == 0


def test_coming_back_says_what_was_told_last(stand: Stand) -> None:
    """Job number, label and the last answer are read back."""
    stand("blue bike", *WOBBLES[1:], "3", "", "1")
    out = stand.resume()
    assert f"Job {stand.case}, blue bike" in out
    assert "Last told: how the axle is held: closed and tight" in out


def test_a_wrong_job_number_is_one_message_with_near_ones(stand: Stand) -> None:
    """Exit 2, one line, and the job that was meant."""
    stand("blue bike", "wobbles", "1")
    case = stand.case
    slip = case[:-1] + ("0" if case[-1] != "0" else "1")
    stand(options=("--case", slip))
    assert stand.code == 2
    assert not stand.out
    assert len(stand.err.splitlines()) == 1
    assert f"Did you mean {case} (blue bike)?" in stand.err
    stand(options=("--case", "\x1b[31m\n"))
    assert (stand.code, "\x1b" in stand.err) == (2, False)


# --- tools and skill -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("named", ["cone-spanners", "cone spanners", " Cone  SPANNERS"])
def test_a_missing_tool_closes_what_needs_it(stand: Stand, named: str) -> None:
    """A tool is named by its id or its name; no fix that needs it is in the plan."""
    stand(*SOUND, options=("--new", "--without", named))
    assert stand.view()["plan"]
    assert all("cone spanners" not in item["tools"] for item in stand.view()["plan"])


def test_an_unknown_tool_names_the_nearest(stand: Stand) -> None:
    """Exit 2, one line, the nearest tool; nothing is opened."""
    stand(options=("--new", "--without", "torque-rench"))
    assert stand.code == 2
    assert len(stand.err.splitlines()) == 1
    assert "torque-wrench" in stand.err or "torque wrench" in stand.err
    assert not stand.store.exists()
    stand(options=("--new", "--without", "[bold]\x1b[31m"))
    assert (stand.code, "\x1b" in stand.err) == (2, False)


def test_at_home_hands_off_what_only_a_mechanic_can_do(stand: Stand) -> None:
    """Where a mechanic is the only way, the bike is handed on, with what to bring and how to leave it."""
    stand("", "grinds", "1", "", "1", options=("--new", "--at-home"))
    while stand.view()["next"]["kind"] != "hand-off":
        stand.resume("c" if stand.view()["next"]["kind"] == "check" else "2")
    out = " ".join(stand.resume().split())
    assert wording.HAND_ON in out
    assert wording.BRING in out
    assert all(item["skill"] == "rider" for item in stand.view()["plan"])


def test_a_job_keeps_the_bench_it_was_opened_with(stand: Stand) -> None:
    """Tools and skill named for a job that goes on are said to have no effect."""
    stand(*SOUND)
    out = stand(options=("--case", stand.case, "--at-home"))
    assert wording.KEEPS_BENCH in " ".join(out.split())
    assert stand.view()["skill"] == "mechanic"


# --- two hands, and a store that fails -----------------------------------------------------------------------------


def answer_from_elsewhere(stand: Stand, monkeypatch: pytest.MonkeyPatch) -> None:
    """Let another process answer the job's question just before the next event is stored."""
    append, case = SqliteStore.append, stand.case

    def late(self: SqliteStore, *args: Any) -> Event:
        monkeypatch.setattr(SqliteStore, "append", append)
        stand.desk().submit(case, events.answered("try-axle", "mechanic", "tight"))
        return append(self, *args)

    monkeypatch.setattr(SqliteStore, "append", late)


def test_a_conflict_is_said_once_and_the_job_reread(stand: Stand, monkeypatch: pytest.MonkeyPatch) -> None:
    """Somebody else answers first: one clear message, their answer stands, nothing is lost, and the job goes on."""
    stand(*WOBBLES, "3", "")
    answer_from_elsewhere(stand, monkeypatch)
    out = stand.resume("2", "c")
    assert " ".join(out.split()).count("was changed somewhere else") == 1
    answers = [data for kind, data in stand.told() if kind == "answer"]
    assert answers[0]["value"] == "tight"
    assert len(answers) == 2
    assert answers[1]["check"] != "try-axle"


def test_back_never_takes_back_what_somebody_else_told(stand: Stand, monkeypatch: pytest.MonkeyPatch) -> None:
    """A back that comes too late is a conflict too."""
    stand(*WOBBLES, "3", "")
    answer_from_elsewhere(stand, monkeypatch)
    out = stand.resume("b")
    assert "was changed somewhere else" in " ".join(out.split())
    assert [one["value"] for one in stand.view()["answers"]] == ["tight"]


@pytest.mark.parametrize("code", ["store.full", "store.read-only", "store.disk"])
def test_a_store_that_cannot_be_written_ends_in_one_message(
    stand: Stand, monkeypatch: pytest.MonkeyPatch, code: str
) -> None:
    """Exit 2, one line on the error output; what was stored before is safe."""
    stand(*WOBBLES, "3", "")
    before = stand.told()

    def full(self: SqliteStore, *args: object) -> None:
        raise StoreError(code, "The disk is full: this was not stored.", None, "Make room.")

    with monkeypatch.context() as patch:
        patch.setattr(SqliteStore, "append", full)
        stand.resume("1")
    assert stand.code == 2
    assert stand.err == "The disk is full: this was not stored. Make room.\n"
    assert stand.told() == before


def test_a_store_that_is_a_folder_or_junk_is_one_message(stand: Stand, tmp_path: Path) -> None:
    """Exit 2 and one line each."""
    junk = tmp_path / "junk"
    junk.write_text("this is no store of jobs, and longer than a header needs to be, much longer than that, really so")
    for place in (tmp_path, junk):
        stand("label", options=("--store", str(place)))
        assert stand.code == 2
        assert len(stand.err.splitlines()) == 1


# --- what anybody may type -----------------------------------------------------------------------------------------

NASTY = (
    "[bold]red[/bold] [link=x]",
    "\x1b[31mred\x1b]0;title\x07",
    "emoji 🚲👩‍🔧 café",
    "\u202eoverride \u2066isolate",
    "שלום עולם",
    "word " * 380,
    "x" * 1990,
    "\udcff\udc80 surrogates",
    "tab\tand\x0bvertical\x0c",
    "{case} %s %(x)s \\N{BULLET}",
)


@pytest.mark.parametrize("text", NASTY)
def test_a_label_and_a_note_never_break_the_screen(stand: Stand, text: str) -> None:
    """Label and what is loose come back as typed, as far as it can be shown; no escape reaches the terminal."""
    out = stand(text, *WOBBLES[1:], "1", "q", text)
    out += stand.resume("q", "") + stand("q", options=())
    assert stand.code == 0
    assert not set(out) & set("\x1b\x07\u202e\u2066\x0b\x0c")
    out.encode("utf-8")
    if "[bold]" in text:
        assert "[bold]red[/bold]" in out


def test_a_line_that_is_too_long_is_cut_not_split(stand: Stand) -> None:
    """The rest of an over-long line is dropped: it never becomes further answers."""
    stand("y" * 9000, "wobbles", "1", "", "1")
    assert [kind for kind, _ in stand.told()] == ["opened", "complaint", "profile"]


def test_bytes_that_are_no_text_are_taken(stand: Stand) -> None:
    """Broken UTF-8, a byte-order mark, CR LF and NUL among the lines end nothing."""
    stand.piped(b"\xef\xbb\xbflabel\xff\xfe\r\n\x00\x80\r\nwobbles\r\n1\r\n\r\n\xc3\r\n1\r\n")
    assert stand.code == 0
    assert stand.told()[-1] == ("profile", {"fact": "arrival", "values": ["nothing"]})
    assert (stand.view()["case"] or "").startswith("label")


@pytest.mark.parametrize("columns", [30, 40, 60, 100])
def test_no_line_is_wider_than_the_screen(stand: Stand, columns: int) -> None:
    """At 40 and 60 columns, and even at 30, every line fits; on a wide screen lines stay readable."""
    keys = ("w", "l", "p", "h", "1")
    out = stand("a label", *WOBBLES[1:], "3", "", *keys, "q", "x", columns=columns)
    out += stand.resume(columns=columns)
    hand_off(stand)
    out += stand.resume(columns=columns) + stand(*LOOSE_AXLE, "1", "1", columns=columns)
    command = " diagnose stand --case"  # to be copied, so never broken
    assert max(len(line) for line in out.splitlines() if not line.startswith(command)) <= min(columns, 76)


def test_plain_is_ascii_alone(stand: Stand) -> None:
    """With --plain nothing beyond ASCII is printed, and N·m and lbf·in stay readable."""
    out = stand("Müller 🚲", *LOOSE_AXLE[1:], "l", options=("--new", "--plain"))
    assert out.isascii()
    assert "8 to 15 N.m (71 to 133 lbf.in)" in out
    assert "Mueller ?" in stand("1", options=("--plain",))


@pytest.mark.parametrize("closed", ["<&-", ">&-", "<&- >&- 2>&-"])
def test_closed_standard_streams_end_nothing(stand: Stand, closed: str) -> None:
    """A closed input is an empty one, a closed output is written to nowhere: exit 0, as at the end of the input."""
    command = f'"$0" -m diagnose stand --new --rules "$1" --store "$2" {closed}'
    words = ["sh", "-c", command, sys.executable, str(SMALL), str(stand.store)]
    done = subprocess.run(words, cwd=CLONE, stdin=subprocess.DEVNULL, capture_output=True, text=True, check=False)
    assert (done.returncode, done.stderr) == (0, "")
