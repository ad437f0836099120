"""Keys from a terminal, or lines from a pipe.

Cast: `Keyboard` is what a screen reads from: `key` for one key an answer, `line` for words and readings; it is open
inside a `with`. `TerminalKeyboard` takes single keys without Enter and drops what was typed before the screen had
settled; `PipedKeyboard` takes each line as an answer. The end of the input raises `EndOfInput`: the job is kept.
"""

from __future__ import annotations

import io
import os
import re
import sys
from time import monotonic, sleep
from types import TracebackType
from typing import Any, Protocol, Self

PROMPT = "> "
"""Shown when an answer is waited for: what was typed before it is dropped."""
SETTLE = 0.12
"""Seconds after a screen changed in which keys still belong to the screen before."""
HABIT = 0.6
"""Seconds after a key in which an Enter still belongs to that key: many type it out of habit."""
LONGEST = 2000
"""Characters of a line; the rest of it is dropped."""
BURST = 64
"""Bytes of one read: more than one key in it was pasted, or is an arrow or function key."""

_SEQUENCE = re.compile("\x1b(?:[\\[O][0-?]*[ -/]*[@-~]?|.)?")
"""What arrow and function keys send (ECMA-48, 5.4); it never means an answer."""


class EndOfInput(Exception):  # noqa: N818 - the end of the input is no error
    """Nothing more will be typed."""


class Keyboard(Protocol):
    """Where answers come from."""

    single: bool
    """Whether single keys can be had, without Enter."""

    def key(self) -> str:
        """One key, lower case; a whole line where keys cannot be had one by one. Enter is the empty text."""

    def line(self) -> str:
        """One line, without surrounding blanks."""

    def __enter__(self) -> Self: ...

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None, /
    ) -> None: ...


class PipedKeyboard:
    """Lines of standard input, each an answer."""

    single = False

    def __init__(self, stream: Any = None) -> None:
        self.source = stream or sys.stdin or io.StringIO()  # a closed standard input is an empty one
        self.stream = getattr(self.source, "buffer", self.source)

    def key(self) -> str:
        """The next line, lower case."""
        return self._next().lower()

    def line(self) -> str:
        """The next line."""
        return self._next()

    def _next(self) -> str:
        print(PROMPT, end="", flush=True)
        line = self.stream.readline(LONGEST)
        if not line:
            raise EndOfInput
        whole = line
        while whole and whole[-1:] not in (b"\n", "\n"):
            whole = self.stream.readline(LONGEST)
        text = line.decode("utf-8", "replace") if isinstance(line, bytes) else str(line)
        return _typed(text)

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None, /
    ) -> None:
        pass


