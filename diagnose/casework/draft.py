"""A cause that somebody has told of, as rule files and a worked case.

Cast: `Draft` with its `Row`s, `Repair`s and what is new beside the cause; `files_of` gives the text of each file, to be
put into one layout by whoever writes it. What is not known is None or empty, and stands in the text with the mark.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

from diagnose.book.marks import TO_BE_TOLD

GUESSES = {"share": 3, "seen": 70, "also": 3, "other": 10, "cured": 70}
"""Numbers that stand, marked, where none was told."""
SMALL_WORDS = frozenset(
    "a an the of is are was were be been at on in to and or with by for its it has have had do does did this that "
    "their they from into".split()
)
"""Words that an id is better without."""
LONGEST_ID, LONGEST_VALUE = 5, 3
"""Words of an id, and of that of an answer."""
SELDOM = 50
"""What is seen on fewer of 100 bikes is not seen on the bike of the worked case."""
PARTED = re.compile(r"[,;:/(]|\b(?:or|but|because|when|which|so that)\b")
"""Where a text goes on with what an id can do without."""
PARTED_SOON = re.compile(
    PARTED.pattern + r"|\b(?:and|on|onto|in|into|at|under|to|from|with|against|until|by|for|off)\b"
)
"""The same for what is done, and what with: the first words say it."""


class NewLimit(NamedTuple):
    """A number with its unit that no limit of the book has."""

    id: str
    quantity: str
    low: str
    high: str
    unit: str
    kind: str


class NewPart(NamedTuple):
    """A part that the book does not have; its price where it is known."""

    id: str
    name: str
    low: float | None
    high: float | None


class Gauge(NamedTuple):
    """Readings of a new finding: the limit that is their edge, its unit, and whether such a bike reads `less`."""

    limit: str
    unit: str
    less: bool
    edge: float
    most: float

    example: float

    @property
    def told(self) -> str:
        """A reading as such a bike has it."""
        return f"{{reading: {self.example:g} {self.unit}}}"

    @property
    def right(self) -> str:
        """The last reading that is right."""
        return f"{{reading: {self.edge:g} {self.unit}}}"


@dataclass
class NewFinding:
    """Something to look at that the book does not ask for yet: one check, what such a bike shows, what any other."""

    id: str
    check: str
    name: str
    ask: str
    by: str = "mechanic"
    seen: str = ""
    other: str = ""
    seen_value: str = "seen"
    other_value: str = "other"
    minutes: float | None = None
    others: float | None = None
    """Of 100 bikes without this cause those that show the same."""
    more: dict[str, tuple[str, float | None]] = field(default_factory=dict)
    """Further answers: value to its text, and of 100 bikes without this cause those that show it."""
    gauge: Gauge | None = None
    danger: bool = False


class Row(NamedTuple):
    """What is seen: a finding's value, on how many of 100 bikes; `check` is how a worked case has it answered.

    `reading` is what the case says of a check that measures, `usual` what it says where that is not seen; `also` are
    further values, each with how many of 100 such bikes show it.
    """

    finding: str
    value: str
    of_100: float | None
    check: str
    reading: str = ""
    usual: str = ""
    also: tuple[tuple[str, float | None], ...] = ()

    def answer(self, *, seen: bool) -> str:
        """What a worked case says of the check."""
        return (self.reading or _value(self.value)) if seen else self.usual

    @property
    def seldom(self) -> bool:
        """Whether most such bikes do not show it."""
        return self.of_100 is not None and self.of_100 < SELDOM and bool(self.usual)


class Away(NamedTuple):
    """Giving the bike away: class, urgency and reason."""

    receiver: str
    urgency: str
    reason: str


@dataclass
class Repair:
    """A fix: one of the book by its id alone, else a new one with all that belongs to it."""

    id: str
    cured: float | None = None
    known: bool = False
    name: str = ""
    skill: str = "mechanic"
    low: float | None = None
    high: float | None = None
    tools: list[str] = field(default_factory=list)
    parts: list[str] = field(default_factory=list)
    steps: list[str] = field(default_factory=list)
    works_if: str = ""
    if_not: str = ""


@dataclass
class Draft:
    """All that was told of a cause."""

    id: str
    name: str
    in_short: str = ""
    applies: dict[str, tuple[str, ...]] = field(default_factory=dict)
    shares: dict[str, float | None] = field(default_factory=dict)
    rows: list[Row] = field(default_factory=list)
    more_seen: bool = False
    """Whether more is seen than the author could say."""
    settling: Settling | None = None
    repairs: list[Repair] = field(default_factory=list)
    danger: str = "none"
    danger_because: str = ""
    danger_known: bool = True
    basis: str = "memory"
    away: Away | None = None
    stop_when: list[Away] = field(default_factory=list)
    findings: list[NewFinding] = field(default_factory=list)
    limits: list[NewLimit] = field(default_factory=list)
    tools: dict[str, str] = field(default_factory=dict)
    parts: list[NewPart] = field(default_factory=list)
    sentence: str = ""
    profile: dict[str, str] = field(default_factory=dict)
    dangerous_when: DangerousWhen | None = None

    @property
    def two_cases(self) -> bool:
        """Whether a bike that may be ridden and one that may not are two bikes."""
        return self.dangerous_when is not None and self.dangerous_when.row.seldom


class Settling(NamedTuple):
    """What alone proves the cause: the deduction's id, a finding, its values that do, and that in words."""

    id: str
    finding: str
    values: tuple[str, ...]
    told: str


