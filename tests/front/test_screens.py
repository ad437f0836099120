"""The screens as they look at 60 columns, so that a change of wording is seen.

With DIAGNOSE_GOLDEN=write in the environment they are kept anew.
"""

from __future__ import annotations

import io
from collections.abc import Callable
from types import SimpleNamespace
from typing import Any, cast

import pytest

from diagnose.front import wording
from diagnose.front.asides import show_plan
from diagnose.front.paper import Paper
from diagnose.front.screens import reasons, show_fix
from diagnose.front.telling import Telling
from tests.front.conftest import LOOSE_AXLE, WOBBLES, Stand

Golden = Callable[[str, str], None]


def last_screen(out: str) -> str:
    """What stands between the last two lines across, or from the last one to the prompt."""
    parts = out.split("─" * 60 + "\n")
    return parts[-1].split("> ")[0]


def test_a_question(stand: Stand, golden: Golden) -> None:
    """The verdict, the question, its limit and caution, the answers by key, what is likely, the keys."""
    golden("question", last_screen(stand(*WOBBLES, "3", "")))


def test_a_reading(stand: Stand, golden: Golden) -> None:
    """The question, the tool, how to type it."""
    golden("reading", last_screen(stand("", "ticking", "1", "", "2", "", "1")))


def test_a_fix(stand: Stand, golden: Golden) -> None:
    """What it promises, tools, steps with the torque first, the repeat test, how to tell, the three results."""
    golden("fix", last_screen(stand(*WOBBLES, "3", "", "2", "2")))


@pytest.mark.parametrize("changed", [True, False])
def test_a_fix_carries_the_verdict(stand: Stand, changed: bool) -> None:
    """Whatever it is, and also where it is the one that was told before: in one line above the fix."""
    stand(*LOOSE_AXLE)
    view, out = stand.view(), io.StringIO()
    show_fix(Paper(out, width=60), {**view, **ridden("ride")}, changed)
    assert out.getvalue().index(wording.VERDICT["ride"]) < out.getvalue().index("FIX: ")


def test_a_hand_off(stand: Stand, golden: Golden) -> None:
    """Stop first, then to whom and why, then the note."""
    stand.hand_off()
    golden("hand-off", last_screen(stand.resume()))


@pytest.mark.parametrize("key", ["w", "l", "p"])
def test_one_key_away(stand: Stand, golden: Golden, key: str) -> None:
    """Why this, what is likely, the plan so far."""
    out = stand(*WOBBLES, "3", "", key)
    golden(f"aside-{key}", out.split("─" * 60 + "\n")[-2].split("> ", 1)[1])


def ridden(verdict: str, *because: str) -> dict[str, Any]:
    """Of a View what its verdict is told from."""
    told = [{"cause": None, "conclusion": text, "text": text} for text in because]
    return {"ride": {"verdict": verdict, "because": told}, "complaints": []}


def test_an_estimate_of_nothing_is_not_told(stand: Stand) -> None:
    """No fix, no parts and less than half a minute: not "0 to 0 min"; half a minute and a part are told."""
    stand(*LOOSE_AXLE)
    view, none = stand.view(), {"p10": 0.0, "p50": 0.0, "p90": 0.0}
    prices = {**none, "currency": "EUR"}
    for minutes, parts, told in ((0.4, 0.0, False), (0.6, 0.0, True), (0.0, 8.0, True)):
        out = io.StringIO()
        made = {
            "minutes": {**none, "p90": minutes},
            "parts_price": {**prices, "p90": parts},
            "hand_off_chance": 1.0,
        }
        show_plan(Paper(out, width=60), {**view, "plan": [], "estimate": made})
        assert (wording.NO_QUOTE in " ".join(out.getvalue().split())) == told


def test_no_verdict_against_riding_without_a_reason() -> None:
    """Where only what is not in the book speaks against it, that is the reason; of what may be ridden there is none."""
    assert reasons(ridden("care"), 1) == [wording.MAY_BE_UNKNOWN]
    assert reasons(ridden("care", "It wears."), 1) == ["It wears."]
    assert reasons(ridden("ride"), 1) == []


def test_another_reason_is_news() -> None:
    """The reason is told again once the first one is another, though the verdict stays."""
    desk = SimpleNamespace(store=SimpleNamespace(events=lambda case_id: []))
    telling = Telling(cast("Any", desk), cast("Any", None), cast("Any", None), "1")
    shown = [telling.verdict_changed(ridden(*one)) for one in (("ride",), ("care", "A"), ("care", "A"), ("care", "B"))]
    assert shown == [False, True, False, True]
