"""`diagnose stand` with piped answers: fixes with their results, and how a job ends."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from diagnose.book.place import shipped_rules
from diagnose.casework import events
from diagnose.casework.casefile import case_reader, read_case
from diagnose.casework.desk import Desk
from diagnose.casework.events import Draft
from diagnose.casework.store import SqliteStore
from diagnose.front import wording
from diagnose.front.results import RepeatTests
from diagnose.reason.reasoner import Reasoner
from tests.front.conftest import LOOSE_AXLE, SOUND, WOBBLES, Stand
from tests.shipped import shipped_book

CASES = Path(__file__).parents[2] / "cases"

# --- fixes ---------------------------------------------------------------------------------------------------------


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
    stand(*LOOSE_AXLE, "4")
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
    out = stand.resume("4", "b", "4", "2")
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


@pytest.mark.parametrize(("eye", "first", "warned"), [("3", "2", True), ("3", "1", False), ("1", "2", False)])
def test_nobody_rides_for_a_test_while_the_danger_is_there(stand: Stand, eye: str, first: str, warned: bool) -> None:
    """Where the bike is not to be ridden and the first complaint is still there, the second test says not to ride."""
    stand(*TWO[:-1], eye, "")
    for _ in range(20):
        if stand.view()["next"]["kind"] != "check":
            break
        stand.resume("1")
    assert (stand.view()["ride"]["verdict"] == "stop") == (eye == "3")
    out = " ".join(stand.resume("1", first, "1").split())
    assert (wording.TEST_NOT_RIDDEN in out) == warned


def held_by(*reasons: list[str]) -> dict[str, Any]:
    """A View of a bike that is not to be ridden, for reasons that belong to these complaints each."""
    seen = [{"conclusion": "seen", "complaints": reason} for reason in reasons]
    return {"ride": {"verdict": "stop", "because": [*seen, {"conclusion": None, "complaints": ["skips"]}]}}


def test_nobody_rides_to_test_one_repair_while_another_complaint_holds_the_bike() -> None:
    """The steering holds it and the chain was renewed: its test is not ridden, and the steering's is not made."""
    tests = RepeatTests(["skips"], ["steers"], held_by(["steers"]))
    assert tests.left() == ["skips"]
    assert tests.not_ridden("skips")
    tests.tell("skips", "gone")
    assert tests.left() == []


def test_a_danger_of_both_is_over_with_the_one_that_was_mended() -> None:
    """A loose wheel held it whatever it came for: seated, the other noise is tried again before it is hunted."""
    tests = RepeatTests(["rubs"], ["pings"], held_by(["rubs", "pings"]))
    assert tests.left() == ["rubs"]
    tests.tell("rubs", "gone")
    assert tests.left() == ["pings"]


def test_what_holds_the_bike_is_tested_first() -> None:
    """Both were mended at once: the steering before the chain, whose test is ridden once the steering is gone."""
    tests = RepeatTests(["skips", "steers"], ["squeals"], held_by(["steers"]))
    assert tests.left() == ["steers", "skips"]
    assert not tests.not_ridden("steers")
    assert tests.not_ridden("skips")
    tests.tell("steers", "gone")
    assert not tests.not_ridden("skips")
    assert tests.left() == ["skips", "squeals"]
    tests.tell("skips", "still-there")
    assert tests.results() == {"steers": "gone", "skips": "still-there"}


def test_back_among_the_tests_shows_the_fix_again(stand: Stand) -> None:
    """Going back between two tests takes back what was told of them, one after the other."""
    stand(*TWO)
    while stand.view()["next"]["kind"] == "check":
        stand.resume("1")
    before = stand.standing()
    out = stand.resume("1", "1", "b", "b")
    assert stand.standing() == before
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
    assert [kind for kind, _ in stand.standing()] == ["opened", "complaint", "profile"]


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


def test_a_hand_off_shows_to_whom_why_and_the_note(stand: Stand) -> None:
    """Capitals first, then to whom, how urgent and why, and the note that goes along."""
    stand.hand_off()
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
    stand.hand_off()
    out = stand.resume("2", "")
    assert f"--case {stand.case}" in out
    assert stand.view()["ended"] is None
    out = stand.resume("1")
    assert stand.view()["ended"] == "handed-off"
    assert "is over: handed on to somebody else." in " ".join(out.split())


# --- a danger that the last look shows -----------------------------------------------------------------------------


