"""Small books to simulate bikes of, and short ways to draw and play them.

Cast: `one_cause` and `three_causes` are books; `maker_of` draws their bikes; `order_for` is an order for a run.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

from diagnose.book.model import Book
from diagnose.casework.score.draw import Maker
from diagnose.casework.score.run import Order
from diagnose.reason.chainer import PlainChainer
from diagnose.reason.conclude import rules_of
from tests.reason.small_book import Raw, cause, finding, fix, small_book

LOOK: Raw = {"seen": finding("yes no", {"yes": "50 %"}, {"look": {"minutes": 50}})}
"""A finding that tells nothing of the only cause, and costs too much to ask."""
SHOWS: Raw = {"seen": {"yes": "50 %"}}


def one_cause(folder: Path, *ladder: Raw, unknown: int = 3, **more: Any) -> Book:
    """One known cause with this ladder; so many of 100 bikes have something else."""
    return small_book(
        folder,
        complaints={"knocks": {"something_else": f"{unknown} in 100"}},
        causes={"a": cause({"knocks": f"{100 - unknown} %"}, SHOWS, *ladder)},
        findings=LOOK,
        **more,
    )


def three_causes(folder: Path, **more: Any) -> Book:
    """Three causes, two findings that tell them apart, a rider's question, and a cause that must not be ridden."""
    findings = {
        "play": finding(
            "none slight clear", {"none": "very likely"}, {"rock": {"minutes": 1}, "feel": {"by": "rider"}}
        ),
        "rust": finding("no yes", {"no": "very likely"}, {"look": {"minutes": 2}}),
    }
    causes = {
        "loose": cause({"knocks": "45 in 100"}, {"play": {"clear": "likely"}}, fix("tighten", "85 in 100", (4, 10))),
        "worn": cause(
            {"knocks": "30 in 100"},
            {"play": {"slight": "likely"}, "rust": {"yes": "likely"}},
            fix("clean", "30 in 100", (8, 20)),
            fix("replace", "95 in 100", (25, 50), parts={"bearing": 1}),
        ),
        "cracked": cause(
            {"knocks": "15 in 100"}, {"rust": {"yes": "unlikely"}, "play": {"clear": "unlikely"}}, danger="stop"
        ),
    }
    parts = {"bearing": {"name": "a bearing", "price": {"low": 20, "high": 40}}}
    return small_book(folder, complaints={"knocks": {}}, causes=causes, findings=findings, parts=parts, **more)


def maker_of(book: Book, seed: int | str = 1) -> Maker:
    """Draws bikes of a book; plain chaining, which starts faster than the engine."""
    return Maker(book, PlainChainer(rules_of(book)), seed)


def order_for(folder: Path, bikes: int, **more: Any) -> Order:
    """An order for the book that was written into a folder."""
    return Order((folder / "rules",), bikes, **more)