class DangerousWhen(NamedTuple):
    """What makes a bike with this cause dangerous: the deduction's id, a finding's value, and why."""

    id: str
    row: Row
    because: str


class Expected(NamedTuple):
    """What a worked case expects beside the cause on top: ride verdict, next step, first fix; empty: not known yet."""

    ride: str = ""
    step: str = ""
    fix: str = ""


def id_of(text: str, taken: Collection[str], first: str = "", *, short: bool = False) -> str:
    """An id made of the words of a text, that none has yet; `short`: of its first words, if that one is free."""
    kept = [first, *_telling(text, PARTED_SOON if short else PARTED)][: LONGEST_ID + 1]
    name = "-".join(word for word in kept if word)[:60].rstrip("-") or "new"
    return id_of(text, taken, first) if short and name in taken else _free(name, taken)


def value_of(text: str, taken: Collection[str]) -> str:
    """An id of an answer, made of the first words of its text, that no other answer has."""
    return _free("-".join(_telling(text)[:LONGEST_VALUE])[:40].rstrip("-") or "other", taken)


def _telling(text: str, parted: re.Pattern[str] = PARTED) -> list[str]:
    """The words of a text that tell most: up to where it goes on with an or, if there are two before that."""
    plain = unicodedata.normalize("NFKD", text).encode("ascii", "ignore").decode().lower()
    plain = re.sub(r"'s\b", "", plain).replace("'", "")
    words: list[str] = []
    for piece in parted.split(plain):
        every = re.findall(r"[a-z0-9]+", piece)
        words += [word for word in every if word not in SMALL_WORDS]
        if len(words) > 1:
            break
    return words or re.findall(r"[a-z0-9]+", plain)


def _free(name: str, taken: Collection[str]) -> str:
    tried, number = name, 2
    while tried in taken:
        tried, number = f"{name}-{number}", number + 1
    return tried


def files_of(draft: Draft) -> dict[str, str]:
    """The text of every file by its name; those of lists are to be put below what stands there already."""
    found = {f"causes/{draft.id}.yaml": "\n".join(_cause(draft)) + "\n"}
    if draft.findings:
        found["findings.yaml"] = "".join(_finding(draft, one) for one in draft.findings)
    if draft.settling or draft.dangerous_when:
        found["deductions.yaml"] = _settled(draft) + _deduction(draft.dangerous_when, draft.basis)
    if draft.limits:
        found["limits.yaml"] = "".join(_limit(draft, one) for one in draft.limits)
    if draft.tools:
        found["tools.yaml"] = "".join(f"{name}: {_q(text)}\n" for name, text in draft.tools.items())
    if draft.parts:
        found["parts.yaml"] = "".join(_part(one) for one in draft.parts)
    return found


def _applies(draft: Draft) -> str:
    """On which bikes only: of the cause, and of what is looked at for its sake."""
    return "applies: {" + ", ".join(f"{fact}: {_values(values)}" for fact, values in draft.applies.items()) + "}"


def _values(values: Sequence[str]) -> str:
    """One value, or a list of several."""
    written = [_value(value) for value in values]
    return written[0] if len(written) == 1 else f"[{', '.join(written)}]"


