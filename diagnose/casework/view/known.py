"""What is known of a case and what follows from it, as the View shows it.

Cast: `complaints`, `answers`, `conclusions`, `ruled_out`, `dangers`, `cautions` and `ride`.
"""

from __future__ import annotations

from diagnose.casework.view.measured import measured_view
from diagnose.casework.view.page import Page, View
from diagnose.reason.ride import complaints_of


def complaints(page: Page) -> list[View]:
    """Each complaint with its causes, likeliest first, those ruled out left out."""
    net = page.diagnosis.belief.net
    out = _out(page)
    found = []
    for place, complaint in enumerate(net.complaints):
        shares = page.diagnosis.belief.marginal(complaint)
        causes = [
            {"id": cause, "name": page.book.causes[cause].name, "share": share, "from": page.origin(cause)}
            for cause, share in zip(net.causes[place], shares, strict=True)
            if cause and cause not in out
        ]
        causes.sort(key=lambda one: (-float(one["share"]), str(one["id"])))  # type: ignore[arg-type]
        found.append(
            {
                "id": complaint,
                "text": page.book.complaints[complaint].name,
                "gone": complaint in page.situation.gone,
                "causes": causes,
                "something_else": shares[-1],
            }
        )
    return found


def answers(page: Page) -> list[View]:
    """Every answer, with its finding in words; a measured one with its raw readings and its gauge."""
    return [
        {
            "check": answer.check,
            "from": page.origin(answer.check),
            "finding": answer.finding,
            "name": page.book.findings[answer.finding].name,
            "value": answer.value,
            "value_text": page.book.findings[answer.finding].values[answer.value] if answer.value else None,
            "reading": answer.reading,
            "unit": answer.unit,
            "typed": answer.typed or None,
            "by": answer.by,
            "stale": answer.stale,
            **measured_view(page.book, page.situation, answer),
        }
        for answer in page.situation.answers
    ]


def conclusions(page: Page) -> list[View]:
    """What the deductions concluded, with place and matched facts."""
    return [
        {
            "id": one.deduction.id,
            "from": page.origin(one.deduction.id),
            "file": one.where.file,
            "line": one.where.line,
            "column": one.where.column,
            "matched": [list(pair) for pair in one.matched],
            "because": one.deduction.because,
        }
        for one in page.diagnosis.conclusions.fired
    ]


def _out(page: Page) -> dict[str, str]:
    in_net = {cause for causes in page.diagnosis.belief.net.causes for cause in causes if cause}
    return {cause: why for cause, why in page.diagnosis.conclusions.ruled_out.items() if cause in in_net}


def ruled_out(page: Page) -> list[View]:
    """The causes that a conclusion rules out."""
    return [
        {"cause": cause, "name": page.book.causes[cause].name, "conclusion": why, "from": page.origin(cause)}
        for cause, why in sorted(_out(page).items())
    ]


def dangers(page: Page) -> list[View]:
    """The dangers that conclusions raise."""
    return [
        {"conclusion": one.deduction.id, "level": one.deduction.danger, "text": one.deduction.because}
        for one in page.diagnosis.conclusions.fired
        if one.deduction.danger
    ]


def cautions(page: Page) -> list[View]:
    """The cautions of conclusions and of repeat tests that are still to come."""
    named = [caution for one in page.diagnosis.conclusions.fired for caution in one.deduction.cautions]
    for complaint in page.situation.standing:
        named += page.book.complaints[complaint].repeat_test.cautions
    return [{"id": name, "text": page.book.cautions[name]} for name in dict.fromkeys(named) if page.warns(name)]


def ride(page: Page) -> View:
    """The ride verdict with its reasons."""
    ride = page.diagnosis.ride
    because = [
        {
            "cause": one.id if one.kind == "cause" else None,
            "conclusion": one.id if one.kind == "conclusion" else None,
            "text": one.text,
            "complaints": complaints_of(page.book, page.situation, one),
        }
        for one in ride.because
    ]
    return {"verdict": ride.verdict, "because": because, "stop": ride.stop, "care": ride.care}
