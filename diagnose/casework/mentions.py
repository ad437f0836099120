"""Which worked cases speak of a thing of the book, and how.

Cast: `mentions(folder, name)` reads the case files as plain trees, so that a case that does not fit the book is found
as well.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

from diagnose.book.shape import bare
from diagnose.book.tree import Listing, Mapping, Node, Text, read_tree
from diagnose.casework.replay import find_cases
from diagnose.errors import BookError, CaseError, Location


class Mention(NamedTuple):
    """A worked case and where in it a thing is spoken of; `under` are the keys that lead there."""

    sentence: str
    under: tuple[str, ...]
    where: Location

    @property
    def expected_on_top(self) -> bool:
        """Whether the case expects the thing to be the likeliest cause."""
        return self.under[:2] == ("expect", "top")


def mentions(folder: Path, name: str) -> list[Mention]:
    """The cases of a folder that speak of `name`, once each: those that expect it on top first, then by file.

    A thing of an own folder may be named there without its folder.
    """
    names = (name, bare(name))
    found = []
    try:
        files = find_cases(folder)
    except CaseError:
        return []
    for path in files:
        try:
            node = read_tree(path, path.as_posix())
        except BookError:
            continue
        if isinstance(node, Mapping):
            sentence = node.items.get("case")
            told = sentence.value if isinstance(sentence, Text) else path.stem
            here = [Mention(told, under, where) for under, where in _walk(node, names, ())]
            found.extend(sorted(here, key=lambda one: (not one.expected_on_top, one.where))[:1])
    return sorted(found, key=lambda one: (not one.expected_on_top, one.where))


def _walk(node: Node, names: tuple[str, ...], under: tuple[str, ...]) -> Iterator[tuple[tuple[str, ...], Location]]:
    """Every place where a key or a word is one of the names."""
    if isinstance(node, Text):
        if node.value in names:
            yield under, node.where
    elif isinstance(node, Listing):
        for one in node.items:
            yield from _walk(one, names, under)
    else:
        for key, child in node.items.items():
            if key in names:
                yield (*under, key), node.keys[key]
            yield from _walk(child, names, (*under, key))
