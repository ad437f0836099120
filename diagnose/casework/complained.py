"""A rider's words to complaints: near matches, the likeliest first, and nothing rather than something absurd.

Cast: `match_complaints(book, text)`. A word that few complaints know counts more than one that all know (inverse
document frequency, Spärck Jones 1972), one that says only when or where it happens counts less. A complaint fits by its
nearest sentence, by its nearest three, and by how much the words are its own rather than the others'. One that never
speaks of the part that the rider names falls behind. Where several things are said in one breath, each is looked for by
itself too, about the same part unless it names another. What a rider guesses beside what is seen or heard ("it hops,
the wheel must be bent") counts less: the trouble is looked for where it shows. Of those that fit, those come first that
have words for more of what was said.
"""

from __future__ import annotations

import re
from collections import Counter, defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from functools import cached_property
from math import log

from diagnose.book.conditions import Profile, may_hold
from diagnose.book.model import Book, Cause, Complaint
from diagnose.casework.speech import ALONE, GUESSES, OCCASIONS, PARTS, Words, kindred, likeness, stems

LEAST = 0.3
"""Below this score a complaint is no match."""
BEHIND = 0.62
"""Below this part of the best score it is none either."""
FIRST = 3
"""Among so many stands a complaint that must not be missed."""
GRAVE, NEAR = 0.2, 0.93
"""A complaint of which so many unknown ones are dangerous is offered first where it fits nearly as well as the best.

Of several told in one breath one of which so many bikes must not be ridden comes first.
"""

NEAREST, NEAREST_THREE, OWN = 0.41, 0.24, 0.35
"""What counts of how well a complaint fits."""
TYPED = 0.56
"""What counts of a sentence: how much of the typed words it has; the rest: how much of it was typed."""
KIN = 0.72
"""How alike two words of one group are."""
SLIP = 0.82
"""A word that nobody knows and that is this like one of the book is that word, mistyped."""
MISTYPED = 0.9
"""How alike a mistyped word is to what it is taken for."""
ASIDE = 0.35
"""How much a word is a complaint's own that only its causes know."""
EXPLAINS = 0.5
"""Of those that fit, how much of their order hangs on how much of all that was said they have words for."""
FEW = 6.3
"""So many sentences more each complaint is taken to have: one word in few sentences is no proof."""
WHEN = 0.6
"""How much a word counts that says when or where it happens."""
UNKNOWN = 0.4
"""How much a word counts that no complaint knows, beside the rarest that one knows."""
OTHER_PART = 0.3
"""What is left of a complaint that never speaks of the part."""
PART_KIN, PART_ASIDE = 0.85, 0.7
"""How well it speaks of the part by a word of the same group, and in its causes only."""
CLAUSE = 0.9
"""How much counts what a part of what was typed fits, beside the whole."""
GUESSED = 0.65
"""How much counts what a part of it fits that is the rider's guess, beside what was seen or heard."""
TOLD = 0.6
"""From this score on a part of what was typed tells a complaint of its own."""
LEAST_CLAUSE = 2
"""Words that such a part must have, beside those that say when or where."""

_CLAUSES = re.compile(
    r"[,;.+&]|\b(?:and|but|also|then|plus|now)\b|\b(?=(?:i (?:think|guess|suspect|reckon)|probably|thought)\b)",
    re.IGNORECASE,
)
_ASKS = re.compile(r"^\W*(?:\w+\s+){0,3}\w+\s*\?\W*$")
"""A few words asked at the end ("frame bent?") are a guess as well."""

_NOT = re.compile(
    r"\b(?:no|not|never|nothing|cannot|without)\b|n['\u2019]t\b|\b(?:dont|wont|cant|doesnt|isnt)\b", re.IGNORECASE
)
_FINE = re.compile(r"\b(?:fine|great|perfect|ok|okay|all right|alright)\b", re.IGNORECASE)
"""What is said to be well is no trouble."""
Ranked = list[tuple[Complaint, float]]
NOT = "not"
"""Stands for all words that deny."""
WORK = "work"


