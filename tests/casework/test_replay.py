"""Case files run against a book: each kind of expectation, holding and failing, and the View that comes with it."""

from __future__ import annotations

import json
import os
from pathlib import Path
from typing import Any

import pytest

from diagnose.book.shelf import load_book
from diagnose.casework.casefile import CaseFile, CaseProblemsError, Event, read_case
from diagnose.casework.fold import fold
from diagnose.casework.replay import find_cases, replay
from diagnose.casework.view import make_view
from diagnose.errors import BookError, CaseError, Location
from diagnose.reason.reasoner import Reasoner
from tests.book.broken_books import lay_small
from tests.casework.broken_cases import small_book
from tests.contract import Json, check_view

KNOCK = """case: "A knock after a new stem"
profile: {headset: threadless, recent-work: [stem]}
complaints: [front-knock]
answers: {finger-across-gap: clear, measure-gap: 3.5 mm, turn-bars: smooth}
"""
CURED = KNOCK + "fixes: [{fix: set-preload, result: gone}]\n"
GAP = KNOCK.replace("3.5 mm", "0 mm")
THREADED = KNOCK.replace("threadless", "threaded").replace(" measure-gap: 3.5 mm,", "")
ENOUGH = {"top": "preload-lost", "ride": "care", "next": "set-preload"}


@pytest.fixture(scope="module")
def reasoner() -> Reasoner:
    """The small book, ready to reason."""
    return Reasoner(small_book())


@pytest.fixture
def run(reasoner: Reasoner, tmp_path: Path) -> Any:
    """The View of a case with these expectations."""

    def view(case: str, expect: dict[str, Any]) -> Json:
        path = tmp_path / "case.yaml"
        path.write_text(f"{case}expect: {json.dumps(expect, ensure_ascii=False)}\n", encoding="utf-8")
        return replay(reasoner, read_case(path, reasoner.book))

    return view


@pytest.mark.parametrize(
    ("case", "expect", "holds"),
    [
        (KNOCK, {"top": "preload-lost"}, True),
        (KNOCK, {"top": "gap-wrong"}, False),
        (KNOCK, {"top": "something-else"}, False),
        (KNOCK, {"top": {"front-knock": "preload-lost"}}, True),
        (KNOCK, {"top": {"front-knock": "gap-wrong"}}, False),
        (GAP, {"top": "gap-wrong"}, True),
        (KNOCK, {"in_first_three": ["bearings-worn"]}, True),
        (THREADED, {"in_first_three": ["preload-lost"]}, False),
        (KNOCK, {"share": {"cause": "preload-lost", "low": "0.9", "high": "1"}}, True),
        (KNOCK, {"share": {"cause": "preload-lost", "low": "0", "high": "0.9"}}, False),
        (KNOCK, {"share": {"cause": "something-else", "low": "0.001", "high": "0.1"}}, True),
        (THREADED, {"share": {"cause": "preload-lost", "low": "0", "high": "0"}}, True),
        (KNOCK, {"next": "set-preload"}, True),
        (KNOCK, {"next": "correct-gap"}, False),
        (CURED, {"next": "done"}, True),
        (CURED, {"next": "hand-off"}, False),
        (KNOCK, {"ride": "care"}, True),
        (KNOCK, {"ride": "stop"}, False),
        (KNOCK, {"plan_order": ["set-preload", "correct-gap"]}, True),
        (KNOCK, {"plan_order": ["correct-gap", "set-preload"]}, False),
        (KNOCK, {"plan_order": ["set-preload", "replace-bearings"]}, False),
        (KNOCK, {"hand_off": "workshop"}, False),
        (THREADED, {"ruled_out": ["preload-lost", "gap-wrong"]}, True),
        (KNOCK, {"ruled_out": ["preload-lost"]}, False),
        (KNOCK, {"never": ["replace-bearings"]}, True),
        (KNOCK, {"never": ["set-preload"]}, False),
        (KNOCK, {"never": ["preload-lost"]}, False),
        (KNOCK, {"questions_at_most": "3"}, True),
        (KNOCK, {"questions_at_most": "2"}, False),
    ],
)
def test_each_kind_of_expectation_can_hold_and_can_fail(
    case: str, expect: dict[str, Any], holds: bool, run: Any
) -> None:
    """The case holds only where all of them do."""
    view = run(case, {**ENOUGH, **expect})
    (kind,) = expect
    found = [one["holds"] for one in view["expectations"] if one["path"] == kind]
    assert all(found) is holds
    assert found
    assert view["holds"] is all(one["holds"] for one in view["expectations"])


def test_a_list_is_expected_one_by_one(run: Any) -> None:
    """So that the failure names the one that is missing."""
    view = run(THREADED, {**ENOUGH, "ruled_out": ["preload-lost", "bearings-worn"]})
    found = [(one["expected"], one["holds"]) for one in view["expectations"] if one["path"] == "ruled_out"]
    assert found == [("preload-lost", True), ("bearings-worn", False)]


def test_the_canary_fails(run: Any) -> None:
    """A case that expects what is wrong does not hold: the comparison is not asleep."""
    view = run(KNOCK, {"top": "bearings-worn", "ride": "ride", "next": "hand-off"})
    assert [one["holds"] for one in view["expectations"]] == [False, False, False]
    assert view["holds"] is False


