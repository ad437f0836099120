"""What is kept while a new cause is told: the draft, the ids that are taken, and texts whose numbers become limits.

Cast: `Notes`, which all who ask for a part of a cause share; `no_number` and `unit_in` look at what was typed.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from diagnose.bench.units import UNITS, same_kind, unit_of
from diagnose.book.model import Book, Limit
from diagnose.book.shape import NUMBER_WITH_UNIT
from diagnose.casework.draft import Draft, NewLimit, id_of
from diagnose.errors import InputError
from diagnose.front.paper import Paper
from diagnose.front.rulebook import phrases
from diagnose.front.rulebook.interview import Interview, words

if TYPE_CHECKING:
    from collections.abc import Iterator

KINDS = {"to be met": "target", "never above": "maximum", "never below": "minimum"}


class Notes:
    """The draft of one cause, the book that it is for, and who is asked."""

    def __init__(self, interview: Interview, book: Book) -> None:
        self.ask_for = interview
        self.book = book
        self.draft = Draft("", "")
        self.taken = set(_ids(book))

    @property
    def paper(self) -> Paper:
        """Where it is written, while answers are taken again nowhere."""
        return self.ask_for.paper

    def new_id(self, text: str, first: str = "", *, short: bool = False) -> str:
        """An id made of a text, that nothing has yet."""
        name = id_of(text, self.taken, first, short=short)
        self.taken.add(name)
        return name

    def free(self, text: str) -> str:
        """A text without braces: those are for limits."""
        return text.replace("{", "(").replace("}", ")")

    def filled(self, text: str) -> str:
        """A text in which every number with a unit has become a limit, by its id in braces."""
        text = self.free(text)
        while found := NUMBER_WITH_UNIT.search(text):
            unit = unit_in(found[0])
            if unit:
                text = text[: found.start()] + "{" + self._limit(found[0], unit, text) + "}" + text[found.end() :]
            else:
                text = self.free(self.ask_for.text(f"Say it without {found[0]}, or in metric units.", empty=True))
        return text

    def _limit(self, number: str, unit: str, text: str) -> str:
        self.paper.say(f"{number}: a number with a unit stands in a limit, so that it is the same everywhere.")
        limits = [one for one in self.book.limits.values() if same_kind(one.unit, unit)]
        typed, known = self.ask_for.pick("What is measured or set there, in a few words?", limits, self._limit_told)
        return known[0].id if known else self._new_limit(number, unit, typed or text)

    def _limit_told(self, limit: Limit) -> str:
        return f"{limit.quantity}: {phrases.number(limit, limit.low, limit.high)}"

    def _new_limit(self, number: str, unit: str, text: str) -> str:
        quantity = " ".join(NUMBER_WITH_UNIT.sub("", text).split())[:60]
        self.paper.say(f"Then it is a new one: {quantity}.")
        ends = re.findall(r"\d+(?:[.,]\d+)?", number)
        kind = self.ask_for.choose(f"{number} is:", list(KINDS), empty="")
        told = list(KINDS.values())[kind[0]] if kind else "target"
        low, high = ends[0].replace(",", "."), ends[-1].replace(",", ".")
        low, high = ("" if told == "maximum" else low), ("" if told == "minimum" else high)
        name = self.new_id(quantity)
        self.draft.limits.append(NewLimit(name, quantity, low, high, unit, told))
        return name


def _ids(book: Book) -> Iterator[str]:
    """Every id, without the name of an own folder."""
    for ids in (
        *(book.facts, book.words, book.teardowns, book.receivers, book.tools, book.parts, book.cautions),
        *(book.limits, book.complaints, book.findings, book.checks, book.causes, book.fixes, book.deductions),
    ):
        yield from (name.rpartition(":")[2] for name in ids)
    yield from (one.repeat_test.id for one in book.complaints.values())


def unit_in(number: str) -> str:
    """The book's name of the unit behind a number; empty where the book has none such."""
    try:
        name = unit_of(re.sub(r"^[\d.,/\s–-]+", "", number))
    except InputError:
        return ""
    return name if name in {unit.name for unit in UNITS} else ""


def no_number(text: str) -> str:
    """What is wrong with a text that must be of words, without a number with a unit and without braces."""
    found = NUMBER_WITH_UNIT.search(text)
    if found:
        return f'Say it without "{found[0]}": numbers with a unit have their place in steps and proofs.'
    return "Say it without braces." if "{" in text or "}" in text else words(text)
