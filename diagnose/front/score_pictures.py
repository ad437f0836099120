"""Pictures of a score: a reliability diagram and a comparison of costs, as SVG that reads in black and white.

Cast: `Drawing` collects shapes and writes the file's text; `reliability` and `costs` draw.
"""

from __future__ import annotations

from collections.abc import Sequence
from xml.sax.saxutils import escape

from diagnose.casework.score.calibration import Bin
from diagnose.casework.score.figures import Calibration
from diagnose.casework.score.summary import Summary

MARKS = ("disc", "ring", "square", "triangle", "cross", "diamond", "bar")
GREY = "#777777"
LINE = 16
"""Height of a line of text."""


class Drawing:
    """Shapes on a sheet of `width` by `height`, top left at 0, 0."""

    def __init__(self, width: float, height: float, title: str) -> None:
        self.width, self.height, self.title = width, height, title
        self._shapes: list[str] = []

    def line(
        self, start: tuple[float, float], end: tuple[float, float], dashes: str = "", colour: str = "black"
    ) -> None:
        """A line, dashed where `dashes` says how."""
        dashed = f' stroke-dasharray="{dashes}"' if dashes else ""
        ends = f'x1="{start[0]:.1f}" y1="{start[1]:.1f}" x2="{end[0]:.1f}" y2="{end[1]:.1f}"'
        self._shapes.append(f'<line {ends} stroke="{colour}"{dashed}/>')

    def text(self, x: float, y: float, words: str, anchor: str = "start", turned: bool = False) -> None:
        """Words that start, centre (`middle`) or end at a point; `turned`: upwards."""
        turn = f' transform="rotate(-90 {x:.1f} {y:.1f})"' if turned else ""
        self._shapes.append(f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}"{turn}>{escape(words)}</text>')

    def mark(self, kind: str, x: float, y: float, size: float = 4.5) -> None:
        """One of `MARKS` round a point."""
        left, right, top, low = (f"{one:.1f}" for one in (x - size, x + size, y - size, y + size))
        hollow = 'fill="white" stroke="black"'
        shapes = {
            "disc": f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{size}" fill="black"/>',
            "ring": f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{size}" {hollow}/>',
            "square": f'<path d="M{left} {low}H{right}V{top}H{left}Z" {hollow}/>',
            "triangle": f'<path d="M{left} {low}H{right}L{x:.1f} {top}Z" {hollow}/>',
            "cross": f'<path d="M{left} {top}L{right} {low}M{left} {low}L{right} {top}" fill="none" stroke="black"/>',
            "bar": f'<path d="M{x:.1f} {top}V{low}" fill="none" stroke="black" stroke-width="2"/>',
            "diamond": f'<path d="M{left} {y:.1f}L{x:.1f} {top}L{right} {y:.1f}L{x:.1f} {low}Z" {hollow}/>',
        }
        self._shapes.append(shapes[kind])

    def svg(self) -> str:
        """The file's text."""
        size = f'width="{self.width:.0f}" height="{self.height:.0f}" viewBox="0 0 {self.width:.0f} {self.height:.0f}"'
        head = f'<svg xmlns="http://www.w3.org/2000/svg" {size} font-family="sans-serif" font-size="12" role="img">'
        sheet = '<rect width="100%" height="100%" fill="white"/>'
        return "\n".join([head, f"<title>{escape(self.title)}</title>", sheet, *self._shapes, "</svg>", ""])


# --- are the shares true? -------------------------------------------------------------------------------------------

SIDE, LEFT, TOP = 360.0, 64.0, 64.0


