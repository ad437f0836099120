"""What hangs together in a book: every thing by its id, and for each who speaks of it, with the place.

Cast: `Thing` names a thing; `things_of(book)` gives all of them, `find(book, typed)` those that an id or a name means;
`Tie` is one mention, and `ties_to(book)` gives for each thing all mentions by others. What a thing itself says of
others is no tie to it but stands in the thing.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator
from typing import NamedTuple

from diagnose.book.conditions import INLINE_LIMIT
from diagnose.book.model import (
    Book,
    Cause,
    Check,
    Complaint,
    Condition,
    Deduction,
    Edge,
    Fact,
    Finding,
    Fix,
    Limit,
    Part,
    Teardown,
    Word,
    Working,
)
from diagnose.book.problems import nearest
from diagnose.errors import BookError, Location


class Thing(NamedTuple):
    """Something in the book; `kind` is cause, complaint, finding, check, fix, limit, deduction, fact and so on."""

    kind: str
    id: str
    name: str
    where: Location | None


class Tie(NamedTuple):
    """A mention: `by` speaks of the thing of this kind and id, `how` in a few words, at `where`."""

    kind: str
    id: str
    how: str
    by: Thing
    where: Location


def things_of(book: Book) -> Iterator[Thing]:
    """Every thing of the book that has an id."""
    named: dict[str, Iterable[Cause | Complaint | Finding | Fix | Fact | Word | Teardown | Part]] = {
        "cause": book.causes.values(),
        "complaint": book.complaints.values(),
        "finding": book.findings.values(),
        "fix": book.fixes.values(),
        "fact": book.facts.values(),
        "conclusion": book.words.values(),
        "teardown": book.teardowns.values(),
        "part": book.parts.values(),
    }
    for kind, ones in named.items():
        yield from (Thing(kind, one.id, one.name, one.where) for one in ones)
    yield from (Thing("check", one.id, one.ask, one.where) for one in book.checks.values())
    yield from (Thing("limit", one.id, one.quantity, one.where) for one in book.limits.values())
    yield from (Thing("deduction", one.id, one.because, one.where) for one in book.deductions.values())
    yield from (Thing("hand-off", one.id, one.to, one.where) for one in book.receivers.values())
    yield from (Thing("tool", name, text, None) for name, text in book.tools.items())
    yield from (Thing("caution", name, text, None) for name, text in book.cautions.items())


def find(book: Book, typed: str) -> tuple[Thing, ...]:
    """The things that an id means, or else an id without its folder, a former id or a name as it is on the screen.

    Raises:
        BookError: `id.unknown`, nothing in the book is called so; the hint names the nearest.
    """
    wanted = " ".join(typed.split())
    everything = list(things_of(book))
    base = book.volumes[0].id
    now = book.formerly.get(wanted, wanted).removeprefix(f"{base}:")
    found = [thing for thing in everything if thing.id == now]
    found = found or [thing for thing in everything if thing.id.rpartition(":")[2] == now]
    found = found or [thing for thing in everything if thing.name.casefold() == wanted.casefold()]
    if not found:
        hint = nearest(wanted, {thing.id for thing in everything}) or nearest(wanted, {one.name for one in everything})
        message = f"nothing in the book is called '{wanted[:60]}'"
        raise BookError("id.unknown", message, None, hint or "`diagnose rules show` says how to list ids.")
    return tuple(found)


def ties_to(book: Book) -> dict[tuple[str, str], tuple[Tie, ...]]:
    """(kind, id) of a thing to every mention of it by another, by file and line."""
    found: dict[tuple[str, str], set[Tie]] = {}
    for tie in ties_of(book):
        found.setdefault((tie.kind, tie.id), set()).add(tie)
    return {key: tuple(sorted(ties, key=lambda tie: (tie.where, tie.how))) for key, ties in found.items()}


def ties_of(book: Book) -> Iterator[Tie]:
    """Every mention of anything by anything."""
    for cause in book.causes.values():
        yield from _of_cause(book, cause)
    for finding in book.findings.values():
        yield from _of_finding(book, finding)
    for fix in book.fixes.values():
        yield from _of_fix(book, fix)
    for limit in book.limits.values():
        yield from _of_limit(limit)
    for deduction in book.deductions.values():
        yield from _of_deduction(book, deduction)
    yield from _of_the_rest(book)


def _under(condition: Condition, by: Thing, where: Location, how: str = "only for some") -> Iterator[Tie]:
    for fact in condition:
        yield Tie("fact", fact, how, by, where)


def _named(kind: str, names: Iterable[str], how: str, by: Thing, where: Location) -> Iterator[Tie]:
    for name in names:
        yield Tie(kind, name, how, by, where)


def _put_in(texts: Iterable[str], by: Thing, where: Location) -> Iterator[Tie]:
    """The limits that are put into sentences."""
    for text in texts:
        for name in INLINE_LIMIT.findall(text):
            yield Tie("limit", name, "has it in a sentence", by, where)


def _of_cause(book: Book, cause: Cause) -> Iterator[Tie]:
    by = Thing("cause", cause.id, cause.name, cause.where)
    yield from _under(cause.applies, by, cause.where)
    for complaint, share in cause.shares.items():
        yield Tie("complaint", complaint, f"is behind it: {share.written}", by, share.where)
    for finding, row in cause.shows.items():
        yield Tie("finding", finding, f"shows it {_written(book, finding, row.written)}", by, row.where)
    for rung in cause.ladder:
        how = "is put right by it" if rung.own else "is put right by it too"
        yield Tie("fix", rung.fix, f"{how}: {rung.written}", by, rung.where)
    for hand_off in [*cause.hand_off_when, *([cause.hand_off] if cause.hand_off else [])]:
        yield Tie("hand-off", hand_off.receiver, "goes there", by, hand_off.where)
        yield from _under(hand_off.when, by, hand_off.where, "is handed off only then")
        yield from _put_in([hand_off.reason], by, hand_off.where)


def _written(book: Book, finding: str, written: dict[str, str]) -> str:
    values = book.findings[finding].values
    return ", ".join(f"{values[value]}: {often}" for value, often in written.items())


def _of_finding(book: Book, finding: Finding) -> Iterator[Tie]:
    by = Thing("finding", finding.id, finding.name, finding.where)
    yield from _under(finding.applies, by, finding.where)
    yield from _named("complaint", finding.asked_for, "is asked for", by, finding.where)
    yield from _named("finding", finding.mounted, "needs it on the bike", by, finding.where)
    for check in finding.checks:
        yield from _of_check(book, check)


def _of_check(book: Book, check: Check) -> Iterator[Tie]:
    by, where = Thing("check", check.id, check.ask, check.where), check.where
    yield Tie("finding", check.finding, "looks at it", by, where)
    yield from _under(check.applies, by, where)
    yield from _named("tool", check.tools, "needs it", by, where)
    yield from _named("teardown", [check.teardown] if check.teardown else [], "needs it open", by, where)
    yield from _named("check", check.needs, "needs it answered first", by, where)
    yield from _named("finding", check.only_if, "only done if it is so", by, where)
    yield from _named("finding", check.not_if, "not done if it is so", by, where)
    yield from _named("finding", check.mounted, "needs it on the bike", by, where)
    yield from _named("limit", check.limits, "shows it", by, where)
    yield from _named("caution", check.cautions, "warns so", by, where)
    questions = check.measure.questions if check.measure else ()
    yield from _put_in([check.ask, check.how, *questions], by, where)
    if check.measure and check.measure.working:
        yield from _of_working(book, check.measure.working, by)
    for band in check.measure.bands if check.measure else ():
        edges: list[Edge] = [edge for edge in (band.start, band.stop) if edge]
        yield from _named("limit", (edge.limit for edge in edges if edge.limit), "is banded by it", by, band.where)


def _of_fix(book: Book, fix: Fix) -> Iterator[Tie]:
    by, where = Thing("fix", fix.id, fix.name, fix.where), fix.where
    yield from _named("tool", fix.tools, "needs it", by, where)
    yield from _named("part", fix.parts, "takes it", by, where)
    yield from _named("teardown", [fix.teardown] if fix.teardown else [], "needs it open", by, where)
    yield from _named("caution", fix.cautions, "warns so", by, where)
    yield from _named("finding", fix.only_if, "only done if it is so", by, where)
    for case in (case for cases in fix.part_cases.values() for case in cases):
        yield from _under(case.when, by, where, "takes another number of a part for some")
    for name in fix.needs:
        yield Tie("check" if name in book.checks else "fix", name, "needs it first", by, where)
    yield from _named("fix", fix.after, "comes after it", by, where)
    yield from _named("fix", fix.includes, "does its work too", by, where)
    yield from _named("finding", fix.disturbs, "has it looked at again", by, where)
    for cause, times in fix.badly_done.items():
        yield Tie("cause", cause, f"badly done, makes it {times:g} times likelier", by, where)
    yield from _put_in([fix.works_if, fix.if_not], by, where)
    for step in fix.steps:
        yield from _under(step.applies, by, step.where)
        yield from _named("finding", step.only_if, "a step is only told if it is so", by, step.where)
        yield from _named("limit", step.limits, "has it at a step", by, step.where)
        yield from _named("caution", step.cautions, "warns so at a step", by, step.where)
        yield from _put_in([step.text], by, step.where)
        for working in step.workings:
            yield from _of_working(book, working, by)


def _of_working(book: Book, working: Working, by: Thing) -> Iterator[Tie]:
    """What a sum takes from the book; what a check says of itself is no tie."""
    for supply in working.supplies.values():
        kind = "limit" if supply.source in book.limits else "check"
        if supply.source and (kind, supply.source) != (by.kind, by.id):
            yield Tie(kind, supply.source, f"reckons with it ({working.sum})", by, supply.where)


def workings_of(book: Book) -> Iterator[Working]:
    """Every sum that the book names."""
    for check in book.checks.values():
        if check.measure and check.measure.working:
            yield check.measure.working
    for fix in book.fixes.values():
        for step in fix.steps:
            yield from step.workings


def _of_limit(limit: Limit) -> Iterator[Tie]:
    by = Thing("limit", limit.id, limit.quantity, limit.where)
    yield from _under(limit.applies, by, limit.where)
    for case in limit.cases:
        yield from _under(case.when, by, limit.where, "has other numbers for some")


SPOKEN_OF = {"complaint": "complaint", "fix-failed": "fix"}
"""Keys of a deduction's `when` that are no ids themselves: their values are ids of this kind."""


