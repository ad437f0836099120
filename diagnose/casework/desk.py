"""The desk: opens cases, takes events, gives Views. Terminal, page, sheet and test all work through it.

Cast: `Desk` over a reasoner and a store. Every event is safe in the store before its View is shown; state is only ever the fold of
events, so undo appends, resume replays, and nothing is lost when the program is stopped.
"""

from __future__ import annotations

from collections.abc import Iterable

from diagnose.casework import events
from diagnose.casework.events import Draft, Event
from diagnose.casework.fold import Folded, fold
from diagnose.casework.protocol import Store
from diagnose.casework.shapes import Ending, Role
from diagnose.casework.view import View, make_view
from diagnose.errors import InputError
from diagnose.reason.diagnosis import Reasoner

NOT_UNDONE = ("opened", "loose", "note", "reopened")
"""Kinds of event that going back passes over."""


class Desk:
    """Cases of one store, reasoned with one book."""

    def __init__(self, reasoner: Reasoner, store: Store) -> None:
        self.reasoner = reasoner
        self.book = reasoner.book
        self.store = store

    def open(
        self, label: str = "", role: Role = "mechanic", skill: Role = "mechanic", without: Iterable[str] = ()
    ) -> str:
        """Open a case and return its id."""
        return self.store.create(events.opened(role, skill, without).data, label, self.book.fingerprint)

    def submit(self, case_id: str, draft: Draft) -> Event:
        """Store one event after the last one that is there. Raises StoreError when somebody else was faster."""
        return self.submit_after(case_id, draft, len(self.store.events(case_id)))

    def submit_after(self, case_id: str, draft: Draft, seen: int) -> Event:
        """Store one event as the one after the `seen` events that the caller knows; a conflict changes nothing."""
        return self.store.append(case_id, seen + 1, draft.kind, draft.data, self.book.fingerprint)

    def folded(self, case_id: str) -> Folded:
        """The case as it stands."""
        return fold(self.book, events.standing(self.store.events(case_id)))

    def view(self, case_id: str, *, with_estimate: bool = False, with_why: bool = False) -> View:
        """The View of a case; its `loose` is the text that was noted."""
        stored = self.store.events(case_id)
        folded = fold(self.book, events.standing(stored))
        view = make_view(self.reasoner, folded, with_estimate=with_estimate, with_why=with_why)
        label = stored[0].data.get("label")
        view["case"] = self.store.text(label) if label else None
        view["loose"] = self.store.text(folded.loose) if folded.loose else None
        view["events"] = len(stored)
        return view

    def back(self, case_id: str) -> Event | None:
        """Take back the last thing that was told; None when there is nothing."""
        stored = self.store.events(case_id)
        for event in reversed(events.standing(stored)):
            if event.kind not in NOT_UNDONE:
                self.submit_after(case_id, events.undo(event.seq), len(stored))
                return event
        return None

    def note_loose(self, case_id: str, text: str) -> None:
        """Note what is loose or apart right now; an empty text says that nothing is."""
        ref = self.store.add_text(case_id, text) if text.strip() else None
        self.submit(case_id, events.loose(ref))

    def end(self, case_id: str, how: Ending, found: Iterable[str] = ()) -> None:
        """End a case."""
        self.submit(case_id, events.ended(how, found))

    def complain(self, case_id: str, complaint: str) -> None:
        """Add a complaint. Raises InputError beyond three."""
        standing = self.folded(case_id).situation.complaints
        if complaint not in standing and len(standing) >= MOST_COMPLAINTS:
            message = f"{MOST_COMPLAINTS} complaints are taken together"
            raise InputError("input.complaints", message, None, "Finish these first, then open another job.")
        self.submit(case_id, events.complaint(complaint))


MOST_COMPLAINTS = 3
