"""The View: every key that the headless contract names, shares that sum to one, limits under this bike's profile."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from diagnose.book.shelf import load_book
from diagnose.casework import events
from diagnose.casework.events import Draft
from diagnose.casework.fold import fold
from diagnose.casework.view import make_view
from diagnose.reason.reasoner import Reasoner
from tests.shipped import shipped_book

SMALL = Path(__file__).parent.parent / "front" / "book"
OPENED = events.opened("mechanic", "mechanic")
WOBBLES = events.complaint("wheel-wobbles")
View = dict[str, Any]

KEYS = (
    "case file profile holds expectations complaints answers conclusions ruled_out dangers cautions ride next plan "
    "hand_off estimate"
).split()
NEXT_KEYS = "kind id text complaints answers unit cost saves runner_up found".split()
PLAN_KEYS = "fix rung causes chance needs after minutes tools parts steps confirm hand_off_when".split()
LIMIT_KEYS = "id quantity low high unit also kind basis".split()

TOLD: dict[str, list[Draft]] = {
    "a question": [WOBBLES],
    "two complaints": [WOBBLES, events.complaint("wheel-grinds")],
    "three complaints": [WOBBLES, events.complaint("wheel-grinds"), events.complaint("wheel-ticks")],
    "a danger": [WOBBLES, events.profile("arrival", ["wheel-not-held"])],
    "can't tell": [WOBBLES, events.cannot_tell("rock-wheel", "mechanic")],
    "an answer": [WOBBLES, events.answered("rock-wheel", "mechanic", "clear")],
    "a reading": [events.complaint("wheel-ticks"), events.measured("measure-spoke", "mechanic", 9, "mm", "9 mm")],
    "a failed fix": [WOBBLES, events.fix_done("close-axle", {"wheel-wobbles": "still-there"})],
    "done": [WOBBLES, events.fix_done("set-cones", {"wheel-wobbles": "gone"})],
    "a hand-off": [
        WOBBLES,
        events.profile("arrival", ["crash"]),
        events.answered("look-at-races", "mechanic", "pitted"),
    ],
    "ended": [WOBBLES, events.ended("declined")],
}


@pytest.fixture(scope="module")
def reasoner() -> Reasoner:
    """The small book of wheels, with its engine."""
    return Reasoner(load_book(SMALL, cache=False))


def view_of(reasoner: Reasoner, *told: Draft, opened: Draft = OPENED) -> View:
    """The View of what was told."""
    return make_view(reasoner, fold(reasoner.book, [opened, *told]), with_why=True)


@pytest.mark.parametrize("name", TOLD)
def test_every_view_has_what_the_contract_names(reasoner: Reasoner, name: str) -> None:
    """No key is missing, whatever was told; absent is null; all of it can be written as JSON."""
    view = view_of(reasoner, *TOLD[name])
    assert set(KEYS) <= set(view)
    assert set(NEXT_KEYS) <= set(view["next"])
    assert all(set(PLAN_KEYS) <= set(item) for item in view["plan"])
    limits = [limit for item in view["plan"] for step in item["steps"] for limit in step["limits"]]
    assert all(set(LIMIT_KEYS) <= set(limit) for limit in limits)
    assert json.loads(json.dumps(view, allow_nan=False)) == view


@pytest.mark.parametrize("name", TOLD)
def test_shares_sum_to_one_and_are_sorted(reasoner: Reasoner, name: str) -> None:
    """A complaint's causes and its something else sum to 1 within 1e-9, by share, then id; none ruled out."""
    view = view_of(reasoner, *TOLD[name])
    out = {one["cause"] for one in view["ruled_out"]}
    assert view["complaints"]
    for complaint in view["complaints"]:
        shares = [one["share"] for one in complaint["causes"]]
        assert sum(shares) + complaint["something_else"] == pytest.approx(1, abs=1e-9)
        keys = [(-one["share"], one["id"]) for one in complaint["causes"]]
        assert keys == sorted(keys)
        assert not out & {one["id"] for one in complaint["causes"]}