def _of_deduction(book: Book, deduction: Deduction) -> Iterator[Tie]:
    by, where = Thing("deduction", deduction.id, deduction.because, deduction.where), deduction.where
    kinds: dict[str, Collection[str]] = {
        "fact": book.facts,
        "finding": book.findings,
        "conclusion": book.words,
        "check": book.checks,
    }
    for when in deduction.when:
        if when.key in SPOKEN_OF:
            yield from _named(SPOKEN_OF[when.key], when.any_of, "stands on it", by, when.where)
        for kind, known in kinds.items():
            yield from _named(kind, [when.key] if when.key in known else [], "stands on it", by, when.where)
    yield from _named("conclusion", deduction.conclude, "concludes it", by, where)
    yield from _named("cause", deduction.rule_out, "rules it out", by, where)
    yield from _named("cause", deduction.rule_in, "rules it in", by, where)
    for cause, times in deduction.likelier.items():
        how = f"makes it {times:g} times likelier" if times >= 1 else f"makes it {1 / times:g} times less likely"
        yield Tie("cause", cause, how, by, where)
    yield from _named("caution", deduction.cautions, "warns so", by, where)
    if deduction.hand_off:
        yield Tie("hand-off", deduction.hand_off.receiver, "sends there", by, deduction.hand_off.where)
        yield from _put_in([deduction.hand_off.reason], by, deduction.hand_off.where)
    yield from _named("check", deduction.demand, "demands it", by, where)
    yield from _named("check", deduction.before_riding, "wants it before the bike is ridden", by, where)
    yield from _named("fact", deduction.ask, "asks for it", by, where)
    yield from _named("fact", deduction.ask_last, "asks for it last", by, where)
    for extra in deduction.also:
        yield Tie("fix", extra.fix, f"says: {extra.level}", by, where)


