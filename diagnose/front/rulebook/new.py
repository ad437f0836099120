"""`diagnose rules new`: a mechanic's questions about a cause become rule files and a worked case.

Cast: `command`; `_Author` asks line by line (see `interview`), with `newseen` for what is seen and `newrepairs` for how
it is put right, and fills the draft in `newnotes`; `newfiles.Place` is where it is written and tried.
"""

from __future__ import annotations

import signal
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from difflib import SequenceMatcher
from pathlib import Path

import click

from diagnose.book.marks import TO_BE_TOLD
from diagnose.book.model import Book, Complaint
from diagnose.book.shape import IDENT
from diagnose.casework.complained import match_complaints
from diagnose.casework.draft import DangerousWhen, Draft, Row
from diagnose.casework.fold import COMEBACK, OF_THE_VISIT
from diagnose.casework.words import match_causes
from diagnose.front.options import rules_option
from diagnose.front.paper import Paper
from diagnose.front.rulebook import phrases
from diagnose.front.rulebook.compared import RIDES
from diagnose.front.rulebook.interview import UNKNOWN, Back, Interview, nearest_first, words
from diagnose.front.rulebook.newfiles import Place, Tried
from diagnose.front.rulebook.newnotes import Notes, no_number
from diagnose.front.rulebook.newrepairs import Repairs
from diagnose.front.rulebook.newseen import Seen

