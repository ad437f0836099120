"""Where the shipped rule book and the worked cases lie.

`shipped_rules` and `shipped_cases` find the copy that the wheel carries inside the package, or, in a clone and an
editable install, the folders beside the package.
"""

from __future__ import annotations

from pathlib import Path

from diagnose.errors import BookError, Location


def shipped_rules() -> Path:
    """The folder of the shipped rule book.

    Raises:
        BookError: `book-missing`, when the installation carries no rule book.
    """
    carried, beside = _package() / "_rules", _package().parent / "rules"
    for place in (carried, beside):
        if (place / "book.yaml").is_file():
            return place
    raise BookError(
        "book-missing",
        "This installation carries no rule book.",
        Location(str(_package())),
        "Install diagnose again, or name a rule book's folder.",
    )


def shipped_cases() -> Path | None:
    """The folder of the worked cases that go with the shipped rule book, or None when there are none."""
    rules = shipped_rules()
    place = rules.with_name("_cases" if rules.name.startswith("_") else "cases")
    return place if place.is_dir() else None


def _package() -> Path:
    return Path(__file__).resolve().parent.parent
