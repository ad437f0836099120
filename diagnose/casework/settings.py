"""The shop's settings: one TOML file, checked like the book, and what they change of a book.

Cast: `read_settings(path)` gives `Settings` and all problems, each with its line; `settings_path` says which file;
`fit` puts the settings upon a book: prices, labour rate, currency, thresholds, and the tools that are missing.
`KEYS` has what each key is for. Money is in the shop's currency; thresholds are chances of 100 and never laxer than
the book's.
"""

from __future__ import annotations

import os
import re
import sys
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any, Final

from diagnose.book.model import Book
from diagnose.book.problems import Problem, Problems, nearest
from diagnose.errors import InputError, Location

VARIABLE: Final = "DIAGNOSE_SETTINGS"
NAME: Final = "settings.toml"
UNITS: Final = ("both", "metric")
SKILLS: Final = ("mechanic", "rider")
KEYS: Final = {
    "labour_rate": "what an hour of work costs",
    "currency": "the currency of all sums, three letters",
    "minimum_charge": "what a job costs at least",
    "diagnosis_minutes": "minutes for finding the cause that an estimate counts besides the repair",
    "units": "both: N·m and lbf·in; metric: N·m alone",
    "skill": "who works at the stand: mechanic, or rider (no work that needs a mechanic)",
    "tools": "all tools that the shop has; what is not named is missing",
    "without_tools": "instead of that: the tools that the shop lacks",
    "rules": "own folders of rules, beside the settings file or with a whole path",
    "price_factors": "how many times the book's prices a part costs: all, or by the part's id",
    "thresholds": "from which chance of 100 on nobody rides (do_not_ride), or with care only (with_care)",
}
THRESHOLDS: Final = ("do_not_ride", "with_care")
RANGES: Final[Mapping[str, tuple[float, float]]] = {
    "labour_rate": (1, 10_000),
    "minimum_charge": (0, 10_000),
    "diagnosis_minutes": (0, 240),
    "price_factors": (0.01, 1_000),
    "do_not_ride": (0.1, 50),
    "with_care": (0.1, 50),
}
"""Lowest and highest figure of each key."""
CURRENCY = re.compile("[A-Z]{3}")
AT_LINE = re.compile(r" \(at line (\d+), column (\d+)\)$")


@dataclass(frozen=True, slots=True)
class Settings:
    """What the shop says; None or empty where it says nothing and the book's own holds."""

    path: Path | None = None
    labour_rate: float | None = None
    currency: str | None = None
    minimum_charge: float = 0.0
    diagnosis_minutes: float = 0.0
    units: str = "both"
    skill: str = "mechanic"
    tools: tuple[str, ...] | None = None
    without_tools: tuple[str, ...] = ()
    rules: tuple[Path, ...] = ()
    price_factors: Mapping[str, float] = field(default_factory=dict)
    thresholds: Mapping[str, float] = field(default_factory=dict)
    lines: Mapping[str, int] = field(default_factory=dict)
    """The line of each key, of those in a table as `table.key`, of those in a list as `key.value`."""

    def where(self, *names: str) -> Location:
        """The place of the first of these that has one."""
        line = next((self.lines[name] for name in names if name in self.lines), 0)
        return Location(str(self.path), line, 1 if line else 0)


def settings_path(given: Path | None = None, environ: Mapping[str, str] | None = None) -> tuple[Path, bool]:
    """The settings file, and whether somebody named it: `given`, else `DIAGNOSE_SETTINGS`, else the user's own.

    The user's own lies in the configuration folder (XDG Base Directory Specification), and need not be there.
    """
    env = os.environ if environ is None else environ
    if given or env.get(VARIABLE):
        return given or Path(env[VARIABLE]), True
    named = env.get("XDG_CONFIG_HOME", "")
    home = Path(env.get("HOME") or "~").expanduser()
    usual = Path(env.get("APPDATA") or home) if sys.platform == "win32" else home / ".config"
    folder = Path(named) if named and Path(named).is_absolute() else usual
    return folder / "diagnose" / NAME, False


def load_settings(given: Path | None = None) -> Settings:
    """The settings that hold; where nobody named a file and there is none, those that say nothing.

    Raises:
        InputError: `settings.file` or the first of its problems, and how many there are.
    """
    path, named = settings_path(given)
    if not named and not path.is_file():
        return Settings()
    settings, problems = read_settings(path)
    refuse(problems)
    return settings


def refuse(problems: tuple[Problem, ...]) -> None:
    """Raise the first of these problems, if there is one."""
    if problems:
        first = problems[0]
        more = f" (and {len(problems) - 1} more: `diagnose settings` lists all)" if len(problems) > 1 else ""
        raise InputError(first.code, f"{first.message}{more}", first.where, first.hint)


