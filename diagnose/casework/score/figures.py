"""From visits to figures: per complaint and in all, against rivals, under upsets, at the counter.

Cast: `figures_of` makes the `Figures` of some visits; `compare` sets two players' costs on the same bikes against
each other, `versus` each complaint's; `counter_of` the `Counter` of some intakes. All fractions are 0 to 1, all times
minutes.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from diagnose.casework.score.calibration import Bin, Pair, bins, error, perfect, wilson
from diagnose.casework.score.play import Intake, Stated, Visit

OUT = 20.0
"""-ln of the share that a cause has that was ruled out, and more: less than one in a hundred million."""


class Part(NamedTuple):
    """So many of so many, the fraction and its 95 % interval."""

    times: int
    of: int
    share: float
    low: float
    high: float


def part(flags: Iterable[bool]) -> Part:
    """The fraction that holds."""
    held = list(flags)
    count = sum(held)
    return Part(count, len(held), count / len(held) if held else 0.0, *wilson(count, len(held)))


class Calibration(NamedTuple):
    """How true the stated shares of the cause on top are, beside a perfect model's error on as many bikes."""

    bikes: int
    error: float
    perfect: float
    perfect_p95: float
    bins: list[Bin]


class Named(NamedTuple):
    """The cause on top: the mean share stated, how often it was the true one, how often that was in the first three."""

    bikes: int
    stated: float
    on_top: float
    in_first_three: float


class Danger(NamedTuple):
    """Ride verdicts before the first fix. *Held* is do not ride, or not cleared.

    `ridden_away`: bikes with a dangerous cause of the book that were not held; `unknown_ridden_away`: with a
    dangerous one outside it; `not_stopped`: dangerous and not told "do not ride" in so many words; `false_stops`:
    safe bikes held, of those that show no danger in themselves; `called`: of these, where a deduction said so and not
    the shares alone; `seen`: bikes without a dangerous cause that show a danger all the same, as a lever at the bar
    does whatever lets it go there: to hold them is right; `not_cleared`: of all.
    """

    ridden_away: Part
    unknown_ridden_away: Part
    not_stopped: Part
    false_stops: Part
    called: Part
    seen: Part
    not_cleared: Part


class Foresight(NamedTuple):
    """How often what it took fell within the estimate's P10 to P90, and how often a hand-off was expected and came.

    `unchecked`: how often the minutes did, the checks after the first fix left out: the estimate has none.
    """

    bikes: int
    minutes: float
    below: float
    above: float
    unchecked: float
    parts: float
    hand_off_stated: float
    hand_off: float


@dataclass(frozen=True, slots=True)
class Figures:
    """What one player did to some bikes. `first_fix`: of those on which one was tried, how many the first cured."""

    bikes: int
    cured: float
    handed_off: float
    given_up: float
    curable: Part
    """Of the bikes all of whose faults the book's fixes can cure, and that were not `due` elsewhere, those cured."""
    due: int
    """Bikes that were handed off as what is true of them calls for."""
    first_fix: Part
    before_repair: Named
    before_fix: Named
    questions: float
    checks: float
    tries: float
    minutes: float
    minutes_p90: float
    cost: float
    extra: float
    danger: Danger
    brier: float
    log_loss: float
    ruled_out: Part
    """Bikes whose true cause had been ruled out when the first fix or the hand-off was chosen."""
    calibration: Calibration
    foresight: Foresight


def figures_of(visits: Sequence[Visit], seed: int) -> Figures:
    """The figures of some visits, of which there is at least one."""
    count = len(visits)
    ranked = sorted(visit.minutes for visit in visits)
    return Figures(
        bikes=count,
        cured=mean(visit.end == "cured" for visit in visits),
        handed_off=mean(visit.end == "handed-off" for visit in visits),
        given_up=mean(visit.end == "given-up" for visit in visits),
        curable=part(visit.end == "cured" for visit in visits if visit.curable and not visit.due),
        due=sum(visit.due for visit in visits),
        first_fix=part(visit.first_cured for visit in visits if visit.first_cured is not None),
        before_repair=_named([visit.weighty for visit in visits if visit.weighty]),
        before_fix=_named([visit.stated for visit in visits]),
        questions=mean(visit.questions for visit in visits),
        checks=mean(visit.checks for visit in visits),
        tries=mean(visit.tries for visit in visits),
        minutes=mean(ranked),
        minutes_p90=ranked[min(count - 1, int(0.9 * count))],
        cost=mean(visit.cost for visit in visits),
        extra=mean(visit.extra for visit in visits),
        danger=_danger(visits),
        brier=mean(visit.stated.brier for visit in visits),
        log_loss=mean(visit.stated.surprise for visit in visits),
        ruled_out=part(visit.stated.surprise > OUT for visit in visits),
        calibration=_calibration([(visit.stated.top, visit.stated.right) for visit in visits], seed),
        foresight=_foresight(visits),
    )


