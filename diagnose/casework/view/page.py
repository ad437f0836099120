"""What every part of a View is written from, and how a limit is written for this bike.

Cast: `Page`, with `limit`, `limits`, `fill`, and `origin`, which says what comes from an own folder.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from diagnose.bench.units import show_also, show_range
from diagnose.book.conditions import INLINE_LIMIT, may_hold, numbers
from diagnose.book.model import Book, Limit
from diagnose.reason.chainer import Chainer
from diagnose.reason.diagnosis import Diagnosis
from diagnose.reason.situation import Situation

View = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Page:
    """The book, the engine and the diagnosis of one case."""

    book: Book
    chainer: Chainer
    diagnosis: Diagnosis

    @property
    def situation(self) -> Situation:
        """What is known of the bike."""
        return self.diagnosis.situation

    def origin(self, name: str) -> View | None:
        """The own folder that a thing comes from, by its id; None for what the book itself says."""
        volume = self.book.volume_of(name)
        return {"id": volume.id, "title": volume.title} if volume.adds_to else None

    def limits(self, names: Sequence[str]) -> list[View]:
        """The limits that can belong to this bike."""
        named = [self.book.limits[name] for name in names]
        return [self.limit(one) for one in named if may_hold(one.applies, self.situation.profile)]

    def cautions(self, names: Sequence[str]) -> list[str]:
        """The cautions that can belong to this bike."""
        return [self.book.cautions[name] for name in names if self.warns(name)]

    def warns(self, caution: str) -> bool:
        """Whether a caution can belong to this bike."""
        return may_hold(self.book.cautions_apply.get(caution, {}), self.situation.profile)

    def limit(self, limit: Limit) -> View:
        """A limit under this profile, with its text."""
        now = numbers(limit, self.situation.profile)
        return {
            "id": limit.id,
            "from": self.origin(limit.id),
            "quantity": limit.quantity,
            "low": now.low,
            "high": now.high,
            "unit": limit.unit,
            "also": show_also(now.low, now.high, limit.unit, limit.kind) or None,
            "kind": limit.kind,
            "basis": now.basis,
            "source": now.source or limit.source or None,
            "note": limit.note or None,
            "text": ", ".join(f"{kind} {one}" for kind, one in self._table(limit).items())
            or show_range(now.low, now.high, limit.unit, limit.kind),
        }

    def _table(self, limit: Limit) -> dict[str, str]:
        """The numbers of a limit for each kind of bike, where the kind was not asked for them; else none."""
        if not limit.table or self.situation.profile.get(limit.table):
            return {}
        found = {}
        for value, text in self.book.facts[limit.table].values.items():
            now = numbers(limit, {**self.situation.profile, limit.table: (value,)})
            found[text] = show_range(now.low, now.high, limit.unit, limit.kind).split(" (")[0]
        return found

    def fill(self, text: str) -> str:
        """A text with its limits put in."""
        if "{" not in text:
            return text
        return INLINE_LIMIT.sub(lambda match: self._in_a_sentence(self.book.limits[match[1]]), text)

    def _in_a_sentence(self, limit: Limit) -> str:
        """A limit in the middle of a text: where each kind of bike has its own, from the least of them to the most."""
        if not self._table(limit):
            return str(self.limit(limit)["text"])
        kinds = [numbers(limit, {limit.table: (value,)}) for value in self.book.facts[limit.table].values]
        lows, highs = (
            [one.low for one in kinds if one.low is not None],
            [one.high for one in kinds if one.high is not None],
        )
        whole = show_range(min(lows, default=None), max(highs, default=None), limit.unit, limit.kind).split(" (")[0]
        return f"{whole}, by the list below,"
