"""A mechanic's words to fixes, findings and causes: near matches, not exact ids.

Cast: `match_fixes`, `match_findings` and `match_causes` rank by how well names and sentences of the book fit what was
typed. Words are compared by their stems, by groups of the trade that mean much the same, and by likeness, so that a
slip of the finger does no harm. A word that few entries know counts more than one that all know (inverse document
frequency, Spärck Jones 1972), one that many sentences of an entry have more than one that stands in one (term
frequency), and what says only when it happens, as rain or a hill, counts half. Where several things are said in one
breath, each is looked for by itself too. A rider's words are heard by `complained.py`.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Mapping, Sequence
from functools import lru_cache
from math import log
from operator import mul
from typing import NamedTuple

from diagnose.book.model import Book, Cause, Finding, Fix
from diagnose.casework.speech import OCCASIONS, Words, kindred, likeness, stems

LEAST = 0.16
"""Below this score there is no match."""
BEHIND = 0.4
"""Below this part of the best score it is none either."""
ASIDE = 0.45
"""How much a word counts that stands only behind an entry, not in its own sentences."""
AT_HAND = 0.2
"""What a fix gains that treats a complaint of the job."""
KIN = 0.8
"""How alike two words of one group are."""
ALIKE = 0.78
"""Words of this likeness or more are taken for slips of the finger."""

KNOWN, TOLD, FITS = 0.12, 0.6, 0.28
"""What counts of how well an entry fits: that it knows the words, how many of its sentences do, its best sentence."""
OF_FINDINGS = (0.5, 0.1, 0.4)
"""The same of findings, whose sentences are its answers: one of them is meant."""
AT_HAND_SEEN = 0.15
"""What a finding gains that a cause of the complaint shows."""
WHEN = 0.5
"""How much a word counts that says when or where it happens."""
CLAUSE = 0.9
"""How much counts what a part of what was typed fits, beside the whole."""
LEAST_CLAUSE = 2
"""Words that such a part must have, beside those that say when or where."""

_CLAUSES = re.compile(r"[,;.+&]|\b(?:and|but|also|then|plus)\b", re.IGNORECASE)


def match_fixes(book: Book, text: str, complaints: Collection[str] = (), most: int = 9) -> list[tuple[Fix, float]]:
    """Fixes that fit the typed words, the best first; those of the complaints' own causes are preferred."""
    own = {fix.id: [fix.name] for fix in book.fixes.values()}
    aside = {fix.id: [part.name for name in fix.parts if (part := book.parts.get(name))] for fix in book.fixes.values()}
    here = {rung.fix for name in complaints for cause in book.causes_of.get(name, ()) for rung in cause.ladder}
    ranked = _ranked(text, own, aside, len(own))
    ranked.sort(key=lambda one: (-one[1] - (AT_HAND if one[0] in here else 0.0), one[0]))
    return [(book.fixes[name], score) for name, score in ranked[:most]]


def match_findings(
    book: Book, text: str, complaints: Collection[str] = (), most: int = 9
) -> list[tuple[Finding, float]]:
    """Findings that fit what somebody sees, the best first; those that the complaints' causes show are preferred."""
    findings = {name: one for name, one in book.findings.items() if one.checks}
    behind: dict[str, list[str]] = {name: [] for name in findings}
    for cause in book.causes.values():
        for name in behind.keys() & cause.shows.keys():
            behind[name] += [cause.name, cause.in_short]
    own = {
        name: [f"{one.name} {text}" for text in one.values.values()] + [check.ask for check in one.checks]
        for name, one in findings.items()
    }
    here = {name for one in complaints for cause in book.causes_of.get(one, ()) for name in cause.shows}
    liked = dict.fromkeys(here, AT_HAND_SEEN)
    ranked = _ranked(text, own, behind, len(own), OF_FINDINGS, liked)
    return [(findings[name], score) for name, score in ranked[:most]]


def match_causes(book: Book, text: str, complaints: Collection[str] = (), most: int = 9) -> list[tuple[Cause, float]]:
    """Causes that fit the typed words, the best first; those of the complaints are preferred."""
    own = {one.id: [one.name] for one in book.causes.values()}
    aside = {one.id: [one.in_short] for one in book.causes.values()}
    liked = {cause.id: AT_HAND_SEEN for name in complaints for cause in book.causes_of.get(name, ())}
    ranked = _ranked(text, own, aside, most, OF_FINDINGS, liked)
    return [(book.causes[name], score) for name, score in ranked]


