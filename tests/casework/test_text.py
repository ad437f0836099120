"""Free text: what people type is kept, what could drive a terminal or hide a line is not."""

from __future__ import annotations

import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st

from diagnose.casework.text import LONGEST, cleaned, has_all_words, not_empty, one_line, reference, text_number
from diagnose.errors import InputError

ANY_TEXT = st.text(st.characters(), max_size=200)  # lone surrogates too


@given(ANY_TEXT)
def test_clean_text_can_be_written_and_shown(text: str) -> None:
    """Clean text is UTF-8, has no control character but the line end, and cleaning again changes nothing."""
    clean = cleaned(text)
    clean.encode("utf-8")
    assert {sign for sign in clean if unicodedata.category(sign) == "Cc"} <= {"\n"}
    assert cleaned(clean) == clean


@given(ANY_TEXT)
def test_one_line_is_one_line(text: str) -> None:
    """A label has no line end in it."""
    line = one_line(text)
    assert len(line.splitlines()) <= 1
    assert one_line(line) == line


@pytest.mark.parametrize(
    ("typed", "kept"),
    [
        ("  stem loose  ", "stem loose"),
        ("one\r\ntwo\rthree\u2028four", "one\ntwo\nthree\nfour"),
        ("pads\tthin", "pads thin"),
        ("\x1b[31mred\x1b[0m\x07", "[31mred[0m"),
        ("a\x00b\x7fc\x9b1md", "abc1md"),
        ("brake\u202eelbat\u202c", "brakeelbat"),
        ("<b>bold</b> & 'quotes\" %s {x} $(y) ; drop table", "<b>bold</b> & 'quotes\" %s {x} $(y) ; drop table"),
        ("Mu\u0308ller", "M\u00fcller"),
        ("bike \ud83d\udeb2", "bike \U0001f6b2"),
        ("bike \ud83d", "bike \ufffd"),
        ("\udeb2\ud83d x", "\ufffd\ufffd x"),
        (
            "\U0001f469\U0001f3fd\u200d\U0001f527 \U0001f1e9\U0001f1ea",
            "\U0001f469\U0001f3fd\u200d\U0001f527 \U0001f1e9\U0001f1ea",
        ),
        ("\u200f\u05d2\u05dc\u05d2\u05dc\u200f", "\u200f\u05d2\u05dc\u05d2\u05dc\u200f"),
    ],
)
def test_what_is_kept_of_what_was_typed(typed: str, kept: str) -> None:
    """Markup, emoji and marks of direction stay; what steers a terminal goes; halves of signs are joined or marked."""
    assert cleaned(typed) == kept


def test_the_longest_text_fits_and_one_more_sign_does_not() -> None:
    """Two thousand characters fit; beyond that the text is refused whole, with both numbers said."""
    assert len(cleaned("🚲" * LONGEST)) == 2_000
    with pytest.raises(InputError) as caught:
        cleaned("x" * (LONGEST + 1), "note")
    assert caught.value.code == "input.text-long"
    assert "note" in caught.value.message
    assert "2,001" in caught.value.message
    assert "2,000" in caught.value.message


@pytest.mark.parametrize("empty", ["", "  \n\t", "\x00\x1b", "\u202e"])
def test_nothing_is_not_a_note(empty: str) -> None:
    """A note in which nothing is left is refused."""
    with pytest.raises(InputError) as caught:
        not_empty(empty)
    assert caught.value.code == "input.text-empty"


def test_what_is_not_text_is_refused() -> None:
    """Bytes and numbers are not taken for text."""
    for wrong in (b"stem", 7, None):
        with pytest.raises(InputError) as caught:
            cleaned(wrong)  # type: ignore[arg-type]
        assert caught.value.code == "input.text"


@given(st.integers(1, 10**18 - 1))
def test_a_reference_reads_back(number: int) -> None:
    """The number of a reference is the one it was made of."""
    assert text_number(reference(number)) == number


@pytest.mark.parametrize("wrong", ["", "t", "t0", "t01", "t-1", "7", "t7 ", "T7", "t" + "9" * 19, "t٣", None, 7])
def test_what_is_no_reference_has_no_number(wrong: object) -> None:
    """Only the one way to write a reference is read."""
    assert text_number(wrong) is None


def test_a_search_wants_every_word_somewhere() -> None:
    """Words may stand in any order, any case and either place; part of a word is enough; no words fit all."""
    assert has_all_words("city BLUE", "b7k2-21", "Blue city bike")
    assert has_all_words("b7k2 bike", "b7k2-21", "Blue city bike")
    assert has_all_words("STRASSE", "Straße 7")
    assert has_all_words("", "anything")
    assert not has_all_words("city red", "Blue city bike")
    assert not has_all_words("%", "Blue city bike")
