"""`diagnose rules new`: a mechanic's questions about a cause become rule files and a worked case.

Cast: `command`; `_Author` asks line by line (see `interview`) and fills a `Draft`; `newfiles.Place` is where it is
written and tried.
"""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING

import click

from diagnose.bench.units import UNITS, unit_of
from diagnose.book.marks import TO_BE_TOLD
from diagnose.book.model import Book, Cause, Check, Finding, Limit
from diagnose.book.shape import NUMBER_WITH_UNIT
from diagnose.casework.draft import Away, Draft, Gauge, NewFinding, NewLimit, NewPart, Repair, Row, id_of
from diagnose.casework.words import match_complaints
from diagnose.errors import InputError
from diagnose.front.options import rules_option
from diagnose.front.paper import Paper
from diagnose.front.rulebook import phrases
from diagnose.front.rulebook.interview import UNKNOWN, Back, Interview
from diagnose.front.rulebook.newfiles import Place, Tried

if TYPE_CHECKING:
    from collections.abc import Iterator

OURS = Path("ours/rules")
BASES = {"what workshops commonly do": "common practice", "my own memory": "memory", "a handbook": "handbook"}
DANGERS = {"no": "none", "ride with care": "care", "do not ride": "stop"}
URGENCIES = ("before riding", "soon", "when convenient")
KINDS = {"to be met": "target", "never above": "maximum", "never below": "minimum"}
MEASURED = 2
"""Place of "by measuring" among the ways to answer."""
APART = 0.3
"""A value is shown so much oftener, or more rarely, of one before it tells two causes apart."""
MORE = 3
"""How often more is asked for where the case does not put the cause on top."""


@click.command()
@click.argument("folder", type=click.Path(path_type=Path), default=OURS)
@rules_option
@click.option("--plain", is_flag=True, help="ASCII only.")
def command(folder: Path, rules: tuple[Path, ...], plain: bool) -> int:
    """Ask about a new cause and write its file, with what else it needs, and a worked case.

    FOLDER is a folder of your own beside the book (ours/rules when left out; it is made if it is not there), or a
    system's folder in a book. Answers are lines: typed, or from a file. `?` stands for what you do not know: it is
    marked in the file, and `diagnose rules check` points at the marks. `<` goes back to the question before.

    Exit 0 when the files pass the check and the case holds, else 1.

    Example: diagnose rules new
    """
    paper = Paper(plain=True if plain else None)
    place = Place.of(folder, rules)
    interview = Interview(paper)
    while True:
        author = _Author(interview, place.book)
        try:
            author.ask()
            tried = author.write(place)
        except Back:
            place.take_back()
            interview.rewind()
        except (KeyboardInterrupt, EOFError):
            place.take_back()
            paper.say()
            paper.say("Left. Nothing was written.")
            return 1
        else:
            return _say_end(paper, place, author.draft, tried)


def _say_end(paper: Paper, place: Place, draft: Draft, tried: Tried) -> int:
    paper.head("Written")
    for path in place.written:
        paper.item("-", path.as_posix())
    if tried.marks:
        paper.say(f"What you did not know is marked {TO_BE_TOLD}; the check points at it:")
    for line in tried.marks:
        paper.item("-", line)
    for line in tried.problems:
        paper.say(line, hang=4)
    if tried.top:
        paper.say(tried.top)
    paper.say(f"The check: diagnose rules check {place.root.as_posix()}")
    paper.say(f"The case: diagnose replay {place.case_path(draft).as_posix()}{place.option}")
    paper.say(f"What it changes: diagnose rules compare {place.cause_path(draft).as_posix()}")
    return 0 if tried.holds and not tried.errors else 1


