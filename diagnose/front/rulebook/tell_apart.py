"""`diagnose rules tell-apart`: which checks separate two causes, how well, and in how many minutes."""

from __future__ import annotations

from pathlib import Path

import click

from diagnose.book.model import Book, Cause
from diagnose.errors import InputError
from diagnose.front.options import chosen_book, rules_option
from diagnose.front.paper import Paper
from diagnose.front.rulebook import phrases
from diagnose.front.rulebook.lookup import look_up
from diagnose.front.rulebook.phrases import named, place
from diagnose.reason.apart import Way, never_together, shortest_path, stories, ways_apart

MOST = 12
"""Checks that are told one by one unless all are asked for."""

HARDLY = 0.75
"""Called right by all checks together: below this the book hardly tells two causes apart."""


@click.command()
@click.argument("one", metavar="CAUSE")
@click.argument("other", metavar="CAUSE")
@click.option("--by", type=click.Choice(["mechanic", "rider"]), default="mechanic", help="Who answers.")
@click.option("--all", "everything", is_flag=True, help=f"All checks, not the best {MOST} only.")
@rules_option
@click.option("--plain", is_flag=True, help="ASCII only.")
def command(one: str, other: str, by: str, everything: bool, rules: tuple[Path, ...], plain: bool) -> int:
    """Say which checks tell two causes apart, and how well. Exit 0 when something does, else 1.

    A cause of an own folder: say which folder with --rules.

    Example: diagnose rules tell-apart preload-lost steerer-gap-wrong
    """
    book = chosen_book(rules)
    first, second = (_cause(book, name) for name in (one, other))
    if first.id == second.id:
        raise InputError("input.cause", f'"{first.id}" is one cause; two are needed.', None, "Name another beside it.")
    paper = Paper(plain=True if plain else None)
    paper.say(f"{named(first)} or {named(second)}", style="bold")
    for place_of, cause in (("The first", first), ("The second", second)):
        paper.say(f"{place_of} is from {phrases.source(book, cause.id)}, {place(cause.where)}.")
    told = _say_facts(book, paper, first, second)
    ways = ways_apart(book, first.id, second.id, by)
    if ways:
        _say_ways(book, paper, (first, second), ways if everything else ways[:MOST])
        if len(ways) > MOST and not everything:
            paper.say(f"{len(ways) - MOST} more, which tell less: --all shows them.")
        _say_path(book, paper, ways)
    else:
        who = "a rider can answer" if by == "rider" else "in the book"
        paper.head(f"No check {who} tells them apart")
        paper.say("Give one of them a finding that the other does not show, or shows otherwise.")
    _say_stories(book, paper, first, second)
    return 0 if ways or told else 1


def _cause(book: Book, name: str) -> Cause:
    things = look_up(book, name)
    causes = [thing for thing in things if thing.kind == "cause"]
    if not causes:
        kind = things[0].kind
        raise InputError("input.cause", f'"{name}" is a {kind}, not a cause.', None, "Name two causes.")
    return book.causes[causes[0].id]


def _say_facts(book: Book, paper: Paper, one: Cause, other: Cause) -> bool:
    """What no check is needed for; whether anything."""
    facts = never_together(book, one.id, other.id)
    for fact in facts:
        values = book.facts[fact].values
        here, there = (phrases.one_of(values, cause.applies[fact]) for cause in (one, other))
        paper.say(f"No bike can have both. {book.facts[fact].name}: {here} for the first, {there} for the second.")
    if not set(one.shares) & set(other.shares):
        paper.say("They are behind no complaint in common: the complaint tells them apart, where there is one only.")
    return bool(facts)


def _say_ways(book: Book, paper: Paper, causes: tuple[Cause, Cause], ways: list[Way]) -> None:
    paper.head("Checks, the best first")
    paper.say("Of 100 bikes, half with each, one check alone calls so many right. Guessing calls 50 right.")
    for number, way in enumerate(ways, 1):
        paper.say()
        opens = f", and {phrases.minutes(way.opening)} to get there" if way.opening else ""
        told = f"{100 * way.right:.0f} right, {phrases.minutes(way.minutes)}{opens}"
        below = paper.numbered(number, f"{told}: {phrases.filled(book, way.check.ask)} ({way.check.id})")
        paper.say(phrases.place_and_source(book, way.check.id, way.check.where), indent=below)
        texts = book.findings[way.check.finding].values.values()
        for text, here, there in zip(texts, way.one, way.other, strict=True):
            towards = "" if abs(here - there) < 0.05 else f", speaks for the {'first' if here > there else 'second'}"
            paper.say(f"{text}: {100 * here:.0f} of 100 and {100 * there:.0f} of 100{towards}", indent=below, hang=2)


def _say_path(book: Book, paper: Paper, ways: list[Way]) -> None:
    steps = shortest_path(book, ways)
    paper.head("The quickest way")
    total = 0.0
    for number, step in enumerate(steps, 1):
        total += step.way.minutes + step.way.opening
        asked = phrases.filled(book, step.way.check.ask)
        below = paper.numbered(number, f"{asked} ({step.way.check.id})")
        paper.say(f"{100 * step.right:.0f} of 100 right after {phrases.minutes(round(total, 1))}", indent=below)
    right = steps[-1].right if steps else 0.5
    if right < HARDLY:
        paper.say(f"Even then {100 - 100 * right:.0f} of 100 are called wrong: the book hardly tells them apart.")


def _say_stories(book: Book, paper: Paper, one: Cause, other: Cause) -> None:
    found = stories(book, one.id, other.id)
    if found:
        paper.head("What else the book makes of it")
    for deduction, here, there in found:
        when = " and ".join(phrases.condition_of_rule(book, when) for when in deduction.when)
        told = phrases.place_and_source(book, deduction.id, deduction.where)
        paper.item("-", f"{when}: the first {_said(here)}, the second {_said(there)}. {told}")


def _said(factor: float) -> str:
    if factor == 0:
        return "ruled out"
    if factor == 1:
        return "as before"
    return f"{factor:g} times likelier" if factor > 1 else f"{1 / factor:g} times less likely"