def test_a_check_has_answers_or_a_unit(reasoner: Reasoner) -> None:
    """A check by value lists its values in the book's order and has no unit; a measuring one the reverse."""
    by_value = view_of(reasoner, *TOLD["a danger"])["next"]
    assert (by_value["kind"], by_value["id"], by_value["unit"]) == ("check", "try-axle", None)
    assert [one["id"] for one in by_value["answers"]] == ["tight", "loose"]
    told = [events.profile("arrival", ["crash"]), events.answered("try-axle", "mechanic", "tight")]
    measured = view_of(reasoner, events.complaint("wheel-ticks"), *told)["next"]
    assert (measured["id"], measured["answers"], measured["unit"]) == ("measure-spoke", None, "mm")


def test_a_reading_keeps_what_was_typed(reasoner: Reasoner) -> None:
    """An answer by reading has reading, unit and text as typed beside the value of its band."""
    (answer,) = view_of(reasoner, *TOLD["a reading"])["answers"]
    assert (answer["reading"], answer["unit"], answer["typed"], answer["value"]) == (9.0, "mm", "9 mm", "slack")


def test_a_torque_is_shown_in_both_units(reasoner: Reasoner) -> None:
    """8 to 15 N·m are 71 to 133 lbf·in: 1 N·m is 8.8507 lbf·in (NIST SP 811, appendix B.8)."""
    told = [events.complaint("wheel-ticks"), events.answered("try-axle", "mechanic", "loose")]
    items = {item["fix"]: item for item in view_of(reasoner, *told)["plan"]}
    (limit,) = [limit for step in items["close-axle"]["steps"] for limit in step["limits"]]
    assert (limit["low"], limit["high"], limit["unit"], limit["kind"]) == (8, 15, "N.m", "target")
    assert (limit["also"], limit["basis"]) == ("71 to 133 lbf·in", "handbook")
    assert limit["text"] == "8 to 15 N·m (71 to 133 lbf·in)"


def test_a_danger_names_its_deduction(reasoner: Reasoner) -> None:
    """What a deduction says against riding stands with its id, place and matched facts, and is the verdict's reason."""
    view = view_of(reasoner, *TOLD["a danger"])
    (conclusion,) = [one for one in view["conclusions"] if one["id"] == "loose-wheel-first"]
    assert conclusion["file"].endswith("deductions.yaml")
    assert conclusion["line"] > 0
    assert ["arrival", "wheel-not-held"] in conclusion["matched"]
    assert view["dangers"] == [
        {"conclusion": "loose-wheel-first", "level": "stop", "text": "A wheel that is not held can come out."}
    ]
    assert view["ride"]["verdict"] == "stop"
    assert view["ride"]["because"][0]["conclusion"] == "loose-wheel-first"
    assert view["next"]["demanded_by"] == "loose-wheel-first"


def test_can_t_tell_on_a_danger_check_is_not_cleared(reasoner: Reasoner) -> None:
    """A danger check that could not be told never means safe."""
    told = [*TOLD["a danger"], events.cannot_tell("try-axle", "mechanic")]
    assert view_of(reasoner, *told)["ride"]["verdict"] in ("stop", "not-cleared")
    worried = [events.complaint("wheel-ticks"), events.cannot_tell("try-axle", "mechanic")]
    assert view_of(reasoner, *worried)["ride"]["verdict"] == "not-cleared"


def test_a_called_hand_off_has_a_note_to_pass_on(reasoner: Reasoner) -> None:
    """To whom, how urgent, why, and a note with complaint, bike and findings in plain words, no ids."""
    view = view_of(reasoner, *TOLD["a hand-off"])
    assert view["next"]["kind"] == "hand-off"
    first = view["hand_off"][0]
    assert (first["class"], first["urgency"]) == ("workshop", "before riding")
    for words in ("Wheel wobbles", "signs of a fall", "pitted"):
        assert words in first["note"]
    assert "look-at-races" not in first["note"]


