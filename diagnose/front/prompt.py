"""Asking: a key or a line, until there is an answer. Wrong keys never end anything.

Cast: `Prompt.ask` takes one key an answer, `Prompt.ask_line` words or a reading; both draw their `Screen` again after a
look elsewhere. A `Command` is what the keys beside the answers do. `Leave`, `Back` and `Changed` are the ways out.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import TypeVar

from diagnose.front import wording
from diagnose.front.keys import Keyboard
from diagnose.front.paper import Paper

ENTER = -1
"""What `Prompt.ask` gives for Enter, where Enter is an answer."""
CANNOT = -2
"""What it gives for "can't tell"."""
MOST_ON_KEYS = 9
"""More answers than this are typed as a number, with Enter."""

FOOT = 4
"""Lines below the answers."""

Command = Callable[[str], bool]
"""What a key beside the answers does: True when it has shown something, False when it means nothing here."""
T = TypeVar("T")


class Leave(Exception):  # noqa: N818 - leaving is no error
    """The job is left for now."""


class Back(Exception):  # noqa: N818 - going back is no error
    """One step back: out of a screen within a screen, else in the job."""


class Changed(Exception):  # noqa: N818 - a change is no error
    """What is known has changed, or a screen within a screen was left: the job's screen is drawn anew."""


@dataclass(frozen=True, slots=True)
class Screen:
    """What is asked, and the keys that answer it.

    Attributes:
        draw: draws what stands above the answers.
        answers: texts of the answers on the keys 1, 2, ...; an empty one is no answer now, and its key does nothing.
        cannot: whether "can't tell" is an answer.
        enter: what Enter means here; empty: it draws the screen again.
        below: draws what stands below the answers; None: an empty line.
        hints: the letters that are named at the foot.
        long: whether a terminal stops where it is full, before the top of the screen is lost.
    """

    draw: Callable[[], None]
    answers: tuple[str, ...] = ()
    cannot: bool = False
    enter: str = ""
    below: Callable[[], None] | None = None
    hints: str = "".join(wording.HINTS)
    long: bool = False


class Prompt:
    """Asks on a paper, with a keyboard."""

    def __init__(self, paper: Paper, keys: Keyboard) -> None:
        self.paper = paper
        self.keys = keys

    def ask(self, screen: Screen, command: Command) -> int:
        """The place of the answer that was chosen, from 0; or CANNOT, or ENTER."""
        by_line = len(screen.answers) > MOST_ON_KEYS
        show = True
        while True:
            if show:
                self._draw(screen, by_line)
            typed = self.line().lower() if by_line else self._key()
            number = _number(typed, screen.answers)
            show = False
            if number is not None:
                self._echo(screen.answers[number], by_line)
                return number
            if typed == "c" and screen.cannot:
                self._echo(wording.CANNOT, by_line)
                return CANNOT
            if not typed:
                self._echo("", by_line)
                if screen.enter:
                    return ENTER
                show = True
            elif typed in wording.DID:
                self._echo(wording.DID[typed], by_line)
                show = self._do(typed, command, screen)
            else:
                self._wrong(screen, by_line)

    def ask_line(self, screen: Screen, accept: Callable[[str], T | None], command: Command) -> T | None:
        """What `accept` makes of a line; None for "can't tell".

        Args:
            screen: what is asked.
            accept: the answer that a line means; None where it means none and has said why. Single letters that are
                keys do not come to it; the empty line does.
            command: does what those keys do.
        """
        show = True
        while True:
            if show:
                self._draw(screen, by_line=bool(screen.hints))
            typed = self.line()
            letter = typed.lower()
            show = False
            if letter == "c" and screen.cannot:
                return None
            if letter in wording.DID:
                show = self._do(letter, command, screen)
            elif not typed and not screen.enter:
                show = True
            else:
                value = accept(typed)
                if value is not None:
                    return value

    def line(self) -> str:
        """One line of free text."""
        typed = self.keys.line()
        if not self.keys.single:  # nothing else shows what came through the pipe
            self.paper.tail(typed)
        self.paper.read()
        return typed

    # --- within ----------------------------------------------------------------------------------------------------

    def _draw(self, screen: Screen, by_line: bool) -> None:
        with self._turning(screen.long):
            screen.draw()
            if screen.long and not self.paper.has_room(len(screen.answers) + FOOT):
                self.paper.full()
        width = len(str(len(screen.answers)))
        for number, text in enumerate(screen.answers, 1):
            if text:
                self.paper.item(f"{number:{width}} ", text)
        if screen.cannot and screen.answers:
            self.paper.item(f"{'c':>{width}} ", wording.CANNOT)
        if screen.enter:
            self.paper.item(f"{wording.ENTER} ", screen.enter)
        if screen.below:
            screen.below()
        elif screen.hints:
            self.paper.say()
        hints = "  ".join(f"{key} {wording.HINTS[key]}" for key in screen.hints)
        if hints:
            self.paper.say(hints, style="dim")
        if by_line:
            self.paper.say(wording.WITH_ENTER, style="dim")

    def _key(self) -> str:
        typed = self.keys.key()
        self.paper.read()
        return typed

    def _echo(self, text: str, by_line: bool) -> None:
        """Say back what was chosen: beside the prompt, or below the line that was typed."""
        if not by_line:
            self.paper.tail(text)
        elif text:
            self.paper.say(f"= {text}", indent=1)

    def _do(self, letter: str, command: Command, screen: Screen) -> bool:
        """What a key beside the answers does; on a terminal the screen then waits until it has been read."""
        while self._shows(letter, command):
            if not self.keys.single:
                return True
            self.paper.say(wording.GO_ON, style="dim")
            letter = self._key()
            self.paper.tail(wording.DID.get(letter, ""))
            if letter not in wording.SHOWS:
                return True
        self._wrong(screen, by_line=True)
        return False

    def _wrong(self, screen: Screen, by_line: bool) -> None:
        last = max((place for place, text in enumerate(screen.answers, 1) if text), default=0)
        here = [wording.NUMBERS.format(last=last) if last > 1 else "1"] if last else []
        here += ["c"] if screen.cannot else []
        here += [wording.ENTER] if screen.enter else []
        text = wording.WRONG_KEY.format(keys=", ".join([*here, *screen.hints[:1], "h"]))
        self.paper.say(text) if by_line else self.paper.tail(text)

    def _shows(self, letter: str, command: Command) -> bool:
        with self._turning(letter in wording.SHOWS):
            return command(letter)

    @contextmanager
    def _turning(self, wanted: bool) -> Iterator[None]:
        """While it lasts, a terminal waits whenever its screen is full."""
        self.paper.turn = self._turn if wanted and self.keys.single else None
        try:
            yield
        finally:
            self.paper.turn = None

    def _turn(self) -> None:
        """The screen is full: wait until it has been read."""
        print(self.paper.clean(wording.MORE), end=" ", file=self.paper.stream)
        self.keys.key()
        print(file=self.paper.stream)


def _number(typed: str, answers: tuple[str, ...]) -> int | None:
    """The place from 0 of the answer that a typed number names, None where it names none."""
    if typed.isascii() and typed.isdigit() and len(typed) <= 4 and 1 <= int(typed) <= len(answers):
        return int(typed) - 1 if answers[int(typed) - 1] else None
    return None
