"""The shop's settings: what is taken, what is told by line, which file holds, and what they change of a book."""

from __future__ import annotations

from pathlib import Path

import pytest

from diagnose.book.model import Book
from diagnose.book.shelf import load_book
from diagnose.casework.settings import KEYS, Settings, fit, load_settings, read_settings, settings_path
from diagnose.errors import InputError

SMALL = Path(__file__).parent.parent / "front" / "book"


@pytest.fixture(scope="module")
def book() -> Book:
    """A small book: prices in EUR, 60 EUR an hour, thresholds 5 and 20 of 100."""
    return load_book(SMALL)


def written(tmp_path: Path, text: str) -> Path:
    """A settings file with this text."""
    path = tmp_path / "shop.toml"
    path.write_text(text, encoding="utf-8")
    return path


def problems(tmp_path: Path, text: str) -> list[tuple[int, str, str]]:
    """Line, code and hint of what is wrong with a text."""
    return [(one.where.line, one.code, one.hint) for one in read_settings(written(tmp_path, text))[1]]


def test_everything_that_can_be_said_is_taken(tmp_path: Path) -> None:
    """With its line."""
    (tmp_path / "own").mkdir()
    (tmp_path / "own" / "book.yaml").write_text("book: own\nadds_to: small\n", encoding="utf-8")
    text = (
        'labour_rate = 72\ncurrency = "CHF"\nminimum_charge = 15.5\ndiagnosis_minutes = 10\nunits = "metric"\n'
        'skill = "rider"\nwithout_tools = [\n  "caliper",\n]\nrules = ["own"]\n'
        "[price_factors]\nall = 1.1\nhub-bearing = 2\n[thresholds]\ndo_not_ride = 4\nwith_care = 15\n"
    )
    settings, wrong = read_settings(written(tmp_path, text))
    assert wrong == ()
    assert (settings.labour_rate, settings.currency, settings.minimum_charge) == (72, "CHF", 15.5)
    assert (settings.units, settings.skill, settings.without_tools) == ("metric", "rider", ("caliper",))
    assert settings.rules == (tmp_path / "own",)
    assert settings.price_factors == {"all": 1.1, "hub-bearing": 2}
    assert settings.thresholds == {"do_not_ride": 4, "with_care": 15}
    assert settings.lines["without_tools.caliper"] == 8
    assert settings.lines["price_factors.hub-bearing"] == 13
    assert set(KEYS) - {"tools"} <= set(settings.lines)


@pytest.mark.parametrize(
    ("text", "line", "code", "hint"),
    [
        ("\nlabour_rat = 60\n", 2, "settings.key", "Did you mean 'labour_rate'?"),
        ('labour_rate = "60"\n', 1, "settings.number", "Write a number from 1 to 10000, without quotes."),
        ("labour_rate = 0.5\n", 1, "settings.number", "Write a number from 1 to 10000, without quotes."),
        ("labour_rate = true\n", 1, "settings.number", "Write a number from 1 to 10000, without quotes."),
        ("labour_rate = nan\n", 1, "settings.number", "Write a number from 1 to 10000, without quotes."),
        ("minimum_charge = -1\n", 1, "settings.number", "Write a number from 0 to 10000, without quotes."),
        ('currency = "euro"\n', 1, "settings.currency", 'Write three capitals, such as "EUR".'),
        ('units = "metrik"\n', 1, "settings.word", "Did you mean 'metric'?"),
        ("skill = 3\n", 1, "settings.word", "Known: mechanic, rider."),
        ('tools = "caliper"\n', 1, "settings.list", 'Write a list, such as tools = ["..."].'),
        ('rules = ["nowhere"]\n', 1, "settings.rules", "Put the folder there, or take it out."),
        ("price_factors = 2\n", 1, "settings.table", "Write it below a line [price_factors]."),
        ("[price_factors]\nall = 0\n", 2, "settings.number", "Write a number from 0.01 to 1000, without quotes."),
        ("[thresholds]\nwith_car = 3\n", 2, "settings.key", "Did you mean 'with_care'?"),
        ("[thresholds]\nwith_care = 60\n", 2, "settings.number", "Write a number from 0.1 to 50, without quotes."),
        ('tools = ["caliper"]\nwithout_tools = ["caliper"]\n', 1, "settings.tools", "Keep one of them."),
        ("units = metric\n", 1, "settings.toml", "Write key = value."),
        ("units = 1\nunits = 2\n", 2, "settings.toml", "Write key = value."),
    ],
)
def test_what_is_wrong_is_told_by_its_line(tmp_path: Path, text: str, line: int, code: str, hint: str) -> None:
    """With what to write instead."""
    assert problems(tmp_path, text) == [(line, code, hint)]


