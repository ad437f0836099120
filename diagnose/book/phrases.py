"""Words that tell an answer where they are typed (`told_by`): how they are written, and what is wrong with them.

Cast: `pieces` splits what was typed into what is said in one breath, `runs_on` says which of them go on with the next,
`words_of` splits a piece into its words, and `words_of_phrase` a phrase; `looked_over` reports phrases that could never
be heard.
"""

from __future__ import annotations

import re
from collections.abc import Mapping

from diagnose.book.shape import Reader
from diagnose.errors import Location

_ALL_ROUND = re.compile(r"\b(?:front and (?:rear|back(?![- ]?pedal))|(?:rear|back) and front|both ends)\b")
GAP = "..."
"""Stands in a phrase for a word or two, or none."""
_PIECES = re.compile(r"[,;.:!?()\n+&]|\b(?:but|and|or|plus)\b")

_AND = frozenset({"+", "&", "and", "plus"})


def pieces(text: str) -> list[str]:
    """What is said in one breath, in small letters; of front and rear is said of the whole."""
    return _PIECES.split(_ALL_ROUND.sub("all round", text.lower()))


def runs_on(text: str) -> list[bool]:
    """Of each of the pieces, whether the next goes on with the same: "new chain and cassette last year"."""
    said = _ALL_ROUND.sub("all round", text.lower())
    return [*(one.group() in _AND for one in _PIECES.finditer(said)), False]


def words_of(text: str) -> tuple[str, ...]:
    """The words of a text, without apostrophes and hyphens."""
    return tuple(re.findall(r"[a-z0-9]+", re.sub("['\u2019]", "", text.lower())))


def words_of_phrase(phrase: str) -> tuple[str, ...]:
    """The words of a phrase of the book; `GAP` where a few others may stand between."""
    parts = [words_of(part) for part in phrase.split(GAP)]
    return tuple(word for place, part in enumerate(parts) for word in ((GAP, *part) if place else part))


def looked_over(told_by: Mapping[str, tuple[str, ...]], where: Location, reader: Reader) -> None:
    """Report phrases that are split where they are typed, and those that stand for two answers at once."""
    meant: dict[tuple[str, ...], str] = {}
    for value, phrases in told_by.items():
        for phrase in phrases:
            words = words_of_phrase(phrase)
            if GAP in (*words[:1], *words[-1:]) or not words or any(len(pieces(one)) > 1 for one in phrase.split(GAP)):
                hint = "Words in a row, without a comma or full stop, and without and, or, but: they begin anew there."
                reader.problems.error("phrase.split", where, f'"{phrase}" is never heard as one', hint)
            elif meant.setdefault(words, value) != value:
                hint = "Leave it with one of them, or out: who types it is asked."
                message = f'"{phrase}" stands for {meant[words]} and for {value}'
                reader.problems.error("phrase.twice", where, message, hint)
