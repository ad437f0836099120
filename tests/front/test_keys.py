"""Keys from a pipe: each line is an answer, whatever bytes it is made of."""

from __future__ import annotations

import io

import pytest
from hypothesis import given
from hypothesis import strategies as st

from diagnose.front.keys import LONGEST, EndOfInput, PipedKeyboard


def lines_of(sent: bytes) -> list[str]:
    """All lines that a piped keyboard makes of these bytes."""
    keys = PipedKeyboard(io.TextIOWrapper(io.BytesIO(sent), encoding="utf-8"))
    found = []
    while True:
        try:
            found.append(keys.line())
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
