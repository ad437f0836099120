"""`diagnose stand` with piped answers, from the complaint through the questions: each line is one."""

from __future__ import annotations

import pytest

from diagnose.book.place import shipped_rules
from diagnose.front import wording
from diagnose.front.main import main
from tests.front.conftest import SMALL, SOUND, WOBBLES, Stand

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


def test_of_several_matches_one_is_taken_at_a_time(stand: Stand) -> None:
    """The line asks for one; several numbers at once tell nothing, and one of them is taken after that."""
    out = " ".join(stand("", "wheel", "2 1", "1", "").split())
    assert " ".join(wording.ASK_COMPLAINT.split()) in out
    assert "One thing" in wording.ASK_COMPLAINT
    assert "That does nothing here" in out
    assert [kind for kind, _ in stand.standing()].count("complaint") == 1


def test_up_to_three_complaints(stand: Stand) -> None:
    """Two more may follow; the same one twice is said to be noted; after three no more are asked for."""
    out = stand("", "wobbles", "1", "wobbles", "1", "grinds", "1", "ticking", "1")
    told = [data["id"] for kind, data in stand.told() if kind == "complaint"]
    assert told == ["wheel-wobbles", "wheel-grinds", "wheel-ticks"]
    assert wording.NOTED_BEFORE in out
    assert out.count(wording.ASK_MORE) == 2
    assert "what catches your eye?" in out


def test_a_second_complaint_in_the_same_words_is_taken_by_its_number(stand: Stand) -> None:
    """What the first words told beside is offered by number, and need not be typed again; words still go."""
    out = stand("", "wheel moves from side to side and tick tick tick from the spokes", "1", "2", "grinds", "1")
    assert wording.IN_THE_SAME_WORDS in out
    assert [data["id"] for kind, data in stand.told() if kind == "complaint"] == [
        "wheel-ticks",
        "wheel-wobbles",
        "wheel-grinds",
    ]
    assert out.count(wording.IN_THE_SAME_WORDS) == 1
    assert wording.IN_THE_SAME_WORDS not in stand("", "wheel moves from side to side", "1", "")


def test_back_and_leave_work_before_the_complaint(stand: Stand) -> None:
    """Back has nowhere to go, leaving keeps the job, every other key says that the complaint comes first."""
    out = stand("label", "b", "w", "p", "a", "h", "q")
    assert wording.NO_BACK in out
    assert wording.FIRST_COMPLAINT in out
    assert wording.SAFETY.split(",")[0] in out
    assert f"--case {stand.case}" in out
    assert stand.code == 0


def test_the_rider_says_which_complaint_is_the_worst(stand: Stand) -> None:
    """The first counts so until a number names another; screens, list and sheet keep that order, and back takes it."""
    stand("", "wobbles", "1", "grinds", "1", "2", "", "1")
    assert [one["id"] for one in stand.view()["complaints"]] == ["wheel-grinds", "wheel-wobbles"]
    (job,) = stand.desk().store.cases()
    assert job.complaints == ("wheel-grinds", "wheel-wobbles")
    for command in ("show", "sheet", "rider-note"):
        given = ["--rules", str(SMALL), "--store", str(stand.store)]
        assert main(["jobs", command, *given, stand.case]) == 0
        out = " ".join(stand.capsys.readouterr().out.split())
        ranked = [out.index(f"{place}. Wheel {name}") for place, name in ((1, "grinds"), (2, "wobbles"))]
        assert ranked == sorted(ranked)
    stand.resume("b", "b", "b", "q", "")
    assert [one["id"] for one in stand.view()["complaints"]] == ["wheel-wobbles", "wheel-grinds"]


def test_back_walks_through_the_complaints(stand: Stand) -> None:
    """From the walk round the bike: to "anything else?", then the second and the first complaint are taken back.

    What the words of each may mean is offered again before the words are taken back too.
    """
    out = stand("", "wobbles", "1", "grinds", "1", "", "b", *("b", "b"), *("b", "b"), "ticking", "1")
    assert out.count("Taken back: Wheel") == 2
    assert stand.view()["complaints"][0]["id"] == "wheel-ticks"
    assert len(stand.view()["complaints"]) == 1


# --- the bike ------------------------------------------------------------------------------------------------------


def test_several_eye_catchers_keep_their_keys(stand: Stand) -> None:
    """Where several may hold each takes one key, keys stay with their texts, Enter ends it."""
    out = stand(*WOBBLES, "2", "3", "2", "")
    assert ("profile", {"fact": "arrival", "values": ["crash", "wheel-not-held"]}) in stand.told()
    assert "That does nothing here" in out  # 2 is taken already


