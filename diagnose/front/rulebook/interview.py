"""Questions to somebody who writes rules, answered by typing a line; a file of lines does as well.

Cast: `Interview` asks for texts, numbers, and one of several things; `UNKNOWN` is what it gives for "?". "<" goes back
to the question before: `Back` is raised, and whoever asks begins anew with the answers before, see `Interview.rewind`.
Where the lines end too early an error is raised: nobody has said then that it is all.
"""

from __future__ import annotations

import io
import re
import sys
from collections.abc import Callable, Sequence
from typing import TypeVar

from diagnose.errors import InputError
from diagnose.front.paper import Paper

UNKNOWN = "?"
"""Typed where somebody does not know."""
BACK = "<"
WRITE_SOMETHING = "Write something, or ? where you do not know."
MOST = 7
"""Things offered at once."""
LONGEST = 500
TRIES = 50
"""Answers that can be refused before a question is left unknown."""
Thing = TypeVar("Thing")
Refuse = Callable[[str], str]
"""Says what is wrong with an answer, or nothing."""


class Back(Exception):  # noqa: N818 - nothing is wrong
    """The question before is wanted again."""


class Interview:
    """Asks line by line.

    `paper` writes nowhere while answers that were given before are taken again.
    """

    def __init__(self, paper: Paper) -> None:
        self.paper = self._paper = paper
        self._given: list[str] = []
        self._again: list[str] = []

    def rewind(self) -> None:
        """Take all answers again but the last one: the next questions are answered by them, unseen."""
        self._again, self._given = self._given[:-1], []
        self.paper = Paper(io.StringIO(), plain=True) if self._again else self._paper

    def line(self, question: str) -> str:
        """What is typed, without loose space and control characters.

        Raises:
            Back: the question before is wanted.
            EOFError: no more is typed in this terminal.
            InputError: the lines have ended.
        """
        if self._again:
            typed = self._again.pop(0)
            self.paper = self.paper if self._again else self._paper
            return typed
        kept = self._read(question)
        while kept == BACK and not self._given:
            self.paper.say("This is the first question.", indent=2)
            kept = self._read(question)
        if kept == BACK:
            raise Back
        return kept

    def _read(self, question: str) -> str:
        self.paper.say(question)
        self.paper.stream.write("> ")
        self.paper.stream.flush()
        typed = sys.stdin.readline()
        if not typed.endswith("\n"):
            self.paper.say()
        if not typed and sys.stdin.isatty():
            raise EOFError
        if not typed:
            message = f'The lines end at the question "{question}", so nothing was written.'
            hint = "Add the answers from there on; a line with ? stands for what you do not know."
            raise InputError("input.lines", message, None, hint)
        kept = " ".join("".join(char if char.isprintable() else " " for char in typed).split())[:LONGEST]
        if typed and not sys.stdin.isatty():
            self.paper.say(kept)  # a terminal has shown it already
        return kept

    def text(
        self, question: str, refuse: Refuse | None = None, *, empty: bool = False, lacking: str = WRITE_SOMETHING
    ) -> str:
        """A text; UNKNOWN where it is not known; empty only where that is an answer, else what is `lacking` is told."""
        for _ in range(TRIES):
            typed = self.line(question)
            if not typed and not empty:
                self.paper.say(lacking, indent=2)
                continue
            wrong = refuse(typed) if refuse and typed not in ("", UNKNOWN) else ""
            if not wrong:
                self._given.append(typed)
                return typed
            self.paper.say(wrong, indent=2)
        return UNKNOWN

    def number(self, question: str, low: float, high: float) -> float | None:
        """A number from low to high; None where it is not known."""

        def refuse(typed: str) -> str:
            found = _number(typed)
            if found is None or not low <= found <= high:
                return f"A number from {low:g} to {high:g} is wanted, or ? where you do not know."
            return ""

        typed = self.text(question, refuse)
        return None if typed == UNKNOWN else _number(typed)

    def choose(
        self, question: str, texts: Sequence[str], *, several: bool = False, empty: str = "none of them"
    ) -> list[int]:
        """Places of the chosen texts; none where it is not known or nothing was chosen.

        `empty` is what an empty line means; without it one has to be chosen.
        """
        self.paper.say(question)
        for number, text in enumerate(texts, 1):
            self.paper.item(f"{number:2}", text)
        most = len(texts)
        else_ = f"empty: {empty}" if empty else "?: I do not know"
        wanted = f"A number from 1 to {most} is wanted{', or several' if several else ''}; {else_}."

        def refuse(typed: str) -> str:
            numbers = _numbers(typed)
            if not numbers or not all(1 <= one <= most for one in numbers) or (len(numbers) > 1 and not several):
                return wanted
            return ""

        which = "Which? Its number, or several;" if several else "Which? Its number;"
        typed = self.text(f"{which} {else_}.", refuse, empty=bool(empty), lacking=wanted)
        return [] if typed in ("", UNKNOWN) else [one - 1 for one in _numbers(typed)]

    def pick(
        self,
        question: str,
        things: Sequence[Thing],
        told: Callable[[Thing], str],
        shown: Callable[[Thing], str] | None = None,
        rank: Callable[[str], Sequence[Thing]] | None = None,
        *,
        several: bool = False,
        open_end: bool = False,
    ) -> tuple[str, list[Thing]]:
        """What was typed in a few words, and in a list the thing that it means; empty where it means none of them.

        Nothing typed gives an empty text, and so does UNKNOWN unless the end may stay open. The words are looked for in
        what is `told` of a thing, unless there is a better way to `rank` them; that, or what is to be `shown`, is
        offered. What is told by these very words is taken at once.
        """
        typed = self.text(question, words, empty=True)
        if typed in ("", UNKNOWN):
            return typed if open_end else "", []
        for thing in things:
            if told(thing).casefold() == typed.casefold():
                self.paper.say(f"The book has it: {(shown or told)(thing)}.", indent=2)
                return typed, [thing]
        found = (rank(typed) if rank else nearest_first(typed, things, told))[:MOST]
        if not found:
            self.paper.say("The book has nothing like that.", indent=2)
            return typed, []
        chosen = self.choose("The book has:", [(shown or told)(one) for one in found], several=several)
        return typed, [found[one] for one in chosen]


