"""A score as text: the policy per complaint and in all, rivals, upsets, the counter, and what should be reached."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from diagnose.casework.score.figures import Figures, Part
from diagnose.casework.score.players import Clairvoyant
from diagnose.casework.score.summary import Goal, Rivalry, Shaken, Summary
from diagnose.casework.score.upsets import UPSETS

HEADS = "complaint|1st fix|on top|stated|in 3|asked|min|P90|cost|hand-off|ridden|false|Brier|-ln p|in P10"
UNDER = "|cures|true||||||||away|stops|||-P90"
LEGEND = """\
1st fix cures: of the bikes on which a fix was tried. On top, stated, in 3: how often the cause on top was the true
one, what share was stated, how often the true one was in the first three, when a repair above 15 minutes or any part
was chosen. asked: checks before the first fix or the hand-off. min, P90: minutes of work, mean and 90th percentile.
cost: minutes, with parts at the labour rate and a hand-off at its price. ridden away: bikes with a dangerous cause
whose last verdict before the first fix let them be ridden; false stops: bikes without one, and without a danger that
shows in itself, whose verdict did not. Brier: sum over all causes of (stated - true)², 0 to 2, and -ln p of the true
one: both, and the calibration, when the first fix or the hand-off was chosen. in P10-P90: minutes from there on that
fell into the estimate."""


def text_of(made: Summary) -> str:
    """The whole report."""
    parts = [_title(made), _main_table(made), LEGEND, "", _beside(made.overall)]
    if made.rivals:
        parts += ["", _rivals(made)]
    if made.upsets:
        parts += ["", _upsets(made)]
    if made.counter:
        parts += ["", _counter(made)]
    parts += ["", "Beside what should be reached", *(f"  {line}" for line in map(_goal, made.goals))]
    return "\n".join(parts)


def _title(made: Summary) -> str:
    order = made.order
    steps = {1: "one step deep", 2: "two steps deep", 3: "three steps deep"}[order.depth]
    return f"{made.overall.bikes} bikes, {order.bikes} a complaint, seed {order.seed}, {steps}\n"


# --- tables ---------------------------------------------------------------------------------------------------------


def _table(rows: Sequence[Sequence[str]]) -> str:
    """Columns as wide as they must be, the first to the left, the others to the right."""
    widths = [max(len(row[place]) for row in rows) for place in range(len(rows[0]))]
    lines = []
    for first, *others in rows:
        cells = [cell.rjust(width) for cell, width in zip(others, widths[1:], strict=True)]
        lines.append("  ".join([first.ljust(widths[0]), *cells]).rstrip())
    return "\n".join(lines)


def _main_table(made: Summary) -> str:
    rows = [HEADS.split("|"), UNDER.split("|")]
    rows += [_row(name, figures) for name, figures in made.complaints.items()]
    rows.append(_row("in all", made.overall))
    return _table(rows)


def _row(name: str, figures: Figures) -> list[str]:
    named = figures.before_repair
    return [
        name,
        percent(figures.first_fix.share),
        percent(named.on_top) if named.bikes else "-",
        percent(named.stated) if named.bikes else "-",
        percent(named.in_first_three) if named.bikes else "-",
        f"{figures.questions:.1f}",
        f"{figures.minutes:.0f}",
        f"{figures.minutes_p90:.0f}",
        f"{figures.cost:.0f}",
        percent(figures.handed_off),
        count(figures.danger.ridden_away),
        count(figures.danger.false_stops),
        f"{figures.brier:.2f}",
        f"{figures.log_loss:.2f}",
        percent(figures.foresight.minutes) if figures.foresight.bikes else "-",
    ]


def percent(share: float) -> str:
    """A fraction as whole percent."""
    return f"{100 * share:.0f} %"


def count(part: Part) -> str:
    """So many of so many."""
    return f"{part.times}/{part.of}"


def _beside(overall: Figures) -> str:
    """What has no column."""
    return "\n".join([_calibration(overall), _danger(overall), _estimates(overall), _ends(overall)])


def _calibration(overall: Figures) -> str:
    one = overall.calibration
    beside = f"a perfect model shows {one.perfect:.3f}, in 95 of 100 runs at most {one.perfect_p95:.3f}"
    return f"Calibration of the cause on top: error {one.error:.3f} on {one.bikes} bikes;\n  {beside}."


def _danger(overall: Figures) -> str:
    one = overall.danger
    known = f"Ridden away {_spread(one.ridden_away)} of the dangerous; false stops {_spread(one.false_stops)},"
    unknown = f"of the dangerous that the book does not know {count(one.unknown_ridden_away)} ridden away"
    called = f"called by a deduction {count(one.called)}; {count(one.seen)} safe causes show a danger in themselves"
    return f"{known}\n  {called};\n  not cleared {percent(one.not_cleared.share)} of all; {unknown}."


def _estimates(overall: Figures) -> str:
    one = overall.foresight
    minutes = f"minutes inside P10-P90 {percent(one.minutes)}, below {percent(one.below)}, above {percent(one.above)}"
    hand_off = f"hand-off stated {percent(one.hand_off_stated)}, came {percent(one.hand_off)} ({one.bikes} bikes)"
    unchecked = f"inside without the checks that came after {percent(one.unchecked)}"
    return f"Estimates: {minutes};\n  {unchecked}; parts inside {percent(one.parts)}; {hand_off}."


def _ends(overall: Figures) -> str:
    ends = f"cured {percent(overall.cured)}, given up {percent(overall.given_up)}"
    extra = f"put right whatever the complaint: {overall.extra:.1f} minutes, not in the cost"
    out = f"the true cause had been ruled out on {count(overall.ruled_out)}"
    return f"Checks {overall.checks:.1f}, repeat tests {overall.tries:.1f}, {ends}; {out};\n  {extra}."


def _spread(part: Part) -> str:
    return f"{100 * part.share:.1f} % (95 %: {100 * part.low:.1f} to {100 * part.high:.1f})"


# --- rivals ---------------------------------------------------------------------------------------------------------


def _rivals(made: Summary) -> str:
    free = ", rivals spared the checks that danger demands" if made.order.free else ""
    head = f"Cost beside rivals on the same bikes{free} (! better than the policy beyond the 95 % interval)"
    rows = [["complaint", "policy", *made.rivals]]
    for name, figures in made.complaints.items():
        rows.append(
            [name, f"{figures.cost:.0f}", *(_beside_rival(one, rival, name) for rival, one in made.rivals.items())]
        )
    rows += list(_rivals_in_all(made))
    return f"{head}\n{_table(rows)}"


def _beside_rival(rivalry: Rivalry, rival: str, complaint: str) -> str:
    one = rivalry.complaints[complaint]
    return f"{'! ' if one.worse and rival != Clairvoyant.name else ''}{one.second:.0f}"


def _rivals_in_all(made: Summary) -> Iterator[list[str]]:
    everyone = [made.overall, *(rivalry.figures for rivalry in made.rivals.values())]
    yield ["cost in all", *(f"{one.cost:.0f}" for one in everyone)]
    yield ["policy's part of it", "", *(_ratio(rivalry) for rivalry in made.rivals.values())]
    yield ["minutes", *(f"{one.minutes:.0f}" for one in everyone)]
    yield ["asked first", *(f"{one.questions:.1f}" for one in everyone)]
    yield ["1st fix cures", *(percent(one.first_fix.share) for one in everyone)]
    yield ["on top, true", *(percent(one.before_repair.on_top) for one in everyone)]
    yield ["cured", *(percent(one.cured) for one in everyone)]
    yield ["ridden away", *(count(one.danger.ridden_away) for one in everyone)]
    yield ["false stops", *(count(one.danger.false_stops) for one in everyone)]
    yield ["Brier", *(f"{one.brier:.2f}" for one in everyone)]
    yield ["-ln p", *(f"{one.log_loss:.2f}" for one in everyone)]


def _ratio(rivalry: Rivalry) -> str:
    return percent(rivalry.overall.ratio)


# --- upsets, the counter, goals -------------------------------------------------------------------------------------


def _upsets(made: Summary) -> str:
    rows = ["upset|more cost|cost|min|tries|cured|hand-off|ridden away|false stops|worst".split("|")]
    rows += [_upset(name, one) for name, one in made.upsets.items()]
    rows.append(_upset("(none)", Shaken(made.overall, {}, None, [])))
    told = [f"  {name}: {UPSETS[name]}" for name in made.upsets]
    return "\n".join(
        ["What if it is otherwise? More cost: mean over complaints, on the same bikes", _table(rows), *told]
    )


def _upset(name: str, one: Shaken) -> list[str]:
    figures = one.figures
    return [
        name,
        "" if one.more is None else f"{100 * one.more:+.1f} %",
        f"{figures.cost:.0f}",
        f"{figures.minutes:.0f}",
        f"{figures.tries:.1f}",
        percent(figures.cured),
        percent(figures.handed_off),
        count(figures.danger.ridden_away),
        count(figures.danger.false_stops),
        ", ".join(f"{complaint} {100 * more:+.0f} %" for complaint, more in one.worst),
    ]


def _counter(made: Summary) -> str:
    one = made.counter
    if one is None:
        return ""
    named = f"true cause on top {percent(one.named.on_top)} (stated {percent(one.named.stated)})"
    three = f"in the first three {percent(one.named.in_first_three)}"
    away = f"Ridden away {_spread(one.danger.ridden_away)} of the dangerous, {_spread(one.away_of_all)} of all"
    stops = f"False stops {_spread(one.danger.false_stops)}: told not to ride {_spread(one.outright)}"
    scores = f"Brier {one.brier:.2f}, -ln p {one.log_loss:.2f} ({one.bikes} bikes)"
    return "\n".join(
        [
            f"At the counter, the rider answering: {one.questions:.1f} questions; {named}, {three}.",
            f"  {away}.",
            f"  {stops},",
            "  the others to have it looked at first.",
            f"  Not cleared {percent(one.danger.not_cleared.share)}; {scores}.",
        ]
    )


def _goal(goal: Goal) -> str:
    sign = "at most" if goal.at_most else "at least"
    state = "reached" if goal.reached else "NOT reached"
    return f"{goal.name}: {goal.value:.4g} ({sign} {goal.goal:.4g}: {state}); {goal.note}"