def test_a_note_says_of_what_was_put_right_here_that_it_is_gone() -> None:
    """The flat was cured, the rim's edge goes to a wheel builder: no causes are told of the flat any more."""
    told = (
        events.complaint("flat-tyre"),
        events.complaint("tyre-hops"),
        events.answered("look-at-the-hole", "mechanic", "pair"),
        events.fix_done("replace-tube", {"flat-tyre": "gone", "tyre-hops": "still-there"}),
        events.answered("look-at-rim-edge", "mechanic", "deep"),
    )
    note = view_of(Reasoner(shipped_book()), *told)["hand_off"][0]["note"]
    flat, hops = (shipped_book().complaints[name].name for name in ("flat-tyre", "tyre-hops"))
    assert f"{flat}: put right here" in note
    assert f"{flat}, of 100" not in note
    assert f"{hops}, of 100 such bikes: " in note


def test_a_note_for_a_danger_names_no_cause_that_needs_no_work() -> None:
    """A battery that was dropped, on a bike that came for its service: nobody reads that it is normal or in order."""
    shipped = Reasoner(shipped_book())
    hurt = [events.complaint("check-over"), events.profile("arrival", ["battery-hurt"])]
    note = view_of(shipped, *hurt)["hand_off"][0]["note"]
    assert "battery dropped" in note
    assert "what else it has was not looked for" in note
    assert "no work needed" not in note


def test_a_note_for_a_danger_leaves_out_what_the_book_marks_as_normal() -> None:
    """A hurt battery on a bike that hums: the hum is likeliest, and is not written down for whoever sees it."""
    shipped = Reasoner(shipped_book())
    view = view_of(shipped, events.complaint("motor-noise"), events.answered("look-battery-over", "mechanic", "hurt"))
    likeliest = view["complaints"][0]["causes"][0]
    assert shipped.book.causes[likeliest["id"]].normal
    assert likeliest["name"] not in view["hand_off"][0]["note"]
    assert "rattles" in view["hand_off"][0]["note"]


def test_what_must_be_done_anyway_is_proved_by_the_test_of_what_it_cures() -> None:
    """A tyre rubbed through by its shoe is renewed, the noise gone with it: braking tries the shoe, not air."""
    told = [
        events.complaint("flat-tyre"),
        events.complaint("brake-noise"),
        events.profile("brake", ["rim"]),
        events.answered("look-over-casing", "mechanic", "rubbed"),
        events.answered("look-at-rim-pads", "mechanic", "tyre"),
        events.fix_done("replace-tyre", {"flat-tyre": "gone", "brake-noise": "gone"}),
        events.answered("look-over-casing", "mechanic", "sound"),
    ]
    view = view_of(Reasoner(shipped_book()), *told)
    assert view["next"]["id"] == "place-rim-pads"
    assert [item["confirm"]["id"] for item in view["plan"]] == ["five-stops"]


def test_done_says_what_was_found(reasoner: Reasoner) -> None:
    """After the repeat test passed nothing is left to do, and the cause that the fix treats is named."""
    step = view_of(reasoner, *TOLD["done"])["next"]
    assert (step["kind"], step["found"]) == ("done", ["cone-loose"])
    assert "found at the stand: hub bearings loose" in step["text"]


def test_work_for_a_mechanic_is_no_fix_at_home(reasoner: Reasoner) -> None:
    """An able rider gets no plan that needs a mechanic, and a hand-off where that is the only way."""
    at_home = events.opened("mechanic", "rider")
    view = view_of(reasoner, events.complaint("wheel-grinds"), opened=at_home)
    assert {item["skill"] for item in view["plan"]} <= {"rider"}
    told = [events.complaint("wheel-grinds"), events.fix_done("oil-crossings", {"wheel-grinds": "still-there"})]
    assert view_of(reasoner, *told, opened=at_home)["next"]["kind"] == "hand-off"


