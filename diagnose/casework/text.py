"""Free text as people type it, made fit to keep and to show.

`cleaned` takes a note or what is loose; `one_line` takes a label or what was typed for a reading; `has_all_words`
searches. Free text is kept apart from the events, where it can be erased; the events name it by a reference, which
`reference` writes and `text_number` reads.
"""

from __future__ import annotations

import re
import unicodedata

from diagnose.errors import InputError

LONGEST = 2_000
"""Characters that one free text may have."""

_REFERENCE = re.compile("t([1-9][0-9]{0,17})")
_LINE_ENDS = re.compile("\r\n?|[\x0b\x0c\x85\u2028\u2029]")
# Control characters could drive a terminal or a printer; bidirectional overrides could show a line other than it is.
_UNWANTED = re.compile("[\x00-\x08\x0e-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069\ufeff]")


def cleaned(text: str, what: str = "text", longest: int = LONGEST) -> str:
    """Returns `text` with line ends made alike, control characters removed and the ends trimmed; it may be empty.

    Halves of characters that belong together are joined, single halves become U+FFFD, so that the result can always be
    written as UTF-8. Accents are composed (Unicode NFC), so that a search finds what another keyboard typed.

    Raises:
        InputError: `input.text` if it is not text, `input.text-long` beyond `longest` characters; nothing is cut off.
    """
    if not isinstance(text, str):
        raise InputError("input.text", f"The {what} is not text.", hint="Pass a string.")
    whole = text.encode("utf-16-le", "surrogatepass").decode("utf-16-le", "replace")
    lines = _LINE_ENDS.sub("\n", whole).replace("\t", " ")
    clean = unicodedata.normalize("NFC", _UNWANTED.sub("", lines)).strip()
    if len(clean) > longest:
        raise InputError(
            "input.text-long",
            f"The {what} has {len(clean):,} characters; {longest:,} fit.",
            hint="Shorten it, or split it into several.",
        )
    return clean


def one_line(text: str, what: str = "text", longest: int = LONGEST) -> str:
    """Returns `text` cleaned as by `cleaned`, with every run of white space and line ends made one space."""
    return " ".join(cleaned(text, what, longest).split())


def not_empty(text: str) -> str:
    """Returns `text` cleaned as by `cleaned`; raises `InputError` `input.text-empty` if nothing is left."""
    clean = cleaned(text)
    if not clean:
        raise InputError(
            "input.text-empty", "There is no text to keep.", hint="Write something, or leave the note out."
        )
    return clean


def reference(number: int) -> str:
    """The reference of a store's `number`-th text, counted from 1."""
    return f"t{number}"


def text_number(ref: object) -> int | None:
    """The number of the text that `ref` names, None if it is no reference."""
    match = _REFERENCE.fullmatch(ref) if isinstance(ref, str) else None
    return int(match[1]) if match else None


def has_all_words(search: str, *places: str) -> bool:
    """Tells whether each word of `search` stands in one of `places`, whatever its case; no words stand anywhere."""
    folded = [place.casefold() for place in places]
    return all(any(word in place for place in folded) for word in search.casefold().split())
