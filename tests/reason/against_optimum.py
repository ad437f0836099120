"""The advice beside the exact optimum: a table of every complaint cut small, and of problems drawn at random.

    python -m tests.reason.against_optimum                          every complaint of the shipped book
    python -m tests.reason.against_optimum COMPLAINT ...            these
    python -m tests.reason.against_optimum --drawn 200 --seed 1     so many drawn problems, others for another seed
    python -m tests.reason.against_optimum --depth 1                one step of look-ahead
    python -m tests.reason.against_optimum --fixes 6 --checks 4     cut smaller, which is solved in seconds

Cast: `compare` gives the `Figures` of one problem; `main` prints the table and what it comes to. It takes minutes.

Columns: positions of the exact table; the optimum's expected minutes, and those of somebody who knows the cause; never
asking, and the advice, over the optimum; the advice's excess as part of what not knowing the cause costs at best; the
advice over its optimum where fixes disturb answers, as at the stand.
"""

from __future__ import annotations

import argparse
import tempfile
from collections.abc import Iterable, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import partial
from pathlib import Path

from diagnose.book.place import shipped_rules
from diagnose.reason.reasoner import DEPTH
from tests.reason.cut_book import MOST_CHECKS, MOST_FIXES, cut
from tests.reason.drawn_jobs import KNOCKS, draw_job
from tests.reason.optimum import Optimum, never_asking
from tests.reason.plain_book import read_plain
from tests.reason.plain_job import Job
from tests.reason.played import Played
from tests.reason.small_book import read_small, reasoner

SEED = 1


@dataclass(frozen=True, slots=True)
class Figures:
    """One problem: expected minutes of the optimum, of who knows the cause, of never asking, and of the advice.

    `unfollowed` is the chance of the courses that were too rare to follow and are charged as the optimum's.
    """

    name: str
    size: str
    positions: int
    optimum: float
    clairvoyant: float
    never: float
    advice: float
    unfollowed: float

    @property
    def ratio(self) -> float:
        """The advice over the optimum."""
        return self.advice / self.optimum

    @property
    def excess(self) -> float:
        """What the advice spends above the optimum, as part of what not knowing the cause costs at best."""
        return (self.advice - self.optimum) / (self.optimum - self.clairvoyant)


def compare(folder: Path, complaint: str, depth: int = DEPTH, name: str = "", size: str = "") -> Figures:
    """Solve a small book and play the advice on it."""
    job = Job(read_plain(folder), complaint, lasting=True)
    best = Optimum(job)
    played = Played(best, reasoner(read_small(folder), depth))
    return Figures(
        name or complaint,
        size,
        best.positions,
        best.value(),
        best.clairvoyant(),
        never_asking(job),
        played.value(),
        played.unfollowed,
    )


def of_the_book(complaint: str, depth: int = DEPTH, fixes: int = MOST_FIXES, checks: int = MOST_CHECKS) -> Figures:
    """A complaint of the shipped book, cut small; its size is causes, fixes and checks, each of how many."""
    with tempfile.TemporaryDirectory() as folder:
        small = cut(read_plain(shipped_rules()), complaint, Path(folder) / "rules", fixes, checks)
        size = " ".join(f"{left}/{every}" for left, every in (small.causes, small.fixes, small.checks))
        return compare(small.folder, complaint, depth, size=size)


def drawn(number: int, depth: int = DEPTH, seed: int = SEED) -> Figures:
    """A problem drawn at random."""
    with tempfile.TemporaryDirectory() as folder:
        rules = draw_job(Path(folder) / "rules", f"{seed} {number}")
        return compare(rules, KNOCKS, depth, f"drawn {number}")


def table(found: Iterable[Figures]) -> list[Figures]:
    """Print a line a problem as it is solved, and what they come to."""
    print(f"{'':26}{'causes fixes checks':>20}{'positions':>12}{'optimum':>9}{'knowing':>9}{'never':>8}{'advice':>8}"
          f"{'excess':>9}")  # fmt: skip
    every = []
    for one in found:
        every.append(one)
        print(
            f"{one.name:26}{one.size:>20}{one.positions:12,}{one.optimum:9.2f}{one.clairvoyant:9.2f}"
            f"{one.never / one.optimum:8.4f}{one.ratio:8.4f}{one.excess:9.2%}",
            flush=True,
        )
    return every


def summary(every: Sequence[Figures]) -> str:
    """Mean and worst of each."""
    rows = {
        "never asking": [one.never / one.optimum for one in every],
        "the advice": [one.ratio for one in every],
    }
    lines = [f"{name}: mean {sum(row) / len(row):.4f}, worst {max(row):.4f}" for name, row in rows.items()]
    excess = sum(one.excess for one in every) / len(every)
    return "\n".join(
        [
            f"{len(every)} problems, expected minutes over the exact optimum",
            *lines,
            f"excess over (optimum - knowing the cause): mean {excess:.2%}",
            f"not followed, at most: {max(one.unfollowed for one in every):.6f}",
        ]
    )


def main() -> None:
    """Read the command line, print the table."""
    parser = argparse.ArgumentParser(description="The advice beside the exact optimum.")
    parser.add_argument("complaints", nargs="*", help="complaints of the shipped book; all if none is named")
    parser.add_argument("--drawn", type=int, default=0, metavar="NUMBER", help="problems drawn at random instead")
    parser.add_argument("--first", type=int, default=0, metavar="NUMBER", help="the first of them")
    parser.add_argument("--seed", type=int, default=SEED, help="another seed draws other problems")
    parser.add_argument("--depth", type=int, default=DEPTH, choices=(1, 2, 3), help="steps of look-ahead")
    parser.add_argument("--fixes", type=int, default=MOST_FIXES, help="fixes that a complaint of the book keeps")
    parser.add_argument("--checks", type=int, default=MOST_CHECKS, help="checks that it keeps")
    parser.add_argument("--processes", type=int, default=None, help="how many at a time; all cores if not said")
    asked = parser.parse_args()
    with ProcessPoolExecutor(asked.processes) as pool:
        if asked.drawn:
            numbers = range(asked.first, asked.first + asked.drawn)
            found = pool.map(partial(drawn, depth=asked.depth, seed=asked.seed), numbers)
        else:
            complaints = asked.complaints or read_plain(shipped_rules()).complaints
            found = pool.map(
                partial(of_the_book, depth=asked.depth, fixes=asked.fixes, checks=asked.checks), complaints
            )
        print(summary(table(found)))


if __name__ == "__main__":
    main()
