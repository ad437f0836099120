"""What the words say of the bike that were typed for it and its complaint: facts that nobody need be asked for.

Cast: `facts_heard`; the words that tell a value stand with the fact in the book (`told_by`). What is denied or wished
for is not heard, nor a fact of which the words say two things, or something of one end of the bike only.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from typing import NamedTuple

from diagnose.book.conditions import holds
from diagnose.book.model import Book

_NOT = frozenset(
    "no not without never isnt dont doesnt hasnt havent wasnt need needs want wants should must buy get another".split()
)
"""Words before which nothing is told that follows within `REACH`."""
_END = frozenset("front rear back".split())
"""Said up to two words before, or right behind: of one end, the other may be otherwise."""
REACH = 3
"""So many words after one that denies are about it."""
_PIECES = re.compile(r"[,;.:!?()\n+&]|\b(?:but|and|or)\b")


class _Said(NamedTuple):
    fact: str
    value: str
    words: tuple[str, ...]


def facts_heard(
    book: Book, label: str, words: Sequence[str] = (), complaints: Sequence[str] = ()
) -> dict[str, tuple[str, ...]]:
    """Facts that were told by words, each with its values in the book's order.

    Args:
        book: the rule book.
        label: what was typed for the bike.
        words: what was typed for its complaints.
        complaints: the ids of these. Of several each may be about its own end, so what says which is not heard.
    """
    told: defaultdict[str, set[str | None]] = defaultdict(set)
    phrases = _phrases(book)
    for text in (label, *words):
        for piece in _PIECES.split(text.lower()):
            for said, all_of_it in _heard(phrases, _words(piece)):
                fact = book.facts[said.fact]
                if fact.on_label:
                    told[fact.id].add(said.value if all_of_it else None)
                elif text is not label:
                    told[fact.id].add(said.value)
    idle = _idle(book, complaints)
    heard: dict[str, tuple[str, ...]] = {}
    for name, fact in book.facts.items():
        values = tuple(value for value in fact.values if value in told[name])
        if not values or None in told[name] or name in idle:
            continue
        if (len(values) == 1 or fact.several) and holds(fact.applies, heard):
            heard[name] = values
    return heard


def _idle(book: Book, complaints: Sequence[str]) -> set[str]:
    """Facts of the trouble that are of no use here: they bear on no cause of it, or tell which of several is meant."""
    which = {other for fact in book.facts.values() for meant in fact.means.values() for other in meant}
    causes = {cause.id for complaint in complaints for cause in book.causes_of.get(complaint, ())}
    others = {
        name
        for name, fact in book.facts.items()
        if not (fact.on_label or fact.several or name in which) and causes.isdisjoint(book.bearing[name])
    }
    return others | (which if len(complaints) > 1 else set())


def _heard(phrases: Mapping[str, Sequence[_Said]], words: Sequence[str]) -> Iterator[tuple[_Said, bool]]:
    """What a piece tells, and whether of the whole bike; of words within others of another meaning the longer count."""
    places: list[tuple[int, int, _Said]] = []
    for place, word in enumerate(words):
        for said in (*phrases.get(word, ()), *phrases.get(word.removesuffix("s"), ())):
            end = place + len(said.words)
            if len(words) >= end and all(map(_is, words[place:end], said.words)):
                places.append((place, end, said))
    for start, end, said in places:
        longer = any(a <= start and end <= b and (a, b) != (start, end) for a, b, _ in places)
        if not longer and _NOT.isdisjoint(words[max(start - REACH, 0) : start]):
            yield said, _END.isdisjoint((*words[max(start - 2, 0) : start], *words[end : end + 1]))


def _is(typed: str, word: str) -> bool:
    """Whether a typed word is one of a phrase, or its plural."""
    return typed == word or typed == word + "s"


def _words(text: str) -> tuple[str, ...]:
    """The words of a text, without apostrophes and hyphens."""
    return tuple(re.findall(r"[a-z0-9]+", re.sub("['\u2019]", "", text.lower())))


_last: list[tuple[Book, dict[str, list[_Said]]]] = []
"""The phrases of the book that was asked last."""


def _phrases(book: Book) -> Mapping[str, Sequence[_Said]]:
    """The phrases of all facts by their first word."""
    if not _last or _last[0][0] is not book:
        found: defaultdict[str, list[_Said]] = defaultdict(list)
        for fact in book.facts.values():
            for value, phrases in fact.told_by.items():
                for words in filter(None, map(_words, phrases)):
                    found[words[0]].append(_Said(fact.id, value, words))
        _last[:] = [(book, dict(found))]
    return _last[0][1]
