"""Slips where a measurement or a step names a sum of the bench.

Cast: one class for each code.
"""

from __future__ import annotations

from diagnose.book.slips.bands import BANDS, UNIT, measured
from diagnose.book.slips.slip import Slip

READINGS = "readings: [first, second]"
LEAK = "unit: '%', from: 0, to: 100, sum: leak"
SOUND = measured(*BANDS, measure=f"{LEAK}, {READINGS}, with: {{hours: 12 h}}")
CAP = measured(*BANDS, measure=f"{UNIT}, sum: cap-gap, readings: [gap]")


class UnknownSum(Slip):
    """A sum that the bench does not have."""

    name = "sum.unknown"
    why = "There is nothing to reckon the reading with."
    wrong = measured(*BANDS, measure=f"{UNIT}, sum: cap-gab, readings: [gap]")
    right = CAP


class NoSum(Slip):
    """Readings, supplies or a figure, and no sum that they are for."""

    name = "sum.missing"
    why = "They would be asked or written in vain."
    wrong = measured(*BANDS, measure=f"{UNIT}, readings: [gap]")
    right = CAP


class NoReadings(Slip):
    """A sum for which nothing is asked at the stand."""

    name = "sum.readings"
    why = "It would give the same figure on every bike."
    wrong = measured(*BANDS, measure=f"{UNIT}, sum: cap-gap")
    right = CAP


class UnknownReading(Slip):
    """A reading that the sum does not ask for."""

    name = "sum.reading"
    why = "It would be read at the stand and thrown away, and what the sum needs would be missing."
    wrong = measured(*BANDS, measure=f"{UNIT}, sum: cap-gap, readings: [gab]")
    right = CAP


class Lacks(Slip):
    """Something that the sum needs and nobody tells it."""

    name = "sum.lacks"
    why = "At the stand all readings would be taken, and there would be no result."
    wrong = measured(*BANDS, measure=f"{LEAK}, {READINGS}")
    right = SOUND


class NoFigure(Slip):
    """A figure that the sum does not have."""

    name = "sum.result"
    why = "There would be nothing to sort into bands."
    wrong = measured(*BANDS, measure=f"{UNIT}, sum: cap-gap, readings: [gap], result: midddle")
    right = CAP


class GivesWords(Slip):
    """A sum, or a figure of one, that gives words."""

    name = "sum.words"
    why = "Bands sort numbers; a word falls into none of them."
    wrong = measured(*BANDS, measure=f"{UNIT}, sum: dish, readings: [left, right], result: towards")
    right = measured(*BANDS, measure=f"{UNIT}, sum: dish, readings: [left, right]")


class SumUnit(Slip):
    """A sum, or what it is given, in another unit than the measurement or the sum wants."""

    name = "sum.unit"
    why = "Figures of two units would be compared as if they were of one."
    wrong = measured(*BANDS, measure=f"{UNIT}, sum: leak, {READINGS}, with: {{hours: 12 h}}")
    right = SOUND


class WrongSupply(Slip):
    """A quantity that the sum cannot take."""

    name = "sum.supply"
    why = "At the stand all readings would be taken, and the sum would refuse to reckon."
    wrong = measured(*BANDS, measure=f"{LEAK}, {READINGS}, with: {{hours: 9000 h}}")
    right = SOUND


class WhichEnd(Slip):
    """A limit for a sum without saying which end, or with an end that it does not always have."""

    name = "sum.limit"
    why = "Nobody could say which of the figures the sum is to take."
    wrong = measured(*BANDS, measure=f"{LEAK}, {READINGS}, with: {{hours: top-cap-gap}}")
    right = SOUND


class NoSuchReading(Slip):
    """A check for a sum that takes no reading, or not that one."""

    name = "sum.check"
    why = "There would be nothing for the sum to take over from it."
    wrong = measured(*BANDS, measure=f"{LEAK}, {READINGS}, with: {{hours: turn-bars}}")
    right = SOUND
