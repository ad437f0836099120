"""Why, as the View shows it: how the answers moved the shares, why this comes next, what would change the plan.

Cast: `moved` and `why`.
"""

from __future__ import annotations

from diagnose.casework.view import known
from diagnose.casework.view.page import Page, View
from diagnose.reason.explain import against, moves, separates, would_change
from diagnose.reason.option import Next


def moved(page: Page) -> list[View]:
    """How each answer moved the shares."""
    found = []
    for move in moves(page.book, page.chainer, page.situation):
        changes = sorted(move.after, key=lambda cause: -abs(move.after[cause] - move.before.get(cause, 0.0)))
        found.append(
            {
                "check": move.check,
                "finding": page.book.findings[move.finding].name,
                "value": page.book.findings[move.finding].values[move.value] if move.value else None,
                "complaint": move.complaint,
                "shares": [
                    {
                        "id": cause,
                        "name": page.book.causes[cause].name if cause else None,
                        "before": move.before.get(cause, 0.0),
                        "after": move.after[cause],
                    }
                    for cause in changes[:4]
                ],
            }
        )
    return found


def why(page: Page) -> View:
    """Why this comes next, and what would change the plan."""
    outlook, step = page.diagnosis.outlook, page.diagnosis.next
    if outlook is None:
        return {"separates": [], "demanded": None, "would_change": [], "against": []}
    first = page.diagnosis.plan[0].fix if page.diagnosis.plan else None
    return {
        "separates": _separates(page, step.id) if step.kind == "check" else [],
        "demanded": _demanded(page, step),
        "would_change": [
            {
                "check": check,
                "text": page.fill(page.book.checks[check].ask),
                "value": _value(page, check, value),
                "fix": fix,
            }
            for check, value, fix in would_change(outlook, first)[:5]
        ],
        "against": _against(page),
    }


def _separates(page: Page, check: str) -> list[View]:
    outlook = page.diagnosis.outlook
    if outlook is None:
        return []
    return [
        {
            "value": _value(page, check, report.value),
            "chance": report.chance,
            "top": [
                {
                    "complaint": complaint,
                    "cause": cause,
                    "name": page.book.causes[cause].name if cause else None,
                    "share": share,
                }
                for complaint, (cause, share) in report.top.items()
            ],
        }
        for report in separates(outlook, check)
    ]


def _demanded(page: Page, step: Next) -> str | None:
    if not step.demanded_by:
        return None
    if step.demanded_by in page.book.causes:
        cause = page.book.causes[step.demanded_by]
        speaks = step.kind != "check" or page.book.checks[step.id].finding in cause.shows
        name = cause.name if speaks else f"still possible, though this may show something harmless: {cause.name}"
        return f"{name}: {cause.danger_because}"
    if step.demanded_by in page.book.fixes:
        fix = page.book.fixes[step.demanded_by]
        return f"it helped, and something is left. {page.fill(fix.if_not)}"
    return page.book.deductions[step.demanded_by].because


def _value(page: Page, check: str, value: str) -> str:
    return page.book.findings[page.book.checks[check].finding].values[value]


def _against(page: Page) -> list[View]:
    """For the second and third cause of each complaint: what one would have to see."""
    outlook = page.diagnosis.outlook
    found: list[View] = []
    if outlook is None:
        return found
    for complaint in known.complaints(page):
        for cause in complaint["causes"][1:4]:
            seen = against(outlook, cause["id"])
            if seen:
                check, value, share, _ = seen[0]
                found.append(
                    {
                        "cause": cause["id"],
                        "name": cause["name"],
                        "share": cause["share"],
                        "check": page.fill(page.book.checks[check].ask),
                        "value": _value(page, check, value),
                        "then": share,
                    }
                )
    return found
