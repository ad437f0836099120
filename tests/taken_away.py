"""Takes each deduction, cause and row away from the book and looks whether a worked case notices.

Run by hand: `python -m tests.taken_away` (all, on two cores), `--kind row`, `--within rules/brakes`. What no case
notices is printed with its place: it is padding, or it lacks a case. A case *fails* when one of its expectations no
longer holds; that is what guards a part of the book. It *differs* when the first three causes, the verdict or its
reasons, the next step, the plan, what else must be done, what is asked for, a hand-off or a caution is another, or a
share has moved by `MOVED`; for a deduction also where this is so on the way, after any of its events, or where an
expectation fails that only further look-ahead meets. A row is *said by a rule-out* where one answer alone rules its
cause out for every value but one: no share can move without it, but simulated bikes and the reader want it. The cases
of the complaints that the part can bear on are tried, likeliest first, until one notices; `--strict` goes on until one
fails, and prints what none does.

One core to itself tries every row in ten minutes (strict: half an hour), every cause in one.
"""

from __future__ import annotations

import sys
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import replace as altered
from functools import cache, partial
from multiprocessing import Pool
from pathlib import Path
from typing import NamedTuple

import click

from diagnose.book.model import Book, Deduction
from diagnose.book.place import shipped_rules
from diagnose.book.shelf import load_book
from diagnose.casework.casefile import CaseFile, case_reader, read_case
from diagnose.casework.fold import fold
from diagnose.casework.replay import find_cases, replay
from diagnose.casework.view import View, make_view
from diagnose.reason.chainer import PlainChainer
from diagnose.reason.conclude import facts_of, rules_of, single_answer_rule_outs
from diagnose.reason.reasoner import Reasoner

CASES = Path(__file__).parent.parent / "cases"
MOVED = 0.01
NEAR = 15
"""Cases tried in which a deduction does not fire: its question may be asked there all the same."""


class Taken(NamedTuple):
    """A part of the book: its kind (`deduction`, `cause`, `row`), its id, and the finding of a row."""

    kind: str
    id: str
    finding: str = ""


class Shop(NamedTuple):
    """The book with its worked cases, as they come out when nothing is taken away."""

    reasoner: Reasoner
    cases: list[CaseFile]
    complaints: list[frozenset[str]]
    findings: list[frozenset[str]]
    looks: list[dict[str, object]]
    failing: list[frozenset[str]]
    fired: list[frozenset[str]]


@cache
def shop() -> Shop:
    """Everything that the mutations are held against."""
    book = load_book(shipped_rules())
    reasoner = Reasoner(book, PlainChainer(rules_of(book)), depth=1)
    reader = case_reader(reasoner.book)
    cases = [read_case(path, reasoner.book, reader) for path in find_cases(CASES)]
    views = [replay(reasoner, case) for case in cases]
    folded = [fold(reasoner.book, case.told) for case in cases]
    return Shop(
        reasoner,
        cases,
        [frozenset(one.situation.complaints) for one in folded],
        [
            frozenset(
                reasoner.book.checks[event.data["check"]].finding
                for event in case.told
                if event.kind == "answer" and event.data.get("check") in reasoner.book.checks
            )
            for case in cases
        ],
        [look(view) for view in views],
        [failing(view) for view in views],
        [_fired(reasoner, case) for case in cases],
    )


def _fired(reasoner: Reasoner, case: CaseFile) -> frozenset[str]:
    """The deductions that fire after any event of a case: what was seen before a fix counts too."""
    ways = (fold(reasoner.book, case.told[:count]).situation for count in range(1, len(case.told) + 1))
    return frozenset(firing.rule for one in ways for firing in reasoner.chainer.run(facts_of(reasoner.book, one)).fired)


def parts(book: Book) -> Iterator[Taken]:
    """Everything that can be taken away."""
    for name in book.deductions:
        yield Taken("deduction", name)
    for name, cause in book.causes.items():
        yield Taken("cause", name)
        for finding in cause.shows:
            yield Taken("row", name, finding)


def without(book: Book, part: Taken) -> Book:
    """The book without the part, and without any mention of a cause that is gone."""
    if part.kind == "deduction":
        return altered(book, deductions={name: one for name, one in book.deductions.items() if name != part.id})
    causes = dict(book.causes)
    if part.kind == "row":
        cause = causes[part.id]
        shows = {finding: row for finding, row in cause.shows.items() if finding != part.finding}
        return altered(book, causes={**causes, part.id: cause._replace(shows=shows)})
    del causes[part.id]
    deductions = {name: _without_cause(one, part.id) for name, one in book.deductions.items()}
    return altered(book, causes=causes, deductions=deductions)


def _without_cause(one: Deduction, cause: str) -> Deduction:
    return one._replace(
        rule_out=tuple(name for name in one.rule_out if name != cause),
        rule_in=tuple(name for name in one.rule_in if name != cause),
        likelier={name: factor for name, factor in one.likelier.items() if name != cause},
    )


def look(view: View) -> dict[str, object]:
    """What a person would see of a case, without its explanations."""
    return {
        "firsts": [[one["id"] for one in complaint["causes"][:3]] for complaint in view["complaints"]],
        "ride": view["ride"]["verdict"],
        "next": view["next"]["id"],
        "plan": [one["fix"] for one in view["plan"]],
        "hand_off": sorted(str(one["class"]) for one in view["hand_off"]),
        "ruled_out": sorted(str(one["cause"]) for one in view["ruled_out"]),
        "also": sorted(str(one) for one in view["also"]),
        "cautions": sorted(str(one) for one in view["cautions"]),
        "wanted": [str(one) for one in view["wanted"]],
        "dangers": sorted(str(one) for one in view["dangers"]),
        "shares": {
            (complaint["id"], one["id"]): float(one["share"])
            for complaint in view["complaints"]
            for one in complaint["causes"]
        },
    }


