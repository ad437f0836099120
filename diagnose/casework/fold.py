"""Events to the situation that reasoning sees. State is only ever this fold: undo appends, resume replays.

Cast: `fold(book, events)` gives a `Folded`: the `Situation`, what was noted as loose, what is waited for, and how the
case ended. A comeback begins a new visit: what was done at the last one was done before the bike came.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Set
from dataclasses import replace
from typing import Any, NamedTuple, Protocol

from diagnose.bench.units import convert, same_kind, show
from diagnose.book.conditions import band_of
from diagnose.book.model import Book, Check
from diagnose.book.problems import nearest
from diagnose.errors import CaseError, InputError
from diagnose.reason.situation import Already, Answer, Raw, Repair, Situation


class Told(Protocol):
    """What the fold reads of an event; drafts and stored events both have it."""

    @property
    def kind(self) -> str:
        """The kind of event."""

    @property
    def data(self) -> Mapping[str, Any]:
        """What happened."""


OF_THE_VISIT = ("arrival", "state")
"""Facts that hold for one visit only and are asked again when the bike comes back."""
OF_THE_RIDER = ("recent-work", "comeback", "riding")
"""Facts that only the rider can tell: what is not known of them at the counter is not known at the stand."""
COMEBACK = "comeback"
"""The fact of a book that says how often the bike came back with the same complaint, where it has one."""


def still_asked(asked: Iterable[str], profile: Mapping[str, object]) -> set[str]:
    """The facts that count as asked once a mechanic has the bike: what a rider could not tell, a mechanic can see."""
    return {fact for fact in asked if fact in profile or fact in OF_THE_RIDER}


class Waits(NamedTuple):
    """What a job waits for: ids of parts, and the reference of a text; both may be empty."""

    parts: tuple[str, ...]
    text: str | None


class Wishes(NamedTuple):
    """What the rider wishes: the reference of a text, what it is used for and by when; "back" or "leave" old parts."""

    text: str | None = None
    old_parts: str | None = None
    asked: bool = False
    """Whether the rider was asked what it is used for and by when."""


class Partly(NamedTuple):
    """What was told so far of something that takes several prompts.

    `of` is one of `shapes.DIALOGUES`, or `fact` where further values of the fact `about` may be told; `text` is the
    reference of the words that were typed for a complaint.
    """

    of: str
    about: str | None
    said: tuple[str, ...]
    text: str | None = None


BESIDE = ("partly", "note", "loose", "waiting", "stand")
"""Kinds of event that may come while something is told in part; any other begins something else.

