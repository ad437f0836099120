"""`diagnose rules new`: a mechanic's questions about a cause become rule files and a worked case.

Cast: `command`; `_Author` asks line by line (see `interview`), with `newseen` for what is seen and `newrepairs` for how
it is put right, and fills the draft in `newnotes`; `newfiles.Place` is where it is written and tried.
"""

from __future__ import annotations

from pathlib import Path

import click

from diagnose.book.marks import TO_BE_TOLD
from diagnose.book.model import Book
from diagnose.casework.draft import Draft
from diagnose.casework.words import match_complaints
from diagnose.errors import InputError
from diagnose.front.options import rules_option
from diagnose.front.paper import Paper
from diagnose.front.rulebook.interview import UNKNOWN, Back, Interview, words
from diagnose.front.rulebook.newfiles import Place, Tried
from diagnose.front.rulebook.newnotes import Notes, no_number
from diagnose.front.rulebook.newrepairs import Repairs
from diagnose.front.rulebook.newseen import Seen

OURS = Path("ours/rules")
BASES = {"what workshops commonly do": "common practice", "my own memory": "memory", "a handbook": "handbook"}
DANGERS = {"no, it may be ridden": "none", "ride with care": "care", "do not ride": "stop"}
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
    paper.say("To look again: the check, the case, and what it changes.")
    paper.whole(f"diagnose rules check {place.root.as_posix()}")
    paper.whole(f"diagnose replay {place.case_path(draft).as_posix()}{place.option}")
    paper.whole(f"diagnose rules compare {place.cause_path(draft).as_posix()}")
    return 0 if tried.holds and not tried.errors else 1


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
        self.paper.head("What would you see?")
        self.seen.rows()
        self.seen.alike()
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
            if tried.on_top or self.ask_for.ended or not tried.rival:
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
        name = self.ask_for.text("What is wrong, in a few words?", no_number)
        if name == UNKNOWN:
            raise InputError("input.cause", "Without a name there is nothing to write.", None, "Begin again with one.")
        self.draft.name = name
        self.draft.id = self.notes.new_id(name)
        self.draft.in_short = self.ask_for.text("What does that mean, in one sentence?", no_number)
        self._bikes()

    def _bikes(self) -> None:
        facts = self.book.facts.values()
        values = [(fact.id, value, f"{fact.ask} {text}") for fact in facts for value, text in fact.values.items()]
        question = "Which bikes only can have it? A few words, such as carbon, belt, hub gear; empty: any bike."
        while True:
            typed, found = self.ask_for.pick(question, values, lambda one: one[2])
            if found:
                fact, value, _ = found[0]
                told = self.draft.applies.get(fact, ())
                self.draft.applies[fact] = (*told, *((value,) if value not in told else ()))
                question = "And only which else? Empty: that is all."
            elif not typed:
                return

    def _complaints(self) -> None:
        self.paper.head("For which complaint?")
        question = "What does the rider come with? A few words."
        while not self.draft.shares or question:
            typed = self.ask_for.text(question, words, empty=bool(self.draft.shares))
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

    def _danger(self) -> None:
        self.paper.head("When is it dangerous?")
        chosen = self.ask_for.choose("Is it dangerous to ride such a bike?", list(DANGERS))
        self.draft.danger_known = bool(chosen)
        self.draft.danger = list(DANGERS.values())[chosen[0]] if chosen else "care"
        if self.draft.danger != "none":
            why = self.ask_for.text("What can happen?", no_number) if chosen else UNKNOWN
            self.draft.danger_because = why

    def _case(self) -> None:
        self.paper.head("Who says so, and a bike that had it")
        said = self.ask_for.choose("Where do your numbers come from?", list(BASES))
        self.draft.basis = list(BASES.values())[said[0]] if said else "memory"
        complaint = self.book.complaints[next(iter(self.draft.shares))].name
        sentence = self.ask_for.text("A bike that had it, in one sentence?", words, empty=True)
        self.draft.sentence = sentence if sentence.strip("?") else f"{complaint}: {self.draft.name}"
