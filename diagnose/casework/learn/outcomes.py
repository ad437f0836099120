"""Ended jobs as they teach: for each complaint what was found, what was seen before, and what the program believed.

Cast: `Outcome` is one complaint of one job; `read_outcomes` reads a store. A job counts when what was wrong is known:
causes were found, or the repeat test passed and nothing of the book was found, which is *something else*. What was
handed on, declined or not reproduced with nothing found is not counted, but looked at in `lists`.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from itertools import takewhile
from typing import NamedTuple, Protocol

from diagnose.book.model import Book
from diagnose.casework.events import Event, standing
from diagnose.casework.fold import fold
from diagnose.casework.protocol import CaseSummary, Which
from diagnose.errors import DiagnoseError
from diagnose.reason.belief import believe, build_net
from diagnose.reason.conclude import conclude, trust_in
from diagnose.reason.explain import moves
from diagnose.reason.reasoner import Reasoner
from diagnose.reason.situation import Situation

TRUSTED = 0.9
"""An answer teaches a row when its check is to be trusted so far."""


class Moved(NamedTuple):
    """How an answer moved the shares: the largest change of one, and whether another came on top."""

    check: str
    most: float
    top: bool


class Outcome(NamedTuple):
    """One complaint of one ended job.

    Attributes:
        job: the job's number.
        at: when it was last worked on.
        complaint: id.
        known: whether it is known what was wrong.
        found: causes of this complaint that were found; none: *something else*, where `known`.
        elsewhere: causes found that the book does not list for this complaint.
        able: the causes that such a bike can have, each with the factor that the profile gives it.
        seen: finding to the value that a mechanic saw before the first fix.
        shares: what was believed then; None: *something else*.
        moved: what each answer did.
        ended: how the job ended.
    """

    job: str
    at: str
    complaint: str
    known: bool
    found: tuple[str, ...] = ()
    elsewhere: tuple[str, ...] = ()
    able: Mapping[str, float] = {}
    seen: Mapping[str, str] = {}
    shares: Mapping[str | None, float] = {}
    moved: tuple[Moved, ...] = ()
    ended: str = "cured"

    @property
    def top(self) -> str | None:
        """The cause on top before the first fix; None for *something else*."""
        return max(self.shares, key=lambda name: (self.shares[name], name or "")) if self.shares else None


class Read(NamedTuple):
    """Outcomes, and what could not be counted.

    Attributes:
        outcomes: those that count, and those of which nobody said what it was.
        jobs: how many jobs they are of.
        uncounted: ending to number of jobs of which nobody said what it was.
        unknown: jobs that today's book does not know.
        amended: jobs that were counted before and say something else since: the book keeps what they said then.
    """

    outcomes: tuple[Outcome, ...]
    jobs: int
    uncounted: Mapping[str, int]
    unknown: tuple[str, ...]
    amended: tuple[str, ...] = ()


class Kept(Protocol):
    """What is read of a store."""

    def cases(self, search: str = "", limit: int = 50, which: Which = "all") -> tuple[CaseSummary, ...]:
        """The cases, last worked on first."""

    def events(self, case_id: str) -> tuple[Event, ...]:
        """The events of one."""


def read_outcomes(reasoner: Reasoner, store: Kept, since: str = "", limit: int = 5_000) -> Read:
    """The ended jobs of a store, last worked on first, at most `limit`, none last worked on at or before `since`.

    What a job said by then was counted then: of a job that went on afterwards only those complaints count of which
    nobody had said what it was.
    """
    found: list[Outcome] = []
    uncounted: Counter[str] = Counter()
    unknown: list[str] = []
    amended: list[str] = []
    count = 0
    for job in (one for one in store.cases(limit=limit, which="ended") if one.last_at > since):
        try:
            events = store.events(job.id)
            outcomes = outcomes_of(reasoner, job.id, job.last_at, events)
            before = _counted_then(reasoner, job.id, events, since)
        except DiagnoseError:
            unknown.append(job.id)
            count += 1
            continue
        left = [one for one in outcomes if one.complaint not in before]
        found += left
        count += bool(left)
        if any(_what_it_was(one) != before.get(one.complaint, _what_it_was(one)) for one in outcomes):
            amended.append(job.id)
        if not before and not any(one.known for one in left):
            uncounted[job.ended or ""] += 1
    return Read(tuple(found), count, uncounted, tuple(unknown), tuple(amended))


def _what_it_was(one: Outcome) -> tuple[frozenset[str], frozenset[str]]:
    return frozenset(one.found), frozenset(one.elsewhere)


def _counted_then(
    reasoner: Reasoner, job: str, events: Sequence[Event], since: str
) -> dict[str, tuple[frozenset[str], frozenset[str]]]:
    """The complaints of this job that were counted when the store was counted up to `since`, and what it was."""
    then = list(takewhile(lambda one: one.at <= since, events))
    if not any(one.kind == "ended" for one in then):
        return {}
    if fold(reasoner.book, standing(then)).situation.ended is None:
        return {}
    return {one.complaint: _what_it_was(one) for one in outcomes_of(reasoner, job, since, then) if one.known}


def outcomes_of(reasoner: Reasoner, job: str, at: str, events: Sequence[Event]) -> list[Outcome]:
    """The outcomes of one ended job, one a complaint.

    Raises:
        DiagnoseError: the job names what today's book does not know.
    """
    book = reasoner.book
    counted = standing(events)
    end = fold(book, counted)
    before = fold(book, _before_work(counted)).situation
    conclusions = conclude(book, reasoner.chainer, before)
    net = build_net(book, before, conclusions)
    belief = believe(book, before, conclusions, net)
    causes = [one for name in end.found if (one := book.formerly.get(name, name)) in book.causes]
    told = moves(book, reasoner.chainer, before)
    outcomes = []
    for place, complaint in enumerate(before.complaints):
        listed = [name for name in causes if complaint in book.causes[name].shares]
        elsewhere = [] if listed or len(before.complaints) > 1 else causes
        known = bool(listed or elsewhere) or (not causes and end.situation.ended == "cured")
        shares = zip(net.causes[place], net.shares[place], strict=True)
        outcomes.append(
            Outcome(
                job=job,
                at=at,
                complaint=complaint,
                known=known,
                ended=end.situation.ended or "",
                found=tuple(listed),
                elsewhere=tuple(elsewhere),
                able={name: share / book.causes[name].shares[complaint].of_100 for name, share in shares if name},
                seen=_seen(book, before),
                shares=dict(zip(net.causes[place], belief.marginal(complaint), strict=True)),
                moved=tuple(
                    Moved(one.check, _most(one.before, one.after), _top(one.before) != _top(one.after))
                    for one in told
                    if one.complaint == complaint
                ),
            )
        )
    return outcomes


def _before_work(events: Sequence[Event]) -> Iterable[Event]:
    """What was told of the last visit before the first fix was done, and of the visits before it."""
    last = max((place for place, one in enumerate(events) if one.data.get("comeback")), default=-1)
    yield from events[: last + 1]
    for event in events[last + 1 :]:
        if event.kind in ("fix", "ended"):
            return
        yield event


def _seen(book: Book, situation: Situation) -> dict[str, str]:
    return {
        one.finding: one.value
        for one in situation.fresh
        if one.value and one.by == "mechanic" and trust_in(book, book.checks[one.check], one.by) >= TRUSTED
    }


def _most(before: Mapping[str | None, float], after: Mapping[str | None, float]) -> float:
    return max((abs(after[name] - before.get(name, 0.0)) for name in after), default=0.0)


def _top(shares: Mapping[str | None, float]) -> str | None:
    return max(shares, key=lambda name: (shares[name], name or ""))
