"""Pictures of a score: a reliability diagram and a comparison of costs, as SVG that reads in black and white.

Cast: `reliability` and `costs` draw.
"""

from __future__ import annotations

from collections.abc import Sequence

from diagnose.casework.score.calibration import Bin
from diagnose.casework.score.figures import Calibration
from diagnose.casework.score.summary import Summary
from diagnose.front.drawing import GREY, MARKS, Drawing

LINE = 16
"""Height of a line of text."""


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
