"""Why: this question, this cause, not that one, and what would change the plan.

Cast: `moves` (how each answer moved the shares), `separates` (what each report of a check would put on top),
`against` (what one would have to see for another cause), `would_change` (reports that would put another fix first).
The reason comes first, the rule trace second (Ye and Johnson 1995).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from operator import gt

from diagnose.book.model import Book
from diagnose.reason.belief import believe, build_net
from diagnose.reason.conclude import conclude
from diagnose.reason.deduce import Chainer
from diagnose.reason.outlook import Outlook
from diagnose.reason.situation import Situation


@dataclass(frozen=True, slots=True)
class Move:
    """One answer and the shares of a complaint's causes before and after it (None: *something else*)."""

    check: str
    finding: str
    value: str | None
    complaint: str
    before: dict[str | None, float]
    after: dict[str | None, float]


@dataclass(frozen=True, slots=True)
class Report:
    """One report that a check may give: how likely it is now, and what would then be on top of each complaint."""

    value: str
    chance: float
    top: dict[str, tuple[str | None, float]]


def moves(book: Book, chainer: Chainer, situation: Situation) -> list[Move]:
    """How each answer that tells of the causes moved the shares, in the order they came."""
    fresh = situation.as_told.fresh
    found: list[Move] = []
    before = _shares(book, chainer, replace(situation, answers=()))
    for count in range(1, len(fresh) + 1):
        after = _shares(book, chainer, replace(situation, answers=fresh[:count]))
        answer = fresh[count - 1]
        found.extend(
            Move(answer.check, answer.finding, answer.value, complaint, before[complaint], after[complaint])
            for complaint in situation.complaints
        )
        before = after
    return found


def _shares(book: Book, chainer: Chainer, situation: Situation) -> dict[str, dict[str | None, float]]:
    conclusions = conclude(book, chainer, situation)
    belief = believe(book, situation, conclusions, build_net(book, situation, conclusions))
    net = belief.net
    return {
        complaint: dict(zip(net.causes[place], belief.marginal(complaint), strict=True))
        for place, complaint in enumerate(net.complaints)
    }


def separates(outlook: Outlook, check: str) -> list[Report]:
    """What each report of a check would put on top."""
    net = outlook.belief.net
    reports = []
    for branch in outlook.branches(outlook.book.checks[check], outlook.here):
        chance = sum(branch.weights)
        top: dict[str, tuple[str | None, float]] = {}
        for complaint in outlook.situation.standing:
            shares = outlook.marginal(complaint, branch.weights)
            best = shares.index(max(shares))
            cause = net.causes[net.complaints.index(complaint)][best]
            top[complaint] = (cause, shares[best] / chance if chance > 0 else 0.0)
        reports.append(Report(branch.value, chance, top))
    return reports


def against(outlook: Outlook, cause: str) -> list[tuple[str, str, float, float]]:
    """Reports that speak most for a cause, best first: (check, value, share if seen, chance of seeing it).

    One that is seen less with it than without does not speak for it, even where it speaks against the others more.
    """
    net = outlook.belief.net
    found = []
    for check in outlook.open_checks():
        row = net.rows.get(check.finding, {}).get(cause)
        if row is None:
            continue
        speaks = dict(zip(net.values[check.finding], map(gt, row, net.otherwise[check.finding]), strict=True))
        for branch in outlook.branches(check, outlook.here):
            mass = sum(branch.weights)
            if mass < 1e-4 or not speaks[branch.value]:
                continue
            shares = [
                outlook.marginal(complaint, branch.weights)[place] / mass
                for complaint in outlook.situation.standing
                for place, name in enumerate(net.causes[net.complaints.index(complaint)])
                if name == cause
            ]
            found.append((check.id, branch.value, max(shares, default=0.0), mass))
    return sorted(found, key=lambda one: (-one[2], one[0]))


def would_change(outlook: Outlook, first_fix: str | None) -> list[tuple[str, str, str]]:
    """Reports of open checks that would put another fix first: (check, value, that fix)."""
    found = []
    here = outlook.here
    for check in outlook.open_checks():
        for branch in outlook.branches(check, here):
            if sum(branch.weights) < 0.02 * here.mass:
                continue
            fixes = outlook.first_fixes(outlook.after_report(check, branch, here, here.open))
            if fixes and fixes[-1] != first_fix:
                found.append((check.id, branch.value, fixes[-1]))
    return found