def read_settings(path: Path) -> tuple[Settings, tuple[Problem, ...]]:
    """Read and check one file.

    Raises:
        InputError: `settings.file`, it cannot be read.
    """
    import tomllib

    try:
        text = path.read_text(encoding="utf-8-sig")
    except UnicodeDecodeError:
        raise InputError("settings.file", "this is no UTF-8 text.", Location(str(path)), "Save it as UTF-8.") from None
    except OSError as why:
        hint = "Name another file, or none."
        message = f"the settings cannot be read: {why.strerror or why}."
        raise InputError("settings.file", message, Location(str(path)), hint) from None
    problems = Problems()
    try:
        raw = tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError) as why:
        place = AT_LINE.search(str(why))
        where = Location(str(path), *(int(one) for one in place.groups())) if place else Location(str(path))
        problems.error("settings.toml", where, f"this is no TOML: {AT_LINE.sub('', str(why))}.", "Write key = value.")
        return Settings(path), problems.sorted()
    return _Reading(path, text, raw, problems).settings(), problems.sorted()


class _Reading:
    """Takes the keys of one file, and tells what is wrong with them."""

    def __init__(self, path: Path, text: str, raw: dict[str, Any], problems: Problems) -> None:
        self.path, self.raw, self.problems = path, raw, problems
        self.lines = dict(_lines(text, raw))

    def settings(self) -> Settings:
        for key in self.raw:
            if key not in KEYS:
                self._wrong("settings.key", f"there is no setting '{key}'.", nearest(key, KEYS), key)
        if "tools" in self.raw and "without_tools" in self.raw:
            self._wrong("settings.tools", "both tools and without_tools are given.", "Keep one of them.", "tools")
        taken: dict[str, Any] = {
            "currency": self._word("currency"),
            **{key: self._number(key, self.raw.get(key), key) for key in ("labour_rate", *MONEY)},
            "units": self._choice("units", UNITS),
            "skill": self._choice("skill", SKILLS),
            "tools": self._words("tools"),
            "without_tools": self._words("without_tools"),
            "rules": self._folders(),
            "price_factors": self._table("price_factors", None),
            "thresholds": self._table("thresholds", THRESHOLDS),
        }
        said = {key: value for key, value in taken.items() if value is not None}
        return Settings(self.path, **said, lines=self.lines)

    def _wrong(self, code: str, message: str, hint: str, *names: str) -> None:
        line = next((self.lines[name] for name in names if name in self.lines), 0)
        self.problems.error(code, Location(str(self.path), line, 1 if line else 0), message, hint)

    def _number(self, kind: str, value: object, name: str) -> float | None:
        low, high = RANGES[kind]
        if value is None:
            return None
        right = isinstance(value, (int, float)) and not isinstance(value, bool)
        if not right or not low <= value <= high:  # type: ignore[operator]
            hint = f"Write a number from {low:g} to {high:g}, without quotes."
            self._wrong("settings.number", f"{name} is {_shown(value)}.", hint, name)
            return None
        return float(value)  # type: ignore[arg-type]

    def _word(self, key: str) -> str | None:
        value = self.raw.get(key)
        if value is None or (isinstance(value, str) and CURRENCY.fullmatch(value)):
            return value
        self._wrong("settings.currency", f"{key} is {_shown(value)}.", 'Write three capitals, such as "EUR".', key)
        return None

    def _choice(self, key: str, known: tuple[str, ...]) -> str | None:
        value = self.raw.get(key)
        if value is None or value in known:
            return value
        self._wrong("settings.word", f"{key} is {_shown(value)}.", nearest(str(value), known), key)
        return None

    def _words(self, key: str) -> tuple[str, ...] | None:
        value = self.raw.get(key)
        if value is None:
            return None
        if isinstance(value, list) and all(isinstance(one, str) and one for one in value):
            return tuple(dict.fromkeys(value))
        self._wrong("settings.list", f"{key} is {_shown(value)}.", f'Write a list, such as {key} = ["..."].', key)
        return None

    def _folders(self) -> tuple[Path, ...] | None:
        named = self._words("rules")
        if named is None:
            return None
        folders = [self.path.parent / Path(one).expanduser() for one in named]
        for name, folder in zip(named, folders, strict=True):
            if not (folder / "book.yaml").is_file():
                hint = "Put the folder there, or take it out."
                message = f"rules names {_shown(name)}, and there is no book.yaml in {folder}."
                self._wrong("settings.rules", message, hint, f"rules.{name}", "rules")
        return tuple(folders)

    def _table(self, key: str, known: tuple[str, ...] | None) -> dict[str, float] | None:
        value = self.raw.get(key)
        if value is None:
            return None
        if not isinstance(value, dict):
            self._wrong("settings.table", f"{key} is {_shown(value)}.", f"Write it below a line [{key}].", key)
            return None
        taken = {}
        for name, one in value.items():
            if known and name not in known:
                self._wrong("settings.key", f"{key} has no '{name}'.", nearest(name, known), f"{key}.{name}", key)
                continue
            number = self._number(name if known else key, one, f"{key}.{name}")
            if number is not None:
                taken[name] = number
        return taken