def test_what_was_typed_of_the_bike_is_not_asked(stand: Stand) -> None:
    """It is said what was understood; of what may be so beside it the rest is asked for."""
    out = stand("7, quick release", "wheel is loose since the crash", "1", "", "3", "")
    assert "Taken from what was typed: arrival: signs of a fall; axle: quick release. Wrong? b" in " ".join(out.split())
    assert "Noted: signs of a fall." in out
    heard = [data for kind, data in stand.told() if kind == "profile"]
    assert heard[:2] == [
        {"fact": "arrival", "values": ["crash"], "heard": True},
        {"fact": "axle", "values": ["quick-release"], "heard": True},
    ]
    assert stand.view()["profile"] == {"arrival": ["crash", "wheel-not-held"], "axle": ["quick-release"]}


def test_of_what_was_heard_one_is_taken_back_and_asked(stand: Stand) -> None:
    """It is chosen which; the rest counts, and what was taken back is not heard again."""
    crash = ("7, quick release", "wheel is loose since the crash", "1", "")
    out = stand(*crash, "b", "1", "b", "b", "", "1")
    assert out.count("Which of what was taken is wrong?") == 1  # the one that is left is taken back at once
    assert out.count("Taken from what was typed") == 1
    assert [data for kind, data in stand.standing() if kind == "profile"] == [
        {"fact": "arrival", "values": ["nothing"]}
    ]
    stand(*crash, "b", "1", "1")
    assert stand.view()["profile"] == {"arrival": ["nothing"], "axle": ["quick-release"]}


def test_what_was_heard_wrong_is_asked_again_after_leaving(stand: Stand) -> None:
    """The list is what comes on coming back, so that a number typed then means a line of it."""
    crash = ("7, quick release", "wheel is loose since the crash", "1", "")
    stand(*crash, "b")
    assert "Which of what was taken is wrong?" in stand.resume("q", "")
    assert "Taken back: arrival" in stand.resume("1")
    assert [data for kind, data in stand.standing() if kind != "opened"][-1]["fact"] == "axle"
    stand(*crash, "b")
    stand.resume("b")
    assert stand.view()["profile"] == {"arrival": ["crash"], "axle": ["quick-release"]}


@pytest.mark.parametrize(("keys", "left"), [(("b", ""), []), (("b", "b"), ["arrival", "axle"])])
def test_all_that_was_heard_is_taken_back_or_none(stand: Stand, keys: tuple[str, ...], left: list[str]) -> None:
    """Enter takes back all of it, another b none."""
    stand("7, quick release", "wheel is loose since the crash", "1", "", *keys)
    assert [data["fact"] for kind, data in stand.standing() if kind == "profile"] == left


def test_a_question_of_what_was_done_names_it(stand: Stand, monkeypatch: pytest.MonkeyPatch) -> None:
    """On the shipped book: "was this done for the trouble" stands below what is meant."""
    monkeypatch.setattr(f"{Stand.__module__}.SMALL", shipped_rules())
    out = stand("7, mountain bike, hydraulic disc, brake bled", "lever comes to the bar", "1", "", "1")
    assert "Noted: brake bled or opened.\n\nWas this done for the very trouble" in out


def test_words_that_were_typed_anew_are_heard(stand: Stand) -> None:
    """What the words of a complaint say that was let go counts no more."""
    out = stand("7", "wheel is loose", "1", "b", "", "wheel is loose since the crash", "1", "")
    assert out.count("Taken from") == 1
    assert stand.view()["profile"] == {"arrival": ["crash"]}


def test_one_more_complaint_is_heard_too(stand: Stand) -> None:
    """Whatever was asked meanwhile stands."""
    stand(*WOBBLES, "1", "m", "grinding noise from the wheel, through axle", "1")
    assert stand.view()["profile"] == {"arrival": ["nothing"], "axle": ["through-axle"]}


def test_what_the_rider_said_is_not_asked(stand: Stand) -> None:
    """It counts as the rider's answer, can be taken back, and is asked then."""
    stand("7", "wheel squeaks in the rain", "1", "", "1")
    assert ("answer", {"check": "ask-when", "by": "rider", "value": "wet", "heard": True}) in stand.told()
    assert "Taken from what was typed: when it is heard: only when wet." in " ".join(stand.out.split())
    assert "When is it heard?" not in stand.out
    stand("7", "wheel squeaks in the rain", "1", "", "b", "1")
    assert "Taken back: when it is heard: only when wet" in " ".join(stand.out.split())
    assert "answer" not in [kind for kind, _ in stand.standing()]


def test_nothing_stands_alone(stand: Stand) -> None:
    """The answer that nothing catches the eye asks for no other."""
    out = stand(*WOBBLES, "1")
    assert wording.ANOTHER not in out
    assert ("profile", {"fact": "arrival", "values": ["nothing"]}) in stand.told()


