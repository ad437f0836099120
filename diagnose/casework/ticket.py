"""The ticket: what the counter came to, for the rider to agree to and for the stand to begin with.

Cast: `make_ticket` gives it as JSON values; `counter_view` the View of a job at the counter with what to ask now.

A ticket says: may it be ridden and why, what it probably is, what it will take (minutes, parts, money, each from its
P10 to its P90; the price of the work at the book's labour rate), what was agreed, what to bring or order, what the
stand begins with, and what was not asked or could not be told.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import Any

from diagnose.book.conditions import may_hold
from diagnose.book.model import Book
from diagnose.casework import intake
from diagnose.casework.fold import Folded, still_asked
from diagnose.casework.intake import Prompt
from diagnose.casework.settings import Settings, fit
from diagnose.casework.view import View, make_view
from diagnose.casework.view.plan import estimate_view, parts_of
from diagnose.reason.diagnosis import Diagnosis
from diagnose.reason.estimate import foresee
from diagnose.reason.option import Next, Option, take
from diagnose.reason.reasoner import Reasoner
from diagnose.reason.situation import Situation

NAMED = 3
"""Likely causes of each complaint that a ticket names at most."""
WORTH_NAMING = 0.05
OF_THE_BIKE = "own-"
"""Tools whose ids begin so belong to the bike: the rider brings them."""
WORTH_ORDERING = 0.1
"""Chance that a part will be wanted from which on it is named."""


def counter_view(reasoner: Reasoner, folded: Folded) -> View:
    """The View of a job at the counter, its next step being what to ask now.

    Beyond the View: `prompt` {kind, id, danger, number, most}, None where the ticket can be written.
    """
    found = reasoner.diagnose(folded.situation)
    here = folded.situation.role == "rider"
    prompt = intake.next_prompt(reasoner, folded, found) if here else None
    if prompt and prompt.kind == "check":
        found = found.asking(_asking(found, prompt))
    view = make_view(reasoner, folded, with_estimate=False, with_why=True, diagnosis=found)
    number = intake.asked(folded) + 1
    view["prompt"] = prompt and {**prompt._asdict(), "number": number, "most": intake.MOST_PROMPTS}
    return view


def _asking(found: Diagnosis, prompt: Prompt) -> Next:
    """The next step that asks this."""
    if found.next.id == prompt.id:
        return found.next
    return take(Option("check", prompt.id, 0.0, found.next.expected))


def make_ticket(reasoner: Reasoner, folded: Folded, counter: View, settings: Settings | None = None) -> View:
    """The ticket of a job whose counter View this is.

    Returns:
        `ride`, `complaints` with their likely `causes`, `estimate` (as in a View, its minutes with those of
        `diagnosis`, with `price` {low, high, currency} and the `minimum` charge),
        `ceiling` and whether it `may_be_crossed`, `order` [parts with the chance that they are wanted], `bring` [what
        belongs to the bike and the stand may want], `first` {kind,
        text} of what the stand begins with, `not_told` [what the rider could not tell], `not_asked` [what is left].
    """
    situation = at_the_stand(folded.situation, reasoner.book, settings)
    book, found = reasoner.book, reasoner.diagnose(situation)
    stand = make_view(reasoner, folded._replace(situation=situation), with_estimate=False, diagnosis=found)
    made = foresee(found)
    estimate = None if made is None else _priced(estimate_view(made, book), book, settings or Settings())
    done = made.done if made else {}
    likely = [fix for fix, chance in done.items() if chance >= WORTH_ORDERING]
    return {
        "ride": counter["ride"],
        "complaints": [_likely(one) for one in counter["complaints"]],
        "estimate": estimate,
        "ceiling": folded.agreed,
        "may_be_crossed": _crossed(estimate, folded.agreed),
        "order": _parts(book, done, situation),
        "bring": _to_bring(book, stand, [*likely, *(item["fix"] for item in stand["plan"])], situation),
        "cautions": _warnings(book, counter, situation),
        "hand_off": [one for one in stand["hand_off"] if stand["next"]["kind"] == "hand-off"],
        "also": stand["also"],
        "first": {"kind": stand["next"]["kind"], "text": stand["next"]["text"]},
        "not_told": [one["name"] for one in counter["answers"] if one["value"] is None],
        "not_asked": [text for text in _not_asked(reasoner, folded) if text != stand["next"]["text"]],
    }


def _bench_of(book: Book, settings: Settings | None) -> dict[str, Any]:
    """Skill and missing tools of the stand that the bike will come to."""
    if settings is None:
        return {}
    return {"skill": settings.skill, "without": frozenset(fit(settings, book)[0].without)}


def _priced(estimate: View, book: Book, settings: Settings) -> View:
    """An estimate with its price: minutes with those of finding the cause at the labour rate, parts, minimum charge."""
    rate, parts, extra = book.constants.rate, estimate["parts_price"], settings.diagnosis_minutes
    minutes = {name: figure + extra for name, figure in estimate["minutes"].items()}
    low, high = (minutes[end] * rate + parts[end] for end in ("p10", "p90"))
    least = settings.minimum_charge
    price = {"low": max(low, least), "high": max(high, least), "currency": parts["currency"]}
    return {**estimate, "minutes": minutes, "diagnosis": extra, "minimum": least, "price": price}


def at_the_stand(situation: Situation, book: Book, settings: Settings | None = None) -> Situation:
    """The situation as a mechanic takes it over, with the skill and the tools of the shop."""
    asked = frozenset(still_asked(situation.asked, situation.profile))
    return replace(situation, role="mechanic", from_counter=True, asked=asked, **_bench_of(book, settings))


def _likely(complaint: View) -> View:
    causes = [one for one in complaint["causes"][:NAMED] if one["share"] >= WORTH_NAMING]
    return {**complaint, "causes": causes}


def _warnings(book: Book, counter: View, situation: Situation) -> list[str]:
    """The cautions of what follows from the answers; those of the repeat test belong to the stand."""
    named = [name for one in counter["conclusions"] for name in book.deductions[one["id"]].cautions]
    fitting = [one for one in named if may_hold(book.cautions_apply.get(one, {}), situation.profile)]
    return [book.cautions[name] for name in dict.fromkeys(fitting)]


def _crossed(estimate: View | None, ceiling: float | None) -> bool | None:
    if ceiling is None or estimate is None:
        return None
    return bool(estimate["price"]["high"] > ceiling)


def _parts(book: Book, done: Mapping[str, float], situation: Situation) -> list[View]:
    """Parts that are likely enough to be wanted, the likeliest first, each with all fixes that may take it."""
    wanted: dict[str, View] = {}
    for fix, chance in done.items():
        for part in parts_of(book, book.fixes[fix], situation.profile):
            one = wanted.setdefault(part["id"], {**part, "chance": 0.0, "fixes": []})
            one["chance"] = min(one["chance"] + chance, 1.0)
            one["fixes"].append(book.fixes[fix].name)
    likely = [one for one in wanted.values() if one["chance"] >= WORTH_ORDERING]
    return sorted(likely, key=lambda one: (-one["chance"], one["id"]))


def _to_bring(book: Book, stand: View, fixes: Iterable[str], situation: Situation) -> list[str]:
    """Tools that belong to the bike itself and that a look at a likely cause, or one of these fixes, needs."""
    likely = [one["id"] for told in stand["complaints"] for one in told["causes"] if one["share"] >= WORTH_NAMING]
    shown = {finding for cause in likely for finding in book.causes[cause].shows}
    checks = [one for one in book.checks.values() if one.finding in shown and may_hold(one.applies, situation.profile)]
    needed = [one.tools for one in checks] + [book.fixes[fix].tools for fix in fixes]
    tools = dict.fromkeys(tool for one in needed for tool in one if tool.startswith(OF_THE_BIKE))
    return [book.tools[tool] for tool in tools]


def _not_asked(reasoner: Reasoner, folded: Folded) -> list[str]:
    """What would have been asked next, had there been room for more."""
    more = intake.next_prompt(reasoner, folded, most=intake.asked(folded) + 1)
    if more is None:
        return []
    book = reasoner.book
    return [book.facts[more.id].ask if more.kind == "fact" else book.checks[more.id].ask]
