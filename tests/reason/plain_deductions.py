"""What follows from what is known of a bike, by plain rounds over the deductions as written.

Cast: `Visit` with `Told` and `Tried` (what is known), `deduce` (which deductions fire, and on what ground), `Effects`
(what they do to the causes) made by `effects`. Nothing of the program is imported.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import NamedTuple

from tests.reason.plain_book import PlainBook, Raw, fraction, is_so, listed, within

PROFILE, MECHANIC, RIDER = -1.0, 0.0, 1.0
"""What a deduction rests on, as the doubt in it, the surest first: a mechanic's answer to a check that is trusted less
than wholly stands between the mechanic and the rider.
"""


@dataclass(frozen=True, slots=True)
class Told:
    """An answer that counts: the value of the check's finding, by whom, and the reading if it was measured.

    `work`: place of the work that has disturbed the finding since: nothing is concluded from the answer any more, but
    while no work from then on has helped it still tells of the cause, until somebody looks anew.
    """

    check: str
    value: str
    by: str
    reading: float | None = None
    work: int | None = None


@dataclass(frozen=True, slots=True)
class Tried:
    """Fixes done together at the stand, for each complaint whether it was gone afterwards, and which were better."""

    fixes: tuple[str, ...]
    gone: Mapping[str, bool]
    better: frozenset[str] = frozenset()

    @property
    def helped(self) -> bool:
        """Whether anything was gone or better."""
        return bool(self.better) or any(self.gone.values())


@dataclass(frozen=True, slots=True)
class Visit:
    """One bike on one visit; `already` are fixes that somebody did before."""

    complaints: tuple[str, ...]
    profile: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    answers: tuple[Told, ...] = ()
    tried: tuple[Tried, ...] = ()
    already: tuple[str, ...] = ()


class Known(NamedTuple):
    """Words under a key, and readings of a check, each with its surest ground."""

    words: dict[tuple[str, str], float]
    readings: dict[tuple[str, float], float]


def spoiled(visit: Visit, told: Told) -> bool:
    """Whether work that disturbed what was told, or came later, has helped: it was of the fault that is mended."""
    return told.work is not None and any(one.helped for one in visit.tried[told.work :])


def telling(book: PlainBook, visit: Visit) -> tuple[Told, ...]:
    """The answers that tell of the cause: on each finding the newest looks, those after all work if there are any."""
    answers = [told for told in visit.answers if not spoiled(visit, told)]
    looks: dict[str, set[int]] = {}
    for told in answers:
        looks.setdefault(book.home[told.check], set()).add(len(visit.tried) if told.work is None else told.work)
    return tuple(
        replace(told, work=None)
        for told in answers
        if max(looks[book.home[told.check]]) == (len(visit.tried) if told.work is None else told.work)
    )


def deduce(book: PlainBook, visit: Visit) -> dict[str, float]:
    """The deductions that fire, each with the surest ground on which it does."""
    known = _given(book, visit)
    fired: dict[str, float] = {}
    changed = True
    while changed:
        changed = False
        for name, deduction in book.deductions.items():
            ground = _ground(deduction["when"], known)
            if ground is None or fired.get(name, RIDER + 1) <= ground:
                continue
            fired[name], changed = ground, True
            for word, value in deduction["then"].get("conclude", {}).items():
                known.words[word, value] = min(ground, known.words.get((word, value), RIDER))
    return fired


def _given(book: PlainBook, visit: Visit) -> Known:
    last = {name: is_gone for one in visit.tried for name, is_gone in one.gone.items()}
    gone = {name for name, is_gone in last.items() if is_gone}
    standing = [name for name in visit.complaints if name not in gone]
    known = Known({("complaint", name): PROFILE for name in standing}, {})
    known.words.update({(fact, value): PROFILE for fact, values in visit.profile.items() for value in values})
    for one in visit.tried:
        if any(not one.gone[name] for name in one.gone if name in standing and name not in one.better):
            known.words.update({("fix-failed", fix): MECHANIC for fix in one.fixes})
    answers = [told for told in visit.answers if told.work is None]
    for place, told in enumerate(answers):
        if told.by == "rider" and any(_says_otherwise(book, later, told) for later in answers[place:]):
            continue
        ground = RIDER if told.by == "rider" else 1 - book.trust(told.check, told.by)
        word = book.home[told.check], told.value
        known.words[word] = min(ground, known.words.get(word, RIDER))
        if told.reading is not None:
            known.readings[told.check, told.reading] = ground
    return known


def _says_otherwise(book: PlainBook, look: Told, word: Told) -> bool:
    """Whether a mechanic's look is trusted more than a rider's word on the same finding, and differs from it."""
    same = book.home[look.check] == book.home[word.check]
    surer = book.trust(look.check, look.by) > book.trust(word.check, word.by)
    return look.by != "rider" and same and look.value != word.value and surer


def _ground(when: Raw, known: Known) -> float | None:
    """The least sure of what the conditions rest on, each at its surest; None where one does not hold."""
    grounds = []
    for key, wanted in when.items():
        if isinstance(wanted, dict):
            met = [
                ground
                for (check, reading), ground in known.readings.items()
                if check == key and all(within(side, float(edge), reading) for side, edge in wanted.items())
            ]
        else:
            met = [known.words[key, value] for value in listed(wanted) if (key, value) in known.words]
        if not met:
            return None
        grounds.append(min(met))
    return max(grounds)


@dataclass(frozen=True, slots=True)
class Effects:
    """What the deductions do: `times` moves a cause's share (by the profile), the rest comes of a mechanic's answer.

    `out` and `into` are the factors of the causes that are ruled out or in: as sure as the answer.
    """

    times: dict[str, float]
    out: dict[str, float]
    into: dict[str, float]


def effects(book: PlainBook, visit: Visit) -> Effects:
    """What the deductions that fire do to the causes; on a rider's word they rule nothing out or in."""
    times: dict[str, float] = {}
    out: dict[str, float] = {}
    into: dict[str, float] = {}
    rule_in = float(book.constants["rule_in"])
    for name, ground in deduce(book, replace(visit, answers=telling(book, visit))).items():
        then = book.deductions[name]["then"]
        moved = [(cause, float(by)) for cause, by in then.get("likelier", {}).items()]
        moved += [(cause, 1 / float(by)) for cause, by in then.get("less_likely", {}).items()]
        if ground == PROFILE:
            moved += [(cause, 0.0) for cause in listed(then.get("rule_out"))]
            moved += [(cause, rule_in) for cause in listed(then.get("rule_in"))]
        elif ground < RIDER:
            if ground == MECHANIC or not _by_one_answer(book, name):
                out.update({cause: min(ground, out.get(cause, 1.0)) for cause in listed(then.get("rule_out"))})
            backing = rule_in * (1 - ground) + ground
            into.update({cause: max(backing, into.get(cause, 1.0)) for cause in listed(then.get("rule_in"))})
        for cause, by in moved:
            times[cause] = times.get(cause, 1.0) * by
    return Effects(times, out, into)


