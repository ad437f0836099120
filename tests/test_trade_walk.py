"""What the trade insists on, item by item: which entry of the shipped book holds it, and which worked case shows it.

That each case comes out as it expects is tested with all the others (`test_cases.py`). Here it is held that the case is
there, that it expects what the trade insists on, and that the entry stands in the book. The lists are common practice.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any, NamedTuple

import pytest
import yaml

from diagnose.book.model import Check
from diagnose.book.place import shipped_rules
from diagnose.book.shelf import load_book
from diagnose.casework.casefile import read_case
from diagnose.casework.replay import replay
from diagnose.reason.reasoner import Reasoner

CASES = Path(__file__).parent.parent / "cases"
BOOK = load_book(shipped_rules(), cache=False)
REASONER = Reasoner(BOOK)


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
    Held("a dead brake", "brake-dead-stop", "tyres/changed-the-tube-was-flat-again-before-the-pump"),
    Held("leak", "joint-leaks", "brakes/fluid-at-the-hose-joint"),
    Held("oil on the pads", "oily-pads-stop", "brakes/pads-oily-by-the-way"),
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
    Held("second comeback", "comeback-of-a-danger-again", "comebacks/weak-brake-back-a-second-time"),
    Held("two failed fixes", "two-brake-repairs-in-vain", "brakes/pads-and-cable-new-and-weak-still"),
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
    Held("wheel seated before the caliper", "caliper-off-centre", "brakes/rubs-all-the-time-is-the-wheel-home"),
    Held("hub play before truing", "wheel-out-of-true", "checkover/fall-wheel-hurt-does-it-rock"),
    Held("disc on its hub before the caliper", "caliper-off-centre", "brakes/second-wheels-is-their-disc-tight"),
    Held("pistons before centring", "caliper-off-centre", "brakes/rubs-all-the-time-do-both-pistons-move"),
    Held("disc wiped before bleeding", "service-due", "checkover/springy-hydraulic-lever-wipe-the-disc"),
    Held("chain wear before indexing", "gear-cable-settled", "checkover/first-service-slow-gears-measure-the-chain"),
    Held(
        "cable free before its tension",
        "gear-cable-settled",
        "checkover/first-service-slow-gears-does-the-cable-slide",
    ),
    Held("wheel seated before the hanger's gauge", "hanger-bent", "checkover/slow-fall-hanger-named-is-the-wheel-home"),
    Held("hanger before end stops", "hanger-bent", "drivetrain/spokes-and-bent-hanger"),
    Held("wheel held before the stem is loosened", "preload-lost", "steering/clonk-under-the-brake-is-the-wheel-held"),
    Held("bars looked at before they are set straight", "bars-crooked", "steering/fell-over-look-first"),
    Held("thorn, tape and valve hole before the new tube", "thorn-in-tread", "tyres/third-flat-same-place-finger-next"),
    Held("sag before the air", "spring-air-high", "suspension/sag-before-the-air"),
)

FIRST = {
    "centre-caliper": {"look-wheel-seat", "rock-rim-sideways", "twist-disc", "watch-disc", "watch-pistons"},
    "true-disc": {"look-wheel-seat", "rock-rim-sideways", "twist-disc"},
    "true-wheel": {"look-wheel-seat", "rock-rim-sideways", "squeeze-spokes", "look-at-nipples"},
    "bleed-brake": {"look-at-lining", "wipe-joints", "wipe-disc", "ask-which-fluid"},
    "set-cable-tension": {"pull-bare-cable", "measure-chain", "look-from-behind"},
    "straighten-hanger": {"look-wheel-seat", "measure-hanger-spread"},
    "set-end-stops": {"look-from-behind", "look-wheel-seat"},
    "set-upper-gap": {"push-mech-to-stops", "run-both-extremes"},
    "replace-tube": {"look-over-casing", "tube-under-water", "feel-inside-tyre", "look-at-rim-tape"},
    "set-preload": {"look-wheel-seat", "rock-rim-sideways"},
    "set-rebound": {"measure-sag"},
    "align-bars": {"look-for-front-cracks", "sight-fork-line"},
}
"""A fix to the looks that it needs first, in the trade's order."""

