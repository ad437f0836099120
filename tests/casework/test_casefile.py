"""Case files: what is told of a broken one, word by word, and what a sound one becomes."""

from __future__ import annotations

import os
import re
from pathlib import Path
from typing import Any

import pytest

from diagnose.book.model import Book
from diagnose.casework.casefile import CaseProblemsError, Event, case_reader, read_case
from diagnose.errors import CaseError
from tests.casework.broken_cases import BROKEN, names, small_book, told

PLACED = re.compile(r"[a-z0-9-]+\.yaml:\d+:\d+: error: .+ \[[a-z0-9]+[.-][a-z0-9-]+\]")


@pytest.fixture(scope="module")
def book() -> Book:
    """The small book of the rule-book tests."""
    return small_book()


def write(place: Path, text: str) -> Path:
    """A case file."""
    path = place / "case.yaml"
    path.write_text(text, encoding="utf-8")
    return path


def events(place: Path, book: Book, text: str) -> list[Event]:
    """The events of a case of one complaint."""
    start = 'case: "One bike"\ncomplaints: [front-knock]\n'
    end = "expect: {top: preload-lost, ride: care, next: set-preload}\n"
    return list(read_case(write(place, f"{start}{text}\n{end}"), book).told)


@pytest.mark.parametrize("name", names())
def test_a_broken_case_is_told_as_agreed(name: str, book: Book) -> None:
    """Every problem stands in the golden file, and nothing else does."""
    assert told(BROKEN / f"{name}.yaml", book) == (BROKEN / f"{name}.txt").read_text(encoding="utf-8")


@pytest.mark.parametrize("name", [name for name in names() if name != "sound"])
def test_each_message_has_a_place_and_they_are_sorted(name: str) -> None:
    """File, line and column stand before each message, in that order."""
    lines = (BROKEN / f"{name}.txt").read_text(encoding="utf-8").splitlines()
    assert lines
    assert all(PLACED.fullmatch(line) for line in lines)
    places = [tuple(map(int, line.split(":")[1:3])) for line in lines]
    assert places == sorted(places)


def test_no_golden_file_is_left_over() -> None:
    """Each text belongs to a case file."""
    assert sorted(path.stem for path in BROKEN.glob("*.txt")) == names()


def test_no_tag_runs_code(book: Book, monkeypatch: pytest.MonkeyPatch) -> None:
    """A tag that would call a function is only text that is refused."""

    def ran(*_: object) -> None:
        pytest.fail("a tag was carried out")

    monkeypatch.setattr(os, "system", ran)
    assert "[yaml.tag]" in told(BROKEN / "tag.yaml", book)


