"""The rider's note: a short page without words of the workshop.

Cast: `rider_page`, and `rider_on_paper` for one sheet. What was said, may it be ridden, what was found and done, what
is still to be done, and what to look out for. It tells nothing that only a mechanic understands: see `casework.plain`.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from diagnose.casework.sheet import Sheet
from diagnose.front import wording
from diagnose.front.screens import by_chance
from diagnose.front.sheet import wording as say
from diagnose.front.sheet.blocks import Block, Head, Item, Page, Room, Say, Warn
from diagnose.front.sheet.form import FORMS, as_told, short

View = dict[str, Any]
PRINTED = FORMS[3]
"""How long free texts are on the printed note."""


def rider_page(sheet: Sheet, printed: str) -> Page:
    """The page for the rider; `printed` is the time to be put on it."""
    under = say.UNDER.format(label=sheet.label or wording.NO_LABEL, printed=printed)
    view = sheet.view
    if view is None:
        return Page(say.RIDER_TITLE, sheet.case, under, (Say(say.RIDER_NOTHING),))
    blocks = [
        *_said(view),
        *_may_ride(view, sheet),
        *_found(view, sheet),
        *_left(view, sheet),
        *_after(view, sheet),
    ]
    return Page(say.RIDER_TITLE, sheet.case, under, tuple(blocks))


def rider_on_paper(sheet: Sheet, printed: str) -> Page:
    """The same with the shop's own texts shortened: one sheet of paper is enough."""
    waits = None if sheet.rider.waits is None else short(sheet.rider.waits, PRINTED.text)
    return rider_page(as_told(sheet._replace(rider=sheet.rider._replace(waits=waits)), PRINTED), printed)


def _said(view: View) -> Iterator[Block]:
    yield Head(say.RIDER_SAID)
    several = len(view["complaints"]) > 1
    for place, one in enumerate(view["complaints"], 1):
        line = say.RIDER_GONE if one["gone"] else "{text}"
        text = line.format(text=one["text"])
        yield Item("none", f"{place}. {text}") if several else Item("point", text)


def _may_ride(view: View, sheet: Sheet) -> Iterator[Block]:
    yield Head(say.RIDER_MAY)
    verdict = view["ride"]["verdict"]
    if verdict == "ride":
        yield Say(say.RIDER_VERDICT[verdict], strong=True)
        return
    reasons = tuple(dict.fromkeys(sheet.rider.reasons))[:3]
    how = () if verdict == "care" else (say.RIDER_HOME,)
    said = say.RIDER_UNTIL if verdict == "stop" and by_chance(view["ride"]) else say.RIDER_VERDICT[verdict]
    yield Warn(said, (*reasons, *how, *sheet.rider.cautions))


def _found(view: View, sheet: Sheet) -> Iterator[Block]:
    rider = sheet.rider
    if rider.found:
        yield Head(say.RIDER_FOUND)
        yield from (Item("point", text) for text in dict.fromkeys(rider.found))
    if rider.done:
        yield Head(say.RIDER_DONE)
        yield from (Item("ticked", text) for text in dict.fromkeys(rider.done))
    yield from _old_parts(view, sheet)
    if view["ended"] == "cured":
        yield Say(say.RIDER_CURED)
    elif view["ended"] in say.RIDER_ENDED:
        yield Say(say.RIDER_ENDED[view["ended"]])


def _old_parts(view: View, sheet: Sheet) -> Iterator[Block]:
    """That the old parts go along, where the rider wants them and something was replaced."""
    if sheet.replaced and view["wishes"]["old_parts"] == "back":
        yield Item("point", say.RIDER_OLD_PARTS)


def _left(view: View, sheet: Sheet) -> Iterator[Block]:
    rider = sheet.rider
    if rider.waits is not None:
        yield Head(say.RIDER_WAITS)
        yield Say(rider.waits or wording.NOT_SAID)
    if rider.look:
        yield Head(say.RIDER_NOT_LOOKED if view["ended"] else say.RIDER_LOOK)
        yield from (Item("point", text) for text in rider.look)
    if rider.left:
        yield Head(say.RIDER_DECLINED if view["ended"] else say.RIDER_LEFT)
        yield from (Item("point", text) for text in dict.fromkeys(rider.left))
    if rider.declined:
        yield Head(say.RIDER_NOT_WANTED)
        yield from (Item("point", text) for text in dict.fromkeys(rider.declined))
    if rider.go_to:
        yield Head(say.RIDER_GO)
        yield from (Item("point", text) for text in dict.fromkeys(rider.go_to))


def _after(view: View, sheet: Sheet) -> Iterator[Block]:
    yield Head(say.RIDER_AFTER)
    if view["ended"] == "not-reproduced":
        yield Item("point", say.RIDER_NOTICE)
    if sheet.rider.done:
        yield Item("point", say.RIDER_FIRST_RIDES)
    yield Item("point", say.RIDER_STOP)
    yield Item("point", say.RIDER_BACK.format(case=sheet.case))
    unmended = view["ended"] in ("declined", "collected", "uneconomic") or sheet.rider.declined
    if unmended and view["ride"]["verdict"] != "ride":
        yield Room(say.RIDER_SIGNS)
