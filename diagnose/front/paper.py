"""Writing on the screen: wrapped to its width, readable without colour and without Unicode, never parsing markup.

Cast: `Paper` with `say`, `head`, `item`, `bar` and `rule`.
"""

from __future__ import annotations

import sys
from typing import Any

NARROWEST, WIDEST = 40, 92
PLAIN = {
    "·": ".",
    "–": "-",
    "—": "-",
    "‘": "'",
    "’": "'",
    "“": '"',
    "”": '"',
    "…": "...",
    "°": " deg",
    "×": "x",
    "±": "+/-",
    "½": "1/2",
    "≤": "<=",
    "≥": ">=",
    "é": "e",
    "ü": "ue",
    "ö": "oe",
    "ä": "ae",
    "µ": "u",
}
"""How a character is written where only ASCII can be shown."""


class Paper:
    """A console for text that anybody may have typed."""

    def __init__(self, stream: Any = None, plain: bool | None = None, width: int | None = None) -> None:
        from rich.console import Console

        out = stream or sys.stdout
        encoding = (getattr(out, "encoding", None) or "ascii").lower().replace("-", "")
        self.ascii = not encoding.startswith("utf") if plain is None else plain
        self.console = Console(
            file=out,
            highlight=False,
            markup=False,
            emoji=False,
            soft_wrap=False,
            width=width,
            no_color=True if plain else None,
        )
        self.width = max(NARROWEST, min(WIDEST, self.console.width))

    def clean(self, text: str) -> str:
        """The text with what cannot be shown replaced; control characters never reach the terminal."""
        kept = "".join(char if char.isprintable() or char == "\n" else "?" for char in text)
        if not self.ascii:
            return kept
        return "".join(PLAIN.get(char, char) for char in kept).encode("ascii", "replace").decode("ascii")

    def say(self, text: str = "", style: str = "", indent: int = 0, hang: int = 0) -> None:
        """A paragraph, wrapped; `indent` before every line, `hang` more before all but the first."""
        from textwrap import wrap

        for part in self.clean(text).split("\n") or [""]:
            lines = wrap(part, self.width, initial_indent=" " * indent, subsequent_indent=" " * (indent + hang))
            for line in lines or [""]:
                self.console.print(line, style=style or None, overflow="ignore", no_wrap=True, crop=False)

    def head(self, text: str) -> None:
        """A heading, with an empty line before it."""
        self.say()
        self.say(text, style="bold")

    def item(self, mark: str, text: str, style: str = "", indent: int = 1) -> None:
        """A line that begins with a mark, such as a key or a number."""
        self.say(f"{mark} {text}", style=style, indent=indent, hang=len(mark) + 1)

    def rule(self) -> None:
        """A line across."""
        self.say(("-" if self.ascii else "─") * self.width, style="dim")

    def bar(self, share: float, length: int = 20) -> str:
        """A share drawn as a bar."""
        full = round(share * length)
        return ("#" if self.ascii else "█") * full + ("." if self.ascii else "░") * (length - full)
