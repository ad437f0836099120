"""What the rider complains of: a few words typed, near matches offered; or by the part of the bike, all of them.

The words are kept as soon as they have led to matches: whoever leaves before picking one is offered the same again.

Where those words told several, the others are offered by number when it is asked for more.

Cast: `ask_complaint` gives one complaint's id, or None where the rider has no more; `by_place` sorts them
by the part of the bike.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from diagnose.book.conditions import Profile
from diagnose.book.model import Complaint
from diagnose.casework import events
from diagnose.casework.complained import match_complaints, told_beside
from diagnose.front import wording
from diagnose.front.prompt import Back, Command, Screen
from diagnose.front.telling import Telling

NO_MORE = ""
"""Stands for: the rider has no more."""


def by_place(complaints: Iterable[Complaint]) -> dict[str, list[Complaint]]:
    """Part of the bike to the complaints that stand under it, both by name; what stands under none comes last."""
    places: dict[str, list[Complaint]] = {}
    for one in sorted(complaints, key=lambda one: one.name):
        for place in one.under or (wording.ELSEWHERE,):
            places.setdefault(place, []).append(one)
    return {place: places[place] for place in sorted(places, key=lambda place: (place == wording.ELSEWHERE, place))}


def ask_complaint(telling: Telling, told: Sequence[str], command: Command) -> str | None:
    """The id of a complaint, or None for no more (only where one is told already).

    One that is told already is meant to be the worst, ahead of those told before it.
    """
    return _Asking(telling, told, command).ask() or None


class _Asking:
    def __init__(self, telling: Telling, told: Sequence[str], command: Command) -> None:
        self.telling = telling
        self.paper = telling.paper
        self.book = telling.book
        self.told = told
        self.command = command
        self.beside = self._told_beside() if told else {}

    def ask(self) -> str | None:
        return self._offer_again() or self._ask_words()

    def _ask_words(self) -> str | None:
        enter = wording.NO_MORE_COMPLAINTS if self.told else wording.WHOLE_LIST
        return self.telling.prompt.ask_line(Screen(self._draw, enter=enter, hints="bqh"), self._accept, self.command)

    def _draw(self) -> None:
        self.paper.rule()
        several = len(self.told) > 1
        for place, name in enumerate(self.told, 1):
            text = self.book.complaints[name].name
            self.paper.say(wording.NOTED.format(text=f"{place}. {text}" if several else text))
        self.paper.say(wording.ASK_MORE if self.told else wording.ASK_COMPLAINT, style="bold")
        if self.beside:
            self.paper.say(wording.IN_THE_SAME_WORDS)
            for place, (one, _) in self.beside.items():
                self.paper.item(f"{place} ", one.name)
        self.paper.say(wording.A_FEW_WORDS)
        if several:
            self.paper.say(wording.RANK_HOW)

    def _accept(self, typed: str) -> str | None:
        if not typed and self.told:
            return NO_MORE
        if typed.isascii() and typed.isdigit() and 1 < int(typed[:4]) <= len(self.told):
            return self.told[int(typed) - 1]
        if typed.isascii() and typed.isdigit() and int(typed[:4]) in self.beside:
            complaint, words = self.beside[int(typed[:4])]
            self._keep(words)
            return complaint.id
        if not typed or typed.isdigit():
            return self._by_place()
        found = self._matches(typed)
        if not found:
            self.paper.say(wording.NO_MATCH)
            return None
        self._keep(typed)
        return self._pick(found)

    def _matches(self, typed: str) -> list[Complaint]:
        """What the words may mean on such a bike as the label says."""
        return [complaint for complaint, _ in match_complaints(self.book, typed, bike=self._labelled())]

    def _told_beside(self) -> dict[int, tuple[Complaint, str]]:
        """What the words that were typed tell beside what was picked, with them; numbered on from what is told."""
        found = {
            one.id: (one, words)
            for words in self.telling.desk.said(self.telling.case_id)
            for one in told_beside(self.book, words, self._labelled())
            if one.id not in self.told
        }
        return dict(enumerate(found.values(), len(self.told) + 1))

    def _labelled(self) -> Profile:
        return self.telling.desk.labelled(self.telling.case_id)

    def _by_place(self) -> str | None:
        """One that is not told yet, by the part of the bike that it stands under; None where it is none of them."""
        places = by_place(self.book.complaints.values())
        names = tuple(places)
        while True:
            place = self._choose(names, wording.OTHER_WORDS, wording.WHERE) if len(names) > 1 else 0
            if place < 0:
                break
            here = places[names[place]]
            enter = wording.OTHER_PLACE if len(names) > 1 else wording.OTHER_WORDS
            chosen = self._choose(tuple(one.name for one in here), enter)
            if chosen >= 0 and (picked := self._fresh(here[chosen])):
                return picked
            if chosen < 0 and len(names) == 1:
                break
        self._say_words()
        return None

    def _choose(self, names: tuple[str, ...], enter: str, text: str = "") -> int:
        """The place of one of these; -1 for Enter or a step back."""
        draw = (lambda: self.paper.head(text)) if text else self.paper.say
        try:
            return self.telling.ask(Screen(draw, names, enter=enter, hints="bqh"), self.command)
        except Back:
            return -1

    def _say_words(self) -> None:
        self.paper.say(wording.A_FEW_WORDS)
        self.paper.item(f"{wording.ENTER} ", wording.NO_MORE_COMPLAINTS if self.told else wording.WHOLE_LIST)

    def _pick(self, found: Sequence[Complaint]) -> str | None:
        """One of these that is not told yet; None where it is none of them, and then the words are let go."""
        chosen = self._choose(tuple(one.name for one in found), wording.NONE_OF_THESE)
        picked = self._fresh(found[chosen]) if chosen >= 0 else None
        if picked is None:
            self._say_words()
            self._let_go()
        return picked

    def _offer_again(self) -> str | None:
        """What words may mean that were typed before the job was left; None where nothing is picked of it."""
        partly = self.telling.desk.folded(self.telling.case_id).partly
        if partly is None or partly.of != "complaint":
            return None
        typed = self.telling.desk.words(self.telling.case_id)
        found = self._matches(typed) if typed else []
        if not found:  # the words were erased, or the rule book has changed
            self._let_go()
            return None
        self._draw()
        self.paper.say(wording.TYPED_BEFORE.format(text=typed))
        return self._pick(found)

    def _keep(self, typed: str) -> None:
        """The words are free text, which can be erased; the job names them."""
        ref = self.telling.desk.store.add_text(self.telling.case_id, typed)
        self.telling.tell(events.words_for_complaint(ref))

    def _let_go(self) -> None:
        self.telling.desk.back(self.telling.case_id, self.telling.seen)
        self.telling.reread()

    def _fresh(self, complaint: Complaint) -> str | None:
        """A complaint that is not told yet, else None."""
        if complaint.id in self.told:
            self.paper.say(wording.NOTED_BEFORE)
            return None
        return complaint.id
