"""Every anomaly that the check on a rule book looks for, from all rooms.

Cast: `every_anomaly`, `named`.
"""

from __future__ import annotations

from pathlib import Path

from diagnose.book.anomalies.anomaly import Anomaly
from diagnose.book.anomalies.catalogue import OF_THE_BOOK
from diagnose.book.problems import nearest
from diagnose.casework.anomalies import of_cases
from diagnose.errors import InputError
from diagnose.reason.anomalies.catalogue import OF_REASONING


def every_anomaly(*cases: Path) -> tuple[Anomaly, ...]:
    """All of them; those that need worked cases read them from these folders and find nothing without any."""
    return (*OF_THE_BOOK, *OF_REASONING, *of_cases(cases))


def named(code: str) -> Anomaly:
    """The anomaly with this code.

    Raises:
        InputError: there is none.
    """
    known = {anomaly.name: anomaly for anomaly in every_anomaly()}
    if code not in known:
        hint = nearest(code, known) or "`diagnose rules explain` lists them."
        raise InputError("anomaly.unknown", f"the check looks for nothing called '{code}'", None, hint)
    return known[code]