def cured_and_pitted(stand: Stand) -> None:
    """The axle was loose after a fall, it is closed and the wobble gone; then the races are seen to be pitted."""
    stand("", "wheel is loose", "1", "", "2", "", "2", "2", "1")
    stand.desk().submit(stand.case, events.answered("look-at-races", "mechanic", "pitted"))


def test_a_danger_at_the_last_look_ends_in_a_hand_off(stand: Stand) -> None:
    """What was found is said, to whom it goes and why; the job is handed on, with the cause that was found."""
    cured_and_pitted(stand)
    out = " ".join(stand.resume("1").split())
    assert "found at the stand: axle not tight" in out
    assert wording.HAND_ON in out
    assert "Why: The hub shell may be cracked after the fall." in out
    assert wording.OR_MEND_IT not in out
    assert wording.FINAL_CHECK not in out
    assert stand.told()[-1] == ("ended", {"how": "handed-off", "found": ["axle-loose"]})


# --- what a look under First showed ---------------------------------------------------------------------------------


def cones_next(stand: Stand) -> str:
    """The axle was closed already, nobody looked at it: setting the cones comes next, the axle looked at first."""
    stand(*SOUND)
    stand.desk().submit(stand.case, events.fix_done("close-axle", {"wheel-wobbles": "still-there"}))
    return stand.resume("1", "2", "1")


def test_what_a_look_before_a_fix_showed_is_told_at_the_fix(stand: Stand) -> None:
    """The look is named under First; its answer is told like any other, and the fix is chosen anew with it."""
    out = cones_next(stand)
    assert wording.FIRST.format(text="Wheel on the ground: is the axle closed and tight?") in out
    assert f"5  {wording.TELL_LOOK}" in out
    out = stand.resume("5", "1")
    assert stand.told()[-1] == ("answer", {"check": "try-axle", "by": "mechanic", "value": "tight"})
    shown = out[out.rindex("FIX: Set the hub bearings") :]
    assert "First: " not in shown
    assert wording.TELL_LOOK not in shown


def test_back_from_such_a_look_leads_to_the_fix_again(stand: Stand) -> None:
    """What counts is as it was before."""
    cones_next(stand)
    before = stand.standing()
    out = stand.resume("5", "b")
    assert "FIX: Set the hub bearings" in out[out.rindex("closed and tight?\n") - 1200 :]
    assert stand.standing() == before


def test_a_job_left_in_such_a_look_goes_on_with_it(stand: Stand) -> None:
    """The key that follows answers the look; it is never taken for a repeat test that passed."""
    cones_next(stand)
    stand.resume("5")
    out = stand.resume("1")
    assert "FIX: " not in out[: out.index("closed and tight?")]
    assert stand.told()[-1] == ("answer", {"check": "try-axle", "by": "mechanic", "value": "tight"})


def worked_case(desk: Desk, name: str, besides: tuple[str, ...] = ()) -> str:
    """A job in which all that this worked case tells was told, and other complaints `besides`."""
    case = read_case(CASES / name, desk.book, case_reader(desk.book))
    job = desk.open()
    for told in (*map(events.complaint, (case.complaints[0], *besides)), events.no_more()):
        desk.submit(job, told)
    for one in case.told:
        if one.kind in ("profile", "answer"):
            desk.submit(job, Draft(one.kind, one.data))
    return job


def test_a_look_of_several_readings_is_read_to_its_end(stand: Stand, monkeypatch: pytest.MonkeyPatch) -> None:
    """One reading after the other, before the fix is shown again: on the shipped book, a chain before its new link."""
    monkeypatch.setattr(f"{Stand.__module__}.SMALL", shipped_rules())
    desk = Desk(Reasoner(shipped_book()), SqliteStore(stand.store))
    stand.case = worked_case(desk, "noises/tick-as-you-pedal-look-along-the-chain.yaml")
    out = stand.resume("1", "5", "24")
    assert out.count("FIX: ") == 1
    out = stand.resume("305 mm")  # left between two readings: the second one is asked for
    assert out.count("FIX: ") == 1  # after the last reading
    assert stand.told()[-1][1]["check"] == "measure-chain"
    assert stand.told()[-1][0] == "answer"


