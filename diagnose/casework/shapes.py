"""What an event of each kind may say.

`validated` checks kind and data and brings them into their one stored form; `validated_at` also minds the place in the
case. The table `_SHAPES` lists the kinds, their fields and what each field takes: start reading there.

Only the shape is checked: whether an id is in the book is for whoever has the book. No field takes free text, since
events stay for ever: labels, notes and what is loose are kept by the store, where they can be erased, and named by a
reference.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterable, Mapping
from typing import Any, Final, Literal, NamedTuple, get_args

from diagnose.casework.text import one_line, text_number
from diagnose.errors import InputError

Role = Literal["mechanic", "rider"]
Change = Literal["better", "same", "worse"]
Outcome = Literal["gone", "better", "still-there"]
"""What a repeat test showed. `better`: something of it is left, and some is gone: there were two faults."""
Ending = Literal["cured", "handed-off", "not-reproduced", "declined", "uneconomic", "collected"]
Origin = Literal["own-work", "part", "new-fault"]
OldParts = Literal["back", "leave"]
Doer = Literal["rider", "workshop"]
Ago = Literal["days", "weeks", "longer"]
Dialogue = Literal["fix", "already", "reopen", "complaint", "heard"]
"""What is told in several prompts, each kept by itself until the whole is told."""

SCHEMA: Final = 10
"""Number of the shapes below; it is stored with each event.

2 added `waiting` and comebacks; 3 `stand` and `agreed`; 4 `wished`; 5 by whom and when something was
done already; 6 `no-more`, `partly`, facts of which more may be told,
and which complaint is the worst; 7 the words for a complaint that was not picked yet; 8 facts that were heard;
9 that one of what was heard is wrong, before it is said which; 10 a reading outside the range of the book.
"""

ROLES: Final[tuple[str, ...]] = get_args(Role)
CHANGES: Final[tuple[str, ...]] = get_args(Change)
OUTCOMES: Final[tuple[str, ...]] = get_args(Outcome)
ENDINGS: Final[tuple[str, ...]] = get_args(Ending)
ORIGINS: Final[tuple[str, ...]] = get_args(Origin)
OLD_PARTS: Final[tuple[str, ...]] = get_args(OldParts)
DOERS: Final[tuple[str, ...]] = get_args(Doer)
AGES: Final[tuple[str, ...]] = get_args(Ago)
DIALOGUES: Final[tuple[str, ...]] = get_args(Dialogue)


LONGEST_TYPED: Final = 400
"""Characters that are kept of what was typed for a row of readings."""
LONGEST_WORDS: Final = 40
MOST_READINGS: Final = 200


class _UnfitError(Exception):
    """A value that a field cannot take; says what it can."""


class _Field(NamedTuple):
    read: Callable[[object], object]
    must: bool = True


MOST_MONEY: Final = 1e6
"""Of the book's currency, the highest sum that can be agreed."""

_ID = re.compile(r"(?:[a-z0-9]+(?:[-_.][a-z0-9]+)*:)?[a-z0-9]+(?:[-_.][a-z0-9]+)*")
_BOOK = re.compile("[!-~]{1,200}")


def validated(kind: object, data: object) -> dict[str, Any]:
    """Returns `data` of an event of `kind` in its one stored form: lists, plain floats, optional keys left out.

    Raises:
        InputError: `input.event-kind` or `input.event-data`; the message names the field, the hint says what fits.
    """
    fields = _SHAPES.get(kind) if isinstance(kind, str) else None
    if not isinstance(kind, str) or fields is None:
        raise InputError("input.event-kind", f'There is no event "{_shown(kind)}".', hint=_one_of(KINDS, kind))
    if not isinstance(data, Mapping):
        raise _wrong(kind, "its data is not a mapping", _listed(fields))
    given = {key: value for key, value in data.items() if value is not None}
    _check_keys(kind, fields, given)
    taken = {key: _read(kind, key, field, given[key]) for key, field in fields.items() if key in given}
    _check_together(kind, taken)
    return {key: value for key, value in taken.items() if fields[key].must or value != []}


def validated_at(seq: int, kind: str, data: object) -> dict[str, Any]:
    """Returns `validated(kind, data)` for the place `seq`: a case begins with `opened`, and an undo looks back."""
    taken = validated(kind, data)
    if (kind == "opened") != (seq == 1):
        raise _wrong(kind, f"it cannot be event {seq} of a case", "A case is opened once, with its first event.")
    if kind == "undo" and taken["seq"] >= seq:
        raise _wrong(kind, f"event {taken['seq']} does not come before event {seq}", "Name an event that is there.")
    return taken


def validated_book(book: object) -> str:
    """Returns the book's fingerprint if it is one: up to 200 printable ASCII signs without spaces."""
    if isinstance(book, str) and _BOOK.fullmatch(book):
        return book
    raise InputError("input.book", "That is no fingerprint of a rule book.", hint="Pass the loaded book's fingerprint.")