def _ranked(
    text: str,
    own: Mapping[str, list[str]],
    aside: Mapping[str, list[str]],
    most: int,
    parts: tuple[float, float, float] = (KNOWN, TOLD, FITS),
    liked: Mapping[str, float] | None = None,
) -> list[tuple[str, float]]:
    entries = {name: _Entry([stems(one) for one in own[name]], _words_of(aside[name])) for name in own}
    scores = _scores(stems(text), entries, parts)
    for clause in map(stems, _CLAUSES.split(text)):
        if len(set(clause) - OCCASIONS) >= LEAST_CLAUSE and len(clause) < len(stems(text)):
            again = _scores(clause, entries, parts)
            scores = {name: max(scores[name], CLAUSE * score) for name, score in again.items()}
    if liked:
        scores = {name: score + liked.get(name, 0.0) for name, score in scores.items() if score >= LEAST}
    best = max(scores.values(), default=0.0)
    found = [one for one in scores.items() if one[1] >= max(LEAST, BEHIND * best)]
    return sorted(found, key=lambda one: (-one[1], one[0]))[:most]


class _Entry(NamedTuple):
    """The sentences of a complaint or a fix, and the words of what stands behind it."""

    sentences: Sequence[Words]
    far: frozenset[str]


def _scores(typed: Words, entries: Mapping[str, _Entry], parts: tuple[float, float, float]) -> dict[str, float]:
    """How well each entry fits the words, from 0 to 1."""
    likeness = {
        name: [[_best(word, sentence) for word in typed] for sentence in entry.sentences]
        for name, entry in entries.items()
    }
    known = {
        name: [
            max(ASIDE * _best(word, entry.far), *(alike[place] for alike in likeness[name]))
            for place, word in enumerate(typed)
        ]
        for name, entry in entries.items()
    }
    weights = [_weight(word, [one[place] for one in known.values()]) for place, word in enumerate(typed)]
    whole = sum(weights)
    if not whole:
        return dict.fromkeys(entries, 0.0)
    scores = {}
    for name, entry in entries.items():
        told = [sum(one >= KIN for one in column) / len(column) for column in zip(*likeness[name], strict=True)]
        if any(set(typed) == set(sentence) for sentence in entry.sentences):
            scores[name] = 1.0
            continue
        fits = max(
            0.7 * sum(map(mul, weights, alike)) / whole + 0.3 * _covered(sentence, typed)
            for sentence, alike in zip(entry.sentences, likeness[name], strict=True)
        )
        knows, says = (sum(map(mul, weights, one)) / whole for one in (known[name], told))
        scores[name] = sum(map(mul, parts, (knows, says, fits)))
    return scores


def _covered(sentence: Words, typed: Words) -> float:
    """How much of a sentence is found in what was typed."""
    return sum(_best(other, typed) for other in sentence) / len(sentence) if sentence else 0.0


def _weight(word: str, known: Sequence[float]) -> float:
    """What a typed word counts: more where few entries know it; a word that none knows counts like a common one."""
    knowing = sum(one >= KIN for one in known)
    rare = log(1 + len(known) / knowing) if knowing else log(1 + len(known)) / 2
    return rare * (WHEN if word in OCCASIONS else 1.0)


def _best(word: str, among: Iterable[str]) -> float:
    return max((_alike(word, other) for other in among), default=0.0)


@lru_cache(maxsize=262144)
def _alike(one: str, two: str) -> float:
    """1 for the same word, less for one of its group or a near one (a slip of the finger), 0 for another."""
    if one == two:
        return 1.0
    if kindred(one) & kindred(two):
        return KIN
    if len(one) < 4 or len(two) < 4 or abs(len(one) - len(two)) > 3:
        return 0.0
    ratio = likeness(one, two, ALIKE)
    return ratio * 0.9 if ratio >= ALIKE else 0.0


def _words_of(sentences: Iterable[str]) -> frozenset[str]:
    return frozenset(word for sentence in sentences for word in stems(sentence))