def case_of(draft: Draft, expected: Expected, *, dangerous: bool = False) -> str:
    """The worked case: a bike as most are, or one that shows what makes it dangerous."""
    when = draft.dangerous_when if dangerous else None
    sentence = f"{draft.sentence.rstrip('.')}. Not to be ridden: {when.because}" if when else draft.sentence
    lines = [f"case: {_q(sentence) if draft.sentence else _q(TO_BE_TOLD)}"]
    bike = {fact: values[0] for fact, values in draft.applies.items()} | draft.profile
    profile = ", ".join(f"{fact}: {_value(value)}" for fact, value in bike.items())
    lines += [f"profile: {{{profile}}}", f"complaints: [{next(iter(draft.shares))}]"]
    if draft.rows:
        lines += ["answers:"]
    for row in draft.rows:
        seen = not row.seldom or (when is not None and row.finding == when.row.finding)
        lines += [f"  {row.check}: {row.answer(seen=seen)}"]
    lines += ["expect:", f"  top: {draft.id}"]
    lines += [f"  ride: {expected.ride}"] if expected.ride else [f"  ride: care  # {TO_BE_TOLD}"]
    lines += [f"  next: {expected.step}"] if expected.step else [f"  next: hand-off  # {TO_BE_TOLD}"]
    lines += [f"  plan_order: [{expected.fix}]"] if expected.fix and expected.fix != expected.step else []
    return "\n".join(lines) + "\n"


def _cause(draft: Draft) -> Iterator[str]:
    yield f"name: {_text(draft.name)}"
    yield f"in_short: {_text(draft.in_short)}"
    if draft.applies:
        yield _applies(draft)
    yield "common_for:"
    for complaint, share in draft.shares.items():
        yield f"  {complaint}: " + _marked(share, "share", "in 100", "of 100 bikes that come with this, how many")
    yield f"basis: {draft.basis}"
    more = f"  # {TO_BE_TOLD} what else is seen on such a bike" if draft.more_seen else ""
    yield f"shows:{more}" if draft.rows else f"shows: {{}}  # {TO_BE_TOLD} what is seen on such a bike"
    for row in draft.rows:
        yield f"  {row.finding}: {_shown(row)}"
    known = "" if draft.danger_known else f"  # {TO_BE_TOLD} is it dangerous: none, care or stop"
    yield f"danger: {draft.danger}{known}"
    if draft.danger != "none":
        yield f"danger_because: {_text(draft.danger_because)}"
    yield from _repairs(draft)
    if draft.stop_when:
        yield "hand_off_when:"
        yield from (f"  - {_away(one)}" for one in draft.stop_when)
    if draft.away:
        yield f"hand_off: {_away(draft.away)}"


def _shown(row: Row) -> str:
    """The values that are seen, and on how many of 100 such bikes."""
    told = [(row.value, row.of_100, "seen"), *((value, often, "also") for value, often in row.also)]
    texts = [f"{_value(value)}: {GUESSES[guess] if often is None else often:g} %" for value, often, guess in told]
    known = all(often is not None for _, often, _ in told)
    return f"{{{', '.join(texts)}}}" + ("" if known else f"  # {TO_BE_TOLD} on how many of 100 such bikes")


def _repairs(draft: Draft) -> Iterator[str]:
    new = sorted((one for one in draft.repairs if not one.known), key=_cured)
    old = [one for one in draft.repairs if one.known]
    if new:
        yield "ladder:"
    last = 0.0
    for one in new:
        last = max(_cured(one), last + 1)
        told = "" if one.cured is not None else f"  # {TO_BE_TOLD} of 100 such bikes, how many are well then"
        yield f"  - fix: {one.id}"
        yield f"    name: {_text(one.name)}"
        yield f"    cured: {min(last, 99):g} in 100{told}"
        yield f"    skill: {one.skill}"
        low, high = one.low or 5, max(one.high or 20, one.low or 5)
        unknown = "" if one.low and one.high else f"  # {TO_BE_TOLD} how long it takes"
        yield f"    minutes: {{low: {low:g}, high: {high:g}}}{unknown}"
        if one.tools:
            yield f"    tools: [{', '.join(one.tools)}]"
        if one.parts:
            yield "    parts: {" + ", ".join(f"{part}: 1" for part in one.parts) + "}"
        yield "    steps:"
        yield from (f"      - {_text(step)}" for step in one.steps or [TO_BE_TOLD])
        yield f"    works_if: {_text(one.works_if)}"
        yield f"    if_not: {_text(one.if_not)}"
    if old:
        yield "also_by:"
    for one in old:
        told = "" if one.cured is not None else f"  # {TO_BE_TOLD} of 100 such bikes, how many are well then"
        yield f"  - {{fix: {one.id}, cured: {_cured(one):g} in 100}}{told}"


def _cured(one: Repair) -> float:
    return one.cured if one.cured is not None else GUESSES["cured"]


def _away(one: Away) -> str:
    return f"{{class: {one.receiver}, urgency: {one.urgency}, reason: {_text(one.reason)}}}"


def _part(one: NewPart) -> str:
    low = one.low if one.low is not None else 1
    high = max(low, one.high if one.high is not None else 10 * low or 1)
    mark = "" if one.low is not None and one.high is not None else f"  # {TO_BE_TOLD} what it costs"
    return f"{one.id}: {{name: {_text(one.name)}, price: {{low: {low:g}, high: {high:g}}}}}{mark}\n"


