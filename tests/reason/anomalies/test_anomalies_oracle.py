"""The anomalies that reasoning shows, against trying every answer and every mixture, on small books drawn at random."""

from __future__ import annotations

from itertools import pairwise, product
from random import Random

import pytest

from diagnose.book.model import Book, Cause
from diagnose.reason.anomalies.apart import best_apart, row_of
from diagnose.reason.anomalies.top import Fields, best_case, best_profile
from diagnose.reason.belief import believe
from diagnose.reason.conclude import conclude, trust_in
from diagnose.reason.reasoner import Reasoner
from diagnose.reason.situation import Answer, Situation
from tests.reason.generated_book import draw_book
from tests.reason.small_book import read_small

BOOKS = 25


@pytest.fixture(params=range(BOOKS), scope="module", ids=lambda seed: f"seed {seed}")
def book(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Book:
    """A drawn book."""
    draw = Random(f"top {request.param}")  # noqa: S311 (nothing is kept secret here)
    return read_small(draw_book(tmp_path_factory.mktemp("book") / "rules", draw))


def every_ending(book: Book, cause: Cause, complaint: str) -> list[dict[str, float]]:
    """The shares of a complaint after every set of answers, at most one a finding, by its most trusted check.

    No deduction runs on the answers but what rows hold of them.
    """
    reasoner = Reasoner(book)
    bare = Situation((complaint,), best_profile(book, cause, complaint))
    conclusions = conclude(book, reasoner.chainer, bare)
    findings = [one for one in book.findings.values() if _asked(book, one.id, complaint, bare)]
    endings = []
    for values in product(*((None, *one.values) for one in findings)):
        answers = [
            Answer(max(one.checks, key=lambda check: trust_in(book, check, "mechanic")).id, one.id, value, "mechanic")
            for one, value in zip(findings, values, strict=True)
            if value is not None
        ]
        belief = believe(book, Situation((complaint,), bare.profile, answers=tuple(answers)), conclusions)
        names = [name or "" for name in belief.net.causes[0]]
        endings.append(dict(zip(names, belief.marginal(complaint), strict=True)))
    return endings


def _asked(book: Book, finding: str, complaint: str, bare: Situation) -> bool:
    shown = any(finding in cause.shows for cause in book.causes_of[complaint])
    ruling = any(answer.key == finding for _, answer in book.one_answer)
    return (shown or ruling) and not book.findings[finding].applies and bool(bare.complaints)


def test_a_cause_is_never_on_top_only_where_no_set_of_answers_puts_it_there(book: Book) -> None:
    """And where one is said to come out on top, some set of answers does that."""
    fields = Fields(Reasoner(book))
    for cause in book.causes.values():
        for complaint in cause.shares:
            shares = best_case(fields, cause, complaint)
            said = max(shares, key=lambda name: shares[name]) == cause.id
            tops = [max(one, key=lambda name: one[name]) for one in every_ending(book, cause, complaint)]
            assert (cause.id in tops) == said, (cause.id, complaint)


def test_the_distance_of_two_causes_is_how_well_the_best_answer_guesses(book: Book) -> None:
    """Guess the likelier of two equally likely causes after each report; (1 + d) / 2 of the guesses are right."""
    causes = list(book.causes.values())
    for one, other in pairwise(causes):
        if one.applies or other.applies:
            continue
        right = [0.5]
        for finding in book.findings.values():
            for check in finding.checks:
                trust = trust_in(book, check, "mechanic")
                rows = [row_of(book, cause, finding.id) for cause in (one, other)]
                usual = finding.otherwise.chances
                reports = [
                    [sum(p * (trust * (v == r) + (1 - trust) * usual[r]) for v, p in enumerate(row)) for row in rows]
                    for r in range(len(usual))
                ]
                right.append(sum(max(pair) for pair in reports) / 2)
        _, distance = best_apart(book, one, other, frozenset(book.findings))
        assert (1 + distance) / 2 == pytest.approx(max(right), abs=1e-9)