So does a reading, but for one of the look that is being told.
"""


class Folded(NamedTuple):
    """A case as it stands: the situation, references of notes on what is loose, and causes found.

    `waits` is None where it waits for nothing; `earlier` are the fixes of the visits before this one, `origin` is what
    was said of the last comeback; `agreed` is the sum that the rider agreed to without being rung, None where none is,
    and `asked_sum` whether anybody asked; `no_more`: the rider has no more complaints; `partly` is told in part only;
    `asked_more`: how often a rider was asked for another value of a fact; `asked_before`: how much of all that was
    asked of a rider, these included, belongs to visits before this one.
    """

    situation: Situation
    loose: str | None
    found: tuple[str, ...]
    waits: Waits | None = None
    comebacks: int = 0
    origin: str | None = None
    earlier: tuple[Repair, ...] = ()
    agreed: float | None = None
    wishes: Wishes = Wishes()
    asked_sum: bool = False
    no_more: bool = False
    partly: Partly | None = None
    asked_more: int = 0
    asked_before: int = 0


def fold(book: Book, events: Iterable[Told]) -> Folded:
    """Fold events that count (undone ones left out, see `events.standing`) into a case.

    Raises:
        CaseError: an event names something that the book does not have.
    """
    folder = _Folder(book)
    for event in events:
        folder.take(event.kind, event.data)
    return folder.finish()


class _Folder:
    def __init__(self, book: Book) -> None:
        self.book = book
        self.role = self.skill = "mechanic"
        self.without: frozenset[str] = frozenset()
        self.complaints: list[str] = []
        self.profile: dict[str, tuple[str, ...]] = {}
        self.asked: set[str] = set()
        self.heard: set[str] = set()
        self.answers: list[Answer] = []
        self.begun: dict[str, dict[str, Raw]] = {}
        self.repairs: list[Repair] = []
        self.already: list[Already] = []
        self.not_possible: set[str] = set()
        self.open: frozenset[str] = frozenset()
        self.arrived_open: frozenset[str] = frozenset()
        self.loose: str | None = None
        self.ended: str | None = None
        self.found: tuple[str, ...] = ()
        self.waits: Waits | None = None
        self.comebacks = 0
        self.origin: str | None = None
        self.earlier: list[Repair] = []
        self.agreed: float | None = None
        self.wishes = Wishes()
        self.asked_sum = self.no_more = False
        self.asked_more = self.asked_before = 0
        self.partly: Partly | None = None
        self.from_counter = False
        self.taken_on = False
        """Whether it was handed on after the last comeback, and opened again by whoever took it on."""

    def take(self, kind: str, data: Mapping[str, Any]) -> None:
        """One event."""
        another = self.partly and (self.partly.of, self.partly.about) == ("fact", data.get("fact"))
        self.asked_more += bool(another and self.role == "rider" and kind == "profile")
        if kind not in BESIDE and not (kind == "reading" and self.partly and data["check"] in self.partly.said):
            self.partly = None
        handler = getattr(self, f"take_{kind.replace('-', '_')}", None)
        if handler:
            handler(data)

    def known(self, kind: str, name: str, among: Mapping[str, Any]) -> str:
        """An id that the book has, or that stands there under a newer name."""
        if name in among:
            return name
        newer = self.book.formerly.get(name)
        if newer in among and newer is not None:
            return newer
        hint = (
            f"{nearest(name, among)} The case is kept as it is; use the rule book it was made with, or mend the name."
        )
        raise CaseError(
            "case.unknown-id", f"this case names the {kind} '{name}', which the book does not have", None, hint
        )

    def take_opened(self, data: Mapping[str, Any]) -> None:
        self.role, self.skill = data["role"], data["skill"]
        self.without = frozenset(data.get("without", ()))

    def take_stand(self, data: Mapping[str, Any]) -> None:
        if self.role == "rider":
            self.from_counter, self.asked = True, still_asked(self.asked, self.profile)
        self.role, self.skill = "mechanic", data["skill"]
        self.without = frozenset(data.get("without", ()))

    def take_agreed(self, data: Mapping[str, Any]) -> None:
        self.agreed, self.asked_sum = data.get("ceiling"), True

    def take_wished(self, data: Mapping[str, Any]) -> None:
        self.wishes = Wishes(data.get("text_ref"), data.get("old_parts"), asked=True)

    def take_profile(self, data: Mapping[str, Any]) -> None:
        fact = self.known("fact", data["fact"], self.book.facts)
        if not data.get("heard"):
            self.asked.add(fact)
        elif fact in self.asked:  # who was asked knows better
            return
        (self.heard.add if data.get("heard") else self.heard.discard)(fact)
        self.profile.pop(fact, None)
        self._close_arrival()
        if data["values"]:
            for value in data["values"]:
                self.known(f"value of '{fact}'", value, self.book.facts[fact].values)
            self.profile[fact] = tuple(data["values"])
        if data.get("more"):
            self.partly = Partly("fact", fact, tuple(data["values"]))
        self._open_arrival()

    def _open_arrival(self) -> None:
        """What the bike came with open already, until a check or a fix needs it closed."""
        self.arrived_open = frozenset(
            teardown
            for fact, values in self.profile.items()
            for value in values
            for teardown in self._chain(self.book.facts[fact].opens.get(value))
        )
        self.open |= self.arrived_open

    def _close_arrival(self) -> None:
        self.open -= self.arrived_open

    def _chain(self, teardown: str | None) -> set[str]:
        chain: set[str] = set()
        while teardown:
            chain.add(teardown)
            teardown = self.book.teardowns[teardown].inside
        return chain

    def take_no_more(self, _: Mapping[str, Any]) -> None:
        self.no_more = True

    def take_partly(self, data: Mapping[str, Any]) -> None:
        of, about, now = data["of"], data.get("about"), self.partly
        before = now.said if now and (now.of, now.about) == (of, about) else ()
        said = (data["said"],) if "said" in data else ()
        self.partly = Partly(of, about, (*before, *said), data.get("text_ref"))

    def take_complaint(self, data: Mapping[str, Any]) -> None:
        name = self.known("complaint", data["id"], self.book.complaints)
        if name not in self.complaints:
            self.complaints.append(name)
            self._imply(name)
        if data.get("worst"):
            self.complaints.sort(key=lambda one: one != name)

    def _imply(self, complaint: str) -> None:
        """What a complaint says of the bike by itself, until somebody says otherwise: a belt that squeaks is a belt."""
        for fact, values in self.book.complaints[complaint].applies.items():
            if len(values) == 1 and not self.book.facts[fact].several and fact not in self.asked:
                self.profile.setdefault(fact, values)

    def take_answer(self, data: Mapping[str, Any]) -> None:
        check = self.book.checks[self.known("check", data["check"], self.book.checks)]
        value = data.get("value")
        if value is not None:
            self.known(f"value of '{check.finding}'", value, self.book.findings[check.finding].values)
        answer = Answer(
            check.id,
            check.finding,
            value,
            data["by"],
            data.get("reading"),
            data.get("unit"),
            data.get("typed", data.get("outside", "")),
            data.get("sum", ""),
            self._raw(data.get("readings", {})),
            told_after=len(self.repairs),
            heard=bool(data.get("heard")),
        )
        self.begun.pop(check.id, None)
        if self.repairs and any(self.repairs[-1].results.values()) and not self.book.findings[check.finding].lasting:
            self._seen_anew(check.finding)
        self.answers = [one for one in self.answers if one.check != check.id or one.stale] + [answer]
        if answer.value is not None or answer.reading is not None or answer.raw or answer.outside:
            self._open(check.teardown, check.by)

    def _seen_anew(self, finding: str) -> None:
        """After a repair that helped, what is seen then stands in the place of what was seen before it."""
        last = len(self.repairs) - 1
        self.answers = [
            self._disturbed(one, last, in_vain=False) if one.finding == finding and one.told_after <= last else one
            for one in self.answers
        ]

    def take_reading(self, data: Mapping[str, Any]) -> None:
        check = self.book.checks[self.known("check", data["check"], self.book.checks)]
        self.begun.setdefault(check.id, {})[data["key"]] = self._raw({data["key"]: data})[0]
        self._open(check.teardown, check.by)

    @staticmethod
    def _raw(readings: Mapping[str, Any]) -> tuple[Raw, ...]:
        if not readings:
            return ()
        from diagnose.casework.measuring import raw_of

        return tuple(raw_of(key, one) for key, one in readings.items())

    def _open(self, teardown: str | None, by: str) -> None:
        chain = self._chain(teardown)
        if chain:
            self.open |= chain
        elif by == "mechanic":
            self.open = frozenset()

    def take_already(self, data: Mapping[str, Any]) -> None:
        fix = self.known("fix", data["fix"], self.book.fixes)
        self.already = [one for one in self.already if one.fix != fix] + [
            Already(fix, data["result"], data.get("who", ""), data.get("when", ""))
        ]

    def take_fix(self, data: Mapping[str, Any]) -> None:
        names = [data["fix"], *data.get("with", ())]
        fixes = tuple(self.known("fix", name, self.book.fixes) for name in names)
        if data.get("not_possible"):
            self.not_possible.update(fixes)
            return
        results = {
            self.known("complaint", name, self.book.complaints): result == "gone"
            for name, result in data["results"].items()
        }
        better = frozenset(name for name, result in data["results"].items() if result == "better")
        self.repairs.append(Repair(fixes, results, better))
        helped = better | {complaint for complaint, gone in results.items() if gone}
        disturbed = self._explained(fixes, helped) | {
            finding
            for fix in fixes
            for finding in self.book.fixes[fix].disturbs
            if not self.book.findings[finding].lasting
        }
        place = len(self.repairs) - 1
        self.answers = [
            self._disturbed(one, place, in_vain=not helped) if one.finding in disturbed else one for one in self.answers
        ]
        self.open = frozenset()
        self.begun.clear()

    @staticmethod
    def _disturbed(answer: Answer, place: int, *, in_vain: bool) -> Answer:
        """An answer once a repair has disturbed its finding; it tells of the cause for as long as none has helped."""
        if answer.stale:
            return answer if in_vain else replace(answer, before=False)
        return replace(answer, stale=True, before=in_vain, disturbed_by=place)

    def _explained(self, fixes: tuple[str, ...], helped: Set[str]) -> set[str]:
        """What the mended fault has shown: it tells nothing of the one that is left, and is looked at anew.

        Not what is asked for another complaint alone, which the repair has left as it was.
        """
        return {
            finding.id
            for complaint in helped
            for cause in self.book.causes_of[complaint]
            if any((cause.id, fix) in self.book.cured for fix in fixes)
            for finding in map(self.book.findings.__getitem__, cause.shows)
            if not finding.lasting and not (finding.asked_for and helped.isdisjoint(finding.asked_for))
        }

    def take_loose(self, data: Mapping[str, Any]) -> None:
        self.loose = data.get("text_ref")

    def take_ended(self, data: Mapping[str, Any]) -> None:
        self.ended, self.waits = data["how"], None
        self.found = tuple(data.get("found", ()))

    def take_waiting(self, data: Mapping[str, Any]) -> None:
        self.waits = None
        if not data.get("over"):
            self.waits = Waits(tuple(data.get("parts", ())), data.get("text_ref"))

    def take_reopened(self, data: Mapping[str, Any]) -> None:
        self.taken_on = not data.get("comeback") and (self.taken_on or self.ended == "handed-off")
        self.ended = None
        if data.get("comeback"):
            self.comebacks += 1
            self.origin = data.get("origin")
            self._new_visit()

    def _new_visit(self) -> None:
        """The bike was ridden since: what was seen may have changed, and what was done did not last."""
        for repair in self.repairs:
            better = any(repair.results.values())
            for fix in repair.fixes:
                self.already = [one for one in self.already if one.fix != fix]
                self.already.append(Already(fix, "better" if better else "same"))
        self.earlier += self.repairs
        self.answers = [self._before_visit(one) for one in self.answers]
        self.repairs, self.not_possible, self.found = [], set(), ()
        for fact in OF_THE_VISIT:
            self.asked.discard(fact)
            self.heard.discard(fact)
            self.profile.pop(fact, None)
        self.open = self.arrived_open = frozenset()
        self.loose, self.waits = None, None
        of_a_rider = sum(one.by == "rider" and not one.heard for one in self.answers)
        self.asked_before = len(self.asked) + of_a_rider + self.asked_more

    def _before_visit(self, answer: Answer) -> Answer:
        """An answer of an earlier visit, with what was done since it was told."""
        since = {fix for repair in self.repairs[answer.told_after :] for fix in repair.fixes}
        answer = replace(answer, told_after=0, mended=answer.mended | since)
        lasts = self.book.findings[answer.finding].lasting and not answer.stale
        return answer if lasts else replace(answer, stale=True, before=False, disturbed_by=-1)

    def _meant(self) -> dict[str, tuple[str, ...]]:
        """What told facts say of others that nobody was asked for; of several complaints each may be about its own."""
        if len(self.complaints) > 1:
            return {}
        return {
            other: values
            for fact, told in self.profile.items()
            for value in told
            for other, values in self.book.facts[fact].means.get(value, {}).items()
            if other not in self.asked and other not in self.profile
        }

    def finish(self) -> Folded:
        """The case; readings are sorted into bands under the profile as it is known now."""
        if self.comebacks and COMEBACK in self.book.facts:
            self.profile[COMEBACK] = ("once" if self.comebacks == 1 or self.taken_on else "again",)
            self.asked.add(COMEBACK)
        situation = Situation(
            complaints=tuple(self.complaints),
            profile=self.profile | self._meant(),
            asked=frozenset(self.asked),
            answers=tuple(self._banded(answer) for answer in self.answers),
            repairs=tuple(self.repairs),
            already=tuple(self.already),
            not_possible=frozenset(self.not_possible),
            role=self.role,
            skill=self.skill,
            without=self.without,
            open_teardowns=self.open,
            from_counter=self.from_counter,
            ended=self.ended,
            heard=frozenset(self.heard),
            comebacks=0 if self.taken_on else self.comebacks,
            begun={check: tuple(raw.values()) for check, raw in self.begun.items()},
        )
        earlier = tuple(self.earlier)
        return Folded(
            situation=situation,
            loose=self.loose,
            found=self.found,
            waits=self.waits,
            comebacks=self.comebacks,
            origin=self.origin,
            earlier=earlier,
            agreed=self.agreed,
            wishes=self.wishes,
            asked_sum=self.asked_sum,
            no_more=self.no_more,
            partly=self.partly,
            asked_more=self.asked_more,
            asked_before=self.asked_before,
        )

    def _banded(self, answer: Answer) -> Answer:
        if answer.reading is None:
            return answer
        check = self.book.checks[answer.check]
        answer = self._in_unit(check, self._reckoned(check, answer) if answer.raw else answer)
        value = None if answer.reading is None else band_of(check, answer.reading, self.book, self.profile)
        return replace(answer, value=value)

    def _in_unit(self, check: Check, answer: Answer) -> Answer:
        """The reading in the measure's unit; without one where the book has changed and means another quantity."""
        unit = check.measure.unit if check.measure else None
        if answer.reading is None or not answer.unit or not unit or answer.unit == unit:
            return answer
        if not same_kind(answer.unit, unit):
            return replace(answer, reading=None)
        return replace(answer, reading=convert(answer.reading, answer.unit, unit), unit=unit)

    def _reckoned(self, check: Check, answer: Answer) -> Answer:
        """The reading as the sum gives it for this bike as it is known now; as it was, where the book has changed."""
        measure = check.measure
        if measure is None or measure.working is None or measure.working.sum != answer.sum:
            return answer
        from diagnose.book.reckoning import reading_of
        from diagnose.casework.measuring import reckoned, told_of

        try:
            result = reckoned(self.book, measure.working, answer.raw, self.profile, told_of(self.answers))
            reading = reading_of(measure, result)
            return replace(answer, reading=reading, unit=measure.unit, typed=show(reading, measure.unit))
        except InputError:
            return answer
