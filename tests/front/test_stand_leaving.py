"""`diagnose stand`: leaving and coming back, tools and skill, two hands on one job, a store that fails."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from diagnose.casework import events
from diagnose.casework.store import SqliteStore
from diagnose.errors import StoreError
from diagnose.front import wording
from tests.front.conftest import LOOSE_AXLE, SOUND, WOBBLES, Stand

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


def answer_from_elsewhere(
    stand: Stand, monkeypatch: pytest.MonkeyPatch, before: Callable[..., Any] = SqliteStore.append
) -> None:
    """Let another process answer the job's question just before the next event, or text, is stored."""
    case = stand.case

    def late(self: SqliteStore, *args: Any) -> Any:
        monkeypatch.setattr(SqliteStore, before.__name__, before)
        stand.desk().submit(case, events.answered("try-axle", "mechanic", "tight"))
        return before(self, *args)

    monkeypatch.setattr(SqliteStore, before.__name__, late)


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


def test_a_note_is_no_news_from_elsewhere(stand: Stand, monkeypatch: pytest.MonkeyPatch) -> None:
    """Only where somebody else told something meanwhile is it said; the note is kept either way."""
    news = "was added to this job somewhere else"
    out = stand(*SOUND[:-1], "3", "n", "photo [7]", "", "n", "photo 8")
    assert news not in " ".join(out.split())
    answer_from_elsewhere(stand, monkeypatch, SqliteStore.add_text)
    out = stand.resume("n", "photo 9")
    assert " ".join(out.split()).count(news) == 1
    assert stand.desk().notes(stand.case) == ["photo [7]", "photo 8", "photo 9"]


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
