"""The copy of a checked book in the cache folder: the same book, or no copy at all."""

from __future__ import annotations

import json
import os
import shutil
from pathlib import Path

import pytest

from diagnose.book import cache, load
from diagnose.book.cache import cache_folder, decode, encode, recall, remember
from diagnose.book.files import fingerprint, rule_files
from diagnose.book.load import read_book
from diagnose.book.model import Book
from diagnose.book.place import shipped_rules
from diagnose.book.shelf import load_book
from diagnose.casework.casefile import read_case
from diagnose.casework.replay import replay
from diagnose.errors import BookError
from diagnose.reason.reasoner import Reasoner
from tests.book.broken_books import lay, lay_small
from tests.book.spoiled_files import SMALL_CASE


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """The folder of a small book."""
    return lay_small(tmp_path)


def copies() -> list[Path]:
    """What the cache folder holds."""
    return sorted(cache_folder().iterdir()) if cache_folder().is_dir() else []


def forbid_reading(monkeypatch: pytest.MonkeyPatch) -> None:
    """From here on a book can only come out of the cache."""

    def read(_: Path) -> None:
        pytest.fail("the book was read from its files")

    monkeypatch.setattr(load, "read_book", read)


def read_fresh(folder: Path) -> Book:
    """The book as its files say it."""
    book, problems = read_book(folder)
    assert book is not None, problems
    return book


@pytest.mark.parametrize("which", ["small", "shipped"])
def test_a_copy_is_the_book_that_was_read(which: str, folder: Path) -> None:
    """Through JSON and back every object is equal, and of the same class down to tuples and numbers."""
    book = read_fresh(folder if which == "small" else shipped_rules())
    back = decode(json.loads(json.dumps(encode(book))))
    assert back == book
    assert repr(back) == repr(book)