class TerminalKeyboard:
    """A terminal: keys one by one and unseen; lines with the terminal's own editing."""

    single = True

    def __init__(self) -> None:
        self.file = sys.stdin.fileno()
        self._before: Any = None
        self._waiting_for_line = False
        self._pressed = 0.0
        self._woken = self._waking = -1
        """Both ends of a pipe that every signal writes to."""
        self._wakes_before = -1

    def key(self) -> str:
        """One key, once the screen has settled; a paste, an arrow or a function key is one key that means nothing."""
        self._settle()
        raw = self._read(BURST)
        while raw in (b"\r", b"\n") and self._out_of_habit():
            self._pressed = monotonic()  # an Enter that is held down stays the same Enter
            raw = self._read(BURST)
        self._pressed = monotonic()
        if raw == b"\x04":
            raise EndOfInput
        if raw == b"\x03":
            raise KeyboardInterrupt
        text = raw.decode("utf-8", "replace").lower()
        if text in ("\r", "\n"):
            return ""
        if text[1:] in ("\r", "\n"):  # a slow line brings a key and the Enter behind it in one piece
            text = text[:1]
        return text if len(text) == 1 and text.isprintable() else UNKNOWN

    def line(self) -> str:
        """One line, once the screen has settled."""
        self._waiting_for_line = True
        try:
            self._settle()
            raw = self._read(LONGEST * 4)
            while raw == b"\n" and self._out_of_habit():
                sys.stdout.write(PROMPT)
                sys.stdout.flush()
                raw = self._read(LONGEST * 4)
            while not raw.endswith(b"\n"):  # the end of the input was typed behind some words
                more = self._read(LONGEST * 4, end=b"")
                if not more:
                    break
                raw += more
        finally:
            self._waiting_for_line = False
            self._keys()
        return _typed(raw.decode("utf-8", "replace"))

    def _read(self, most: int, end: bytes | None = None) -> bytes:
        """What was typed; at the end of the input `end`, or EndOfInput where it is left out.

        A signal that comes between the interpreter's last look for signals and the waiting would be heard only after
        the next key; the pipe that it writes to ends the waiting.
        """
        from select import select

        try:
            while self.file not in (ready := select([self.file, self._woken], [], [])[0]):
                os.read(ready[0], BURST)
            raw = os.read(self.file, most)
        except OSError:  # the terminal has gone
            raw = b""
        if raw or end is not None:
            return raw
        raise EndOfInput

    def _out_of_habit(self) -> bool:
        """Whether an Enter comes so soon behind a key that it belongs to it."""
        return monotonic() - self._pressed < HABIT

    def _settle(self) -> None:
        """Drop, unseen, what was typed before this screen was there; then show that an answer is waited for."""
        import termios

        sys.stdout.flush()
        sleep(SETTLE)
        try:
            termios.tcflush(self.file, termios.TCIFLUSH)
            if self._waiting_for_line:
                self._lines()
        except termios.error:
            raise EndOfInput from None
        sys.stdout.write(PROMPT)
        sys.stdout.flush()

    def _keys(self) -> None:
        """Keys one by one, without echo; Ctrl-C and Ctrl-Z work, Ctrl-S does not freeze the screen."""
        import termios

        mode = termios.tcgetattr(self.file)
        mode[0] &= ~termios.IXON
        mode[3] &= ~(termios.ECHO | termios.ICANON)
        mode[6][termios.VMIN], mode[6][termios.VTIME] = 1, 0
        termios.tcsetattr(self.file, termios.TCSADRAIN, mode)

    def _lines(self) -> None:
        """Lines with echo and editing, as the terminal was before."""
        import termios

        termios.tcsetattr(self.file, termios.TCSADRAIN, self._before)

    def _continued(self, *_: object) -> None:
        """The program was stopped (Ctrl-Z) and goes on: the shell has changed the terminal meanwhile."""
        import contextlib
        import termios

        with contextlib.suppress(termios.error):
            (self._lines if self._waiting_for_line else self._keys)()

    def _asked_to_end(self, *_: object) -> None:
        raise EndOfInput

    def __enter__(self) -> Self:
        import signal
        import termios

        self._before = termios.tcgetattr(self.file)
        self._woken, self._waking = os.pipe()
        os.set_blocking(self._waking, False)
        self._wakes_before = signal.set_wakeup_fd(self._waking, warn_on_full_buffer=False)
        signal.signal(signal.SIGCONT, self._continued)
        signal.signal(signal.SIGTERM, self._asked_to_end)
        self._keys()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None, /
    ) -> None:
        import contextlib
        import signal
        import termios

        for number in (signal.SIGCONT, signal.SIGTERM):
            signal.signal(number, signal.SIG_DFL)
        signal.set_wakeup_fd(self._wakes_before)
        os.close(self._woken)
        os.close(self._waking)
        with contextlib.suppress(termios.error):
            self._lines()


UNKNOWN = "\N{REPLACEMENT CHARACTER}"
"""A key that means nothing anywhere."""


def _typed(text: str) -> str:
    """A line without what arrow and function keys put into it, without control characters and surrounding blanks."""
    bare = _SEQUENCE.sub("", text.replace("\ufeff", ""))
    return "".join(char for char in bare if char.isprintable() or char in "\t ").strip()[:LONGEST]


def keyboard() -> Keyboard:
    """The terminal's keys if there is a terminal that gives them, else the lines of standard input."""
    try:
        import termios  # noqa: F401 - only to see whether single keys can be had

        if sys.stdin and sys.stdout and sys.stdin.isatty() and sys.stdout.isatty():
            return TerminalKeyboard()
    except ImportError:
        pass
    return PipedKeyboard()
