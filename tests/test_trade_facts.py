"""Facts of the trade, held against what the shipped book says and what the program makes of it.

Where no source is named the fact is common practice, no source.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from diagnose.book.conditions import Profile, band_of, numbers, profiles_over
from diagnose.book.model import Book, Fix
from diagnose.book.place import shipped_rules
from diagnose.book.shelf import load_book
from diagnose.casework.casefile import read_case
from diagnose.casework.replay import replay
from diagnose.front.wording import GOVERNS
from diagnose.reason.reasoner import Reasoner
from tests.trade_values import trade_value

View = dict[str, Any]
PADS_RUB = {"brake": "hydraulic-disc", "axle": "through-axle"}


@pytest.fixture(scope="session")
def book() -> Book:
    """The shipped book, read from its files."""
    return load_book(shipped_rules(), cache=False)


@pytest.fixture(scope="session")
def reasoner(book: Book) -> Reasoner:
    """The shipped book, ready to reason."""
    return Reasoner(book)


@pytest.fixture
def after(reasoner: Reasoner, tmp_path: Path) -> Any:
    """What the program says of a complaint after some answers."""

    def ask(complaint: str, profile: dict[str, str], answers: dict[str, str]) -> View:
        path = tmp_path / "case.yaml"
        told = [f'  {check}: "{answer}"' for check, answer in answers.items()]
        facts = [f'  {fact}: "{value}"' for fact, value in profile.items()]
        lines = ['case: "one bike"', "profile:", *facts, f"complaints: [{complaint}]", "answers:", *told]
        lines.append("expect: {top: something-else, ride: ride, next: done}")
        path.write_text("\n".join(lines), encoding="utf-8")
        return replay(reasoner, read_case(path, reasoner.book))

    return ask


def top(view: View) -> str:
    """The likeliest cause of the only complaint."""
    (complaint,) = view["complaints"]
    return str(complaint["causes"][0]["id"])


def steps_of(book: Book, fix: str) -> list[str]:
    """The steps of a fix as text, with the cautions that stand at each."""
    return [
        " ".join([step.text, *(book.cautions[name] for name in (*step.cautions, *book.fixes[fix].cautions))])
        for step in book.fixes[fix].steps
    ]


def place_of(pattern: str, texts: list[str]) -> int:
    """Which of the texts says it first."""
    found = [place for place, text in enumerate(texts) if re.search(pattern, text, re.IGNORECASE)]
    assert found, f"nothing says {pattern}: {texts}"
    return found[0]


# Suspension


def test_thirty_percent_of_a_fork_of_170_mm_is_51_mm(book: Book) -> None:
    """Travel times share; the note at the limit says the same figure. Common practice, no source."""
    row = trade_value("sag-30-of-170")
    assert row.number == row.given("travel_mm") * row.given("sag_percent") / 100 == 51
    assert "30 % of a fork of 170 mm is 51 mm" in book.limits["sag"].note


@pytest.mark.parametrize("end", ["fork", "shock"])
@pytest.mark.parametrize(("riding", "start"), [("gravity", 30), ("cross-country", 25)])
def test_the_usual_start_of_the_sag_lies_within_the_books_limit(
    riding: str, start: float, end: str, book: Book
) -> None:
    """30 % for gravity riding, 25 % for cross-country. Common practice, no source."""
    profile = {"riding": (riding,), "sprung-end": (end,), "suspension": ("full",)}
    assert band_of(book.checks["measure-sag"], start, book, profile) == "right"


def test_a_pressure_chart_is_a_start_and_the_ruler_decides(book: Book) -> None:
    """Filled by the chart, trimmed until ruler and ring say that the sag is right. Common practice, no source."""
    fix = book.fixes["set-air-and-sag"]
    texts = [step.text for step in fix.steps]
    assert place_of("chart.* start only", texts) < place_of("ring's way against travel", texts)
    assert any("sag" in step.limits for step in fix.steps[place_of("ring's way", texts) :])
    assert {"ruler", "measuring-ring"} <= set(fix.tools)
    assert "a pressure chart is only the start" in book.limits["sag"].note


# Shifting


def test_new_cables_that_slackened_are_taken_up_at_the_barrel(book: Book, after: Any) -> None:
    """The chain then hesitates towards the larger sprocket; tension, turned out. Common practice, no source."""
    view = after(
        "shifts-badly",
        {"shifting": "mech", "speeds": "11-12", "recent-work": "new-cables"},
        {"rider-slow-shift-way": "larger"},
    )
    assert top(view) == "gear-cable-settled"
    assert view["plan"][0]["fix"] == "set-cable-tension"
    texts = [step["text"] for step in view["plan"][0]["steps"]]
    turning = texts[place_of("barrel", texts)]
    assert re.search(r"larger sprocket.*barrel adjuster out, anticlockwise looking at its end", turning)
    assert re.search("pedalling and shifting", turning)
    assert place_of("limit screws alone", texts) < place_of("barrel", texts)


def test_limit_screws_are_no_cure_for_a_slack_cable(book: Book) -> None:
    """They end the range and do not index. Common practice, no source."""
    cures = [rung.fix for rung in book.causes["gear-cable-settled"].ladder]
    screws = [
        fix for fix in cures for text in steps_of(book, fix) if re.search("turn.*limit screw", text, re.IGNORECASE)
    ]
    assert "set-end-stops" not in cures
    assert not screws


# Brakes


def test_a_constant_rub_is_a_caliper_off_centre_first(after: Any) -> None:
    """Common practice, no source."""
    view = after("brake-drags", PADS_RUB, {"rider-when-it-rubs": "always"})
    assert top(view) == "caliper-off-centre"


def test_a_rub_now_and_then_is_a_bent_disc(after: Any) -> None:
    """Once a wheel turn. Common practice, no source."""
    view = after("rubs-now-and-then", PADS_RUB, {"spin-and-listen": "once-a-turn"})
    assert top(view) == "disc-bent"


def test_a_caliper_is_centred_with_both_bolts_loose_and_tightened_in_turn(book: Book) -> None:
    """Loosened, centred, tightened a little in turn. Common practice, no source."""
    texts = steps_of(book, "centre-caliper")
    loosened = place_of("loosen both caliper bolts", texts)
    centred = place_of("pull the lever and hold it", texts)
    assert loosened < centred < place_of("tighten a little in turn", texts)


def test_a_bent_disc_is_trued_only_so_far(book: Book) -> None:
    """Past its limit, or creased, a new one goes on; a little at a time. Common practice, no source."""
    texts = steps_of(book, "true-disc")
    assert "{disc-runout-reject}" in texts[0]
    assert re.search("crease.*is not bent back, a new disc goes on", texts[0])
    assert re.search("by a hair.*bent too far cracks", texts[place_of("bend that place back", texts)])
    assert [rung.fix for rung in book.causes["disc-bent"].ladder] == ["true-disc", "replace-disc"]


# Headset


def test_a_loose_headset_is_found_by_rocking_with_the_brake_held_and_the_bars_turned(book: Book) -> None:
    """A finger across the gap. Common practice, no source."""
    asks = [check.ask for check in book.findings["play-at-headset"].checks if check.by == "mechanic"]
    words = ("brake held", "bars (turned|at)", "rock", "finger")
    assert any(all(re.search(word, ask, re.IGNORECASE) for word in words) for ask in asks)


def test_the_stem_is_loosened_before_the_cap_and_clamped_after_it(book: Book) -> None:
    """Published: threadless headsets are tightened cap first, stem bolts after (trade value headset-preload-order)."""
    assert trade_value("headset-preload-order").value == "top cap; stem bolts"
    texts = [step.text for step in book.fixes["set-preload"].steps]
    loosened = place_of("loosen the stem", texts)
    cap = place_of(r"turn .*in .*small steps", texts)
    clamped = place_of("tighten the clamp bolts", texts)
    assert loosened < cap < clamped


def test_the_cap_is_turned_by_hand_until_the_play_is_just_gone(book: Book) -> None:
    """Too far pulls the star nut. Common practice, no source."""
    texts = steps_of(book, "set-preload")
    assert re.search("by hand in small steps until the play is just gone", texts[place_of("by hand", texts)])
    assert re.search("too far pulls the star nut", texts[place_of("star nut", texts)])


def test_play_that_stays_leads_to_the_gap_above_the_steerer(book: Book, after: Any) -> None:
    """Published: the gap is 2 to 4 mm, at best 3 (trade value top-cap-gap); 3 to 4 is common practice, no source."""
    assert "gap above the steerer" in book.fixes["set-preload"].if_not
    for profile in profiles_over(book, ["steerer", "headset"]):
        assert gap_bands(book, profile) == {"right"}
    assert "correct-steerer-gap" in [rung.fix for rung in book.causes["steerer-gap-wrong"].ladder]


def gap_bands(book: Book, profile: Profile) -> set[str | None]:
    """What gaps of 3 to 4 mm are called under a profile, by limit and by measurement."""
    low, high, _, _ = numbers(book.limits["top-cap-gap"], profile)
    assert low is not None
    assert high is not None
    assert low <= 3
    assert high >= 4
    return {band_of(book.checks["measure-steerer-gap"], gap, book, profile) for gap in (3.0, 3.5, 4.0)}


# Clamped parts


def test_bolts_of_one_bike_may_say_5_6_or_15(book: Book) -> None:
    """Each lies in some limit; what is right for an axle is far too much for a stem. Common practice, no source."""
    bands = {limit.id: (limit.low or 0, limit.high) for limit in book.limits.values() if limit.unit == "N.m"}

    def held(value: float) -> set[str]:
        return {name for name, (low, high) in bands.items() if high is not None and low <= value <= high}

    assert "stem-steerer-clamp" in held(5) & held(6) - held(15)
    assert "through-axle-torque" in held(15) - held(6)


def test_the_value_marked_on_the_part_governs_wherever_a_torque_is_given(book: Book) -> None:
    """The screens say so below every plan with a limit, and the caution names what too much does.

    Common practice, no source.
    """
    assert re.search("marking on the part governs", GOVERNS, re.IGNORECASE)
    assert re.search("value marked on the part.*governs", book.cautions["marking-governs"])
    assert "too much cracks, rounds or strips" in book.cautions["never-more-torque"]
    assert "two parts of one bike may differ threefold" in book.cautions["never-more-torque"]


SOUND = {
    "look-at-clamp-and-part": "sound",
    "compare-size-marks": "matches",
    "run-bolt-alone": "free",
}


def test_slip_at_the_right_torque_calls_for_paste_and_never_for_more(after: Any) -> None:
    """A sound bar in a sound clamp, sizes right, bolts at their value. Common practice, no source."""
    view = after(
        "part-slips",
        {"slipping-part": "bar", "clamped-parts": "carbon", "frame": "carbon", "headset": "threadless"},
        {"click-clamp-bolts": "at", "wipe-clamp-faces": "smooth", **SOUND},
    )
    assert view["plan"][0]["fix"] == "apply-friction-paste"
    assert "never-more-torque" in [one["id"] for one in view["cautions"]]
    said = " ".join(step["text"] + " ".join(step["cautions"]) for step in view["plan"][0]["steps"])
    assert "Never more torque" in said


MORE_TORQUE = re.compile(
    r"(?<!never )(?<!no )(?:more|higher|extra) torque|tighten (?:harder|beyond|above)", re.IGNORECASE
)


def test_no_step_of_the_book_asks_for_more_torque(book: Book) -> None:
    """Neither does a fix say where to go on. Common practice, no source."""
    for fix in book.fixes.values():
        for text in texts_of(fix):
            assert not MORE_TORQUE.search(text), (fix.where, text)


def test_the_words_for_more_torque_are_recognised() -> None:
    """The test above can fail, and lets the caution stand."""
    assert MORE_TORQUE.search("Tighten harder, with more torque.")
    assert not MORE_TORQUE.search("Paste, and never more torque.")


def texts_of(fix: Fix) -> Iterator[str]:
    """All that a fix says."""
    yield from (step.text for step in fix.steps)
    yield fix.works_if
    yield fix.if_not


# Tyres


def test_a_plug_stands_proud_with_both_tails_and_lasts_better_with_cement(book: Book) -> None:
    """Common practice, no source."""
    texts = steps_of(book, "plug-tread")
    assert place_of("cement.*lasts better|lasts better.*cement", texts) < place_of("both tails.*proud", texts)


def test_a_tyre_comes_off_without_air_out_of_the_well_with_two_or_three_plastic_levers(book: Book) -> None:
    """All air out, bead in the middle of the rim, two or better three. Common practice, no source."""
    texts = steps_of(book, "replace-tube")
    off = texts[place_of("two, better three plastic levers", texts)]
    assert re.search("all air out.*both beads pushed into the middle of the rim", off, re.IGNORECASE)
    levered = [name for name, fix in book.fixes.items() if "tyre-levers" in fix.tools]
    steel = [name for name in levered if "steel lever" in " ".join(steps_of(book, name)).lower()]
    assert len(levered) > 3
    assert not steel
