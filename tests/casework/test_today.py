"""A stored job gone through with today's book: one that the same book told differs nowhere."""

from __future__ import annotations

from collections.abc import Iterable

import pytest

from diagnose.casework import events
from diagnose.casework.events import Draft, Event
from diagnose.casework.today import through
from diagnose.reason.reasoner import Reasoner
from tests.casework.counter_walk import walk
from tests.shipped import shipped_book


@pytest.fixture(scope="module")
def reasoner() -> Reasoner:
    """The shipped book, looked ahead one step."""
    return Reasoner(shipped_book(), depth=1)


def stored(reasoner: Reasoner, drafts: Iterable[Draft]) -> list[Event]:
    """Drafts as a store gives them back."""
    book = reasoner.book.fingerprint
    at = "2026-01-01T00:00:00.000Z"
    return [Event(kind, data, seq, at, book, f"job.{seq}") for seq, (kind, data) in enumerate(drafts, 1)]


@pytest.mark.parametrize("complaint", ["brake-drags", "front-knock", "part-slips", "slow-leak", "hub-gear-misses"])
def test_what_the_counter_asked_is_held_against_the_counter(reasoner: Reasoner, complaint: str) -> None:
    """It chooses for itself what a rider is asked, and not what a mechanic would look at next."""
    _, prompts = walk(reasoner, complaint, 0)
    told = [
        events.profile(one.id, []) if one.kind == "fact" else events.cannot_tell(one.id, "rider") for one in prompts
    ]
    drafts = [events.opened("rider", "mechanic"), events.complaint(complaint), *told]
    gone = through(reasoner, stored(reasoner, drafts))
    assert gone.steps == sum(one.kind == "check" for one in prompts) > 0
    assert not gone.differs
    only_last = [*drafts[:2], *(one for one in told if one.kind == "answer")]
    assert through(reasoner, stored(reasoner, only_last)).differs
