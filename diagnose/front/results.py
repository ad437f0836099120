"""Fixes and ends: what the repeat test showed after a fix, the hand-off, the last check, other ways to end.

Cast: `ask_fix`, `ask_last` (hand-off or done) and `ask_end`; each tells what came of it.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from diagnose.casework import events
from diagnose.casework.shapes import Outcome
from diagnose.front import screens, wording
from diagnose.front.prompt import CANNOT, Back, Changed, Command, Leave, Screen
from diagnose.front.telling import Telling

View = dict[str, Any]
GONE: Outcome = "gone"
STILL: Outcome = "still-there"


def ask_fix(telling: Telling, view: View, command: Command) -> None:
    """Show the fix that comes next, then ask what its repeat test showed."""
    step = view["next"]
    changed = telling.verdict_changed(view)
    done = {0: (wording.DONE,), 1: (wording.DONE_GONE, wording.DONE_STILL)}
    answers = done.get(len(step["complaints"]), (wording.DONE_TESTED,))
    screen = Screen(lambda: screens.show_fix(telling.paper, view, changed), (*answers, wording.NOT_HERE), long=True)
    chosen = telling.ask(screen, command)
    try:
        if chosen == len(answers):
            telling.tell(events.fix_not_possible(_which_not(telling, view, command)))
            return
        results = _results(telling, view, chosen == 0, command)
    except Back:
        raise Changed from None
    telling.tell(events.fix_done(step["id"], results, step["with"]))


def _which_not(telling: Telling, view: View, command: Command) -> str:
    """The fix that cannot be done here; asked where two are done in one go."""
    items = screens.fixes_now(view)
    if len(items) < 2:
        return str(view["next"]["id"])
    names = tuple(item["name"] for item in items)
    chosen = telling.ask(Screen(lambda: telling.paper.head(wording.WHICH_NOT), names, hints="b"), command)
    return str(items[chosen]["fix"])


def _results(telling: Telling, view: View, passed: bool, command: Command) -> dict[str, Outcome]:
    """What the repeat tests showed: of the one complaint that stands as was answered, of several each by itself.

    Where none stands any more, what was gone is still gone.
    """
    standing = view["next"]["complaints"]
    if len(standing) < 2:
        return dict.fromkeys(standing or [view["complaints"][0]["id"]], GONE if passed else STILL)
    treated = {one["complaint"] for item in screens.fixes_now(view) for one in item["causes"]}
    names = [name for name in standing if name in treated] or standing[:1]
    results: dict[str, Outcome] = {name: _result(telling, name, False, command) or STILL for name in names}
    for name in standing:
        # It is not what the fix treats: it may stay untested, and where it is still there the fix has not failed.
        if name not in names and _result(telling, name, True, command) == GONE:
            results[name] = GONE
    return results


def _result(telling: Telling, complaint: str, untested: bool, command: Command) -> Outcome | None:
    """What the repeat test of one complaint shows; None where it was not made."""

    def draw() -> None:
        telling.paper.head(wording.TEST_OF.format(name=telling.book.complaints[complaint].name))
        telling.paper.say(telling.desk.test_text(telling.case_id, complaint))
        telling.paper.say()

    screen = Screen(draw, (wording.TEST_GONE, wording.TEST_STILL), cannot=untested, hints="bwlpqh")
    chosen = telling.ask(screen, command)
    return None if chosen == CANNOT else (GONE, STILL)[chosen]


def ask_last(telling: Telling, view: View, command: Command) -> None:
    """The hand-off, or the last check where every repeat test passed; then how the job ends."""
    telling.verdict_changed(view)
    if view["next"]["kind"] == "hand-off":
        answers = (wording.HANDED_ON, wording.NOT_YET)
        screen = Screen(lambda: screens.show_hand_off(telling.paper, view), answers, long=True)
        end = events.ended("handed-off")
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
        telling.paper.say(wording.ASK_WAITS)
        telling.desk.wait(telling.case_id, text=telling.prompt.line())
        raise Leave
    telling.tell(events.ended(ways[chosen]))  # type: ignore[arg-type]
