"""What the screens of one job share: the desk, the paper, the prompt, and how far the job has been read.

Cast: `Telling`; `tell` and `note` store what was told, `show` draws what is one key away, `verdict_changed` says what
is news.
`InParts` is something that takes several prompts: each answer is kept at once, and none is asked for twice.
"""

from __future__ import annotations

from collections.abc import Container, Mapping
from typing import TYPE_CHECKING, Any

from diagnose.casework import events, shapes
from diagnose.casework.desk import Desk
from diagnose.casework.events import Draft
from diagnose.front import asides, screens, wording
from diagnose.front.keys import Keyboard
from diagnose.front.paper import Paper
from diagnose.front.prompt import Back, Command, Prompt, Screen

if TYPE_CHECKING:
    from diagnose.book.model import Book

View = dict[str, Any]


class Telling:
    """One job as its screens see it.

    Attributes:
        seen: how many events of the job the screens know.
    """

    def __init__(self, desk: Desk, paper: Paper, keys: Keyboard, case_id: str) -> None:
        self.desk = desk
        self.paper = paper
        self.prompt = Prompt(paper, keys)
        self.case_id = case_id
        self.seen = len(desk.store.events(case_id))
        self._verdict: tuple[str, str] = ("ride", "")
        self._stand_in_said = False
        self._tools_said = False

    @property
    def book(self) -> Book:
        """The rule book."""
        return self.desk.book

    def tell(self, draft: Draft) -> None:
        """Store what was told; it is safe when this returns.

        Raises:
            StoreError: `store.conflict`, somebody else has written to the job; nothing was changed.
        """
        self.seen = self.desk.submit_after(self.case_id, draft, self.seen).seq

    def note(self, text: str) -> None:
        """Keep a note, whatever somebody else has told meanwhile; that is then still news."""
        seq = self.desk.note(self.case_id, text).seq
        if seq == self.seen + 1:
            self.seen = seq

    def reread(self) -> bool:
        """Take note of all that stands in the store now; True where somebody else has added to it."""
        before, self.seen = self.seen, len(self.desk.store.events(self.case_id))
        return before != self.seen

    def ask(self, screen: Screen, command: Command) -> int:
        """One key; see `Prompt.ask`."""
        return self.prompt.ask(screen, command)

    def verdict_changed(self, view: View) -> bool:
        """Whether the ride verdict, or the first reason for it, is another one than on the screen before."""
        changed, self._verdict = self.verdict_news(view), _verdict(view)
        return changed

    def verdict_news(self, view: View) -> bool:
        """The same, before the screen is shown."""
        return self._verdict != _verdict(view)

    def say_stand_in(self) -> None:
        """Say once where the plain chainer stands in for the engine."""
        if not self._stand_in_said and self.desk.reasoner.notice:
            self.paper.say(self.desk.reasoner.notice)
        self._stand_in_said = True

    def say_tools(self, view: View) -> None:
        """Name once, before a rider at home begins, the tools that the plan may want."""
        tools = list(dict.fromkeys(tool for item in view["plan"] for tool in item["tools"]))
        if tools and view["skill"] == "rider" and not self._tools_said:
            self.paper.say(wording.TOOLS_AHEAD.format(text=", ".join(tools)))
            self._tools_said = True

    def show_why(self, view: View) -> None:
        """Why this question is asked."""
        asides.show_why(self.paper, view)
        self.paper.say()

    def show(self, letter: str, why: str) -> None:
        """What is one key away; `why` stands in for the reasons of a check where a fact is asked."""
        paper = self.paper
        if letter == "h":
            asides.show_help(paper)
        elif not self.desk.folded(self.case_id).situation.complaints:
            paper.say(wording.FIRST_COMPLAINT)
        elif letter == "w" and why:
            paper.head(wording.WHY)
            paper.say(why)
        else:
            view = self.desk.view(self.case_id, with_why=letter != "p", with_estimate=letter == "p")
            draw = {"w": asides.show_why, "l": asides.show_likely, "p": asides.show_plan}[letter]
            draw(paper, view)
        paper.say()


def _verdict(view: View) -> tuple[str, str]:
    first = screens.reasons(view, 1)
    return view["ride"]["verdict"], first[0] if first else ""


class InParts:
    """Something that takes several prompts: what was told of it before is not asked for again.

    Args:
        telling: the job.
        of: what it is.
        about: what it is about, an id of the book; None where that is not known before it is told.
    """

    def __init__(self, telling: Telling, of: shapes.Dialogue, about: str | None = None) -> None:
        self.telling, self.of, self.about = telling, of, about
        partly = telling.desk.folded(telling.case_id).partly
        self._told = list(partly.said) if partly and (partly.of, partly.about) == (of, about) else []

    def told(self, words: Container[str]) -> str | None:
        """The answer to the next prompt, where it was told before; None where it has to be asked for.

        Raises:
            Back: what was told is no answer any more, since the rule book has changed.
        """
        if not self._told:
            return None
        if self._told[0] not in words:
            raise Back
        return self._told.pop(0)

    def keep(self, said: str) -> None:
        """Keep the answer to a prompt after which others follow."""
        self.telling.tell(events.partly(self.of, said, self.about))

    def ask(self, screen: Screen, words: Mapping[int, str], command: Command, last: Container[str] = ()) -> str:
        """The word of the answer; kept at once, but for those of `last`, with which the whole is told.

        Args:
            screen: what is asked.
            words: a word for whatever `Prompt.ask` may give here.
            command: what the keys beside the answers do.
            last: words after which nothing more is asked.
        """
        before = self.told(tuple(words.values()))
        if before is not None:
            return before
        said = words[self.telling.ask(screen, command)]
        if said not in last:
            self.keep(said)
        return said