@pytest.mark.parametrize(
    ("what", "code"),
    [
        ("missing", "file.missing"),
        ("a folder", "file.folder"),
        ("a pipe", "file.special"),
        ("no rights", "file.unreadable"),
        ("ten megabytes", "file.too-big"),
        ("deep", "yaml.deep"),
        ("a long word", "text.long"),
    ],
)
def test_a_file_that_cannot_be_read_is_told(
    what: str, code: str, book: Book, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """With the first line as its place, and never as another exception."""
    path = tmp_path / "case.yaml"
    if what == "a folder":
        path.mkdir()
    elif what == "a pipe":
        os.mkfifo(path)
    elif what != "missing":
        size = {
            "ten megabytes": "a: b\n" * 2_000_000,
            "deep": "a: " + "[" * 100_000,
            "a long word": f"case: {'x' * 9_999}",
        }
        path.write_text(size.get(what, ""), encoding="utf-8")
    if what == "no rights":
        monkeypatch.setattr(Path, "open", refuse)
    with pytest.raises(CaseProblemsError) as caught:
        read_case(path, book)
    first = caught.value.problems[0]
    assert code in {problem.code for problem in caught.value.problems}
    assert (first.where.file, first.where.line) == (str(path), 1)
    assert isinstance(caught.value, CaseError)
    assert caught.value.location == first.where
    assert len(str(caught.value)) < 600


def refuse(*_: Any, **__: Any) -> None:
    """Stands for a file without rights, also for a user who may read everything."""
    raise PermissionError(13, "Permission denied")


def test_one_reader_serves_many_files(book: Book, tmp_path: Path) -> None:
    """What was wrong with one file is not held against the next."""
    reader = case_reader(book)
    with pytest.raises(CaseProblemsError):
        read_case(BROKEN / "many-at-once.yaml", book, reader)
    assert read_case(BROKEN / "sound.yaml", book, reader).sentence.startswith("A knock")
    with pytest.raises(CaseProblemsError) as caught:
        read_case(BROKEN / "result-word.yaml", book, reader)
    assert len(caught.value.problems) == 1


# What a sound case becomes


def test_the_events_stand_in_the_order_of_a_job(book: Book, tmp_path: Path) -> None:
    """Opened, complaint, profile, what was done before, answers, and each fix with what was looked at after it."""
    found = events(
        tmp_path,
        book,
        "fixes: [{fix: set-preload, result: still-there, answers: {turn-bars: notchy}}]\n"
        "answers: {finger-across-gap: clear}\n"
        "already: [{fix: correct-gap, result: same}]\n"
        "profile: {headset: threadless, recent-work: [stem, fork]}",
    )
    assert [event.kind for event in found] == [
        *("opened", "complaint", "profile", "profile", "already", "answer", "fix", "answer")
    ]
    assert found[0].data == {"role": "mechanic", "skill": "mechanic", "without": []}
    assert found[3].data == {"fact": "recent-work", "values": ["stem", "fork"]}
    assert found[6].data == {"fix": "set-preload", "with": [], "results": {"front-knock": "still-there"}}


@pytest.mark.parametrize(
    ("written", "data"),
    [
        ("measure-gap: 3.5 mm", {"reading": 3.5, "unit": "mm", "typed": "3.5 mm"}),
        ("measure-gap: 0,35 cm", {"reading": 3.5, "unit": "mm", "typed": "0,35 cm"}),
        ("measure-gap: {reading: 1/8 in}", {"reading": 3.175, "unit": "mm", "typed": "1/8 in"}),
        ("measure-gap: right", {"value": "right"}),
        ("measure-gap: can't tell", {"cannot_tell": True}),
        ("turn-bars: can't tell", {"cannot_tell": True}),
        ("turn-bars: {value: notchy, by: rider}", {"value": "notchy", "by": "rider"}),
    ],
)
def test_an_answer_is_a_value_a_reading_or_cannot_tell(
    written: str, data: dict[str, Any], book: Book, tmp_path: Path
) -> None:
    """A reading is kept in the check's unit beside what was typed."""
    answer = events(tmp_path, book, f"answers:\n  {written}")[-1]
    assert answer.data == {"check": written.partition(":")[0], "by": "mechanic", **data}


def test_who_answers_can_be_said_once_for_all(book: Book, tmp_path: Path) -> None:
    """And differently for one answer."""
    found = events(
        tmp_path, book, "by: rider\nanswers: {rider-felt-it: clear, turn-bars: {value: smooth, by: mechanic}}"
    )
    assert [event.data["by"] for event in found if event.kind == "answer"] == ["rider", "mechanic"]
    assert found[0].data["role"] == "rider"


def test_words_of_other_yaml_readers_stay_words(book: Book, tmp_path: Path) -> None:
    """`no` as a sentence is a sentence, and a number is what was written."""
    path = write(
        tmp_path,
        (BROKEN / "sound.yaml").read_text(encoding="utf-8").replace('"A knock after a new stem is lost preload"', "no"),
    )
    assert read_case(path, book).sentence == "no"


def test_a_fix_that_was_not_possible_has_no_result(book: Book, tmp_path: Path) -> None:
    """Two fixes in one go stand in one event."""
    found = events(tmp_path, book, "fixes: [{fix: [correct-gap, set-preload], result: not-possible}]")
    assert found[-1].data == {"fix": "correct-gap", "with": ["set-preload"], "not_possible": True}


def test_every_question_is_counted(book: Book, tmp_path: Path) -> None:
    """Those after a fix too; can't tell is an answer to a question."""
    path = write(
        tmp_path,
        'case: "x"\ncomplaints: [front-knock]\nanswers: {turn-bars: smooth, measure-gap: can\'t tell}\n'
        "fixes: [{fix: set-preload, result: still-there, answers: {finger-across-gap: clear}}]\n"
        "expect: {top: preload-lost, ride: care, next: correct-gap}\n",
    )
    assert read_case(path, book).questions == 3
