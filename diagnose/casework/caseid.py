"""The short number of a job, such as `b7k2-21`: to be written on a tag, read over the phone, typed with dirty hands.

A letter and three signs, without look-alikes and without vowels, so that no words come out; then two check digits, so
that a slip of the finger never opens somebody else's job. `random_id` and `numbered_id` make one, `read_id` reads what
was typed.
"""

from __future__ import annotations

import os
import re

from diagnose.errors import InputError

LETTERS = "bcdfghjkmnpqrstvwxyz"
SIGNS = "23456789" + LETTERS

_TYPED = re.compile(f"([{LETTERS}][{SIGNS}]{{3,7}})([0-9oil]{{2}})")


def check_digits(signs: str) -> str:
    """Returns the two check digits of `signs`: the number that they are with as many figures as `SIGNS`, modulo 97.

    97 is a prime above the count of signs, so one wrong sign or two neighbours changed about always change the digits.
    """
    number = 0
    for sign in signs:
        number = number * len(SIGNS) + SIGNS.index(sign)
    return f"{number % 97:02d}"


def random_id(length: int = 4) -> str:
    """Returns an id with `length` signs drawn evenly; whether it is free is for the store to settle."""
    return numbered_id(_below(len(LETTERS) * len(SIGNS) ** (length - 1)), length)


def numbered_id(number: int, length: int = 4) -> str:
    """Returns the id of the `number`-th case, counted from 0, the same each time; large numbers get more signs."""
    signs = ""
    for _ in range(length - 1):
        number, rest = divmod(number, len(SIGNS))
        signs = SIGNS[rest] + signs
    while number or len(signs) < length:
        number, rest = divmod(number, len(LETTERS))
        signs = LETTERS[rest] + signs
    return f"{signs}-{check_digits(signs)}"


def read_id(typed: str) -> str:
    """Returns the id that `typed` means: capitals, spaces and a missing hyphen do not matter.

    Raises:
        InputError: `input.case-id` if it does not look like one, or the check digits say that a sign is wrong.
    """
    packed = re.sub("[\\s\\-\u2010-\u2015]+", "", typed).lower()
    match = _TYPED.fullmatch(packed)
    if match is None:
        raise InputError("input.case-id", "That is not a job number.", hint="It looks like b7k2-21.")
    signs, digits = match[1], match[2].translate(str.maketrans("oil", "011"))
    if digits != check_digits(signs):
        raise InputError(
            "input.case-id", f"The job number {signs}-{digits} has a slip in it.", hint="Compare it sign by sign."
        )
    return f"{signs}-{digits}"


def _below(limit: int) -> int:
    size = limit.bit_length()
    while True:
        drawn = int.from_bytes(os.urandom(size // 8 + 1), "big") & ((1 << size) - 1)
        if drawn < limit:
            return drawn
