"""What two books make of the same jobs, said as text and as JSON.

Cast: a `Report` holds what was found; `write` puts it on paper, `as_json_of` gives its fields.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterator, Mapping
from pathlib import Path
from typing import Any, NamedTuple

from diagnose import __version__
from diagnose.book.model import Book
from diagnose.book.standing import Fallen
from diagnose.casework.compare import KINDS, MOVED, CaseChange, Change, ComplaintChange, Outcome
from diagnose.front.instead import in_words, shifts_in_words
from diagnose.front.paper import Paper
from diagnose.front.problems import describe, told
from diagnose.front.rulebook import phrases
from diagnose.reason.course import TURNS, Asked, Course

SCHEMA = 1
PLACES, OFTENER = 0.5, 0.1
"""Text tells of a question that moves by so many places, or is asked on so many bikes of one more or fewer."""
SEEN = 0.05
"""Questions asked on fewer bikes of one, before and after, are not told of in text."""
TRIFLE = 0.05
"""Minutes that count as none."""
HOW = {
    "broken": "Broken by the change",
    "new-fails": "New, and does not hold",
    "fails": "Did not hold before and does not now",
    "mended": "Mended by the change",
    "unread": "Cannot be run with either",
    "new": "New, and holds",
    "moved": "Holds, but something moves",
}
"""What becomes of a case, in the order it is told."""
EXPECTED = {
    "top": "likeliest cause",
    "in_first_three": "among the first three",
    "share": "share",
    "next": "next step",
    "ride": "ride verdict",
    "plan_order": "order of the plan",
    "hand_off": "hand-off",
    "ruled_out": "ruled out",
    "never": "never first",
    "questions_at_most": "questions at most",
}
WHAT_TO_DO = {
    "next": "next step: is it your question or fix that comes now, and would you do it at that moment? Then leave it: "
    "the case asks for the order of its own book. Else tell its minutes as they are, or ask it for fewer bikes "
    "(`applies`).",
    "theirs": "next step, and it is none of yours: what you added only shifts the weights, mostly where two steps are "
    "nearly as good as each other (`why:` says by how many minutes). Leave it then. Else take out of `shows` what "
    "hardly differs, line after line.",
    "share": "share: yours takes some of what that cause had. Leave it if your share is true; else fewer of 100 in "
    "`common_for`.",
    "ride": "ride verdict: your cause or deduction holds a bike that may be ridden. Is it dangerous only where "
    "something is seen? Then `danger: none`, and a deduction on what is seen.",
    "top": "likeliest cause: yours, or an answer that it shows, counts too much on that bike. Fewer of 100 in "
    "`common_for`, fewer in `otherwise`, or only for some bikes (`applies`).",
}
"""What the author of an own folder does about a case of the book that expects something else now."""
RIDES = {"ride": "no reason not to ride", "care": "with care", "stop": "do not ride", "not-cleared": "not cleared"}


class Without(NamedTuple):
    """What the book before is read without: files, and what cannot stand without them."""

    files: frozenset[Path] = frozenset()
    fallen: tuple[Fallen, ...] = ()


class Report(NamedTuple):
    """Two books, what differs, how many cases there are, and what becomes of the cases and complaints concerned."""

    before: Book
    after: Book
    changes: tuple[Change, ...]
    all_cases: int
    cases: list[CaseChange]
    complaints: list[ComplaintChange]
    without: Without = Without()


# --- on paper ---------------------------------------------------------------------------------------------------------


def write(report: Report, paper: Paper) -> None:
    """Everything that a rule author wants to know."""
    _write_changes(report, paper)
    if report.changes:
        _write_cases(report, paper)
        _write_complaints(report, paper)


def _write_changes(report: Report, paper: Paper) -> None:
    if not report.changes:
        paper.say("Both say the same.")
        return
    for when, book in (("Before", report.before), ("After", report.after)):
        paper.say(f"{when}: {'; '.join(f'{phrases.title(one)}, {one.folder}' for one in book.volumes)}", hang=2)
    if report.without.fallen:
        files = ", ".join(sorted(path.name for path in report.without.files))
        told = ", ".join(f"{one.kind} {one.id} ({one.file.name})" for one in report.without.fallen)
        paper.say(f"Left out before: {files}, and what names a thing of it: {told}.", hang=2)
    paper.head("What differs")
    for how in ("added", "changed", "removed"):
        kinds: dict[tuple[str, str], list[str]] = {}
        for change in report.changes:
            if change.how == how:
                book = report.before if how == "removed" else report.after
                kinds.setdefault((change.kind, phrases.source(book, change.id)), []).append(change.id)
        for (kind, source), names in kinds.items():
            paper.item("-", f"{kind} {how}, {source}: {', '.join(names)}")


def _write_cases(report: Report, paper: Paper) -> None:
    paper.head("Worked cases")
    counted = Counter(one.how for one in report.cases)
    looked = len(report.cases)
    paper.say(
        f"{looked} of {report.all_cases} concern what differs: "
        + ("; ".join(f"{text[:1].lower()}{text[1:]}: {counted[how]}" for how, text in _counted(counted)) or "none")
        + "."
    )
    for how, heading in HOW.items():
        for case in (one for one in report.cases if one.how == how):
            paper.say()
            paper.say(f"{heading}: {case.sentence or 'a case'}")
            paper.say(case.file.as_posix(), indent=4)
            for line in _about(report, case):
                paper.say(line, indent=4, hang=2)
    _write_what_to_do(report, paper)


def _write_what_to_do(report: Report, paper: Paper) -> None:
    """What the author does about cases that the change breaks."""
    yours = {one.id for one in report.changes}
    yours |= {check.id for check in report.after.checks.values() if check.finding in yours}
    failed = [one for case in report.cases if case.how == "broken" for one in case.after.failed]
    kinds = {_kind(one, yours) for one in failed}
    told = [text for kind, text in WHAT_TO_DO.items() if kind in kinds]
    if told:
        paper.head("What is broken, and what to do")
        paper.say("The change treats the bikes of these cases otherwise. Look at each:")
    for text in told:
        paper.item("-", text)


def _kind(failed: Mapping[str, Any], yours: Collection[str]) -> str:
    """Which of the sentences on what to do speaks of an expectation."""
    if failed["path"] == "next" and failed["found"] not in yours:
        return "theirs"
    path = str(failed["path"])
    return {"plan_order": "next", "never": "top", "in_first_three": "top"}.get(path, path)


def _counted(counted: Mapping[str, int]) -> Iterator[tuple[str, str]]:
    yield from ((how, text) for how, text in HOW.items() if counted.get(how))
    if counted.get("same"):
        yield "same", "as before"


def _about(report: Report, case: CaseChange) -> Iterator[str]:
    for side in (case.before, case.after) if case.how == "unread" else (case.after,):
        yield from map(describe, side.problems)
    for one in case.after.failed:
        yield f"{EXPECTED[one['path']]}: expected {_said(one['expected'])}, found {_said(one['found'])}"
    if case.how in ("moved", "mended"):
        yield from _moves(report, case.before, case.after)
    for complaint, shifts in case.on_top.items():
        top = _named(report.after, (case.after.tops or {})[complaint][0])
        yield f"why {top} is on top now: {shifts_in_words((report.before, report.after), shifts)}"
    if case.why:
        yield f"why {_quoted(report.after, case.after)} comes next now: {in_words(report.after, case.why)}"
    yield from _held(report, case)


def _quoted(book: Book, outcome: Outcome) -> str:
    return f'"{_named(book, outcome.step[1] if outcome.step else "")}"'


def _held(report: Report, case: CaseChange) -> Iterator[str]:
    """Where a change makes it likely enough that it must not be ridden: how likely, and by which of its causes."""
    book, before, after = report.after, case.before.held.chance, case.after.held.chance
    threshold = book.constants.stop_threshold
    if case.before.holds is None or not before < threshold <= after:
        return
    was, now = (f"{100 * chance:.1f} of 100" for chance in (before, after))
    yield f"must not be ridden: {was} before, {now} now; from {_of_100(threshold)} on it is held and looked at first"
    changed = {one.id for one in report.changes if one.kind == "cause"}
    for name, share in sorted(case.after.held.causes.items(), key=lambda one: (-one[1], one[0])):
        cause = book.causes[name]
        if name not in changed:
            continue
        yield f"of these {100 * share:.1f} are {phrases.named(cause)}"
        untold = [book.facts[fact].name for fact in cause.applies if fact not in case.after.told]
        if untold:
            told = ", ".join(untold)
            yield f"the case does not tell of the bike: {told}. It may be such a one; the stand asks where it counts"
        if not cause.shows:
            yield "nothing that can be seen tells this cause from others: give it a finding with a check"


def _moves(report: Report, before: Outcome, after: Outcome) -> Iterator[str]:
    tops = after.tops or {}
    for complaint, (name, share) in (before.tops or {}).items():
        top, now = tops.get(complaint, (name, share))
        if top != name or abs(now - share) > MOVED:
            old, new = _named(report.before, name), _named(report.after, top)
            same = f"{new}, {_of_100(share)} before, {_of_100(now)} now"
            yield (
                f"likeliest: {same}"
                if top == name
                else (f"likeliest: {old}, {_of_100(share)}, before; {new}, {_of_100(now)}, now")
            )
    if before.step != after.step and before.step and after.step:
        yield f"next: {_named(report.before, before.step[1])} before, {_named(report.after, after.step[1])} now"
    if before.ride != after.ride and before.ride and after.ride:
        yield f"ride: {RIDES[before.ride]} before, {RIDES[after.ride]} now"
    if before.hand_off != after.hand_off:
        yield f"hand-off: {_said(list(before.hand_off))} before, {_said(list(after.hand_off))} now"


def _write_complaints(report: Report, paper: Paper) -> None:
    paper.head("Questions and minutes")
    if not report.complaints:
        paper.say("No complaint is concerned: no question, share or step of a job differs.")
        return
    paper.say(
        "A mechanic asks, and of the bike nothing else is told. The minutes are those until the complaint is gone."
    )
    for one in report.complaints:
        paper.say()
        paper.say(f"{_named(report.before if one.before else report.after, one.id)}: {_minutes(one)}")
        lines = list(_shifts(report, one))
        for line in lines:
            paper.say(line, indent=4, hang=2)
        if not lines and one.before and one.after:
            paper.say("the same questions in the same order", indent=4)


def _minutes(one: ComplaintChange) -> str:
    if one.before is None or one.after is None:
        course = one.before or one.after
        when = "before; the complaint is no more" if one.before else "now; the complaint is new"
        return f"{course.minutes if course else 0:.1f} min {when}"
    difference = one.after.minutes - one.before.minutes
    if abs(difference) < TRIFLE:
        return f"{one.after.minutes:.1f} min as before"
    return f"{one.before.minutes:.1f} min before, {one.after.minutes:.1f} now ({difference:+.1f})"


def _shifts(report: Report, one: ComplaintChange) -> Iterator[str]:
    """Questions that come earlier, later, oftener or more rarely; those asked most come first."""
    if one.before is None or one.after is None:
        return
    for name, old, new in _questions(one.before, one.after):
        if max(old.chance if old else 0, new.chance if new else 0) < SEEN:
            continue
        word = _word(old, new)
        if word:
            yield f"{word}: {_named(report.after if new else report.before, name)} ({name}), {_placed(old, new)}"


def _questions(before: Course, after: Course) -> list[tuple[str, Asked | None, Asked | None]]:
    both = [(name, before.questions.get(name), after.questions.get(name)) for name in before.questions]
    both += [(name, None, asked) for name, asked in after.questions.items() if name not in before.questions]
    return sorted(both, key=lambda one: (-max(side.chance for side in one[1:] if side), one[0]))


def _word(old: Asked | None, new: Asked | None) -> str:
    if old is None or new is None:
        return "no longer asked" if new is None else "asked now"
    if abs(new.place - old.place) >= PLACES:
        return "earlier" if new.place < old.place else "later"
    if abs(new.chance - old.chance) >= OFTENER:
        return "oftener" if new.chance > old.chance else "more rarely"
    return ""


def _placed(old: Asked | None, new: Asked | None) -> str:
    told = [
        f"question {_place(asked.place)} on average, on {_of_100(asked.chance)} bikes {when}"
        for asked, when in ((old, "before"), (new, "now"))
        if asked
    ]
    return "; ".join(told)


def _place(place: float) -> str:
    return f"{place:.1f}".removesuffix(".0")


# --- in words ---------------------------------------------------------------------------------------------------------


def _named(book: Book, name: str) -> str:
    if name in book.checks:
        return phrases.filled(book, book.checks[name].ask)
    for of in (book.causes, book.fixes, book.complaints):
        if name in of:
            return phrases.filled(book, str(of[name].name))
    return {"something-else": "not in the book", "hand-off": "hand-off", "done": "done"}.get(name, name)


def _of_100(chance: float) -> str:
    return f"{100 * chance:.0f} of 100"


def _said(value: Any) -> str:
    if isinstance(value, list | tuple):
        return ", ".join(map(str, value)) or "nothing"
    if isinstance(value, dict):
        return ", ".join(f"{key}: {one}" for key, one in value.items())
    return str(value)


# --- as JSON ----------------------------------------------------------------------------------------------------------


def as_json_of(report: Report) -> dict[str, Any]:
    """Everything, also what text leaves out; what is absent is null."""
    return {
        "schema": SCHEMA,
        "program": __version__,
        "before": _book(report.before),
        "after": _book(report.after),
        "left_out_before": [one.as_posix() for one in sorted(report.without.files)],
        "left_out_with_it": [
            {"kind": one.kind, "id": one.id, "file": one.file.as_posix()} for one in report.without.fallen
        ],
        "changes": [{"kind": one.kind, "id": one.id, "how": one.how} for one in report.changes],
        "cases_in_all": report.all_cases,
        "cases": [
            {
                "file": one.file.as_posix(),
                "case": one.sentence or None,
                "how": one.how,
                "before": _outcome(one.before),
                "after": _outcome(one.after),
                "why_next": one.why._asdict() if one.why else None,
                "why_on_top": {name: [shift._asdict() for shift in shifts] for name, shifts in one.on_top.items()},
            }
            for one in report.cases
        ],
        "turns_followed_at_most": TURNS,
        "complaints": [
            {"id": one.id, "before": _course(one.before), "after": _course(one.after)} for one in report.complaints
        ],
    }


def _book(book: Book) -> dict[str, Any]:
    return {
        "id": book.constants.id,
        "fingerprint": book.fingerprint,
        "folders": [one.folder for one in book.volumes],
        "titles": [one.title for one in book.volumes],
        **{f"{kind}s": len(of(book)) for kind, of in KINDS.items() if kind in ("cause", "finding", "deduction")},
    }


def _outcome(one: Outcome) -> dict[str, Any]:
    return {
        "holds": one.holds,
        "failed": [dict(expectation) for expectation in one.failed],
        "tops": [{"complaint": name, "cause": top, "share": share} for name, (top, share) in (one.tops or {}).items()],
        "ride": one.ride,
        "must_not_be_ridden": one.held.chance if one.holds is not None else None,
        "next": {"kind": one.step[0], "id": one.step[1]} if one.step else None,
        "hand_off": list(one.hand_off),
        "problems": [told(problem) for problem in one.problems],
    }


def _course(one: Course | None) -> dict[str, Any] | None:
    if one is None:
        return None
    return {
        "minutes": one.minutes,
        "followed": one.followed,
        "questions": [
            {"check": name, "chance": asked.chance, "place": asked.place}
            for name, asked in sorted(one.questions.items(), key=lambda two: (-two[1].chance, two[0]))
        ],
    }