def _of_the_rest(book: Book) -> Iterator[Tie]:
    """Complaints with their repeat tests, teardowns and facts."""
    for complaint in book.complaints.values():
        by, test = Thing("complaint", complaint.id, complaint.name, complaint.where), complaint.repeat_test
        yield from _under(complaint.applies, by, complaint.where)
        yield from _named("limit", test.limits, "has it in its repeat test", by, test.where)
        yield from _named("caution", test.cautions, "warns so in its repeat test", by, test.where)
        yield from _put_in([test.text], by, test.where)
    for teardown in book.teardowns.values():
        by = Thing("teardown", teardown.id, teardown.name, teardown.where)
        if teardown.inside:
            yield Tie("teardown", teardown.inside, "lies behind it", by, teardown.where)
    for fact in book.facts.values():
        by = Thing("fact", fact.id, fact.name, fact.where)
        yield from _under(fact.applies, by, fact.where)
        yield from _under(fact.not_of, by, fact.where)
        for meant in fact.means.values():
            yield from _under(meant, by, fact.where)
        for value, teardown_id in fact.opens.items():
            yield Tie("teardown", teardown_id, f"says it is open: {fact.values[value]}", by, fact.where)
        for value, finding_id in fact.off.items():
            yield Tie("finding", finding_id, f"says it is off: {fact.values[value]}", by, fact.where)
