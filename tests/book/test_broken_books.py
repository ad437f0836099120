"""What `diagnose rules check` says of a book with something wrong in it, word by word."""

from __future__ import annotations

import os
import re
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest

from diagnose.book.load import read_book
from diagnose.book.shelf import load_book
from diagnose.errors import BookError
from diagnose.front.main import main
from tests.book.broken_books import BROKEN, lay, lay_small, names, told

PLACED = re.compile(r"book/\S.*?:\d+:\d+: (?:error|warning): .+ \[[a-z0-9]+\.[a-z0-9-]+\]")


@pytest.mark.parametrize("name", names())
def test_a_broken_book_is_told_as_agreed(name: str, tmp_path: Path) -> None:
    """Every problem stands in the golden file, and nothing else does."""
    assert told(lay(name, tmp_path)) == (BROKEN / f"{name}.txt").read_text(encoding="utf-8")


def test_no_golden_file_is_left_over() -> None:
    """Each text belongs to a broken book."""
    assert sorted(path.stem for path in BROKEN.glob("*.txt")) == names()


@pytest.mark.parametrize("name", names())
def test_each_message_has_a_place_and_they_are_sorted(name: str) -> None:
    """File, line and column stand before each message, in that order; only then comes the sum."""
    *lines, total, code = (BROKEN / f"{name}.txt").read_text(encoding="utf-8").splitlines()
    found = [line for line in lines if not line.startswith(("The book ", "By kind: ", "    Why: "))]
    assert all(PLACED.fullmatch(line) for line in found)
    assert all(after.startswith("    Why: ") for line, after in pairwise([*lines, total]) if PLACED.fullmatch(line))
    places = [re.match(r"(.+?):(\d+):(\d+):", line) for line in found]
    keys = [(place[1], int(place[2]), int(place[3])) for place in places if place]
    assert keys == sorted(keys)
    errors = sum(": error: " in line for line in found)
    assert total.startswith(f"{errors} error")
    assert code == ("exit 1" if errors else "exit 0")


def test_the_small_book_has_nothing_wrong(tmp_path: Path) -> None:
    """What the broken books differ from is sound, so that each golden file shows its own fault."""
    assert told(lay_small(tmp_path)).endswith("0 errors, 0 warnings.\nexit 0\n")


@pytest.mark.parametrize("name", ["many-at-once", "no-book-yaml", "wrong-type"])
def test_a_book_with_errors_is_never_handed_out(name: str, tmp_path: Path) -> None:
    """Loading raises the first problem and says how many more there are."""
    folder = lay(name, tmp_path)
    book, problems = read_book(folder)
    assert book is None
    with pytest.raises(BookError) as caught:
        load_book(folder)
    assert caught.value.location == problems[0].where
    assert f"(and {len(problems) - 1} more)" in caught.value.message