NEVER = (
    Held("a lubricant near disc or rim", "oil-near-brake", "hubs/slack-not-worn"),
    Held("grease on carbon faces", "no-grease-on-carbon", "cockpit/bar-rolls-carbon-clean"),
    Held("a lever squeezed without a spacer", "lever-without-spacer", "grabbing/film-after-a-hot-stop"),
    Held("mineral and glycol fluid mixed", "brake-fluid", "grabbing/does-not-let-go-after-the-hill"),
    Held("more torque to cure a slip", "never-more-torque", "cranks/cup-turned-out"),
    Held("a fork or bar bent back", "never-straighten-fork", "steering/cargo-rod-joint-worn"),
    Held("a crank bent back", "no-bending-cranks", "cranks/foot-rolls-after-a-fall"),
    Held("a hanger bent twice", "hanger-once", "checkover/slow-fall-hanger-named"),
    Held("above the lower limit to seat a bead", "lower-of-the-limits", "checkover/hairline-cracks-in-old-tyres"),
    Held("battery, charger or motor opened", "sealed-inside", "assist/charge-charger-dark"),
    Held("a charged damper opened", "charged-damper-stays-shut", "noises/knocks-as-he-sits-down-eye-worn"),
    Held("fingers near a spinning disc", "spinning-disc", "hubs/rocks-how-is-it-held"),
    Held("fingers near a drive", "fingers-in-chain", "accessories/chain-case-pushed-in"),
    Held("a carbon tube in the stand's jaws", "no-jaw-on-carbon", "frame/hurt-on-the-car"),
    Held("a stanchion in the stand's jaws", "post-not-pulled-up", "dropper/rises-and-sinks"),
    Held("hands on before the battery is out", "battery-out", "assist/dead-plug-pulled"),
    Held("a star nut in carbon", "no-star-nut-in-carbon", "checkover/star-nut-in-a-bare-carbon-steerer"),
)
"""What is never done: the caution that says so, and a worked case in which it is shown."""

READ = (
    Held("chain over its pitches", "chain-replace-length", "drivetrain/chain-too-long-leaps-off"),
    Held("chain lifts off its ring", "ring-chain-lift", "drivetrain/ring-lifts-the-chain"),
    Held("hanger's gauge", "hanger-spread", "checkover/slow-fall-hanger-named"),
    Held("upper jockey wheel gap", "upper-wheel-gap", "drivetrain/wheel-too-close-after-bigger-sprockets"),
    Held("front cage over the teeth", "front-cage-gap", "drivetrain/front-throws-after-new-crank"),
    Held("chain beyond the biggest pair", "chain-overlap", "drivetrain/new-chain-laid-round-too-short"),
    Held("slack of a single chain", "chain-slack-span", "checkover/back-pedal-brake-weak-chain-and-arm-right"),
    Held("lining of a pad", "lining-least", "brakes/grinding-no-lining"),
    Held("disc by its mark", "disc-least", "brakes/disc-under-its-mark"),
    Held("disc's run-out", "disc-runout-good", "brakes/disc-brushes-once-a-turn"),
    Held("lever to grip", "lever-reserve-least", "brakes/lever-four-millimetres-from-the-grip"),
    Held("pads to rim", "pad-rim-gap", "brakes/one-rim-pad-touches"),
    Held("wall of a rim", "rim-wall-least", "brakes/rim-hollow-stop"),
    Held("rim's run-out", "rim-runout-good", "wheels/plain-wave-is-trued"),
    Held("dish", "dish-limit", "handling/pulls-dish"),
    Held("spokes of a side", "spoke-tension-spread-limit", "hubs/gauge-says-uneven"),
    Held("post's insertion", "post-insertion", "cockpit/short-post-measured"),
    Held("post against bore", "post-clearance", "cockpit/post-one-size-too-thin"),
    Held("gap for the top cap", "top-cap-gap", "steering/gap-closed-by-a-low-stem"),
    Held("sag", "sag", "suspension/shock-sticks-on-chatter"),
    Held("highest pressure", "tyre-pressure-most", "handling/slow-and-pumped-too-hard"),
    Held("loss in a night", "loss-overnight-normal", "tyres/nine-percent-of-a-road-tyre"),
    Held("cut in the tread", "plug-cut-most", "tyres/clean-cut-of-twelve-millimetres"),
    Held("frame by a string", "frame-string-difference", "frame/rear-end-by-the-string"),
    Held("gap under a guard", "guard-gap-least", "accessories/guard-measured-too-near"),
    Held("the battery's own warmth", "charge-temperature", "assist/charge-case-measured-at-frost"),
    Held("a way back to the brake", "crank-back-angle", "hubbrakes/back-pedal-angle-measured"),
)
"""What is measured: the limit that parts right from wrong, and a worked case with a reading."""


