"""Looks of a round on one screen of the stand: Enter tells each as it should be, a number asks one by itself."""

from __future__ import annotations

import io
from collections.abc import Callable
from pathlib import Path
from types import SimpleNamespace
from typing import Any, cast

import pytest

from diagnose.book.reckoning import right_values
from diagnose.casework import events
from diagnose.casework.store import SqliteStore
from diagnose.casework.together import LONGEST
from diagnose.casework.view.coming import check_view
from diagnose.casework.view.page import Page
from diagnose.front import wording
from diagnose.front.keys import PipedKeyboard
from diagnose.front.paper import Paper
from diagnose.front.prompt import Back, Prompt
from diagnose.front.telling import Telling
from diagnose.front.together import FEWEST, ask_together, looks_for
from diagnose.reason.reasoner import Reasoner
from diagnose.reason.situation import Situation
from tests.casework.round_book import LOOKS, round_content
from tests.front.conftest import Stand
from tests.reason.small_book import Raw, write_book
from tests.shipped import shipped_book

BEGUN = ("", "it does knocks", "1", "")
"""No label, the complaint, no more: the round begins."""
CAUTION: Raw = {"cautions": {"eyes": "Eyes away from it."}}


@pytest.fixture
def at_round(stand: Stand, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Stand:
    """The stand with the book of a round: the bars guard a danger and have a caution, the post needs a torch."""
    checks: dict[str, Raw] = {name: {"ask": f"Look at the {name}: right?"} for name in LOOKS}
    checks["bars"] |= {"danger": "yes", "cautions": ["eyes"]}
    folder = write_book(tmp_path / "rules", **round_content(checks), **CAUTION)
    monkeypatch.setattr(f"{Stand.__module__}.SMALL", folder)
    return stand


def answers(stand: Stand) -> list[tuple[str, str]]:
    """Check and value of each answer that counts."""
    return [(data["check"], data.get("value", "?")) for kind, data in stand.standing() if kind == "answer"]


def right(*names: str) -> list[tuple[str, str]]:
    """These looks, each as it should be."""
    return [(name, "right") for name in names]


def test_a_round_taken_whole(at_round: Stand) -> None:
    """Every look with its words, what is right and its caution stands above the line of Enter; each is an answer."""
    out = at_round(*BEGUN)
    screen = out[out.rindex(wording.TOGETHER.format(count=4)) :]
    above = screen[: screen.index("Enter")]
    for place, name in enumerate(LOOKS[:4], 1):
        assert f"{place}  Look at the {name}: right?" in above
    assert above.count(wording.AS_IT_SHOULD_BE.format(text="right")) == 4
    assert "! Eyes away from it." in above
    assert wording.DANGER_FIRST in out
    assert "cranks" not in screen
    at_round.resume("")
    assert answers(at_round) == right(*LOOKS[:4])
    assert [kind for kind, _ in at_round.standing()][-4:] == ["answer"] * 4


def test_the_screen(at_round: Stand, golden: Callable[[str, str], None]) -> None:
    """The looks by number, what is right, the caution, what Enter and a number mean, the keys."""
    golden("together", at_round(*BEGUN).split("─" * 60 + "\n")[-1].split("> ")[0])


def test_the_last_look_is_asked_as_ever(at_round: Stand) -> None:
    """One look is no list: its screen has all its answers."""
    out = at_round(*BEGUN, "", "2")
    assert out.count(wording.AS_IT_SHOULD_BE.format(text="right")) == 4
    assert answers(at_round)[-1] == ("cranks", "wrong")


def test_a_number_asks_that_look_by_itself(at_round: Stand) -> None:
    """Those above it count as they should be; those below it come again by themselves."""
    out = at_round(*BEGUN, "3")
    assert answers(at_round) == right("axle", "bars")
    last = out[out.rindex("─") :]
    assert "Look at the post: right?" in last
    assert wording.CANNOT in last
    assert wording.AS_IT_SHOULD_BE.format(text="right") not in last
    out = at_round.resume("1", "c")
    assert answers(at_round) == [*right("axle", "bars"), ("post", "?")]
    assert wording.TOGETHER.format(count=2) in out
    at_round.resume("")
    assert answers(at_round) == [*right("axle", "bars"), ("post", "?"), *right("spokes", "cranks")]


def test_a_note_does_not_take_the_look_back_among_the_others(at_round: Stand) -> None:
    """What was to be asked by itself is asked so after another screen, too."""
    out = at_round(*BEGUN, "1", "n", "photo 7", "2")
    assert answers(at_round) == [("axle", "wrong")]
    after = out[out.index(wording.NOTE_KEPT) :]
    assert "Look at the axle: right?" in after[: after.index(wording.TOGETHER.format(count=4))]


def test_back_goes_from_one_look_to_the_others_then_takes_them_back(at_round: Stand) -> None:
    """A number was the wrong key: back shows the others. After Enter the last is taken back, then the one before."""
    at_round(*BEGUN, "3", "b")
    assert answers(at_round) == right("axle", "bars")
    at_round.resume("b", "b")
    assert answers(at_round) == []
    out = at_round.resume("", "b", "b")
    assert answers(at_round) == right("axle", "bars")
    assert out.count("Taken back:") == 2
    at_round.resume("")
    assert answers(at_round) == right(*LOOKS)


@pytest.mark.parametrize("wrong", ["5", "9", "0", "c", "z", "y", "ja", " 1 2", "w", "l", "p", "h"])
def test_a_wrong_key_changes_nothing(at_round: Stand, wrong: str) -> None:
    """Nothing is told by a key that is none here, nor by one that only shows something."""
    at_round(*BEGUN)
    before = at_round.told()
    out = at_round.resume(wrong)
    assert at_round.told() == before
    shows = wrong in wording.SHOWS
    assert (wording.WRONG_KEY.split("{")[0] in out) != shows


def test_why_tells_of_each_look(at_round: Stand) -> None:
    """How to go about each, by its number."""
    out = at_round(*BEGUN, "w")
    why = out[out.index(wording.WHY) :]
    assert wording.WHY_FIRST.format(text="So it is.") in why
    assert all(f"{place}. " in why for place in range(1, 5))


def test_killed_between_two_of_its_answers_nothing_is_lost_or_asked_twice(
    at_round: Stand, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Two of four were kept: the job goes on with the other two, and what comes behind them."""
    at_round(*BEGUN)
    append, kept = SqliteStore.append, iter((True, True, False))

    def stopped(self: SqliteStore, *args: Any) -> Any:
        if not next(kept):
            raise KeyboardInterrupt
        return append(self, *args)

    with monkeypatch.context() as patch:
        patch.setattr(SqliteStore, "append", stopped)
        at_round.resume("")
    assert answers(at_round) == right("axle", "bars")
    out = at_round.resume("")
    assert wording.TOGETHER.format(count=3) in out
    assert answers(at_round) == right(*LOOKS)


def test_somebody_else_told_one_meanwhile(at_round: Stand, monkeypatch: pytest.MonkeyPatch) -> None:
    """Where the job grew elsewhere, Enter tells nothing of what it was not shown with."""
    at_round(*BEGUN)
    key = PipedKeyboard.key

    def told_elsewhere(self: PipedKeyboard) -> str:
        typed = key(self)
        if not answers(at_round):
            at_round.desk().submit(at_round.case, events.answered("axle", "mechanic", "wrong"))
        return typed

    monkeypatch.setattr(PipedKeyboard, "key", told_elsewhere)
    out = at_round.resume("")
    assert answers(at_round) == [("axle", "wrong")]
    assert " ".join(wording.CHANGED_ELSEWHERE.split()) in " ".join(out.split())


@pytest.mark.parametrize(("columns", "lines"), [(70, 24), (40, 24), (60, 12), (20, 24)])
def test_on_a_narrow_or_low_screen_only_what_it_holds(
    at_round: Stand, monkeypatch: pytest.MonkeyPatch, columns: int, lines: int
) -> None:
    """Fewer looks, or one by itself: all that Enter would tell is on the screen with it."""
    monkeypatch.setenv("LINES", str(lines))
    out = at_round(*BEGUN, columns=columns)
    screen = out[out.rindex("─" * columns) :].split("> ")[0].splitlines()
    assert max(map(len, screen)) <= columns
    together = any(line.startswith(f" {wording.ENTER}") for line in screen)
    assert together == (lines == 24 and columns > 20)
    assert len(screen) < lines or not together


def longest() -> list[dict[str, Any]]:
    """The four looks of the shipped book's rounds that have the most words."""
    book = shipped_book()
    back = {name for name, one in book.complaints.items() if one.stands_back}
    rules = [
        one
        for one in book.deductions.values()
        if any(when.key == "complaint" and back.intersection(when.any_of) for when in one.when)
    ]
    reasoner = Reasoner(book)
    page = Page(book, reasoner.chainer, reasoner.diagnose(Situation(tuple(back))))
    looks = []
    for check in (book.checks[name] for name in {name for rule in rules for name in rule.demand}):
        if not (check.measure or check.ridden or check.teardown or check.minutes > LONGEST):
            value = right_values(check, book)[0]
            right = {"id": value, "text": book.findings[check.finding].values[value]}
            told = {"id": check.id, "text": page.fill(check.ask), "from": None, "right": right}
            looks.append({**told, **check_view(page, check)})
    return sorted(looks, key=lambda one: (-_words(one), one["id"]))[:4]


def _words(look: dict[str, Any]) -> int:
    return len("".join([look["text"], look["right"]["text"], *look["cautions"]]))


@pytest.mark.parametrize("verdict", ["ride", "stop"])
def test_the_longest_looks_of_the_book_stand_whole_on_a_small_screen(
    monkeypatch: pytest.MonkeyPatch, verdict: str
) -> None:
    """70 columns, 24 lines, from a pipe, without colour: those that are there are there with all their words."""
    monkeypatch.setenv("LINES", "24")
    out, looks = io.StringIO(), longest()
    paper = Paper(out, plain=True, width=70)
    desk = SimpleNamespace(together=lambda _: looks)
    prompt = Prompt(paper, PipedKeyboard(io.BytesIO(b"b\n")))
    telling = SimpleNamespace(desk=desk, prompt=prompt, paper=paper, case_id="", ask=prompt.ask)
    telling.verdict_changed = telling.verdict_news = lambda _: True
    ride = {"verdict": verdict, "because": [], "stop": 0.9, "care": 0.0}
    view = {"ride": ride, "complaints": [], "next": {"kind": "check", "demanded_by": None}, "role": "mechanic"}
    held = looks_for(cast("Telling", telling), view)
    with pytest.raises(Back):
        ask_together(cast("Telling", telling), view, held, _back)
    shown = out.getvalue()
    assert len(held) >= FEWEST
    assert len(shown.splitlines()) <= 24
    assert "\x1b" not in shown
    assert max(map(len, shown.splitlines())) <= 70
    words = " ".join(shown.split())
    for look in held:
        for text in (look["text"], look["right"]["text"], *look["cautions"]):
            assert paper.clean(text) in words


def _back(letter: str) -> bool:
    assert letter == "b"
    raise Back
