"""Events: every kind says what it may and nothing else, and what was undone does not count."""

from __future__ import annotations

import json
import math
import pickle
from collections.abc import Mapping
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from diagnose.casework import events
from diagnose.casework.events import Draft, Event, standing
from diagnose.casework.shapes import KINDS, validated, validated_at, validated_book
from diagnose.errors import InputError

LEFT = {"value": 2.0, "unit": "mm", "typed": "2 mm"}
ONE_OF_EACH = [
    (
        events.opened("mechanic", "rider", ["truing-stand"], "t1"),
        "opened",
        {"label": "t1", "without": ["truing-stand"]},
    ),
    (events.profile("brake", ["hydraulic-disc"]), "profile", {"fact": "brake", "values": ["hydraulic-disc"]}),
    (events.profile("recent_work", []), "profile", {"values": []}),
    (events.profile("arrival", ["crash"], more=True), "profile", {"values": ["crash"], "more": True}),
    (events.complaint("front-knock"), "complaint", {"id": "front-knock"}),
    (events.no_more(), "no-more", {}),
    (events.words_for_complaint("t2"), "partly", {"of": "complaint", "text_ref": "t2"}),
    (events.partly("already", "set-preload"), "partly", {"of": "already", "said": "set-preload"}),
    (events.partly("fix", "gone", "set-preload"), "partly", {"about": "set-preload", "said": "gone"}),
    (events.answered("rock", "rider", "clear"), "answer", {"check": "rock", "by": "rider", "value": "clear"}),
    (events.measured("gap", "mechanic", 3, "mm", "3 mm"), "answer", {"reading": 3.0, "unit": "mm", "typed": "3 mm"}),
    (
        events.measured("dish", "mechanic", 1, "mm", "1 mm", "dish", {"left": LEFT}),
        "answer",
        {"sum": "dish", "readings": {"left": LEFT}},
    ),
    (events.noted("dish", "mechanic", "left", LEFT), "reading", {"check": "dish", "key": "left", **LEFT}),
    (events.noted("dish", "rider", "right", None), "reading", {"key": "right", "left_out": True}),
    (events.cannot_tell("rock", "mechanic"), "answer", {"cannot_tell": True}),
    (
        events.already("set-preload", "same", "rider"),
        "already",
        {"fix": "set-preload", "result": "same", "by": "rider"},
    ),
    (events.fix_done("set-preload", {"front-knock": "gone"}), "fix", {"results": {"front-knock": "gone"}}),
    (events.fix_done("new-pads", {"x": "gone"}, ["true-disc"]), "fix", {"fix": "new-pads", "with": ["true-disc"]}),
    (events.fix_not_possible("set-preload", "part-missing"), "fix", {"not_possible": True, "reason": "part-missing"}),
    (events.loose("t3"), "loose", {"text_ref": "t3"}),
    (events.note("t4"), "note", {"text_ref": "t4"}),
    (events.undo(5), "undo", {"seq": 5}),
    (events.reopened(), "reopened", {}),
    (events.came_back(), "reopened", {"comeback": True}),
    (events.came_back("own-work"), "reopened", {"comeback": True, "origin": "own-work"}),
    (events.waiting(), "waiting", {}),
    (events.waiting(["inner-tube"], "t5"), "waiting", {"parts": ["inner-tube"], "text_ref": "t5"}),
    (events.here_now(), "waiting", {"over": True}),
    (events.at_stand("rider", ["caliper"]), "stand", {"skill": "rider", "without": ["caliper"]}),
    (events.agreed(80), "agreed", {"ceiling": 80.0}),
    (events.agreed(), "agreed", {}),
    (events.wished("t4", "back"), "wished", {"text_ref": "t4", "old_parts": "back"}),
    (events.wished(), "wished", {}),
    (events.ended("cured", ["preload-lost"]), "ended", {"how": "cured", "found": ["preload-lost"]}),
]


@pytest.mark.parametrize(
    ("draft", "kind", "says"), ONE_OF_EACH, ids=lambda value: value if isinstance(value, str) else ""
)
def test_each_kind_says_what_was_meant(draft: Draft, kind: str, says: Mapping[str, Any]) -> None:
    """A draft has its kind and data, survives JSON, and is taken again as it is."""
    assert draft.kind == kind
    assert says.items() <= draft.data.items()
    assert validated(kind, json.loads(json.dumps(draft.data))) == draft.data


def test_every_kind_has_its_function() -> None:
    """No kind is without an example above, and none is unknown to the table."""
    assert {kind for _, kind, _ in ONE_OF_EACH} == set(KINDS)


