"""Keys from a pipe: each line is an answer, whatever bytes it is made of. And the Enter that many type behind a key."""

from __future__ import annotations

import io

import pytest
from hypothesis import given
from hypothesis import strategies as st

from diagnose.front import keys
from diagnose.front.keys import HABIT, LONGEST, EndOfInput, PipedKeyboard, TerminalKeyboard


def lines_of(sent: bytes) -> list[str]:
    """All lines that a piped keyboard makes of these bytes."""
    pipe = PipedKeyboard(io.TextIOWrapper(io.BytesIO(sent), encoding="utf-8"))
    found = []
    while True:
        try:
            found.append(pipe.line())
        except EndOfInput:
            return found


@pytest.mark.parametrize(
    ("sent", "lines"),
    [
        (b"", []),
        (b"1\n2", ["1", "2"]),
        (b" a b \r\n\n", ["a b", ""]),
        (b"\xef\xbb\xbf1\n", ["1"]),
        (b"\xff\n2\n", ["\ufffd", "2"]),
        (b"\x1b[A\n\x1bOP\nx\x1b[1;5Cy\n\x1b\n", ["", "", "xy", ""]),
        (b"\x00\x07bell\x7f\n", ["bell"]),
        ("größe 🚲\n".encode(), ["größe 🚲"]),
    ],
)
def test_a_line_is_what_was_meant(sent: bytes, lines: list[str]) -> None:
    """Without line ends, byte-order mark, control characters and what arrow keys send."""
    assert lines_of(sent) == lines


def test_the_rest_of_an_endless_line_is_dropped() -> None:
    """It never becomes further answers."""
    found = lines_of(b"x" * (3 * LONGEST) + b"\n1\n")
    assert [len(line) for line in found] == [LONGEST, 1]


def test_text_without_bytes_below_is_taken_too() -> None:
    """A stream of text alone, as tests and other programs hand over."""
    keys = PipedKeyboard(io.StringIO("ONE\n" + "y" * 9000 + "\ntwo\n"))
    assert keys.key() == "one"
    assert len(keys.line()) == LONGEST
    assert keys.line() == "two"


@given(sent=st.binary(max_size=400))
def test_any_bytes_are_lines(sent: bytes) -> None:
    """As many answers as there are lines, and none can drive a terminal."""
    found = lines_of(sent)
    assert len(found) == sent.count(b"\n") + (not sent.endswith(b"\n") and bool(sent))
    assert all(char.isprintable() or char == "\t" for line in found for char in line)


class Typed(TerminalKeyboard):
    """A terminal's keys without the terminal: what is read, and the second at which it is."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch, *typed: tuple[float, bytes]) -> None:
        self.coming = list(typed)
        self.now = 100.0
        self._pressed = 0.0
        monkeypatch.setattr(keys, "monotonic", lambda: self.now)

    def _settle(self) -> None:
        """There is no screen to wait for."""

    _lines = _keys = _settle

    def _read(self, most: int, end: bytes | None = None) -> bytes:
        after, raw = self.coming.pop(0)
        self.now += after
        return raw


def test_an_enter_out_of_habit_belongs_to_the_key_before(monkeypatch: pytest.MonkeyPatch) -> None:
    """Who types Enter behind a key, a moment later, does not pass over the next screen, where Enter is an answer."""
    typed = Typed(monkeypatch, (0.0, b"2"), (HABIT / 2, b"\r"), (HABIT, b"3"), (HABIT * 2, b"\r"))
    assert [typed.key() for _ in range(3)] == ["2", "3", ""]


def test_an_enter_that_is_held_down_is_one(monkeypatch: pytest.MonkeyPatch) -> None:
    """However long: what it means on the next screen waits until it was let go of."""
    held = [(HABIT / 2, b"\r")] * 9
    typed = Typed(monkeypatch, (HABIT * 2, b"\r"), *held, (HABIT * 2, b"\r"), *held, (HABIT, b"2"))
    assert [typed.key() for _ in range(3)] == ["", "", "2"]


def test_an_enter_out_of_habit_is_no_empty_line(monkeypatch: pytest.MonkeyPatch) -> None:
    """The same where a line is waited for; an empty line that is meant comes later, or behind a line."""
    typed = Typed(monkeypatch, (0.0, b"2"), (HABIT / 2, b"\n"), (HABIT, b"wheel out\n"), (0.0, b"\n"))
    assert [typed.key(), typed.line(), typed.line()] == ["2", "wheel out", ""]
    later = Typed(monkeypatch, (0.0, b"2"), (HABIT * 2, b"\n"))
    assert [later.key(), later.line()] == ["2", ""]