OURS = Path("ours/rules")
BASES = {"what workshops commonly do": "common practice", "my own memory": "memory", "a handbook": "handbook"}
DANGERS = {"no, it may be ridden": "none", "ride with care": "care", "do not ride": "stop"}
ONLY_WHEN = "only where something is seen on it; else it may be ridden"
KEEP = ["yes, keep them", "no, take them away again"]
LONGEST_NAME = 60
NEAREST = 5
"""Complaints that are offered where none has a word of what was typed."""
TAKE_THE_NEAREST = "Take the nearest. Or leave, write that complaint first (see GUIDE.md), and begin anew."
OF_A_JOB = (*OF_THE_VISIT, COMEBACK)
"""Facts that say nothing of what kind of bike it is."""
ALIKE = 0.36
"""A cause of the same complaint that fits the new one's words at least so well may be the same."""
ALIKE_TOLD = 3
"""So many of these are named."""
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
    marked in the file, and `diagnose rules check` points at the marks. `<` goes back to the question before. At the end
    it says what came of it and asks whether the files are kept. Without that, or where lines end too early, nothing is
    written.

    Exit 0 when the files are kept, pass the check and the case holds, else 1; 2 when the lines end too early.

    Example: diagnose rules new
    """
    paper = Paper(plain=True if plain else None)
    place = Place.of(folder, rules)
    interview = Interview(paper)
    while True:
        author = _Author(interview, place.book)
        kept = False
        try:
            with _closed_as_left():
                author.ask()
                tried = author.write(place)
                _say_end(interview.paper, place, tried)
                kept = interview.choose("Keep these files?", KEEP, empty="") == [0]
        except Back:
            interview.rewind()
            continue
        except (KeyboardInterrupt, EOFError):
            paper.say()
        finally:
            if not kept:
                place.take_back()
        if not kept:
            paper.say("Left. Nothing was written.")
            return 1
        _say_next(paper, place, author.draft)
        return 0 if tried.holds and not tried.errors else 1


@contextmanager
def _closed_as_left() -> Iterator[None]:
    """A terminal that is closed meanwhile counts as Ctrl-C: nothing is left behind."""
    names = [getattr(signal, name) for name in ("SIGHUP", "SIGTERM") if hasattr(signal, name)]
    before = {one: signal.signal(one, signal.default_int_handler) for one in names}
    try:
        yield
    finally:
        for one, handler in before.items():
            signal.signal(one, handler)


def _say_end(paper: Paper, place: Place, tried: Tried) -> None:
    paper.head("What came of it")
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
    if tried.ride:
        paper.say(f"Verdict on riding in the case: {RIDES[tried.ride]}.")
    if tried.other_fix:
        paper.say(
            f"The first thing to be put right would be another: {tried.other_fix}. The case expects yours and does not "
            "hold yet: what is seen on such a bike and on no other, or how many it puts right, brings yours ahead."
        )
    if tried.asked:
        paper.say(f"It would ask next: {tried.asked}")
    if tried.asked and tried.ride != "ride":
        paper.say("Is the verdict too strict? Answer that in the case, as it was on your bike.")


def _say_next(paper: Paper, place: Place, draft: Draft) -> None:
    paper.say()
    paper.say("Kept. To look again: the check, the case, and what it changes.")
    paper.whole(f"diagnose rules check {place.root.as_posix()}")
    paper.whole(f"diagnose replay {place.case_path(draft).as_posix()}{place.option}")
    paper.whole(f"diagnose rules compare {place.cause_path(draft).as_posix()}")


class _Author:
    """Asks for everything and keeps it in the draft."""

    def __init__(self, interview: Interview, book: Book) -> None:
        self.ask_for = interview
        self.book = book
        self.notes = Notes(interview, book)
        self.draft = self.notes.draft
        self.seen = Seen(self.notes)

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
        self._say_alike()
        self.paper.head("What would you see?")
        self.seen.rows()
        self.seen.alike()
        self.seen.settling()
        self.paper.head("How do you fix it, and how do you prove it?")
        Repairs(self.notes).ask()
        self._danger()
        self._case()

    def write(self, place: Place) -> Tried:
        """Write the files and try the case; more is asked for while another cause comes out on top."""
        self.paper.say()
        self.paper.say("Looked over with the whole book now, which takes a moment.")
        tried = place.write(self.draft)
        for _ in range(MORE):
            if tried.on_top or not tried.rival:
                break
            self.paper.say(tried.top)
            self.paper.say(f"What would you see with yours and not with that: {tried.rival}?")
            before = len(self.draft.rows)
            self.seen.rows()
            if len(self.draft.rows) == before:
                break
            tried = place.write(self.draft)
        return tried

    def _what(self) -> None:
        self.paper.head("What is it?")
        while (name := self.ask_for.text("What is wrong, in a few words?", no_number)) == UNKNOWN:
            self.paper.say("Without a name there is nothing to write.", indent=2)
        self.draft.name = name
        self.draft.id = self._id(self.notes.new_id(name))
        self.draft.in_short = self.ask_for.text("What does that mean, in one sentence?", no_number)
        self._bikes()

    def _say_alike(self) -> None:
        """Name what the book has that may be the same: that is then changed, and nothing new is written."""
        typed = f"{self.draft.name}. {self.draft.in_short.strip(UNKNOWN)}"
        ranked = match_causes(self.book, typed, most=len(self.book.causes))
        near = [one for one, score in ranked if score >= ALIKE and not self.draft.shares.keys().isdisjoint(one.shares)]
        if near:
            self.paper.head("Look first: is yours one of these? Then leave, and change that one (see GUIDE.md).")
        for one in near[:ALIKE_TOLD]:
            self.paper.item("-", f"{one.name}: {one.in_short} ({one.id})")

    def _id(self, made: str) -> str:
        """What the files are called: as it was made of the name, or as the author likes it better."""

        def refuse(typed: str) -> str:
            if not IDENT.fullmatch(typed) or len(typed) > LONGEST_NAME:
                return "Small letters, digits and hyphens are wanted, such as side-dynamo-on-tyre."
            return "There is such a name already." if typed in self.notes.taken - {made} else ""

        typed = self.ask_for.text(f"Its file is called {made}. Empty: good; or type another name.", refuse, empty=True)
        name = made if typed in ("", UNKNOWN) else typed
        self.notes.taken.add(name)
        return name

    def _bikes(self) -> None:
        facts = [fact for fact in self.book.facts.values() if fact.id not in OF_A_JOB]
        values = [(fact.id, value, f"{fact.ask} {text}") for fact in facts for value, text in fact.values.items()]

        def shown(one: tuple[str, str, str]) -> str:
            fact = self.book.facts[one[0]]
            return f"{fact.name}: {fact.values[one[1]]}"

        def ranked(typed: str) -> list[tuple[str, str, str]]:
            """The nearest first, and with it what else the same question may be answered with."""
            near = nearest_first(typed, values, lambda one: one[2])
            return sorted(near, key=lambda one: one[0] != near[0][0])

        question = "Which bikes only can have it? A few words, such as carbon, belt, hub gear; empty: any bike."
        while True:
            typed, found = self.ask_for.pick(question, values, lambda one: one[2], shown, ranked, several=True)
            for fact, value, _ in found:
                told = self.draft.applies.get(fact, ())
                self.draft.applies[fact] = (*told, *((value,) if value not in told else ()))
            if found:
                self.paper.say(phrases.only_for(self.book, self.draft.applies), indent=2)
                question = "Which else? To the same question: either will do; to another: both must be so. Empty: none."
            elif not typed:
                return

    def _complaints(self) -> None:
        self.paper.head("For which complaint?")
        question = f"What does the rider come with? A few words; {UNKNOWN}: the whole list."
        while not self.draft.shares or question:
            typed = self.ask_for.text(question, words, empty=bool(self.draft.shares))
            if not typed or (typed == UNKNOWN and self.draft.shares):
                return
            chosen = self._complaint(typed)
            if chosen is None or chosen in self.draft.shares:
                continue
            told = self.book.complaints[chosen].name
            share = self.ask_for.number(f'Of 100 bikes with "{told}", how many have it?', 0.1, 97)
            self.draft.shares[chosen] = share
            question = "What else does a rider with it come with? Empty: nothing."

    def _complaint(self, typed: str) -> str | None:
        every = sorted(self.book.complaints.values(), key=lambda one: one.name)
        if typed == UNKNOWN:
            return self._one_of("All complaints of the book:", every, TAKE_THE_NEAREST)
        exact = [one for one in self.book.complaints.values() if typed.lower() in (one.id, one.name.lower())]
        if exact:
            return exact[0].id
        other = f"Say it in other words, or {UNKNOWN} for the whole list."
        found = [one for one, _ in match_complaints(self.book, typed)]
        if found:
            return self._one_of("The book has:", found, other)
        near = sorted(every, key=lambda one: -_likeness(typed, one))[:NEAREST]
        return self._one_of("The book has nothing in these words. The nearest:", near, other)

    def _one_of(self, heading: str, offered: Sequence[Complaint], other: str) -> str | None:
        """The complaint that is chosen; None where it is none of them, and what to do then is said."""
        chosen = self.ask_for.choose(heading, [one.name for one in offered])
        if not chosen:
            self.paper.say(other, indent=2)
        return offered[chosen[0]].id if chosen else None

    def _danger(self) -> None:
        self.paper.head("When is it dangerous?")
        texts = [*DANGERS, *([ONLY_WHEN] if self.draft.rows else [])]
        chosen = self.ask_for.choose("Is it dangerous to ride such a bike?", texts, empty="")
        if chosen == [len(DANGERS)]:
            self._dangerous_when()
            return
        self.draft.danger_known = bool(chosen)
        self.draft.danger = list(DANGERS.values())[chosen[0]] if chosen else "care"
        if self.draft.danger != "none":
            why = self.ask_for.text("What can happen?", no_number) if chosen else UNKNOWN
            self.draft.danger_because = why
        if self.draft.danger == "stop":
            new = [row for row in self.draft.rows if self._new(row)]
            self._guard(max(new, key=lambda row: row.of_100 or 0, default=None))

    def _dangerous_when(self) -> None:
        """What must be seen for it to be dangerous; nothing chosen: it is not known."""
        rows = self.draft.rows
        chosen = self.ask_for.choose("Where what is seen?", [self.seen.told(row) for row in rows], empty="")
        if not chosen:
            self.draft.danger, self.draft.danger_known, self.draft.danger_because = "care", False, UNKNOWN
            return
        row = rows[chosen[0]]
        because = self.ask_for.text("What can happen then? One sentence.", no_number)
        self.draft.dangerous_when = DangerousWhen(self.notes.new_id(self.seen.told(row), "stop"), row, because)
        self._guard(row)

    def _new(self, row: Row) -> bool:
        return any(one.id == row.finding for one in self.draft.findings)

    def _guard(self, row: Row | None) -> None:
        """A new look that shows the danger guards against riding."""
        for one in self.draft.findings:
            one.danger = one.danger or (row is not None and one.id == row.finding)

    def _case(self) -> None:
        self.paper.head("Who says so, and a bike that had it")
        said = self.ask_for.choose("Where do your numbers come from?", list(BASES), empty="")
        self.draft.basis = list(BASES.values())[said[0]] if said else "memory"
        complaint = self.book.complaints[next(iter(self.draft.shares))].name
        sentence = self.ask_for.text("A bike that had it, in one sentence?", words, empty=True)
        self.draft.sentence = sentence if sentence.strip("?") else f"{complaint}: {self.draft.name}"


def _likeness(typed: str, complaint: Complaint) -> float:
    """How alike what was typed is to a complaint's name or one of its sentences, of 1."""
    told = [complaint.name, *complaint.rider_says]
    return max(SequenceMatcher(None, typed.lower(), one.lower()).ratio() for one in told)
