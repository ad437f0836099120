"""What a sum is: the readings it asks for, the bench function behind it, the answer it gives.

Cast: a `Sum` has a name of the trade, asks for its `givens` and reckons an `Answer`; `Sum.result` takes raw readings,
as numbers or as typed, and gives a `Result` with the readings beside it. `Part` is a further figure.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property

from diagnose.bench.bands import Band, band_for
from diagnose.bench.sums.givens import WORDS, Given, Readings, Taken, Value
from diagnose.bench.typed import Marking
from diagnose.bench.units import convert, show
from diagnose.errors import InputError


@dataclass(frozen=True, slots=True)
class Part:
    """A further figure of an answer: a number in `unit`, or words with the unit `text`."""

    name: str
    value: float | str
    unit: str = WORDS

    def shown(self, *, plain: bool = False) -> str:
        """The figure as text."""
        return self.value if isinstance(self.value, str) else show(self.value, self.unit, plain=plain)


@dataclass(frozen=True, slots=True)
class Answer:
    """What a sum reckons.

    Attributes:
        value: a number in `unit`, or words with the unit `text`.
        unit: name of the unit.
        low: lower end: of the answer where it is a range, else of the band in which the value should lie.
        high: upper end, likewise.
        verdict: what the value means, a few words; left out, the name of the band that it falls into.
        bands: bands of the value, from low to high.
        parts: further figures.
        notes: whole sentences: what to do, what to mind.
    """

    value: float | str
    unit: str = WORDS
    low: float | None = None
    high: float | None = None
    verdict: str = ""
    bands: tuple[Band, ...] = ()
    parts: tuple[Part, ...] = ()
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Result:
    """An answer with where it comes from.

    Attributes:
        name: of the sum.
        value: a number in `unit`, or words with the unit `text`.
        unit: name of the unit.
        low: lower end, as in `Answer`.
        high: upper end, as in `Answer`.
        formula: what was reckoned.
        source: where the formula is from.
        inputs: the readings, as taken and as typed.
        verdict: what the value means, a few words; may be empty.
        bands: bands of the value, from low to high.
        parts: further figures.
        notes: whole sentences.
    """

    name: str
    value: float | str
    unit: str
    low: float | None
    high: float | None
    formula: str
    source: str
    inputs: tuple[Taken, ...]
    verdict: str
    bands: tuple[Band, ...]
    parts: tuple[Part, ...]
    notes: tuple[str, ...]

    @property
    def band(self) -> Band | None:
        """The band that the value falls into."""
        return band_for(self.value, self.bands) if isinstance(self.value, float) else None

    def shown(self, *, plain: bool = False) -> str:
        """The answer on one line, e.g. "0.72 %: new chain"."""
        value = self.value if isinstance(self.value, str) else show(self.value, self.unit, plain=plain)
        return f"{value}: {self.verdict}" if self.verdict else value

    def part(self, name: str) -> Part:
        """The further figure called `name`.

        Raises:
            InputError: `bench-unknown-word` where there is none.
        """
        for part in self.parts:
            if part.name == name:
                return part
        raise InputError("bench-unknown-word", f'There is no figure "{name}" in {self.name}.')

    def as_json(self) -> dict[str, object]:
        """The result in plain lists and words, for JSON."""
        return {
            "value": self.value,
            "unit": self.unit,
            "low": self.low,
            "high": self.high,
            "formula": self.formula,
            "source": self.source,
            "inputs": {
                one.key: {"value": _plain(one.value), "unit": one.unit, "typed": one.typed} for one in self.inputs
            },
            "name": self.name,
            "verdict": self.verdict or None,
            "bands": [
                {"name": band.name, "low": band.low, "high": band.high, "right": band.right} for band in self.bands
            ],
            "parts": [{"name": part.name, "value": part.value, "unit": part.unit} for part in self.parts],
            "notes": list(self.notes),
        }


@dataclass(frozen=True)
class Sum:
    """One sum of the bench.

    Attributes:
        name: plain name of the trade, lower-case words joined by hyphens.
        title: what it tells, one line.
        givens: what it asks for, in the order of asking.
        rules: the bench functions behind it, the main one first; their docstrings state formula and source.
        reckon: the sum itself.
        example: arguments of an example on the command line.
        prints: first line of the example's output.
    """

    name: str
    title: str
    givens: tuple[Given, ...]
    rules: tuple[Callable[..., object], ...]
    reckon: Callable[[Readings], Answer] = field(repr=False)
    example: tuple[str, ...]
    prints: str

    @cached_property
    def formula(self) -> str:
        """What is reckoned, as the bench functions state it."""
        return _stated("Formula", self.rules)

    @cached_property
    def source(self) -> str:
        """Where the formulas are from, as the bench functions state it."""
        return _stated("Source", self.rules)

    @cached_property
    def unit(self) -> str:
        """Unit of the answer, as the example gives it; `text` for words."""
        return self.result(self.example_readings).unit

    @property
    def example_readings(self) -> dict[str, object]:
        """The example's readings by key, as typed."""
        pairs = zip(self.example[::2], self.example[1::2], strict=True)
        return {key.removeprefix("--"): typed for key, typed in pairs}

    def given(self, key: str) -> Given:
        """What it asks for under this key.

        Raises:
            InputError: `bench-unknown-reading`.
        """
        for given in self.givens:
            if given.key == key:
                return given
        hint = f"Asked for are {', '.join(given.key for given in self.givens)}."
        raise InputError("bench-unknown-reading", f"{self.name} asks for no {key[:40]!r}.", hint=hint)

    def take(self, raw: Mapping[str, object]) -> tuple[Taken, ...]:
        """The raw readings, each checked; what is left out takes its default.

        Raises:
            InputError: a reading that cannot be taken, one that is missing, or `bench-unknown-reading`; the message
                begins with its key.
        """
        for key in raw:
            self.given(str(key))
        taken = (self._take(given, raw.get(given.key)) for given in self.givens)
        return tuple(one for one in taken if one is not None)

    def result(self, raw: Mapping[str, object]) -> Result:
        """Reckon from raw readings: by key a number in the given's unit, or text as typed.

        Raises:
            InputError: a reading that cannot be taken, or readings that do not go together.
        """
        inputs = self.take(raw)
        answer = self.reckon(Readings(inputs))
        value = float(answer.value) if isinstance(answer.value, int | float) else answer.value
        band = band_for(value, answer.bands) if isinstance(value, float) else None
        right = next((one for one in answer.bands if one.right), None)
        low, high = answer.low, answer.high
        if right is not None and low is None and high is None:
            low, high = right.low, right.high
        low, high = (None if end is None else float(end) for end in (low, high))
        return Result(
            self.name,
            value,
            answer.unit,
            low,
            high,
            self.formula,
            self.source,
            inputs,
            answer.verdict or (band.name if band else ""),
            answer.bands,
            answer.parts,
            answer.notes,
        )

    @staticmethod
    def _take(given: Given, raw: object) -> Taken | None:
        if raw is None or (isinstance(raw, str) and not raw.strip()):
            if given.default == "":
                return None
            raw = given.default
        try:
            return given.read(raw)
        except InputError as why:
            raise InputError(why.code, f"{given.key}: {why.message}", hint=why.hint) from None