class _Author:
    """Asks for everything and keeps it in the draft."""

    def __init__(self, interview: Interview, book: Book) -> None:
        self.ask_for = interview
        self.book = book
        self.draft = Draft("", "")
        self.taken = set(_ids(book))

    @property
    def paper(self) -> Paper:
        """Where it is written, while answers are taken again nowhere."""
        return self.ask_for.paper

    def ask(self) -> None:
        """All questions, in a mechanic's order."""
        self.paper.say("One answer a line. Empty: none, or no more. ?: I do not know; it is marked, to be told later.")
        self.paper.say("<: back to the question before. Ctrl-C: leave, and nothing is written.")
        self._what()
        self._complaints()
        self.paper.head("What would you see?")
        self._rows()
        self._alike()
        self.paper.head("How do you fix it, and how do you prove it?")
        self._repairs()
        self._danger()
        self._case()

    def write(self, place: Place) -> Tried:
        """Write the files and try the case; more is asked for while another cause comes out on top."""
        tried = place.write(self.draft)
        for _ in range(MORE):
            if tried.on_top or self.ask_for.ended or not tried.rival:
                break
            self.paper.say(tried.top)
            self.paper.say(f"What would you see with yours and not with that: {tried.rival}?")
            before = len(self.draft.rows)
            self._rows()
            if len(self.draft.rows) == before:
                break
            tried = place.write(self.draft)
        return tried

    # --- what, and for which complaint -------------------------------------------------------------------------------

    def _what(self) -> None:
        self.paper.head("What is it?")
        name = self.ask_for.text("What is wrong, in a few words?", _no_number)
        if name == UNKNOWN:
            raise InputError("input.cause", "Without a name there is nothing to write.", None, "Begin again with one.")
        self.draft.name = name
        self.draft.id = self._new_id(name)
        self.draft.in_short = self.ask_for.text("What does that mean, in one sentence?", _no_number)
        self._bikes()

    def _bikes(self) -> None:
        facts = self.book.facts.values()
        values = [(fact.id, value, f"{fact.ask} {text}") for fact in facts for value, text in fact.values.items()]
        question = "Which bikes only can have it? A few words, such as carbon, belt, hub gear; empty: any bike."
        while True:
            typed, found = self.ask_for.pick(question, values, lambda one: one[2])
            if found:
                fact, value, _ = found[0]
                self.draft.applies[fact] = value
                question = "And only which else? Empty: that is all."
            elif not typed:
                return

    def _complaints(self) -> None:
        self.paper.head("For which complaint?")
        question = "What does the rider come with? A few words."
        while not self.draft.shares or question:
            typed = self.ask_for.text(question, empty=bool(self.draft.shares))
            if not typed or (typed == UNKNOWN and self.draft.shares):
                return
            if self.ask_for.ended and not self.draft.shares and typed == UNKNOWN:
                raise InputError("input.complaint", "No complaint was told.", None, "Begin again with one.")
            chosen = self._complaint(typed)
            if chosen is None or chosen in self.draft.shares:
                continue
            told = self.book.complaints[chosen].name
            share = self.ask_for.number(f'Of 100 bikes with "{told}", how many have it?', 0.1, 97)
            self.draft.shares[chosen] = share
            question = "What else does a rider with it come with? Empty: nothing."

    def _complaint(self, typed: str) -> str | None:
        found = [one for one, _ in match_complaints(self.book, typed)]
        exact = [one for one in self.book.complaints.values() if typed.lower() in (one.id, one.name.lower())]
        if exact:
            return exact[0].id
        every = sorted(self.book.complaints.values(), key=lambda one: one.name)
        offered = found or every
        chosen = self.ask_for.choose("The book has:", [one.name for one in offered])
        if not chosen and offered is not every:
            chosen = self.ask_for.choose("All complaints of the book:", [one.name for one in every])
            offered = every
        return offered[chosen[0]].id if chosen else None

    # --- what is seen ------------------------------------------------------------------------------------------------

    def _rows(self) -> None:
        known = self._findings()
        told = {one.id: self._told(one) for one in known}
        question = "What would you see, hear, feel or measure on such a bike? A few words; empty: that is all."
        while True:
            typed, found = self.ask_for.pick(question, known, lambda one: told[one.id])
            if found:
                self._row(found[0])
            elif typed:
                self._new_finding(typed)
            else:
                return
            question = "What else would you see? Empty: that is all."

    def _findings(self) -> list[Finding]:
        """Those of the complaints first."""
        near = {name for one in self.draft.shares for cause in self.book.causes_of[one] for name in cause.shows}
        asked = [one for one in self.book.findings.values() if one.checks]
        return sorted(asked, key=lambda one: (one.id not in near, bool(one.asked_for) and one.id not in near))

    def _told(self, finding: Finding) -> str:
        asked = "; ".join(phrases.filled(self.book, check.ask) for check in finding.checks)
        return f"{finding.name} ({', '.join(finding.values.values())}): {asked}"

    def _row(self, finding: Finding) -> None:
        values = list(finding.values)
        chosen = self.ask_for.choose(f"{finding.name}: what is seen on such a bike?", list(finding.values.values()))
        if not chosen:
            return
        value = values[chosen[0]]
        of_100 = self.ask_for.number("On how many of 100 such bikes?", 0, 100)
        check = _best_check(finding)
        self._need_bike({**finding.applies, **check.applies})
        self._add(Row(finding.id, value, of_100, check.id))

    def _need_bike(self, applies: dict[str, tuple[str, ...]]) -> None:
        """The bike of the worked case is one on which this can be seen."""
        for fact, values in applies.items():
            if fact not in self.draft.applies:
                self.draft.profile.setdefault(fact, values[0])

    def _add(self, row: Row) -> None:
        self.draft.rows = [*(one for one in self.draft.rows if one.finding != row.finding), row]

    def _new_finding(self, typed: str) -> None:
        self.paper.say("Then it is a new question. Empty: leave it out.")
        ask = self.ask_for.text("How do you ask for it, so that somebody can look and answer?", _no_number, empty=True)
        if ask in ("", UNKNOWN):
            return
        by = self.ask_for.choose(
            "Who can answer?", ["the rider, by looking or remembering", "a mechanic", "a mechanic, by measuring"]
        )
        finding = self._new_id(typed)
        new = NewFinding(finding, self._new_id(typed, "ask" if by == [0] else "look"), ask)
        new.by = "rider" if by == [0] else "mechanic"
        new.gauge = self._gauge(typed) if by == [MEASURED] else None
        new.seen = self.ask_for.text("The answer on such a bike, in a few words?", _no_number)
        new.other = self.ask_for.text("The answer on any other bike, in a few words?", _no_number)
        of_100 = self.ask_for.number("On how many of 100 such bikes is it seen?", 0, 100)
        new.others = self.ask_for.number("And on how many of 100 other bikes with this complaint?", 0, 100)
        if not new.gauge:
            self._further(new)
        new.minutes = self.ask_for.number("How many minutes does it take to look?", 0.1, 120)
        self.draft.findings.append(new)
        self._add(Row(finding, "seen", of_100, new.check, new.gauge.told if new.gauge else ""))

    def _further(self, new: NewFinding) -> None:
        """Answers that are neither that of such a bike nor the ordinary one."""
        question = "Is there a third answer, in a few words? Empty: no."
        while (typed := self.ask_for.text(question, _no_number, empty=True)) not in ("", UNKNOWN):
            left = 100 - (new.others or 0) - sum(often or 0 for _, often in new.more.values())
            often = self.ask_for.number("On how many of 100 other bikes with this complaint?", 0, max(left, 0))
            new.more[id_of(typed, ["seen", "other", *new.more])] = (typed, often)
            question = "And another answer? Empty: no."

    def _gauge(self, typed: str) -> Gauge | None:
        """Which readings are right; None where that is not known: then it is a question like others."""
        edge = self.ask_for.text("Which reading is the last that is right? With its unit, such as 3 mm.", _no_reading)
        found = NUMBER_WITH_UNIT.search(edge)
        if not found:
            return None
        number = float(re.findall(r"\d+(?:[.,]\d+)?", found[0])[0].replace(",", "."))
        less = self.ask_for.choose("On such a bike it reads:", ["less than that", "more than that"]) != [1]
        most = self.ask_for.number("The largest reading that there can be?", number, 100_000)
        limit = NewLimit(
            self._new_id(typed, "limit"),
            typed,
            f"{number:g}" if less else "",
            "" if less else f"{number:g}",
            _unit(found[0]),
            "minimum" if less else "maximum",
        )
        self.draft.limits.append(limit)
        return Gauge(limit.id, limit.unit, less, number, most if most and most > number else 3 * number)

    # --- what looks like it ------------------------------------------------------------------------------------------

    def _alike(self) -> None:
        self.paper.head("What else looks like it?")
        near = {one.id for complaint in self.draft.shares for one in self.book.causes_of[complaint]}
        causes = sorted(self.book.causes.values(), key=lambda one: one.id not in near)
        question = "Another cause that looks like it, in a few words; empty: none."
        while True:
            typed, found = self.ask_for.pick(question, causes, lambda one: f"{one.name}: {one.in_short}")
            if not typed:
                return
            question = "And another? Empty: no more."
            if found:
                self._tell_from(found[0])

    def _tell_from(self, cause: Cause) -> None:
        apart = [row for row in self.draft.rows if self._parts(row, cause)]
        if apart:
            texts = [self._name_of(row) for row in apart]
            self.paper.say(f"{cause.name}: told apart by {'; '.join(texts)}.", indent=2)
            return
        self.paper.say(f"Nothing that you told so far tells yours from {cause.name}.", indent=2)
        self._rows()

    def _parts(self, row: Row, cause: Cause) -> bool:
        """Whether what is seen with this cause is seen much more rarely, or much oftener, with the other."""
        if row.finding not in self.book.findings:
            return True
        finding = self.book.findings[row.finding]
        chances = cause.shows.get(row.finding, finding.otherwise).chances
        mine = 0.7 if row.of_100 is None else row.of_100 / 100
        return abs(mine - chances[list(finding.values).index(row.value)]) >= APART

    def _name_of(self, row: Row) -> str:
        if row.finding in self.book.findings:
            return self.book.findings[row.finding].name
        return next(one.seen for one in self.draft.findings if one.id == row.finding)

    # --- how it is put right -----------------------------------------------------------------------------------------

    def _repairs(self) -> None:
        fixes = sorted(self.book.fixes.values(), key=lambda one: not set(self.draft.shares) & self._shares_of(one.home))
        question = "What is done, in a few words? Empty: nothing can be done at the stand."
        while True:
            typed, found = self.ask_for.pick(question, fixes, lambda one: one.name)
            if not typed:
                break
            if found:
                cured = self.ask_for.number("Of 100 such bikes, how many are well then?", 1, 99)
                self.draft.repairs.append(Repair(found[0].id, cured, known=True))
            else:
                self._repair(typed)
            question = "And if that is not enough, what else? Empty: nothing else."
        if not self.draft.repairs:
            self.draft.away = self._away("Why not?")
        elif self.ask_for.choose("Is there a moment to stop and give the bike away?", ["yes"]):
            self.draft.stop_when.append(self._away("When, and why?"))

    def _shares_of(self, cause: str) -> set[str]:
        return set(self.book.causes[cause].shares) if cause in self.book.causes else set()

    def _repair(self, typed: str) -> None:
        one = Repair(self._new_id(typed), name=_capital(self._free(typed)))
        if NUMBER_WITH_UNIT.search(one.name):
            one.name = self.ask_for.text("The same without a number?", _no_number)
        number = 1
        while step := self.ask_for.text(f"Step {number}, one action; empty: that is all.", empty=True):
            one.steps.append(self._filled(step))
            number += 1
            if step == UNKNOWN:
                break
        self._tools(one)
        self._parts_of(one)
        one.low = self.ask_for.number("Minutes, when it goes well?", 0.1, 600)
        one.high = self.ask_for.number("Minutes, when it goes badly?", 0.1, 600)
        if one.low and one.high and one.low > one.high:
            one.low, one.high = one.high, one.low
        who = self.ask_for.choose("Who can do it?", ["an able rider", "a mechanic"])
        one.skill = "rider" if who == [0] else "mechanic"
        one.cured = self.ask_for.number("Of 100 such bikes, how many are well then?", 1, 99)
        one.works_if = self._filled(self.ask_for.text("How do you prove that it worked?"))
        one.if_not = self._filled(self.ask_for.text("And if it did not, what does that mean?"))
        self.draft.repairs.append(one)

    def _tools(self, one: Repair) -> None:
        question = "A tool that it takes? Empty: no more."
        tools = {**self.book.tools, **self.draft.tools}
        while True:
            typed, found = self.ask_for.pick(question, list(tools), tools.__getitem__)
            if not typed:
                return
            tool = found[0] if found else self._new_id(typed)
            if not found:
                self.draft.tools[tool] = tools[tool] = self._free(typed)
            if tool not in one.tools:
                one.tools.append(tool)

    def _parts_of(self, one: Repair) -> None:
        question = "A part that it takes? Empty: none."
        parts = {part.id: part.name for part in self.book.parts.values()}
        parts.update({new.id: new.name for new in self.draft.parts})
        while True:
            typed, found = self.ask_for.pick(question, list(parts), parts.__getitem__)
            if not typed:
                return
            part = found[0] if found else self._new_part(typed)
            parts.setdefault(part, typed)
            if part not in one.parts:
                one.parts.append(part)
            question = "And another part? Empty: no more."

    def _new_part(self, typed: str) -> str:
        name = self._new_id(typed)
        currency = self.book.constants.currency
        low = self.ask_for.number(f"What does a cheap one cost, in {currency}?", 0, 100_000)
        high = self.ask_for.number("And a dear one?", low or 0, 100_000)
        self.draft.parts.append(NewPart(name, self._free(typed), low, high))
        return name

    def _away(self, why: str) -> Away:
        receivers = list(self.book.receivers.values())
        to = self.ask_for.choose("Who gets the bike?", [one.to for one in receivers])
        urgent = self.ask_for.choose("How urgent is that?", list(URGENCIES))
        reason = self._filled(self.ask_for.text(why))
        return Away(receivers[to[0]].id if to else receivers[0].id, URGENCIES[urgent[0]] if urgent else "soon", reason)

    def _danger(self) -> None:
        self.paper.head("When is it dangerous?")
        chosen = self.ask_for.choose("May such a bike be ridden? Is it dangerous?", list(DANGERS))
        self.draft.danger_known = bool(chosen)
        self.draft.danger = list(DANGERS.values())[chosen[0]] if chosen else "care"
        if self.draft.danger != "none":
            why = self.ask_for.text("What can happen?", _no_number) if chosen else UNKNOWN
            self.draft.danger_because = why

    def _case(self) -> None:
        self.paper.head("Who says so, and a bike that had it")
        said = self.ask_for.choose("Where do your numbers come from?", list(BASES))
        self.draft.basis = list(BASES.values())[said[0]] if said else "memory"
        complaint = self.book.complaints[next(iter(self.draft.shares))].name
        sentence = self.ask_for.text("A bike that had it, in one sentence?", empty=True)
        self.draft.sentence = sentence if sentence.strip("?") else f"{complaint}: {self.draft.name}"

    # --- texts with numbers ------------------------------------------------------------------------------------------

    def _free(self, text: str) -> str:
        return text.replace("{", "(").replace("}", ")")

    def _filled(self, text: str) -> str:
        """A text in which every number with a unit has become a limit, by its id in braces."""
        text = self._free(text)
        while found := NUMBER_WITH_UNIT.search(text):
            unit = _unit(found[0])
            if unit:
                text = text[: found.start()] + "{" + self._limit(found[0], unit, text) + "}" + text[found.end() :]
            else:
                text = self._free(self.ask_for.text(f"Say it without {found[0]}, or in metric units.", empty=True))
        return text

    def _limit(self, number: str, unit: str, text: str) -> str:
        self.paper.say(f"{number}: a number with a unit stands in a limit, so that it is the same everywhere.")
        limits = list(self.book.limits.values())
        typed, known = self.ask_for.pick("What is measured or set there, in a few words?", limits, self._limit_told)
        return known[0].id if known else self._new_limit(number, unit, typed or text)

    def _limit_told(self, limit: Limit) -> str:
        return f"{limit.quantity}: {phrases.number(limit, limit.low, limit.high)}"

    def _new_limit(self, number: str, unit: str, text: str) -> str:
        quantity = " ".join(NUMBER_WITH_UNIT.sub("", text).split())[:60]
        self.paper.say(f"Then it is a new one: {quantity}.")
        ends = re.findall(r"\d+(?:[.,]\d+)?", number)
        kind = self.ask_for.choose(f"{number} is:", list(KINDS))
        told = list(KINDS.values())[kind[0]] if kind else "target"
        low, high = ends[0].replace(",", "."), ends[-1].replace(",", ".")
        low, high = ("" if told == "maximum" else low), ("" if told == "minimum" else high)
        name = self._new_id(quantity)
        self.draft.limits.append(NewLimit(name, quantity, low, high, unit, told))
        return name

    def _new_id(self, text: str, first: str = "") -> str:
        name = id_of(text, self.taken, first)
        self.taken.add(name)
        return name


