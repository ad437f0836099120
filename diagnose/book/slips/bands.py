"""Slips in measurements and the bands that a reading falls into.

Cast: one class for each code; `measured` writes the measurement that examples change.
"""

from __future__ import annotations

from diagnose.book.kind import Example
from diagnose.book.slips.slip import Slip

UNIT = "unit: mm, from: 0, to: 40"
BANDS = ("tight: {below: 2}", "right: {from: 2}")


def measured(
    *bands: str,
    measure: str = UNIT,
    values: str = '{tight: "tight", right: "right"}',
    beside: tuple[str, str] | None = None,
) -> Example:
    """A finding with one measuring check and these bands."""
    lines = [
        "crown-gap:",
        '  name: "gap at the crown"',
        f"  values: {values}",
        "  otherwise: {right: very likely}",
        "  basis: common practice",
        "  checks:",
        "    gauge-crown:",
        '      ask: "How wide is the gap at the crown?"',
        "      by: mechanic",
        "      minutes: 2",
        *([f"      measure: {{{measure}}}"] if measure else []),
        *(["      bands:", *(f"        {band}" for band in bands)] if bands else []),
    ]
    return Example("front/findings.yaml", "\n".join(lines), (beside,) if beside else ())


SOUND = measured(*BANDS)


class Half(Slip):
    """A measurement with bands and no unit and range, or the other way round."""

    name = "measure.half"
    why = "A reading would be typed and mean nothing."
    wrong = measured()
    right = SOUND


class MeasureRange(Slip):
    """A measurement whose lowest reading is not below its highest."""

    name = "measure.range"
    why = "Every reading would be refused at the stand."
    wrong = measured(*BANDS, measure="unit: mm, from: 40, to: 0")
    right = SOUND


class NoEdge(Slip):
    """A band without an edge."""

    name = "band.empty"
    why = "Every reading would fall into it."
    wrong = measured("tight: {below: 2}", "right: {}")
    right = SOUND


class BothEdges(Slip):
    """A band or range with two lower or two upper edges."""

    name = "band.both"
    why = "Only one of the two can be meant, and a reading between them would be sorted by guess."
    wrong = measured("tight: {below: 2}", "right: {from: 2, above: 3}")
    right = SOUND


class Cover(Slip):
    """Bands that leave a reading out, or take one twice, on some bike."""

    name = "bands.cover"
    why = "Somebody will read just that figure, and it would mean nothing, or two things."
    wrong = measured("tight: {below: 2}", "right: {from: 3}")
    right = SOUND


class SeveralValues(Slip):
    """Bands that hang on a fact which may have several values at once."""

    name = "bands.several"
    why = "On a bike with two of them one reading would fall into two bands."
    wrong = measured(
        "tight: {below: crown.low}",
        "right: {from: crown.low}",
        beside=(
            "front/limits.yaml",
            """
crown:
  quantity: "gap at the crown"
  low: 2
  unit: mm
  kind: minimum
  basis: memory
  cases:
    - {if: {recent-work: fork}, low: 1, basis: memory}
""",
        ),
    )
    right = measured(
        "tight: {below: crown.low}",
        "right: {from: crown.low}",
        beside=(wrong.beside[0][0], wrong.beside[0][1].replace("recent-work: fork", "headset: threaded")),
    )


def _many_cases(facts: int) -> tuple[str, str]:
    """A limit with a case for each value of so many facts."""
    cases = "".join(
        f"    - {{if: {{made-{fact}: v{value}}}, low: {value + 1}, basis: memory}}\n"
        for fact in range(facts)
        for value in range(13)
    )
    head = 'crown:\n  quantity: "gap at the crown"\n  low: 2\n  unit: mm\n  kind: minimum\n  basis: memory\n  cases:\n'
    return "front/limits.yaml", head + cases


def _made(part: int) -> str:
    """A fact with so many values that three of them make thousands of bikes."""
    values = ", ".join(f'v{one}: "works {one}"' for one in range(13))
    return f'made-{part}: {{ask: "Made where, part {part}?", values: {{{values}}}}}\n'


_MADE = "".join(_made(part) for part in range(3))


class TooManyFacts(Slip):
    """Bands that hang on so many facts that there are thousands of kinds of bike to tell apart."""

    name = "bands.facts"
    why = "Each of them becomes a rule of its own; the program would take minutes to start."
    wrong = Example(
        "facts.yaml",
        _MADE,
        (
            _many_cases(3),
            (SOUND.file, measured("tight: {below: crown.low}", "right: {from: crown.low}").text),
        ),
    )
    right = Example("facts.yaml", _MADE, (_many_cases(1), wrong.beside[1]))


class OtherUnit(Slip):
    """A limit as an edge that is in another unit than the reading."""

    name = "unit.differs"
    why = "Figures of two units would be compared as if they were of one."
    wrong = measured("tight: {below: stem-clamp.low}", "right: {from: stem-clamp.low}")
    right = measured("tight: {below: top-cap-gap.low}", "right: {from: top-cap-gap.low}")
