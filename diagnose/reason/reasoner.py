"""The book with its engine, one for a process: what everything above this room reasons with.

Cast: `Reasoner`. It imports the reasoning and builds the engine when they are first needed, so that the first question
comes fast.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from diagnose.book.model import Book
    from diagnose.reason.chainer import Chainer
    from diagnose.reason.diagnosis import Diagnosis
    from diagnose.reason.situation import Situation

DEPTH = 3
"""Steps of look-ahead unless told otherwise."""


class Reasoner:
    """The book with its engine; `depth` is how many steps the look-ahead goes."""

    def __init__(self, book: Book, engine: Chainer | None = None, depth: int = DEPTH) -> None:
        self.book = book
        self.depth = depth
        self._engine = engine

    @property
    def chainer(self) -> Chainer:
        """The engine, built when it is first needed."""
        if self._engine is None:
            from diagnose.reason.conclude import rules_of
            from diagnose.reason.deduce import chainer

            self._engine = chainer(rules_of(self.book))
        return self._engine

    @property
    def notice(self) -> str:
        """One line where the plain chainer stands in for the engine, else empty."""
        return str(getattr(self.chainer, "notice", ""))

    def diagnose(self, situation: Situation) -> Diagnosis:
        """Reason a situation through."""
        from diagnose.reason.diagnosis import diagnose

        return diagnose(self, situation)
