"""The mark that stands where something is still to be told.

Cast: `TO_BE_TOLD`. Whatever writes a file for an author puts it where it does not know, in a text or in a comment; the
check on the book points at every one.
"""

from __future__ import annotations

TO_BE_TOLD = "(to be told)"
