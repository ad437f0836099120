"""One job at the stand: from the complaint to the repeat test that passed, one question at a time.

Cast: `Job` runs the screens of one case; what is told goes to the desk at once, so that the job can be left, or the
program killed, at any moment: which screen comes is a matter of what was told, but for a look of several that is to be
asked by itself. `Job.run` is the loop; start reading there. What its screens share stands in `telling`, the screens
that ask in `complaints`, `questions`, `together`, `results` and `already`.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from diagnose.casework import events
from diagnose.casework.desk import MOST_COMPLAINTS, Desk
from diagnose.casework.events import Draft
from diagnose.casework.fold import Folded
from diagnose.casework.shapes import Origin
from diagnose.errors import InputError, StoreError
from diagnose.front import screens, wording
from diagnose.front.already import ask_already
from diagnose.front.complaints import ask_complaint
from diagnose.front.consent import ask_consent
from diagnose.front.happened import heard_text, told_text
from diagnose.front.keys import EndOfInput, Keyboard
from diagnose.front.paper import Paper
from diagnose.front.prompt import Back, Changed, Leave, Screen
from diagnose.front.questions import ask_fact, ask_more, ask_question
from diagnose.front.results import ask_end, ask_fix, ask_last
from diagnose.front.telling import InParts, Telling
from diagnose.front.together import ask_together, looks_for

View = dict[str, Any]
GATE = "arrival"
"""The fact that the half-minute walk round the bike answers."""
ASIDES = "amnx"
"""Keys that open a screen within a screen."""
IN_PARTS = {"already": "a", "complaint": "m"}
"""The key of the screen within a screen that is gone on with, by what was told in part."""
REOPENED = ("reopen", "leave", "came-back")
"""What may become of a job that is over, in the order of its keys."""


class Job:
    """The screens of one case."""

    def __init__(self, desk: Desk, paper: Paper, keys: Keyboard, case_id: str, command: str = "") -> None:
        self.desk = desk
        self.paper = paper
        self.case_id = case_id
        self.command = command or wording.COMMAND.format(case=case_id)
        """What to type to go on with the job."""
        self.telling = Telling(desk, paper, keys, case_id)
        self._aside = False
        """Whether a screen within a screen is open: no other one is opened from it."""
        self._alone = ""
        """The look of several that is asked by itself: it was not as it should be, or could not be told."""

    # --- the loop --------------------------------------------------------------------------------------------------

    def run(self) -> None:
        """Work on the job until it ends or is left."""
        try:
            if not self._come_back():
                return
            while self._step():
                pass
        except Leave:
            self._leave()
        except (EndOfInput, KeyboardInterrupt):
            self.paper.tail()
            self._say_kept()

    def _step(self) -> bool:
        """One screen; False when the job is over."""
        telling = self.telling
        if telling.reread():
            self.paper.say(wording.GREW_ELSEWHERE, style="bold")
        try:
            return self._screen_or_back()
        except InputError as why:
            self.paper.say(str(why))
        except StoreError as why:
            if why.code != "store.conflict":
                raise
            telling.reread()
            self.paper.say(wording.CHANGED_ELSEWHERE, style="bold")
        return True

    def _screen_or_back(self) -> bool:
        try:
            return self._screen()
        except Changed:
            pass
        except Back:
            self._back()
        return True

    def _screen(self) -> bool:
        folded = self.desk.folded(self.case_id)
        situation, partly = folded.situation, folded.partly
        if situation.ended:
            screens.show_over(self.paper, self.case_id, self.desk.view(self.case_id))
            return False
        if partly and partly.of == "heard":
            self._take_back_heard()
        elif partly and partly.of == "fact" and partly.about:
            wanted = self._fact(GATE) if partly.about == GATE else self.desk.fact(self.case_id, partly.about)
            self._another(wanted, partly.said)
        elif not situation.complaints or self._may_complain(folded):
            self._complaint(situation.complaints)
        elif partly and partly.of in IN_PARTS:
            self._open_aside(IN_PARTS[partly.of])
        else:
            return self._work()
        return True

    def _another(self, wanted: View, told: Sequence[str]) -> None:
        ask_more(self.telling, wanted, told, self._command)

    def _work(self) -> bool:
        """The walk round the bike, then what comes next; False when the job is over."""
        situation = self.desk.folded(self.case_id).situation
        if GATE in self.desk.book.facts and GATE not in situation.asked:
            ask_fact(self.telling, self._fact(GATE), self._command, wording.GATE, wording.WHY_GATE)
        else:
            return self._next(self.desk.view(self.case_id, with_why=True))
        return True

    def _next(self, view: View) -> bool:
        self.telling.say_stand_in()
        if view["wanted"]:
            ask_fact(self.telling, view["wanted"][0], self._command, self._danger(view), wording.WHY_FACT)
            return True
        kind = view["next"]["kind"]
        self.telling.say_tools(view)
        if kind == "check":
            self._look(view)
        elif crossing := self.desk.open_consent(self.case_id, view):
            ask_consent(self.telling, view, crossing, self._command)
        elif kind == "fix":
            ask_fix(self.telling, view, self._command)
        else:
            ask_last(self.telling, view, self._command)
        return True

    def _look(self, view: View) -> None:
        """The next look, or those of a round that are taken together, unless it was to be asked by itself.

        Going back from one that was asked by itself is going back to the others.
        """
        if view["next"]["id"] != self._alone:
            self._alone = ""
            if looks := looks_for(self.telling, view):
                self._alone = ask_together(self.telling, view, looks, self._command)
                return
        try:
            ask_question(self.telling, view, self._command)
        except Back:
            if not self._alone:
                raise
        self._alone = ""

    def _danger(self, view: View) -> str:
        """The verdict above a fact that is asked for, where something that was told speaks against riding."""
        if view["ride"]["verdict"] == "ride" or not any(one["conclusion"] for one in view["ride"]["because"]):
            return ""
        first = screens.reasons(view, 1) if self.telling.verdict_changed(view) else ()
        return " ".join([screens.verdict(view), *first])

    def _fact(self, name: str) -> View:
        fact = self.desk.book.facts[name]
        answers = [{"id": value, "text": text} for value, text in fact.values.items()]
        return {"fact": name, "text": fact.ask, "how": fact.how or None, "several": fact.several, "answers": answers}

    # --- complaints ------------------------------------------------------------------------------------------------

    def _may_complain(self, folded: Folded) -> bool:
        """Whether the last thing told was a complaint, nobody said that it was all, and there is room for another."""
        if folded.no_more or len(folded.situation.complaints) >= MOST_COMPLAINTS:
            return False
        return self.desk.complaining(self.case_id)

    def _complaint(self, told: tuple[str, ...]) -> None:
        more = ask_complaint(self.telling, told, self._command)
        self.telling.tell(_complaint(more, told) if more else events.no_more())
        if not self._may_complain(self.desk.folded(self.case_id)):
            self._hear()

    def _hear(self) -> None:
        """Take from what was typed what it tells, and say so: it is not asked for then."""
        heard = self.desk.hear(self.case_id)
        for told in heard:
            self.telling.tell(told)
        if heard:
            self.paper.say(wording.HEARD.format(text=heard_text(self.desk.book, heard)))

    # --- the keys beside the answers -------------------------------------------------------------------------------

    def _command(self, letter: str, why: str = "") -> bool:
        """One of the keys that work at any question; True where it has shown something."""
        if letter == "b":
            raise Back
        if letter == "q":
            raise Leave
        if letter in wording.SHOWS:
            if letter == "w" and self._aside and not why:
                return False
            self.telling.show(letter, why)
            return True
        if self._aside or letter not in ASIDES:
            return False
        if not self.desk.folded(self.case_id).situation.complaints:
            self.paper.say(wording.FIRST_COMPLAINT)
            return True
        self._open_aside(letter)
        raise Changed

    def _open_aside(self, letter: str) -> None:
        """A screen within a screen; going back from it is going back to the job."""
        acts: dict[str, Callable[[], None]] = {
            "a": lambda: ask_already(self.telling, self._command),
            "m": self._one_more,
            "n": self._note,
            "x": lambda: ask_end(self.telling, self._command),
        }
        self._aside = True
        try:
            acts[letter]()
        except Back:
            if self.desk.folded(self.case_id).partly:
                self._back()
        finally:
            self._aside = False

    def _one_more(self) -> None:
        told = self.desk.folded(self.case_id).situation.complaints
        if len(told) >= MOST_COMPLAINTS:
            raise InputError("input.complaints", wording.NO_MORE.format(most=MOST_COMPLAINTS))
        more = ask_complaint(self.telling, told, self._command)
        if more:
            self.telling.tell(_complaint(more, told))
            self._hear()

    def _note(self) -> None:
        """Keep a line with the job."""
        self.paper.say(wording.ASK_NOTE)
        typed = self.telling.prompt.line()
        if typed:
            self.telling.note(typed)
            self.paper.say(wording.NOTE_KEPT)

    # --- going and coming ------------------------------------------------------------------------------------------

    def _back(self) -> None:
        if len(self.desk.heard_last(self.case_id)) > 1:
            self.telling.tell(events.partly("heard", wording.ONE_WRONG))
            return
        taken = self.desk.back(self.case_id, self.telling.seen)
        self.telling.reread()
        if taken is None:
            self.paper.say(wording.NO_BACK)
        else:
            self.paper.say(wording.TOOK_BACK.format(text=told_text(self.desk.book, taken)))

    def _take_back_heard(self) -> None:
        """Of several things that were taken from what was typed one is wrong: that alone is taken back, or all."""
        heard, asked = self.desk.heard_last(self.case_id), self.desk.last_told(self.case_id)
        texts = tuple(heard_text(self.desk.book, [one]) for one in heard)
        screen = Screen(lambda: self.paper.head(wording.WHICH_WRONG), texts, enter=wording.ALL_WRONG, hints="bq")
        self._aside = True
        try:
            chosen = self.telling.ask(screen, self._command)
            wrong = heard if chosen < 0 else [heard[chosen]]
        except Back:
            wrong = []
        finally:
            self._aside = False
        for event in wrong:
            self.telling.tell(events.undo(event.seq))
            self.paper.say(wording.TOOK_BACK.format(text=heard_text(self.desk.book, [event])))
        if asked:
            self.telling.tell(events.undo(asked.seq))

    def _come_back(self) -> bool:
        """What is said on coming back to a job; False where it is over and stays so."""
        view = self._view_if_told()
        if view is None:
            return True
        if not view["ended"]:
            last = self.desk.last_told(self.case_id)
            told = told_text(self.desk.book, last) if last else ""
            screens.show_return(self.paper, self.case_id, view, told)
            if view["waits"] is not None:
                self._ask_here(view["waits"])
            return True
        return self._open_again(view)

    def _ask_here(self, waits: str) -> None:
        """Ask whether what the job waits for is here. Raises Leave to leave it waiting."""
        text = wording.IS_IT_HERE.format(case=self.case_id, text=waits or wording.NOT_SAID)
        screen = Screen(lambda: self.paper.head(text), (wording.HERE, wording.NOT_HERE_YET), hints="q")
        try:
            if self.telling.ask(screen, _leaves) == 0:
                self.desk.here_now(self.case_id)
                self.paper.say(wording.WAITS_NO_MORE.format(case=self.case_id), style="bold")
        except Back:
            raise Leave from None
        self.telling.reread()

    def _open_again(self, view: View) -> bool:
        """Ask whether a job that is over goes on."""
        screen = Screen(
            lambda: screens.show_over(self.paper, self.case_id, view),
            (wording.REOPEN, wording.LEAVE_IT, wording.IT_IS_BACK),
            hints="",
        )
        parts = InParts(self.telling, "reopen")
        try:
            said = parts.ask(screen, dict(enumerate(REOPENED)), _leaves, last=REOPENED[:2])
            if said == "came-back":
                self._came_back()
            elif said == "reopen":
                self.desk.reopen(self.case_id)
        except Back:
            if self.desk.folded(self.case_id).partly:
                self._back()
                return self._open_again(view)
            return False
        except Leave:
            self._say_kept()
            return False
        self.telling.reread()
        return said != "leave"

    def _came_back(self) -> None:
        """What the comeback comes from; then it is one."""
        origins: tuple[Origin, ...] = tuple(wording.ORIGINS)
        texts = (*wording.ORIGINS.values(), wording.NOT_KNOWN_YET)
        self._aside = True
        try:
            at = self.telling.ask(Screen(lambda: self.paper.head(wording.COMES_FROM), texts, hints="bq"), self._command)
        finally:
            self._aside = False
        self.desk.come_back(self.case_id, origins[at] if at < len(origins) else None)
        screens.show_comeback(self.paper, self.case_id, self.desk.view(self.case_id))

    def _view_if_told(self) -> View | None:
        return self.desk.view(self.case_id) if self.desk.folded(self.case_id).situation.complaints else None

    def _leave(self) -> None:
        try:
            view = self._view_if_told()
            if view:
                screens.show_leaving(self.paper, view)
                self._note_loose(view["loose"])
        except InputError as why:
            self.paper.say(str(why))
        except (EndOfInput, KeyboardInterrupt):
            self.paper.tail()
        self._say_kept()

    def _say_kept(self) -> None:
        self.paper.say(wording.LEFT)
        self.paper.whole(self.command)

    def _note_loose(self, before: str | None) -> None:
        """Note what is loose; with only Enter what was noted before stands."""
        if before:
            self.paper.say(wording.ASK_STILL_LOOSE.format(text=before), style="bold")
            self.paper.say(wording.HOW_STILL_LOOSE)
        else:
            self.paper.say(wording.ASK_LOOSE, style="bold")
        typed = self.telling.prompt.line()
        if typed:
            self.desk.note_loose(self.case_id, "" if typed == wording.TIGHT else typed)


def _complaint(named: str, told: Sequence[str]) -> Draft:
    """One more complaint, or that one of those that were told is the worst."""
    return events.complaint(named, worst=named in told)


def _leaves(letter: str) -> bool:
    """The keys at a job that is over: going back and leaving are the same."""
    if letter in ("b", "q"):
        raise Back
    return False
