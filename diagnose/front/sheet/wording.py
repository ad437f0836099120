"""What the sheets say that stands neither in the rule book nor on the screens."""

from __future__ import annotations

TITLE = "Job sheet"
UNDER = "{label} · printed {printed}"
CUT = "{text} ... (cut)"
CUT_IS_ON_SCREEN = "{under} · cut or left out here is on the screen: diagnose jobs show {case}"
NEWEST = "Notes, the newest {some} of {all}"
NOTES_ON_SCREEN = "Notes: {all}, on the screen."
LOOK_AGAIN = "When it goes on: look again at all that was left finger-tight."
IS_OVER = "Over: {how}."
WORDS = 'The rider said: "{text}".'
BIKE = "Bike: {text}."
FOUND = "Found: {text}."
LIKELY = "Of 100 such bikes: {text}."
LIKELY_OF = "{complaint}, of 100 such bikes: {text}."
FINDINGS = "Findings"
FINDINGS_HEAD = ("what was looked at", "before", "after", "who")
BY = {"mechanic": "stand", "rider": "rider"}
NORMAL = {"mechanic": "Normal: {text}.", "rider": "Normal, on the rider's word: {text}."}
SEEN = {"mechanic": "Seen: {text}.", "rider": "On the rider's word: {text}."}
IN_LINE = "{name}: {value}"
THEN_SEEN = "{name}: {value}, then {after}"
NORMAL_BELOW = "What was normal stands in the note that goes with the bike."
NORMAL_COUNT = "Normal: {count} more that were looked at."
UNTOLD = "Could not be told: {text}."
GAUGE = "{name}"
GAUGE_AFTER = "{name}, after"
RESULT_ALL = "all {result}"
RESULT_OF = "{complaint} {result}"
DONE_HERE = "{names}: {results}."
DONE_EARLIER = "At an earlier visit: {names}: {results}."
HAND_ON = "Stop here and hand it on"
PLAN = "Plan, in this order"
FIRST_CHECK = "First look: {text}"
FIX = "{place}. {name}"
FIX_PROMISES = "Puts it right on {chance} of 100 such bikes, {minutes} with closing up and test."
TESTED = "Repeat test:   gone ____   better ____   still there ____"
REPEAT = "REPEAT TEST after each: {text}"
THEN = "If it is still there, or that could not be done, so many of 100 bikes that come to it:"
PARTS_HEAD = ("part", "pieces", "each", "for", "fitted")
PRICE = "{low} to {high} {currency}"
TORQUES = "Torque list: as marked on the part, else as here; each set with the wrench in hand, and signed"
TORQUES_HEAD = ("bolt", "set to", "who says so", "set, N·m", "tool, signed")
INSTEAD = "or: {text}"
KIND = {"maximum": ", at most", "minimum": ", at least"}
ABOUT = "{quantity}: {note}."
SIGNATURES = ("Checked by, and when", "Brakes and steering seen by a second pair of eyes")

# --- the rider's note ----------------------------------------------------------------------------------------------

TEST_RIDE_LATER = (
    "put right, and may be ridden: test ride in stages: levers, rocked, walked, slowly, then as in the complaint",
    "not put right: NO test ride; the bike is tagged, and goes out carried or pushed",
)
"""Of the last check, where the bike is not to be ridden before what is planned is done."""
RIDER_TITLE = "For the rider"
RIDER_NOTHING = "Nothing was noted of this bike yet."
RIDER_SAID = "What you told us"
RIDER_GONE = "{text}: gone, as our test showed."
RIDER_MAY = "May it be ridden?"
RIDER_OLD_PARTS = "The old parts go back to you, as you wished."
RIDER_VERDICT = {
    "ride": "We found no reason not to ride it.",
    "care": "Ride with care, and only as far as you must.",
    "stop": "DO NOT RIDE IT.",
    "not-cleared": "DO NOT RIDE IT YET: we could not look at everything that your safety hangs on.",
}
RIDER_HOME = "Push it or carry it."
RIDER_BECAUSE = "Something may be wrong with {about}."
RIDER_FOUND = "What we found"
RIDER_FOUND_AT = "It came from {about}."
RIDER_DONE = "What we did"
RIDER_DID = "Work on {about}"
RIDER_CURED = "We repeated the test that showed the fault, and it passed."
RIDER_ENDED = {
    "handed-off": "This needs somebody with other tools or other parts than we have here.",
    "not-reproduced": "We could not make it show again.",
    "declined": "The rest was not done, as you wished.",
    "uneconomic": "To put it right would cost more than it is worth.",
    "collected": "You collected it before it was put right.",
}
RIDER_PART = "a part"
RIDER_WAITS = "What it waits for"
RIDER_LEFT = "Still to be done"
RIDER_LOOK = "What we look at next, before we put anything right"
RIDER_NOT_LOOKED = "Not looked at any more"
RIDER_UNTIL = "DO NOT RIDE IT until we have looked at it."
RIDER_MAY_BE = "Not ruled out yet. {text}"
RIDER_DECLINED = "Not done"
RIDER_NOT_WANTED = "Not done, as you wished"
RIDER_MUST = "{text} (for your safety)"
RIDER_GO = "Where it should go"
RIDER_GO_TO = "To {to}, {urgency}."
RIDER_AFTER = "From now on"
RIDER_NOTICE = (
    "If it comes again, note when: pedalling, coasting, braking, turning, wet, cold, loaded. A film of it helps."
)
RIDER_FIRST_RIDES = "On the first rides listen and feel: if anything knocks, slips or rubs, come back with it."
RIDER_STOP = "If a brake, a wheel or the steering is not as it was, stop and do not ride on."
RIDER_BACK = "Come back with this number: {case}."
RIDER_SIGNS = ("I was told that it must not be ridden so, or only with care",)
