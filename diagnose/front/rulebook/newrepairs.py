"""How a new cause is put right: its fixes, those of the book or new ones, and when the bike is given away.

Cast: `Repairs.ask`.
"""

from __future__ import annotations

from diagnose.book.model import Fix
from diagnose.book.shape import NUMBER_WITH_UNIT
from diagnose.casework.draft import Away, NewPart, Repair
from diagnose.front.rulebook.interview import UNKNOWN, words
from diagnose.front.rulebook.newnotes import Notes, no_number

URGENCIES = ("before riding", "soon", "when convenient")


class Repairs:
    """Asks how it is put right, and keeps it in the notes."""

    def __init__(self, notes: Notes) -> None:
        self.notes = notes
        self.ask_for, self.book, self.draft = notes.ask_for, notes.book, notes.draft

    def ask(self) -> None:
        """Ask until nothing more helps; where nothing does, who gets the bike."""
        fixes = sorted(self.book.fixes.values(), key=lambda one: not set(self.draft.shares) & self._shares_of(one.home))
        question = "What is done, in a few words? Empty: nothing can be done at the stand."
        while True:
            typed, found = self.ask_for.pick(question, fixes, lambda one: one.name, self._with_cause)
            if not typed:
                break
            if found:
                cured = self.ask_for.number("Of 100 such bikes, how many are well then?", 1, 99)
                self.draft.repairs.append(Repair(found[0].id, cured, known=True))
            else:
                self._repair(typed)
            question = "And if that is not enough, what else? Empty: nothing else."
        if not self.draft.repairs:
            self.draft.away = self._away("Why not?")
        elif self.ask_for.choose("Is there a moment to stop and give the bike away?", ["no", "yes"], empty="no") == [1]:
            self.draft.stop_when.append(self._away("When, and why?"))

    def _with_cause(self, fix: Fix) -> str:
        return f"{fix.name} ({self.book.causes[fix.home].name})" if fix.home in self.book.causes else fix.name

    def _shares_of(self, cause: str) -> set[str]:
        return set(self.book.causes[cause].shares) if cause in self.book.causes else set()

    def _repair(self, typed: str) -> None:
        self.notes.paper.say("Then it is new.", indent=2)
        one = Repair(self.notes.new_id(typed, short=True), name=_capital(self.notes.free(typed)))
        if NUMBER_WITH_UNIT.search(one.name):
            one.name = self.ask_for.text("The same without a number?", no_number)
        number = 1
        while step := self.ask_for.text(f"Step {number}, one action; empty: that is all.", words, empty=True):
            one.steps.append(self.notes.filled(step))
            number += 1
            if step == UNKNOWN:
                break
        self._tools(one)
        self._parts_of(one)
        one.low = self.ask_for.number("Minutes, when it goes well?", 0.1, 600)
        one.high = self.ask_for.number("Minutes, when it goes badly?", one.low or 0.1, 600)
        who = self.ask_for.choose("Who can do it?", ["an able rider", "a mechanic"], empty="")
        one.skill = "rider" if who == [0] else "mechanic"
        one.cured = self.ask_for.number("Of 100 such bikes, how many are well then?", 1, 99)
        one.works_if = self.notes.filled(self.ask_for.text("How do you prove that it worked?", words))
        one.if_not = self.notes.filled(self.ask_for.text("And if it did not, what does that mean?", words))
        self.draft.repairs.append(one)

    def _tools(self, one: Repair) -> None:
        question = "A tool that it takes? Empty: no more."
        tools = {**self.book.tools, **self.draft.tools}
        while True:
            typed, found = self.ask_for.pick(question, list(tools), tools.__getitem__)
            if not typed:
                return
            tool = found[0] if found else self.notes.new_id(typed, short=True)
            if not found:
                self.draft.tools[tool] = tools[tool] = self.notes.free(typed)
                self.notes.paper.say(f"Then it is a new tool: {tools[tool]}.", indent=2)
            if tool not in one.tools:
                one.tools.append(tool)

    def _parts_of(self, one: Repair) -> None:
        question = "A part that it takes? Empty: none."
        parts = {part.id: part.name for part in self.book.parts.values()}
        parts.update({new.id: new.name for new in self.draft.parts})
        while True:
            typed, found = self.ask_for.pick(question, list(parts), parts.__getitem__)
            if not typed:
                return
            part = found[0] if found else self._new_part(typed)
            parts.setdefault(part, typed)
            if part not in one.parts:
                one.parts.append(part)
            question = "And another part? Empty: no more."

    def _new_part(self, typed: str) -> str:
        name = self.notes.new_id(typed, short=True)
        self.notes.paper.say(f"Then it is a new part: {self.notes.free(typed)}.", indent=2)
        currency = self.book.constants.currency
        low = self.ask_for.number(f"What does a cheap one cost, in {currency}?", 0, 100_000)
        high = self.ask_for.number("And a dear one?", low or 0, 100_000)
        self.draft.parts.append(NewPart(name, self.notes.free(typed), low, high))
        return name

    def _away(self, why: str) -> Away:
        receivers = list(self.book.receivers.values())
        to = self.ask_for.choose("Who gets the bike?", [one.to for one in receivers], empty="")
        urgent = self.ask_for.choose("How urgent is that?", list(URGENCIES), empty="")
        reason = self.notes.filled(self.ask_for.text(why, words))
        return Away(receivers[to[0]].id if to else receivers[0].id, URGENCIES[urgent[0]] if urgent else "soon", reason)


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
