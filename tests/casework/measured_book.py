"""The small book of wheels with measurements that are made of raw readings.

Cast: `lay` writes it into a folder: the deflection of spokes is made the run-out of a rim from readings around it,
or how far it stands off the middle, from two gaps.
"""

from __future__ import annotations

import shutil
from pathlib import Path

SMALL = Path(__file__).parent.parent / "front" / "book"
PLAIN = "measure: {unit: mm, from: 0, to: 30}"
AROUND = "measure: {unit: mm, from: 0, to: 30, sum: rim-run-out, readings: [readings, allowed]}"
GAPS = """measure:
        unit: mm
        from: 0
        to: 30
        sum: dish
        readings:
          left: "Gap on the left?"
          right: "Gap on the right?"
        with: {right: measure-spoke.right}"""


def lay(folder: Path, measure: str = GAPS) -> Path:
    """The small book in `folder`, its one measurement made so."""
    book = folder / "book"
    shutil.copytree(SMALL, book)
    path = book / "wheels" / "findings.yaml"
    text = path.read_text(encoding="utf-8")
    assert PLAIN in text
    path.write_text(text.replace(PLAIN, measure), encoding="utf-8")
    return book
