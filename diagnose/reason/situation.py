"""What is known of one bike on one visit, as reasoning sees it: the folded case.

Cast: `Situation` with its `Answer`s (and the `Raw` readings behind a sum), `Repair`s (fixes done at the stand) and
`Already`s (done before the bike came).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, NamedTuple

from diagnose.book.conditions import may_hold

if TYPE_CHECKING:
    from diagnose.bench.sums.givens import Value
    from diagnose.book.model import Check, Step

CURED = "cured"
"""How a job ended in which the repeat test passed."""
CANNOT_TELL = "can't tell"


class Raw(NamedTuple):
    """A reading that a sum was made of: its key there, its value in `unit` (None: left out), and as typed."""

    key: str
    value: Value | None
    unit: str
    typed: str


@dataclass(frozen=True, slots=True)
class Answer:
    """One answer to a check: a `value` of its finding (None: can't tell), by whom, and the reading if measured.

    `typed`: a reading as it was typed; with neither value nor reading one that the book has no place for (`outside`).
    `sum` and `raw`: the sum of the bench that the reading came out of, and what was read for it.
    `stale`: a fix has disturbed the finding since; the answer no longer says what is so now, and may be asked anew.
    `before`: that fix did not help, so the answer still says what was so before it, and tells of the cause.
    """

    check: str
    finding: str
    value: str | None
    by: str
    reading: float | None = None
    unit: str | None = None
    typed: str = ""
    sum: str = ""
    raw: tuple[Raw, ...] = ()
    stale: bool = False
    before: bool = False
    disturbed_by: int = -1
    """Place of the repair that disturbed it, -1 while none has."""
    told_after: int = 0
    """Repairs done here when it was told."""
    mended: frozenset[str] = frozenset()
    """Fixes done after it was told, at visits before this one."""
    heard: bool = False
    """Whether nobody was asked: the rider's words told it."""

    @property
    def outside(self) -> bool:
        """Whether it was read, and reads outside the range of the book: it counts as can't tell."""
        return bool(self.typed) and self.value is None and self.reading is None


@dataclass(frozen=True, slots=True)
class Repair:
    """Fixes tried together at the stand, and for each complaint whether the repeat test still shows it."""

    fixes: tuple[str, ...]
    results: Mapping[str, bool]
    """Complaint to True (gone) or False (still there)."""
    better: frozenset[str] = frozenset()
    """Complaints that are still there, but less: one fault is mended, another is left."""


@dataclass(frozen=True, slots=True)
class Already:
    """A fix somebody did before the bike came; `result` is better, same or worse.

    `who` is rider or workshop, `when` is days, weeks or longer (ago); empty where nobody knows.
    """

    fix: str
    result: str
    who: str = ""
    when: str = ""


@dataclass(frozen=True, slots=True)
class Situation:
    """All that is known. Facts that were asked and could not be told stand in `asked` but not in `profile`."""

    complaints: tuple[str, ...]
    profile: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    asked: frozenset[str] = frozenset()
    answers: tuple[Answer, ...] = ()
    repairs: tuple[Repair, ...] = ()
    already: tuple[Already, ...] = ()
    not_possible: frozenset[str] = frozenset()
    role: str = "mechanic"
    skill: str = "mechanic"
    without: frozenset[str] = frozenset()
    open_teardowns: frozenset[str] = frozenset()
    ended: str | None = None
    heard: frozenset[str] = frozenset()
    """Facts of which nobody was asked: words that were typed told them."""
    comebacks: int = 0
    """How often it came back with the same complaint, since somebody more experienced took it on."""
    begun: Mapping[str, tuple[Raw, ...]] = field(default_factory=dict)
    """Check to the readings of a measurement that is not finished."""
    from_counter: bool = False
    """Whether the bike came from the counter: what the rider said may be looked at again by a mechanic."""

    def bars(self, check: Check) -> bool:
        """Whether role, skill or missing tools keep a check from being done here."""
        if self.role == "rider" and check.by != "rider":
            return True
        if check.skill == "mechanic" and self.skill == "rider":
            return True
        return any(tool in self.without for tool in check.tools)

    def told(self, check: Check, lasting: bool) -> bool:
        """Whether a check was answered and the answer counts; `lasting`: of its finding.

        Of a bike from the counter a rider's word on what can be seen today leaves it open.
        """
        return any(
            one.check == check.id
            and not one.stale
            and (lasting or one.by != "rider" or self.role == "rider" or not self.from_counter)
            for one in self.answers
        )

    def may_show(self, findings: Mapping[str, tuple[str, ...]]) -> bool:
        """Whether none of these findings was told otherwise, the last time; what a fix has disturbed still counts."""
        last = {one.finding: one.value for one in self.answers if one.value is not None}
        return all(name not in last or last[name] in values for name, values in findings.items())

    def takes(self, step: Step) -> bool:
        """Whether a step of a fix is for this bike, as far as it is known."""
        return may_hold(step.applies, self.profile) and self.may_show(step.only_if)

    @property
    def gone(self) -> frozenset[str]:
        """Complaints whose last repeat test passed; all of them where that ended the job."""
        if self.ended == CURED:
            return frozenset(self.complaints)
        last = {name: gone for repair in self.repairs for name, gone in repair.results.items()}
        return frozenset(name for name, gone in last.items() if gone)

    @property
    def standing(self) -> tuple[str, ...]:
        """Complaints that are still there, in the order given."""
        gone = self.gone
        return tuple(name for name in self.complaints if name not in gone)

    def in_vain(self, complaint: str) -> tuple[str, ...]:
        """The fixes after which a complaint was still there, at once or when it was next tested."""
        still = [place for place, one in enumerate(self.repairs) if one.results.get(complaint) is False]
        return tuple(fix for repair in self.repairs[: still[-1] + 1 if still else 0] for fix in repair.fixes)

    @property
    def fresh(self) -> tuple[Answer, ...]:
        """Answers that count: told, and not disturbed since."""
        return tuple(answer for answer in self.answers if answer.value is not None and not answer.stale)

    @property
    def as_told(self) -> Situation:
        """The same with the answers alone that tell of the causes, as if nothing had disturbed them.

        Those are the answers that count, and of a finding without any the last that were told before a fix that did
        not help: the fault is the one that was there, so what it showed then still speaks for one cause and against
        another. A newer look at the finding takes their place.
        """
        told = {one.finding for one in self.fresh}
        last: dict[str, int] = {}
        for one in self.answers:
            if _tells_of_before(one) and one.finding not in told:
                last[one.finding] = max(one.disturbed_by, last.get(one.finding, -1))
        if not last:
            return self
        answers = tuple(
            replace(one, stale=False) if one.stale else one
            for one in self.answers
            if not one.stale or (_tells_of_before(one) and last.get(one.finding) == one.disturbed_by)
        )
        return replace(self, answers=answers)

    @property
    def done(self) -> frozenset[str]:
        """Fixes done at the stand."""
        return frozenset(fix for repair in self.repairs for fix in repair.fixes)


def _tells_of_before(answer: Answer) -> bool:
    return answer.stale and answer.before and answer.value is not None