def test_no_tag_runs_code(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A tag that would call a function is only text that is refused."""

    def ran(*_: object) -> None:
        pytest.fail("a tag was carried out")

    monkeypatch.setattr(os, "system", ran)
    assert "[yaml.tag]" in told(lay("tag-that-would-run-code", tmp_path))


# Files too large or too odd to be kept in the folder of broken books


def test_a_file_of_ten_megabytes_is_refused_without_reading_it_all(tmp_path: Path) -> None:
    """The limit is told; the rest of the book is still checked."""
    folder = lay("unknown-fact", tmp_path)
    (folder / "parts.yaml").write_bytes(b"a: b\n" * 2_000_000)
    said = told(folder)
    assert (
        "book/parts.yaml:1:1: error: the file has more than the 1,000,000 bytes that a file here may have. "
        "Split it: one file a cause or a case. [file.too-big]\n" in said
    )
    assert "there is no fact 'headest'" in said


@pytest.mark.parametrize(
    "text",
    ["a: " + "[" * 100_000 + "]" * 100_000, "{a: " * 100_000, "- " * 100_000 + "x", "? " * 100_000],
    ids=["lists", "mappings", "list in a line", "keys"],
)
def test_a_file_nested_a_hundred_thousand_deep_is_refused(text: str, tmp_path: Path) -> None:
    """No recursion is exhausted: reading stops at the first level too deep."""
    folder = lay_small(tmp_path)
    (folder / "parts.yaml").write_text(text, encoding="utf-8")
    assert re.search(r"book/parts\.yaml:1:\d+: error: nested deeper than 40 levels\. .+ \[yaml\.deep\]", told(folder))


def test_a_word_of_a_megabyte_is_not_repeated(tmp_path: Path) -> None:
    """A message stays a line that can be read, and nothing takes long over the word."""
    folder = lay_small(tmp_path)
    word = "1,1." * 240_000
    (folder / "cautions.yaml").write_text(f'pinch: "{word}"\n{"x" * 30_000}: y\n', encoding="utf-8")
    assert all(len(line) < 400 for line in told(folder).splitlines())


def test_a_pipe_is_not_waited_for(tmp_path: Path) -> None:
    """What is no ordinary file is told instead of read."""
    folder = lay_small(tmp_path)
    os.mkfifo(folder / "front" / "tools.yaml")
    assert "book/front/tools.yaml:1:1: error: this is no ordinary file." in told(folder)


def test_a_link_that_leads_nowhere_is_told(tmp_path: Path) -> None:
    """A file that is named but not there is not passed over."""
    folder = lay_small(tmp_path)
    (folder / "front" / "tools.yaml").symlink_to("gone.yaml")
    assert "book/front/tools.yaml:1:1: error: there is no such file." in told(folder)


def test_an_unreadable_file_hides_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The rights are told; what the file would hold is not missed elsewhere."""
    folder = lay("unknown-fact", tmp_path)
    opened = Path.open

    def refuse(path: Path, *arguments: Any, **named: Any) -> object:
        if path.name == "tools.yaml":
            raise PermissionError(13, "Permission denied")
        return opened(path, *arguments, **named)

    monkeypatch.setattr(Path, "open", refuse)
    assert told(folder) == (
        "book/front/causes/stem-loose.yaml:3:11: error: there is no fact 'headest'. Did you mean 'headset'? "
        "[id.unknown]\n"
        "    Why: What hangs on it would never happen, and nobody would notice.\n"
        "book/tools.yaml:1:1: error: cannot be read: Permission denied. Check the file's rights. [file.unreadable]\n"
        "    Why: What it says would be missing from the book without a word.\n"
        "The book cannot be used as it is; the closer look waits until the errors are mended.\n"
        "2 errors, 0 warnings.\n"
        "exit 1\n"
    )


def refuse_to_list(monkeypatch: pytest.MonkeyPatch, name: str) -> None:
    """Make a folder of this name unreadable, also for a user who may read everything."""
    scandir = os.scandir

    def refuse(path: str) -> object:
        if Path(path).name == name:
            raise PermissionError(13, "Permission denied", path)
        return scandir(path)

    monkeypatch.setattr(os, "scandir", refuse)


def test_an_unreadable_folder_in_the_book_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A folder that cannot be listed is a problem of its own and hides no other."""
    folder = lay("tab", tmp_path)
    (folder / "rear").mkdir()
    refuse_to_list(monkeypatch, "rear")
    assert told(folder) == (
        "book/front/causes/stem-loose.yaml:12:1: error: a tab where YAML wants spaces. Indent with spaces. [yaml.tab]\n"
        "    Why: A tab is as wide as each editor likes, so nobody can tell what the line belongs to.\n"
        "book/rear:1:1: error: this folder cannot be read: Permission denied. Check the folder's rights. "
        "[book.unreadable]\n"
        "    Why: What stands in it would be missing from the book without a word.\n"
        "The book cannot be used as it is; the closer look waits until the errors are mended.\n"
        "2 errors, 0 warnings.\n"
        "exit 1\n"
    )


def test_an_unreadable_book_is_a_wrong_use(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Nothing can be said of a folder that cannot be listed."""
    folder = lay_small(tmp_path)
    refuse_to_list(monkeypatch, "book")
    assert (
        told(folder) == "book:1:1: this folder cannot be read: Permission denied. Check the folder's rights.\nexit 2\n"
    )


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ("nowhere", "nowhere: there is no such folder. Name the folder that holds book.yaml.\n"),
        ("book/book.yaml", "book/book.yaml: this is a file, not a folder. Name the folder that holds book.yaml.\n"),
        ("book/book.yaml/x", "book/book.yaml/x: there is no such folder. Name the folder that holds book.yaml.\n"),
        ("empty", "empty: this folder holds no .yaml file. Name the folder that holds book.yaml.\n"),
    ],
)
def test_what_is_no_book_is_a_wrong_use(
    given: str, said: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """A folder that is missing, a file, or without rules ends with 2 and says what to name instead."""
    lay_small(tmp_path)
    (tmp_path / "empty").mkdir()
    monkeypatch.chdir(tmp_path)
    assert main(["rules", "check", given]) == 2
    assert capsys.readouterr() == ("", said)
