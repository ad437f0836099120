"""What was done before the bike came: which fix, by whom, when, and how the bike was after it.

Cast: `ask_already` tells it, or goes back without having told anything.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import TypeVar, cast

from diagnose.book.model import Fix
from diagnose.casework import events
from diagnose.casework.shapes import Ago, Change, Doer
from diagnose.casework.words import match_fixes
from diagnose.front import wording
from diagnose.front.prompt import ENTER, Back, Command, Screen
from diagnose.front.telling import InParts, Telling

Word = TypeVar("Word", Doer, Ago)
UNKNOWN = "unknown"
"""Stands for: nobody knows."""


def ask_already(telling: Telling, command: Command) -> None:
    """Ask for one fix that was done already, and tell it. Raises Back where nothing was."""
    parts = InParts(telling, "already")
    before = parts.told(telling.book.fixes)
    fix = telling.book.fixes[before] if before else _ask_fix(telling, command)
    if not before:
        parts.keep(fix.id)
    who = _ask_if_known(parts, command, wording.ALREADY_WHO, wording.DOER)
    when = _ask_if_known(parts, command, wording.ALREADY_WHEN, wording.AGO)
    results = tuple(wording.RESULT.values())
    screen = Screen(lambda: telling.paper.head(wording.ALREADY_RESULT.format(name=fix.name)), results, hints="b")
    result = cast(Change, tuple(wording.RESULT)[telling.ask(screen, command)])
    telling.tell(events.already(fix.id, result, who=who, when=when))


def _ask_if_known(parts: InParts, command: Command, question: str, texts: Mapping[Word, str]) -> Word | None:
    """One of a few words by key, or None where nobody knows."""
    paper = parts.telling.paper
    screen = Screen(lambda: paper.head(question), tuple(texts.values()), enter=wording.NOT_KNOWN, hints="b")
    said = parts.ask(screen, {**dict(enumerate(texts)), ENTER: UNKNOWN}, command)
    return None if said == UNKNOWN else cast(Word, said)


def _ask_fix(telling: Telling, command: Command) -> Fix:
    """The fix that is meant; words that were typed before the job was left are not asked for again."""
    paper = telling.paper
    typed_before = telling.desk.words(telling.case_id)
    if typed_before:
        paper.head(wording.ALREADY_WHICH)
        paper.say(typed_before)
        if fix := _one_of(telling, typed_before, command):
            return fix

    def draw() -> None:
        paper.head(wording.ALREADY_WHICH)
        paper.say(wording.A_FEW_WORDS)

    def accept(typed: str) -> Fix | None:
        if not typed:
            raise Back
        if not _matches(telling, typed):
            paper.say(wording.ALREADY_NONE)
            return None
        telling.tell(events.words_for_already(telling.desk.store.add_text(telling.case_id, typed)))
        return _one_of(telling, typed, command)

    fix = telling.prompt.ask_line(Screen(draw, enter=wording.GO_BACK, hints=""), accept, command)
    if fix is None:
        raise Back
    return fix


def _matches(telling: Telling, typed: str) -> list[Fix]:
    complaints = telling.desk.folded(telling.case_id).situation.standing
    return [fix for fix, _ in match_fixes(telling.book, typed, complaints)]


def _one_of(telling: Telling, typed: str, command: Command) -> Fix | None:
    """One of those that the kept words may mean; None where it is none of them, and then the words are let go."""
    found = _matches(telling, typed)
    screen = Screen(telling.paper.say, tuple(fix.name for fix in found), enter=wording.NONE_OF_THESE, hints="b")
    chosen = telling.ask(screen, command) if found else -1
    if chosen < 0:
        telling.desk.back(telling.case_id, telling.seen)
        telling.reread()
        telling.paper.say(wording.A_FEW_WORDS)
        return None
    return found[chosen]
