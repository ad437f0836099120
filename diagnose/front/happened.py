"""What happened on a job, in words: each kind of event as one line.

Cast: `told_text`; `heard_text` is what words say of the bike, `done_before` what was done before it came, each a line.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable

from diagnose.book.model import Book
from diagnose.casework.desk import DECLINED
from diagnose.casework.events import Draft, Event
from diagnose.front import wording


def told_text(book: Book, event: Event) -> str:
    """What an event told, in words; as it stands where the book has changed and knows it no more."""
    try:
        return _TOLD[event.kind](book, event) if event.kind in _TOLD else event.kind
    except KeyError:
        return event.kind


def heard_text(book: Book, heard: Iterable[Draft | Event]) -> str:
    """What the words that were typed tell, in one line."""
    told = []
    for one in heard:
        if one.kind == "profile":
            fact = book.facts[one.data["fact"]]
            told.append(f"{fact.name}: {', '.join(fact.values[value] for value in one.data['values'])}")
        else:
            finding = book.findings[book.checks[one.data["check"]].finding]
            told.append(f"{finding.name}: {finding.values[one.data['value']]}")
    return "; ".join(told)


def _profile_text(book: Book, event: Event) -> str:
    fact = book.facts[event.data["fact"]]
    return f"{fact.ask} {', '.join(fact.values[value] for value in event.data['values']) or wording.CANNOT}"


def _no_more_text(_: Book, __: Event) -> str:
    return wording.TOLD_NO_MORE


def _partly_text(book: Book, event: Event) -> str:
    if "text_ref" in event.data:
        return wording.TYPED
    said, about = event.data["said"], event.data.get("about")
    told = book.fixes[said].name if said in book.fixes else wording.PARTLY.get(said, said)
    told = wording.TELL_LOOK if said in book.checks else told
    return f"{book.fixes[about].name}: {told}" if about else told


def _complaint_text(book: Book, event: Event) -> str:
    name = book.complaints[event.data["id"]].name
    return wording.WORST_NOW.format(text=name) if event.data.get("worst") else name


def done_before(name: str, result: str, who: str = "", when: str = "") -> str:
    """What was done before the bike came, in one line; `who` and `when` are empty where nobody knows."""
    whose = wording.DONE_BY.get(who, "") + wording.DONE_AGO.get(when, "")
    return wording.DONE_BEFORE.format(name=name, whose=whose, result=wording.RESULT[result])


def _already_text(book: Book, event: Event) -> str:
    data = event.data
    return done_before(book.fixes[data["fix"]].name, data["result"], data.get("who", ""), data.get("when", ""))


def _ended_text(_: Book, event: Event) -> str:
    return wording.IT_ENDED.format(how=wording.JOB_ENDED[event.data["how"]])


def _reopened_text(_: Book, event: Event) -> str:
    return wording.BACK_AGAIN if event.data.get("comeback") else wording.OPEN_AGAIN


def _answer_text(book: Book, event: Event) -> str:
    data = event.data
    finding = book.findings[book.checks[data["check"]].finding]
    if event.kind == "reading" or "reading" in data:
        return f"{finding.name}: {data.get('typed', wording.LEFT_OUT)}"
    if "outside" in data:
        return f"{finding.name}: {wording.OUTSIDE_TOLD.format(typed=data['outside'])}"
    return f"{finding.name}: {finding.values[data['value']] if 'value' in data else wording.CANNOT}"


def _fix_text(book: Book, event: Event) -> str:
    data = event.data
    names = " + ".join(book.fixes[fix].name for fix in [data["fix"], *data.get("with", ())])
    if data.get("not_possible"):
        return f"{names}: {wording.NOT_WANTED if data.get('reason') == DECLINED else wording.NOT_HERE}"
    results = ", ".join(wording.PARTLY[one] for one in data["results"].values())
    return f"{names}: {results}"


_TOLD: dict[str, Callable[[Book, Event], str]] = {
    "profile": _profile_text,
    "complaint": _complaint_text,
    "no-more": _no_more_text,
    "partly": _partly_text,
    "answer": _answer_text,
    "reading": _answer_text,
    "already": _already_text,
    "fix": _fix_text,
    "ended": _ended_text,
    "reopened": _reopened_text,
}
