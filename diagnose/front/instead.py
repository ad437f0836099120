"""Why one step comes next and not another, in a sentence.

Cast: `in_words(book, why)`.
"""

from __future__ import annotations

from diagnose.book.model import Book
from diagnose.front.rulebook import phrases
from diagnose.reason.instead import Instead

REASONS = {
    "over": "the job is over there: the repeat test has passed",
    "again": "it came back a second time: the most experienced takes it on",
    "needed": "it is looked at before this fix: {by}",
    "closed": "the other is not open there: it is done or known already, nothing it tells is still in doubt, or it is "
    "not for such a bike",
    "nothing": "the other saves nothing there",
}
LITTLE = "the other saves {saved:.1f} min only, too little to be asked"
DEARER = "{now:.1f} min to be expected until it is gone; {other:.1f} with the other first"


def in_words(book: Book, why: Instead) -> str:
    """Why something comes next and `the other` does not."""
    if why.now is not None and why.other is not None:
        text = LITTLE if why.reason == "little" else DEARER
        return text.format(saved=why.now - why.other, now=why.now, other=why.other)
    if why.reason == "demanded":
        return f"first, because: {_because(book, why.by)}"
    return REASONS[why.reason].format(by=phrases.named(book.fixes[why.by]) if why.by else "")


def _because(book: Book, name: str) -> str:
    if name in book.causes:
        cause = book.causes[name]
        return f"{phrases.named(cause)}: {cause.danger_because}"
    return f"{book.deductions[name].because} ({name})"
