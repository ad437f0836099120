"""Gauges as the View has them, drawn on the screen and as a picture for the printed sheet.

Cast: `show_gauge` on a paper, as wide as it is, in ASCII where that is all it can show; `gauge_svg` gives the SVG of
one. Both take what stands under `gauge` at an answer of a View.
"""

from __future__ import annotations

from typing import Any

from diagnose.front.paper import Paper

View = dict[str, Any]
WIDEST = 60
"""Columns of a gauge: more tell no more."""
HANG = 5
"""Columns before a band's name."""


def show_gauge(paper: Paper, gauge: View) -> None:
    """The gauge in lines of text."""
    from diagnose.bench.gauge import draw

    width = min(paper.width, WIDEST)
    for line in draw(gauge["reading"], gauge["unit"], _bands(gauge), width=width, plain=paper.ascii):
        if len(line) > paper.width:
            paper.say(line, hang=HANG)
        else:
            paper.drawn(line)


def gauge_svg(gauge: View, key: str = "gauge") -> str:
    """The gauge as one SVG element, black on white; `key` begins the ids inside, so that several stand on one page."""
    from diagnose.bench.gauge import draw_svg

    return draw_svg(gauge["reading"], gauge["unit"], _bands(gauge), key=key)


def _bands(gauge: View) -> list[Any]:
    from diagnose.bench.bands import Band

    return [
        Band(one["text"], one["low"], one["high"], one["right"], one["with_low"], one["with_high"])
        for one in gauge["bands"]
    ]