def test_what_was_not_said_is_left_out() -> None:
    """An optional field that is None is the same as one that is missing; doubled ids are kept once."""
    assert events.loose().data == {}
    assert "with" not in events.fix_done("set-preload", {"front-knock": "gone"}).data
    assert events.already("set-preload", "better").data == {"fix": "set-preload", "result": "better"}
    assert events.opened("rider", "rider", ["press", "press"]).data == {
        "role": "rider",
        "skill": "rider",
        "without": ["press"],
    }


BROKEN: list[tuple[str, object, str]] = [
    ("opened", {"role": "machanic", "skill": "rider", "without": []}, "Did you mean 'mechanic'?"),
    ("opened", {"role": "rider", "skill": "rider"}, "without"),
    ("opened", {"role": "rider", "skill": "rider", "without": "press"}, "list"),
    ("opened", {"role": "rider", "skill": "rider", "without": [], "label": "Blue bike"}, "reference"),
    ("profile", {"fact": "brake", "values": "disc"}, "list"),
    ("profile", {"fact": "Brake", "values": []}, "lower-case"),
    ("profile", {"fact": "brake", "values": [["disc"]]}, "lower-case"),
    ("complaint", {}, "id"),
    ("complaint", {"id": "front knock"}, "lower-case"),
    ("complaint", {"id": "front-knock", "text": "it knocks"}, "id"),
    ("complaint", ["front-knock"], "id"),
    ("partly", {"of": "complaint"}, "exactly one"),
    ("partly", {"of": "complaint", "text_ref": "it knocks"}, "reference"),
    ("answer", {"check": "rock", "by": "rider"}, "exactly one"),
    ("answer", {"check": "rock", "by": "rider", "value": "clear", "cannot_tell": True}, "exactly one"),
    ("answer", {"check": "rock", "by": "rider", "cannot_tell": False}, "true"),
    ("answer", {"check": "rock", "by": "shop", "value": "clear"}, "mechanic"),
    ("answer", {"check": "rock", "value": "clear"}, "by"),
    ("answer", {"check": "gap", "by": "rider", "reading": 3.5, "unit": "mm"}, "typed"),
    ("answer", {"check": "gap", "by": "rider", "reading": 3.5, "typed": "3.5"}, "unit"),
    ("answer", {"check": "gap", "by": "rider", "value": "right", "unit": "mm"}, "unit"),
    ("answer", {"check": "gap", "by": "rider", "reading": "3.5", "unit": "mm", "typed": "3.5"}, "number"),
    ("answer", {"check": "gap", "by": "rider", "reading": True, "unit": "mm", "typed": "yes"}, "number"),
    ("answer", {"check": "gap", "by": "rider", "reading": math.nan, "unit": "mm", "typed": "nan"}, "number"),
    ("answer", {"check": "gap", "by": "rider", "reading": math.inf, "unit": "mm", "typed": "inf"}, "number"),
    ("answer", {"check": "gap", "by": "rider", "reading": 10**400, "unit": "mm", "typed": "1e400"}, "number"),
    ("answer", {"check": "gap", "by": "rider", "reading": 3.5, "unit": "mm", "typed": "x" * 61}, "60"),
    ("answer", {"check": "gap", "by": "rider", "reading": 3.5, "unit": "", "typed": "3.5"}, "20"),
    ("already", {"fix": "set-preload", "result": "worst"}, "Did you mean 'worse'?"),
    ("fix", {"fix": "set-preload"}, "exactly one"),
    ("fix", {"fix": "set-preload", "results": {}}, "gone"),
    ("fix", {"fix": "set-preload", "results": {"front-knock": "yes"}}, "gone"),
    ("fix", {"fix": "set-preload", "results": {"front-knock": "gone"}, "not_possible": True}, "exactly one"),
    ("fix", {"fix": "set-preload", "results": {"front-knock": "gone"}, "reason": "seized"}, "not_possible"),
    ("fix", {"fix": "set-preload", "not_possible": True, "reason": "The bolt is seized."}, "lower-case"),
    ("loose", {"text_ref": "stem bolts"}, "reference"),
    ("note", {}, "text_ref"),
    ("note", {"text_ref": "t0"}, "reference"),
    ("undo", {"seq": 1}, "opening"),
    ("undo", {"seq": "2"}, "2 or more"),
    ("undo", {"seq": True}, "2 or more"),
    ("reopened", {"why": "comeback"}, "comeback (optional)"),
    ("reopened", {"origin": "part"}, '"comeback"'),
    ("reopened", {"comeback": True, "origin": "bad luck"}, "own-work"),
    ("reopened", {"comeback": False}, "leave it out"),
    ("waiting", {"over": True, "parts": ["pads"]}, "Give either"),
    ("waiting", {"parts": "pads"}, "list of ids"),
    ("ended", {"how": "fixed", "found": []}, "cured"),
    ("ended", {"how": "cured"}, "found"),
]


