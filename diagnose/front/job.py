"""One job at the stand: from the complaint to the repeat test that passed, one question at a time.

Cast: `Job` runs the screens of one case; what is told goes to the desk at once, so that the job can be left, or the program killed, at
any moment. `Job.run` is the loop; start reading there.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from diagnose.bench.units import parse_quantity
from diagnose.casework import events
from diagnose.casework.desk import MOST_COMPLAINTS, Desk
from diagnose.casework.events import Draft
from diagnose.casework.words import match_complaints
from diagnose.errors import InputError
from diagnose.front import screens, wording
from diagnose.front.keys import EndOfInput, Keyboard
from diagnose.front.paper import Paper

View = dict[str, Any]
GATE = "arrival"
"""The fact that the half-minute walk round the bike answers."""
ALONE = ("nothing", "none", "complete")
"""Values that say that none of the others holds."""
MOST_ON_KEYS = 9


class Leave(Exception):  # noqa: N818 - leaving is no error
    """The job is left for now."""


class Back(Exception):  # noqa: N818 - going back is no error
    """One step back from a sub-screen, or in the job."""


class Job:
    """The screens of one case."""

    def __init__(self, desk: Desk, paper: Paper, keys: Keyboard, case_id: str) -> None:
        self.desk = desk
        self.book = desk.book
        self.paper = paper
        self.keys = keys
        self.case_id = case_id
        self.seen = len(desk.store.events(case_id))
        self._noticed = False

    # --- the loop --------------------------------------------------------------------------------------------------

    def run(self) -> None:
        """Work on the job until it ends or is left."""
        self._read_back()
        try:
            while self._step():
                pass
        except Leave:
            self._leave()
        except (EndOfInput, KeyboardInterrupt):
            self.paper.say()
            self.paper.say(wording.LEFT.format(case=self.case_id))

    def _step(self) -> bool:
        """One screen; False when the job is over."""
        try:
            folded = self.desk.folded(self.case_id)
            if folded.situation.ended:
                self.paper.say(f"This job ended: {wording.ENDINGS.get(folded.situation.ended, 'repeat test passed')}.")
                return False
            if not folded.situation.complaints:
                self.complaints()
            elif GATE in self.book.facts and GATE not in folded.situation.asked:
                self.gate()
            else:
                return self._next(self.desk.view(self.case_id))
        except Changed:
            return True
        except Back:
            self._back()
        return True

    def _next(self, view: View) -> bool:
        if not self._noticed and self.desk.reasoner.notice:
            self.paper.say(self.desk.reasoner.notice, style="dim")
        self._noticed = True
        if view["wanted"]:
            self.fact(view["wanted"][0])
            return True
        kind = view["next"]["kind"]
        if kind == "check":
            self.question(view)
        elif kind == "fix":
            self.fix(view)
        elif kind == "hand-off":
            return self.hand_off(view)
        else:
            return self.done(view)
        return True

    def tell(self, draft: Draft) -> None:
        """Store what was told; it is safe when this returns."""
        self.seen = self.desk.submit_after(self.case_id, draft, self.seen).seq

    # --- asking ----------------------------------------------------------------------------------------------------

    def choose(self, answers: Sequence[str], commands: str, on_text: Callable[[str], Any] | None = None) -> int | str:
        """A key: the place of an answer (from 0), or a command's letter. Wrong keys say what works and ask again.

        Args:
            answers: texts of the answers on the keys 1, 2, ...
            commands: letters that work here beside the usual ones.
            on_text: takes a line instead of a key (a reading, words); gives None where it cannot.
        """
        usual = "wlpbaxqh"
        while True:
            screens.show_keys(self.paper, commands + "".join(key for key in usual if key not in commands))
            long = on_text is not None or len(answers) > MOST_ON_KEYS
            typed = self.keys.line() if long else self.keys.key()
            if typed.isascii() and typed.isdigit() and not on_text and 1 <= int(typed[:4]) <= len(answers):
                self.paper.say(f"= {answers[int(typed) - 1]}", indent=1)
                return int(typed) - 1
            letter = typed.lower()
            if len(letter) == 1 and letter in commands:
                self.paper.say(f"= {wording.KEYS[letter]}", indent=1)
                return letter
            if len(letter) == 1 and letter in usual:
                self.command(letter)
                continue
            if on_text is not None and typed and on_text(typed) is not None:
                return typed
            if on_text is None or not typed:
                numbers = f"1 to {len(answers)}, " if answers and not on_text else ""
                self.paper.say(wording.WRONG_KEY.format(keys=numbers + ", ".join(commands + usual)))

    def command(self, letter: str) -> None:
        """One of the keys that work at any question."""
        if letter == "b":
            raise Back
        if letter == "q":
            raise Leave
        if letter == "h":
            self.help()
        elif letter == "a":
            self.already()
        elif letter == "x":
            self.end()
        else:
            self._show(letter)

    def _show(self, letter: str) -> None:
        if not self.desk.folded(self.case_id).situation.complaints:
            self.paper.say("First the complaint.")
            return
        view = self.desk.view(self.case_id, with_why=letter in "wl", with_estimate=letter == "p")
        {"w": screens.show_why, "l": screens.show_likely, "p": screens.show_plan}[letter](self.paper, view)
        self.paper.say()

    def help(self) -> None:
        """The keys, in words."""
        self.paper.head("Keys")
        self.paper.item("1-9", "an answer")
        for key, text in wording.KEYS.items():
            self.paper.item(f"  {key}", text)
        self.paper.say(wording.SAFETY)

    # --- the complaint, the gate, the facts ------------------------------------------------------------------------

    def complaints(self) -> None:
        """What the rider complains of: the first, then up to two more."""
        self.paper.head(wording.ASK_COMPLAINT)
        first = self._pick_complaint(required=True)
        self.tell(events.complaint(first))
        chosen = [first]
        while len(chosen) < MOST_COMPLAINTS:
            self.paper.say()
            self.paper.say(f"Noted: {self.book.complaints[chosen[-1]].name}.")
            self.paper.say(wording.ASK_MORE)
            more = self._pick_complaint(required=False)
            if more is None:
                return
            if more not in chosen:
                self.tell(events.complaint(more))
                chosen.append(more)

    def _pick_complaint(self, required: bool) -> Any:
        while True:
            typed = self.keys.line()
            if typed.lower() == "q":
                raise Leave
            if typed.lower() == "b" and not required:
                return None
            if not typed and not required:
                return None
            found = match_complaints(self.book, typed) if typed else []
            complaints = [complaint for complaint, _ in found] or (
                sorted(self.book.complaints.values(), key=lambda one: one.name) if not typed else []
            )
            if not complaints:
                self.paper.say(wording.NO_MATCH)
                continue
            picked = self._pick_from(complaints)
            if picked is not None:
                return picked.id
            self.paper.say(wording.ASK_COMPLAINT if required else wording.ASK_MORE)

    def _pick_from(self, things: Sequence[Any]) -> Any:
        """One of a short list by number; None for none of them."""
        self.paper.say()
        for number, one in enumerate(things, 1):
            self.paper.item(f"{number:2}", one.name)
        self.paper.say(wording.WHICH)
        while True:
            typed = self.keys.line() if len(things) > MOST_ON_KEYS else self.keys.key()
            if typed.isascii() and typed.isdigit() and 1 <= int(typed[:4]) <= len(things):
                return things[int(typed) - 1]
            if typed in ("", "b"):
                return None
            if typed == "q":
                raise Leave
            self.paper.say(wording.WRONG_KEY.format(keys=f"1 to {len(things)}, Enter, q"))

    def gate(self) -> None:
        """The half-minute walk round the bike, before the first question."""
        fact = self.book.facts[GATE]
        answers = [{"id": value, "text": text} for value, text in fact.values.items()]
        self.paper.rule()
        self.paper.say("Before anything else: is it the right bike, and the assist off and its battery out?")
        self.fact({"fact": GATE, "text": fact.ask, "several": fact.several, "answers": answers})

    def fact(self, wanted: View) -> None:
        """A fact of the bike, one key; several where several may hold."""
        self.paper.rule()
        self.paper.say(wanted["text"], style="bold")
        for number, answer in enumerate(wanted["answers"], 1):
            self.paper.item(f"{number:2}", answer["text"])
        chosen = self.choose([one["text"] for one in wanted["answers"]], "c")
        if chosen == "c":
            self.tell(events.profile(wanted["fact"], []))
            return
        values = [wanted["answers"][int(chosen)]["id"]]
        if wanted["several"] and values[0] not in ALONE:
            values += self._more_values(wanted, values[0])
        self.tell(events.profile(wanted["fact"], values))

    def _more_values(self, wanted: View, first: str) -> list[str]:
        values: list[str] = []
        while True:
            self.paper.say("Another one? Its number, or Enter to go on.")
            long = len(wanted["answers"]) > MOST_ON_KEYS
            typed = self.keys.line() if long else self.keys.key()
            if not typed:
                return values
            if typed == "b":
                raise Back
            if typed == "q":
                raise Leave
            if typed.isascii() and typed.isdigit() and 1 <= int(typed[:4]) <= len(wanted["answers"]):
                value = wanted["answers"][int(typed) - 1]["id"]
                if value != first and value not in values and value not in ALONE:
                    values.append(value)
                    self.paper.say(f"Also: {wanted['answers'][int(typed) - 1]['text']}.")
            else:
                self.paper.say(wording.WRONG_KEY.format(keys=f"1 to {len(wanted['answers'])}, Enter, b, q"))

    # --- checks ----------------------------------------------------------------------------------------------------

    def question(self, view: View) -> None:
        """The next check: a value by key, or a reading typed with its unit."""
        screens.show_question(self.paper, view)
        step = view["next"]
        role = self.desk.folded(self.case_id).situation.role
        if step["answers"]:
            chosen = self.choose([one["text"] for one in step["answers"]], "c")
            if chosen == "c":
                self.tell(events.cannot_tell(step["id"], role))  # type: ignore[arg-type]
            else:
                self.tell(events.answered(step["id"], role, step["answers"][int(chosen)]["id"]))  # type: ignore[arg-type]
            return
        typed = self.choose([], "c", on_text=lambda text: self._reading(step, text))
        if typed == "c":
            self.tell(events.cannot_tell(step["id"], role))  # type: ignore[arg-type]
            return
        reading = self._reading(step, str(typed))
        self.tell(events.measured(step["id"], role, reading or 0.0, step["unit"], str(typed)[:60]))  # type: ignore[arg-type]

    def _reading(self, step: View, typed: str) -> float | None:
        """The reading in the check's unit, or None after saying what is wrong with it."""
        measure = step["check"]["measure"]
        try:
            value = parse_quantity(typed, measure["unit"]).value
        except InputError as why:
            self.paper.say(f"{wording.NOT_A_READING}: {why.message} {why.hint}")
            return None
        if not measure["from"] <= value <= measure["to"]:
            self.paper.say(
                f"{wording.NOT_A_READING}: {value:g} {measure['unit']} is outside {measure['from']:g} to {measure['to']:g}. "
                "Check the reading and its unit."
            )
            return None
        return value

    # --- fixes and ends --------------------------------------------------------------------------------------------

    def fix(self, view: View) -> None:
        """The fix that comes next, then its repeat test."""
        screens.show_fix(self.paper, view)
        step = view["next"]
        item = next((one for one in view["plan"] if one["fix"] == step["id"]), None)
        if item:
            self.paper.say()
            self.paper.say(wording.REPEAT.format(text=item["confirm"]["text"]), style="bold")
            for limit in item["confirm"]["limits"]:
                self.paper.item("-", screens.limit_line(limit))
            for caution in item["confirm"]["cautions"]:
                self.paper.item("!", caution)
        answers = [wording.DONE_GONE, wording.DONE_STILL, wording.NOT_HERE]
        for number, text in enumerate(answers, 1):
            self.paper.item(str(number), text)
        chosen = self.choose(answers, "")
        if chosen == 2:
            self.tell(events.fix_not_possible(step["id"]))
            return
        results = self._results(step["complaints"], item, chosen == 0)
        self.tell(events.fix_done(step["id"], results, step["with"]))

    def _results(self, complaints: Sequence[str], item: View | None, gone: bool) -> Any:
        """The result for each complaint that the fix can have touched; asked where there are several."""
        touched = {one["complaint"] for one in item["causes"]} if item else set()
        touched = touched & set(complaints) or {complaints[0]}
        word = {True: "gone", False: "still-there"}
        if not gone or len(complaints) == 1:
            return {name: word[gone] for name in complaints if name in touched}
        results = {}
        for name in complaints:
            self.paper.say(wording.STILL_WHICH.format(name=self.book.complaints[name].name), style="bold")
            self.paper.say(self.book.complaints[name].repeat_test.text, indent=1)
            self.paper.item("1", "gone")
            self.paper.item("2", "still there")
            passed = self.choose(["gone", "still there"], "") == 0
            if passed or name in touched:
                results[name] = word[passed]
        return results or {complaints[0]: "gone"}

    def hand_off(self, view: View) -> bool:
        """Stop here: note, and how the job ends."""
        screens.show_hand_off(self.paper, view)
        answers = ["handed on: this job is over", "leave it here for now"]
        for number, text in enumerate(answers, 1):
            self.paper.item(str(number), text)
        if self.choose(answers, "") == 1:
            raise Leave
        self.tell(events.ended("handed-off"))
        return False

    def done(self, view: View) -> bool:
        """Every repeat test passed."""
        screens.show_done(self.paper, view)
        answers = ["final check done: the job is over", "leave it here for now"]
        for number, text in enumerate(answers, 1):
            self.paper.item(str(number), text)
        if self.choose(answers, "") == 1:
            raise Leave
        self.tell(events.ended("cured", view["next"]["found"]))
        return False

    def end(self) -> None:
        """End the job in another proper way."""
        self.paper.head("How does this job end?")
        for number, text in enumerate(wording.ENDINGS.values(), 1):
            self.paper.item(str(number), text)
        self.paper.say("Enter: it does not end.")
        typed = self.keys.key()
        if typed.isascii() and typed.isdigit() and 1 <= int(typed[:4]) <= len(wording.ENDINGS):
            how = list(wording.ENDINGS)[int(typed) - 1]
            self.tell(events.ended(how))  # type: ignore[arg-type]
            raise Leave

    def already(self) -> None:
        """Something that was done before the bike came."""
        self.paper.say(wording.ALREADY_WHICH)
        typed = self.keys.line()
        if not typed:
            return
        fixes = _fixes_like(self.book, typed)
        if not fixes:
            self.paper.say("Nothing in the book sounds like that.")
            return
        picked = self._pick_from(fixes)
        if picked is None:
            return
        self.paper.say(wording.ALREADY_RESULT)
        results = list(wording.RESULT.items())
        for number, (_, text) in enumerate(results, 1):
            self.paper.item(str(number), text)
        while True:
            key = self.keys.key()
            if key in ("1", "2", "3"):
                self.tell(events.already(picked.id, results[int(key) - 1][0]))  # type: ignore[arg-type]
                raise Changed
            if key in ("", "b"):
                return
            self.paper.say(wording.WRONG_KEY.format(keys="1, 2, 3, Enter"))

    # --- going and coming ------------------------------------------------------------------------------------------

    def _back(self) -> None:
        taken = self.desk.back(self.case_id)
        self.seen = len(self.desk.store.events(self.case_id))
        self.paper.say(wording.TOOK_BACK if taken else wording.NO_BACK)

    def _leave(self) -> None:
        folded = self.desk.folded(self.case_id)
        if folded.situation.ended:
            return
        try:
            opened = [self.book.teardowns[one].name for one in sorted(folded.situation.open_teardowns)]
            if opened:
                self.paper.say(f"Open right now: {', '.join(opened)}.")
            self.paper.say(wording.ASK_LOOSE)
            self.desk.note_loose(self.case_id, self.keys.line())
        except InputError as why:
            self.paper.say(f"{why.message} {why.hint}")
        except (EndOfInput, KeyboardInterrupt):
            pass
        self.paper.say(wording.LEFT.format(case=self.case_id))

    def _read_back(self) -> None:
        view_loose = self.desk.folded(self.case_id).loose
        text = self.desk.store.text(view_loose) if view_loose else None
        if text:
            self.paper.head(wording.LOOSE_READ.format(text=text))


class Changed(Back):
    """What is known has changed; the screen is drawn anew and nothing is taken back."""


def _fixes_like(book: Any, typed: str) -> list[Any]:
    """Fixes whose name has words like those typed, the best first."""
    from difflib import SequenceMatcher

    words = [word for word in typed.lower().split() if len(word) > 2]

    def score(fix: Any) -> float:
        names = fix.name.lower().split()
        hits = [max(SequenceMatcher(None, word, name).ratio() for name in names) for word in words]
        return sum(hits) / len(hits) if hits else 0.0

    ranked = sorted(((score(fix), fix.id, fix) for fix in book.fixes.values()), key=lambda one: (-one[0], one[1]))
    return [fix for value, _, fix in ranked[:MOST_ON_KEYS] if value >= 0.6]