def match_complaints(
    book: Book, text: str, most: int = 6, bike: Profile | None = None
) -> list[tuple[Complaint, float]]:
    """Complaints that fit the typed words, the best first, with a score from 0 to 1.

    A grave one that fits nearly as well as the best stands ahead of it, and of several told in one breath the gravest;
    but not of one that is told word for word. What such a `bike` cannot have is left out while the words may mean
    something else.
    """
    said = _said(text)
    if not set(said) - {NOT}:
        return []
    heard = _heard(book)
    scores = heard.scores(said, said)
    told: set[str] = set()
    pieces = _CLAUSES.split(text)
    clauses = list(map(_said, pieces))
    beside = heard.told_beside([_said(piece) for piece in pieces if not _FINE.search(piece)])
    guesses, sure = _guessed(pieces, clauses)
    if guesses:
        fits = heard.scores(sure, sure)
        scores = {name: (score + fits[name]) / 2 for name, score in scores.items()}
    for place, clause in enumerate(clauses):
        if (_tells(clause) >= LEAST_CLAUSE or ALONE & set(clause)) and len(clause) < len(said):
            about = clause if PARTS & set(clause) else said
            again = heard.scores(clause, about)
            counts = GUESSED if place in guesses else CLAUSE
            scores = {name: max(score, counts * again[name]) for name, score in scores.items()}
            told |= set() if place in guesses else _best(again)
    asked = [place in guesses and bool(_ASKS.search(piece)) for place, piece in enumerate(pieces)]
    called = heard.never_miss(said, scores, [one for one, asks in zip(clauses, asked, strict=True) if not asks])
    fitting = {name: score for name, score in scores.items() if _can_be(book, book.complaints[name], bike or {})}
    if max(fitting.values(), default=0.0) >= LEAST:
        scores = fitting
    beside = beside & scores.keys()
    best = max(scores.values(), default=0.0)
    scores |= {name: max(scores[name], BEHIND * best) for name in beside}
    found = [one for one in scores.items() if one[1] >= max(LEAST, BEHIND * best)]
    knows = heard.knows(said) | dict.fromkeys(called, 1.0)
    found.sort(key=lambda one: (-one[1] * (1 - EXPLAINS + EXPLAINS * knows[one[0]]), one[0]))
    ranked = [(book.complaints[name], score) for name, score in found[:most]]
    near = NEAR * best if best < 1 else best
    ranked.sort(key=lambda one: not (one[0].danger_if_unknown >= GRAVE and one[1] >= near))
    ranked = ranked if best >= 1 else _worst_first(book, ranked, told)
    return _stand_back(ranked, beside)


def told_beside(book: Book, text: str, bike: Profile | None = None) -> list[Complaint]:
    """The complaints that parts of the typed words tell each by itself, the best first; none where one part tells all.

    What is only guessed, or said to be well, tells none.
    """
    said, heard = _said(text), _heard(book)
    pieces = [piece for piece in _CLAUSES.split(text) if not (GUESSES.search(piece) or _FINE.search(piece))]
    told: set[str] = set()
    for clause in map(_said, pieces):
        if (_tells(clause) >= LEAST_CLAUSE or ALONE & set(clause)) and len(clause) < len(said):
            told |= _best(heard.scores(clause, clause if PARTS & set(clause) else said))
    return [one for one, _ in match_complaints(book, text, bike=bike) if one.id in told] if len(told) > 1 else []


def _can_be(book: Book, complaint: Complaint, bike: Profile) -> bool:
    """Whether such a bike can have it; what it is never asked of is ordinary on it: with two mechs it has no belt."""
    ordinary = {
        fact: (next(iter(book.facts[fact].values)),)
        for fact in complaint.applies
        if fact not in bike and not may_hold(book.facts[fact].applies, bike)
    }
    return may_hold(complaint.applies, {**bike, **ordinary})


