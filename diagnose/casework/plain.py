"""Texts of the book as a rider reads them: without words of the workshop.

Cast: `Plain` gives a text of the book back where it is free of them; where it is not, it says which part of the bike
it is about instead, since words put in the place of others make no sentences.
"""

from __future__ import annotations

import re
from pathlib import PurePath
from typing import Final

from diagnose.book.model import Book
from diagnose.errors import Location

SYSTEMS: Final = {
    "accessories": "what is fitted to the bike",
    "assist": "the electric assist",
    "belt": "the belt",
    "brakes": "the brakes",
    "checkover": "the whole bike",
    "cockpit": "bars, stem and saddle",
    "comfort": "how it fits the rider",
    "controls": "levers and grips",
    "cranks": "cranks and pedals",
    "drivetrain": "chain and gears",
    "dropper": "the height-adjustable seat post",
    "eshift": "the gears",
    "frame": "the frame",
    "grabbing": "the brakes",
    "handling": "how it rides",
    "headsets": "the steering",
    "hubbrakes": "the brakes",
    "hubgears": "the gears",
    "hubs": "the wheels",
    "lights": "the lights",
    "noises": "the noise",
    "pedals": "the pedals",
    "steering": "the steering",
    "stuck": "what is stuck",
    "suspension": "the suspension",
    "tyres": "the tyres",
    "wheels": "the wheels",
}
"""Folder of the book to the part of the bike, in words that anybody knows."""
ELSE: Final = "the bike"


class Plain:
    """The book for riders."""

    def __init__(self, book: Book) -> None:
        words = "|".join(re.escape(word).replace(r"\-", "[- ]") for word in sorted(book.jargon, key=len, reverse=True))
        self._jargon = re.compile(rf"(?i)\b(?:{words})s?\b") if words else None

    def is_plain(self, text: str) -> bool:
        """Whether no word of the workshop stands in it."""
        return not (self._jargon and self._jargon.search(text))

    def about(self, where: Location) -> str:
        """The part of the bike that something of the book is about, by the folder that it stands in."""
        folders = PurePath(where.file).parts[:-1]
        return next((SYSTEMS[name] for name in reversed(folders) if name in SYSTEMS), ELSE)

    def says(self, text: str, where: Location, instead: str = "{about}") -> str:
        """The text, or `instead` with the part of the bike in it."""
        return text if self.is_plain(text) else instead.format(about=self.about(where))