def _check_keys(kind: str, fields: Mapping[str, _Field], given: Mapping[object, object]) -> None:
    for key in given:
        if key not in fields:
            raise _wrong(kind, f'"{_shown(key)}" does not belong there', _listed(fields))
    for key, field in fields.items():
        if field.must and key not in given:
            raise _wrong(kind, f'"{key}" is missing', _listed(fields))


def _read(kind: str, key: str, field: _Field, value: object) -> object:
    try:
        return field.read(value)
    except _UnfitError as unfit:
        raise _wrong(kind, f'"{key}" is "{_shown(value)}"', str(unfit)) from None


def _check_together(kind: str, data: Mapping[str, object]) -> None:
    if kind == "answer":
        _exactly_one(kind, data, ("value", "reading", "cannot_tell"))
        _goes_with(kind, data, "reading", ("unit", "typed"), all_of_them=True)
        _goes_with(kind, data, "reading", ("sum", "readings"), all_of_them=False)
        _goes_with(kind, data, "sum", ("readings",), all_of_them=True)
        _goes_with(kind, data, "cannot_tell", ("outside",), all_of_them=False)
    elif kind == "reading":
        _exactly_one(kind, data, ("value", "left_out"))
        _goes_with(kind, data, "value", ("unit", "typed"), all_of_them=True)
    elif kind == "partly":
        _exactly_one(kind, data, ("said", "text_ref"))
    elif kind == "fix":
        _exactly_one(kind, data, ("results", "not_possible"))
        _goes_with(kind, data, "not_possible", ("reason",), all_of_them=False)
    elif kind == "reopened":
        _goes_with(kind, data, "comeback", ("origin",), all_of_them=False)
    elif kind == "waiting" and "over" in data and len(data) > 1:
        raise _wrong(kind, "it waits and is over", "Give either what it waits for, or that this is over.")


def _exactly_one(kind: str, data: Mapping[str, object], keys: tuple[str, ...]) -> None:
    count = sum(key in data for key in keys)
    if count != 1:
        raise _wrong(kind, f"it has {count} of {', '.join(keys)}", "Give exactly one of them.")


def _goes_with(kind: str, data: Mapping[str, object], key: str, others: tuple[str, ...], all_of_them: bool) -> None:
    for other in others:
        if other in data and key not in data:
            raise _wrong(kind, f'"{other}" goes with "{key}"', f'Give "{key}" too, or leave "{other}" out.')
        if all_of_them and key in data and other not in data:
            raise _wrong(kind, f'"{key}" goes with "{other}"', f'Give "{other}" too.')


# What a field takes


def _id(value: object) -> str:
    if isinstance(value, str) and len(value) <= 120 and _ID.fullmatch(value):
        return value
    raise _UnfitError("Write an id of the book: lower-case words joined by hyphens.")


def _ids(value: object) -> list[str]:
    if not isinstance(value, (list, tuple)):
        raise _UnfitError("Write a list of ids, which may be empty.")
    return list(dict.fromkeys(_id(each) for each in value))


def _text_ref(value: object) -> str:
    if isinstance(value, str) and text_number(value) is not None:
        return value
    raise _UnfitError("Add the text to the store first and write the reference it gives, such as t7.")


def _word(words: tuple[str, ...]) -> Callable[[object], str]:
    def read(value: object) -> str:
        if isinstance(value, str) and value in words:
            return value
        raise _UnfitError(_one_of(words, value))

    return read


def _number(value: object) -> float:
    if isinstance(value, (int, float)) and not isinstance(value, bool):
        try:
            number = float(value)
        except OverflowError:
            number = math.inf
        if math.isfinite(number):
            return number
    raise _UnfitError("Write a plain number.")


def _money(value: object) -> float:
    number = _number(value)
    if not 0 <= number <= MOST_MONEY:
        raise _UnfitError(f"Write a sum from 0 to {MOST_MONEY:.0f}.")
    return number


def _short(longest: int) -> Callable[[object], str]:
    def read(value: object) -> str:
        try:
            short = one_line(value, longest=longest) if isinstance(value, str) else ""
        except InputError:
            short = ""
        if not short:
            raise _UnfitError(f"Write 1 to {longest} characters.")
        return short

    return read


def _true(value: object) -> bool:
    if value is True:
        return True
    raise _UnfitError("Write true, or leave it out.")


def _undone_seq(value: object) -> int:
    if isinstance(value, int) and not isinstance(value, bool) and value >= 2:
        return value
    raise _UnfitError("Write the number of an event, 2 or more: the opening cannot be undone.")


def _raw(value: object) -> object:
    """A raw reading: a number, several, a marking with two ends, or words."""
    if isinstance(value, str):
        return _short(LONGEST_WORDS)(value)
    if isinstance(value, (list, tuple)) and 0 < len(value) <= MOST_READINGS:
        return [_number(one) for one in value]
    if isinstance(value, Mapping) and set(value) == {"low", "high"}:
        return {"low": None if value["low"] is None else _number(value["low"]), "high": _number(value["high"])}
    return _number(value)


