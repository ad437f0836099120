"""Slips of own folders beside a book.

Cast: one class for each code.
"""

from __future__ import annotations

from diagnose.book.kind import Example
from diagnose.book.slips.slip import SHOP, Slip


def _shop(name: str = "shop", book: str = "our-shop", adds_to: str = "small") -> tuple[str, str]:
    """The book.yaml of an own folder."""
    return f"../{name}/book.yaml", f'book: {book}\ntitle: "Our shop"\nadds_to: {adds_to}'


class Clash(Slip):
    """An id of an own folder that the book has too, without saying that it is to take its place."""

    name = "id.clash"
    why = "The book would be changed by accident: what it says of this thing would be gone."
    wrong = Example(f"{SHOP}/tools.yaml", 'press: "our press"', (_shop(),))
    right = Example(f"{SHOP}/tools.yaml", 'press: {text: "our press", replaces: press}', (_shop(),))


class ReplacesUnknown(Slip):
    """A `replaces:` that names nothing in the book."""

    name = "replaces.unknown"
    why = "Nothing is replaced: what was to go would still be there beside this."
    wrong = Example(f"{SHOP}/tools.yaml", 'press: {text: "our press", replaces: pres}', (_shop(),))
    right = Clash.right


class ReplacesName(Slip):
    """A `replaces:` in an entry that has another name."""

    name = "replaces.name"
    why = "All that names the old id would have to be told of the new one."
    wrong = Example(f"{SHOP}/tools.yaml", 'our-press: {text: "our press", replaces: press}', (_shop(),))
    right = Clash.right


class ReplacedTwice(Slip):
    """Something that two own folders want to replace."""

    name = "replaces.twice"
    why = "Only one of the two could count, whichever folder happens to be named last."
    wrong = Example(
        "../shop/tools.yaml",
        'press: {text: "our press", replaces: press}',
        (
            _shop(),
            ("../yard/tools.yaml", 'press: {text: "the yard\'s press", replaces: press}'),
            _shop("yard", "our-yard"),
        ),
    )
    right = Example(
        "../shop/tools.yaml",
        'press: {text: "our press", replaces: press}',
        (_shop(), ("../yard/tools.yaml", 'anvil: "the yard\'s anvil"'), _shop("yard", "our-yard")),
    )


class ReplacesInBase(Slip):
    """A `replaces:` in the book itself."""

    name = "replaces.base"
    why = "There is nothing below the book that could be replaced; the line does nothing."
    wrong = Example("tools.yaml", 'hammer: {text: "soft hammer", replaces: press}')
    right = Example("tools.yaml", 'hammer: "soft hammer"')


SAYING = '{rider_says: ["it knocks on cobbles"], adds_to: %s}'


class AddsUnknown(Slip):
    """Sentences for a complaint that is not there."""

    name = "adds.unknown"
    why = "Nobody would find a complaint by them."
    wrong = Example(f"{SHOP}/complaints.yaml", f"front-knok: {SAYING % 'front-knok'}", (_shop(),))
    right = Example(f"{SHOP}/complaints.yaml", f"front-knock: {SAYING % 'front-knock'}", (_shop(),))


class AddsName(Slip):
    """Sentences for a complaint in an entry that has another name."""

    name = "adds.name"
    why = "Whoever looks for the complaint's name in the folder would not find them."
    wrong = Example(f"{SHOP}/complaints.yaml", f"our-knock: {SAYING % 'front-knock'}", (_shop(),))
    right = AddsUnknown.right


class AddsToAnother(Slip):
    """An own folder that adds to another book than the one it stands beside."""

    name = "book.adds-to"
    why = "Its rules lean on causes and findings that this book may not have, or that mean something else in it."
    wrong = Example(f"{SHOP}/tools.yaml", 'anvil: "anvil"', (_shop(adds_to="smal"),))
    right = Example(f"{SHOP}/tools.yaml", 'anvil: "anvil"', (_shop(),))


class BookTwice(Slip):
    """Two folders of rules with one name."""

    name = "book.twice"
    why = "The name stands before the ids of all that a folder adds: nobody could say whose they are."
    wrong = Example(f"{SHOP}/tools.yaml", 'anvil: "anvil"', (_shop(book="small"),))
    right = Example(f"{SHOP}/tools.yaml", 'anvil: "anvil"', (_shop(),))