def test_back_from_several_asks_for_the_fact_anew(stand: Stand) -> None:
    """Going back among several values takes one back after the other; the complaint stands."""
    stand(*WOBBLES, "2", "3", "b", "b", "4", "")
    assert stand.told()[-1] == ("profile", {"fact": "arrival", "values": ["tyre-damaged"]})
    assert [kind for kind, _ in stand.standing()] == ["opened", "complaint", "profile", "profile"]


@pytest.mark.parametrize("end", [("q", ""), ()])
def test_leaving_among_several_values_keeps_those_that_were_told(stand: Stand, end: tuple[str, ...]) -> None:
    """By the key or by the end of the input; they count at once, and going on asks for further ones only."""
    stand(*WOBBLES, "2", "3", *end)
    assert stand.view()["profile"]["arrival"] == ["crash", "wheel-not-held"]
    assert stand.view()["ride"]["verdict"] != "ride"
    out = stand.resume("")
    assert out.count("what catches your eye?") == 1  # what was last told
    assert out.count(wording.ANOTHER) == 1
    told = {"fact": "arrival", "values": ["crash", "wheel-not-held"]}
    assert [data for kind, data in stand.told() if kind == "profile"][1:] == [{**told, "more": True}, told]


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
        assert "That does nothing here. Keys: 1 to 2, c, b, w, l, p, a, q, h." in " ".join(out.split())


def test_enter_shows_the_question_again(stand: Stand) -> None:
    """An empty line answers nothing."""
    out = stand(*WOBBLES, "3", "", "", "1")
    assert out.count("is the axle closed and") == 2
    assert [kind for kind, _ in stand.told()][-2:] == ["profile", "answer"]


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
    assert [kind for kind, _ in stand.standing()] == ["opened", "complaint", "profile", "profile"]


def test_a_bike_that_is_handed_on_unridden_has_no_plan(stand: Stand) -> None:
    """What is not to be ridden and goes to somebody else: to whom, and no fix or ride to try before that."""
    stand.hand_off()
    view = stand.view()
    assert view["ride"]["verdict"] == "stop"
    told = " ".join(stand.resume("p").split(wording.PLAN)[-1].split())
    assert wording.HANDED_ON_FIRST in told
    assert wording.PLAN_HOW not in told
    assert "workshop" in told


def test_why_a_fact_is_asked(stand: Stand) -> None:
    """At the walk round the bike, why says why that."""
    out = stand(*WOBBLES, "w")
    assert "comes first" in " ".join(out.split())


def test_what_speaks_against_riding_stands_above_a_fact_too(stand: Stand) -> None:
    """Once something that was told holds the bike, the verdict does not wait for the next check."""
    out = " ".join(stand(*WOBBLES, "3", "", "2").split())
    before, asked = out.rsplit("How is that wheel held?", 1)
    assert "DO NOT RIDE." in before.rsplit("\u2500", 1)[1]
    assert "through axle" in asked


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
    stand.resume("a", "set bearings", "1", "1", "2", "2")
    assert ("already", {"fix": "set-cones", "result": "same", "who": "rider", "when": "weeks"}) in stand.told()
    after = {one["id"]: one["share"] for one in stand.view()["complaints"][0]["causes"]}
    assert after["cone-loose"] < before["cone-loose"]


@pytest.mark.parametrize(
    "keys",
    [
        ("",),
        ("b",),
        ("bells", ""),
        ("set bearings", "", ""),
        ("set bearings", "b"),
        ("set bearings", "1", "b", "b"),
        ("set bearings", "1", "", "2", "b", "b", "b", "b"),
    ],
)
def test_going_back_from_already_tells_nothing(stand: Stand, keys: tuple[str, ...]) -> None:
    """Each way back leads to the question, step by step; nothing of it counts, and nothing else is taken back."""
    out = stand(*SOUND, "a", *keys)
    assert [kind for kind, _ in stand.standing()] == ["opened", "complaint", "profile"]
    assert out.splitlines()[-1].startswith(f" diagnose stand --case {stand.case} --rules ")


def test_one_more_complaint_at_any_time(stand: Stand) -> None:
    """A complaint that the rider remembers later is added; the job goes on without asking for others."""
    out = stand(*SOUND, "m", "grinds", "1")
    assert [one["id"] for one in stand.view()["complaints"]] == ["wheel-wobbles", "wheel-grinds"]
    assert out.count(wording.ASK_MORE) == 2
    out = stand.resume("", "m", "ticking", "1", "m")
    assert "3 complaints are taken together" in out