def reliability(calibration: Calibration) -> str:
    """Stated share of the cause on top against how often it was the true one; 95 % intervals and numbers of bikes."""
    sheet = Drawing(LEFT + SIDE + 40, TOP + SIDE + 64, "Reliability diagram")
    sheet.text(LEFT, 24, "How often the cause on top was the true one")
    beside = f"a perfect model shows {calibration.perfect:.3f}"
    sheet.text(LEFT, 42, f"{calibration.bikes} bikes; mean error {calibration.error:.3f}, {beside}")
    for tenth in range(0, 11, 2):
        share = tenth / 10
        sheet.line(_at(share, 0), (_at(share, 0)[0], TOP + SIDE + 5))
        sheet.text(_at(share, 0)[0], TOP + SIDE + 20, f"{100 * share:.0f} %", "middle")
        sheet.line(_at(0, share), (LEFT - 5, _at(0, share)[1]))
        sheet.text(LEFT - 9, _at(0, share)[1] + 4, f"{100 * share:.0f} %", "end")
    sheet.line(_at(0, 0), _at(1, 0))
    sheet.line(_at(0, 0), _at(0, 1))
    sheet.line(_at(0, 0), _at(1, 1), "5 4", GREY)
    sheet.text(LEFT + SIDE / 2, TOP + SIDE + 44, "stated", "middle")
    sheet.text(18, TOP + SIDE / 2, "true", "middle", turned=True)
    for one in calibration.bins:
        _draw_bin(sheet, one)
    return sheet.svg()


def _at(stated: float, true: float) -> tuple[float, float]:
    return LEFT + stated * SIDE, TOP + (1 - true) * SIDE


def _draw_bin(sheet: Drawing, one: Bin) -> None:
    low, high = _at(one.stated, one.low), _at(one.stated, one.high)
    sheet.line(low, high)
    for x, y in (low, high):
        sheet.line((x - 3, y), (x + 3, y))
    x, y = _at(one.stated, one.true)
    sheet.mark("disc", x, y)
    sheet.text(x + 7, y + 4, str(one.bikes))


# --- what does it cost? ---------------------------------------------------------------------------------------------

ROW, NAMES, SPAN = 22.0, 170.0, 460.0


def costs(summary: Summary) -> str:
    """Mean cost a bike, per complaint and in all, of the policy and of every rival that played."""
    rows = _cost_rows(summary)
    players = ["policy", *summary.rivals]
    top = 64.0 + LINE * len(players)
    foot = top + ROW * len(rows)
    most = max((max(row) for _, row in rows), default=1.0)
    step = next(one for one in (5, 10, 20, 50, 100, 200, 500, 1000, 10**9) if most / one <= 10)
    scale = SPAN / (step * (int(most / step) + 1))
    sheet = Drawing(NAMES + SPAN + 40, foot + 52, "Comparison of costs")
    sheet.text(16, 24, "Mean cost a bike, in minutes: work, parts at the labour rate, hand-off at its price")
    for place, name in enumerate(players):
        sheet.mark(MARKS[place % len(MARKS)], 24, 44 + LINE * place - 4)
        sheet.text(38, 44 + LINE * place, name)
    for tick in range(0, int(most) + step, step):
        x = NAMES + tick * scale
        sheet.line((x, top - 6), (x, foot), "" if tick == 0 else "1 3", "black" if tick == 0 else GREY)
        sheet.text(x, foot + 18, str(tick), "middle")
    sheet.text(NAMES + SPAN / 2, foot + 38, "minutes", "middle")
    for place, (name, row) in enumerate(rows):
        y = top + ROW * (place + 0.5)
        sheet.text(NAMES - 10, y + 4, name, "end")
        sheet.line((NAMES + min(row) * scale, y), (NAMES + max(row) * scale, y), "", GREY)
        for index in reversed(range(len(row))):
            sheet.mark(MARKS[index % len(MARKS)], NAMES + row[index] * scale, y)
    return sheet.svg()


def _cost_rows(summary: Summary) -> list[tuple[str, Sequence[float]]]:
    rivals = summary.rivals.values()
    rows: list[tuple[str, Sequence[float]]] = [
        (name, [figures.cost, *(rival.complaints[name].second for rival in rivals)])
        for name, figures in summary.complaints.items()
    ]
    return [*rows, ("in all", [summary.overall.cost, *(rival.overall.second for rival in rivals)])]
