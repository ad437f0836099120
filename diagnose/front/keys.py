"""Keys from a terminal, or lines from a pipe.

Cast: `Keyboard` is what a screen reads from: `key` for one key an answer, `line` for words and readings. `TerminalKeyboard` takes single
keys without Enter and drops what was typed before the screen changed; `PipedKeyboard` takes each line as an answer. The end of the
input raises `EndOfInput`: the job is kept and left.
"""

from __future__ import annotations

import os
import sys
import time
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any, Protocol

if TYPE_CHECKING:
    from collections.abc import Iterator

BOUNCE = 0.12
"""Seconds after a screen changed in which keys still belong to the screen before."""
LONGEST = 2000


class EndOfInput(Exception):  # noqa: N818 - the end of the input is no error
    """Nothing more will be typed."""


class Keyboard(Protocol):
    """Where answers come from."""

    single: bool

    def key(self) -> str:
        """One key, lower case; a whole line where keys cannot be had one by one."""

    def line(self) -> str:
        """One line, without surrounding blanks."""


class PipedKeyboard:
    """Lines of standard input, each an answer."""

    single = False

    def __init__(self, stream: Any = None) -> None:
        self.stream = stream or sys.stdin

    def key(self) -> str:
        """The next line."""
        return self.line()

    def line(self) -> str:
        """The next line."""
        try:
            text = self.stream.readline(LONGEST)
        except (UnicodeDecodeError, ValueError):
            return "?"
        if not text:
            raise EndOfInput
        return str(text).strip()


class TerminalKeyboard:
    """A terminal: single keys in raw reads, lines with the terminal's own editing."""

    single = True

    def __init__(self) -> None:
        self.file = sys.stdin.fileno()

    def key(self) -> str:
        """One key, once the screen has settled; Enter is the empty text, escape sequences are one unknown key."""
        self._settle()
        with self._raw():
            raw = os.read(self.file, 1)
            if raw == b"\x1b":
                os.read(self.file, 16) if self._waiting() else b""
                return "escape"
            while raw and raw[0] & 0xC0 == 0xC0 and self._waiting():
                raw += os.read(self.file, 1)
                if len(raw) >= 4:
                    break
        if raw in (b"", b"\x04"):
            raise EndOfInput
        if raw == b"\x03":
            raise KeyboardInterrupt
        text = raw.decode("utf-8", "replace").lower()
        return "" if text in ("\r", "\n") else text

    def line(self) -> str:
        """One line."""
        self._settle()
        try:
            return input("> ").strip()
        except EOFError:
            raise EndOfInput from None
        except UnicodeDecodeError:
            return "?"

    def _settle(self) -> None:
        """Drop what was typed before this screen was there."""
        import termios

        sys.stdout.flush()
        time.sleep(BOUNCE)
        termios.tcflush(self.file, termios.TCIFLUSH)

    def _waiting(self) -> bool:
        import select

        return bool(select.select([self.file], [], [], 0.02)[0])

    @contextmanager
    def _raw(self) -> Iterator[None]:
        import termios
        import tty

        before = termios.tcgetattr(self.file)
        try:
            tty.setcbreak(self.file, termios.TCSANOW)
            yield
        finally:
            termios.tcsetattr(self.file, termios.TCSANOW, before)


def keyboard() -> Keyboard:
    """The terminal's keys if there is a terminal that gives them, else the lines of standard input."""
    try:
        import termios  # noqa: F401 - only to see whether single keys can be had

        if sys.stdin.isatty() and sys.stdout.isatty():
            return TerminalKeyboard()
    except ImportError:
        pass
    return PipedKeyboard()
