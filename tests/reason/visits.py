"""Visits drawn at random from a book: profile, answers by both roles, fixes tried here and done before.

Cast: `draw_visit` (a `Visit` for the oracle) and `situation_of` (the same visit as the program sees it, with answers
that do not count thrown in); `lot` gives the chance that they draw from.
"""

from __future__ import annotations

from dataclasses import replace
from random import Random

from diagnose.book.conditions import band_of
from diagnose.book.model import Book
from diagnose.reason.situation import Already, Answer, Repair, Situation
from tests.reason.plain_book import PlainBook, Profile, may_be
from tests.reason.plain_deductions import Told, Tried, Visit, spoiled

MOST_ANSWERS = 6


def lot(seed: str | int) -> Random:
    """Chance that repeats: the same seed draws the same."""
    return Random(seed)  # noqa: S311  # drawn by lot, not secret


def draw_visit(book: PlainBook, complaints: tuple[str, ...], role: str, draw: Random) -> Visit:
    """A bike of this book. Half of the facts are known; most answers are what a hidden cause shows, some are not."""
    profile = _draw_profile(book, draw)
    live = [cause for complaint in complaints for cause in book.can_have(complaint, profile)]
    answers = _draw_answers(book, profile, live, role, draw)
    fixes = sorted({fix for cause in live for fix in book.fixes if book.rung(cause, fix) > 0})
    tried = tuple(
        _tried(tuple(draw.sample(fixes, min(len(fixes), draw.choice((1, 1, 2))))), complaints, draw)
        for _ in range(draw.choice((0, 0, 1, 2)) if fixes else 0)
    )
    answers = _disturbed(book, profile, answers, tried, draw)
    already = tuple(draw.sample(fixes, draw.choice((0, 0, 1)))) if fixes else ()
    return Visit(complaints, profile, answers, tried, already)


def _disturbed(
    book: PlainBook, profile: Profile, answers: tuple[Told, ...], tried: tuple[Tried, ...], draw: Random
) -> tuple[Told, ...]:
    """Some findings were disturbed by work; some of these were looked at anew."""
    found: list[Told] = []
    work = {book.home[told.check]: draw.choice((None, *range(len(tried)))) for told in answers}
    for told in answers:
        ended = work[book.home[told.check]]
        found.append(replace(told, work=ended))
        if ended is not None and draw.random() < 0.4:
            again = draw.choice([None, *range(ended + 1, len(tried))])
            look = _draw_answer(book, told.check, told.by, profile, None, draw)
            found.append(replace(look, work=again))
    return tuple(found)


def _tried(fixes: tuple[str, ...], complaints: tuple[str, ...], draw: Random) -> Tried:
    """Fixes with their tests; what is there yet may be less."""
    gone = _results(complaints, draw)
    return Tried(fixes, gone, frozenset(name for name in gone if not gone[name] and draw.random() < 0.25))


def _results(complaints: tuple[str, ...], draw: Random) -> dict[str, bool]:
    """Mostly all of them still there; of several complaints one may be gone, and one may not have been tested."""
    results = dict.fromkeys(complaints, False)
    if len(complaints) > 1 and draw.random() < 0.3:
        results[draw.choice(complaints)] = True
    if len(complaints) > 1 and draw.random() < 0.2:
        del results[draw.choice(complaints)]
    return results


def _draw_profile(book: PlainBook, draw: Random) -> Profile:
    profile: dict[str, tuple[str, ...]] = {}
    for name, fact in book.facts.items():
        values = list(fact["values"])
        if draw.random() < 0.5:
            many = fact.get("several") == "yes" and draw.random() < 0.5
            profile[name] = tuple(draw.sample(values, min(len(values), 2 if many else 1)))
    return profile


def _draw_answers(book: PlainBook, profile: Profile, live: list[str], role: str, draw: Random) -> tuple[Told, ...]:
    spoken = {finding for cause in live for finding in book.causes[cause]["shows"]}
    checks = [check for check in book.checks if _can_ask(book, check, profile, role)]
    telling = [check for check in checks if book.home[check] in spoken]
    count = draw.randint(0, MOST_ANSWERS)
    chosen = draw.sample(telling, min(count, len(telling)))
    chosen += draw.sample(checks, min(1, len(checks)))
    chosen += [other for check in chosen[:2] for other in checks if book.home[other] == book.home[check]]
    hidden = draw.choice(live) if live else None
    found: dict[tuple[str, str], Told] = {}
    for check in chosen:
        by = role if book.checks[check]["by"] == "rider" or role == "mechanic" else "mechanic"
        if role == "mechanic" and book.checks[check]["by"] == "rider" and draw.random() < 0.3:
            by = "rider"
        found[check, by] = _draw_answer(book, check, by, profile, hidden, draw)
    return tuple(found.values())


def _can_ask(book: PlainBook, check: str, profile: Profile, role: str) -> bool:
    said = book.checks[check]
    finding = book.findings[book.home[check]]
    applies = may_be(said.get("applies", {}), profile) and may_be(finding.get("applies", {}), profile)
    return applies and (role == "mechanic" or said["by"] == "rider")


def _draw_answer(book: PlainBook, check: str, by: str, profile: Profile, hidden: str | None, draw: Random) -> Told:
    if "measure" in book.checks[check]:
        reading = _draw_reading(book.edges(check, profile), draw)
        (value,) = book.bands(check, reading, profile)
        return Told(check, value, by, reading)
    finding = book.home[check]
    row = (book.row(hidden, finding) if hidden else None) or book.otherwise(finding)
    if draw.random() < 0.7:
        return Told(check, draw.choices(list(row), weights=list(row.values()))[0], by)
    return Told(check, draw.choice(list(row)), by)


def _draw_reading(edges: list[float], draw: Random) -> float:
    """An edge itself, or a reading between two of them."""
    if draw.random() < 0.3 or len(edges) == 1:
        return draw.choice(edges)
    place = draw.randrange(len(edges) - 1)
    return round(draw.uniform(edges[place], edges[place + 1]), 3)


def situation_of(book: Book, visit: Visit, draw: Random) -> Situation:
    """The visit as the program sees it, with "can't tell" and an answer that a fix has disturbed thrown in."""
    answers = [
        Answer(
            told.check,
            book.checks[told.check].finding,
            _value(book, visit, told),
            told.by,
            told.reading,
            stale=told.work is not None,
            before=told.work is not None and not spoiled(visit, told),
            disturbed_by=-1 if told.work is None else told.work,
        )
        for told in visit.answers
    ]
    idle = [check for check in book.checks.values() if check.id not in {told.check for told in visit.answers}]
    answers += [Answer(check.id, check.finding, None, "mechanic") for check in draw.sample(idle, min(2, len(idle)))]
    for check in draw.sample(idle, min(1, len(idle))):
        value = draw.choice(list(book.findings[check.finding].values))
        answers.append(Answer(check.id, check.finding, value, "mechanic", stale=True))
    return Situation(
        complaints=visit.complaints,
        profile=visit.profile,
        answers=tuple(answers),
        repairs=tuple(Repair(one.fixes, one.gone, one.better) for one in visit.tried),
        already=tuple(Already(fix, "same") for fix in visit.already),
    )


def _value(book: Book, visit: Visit, told: Told) -> str | None:
    if told.reading is None:
        return told.value
    return band_of(book.checks[told.check], told.reading, book, visit.profile)