def test_everything_that_is_wrong_is_told_at_once(tmp_path: Path) -> None:
    """Sorted by line; a command that needs them tells the first and how many more."""
    text = 'units = "x"\nlabour_rate = 0\ncolour = 1\n'
    assert [line for line, *_ in problems(tmp_path, text)] == [1, 2, 3]
    with pytest.raises(InputError, match="and 2 more"):
        load_settings(written(tmp_path, text))


def test_a_file_that_cannot_be_read_is_told(tmp_path: Path) -> None:
    """Where it was named; the user's own need not be there."""
    with pytest.raises(InputError, match="cannot be read"):
        load_settings(tmp_path / "none.toml")
    with pytest.raises(InputError, match="cannot be read"):
        load_settings(tmp_path)
    (tmp_path / "bytes.toml").write_bytes(b"\xff\xfe\x00")
    with pytest.raises(InputError, match="UTF-8"):
        load_settings(tmp_path / "bytes.toml")
    assert load_settings() == Settings()


def test_the_option_comes_before_the_environment_and_that_before_the_usual_place(tmp_path: Path) -> None:
    """The usual place follows the XDG Base Directory Specification."""
    env = {"HOME": "/home/shop", "XDG_CONFIG_HOME": "/etc/shop", "DIAGNOSE_SETTINGS": "mine.toml"}
    assert settings_path(tmp_path, env) == (tmp_path, True)
    assert settings_path(None, env) == (Path("mine.toml"), True)
    del env["DIAGNOSE_SETTINGS"]
    assert settings_path(None, env) == (Path("/etc/shop/diagnose/settings.toml"), False)
    assert settings_path(None, {"HOME": "/home/shop", "XDG_CONFIG_HOME": "relative"})[0].parent.parent.parent == Path(
        "/home/shop"
    )


# --- upon a book ------------------------------------------------------------------------------------------------------


def settings_of(tmp_path: Path, text: str) -> Settings:
    """The settings that a sound text says."""
    settings, wrong = read_settings(written(tmp_path, text))
    assert wrong == ()
    return settings


def test_settings_that_say_nothing_leave_the_book_as_it_is(book: Book) -> None:
    """The very same."""
    fitted, wrong = fit(Settings(), book)
    assert fitted.book is book
    assert (fitted.without, wrong) == ((), ())


def test_prices_rate_and_thresholds_are_the_shops(tmp_path: Path, book: Book) -> None:
    """A part's own factor comes before that of all parts; the fingerprint is still the book's."""
    name = min(book.parts)
    text = f'labour_rate = 90\ncurrency = "CHF"\n[price_factors]\nall = 2\n{name} = 3\n[thresholds]\ndo_not_ride = 4\n'
    fitted, wrong = fit(settings_of(tmp_path, text), book)
    assert wrong == ()
    constants = fitted.book.constants
    assert (constants.rate, constants.currency) == (1.5, "CHF")
    assert (constants.stop_threshold, constants.care_threshold) == (0.04, 0.2)
    assert fitted.book.parts[name].low == 3 * book.parts[name].low
    for other in set(book.parts) - {name}:
        assert fitted.book.parts[other].high == 2 * book.parts[other].high
    assert fitted.book.fingerprint == book.fingerprint


def test_tools_are_named_by_id_or_name(tmp_path: Path, book: Book) -> None:
    """Either those that are missing, or all that are there."""
    tools = sorted(book.tools)
    one = book.tools[tools[0]].upper()
    assert fit(settings_of(tmp_path, f'without_tools = ["{one}"]\n'), book)[0].without == (tools[0],)
    has = ", ".join(f'"{tool}"' for tool in tools[1:])
    assert fit(settings_of(tmp_path, f"tools = [{has}]\n"), book)[0].without == (tools[0],)
    assert set(fit(settings_of(tmp_path, "tools = []\n"), book)[0].without) == set(tools)


@pytest.mark.parametrize(
    ("text", "line", "code"),
    [
        ('without_tools = [\n"calliper"]\n', 2, "settings.tool"),
        ('tools = ["calliper"]\n', 1, "settings.tool"),
        ("[price_factors]\nall = 1\nno-such-part = 2\n", 3, "settings.part"),
        ('units = "both"\ncurrency = "CHF"\n', 2, "settings.currency"),
        ("[thresholds]\ndo_not_ride = 6\n", 2, "settings.threshold"),
        ("[thresholds]\nwith_care = 21\n", 2, "settings.threshold"),
    ],
)
def test_what_does_not_fit_the_book_is_told(tmp_path: Path, book: Book, text: str, line: int, code: str) -> None:
    """And left out: nobody rides on a threshold laxer than the book's."""
    fitted, wrong = fit(settings_of(tmp_path, text), book)
    assert [(one.where.line, one.code) for one in wrong] == [(line, code)]
    assert fitted.book.constants.stop_threshold == book.constants.stop_threshold
    assert fitted.book.constants.care_threshold == book.constants.care_threshold