MONEY = ("minimum_charge", "diagnosis_minutes")


def _shown(value: object) -> str:
    """A value as it would stand in the file, short."""
    text = f'"{value}"' if isinstance(value, str) else str(value).lower() if isinstance(value, bool) else str(value)
    return text if len(text) <= 60 else f"{text[:57]}..."


_HEAD = re.compile(r"\s*\[\s*[\"']?([^\"'\]\[]+?)[\"']?\s*\]\s*(?:#.*)?$")
_KEY = re.compile(r"\s*[\"']?([A-Za-z0-9_:.-]+)[\"']?\s*=")


def _lines(text: str, raw: Mapping[str, Any]) -> Iterator[tuple[str, int]]:
    """Each key with its line; those of a table are told as `table.key`, words of a list as `key.word`."""
    table = key = ""
    for number, line in enumerate(text.splitlines(), 1):
        head, pair = _HEAD.match(line), _KEY.match(line)
        if head:
            table = key = head[1]
            yield table, number
        elif pair:
            key = f"{table}.{pair[1]}" if table else pair[1]
            yield key, number
        for word in raw.get(key, ()) if isinstance(raw.get(key), list) else ():
            if isinstance(word, str) and (f'"{word}"' in line or f"'{word}'" in line):
                yield f"{key}.{word}", number


# --- upon a book ------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Fitted:
    """A book with the shop's settings upon it, and the ids of the tools that the shop lacks."""

    book: Book
    without: tuple[str, ...]


def fit(settings: Settings, book: Book) -> tuple[Fitted, tuple[Problem, ...]]:
    """Put settings upon a book; what does not fit it is a problem and left out."""
    problems = Problems()
    without = _lacking(settings, book, problems)
    constants = book.constants
    if settings.labour_rate is not None:
        constants = constants._replace(rate=settings.labour_rate / 60)
    if settings.currency:
        constants = constants._replace(currency=settings.currency)
        if settings.currency != book.constants.currency and not settings.price_factors:
            message = f"the book's prices are in {book.constants.currency}, the shop's currency is {settings.currency}."
            hint = f"Say below [price_factors] how many {settings.currency} one {book.constants.currency} is: all = ..."
            problems.error("settings.currency", settings.where("currency"), message, hint)
    told = {"do_not_ride": constants.stop_threshold, "with_care": constants.care_threshold}
    for key, most in told.items():
        share = settings.thresholds.get(key, 100 * most)
        if share > 100 * most + 1e-9:
            hint = f"A shop can be more careful, not less: {100 * most:g} at most."
            message = f"{key} is {share:g} of 100; the book says {100 * most:g}."
            problems.error("settings.threshold", settings.where(f"thresholds.{key}", "thresholds"), message, hint)
        else:
            told[key] = share / 100
    constants = constants._replace(stop_threshold=told["do_not_ride"], care_threshold=told["with_care"])
    parts = _priced(settings, book, problems)
    changed = constants != book.constants or parts is not book.parts
    fitted = replace(book, constants=constants, parts=parts) if changed else book
    return Fitted(fitted, without), problems.sorted()


def _lacking(settings: Settings, book: Book, problems: Problems) -> tuple[str, ...]:
    """The ids of the tools that are missing."""
    key = "without_tools" if settings.tools is None else "tools"
    named = settings.without_tools if settings.tools is None else settings.tools
    if not named and settings.tools is None:
        return ()
    found = []
    for name in named:
        tool = tool_named(book, name)
        if tool is None:
            known = {*book.tools, *book.tools.values()}
            hint = nearest(name.casefold(), known) or "`diagnose settings --tools` lists them."
            where = settings.where(f"{key}.{name}", key)
            problems.error("settings.tool", where, f"the book knows no tool {_shown(name)}.", hint)
        else:
            found.append(tool)
    return tuple(found) if settings.tools is None else tuple(tool for tool in book.tools if tool not in found)


def tool_named(book: Book, name: str) -> str | None:
    """The id of a tool that is named by its id or its name; None where the book has none."""
    by_name = {text.casefold(): tool for tool, text in book.tools.items()} | {tool: tool for tool in book.tools}
    return by_name.get(" ".join(name.casefold().split()))


def _priced(settings: Settings, book: Book, problems: Problems) -> dict[str, Any]:
    """The book's parts at the shop's prices."""
    factors = settings.price_factors
    if not factors:
        return book.parts
    for name in factors:
        if name != "all" and name not in book.parts:
            where = settings.where(f"price_factors.{name}", "price_factors")
            hint = nearest(name, ["all", *book.parts])
            problems.error("settings.part", where, f"the book has no part '{name}'.", hint)
    usual = factors.get("all", 1.0)
    return {
        name: part._replace(low=part.low * factors.get(name, usual), high=part.high * factors.get(name, usual))
        for name, part in book.parts.items()
    }
