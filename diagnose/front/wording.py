"""What the screens say that does not stand in the rule book: one place for all of it."""

from __future__ import annotations

KEYS = {
    "c": "can't tell",
    "w": "why this",
    "l": "what is likely",
    "p": "plan so far",
    "b": "back",
    "a": "already done",
    "x": "end the job",
    "q": "leave",
    "h": "keys",
}
"""Key to what it does, at any question."""

VERDICT = {
    "ride": "No reason found not to ride it",
    "care": "Ride with care only",
    "stop": "DO NOT RIDE",
    "not-cleared": "NOT CLEARED to ride: a danger check could not be done",
}

STOP_UNTIL = "DO NOT RIDE until this has been looked at"

BASIS = {
    "standard": "standard",
    "handbook": "handbook",
    "maker": "maker's figure",
    "common practice": "common practice",
    "memory": "from memory, check it",
}

GOVERNS = "The marking on the part governs, then the maker's manual, then these figures. A marking is often a maximum."
ASK_COMPLAINT = "What does the rider complain of? Type a few words, or Enter for the list."
ASK_MORE = "Anything else the rider complains of? Type it, or Enter to go on."
ASK_LABEL = "A label for this job, your own (no names needed). Enter for none."
NO_MATCH = "Nothing in the book sounds like that. Try other words, or Enter for the list."
WHICH = "Which is it? None of these: Enter."
ASK_LOOSE = "What is loose or apart right now? One line, or Enter for nothing."
LEFT = "Kept. Go on later with: diagnose stand --case {case}"
WRONG_KEY = "That key does nothing here. Keys: {keys}"
NO_BACK = "There is nothing to go back to."
TOOK_BACK = "Taken back."
LOOSE_READ = "Left loose or apart last time: {text}"
CANNOT = "can't tell"
DONE_GONE = "done, and the repeat test passed"
DONE_STILL = "done, and it is still there"
NOT_HERE = "cannot be done here"
REPEAT = "Repeat test: {text}"
STILL_WHICH = "Repeat test for '{name}':"
RESULT = {"better": "better for a while", "same": "no change", "worse": "worse since"}
ALREADY_WHICH = "What was done already? Type a few words, Enter to go back."
ALREADY_RESULT = "And then it was ..."
ENDINGS = {
    "handed-off": "handed off",
    "not-reproduced": "could not be shown again",
    "declined": "the rider does not want it done",
    "uneconomic": "not worth its cost",
    "collected": "collected as it is",
}
FINAL_CHECK = (
    "Before it goes out: bars and stem tight and straight, wheels held, both brakes bite, tyres, cranks and pedals, seat, gears run "
    "through, lights. Everything that was opened is closed; each torque set is ticked off."
)
SAFETY = "If a life hangs on it and you are not sure, stop: give it to a qualified mechanic. Local rules and the maker's manual come first."
NOT_A_READING = "That is not a reading here"
OPEN_JOBS = "Open jobs. A number goes on with one, Enter begins a new one."
STALE_ENGINE = "(plain chaining stands in for the engine; results are the same)"
