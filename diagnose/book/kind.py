"""A kind of message about a rule book: its lasting name, how grave it is, why it matters, and two examples.

Cast: `Kind` is what every kind is, `Example` what an author would write. What keeps a book from being used is a `Slip`
(slips/slip.py); what is weak in a book that reads well is an `Anomaly` (anomalies/anomaly.py).
"""

from __future__ import annotations

from abc import ABC
from inspect import getdoc
from typing import ClassVar, NamedTuple

ERROR = "error"
"""The book cannot be used, or somebody may be told something wrong, or a danger may be missed."""
WARNING = "warning"
"""Nothing wrong is told, but something is asked, written or read in vain."""


class Example(NamedTuple):
    """What an author would write into a sound book: a cause's file as it is, or lines that another file gets besides.

    `beside` is what goes into other files, as (file, text).
    """

    file: str
    text: str
    beside: tuple[tuple[str, str], ...] = ()

    def files(self) -> tuple[tuple[str, str], ...]:
        """Every file with what goes into it."""
        return tuple((file, text.strip("\n") + "\n") for file, text in ((self.file, self.text), *self.beside))


class Kind(ABC):
    """One kind of message.

    `name` is the lasting code of its messages, `severity` goes by consequence, and `why` tells the consequence.
    Adding `wrong` to a sound book brings the message, adding `right` does not.
    """

    name: ClassVar[str]
    severity: ClassVar[str] = WARNING
    why: ClassVar[str]
    wrong: ClassVar[Example | None]
    right: ClassVar[Example | None]

    @classmethod
    def what(cls) -> str:
        """What is found, in one sentence."""
        return (getdoc(cls) or cls.name).split("\n", maxsplit=1)[0]
