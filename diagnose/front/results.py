"""Fixes and ends: what the repeat test showed after a fix, the hand-off, the last check, other ways to end.

Cast: `ask_fix`, `ask_last` (hand-off or done) and `ask_end`; each tells what came of it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from diagnose.casework import events
from diagnose.casework.shapes import Outcome
from diagnose.front import screens, wording
from diagnose.front.prompt import CANNOT, Back, Command, Leave, Screen
from diagnose.front.questions import ask_question
from diagnose.front.telling import InParts, Telling

View = dict[str, Any]
GONE: Outcome = "gone"
STILL: Outcome = "still-there"
BETTER: Outcome = "better"
UNTESTED = "untested"
HELPED = (GONE, BETTER)
NOT_HERE = "not-here"
LOOK = "look"
DONE = {
    (False, GONE): wording.DONE_GONE,
    (False, STILL): wording.DONE_STILL,
    (False, BETTER): wording.DONE_BETTER,
    (False, "done"): wording.DONE_TESTED,
    (True, "done"): wording.DONE,
}
"""What is answered at a fix: whether no repeat test is left to make, and a word for it."""
IN_A_ROUND = {BETTER: wording.DONE_ROUND, STILL: wording.DONE_NOT_HELD}
"""What is answered at a fix in the midst of a round: the whole bike is tested at its end."""


def ask_fix(telling: Telling, view: View, command: Command) -> None:
    """Show the fix that comes next, then ask what its repeat test showed, or what a look before it did."""
    step = view["next"]
    looks = _looks(telling, view)
    changed = telling.verdict_changed(view)
    words = {0: ("done",), 1: (GONE, STILL, BETTER)}.get(len(step["complaints"]), ("done",))
    texts = [DONE[len(step["complaints"]) == 0, word] for word in words]
    if step["in_a_round"] and step["in_a_round"] == step["complaints"]:
        words, texts = tuple(IN_A_ROUND), list(IN_A_ROUND.values())
    answers = (*texts, wording.NOT_HERE)
    answers += (wording.TELL_LOOK,) if looks else ()
    screen = Screen(lambda: screens.show_fix(telling.paper, view, changed), answers, long=True)
    parts = InParts(telling, "fix", step["id"])
    one_test = len(step["complaints"]) < 2 or not _tests(view).left()
    one_fix = len(screens.fixes_now(view)) < 2
    last = (*(words if one_test else ()), *((NOT_HERE,) if one_fix else ()))
    look = next(iter(looks)) if len(looks) == 1 else LOOK
    said = parts.ask(screen, dict(enumerate([*words, NOT_HERE, look])), command, last)
    if said == LOOK:
        which = Screen(lambda: telling.paper.head(wording.WHICH_LOOK), tuple(looks.values()), hints="b")
        said = parts.ask(which, dict(enumerate(looks)), command)
    if said in looks:
        _tell_look(telling, said, command)
        return
    if said == NOT_HERE:
        telling.tell(events.fix_not_possible(_which_not(telling, view, command)))
        return
    telling.tell(events.fix_done(step["id"], _results(parts, view, said, command), step["with"]))


def _looks(telling: Telling, view: View) -> dict[str, str]:
    """The checks that the fixes need and that nobody has told yet: id to what is asked."""
    needs = [need for item in screens.fixes_now(view) for need in item["needs"] if not need["done"]]
    return {need["id"]: need["text"] for need in needs if need["id"] in telling.book.checks}


def _tell_look(telling: Telling, look: str, command: Command) -> None:
    """Ask what this look showed, until its last reading is told; that it was begun is kept, back takes that back."""
    while True:
        ask_question(telling, telling.desk.view(telling.case_id, with_why=True, look=look), command)
        if look not in telling.desk.folded(telling.case_id).situation.begun:
            return


def _which_not(telling: Telling, view: View, command: Command) -> str:
    """The fix that cannot be done here; asked where two are done in one go."""
    items = screens.fixes_now(view)
    if len(items) < 2:
        return str(view["next"]["id"])
    names = tuple(item["name"] for item in items)
    chosen = telling.ask(Screen(lambda: telling.paper.head(wording.WHICH_NOT), names, hints="b"), command)
    return str(items[chosen]["fix"])


def _results(parts: InParts, view: View, said: Any, command: Command) -> dict[str, Outcome]:
    """What the repeat tests showed: of the one complaint that stands as was answered, of several each by itself.

    Where none stands any more, what was gone is still gone. What the fix does not treat is tested only where nothing
    holds the bike any more.
    """
    standing = view["next"]["complaints"]
    if len(standing) < 2:
        return dict.fromkeys(standing or [view["complaints"][0]["id"]], said if said in (STILL, BETTER) else GONE)
    tests = _tests(view)
    while left := tests.left():
        tests.tell(left[0], _result(parts, left[0], tests, command))
    return tests.results()


def _tests(view: View) -> RepeatTests:
    """The tests to make now. A round that goes on is tested at its end: for now it is better."""
    standing = view["next"]["complaints"]
    treated = {one["complaint"] for item in screens.fixes_now(view) for one in item["causes"]}
    names = [name for name in standing if name in treated] or standing[:1]
    tests = RepeatTests(names, [name for name in standing if name not in names], view)
    for name in view["next"]["in_a_round"]:
        tests.tell(name, BETTER)
    return tests


class RepeatTests:
    """The repeat tests after a fix: of the complaints that it treats each, those whose danger holds the bike first.

    What it does not treat is tested once nothing holds the bike any more, and may stay untested.
    """

    def __init__(self, treated: Sequence[str], others: Sequence[str], view: View) -> None:
        self.treated = treated
        self._holding, self._held_anyway = _holding(view, frozenset(treated))
        self._order = [*sorted(treated, key=lambda name: name not in self._holding), *others]
        self._told: dict[str, Any] = {}

    def tell(self, name: str, shown: Any) -> None:
        """What one of them showed."""
        self._told[name] = shown

    def left(self, *told: tuple[str, Any]) -> list[str]:
        """The complaints whose tests are left; `told`: if this were told besides."""
        known = self._told | dict(told)
        held = self._held(known)
        return [name for name in self._order if name not in known and (name in self.treated or not held)]

    def not_ridden(self, name: str) -> bool:
        """Whether the danger of another complaint, or one that is not yet known to be gone, still holds the bike."""
        return self._held(self._told, name)

    def _held(self, known: Mapping[str, Any], besides: str = "") -> bool:
        """Whether a complaint that holds the bike is not gone, or any that was tested where it is held anyway."""
        holding = self._holding | known.keys() if self._held_anyway else self._holding
        return any(known.get(one) != GONE for one in holding if one != besides)

    def results(self) -> dict[str, Outcome]:
        """What the fix did: where what it does not treat is still there, it has not failed."""
        failed = {name: STILL for name, shown in self._told.items() if name in self.treated and shown not in HELPED}
        return {name: shown for name, shown in self._told.items() if shown in HELPED} | failed


def _holding(view: View, treated: frozenset[str]) -> tuple[frozenset[str], bool]:
    """The complaints whose danger holds the bike, and whether it is held whatever it came for.

    What was seen or said holds it before what may be. A danger of several is over with those that the fix treats.
    """
    reasons = view["ride"]["because"]
    because = [one for one in reasons if one["conclusion"]] or reasons
    if view["ride"]["verdict"] not in ("stop", "not-cleared"):
        return frozenset(), False
    named = frozenset(name for one in because for name in treated.intersection(one["complaints"]) or one["complaints"])
    return named, not because or any(not one["complaints"] for one in because)


def _result(parts: InParts, complaint: str, tests: RepeatTests, command: Command) -> Any:
    """What the repeat test of one complaint shows, or that it was not made."""
    telling, untested = parts.telling, complaint not in tests.treated

    def draw() -> None:
        telling.paper.head(wording.TEST_OF.format(name=telling.book.complaints[complaint].name))
        telling.paper.say(telling.desk.test_text(telling.case_id, complaint))
        if tests.not_ridden(complaint):
            telling.paper.say(wording.TEST_NOT_RIDDEN, style="bold")
        telling.paper.say()

    screen = Screen(draw, (wording.TEST_GONE, wording.TEST_STILL, wording.TEST_BETTER), cannot=untested, hints="bwlpqh")
    words = {0: GONE, 1: STILL, 2: BETTER, CANNOT: UNTESTED}
    last = [word for word in words.values() if not tests.left((complaint, word))]
    return parts.ask(screen, words, command, last)


def ask_last(telling: Telling, view: View, command: Command) -> None:
    """The hand-off, or the last check where every repeat test passed; then how the job ends."""
    telling.verdict_changed(view)
    if view["next"]["kind"] == "hand-off":
        answers = (wording.HANDED_ON, wording.NOT_YET)
        screen = Screen(lambda: screens.show_hand_off(telling.paper, view), answers, long=True)
        end = events.ended("handed-off", view["next"]["found"])
    else:
        torques = telling.desk.torques(telling.case_id)
        answers = (wording.CHECKED, wording.NOT_YET)
        screen = Screen(lambda: screens.show_done(telling.paper, view, torques), answers, long=True)
        end = events.ended("cured", view["next"]["found"])
    if telling.ask(screen, command) == 1:
        raise Leave
    telling.tell(end)


def ask_end(telling: Telling, command: Command) -> None:
    """End the job in another proper way, or leave it waiting. Raises Back where it does neither."""
    ways: Sequence[str] = tuple(wording.ENDINGS)
    screen = Screen(
        lambda: telling.paper.head(wording.HOW_ENDS),
        (*wording.ENDINGS.values(), wording.WAITS_INSTEAD),
        enter=wording.NOT_ENDED,
        hints="",
    )
    chosen = telling.ask(screen, command)
    if chosen < 0:
        raise Back
    if chosen == len(ways):
        telling.desk.wait(telling.case_id)
        telling.paper.say(wording.ASK_WAITS)
        if text := telling.prompt.line():
            telling.desk.wait(telling.case_id, text=text)
        raise Leave
    telling.tell(events.ended(ways[chosen]))  # type: ignore[arg-type]
