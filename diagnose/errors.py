"""The few exceptions of the project, each with a code, a message, a place and a hint.

`front` turns them into exit codes and one clear message; nothing else prints them.
"""

from __future__ import annotations

from typing import NamedTuple


class Location(NamedTuple):
    """A place in a file: path as the user gave it, line and column counted from 1 (0: the whole file)."""

    file: str
    line: int = 0
    column: int = 0

    def __str__(self) -> str:
        return f"{self.file}:{self.line}:{self.column}" if self.line else self.file


class DiagnoseError(Exception):
    """What went wrong (`message`), where (`location`), and what to do (`hint`); `code` is a lasting short name."""

    def __init__(self, code: str, message: str, location: Location | None = None, hint: str = "") -> None:
        super().__init__(message)
        self.code = code
        self.message = message
        self.location = location
        self.hint = hint

    def __str__(self) -> str:
        place = f"{self.location}: " if self.location else ""
        stop = "" if self.message.endswith((".", "!", "?")) or not self.hint else "."
        hint = f"{stop} {self.hint}" if self.hint else ""
        return f"{place}{self.message}{hint}"


class BookError(DiagnoseError):
    """The rule book cannot be used as it is."""


class CaseError(DiagnoseError):
    """A case or case file does not fit the book or itself."""


class InputError(DiagnoseError):
    """What was typed or passed cannot be taken; nothing was changed."""


class StoreError(DiagnoseError):
    """The store of cases cannot be read or written."""


class EngineError(DiagnoseError):
    """The inference engine failed or was given what it cannot take."""
