"""Spoils a file the way tired hands do: `spoil` changes a few lines of a YAML text, the same ones for the same seed."""

from __future__ import annotations

import re
from collections.abc import Callable
from random import Random

SIGNS = "x : - ? & * ! | > % @ ` { } [ ] , # ' \" \\ ~ \t \0 \u200b \ufeff é 猫 --- ... === <<"
WORDS = "null true 1e999 nan -1 0x10"
GARBAGE = (
    *SIGNS.split(" "),
    *WORDS.split(),
    "- ",
    ": ",
    " #",
    "key: value",
    "&a [*a]",
    "!!python/name:os.system",
    "{" * 50,
    "[" * 50,
    "9" * 400,
    "1 in 0",
    "5 in 3",
    "200 %",
    "5 mm",
    "{no-such-limit}",
    "can't tell",
    "something-else",
    "complaint",
)

WORD = re.compile(r"[a-z][a-z0-9_-]{2,}")
QUOTED = re.compile(r'"[^"]*"')
ITEM = re.compile(r"(?<=[\[{])[^\[\]{},\"]+, |, [^\[\]{},\"]+(?=[\]}])")
NUMBER = re.compile(r"(?<![\w.-])\d+(?:\.\d+)?(?![\w.-])")
Change = Callable[[list[str], Random], None]


def _place(lines: list[str], random: Random) -> int:
    return random.randrange(len(lines))


def _delete(lines: list[str], random: Random) -> None:
    del lines[_place(lines, random)]


def _duplicate(lines: list[str], random: Random) -> None:
    place = _place(lines, random)
    lines.insert(place, lines[place])


def _move(lines: list[str], random: Random) -> None:
    line = lines.pop(_place(lines, random))
    lines.insert(random.randrange(len(lines) + 1), line)


def _indent(lines: list[str], random: Random) -> None:
    place = _place(lines, random)
    lines[place] = random.choice(["", " ", "    ", "\t"]) + lines[place].lstrip(" " * random.randint(0, 1))


def _swap_values(lines: list[str], random: Random) -> None:
    one, other = _place(lines, random), _place(lines, random)
    (key, colon, value), (key_2, colon_2, value_2) = lines[one].partition(": "), lines[other].partition(": ")
    lines[one], lines[other] = key + colon + value_2, key_2 + colon_2 + value


def _change_word(lines: list[str], random: Random) -> None:
    place = _place(lines, random)
    words = lines[place].split(" ")
    spare = GARBAGE if random.random() < 0.2 else random.choice(lines).split(" ")
    words[random.randrange(len(words))] = random.choice(spare)
    lines[place] = " ".join(words)


def _change_value(lines: list[str], random: Random) -> None:
    """Another line's value for a key, or an odd one, whatever it was."""
    place = _place(lines, random)
    key, colon, _ = lines[place].partition(": ")
    odd = ("0", "-1", "1e9", "1.5", "no", "yes", "''", "[]", "{}", "likely", "100 %", "0 in 10", "99 in 100", "x-y", "")
    values = [line.partition(": ")[2] for line in lines if ": " in line]
    lines[place] = key + colon + (random.choice(odd) if random.random() < 0.5 or not values else random.choice(values))


def _exchange_word(lines: list[str], random: Random) -> None:
    """One word of the file for another, wherever it stands: ids and values that exist, in the wrong place."""
    known = [word for line in lines for word in WORD.findall(line)]
    if known:
        place = _place(lines, random)
        one = random.choice(WORD.findall(lines[place]) or known)
        lines[place] = lines[place].replace(one, random.choice(known), 1)


def _exchange_id(lines: list[str], random: Random) -> None:
    """One id or value of the file for another; what stands in quotes is left alone."""
    known = [word for line in lines for word in WORD.findall(QUOTED.sub("", line))]
    places = [place for place, line in enumerate(lines) if WORD.search(QUOTED.sub("", line))]
    if places:
        place = random.choice(places)
        one = random.choice(WORD.findall(QUOTED.sub("", lines[place])))
        lines[place] = lines[place].replace(one, random.choice(known), 1)


def _drop_item(lines: list[str], random: Random) -> None:
    """One item of a list or mapping in a line."""
    places = [(place, item) for place, line in enumerate(lines) for item in ITEM.finditer(line)]
    if places:
        place, item = random.choice(places)
        lines[place] = lines[place][: item.start()] + lines[place][item.end() :]


def _change_number(lines: list[str], random: Random) -> None:
    """A number for a smaller or larger one."""
    places = [(place, found) for place, line in enumerate(lines) for found in NUMBER.finditer(line)]
    if places:
        place, found = random.choice(places)
        number = random.choice(["0", "1", "3", "45", "97", "400", "0.5"])
        lines[place] = lines[place][: found.start()] + number + lines[place][found.end() :]


def _change_letter(lines: list[str], random: Random) -> None:
    place = _place(lines, random)
    at = random.randint(0, len(lines[place]))
    lines[place] = lines[place][:at] + random.choice(["", *GARBAGE]) + lines[place][at + random.randint(0, 1) :]


def _insert(lines: list[str], random: Random) -> None:
    lines.insert(_place(lines, random), " " * random.choice([0, 2, 4, 6]) + random.choice(GARBAGE))


def _truncate(lines: list[str], random: Random) -> None:
    place = _place(lines, random)
    lines[place:] = [lines[place][: random.randint(0, len(lines[place]))]]


CHANGES: tuple[Change, ...] = (
    *(_delete, _duplicate, _move, _swap_values, _indent, _change_word, _change_letter, _insert, _truncate),
    *(_delete, _swap_values, _change_value, _change_value, _change_value),
    *(_exchange_word, _exchange_word, _exchange_word, _exchange_word),
)
"""The gentler ones stand more than once: they get past the parser."""
GENTLE: tuple[Change, ...] = (_exchange_id, _exchange_id, _drop_item, _drop_item, _change_number, _swap_values, _delete)


def dice(name: str) -> Random:
    """The same numbers for the same name."""
    return Random(name)  # noqa: S311 (nothing is kept secret here)


def spoil(text: str, random: Random, gently: bool = False) -> bytes:
    """One to three changes, now and then also a byte that is no UTF-8; or one change that may get past the reader."""
    lines = text.split("\n")
    if gently:
        random.choice(GENTLE)(lines, random)
        return "\n".join(lines).encode()
    for _ in range(random.choice([1, 1, 2, 3])):
        random.choice(CHANGES)(lines, random)
        lines = lines or [""]
    raw = "\n".join(lines).encode()
    if random.random() < 0.02:
        at = random.randint(0, len(raw))
        raw = raw[:at] + bytes([random.randrange(128, 256)]) + raw[at:]
    return raw