def _ids(book: Book) -> Iterator[str]:
    """Every id, without the name of an own folder."""
    for ids in (
        *(book.facts, book.words, book.teardowns, book.receivers, book.tools, book.parts, book.cautions),
        *(book.limits, book.complaints, book.findings, book.checks, book.causes, book.fixes, book.deductions),
    ):
        yield from (name.rpartition(":")[2] for name in ids)
    yield from (one.repeat_test.id for one in book.complaints.values())


def _unit(number: str) -> str:
    """The book's name of the unit behind a number; empty where the book has none such."""
    try:
        name = unit_of(re.sub(r"^[\d.,/\s–-]+", "", number))
    except InputError:
        return ""
    return name if name in {unit.name for unit in UNITS} else ""


def _best_check(finding: Finding) -> Check:
    """The way to look that is trusted most, and of those the quickest."""
    return min(finding.checks, key=lambda one: (one.by != "mechanic", one.teardown is not None, one.minutes, one.id))


def _no_number(text: str) -> str:
    found = NUMBER_WITH_UNIT.search(text)
    if found:
        return f'Say it without "{found[0]}": numbers with a unit have their place in steps and proofs.'
    return "Say it without braces." if "{" in text or "}" in text else ""


def _no_reading(text: str) -> str:
    found = NUMBER_WITH_UNIT.search(text)
    return "" if found and _unit(found[0]) else "A number with a metric unit is wanted, or ? where you do not know."


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