def test_a_failed_expectation_says_what_was_found(run: Any) -> None:
    """Beside what was expected."""
    view = run(KNOCK, {**ENOUGH, "top": "gap-wrong", "share": {"cause": "gap-wrong", "low": "0.5", "high": "1"}})
    top, share = (next(one for one in view["expectations"] if one["path"] == path) for path in ("top", "share"))
    assert (top["expected"], top["found"]) == ("gap-wrong", "preload-lost")
    assert share["expected"] == "gap-wrong 0.5 to 1"
    assert share["found"] < 0.05


@pytest.mark.parametrize("case", [KNOCK, CURED, GAP, THREADED])
def test_every_view_keeps_the_contract(case: str, run: Any) -> None:
    """All keys, shares that sum to 1, sorted; what is ruled out stands apart."""
    view = run(case, ENOUGH)
    check_view(view)
    json.dumps(view, allow_nan=False)


def test_a_ruled_out_cause_stands_in_ruled_out_only(run: Any) -> None:
    """With the deduction that ruled it out; what is left sums to 1 without it."""
    view = run(THREADED, ENOUGH)
    ruled_out = {one["cause"]: one["conclusion"] for one in view["ruled_out"]}
    named = {one["id"] for one in view["complaints"][0]["causes"]}
    assert "preload-lost" not in named
    assert set(ruled_out.values()) <= {"threaded-has-no-cap"}


def test_the_same_case_gives_the_same_view(run: Any) -> None:
    """To the last digit."""
    assert json.dumps(run(KNOCK, ENOUGH)) == json.dumps(run(KNOCK, ENOUGH))


def test_a_stale_answer_is_kept_and_marked(run: Any) -> None:
    """A fix disturbs what its cause speaks to; the rest still counts."""
    view = run(KNOCK + "fixes: [{fix: set-preload, result: still-there}]\n", ENOUGH)
    assert [(one["check"], one["stale"]) for one in view["answers"]] == [
        ("finger-across-gap", True),
        ("measure-gap", True),
        ("turn-bars", False),
    ]


def test_an_event_that_the_book_does_not_know_names_the_file(reasoner: Reasoner) -> None:
    """A stored case may be older than the book; it is kept, and told as a problem with a place."""
    told = (Event("opened", {"role": "mechanic", "skill": "mechanic"}), Event("complaint", {"id": "front-hum"}))
    with pytest.raises(CaseError) as caught:
        replay(reasoner, CaseFile("An older case", "old.yaml", told, {}, 0))
    assert caught.value.code == "case.unknown-id"
    assert caught.value.location == Location("old.yaml", 1, 1)
    assert "'front-hum'" in caught.value.message


def test_an_older_case_runs_under_the_new_names(tmp_path: Path) -> None:
    """`formerly:` says what a check was called: the stored answer counts, a case file is told the new name."""
    findings = lay_small(tmp_path) / "front" / "findings.yaml"
    text = findings.read_text(encoding="utf-8").replace(
        "    turn-bars:\n", "    turn-bars:\n      formerly: spin-bars\n"
    )
    findings.write_text(text, encoding="utf-8")
    renamed = Reasoner(load_book(tmp_path / "book", cache=False))
    answer = {"check": "spin-bars", "value": "notchy", "by": "mechanic"}
    told = (
        Event("opened", {"role": "mechanic", "skill": "mechanic"}),
        Event("complaint", {"id": "front-knock"}),
        Event("answer", answer),
    )
    view = make_view(renamed, fold(renamed.book, told))
    assert [one["check"] for one in view["answers"]] == ["turn-bars"]
    path = tmp_path / "case.yaml"
    path.write_text(KNOCK.replace("turn-bars", "spin-bars") + "expect: {top: preload-lost}\n", encoding="utf-8")
    with pytest.raises(CaseProblemsError) as caught:
        read_case(path, renamed.book)
    assert "It is now called 'turn-bars'." in {problem.hint for problem in caught.value.problems}


# Which files are cases


def test_the_files_of_a_folder_are_found_sorted(tmp_path: Path) -> None:
    """In folders below too, with either ending; hidden files and others are left alone."""
    for name in ("b/two.yaml", "b/.hidden.yaml", "a.yaml", "c.yml", "notes.txt", ".git/x.yaml"):
        path = tmp_path / name
        path.parent.mkdir(exist_ok=True)
        path.write_text("x", encoding="utf-8")
    found = [path.relative_to(tmp_path).as_posix() for path in find_cases(tmp_path)]
    assert found == ["a.yaml", "b/two.yaml", "c.yml"]


def test_a_single_file_is_taken_whatever_its_name(tmp_path: Path) -> None:
    """Reading it will say what is wrong with it, also that it is missing."""
    assert find_cases(tmp_path / "x.case") == [tmp_path / "x.case"]


def test_a_folder_without_cases_is_an_error(tmp_path: Path) -> None:
    """Checking nothing is no success."""
    with pytest.raises(CaseError) as caught:
        find_cases(tmp_path)
    assert caught.value.code == "case.none"


def test_a_folder_that_cannot_be_read_hides_no_other(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """It is told, or raised where nobody listens; the others are found."""
    for name in ("a", "b"):
        (tmp_path / name).mkdir()
        (tmp_path / name / "x.yaml").write_text("x", encoding="utf-8")
    scandir = os.scandir

    def refuse(path: str) -> object:
        if Path(path).name == "a":
            raise PermissionError(13, "Permission denied", path)
        return scandir(path)

    monkeypatch.setattr(os, "scandir", refuse)
    told: list[BookError] = []
    assert find_cases(tmp_path, told.append) == [tmp_path / "b" / "x.yaml"]
    assert [str(why.location) for why in told] == [f"{tmp_path.as_posix()}/a:1:1"]
    with pytest.raises(BookError):
        find_cases(tmp_path)
