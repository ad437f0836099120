"""What typed words tell: facts of the bike and a rider's answers, so that nobody is asked what was said already.

Cast: `hear` gives a `Heard`. The words that tell an answer stand in the book, with the fact or with the check that a
rider can answer (`told_by`). What is denied or wished for is not heard, nor anything of which the words say two things,
nor a fact of the whole bike that is said of one end, unless the complaint is about that end. A guess is no answer.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterator, Mapping, Sequence
from typing import NamedTuple

from diagnose.book.conditions import holds, may_hold
from diagnose.book.model import Book
from diagnose.book.phrases import GAP, pieces, runs_on, words_of, words_of_phrase
from diagnose.casework.speech import GUESSES

_NOT = frozenset(
    "no not without never cannot cant couldnt isnt dont doesnt hasnt havent wasnt arent aint except unless neither "
    "nor quiet silent".split()
)
"""Words before which nothing is told that follows within `REACH`."""
_WISHED = frozenset(
    "need needs want wants should must buy get another please pls fit install quote thinking order".split()
)
"""So too before these, but for what a complaint is about: "needs air at the back" is about the back."""
_ASKED = frozenset("please pls plz wanted needed required requested".split())
"""So too up to two words before these: "new chain please"."""
_WELL = frozenset("fine alright ok okay good well better perfect perfectly works working".split())
"""Words beside which, in one breath, nothing is told of the trouble: "on hills it is fine"."""
_WORKS = frozenset("works working".split())
_LOOSE = frozenset("loose itself out".split())
"""What works loose is not said to be well."""
_STOPPED = frozenset("stop stops stopped quit quits ceased".split())
"""Nor what stopped working."""
_AGAIN = "back"
"""Said straight before words that say when, and not of an end: it has come back then, so no trouble."""
_WHEN = frozenset("on in at over when after uphill".split())
_NOT_THAT = (("not", "that"), ("wasnt", "that"), ("not", "it"), ("not", "the", "cause"), ("not", "to", "blame"))
"""What ends so denies what was named in the breath before: "the basket is off, it's not that"."""
_ADDED = frozenset("either though then".split())
_TOOK = frozenset("took had taken with without unscrewed left".split())
"""And what was taken off is named, but not complained of: "had the basket off"."""
_END = {"front": "front", "rear": "rear", "back": "rear"}
"""Said up to two words before, or right behind: of one end, the other may be otherwise."""
_ELSE = "rear"
"""Whose is told where none is named and none of the causes hangs on it: the wheel that is driven."""
COMPLAINT = "complaint"
ALIKE = 1 / 8
"""Complaints that have so many of their causes in common are about one end, where one of them names it."""
REACH = 3
"""So many words after one that denies are about it."""
BETWEEN = 2
"""So many words may stand in the gap of a phrase."""


class Heard(NamedTuple):
    """Facts with their values in the book's order, and checks with the rider's answer."""

    facts: dict[str, tuple[str, ...]]
    answers: dict[str, str]


class Typed(NamedTuple):
    """What was typed for a complaint, and which it was then; None where none was chosen yet."""

    text: str
    complaint: str | None


def hear(book: Book, label: str, typed: Sequence[Typed], complaints: Sequence[str]) -> Heard:
    """What a label and the words for complaints tell.

    Args:
        book: the rule book.
        label: what was typed for the bike.
        typed: what was typed for its complaints.
        complaints: the ids of all that are told, also of those that were chosen without words.
    """
    heard = _Heard(book)
    heard.take(label, complaints, on_label=True)
    for text, complaint in typed:
        heard.take(text, [complaint] if complaint else (), on_label=False)
    facts = heard.facts(complaints)
    return Heard(facts, heard.answers(facts))


class _Said(NamedTuple):
    """A phrase of the book: the fact or check that it tells, and the answer."""

    id: str
    value: str | None
    """None: with these words beside it, it is asked."""
    words: tuple[str, ...]
    about: bool
    """Whether it says what a complaint is about, and nothing on a label."""
    thing: bool
    """Whether it answers a check."""


class _Heard:
    def __init__(self, book: Book) -> None:
        self.book = book
        self.phrases = _phrases(book)
        meant = {other for fact in book.facts.values() for one in fact.means.values() for other in one}
        self.which = {one for one in meant if not book.facts[one].on_label}
        """The facts that say which end a complaint is about: what an answer of another means, if no label tells it."""
        self.told: defaultdict[str, set[str | None]] = defaultdict(set)
        """Fact or check to its values; None: two things were said, or it is to be asked all the same."""
        self.worded: defaultdict[str, set[str | None]] = defaultdict(set)
        """Fact to the values that the words of a complaint name."""
        self.at: defaultdict[str, dict[str, set[str]]] = defaultdict(lambda: {"front": set(), "rear": set()})
        """Fact to what the label says of it for one end."""
        self.ended: set[str] = set()
        """The complaints of which the words say which end they are about."""

    def take(self, text: str, complaints: Sequence[str], *, on_label: bool) -> None:
        """One text, and the complaints that it is about: the one that it was typed for, of a label all."""
        breaths = [self._breath(piece) for piece in pieces(text)]
        denied = [*map(_denies, pieces(text)[1:]), False]
        guessed = [bool(GUESSES.search(piece)) for piece in pieces(text)]
        behinds = [*breaths[1:], set()]
        for told, more, behind, untold, guess in zip(breaths, runs_on(text), behinds, denied, guessed, strict=True):
            named = {(said.id, said.words) for said, _ in told if said.value}
            for said, named_end in self._unmuted(told, behind if more else set()):
                fact = self.book.facts.get(said.id)
                if fact is None:
                    heard = self.book.checks[said.id].on_label or not on_label
                    heard = heard and not (untold or (guess and not GUESSES.search(" ".join(said.words))))
                    if heard and any(self._asked(said.id, complaint) for complaint in complaints):
                        self.told[said.id].add(said.value)
                elif not on_label and said.value and self.which.isdisjoint(fact.not_of):
                    self.told[said.id].add(said.value)  # a complaint is about the end that it names
                    self.worded[said.id].add(said.value)
                    self.ended.update(complaints if said.id in self.which else ())
                elif on_label and fact.on_label:
                    end = fact.of_end.get(said.value or "", named_end)
                    if not end or self._lists(said):
                        self.told[said.id].add(said.value)
                    elif said.value and end != "both":
                        self.at[said.id][end].add(said.value)
                    elif end == "both" or (said.id, said.words) not in named:
                        self.told[said.id].add(None)

    def _breath(self, piece: str) -> set[tuple[_Said, str]]:
        """What a piece says, and of which end."""
        words = words_of(piece)
        bare = [word for word in words if word not in _END]  # a new back tyre is a new tyre
        return {*_said(self.phrases, words), *((one, "") for one, _ in _said(self.phrases, bare) if self._lists(one))}

    def _unmuted(self, told: set[tuple[_Said, str]], behind: set[tuple[_Said, str]]) -> set[tuple[_Said, str]]:
        """What a breath tells, without lists and facts of complaints only beside words that make it something else.

        Such words may stand in what it goes on with, where that tells nothing more: "new chain and cassette last year".
        Nothing at all stays: "nothing done since a service half a year ago".
        """
        facts = self.book.facts
        muted = {
            said.id for said, _ in told if said.value is None and (self._lists(said) or not facts[said.id].on_label)
        }
        more = {said.id for said, _ in behind if said.value}
        muted |= {said.id for said, _ in behind if said.value is None and self._lists(said)} - more
        return {one for one in told if one[0].id not in muted or self._nothing(one[0])}

    def _nothing(self, said: _Said) -> bool:
        """Whether a phrase says of a list that nothing of it is so."""
        return self._lists(said) and said.value == next(iter(self.book.facts[said.id].values))

    def _lists(self, said: _Said) -> bool:
        """Whether what a phrase tells is one of several things that may be so at once, and no matter of an end."""
        return said.id in self.book.facts and self.book.facts[said.id].several

    def _asked(self, check: str, complaint: str) -> bool:
        """Whether a check is one that is asked for this complaint, and some cause of it changes what it finds.

        What is heard on a label need not be asked for.
        """
        finding = self.book.findings[self.book.checks[check].finding]
        if finding.asked_for and complaint not in finding.asked_for and not self.book.checks[check].on_label:
            return False
        return any(finding.id in cause.shows for cause in self.book.causes_of.get(complaint, ()))

    def facts(self, complaints: Sequence[str]) -> dict[str, tuple[str, ...]]:
        """The facts of which one thing was said, or several that may hold at once."""
        idle, found = self._idle(complaints), dict[str, tuple[str, ...]]()
        for name, fact in self.book.facts.items():
            if len(self.worded[name]) == 1 and (name in self.at or None in self.told[name]):
                self.told[name] = self.worded[name]  # whatever else the label has: the one that is complained of
            elif name in self.at:
                self._part(name)
            if name in self.at and not self.told[name]:
                self.told[name] = self._of_its_end(name, complaints)
            values = tuple(value for value in fact.values if value in self.told[name])
            if len(values) > 1 and values[0] == next(iter(fact.values)):  # nothing, but for what is named
                values = values[1:] if fact.several else values
            if not values or None in self.told[name] or name in idle:
                continue
            if (len(values) == 1 or fact.several) and holds(fact.applies, found):
                found[name] = values
        return {name: values for name, values in found.items() if not self._of_one_end(name, found)}

    def _of_one_end(self, name: str, found: Mapping[str, tuple[str, ...]]) -> bool:
        """Whether a fact is no matter of a complaint about the end that was told."""
        never = self.book.facts[name].not_of
        return not self.which.isdisjoint(never) and holds(never, found)

    def _part(self, name: str) -> None:
        """Where one kind is said of an end, the other is of the other end: a front V-brake, and a coaster."""
        whole = {value for value in self.told[name] if value}
        named = [end for end in self.at[name] if self.at[name][end]]
        if len(whole) == len(named) == 1 and whole != self.at[name][named[0]]:
            other = next(end for end in self.at[name] if end != named[0])
            self.at[name][other] = whole
            self.told[name] = set()

    def _of_its_end(self, name: str, complaints: Sequence[str]) -> set[str | None]:
        """What the label says of the end that the one complaint names; of the driven one where it is no matter."""
        ends = {end for which in self.which for end in self.told[which]}
        if len(complaints) != 1 or len(ends) > 1:
            return set()
        causes = {cause.id for cause in self.book.causes_of.get(complaints[0], ())}
        whole = self.book.complaints[complaints[0]].stands_back  # of the bike as a whole
        end = next(iter(ends)) if ends else _ELSE if whole or causes.isdisjoint(self.book.bearing[name]) else None
        return set(self.at[name].get(end or "", ()))

    def _idle(self, complaints: Sequence[str]) -> set[str]:
        """Facts of no use here: they bear on no cause, and nothing asks for them or counts parts by them here.

        So too which end it is, where a complaint may be about another.
        """
        causes = {cause.id for complaint in complaints for cause in self.book.causes_of.get(complaint, ())}
        asked = {
            fact
            for deduction in self.book.deductions.values()
            for fact in (*deduction.ask, *deduction.ask_last)
            if any(when.key == COMPLAINT and set(when.any_of) & set(complaints) for when in deduction.when)
        } | self._counting(causes)
        others = {
            name
            for name, fact in self.book.facts.items()
            if not (fact.on_label or fact.several or name in self.which or name in asked)
            and causes.isdisjoint(self.book.bearing[name])
        }
        sure = len(complaints) < 2 or all(map(self._ends, complaints))
        return others | (set() if sure else self.which)

    def _counting(self, causes: Collection[str]) -> set[str]:
        """Facts that tell how many of a part a fix of these causes takes: one brake, or both."""
        fixes = {rung.fix for cause in causes for rung in self.book.causes[cause].ladder}
        cases = (case for fix in fixes for cases in self.book.fixes[fix].part_cases.values() for case in cases)
        return {fact for case in cases for fact in case.when}

    def _ends(self, complaint: str) -> bool:
        """Whether a complaint names its end, or is so like one that does that both are about the same."""
        of_it = {cause.id for cause in self.book.causes_of.get(complaint, ())}
        likes = [{cause.id for cause in self.book.causes_of.get(one, ())} for one in self.ended]
        alike = any(len(of_it & like) >= ALIKE * min(len(of_it), len(like)) for like in likes)
        return complaint in self.ended or alike

    def answers(self, facts: Mapping[str, tuple[str, ...]]) -> dict[str, str]:
        """The checks of which one answer was said, where they may apply to such a bike; one check a finding."""
        found: dict[str, str] = {}
        told: set[str] = set()
        for name, said in self.told.items():
            check = self.book.checks.get(name)
            if check is None or len(said) > 1 or check.finding in told:
                continue
            if may_hold(check.applies, facts) and may_hold(self.book.findings[check.finding].applies, facts):
                found[name] = str(*said)
                told.add(check.finding)
        return found


def _said(phrases: Mapping[str, Sequence[_Said]], words: Sequence[str]) -> Iterator[tuple[_Said, str]]:
    """What a piece tells, and of which end ("": the whole bike); of words within others the longer count."""
    places: list[tuple[int, int, _Said]] = []
    for place, word in enumerate(words):
        for said in (*phrases.get(word, ()), *phrases.get(word.removesuffix("s"), ())):
            end = _reaches(words, place, said)
            if end:
                places.append((place, end, said))
    for start, end, said in places:
        longer = any(
            said.id == other.id and a <= start and end <= b and (start - a, b - end, _told(other)) > (0, 0, _told(said))
            for a, b, other in places
        )
        between = set(words[start:end]).difference(said.words)
        before = {*words[max(start - REACH, 0) : start], *between}
        wished = not (_WISHED.isdisjoint(before) and _ASKED.isdisjoint(words[end : end + 2]))
        denied = not _NOT.isdisjoint(before) or (wished and not said.about)
        taken_off = said.thing and words[end : end + 1] == ("off",) and not _TOOK.isdisjoint(before)
        if not (longer or denied or taken_off or _again(words, start) or _well((*words[:start], "", *words[end:]))):
            yield said, _end((*words[max(start - 2, 0) : start], *words[end : end + 1]))


def _denies(piece: str) -> bool:
    """Whether a piece says that it is not what the one before it names."""
    words = words_of(piece)
    bare = words[:-1] if words[-1:] and words[-1] in _ADDED else words
    return any(bare[-len(one) :] == one for one in _NOT_THAT)


def _told(said: _Said) -> int:
    """How many words of a phrase stand there as they are."""
    return len(said.words) - said.words.count(GAP)


def _well(beside: Sequence[str]) -> bool:
    """Whether the words beside a phrase say that all is well; not where something works loose, or stopped working."""
    return any(
        word in _WELL and not (word in _WORKS and (behind in _LOOSE or before in _STOPPED))
        for before, word, behind in zip(("", *beside[:-1]), beside, (*beside[1:], ""), strict=True)
    )


def _again(words: Sequence[str], start: int) -> bool:
    """Whether a phrase that says when tells when it comes back: "back on the hill", but not "the back on hills"."""
    came = start > 0 and words[start - 1] == _AGAIN and words[start] in _WHEN
    return came and words[start - 2 : start - 1] not in (("the",), ("at",))


def _end(beside: Sequence[str]) -> str:
    """The end that is named beside words; "" none, "both" where both are."""
    ends = {_END[word] for word in beside if word in _END}
    return "both" if len(ends) > 1 else next(iter(ends), "")


def _reaches(words: Sequence[str], start: int, said: _Said) -> int:
    """Where a phrase that begins at a word ends, one behind; 0: it does not stand there.

    "Drum brakes" tells of both what is not sure of one "drum brake".
    """
    place, room = start, 1
    for word in said.words:
        if word == GAP:
            room = 1 + BETWEEN
            continue
        place = next(
            (at + 1 for at in range(place, min(place + room, len(words))) if _is(words[at], word, said.value)), 0
        )
        if not place:
            return 0
        room = 1
    return place


def _is(typed: str, word: str, value: str | None) -> bool:
    """Whether a typed word is one of a phrase, or its plural where that tells an answer."""
    return typed == word or (value is not None and typed == word + "s")


_last: list[tuple[Book, dict[str, list[_Said]]]] = []
"""The phrases of the book that was asked last."""


def _phrases(book: Book) -> Mapping[str, Sequence[_Said]]:
    """All phrases by their first word."""
    if not _last or _last[0][0] is not book:
        found: defaultdict[str, list[_Said]] = defaultdict(list)
        told_by: list[tuple[str, str | None, tuple[str, ...]]] = []
        about = {one.id for one in book.facts.values() if not one.on_label}
        for one in book.facts.values():
            told_by += [(one.id, value, phrases) for value, phrases in one.told_by.items()]
            told_by.append((one.id, None, one.not_told_by))
        for check in book.checks.values():
            told_by += [(check.id, value, phrases) for value, phrases in check.told_by.items()]
        for name, value, phrases in told_by:
            for words in filter(None, map(words_of_phrase, phrases)):
                found[words[0]].append(_Said(name, value, words, name in about, name in book.checks))
        _last[:] = [(book, dict(found))]
    return _last[0][1]
