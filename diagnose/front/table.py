"""Tables for other programs: comma-separated values that a spreadsheet opens without running anything.

Cast: `comma_separated`. A cell that a spreadsheet could take for a formula gets an apostrophe before it, which it then
shows or hides as the mark of a text.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence

FORMULA = "=+-@\t\r\n\uff1d\uff0b\uff0d\uff20|%"
"""Signs with which a formula or a command begins in one spreadsheet or another; the wide ones too."""


def comma_separated(head: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """The table as RFC 4180 has it: a head line, lines ending in CR LF, quotes where they are needed."""
    written = io.StringIO()
    writer = csv.writer(written, lineterminator="\r\n")
    writer.writerow([tame(cell) for cell in head])
    writer.writerows([tame(cell) for cell in row] for row in rows)
    return written.getvalue()


def tame(cell: str) -> str:
    """The cell on one line, without control characters, and never a formula."""
    clean = "".join(char if char.isprintable() else " " for char in cell)
    first = clean.lstrip()[:1] or cell[:1]
    return f"'{clean}" if first and first in FORMULA else clean
