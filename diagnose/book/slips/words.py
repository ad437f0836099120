"""Slips in keys, ids, texts, words and numbers.

Cast: one class for each code.
"""

from __future__ import annotations

from diagnose.book.kind import Example
from diagnose.book.slips.slip import Slip, cause_with

SOUND = Example("teardowns.yaml", 'bars-off: {name: "bars off", open: 3, close: 4}')
HAMMER = Example("tools.yaml", 'hammer: "soft hammer"')


def _teardown(text: str) -> Example:
    return Example("teardowns.yaml", text)


class UnknownKey(Slip):
    """A key that this kind of entry does not have."""

    name = "key.unknown"
    why = "What stands behind it would be read by nobody, while its author counts on it."
    wrong = _teardown('bars-off: {name: "bars off", open: 3, cloze: 4}')
    right = SOUND


class MissingKey(Slip):
    """A key that this kind of entry must have."""

    name = "key.missing"
    why = "The program would have to guess it, and would tell the guess as if the book had said it."
    wrong = _teardown('bars-off: {name: "bars off", open: 3}')
    right = SOUND


class NothingThere(Slip):
    """A key with nothing behind it."""

    name = "value.empty"
    why = "Nobody can tell whether it was forgotten or meant to be nothing."
    wrong = Example("tools.yaml", "hammer:")
    right = HAMMER


class WrongType(Slip):
    """A list where a text is wanted, or a text where lines of `key: value` are."""

    name = "type.wrong"
    why = "What stands here cannot be taken for what is wanted, so it would be left out."
    wrong = Example("tools.yaml", "hammer: [soft, hammer]")
    right = HAMMER


class WrongNumber(Slip):
    """Something that is not a plain number where one is wanted."""

    name = "number.wrong"
    why = "A unit written beside it might be another than the one that is reckoned with."
    wrong = _teardown('bars-off: {name: "bars off", open: 3 min, close: 4}')
    right = SOUND


class NumberRange(Slip):
    """A number that cannot be right here."""

    name = "number.range"
    why = "A point in the wrong place or another unit would spoil every sum that it enters."
    wrong = _teardown('bars-off: {name: "bars off", open: 3000, close: 4}')
    right = SOUND


class UnknownWord(Slip):
    """A word that is none of those that may stand here."""

    name = "word.unknown"
    why = "The program knows only what the closed list means; any other word would do nothing."
    wrong = Example(
        "front/limits.yaml", 'crown: {quantity: "crown race", low: 26.4, unit: mm, kind: least, basis: memory}'
    )
    right = Example(
        "front/limits.yaml", 'crown: {quantity: "crown race", low: 26.4, unit: mm, kind: minimum, basis: memory}'
    )


class UnknownUnit(Slip):
    """A unit that the program does not store."""

    name = "unit.unknown"
    why = "A figure in another unit than the one it is taken for is worse than none."
    wrong = Example(
        "front/limits.yaml", 'crown: {quantity: "crown bolt", low: 8, unit: Nm, kind: minimum, basis: memory}'
    )
    right = Example(
        "front/limits.yaml", 'crown: {quantity: "crown bolt", low: 8, unit: N.m, kind: minimum, basis: memory}'
    )


class MalformedId(Slip):
    """An id with signs that an id may not have."""

    name = "id.malformed"
    why = "An id is named from other files and other systems; capitals, spaces and accents are mistyped there."
    wrong = Example("tools.yaml", 'Soft_Hammer: "soft hammer"')
    right = Example("tools.yaml", 'soft-hammer: "soft hammer"')


class ReservedId(Slip):
    """An id that means something of its own."""

    name = "id.reserved"
    why = "Wherever it is named, two things could be meant."
    wrong = _teardown('done: {name: "bars off", open: 3, close: 4}')
    right = SOUND


class IdTwice(Slip):
    """An id that two things of the book have."""

    name = "id.twice"
    why = "Whoever names it would get one of the two, and nobody could say which."
    wrong = Example("rear/tools.yaml", 'hex-keys: "long hex keys"')
    right = Example("rear/tools.yaml", 'long-hex-keys: "long hex keys"')


class UnknownId(Slip):
    """An id that nothing in the book has."""

    name = "id.unknown"
    why = "What hangs on it would never happen, and nobody would notice."
    wrong = _teardown('bars-off: {name: "bars off", open: 3, close: 4, inside: whel-out}')
    right = _teardown('bars-off: {name: "bars off", open: 3, close: 4, inside: wheel-out}')


class UnknownValue(Slip):
    """A value that this fact or finding does not have."""

    name = "value.unknown"
    why = "Nobody can ever answer so; what hangs on it would never happen."
    wrong = cause_with("applies: {headset: thredless}")
    right = cause_with("applies: {headset: threadless}")


class LongText(Slip):
    """A text that is too long for a screen."""

    name = "text.long"
    why = "At the stand nobody reads on; what matters would be passed over."
    wrong = Example("tools.yaml", f'hammer: "{"a soft hammer, " * 70}"')
    right = HAMMER


class UnseenInText(Slip):
    """A control character or invisible sign in a text, written as an escape."""

    name = "text.control"
    why = "It could change what the terminal shows, or make two texts differ that look alike."
    wrong = Example("tools.yaml", 'hammer: "\\e[31msoft hammer"')
    right = HAMMER


class ShortList(Slip):
    """A list or mapping with too little in it."""

    name = "list.short"
    why = "With nothing in it the entry says nothing, or says it of every bike."
    wrong = cause_with("applies: {headset: []}")
    right = cause_with("applies: {headset: [threadless]}")


class LongList(Slip):
    """More entries than anybody reads or the reasoning can go through."""

    name = "list.long"
    why = "At the stand nobody finds the right answer among so many, and every question would take long to weigh."
    wrong = Example(
        "facts.yaml",
        'colour: {ask: "Which colour?", values: {' + ", ".join(f'c{one}: "number {one}"' for one in range(31)) + "}}",
    )
    right = Example("facts.yaml", 'colour: {ask: "Which colour?", values: {dark: "dark", light: "light"}}')


class NumberInProse(Slip):
    """A number with a unit in a sentence."""

    name = "prose.number"
    why = "In a sentence it has no source, is not shown in other units, and is forgotten when the limit changes."
    wrong = Example("cautions.yaml", 'crown: "Hold the fork: it falls from 2 m."')
    right = Example("cautions.yaml", 'crown: "Hold the fork: it falls."')


class Brace(Slip):
    """A curly bracket in a text that no limit is put into, or one without its partner."""

    name = "prose.brace"
    why = "People would read the bracket, and not the figure."
    wrong = Example("cautions.yaml", 'crown: "Never above {stem-clamp}."')
    right = Example("cautions.yaml", 'crown: "Never above the marking."')
