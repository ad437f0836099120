"""What is seen on a bike that has a new cause, and by what it is told from others.

Cast: `Seen` asks: `rows` for findings, those of the book or new ones, `alike` for causes that look like it, `settling`
for what alone proves it.
"""

from __future__ import annotations

import re

from diagnose.book.model import Cause, Check, Finding
from diagnose.book.shape import NUMBER_WITH_UNIT
from diagnose.casework.draft import SELDOM, Gauge, NewFinding, NewLimit, Row, Settling, value_of
from diagnose.casework.speech import stems
from diagnose.casework.words import match_causes, match_findings
from diagnose.front.rulebook.interview import UNKNOWN
from diagnose.front.rulebook.newnotes import Notes, no_number, unit_in

LOOKED_AT = "What is looked at or felt there, whatever the answer is? A few words, such as: play at the headset."
HOW_ASKED = "How do you ask for it, so that somebody can look and answer?"
MEASURED = 2
"""Place of "by measuring" among the ways to answer."""
MOST_MATCHES = 30
"""Findings that are looked through for those that such a bike can show."""
ANSWERS_SHOWN = 2
"""Answers of a finding that are named where several findings are offered."""
SELDOM_ELSE, SELDOM_HERE = 1, 10
"""What more of 100 other bikes show, or fewer of 100 such bikes as a further answer, is not taken for a proof."""
APART = 0.3
"""A value is shown so much oftener, or more rarely, of one before it tells two causes apart."""