def test_the_second_load_reads_no_rules(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """It comes from the copy and is equal to the first."""
    first = load_book(folder)
    forbid_reading(monkeypatch)
    assert repr(load_book(folder)) == repr(first)


def test_without_the_cache_no_copy_is_made(folder: Path) -> None:
    """Nor is one looked for."""
    assert load_book(folder, cache=False) == read_fresh(folder)
    assert copies() == []


def test_a_book_from_the_cache_replays_the_same(folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """View for view, to the last digit."""
    case = tmp_path / "case.yaml"
    case.write_text(SMALL_CASE, encoding="utf-8")
    fresh = load_book(folder)
    forbid_reading(monkeypatch)
    cached = load_book(folder)
    assert cached is not fresh
    views = [json.dumps(replay(Reasoner(book), read_case(case, book))) for book in (fresh, cached)]
    assert views[0] == views[1]


@pytest.mark.parametrize("change", ["a letter", "a line end", "a new file", "a file less", "another name"])
def test_any_change_to_the_files_is_noticed(change: str, folder: Path) -> None:
    """The fingerprint differs, so that no copy of the older book is taken."""
    before = fingerprint(folder, rule_files(folder))
    tools = folder / "tools.yaml"
    if change == "a letter":
        tools.write_text(tools.read_text(encoding="utf-8").replace("sliding", "slading"), encoding="utf-8")
    elif change == "a line end":
        tools.write_bytes(tools.read_bytes() + b"\n")
    elif change == "a new file":
        (folder / "front" / "tools.yaml").write_text('spanner: "spanner"\n', encoding="utf-8")
    elif change == "a file less":
        (folder / "conclusions.yaml").unlink()
    else:
        tools.rename(folder / "front" / "tools.yaml")
    assert fingerprint(folder, rule_files(folder)) != before


def test_the_fingerprint_does_not_depend_on_the_place(folder: Path, tmp_path: Path) -> None:
    """The same files elsewhere are the same book."""
    shutil.copytree(folder, tmp_path / "elsewhere")
    marks = [fingerprint(place, rule_files(place)) for place in (folder, tmp_path / "elsewhere")]
    assert marks[0] == marks[1]


def test_a_changed_book_is_read_anew(folder: Path) -> None:
    """A broken rule is told although a copy of the sound book lies in the cache."""
    load_book(folder)
    (folder / "tools.yaml").write_text("x: \t&y\n", encoding="utf-8")
    with pytest.raises(BookError):
        load_book(folder)


def test_a_copy_names_the_places_of_its_own_folder(folder: Path, tmp_path: Path) -> None:
    """The same book elsewhere does not point into the first folder."""
    load_book(folder)
    other = shutil.copytree(folder, tmp_path / "elsewhere")
    assert load_book(other).causes["gap-wrong"].where.file.startswith(other.as_posix())


def test_a_book_with_errors_leaves_no_copy(tmp_path: Path) -> None:
    """Only a checked book is kept."""
    with pytest.raises(BookError):
        load_book(lay("unknown-key", tmp_path))
    assert copies() == []


@pytest.mark.parametrize(
    "damage",
    [
        *("emptied", "cut short", "one digit changed", "not text", "another object", "deep", "sealed nonsense"),
        *("sealed tuple", "sealed class unknown", "sealed with a field less"),
    ],
)
def test_a_damaged_copy_is_no_copy(damage: str, folder: Path) -> None:
    """The book is read from its files, and the copy put right."""
    book = load_book(folder)
    (path,) = copies()
    whole = path.read_bytes()
    path.write_bytes(spoilt(whole, damage))
    assert recall(book.fingerprint, [folder]) is None
    assert load_book(folder) == book
    assert path.read_bytes() == whole


def spoilt(whole: bytes, damage: str) -> bytes:
    """A copy's bytes after some damage."""
    _, _, text = whole.partition(b"\n")
    sealed = {
        "sealed nonsense": b"{",
        "sealed tuple": b'["", 1]',
        "sealed class unknown": b'["Wheel", 1]',
        "sealed with a field less": json.dumps(json.loads(text)[:-3]).encode(),
        "another object": b'["Teardown", "a", "b", 1, 2, null, ["@", "f", 1, 1]]',
        "deep": b"[" * 100_000,
    }
    if damage in sealed:
        return cache._seal(sealed[damage]) + b"\n" + sealed[damage]
    if damage == "one digit changed":
        assert b"0.875" in whole
        return whole.replace(b"0.875", b"0.975", 1)
    return {"emptied": b"", "cut short": whole[: len(whole) // 2], "not text": b"\xff\xfe\x00" * 99}[damage]


def test_a_copy_of_another_book_is_no_copy(folder: Path, tmp_path: Path) -> None:
    """Also where its name says otherwise."""
    book = load_book(folder)
    (path,) = copies()
    other = load_book(lay("shares-far-from-100", tmp_path / "other"))
    (theirs,) = (copy for copy in copies() if copy != path)
    path.write_bytes(theirs.read_bytes())
    assert other.fingerprint != book.fingerprint
    assert recall(book.fingerprint, [folder]) is None


def test_a_copy_of_an_older_program_is_no_copy(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Neither of another version nor of other code that reads the rules."""
    book = load_book(folder)
    assert recall(book.fingerprint, [folder]) is not None
    with monkeypatch.context() as older:
        older.setattr(cache, "__version__", "0.0.0")
        assert recall(book.fingerprint, [folder]) is None
    monkeypatch.setattr(cache, "_reader_mark", lambda: "00000000")
    assert recall(book.fingerprint, [folder]) is None


@pytest.mark.parametrize("how", ["a file stands there", "rights", "full", "no home"])
def test_a_cache_that_cannot_be_written_is_no_error(how: str, folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The book loads, every time from its files."""
    expected = read_fresh(folder)
    if how == "a file stands there":
        cache_folder().parent.mkdir(parents=True, exist_ok=True)
        cache_folder().write_text("mine", encoding="utf-8")
    elif how == "no home":
        monkeypatch.delenv("XDG_CACHE_HOME")
        monkeypatch.setattr(Path, "expanduser", no_home)
    else:
        monkeypatch.setattr(Path, "mkdir" if how == "rights" else "write_bytes", refuse)
    for _ in range(2):
        assert load_book(folder) == expected
    monkeypatch.undo()
    assert [path for path in copies_below(folder.parent) if path.suffix != ".yaml"] == []


def copies_below(place: Path) -> list[Path]:
    """Copies, whole or in parts, anywhere below a folder."""
    return [path for path in place.rglob("book-*") if path.is_file()]


def refuse(*_: object, **__: object) -> None:
    """Stands for a folder without rights or a full disk."""
    raise OSError(28, "No space left on device")


def no_home(_: Path) -> Path:
    """Stands for an account without a home folder."""
    raise RuntimeError("Could not determine home directory.")


def test_only_the_latest_copies_stay(folder: Path) -> None:
    """The folder does not grow with every change to a rule."""
    tools = folder / "tools.yaml"
    for number in range(cache.KEEP + 3):
        tools.write_bytes(tools.read_bytes() + b"\n")
        book = read_fresh(folder)
        remember(book, [folder])
        for path in copies():
            os.utime(path, (path.stat().st_atime, min(path.stat().st_mtime, 1_000_000.0 + number)))
    assert len(copies()) == cache.KEEP
    assert recall(book.fingerprint, [folder]) == book


def test_the_cache_follows_the_users_folder(monkeypatch: pytest.MonkeyPatch, empty_home: Path) -> None:
    """XDG_CACHE_HOME where it is a full path, else .cache in the home folder."""
    assert cache_folder() == empty_home / ".cache" / "diagnose"
    monkeypatch.setenv("XDG_CACHE_HOME", "somewhere")
    assert cache_folder() == empty_home / ".cache" / "diagnose"
    monkeypatch.setenv("XDG_CACHE_HOME", "/elsewhere")
    assert cache_folder() == Path("/elsewhere/diagnose")
