"""The job sheet: all of a job that belongs on paper, gathered from its View, its events and the book.

Cast: `make_sheet` gives a `Sheet`; `Seen` is a finding before and after the work, `Done` a repair, `Signed` a torque to
be signed for. How it looks is for `front/sheet`.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from typing import Any, NamedTuple

from diagnose.book.conditions import may_hold
from diagnose.book.model import Book
from diagnose.book.reckoning import right_values
from diagnose.casework.desk import Desk
from diagnose.casework.fold import Folded
from diagnose.casework.plain import Plain
from diagnose.casework.shapes import Outcome
from diagnose.casework.torques import TORQUE, joints
from diagnose.casework.view import make_view
from diagnose.casework.view.note import note
from diagnose.casework.view.page import Page
from diagnose.errors import Location
from diagnose.reason.situation import Already, Repair

View = dict[str, Any]
NOTHING = ("nothing", "none", "complete")
"""Values of a fact that say that there is nothing to tell."""
MOST_LINES = 44
"""Lines of fixes that are told in full; the fixes after that are named only, so that two pages are enough."""
BOTH_PAGES = 66
"""Lines of two pages that fixes, findings, gauges and what else differs from job to job have to share."""
A_ROW, A_GAUGE = 1.3, 9
"""Lines that a row of a table takes, and a gauge."""
A_LINE = 95
"""Characters of a printed line."""
A_TEXT, A_FEW = 2, 6
"""Lines of a free text, and notes, that are reckoned with: paper can do with less than all of them."""
USUAL = 0.5
"""A value that is seen at least so often where nothing is amiss is the normal one."""
MOST_CAUTIONS = 2
"""Cautions that a rider is given at most."""
EVEN = 0.5
"""Chance below which a cause only may be so."""


class Seen(NamedTuple):
    """A finding: what was seen first, and what once something was done about it.

    Attributes:
        name: of the finding.
        before: the first answer, in words; with what was typed for a reading.
        after: the last answer, where a fix or a visit lies between; empty where there is none yet.
        open: whether something done, or planned, changes it: it is to be looked at again.
        by: rider or mechanic.
        gauges: of the readings before and after, as the View has them.
        normal: whether the first answer says that nothing is amiss.
    """

    name: str
    before: str
    after: str
    open: bool
    by: str
    gauges: tuple[View, ...]
    normal: bool = False


class Done(NamedTuple):
    """Fixes done in one go, and for each complaint, by name, what its repeat test showed after them."""

    names: tuple[str, ...]
    results: tuple[tuple[str, Outcome], ...]
    earlier: bool


class Signed(NamedTuple):
    """A torque to be set and signed for: which bolt, how much, in lbf.in, and who says so.

    `instead`: the bike has this bolt or the one before it, or the work touched one of the two; `perhaps`: maybe none.
    """

    quantity: str
    text: str
    also: str
    kind: str
    basis: str
    note: str
    instead: bool
    perhaps: bool


class ForRider(NamedTuple):
    """What a rider is told: ids of the book, put into words by whoever has plain ones."""

    reasons: tuple[str, ...] = ()
    found: tuple[str, ...] = ()
    done: tuple[str, ...] = ()
    left: tuple[str, ...] = ()
    look: tuple[str, ...] = ()
    declined: tuple[str, ...] = ()
    go_to: tuple[str, ...] = ()
    waits: str | None = None
    cautions: tuple[str, ...] = ()


class RiderWords(NamedTuple):
    """Sentences for what the book can say only in words of the workshop, with `{about}` in them; and of hand-offs."""

    because: str
    found: str
    did: str
    must: str
    go_to: str
    part: str
    may_be: str


class Sheet(NamedTuple):
    """A job on paper.

    Attributes:
        case: its number.
        view: its View; None while nothing was told.
        seen: findings in the order in which they were first looked at.
        untold: findings that could not be told.
        done: what was done, earlier visits first.
        refused: fixes that could not be done here, by name.
        full: fixes of the plan that are told in full; the others are named.
        signed: torques of what was done here and of what is told in full.
        bike: facts of the bike, in words.
        already: what was done before the bike came: the fix in words, and what is known of it.
        notes: free text kept with it.
        note: all that is known, to be handed on.
        found: causes found, by name.
        rider: what the rider is told.
        replaced: whether something that was done takes a part.
        tag: the label, where there is no View to have it.
        consent: what is to be read over the phone before the next fix.
    """

    case: str
    view: View | None
    seen: tuple[Seen, ...] = ()
    untold: tuple[str, ...] = ()
    done: tuple[Done, ...] = ()
    refused: tuple[str, ...] = ()
    full: tuple[str, ...] = ()
    signed: tuple[Signed, ...] = ()
    bike: tuple[str, ...] = ()
    already: tuple[tuple[str, Already], ...] = ()
    notes: tuple[str, ...] = ()
    note: str = ""
    found: tuple[str, ...] = ()
    rider: ForRider = ForRider()
    replaced: bool = False
    tag: str = ""
    consent: View | None = None

    @property
    def label(self) -> str:
        """What the shop calls the bike; empty where it has no label, or it was erased."""
        return str(self.view["case"] or "") if self.view else self.tag


def make_sheet(desk: Desk, case_id: str, words: RiderWords | None = None) -> Sheet:
    """The sheet of a job as it stands; with `words` also what a rider is told."""
    folded = desk.for_stand(case_id)
    if not folded.situation.complaints:
        return Sheet(case_id, None, notes=tuple(desk.notes(case_id)), tag=desk.label(case_id) or "")
    view = desk.view_for_stand(case_id, with_estimate=True)
    page = Page(desk.book, desk.reasoner.chainer, desk.reasoner.diagnose(folded.situation))
    handed_on = note(page)
    notes = desk.notes(case_id)
    with_it = handed_on.split("\n") if view["next"]["kind"] == "hand-off" or view["ended"] == "handed-off" else []
    beside = _beside(view, desk.book, folded, with_it, notes[-A_FEW:])
    full = tuple(_in_full(view, BOTH_PAGES - beside))
    done_here = [fix for repair in folded.situation.repairs for fix in repair.fixes]
    declined = {one["fix"] for one in view["declined"]}
    changed = {name for fix in [*done_here, *full] for name in desk.book.fixes[fix].disturbs}
    return Sheet(
        case=case_id,
        view=view,
        seen=tuple(_seen(desk.book, view, changed)),
        untold=tuple(dict.fromkeys(one["name"] for one in view["answers"] if not one["value"])),
        done=tuple(_done(desk.book, folded)),
        refused=tuple(sorted(desk.book.fixes[fix].name for fix in folded.situation.not_possible - declined)),
        full=full,
        signed=tuple(_signed(page, [*done_here, *full])),
        bike=tuple(told_of_bike(desk.book, folded)),
        already=tuple((desk.book.fixes[one.fix].name, one) for one in folded.situation.already),
        notes=tuple(notes),
        note=handed_on,
        found=tuple(desk.book.causes[one].name for one in folded.found if one in desk.book.causes),
        rider=_for_rider(desk, folded, view, words) if words else ForRider(),
        consent=desk.open_consent(case_id, view),
        replaced=any(desk.book.fixes[fix].parts for fix in done_here),
    )


def _beside(view: View, book: Book, folded: Folded, note: Iterable[str], notes: Iterable[str]) -> int:
    """About how many printed lines stand beside the fixes: facts, findings, gauges, tests, cautions, free texts."""
    told = [one for one in view["answers"] if one["value"]]
    gauges = sum(bool(one.get("gauge")) for one in told)
    confirms = {one["confirm"]["id"]: one["confirm"]["text"] for one in view["plan"]}
    texts = ["; ".join(told_of_bike(book, folded)), *confirms.values(), *note]
    texts += [one["name"] + one["because"] for one in view["also"]] + [one["text"] for one in view["cautions"]]
    lines = sum(1 + len(text) // A_LINE for text in texts)
    free = ["; ".join(view["words"]), view["loose"], view["waits"], view["wishes"]["text"], *notes]
    lines += sum(min(A_TEXT, 1 + len(text) // A_LINE) for text in free if text)
    return round(A_ROW * (len(told) + len(folded.situation.repairs))) + A_GAUGE * gauges + lines


def _in_full(view: View, most: int) -> Iterable[str]:
    """The fixes of the plan that are told step by step: what comes next, then as many as have room, in lines."""
    if view["ended"] or view["next"]["kind"] == "hand-off":
        return
    now = [*view["next"]["with"], view["next"]["id"]] if view["next"]["kind"] == "fix" else []
    items = sorted(view["plan"], key=lambda one: one["fix"] not in now)
    room = min(MOST_LINES, most)
    for place, item in enumerate(items):
        room -= _lines(item)
        if place and room < 0 and item["fix"] not in now:
            return
        yield item["fix"]


def _lines(item: View) -> int:
    """About how many printed lines a fix takes."""
    texts = [item["works_if"] + item["if_not"], ", ".join(item["tools"]), *item["hand_off_when"], *item["cautions"]]
    for step in item["steps"]:
        texts += [step["text"], *step["cautions"], *(limit["quantity"] for limit in step["limits"])]
        texts += [text for limit in step["limits"] if limit["unit"] == TORQUE for text in ("", limit["note"] or "")]
    return 4 + sum(1 + len(text) // A_LINE for text in texts)


def _seen(book: Book, view: View, changed: set[str]) -> Iterable[Seen]:
    answers: dict[str, list[View]] = {}
    for one in view["answers"]:
        if one["value"]:
            answers.setdefault(one["finding"], []).append(one)
    for finding, told in answers.items():
        before, after = told[0], [one for one in told[1:] if not one["stale"]] if told[0]["stale"] else []
        kept = [before, *after[-1:]]
        yield Seen(
            name=before["name"],
            before=_words(before),
            after=_words(after[-1]) if after else "",
            open=finding in changed or before["stale"],
            by=before["by"],
            gauges=tuple(one["gauge"] for one in kept if one.get("gauge")),
            normal=_normal(book, before),
        )
        for one in told[1:]:
            if not one["stale"] and not before["stale"]:
                gauges, normal = _gauges(one), _normal(book, one)
                yield Seen(one["name"], _words(one), "", finding in changed, one["by"], gauges, normal)


def _normal(book: Book, answer: View) -> bool:
    """Whether this answer says that nothing is amiss, and is what is mostly seen then."""
    finding = book.findings[answer["finding"]]
    usual = finding.otherwise.chances[tuple(finding.values).index(answer["value"])] >= USUAL
    return answer["value"] in right_values(book.checks[answer["check"]], book) and usual


def _gauges(answer: View) -> tuple[View, ...]:
    return (answer["gauge"],) if answer.get("gauge") else ()


def _words(answer: View) -> str:
    typed = f" ({answer['typed']})" if answer["typed"] else ""
    return f"{answer['value_text']}{typed}"


def _done(book: Book, folded: Folded) -> Iterable[Done]:
    for earlier, repairs in ((True, folded.earlier), (False, folded.situation.repairs)):
        for repair in repairs:
            yield _repair(book, repair, earlier)


def _repair(book: Book, repair: Repair, earlier: bool) -> Done:
    names = tuple(book.fixes[fix].name for fix in repair.fixes)
    shown: list[tuple[str, Outcome]] = [
        (book.complaints[one].name, "gone" if gone else "better" if one in repair.better else "still-there")
        for one, gone in repair.results.items()
    ]
    return Done(names, tuple(shown), earlier)


def _signed(page: Page, fixes: Iterable[str]) -> Iterable[Signed]:
    """The torques of these fixes, each once; those that cannot belong to this bike are left out."""
    for limit, instead, perhaps in joints(page.book, page.situation, fixes):
        one = page.limit(limit)
        texts = (one["text"], one["also"] or "", one["kind"], one["basis"], one["note"] or "")
        yield Signed(one["quantity"], *texts, instead, perhaps)


def told_of_bike(book: Book, folded: Folded) -> Iterable[str]:
    """The facts that were told of the bike, in words; those that say that there is nothing are left out."""
    for fact, values in sorted(folded.situation.profile.items()):
        names = ", ".join(book.facts[fact].values[value] for value in values if value not in NOTHING)
        if names:
            yield f"{book.facts[fact].name}: {names}"


def _for_rider(desk: Desk, folded: Folded, view: View, words: RiderWords) -> ForRider:
    """What a rider is told, each text of the book plain or replaced."""
    book, plain = desk.book, Plain(desk.book)
    before = view
    if view["ended"] and view["ended"] != "cured":
        going_on = folded._replace(situation=replace(folded.situation, ended=None))
        before = make_view(desk.reasoner, going_on, with_estimate=False)
    said = [(*_danger(book, one), _told(view, one)) for one in view["ride"]["because"]]
    reasons = [text if told else words.may_be.format(text=text) for text, _, told in said if plain.is_plain(text)]
    reasons = reasons or [plain.says(text, where, words.because) for text, where, _ in said]
    done = [book.fixes[fix] for repair in (*folded.earlier, *folded.situation.repairs) for fix in repair.fixes]
    return ForRider(
        reasons=tuple(reasons),
        found=tuple(
            _capital(plain.says(book.causes[one].name, book.causes[one].where, words.found))
            for one in folded.found
            if one in book.causes
        ),
        done=tuple(plain.says(fix.name, fix.where, words.did) for fix in done),
        left=tuple(_left(book, plain, before, words)),
        look=tuple(_look(book, plain, before)),
        declined=tuple(_declined(book, plain, view, words)),
        go_to=tuple(_go_to(plain, before, words)),
        waits=view["waits"] if view["waits"] is None or plain.is_plain(view["waits"]) else words.part,
        cautions=tuple(_cautions(book, plain, folded, view))[:MOST_CAUTIONS],
    )


def _go_to(plain: Plain, before: View, words: RiderWords) -> Iterable[str]:
    """To whom it should go, and what is to be done there where that is said without words of the workshop."""
    for one in before["hand_off"][:2] if before["next"]["kind"] == "hand-off" else ():
        line = words.go_to.format(to=one["to"], urgency=one["urgency"])
        yield f"{line} {one['reason']}" if plain.is_plain(one["reason"]) else line


def _cautions(book: Book, plain: Plain, folded: Folded, view: View) -> Iterable[str]:
    """What whoever told of a danger is warned of with it, where it is said without words of the workshop."""
    said = [one["conclusion"] for one in view["ride"]["because"] if one["conclusion"] in book.deductions]
    for name in dict.fromkeys(caution for one in said for caution in book.deductions[one].cautions):
        fits = may_hold(book.cautions_apply.get(name, {}), folded.situation.profile)
        if fits and plain.is_plain(book.cautions[name]):
            yield book.cautions[name]


def _danger(book: Book, because: View) -> tuple[str, Location]:
    """Why it must not be ridden, or only with care, and where the book says so."""
    if because["cause"]:
        cause = book.causes[because["cause"]]
        return cause.danger_because or because["text"], cause.where
    if because["conclusion"] in book.deductions:
        return because["text"], book.deductions[because["conclusion"]].where
    return because["text"], Location("")


def _told(view: View, because: View) -> bool:
    """Whether something that was told says so, or a cause that is likelier than not."""
    causes = [one for complaint in view["complaints"] for one in complaint["causes"]]
    shares = [one["share"] for one in causes if one["id"] == because["cause"]]
    return bool(because["conclusion"]) or max(shares, default=0) >= EVEN


def _left(book: Book, plain: Plain, before: View, words: RiderWords) -> Iterable[str]:
    """What must be done, and the fix that comes next; none while something has to be looked at first."""
    must = [one["fix"] for one in before["also"] if one["level"] == "must"]
    for fix in must:
        text = plain.says(book.fixes[fix].name, book.fixes[fix].where, words.did)
        yield words.must.format(text=text)
    if before["next"]["kind"] == "fix" and not before["ended"]:
        now = [*before["next"]["with"], before["next"]["id"]]
        for item in (one for one in before["plan"] if one["fix"] in now):
            if item["fix"] not in must:
                yield plain.says(item["name"], book.fixes[item["fix"]].where, words.did)


def _declined(book: Book, plain: Plain, view: View, words: RiderWords) -> Iterable[str]:
    """What the rider did not want done; marked where it would have put a danger right."""
    for one in view["declined"]:
        fix = book.fixes[one["fix"]]
        text = plain.says(fix.name, fix.where, words.did)
        cures = [cause for cause in book.causes.values() if any(rung.fix == fix.id for rung in cause.ladder)]
        yield words.must.format(text=text) if any(cause.danger == "stop" for cause in cures) else text


def _look(book: Book, plain: Plain, before: View) -> Iterable[str]:
    """What is looked at next, before anything is put right: the part of the bike, and what of it in plain words."""
    if before["next"]["kind"] == "check" and not before["ended"]:
        finding = book.findings[book.checks[before["next"]["id"]].finding]
        about = plain.about(finding.where)
        yield f"{about}: {finding.name}" if plain.is_plain(finding.name) else about


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
