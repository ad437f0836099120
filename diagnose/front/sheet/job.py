"""The job sheet: what a `Sheet` says, set out as a page.

Cast: `job_page`, and `job_on_paper`, which leaves out and shortens what it must so that two sheets are enough. Danger,
what is loose and what is waited for stand first; then complaint, findings, plan, torque list, last check, and the note
for whoever gets the bike next.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any

from diagnose.casework.sheet import Done, Sheet, Signed
from diagnose.front import wording
from diagnose.front.happened import done_before
from diagnose.front.jobs.common import consent_lines
from diagnose.front.screens import (
    estimate_line,
    final_checks,
    limit_line,
    lone_wheel,
    minutes,
    money,
    of_100,
    ranked,
    reasons,
    says_something,
    step_sum_lines,
    to_read_out,
    verdict,
    wish_lines,
)
from diagnose.front.sheet import findings
from diagnose.front.sheet import wording as say
from diagnose.front.sheet.blocks import PENCIL, Block, Fix, Head, Item, Page, Room, Say, Table, Warn
from diagnose.front.sheet.form import FORMS, WHOLE, Form, as_told, cut_short
from diagnose.front.sheet.room import sheets

View = dict[str, Any]
NAMED = 0.05
SHEETS = 2
"""Sheets of paper that a job may take."""
LONG = 90
"""Characters of what is loose or waited for that still stand in the heading of its frame."""


def job_on_paper(sheet: Sheet, printed: str) -> Page:
    """The page of a job as it is printed: as much of it as two sheets hold, and where the rest is to be read."""
    pages = (job_page(sheet, printed, form) for form in FORMS)
    page = next(pages)
    while sheets(page) > SHEETS:
        tighter = next(pages, None)
        if tighter is None:
            break
        page = tighter
    return page


def job_page(whole: Sheet, printed: str, form: Form = WHOLE) -> Page:
    """The page of a job; `printed` is the time to be put on it, `form` how much of the job it tells."""
    sheet = as_told(whole, form)
    under = say.UNDER.format(label=sheet.label or wording.NO_LABEL, printed=printed)
    if cut_short(whole, form):
        under = say.CUT_IS_ON_SCREEN.format(under=under, case=sheet.case)
    view = sheet.view
    if view is None:
        nothing: tuple[Block, ...] = (Say(wording.NOTHING_TOLD), *_notes(sheet, len(whole.notes)))
        return Page(say.TITLE, sheet.case, under, nothing, form.small)
    blocks = [
        *_first(view),
        *_complaint(view, sheet, form),
        *findings.blocks(sheet, form, with_note=_goes_on(view)),
        *_done(sheet),
        *_handed_on(view),
        *_plan(view, sheet),
        *_also(view, sheet),
        *_torques(sheet, form),
        *_last_check(view, sheet),
        *_notes(sheet, len(whole.notes)),
        *_note(view, sheet, form),
    ]
    return Page(say.TITLE, sheet.case, under, tuple(blocks), form.small)


# --- what comes first ----------------------------------------------------------------------------------------------


def _first(view: View) -> Iterator[Block]:
    """May it be ridden, what is loose, what is waited for, how it stands."""
    ride = view["ride"]
    if ride["verdict"] == "ride":
        yield Say(verdict(view), strong=True)
    else:
        yield Warn(verdict(view), tuple(reasons(view, 3)))
    if view["loose"]:
        yield _framed(wording.LOOSE_READ, view["loose"])
    if view["open"]:
        yield Say(wording.OPEN_NOW.format(text=", ".join(view["open"])), strong=True)
    if view["waits"] is not None:
        yield _framed(wording.STILL_WAITS, view["waits"] or wording.NOT_SAID, say.LOOK_AGAIN)
    if view["comebacks"]:
        touched = (wording.TOUCHED_LAST.format(text="; ".join(view["earlier"])),) if view["earlier"] else ()
        yield Warn(wording.COMEBACKS.format(count=view["comebacks"]), (*touched, wording.WARRANTY))
    if view["ended"]:
        yield Say(say.IS_OVER.format(how=wording.JOB_ENDED[view["ended"]]), strong=True)


def _framed(line: str, text: str, *below: str) -> Warn:
    """A text in a frame of its own: in large type where it is short, below its heading where it is long."""
    if len(text) <= LONG:
        return Warn(line.format(text=text), below)
    return Warn(line.format(text="").strip(), (text, *below))


def _complaint(view: View, sheet: Sheet, form: Form) -> Iterator[Block]:
    yield Head(wording.COMPLAINTS_RANKED if len(view["complaints"]) > 1 else wording.COMPLAINTS)
    for mark, text in ranked(view["complaints"]):
        yield Item("point", text) if mark == "-" else Item("none", f"{mark} {text}")
    if view["words"]:
        yield Say(say.WORDS.format(text="; ".join(view["words"])))
    for line in wish_lines(view):
        yield Say(line, strong=True)
    for line in consent_lines(view):
        yield Say(line)
    if sheet.consent:
        yield Warn(wording.CONSENT, (to_read_out(sheet.consent),))
    if sheet.bike and not form.bare:
        yield Say(say.BIKE.format(text="; ".join(sheet.bike)))
    for name, one in sheet.already:
        yield Say(done_before(name, one.result, one.who, one.when))
    if sheet.found:
        yield Say(say.FOUND.format(text="; ".join(sheet.found)), strong=True)
    elif not view["ended"] and not form.bare:
        yield from _likely(view)


def _likely(view: View) -> Iterator[Block]:
    for complaint in view["complaints"]:
        if complaint["gone"]:
            continue
        named = [(one["name"], one["share"]) for one in complaint["causes"][:3] if one["share"] >= NAMED]
        named.append((wording.NOT_IN_BOOK, complaint["something_else"]))
        text = ", ".join(f"{name} {of_100(share)}" for name, share in named)
        several = len(view["complaints"]) > 1
        yield Say(
            say.LIKELY_OF.format(complaint=complaint["text"], text=text) if several else say.LIKELY.format(text=text)
        )


# --- what was done, what comes ---------------------------------------------------------------------------------------


def _done(sheet: Sheet) -> Iterator[Block]:
    if not sheet.done and not sheet.refused:
        return
    yield Head(wording.DONE_SO_FAR)
    for one in sheet.done:
        yield Item("ticked", _done_line(one))
    for name in sheet.refused:
        yield Item("point", wording.PLAYED_NOT_HERE.format(names=name))


def _done_line(one: Done) -> str:
    shown = {result for _, result in one.results}
    results = ", ".join(
        say.RESULT_OF.format(complaint=name, result=wording.PARTLY[result]) for name, result in one.results
    )
    if len(shown) == 1 and one.results:
        results = (say.RESULT_ALL if len(one.results) > 1 else "{result}").format(result=wording.PARTLY[min(shown)])
    line = say.DONE_EARLIER if one.earlier else say.DONE_HERE
    return line.format(names=" + ".join(one.names), results=results)


def _goes_on(view: View) -> bool:
    """Whether it is to be handed on, or was."""
    return bool(view["ended"] == "handed-off" or view["next"]["kind"] == "hand-off")


def _handed_on(view: View) -> Iterator[Block]:
    if not view["hand_off"] or not (_goes_on(view) or view["next"]["kind"] == "done"):
        return
    yield Head(say.HAND_ON)
    for one in view["hand_off"]:
        yield Say(wording.HAND_ON_TO.format(to=one["to"], urgency=one["urgency"]), strong=True)
        yield Say(wording.HAND_ON_WHY.format(reason=one["reason"]))
    if view["open"]:
        yield Say(wording.LEAVE_SO.format(open=", ".join(view["open"])))


def _plan(view: View, sheet: Sheet) -> Iterator[Block]:
    if not sheet.full:
        return
    yield Head(say.PLAN)
    step = view["next"]
    if step["kind"] == "check":
        yield Say(say.FIRST_CHECK.format(text=step["text"]), strong=True)
    for caution in [one["text"] for one in view["cautions"]]:
        yield Item("caution", caution)
    told = {one["text"] for one in view["cautions"]}
    drawn: set[str] = set()
    items = {item["fix"]: item for item in view["plan"]}
    for place, fix in enumerate(sheet.full, 1):
        yield _fix(view, items[fix], place, told, drawn)
    rest = [item for item in view["plan"] if item["fix"] not in sheet.full]
    if rest:
        yield Say(say.THEN)
    for item in rest:
        yield Item(
            "tick", wording.PLAN_ITEM.format(name=item["name"], chance=of_100(item["chance"]), minutes=minutes(item))
        )
    for confirm in {one["confirm"]["id"]: one["confirm"] for one in view["plan"]}.values():
        limits = tuple(limit_line(one) for one in confirm["limits"])
        yield Item("point", say.REPEAT.format(text=confirm["text"]), limits, tuple(_new(confirm["cautions"], told)))
    yield from _parts(view, sheet)
    estimate = view["estimate"]
    if says_something(estimate):
        yield Say(f"{estimate_line(estimate)} {wording.NO_QUOTE}")
    if any(one["limits"] for fix in sheet.full for one in items[fix]["steps"]):
        yield Say(wording.GOVERNS, strong=True)


def _fix(view: View, item: View, place: int, told: set[str], drawn: set[str]) -> Fix:
    lines: list[Say | Item] = [Say(say.FIX_PROMISES.format(chance=of_100(item["chance"]), minutes=minutes(item)))]
    if item["chance"] <= 0:
        lines = [Say(minutes(item))]
    if item["tools"]:
        lines.append(Say(wording.TOOLS.format(text=", ".join(item["tools"]))))
    lines += [Say(wording.FIRST.format(text=need["text"])) for need in item["needs"] if not need["done"]]
    if item["teardown"] and item["teardown"] not in view["open"]:
        lines.append(Say(wording.NEEDS.format(text=item["teardown"])))
    lines += [Item("caution", text) for text in _new(item["cautions"], told)]
    for step in item["steps"]:
        limits = tuple(limit_line(limit) for limit in step["limits"])
        limits += tuple(line for one in step["sums"] for line in step_sum_lines(one))
        lines.append(Item("tick", step["text"], limits, tuple(_new(step["cautions"], told))))
    lines.append(Item("tick", say.TESTED))
    lines.append(Say(f"{wording.WORKED_IF.format(text=item['works_if'])} {wording.IF_NOT.format(text=item['if_not'])}"))
    lines += [Say(wording.HAND_OFF_WHEN.format(text=text)) for text in item["hand_off_when"]]
    picture = item["picture"] or ""
    if picture in drawn:
        picture = ""
    drawn.add(picture)
    return Fix(say.FIX.format(place=place, name=item["name"]), tuple(lines), picture)


def _new(texts: Iterable[str], told: set[str]) -> list[str]:
    """Those that stand nowhere on the sheet yet; from now on they do."""
    new = [text for text in texts if text not in told]
    told.update(new)
    return new


def _parts(view: View, sheet: Sheet) -> Iterator[Block]:
    rows = [
        (part["name"], str(part["count"]), wording_price(part["price"]), item["name"], PENCIL)
        for item in view["plan"]
        for part in item["parts"]
        if item["fix"] in sheet.full
    ]
    if rows:
        yield Table(say.PARTS_HEAD, tuple(rows))


def wording_price(price: View) -> str:
    """From how much to how much one costs."""
    return say.PRICE.format(low=money(price["low"]), high=money(price["high"]), currency=price["currency"])


def _also(view: View, sheet: Sheet) -> Iterator[Block]:
    """What was found beside the complaint; not once more what the plan does."""
    them = [one for one in view["also"] if one["fix"] not in sheet.full]
    if them:
        yield Head(wording.ALSO)
    for one in them:
        yield Item("tick", wording.ALSO_ONE.format(**one))


# --- signing off -----------------------------------------------------------------------------------------------------


def _torques(sheet: Sheet, form: Form) -> Iterator[Block]:
    if not sheet.signed:
        return
    yield Head(say.TORQUES)
    rows = [
        (_bolt(one), f"{one.text}{say.KIND.get(one.kind, '')}", wording.BASIS[one.basis], PENCIL, PENCIL)
        for one in sheet.signed
    ]
    yield Table(say.TORQUES_HEAD, tuple(rows))
    notes = [
        say.ABOUT.format(quantity=findings.capital(one.quantity), note=one.note.rstrip("."))
        for one in sheet.signed
        if one.note and not one.perhaps
    ]
    for text in [" ".join(notes)] if form.bare and notes else notes:
        yield Say(text)


def _bolt(one: Signed) -> str:
    quantity = wording.TORQUE_PERHAPS.format(quantity=one.quantity) if one.perhaps else one.quantity
    return say.INSTEAD.format(text=quantity) if one.instead else findings.capital(quantity)


def _last_check(view: View, sheet: Sheet) -> Iterator[Block]:
    """What is looked at before the bike goes out; on every job but one that only waits for somebody else."""
    if not (sheet.done or sheet.full or view["open"] or view["ended"]):
        return
    yield Head(wording.FINAL_CHECK, keep=True)
    for text in final_checks(view):
        yield Item("tick", text)
    if lone_wheel(view):
        yield Room(say.SIGNATURES)
        return
    held = view["ride"]["verdict"] in ("stop", "not-cleared")
    later = say.TEST_RIDE_LATER if held and sheet.full else ()
    for text in (*later, *(() if later else wording.TEST_RIDE[held])):
        yield Item("tick", text)
    yield Room(say.SIGNATURES)


def _notes(sheet: Sheet, count: int) -> Iterator[Block]:
    if count and not sheet.notes:
        yield Say(say.NOTES_ON_SCREEN.format(all=count))
    elif sheet.notes:
        yield Head(say.NEWEST.format(some=len(sheet.notes), all=count) if len(sheet.notes) < count else wording.NOTES)
    for text in sheet.notes:
        yield Item("point", text)


def _note(view: View, sheet: Sheet, form: Form) -> Iterator[Block]:
    """The note that goes along with a bike that is handed on."""
    if _goes_on(view):
        yield Head(wording.NOTE)
        lines = sheet.note.split("\n")
        for line in [" ".join(lines)] if form.small else lines:
            yield Say(line)
