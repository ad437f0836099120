"""The anomalies that only reasoning shows.

Cast: `OF_REASONING`.
"""

from __future__ import annotations

from diagnose.book.anomalies.anomaly import Anomaly
from diagnose.reason.anomalies.apart import Alike
from diagnose.reason.anomalies.top import NeverOnTop
from diagnose.reason.anomalies.worth import NeverWorth

OF_REASONING: tuple[Anomaly, ...] = (Alike(), NeverOnTop(), NeverWorth())
