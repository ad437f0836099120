"""The counter gone through for every complaint of the book: how much a rider is asked.

`python -m tests.casework.counter_walk [--riders N]` prints a line a complaint and, over all of them, the greatest and
the mean count. A rider who cannot tell anything comes first, then those whose answers are drawn by lot. What is counted
is what `intake.asked` counts: facts of the bike, further values of them ("Another one?"), and checks.
"""

from __future__ import annotations

import argparse
import random
from collections.abc import Iterator
from statistics import mean

from diagnose.casework import events
from diagnose.casework.fold import Folded, fold
from diagnose.casework.intake import MOST_PROMPTS, Prompt, asked, more_matters, next_prompt
from diagnose.reason.reasoner import Reasoner
from tests.shipped import shipped_book

ALONE = ("nothing", "none", "complete")
"""Values of a fact that say that none of the others holds."""


def opened(reasoner: Reasoner, complaint: str, told: list[events.Draft]) -> Folded:
    """A job at the counter."""
    return fold(reasoner.book, [events.opened("rider", "mechanic"), events.complaint(complaint), *told])


def walk(reasoner: Reasoner, complaint: str, rider: int) -> tuple[Folded, list[Prompt]]:
    """A bike taken in, and what was asked; rider 0 cannot tell anything, the others draw their answers."""
    draw = random.Random(f"{complaint} {rider}")  # noqa: S311 - made-up riders
    told: list[events.Draft] = []
    prompts: list[Prompt] = []
    folded = opened(reasoner, complaint, told)
    while prompt := next_prompt(reasoner, folded):
        prompts.append(prompt)
        told.append(_answer(reasoner, prompt, draw if rider else None, folded))
        folded = opened(reasoner, complaint, told)
        while folded.partly and rider:
            told.append(_another(reasoner, prompt.id, folded, draw))
            folded = opened(reasoner, complaint, told)
    return folded, prompts


def _another(reasoner: Reasoner, fact: str, folded: Folded, draw: random.Random) -> events.Draft:
    """Another value of a fact, or that it was all."""
    told = list(folded.situation.profile[fact])
    others = [value for value in reasoner.book.facts[fact].values if value not in (*ALONE, *told)]
    chosen = draw.choice([None, *others])
    now = [*told, chosen] if chosen else told
    more = bool(chosen) and len(others) > 1 and more_matters(reasoner, folded, fact, now)
    return events.profile(fact, now, more=more)


def _answer(reasoner: Reasoner, prompt: Prompt, draw: random.Random | None, folded: Folded) -> events.Draft:
    book = reasoner.book
    if prompt.kind == "fact":
        fact = book.facts[prompt.id]
        told = [draw.choice(list(fact.values))] if draw else []
        several = fact.several and bool(told) and told[0] not in ALONE
        return events.profile(fact.id, told, more=several and more_matters(reasoner, folded, fact.id, told))
    if draw is None:
        return events.cannot_tell(prompt.id, "rider")
    values = book.findings[book.checks[prompt.id].finding].values
    return events.answered(prompt.id, "rider", draw.choice(list(values)))


def counts(reasoner: Reasoner, riders: int) -> Iterator[tuple[str, list[int]]]:
    """Each complaint with how much each of its riders was asked."""
    for complaint in sorted(reasoner.book.complaints):
        yield complaint, [asked(walk(reasoner, complaint, rider)[0]) for rider in range(riders)]


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--riders", type=int, default=6)
    reasoner, everything = Reasoner(shipped_book(), depth=1), []
    for complaint, found in counts(reasoner, parser.parse_args().riders):
        everything += found
        print(f"{complaint:28} greatest {max(found)}, mean {mean(found):.1f}", flush=True)
    print(f"{len(everything)} bikes: greatest {max(everything)} of {MOST_PROMPTS}, mean {mean(everything):.2f}")


if __name__ == "__main__":
    main()
