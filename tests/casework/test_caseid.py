"""Job numbers: no slip of the finger that opens another job."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from diagnose.casework.caseid import LETTERS, SIGNS, check_digits, numbered_id, random_id, read_id
from diagnose.errors import InputError


@pytest.mark.parametrize(("signs", "digits"), [("2222", "00"), ("2223", "01"), ("2232", "28"), ("b7k2", "21")])
def test_check_digits_by_hand(signs: str, digits: str) -> None:
    """The check digits agree with what pencil and paper give: 8·28³ + 5·28² + 15·28 leaves 21 over 97."""
    assert check_digits(signs) == digits


@given(st.integers(min_value=0, max_value=30_000_000))
def test_what_is_made_can_be_read(number: int) -> None:
    """An id reads as itself, in capitals, with spaces and without its hyphen."""
    case_id = numbered_id(number)
    assert read_id(case_id) == case_id
    assert read_id(f"  {case_id.upper().replace('-', ' ')} ") == case_id
    assert read_id(case_id.replace("-", "")) == case_id


def test_letters_for_figures_in_the_check_digits_are_understood() -> None:
    """Somebody who writes the letter o or l for a figure is understood, since only figures stand there."""
    for case_id in map(numbered_id, range(300)):
        signs, digits = case_id.split("-")
        assert read_id(f"{signs}-{digits.replace('0', 'o').replace('1', 'l')}") == case_id
        assert read_id(f"{signs}-{digits.replace('0', 'O').replace('1', 'I')}") == case_id


@given(st.integers(min_value=0, max_value=400_000), st.integers(0, 3), st.sampled_from(SIGNS))
def test_one_wrong_sign_is_noticed(number: int, place: int, sign: str) -> None:
    """No single wrong sign turns one id into another."""
    case_id = numbered_id(number)
    wrong = case_id[:place] + sign + case_id[place + 1 :]
    if wrong != case_id:
        with pytest.raises(InputError) as caught:
            read_id(wrong)
        assert caught.value.code == "input.case-id"
        assert caught.value.hint


@given(st.integers(min_value=0, max_value=400_000), st.integers(0, 2))
def test_two_signs_changed_about_are_noticed(number: int, place: int) -> None:
    """Two neighbouring signs in the wrong order do not open another job."""
    case_id = numbered_id(number)
    wrong = case_id[:place] + case_id[place + 1] + case_id[place] + case_id[place + 2 :]
    if wrong != case_id:
        with pytest.raises(InputError):
            read_id(wrong)


@pytest.mark.parametrize(
    "typed", ["", "7", "job", "b7k2", "b7k2-2", "i7k2-20", "b7k2-21-20", "\x1b[2J", "\ud800", "²²²²-20"]
)
def test_what_is_no_id_is_refused(typed: str) -> None:
    """What does not look like an id is refused with an example."""
    with pytest.raises(InputError) as caught:
        read_id(typed)
    assert "b7k2-21" in caught.value.hint


def test_numbered_ids_never_meet() -> None:
    """Ids differ where numbers do, also where they grow longer."""
    edge = len(LETTERS) * len(SIGNS) ** 3
    numbers = [*range(2_000), *range(edge - 1_000, edge + 1_000), *range(20 * edge - 500, 20 * edge + 500)]
    assert len({numbered_id(number) for number in numbers}) == len(numbers)


def test_random_ids_are_ids() -> None:
    """Drawn ids have the length asked for, start with a letter and carry their check digits."""
    for length in (4, 5, 6):
        for _ in range(200):
            case_id = random_id(length)
            assert read_id(case_id) == case_id
            assert len(case_id) == length + 3
            assert case_id[0] in LETTERS
