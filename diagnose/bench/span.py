"""The range in which a reading makes sense, and the one error for a reading outside it.

Cast: `Span` names a quantity with its unit and range; `Span.check` hands a number back or raises an `InputError` that
states the range; `Span.check_all` does the same for several readings; `one_of` for words from a closed list; `written`
for markings.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import isfinite
from typing import Final

from diagnose.bench.units import show
from diagnose.errors import InputError

LONGEST: Final = 40
"""Characters that a marking may have."""
MOST_READINGS: Final = 200
"""Readings that one sum takes; a wheel has fewer spokes."""


@dataclass(frozen=True, slots=True)
class Span:
    """What a number stands for.

    Attributes:
        name: what it is, as it stands in a message behind "the".
        low: smallest number that makes sense, in `unit`.
        high: largest number that makes sense, in `unit`.
        unit: a unit of `diagnose.bench.units`.
        whole: only whole numbers make sense.
    """

    name: str
    low: float
    high: float
    unit: str
    whole: bool = False

    def check(self, value: object) -> float:
        """The number `value`, in `unit`.

        Raises:
            InputError: `bench-missing` for None, `bench-not-a-number` for anything else that is no finite number,
                `bench-not-whole`, or `bench-out-of-range`. Each names the range.
        """
        if value is None:
            raise InputError("bench-missing", f"The {self.name} is missing.", hint=self.hint)
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise InputError("bench-not-a-number", f"The {self.name} is not given as a number.", hint=self.hint)
        number = _as_float(value)
        if not isfinite(number):
            raise InputError("bench-not-a-number", f"The {self.name} is {number}, which is no number.", hint=self.hint)
        if self.whole and number != int(number):
            raise InputError("bench-not-whole", f"The {self.name} is a whole number, not {number:.6g}.", hint=self.hint)
        if not self.low <= number <= self.high:
            raise InputError("bench-out-of-range", f"The {self.name} cannot be {number:.6g}.", hint=self.hint)
        return number

    def check_all(self, values: object, least: int, most: int = MOST_READINGS) -> tuple[float, ...]:
        """The numbers `values`, each checked, at least `least` and at most `most` of them.

        Raises:
            InputError: `bench-missing` for None, `bench-not-a-number` for what is no row of numbers, `bench-readings`
                for too few or too many, and the errors of `check`.
        """
        if values is None:
            raise InputError("bench-missing", f"Readings of the {self.name} are missing.", hint=self.hint)
        if isinstance(values, str | bytes) or not isinstance(values, Sequence):
            raise InputError("bench-not-a-number", f"The {self.name} takes several readings.", hint=self.hint)
        numbers = tuple(self.check(value) for value in values)
        if not least <= len(numbers) <= most:
            wanted = f"{least} readings are" if least == most else f"{least} to {most} readings are"
            got = f"{wanted} needed of the {self.name}, not {len(numbers)}."
            raise InputError("bench-readings", got, hint=self.hint)
        return numbers

    @property
    def hint(self) -> str:
        """The range in words, e.g. "0.1 to 400 N·m makes sense."."""
        return f"{self.low:.6g} to {show(self.high, self.unit)} makes sense."


def written(name: str, text: object, hint: str) -> str:
    """A marking as it is written on a part, without surrounding blanks.

    Args:
        name: what it is, as it stands in a message behind "the".
        text: what was typed, at most `LONGEST` characters.
        hint: how to write it.

    Raises:
        InputError: `bench-missing` where there is none, `bench-unknown-word` where it cannot be one.
    """
    if text is None or (isinstance(text, str) and not text.strip()):
        raise InputError("bench-missing", f"The {name} is missing.", hint=hint)
    if not isinstance(text, str) or len(text) > LONGEST or not text.strip().isprintable():
        raise InputError("bench-unknown-word", f"That is no {name}.", hint=hint)
    return text.strip()


def one_of(name: str, word: object, words: Iterable[str]) -> str:
    """The word `word` where it stands among `words`.

    Raises:
        InputError: `bench-missing` for None, else `bench-unknown-word` with the words that are known.
    """
    known = tuple(words)
    hint = f"Known: {', '.join(known)}."
    if word is None:
        raise InputError("bench-missing", f"The {name} is missing.", hint=hint)
    if not isinstance(word, str) or word not in known:
        raise InputError("bench-unknown-word", f"{_short(word)} is no {name} known here.", hint=hint)
    return word


def _short(word: object) -> str:
    text = str(word)
    return f'"{text[:40]}…"' if len(text) > 40 else f'"{text}"'


def _as_float(value: float) -> float:
    """A whole number may be too large for a float."""
    try:
        return float(value)
    except OverflowError:
        return float("inf")
