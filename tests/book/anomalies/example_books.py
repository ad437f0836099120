"""Books made of the examples that the anomalies carry: the book `small` with what an author would add.

`python -m tests.book.anomalies.example_books` writes the golden texts anew: read the difference as a mechanic who knows
no Python.
"""

from __future__ import annotations

import os
import tempfile
from pathlib import Path

from diagnose.book.anomalies.anomaly import Anomaly, Example, Found
from diagnose.book.anomalies.study import study_book
from diagnose.front.anomalies import every_anomaly
from tests.book.broken_books import lay_small, told

GOLDEN = Path(__file__).with_name("golden")


def anomalies() -> list[Anomaly]:
    """Every anomaly, by its code."""
    return sorted(every_anomaly(), key=lambda one: one.name)


def lay_example(example: Example, place: Path) -> Path:
    """The small book with an example in it, as a new folder `book` in `place`."""
    folder = lay_small(place)
    for file, text in example.files():
        path = folder / file
        path.parent.mkdir(parents=True, exist_ok=True)
        before = path.read_text(encoding="utf-8") if path.exists() and path.parent.name != "causes" else ""
        path.write_text(before + text, encoding="utf-8")
    return folder


def found_in(example: Example, name: str, place: Path) -> list[Found]:
    """What the anomaly of this code finds in an example's book, which reads well, and in its cases."""
    study, problems = study_book(lay_example(example, place))
    assert study is not None, problems
    cases = place / "cases"
    (anomaly,) = (one for one in every_anomaly(*([cases] if cases.is_dir() else [])) if one.name == name)
    return list(anomaly.find(study))


def _rewrite() -> None:
    with tempfile.TemporaryDirectory() as place:
        os.environ["HOME"] = os.environ["XDG_CACHE_HOME"] = place
        for anomaly in anomalies():
            folder = lay_example(anomaly.wrong, Path(place) / anomaly.name)
            (GOLDEN / f"{anomaly.name}.txt").write_text(told(folder), encoding="utf-8")


if __name__ == "__main__":
    _rewrite()
