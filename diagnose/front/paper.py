"""Writing on the screen: wrapped to its width, readable without colour and without Unicode, never parsing markup.

Cast: `Paper` with `say`, `head`, `item`, `tail`, `bar` and `rule`. Bold and dim only underline what the words say
already; they are left out where the output is no terminal.
"""

from __future__ import annotations

import io
import os
import shutil
import sys
import unicodedata
from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import TextIO

from rich.console import Console
from rich.text import Text

NARROWEST, WIDEST = 20, 76
"""Columns of a line: longer ones are hard to read from the stand."""
OF_PYTHON = ("C.UTF-8", "C.utf8", "UTF-8")
"""What Python itself writes into LC_CTYPE where it finds the C locale."""
TOGETHER = 6
"""A paragraph of up to so many lines is not parted where a screen is full."""
PLAIN = {
    "·": ".",
    "–": "-",
    "—": "-",
    "−": "-",
    "→": "->",
    "\N{LEFT SINGLE QUOTATION MARK}": "'",
    "\N{RIGHT SINGLE QUOTATION MARK}": "'",
    "“": '"',
    "”": '"',
    "…": "...",
    "°": " deg",
    "×": "x",
    "±": "+/-",
    "½": "1/2",
    "¼": "1/4",
    "⁄": "/",
    "′": "'",
    "″": '"',
    "≤": "<=",
    "≥": ">=",
    "≈": "about ",
    "ß": "ss",
    "æ": "ae",
    "ø": "o",
    "ü": "ue",
    "ö": "oe",
    "ä": "ae",
    "Ü": "Ue",
    "Ö": "Oe",
    "Ä": "Ae",
    "µ": "u",
    "μ": "u",
    "€": "EUR",
}
"""How a character is written where only ASCII can be shown."""


class Paper:
    """Lines on the screen, for text that anybody may have typed.

    Attributes:
        turn: called when a terminal's screen is full, to wait until it has been read; None: never.
    """

    def __init__(self, stream: TextIO | None = None, plain: bool | None = None, width: int | None = None) -> None:
        self.stream = stream or sys.stdout or io.StringIO()  # a closed standard output is written to nowhere
        encoding = (getattr(self.stream, "encoding", None) or "ascii").lower().replace("-", "")
        ascii_only = not encoding.startswith("utf") or (stream is None and _c_locale(os.environ))
        self.ascii = ascii_only if plain is None else plain
        self._console = Console(file=self.stream, markup=False, emoji=False, highlight=False, no_color=True)
        self.turn: Callable[[], None] | None = None
        self._width = width
        self._written = 0

    @property
    def width(self) -> int:
        """Columns of a line, as wide as the screen is now."""
        columns = self._width or shutil.get_terminal_size().columns
        return max(NARROWEST, min(WIDEST, columns))

    def clean(self, text: str) -> str:
        """The text with what cannot be shown replaced; control characters never reach the terminal."""
        kept = "".join(_shown(char) for char in text)
        return _plain(kept) if self.ascii else kept

    def say(self, text: str = "", style: str = "", indent: int = 0, hang: int = 0) -> None:
        """A paragraph, wrapped; `indent` before every line, `hang` more before all but the first."""
        parts = self.clean(text).split("\n")
        lines = [line for part in parts for line in self._wrapped(part, self.width, indent, hang)]
        if self.turn and len(lines) <= TOGETHER and not self.has_room(len(lines)):
            self.full()
        for line in lines:
            self._line(line, style)

    def head(self, text: str) -> None:
        """A heading, with an empty line before it."""
        self.say()
        self.say(text, style="bold")

    def item(self, mark: str, text: str, style: str = "", indent: int = 1) -> None:
        """A line that begins with a mark, such as a key or a number."""
        self.say(f"{mark} {text}", style=style, indent=indent, hang=len(mark) + 1)

    def numbered(self, number: int, text: str) -> int:
        """An item that begins with its number; how far in stands what belongs below it."""
        mark = f"{number}."
        self.item(mark, text)
        return len(mark) + 2

    def row(self, texts: Sequence[str], style: str = "") -> None:
        """Short texts side by side, none of them broken, on as few lines as they take."""
        line = ""
        for text in texts:
            if line and len(line) + 2 + len(text) > self.width:
                self._line(line, style)
                line = ""
            line += f"  {text}" if line else text
        if line:
            self._line(line, style)

    def tail(self, text: str = "") -> None:
        """The rest of the line that a prompt has begun: what was answered."""
        first, *rest = self._wrapped(self.clean(text).replace("\n", " "), self.width - 2, 0, 0)
        self._line(first, "", flush=True)
        for line in rest:
            self._line(f"  {line}", "")

    def whole(self, text: str) -> None:
        """A line that is not broken whatever its width, such as a command to be copied."""
        self._line(f" {self.clean(text)}", "")

    def drawn(self, text: str) -> None:
        """A line of a drawing, with its blanks as they are."""
        self._line(self.clean(text), "")

    def rule(self) -> None:
        """A line across."""
        self._line(("-" if self.ascii else "─") * self.width, "dim")

    def bar(self, share: float, length: int = 12) -> str:
        """A share drawn as a bar."""
        full = round(share * length)
        return ("#" if self.ascii else "█") * full + ("." if self.ascii else "░") * (length - full)

    def read(self) -> None:
        """What is on the screen has been read: a key was pressed."""
        self._written = 0

    def has_room(self, lines: int) -> bool:
        """Whether so many more lines leave what was written since the last key on the screen."""
        return self._written + lines < max(5, shutil.get_terminal_size().lines - 1)

    def full(self) -> None:
        """Nothing more fits: wait until the screen has been read, where somebody waits at all."""
        if self.turn:
            self._written = 0
            self.turn()

    def _line(self, line: str, style: str, flush: bool = False) -> None:
        if self.turn and not self.has_room(1):
            self.full()
        self._console.print(Text(line.rstrip(" "), style), no_wrap=True, overflow="ignore", crop=False)
        if flush:
            self.stream.flush()
        self._written += 1

    def _wrapped(self, text: str, width: int, indent: int, hang: int) -> Iterator[str]:
        """The lines of a paragraph, `width` cells wide at most; a word that is too long for a line is broken."""
        first, *rest = self._lines(text, width - indent) or [""]
        yield " " * indent + first
        if rest:
            begin = " " * (indent + hang)
            left = text[len(first) :].lstrip(" ") if hang else ""
            for line in self._lines(left, width - len(begin)) if hang else rest:
                yield begin + line

    def _lines(self, text: str, width: int) -> list[str]:
        lines = Text(text).wrap(self._console, max(2, width), overflow="fold")
        return [line.plain.rstrip(" ") for line in lines]


def _shown(char: str) -> str:
    if char.isprintable() or char == "\n":
        return char
    return "" if unicodedata.category(char) == "Cf" else " " if char.isspace() else "?"


def _c_locale(environ: Mapping[str, str]) -> bool:
    """Whether the C locale is named outright: Python writes UTF-8 under it, which the terminal may not know."""
    words = environ.get("LC_CTYPE", "")
    named = environ.get("LC_ALL") or ("" if words in OF_PYTHON else words) or environ.get("LANG")
    return named in ("C", "POSIX")


def _plain(text: str) -> str:
    spelled = "".join(PLAIN.get(char, char) for char in text)
    if spelled.isascii():
        return spelled
    parts = unicodedata.normalize("NFKD", spelled)
    return "".join(char if char.isascii() else "?" for char in parts if not unicodedata.combining(char))
