"""What was looked at, set out: rows with room for what is seen afterwards, lines for what was normal, gauges.

Cast: `blocks`.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from diagnose.casework.sheet import Seen, Sheet
from diagnose.front.sheet import wording as say
from diagnose.front.sheet.blocks import PENCIL, Block, Gauge, Head, Say, Table
from diagnose.front.sheet.form import Form


def blocks(sheet: Sheet, form: Form, *, with_note: bool) -> Iterator[Block]:
    """The findings; `with_note`: a note that tells all of them stands below."""
    if not sheet.seen and not sheet.untold:
        return
    yield Head(say.FINDINGS)
    in_line = [one for one in sheet.seen if _is_run_in(one, form)]
    rows = [one for one in sheet.seen if one not in in_line]
    if rows:
        yield Table(say.FINDINGS_HEAD, tuple(_row(one) for one in rows))
    yield from _lines([one for one in in_line if not one.normal], say.SEEN, strong=True)
    normal = [one for one in in_line if one.normal]
    if normal and with_note:
        yield Say(say.NORMAL_BELOW)
    elif normal and form.run_in == "counted":
        yield Say(say.NORMAL_COUNT.format(count=len(normal)))
    else:
        yield from _lines(normal, say.NORMAL)
    if sheet.untold:
        yield Say(say.UNTOLD.format(text="; ".join(sheet.untold)))
    for one in sheet.seen:
        if form.gauges == "all" or (form.gauges == "off" and not one.normal):
            yield from _gauges(one)


def _is_run_in(one: Seen, form: Form) -> bool:
    if form.run_in == "settled":
        return one.normal and not one.open and not one.after
    return form.run_in in ("all", "counted") or (form.run_in == "normal" and one.normal and not one.after)


def _row(one: Seen) -> tuple[str, ...]:
    return (capital(one.name), one.before, one.after or (PENCIL if one.open else ""), say.BY[one.by])


def _lines(them: Sequence[Seen], lines: dict[str, str], *, strong: bool = False) -> Iterator[Block]:
    """Findings one after the other in a line, those of the stand before the rider's."""
    for by, line in lines.items():
        told = dict.fromkeys(_in_line(one) for one in them if one.by == by)
        if told:
            yield Say(line.format(text="; ".join(told)), strong=strong)


def _in_line(one: Seen) -> str:
    after = one.after or (PENCIL * 8 if one.open else "")
    return (say.THEN_SEEN if after else say.IN_LINE).format(name=one.name, value=one.before, after=after)


def _gauges(one: Seen) -> Iterator[Block]:
    for place, gauge in enumerate(one.gauges):
        yield Gauge((say.GAUGE_AFTER if place else say.GAUGE).format(name=capital(one.name)), gauge)


def capital(text: str) -> str:
    """The text with a capital to begin with."""
    return text[:1].upper() + text[1:]