class Seen:
    """Asks what is seen, and keeps it in the notes."""

    def __init__(self, notes: Notes) -> None:
        self.notes = notes
        self.ask_for, self.book, self.draft = notes.ask_for, notes.book, notes.draft
        self._looked_for: set[str] = set()

    def rows(self) -> None:
        """Ask until nothing more is seen."""
        question = "What would you see, hear, feel or measure on such a bike? A few words; empty: that is all."
        while True:
            typed, found = self.ask_for.pick(question, (), _in_short, self._shown, self._known, open_end=True)
            if typed == UNKNOWN:
                self.draft.more_seen = True
                self.notes.paper.say("Marked, to be told later.", indent=2)
                return
            if found:
                self._row(found[0])
            elif typed:
                self._new_finding(typed)
            else:
                return
            question = "What else would you see? Empty: that is all."

    def _known(self, typed: str) -> list[Finding]:
        """What the book has of it and can be seen on such a bike, that of the complaints first."""
        self._looked_for = set(stems(typed))
        found = match_findings(self.book, typed, tuple(self.draft.shares), most=MOST_MATCHES)
        return [one for one, _ in found if self._fits_bike(one)]

    def _shown(self, finding: Finding) -> str:
        """A finding with the answers that were looked for; of many others the first only."""
        texts = list(finding.values.values())
        if len(texts) <= ANSWERS_SHOWN:
            return _in_short(finding)
        meant = sorted(texts, key=lambda text: -len(self._looked_for & set(stems(text))))[:ANSWERS_SHOWN]
        return f"{finding.name}: {' / '.join(text for text in texts if text in meant)} / ..."

    def _fits_bike(self, finding: Finding) -> bool:
        told = self.draft.applies
        return all(fact not in told or set(told[fact]) & set(values) for fact, values in finding.applies.items())

    def _causes(self, typed: str) -> list[Cause]:
        return [one for one, _ in match_causes(self.book, typed, tuple(self.draft.shares))]

    def _row(self, finding: Finding) -> None:
        values = list(finding.values)
        chosen = self.ask_for.choose(f"{finding.name}: what is seen on such a bike?", list(finding.values.values()))
        if not chosen:
            return
        value = values[chosen[0]]
        of_100 = self.ask_for.number("On how many of 100 such bikes?", 0, 100)
        check = _best_check(finding)
        self._need_bike({**finding.applies, **check.applies})
        usual = max(
            (one for one in values if one != value), key=lambda one: finding.otherwise.chances[values.index(one)]
        )
        self._add(Row(finding.id, value, of_100, check.id, usual=usual))

    def _need_bike(self, applies: dict[str, tuple[str, ...]]) -> None:
        """The bike of the worked case is one on which this can be seen."""
        for fact, values in applies.items():
            if fact not in self.draft.applies:
                self.draft.profile.setdefault(fact, values[0])

    def _add(self, row: Row) -> None:
        self.draft.rows = [*(one for one in self.draft.rows if one.finding != row.finding), row]

    def _new_finding(self, typed: str) -> None:
        self.notes.paper.say("Then it is a new question. Empty: leave it out.")
        name = self.ask_for.text(LOOKED_AT, no_number, empty=True)
        ask = name and self.ask_for.text(HOW_ASKED, no_number, empty=True)
        if not ask:
            return
        name = typed if name == UNKNOWN else name
        by = self.ask_for.choose(
            "Who can answer?",
            ["the rider, by looking or remembering", "a mechanic", "a mechanic, by measuring"],
            empty="",
        )
        finding = self.notes.new_id(name)
        new = NewFinding(finding, self.notes.new_id(name, "ask" if by == [0] else "look"), name, ask)
        new.by = "rider" if by == [0] else "mechanic"
        new.gauge = self._gauge(name) if by == [MEASURED] else None
        new.other = self.ask_for.text("The ordinary answer, on any other bike, in a few words?", no_number)
        new.seen = self.ask_for.text("And the answer on such a bike, in a few words?", no_number)
        new.other_value = value_of(new.other.strip("?") or "other", [])
        new.seen_value = value_of(new.seen.strip("?") or "seen", [new.other_value])
        of_100 = self.ask_for.number("On how many of 100 such bikes is it seen?", 0, 100)
        new.others = self.ask_for.number("And on how many of 100 other bikes with this complaint?", 0, 100)
        also = () if new.gauge else self._further(new, of_100 or 0)
        new.minutes = self.ask_for.number("How many minutes does it take to look?", 0.1, 120)
        self.draft.findings.append(new)
        readings = (new.gauge.told, new.gauge.right) if new.gauge else ("", new.other_value)
        self._add(Row(finding, new.seen_value, of_100, new.check, *readings, also))

    def _further(self, new: NewFinding, of_100: float) -> tuple[tuple[str, float | None], ...]:
        """Answers that are neither that of such a bike nor the ordinary one, with how many such bikes show them."""
        question = "Is there a third answer, in a few words? Empty: no."
        also: dict[str, float | None] = {}
        while (typed := self.ask_for.text(question, no_number, empty=True)) not in ("", UNKNOWN):
            value = value_of(typed, [new.seen_value, new.other_value, *new.more])
            left = 100 - of_100 - sum(often or 0 for often in also.values())
            also[value] = self.ask_for.number("On how many of 100 such bikes?", 0, max(left, 0))
            left = 100 - (new.others or 0) - sum(often or 0 for _, often in new.more.values())
            often = self.ask_for.number("And on how many of 100 other bikes with this complaint?", 0, max(left, 0))
            new.more[value] = (typed, often)
            question = "And another answer? Empty: no."
        return tuple(also.items())

    def _gauge(self, name: str) -> Gauge | None:
        """Which readings are right; None where that is not known: then it is a question like others."""
        edge = self.ask_for.text("Which reading is the last that is right? With its unit, such as 3 mm.", _no_reading)
        found = NUMBER_WITH_UNIT.search(edge)
        if not found:
            return None
        number = float(re.findall(r"\d+(?:[.,]\d+)?", found[0])[0].replace(",", "."))
        unit = unit_in(found[0])
        example = self._wrong_reading(number, unit)
        less = example < number
        least = max(number, example)
        most = self.ask_for.number(f"The largest reading that there can be, in {unit}?", least, 100_000)
        limit = NewLimit(
            self.notes.new_id(name, "limit"),
            name,
            f"{number:g}" if less else "",
            "" if less else f"{number:g}",
            unit,
            "minimum" if less else "maximum",
        )
        self.draft.limits.append(limit)
        return Gauge(limit.id, limit.unit, less, number, most if most and most > number else 3 * least, example)

    def _wrong_reading(self, edge: float, unit: str) -> float:
        """A reading that such a bike may have, on the wrong side of the edge."""
        while True:
            told = self.ask_for.number(f"And what does such a bike read, in {unit}? One reading.", 0, 100_000)
            if told != edge:
                return told if told is not None else 2 * edge
            self.notes.paper.say("That is still right, you said. Which one is wrong?", indent=2)

    def alike(self) -> None:
        """Ask what else looks like it, and by what it is told from that."""
        self.notes.paper.head("What else looks like it?")
        question = "Another cause that looks like it, in a few words; empty: none."
        while True:
            typed, found = self.ask_for.pick(question, (), lambda one: f"{one.name}: {one.in_short}", rank=self._causes)
            if not typed:
                return
            question = "And another? Empty: no more."
            if found:
                self._tell_from(found[0])

    def _tell_from(self, cause: Cause) -> None:
        apart = [row for row in self.draft.rows if self._parts(row, cause)]
        if apart:
            texts = [self._name_of(row) for row in apart]
            self.notes.paper.say(f"{cause.name}: told apart by {'; '.join(texts)}.", indent=2)
            return
        self.notes.paper.say(f"Nothing that you told so far tells yours from {cause.name}.", indent=2)
        self.rows()

    def _parts(self, row: Row, cause: Cause) -> bool:
        """Whether what is seen with this cause is seen much more rarely, or much oftener, with the other."""
        if row.finding not in self.book.findings:
            return True
        finding = self.book.findings[row.finding]
        chances = cause.shows.get(row.finding, finding.otherwise).chances
        mine = 0.7 if row.of_100 is None else row.of_100 / 100
        return abs(mine - chances[list(finding.values).index(row.value)]) >= APART

    def settling(self) -> None:
        """Ask which new look, if any, proves the cause by itself: one that hardly any other bike shows."""
        new = {one.id: one for one in self.draft.findings}
        rows = [row for row in self.draft.rows if row.finding in new and _proves(row, new[row.finding])]
        looks = [self._settled_by(row, new[row.finding]) for row in rows]
        if not looks:
            return
        question = "Does one of these settle it by itself, whatever else is likely?"
        chosen = self.ask_for.choose(question, [one.told for one in looks], empty="no, none of them")
        if chosen:
            one = looks[chosen[0]]
            self.draft.settling = one._replace(id=self.notes.new_id(one.told, "sure"))

    def _settled_by(self, row: Row, look: NewFinding) -> Settling:
        """A look with all answers that prove the cause."""
        also = [value for value, often in row.also if _proof(often, look.more[value][1], SELDOM_HERE)]
        told = "; or ".join([self.told(row), *(look.more[value][0] for value in also)])
        return Settling("", row.finding, (row.value, *also), told)

    def told(self, row: Row) -> str:
        """A row in words: what is looked at, and what is seen."""
        new = next((one for one in self.draft.findings if one.id == row.finding), None)
        seen = new.seen if new else self.book.findings[row.finding].values[row.value]
        return f"{self._name_of(row)}: {seen}"

    def _name_of(self, row: Row) -> str:
        if row.finding in self.book.findings:
            return self.book.findings[row.finding].name
        return next(one.name for one in self.draft.findings if one.id == row.finding)


def _proves(row: Row, new: NewFinding) -> bool:
    """Whether many such bikes show it and hardly any other."""
    return new.seen != UNKNOWN and _proof(row.of_100, new.others, SELDOM)


def _proof(of_100: float | None, others: float | None, least: float) -> bool:
    """Whether at least so many such bikes show it, and hardly any other; not where either is not known."""
    return of_100 is not None and others is not None and of_100 >= least and others <= SELDOM_ELSE


def _in_short(finding: Finding) -> str:
    return f"{finding.name}: {' / '.join(finding.values.values())}"


def _best_check(finding: Finding) -> Check:
    """The way to look that takes least: nothing opened, nothing done before it, the quickest."""
    return min(finding.checks, key=lambda one: (one.teardown is not None, bool(one.needs), one.minutes, one.id))


def _no_reading(text: str) -> str:
    found = NUMBER_WITH_UNIT.search(text)
    return "" if found and unit_in(found[0]) else "A number with a metric unit is wanted, or ? where you do not know."