@pytest.mark.parametrize(("kind", "data", "hint"), BROKEN, ids=[f"{kind}-{n}" for n, (kind, _, _) in enumerate(BROKEN)])
def test_anything_else_is_refused_with_a_hint(kind: str, data: object, hint: str) -> None:
    """What does not fit is refused; the message names the kind, the hint what would fit."""
    with pytest.raises(InputError) as caught:
        validated(kind, data)
    assert caught.value.code == "input.event-data"
    assert f'"{kind}"' in caught.value.message
    assert hint in caught.value.hint


@pytest.mark.parametrize("kind", ["anser", "", "ANSWER", None, 7, ["answer"], "\x1b[2J" * 40])
def test_an_unknown_kind_is_refused(kind: object) -> None:
    """A kind that is not in the table is refused, the known ones are named, and nothing reaches the screen raw."""
    with pytest.raises(InputError) as caught:
        validated(kind, {})
    assert caught.value.code == "input.event-kind"
    assert "answer" in caught.value.hint
    assert "\x1b" not in str(caught.value)


JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(st.characters(), max_size=12),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=8), inner, max_size=3),
    max_leaves=6,
)
FIELDS = st.sampled_from(
    "label role skill without fact values id check by value reading unit typed text_ref seq".split()
)
WORDS = st.sampled_from(["mechanic", "rider", "front-knock", "t1", "mm", "gone", "same", "cured", "better"])


@given(st.sampled_from(KINDS), st.dictionaries(FIELDS | st.text(max_size=5), WORDS | JSON, max_size=6))
def test_whatever_comes_is_refused_or_fits(kind: str, data: dict[str, object]) -> None:
    """Any mapping is refused in words, or gives data that JSON keeps and that is taken again unchanged."""
    try:
        taken = validated(kind, data)
    except InputError as refusal:
        assert refusal.message
        assert refusal.hint
        str(refusal).encode("utf-8")
    else:
        written = json.dumps(taken, allow_nan=False)
        assert validated(kind, json.loads(written)) == taken


def test_a_case_begins_with_its_opening_and_only_there() -> None:
    """The first event is `opened`, and no other is."""
    opening = {"role": "rider", "skill": "rider", "without": []}
    assert validated_at(1, "opened", opening)
    for seq, kind, data in ((2, "opened", opening), (1, "reopened", {})):
        with pytest.raises(InputError):
            validated_at(seq, kind, data)


def test_an_undo_looks_back() -> None:
    """An undo names an event before it, not itself and none to come."""
    assert validated_at(5, "undo", {"seq": 4}) == {"seq": 4}
    for seq in (5, 6):
        with pytest.raises(InputError):
            validated_at(5, "undo", {"seq": seq})


@pytest.mark.parametrize("book", ["", " ", "a b", "x" * 201, "é", "\x00", None, 7])
def test_a_book_is_named_by_its_fingerprint(book: object) -> None:
    """What cannot be a fingerprint is refused."""
    with pytest.raises(InputError) as caught:
        validated_book(book)
    assert caught.value.code == "input.book"


def a_case(*drafts: Draft) -> list[Event]:
    """The events of a case made of `drafts`, numbered from 1."""
    return [Event(kind, data, seq, "", "book", f"x.{seq}") for seq, (kind, data) in enumerate(drafts, 1)]


def seqs(case: list[Event]) -> list[int]:
    """The numbers of the events that stand."""
    return [event.seq for event in standing(case)]


OPENED = events.opened("mechanic", "mechanic")
KNOCK = events.complaint("front-knock")


def test_without_an_undo_everything_stands() -> None:
    """Events that nobody undid stand in their order."""
    assert seqs(a_case(OPENED, KNOCK, events.cannot_tell("rock", "rider"))) == [1, 2, 3]


def test_an_undone_event_does_not_count() -> None:
    """Neither the event undone nor the undo counts; what came between does."""
    assert seqs(a_case(OPENED, KNOCK, events.cannot_tell("rock", "rider"), events.undo(2))) == [1, 3]


def test_undoing_an_undo_brings_the_event_back() -> None:
    """An undo that was undone does nothing, and so on."""
    case = [OPENED, KNOCK, events.undo(2), events.undo(3)]
    assert seqs(a_case(*case)) == [1, 2]
    assert seqs(a_case(*case, events.undo(4))) == [1]


def test_an_event_is_a_value() -> None:
    """Equal events are equal, can be looked up by, and can be handed to another process."""
    one, other = a_case(OPENED)[0], a_case(OPENED)[0]
    assert one == other
    assert len({one, other}) == 1
    assert pickle.loads(pickle.dumps(one)) == one  # noqa: S301  written the moment before
