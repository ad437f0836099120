"""The View of a case: what terminal, page, sheet, test and simulation all read. No front computes.

Cast: `make_view(reasoner, folded, ...)` gives a JSON-able dict as the headless contract describes it; absent is None,
never missing. Beyond the contract: `wanted` (profile facts to ask for now), `moves`, `why`, `loose`.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from diagnose.bench.units import show_also, show_range
from diagnose.book.conditions import INLINE_LIMIT, holds, may_hold, numbers
from diagnose.book.model import Book, Check, Fix, Limit, Step
from diagnose.casework.fold import Folded
from diagnose.reason.diagnosis import Diagnosis, Next
from diagnose.reason.estimate import Estimate, estimate
from diagnose.reason.explain import against, moves, separates, would_change
from diagnose.reason.facts import values_that_matter
from diagnose.reason.plan import PlanItem
from diagnose.reason.reasoner import Reasoner
from diagnose.reason.situation import Situation

View = dict[str, Any]


def make_view(
    reasoner: Reasoner,
    folded: Folded,
    *,
    sentence: str | None = None,
    file: str | None = None,
    with_estimate: bool = True,
    with_why: bool = False,
) -> View:
    """The View of a case.

    Args:
        reasoner: the book with its engine.
        folded: the case.
        sentence: the case file's sentence, or the label.
        file: the case file.
        with_estimate: also simulate minutes and parts.
        with_why: also say how answers moved the shares, and why this comes next.
    """
    diagnosis = reasoner.diagnose(folded.situation)
    writer = _Writer(reasoner, diagnosis)
    view: View = {
        "case": sentence,
        "file": file,
        "profile": {fact: list(values) for fact, values in sorted(folded.situation.profile.items())},
        "holds": None,
        "expectations": [],
        "complaints": writer.complaints(),
        "answers": writer.answers(),
        "conclusions": writer.conclusions(),
        "ruled_out": writer.ruled_out(),
        "dangers": writer.dangers(),
        "cautions": writer.cautions(),
        "ride": writer.ride(),
        "next": writer.next(),
        "plan": [writer.plan_item(item) for item in diagnosis.plan],
        "also": writer.also(),
        "hand_off": writer.hand_offs(),
        "estimate": None,
        "wanted": writer.wanted(),
        "moves": None,
        "why": None,
        "loose": folded.loose,
        "ended": folded.situation.ended,
        "open": [reasoner.book.teardowns[one].name for one in sorted(folded.situation.open_teardowns)],
    }
    if with_estimate and diagnosis.outlook:
        view["estimate"] = _estimate(estimate(diagnosis.outlook, diagnosis.plan), reasoner.book)
    if with_why:
        view["moves"] = writer.moves()
        view["why"] = writer.why()
    return view


class _Writer:
    """Writes the parts of a View out of a diagnosis."""

    def __init__(self, reasoner: Reasoner, diagnosis: Diagnosis) -> None:
        self.reasoner = reasoner
        self.book: Book = reasoner.book
        self.diagnosis = diagnosis
        self.situation: Situation = diagnosis.situation

    # --- what is known and what follows ----------------------------------------------------------------------------

    def complaints(self) -> list[View]:
        net = self.diagnosis.belief.net
        ruled_out = self._ruled_out()
        found = []
        for place, complaint in enumerate(net.complaints):
            shares = self.diagnosis.belief.marginal(complaint)
            causes = [
                {"id": cause, "name": self.book.causes[cause].name, "share": share}
                for cause, share in zip(net.causes[place], shares, strict=True)
                if cause and cause not in ruled_out
            ]
            causes.sort(key=lambda one: (-float(one["share"]), str(one["id"])))  # type: ignore[arg-type]
            found.append(
                {
                    "id": complaint,
                    "text": self.book.complaints[complaint].name,
                    "gone": complaint in self.situation.gone,
                    "causes": causes,
                    "something_else": shares[-1],
                }
            )
        return found

    def answers(self) -> list[View]:
        return [
            {
                "check": answer.check,
                "finding": answer.finding,
                "name": self.book.findings[answer.finding].name,
                "value": answer.value,
                "value_text": self.book.findings[answer.finding].values[answer.value] if answer.value else None,
                "reading": answer.reading,
                "unit": answer.unit,
                "typed": answer.typed or None,
                "by": answer.by,
                "stale": answer.stale,
            }
            for answer in self.situation.answers
        ]

    def conclusions(self) -> list[View]:
        return [
            {
                "id": one.deduction.id,
                "file": one.where.file,
                "line": one.where.line,
                "column": one.where.column,
                "matched": [list(pair) for pair in one.matched],
                "because": one.deduction.because,
            }
            for one in self.diagnosis.conclusions.fired
        ]

    def _ruled_out(self) -> dict[str, str]:
        in_net = {cause for causes in self.diagnosis.belief.net.causes for cause in causes if cause}
        return {cause: why for cause, why in self.diagnosis.conclusions.ruled_out.items() if cause in in_net}

    def ruled_out(self) -> list[View]:
        return [
            {"cause": cause, "name": self.book.causes[cause].name, "conclusion": why}
            for cause, why in sorted(self._ruled_out().items())
        ]

    def dangers(self) -> list[View]:
        return [
            {"conclusion": one.deduction.id, "level": one.deduction.danger, "text": one.deduction.because}
            for one in self.diagnosis.conclusions.fired
            if one.deduction.danger
        ]

    def cautions(self) -> list[View]:
        named = [caution for one in self.diagnosis.conclusions.fired for caution in one.deduction.cautions]
        for complaint in self.situation.standing:
            named += self.book.complaints[complaint].repeat_test.cautions
        return [{"id": name, "text": self.book.cautions[name]} for name in dict.fromkeys(named)]

    def ride(self) -> View:
        ride = self.diagnosis.ride
        because = [
            {
                "cause": one.id if one.kind == "cause" else None,
                "conclusion": one.id if one.kind == "conclusion" else None,
                "text": one.text,
            }
            for one in ride.because
        ]
        return {"verdict": ride.verdict, "because": because, "stop": ride.stop, "care": ride.care}

    # --- what comes next -------------------------------------------------------------------------------------------

    def next(self) -> View:
        step = self.diagnosis.next
        runner = step.runner_up
        return {
            "kind": step.kind,
            "id": step.id,
            "text": self._next_text(step),
            "complaints": list(self.situation.standing),
            "answers": self._next_answers(step),
            "unit": self._next_unit(step),
            "check": self.check(self.book.checks[step.id]) if step.kind == "check" else None,
            "with": [fix for fix in step.with_fixes if fix != step.id],
            "cost": step.cost,
            "expected": step.expected,
            "saves": step.saves,
            "runner_up": {"kind": runner.kind, "id": runner.id, "text": self._text_of(runner.kind, runner.id)}
            if runner
            else None,
            "demanded_by": step.demanded_by or None,
            "found": list(step.found),
        }

    def _next_text(self, step: Next) -> str:
        if step.kind == "done":
            names = ", ".join(self.book.causes[cause].name for cause in step.found)
            return f"Repeat test passed, found at the stand: {names}." if names else "Repeat test passed."
        return self._text_of(step.kind, step.id)

    def _text_of(self, kind: str, name: str) -> str:
        if kind == "check":
            return self.fill(self.book.checks[name].ask)
        return self.book.fixes[name].name if kind == "fix" else "Stop here and hand the bike on."

    def _next_answers(self, step: Next) -> list[View] | None:
        if step.kind != "check" or self.book.checks[step.id].measure:
            return None
        values = self.book.findings[self.book.checks[step.id].finding].values
        return [{"id": value, "text": text} for value, text in values.items()]

    def _next_unit(self, step: Next) -> str | None:
        measure = self.book.checks[step.id].measure if step.kind == "check" else None
        return measure.unit if measure else None

    def check(self, check: Check) -> View:
        """Everything a screen needs of a check."""
        measure = check.measure
        return {
            "finding": self.book.findings[check.finding].name,
            "by": check.by,
            "minutes": check.minutes,
            "tools": [self.book.tools[tool] for tool in check.tools],
            "teardown": self.book.teardowns[check.teardown].name if check.teardown else None,
            "how": self.fill(check.how) if check.how else None,
            "danger": check.danger,
            "measure": {"unit": measure.unit, "from": measure.low, "to": measure.high} if measure else None,
            "limits": self.limits(check.limits),
            "cautions": [self.book.cautions[name] for name in check.cautions],
        }

    def wanted(self) -> list[View]:
        found = []
        for name in self.diagnosis.wanted:
            fact = self.book.facts[name]
            values = tuple(fact.values)
            if fact.several:
                values = values_that_matter(self.book, self.situation, self.diagnosis.belief, name)
            answers = [{"id": value, "text": fact.values[value]} for value in values]
            found.append({"fact": name, "text": fact.ask, "several": fact.several, "answers": answers})
        return found

    # --- the plan --------------------------------------------------------------------------------------------------

    def plan_item(self, item: PlanItem) -> View:
        fix = self.book.fixes[item.fix]
        rate = self.book.constants.currency
        return {
            "fix": item.fix,
            "name": fix.name,
            "rung": item.rung,
            "causes": [{"id": cause, "complaint": complaint} for cause, complaint in item.treats],
            "chance": item.chance,
            "together": list(item.together),
            "needs": self._needs(fix),
            "after": list(fix.after),
            "skill": fix.skill,
            "minutes": {"low": item.minutes[0], "high": item.minutes[1]},
            "tools": [self.book.tools[tool] for tool in fix.tools],
            "parts": [
                {
                    "id": part,
                    "name": self.book.parts[part].name,
                    "count": count,
                    "price": {"low": self.book.parts[part].low, "high": self.book.parts[part].high, "currency": rate},
                }
                for part, count in fix.parts.items()
            ],
            "teardown": self.book.teardowns[fix.teardown].name if fix.teardown else None,
            "cautions": [self.book.cautions[name] for name in fix.cautions],
            "steps": [self.step(step) for step in fix.steps],
            "works_if": self.fill(fix.works_if),
            "if_not": self.fill(fix.if_not),
            "confirm": self._confirm(item),
            "hand_off_when": self._hand_off_when(item),
        }

    def _needs(self, fix: Fix) -> list[View]:
        """What must be done or verified first, and whether it is."""
        outlook = self.diagnosis.outlook
        unmet = outlook.bench.unmet(fix) if outlook else []
        return [{"id": need, "text": self._need(need), "done": need not in unmet} for need in fix.needs]

    def _need(self, need: str) -> str:
        return self.fill(self.book.checks[need].ask) if need in self.book.checks else self.book.fixes[need].name

    def _confirm(self, item: PlanItem) -> View:
        complaint = item.treats[0][1] if item.treats else (*self.situation.standing, *self.situation.complaints)[0]
        test = self.book.complaints[complaint].repeat_test
        text = self.fill(test.text) + (f" ({test.repeat})" if test.repeat else "")
        return {
            "id": test.id,
            "text": text,
            "limits": self.limits(test.limits),
            "cautions": [self.book.cautions[name] for name in test.cautions],
        }

    def _hand_off_when(self, item: PlanItem) -> list[str]:
        if not item.treats:
            return []
        return [
            f"{self.fill(one.reason)} To {self.book.receivers[one.receiver].to}, {one.urgency}."
            for one in self.book.causes[item.treats[0][0]].hand_off_when
            if holds(one.when, self.situation.profile)
        ]

    def step(self, step: Step) -> View:
        """One step with its limits under this profile."""
        return {
            "text": self.fill(step.text),
            "limits": self.limits(step.limits),
            "cautions": [self.book.cautions[name] for name in step.cautions],
        }

    def limits(self, names: Sequence[str]) -> list[View]:
        """The limits that can belong to this bike."""
        named = [self.book.limits[name] for name in names]
        return [self.limit(one) for one in named if may_hold(one.applies, self.situation.profile)]

    def also(self) -> list[View]:
        """What is to be done whatever the complaint turns out to be, and is not done yet: must first."""
        order = {"must": 0, "should": 1, "can wait": 2}
        found: dict[str, View] = {}
        for one in self.diagnosis.extras:
            for extra in one.deduction.also:
                if extra.fix in self.situation.done:
                    continue
                known = found.get(extra.fix)
                if known is None or order[extra.level] < order[known["level"]]:
                    fix = self.book.fixes[extra.fix]
                    minutes = {"low": fix.low, "high": fix.high}
                    found[extra.fix] = {
                        "fix": extra.fix,
                        "name": fix.name,
                        "level": extra.level,
                        "because": one.deduction.because,
                        "conclusion": one.deduction.id,
                        "minutes": minutes,
                    }
        return sorted(found.values(), key=lambda one: (order[one["level"]], one["fix"]))

    def limit(self, limit: Limit) -> View:
        """A limit under this profile, with its text."""
        now = numbers(limit, self.situation.profile)
        return {
            "id": limit.id,
            "quantity": limit.quantity,
            "low": now.low,
            "high": now.high,
            "unit": limit.unit,
            "also": show_also(now.low, now.high, limit.unit, limit.kind) or None,
            "kind": limit.kind,
            "basis": now.basis,
            "source": now.source or limit.source or None,
            "note": limit.note or None,
            "text": show_range(now.low, now.high, limit.unit, limit.kind),
        }

    def fill(self, text: str) -> str:
        """A text with its limits put in."""
        if "{" not in text:
            return text
        return INLINE_LIMIT.sub(lambda match: str(self.limit(self.book.limits[match[1]])["text"]), text)

    # --- handing off -----------------------------------------------------------------------------------------------

    def hand_offs(self) -> list[View]:
        return [
            {
                "class": one.hand_off.receiver,
                "reason": self.fill(one.hand_off.reason),
                "urgency": one.hand_off.urgency,
                "to": self.book.receivers[one.hand_off.receiver].to,
                "because": one.because,
                "note": self.note(),
            }
            for one in self.diagnosis.hand_offs
        ]

    def note(self) -> str:
        """All that is known and can be passed on, in plain sentences."""
        book, situation = self.book, self.situation
        lines = ["Complaint: " + "; ".join(book.complaints[name].name for name in situation.complaints) + "."]
        facts = [
            f"{book.facts[fact].name} {book.facts[fact].values[value]}"
            for fact, values in sorted(situation.profile.items())
            for value in values
            if value not in ("nothing", "none", "complete")
        ]
        if facts:
            lines.append("Bike: " + "; ".join(facts) + ".")
        lines.extend(self._note_answer(answer.check) for answer in situation.answers)
        lines.extend(f"Done before it came: {book.fixes[one.fix].name} ({one.result})." for one in situation.already)
        for repair in situation.repairs:
            names = " and ".join(book.fixes[fix].name for fix in repair.fixes)
            results = ", ".join("gone" if gone else "still there" for gone in repair.results.values())
            lines.append(f"Done here: {names}: {results}.")
        refused = sorted(book.fixes[fix].name for fix in situation.not_possible)
        lines.extend(f"Could not be done here: {name}." for name in refused)
        for complaint in self.complaints():
            likely = [
                f"{one['name']} {of_100(one['share'])}" for one in complaint["causes"][:3] if one["share"] >= 0.05
            ]
            rest = f"not in the book {of_100(complaint['something_else'])}"
            lines.append("Of 100 such bikes: " + ", ".join([*likely, rest]) + ".")
        return "\n".join(lines)

    def _note_answer(self, check: str) -> str:
        book = self.book
        answer = next(one for one in reversed(self.situation.answers) if one.check == check)
        name = book.findings[answer.finding].name
        value = book.findings[answer.finding].values[answer.value] if answer.value else "could not be told"
        typed = f" ({answer.typed})" if answer.typed else ""
        stale = ", before a fix changed it" if answer.stale else ""
        by = ", the rider's word" if answer.by == "rider" else ""
        return f"{name[:1].upper()}{name[1:]}: {value}{typed}{by}{stale}."

    # --- why -------------------------------------------------------------------------------------------------------

    def moves(self) -> list[View]:
        found = []
        for move in moves(self.book, self.reasoner.chainer, self.situation):
            changes = sorted(move.after, key=lambda cause: -abs(move.after[cause] - move.before.get(cause, 0.0)))
            found.append(
                {
                    "check": move.check,
                    "finding": self.book.findings[move.finding].name,
                    "value": self.book.findings[move.finding].values[move.value] if move.value else None,
                    "complaint": move.complaint,
                    "shares": [
                        {
                            "id": cause,
                            "name": self.book.causes[cause].name if cause else None,
                            "before": move.before.get(cause, 0.0),
                            "after": move.after[cause],
                        }
                        for cause in changes[:4]
                    ],
                }
            )
        return found

    def why(self) -> View:
        outlook, step = self.diagnosis.outlook, self.diagnosis.next
        if outlook is None:
            return {"separates": [], "demanded": None, "would_change": [], "against": []}
        first = self.diagnosis.plan[0].fix if self.diagnosis.plan else None
        return {
            "separates": self._separates(step.id) if step.kind == "check" else [],
            "demanded": self._demanded(step),
            "would_change": [
                {"check": check, "text": self.book.checks[check].ask, "value": self._value(check, value), "fix": fix}
                for check, value, fix in would_change(outlook, first)[:5]
            ],
            "against": self._against(),
        }

    def _separates(self, check: str) -> list[View]:
        outlook = self.diagnosis.outlook
        if outlook is None:
            return []
        return [
            {
                "value": self._value(check, report.value),
                "chance": report.chance,
                "top": [
                    {
                        "complaint": complaint,
                        "cause": cause,
                        "name": self.book.causes[cause].name if cause else None,
                        "share": share,
                    }
                    for complaint, (cause, share) in report.top.items()
                ],
            }
            for report in separates(outlook, check)
        ]

    def _demanded(self, step: Next) -> str | None:
        if not step.demanded_by:
            return None
        if step.demanded_by in self.book.causes:
            cause = self.book.causes[step.demanded_by]
            return f"{cause.name}: {cause.danger_because}"
        return self.book.deductions[step.demanded_by].because

    def _value(self, check: str, value: str) -> str:
        return self.book.findings[self.book.checks[check].finding].values[value]

    def _against(self) -> list[View]:
        """For the second and third cause of each complaint: what one would have to see."""
        outlook = self.diagnosis.outlook
        found: list[View] = []
        if outlook is None:
            return found
        for complaint in self.complaints():
            for cause in complaint["causes"][1:4]:
                seen = against(outlook, cause["id"])
                if seen:
                    check, value, share, _ = seen[0]
                    found.append(
                        {
                            "cause": cause["id"],
                            "name": cause["name"],
                            "share": cause["share"],
                            "check": self.book.checks[check].ask,
                            "value": self._value(check, value),
                            "then": share,
                        }
                    )
        return found


def of_100(share: float) -> str:
    """A share as so many of 100."""
    if 0 < share < 0.005:
        return "under 1"
    if 0.995 < share < 1:
        return "over 99"
    return f"{share * 100:.0f}"


def _estimate(made: Estimate, book: Book) -> View:
    return {
        "minutes": {"p10": made.minutes.p10, "p50": made.minutes.p50, "p90": made.minutes.p90},
        "parts_price": {
            "p10": made.parts.p10,
            "p50": made.parts.p50,
            "p90": made.parts.p90,
            "currency": book.constants.currency,
        },
        "hand_off_chance": made.hand_off_chance,
        "runs": made.runs,
        "seed": made.seed,
    }