def _guessed(pieces: Sequence[str], clauses: Sequence[Words]) -> tuple[set[int], Words]:
    """The places of what is only guessed, and what is said beside it; none where nothing else is told."""
    guesses = {place for place, piece in enumerate(pieces) if GUESSES.search(piece) or _ASKS.search(piece)}
    rest = [clause for place, clause in enumerate(clauses) if place not in guesses]
    if not guesses or not any(_tells(clause) >= LEAST_CLAUSE or ALONE & set(clause) for clause in rest):
        return set(), ()
    return guesses, tuple(dict.fromkeys(_all(rest)))


def _tells(clause: Words) -> int:
    """How many words say something, not when or where; what does not work says so, though work is where one rides."""
    occasions = OCCASIONS - {WORK} if NOT in clause else OCCASIONS
    return len(set(clause) - occasions - {NOT})


def _best(scores: Mapping[str, float]) -> set[str]:
    """The complaint that part of what was typed tells, if it tells one well enough."""
    name = max(scores, key=lambda one: (scores[one], one), default="")
    return {name} if name and scores[name] >= TOLD else set()


def _worst_first(book: Book, ranked: Ranked, told: Collection[str]) -> Ranked:
    """Of complaints told in one breath grave ones take the first of their places, the gravest of them before others."""
    places = [place for place, (one, _) in enumerate(ranked) if one.id in told]
    grave = {place: danger for place in places if (danger := _danger(book, ranked[place][0])) >= GRAVE}
    worst = [ranked[place] for place in sorted(places, key=lambda place: -grave.get(place, 0.0))]
    for place, one in zip(places, worst, strict=True):
        ranked[place] = one
    return ranked


def _stand_back(ranked: Ranked, beside: Collection[str]) -> Ranked:
    """What stands back gives its place to what was told beside it, and comes next to it."""
    told = [one for one in ranked if one[0].id in beside]
    ahead = sorted(told, key=lambda one: one[0].stands_back)
    first = next((place for place, one in enumerate(ranked) if one in told), 0)
    return [*ranked[:first], *ahead, *(one for one in ranked[first:] if one not in told)]


def _danger(book: Book, complaint: Complaint) -> float:
    """How many of the bikes that come with a complaint must not be ridden, from 0 to 1."""
    shares = {cause.id: cause.shares[complaint.id].of_100 for cause in book.causes_of.get(complaint.id, ())}
    known = sum(shares.values())
    stops = sum(share for name, share in shares.items() if name in book.stops)
    unknown = complaint.something_else
    return (stops / known * (1 - unknown) if known else 0.0) + unknown * complaint.danger_if_unknown


