"""`diagnose intake`: the counter. The rider's words, a danger round, six questions at most, and a ticket.

Cast: `command`; `Counter` runs the screens of one job, in the same way as the stand does, and says less.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import click

from diagnose.casework import events
from diagnose.casework.desk import Desk
from diagnose.casework.intake import MOST_PROMPTS
from diagnose.casework.shapes import OldParts
from diagnose.errors import InputError
from diagnose.front import screens, wording
from diagnose.front.earlier import say_earlier
from diagnose.front.job import GATE, Job
from diagnose.front.keys import EndOfInput, Keyboard, keyboard
from diagnose.front.options import chosen_settings, chosen_shop, command_line, named_files, rules_option
from diagnose.front.paper import Paper
from diagnose.front.prompt import Back, Prompt, Screen
from diagnose.front.questions import ask_fact, ask_more, ask_question
from diagnose.front.stand import ask_label
from diagnose.front.ticket import show_ticket

View = dict[str, Any]
KEYS = "bwlpamq"
"""The letters that are named below a question at the counter."""


@click.command()
@click.option("--case", "case_id", metavar="ID", help="Go on with this job.")
@rules_option
@click.option("--store", type=click.Path(path_type=Path), help="Another file to keep jobs in.")
@click.option("--json", "as_json", is_flag=True, help="Print what is asked now or the ticket of a job, for programs.")
@click.option("--plain", is_flag=True, help="ASCII only.")
def command(case_id: str | None, rules: tuple[Path, ...], store: Path | None, as_json: bool, plain: bool) -> int:
    """Take a bike in, with the rider in front of you: what a rider can say or show, six questions at most.

    Then the ticket: may it be ridden, what it probably is, what it will take, what the stand begins with. Everything
    told is kept at once; the stand goes on from there. Where the input is no terminal, each line is an answer: first
    the bike's label, then the complaint.

    Examples: diagnose intake; diagnose stand --case b7k2-21
    """
    from diagnose.casework.store import SqliteStore, default_path
    from diagnose.reason.reasoner import Reasoner

    chosen_settings()  # what is wrong with them is told before anything is typed
    paper = Paper(plain=True if plain else None)
    files = named_files(rules, store)
    if as_json:
        return _print_job(case_id, rules, store)
    with SqliteStore(store or default_path()) as kept, keyboard() as keys:
        label = ""
        if case_id is None:
            try:
                label = ask_label(paper, Prompt(paper, keys))
            except (EndOfInput, KeyboardInterrupt, Back):
                paper.tail()
                return 0
        shop = chosen_shop(rules)
        desk = Desk(Reasoner(shop.book), kept, shop.settings)
        if case_id is None:
            job = desk.open(label, "rider", "mechanic")
            paper.say(wording.OPENED.format(case=job))
            say_earlier(paper, desk, label, job, files)
        else:
            job = desk.find(case_id)
            if desk.folded(job).situation.role != "rider":
                paper.say(wording.AT_STAND.format(case=job))
                paper.whole(command_line(wording.COMMAND, job, files))
                return 0
        Counter(desk, paper, keys, job, files).run()
    return 0


def _print_job(case_id: str | None, rules: tuple[Path, ...], store: Path | None) -> int:
    """The View of a job at the counter, as JSON."""
    import json

    from diagnose.casework.store import SqliteStore, default_path
    from diagnose.reason.reasoner import Reasoner

    if case_id is None:
        raise InputError("input.case", wording.WHICH_JOB, None, wording.WHICH_HOW)
    shop = chosen_shop(rules)
    with SqliteStore(store or default_path()) as kept:
        desk = Desk(Reasoner(shop.book), kept, shop.settings)
        job = desk.find(case_id)
        view = desk.counter(job) if desk.folded(job).situation.complaints else None
    click.echo(json.dumps({"schema": 1, "job": job, "view": view}, indent=1))
    return 0


class Counter(Job):
    """The screens of one job at the counter."""

    def __init__(
        self, desk: Desk, paper: Paper, keys: Keyboard, case_id: str, files: tuple[tuple[str, Path], ...] = ()
    ) -> None:
        super().__init__(desk, paper, keys, case_id, command_line(wording.INTAKE_COMMAND, case_id, files))
        self.at_stand = command_line(wording.COMMAND, case_id, files)
        """What to type to go on at the stand."""

    def _work(self) -> bool:
        """What is asked now; else the ticket."""
        view = self.desk.counter(self.case_id)
        self.telling.say_stand_in()
        prompt = view["prompt"]
        if prompt is None:
            return self._ticket(view)
        lead = wording.PROMPT_OF.format(**prompt)
        if prompt["kind"] == "check":
            ask_question(self.telling, view, self._command, lead)
            return True
        if prompt["danger"]:
            lead = f"{lead} {wording.LOOK_ROUND}"
        wanted = self._fact(GATE) if prompt["id"] == GATE else self.desk.fact(self.case_id, prompt["id"])
        ask_fact(self.telling, wanted, self._command, lead, wording.WHY_AT_COUNTER, self._more_matters)
        return True

    def _another(self, wanted: View, told: Sequence[str]) -> None:
        """Another value of a fact counts as a question too."""
        number = self.desk.asked_at_counter(self.case_id) + 1
        lead = wording.PROMPT_OF.format(number=number, most=MOST_PROMPTS)
        ask_more(self.telling, wanted, told, self._command, lead, self._more_matters)

    def _more_matters(self, fact: str, told: Sequence[str]) -> bool:
        return self.desk.more_matters(self.case_id, fact, told)

    # --- the ticket ------------------------------------------------------------------------------------------------

    def _ticket(self, view: View) -> bool:
        """Show the ticket and ask for what is not told yet: the sum that is agreed, and wishes. Then it is done."""
        prompts = [self._ask_sum, self._ask_needed, *([self._ask_old_parts] if view["ticket"]["order"] else [])]
        place = self._untold()
        if place >= len(prompts):
            return self._change(view, prompts)
        while place < len(prompts):
            try:
                prompts[place](view)
                place += 1
            except Back:
                if not place:
                    raise
                place -= 1
            except EndOfInput:
                if not place:
                    raise
                self.paper.tail()
                break
        self._say_done()
        return False

    def _untold(self) -> int:
        """The place of the first prompt of the ticket that was not answered yet."""
        folded = self.desk.folded(self.case_id)
        told = (folded.asked_sum, folded.wishes.asked, folded.wishes.old_parts is not None)
        return told.index(False) if False in told else len(told)

    def _change(self, view: View, prompts: Sequence[Callable[[View], None]]) -> bool:
        """A ticket that is whole is shown again; what was agreed can be told anew."""
        texts = wording.CHANGE[: len(prompts)]
        screen = Screen(
            lambda: self._draw(view, wording.ASK_CHANGE), texts, enter=wording.CHANGE_NOTHING, hints="bwlpqh", long=True
        )
        chosen = self.telling.ask(screen, self._command)
        if chosen >= 0:
            prompts[chosen](view)
        self._say_done()
        return False

    def _ask_sum(self, view: View) -> None:
        """The sum up to which nobody need ring; only Enter: as agreed before, or none."""
        currency, folded = self.desk.book.constants.currency, self.desk.folded(self.case_id)
        question = wording.ASK_CEILING.format(currency=currency)
        enter = wording.CEILING_NONE if folded.agreed is None else wording.CEILING_KEEP
        screen = Screen(lambda: self._draw(view, question), enter=enter, hints="bwlpqh", long=True)
        typed = self.telling.prompt.ask_line(screen, self._sum, lambda letter: self._command(letter, wording.WHY_SUM))
        ceiling = folded.agreed if typed is None or typed < 0 else typed
        self.telling.tell(events.agreed(ceiling))
        if ceiling is None:
            return
        self.paper.say(wording.AGREED.format(sum=screens.money(ceiling), currency=currency), style="bold")
        if self.desk.counter(self.case_id)["ticket"]["may_be_crossed"]:
            self.paper.say(wording.MAY_CROSS)

    def _ask_needed(self, _: View) -> None:
        """What it is used for and by when; only Enter: as told before, or nothing."""
        wishes = self.desk.view_wishes(self.case_id)

        def draw() -> None:
            self.paper.head(wording.ASK_NEEDED)
            if wishes["text"]:
                self.paper.say(wording.NEEDED_SO_FAR.format(text=wishes["text"]))

        enter = wording.NEEDED_KEEP if wishes["text"] else wording.NEEDED_NOTHING
        typed = self.telling.prompt.ask_line(Screen(draw, enter=enter, hints="bq"), str, self._command)
        self.desk.wish(self.case_id, typed or wishes["text"] or "", wishes["old_parts"])
        self.telling.reread()

    def _ask_old_parts(self, _: View) -> None:
        """Where parts may be wanted: whether the old ones go back to the rider."""
        texts = tuple(wording.OLD_PARTS.values())
        screen = Screen(lambda: self.paper.head(wording.ASK_OLD_PARTS), texts, hints="bq")
        old: OldParts = "back" if self.telling.ask(screen, self._command) == 0 else "leave"
        self.desk.wish(self.case_id, self.desk.view_wishes(self.case_id)["text"] or "", old)
        self.telling.reread()

    def _draw(self, view: View, question: str) -> None:
        show_ticket(self.paper, self.case_id, view, self.desk.book.constants.currency)
        self.paper.say()
        self.paper.say(question, style="bold")

    def _sum(self, typed: str) -> float | None:
        """The sum that was typed; -1 for Enter, None after saying what is wrong."""
        if not typed:
            return -1.0
        try:
            ceiling = float(typed.replace(",", "."))
            events.agreed(ceiling)
        except (ValueError, InputError):
            self.paper.say(wording.NOT_A_SUM)
            return None
        return ceiling

    def _say_done(self) -> None:
        self.paper.say()
        self.paper.say(wording.TICKET_KEPT)
        self.paper.whole(self.at_stand)

    def _leave(self) -> None:
        """Nothing is apart at the counter: the job is kept as it is."""
        view = self._view_if_told()
        if view:
            screens.show_leaving(self.paper, view)
        self._say_kept()
