"""An anomaly of a rule book, what it finds, and what it looks at.

Cast: `Anomaly` is the small class that each one is; `Found` is one place where it was found; `Study` is a book with the
files that it was read from, so that a message can point at a single word of them.
"""

from __future__ import annotations

from abc import abstractmethod
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, ClassVar, NamedTuple

from diagnose.book.kind import ERROR, WARNING, Example, Kind
from diagnose.book.tree import Listing, Node, Text
from diagnose.book.tree import Mapping as Lines
from diagnose.errors import Location

if TYPE_CHECKING:
    from diagnose.book.anomalies.closure import Closure
    from diagnose.book.anomalies.references import References
    from diagnose.book.model import Book

__all__ = ["ERROR", "WARNING", "Anomaly", "Example", "Found", "Named", "Source", "Study"]

Named = tuple[str, str]
"""Kind and id of an entry."""


class Found(NamedTuple):
    """One place: what is wrong, and what to write instead.

    `owner` is the entry that may let it stand, `others` are ids that it is about besides.
    """

    where: Location
    message: str
    hint: str
    owner: Named
    others: tuple[str, ...] = ()


class Anomaly(Kind):
    """One kind of anomaly: `wrong` is found when it is added to a sound book, `right` is not."""

    wrong: ClassVar[Example]
    right: ClassVar[Example]

    @abstractmethod
    def find(self, study: Study) -> Iterator[Found]:
        """Every place where it is found."""


class Source(NamedTuple):
    """A file that was read: its name in messages, what it holds by its name, and its text."""

    shown: str
    kind: str
    text: str


@dataclass(frozen=True)
class Study:
    """A book that reads well, its files, and where each entry of it stands."""

    book: Book
    sources: tuple[Source, ...]
    entries: Mapping[Named, tuple[Location, Node]]
    """Kind and id to the place of the id and what stands under it."""

    @cached_property
    def references(self) -> References:
        """Who names what."""
        from diagnose.book.anomalies.references import References

        return References(self.book)

    @cached_property
    def closure(self) -> Closure:
        """What follows from what."""
        from diagnose.book.anomalies.closure import Closure

        return Closure(self.book)

    def place(self, owner: Named, *path: str) -> Location:
        """Where the last word of a path stands, or what of it there is: a key, or a word of a list."""
        where, node = self.entries.get(owner, (Location("?"), None))
        for word in path:
            if isinstance(node, Lines) and word in node.items:
                where, node = node.keys[word], node.items[word]
            else:
                return _place_in(node, word) or where
        return where


def _place_in(node: Node | None, word: str) -> Location | None:
    """Where a word of a list stands, or of a text that stands for a list of one."""
    nodes = node.items if isinstance(node, Listing) else [node]
    return next((one.where for one in nodes if isinstance(one, Text) and one.value == word), None)
