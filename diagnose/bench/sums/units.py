"""The sums of units and of the battery."""

from __future__ import annotations

from typing import Final

from diagnose.bench import battery, units
from diagnose.bench.sums.givens import Number, Readings, Text
from diagnose.bench.sums.model import Answer, Part, Sum
from diagnose.errors import InputError


def _convert(given: Readings) -> Answer:
    into = units.unit_of(given.word("into"))
    reading = units.parse_quantity(given.word("quantity"), into)
    if not any(sign.isalpha() or sign in '"″%°' for sign in reading.typed):
        hint = 'Type it with its unit, like "5,2 Nm".'
        raise InputError("bench-missing", "The unit of the quantity is missing.", hint=hint)
    here = units.convert(reading.value, into, reading.typed_unit)
    return Answer(reading.value, into, parts=(Part("is", here, reading.typed_unit),))


def _battery_energy(given: Readings) -> Answer:
    energy = battery.battery_energy(given.number("voltage"), given.number("charge"))
    note = "What stands on the pack; an old one holds less. Never open a pack."
    return Answer(energy, "Wh", notes=(note,))


SUMS: Final = (
    Sum(
        "convert",
        "A quantity in another unit.",
        (Text("quantity", "Quantity with its unit", "5,2 Nm"), Text("into", "Unit wanted", "lbf.in")),
        (units.convert,),
        _convert,
        ("--quantity", "5 Nm", "--into", "lbf.in"),
        "44.25 lbf·in",
    ),
    Sum(
        "battery-energy",
        "The energy of a pack from its marking.",
        (Number("voltage", "Voltage marked", battery.VOLTAGE), Number("charge", "Charge marked", battery.CHARGE)),
        (battery.battery_energy,),
        _battery_energy,
        ("--voltage", "36V", "--charge", "14Ah"),
        "504 Wh",
    ),
)