class _Heard:
    """The sentences of all complaints, by their words."""

    def __init__(self, complaints: Mapping[str, Complaint], causes_of: Mapping[str, Sequence[Cause]]) -> None:
        self.complaints = complaints
        self.causes_of = causes_of
        self._sentences = {
            name: [said for said in map(_said, (one.name, *one.rider_says)) if said] for name, one in complaints.items()
        }
        self._words = {name: frozenset(_all(said)) for name, said in self._sentences.items()}
        self._aside = {
            name: frozenset(_all(stems(f"{cause.name} {cause.in_short}") for cause in causes_of.get(name, ())))
            for name in complaints
        }
        self._told = Counter(_all(self._words.values()))
        self._where: defaultdict[str, list[tuple[str, int]]] = defaultdict(list)
        for name, sentences in self._sentences.items():
            for place, sentence in enumerate(sentences):
                for word in sentence:
                    self._where[word].append((name, place))
        self._meant: dict[str, tuple[str, dict[str, float]]] = {}

    @cached_property
    def _never(self) -> list[tuple[str, frozenset[str]]]:
        return [(name, frozenset(_said(said))) for name, one in self.complaints.items() for said in one.never_missed]

    @cached_property
    def _known(self) -> frozenset[str]:
        return frozenset(self._told).union(*self._aside.values())

    def never_miss(self, said: Words, scores: dict[str, float], clauses: Iterable[Words]) -> set[str]:
        """Put among the first what must not be missed for these words; what is grave and told in one piece, ahead.

        Returns what must not be missed.
        """
        meant = {self._means(word)[0] for word in said}
        called = {name for name, words in self._never if words and words <= meant}
        others = sorted((score for name, score in scores.items() if name not in called), reverse=True)
        room = max(FIRST - len(called), 0)
        bar = max(others[room] + 0.001 if room < len(others) else 0.0, LEAST)
        bar = max(bar, BEHIND * max(scores.values()))
        near = NEAR * max(scores.values())
        pieces = [{self._means(word)[0] for word in clause} for clause in clauses]
        told = {name for name, words in self._never if words and any(words <= piece for piece in pieces)}
        for name in called:
            grave = name in told and self.complaints[name].danger_if_unknown >= GRAVE
            scores[name] = min(max(scores[name], bar, near if grave else 0.0), 1.0)
        return called

    def told_beside(self, clauses: Sequence[Words]) -> set[str]:
        """The trouble with a part that is told in one breath with what stands back, and this; if any is."""
        back = {name for name, one in self.complaints.items() if one.stands_back}
        rest: Words = ()
        asked: set[str] = set()
        for clause in clauses:
            fits = self.scores(clause, clause) if set(clause) - {NOT} else {}
            first = max(fits, key=lambda one: (fits[one], one), default="")
            if first in back and fits[first] >= TOLD:
                asked.add(first)
            elif fits:
                rest = (*rest, *(word for word in clause if word not in rest))
        if not asked or not PARTS & {self._means(word)[0] for word in rest}:
            return set()
        fits = self.scores(rest, rest)
        best = max((score for name, score in fits.items() if name not in back), default=0.0)
        near = [
            (self.complaints[name].danger_if_unknown >= GRAVE, score, name)
            for name, score in fits.items()
            if name not in back and score >= max(LEAST, NEAR * best)
        ]
        return {max(near)[2], *asked} if near and best >= max(fits[name] for name in back) else set()

    def scores(self, typed: Words, about: Words) -> dict[str, float]:
        """How well each complaint fits these words, said about the parts that others name, from 0 to 1."""
        means = [self._means(word) for word in typed]
        weights = [self._weight(word) for word, _ in means]
        whole = sum(weights)
        alike: defaultdict[tuple[str, int], list[float]] = defaultdict(lambda: [0.0] * len(means))
        owns = dict.fromkeys(self._sentences, 0.0)
        near: dict[str, float] = {}
        for place, ((word, likes), weight) in enumerate(zip(means, weights, strict=True)):
            for other, like in likes.items():
                near[other] = max(near.get(other, 0.0), like)
                for where in self._where.get(other, ()):
                    alike[where][place] = max(alike[where][place], like)
            for name, own in self._own(place, word, alike).items():
                owns[name] += weight * own
        fits: dict[str, list[float]] = {name: [] for name in self._sentences}
        words = {word for word, _ in means}
        for (name, place), likes_of in alike.items():
            sentence = self._sentences[name][place]
            if words == set(sentence):
                fits[name].append(1.0)
                continue
            had = sum(weight * like for weight, like in zip(weights, likes_of, strict=True)) / whole
            of_it = [(self._weight(word), near.get(word, 0.0)) for word in sentence]
            covered = sum(weight * like for weight, like in of_it) / sum(weight for weight, _ in of_it)
            fits[name].append(TYPED * had + (1 - TYPED) * covered)
        found = {}
        for name, each in fits.items():
            best = sorted(each, reverse=True)[:3] or [0.0]
            score = NEAREST * best[0] + NEAREST_THREE * sum(best) / 3 + OWN * owns[name] / whole
            found[name] = 1.0 if best[0] >= 1 else min(score * self._of_the_part(name, about), 0.99)
        return found

    def knows(self, typed: Words) -> dict[str, float]:
        """How much of what was typed, but for when and where, each complaint has words for: from 0 to 1."""
        means = [self._means(word) for word in typed if word not in OCCASIONS and word != NOT]
        weights = [self._weight(word) for word, _ in means]
        found = dict.fromkeys(self._sentences, 0.0)
        for (word, likes), weight in zip(means, weights, strict=True):
            for name, words in self._words.items():
                like = max((like for other, like in likes.items() if other in words), default=0.0)
                found[name] += weight * (like or (ASIDE if word in self._aside[name] else 0.0))
        whole = sum(weights) or 1.0
        return {name: one / whole for name, one in found.items()}

    def _own(self, place: int, word: str, alike: Mapping[tuple[str, int], Sequence[float]]) -> dict[str, float]:
        """How much a word is each complaint's own: 1 where most of its sentences have it."""
        share = dict.fromkeys(self._sentences, 0.0)
        for (name, _), likes in alike.items():
            share[name] += likes[place]
        for name, sentences in self._sentences.items():
            share[name] /= len(sentences) + FEW
        most = max(share.values())
        return {
            name: max((one / most) ** 0.5 if most else 0.0, ASIDE if word in self._aside[name] else 0.0)
            for name, one in share.items()
        }

    def _of_the_part(self, name: str, about: Words) -> float:
        """1 for a complaint that speaks of the parts that are named, less for another."""
        parts = [word for word in (self._means(one)[0] for one in about) if word in PARTS]
        if not parts:
            return 1.0
        return OTHER_PART + (1 - OTHER_PART) * sum(self._speaks_of(name, part) for part in parts) / len(parts)

    def _speaks_of(self, name: str, part: str) -> float:
        if part in self._words[name]:
            return 1.0
        if any(other in self._words[name] for other in self._means(part)[1]):
            return PART_KIN
        return PART_ASIDE if part in self._aside[name] else 0.0

    def _weight(self, word: str) -> float:
        """What a word counts: more where few complaints know it."""
        every = len(self._sentences)
        told = self._told.get(word, 0)
        return (log(1 + every / told) if told else UNKNOWN * log(1 + every)) * (
            WHEN if word in OCCASIONS or word == NOT else 1.0
        )

    def _means(self, typed: str) -> tuple[str, dict[str, float]]:
        """The word that was meant, and the words of the complaints that mean it or much the same."""
        if typed not in self._meant:
            word, sure = self._put_right(typed)
            groups = kindred(word)
            likes = {other: KIN * sure for other in self._told if groups and kindred(other) & groups}
            self._meant[typed] = (word, likes | {word: sure})
        return self._meant[typed]

    def _put_right(self, typed: str) -> tuple[str, float]:
        """A word that nobody knows may be a slip of the finger for one that the complaints know."""
        if typed in self._known or typed in PARTS or len(typed) < 4:
            return typed, 1.0
        near = [
            (alike, _consonants(typed) == _consonants(one), one)
            for one in self._told
            if len(one) > 3 and abs(len(one) - len(typed)) < 3 and (alike := likeness(typed, one, SLIP)) >= SLIP
        ]
        return (max(near)[2], MISTYPED) if near else (typed, 1.0)


def _consonants(word: str) -> str:
    """What is left of a word where vowels are mistaken for others."""
    return re.sub("[aeiouy]", "", word)


def _said(text: str) -> Words:
    """What a text says, and whether it denies something."""
    return (*stems(text), NOT) if _NOT.search(text) else stems(text)


_last: list[_Heard] = []
"""Of the book that was asked last."""


def _heard(book: Book) -> _Heard:
    if not _last or _last[0].complaints is not book.complaints or _last[0].causes_of is not book.causes_of:
        _last[:] = [_Heard(book.complaints, book.causes_of)]
    return _last[0]


def _all(sets: Iterable[Iterable[str]]) -> Iterable[str]:
    return (word for one in sets for word in one)
