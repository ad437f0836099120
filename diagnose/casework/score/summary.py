"""All figures of one run, ready to be shown.

Cast: `summarise` turns `Results` into a `Summary`: the policy's `Figures` per complaint and in all, `Rivalry` for
each rival, `Shaken` for each upset, the counter, and the `Goal`s with what was reached. `plain` makes JSON values of
any of it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields, is_dataclass
from typing import Any, NamedTuple

from diagnose.casework.score.figures import (
    Counter,
    Figures,
    Versus,
    by_complaint,
    compare,
    counter_of,
    figures_of,
    mean,
    versus,
)
from diagnose.casework.score.players import Clairvoyant, FixedOrder, Policy
from diagnose.casework.score.run import PLAIN, Order, Results
from diagnose.casework.score.upsets import ONE_FAULT

WORST = 3


class Rivalry(NamedTuple):
    """A rival's own figures, and the policy's cost beside its: in all and per complaint."""

    figures: Figures
    overall: Versus
    complaints: dict[str, Versus]

    @property
    def beaten_by(self) -> list[str]:
        """Complaints on which the rival costs less than the policy, beyond the interval."""
        return [name for name, one in self.complaints.items() if one.worse]


class Shaken(NamedTuple):
    """The policy's figures under an upset.

    `more` is the mean over complaints of what it costs more on the same bikes, as a fraction. `more` and `worst` (the
    complaints that suffer most) are missing where the bikes are other ones.
    """

    figures: Figures
    complaints: dict[str, Versus]
    more: float | None
    worst: list[tuple[str, float]]


class Goal(NamedTuple):
    """A figure beside what it should reach."""

    name: str
    value: float
    goal: float
    at_most: bool
    note: str

    @property
    def reached(self) -> bool:
        """Whether the figure reaches it."""
        return self.value <= self.goal if self.at_most else self.value >= self.goal


@dataclass(frozen=True, slots=True)
class Summary:
    """Everything that a run has shown."""

    order: Order
    book: str
    fingerprint: str
    overall: Figures
    complaints: dict[str, Figures]
    rivals: dict[str, Rivalry]
    upsets: dict[str, Shaken]
    counter: Counter | None
    lists: Mapping[str, tuple[str, ...]]
    goals: list[Goal]


def summarise(results: Results) -> Summary:
    """The figures of a run."""
    seed = results.order.seed
    made = Summary(
        order=results.order,
        book=results.book.constants.id,
        fingerprint=results.book.fingerprint,
        overall=figures_of(results.policy, seed),
        complaints={name: figures_of(visits, seed) for name, visits in by_complaint(results.policy).items()},
        rivals={name: _rivalry(results, name) for name in results.order.rivals},
        upsets={name: _shaken(results, name) for name in results.order.upsets if (name, Policy.name) in results.visits},
        counter=counter_of(results.intakes) if results.intakes else None,
        lists=results.lists,
        goals=[],
    )
    made.goals.extend(_goals(made))
    return made


def _rivalry(results: Results, name: str) -> Rivalry:
    visits = results.visits[PLAIN, name]
    return Rivalry(
        figures_of(visits, results.order.seed), compare(results.policy, visits), versus(results.policy, visits)
    )


def _shaken(results: Results, name: str) -> Shaken:
    visits = results.visits[name, Policy.name]
    figures = figures_of(visits, results.order.seed)
    if name not in ONE_FAULT:
        return Shaken(figures, {}, None, [])
    compared = versus(visits, results.policy)
    more = {complaint: one.ratio - 1 for complaint, one in compared.items()}
    worst = sorted(more.items(), key=lambda one: (-one[1], one[0]))[:WORST]
    return Shaken(figures, compared, mean(more.values()), worst)


# --- what should be reached -----------------------------------------------------------------------------------------


def _goals(made: Summary) -> list[Goal]:
    """The goals that this run can say something about."""
    return [*_policy_goals(made.overall), *_rival_goals(made), *_upset_goals(made), *_counter_goals(made)]


def _policy_goals(overall: Figures) -> list[Goal]:
    named, danger, calibration = overall.before_repair, overall.danger, overall.calibration
    away, stops = danger.ridden_away, danger.false_stops
    return [
        Goal("true cause on top before a long repair or a part", named.on_top, 0.85, False, f"{named.bikes} bikes"),
        Goal(
            "dangerous bikes ridden away",
            away.share,
            0.001,
            True,
            f"{away.times} of {away.of}, at most {100 * away.high:.1f} %",
        ),
        Goal("false stops", stops.share, 0.15, True, f"{stops.times} of {stops.of}"),
        Goal(
            "calibration error of the cause on top",
            calibration.error,
            calibration.perfect_p95,
            True,
            f"{calibration.bikes} bikes; a perfect model shows {calibration.perfect:.3f}",
        ),
        Goal("given up after too many steps", overall.given_up, 0.0, True, f"{overall.bikes} bikes"),
    ]


def _rival_goals(made: Summary) -> list[Goal]:
    goals = []
    if FixedOrder.name in made.rivals:
        one = made.rivals[FixedOrder.name].overall
        note = f"{one.first:.1f} beside {one.second:.1f} minutes, difference {one.difference:.1f} ± {one.half:.1f}"
        goals.append(Goal("cost beside the best fixed order", one.ratio, 0.8, True, note))
    for name, rivalry in made.rivals.items():
        if name == Clairvoyant.name:
            continue
        beaten = rivalry.beaten_by
        note = ", ".join(beaten) or f"{len(rivalry.complaints)} complaints"
        goals.append(Goal(f"complaints on which {name} is better", len(beaten), 0, True, note))
    return goals


def _upset_goals(made: Summary) -> list[Goal]:
    goals = []
    for name in ("rows-off", "shares-off", "rows-and-shares-off"):
        if name in made.upsets and made.upsets[name].more is not None:
            worst = ", ".join(f"{complaint} {100 * more:+.0f} %" for complaint, more in made.upsets[name].worst)
            goals.append(Goal(f"more cost with {name}", made.upsets[name].more or 0.0, 0.1, True, worst))
    for name, goal in (("two-faults", 0.9), ("two-faults-sure", 0.95)):
        if name in made.upsets:
            figures = made.upsets[name].figures
            able = figures.curable
            note = (
                f"{figures.minutes:.0f} minutes, {figures.tries:.1f} tries; "
                f"{figures.due} of {figures.bikes} rightly handed off at once; "
                f"all the book's fixes cure {able.of} of the others, cured of these: {100 * able.share:.0f} %"
            )
            goals.append(Goal(f"both cured with {name}", figures.cured, goal, False, note))
    return goals


def _counter_goals(made: Summary) -> list[Goal]:
    if made.counter is None:
        return []
    away, stops = made.counter.danger.ridden_away, made.counter.danger.false_stops
    told = made.counter.outright
    note = f"{away.times} of {away.of}; false stops {100 * stops.share:.0f} %, {100 * told.share:.1f} % outright"
    return [Goal("dangerous bikes ridden away from the counter", away.share, 0.005, True, note)]


# --- JSON -----------------------------------------------------------------------------------------------------------


def plain(value: object) -> Any:
    """JSON values of figures: records to mappings, endless numbers to None."""
    if is_dataclass(value) and not isinstance(value, type):
        return {one.name: plain(getattr(value, one.name)) for one in fields(value)}
    if isinstance(value, tuple) and hasattr(value, "_asdict"):
        return {name: plain(one) for name, one in value._asdict().items()}
    if isinstance(value, Mapping):
        return {str(name): plain(one) for name, one in value.items()}
    if isinstance(value, list | tuple):
        return [plain(one) for one in value]
    if isinstance(value, float):
        return value if abs(value) != float("inf") else None
    return value if value is None or isinstance(value, str | int | bool) else str(value)