def between(low: float | None, high: float, unit: str) -> str:
    """Two rounded ends as text, e.g. "4.26 to 5.66 N·m"; one end is "at most"."""
    if low is None:
        return f"at most {show(high, unit)}"
    first, second = show(low, unit), show(high, unit)
    sign = second.lstrip("-0123456789.")
    return f"{first.removesuffix(sign)} to {second}"


def both(value: float, unit: str, other: str, *, plain: bool = False) -> str:
    """A quantity in two units, e.g. "2.5 bar (36 psi)"."""
    return f"{show(value, unit, plain=plain)} ({show(convert(value, unit, other), other, plain=plain)})"


def _stated(section: str, rules: Sequence[Callable[..., object]]) -> str:
    """What the docstrings of `rules` say behind the name of a section, each once."""
    found: list[str] = []
    for rule in rules:
        lines = (rule.__doc__ or "").splitlines()
        start = next((at for at, line in enumerate(lines) if line.strip().startswith(f"{section}:")), None)
        if start is None:
            continue
        text = [lines[start].strip().removeprefix(f"{section}:")]
        for line in lines[start + 1 :]:
            if not line.strip() or line.strip().startswith("Source:"):
                break
            text.append(line.strip())
        said = " ".join(" ".join(text).split()).removesuffix(".")
        found += [piece for piece in said.split("; ") if piece not in found]
    return "; ".join(found)


def _plain(value: Value) -> object:
    if isinstance(value, Marking):
        return {"low": value.low, "high": value.high}
    return list(value) if isinstance(value, tuple) else value
