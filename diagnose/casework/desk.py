"""The desk: opens cases, takes events, gives Views. Terminal, page, sheet and test all work through it.

Cast: `Desk` over a reasoner and a store. Every event is safe in the store before its View is shown; state is only ever
the fold of events, so undo appends, resume replays, and nothing is lost when the program is stopped.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, Any

from diagnose.book.conditions import INLINE_LIMIT, Profile, numbers
from diagnose.book.model import Book, Limit
from diagnose.casework import events
from diagnose.casework.caseid import read_id
from diagnose.casework.events import Draft, Event
from diagnose.casework.fold import Folded, fold
from diagnose.casework.protocol import SEARCHED, CaseSummary, Store, open_jobs
from diagnose.casework.shapes import Ending, OldParts, Origin, Role
from diagnose.casework.torques import joints
from diagnose.errors import InputError, StoreError
from diagnose.reason.reasoner import Reasoner

if TYPE_CHECKING:
    from diagnose.casework.heard import Typed
    from diagnose.casework.settings import Settings
    from diagnose.reason.diagnosis import Diagnosis

View = dict[str, Any]
MOST_COMPLAINTS = 3
NOT_UNDONE = ("opened", "stand", "agreed", "wished", "loose", "note", "waiting", "reopened")
"""Kinds of event that going back passes over."""
NEAR = 0.6
"""How alike a mistyped job number and a job's own must be, of 1, for the job to be offered."""
DECLINED = "declined"
"""The reason that is kept with a fix which the rider does not want."""
OF_THE_STAND = ("next", "wanted", "plan", "hand_off", "estimate", "also")
"""What of a View is a mechanic's, also while the bike is at the counter."""


