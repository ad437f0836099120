"""Things of the book in plain words: conditions, how often, numbers, places.

Cast: one function for each kind of phrase; `show` and its neighbours put them together.
"""

from __future__ import annotations

from pathlib import Path

from diagnose.bench.units import show, show_range
from diagnose.book.conditions import INLINE_LIMIT
from diagnose.book.model import (
    Book,
    Cause,
    Check,
    Complaint,
    Condition,
    Deduction,
    Finding,
    Fix,
    HandOff,
    Limit,
    Measure,
    Teardown,
    Volume,
    When,
)
from diagnose.book.reckoning import asked_of
from diagnose.errors import Location
from diagnose.front.wording import BASIS

Named = Cause | Complaint | Finding | Fix | Teardown
DANGER = {"none": "No danger by itself.", "care": "Ride with care only.", "stop": "Do not ride."}
NORMAL = "Normal: nothing is wrong, it is shown and explained."
BY = {"rider": "a rider can answer it", "mechanic": "for a mechanic"}
SKILL = {"rider": "an able rider can do it", "mechanic": "work for a mechanic"}


def place(where: Location | None) -> str:
    """File and line, the file as seen from here where it lies below."""
    if where is None:
        return ""
    path = Path(where.file)
    if path.is_absolute() and path.is_relative_to(Path.cwd()):
        path = path.relative_to(Path.cwd())
    return f"{path.as_posix()}:{where.line}"


def title(volume: Volume) -> str:
    """A folder of rules by its title; an own one also by what stands before its ids."""
    return f"{volume.title} ({volume.id})" if volume.adds_to else volume.title


def source(book: Book, name: str) -> str:
    """Which folder of rules a thing comes from, by its id."""
    return title(book.volume_of(name))


def place_and_source(book: Book, name: str, where: Location | None) -> str:
    """File and line, and of a thing of an own folder which one."""
    return f"{place(where)}; from {source(book, name)}" if book.volume_of(name).adds_to else place(where)


def minutes(low: float, high: float | None = None) -> str:
    """Minutes, or a range of them."""
    return f"{low:g} min" if high is None or high == low else f"{low:g} to {high:g} min"


def often(written: str, chance: float) -> str:
    """How often: as so many of 100, after the author's word or count where it was no plain percentage."""
    word = " ".join(written.split())
    return of_100(chance) if word.endswith("%") else f"{word}, {of_100(chance)}"


def of_100(chance: float) -> str:
    """A chance as so many of 100."""
    return f"{100 * chance:.0f} of 100" if 0.01 <= chance <= 0.99 or chance in (0, 1) else f"{100 * chance:.1f} of 100"


def condition(book: Book, when: Condition) -> str:
    """Facts of the bike with the values that count."""
    return "; ".join(
        f"{book.facts[fact].name}: {one_of(book.facts[fact].values, any_of)}" for fact, any_of in when.items()
    )


def one_of(values: dict[str, str], any_of: tuple[str, ...]) -> str:
    """Values in words, with `or` between them."""
    return " or ".join(f'"{values[value]}"' for value in any_of)


def only_for(book: Book, when: Condition) -> str:
    """A sentence saying for which bikes something counts; empty for all."""
    return f"Only for bikes with {condition(book, when)}." if when else ""


def number(limit: Limit, low: float | None, high: float | None) -> str:
    """A limit's numbers with their unit."""
    return "no number" if low is None and high is None else show_range(low, high, limit.unit, limit.kind)


def filled(book: Book, text: str) -> str:
    """A sentence with its limits' usual numbers put in."""

    def put_in(name: str) -> str:
        limit = book.limits[name]
        return number(limit, limit.low, limit.high)

    return INLINE_LIMIT.sub(lambda match: put_in(match[1]), text) if "{" in text else text


def figure(limit: Limit) -> str:
    """A limit in one line."""
    return f"{limit.quantity}: {number(limit, limit.low, limit.high)} ({BASIS[limit.basis]})"


def readings(book: Book, measure: Measure, value: str) -> str:
    """The readings that mean a value of the finding."""
    for band in measure.bands:
        if band.value == value:
            ends = []
            for edge, closed, word, open_word in (
                (band.start, not band.start_open, "from", "above"),
                (band.stop, not band.stop_open, "up to", "below"),
            ):
                if edge and edge.limit:
                    limit = book.limits[edge.limit]
                    usual = limit.low if edge.end == "low" else limit.high
                    end = "no number" if usual is None else show(usual, limit.unit)
                    ends.append(f"{word if closed else open_word} {end} ({edge.limit}.{edge.end})")
                elif edge and edge.number is not None:
                    ends.append(f"{word if closed else open_word} {show(edge.number, measure.unit)}")
            return ", ".join(ends)
    return "no reading means this"


