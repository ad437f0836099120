"""The anomalies that a book shows by itself.

Cast: `OF_THE_BOOK`.
"""

from __future__ import annotations

from diagnose.book.anomalies.anomaly import Anomaly
from diagnose.book.anomalies.deductions import Circular, Conflicting, Redundant, Subsumed, Unnecessary
from diagnose.book.anomalies.ends import DeadCondition, DeadGoal, Unreachable
from diagnose.book.anomalies.sense import DangerContradicted, NormalMended, SharesAddUp, WithoutBasis
from diagnose.book.anomalies.speech import CannotFail, Jargon, NeedsTool, ToBeTold
from diagnose.book.anomalies.unused import UnusedEntry, UnusedHandOff, UnusedLimit
from diagnose.book.anomalies.values import Illegal, Unreferenced

OF_THE_BOOK: tuple[Anomaly, ...] = (
    Redundant(),
    Subsumed(),
    Conflicting(),
    Circular(),
    Unnecessary(),
    Unreferenced(),
    Illegal(),
    DeadCondition(),
    DeadGoal(),
    Unreachable(),
    UnusedLimit(),
    UnusedHandOff(),
    UnusedEntry(),
    SharesAddUp(),
    DangerContradicted(),
    NormalMended(),
    WithoutBasis(),
    CannotFail(),
    Jargon(),
    NeedsTool(),
    ToBeTold(),
)
