"""What a sum asks for, and how it looks at what it was given.

Cast: `Number`, `Several`, `Choice`, `Text` and `Range` each take a reading, as numbers or as typed, into a `Taken`;
`Readings` hands them to a sum by key.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Protocol

from diagnose.bench.span import Span, one_of, written
from diagnose.bench.typed import Marking, parse_marking, parse_several
from diagnose.bench.units import parse_quantity

Value = float | str | tuple[float, ...] | Marking
WORDS: Final = "text"
"""Unit of an answer that is words."""


@dataclass(frozen=True, slots=True)
class Taken:
    """One reading as a sum takes it.

    Attributes:
        key: its name, as in the sum's givens.
        value: in `unit`.
        unit: name of the unit; `text` for words.
        typed: as it came, for the record.
    """

    key: str
    value: Value
    unit: str
    typed: str


class Given(Protocol):
    """Something that a sum asks for."""

    @property
    def key(self) -> str:
        """Its name: lower-case words joined by hyphens."""

    @property
    def asks(self) -> str:
        """The question, without a question mark."""

    @property
    def default(self) -> str | None:
        """What counts where nothing is given; None where something must be, an empty text where it may be left out."""

    @property
    def shape(self) -> str:
        """What an answer looks like, e.g. "0.1 to 400 N·m"."""

    @property
    def unit(self) -> str:
        """Unit in which it is taken; `text` for words."""

    def read(self, raw: object) -> Taken:
        """Take what was given.

        Raises:
            InputError: it cannot be taken; the message names the range.
        """


@dataclass(frozen=True, slots=True)
class Number:
    """One quantity, a number in the unit of its span or as typed."""

    key: str
    asks: str
    span: Span
    default: str | None = None

    @property
    def shape(self) -> str:
        """The range."""
        return self.span.hint.removesuffix(" makes sense.")

    @property
    def unit(self) -> str:
        """Unit of the span."""
        return self.span.unit

    def read(self, raw: object) -> Taken:
        """Take a number or typed text."""
        value: object = raw
        if isinstance(raw, str):
            value = parse_quantity(raw, self.span.unit).value
        return Taken(self.key, self.span.check(value), self.span.unit, _as_typed(raw))


@dataclass(frozen=True, slots=True)
class Several:
    """Several readings of one quantity."""

    key: str
    asks: str
    span: Span
    least: int
    most: int
    default: str | None = None

    @property
    def shape(self) -> str:
        """How many, and the range."""
        count = f"{self.least}" if self.least == self.most else f"{self.least} to {self.most}"
        return f"{count} readings, {self.span.hint.removesuffix(' makes sense.')}"

    @property
    def unit(self) -> str:
        """Unit of the span."""
        return self.span.unit

    def read(self, raw: object) -> Taken:
        """Take a row of numbers, or typed text with blanks or semicolons between."""
        values = raw
        if isinstance(raw, str):
            values = [reading.value for reading in parse_several(raw, self.span.unit)]
        elif isinstance(raw, Sequence) and any(isinstance(one, str) for one in raw):
            values = [Number(self.key, "", self.span).read(one).value for one in raw]
        return Taken(self.key, self.span.check_all(values, self.least, self.most), self.span.unit, _as_typed(raw))


@dataclass(frozen=True, slots=True)
class Choice:
    """One of a few words."""

    key: str
    asks: str
    words: tuple[str, ...]
    default: str | None = None

    @property
    def shape(self) -> str:
        """The words."""
        return " or ".join(self.words) if len(self.words) < 3 else ", ".join(self.words)

    @property
    def unit(self) -> str:
        """Words."""
        return WORDS

    def read(self, raw: object) -> Taken:
        """Take one of the words, whatever its case."""
        word = raw.strip().lower() if isinstance(raw, str) else raw
        known = {name.lower(): name for name in self.words}
        return Taken(self.key, one_of(self.key, known.get(str(word), word), self.words), WORDS, _as_typed(raw))


@dataclass(frozen=True, slots=True)
class Text:
    """A marking as it stands on a part."""

    key: str
    asks: str
    like: str
    default: str | None = None

    @property
    def shape(self) -> str:
        """An example."""
        return f'like "{self.like}"'

    @property
    def unit(self) -> str:
        """Words."""
        return WORDS

    def read(self, raw: object) -> Taken:
        """Take it as written."""
        return Taken(self.key, written(self.key, raw, f'Write it like "{self.like}".'), WORDS, _as_typed(raw))


@dataclass(frozen=True, slots=True)
class Range:
    """A marking with two ends or a highest value."""

    key: str
    asks: str
    span: Span
    default: str | None = None

    @property
    def shape(self) -> str:
        """An example."""
        return f'like "5-7 {self.span.unit}" or "max 6 {self.span.unit}"'

    @property
    def unit(self) -> str:
        """Unit of the span."""
        return self.span.unit

    def read(self, raw: object) -> Taken:
        """Take typed text, a marking or pair of ends, or one number, which counts as the highest value."""
        if isinstance(raw, Marking):
            marking = raw
        elif isinstance(raw, str):
            marking = parse_marking(raw, self.span.unit)
        elif isinstance(raw, Sequence) and len(raw) == 2:
            marking = Marking(None if raw[0] is None else self.span.check(raw[0]), self.span.check(raw[1]))
        else:
            marking = Marking(None, self.span.check(raw))
        for end in (marking.low, marking.high):
            if end is not None:
                self.span.check(end)
        return Taken(self.key, marking, self.span.unit, _as_typed(raw))


class Readings:
    """What a sum was given, by key."""

    def __init__(self, taken: Sequence[Taken]) -> None:
        self._by_key = {one.key: one.value for one in taken}

    def maybe(self, key: str) -> float | None:
        """A number, or None where it was left out."""
        value = self._by_key.get(key)
        return value if isinstance(value, float) else None

    def number(self, key: str) -> float:
        """A number that is there."""
        value = self._by_key[key]
        if not isinstance(value, float):
            raise TypeError(key)
        return value

    def whole(self, key: str) -> int:
        """A whole number that is there."""
        return int(self.number(key))

    def row(self, key: str) -> tuple[float, ...]:
        """Several numbers that are there."""
        value = self._by_key[key]
        if not isinstance(value, tuple):
            raise TypeError(key)
        return value

    def word(self, key: str) -> str:
        """A word; empty where it was left out."""
        value = self._by_key.get(key, "")
        return value if isinstance(value, str) else ""

    def yes(self, key: str) -> bool:
        """Whether a question of yes or no was answered with yes."""
        return self.word(key) == "yes"

    def marking(self, key: str) -> Marking:
        """A marking that is there."""
        value = self._by_key[key]
        if not isinstance(value, Marking):
            raise TypeError(key)
        return value


def _as_typed(raw: object) -> str:
    if isinstance(raw, str):
        return raw.strip()
    if isinstance(raw, Marking):
        return f"max {raw.high:.12g}" if raw.low is None else f"{raw.low:.12g}-{raw.high:.12g}"
    if isinstance(raw, Sequence):
        return " ".join(_as_typed(one) for one in raw)
    return f"{raw:.12g}" if isinstance(raw, float) else str(raw)
