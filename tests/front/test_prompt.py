"""Asking: which key is which answer, what Enter does, and what happens to keys that mean nothing."""

from __future__ import annotations

import io

import pytest

from diagnose.front import wording
from diagnose.front.keys import EndOfInput
from diagnose.front.paper import Paper
from diagnose.front.prompt import CANNOT, ENTER, Prompt, Screen


class Pressed:
    """A keyboard that presses these keys one after the other."""

    def __init__(self, *keys: str, single: bool = True) -> None:
        self.single = single
        self.left = list(keys)

    def key(self) -> str:
        """The next key."""
        if not self.left:
            raise EndOfInput
        return self.left.pop(0)

    line = key

    def __enter__(self) -> Pressed:
        return self

    def __exit__(self, *_: object) -> None:
        pass


def refuse(letter: str) -> bool:
    """A command that knows no key."""
    return False


def ask(screen: Screen, keys: Pressed) -> tuple[int, str]:
    """The answer, and what was shown."""
    out = io.StringIO()
    answer = Prompt(Paper(out, width=60), keys).ask(screen, refuse)
    assert not keys.left
    return answer, out.getvalue()


def nothing() -> None:
    """Draws nothing."""


def screen_of(count: int, enter: str = "", cannot: bool = False) -> Screen:
    """A screen of so many answers."""
    return Screen(nothing, tuple(f"answer {number}" for number in range(1, count + 1)), cannot, enter)


@pytest.mark.parametrize(
    ("count", "keys", "place"),
    [
        (9, ["9"], 8),
        (10, ["9"], 8),
        (10, ["0"], 9),
        (12, ["3"], 2),
        (12, ["0", "3"], 11),
        (12, ["0", "0", "3"], 2),
        (12, ["0", "4", "1"], 9),
        (18, ["0", "9"], 17),
        (20, ["0", "0", "2"], 19),
    ],
)
def test_every_answer_is_a_key_away_or_two(count: int, keys: list[str], place: int) -> None:
    """Up to ten take one key each; more are shown nine at a time, and 0 turns the page."""
    answer, out = ask(screen_of(count), Pressed(*keys))
    assert answer == place
    assert out.endswith(f"answer {place + 1}\n")
    assert (wording.MORE_ANSWERS in out) == (count > 10)


@pytest.mark.parametrize("count", [3, 10, 12, 30])
def test_a_pipe_names_answers_by_their_number(count: int) -> None:
    """All are shown at once, and the number may have two digits."""
    answer, out = ask(screen_of(count), Pressed(str(count), single=False))
    assert answer == count - 1
    assert out.count("answer ") == count + 1
    assert wording.MORE_ANSWERS not in out


def test_answers_that_are_taken_keep_the_others_keys() -> None:
    """An empty text is no answer: its key does nothing, and the keys of the others stay."""
    screen = Screen(nothing, ("one", "", "three"))
    answer, out = ask(screen, Pressed("2", "3"))
    assert answer == 2
    assert "That does nothing here" in out
    assert " 2 " not in out


def test_enter_and_can_t_tell() -> None:
    """Enter is an answer where it has a meaning, else it shows the screen again; so is c."""
    assert ask(screen_of(2, enter="that is all"), Pressed(""))[0] == ENTER
    answer, out = ask(screen_of(2, cannot=True), Pressed("", "c"))
    assert answer == CANNOT
    assert out.count("answer 1") == 2
    answer, out = ask(screen_of(2), Pressed("c", "1"))
    assert answer == 0
    assert "That does nothing here" in out
    assert wording.CANNOT not in out


def test_wrong_keys_name_those_that_work() -> None:
    """The range of numbers, can't tell, Enter, and the keys at the foot."""
    _, out = ask(screen_of(3, enter="no more", cannot=True), Pressed("z", "1"))
    assert "Keys: 1 to 3, c, Enter, b, w, l, p, a, q, h." in " ".join(out.split())


@pytest.mark.parametrize(
    ("answers", "keys"),
    [(("one", "", "three", "four"), "1, 3 to 4"), (("", "two", "", ""), "2"), (("x",) * 10, "1 to 9, 0")],
)
def test_a_wrong_key_names_the_keys_that_are_there(answers: tuple[str, ...], keys: str) -> None:
    """What is taken already has no key, and the tenth answer has the 0."""
    _, out = ask(Screen(nothing, answers, hints=""), Pressed("z", "3" if answers[2] else "2"))
    assert f"Keys: {keys}, h." in out


def test_a_line_is_asked_until_it_is_taken() -> None:
    """What the taker does not take is asked again; a single letter that is a key never comes to it."""
    seen = []

    def accept(typed: str) -> str | None:
        seen.append(typed)
        return typed if typed == "yes" else None

    keys = Pressed("no", "w", "", "yes")
    prompt = Prompt(Paper(io.StringIO()), keys)
    assert prompt.ask_line(Screen(nothing), accept, refuse) == "yes"
    assert seen == ["no", "yes"]
    keys.left = ["c"]
    assert prompt.ask_line(Screen(nothing, cannot=True), accept, refuse) is None