@pytest.mark.parametrize("bare", [True, False])
def test_a_fix_tells_what_this_bike_wants_alone(stand: Stand, bare: bool) -> None:
    """A thorn in a child's front tyre: no motor, no back-pedal arm, no pinch; a rear wheel with a hub gear has them."""
    desk = Desk(Reasoner(shipped_book()), SqliteStore(stand.store))
    facts = {"bike-kind": "child", "which-wheel": "front", "axle": "nuts", "brake": "rim"}
    if not bare:
        facts = {"bike-kind": "city", "which-wheel": "rear", "axle": "nuts", "brake": "coaster", "shifting": "hub-gear"}
    stand.case = desk.open()
    for told in (events.complaint("flat-tyre"), events.no_more(), events.profile("tyre-system", ["tube"])):
        desk.submit(stand.case, told)
    for fact, value in {"arrival": "nothing", "recent-work": "none", **facts}.items():
        desk.submit(stand.case, events.profile(fact, [value]))
    looks = {"look-over-casing": "stuck", "look-at-rim-tape": "good"} if bare else {"look-over-casing": "sound"}
    for check, value in looks.items():
        desk.submit(stand.case, events.answered(check, "mechanic", value))
    (item,) = [one for one in desk.view(stand.case)["plan"] if one["fix"] == "replace-tube"]
    told_of = "\n".join(line for step in item["steps"] for line in (step["text"], *step["cautions"]))
    for words in (
        "motor sits",
        "Two slits",
        "Rim tape:",
        "hub brake's arm",
        "hub gear's cable",
        "Brake in the hub, back-pedal",
    ):
        assert (words in told_of) != bare, words
    assert "Nuts: a tab washer" in told_of


# --- what was found beside and is not done --------------------------------------------------------------------------


def test_what_is_still_open_is_listed_as_the_job_ends(stand: Stand, monkeypatch: pytest.MonkeyPatch) -> None:
    """A check-over whose tyres were pumped: the lamp's wire and the slack chain stand on the last screens."""
    monkeypatch.setattr(f"{Stand.__module__}.SMALL", shipped_rules())
    desk = Desk(Reasoner(shipped_book()), SqliteStore(stand.store))
    stand.case = desk.open()
    for told in (events.complaint("check-over"), events.no_more()):
        desk.submit(stand.case, told)
    for fact, value in {"arrival": "nothing", "shifting": "hub-gear", "drive": "chain", "recent-work": "none"}.items():
        desk.submit(stand.case, events.profile(fact, [value]))
    for check, value in {"follow-lamp-wire": "hurt", "press-both-tyres": "soft", "look-over-casing": "sound"}.items():
        desk.submit(stand.case, events.answered(check, "mechanic", value))
    desk.submit(stand.case, events.measured("measure-chain-slack", "mechanic", 25, "mm", "25"))
    desk.submit(stand.case, events.fix_done("pump-both-tyres", {"check-over": "gone"}))
    found = {one["fix"] for one in desk.view(stand.case)["also"]}
    assert found == {"renew-lamp-wire", "set-single-chain-slack"}
    desk.submit(stand.case, events.ended("cured", ["tyres-too-soft"]))
    out = stand.resume("2")
    assert wording.ALSO_OPEN in out
    assert "New wire, laid clear" in out


def test_a_fix_amid_a_round_does_not_end_it(stand: Stand, monkeypatch: pytest.MonkeyPatch) -> None:
    """Loose nuts found on a check-over: clamped at once; that they hold is told, and the round goes on."""
    monkeypatch.setattr(f"{Stand.__module__}.SMALL", shipped_rules())
    desk = Desk(Reasoner(shipped_book()), SqliteStore(stand.store))
    stand.case = worked_case(desk, "checkover/front-nuts-loose-a-spanner-now.yaml")
    out = stand.resume("1", "1")
    assert ("fix", {"fix": "tighten-axle", "results": {"check-over": "better"}}) in stand.told()
    assert wording.DONE_GONE not in out
    assert "REPEAT TEST" not in out
    assert "Press both tyres hard with the thumb" in out[out.rindex("fully home and tight") :]


def test_a_round_beside_a_trouble_is_not_tested_amid_it(stand: Stand, monkeypatch: pytest.MonkeyPatch) -> None:
    """A check-over and a squeal, loose nuts clamped: the round goes on and is not said to be over."""
    monkeypatch.setattr(f"{Stand.__module__}.SMALL", shipped_rules())
    desk = Desk(Reasoner(shipped_book()), SqliteStore(stand.store))
    stand.case = worked_case(desk, "checkover/front-nuts-loose-a-spanner-now.yaml", besides=("brake-noise",))
    while desk.view(stand.case)["wanted"]:
        stand.resume("1")
    assert desk.view(stand.case)["next"]["id"] == "tighten-axle"
    out = stand.resume("1")
    ((_, told),) = [one for one in stand.told() if one[0] == "fix"]
    assert told["results"]["check-over"] == "better"
    assert wording.TEST_OF.format(name=desk.book.complaints["check-over"].name) not in out
