"""What is wrong with a book or a case file: located problems, collected all at once, with the nearest known word.

Cast: `Problem`, and `Problems`, the list that readers add to.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

from diagnose.errors import BookError, Location


class Problem(NamedTuple):
    """One finding about a file; `severity` is error or warning, `why` tells why it matters where that is not plain."""

    where: Location
    code: str
    message: str
    hint: str
    severity: str = "error"
    why: str = ""


CLOSE = 0.7
"""How alike two words are, of 1, for one to be offered for the other; a slip of one letter in four stays above."""
LONGEST_MESSAGE = 240
"""Characters of a message; what a file holds in one word may be far longer."""


class Problems:
    """Collects problems; hands them out sorted by place."""

    def __init__(self) -> None:
        self._all: list[Problem] = []

    def error(self, code: str, where: Location, message: str, hint: str = "") -> None:
        """Add an error."""
        self._all.append(Problem(where, code, clipped(message), hint))

    def warning(self, code: str, where: Location, message: str, hint: str = "") -> None:
        """Add a warning."""
        self._all.append(Problem(where, code, message, hint, "warning"))

    def take(self, why: BookError) -> None:
        """Add what a reader raised."""
        self.error(why.code, why.location or Location("?"), why.message, why.hint)

    def sorted(self) -> tuple[Problem, ...]:
        """All of them once, by file, line and column."""
        return tuple(sorted(set(self._all)))

    @property
    def errors(self) -> int:
        """How many errors."""
        return sum(problem.severity == "error" for problem in self._all)


def clipped(message: str) -> str:
    """A message, cut where it would be too long to read."""
    return message if len(message) <= LONGEST_MESSAGE else f"{message[: LONGEST_MESSAGE - 3]}..."


def nearest(word: str, known: Iterable[str], most: int = 12) -> str:
    """A hint naming the nearest known word, or all that are known where they are at most `most`; else empty.

    What an own folder calls its own is named as it is written there.
    """
    from difflib import get_close_matches

    choices = sorted({one.rpartition(":")[2] or one for one in known})
    word = word.rpartition(":")[2] or word
    close = get_close_matches(word[:80], choices, n=1, cutoff=CLOSE)
    if close:
        return f"Did you mean '{close[0]}'?"
    if 0 < len(choices) <= most:
        return "Known: " + ", ".join(choices) + "."
    return "" if choices else "None is known."
