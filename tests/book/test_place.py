"""Where the rule book is looked for: inside an installed package, else beside it."""

from __future__ import annotations

from pathlib import Path

import pytest

from diagnose.book import place
from diagnose.errors import BookError


@pytest.fixture
def package(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A package folder without anything in or beside it."""
    folder = tmp_path / "site" / "diagnose"
    folder.mkdir(parents=True)
    monkeypatch.setattr(place, "_package", lambda: folder)
    return folder


def lay_book(folder: Path) -> Path:
    """Make `folder` look like a rule book."""
    folder.mkdir(parents=True)
    (folder / "book.yaml").write_text("name: test\n", encoding="utf-8")
    return folder


def test_this_clone_finds_its_own_book_and_cases() -> None:
    """Here the folders beside the package are meant."""
    clone = Path(__file__).resolve().parents[2]
    assert place.shipped_rules() == clone / "rules"
    assert place.shipped_cases() == clone / "cases"


def test_the_carried_book_comes_before_a_folder_beside_the_package(package: Path) -> None:
    """An installed copy uses what it carries, whatever else is called rules beside it."""
    lay_book(package.parent / "rules")
    carried = lay_book(package / "_rules")
    cases = package / "_cases"
    cases.mkdir()
    assert place.shipped_rules() == carried
    assert place.shipped_cases() == cases


def test_folders_that_belong_to_others_are_not_taken(package: Path) -> None:
    """Beside an installed package a folder named rules or cases need not be ours."""
    lay_book(package / "_rules")
    (package.parent / "cases").mkdir()
    assert place.shipped_cases() is None


def test_an_installation_without_a_book_says_so(package: Path) -> None:
    """A folder without book.yaml is no rule book; the error names the installation."""
    (package / "_rules").mkdir()
    with pytest.raises(BookError) as caught:
        place.shipped_rules()
    assert caught.value.code == "book-missing"
    assert str(package) in str(caught.value)