class Desk:
    """Cases of one store, reasoned with one book."""

    def __init__(self, reasoner: Reasoner, store: Store, settings: Settings | None = None) -> None:
        self.settings = settings
        """The shop's own, for what a job costs; None: it says nothing."""
        self.reasoner = reasoner
        self.book = reasoner.book
        self.store = store

    def open(
        self, label: str = "", role: Role = "mechanic", skill: Role = "mechanic", without: Iterable[str] = ()
    ) -> str:
        """Open a case and return its id."""
        return self.store.create(events.opened(role, skill, without).data, label, self.book.fingerprint)

    def find(self, typed: str) -> str:
        """The id of the case that a typed job number means.

        Raises:
            InputError: `input.case-id`, there is no such case; the hint names those that look like it.
        """
        try:
            case_id = read_id(typed)
            self.store.events(case_id)
        except InputError as why:
            raise InputError(why.code, why.message, None, self._near(typed) or why.hint) from why
        except StoreError as why:
            if why.code != "store.no-case":
                raise
            hint = self._near(typed) or "`diagnose stand` lists the open jobs."
            raise InputError("input.case-id", f'There is no job "{case_id}" here.', None, hint) from why
        return case_id

    def _near(self, typed: str) -> str:
        """The jobs whose numbers look like this one, as a hint; empty where none does."""
        from difflib import get_close_matches

        jobs = {job.id: job for job in self.store.cases(limit=SEARCHED)}
        close = get_close_matches(typed[:20].strip().lower(), jobs, n=3, cutoff=NEAR)
        named = [f"{one} ({jobs[one].label})" if jobs[one].label else one for one in close]
        return f"Did you mean {' or '.join(named)}?" if named else ""

    def open_jobs(self, most: int) -> list[CaseSummary]:
        """Jobs that are not over and in which something was told or that have a label, last worked on first."""
        return open_jobs(self.store, most)

    def submit(self, case_id: str, draft: Draft) -> Event:
        """Store one event after the last one that is there. Raises StoreError when somebody else was faster."""
        return self.submit_after(case_id, draft, len(self.store.events(case_id)))

    def submit_after(self, case_id: str, draft: Draft, seen: int) -> Event:
        """Store one event as the one after the `seen` events that the caller knows; a conflict changes nothing."""
        return self.store.append(case_id, seen + 1, draft.kind, draft.data, self.book.fingerprint)

    def folded(self, case_id: str) -> Folded:
        """The case as it stands."""
        return fold(self.book, events.standing(self.store.events(case_id)))

    def view(self, case_id: str, *, with_estimate: bool = False, with_why: bool = False, look: str = "") -> View:
        """The View of a case, with its `label`, `skill` and `role`; its `loose` is the text that was noted.

        `look`: a check that is asked next, whatever else would come: a look that a fix needs first.
        """
        from diagnose.casework.view import make_view

        stored = self.store.events(case_id)
        folded = fold(self.book, events.standing(stored))
        diagnosis = self._asking(folded, look) if look else None
        view = make_view(self.reasoner, folded, with_estimate=with_estimate, with_why=with_why, diagnosis=diagnosis)
        return self._named(view, stored, folded)

    def together(self, case_id: str) -> list[View]:
        """The looks of a round that come next and are taken together, see `together.together`; mostly none."""
        from diagnose.casework.together import together

        return together(self.reasoner, events.standing(self.store.events(case_id)))

    def _asking(self, folded: Folded, check: str) -> Diagnosis:
        """The case reasoned through, where this check is asked next."""
        from diagnose.reason.option import Option, take

        asked = take(Option("check", check, self.book.checks[check].minutes, 0.0))
        return self.reasoner.diagnose(folded.situation).asking(asked)

    def fact(self, case_id: str, name: str) -> View:
        """A fact of the bike as it was asked, before any value of it was told: its answers keep their keys."""
        from diagnose.casework.view.coming import fact_view

        told = events.standing(self.store.events(case_id))
        before = [one for one in told if one.kind != "profile" or one.data["fact"] != name]
        return fact_view(self.book, self.reasoner.diagnose(fold(self.book, before).situation), name)

    def for_stand(self, case_id: str) -> Folded:
        """The case as a mechanic would take it over: of a bike at the counter with the skill and tools of the stand."""
        from diagnose.casework.ticket import at_the_stand

        folded = self.folded(case_id)
        if folded.situation.role != "rider":
            return folded
        return folded._replace(situation=at_the_stand(folded.situation, self.book, self.settings))

    def view_for_stand(self, case_id: str, *, with_estimate: bool = False) -> View:
        """The View with what a mechanic would do next; whether it may be ridden stays as whoever was asked last told.

        At the counter a rider's questions are all asked at some time: what comes next is then not a repair, but a look.
        """
        from diagnose.casework.view import make_view

        view = self.view(case_id, with_estimate=with_estimate)
        folded = self.folded(case_id)
        if folded.situation.role != "rider":
            return view
        from diagnose.casework.view.note import with_words

        stand = make_view(self.reasoner, self.for_stand(case_id), with_estimate=with_estimate)
        stand["hand_off"] = with_words(stand["hand_off"], view["words"])
        return {**view, **{key: stand[key] for key in OF_THE_STAND}}

    def counter(self, case_id: str) -> View:
        """The View of a case at the counter: its `prompt` is what to ask now; its `ticket`, once that is all."""
        from diagnose.casework.ticket import counter_view, make_ticket

        stored = self.store.events(case_id)
        folded = fold(self.book, events.standing(stored))
        view = self._named(counter_view(self.reasoner, folded), stored, folded)
        view["ticket"] = None if view["prompt"] else make_ticket(self.reasoner, folded, view, self.settings)
        return view

    def asked_at_counter(self, case_id: str) -> int:
        """How much a rider was asked so far: each fact, each further value of one, each check."""
        from diagnose.casework.intake import asked

        return asked(self.folded(case_id))

    def more_matters(self, case_id: str, fact: str, told: Sequence[str]) -> bool:
        """Whether a rider is to be asked for another value of this fact beside these, see `intake.more_matters`."""
        from diagnose.casework.intake import more_matters

        return more_matters(self.reasoner, self.folded(case_id), fact, told)

    def open_consent(self, case_id: str, view: View) -> View | None:
        """What is to be read over the phone before the next fix of this View, see `consent.crossing`; None: nothing."""
        from diagnose.casework.consent import crossing
        from diagnose.casework.settings import Settings

        step = view["next"]
        if view["ended"] or step["kind"] != "fix":
            return None
        return crossing(self.book, self.settings or Settings(), self.folded(case_id), [*step["with"], step["id"]])

    def _named(self, view: View, stored: Sequence[Event], folded: Folded) -> View:
        """The View with what the store knows of the case."""
        from diagnose.casework.view.note import with_words

        view["case"] = self._label(stored)
        view["words"] = list(dict.fromkeys(one.text for one in self._typed(stored)))
        view["hand_off"] = with_words(view["hand_off"], view["words"])
        view["loose"] = self._text(folded.loose)
        view["skill"] = folded.situation.skill
        view["role"] = folded.situation.role
        view["events"] = len(stored)
        view["waits"] = self._waits(folded)
        view["wishes"] = self._wishes(folded)
        view["agreed"] = self._agreed(stored, folded)
        view["declined"] = self._declined(stored)
        view["comebacks"] = folded.comebacks
        earlier = dict.fromkeys(fix for repair in folded.earlier for fix in repair.fixes)
        view["earlier"] = [self.book.fixes[fix].name for fix in earlier]
        return view

    def _wishes(self, folded: Folded) -> View:
        return {"text": self._text(folded.wishes.text), "old_parts": folded.wishes.old_parts}

    def view_wishes(self, case_id: str) -> View:
        """What the rider wishes: `text`, what it is used for and by when, and `old_parts`; None: nothing was said."""
        return self._wishes(self.folded(case_id))

    def _agreed(self, stored: Sequence[Event], folded: Folded) -> View | None:
        """The sum that the rider agreed to and when, None where no sum is agreed."""
        if folded.agreed is None:
            return None
        at = [event.at for event in events.standing(stored) if event.kind == "agreed"][-1]
        return {"sum": folded.agreed, "currency": self.book.constants.currency, "at": at}

    def _declined(self, stored: Sequence[Event]) -> list[View]:
        """The fixes that the rider does not want done, each with the time of that word."""
        told = [one for one in events.standing(stored) if one.kind == "fix" and one.data.get("reason") == DECLINED]
        fixes = {fix: one.at for one in told for fix in (one.data["fix"], *one.data.get("with", ()))}
        names = {fix: self.book.formerly.get(fix, fix) for fix in fixes}
        return [
            {"fix": names[fix], "name": self.book.fixes[names[fix]].name, "at": at}
            for fix, at in fixes.items()
            if names[fix] in self.book.fixes
        ]

    def _waits(self, folded: Folded) -> str | None:
        """What a case waits for in words, empty where nobody said what; None where it waits for nothing."""
        if folded.waits is None:
            return None
        parts = [self.book.parts[part].name if part in self.book.parts else part for part in folded.waits.parts]
        text = self._text(folded.waits.text)
        return "; ".join([*parts, text] if text else parts)

    def label(self, case_id: str) -> str | None:
        """What the shop calls the bike; None where it has no label, or it was erased."""
        return self._label(self.store.events(case_id))

    def _label(self, stored: Sequence[Event]) -> str | None:
        return self._text(stored[0].data.get("label"))

    def _text(self, ref: str | None) -> str | None:
        return self.store.text(ref) if ref else None

    def last_told(self, case_id: str) -> Event | None:
        """The last thing that was told and counts: what going back would take back. None when there is nothing."""
        return last_told(self.store.events(case_id))

    def complaining(self, case_id: str) -> bool:
        """Whether the last thing told was a complaint, or is one of which only the words were told yet."""
        last = last_told(self.store.events(case_id))
        if last is None or last.kind != "partly" or last.data["of"] != "complaint":
            return last is not None and last.kind == "complaint"
        before = last_told(self.store.events(case_id)[: last.seq - 1])
        return before is None or before.kind == "complaint"

    def back(self, case_id: str, seen: int | None = None) -> Event | None:
        """Take back the last thing that was told and return it; None when there is nothing.

        Args:
            case_id: the case.
            seen: how many events the caller knows; where there are more by now it is a conflict. Left out: all.

        Raises:
            StoreError: `store.conflict`, somebody else wrote to the case meanwhile; nothing was taken back.
        """
        known = self.store.events(case_id)[:seen]
        last = last_told(known)
        if last:
            self.submit_after(case_id, events.undo(last.seq), len(known))
        return last

    def measured(self, case_id: str) -> View | None:
        """The last answer, where it was measured: its finding, value, raw readings, gauge, and what its sum says."""
        from diagnose.casework.view.measured import measured_view

        situation = self.folded(case_id).situation
        answer = situation.answers[-1]
        if answer.reading is None or answer.value is None:
            return None
        finding = self.book.findings[answer.finding]
        told = measured_view(self.book, situation, answer)
        return {"name": finding.name, "value_text": finding.values[answer.value], "typed": answer.typed, **told}

    def loose(self, case_id: str) -> str | None:
        """What was noted as loose or apart, None where nothing is."""
        return self._text(self.folded(case_id).loose)

    def note_loose(self, case_id: str, text: str) -> None:
        """Note what is loose or apart right now; an empty text says that nothing is."""
        ref = self.store.add_text(case_id, text) if text.strip() else None
        self.submit(case_id, events.loose(ref))

    def words(self, case_id: str) -> str | None:
        """The words that were typed for a complaint or a fix which was not picked yet; None where there are none."""
        partly = self.folded(case_id).partly
        return self._text(partly.text) if partly else None

    def said(self, case_id: str) -> list[str]:
        """The words that were typed for the complaints that were picked, each once."""
        return list(dict.fromkeys(one.text for one in self._typed(self.store.events(case_id))))

    def hear(self, case_id: str) -> list[Draft]:
        """What the label and the words of the complaints tell, to be submitted: facts, and a rider's answers.

        Left out is what somebody told, or what was heard before and taken back.
        """
        from diagnose.casework.heard import hear

        stored = self.store.events(case_id)
        situation = self.folded(case_id).situation
        heard = hear(self.book, self._label(stored) or "", self._typed(stored), situation.complaints)
        facts = {one.data["fact"] for one in stored if one.kind == "profile"} | {*situation.profile}
        checks = {one.data["check"] for one in stored if one.kind == "answer"}
        told = {self.book.checks[one].finding for one in checks if one in self.book.checks}
        return [
            *(events.heard(fact, values) for fact, values in heard.facts.items() if fact not in facts),
            *(
                events.answered(check, "rider", value, heard=True)
                for check, value in heard.answers.items()
                if self.book.checks[check].finding not in told
            ),
        ]

    def labelled(self, case_id: str) -> Profile:
        """What the label alone tells of the bike."""
        from diagnose.casework.heard import hear

        return hear(self.book, self.label(case_id) or "", (), ()).facts

    def heard_last(self, case_id: str) -> list[Event]:
        """What was heard and is the last that was told: going back would take it back.

        That something of it is wrong may have been told after it.
        """
        found: list[Event] = []
        for event in reversed(events.standing(self.store.events(case_id))):
            if event.kind == "partly" and event.data["of"] == "heard" and not found:
                continue
            if not event.data.get("heard"):
                break
            found.append(event)
        return found[::-1]

    def _typed(self, stored: Sequence[Event]) -> list[Typed]:
        """The words that were typed for complaints, each with the one that was chosen then."""
        from diagnose.casework.heard import Typed

        found: list[Typed] = []
        text: str | None = None
        for event in events.standing(stored):
            if event.kind == "partly" and event.data["of"] == "complaint":
                text = self._text(event.data.get("text_ref"))
            elif event.kind == "complaint" and text:
                found.append(Typed(text, event.data["id"]))
                text = None
        return found

    def note(self, case_id: str, text: str) -> Event:
        """Keep a note with a case; it can be erased."""
        return self.submit(case_id, events.note(self.store.add_text(case_id, text)))

    def notes(self, case_id: str) -> list[str]:
        """The notes of a case that were not erased, in the order in which they were made."""
        kept = events.standing(self.store.events(case_id))
        texts = [self.store.text(event.data["text_ref"]) for event in kept if event.kind == "note"]
        return [text for text in texts if text]

    def work_done(self, case_id: str, *, before: bool = False) -> list[tuple[str, Event]]:
        """What was done to a bike, and how the job ended, each with its time: fixes, ends, comebacks.

        With `before` also what the rider says was done before it came.
        """
        kept = events.standing(self.store.events(case_id))
        kinds = {"fix", "ended", "reopened"} | ({"already"} if before else set())
        return [(event.at, event) for event in kept if event.kind in kinds]

    def wait(self, case_id: str, parts: Iterable[str] = (), text: str = "") -> None:
        """Leave a case waiting for parts of the book, for what `text` says, or for something that nobody named."""
        ref = self.store.add_text(case_id, text) if text.strip() else None
        self.submit(case_id, events.waiting(parts, ref))

    def wish(self, case_id: str, text: str = "", old_parts: OldParts | None = None) -> None:
        """Keep what the rider wishes: what it is used for and by when, and whether old parts go back to the rider."""
        ref = self.store.add_text(case_id, text) if text.strip() else None
        self.submit(case_id, events.wished(ref, old_parts))

    def here_now(self, case_id: str) -> None:
        """What a case waited for is here."""
        self.submit(case_id, events.here_now())

    def come_back(self, case_id: str, origin: Origin | None = None) -> None:
        """Open a case again because the bike came back with the same complaint.

        Raises:
            InputError: `input.not-over`, the case is not over.
        """
        if self.folded(case_id).situation.ended is None:
            hint = f"Go on with it: `diagnose stand --case {case_id}`."
            raise InputError("input.not-over", f"Job {case_id} is not over, so it cannot come back.", None, hint)
        self.submit(case_id, events.came_back(origin))

    def end(self, case_id: str, how: Ending, found: Iterable[str] = ()) -> None:
        """End a case."""
        self.submit(case_id, events.ended(how, found))

    def reopen(self, case_id: str) -> None:
        """Go on with a case that had ended."""
        self.submit(case_id, events.reopened())

    def complain(self, case_id: str, complaint: str) -> None:
        """Add a complaint. Raises InputError beyond three."""
        standing = self.folded(case_id).situation.complaints
        if complaint not in standing and len(standing) >= MOST_COMPLAINTS:
            message = f"{MOST_COMPLAINTS} complaints are taken together."
            raise InputError("input.complaints", message, None, "Finish these first, then open another job.")
        self.submit(case_id, events.complaint(complaint))

    def torques(self, case_id: str) -> list[View]:
        """The joints of the fixes done here: `quantity`, `text`, whether `instead` of the one before, or `perhaps`."""
        situation = self.folded(case_id).situation
        fixes = [fix for repair in situation.repairs for fix in repair.fixes]
        return [
            {
                "quantity": one.limit.quantity,
                "text": _shown(one.limit, situation.profile),
                "instead": one.instead,
                "perhaps": one.perhaps,
            }
            for one in joints(self.book, situation, fixes)
        ]

    def test_text(self, case_id: str, complaint: str) -> str:
        """The repeat test of a complaint, with its figures for this bike and how often it is done."""
        test = self.book.complaints[complaint].repeat_test
        text = filled(self.book, test.text, self.folded(case_id).situation.profile)
        return text + (f" ({test.repeat})" if test.repeat else "")


def filled(book: Book, text: str, profile: Profile) -> str:
    """A text of the book with its limits put in, as they are for this bike."""
    return INLINE_LIMIT.sub(lambda match: _shown(book.limits[match[1]], profile), text)


def _shown(limit: Limit, profile: Profile) -> str:
    from diagnose.bench.units import show_range

    now = numbers(limit, profile)
    return show_range(now.low, now.high, limit.unit, limit.kind)


def last_told(stored: Sequence[Event]) -> Event | None:
    """The last event that counts and can be taken back; an ending that was reopened lies behind.

    A comeback can be taken back: the job is over again, as it was.
    """
    reopened = False
    for event in reversed(events.standing(stored)):
        if event.kind == "reopened" and event.data.get("comeback"):
            return event
        reopened = reopened or event.kind == "reopened"
        if event.kind not in NOT_UNDONE and not (event.kind == "ended" and reopened):
            return event
    return None