def _by_one_answer(book: PlainBook, name: str) -> bool:
    """Whether a deduction asks for one answer and nothing but profile beside it: the finding's row then rules out."""
    kinds = [key in book.facts for key in book.deductions[name]["when"]]
    answers = [key for key in book.deductions[name]["when"] if key in book.findings]
    return len(answers) == 1 and kinds.count(False) == 1


def prior(book: PlainBook, complaint: str, causes: list[str], times: Mapping[str, float]) -> list[float]:
    """The share of each of these causes, and last of something else, which keeps its own."""
    unknown = fraction(book.complaints[complaint]["something_else"])
    raw = [fraction(book.causes[name]["common_for"][complaint]) * times.get(name, 1.0) for name in causes]
    if sum(raw) == 0:
        return [*raw, 1.0]
    return [*((1 - unknown) * part / sum(raw) for part in raw), unknown]


def impossible(book: PlainBook, visit: Visit, cause: str, finding: str) -> set[str]:
    """Values of a finding that rule the cause out by themselves, given the profile."""
    found: set[str] = set()
    for deduction in book.ruling_out.get(cause, []):
        when = deduction["when"]
        rest = {key: wanted for key, wanted in when.items() if key != finding}
        if finding in when and all(key in book.facts for key in rest) and is_so(rest, visit.profile):
            found.update(listed(when[finding]))
    return found
