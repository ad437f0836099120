"""Battery: the energy of a pack from what stands on it.

Cast: `battery_energy`.
"""

from __future__ import annotations

from typing import Final

from diagnose.bench.span import Span

VOLTAGE: Final = Span("voltage of the pack", 3, 100, "V")
CHARGE: Final = Span("charge of the pack", 0.1, 100, "Ah")


def battery_energy(voltage_v: float, charge_ah: float) -> float:
    """Energy of a pack in Wh.

    Formula: energy = voltage x charge.
    Source: definition of energy.

    Args:
        voltage_v: as marked, 3 to 100 V.
        charge_ah: as marked, 0.1 to 100 Ah.

    Raises:
        InputError: a value out of its range.
    """
    return VOLTAGE.check(voltage_v) * CHARGE.check(charge_ah)
