"""A slip of an author: something for which a book cannot be used until it is mended.

Cast: `Slip`; `cause_with` writes the small cause that examples change.
"""

from __future__ import annotations

from typing import ClassVar

from diagnose.book.kind import ERROR, Example, Kind

SHOP = "../shop"
"""An own folder beside the book, in an example."""


class Slip(Kind):
    """One kind of slip. One that no line of text can show, such as a file without rights, has no example."""

    severity = ERROR
    wrong: ClassVar[Example | None] = None
    right: ClassVar[Example | None] = None


def cause_with(*lines: str, common_for: str = "{front-knock: 5 in 100}", help_from: bool = True) -> Example:
    """A cause with these lines besides, of which somebody else may be the one who helps."""
    told = (
        'name: "crown loose"',
        'in_short: "The crown moves on the steerer."',
        f"common_for: {common_for}",
        "basis: common practice",
        "shows: {}",
        "danger: none",
        *lines,
        *(['hand_off: {class: workshop, urgency: soon, reason: "It wants a press."}'] if help_from else []),
    )
    return Example("front/causes/crown-loose.yaml", "\n".join(told))