def _readings(value: object) -> dict[str, object]:
    """Raw readings by key, each with its unit and as typed."""
    if not isinstance(value, Mapping) or not value:
        raise _UnfitError("Write each raw reading with its value, unit and what was typed.")
    taken: dict[str, object] = {}
    for key, one in value.items():
        if not isinstance(one, Mapping) or set(one) != {"value", "unit", "typed"}:
            raise _UnfitError("A raw reading has value, unit and typed.")
        typed = _short(LONGEST_TYPED)(one["typed"])
        taken[_id(key)] = {"value": _raw(one["value"]), "unit": _short(20)(one["unit"]), "typed": typed}
    return taken


def _results(value: object) -> dict[str, str]:
    outcome = _word(OUTCOMES)
    if isinstance(value, Mapping) and value:
        return {_id(complaint): outcome(result) for complaint, result in value.items()}
    raise _UnfitError("Write each complaint with gone, better or still-there.")


_SHAPES: Final[Mapping[str, Mapping[str, _Field]]] = {
    "opened": {
        "label": _Field(_text_ref, must=False),
        "role": _Field(_word(ROLES)),
        "skill": _Field(_word(ROLES)),
        "without": _Field(_ids),
    },
    "profile": {
        "fact": _Field(_id),
        "values": _Field(_ids),
        "more": _Field(_true, must=False),
        "heard": _Field(_true, must=False),
    },
    "complaint": {"id": _Field(_id), "worst": _Field(_true, must=False)},
    "no-more": {},
    "partly": {
        "of": _Field(_word(DIALOGUES)),
        "about": _Field(_id, must=False),
        "said": _Field(_id, must=False),
        "text_ref": _Field(_text_ref, must=False),
    },
    "answer": {
        "check": _Field(_id),
        "by": _Field(_word(ROLES)),
        "value": _Field(_id, must=False),
        "reading": _Field(_number, must=False),
        "unit": _Field(_short(20), must=False),
        "typed": _Field(_short(60), must=False),
        "cannot_tell": _Field(_true, must=False),
        "outside": _Field(_short(60), must=False),
        "heard": _Field(_true, must=False),
        "sum": _Field(_id, must=False),
        "readings": _Field(_readings, must=False),
    },
    "reading": {
        "check": _Field(_id),
        "by": _Field(_word(ROLES)),
        "key": _Field(_id),
        "value": _Field(_raw, must=False),
        "unit": _Field(_short(20), must=False),
        "typed": _Field(_short(LONGEST_TYPED), must=False),
        "left_out": _Field(_true, must=False),
    },
    "already": {
        "fix": _Field(_id),
        "result": _Field(_word(CHANGES)),
        "by": _Field(_word(ROLES), must=False),
        "who": _Field(_word(DOERS), must=False),
        "when": _Field(_word(AGES), must=False),
    },
    "fix": {
        "fix": _Field(_id),
        "with": _Field(_ids, must=False),
        "results": _Field(_results, must=False),
        "not_possible": _Field(_true, must=False),
        "reason": _Field(_id, must=False),
    },
    "loose": {"text_ref": _Field(_text_ref, must=False)},
    "note": {"text_ref": _Field(_text_ref)},
    "undo": {"seq": _Field(_undone_seq)},
    "reopened": {"comeback": _Field(_true, must=False), "origin": _Field(_word(ORIGINS), must=False)},
    "waiting": {
        "parts": _Field(_ids, must=False),
        "text_ref": _Field(_text_ref, must=False),
        "over": _Field(_true, must=False),
    },
    "stand": {"skill": _Field(_word(ROLES)), "without": _Field(_ids)},
    "agreed": {"ceiling": _Field(_money, must=False)},
    "wished": {"text_ref": _Field(_text_ref, must=False), "old_parts": _Field(_word(OLD_PARTS), must=False)},
    "ended": {"how": _Field(_word(ENDINGS)), "found": _Field(_ids)},
}

KINDS: Final = tuple(_SHAPES)


# How it is said


def _wrong(kind: str, what: str, hint: str) -> InputError:
    return InputError("input.event-data", f'The event "{kind}" cannot be taken: {what}.', hint=hint)


def _one_of(words: Iterable[str], given: object) -> str:
    from diagnose.book.problems import nearest  # only on the way to a message

    return nearest(given[:60] if isinstance(given, str) else "", words, most=20)


def _listed(fields: Mapping[str, _Field]) -> str:
    names = [key if field.must else f"{key} (optional)" for key, field in fields.items()]
    return f"It takes {', '.join(names) or 'nothing'}."


def _shown(value: object) -> str:
    written = value if isinstance(value, str) else repr(value)
    clean = one_line(written[:60], longest=240)  # composing accents can lengthen a text
    return clean if len(written) <= 60 else f"{clean}..."