def mean(values: Iterable[float]) -> float:
    """The mean; 0 for none."""
    found = list(values)
    return sum(found) / len(found) if found else 0.0


def _named(stated: Sequence[Stated]) -> Named:
    return Named(
        len(stated),
        mean(one.top for one in stated),
        mean(one.right for one in stated),
        mean(one.rank <= 3 for one in stated),
    )


def _danger(visits: Sequence[Visit | Intake]) -> Danger:
    return Danger(
        ridden_away=part(not one.held for one in visits if one.danger == "known"),
        unknown_ridden_away=part(not one.held for one in visits if one.danger == "unknown"),
        not_stopped=part(one.verdict != "stop" for one in visits if one.danger),
        false_stops=part(one.held for one in visits if not one.danger and not one.seen),
        called=part(one.called for one in visits if not one.danger and not one.seen and one.held),
        seen=part(one.seen for one in visits if not one.danger),
        not_cleared=part(one.verdict == "not-cleared" for one in visits),
    )


def _calibration(pairs: Sequence[Pair], seed: int) -> Calibration:
    typical, rare = perfect([share for share, _ in pairs], seed)
    return Calibration(len(pairs), error(pairs), typical, rare, bins(pairs))


def _foresight(visits: Sequence[Visit]) -> Foresight:
    found = [(visit, visit.foreseen) for visit in visits if visit.foreseen]
    minutes = [one.minutes for _, one in found]
    return Foresight(
        bikes=len(found),
        minutes=mean(low <= took <= high for low, high, took in minutes),
        below=mean(took < low for low, _, took in minutes),
        above=mean(took > high for _, high, took in minutes),
        unchecked=mean(one.minutes[0] <= one.minutes[2] - one.checking <= one.minutes[1] for _, one in found),
        parts=mean(one.parts[0] <= one.parts[2] <= one.parts[1] for _, one in found),
        hand_off_stated=mean(one.hand_off_chance for _, one in found),
        hand_off=mean(visit.end != "cured" for visit, _ in found),
    )


# --- against others on the same bikes -------------------------------------------------------------------------------


class Versus(NamedTuple):
    """One player's cost beside another's on the same bikes.

    Both means, the mean difference (first less second) and half of its 95 % interval.
    """

    bikes: int
    first: float
    second: float
    difference: float
    half: float

    @property
    def ratio(self) -> float:
        """The first's cost over the second's."""
        return self.first / self.second if self.second else 1.0

    @property
    def worse(self) -> bool:
        """Whether the first costs more, beyond the interval."""
        return self.difference - self.half > 0


def compare(first: Sequence[Visit], second: Sequence[Visit]) -> Versus:
    """Paired by bike; bikes that only one of them met are left out."""
    costs = {(visit.complaint, visit.number): visit.cost for visit in second}
    pairs = [(one.cost, costs[key]) for one in first if (key := (one.complaint, one.number)) in costs]
    count = len(pairs)
    differences = [one - two for one, two in pairs]
    middle = mean(differences)
    spread = sum((one - middle) ** 2 for one in differences) / max(1, count - 1)
    half = 1.959964 * (spread / count) ** 0.5 if count > 1 else float("inf")
    return Versus(count, mean(one for one, _ in pairs), mean(two for _, two in pairs), middle, half)


def by_complaint(visits: Sequence[Visit]) -> dict[str, list[Visit]]:
    """Visits of each complaint, by its id."""
    found: dict[str, list[Visit]] = {}
    for visit in visits:
        found.setdefault(visit.complaint, []).append(visit)
    return dict(sorted(found.items()))


def versus(first: Sequence[Visit], second: Sequence[Visit]) -> dict[str, Versus]:
    """For each complaint the first's costs beside the second's, on the bikes that both met."""
    others = by_complaint(second)
    made = {name: compare(visits, others.get(name, [])) for name, visits in by_complaint(first).items()}
    return {name: one for name, one in made.items() if one.bikes}


# --- the counter ----------------------------------------------------------------------------------------------------


class Counter(NamedTuple):
    """What riders' answers at the counter came to.

    `outright`: safe bikes of which it was said not to ride them, of those that show no danger in themselves; the other
    false stops are to be looked at first, at the stand. `away_of_all`: dangerous bikes not held, of all bikes.
    """

    bikes: int
    questions: float
    named: Named
    danger: Danger
    outright: Part
    away_of_all: Part
    brier: float
    log_loss: float


def counter_of(intakes: Sequence[Intake]) -> Counter:
    """The figures of some intakes."""
    return Counter(
        bikes=len(intakes),
        questions=mean(one.questions for one in intakes),
        named=_named([one.stated for one in intakes]),
        danger=_danger(intakes),
        outright=part(one.outright for one in intakes if not one.danger and not one.seen),
        away_of_all=part(bool(one.danger) and not one.held for one in intakes),
        brier=mean(one.stated.brier for one in intakes),
        log_loss=mean(one.stated.surprise for one in intakes),
    )