def nearest_first(typed: str, things: Sequence[Thing], told: Callable[[Thing], str]) -> list[Thing]:
    """Of the things those that share words with what was typed, those that share most first."""
    wanted = {_stem(word) for word in re.findall(r"[a-z0-9]+", typed.lower()) if len(word) > 2 and word not in SMALL}
    scored = []
    for place, thing in enumerate(things):
        words = {_stem(word) for word in re.findall(r"[a-z0-9]+", told(thing).lower())}
        common = len(wanted & words)
        if common:
            scored.append((-common, place, thing))
    return [thing for *_, thing in sorted(scored, key=lambda one: one[:2])]


SMALL = frozenset("the and with for not are was that when its this from into has have too does".split())


def _stem(word: str) -> str:
    """A word without its ending, so that "rubs" and "rubbing" are one."""
    for ending in ("ing", "ed", "es", "s"):
        if word.endswith(ending) and len(word) - len(ending) > 2:
            word = word[: -len(ending)]
            break
    return word[:-1] if len(word) > 3 and word[-1] == word[-2] else word


def words(typed: str) -> str:
    """What is wrong with a text that must be of words."""
    return "" if re.search(r"[^\W\d]", typed) else "Words are wanted here, not a number."


def _number(typed: str) -> float | None:
    found = re.fullmatch(r"(\d{1,6}(?:[.,]\d{1,4})?)\s*(?:%|in 100|of 100|minutes?|min)?", typed.strip())
    return float(found[1].replace(",", ".")) if found else None


def _numbers(typed: str) -> list[int]:
    if not re.fullmatch(r"\d{1,3}(?:[\s,]+\d{1,3})*", typed):
        return []
    return [int(one) for one in re.findall(r"\d+", typed)]
