"""How much of a job a page tells: all of it on a screen, as much as two sheets hold on paper.

Cast: a `Form`; `WHOLE` is all, `FORMS` are those for paper, roomiest first. `as_told` shortens a sheet's free texts,
`cut_short` tells whether that took something away. Plan, limits, cautions, torque list and last check are whole in
every form.
"""

from __future__ import annotations

from typing import Final, Literal, NamedTuple

from diagnose.casework.sheet import Sheet
from diagnose.front.sheet import wording as say


class Form(NamedTuple):
    """How much is told, and how.

    Attributes:
        small: set in smaller type.
        run_in: findings that are set in lines, not in rows: none, the normal ones that nothing planned changes, all
            normal ones, all; `counted`: all, of the normal ones only how many there are.
        bare: what the bike is and what is likely are left to the screen, and notes of torques are run in.
        gauges: whose readings are drawn.
        text: characters of a free text.
        loose: characters of what is loose or apart.
        notes: how many notes, the newest.
    """

    small: bool
    run_in: Literal["none", "settled", "normal", "all", "counted"]
    bare: bool
    gauges: Literal["all", "off", "none"]
    text: int
    loose: int
    notes: int


ALL: Final = 1_000_000
WHOLE: Final = Form(False, "none", False, "all", ALL, ALL, ALL)
FORMS: Final = (
    Form(False, "none", False, "all", 400, 2_000, 6),
    Form(False, "settled", False, "all", 400, 2_000, 6),
    Form(True, "settled", False, "all", 400, 2_000, 6),
    Form(True, "normal", False, "off", 180, 700, 6),
    Form(True, "normal", False, "off", 140, 500, 4),
    Form(True, "normal", False, "off", 95, 400, 3),
    Form(True, "all", False, "none", 95, 400, 3),
    Form(True, "all", False, "none", 60, 240, 1),
    Form(True, "counted", True, "none", 60, 160, 0),
)


def as_told(sheet: Sheet, form: Form) -> Sheet:
    """The sheet with its free texts as long as the form has room for, and its newest notes."""
    notes = tuple(short(text, form.text) for text in sheet.notes[max(len(sheet.notes) - form.notes, 0) :])
    tag, view = short(sheet.tag, form.text), sheet.view
    if view is None:
        return sheet._replace(notes=notes, tag=tag)
    wishes = {**view["wishes"], "text": _short(view["wishes"]["text"], form.text)}
    said = "; ".join(view["words"])
    words = view["words"] if len(said) <= form.text else [short(said, form.text)]
    texts = {key: _short(view[key], most) for key, most in _most(form).items()}
    return sheet._replace(notes=notes, tag=tag, view={**view, **texts, "wishes": wishes, "words": words})


def _most(form: Form) -> dict[str, int]:
    """Of the View's own free texts, how many characters of each."""
    return {"case": form.text, "waits": form.text, "loose": form.loose}


def short(text: str, longest: int) -> str:
    """The text, cut at a word where it is longer than so many characters, and marked as cut."""
    if len(text) <= longest:
        return text
    words = text[:longest].rsplit(maxsplit=1)
    return say.CUT.format(text=words[0] if len(words) > 1 and len(words[0]) > longest // 2 else text[:longest])


def _short(text: str | None, longest: int) -> str | None:
    return None if text is None else short(text, longest)


def cut_short(sheet: Sheet, form: Form) -> bool:
    """Whether this form leaves out or cuts something that a screen tells."""
    left_out = (form.bare and sheet.view is not None) or (
        form.run_in == "counted" and any(one.normal for one in sheet.seen)
    )
    return left_out or as_told(sheet, form) != sheet
