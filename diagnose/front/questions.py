"""The questions: a fact of the bike, a check with its values on keys, a check that takes a reading.

Cast: `ask_fact`, with `ask_more`, and `ask_question`; each tells what was answered. A check whose reading is made of
several asks for one after the other; each is kept at once.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from diagnose.casework import events
from diagnose.casework.events import Draft
from diagnose.errors import InputError
from diagnose.front import screens, wording
from diagnose.front.prompt import CANNOT, Command, Screen
from diagnose.front.telling import Telling

if TYPE_CHECKING:
    from diagnose.bench.units import Reading

View = dict[str, Any]
OUT_OF_RANGE = "bench-out-of-range"
"""The code of a slip that says: such a figure is not to be had."""
ALONE = ("nothing", "none", "complete", "only-wheel")
"""Values of a fact that say that none of the others holds."""
WhyCommand = Callable[[str, str], bool]
"""A command that is also told why a fact is asked."""
Another = Callable[[str, Sequence[str]], bool]
"""Whether, of this fact, another value is to be asked for beside these."""


def always(_fact: str, _told: Sequence[str]) -> bool:
    """At the stand another value is asked for wherever one may hold."""
    return True


def ask_fact(
    telling: Telling, wanted: View, command: WhyCommand, lead: str, why: str, another: Another = always
) -> None:
    """Ask for a fact of the bike, one key; where several may hold, one key each, and `ask_more` goes on.

    How to tell stands below the question at the counter, and is one key away at the stand.
    """
    situation = telling.desk.folded(telling.case_id).situation
    if wanted["fact"] in situation.heard:
        _ask_the_rest(telling, wanted, situation.profile[wanted["fact"]], command, lead, another)
        return
    answers = tuple(one["text"] for one in wanted["answers"])
    helped = situation.role == "rider"
    lead = "\n".join(filter(None, [lead, _asked_of(telling, wanted["fact"])]))
    screen = Screen(lambda: screens.show_fact(telling.paper, wanted, lead, helped), answers, cannot=True)
    if wanted["how"]:
        why = f"{why}\n{wording.HOW.format(text=wanted['how'])}"
    chosen = telling.ask(screen, lambda letter: command(letter, why))
    if chosen == CANNOT:
        telling.tell(events.profile(wanted["fact"], []))
        return
    told = [wanted["answers"][chosen]["id"]]
    more = wanted["several"] and told[0] not in ALONE and any(_others(wanted, told))
    telling.tell(events.profile(wanted["fact"], told, more=more and another(wanted["fact"], told)))


def ask_more(
    telling: Telling,
    wanted: View,
    told: Sequence[str],
    command: WhyCommand,
    lead: str = "",
    another: Another = always,
) -> None:
    """Ask for another value that holds beside those that were `told`; each is kept at once."""
    texts = _others(wanted, told)  # the others keep their keys

    def draw() -> None:
        if lead:
            telling.paper.rule()
            telling.paper.say(lead)
        telling.paper.head(wording.ANOTHER)

    chosen = telling.ask(Screen(draw, texts, enter=wording.THAT_IS_ALL, hints="bq"), lambda key: command(key, ""))
    now = [*told, wanted["answers"][chosen]["id"]] if chosen >= 0 else list(told)
    more = chosen >= 0 and any(_others(wanted, now))
    telling.tell(events.profile(wanted["fact"], now, more=more and another(wanted["fact"], now)))


def _ask_the_rest(
    telling: Telling, wanted: View, told: Sequence[str], command: WhyCommand, lead: str, another: Another
) -> None:
    """Ask what holds beside what the words told that were typed."""
    texts = {one["id"]: one["text"] for one in wanted["answers"]}
    noted = wording.HEARD_OF.format(text=", ".join(texts[value] for value in told if value in texts))
    ask_more(telling, wanted, told, command, "\n".join(filter(None, [lead, wanted["text"], noted])), another)


def _asked_of(telling: Telling, name: str) -> str:
    """What was told of several things that a fact is asked about: "was this ..." says what is meant."""
    facts, told = telling.desk.book.facts, telling.desk.folded(telling.case_id).situation.profile
    meant = [
        facts[other].values[value]
        for other, values in facts[name].applies.items()
        if facts[other].several
        for value in told.get(other, ())
        if value in values
    ]
    return wording.HEARD_OF.format(text="; ".join(meant)) if meant else ""


def _others(wanted: View, told: Sequence[str]) -> tuple[str, ...]:
    """The texts of the values that may hold beside those that were told, each at its place; empty for the rest."""
    return tuple("" if one["id"] in (*ALONE, *told) else str(one["text"]) for one in wanted["answers"])


def ask_question(telling: Telling, view: View, command: Command, lead: str = "") -> None:
    """Ask for the next check: a value by key, or a reading typed with its unit; `lead` stands above it."""
    step = view["next"]
    changed = telling.verdict_changed(view)
    command = _with_why(telling, view, command)
    screen = Screen(
        lambda: screens.show_question(telling.paper, view, changed, lead),
        tuple(one["text"] for one in step["answers"] or ()),
        cannot=True,
        below=lambda: screens.show_below(telling.paper, view, changed),
    )
    if step["answers"] is None:
        ask = _ask_raw if step["check"]["measure"]["readings"] else _ask_reading
        ask(telling, view, screen, command)
        return
    chosen = telling.ask(screen, command)
    if chosen == CANNOT:
        telling.tell(events.cannot_tell(step["id"], view["role"]))
    else:
        telling.tell(events.answered(step["id"], view["role"], step["answers"][chosen]["id"]))


def _with_why(telling: Telling, view: View, command: Command) -> Command:
    """The command, which tells why this is asked, and not what would be asked without it."""

    def told(letter: str) -> bool:
        if letter != "w":
            return command(letter)
        telling.show_why(view)
        return True

    return told


def _ask_reading(telling: Telling, view: View, screen: Screen, command: Command) -> None:
    """A reading; one that is outside what the book takes a second time may be kept as what was read."""
    step = view["next"]
    outside: list[str] = []

    def accept(typed: str) -> Draft | None:
        reading = _reading(telling, step, typed, outside)
        if isinstance(reading, str):
            return _as_it_reads(telling, view, reading, command)
        if reading is None:
            return None
        return events.measured(step["id"], view["role"], reading.value, step["unit"], reading.typed[:60])

    draft = telling.prompt.ask_line(screen, accept, command) or events.cannot_tell(step["id"], view["role"])
    telling.tell(draft)
    if "reading" in draft.data:
        _show_measured(telling)


def _as_it_reads(telling: Telling, view: View, reading: str, command: Command) -> Draft | None:
    """What is kept of a reading that the book has no place for; None where it is typed again."""
    answers = (wording.READS_SO, wording.TYPE_AGAIN)
    chosen = telling.ask(Screen(telling.paper.say, answers, cannot=True, hints="bqh"), command)
    kept = reading[:60] if chosen == 0 else None
    return events.cannot_tell(view["next"]["id"], view["role"], kept) if chosen in (0, CANNOT) else None


def _show_measured(telling: Telling) -> None:
    """What the reading means, with its gauge."""
    told = telling.desk.measured(telling.case_id)
    if told:
        screens.show_measured(telling.paper, told)


def _ask_raw(telling: Telling, view: View, screen: Screen, command: Command) -> None:
    """Ask for the next of the raw readings that a sum wants; with the last one the check is answered."""
    from diagnose.casework.measuring import left_out, measured, noted, take

    step, role = view["next"], view["role"]
    readings = step["check"]["measure"]["readings"]
    check = telling.book.checks[step["id"]]
    place = next((at for at, one in enumerate(readings) if one["told"] is None), len(readings) - 1)
    asked, others = readings[place], [one for at, one in enumerate(readings) if at != place]
    last = all(one["told"] for one in others)

    outside: list[str] = []

    def accept(typed: str) -> Draft | None:
        """The event that a line means; None after saying what is wrong with it."""
        try:
            raw = take(check, asked["id"], typed) if typed or asked["default"] is None else left_out(asked["id"])
            if not last:
                return noted(check, role, raw)
            situation = telling.desk.folded(telling.case_id).situation
            begun = [one for one in situation.begun.get(check.id, ()) if one.key != raw.key]
            return measured(telling.book, check, role, [*begun, raw], situation)
        except InputError as why:
            telling.paper.say(f"{wording.NOT_A_READING}: {why.message} {why.hint}")
            outside.extend([typed] if why.code == OUT_OF_RANGE else [])
            again = why.code == OUT_OF_RANGE and len(outside) > 1
            return _as_it_reads(telling, view, f"{asked['text']} {typed}", command) if again else None

    enter = "" if asked["default"] is None else asked["default"] or wording.ENTER_LEAVES_OUT
    draft = telling.prompt.ask_line(replace(screen, enter=enter), accept, command)
    telling.tell(draft or events.cannot_tell(step["id"], role))
    if draft and last and "reading" in draft.data:
        _show_measured(telling)


def _reading(telling: Telling, step: View, typed: str, outside: list[str]) -> Reading | str | None:
    """The reading in the check's unit, or None after saying what is wrong with it.

    As it was typed where it is `outside` the range, and one before it was.
    """
    from diagnose.bench.units import parse_quantity, show

    measure = step["check"]["measure"]
    try:
        reading = parse_quantity(typed, measure["unit"])
    except InputError as why:
        telling.paper.say(f"{wording.NOT_A_READING}: {why.message} {why.hint}")
        return None
    if measure["from"] <= reading.value <= measure["to"]:
        return reading
    value = show(reading.value, measure["unit"])
    outside.append(typed)
    again = len(outside) > 1
    text = wording.OUTSIDE_AGAIN if again else wording.OUTSIDE
    telling.paper.say(text.format(value=value, range=screens.reading_range(measure)))
    return value if again else None
