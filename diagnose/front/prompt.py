"""Asking: a key or a line, until there is an answer. Wrong keys never end anything.

Cast: `Prompt.ask` takes one key an answer, `Prompt.ask_line` words or a reading; both draw their `Screen` again after a
look elsewhere. A `Command` is what the keys beside the answers do. `Leave`, `Back` and `Changed` are the ways out.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from io import StringIO
from typing import TypeVar

from diagnose.front import wording
from diagnose.front.keys import Keyboard
from diagnose.front.paper import Paper

ENTER = -1
"""What `Prompt.ask` gives for Enter, where Enter is an answer."""
CANNOT = -2
"""What it gives for "can't tell"."""
KEYS = 9
"""Number keys for answers."""
MORE = "0"
"""The key that shows further answers, where there are more than ten."""

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
        under: draws what stands below one answer, given its place.
        hints: the letters that are named at the foot.
        long: whether a terminal stops where it is full, before the top of the screen is lost.
    """

    draw: Callable[[], None]
    answers: tuple[str, ...] = ()
    cannot: bool = False
    enter: str = ""
    below: Callable[[], None] | None = None
    under: Callable[[int], None] | None = None
    hints: str = "".join(wording.HINTS)
    long: bool = False


class Prompt:
    """Asks on a paper, with a keyboard."""

    def __init__(self, paper: Paper, keys: Keyboard) -> None:
        self.paper = paper
        self.keys = keys

    def ask(self, screen: Screen, command: Command) -> int:
        """The place of the answer that was chosen, from 0; or CANNOT, or ENTER."""
        page, show = 0, True
        while True:
            keys = self._keys(screen, page)
            if show:
                self._draw(screen, keys)
            typed = self._key()
            show = False
            if typed in keys:
                self.paper.tail(screen.answers[keys[typed]])
                return keys[typed]
            if typed == "c" and screen.cannot:
                self.paper.tail(wording.CANNOT)
                return CANNOT
            if typed == MORE and self._pages(screen) > 1:
                self.paper.tail(wording.MORE_ANSWERS)
                page, show = (page + 1) % self._pages(screen), True
            elif not typed:
                self.paper.tail()
                if screen.enter:
                    return ENTER
                show = True
            elif typed in wording.DID and typed != "c":
                self.paper.tail(wording.DID[typed])
                show = self._do(typed, command, screen, keys)
            else:
                self.paper.tail(self._wrong(screen, keys))

    def holds(self, drawn_on: Callable[[Paper], Screen]) -> bool:
        """Whether a screen of this size shows all of it at once, wherever it is drawn."""
        scratch = Paper(StringIO(), plain=self.paper.ascii, width=self.paper.width)
        screen, prompt = drawn_on(scratch), Prompt(scratch, self.keys)
        prompt._draw(screen, prompt._keys(screen, 0))
        return scratch.has_room(0)

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
                self._draw(screen, {})
            typed = self.line()
            letter = typed.lower()
            show = False
            if letter == "c" and screen.cannot:
                return None
            if letter in wording.DID:
                show = self._do(letter, command, screen, ())
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

    def _pages(self, screen: Screen) -> int:
        """How many times the answers fill the number keys; a pipe has no keys to run out of."""
        count = len(screen.answers)
        return -(-count // KEYS) if self.keys.single and count > KEYS + 1 else 1

    def _keys(self, screen: Screen, page: int) -> dict[str, int]:
        """Each key that is an answer now, with its place; ten answers take the 0 too."""
        places = range(len(screen.answers))
        if self._pages(screen) > 1:
            places = places[page * KEYS : (page + 1) * KEYS]
        keys = {str(number): place for number, place in enumerate(places, 1)}
        if self.keys.single and len(places) == KEYS + 1:
            keys["0"] = keys.pop(str(KEYS + 1))
        return {key: place for key, place in keys.items() if screen.answers[place]}

    def _draw(self, screen: Screen, keys: dict[str, int]) -> None:
        with self._turning(screen.long):
            screen.draw()
            if screen.long and not self.paper.has_room(len(keys) + FOOT):
                self.paper.full()
        width = max(map(len, keys), default=1)
        for key, place in keys.items():
            self.paper.item(f"{key:>{width}} ", screen.answers[place])
            if screen.under:
                screen.under(place)
        if self._pages(screen) > 1:
            self.paper.item(f"{MORE} ", wording.MORE_ANSWERS)
        if screen.cannot and screen.answers:
            self.paper.item(f"{'c':>{width}} ", wording.CANNOT)
        if screen.enter:
            self.paper.item(f"{wording.ENTER} ", screen.enter)
        if screen.below:
            screen.below()
        elif screen.hints:
            self.paper.say()
        self.paper.row([f"{key} {wording.HINTS[key]}" for key in screen.hints], style="dim")
        if screen.hints and not screen.answers:
            self.paper.say(wording.WITH_ENTER, style="dim")

    def _key(self) -> str:
        typed = self.keys.key()
        self.paper.read()
        return typed

    def _do(self, letter: str, command: Command, screen: Screen, keys: Iterable[str]) -> bool:
        """What a key beside the answers does; on a terminal the screen then waits until it has been read."""
        while self._shows(letter, command):
            if not self.keys.single:
                return True
            self.paper.say(wording.GO_ON, style="dim")
            letter = self._key()
            shows = letter in wording.SHOWS
            self.paper.tail(wording.DID[letter] if shows else "")
            if not shows:
                return True
        self.paper.say(self._wrong(screen, keys))
        return False

    def _wrong(self, screen: Screen, keys: Iterable[str]) -> str:
        """What is said of a key that means nothing here; `keys` are those of the answers."""
        here = [
            wording.NUMBERS.format(first=first, last=last) if first != last else str(first)
            for first, last in _runs(map(int, keys))
        ]
        here += [MORE] if self._pages(screen) > 1 else []
        here += ["c"] if screen.cannot else []
        here += [wording.ENTER] if screen.enter else []
        return wording.WRONG_KEY.format(keys=", ".join([*here, *screen.hints.removesuffix("h"), "h"]))

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


def _runs(numbers: Iterable[int]) -> list[tuple[int, int]]:
    """The first and the last of each run of numbers that follow one another."""
    runs: list[tuple[int, int]] = []
    for number in numbers:
        if runs and number == runs[-1][1] + 1:
            runs[-1] = (runs[-1][0], number)
        else:
            runs.append((number, number))
    return runs
