"""Every slip, and why a code matters.

Cast: `SLIPS`, `why_of`.
"""

from __future__ import annotations

from diagnose.book.slips import bands, files, folders, sense, sums, words, writing
from diagnose.book.slips.slip import Slip

SLIPS: tuple[Slip, ...] = tuple(
    one()
    for room in (files, writing, words, sense, bands, sums, folders)
    for one in vars(room).values()
    if isinstance(one, type) and issubclass(one, Slip) and one is not Slip
)
"""All of them, as they stand in their files."""

_WHY = {slip.name: slip.why for slip in SLIPS}


def why_of(code: str) -> str:
    """Why what has this code matters; empty for a code that is no slip of an author."""
    return _WHY.get(code, "")
