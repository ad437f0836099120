"""A rider's words to complaints: near matches, not exact ids.

Cast: `match_complaints(book, text)` ranks the book's complaints by how well their names and rider's sentences fit what was typed.
"""

from __future__ import annotations

import re
from difflib import SequenceMatcher
from functools import lru_cache

from diagnose.book.model import Book, Complaint

LEAST = 0.34
"""Below this score a complaint is no match."""

_FILLER = frozenset(
    "a an and at are as but by for from have has i in is it its me my of on or so some the that then there this to "
    "was when while with bike bicycle something thing gets get does do just like very really always".split()
)
_ENDINGS = ("ings", "ing", "ies", "ed", "es", "er", "ly", "s", "y")
_SAME = {
    "tire": "tyre",
    "puncture": "flat",
    "squeal": "noise",
    "squeak": "creak",
    "rotor": "disc",
    "derailleur": "mech",
    "handlebar": "bar",
    "clunk": "knock",
    "clunking": "knock",
}


def match_complaints(book: Book, text: str, most: int = 6) -> list[tuple[Complaint, float]]:
    """Complaints that fit the typed words, the best first, with a score from 0 to 1."""
    typed = _stems(text)
    if not typed:
        return []
    found = [(complaint, _score(typed, complaint)) for complaint in book.complaints.values()]
    ranked = sorted((one for one in found if one[1] >= LEAST), key=lambda one: (-one[1], one[0].id))
    return ranked[:most]


def _score(typed: tuple[str, ...], complaint: Complaint) -> float:
    """The best fit of a sentence, with a little of how many sentences fit at all."""
    sentences = [complaint.name, *complaint.rider_says]
    scores = sorted((_fit(typed, _stems(sentence)) for sentence in sentences), reverse=True)
    rest = sum(scores[1:4]) / 3 if len(scores) > 1 else 0.0
    return 0.85 * scores[0] + 0.15 * rest


def _fit(typed: tuple[str, ...], sentence: tuple[str, ...]) -> float:
    """How much of what was typed, and of the sentence, is found in the other."""
    if not sentence:
        return 0.0
    hit = sum(max(_alike(word, other) for other in sentence) for word in typed) / len(typed)
    covered = sum(max(_alike(other, word) for word in typed) for other in sentence) / len(sentence)
    return 0.7 * hit + 0.3 * covered


@lru_cache(maxsize=4096)
def _alike(one: str, two: str) -> float:
    """1 for the same word, less for a near one (a slip of the finger), 0 for another."""
    if one == two:
        return 1.0
    if len(one) < 4 or len(two) < 4:
        return 0.0
    ratio = SequenceMatcher(None, one, two).ratio()
    return ratio * 0.9 if ratio >= 0.75 else 0.0


@lru_cache(maxsize=4096)
def _stems(text: str) -> tuple[str, ...]:
    words = re.findall(r"[a-z]+", text.lower().replace("'", ""))
    return tuple(dict.fromkeys(_stem(word) for word in words if word not in _FILLER))


def _stem(word: str) -> str:
    word = _SAME.get(word, word)
    for ending in _ENDINGS:
        if word.endswith(ending) and len(word) - len(ending) >= 3:
            word = word[: -len(ending)]
            break
    if len(word) > 3 and word[-1] == word[-2]:
        word = word[:-1]
    return _SAME.get(word, word)
