"""Two books side by side: what differs, which complaints that concerns, and what becomes of cases and courses."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from diagnose.book.load import read_book
from diagnose.book.model import Book
from diagnose.casework.compare import Change, Pair, compare_case, compare_complaint, concerned, differences
from diagnose.errors import Location
from diagnose.reason.course import course
from diagnose.reason.reasoner import Reasoner
from tests.book.broken_books import lay_small
from tests.shipped import shipped_book

CASE = """case: "It knocks, and the gap is right"
profile: {headset: threadless}
complaints: [front-knock]
answers: {finger-across-gap: clear, measure-gap: 3.5 mm, turn-bars: smooth}
expect: {top: preload-lost, ride: care, next: set-preload}
"""


@pytest.fixture
def small(tmp_path: Path) -> Book:
    """The small book."""
    book, _ = read_book(lay_small(tmp_path))
    assert book
    return book


def with_share(book: Book, cause: str, complaint: str, of_100: float) -> Book:
    """The book with another share of a cause."""
    one = book.causes[cause]
    share = one.shares[complaint]._replace(of_100=of_100)
    changed = one._replace(shares={**one.shares, complaint: share})
    return replace(book, causes={**book.causes, cause: changed})


def without_cause(book: Book, cause: str) -> Book:
    """The book without a cause and its fixes."""
    causes = {name: one for name, one in book.causes.items() if name != cause}
    return replace(book, causes=causes, fixes={name: fix for name, fix in book.fixes.items() if fix.home != cause})


def test_where_a_thing_stands_makes_no_difference(small: Book) -> None:
    """Only what is said."""
    one = small.causes["gap-wrong"]._replace(where=Location("elsewhere.yaml", 9, 9))
    assert differences(small, replace(small, causes={**small.causes, "gap-wrong": one})) == ()


def test_added_changed_and_removed_things_are_told(small: Book) -> None:
    """Of every kind, and the constants."""
    after = without_cause(with_share(small, "preload-lost", "front-knock", 40), "bearings-worn")
    after = replace(after, constants=small.constants._replace(asking=0.9), tools={**small.tools, "new": "new tool"})
    assert differences(small, after) == (
        Change("constant", "asking_minutes", "changed"),
        Change("cause", "bearings-worn", "removed"),
        Change("cause", "preload-lost", "changed"),
        Change("fix", "replace-bearings", "removed"),
        Change("tool", "new", "added"),
    )


def one_change_of_each_kind(book: Book) -> dict[str, Book]:
    """The shipped book changed in one place, by kind of thing."""
    changed: dict[str, Book] = {"share": with_share(book, "preload-lost", "front-knock", 12.0)}
    must = {one.fix for rule in book.deductions.values() for one in rule.also}
    cause = next(one for one in book.causes.values() if must.isdisjoint(rung.fix for rung in one.ladder))
    changed["cause gone"] = without_cause(book, cause.id)
    looked_at = {when.key for rule in book.deductions.values() for when in rule.when}
    shown = [name for cause in book.causes.values() for name in cause.shows]
    finding = next(book.findings[name] for name in shown if name not in looked_at)
    checks = tuple(check._replace(minutes=check.minutes + 9) for check in finding.checks)
    changed["finding"] = replace(book, findings={**book.findings, finding.id: finding._replace(checks=checks)})
    fix = book.fixes["set-preload"]
    changed["fix"] = replace(book, fixes={**book.fixes, fix.id: fix._replace(low=60.0, high=90.0)})
    rule = next(one for one in book.deductions.values() if one.likelier and not one.danger)
    changed["rule"] = replace(book, deductions={**book.deductions, rule.id: rule._replace(likelier={})})
    return changed


@pytest.mark.parametrize("kind", ["share", "cause gone", "finding", "fix", "rule"])
def test_complaints_that_are_not_concerned_go_as_before(kind: str) -> None:
    """Against following some of them with either book; what is concerned is never all, and never nothing."""
    before = shipped_book()
    after = one_change_of_each_kind(before)[kind]
    touched = concerned(before, after, differences(before, after))
    assert touched
    rest = sorted(set(before.complaints) - touched)
    assert rest
    one, other = Reasoner(before), Reasoner(after)
    for complaint in rest[::6]:
        assert course(one, complaint, 3) == course(other, complaint, 3), complaint


def test_a_share_moves_its_own_complaint() -> None:
    """So that the test above could fail."""
    before = shipped_book()
    pair = Pair(before, one_change_of_each_kind(before)["share"])
    change = compare_complaint(pair, "front-knock")
    assert change.before != change.after


def test_a_course_weighs_what_it_follows(small: Book) -> None:
    """The first question is asked of every bike; the turns followed to their end are at most all."""
    found = course(Reasoner(small), "front-knock", 200)
    places = {name: (round(one.chance, 6), round(one.place, 6)) for name, one in found.questions.items()}
    assert (1.0, 1.0) in places.values()
    assert all(0 < chance <= 1.000001 and place >= 1 for chance, place in places.values())
    assert 0.8 < found.followed <= 1.000001
    assert found.minutes > 0


CHANGES: dict[str, tuple[Callable[[Book], Book], str]] = {
    "nothing": (lambda book: book, "same"),
    "a share a little": (lambda book: with_share(book, "preload-lost", "front-knock", 49), "same"),
    "a share enough": (lambda book: with_share(book, "preload-lost", "front-knock", 20), "moved"),
    "a share too far": (lambda book: with_share(book, "preload-lost", "front-knock", 0.2), "broken"),
    "a cause away": (lambda book: without_cause(book, "preload-lost"), "broken"),
}


@pytest.mark.parametrize("name", CHANGES)
def test_what_becomes_of_a_case(name: str, small: Book, tmp_path: Path) -> None:
    """And the other way round, where the change is taken back."""
    path = tmp_path / "case.yaml"
    path.write_text(CASE, encoding="utf-8")
    change, how = CHANGES[name]
    after = change(small)
    there, back = compare_case(Pair(small, after), path), compare_case(Pair(after, small), path)
    assert there.how == how
    assert (there.before, there.after) == (back.after, back.before)
    backwards = {"broken": "new" if name == "a cause away" else "mended"}.get(how, how)
    assert back.how == backwards


def test_a_case_that_neither_can_run_is_unread(small: Book, tmp_path: Path) -> None:
    """With what is wrong, by place."""
    path = tmp_path / "case.yaml"
    path.write_text(CASE.replace("threadless", "nonsense"), encoding="utf-8")
    found = compare_case(Pair(small, small), path)
    assert found.how == "unread"
    assert found.after.problems[0].where.line == 2