def written(case: str) -> dict[str, Any]:
    """A worked case as it stands in its file."""
    path = CASES / f"{case}.yaml"
    assert path.exists(), f"no worked case {case}"
    said: dict[str, Any] = yaml.safe_load(path.read_text(encoding="utf-8"))
    return said


def expected(case: str) -> dict[str, Any]:
    """What a worked case expects."""
    said: dict[str, Any] = written(case)["expect"]
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


def test_a_fix_needs_what_the_trade_looks_at_first() -> None:
    """Whatever the rest of the book says of their minutes."""
    lacking = {fix: looks - set(BOOK.fixes[fix].needs) for fix, looks in FIRST.items()}
    assert not any(lacking.values()), lacking


@pytest.mark.parametrize("held", NEVER, ids=lambda held: held.item)
def test_what_is_never_done_is_said(held: Held) -> None:
    """The caution is shown with what comes next, in the plan, or with the bike."""
    view = replay(REASONER, read_case(CASES / f"{held.case}.yaml", BOOK))
    assert BOOK.cautions[held.entry] in json.dumps(view, ensure_ascii=False)


@pytest.mark.parametrize("held", READ, ids=lambda held: held.item)
def test_what_is_measured_was_read_on_some_bike(held: Held) -> None:
    """The case holds a reading of a check whose bands end at the limit, or that shows it."""
    answers = written(held.case)["answers"]
    read = [name for name, told in answers.items() if isinstance(told, dict) and {"reading", "readings"} & told.keys()]
    assert any(held.entry in limits_of(BOOK.checks[name]) for name in read)


def limits_of(check: Check) -> set[str]:
    """The limits that a check shows, and those at which its bands end."""
    edges = [edge for band in check.measure.bands for edge in (band.start, band.stop)] if check.measure else []
    return {*check.limits, *(edge.limit for edge in edges if edge and edge.limit)}


def test_each_cause_says_to_whom_it_goes_where_this_stand_ends() -> None:
    """But for what is normal, where nobody gives anything away."""
    lacking = [name for name, one in BOOK.causes.items() if not (one.normal or one.hand_off or one.hand_off_when)]
    assert not lacking


def test_each_cause_has_figures_and_work_that_can_be_priced() -> None:
    """A share, a basis, and a ladder with steps, minutes, a sign that it works and what follows where it does not."""
    for name, one in BOOK.causes.items():
        assert all((one.shares, one.basis, one.ladder or one.hand_off)), name
        for rung in one.ladder:
            fix = BOOK.fixes[rung.fix]
            assert all((fix.steps, fix.works_if, fix.if_not, 0 < fix.low <= fix.high)), rung.fix
    for name, part in BOOK.parts.items():
        assert 0 <= part.low <= part.high > 0, name
