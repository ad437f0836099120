"""What the trade insists on, item by item: which entry of the shipped book holds it, and which worked case shows it.

That each case comes out as it expects is tested with all the others (`test_cases.py`). Here it is held that the case is
there, that it expects what the trade insists on, and that the entry stands in the book. The lists are common practice.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any, NamedTuple

import pytest
import yaml

from diagnose.book.place import shipped_rules
from diagnose.book.shelf import load_book

CASES = Path(__file__).parent.parent / "cases"
BOOK = load_book(shipped_rules(), cache=False)


class Held(NamedTuple):
    """An item of the trade, the entry that holds it (a cause or a deduction), and a worked case that shows it."""

    item: str
    entry: str
    case: str


NOT_RIDDEN = (
    Held("crack in the frame", "frame-cracked", "frame/crack-round-the-weld"),
    Held("crack or bulge at fork, stem or bars", "front-end-cracked", "steering/knock-cracked-steerer"),
    Held("cracked crank", "crank-cracked", "cranks/line-at-the-pedal-eye"),
    Held("carbon after a crash", "carbon-frame-crashed", "frame/carbon-crash-nothing-to-see"),
    Held("fork bent", "fork-bent", "steering/fork-pushed-back"),
    Held("bars turn against the wheel", "stem-clamp-loose", "steering/bars-turn-on-their-own"),
    Held("quill stem above its mark", "quill-stem-loose", "steering/quill-above-its-line"),
    Held("seat post above its mark", "insertion-too-short", "cockpit/post-above-its-line"),
    Held("lever meets the bar", "air-in-brake", "brakes/counter-lever-touches-grip"),
    Held("lever sinks", "master-seal-worn", "brakes/sinks-but-dry"),
    Held("a dead brake", "brake-dead-stop", "brakes/brake-dead-on-arrival"),
    Held("leak", "joint-leaks", "brakes/fluid-at-the-hose-joint"),
    Held("oil on the pads", "oily-pads-stop", "brakes/oily-pads-grab"),
    Held("lining gone", "lining-gone", "brakes/grinds-at-every-stop-lining-gone"),
    Held("a pad the wrong way round", "pad-reversed-stop", "brakes/pads-in-backwards"),
    Held("pad's retainer missing", "pads-fitted-wrong", "brakes/pad-pin-missing-stop"),
    Held("disc under its mark", "disc-worn", "brakes/disc-under-its-mark"),
    Held("disc cracked", "disc-worn", "brakes/disc-cracked-stop"),
    Held("disc loose", "disc-loose", "brakes/knocks-loose-disc"),
    Held("wrong fluid", "wrong-fluid", "brakes/topped-up-with-the-wrong-fluid"),
    Held("brake cable's strands broken", "cable-strands-broken", "brakes/strands-at-the-lever-stop"),
    Held("hose worn into", "hose-worn-into-stop", "brakes/hose-worn-into"),
    Held("wheel not held", "axle-loose", "wheels/quick-release-flipped-shut"),
    Held("quick release turned like a nut", "release-used-as-nut", "wheels/release-turned-like-a-nut"),
    Held("an end of frame or fork bent", "ends-bent", "wheels/ends-squeezed-in-transport"),
    Held("two spokes broken", "spoke-broken", "wheels/two-spokes-of-a-wheel"),
    Held("one spoke broken of few", "one-broken-of-few", "wheels/one-broken-of-twenty"),
    Held("rim cracked at the nipples", "rim-cracked-at-nipples", "wheels/cracked-at-the-nipples"),
    Held("rim hits the frame", "wheel-out-of-true", "wheels/rim-touches-the-stay"),
    Held("rim worn past its line", "rim-worn-out", "brakes/rim-hollow-stop"),
    Held("rim bulging", "rim-worn-out", "brakes/rim-bulges-hand-off"),
    Held("casing showing", "tyre-worn-thin", "tyres/threads-showing-stop"),
    Held("bead lifting", "tube-lifts-bead", "tyres/bulge-at-the-bead-let-air-out"),
    Held("sidewall rubbed through", "casing-cut", "tyres/pad-rubbed-the-sidewall"),
    Held("pairing of rim and tyre not allowed", "tyre-blew-off", "tyres/hooked-tyre-on-hookless-rim"),
    Held("slips at its value", "paste-did-not-hold", "cockpit/paste-did-not-hold"),
    Held("crank loose again", "crank-seat-worn", "cranks/crank-loose-again-seat-worn"),
    Held("pedal's thread stripped", "pedal-thread-torn", "cranks/pedal-tore-out"),
    Held("pedal loose in its crank", "pedal-not-tight", "cockpit/click-is-a-loose-pedal"),
    Held("drive that throws the rider", "freehub-slips", "drivetrain/pedals-go-through"),
    Held("no drive on a back-pedal brake", "single-chain-slack", "drivetrain/back-pedal-chain-off"),
    Held("reaction arm loose", "reaction-arm-loose", "brakes/back-pedal-arm-loose-stop"),
    Held("half-open link", "chain-link-open", "drivetrain/link-half-open-stop"),
    Held("stanchion creased", "legs-bent", "suspension/creased-leg-after-a-crash"),
    Held("shock bolt missing", "shock-hardware-loose", "suspension/shock-bolt-loose-stop"),
    Held("battery dropped or wet inside", "battery-hurt", "assist/charge-dropped-on-the-stairs"),
    Held("motor pushes unasked", "motor-runs-on", "assist/noise-pushes-by-itself"),
    Held("steering binds", "steering-catches", "steering/steering-jams-counter"),
    Held("child seat loose", "child-seat-not-held", "accessories/child-seat-one-side-open"),
    Held("trailer's hitch loose", "hitch-loose", "accessories/hitch-without-its-strap"),
    Held("folding hinge loose", "hinge-loose", "accessories/hinge-has-play"),
    Held("cargo linkage loose", "steering-linkage-loose", "steering/cargo-rod-joint-loose"),
    Held("in pieces", "in-pieces-is-not-ridden", "arrival/in-pieces-is-not-cleared"),
)

HANDED_OFF = (
    Held("crack in the frame", "frame-cracked", "frame/crack-round-the-weld"),
    Held("carbon after a crash", "carbon-frame-crashed", "frame/carbon-crash-nothing-to-see"),
    Held("fork bent", "fork-bent", "steering/fork-pushed-back"),
    Held("wrong fluid", "wrong-fluid", "brakes/topped-up-with-the-wrong-fluid"),
    Held("slips at its value", "paste-did-not-hold", "cockpit/paste-did-not-hold"),
    Held("damper", "damper-failed", "suspension/damper-has-lost-its-oil"),
    Held("battery hurt", "battery-hurt", "assist/charge-dropped-on-the-stairs"),
    Held("motor pushes unasked", "motor-runs-on", "assist/noise-pushes-by-itself"),
    Held("no facing tool", "mount-not-faced", "brakes/mount-crooked-no-facing-tool"),
    Held("no hanger gauge", "hanger-bent", "drivetrain/bent-hanger-no-gauge"),
    Held("no bleed gear", "air-in-brake", "brakes/no-bleed-gear-hand-off"),
    Held("seized after two tries", "pedal-seized", "stuck/pedal-after-heat-handed-on"),
    Held("second comeback", "comeback-of-a-danger-again", "comebacks/brake-back-a-second-time"),
    Held("bracket cup crossed", "bracket-cup-crossed", "cranks/bracket-cup-crossed"),
)

IN_ORDER = (
    Held("wheel seated before any rub is judged", "wheel-not-seated", "brakes/drags-since-puncture-wheel-crooked"),
    Held("what was last worked on first", "axle-loose", "wheels/quick-release-flipped-shut"),
    Held("pads before the cable", "rim-pads-worn", "brakes/rim-pads-at-their-line-then-the-cable"),
    Held("pads and leaks before the bleed", "air-in-brake", "brakes/spongy-pumps-up"),
    Held("tyre before the wheel is called buckled", "casing-broken", "wheels/egg-not-a-buckle"),
    Held("broken spoke before truing", "spoke-broken", "wheels/broken-spoke-before-any-truing"),
    Held("chain wear before the ring is judged", "drivetrain-worn", "drivetrain/worn-chain-no-lift-test"),
    Held("creak: bracket last", "bracket-dry", "cockpit/creak-bracket-last"),
    Held("insertion before tightening", "insertion-too-short", "cockpit/post-above-its-line"),
    Held("wheel in before it is spun", "came-in-pieces", "arrival/wheel-goes-in-before-the-wobble-is-judged"),
)


def expected(case: str) -> dict[str, Any]:
    """What a worked case expects."""
    path = CASES / f"{case}.yaml"
    assert path.exists(), f"no worked case {case}"
    said: dict[str, Any] = yaml.safe_load(path.read_text(encoding="utf-8"))["expect"]
    return said


def test_each_item_has_an_entry_in_the_book() -> None:
    """A cause or a deduction of that id."""
    every = (*NOT_RIDDEN, *HANDED_OFF, *IN_ORDER)
    missing = [one.entry for one in every if one.entry not in BOOK.causes and one.entry not in BOOK.deductions]
    assert not missing


def test_a_cause_that_holds_an_item_is_what_the_case_finds() -> None:
    """It is on top, or among the first three."""
    for one in (*NOT_RIDDEN, *HANDED_OFF, *IN_ORDER):
        said = expected(one.case)
        top = said.get("top")
        found = {*(top.values() if isinstance(top, dict) else [top]), *said.get("in_first_three", ())}
        assert one.entry in BOOK.deductions or one.entry in found, one.item


@pytest.mark.parametrize("held", NOT_RIDDEN, ids=lambda held: held.item)
def test_what_must_not_be_ridden_is_not_ridden(held: Held) -> None:
    """The case expects stop, or not cleared."""
    assert expected(held.case)["ride"] in ("stop", "not-cleared")


@pytest.mark.parametrize("held", HANDED_OFF, ids=lambda held: held.item)
def test_what_is_handed_off_is_handed_off(held: Held) -> None:
    """The case expects a hand-off as the next step, or a class among the hand-offs."""
    said = expected(held.case)
    assert said.get("next") == "hand-off" or said.get("hand_off")


@pytest.mark.parametrize("held", IN_ORDER, ids=lambda held: held.item)
def test_what_comes_first_comes_first(held: Held) -> None:
    """The case expects a next step, an order of the plan, or what never comes first."""
    assert {"next", "plan_order", "never"} & expected(held.case).keys()