def _finding(draft: Draft, one: NewFinding) -> str:
    known = one.others is not None and all(often is not None for _, often in one.more.values())
    others = GUESSES["other"] if one.others is None else one.others
    often = {one.seen_value: others, **{value: 1 if told is None else told for value, (_, told) in one.more.items()}}
    mark = "" if known else f"  # {TO_BE_TOLD} of 100 other bikes, how many show it too"
    minutes = "1" if one.minutes is None else f"{one.minutes:g}"
    long = "" if one.minutes is not None else f"  # {TO_BE_TOLD} how many minutes it takes"
    texts = {
        one.other_value: one.other,
        one.seen_value: one.seen,
        **{value: text for value, (text, _) in one.more.items()},
    }
    ask = one.ask if one.ask.strip(" ?") else TO_BE_TOLD
    ended = ask if ask.endswith((".", "?", "!")) else f"{ask}."
    ask = f"{ended} It should be {{{one.gauge.limit}}}." if one.gauge else ask
    danger = "      danger: yes\n" if one.danger else ""
    applies = f"  {_applies(draft)}\n" if draft.applies else ""
    return (
        f"{one.id}:\n"
        f"  name: {_text(one.name)}\n"
        f"  asked_for: [{', '.join(draft.shares)}]\n"
        f"  values: {{{', '.join(f'{_value(value)}: {_text(text)}' for value, text in texts.items())}}}\n"
        f"  otherwise: {{{', '.join(f'{_value(value)}: {number:g} %' for value, number in often.items())}}}{mark}\n"
        f"  basis: {draft.basis}\n"
        f"{applies}  checks:\n"
        f"    {one.check}:\n"
        f"      ask: {_text(ask)}\n"
        f"      by: {one.by}\n"
        f"      minutes: {minutes}{long}\n"
        f"{danger}{_readings(one, one.gauge) if one.gauge else ''}"
    )


def _settled(draft: Draft) -> str:
    one = draft.settling
    if one is None:
        return ""
    because = f"{one.told[:1].upper()}{one.told[1:].rstrip('.')}. Nothing else looks like that."
    return (
        f"{one.id}:\n  when: {{{one.finding}: {_values(one.values)}}}\n  then: {{rule_in: [{draft.id}]}}\n"
        f"  because: {_text(because)}\n  basis: {draft.basis}\n"
    )


def _deduction(one: DangerousWhen | None, basis: str) -> str:
    if one is None:
        return ""
    return (
        f"{one.id}:\n  when: {{{one.row.finding}: {_value(one.row.value)}}}\n  then: {{danger: stop}}\n"
        f"  because: {_text(one.because)}\n  basis: {basis}\n"
    )


def _readings(one: NewFinding, gauge: Gauge) -> str:
    edge = f"{gauge.limit}.{'low' if gauge.less else 'high'}"
    wrong, right = ("below", "from") if gauge.less else ("above", "up_to")
    return (
        f"      measure: {{unit: {_unit(gauge.unit)}, from: 0, to: {gauge.most:g}}}\n"
        f"      bands:\n"
        f"        {_value(one.seen_value)}: {{{wrong}: {edge}}}\n"
        f"        {_value(one.other_value)}: {{{right}: {edge}}}\n"
    )


def _limit(draft: Draft, one: NewLimit) -> str:
    ends = "".join(f"  {end}: {number}\n" for end, number in (("low", one.low), ("high", one.high)) if number)
    source = f'  source: "{TO_BE_TOLD}"\n' if draft.basis in ("standard", "handbook", "maker") else ""
    return (
        f"{one.id}:\n  quantity: {_text(one.quantity)}\n{ends}  unit: {_unit(one.unit)}\n  kind: {one.kind}\n"
        f"  basis: {draft.basis}\n{source}"
    )


def _marked(number: float | None, guess: str, unit: str, question: str) -> str:
    told = f"{number if number is not None else GUESSES[guess]:g} {unit}"
    return told if number is not None else f"{told}  # {TO_BE_TOLD} {question}"


def _text(text: str) -> str:
    return _q(text if text.strip(" ?") else TO_BE_TOLD)


def _unit(unit: str) -> str:
    return _q(unit) if not unit.isascii() or not unit.isalpha() else unit


def _value(value: str) -> str:
    """An id of a value; one that YAML could take for something else stands in quotes, as everywhere in the book."""
    return _q(value) if value in ("yes", "no", "on", "off", "true", "false", "null") or value.isdigit() else value


def _q(text: str) -> str:
    return '"' + text.replace("\\", "\\\\").replace('"', '\\"') + '"'
