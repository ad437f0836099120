"""Handing on, as the View shows it: to whom and why, with a note of all that is known.

Cast: `hand_offs`; `note` writes it down in plain sentences, `with_words` puts the rider's own into it.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from diagnose.casework.view import known
from diagnose.casework.view.page import Page, View
from diagnose.reason.situation import Already

NAMED = 0.05
"""A cause below this share is not named."""
IN_WORDS = 'The rider said: "{text}".'


def hand_offs(page: Page) -> list[View]:
    """The hand-offs, each with the note that goes along."""
    return [
        {
            "class": one.hand_off.receiver,
            "reason": page.fill(one.hand_off.reason),
            "urgency": one.hand_off.urgency,
            "to": page.book.receivers[one.hand_off.receiver].to,
            "because": one.because,
            "note": note(page),
        }
        for one in page.diagnosis.hand_offs
    ]


def note(page: Page) -> str:
    """All that is known and can be passed on, in plain sentences."""
    book, situation = page.book, page.situation
    lines = ["Complaint: " + "; ".join(book.complaints[name].name for name in situation.complaints) + "."]
    facts = [
        f"{book.facts[fact].name}: {book.facts[fact].values[value]}"
        for fact, values in sorted(situation.profile.items())
        for value in values
        if value not in ("nothing", "none", "complete")
    ]
    if facts:
        lines.append("Bike: " + "; ".join(facts) + ".")
    lines.extend(_note_answer(page, answer.check) for answer in situation.answers)
    lines.extend(f"Done before it came: {book.fixes[one.fix].name} ({_known_of(one)})." for one in situation.already)
    for repair in situation.repairs:
        names = " and ".join(book.fixes[fix].name for fix in repair.fixes)
        results = ", ".join(
            "gone" if gone else _helped(page, name) if name in repair.better else "still there"
            for name, gone in repair.results.items()
        )
        lines.append(f"Done here: {names}: {results}.")
    refused = sorted(book.fixes[fix].name for fix in situation.not_possible)
    lines.extend(f"Could not be done here: {name}." for name in refused)
    for complaint in known.complaints(page):
        if complaint["gone"]:
            lines.append(f"{complaint['text']}: put right here, nothing of it is left.")
            continue
        if page.diagnosis.stopped and not situation.answers and not _dangers(page, complaint):
            lines.append(f"{complaint['text']}: left when this was seen; what else it has was not looked for.")
            continue
        named = [one for one in complaint["causes"] if not (page.diagnosis.stopped and book.causes[one["id"]].normal)]
        likely = [f"{one['name']} {of_100(one['share'])}" for one in named[:3] if one["share"] >= NAMED]
        rest = f"not in the book {of_100(complaint['something_else'])}"
        of = f"{complaint['text']}, of" if len(situation.complaints) > 1 else "Of"
        lines.append(f"{of} 100 such bikes: " + ", ".join([*likely, rest]) + ".")
    return "\n".join(lines)


def with_words(hand_offs: Iterable[View], words: Sequence[str]) -> list[View]:
    """The hand-offs, their notes with what was typed for the complaints below these."""
    if not words:
        return list(hand_offs)
    line = IN_WORDS.format(text="; ".join(words))
    return [{**one, "note": "\n".join(_second(one["note"], line))} for one in hand_offs]


def _second(text: str, line: str) -> list[str]:
    first, *rest = text.split("\n")
    return [first, line, *rest]


def _dangers(page: Page, complaint: View) -> bool:
    """Whether a cause that is not to be ridden is likely enough to be named for it."""
    return any(one["share"] >= NAMED and page.book.causes[one["id"]].danger == "stop" for one in complaint["causes"])


def _note_answer(page: Page, check: str) -> str:
    book = page.book
    answer = next(one for one in reversed(page.situation.answers) if one.check == check)
    name = book.findings[answer.finding].name
    value = book.findings[answer.finding].values[answer.value] if answer.value else "could not be told"
    value = "reads outside the range of the book" if answer.outside else value
    raw = "; ".join(one.typed for one in answer.raw if one.typed)
    typed = f" ({answer.typed}{f', read: {raw}' if raw else ''})" if answer.typed else ""
    stale = ", before a fix changed it" if answer.stale else ""
    by = ", the rider's word" if answer.by == "rider" else ""
    return f"{name[:1].upper()}{name[1:]}: {value}{typed}{by}{stale}."


def of_100(share: float) -> str:
    """A share as so many of 100."""
    if 0 < share < 0.005:
        return "under 1"
    if 0.995 < share < 1:
        return "over 99"
    return f"{share * 100:.0f}"


def _helped(page: Page, complaint: str) -> str:
    """What a repair has come to that helped: amid a round it holds, and the round goes on."""
    return "it holds" if page.book.complaints[complaint].stands_back else "better, something is left"


def _known_of(one: Already) -> str:
    by = {"rider": "by the rider", "workshop": "by a workshop"}.get(one.who, "")
    ago = {"days": "days ago", "weeks": "weeks ago", "longer": "longer ago"}.get(one.when, "")
    return ", ".join(filter(None, (by, ago, one.result)))
