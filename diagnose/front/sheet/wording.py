"""What the sheets say that stands neither in the rule book nor on the screens."""

from __future__ import annotations

TITLE = "Job sheet"
UNDER = "{label} · printed {printed}"
LOOK_AGAIN = "When it goes on: look again at all that was left finger-tight."
IS_OVER = "Over: {how}."
BIKE = "Bike: {text}."
FOUND = "Found: {text}."
LIKELY = "Of 100 such bikes: {text}."
LIKELY_OF = "{complaint}, of 100 such bikes: {text}."
FINDINGS = "Findings"
FINDINGS_HEAD = ("what was looked at", "before", "after", "who")
BY = {"mechanic": "stand", "rider": "rider"}
UNTOLD = "Could not be told: {text}."
GAUGE = "{name}"
GAUGE_AFTER = "{name}, after"
RESULT_OF = "{complaint} {result}"
DONE_HERE = "{names}: {results}."
DONE_EARLIER = "At an earlier visit: {names}: {results}."
HAND_ON = "Stop here and hand it on"
PLAN = "Plan, in this order"
FIRST_CHECK = "First look: {text}"
FIX = "{place}. {name}"
FIX_PROMISES = "Puts it right on {chance} of 100 such bikes, {minutes} with closing up and test."
TESTED = "Repeat test:   gone ____   still there ____"
REPEAT = "REPEAT TEST after each: {text}"
THEN = "If it is still there, or that could not be done, so many of 100 bikes that come to it:"
PARTS_HEAD = ("part", "pieces", "each", "for", "fitted")
PRICE = "{low:g} to {high:g} {currency}"
ESTIMATE = "In all: {text}"
TORQUES = "Torque list: each set with the wrench in hand, and signed"
TORQUES_HEAD = ("bolt", "set to", "who says so", "set, N·m", "signed")
KIND = {"maximum": ", at most", "minimum": ", at least"}
ABOUT = "{quantity}: {note}."
TEST_RIDE = (
    ("test ride in stages: levers, rocked at standstill, walked, slowly, then as in the complaint",),
    ("NO test ride; the bike is tagged, and goes out carried or pushed",),
)
"""Where it may be ridden, and where not."""
SIGNATURES = ("Checked by, and when", "Brakes and steering seen by a second pair of eyes")
