"""What comes next, as the View shows it: the next step, and the facts of the bike to ask for before it.

Cast: `next_step`, `check_view`, `wanted` and `fact_view`.
"""

from __future__ import annotations

from diagnose.book.model import Book, Check
from diagnose.casework.view.measured import measure_view
from diagnose.casework.view.page import Page, View
from diagnose.reason.diagnosis import Diagnosis
from diagnose.reason.facts import values_that_matter
from diagnose.reason.option import Next


def next_step(page: Page) -> View:
    """The next step: a check, a fix, the hand-off or the end, with what it costs and the runner-up."""
    step = page.diagnosis.next
    runner = step.runner_up
    return {
        "kind": step.kind,
        "id": step.id,
        "text": _next_text(page, step),
        "from": page.origin(step.id) if step.kind in ("check", "fix") else None,
        "complaints": list(page.situation.standing),
        "answers": _next_answers(page, step),
        "unit": _next_unit(page, step),
        "check": check_view(page, page.book.checks[step.id]) if step.kind == "check" else None,
        "with": [fix for fix in step.with_fixes if fix != step.id],
        "cost": step.cost,
        "expected": step.expected,
        "saves": step.saves,
        "runner_up": {"kind": runner.kind, "id": runner.id, "text": _text_of(page, runner.kind, runner.id)}
        if runner
        else None,
        "demanded_by": step.demanded_by or None,
        "found": list(step.found),
        "in_a_round": list(page.diagnosis.in_a_round),
    }


def _next_text(page: Page, step: Next) -> str:
    if step.kind == "done":
        return _passed(page, step)
    if step.kind == "hand-off" and not page.situation.standing:
        return f"{_passed(page, step)} But it is not to be ridden: hand the bike on."
    return _text_of(page, step.kind, step.id)


def _passed(page: Page, step: Next) -> str:
    names = ", ".join(page.book.causes[cause].name for cause in step.found)
    return f"Repeat test passed, found at the stand: {names}." if names else "Repeat test passed."


def _text_of(page: Page, kind: str, name: str) -> str:
    if kind == "check":
        return page.fill(page.book.checks[name].ask)
    return page.book.fixes[name].name if kind == "fix" else "Stop here and hand the bike on."


def _next_answers(page: Page, step: Next) -> list[View] | None:
    if step.kind != "check" or page.book.checks[step.id].measure:
        return None
    values = page.book.findings[page.book.checks[step.id].finding].values
    return [{"id": value, "text": text} for value, text in values.items()]


def _next_unit(page: Page, step: Next) -> str | None:
    measure = page.book.checks[step.id].measure if step.kind == "check" else None
    return measure.unit if measure else None


def check_view(page: Page, check: Check) -> View:
    """Everything a screen needs of a check."""
    return {
        "finding": page.book.findings[check.finding].name,
        "by": check.by,
        "minutes": check.minutes,
        "tools": [page.book.tools[tool] for tool in check.tools],
        "teardown": page.book.teardowns[check.teardown].name if check.teardown else None,
        "how": page.fill(check.how) if check.how else None,
        "danger": check.danger,
        "measure": measure_view(page, check),
        "limits": page.limits(check.limits),
        "cautions": page.cautions(check.cautions),
    }


def wanted(page: Page) -> list[View]:
    """The facts of the bike to ask for now, with their values."""
    return [fact_view(page.book, page.diagnosis, name) for name in page.diagnosis.wanted]


def fact_view(book: Book, diagnosis: Diagnosis, name: str) -> View:
    """A fact of the bike as it is asked; of one that takes several values those that matter to this job."""
    fact = book.facts[name]
    values = tuple(fact.values)
    if fact.several:
        values = values_that_matter(book, diagnosis.situation, diagnosis.belief, name)
    answers = [{"id": value, "text": fact.values[value]} for value in values]
    return {"fact": name, "text": fact.ask, "how": fact.how or None, "several": fact.several, "answers": answers}
