"""Every kind of message of the check on a rule book, from all rooms.

Cast: `every_anomaly` is what is looked for in a book that reads well, `every_kind` has also the slips for which a book
cannot be used; `named` finds one.
"""

from __future__ import annotations

from pathlib import Path

from diagnose.book.anomalies.anomaly import Anomaly
from diagnose.book.anomalies.catalogue import OF_THE_BOOK
from diagnose.book.anomalies.examine import EXCUSES
from diagnose.book.kind import Kind
from diagnose.book.problems import nearest
from diagnose.book.slips.catalogue import SLIPS
from diagnose.casework.anomalies import of_cases
from diagnose.errors import InputError
from diagnose.reason.anomalies.catalogue import OF_REASONING


def every_anomaly(*cases: Path) -> tuple[Anomaly, ...]:
    """All of them; those that need worked cases read them from these folders and find nothing without any."""
    return (*OF_THE_BOOK, *OF_REASONING, *of_cases(cases))


def every_kind() -> tuple[Kind, ...]:
    """All that the check may say, by its code."""
    return tuple(sorted((*every_anomaly(), *SLIPS, *(one() for one in EXCUSES)), key=lambda one: one.name))


def named(code: str) -> Kind:
    """The kind of message with this code.

    Raises:
        InputError: there is none.
    """
    known = {kind.name: kind for kind in every_kind()}
    if code not in known:
        hint = nearest(code, known) or "`diagnose rules explain` lists them."
        raise InputError("anomaly.unknown", f"the check says nothing called '{code}'", None, hint)
    return known[code]