def test_facts_that_do_not_matter_are_not_wanted(reasoner: Reasoner) -> None:
    """Which axle it is hangs on no cause, but closing it takes another torque: it is wanted for that fix alone."""
    for told in TOLD.values():
        view = view_of(reasoner, *told)
        names = [one["fact"] for one in view["wanted"]]
        assert ("axle" in names) == (view["next"]["id"] == "close-axle")
        assert len(names) == len(set(names))
    told = [WOBBLES, events.answered("try-axle", "mechanic", "loose")]
    assert [one["fact"] for one in view_of(reasoner, *told)["wanted"]] == ["axle"]
    assert view_of(reasoner, *told, events.profile("axle", []))["wanted"] == []


def test_why_says_what_each_answer_would_mean(reasoner: Reasoner) -> None:
    """Each value of the next check stands with its chance; they sum to what will be told at all."""
    view = view_of(reasoner, WOBBLES, events.answered("try-axle", "mechanic", "tight"))
    assert view["next"]["kind"] == "check"
    chances = [one["chance"] for one in view["why"]["separates"]]
    assert sum(chances) == pytest.approx(1, abs=1e-6)
    assert all(one["top"] for one in view["why"]["separates"])


def test_moves_join_the_shares_before_and_after(reasoner: Reasoner) -> None:
    """What an answer moved starts where the one before it ended."""
    told = [
        WOBBLES,
        events.answered("try-axle", "mechanic", "tight"),
        events.answered("rock-wheel", "mechanic", "clear"),
    ]
    first, second = view_of(reasoner, *told)["moves"]
    after = {one["id"]: one["after"] for one in first["shares"]}
    before = {one["id"]: one["before"] for one in second["shares"]}
    shared = set(after) & set(before)
    assert shared
    for cause in shared:
        assert after[cause] == pytest.approx(before[cause], abs=1e-9)


@pytest.mark.parametrize(("steerer", "warned"), [("metal", False), ("carbon", True), (None, True)])
def test_a_caution_is_not_said_of_a_bike_that_it_does_not_fit(steerer: str | None, warned: bool) -> None:
    """A steerer known to be metal needs no word about crushed carbon; one that nobody has looked at does."""
    shipped = Reasoner(shipped_book())
    told = [events.complaint("front-knock"), *([events.profile("steerer", [steerer])] if steerer else [])]
    (item,) = [one for one in view_of(shipped, *told)["plan"] if one["fix"] == "set-preload"]
    said = [caution for step in item["steps"] for caution in step["cautions"]]
    assert (shipped.book.cautions["carbon-steerer-clamp"] in said) is warned


def test_figures_by_kind_of_bike_are_all_shown_where_the_kind_is_not_known() -> None:
    """It is not asked for a pressure alone; in a sentence stands the whole range, and what it is of the kind below."""
    shipped = Reasoner(shipped_book())
    told = [events.complaint("flat-tyre"), events.profile("tyre-system", ["tube"])]
    seen = events.answered("look-over-casing", "mechanic", "stuck")

    def pump(*more: Draft) -> tuple[str, str]:
        steps = next(one for one in view_of(shipped, *told, *more, seen)["plan"] if one["fix"] == "replace-tube")[
            "steps"
        ]
        step = next(one for one in steps if "then pump" in one["text"])
        return step["text"], next(one["text"] for one in step["limits"] if one["id"] == "tyre-pressure-usual")

    text, figures = pump()
    assert "1.3 to 6 bar, by the list below," in text
    assert "mountain 1.3 to 2.2 bar, city or touring 2.5 to 4 bar" in figures
    assert pump(events.profile("bike-kind", ["child"]))[1].startswith("1.5 to 2.5 bar")


def test_no_braces_in_what_one_would_have_to_see() -> None:
    """What would change the first fix and what another cause would show are told with their figures put in."""
    why = view_of(Reasoner(shipped_book(), depth=1), events.complaint("suspension-oily"))["why"]
    texts = [*(one["check"] for one in why["against"]), *(one["text"] for one in why["would_change"])]
    locked = [text for text in texts if text.startswith("Lock on")]
    assert len(locked) > 1
    assert all("20 mm" in text and "{" not in text for text in locked)