def how_to_look(book: Book, check: Check) -> str:
    """What a check takes: minutes, who, tools, what is opened."""
    parts = [minutes(check.minutes), BY[check.by]]
    if check.tools:
        parts.append("with " + ", ".join(book.tools[tool] for tool in check.tools))
    if check.teardown:
        parts.append(book.teardowns[check.teardown].name + " first")
    if check.measure:
        low, high = check.measure.low, check.measure.high
        parts.append(f"a reading from {low:g} to {show(high, check.measure.unit)}")
    if check.danger:
        parts.append("guards against riding a dangerous bike")
    return "; ".join(parts)


def made_of(book: Book, check: Check) -> list[str]:
    """What a sum asks for at a check, and what the book supplies."""
    working = check.measure.working if check.measure else None
    if working is None:
        return []
    asks = [f"asked: {filled(book, one.text)} ({one.key})" for one in asked_of(working, book, {}, {})]
    return asks + [
        f"{key}: {supply.typed or '.'.join(part for part in (supply.source, supply.part) if part)}"
        for key, supply in working.supplies.items()
    ]


def condition_of_rule(book: Book, when: When) -> str:
    """One condition of a deduction."""
    if when.key == "complaint":
        return "the complaint is " + " or ".join(f'"{book.complaints[name].name}"' for name in when.any_of)
    if when.key == "fix-failed":
        return "tried here without success: " + " or ".join(book.fixes[name].name for name in when.any_of)
    if when.key in book.checks:
        ends = (("at least", when.at_least), ("above", when.above), ("below", when.below), ("up to", when.up_to))
        unit = measure.unit if (measure := book.checks[when.key].measure) else "count"
        told = " and ".join(f"{word} {show(end, unit)}" for word, end in ends if end is not None)
        return f'the reading at "{filled(book, book.checks[when.key].ask)}" is {told}'
    for known in (book.facts, book.findings, book.words):
        if when.key in known:
            thing = known[when.key]
            return f"{thing.name}: {one_of(thing.values, when.any_of)}"
    return when.key


def conclusions(book: Book, deduction: Deduction) -> list[str]:
    """What a deduction concludes, a sentence each."""
    told = [f"{book.words[word].name}: {book.words[word].values[value]}." for word, value in deduction.conclude.items()]
    told += [f"Rules out: {named(book.causes[cause])}." for cause in deduction.rule_out]
    times = f"{book.constants.rule_in:g} times likelier"
    told += [f"As good as proves, {times}: {named(book.causes[cause])}." for cause in deduction.rule_in]
    for cause, factor in deduction.likelier.items():
        how = f"{factor:g} times likelier" if factor >= 1 else f"{1 / factor:g} times less likely"
        told.append(f"{how[:1].upper()}{how[1:]}: {named(book.causes[cause])}.")
    if deduction.danger:
        told.append(DANGER[deduction.danger])
    told += [f"Caution: {book.cautions[caution]}" for caution in deduction.cautions]
    if deduction.hand_off:
        told.append(hand_off(book, deduction.hand_off))
    told += [
        f'To be done first of all, in this order: "{filled(book, book.checks[check].ask)}" ({check}).'
        for check in deduction.demand[: deduction.first]
    ]
    told += [
        f'To be done before anything else: "{filled(book, book.checks[check].ask)}" ({check}).'
        for check in deduction.demand[deduction.first :]
    ]
    told += [
        f'To be done last, before it is ridden: "{filled(book, book.checks[check].ask)}" ({check}).'
        for check in deduction.before_riding
    ]
    told += [f'Asks for: "{book.facts[fact].ask}"' for fact in deduction.ask]
    told += [f'Asks last, before it is ridden: "{book.facts[fact].ask}"' for fact in deduction.ask_last]
    told += [
        f"{extra.level.capitalize()} be done whatever it is: {named(book.fixes[extra.fix])}."
        for extra in deduction.also
    ]
    return told


def named(thing: Named) -> str:
    """A thing's name with its id."""
    return f"{thing.name} ({thing.id})"


def hand_off(book: Book, given: HandOff) -> str:
    """A hand-off in one sentence."""
    when = f" Where {condition(book, given.when)}." if given.when else ""
    return f"To {book.receivers[given.receiver].to}, {given.urgency}:{when} {filled(book, given.reason)}"
