"""Paper: lines that fit, whatever is written on them, without markup, control characters or, where asked, Unicode."""

from __future__ import annotations

import io
import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rich.cells import cell_len as cells

from diagnose.front.paper import WIDEST, Paper

ANY_TEXT = st.text(st.characters(), max_size=300)  # lone surrogates too


class Screen(io.StringIO):
    """A terminal that keeps what is written on it."""

    encoding = "utf-8"

    def isatty(self) -> bool:
        """It is one."""
        return True


def written(text: str, width: int = 60, plain: bool = False, indent: int = 0, hang: int = 0) -> str:
    """What a paragraph looks like on paper."""
    out = io.StringIO()
    Paper(out, plain=plain, width=width).say(text, indent=indent, hang=hang)
    return out.getvalue()


@given(text=ANY_TEXT, width=st.integers(20, 100), indent=st.integers(0, 8), hang=st.integers(0, 8))
def test_every_line_fits(text: str, width: int, indent: int, hang: int) -> None:
    """No line is wider than the screen, counted in columns, not in characters."""
    for line in written(text, width, False, indent, hang).split("\n"):
        assert cells(line) <= min(width, WIDEST)


@given(text=ANY_TEXT, plain=st.booleans())
def test_nothing_written_can_drive_a_terminal(text: str, plain: bool) -> None:
    """No control character, no override of direction, no lone surrogate gets through; plain is ASCII alone."""
    out = written(text, plain=plain)
    assert not [char for char in out if unicodedata.category(char) in ("Cc", "Cf", "Cs") and char != "\n"]
    out.encode("utf-8")
    assert out.isascii() or not plain


@given(words=st.lists(st.text("abcdefgh", min_size=1, max_size=12), min_size=1, max_size=60))
def test_wrapping_loses_no_word(words: list[str]) -> None:
    """The words come out as they went in, in their order."""
    assert written(" ".join(words)).split() == words


@pytest.mark.parametrize("text", ["[bold]x[/bold]", "[link=a]", "[", "[/]", ":smile:", "\\[red]", "{0} {x} %s"])
def test_markup_is_text(text: str) -> None:
    """What looks like markup is shown as it was typed."""
    assert written(text) == f"{text}\n"


@pytest.mark.parametrize(
    ("text", "plain"),
    [
        ("5 N·m", "5 N.m"),
        ("2–3 mm", "2-3 mm"),
        ("90°", "90 deg"),
        ("café Größe", "cafe Groesse"),
        ("ñ", "n"),
        ("≤ 4", "<= 4"),
        ("🚲", "?"),
    ],
)
def test_plain_spells_signs_out(text: str, plain: str) -> None:
    """Signs of the trade stay readable in ASCII; what cannot be spelled is one question mark."""
    assert written(text, plain=True) == f"{plain}\n"


def test_what_cannot_be_shown_by_the_output_is_spelled_out() -> None:
    """An output that is not UTF-8 gets ASCII."""
    out = io.TextIOWrapper(io.BytesIO(), encoding="ascii")
    Paper(out).say("5 N·m 🚲")
    out.flush()
    assert out.buffer.getvalue() == b"5 N.m ?\n"


@pytest.mark.parametrize(
    ("environ", "shown"),
    [
        ({"LANG": "de_DE.UTF-8"}, "5 N·m"),
        ({}, "5 N·m"),
        ({"LANG": "C"}, "5 N.m"),
        ({"LANG": "POSIX"}, "5 N.m"),
        ({"LANG": "C", "LC_CTYPE": "C.UTF-8"}, "5 N.m"),  # Python set the second by itself
        ({"LANG": "C", "LC_CTYPE": "de_DE.UTF-8"}, "5 N·m"),
        ({"LANG": "de_DE.UTF-8", "LC_ALL": "C"}, "5 N.m"),
        ({"LANG": "C", "LC_ALL": "C.UTF-8"}, "5 N·m"),
    ],
)
def test_the_c_locale_is_a_wish_for_ascii(
    environ: dict[str, str], shown: str, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Named outright it holds for the screen, though Python writes UTF-8 under it; --plain holds over it."""
    monkeypatch.delenv("LANG")
    for name, value in environ.items():
        monkeypatch.setenv(name, value)
    Paper().say("5 N·m")
    Paper(plain=False).say("5 N·m")
    assert capsys.readouterr().out == f"{shown}\n5 N·m\n"


def test_a_word_longer_than_a_line_is_broken() -> None:
    """Nothing is lost, nothing sticks out."""
    out = written("x" * 130, 60)
    assert out.replace("\n", "") == "x" * 130
    assert [len(line) for line in out.split()] == [60, 60, 10]


def test_bold_is_for_terminals_only(monkeypatch: pytest.MonkeyPatch) -> None:
    """A pipe and a dumb terminal get the words alone."""
    monkeypatch.setenv("TERM", "xterm")
    screen, pipe = Screen(), io.StringIO()
    for out in (screen, pipe):
        Paper(out).say("STOP", style="bold")
    assert screen.getvalue() == "\x1b[1mSTOP\x1b[0m\n"
    assert pipe.getvalue() == "STOP\n"
    monkeypatch.setenv("TERM", "dumb")
    dumb = Screen()
    Paper(dumb).say("STOP", style="bold")
    assert dumb.getvalue() == "STOP\n"


def test_a_full_screen_waits_until_it_was_read(monkeypatch: pytest.MonkeyPatch) -> None:
    """With 10 lines on the screen, 20 lines of text stop before their top scrolls away; a key starts anew."""
    monkeypatch.setenv("LINES", "10")
    monkeypatch.setenv("COLUMNS", "60")
    paper = Paper(io.StringIO())
    shown: list[int] = []
    for count in range(20):
        paper.turn = lambda count=count: shown.append(count)
        paper.say("line")
    assert shown
    assert all(later - earlier <= 9 for earlier, later in zip([0, *shown], shown, strict=False))
    paper.read()
    assert paper.has_room(8)
    assert not paper.has_room(9)


def test_a_bar_is_full_at_one() -> None:
    """Shares draw as bars of one length."""
    paper = Paper(io.StringIO(), plain=True)
    assert [paper.bar(share, 4) for share in (0, 0.5, 1)] == ["....", "##..", "####"]
