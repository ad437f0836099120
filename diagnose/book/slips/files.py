"""Slips of files and folders.

Cast: one class for each code.
"""

from __future__ import annotations

from diagnose.book.kind import Example
from diagnose.book.slips.slip import Slip


class Empty(Slip):
    """A rule file with nothing in it."""

    name = "file.empty"
    why = "What was meant to stand there is missing, and a file left empty by accident would not be noticed."
    wrong = Example("rear/tools.yaml", "# hammer")
    right = Example("rear/tools.yaml", 'hammer: "soft hammer"')


class UnknownName(Slip):
    """A file whose name has no place in a book."""

    name = "file.unknown"
    why = "Nobody would read it, and all that it says would be missing without a word."
    wrong = Example("rear/tool.yaml", 'hammer: "soft hammer"')
    right = Example("rear/tools.yaml", 'hammer: "soft hammer"')


class NotUtf8(Slip):
    """A file that is not saved as UTF-8."""

    name = "file.not-utf8"
    why = "Letters with accents and signs such as ° would turn into others on somebody else's machine."


class TooBig(Slip):
    """A file that is far larger than a rule file is."""

    name = "file.too-big"
    why = "It is hardly a rule file, and reading it would hold up every start."


class IsFolder(Slip):
    """A folder that is named like a file."""

    name = "file.folder"
    why = "What stands in it would not be read."


class Special(Slip):
    """A pipe or device in place of a file."""

    name = "file.special"
    why = "Reading it might never end."


class Missing(Slip):
    """A file that is named and not there, such as a link that leads nowhere."""

    name = "file.missing"
    why = "What it said is gone from the book, and nobody would notice."


class Unreadable(Slip):
    """A file that cannot be read."""

    name = "file.unreadable"
    why = "What it says would be missing from the book without a word."


class NoFolder(Slip):
    """A folder of rules that is not there."""

    name = "book.missing"
    why = "There is nothing to read rules from."


class NotAFolder(Slip):
    """A file named where a folder of rules is wanted."""

    name = "book.file"
    why = "A book is a folder: its files lean on each other, and one alone says little."


class NoRules(Slip):
    """A folder without a single rule file."""

    name = "book.empty"
    why = "It is hardly the folder that was meant."


class TooManyFiles(Slip):
    """A folder with thousands of files."""

    name = "book.too-many"
    why = "It is hardly the folder that was meant, and reading it all would take minutes."


class UnreadableFolder(Slip):
    """A folder that cannot be read."""

    name = "book.unreadable"
    why = "What stands in it would be missing from the book without a word."


class NoConstants(Slip):
    """A folder of rules without a book.yaml."""

    name = "book.constants"
    why = (
        "Without it nobody knows which book this is, nor what an hour costs and from when on a bike must not be ridden."
    )
    wrong = Example("../shop/tools.yaml", 'hammer: "soft hammer"')
    right = Example(
        "../shop/tools.yaml",
        'hammer: "soft hammer"',
        (("../shop/book.yaml", 'book: our-shop\ntitle: "Our shop"\nadds_to: small\n'),),
    )


class TwoBooks(Slip):
    """Two whole books named at once."""

    name = "book.two"
    why = "Each has its own constants and causes; only one of them can be the book, the others add to it."


class SettledGone(Slip):
    """A folder of rules that the settings name and that is gone."""

    name = "book.settled"
    why = "The shop counts on its own rules; without them jobs would be told something else."


class BadPackage(Slip):
    """Rules that another package brings and that cannot be used."""

    name = "book.package"
    why = "Whoever installed it counts on its rules; without them jobs would be told something else."
