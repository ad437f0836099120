"""A book many times as large: whatever a copied rule names is there, and a copy is worked through like the first."""

from __future__ import annotations

import pytest

from diagnose.book.model import Book
from diagnose.casework.grown import grown
from diagnose.reason.chainer import PlainChainer
from diagnose.reason.conclude import rules_of
from diagnose.reason.reasoner import Reasoner
from diagnose.reason.situation import Situation
from tests.shipped import shipped_book


@pytest.fixture(scope="module")
def twice() -> Book:
    """The shipped book twice."""
    return grown(shipped_book(), 2)


def test_what_a_copied_rule_names_is_there(twice: Book) -> None:
    """Parts, tools and teardowns of fixes, findings of causes, fixes of ladders, limits of steps."""
    for fix in twice.fixes.values():
        assert set(fix.parts) <= set(twice.parts)
        assert set(fix.tools) <= set(twice.tools)
        assert {limit for step in fix.steps for limit in step.limits} <= set(twice.limits)
    for cause in twice.causes.values():
        assert set(cause.shows) <= set(twice.findings)
        assert {rung.fix for rung in cause.ladder} <= set(twice.fixes)
        assert set(cause.shares) <= set(twice.complaints)
    assert {check.finding for check in twice.checks.values()} <= set(twice.findings)
    assert set(shipped_book().checks) < set(twice.checks)


def test_a_copied_complaint_is_worked_through_like_the_first(twice: Book) -> None:
    """Every complaint and its copy: the same next step, but for its number."""
    reasoner = Reasoner(twice, PlainChainer(rules_of(twice)), depth=1)
    copies = [name for name in twice.complaints if name.endswith("-1") and name[:-2] in twice.complaints]
    assert len(copies) == len(shipped_book().complaints)
    for copy in copies:
        first, second = (reasoner.diagnose(Situation((name,))).next for name in (copy[:-2], copy))
        assert (second.kind, second.id.removesuffix("-1")) == (first.kind, first.id)