def failing(view: View) -> frozenset[str]:
    """The expectations that do not hold. Some need further look-ahead; here it is one step."""
    return frozenset(f"{one['path']} {one['expected']}" for one in view["expectations"] if not one["holds"])


def differs(one: dict[str, object], two: dict[str, object]) -> bool:
    """Whether two looks at a case are not the same."""
    if any(one[key] != two[key] for key in one if key != "shares"):
        return True
    before, after = one["shares"], two["shares"]
    assert isinstance(before, dict)
    assert isinstance(after, dict)
    return any(abs(before.get(key, 0.0) - after.get(key, 0.0)) >= MOVED for key in {*before, *after})


def concerned(part: Taken) -> list[int]:
    """The cases that the part can bear on, likeliest to notice first."""
    all_of = shop()
    book = all_of.reasoner.book
    if part.kind == "deduction":
        fired = [number for number, rules in enumerate(all_of.fired) if part.id in rules]
        moved = set(_moved(book, part.id))
        near = {complaint for name in moved for complaint in book.causes[name].shares}
        others = [number for number, own in enumerate(all_of.complaints) if own & near and number not in fired]
        return fired + others[:NEAR]
    complaints = set(book.causes[part.id].shares)
    findings = {part.finding}
    fitting = [number for number, own in enumerate(all_of.complaints) if own & complaints]
    return sorted(
        fitting,
        key=lambda number: (
            not all_of.findings[number] & findings and part.kind == "row",
            part.id not in _tops(all_of.cases[number]),
        ),
    )


def _tops(case: CaseFile) -> list[str]:
    top = case.expect["top"]
    return list(top.values()) if isinstance(top, dict) else [top]


def _moved(book: Book, name: str) -> Iterator[str]:
    one = book.deductions[name]
    yield from (*one.rule_out, *one.rule_in, *one.likelier)


def noticed(part: Taken, strict: bool = False) -> str:
    """How a case notices that the part is gone: `fails`, `differs`, ..., `said by a rule-out`, or an empty word.

    When strict, what makes one case differ is tried on the others until one fails.
    """
    all_of = shop()
    book = without(all_of.reasoner.book, part)
    engine = PlainChainer(rules_of(book)) if part.kind == "deduction" else all_of.reasoner.chainer
    reasoner = Reasoner(book, engine, depth=1)
    seen = False
    for number in concerned(part):
        view = replay(reasoner, all_of.cases[number])
        if failing(view) - all_of.failing[number]:
            return "fails"
        seen = seen or differs(all_of.looks[number], look(view))
        if seen and not strict:
            break
    if seen:
        return "differs"
    if part.kind == "deduction":
        for number in fired_by(part):
            if any(differs(*both) for both in _on_the_way(reasoner, all_of, number)):
                return "differs on the way"
        deep = Reasoner(book, engine)
        if any(failing(replay(deep, all_of.cases[number])) for number in fired_by(part)):
            return "fails when looked further ahead"
    return "said by a rule-out" if part.kind == "row" and one_value_left(all_of.reasoner.book, part) else ""


def one_value_left(book: Book, row: Taken) -> bool:
    """Whether every value but one of the row's finding rules its cause out by itself."""
    gone = single_answer_rule_outs(book, {}, {row.id}).get((row.id, row.finding), set())
    return len(set(book.values[row.finding]) - gone) == 1


def fired_by(part: Taken) -> list[int]:
    """The first cases in which a deduction fires."""
    return [number for number, rules in enumerate(shop().fired) if part.id in rules][:NEAR]


def _on_the_way(reasoner: Reasoner, all_of: Shop, number: int) -> Iterator[tuple[dict[str, object], dict[str, object]]]:
    """What a case looks like after each of its events, with the whole book and with the part taken away."""
    told = all_of.cases[number].told
    for count in range(len(told) - 1, 0, -1):
        folded = fold(all_of.reasoner.book, told[:count])
        if folded.situation.complaints:
            yield (
                look(make_view(all_of.reasoner, folded, with_estimate=False)),
                look(make_view(reasoner, folded, with_estimate=False)),
            )


def _told(part: Taken, strict: bool) -> tuple[Taken, str]:
    return part, noticed(part, strict)


@click.command()
@click.option("--kind", type=click.Choice(["deduction", "cause", "row"]), help="Only parts of this kind.")
@click.option("--within", default="", help="Only parts whose file's path has this in it.")
@click.option("--cores", default=2, show_default=True)
@click.option("--strict", is_flag=True, help="Print also what makes no case fail; takes far longer.")
def main(kind: str | None, within: str, cores: int, strict: bool) -> None:
    """Print what no worked case notices. Exit 1 if there is any."""
    book = shop().reasoner.book
    chosen = [part for part in parts(book) if kind in (None, part.kind) and within in _where(book, part)]
    counts: defaultdict[tuple[str, str], int] = defaultdict(int)
    padding: list[str] = []
    with Pool(cores) as pool:
        for part, how in pool.imap_unordered(partial(_told, strict=strict), chosen, chunksize=4):
            counts[part.kind, how or "unnoticed"] += 1
            if not how:
                padding.append(part.id)
            if not how or (strict and how != "fails"):
                click.echo(f"{_where(book, part)}: {how or 'unnoticed'}: {part.kind} {part.id} {part.finding}".rstrip())
    for (one, how), count in sorted(counts.items()):
        click.echo(f"{one} {how}: {count}")
    sys.exit(1 if padding else 0)


def _where(book: Book, part: Taken) -> str:
    rule = book.deductions[part.id] if part.kind == "deduction" else book.causes[part.id]
    return str(rule.where)


if __name__ == "__main__":
    main()
