"""What the screens say that does not stand in the rule book: one place for all of it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from diagnose.casework.shapes import Ago, Doer, Origin

# --- keys ----------------------------------------------------------------------------------------------------------

HINTS = {
    "b": "back",
    "w": "why",
    "l": "likely",
    "p": "plan",
    "a": "already",
    "q": "leave",
    "h": "help",
}
"""The keys that are named below every question, in that order."""
KEYS = {
    "1 2 3": "an answer; of several looks the first that is not as it should be, or cannot be told: those above it are",
    "c": "can't tell: always allowed, and no evidence either way",
    "b": "back: take the last answer back; of several looks told with one Enter the last, then the one before it",
    "w": "why this, and how to go about it",
    "l": "what is likely now, and why",
    "p": "the plan so far, and what it may take",
    "a": "already done: what was tried before the bike came",
    "m": "one more complaint",
    "n": "a note, kept with the job",
    "x": "end the job in another way, or leave it waiting for a part",
    "q": "leave; the job is kept",
    "h": "these keys",
    "Enter": "show this screen again; where a line begins with Enter, what that line says",
}
"""Every key, in words."""
DID = {
    "c": "can't tell",
    "b": "back",
    "w": "why",
    "l": "likely",
    "p": "plan",
    "a": "already done",
    "m": "one more complaint",
    "n": "a note",
    "x": "end the job",
    "q": "leave",
    "h": "help",
}
"""What is shown beside the prompt when the key was pressed."""
SHOWS = ("w", "l", "p", "h")
"""The keys that show something and come back."""
CANNOT = "can't tell"
KEYS_HEAD = "Keys"
NUMBERS = "{first} to {last}"
WRONG_KEY = "That does nothing here. Keys: {keys}."
WITH_ENTER = "Press Enter after these letters, too."
MORE_ANSWERS = "more answers"
MORE = "More: any key"
GO_ON = "Back to the question: any key"
ENTER = "Enter"

# --- the start -----------------------------------------------------------------------------------------------------

OPEN_JOBS = "Open jobs"
NEW_JOB = "a new job"
NO_LABEL = "no label"
OPEN_JOB = "{id}  {when}  {label}"
ASK_LABEL = (
    "The label on the bike's tag. After it, what the bike is and what was done to it or happened to it lately: what "
    "is typed here is not asked. 214, trekking e-bike, hydraulic discs, hub gear, new chain (or: nothing done). No "
    "name is needed; only Enter: no label."
)
HEARD = "Taken from what was typed: {text}. Wrong? b takes it back."
WHICH_WRONG = "Which of what was taken is wrong?"
ONE_WRONG = "one-wrong"
ALL_WRONG = "all of it: ask for each"
HEARD_OF = "Noted: {text}."
OPENED = "Job {case}: write it on the tag."
KEEPS_BENCH = "This job keeps the skill and tools it was opened with."
GOING_ON = "Job {case}, {label}: {complaints}"
LAST_TOLD = "Last told: {text}"
LOOSE_READ = "SEE TO THIS FIRST, left loose or apart: {text}"
OPEN_READ = "Open when it was left: {text}."
IS_OVER = "Job {case} is over: {how}."
IS_CURED = "Job {case} is over. {text}"
REOPEN = "open it again"
COMES_FROM = "What does it come from, as far as it is known?"
ORIGINS: Final[dict[Origin, str]] = {
    "own-work": "our own work",
    "part": "the part that was fitted",
    "new-fault": "a new fault",
}
NOT_KNOWN_YET = "not known yet"
IT_IS_BACK = "the bike came back with it: look at it afresh"
LEAVE_IT = "leave it"
NO_TOOL = 'The book knows no tool "{name}".'
TOOLS_KNOWN = "Known: {text}."
CHANGED_ELSEWHERE = "This job was changed somewhere else. That last key was not stored; this is how the job stands now."
GREW_ELSEWHERE = "Something was added to this job somewhere else. This is how it stands now."

# --- the complaint and the bike ------------------------------------------------------------------------------------

ASK_COMPLAINT = "What does the rider complain of? One thing, the worst first."
IN_THE_SAME_WORDS = "In the same words, by its number:"
A_FEW_WORDS = "A few words, then Enter."
WHOLE_LIST = "all of them, by the part of the bike"
ASK_MORE = "Anything else the rider complains of?"
RANK_HOW = "The first counts as the worst. A number: that one troubles the rider most."
WORST_NOW = "The worst now: {text}."
NO_MORE_COMPLAINTS = "no, go on"
TOLD_NO_MORE = "no other complaint"
NO_MORE = "{most} complaints are taken together. Finish these, then open another job."
NOTED = "Noted: {text}."
NOTED_BEFORE = "That is noted already."
TYPED_BEFORE = "The rider's words: {text}"
TYPED = "the rider's words"
NO_MATCH = "The book knows nothing like that. Other words; a number shows all it knows, by the part of the bike."
NONE_OF_THESE = "none of these: other words"
OTHER_WORDS = "other words"
WHERE = "Where on the bike, or what kind of thing?"
OTHER_PLACE = "somewhere else"
ELSEWHERE = "Something else"
FIRST_COMPLAINT = "First the complaint; until then there is nothing to show."
GATE = "First: is it the right bike? If it has a motor: assist off; a battery that is whole, dry and cool comes out."
ANOTHER = "Another one?"
THAT_IS_ALL = "that is all"
WHY_GATE = "A fall, a loose wheel or bar, a dead brake, a bad tyre or battery comes first, and changes what is likely."
WHY_FACT = (
    "The answer changes what is likely for this bike, or which figures hold for the next step. What does not matter is "
    "not asked."
)

# --- settings ------------------------------------------------------------------------------------------------------

SETTINGS_FILE = "Settings: {file}"
SETTINGS_FROM = {
    "option": "named by --settings",
    "environment": "named by DIAGNOSE_SETTINGS",
    "usual": "the usual place",
}
SETTINGS_NONE = (
    "There is no such file: the book's own figures hold. `diagnose settings --example` prints one to begin with."
)
SETTING_SAID = "{key}: {value}"
SETTING_BOOK = "{key}: {value} (not said)"
SETTING_UNSAID = "{key}: not said"
SHOP_LACKS = "Tools that the shop lacks: {text}."
SHOP_HAS_ALL = "The shop has every tool of the book."
SETTINGS_SOUND = "The settings are sound."

# --- the counter ---------------------------------------------------------------------------------------------------

FROM_COUNTER = "From the counter to the stand: what the rider said is kept, and looked at again where it matters."
AT_STAND = "Job {case} is at the stand already. Go on with:"
PROMPT_OF = "Question {number} of at most {most}."
LOOK_ROUND = "Danger first: walk round it with the rider. Fallen, hit? Both brakes as they used to be? Anything loose?"
WHY_AT_COUNTER = (
    "The answer could change whether it may be ridden, or what is put right first. Nothing else is asked here."
)
WHY_SUM = (
    "Up to this sum nobody has to ring. Before the job would come to more, the stand says that the rider is to be rung."
)
TICKET = "TICKET, job {case}, {label}"
RIDES = "May it be ridden"
PROBABLY = "Probably"
PROBABLY_OF = "Probably, {complaint}"
TAKES = "What it will take, on eight of ten such bikes"
TAKES_MINUTES = "{low:.0f} to {high:.0f} minutes of work"
TAKES_PARTS = "parts for {low:.0f} to {high:.0f} {currency}"
TAKES_PRICE = "together {low:.0f} to {high:.0f} {currency}, at the labour rate"
TAKES_WORK = "{low:.0f} to {high:.0f} {currency}, at the labour rate, without parts"
FOR_DIAGNOSIS = "{minutes:g} of these minutes are for finding the cause."
AT_LEAST = "The least that is charged is {sum} {currency}."
TAKES_MORE = "What the stand looks at first will narrow this, or show that somebody else has to do it."
NO_ESTIMATE = "No estimate: it has to be given to somebody else."
AGREED = "Agreed without ringing: up to {sum} {currency}."
AGREED_AT = "Agreed without ringing: up to {sum} {currency}, {when}."
DECLINED_AT = "The rider does not want it done: {name}, {when}."
NOT_WANTED = "the rider does not want it done"
NOT_AGREED = "No sum is agreed: ring before anything is done."
MAY_CROSS = "It may come to more: ring before that."
BRING_OR_ORDER = "To bring, to have at hand, or to order"
TO_BRING = "the rider brings: {name}"
PART_WANTED = "{count} {name}, {low} to {high} {currency} each, on {chance} of 100: {fix}"
NO_PARTS = "no parts that are likely"
STAND_BEGINS = "The stand begins with"
NOT_TOLD = "The rider could not tell"
NOT_ASKED = "Not asked"
BY_A_MECHANIC = "everything that a mechanic has to see or measure"
ASK_CEILING = "Up to what sum may the work go without ringing? A sum in {currency}, then Enter."
CEILING_NONE = "no sum: ring first"
CEILING_KEEP = "as agreed"
NOT_A_SUM = "That is no sum. Write it in figures, such as 80 or 79.50."
HERE_BEFORE = "Here before: {case}, {when}, {told}: {state}."
DONE_THEN = "Done then: {names}."
SAME_AGAIN = "If it is the same complaint again, it came back: leave this job (q), and open that one again with:"
STILL_OPEN = "That job is not over. If this is the same visit, leave this one (q) and go on with that:"
COMEBACK_COMMAND = "diagnose jobs comeback {case}"
TEST_RIDE = (
    ("test ride in stages: levers, rocked at standstill, walked, slowly, then as in the complaint",),
    ("NO test ride; the bike is tagged, and goes out carried or pushed",),
)
"""Of the last check: where it may be ridden, and where not."""
SECOND_EYES = "brakes and steering, where they were touched: seen by a second pair of eyes"
ASK_NEEDED = "What is it used for, and needed by when? One line, then Enter. No name is needed."
NEEDED_NOTHING = "no hurry"
NEEDED_KEEP = "as told"
ASK_CHANGE = "This ticket is complete. Change anything?"
CHANGE = ("the sum", "what it is used for, and needed by when", "whether old parts go back")
CHANGE_NOTHING = "no"
NEEDED_SO_FAR = "So far: {text}"
ASK_OLD_PARTS = "Old parts that are replaced: back to the rider?"
OLD_PARTS = {"back": "yes, keep them", "leave": "no, they may go"}
NEEDED = "Used for, needed by: {text}"
OLD_BACK = "The rider wants the old parts back: keep them with the bike."
TICKET_KEPT = "The ticket is kept. At the stand:"
WHICH_JOB = "--json prints a job that is there."
WHICH_HOW = "Name it with --case."
INTAKE_COMMAND = "diagnose intake --case {case}"

# --- questions -----------------------------------------------------------------------------------------------------

VERDICT = {
    "ride": "No reason found not to ride it.",
    "care": "RIDE WITH CARE ONLY.",
    "stop": "DO NOT RIDE.",
    "not-cleared": "NOT CLEARED TO RIDE: a danger check is not done yet, or could not be done.",
}
STOP_UNTIL = "NOT CLEARED TO RIDE until this has been looked at."
MAY_BE = "It may be: {text}"
MAY_BE_UNKNOWN = "It may be something dangerous that is not in the book."
DANGER_FIRST = "Danger first."
THIS_FIRST = "This first."
TOGETHER = "{count} looks, in this order:"
AS_IT_SHOULD_BE = "As it should be: {text}"
ALL_AS_THEY_SHOULD = "each of the {count} was looked at and is as it should be"
ONE_IS_NOT = "A number: the first that is not, or is not clear. It is asked alone."
TOLD_RIGHT = "Told as it should be: {names}."
NOW = "Likeliest now: {causes}."
NOW_OF = "{complaint}, likeliest now: {causes}."
OF_100 = "{name}, {share} of 100"
GONE = "{complaint}: gone."
TELLS = "Tells apart: {causes}."
TYPE_READING = "Type the reading, {range}, then Enter."
TYPE_READINGS = "Type {range}, blanks between them, then Enter."
TYPE_WORD = "Type it, {range}, then Enter."
READING_OF = "Reading {place} of {count}: {text}"
TAKEN = "{text} {told}"
RAW = "{name}: {typed}"
LEFT_OUT = "left out"
ENTER_LEAVES_OUT = "leave it out"
READ_AS = "{reading}: {value}"
FURTHER = "{name}: {text}"
RECKONED = "Worked out from the measurements: {text}"
TO_RECKON = "To work it out from measurements: diagnose bench {sum}"
NOT_A_READING = "That cannot be the reading"
OUTSIDE = "{value} is outside {range}. Look at the reading and its unit again."
OUTSIDE_AGAIN = "{value} is outside {range} too."
READS_SO = "that is what it reads: kept, counts as can't tell, and goes to other eyes or another gauge"
TYPE_AGAIN = "no, type it again"
OUTSIDE_TOLD = "{typed}, outside the range of the book"
NEEDS = "Needs: {text}."
TOOLS = "Tools: {text}."
FROM = "From: {title}."
NAME_FROM = "{name} (from: {title})"
LIMIT = "{text}: {quantity} ({basis})"
BASIS = {
    "standard": "standard",
    "handbook": "handbook",
    "maker": "maker's figure",
    "common practice": "common practice",
    "memory": "from memory: look it up",
}

# --- fixes ---------------------------------------------------------------------------------------------------------

FIX = "FIX: {name}"
FIXES = "{count} FIXES IN ONE GO, one repeat test at the end"
FIX_OF = "{place}. {name}"
PUTS_RIGHT = "Puts it right on {chance} of 100 such bikes. {minutes} with closing up and test."
MUST_TAKE = "{minutes} with closing up and test."
FOR_CAUSE = "For: {names}."
MINUTES = "{low} to {high} min"
FIRST = "First: {text}"
PART = "Parts: {count} {name}, {low} to {high} {currency} each."
WORKED_IF = "Worked if: {text}"
IF_NOT = "If not: {text}"
HAND_OFF_WHEN = "Hand off when: {text}"
GOVERNS = "The marking on the part governs, often as a maximum; then the maker's manual; then these figures."
ANYWAY = {
    "must": "Whatever the complaint is, this must be done: {because}",
    "should": "Whatever the complaint is, this should be done: {because}",
    "can wait": "Found as well, and it could wait: {because}",
}
ALSO = "Also found, whatever the complaint is"
ALSO_OPEN = "Found, and not done yet: on the rider's note"
ALSO_ONE = "{level}: {name}. {because}"
DONE = "done"
REPEAT = "REPEAT TEST: {text}"
DONE_GONE = "done, repeat test passed: it is gone"
DONE_STILL = "done, repeat test shows it still"
DONE_BETTER = "done, better: some of it is gone, something is left"
DONE_ROUND = "done, and it holds: on with the round"
DONE_NOT_HELD = "done, and it does not hold"
THEN_ROUND = "Then on with the round: what it has not come to yet is looked at all the same."
DONE_TESTED = "done: on to the repeat tests"
NOT_HERE = "cannot be done here"
TELL_LOOK = "tell what a look under First showed"
WHICH_LOOK = "Which look?"
TEST_GONE = "gone"
TEST_STILL = "still there"
TEST_BETTER = "better, something is left"
TEST_OF = "Repeat test of: {name}"
TEST_NOT_RIDDEN = (
    "The other is not gone and the bike is not to be ridden: nobody rides for this test either. Stand, or walk it."
)
TEST_NOT_MADE = "repeat test not made"
WHICH_NOT = "Which of them cannot be done here?"

CONSENT = "RING FIRST: this goes beyond the sum that was agreed."
CONSENT_LINE = (
    'To read out: "It needs this: {fixes}. With it the job comes to {together} {currency} at most; agreed were '
    '{agreed}. May we?"'
)
CONSENT_FIRST = 'To read out: "It needs this: {fixes}. The job comes to {together} {currency} at most. May we?"'
CONSENT_YES = "yes: up to {together} {currency}"
CONSENT_NO = "no: it is not done"
CONSENT_NOBODY = "no answer: the job waits for it"
CONSENT_WAITS = "the rider's word on {together} {currency}: {fixes}"

# --- one key away --------------------------------------------------------------------------------------------------

WHY = "Why this"
WHY_FIRST = "First, because: {text}"
HOW = "How: {text}"
WOULD_MEAN = "What each answer would make likeliest, of 100 such bikes:"
ONE_MEANS = '"{value}", on {chance} of 100: {tops}'
RUNNER_UP = "Next best, {minutes} min dearer: {text}"
CHANGES = "Would put another fix first:"
ONE_CHANGES = '{text} "{value}"'
FIX_WHY = "For what it costs, it puts more bikes right than anything else here: {chance} of 100."
DONE_WHY = "Every repeat test passed. What was opened is checked before the bike goes out."
HAND_OFF_WHY = "Trying on here would cost more than it promises, or is not safe."
FIGURES = "About the figures:"
LIKELY = "{complaint}: of 100 such bikes"
NOT_IN_BOOK = "not in the book"
MOVED = "How the answers moved it, of 100:"
ONE_MOVED = "{finding}: {value}"
MOVE = "{name} {before} to {after}"
NOTHING_MOVED = "nothing"
RULED_OUT = "Ruled out: {name}. {because}"
TO_SEE = 'For "{name}" ({share}) one would have to see: {check} "{value}"'
PLAN = "The plan so far"
PLAN_HOW = "Each puts right so many of 100 bikes that come to it:"
PLAN_ITEM = "{name}: {chance} of 100, {minutes}"
HANDED_ON_FIRST = "Nothing is tried or ridden here: it is handed on as it is."
NO_FIX = "No fix is worth trying here."
NOTHING_LEFT = "Nothing is left to do: every repeat test passed."
ALL_TOOLS = "Tools for all of it: {text}."
TOOLS_AHEAD = "Tools that may be wanted: {text}."
ESTIMATE = (
    "{low:.0f} to {high:.0f} min in all, half the time under {middle:.0f}; parts {cheap:.0f} to {dear:.0f} {currency}."
)
ESTIMATE_NO_PARTS = "{low:.0f} to {high:.0f} min in all, half the time under {middle:.0f}; no parts."
NO_QUOTE = "An estimate, not a quote."
ENDS_IN_HAND_OFF = "It ends in a hand-off on {chance} of 100."
ASKING_FIRST = "What is still to be asked, and then the fixes of what is found: {estimate}"
HAND_OFF = "Hand off, {urgency}, to {to}: {reason}"

# --- already done, ends --------------------------------------------------------------------------------------------

ALREADY_WHICH = "What was done already?"
GO_BACK = "back"
ALREADY_NONE = "The book has no fix like that."
ALREADY_RESULT = "{name}: after that it was ..."
ALREADY_WHO = "Who did it?"
ALREADY_WHEN = "How long ago?"
NOT_KNOWN = "not known"
DOER: Final[dict[Doer, str]] = {"rider": "the rider", "workshop": "a workshop"}
AGO: Final[dict[Ago, str]] = {"days": "days", "weeks": "weeks", "longer": "longer"}
RESULT = {"better": "better for a while", "same": "no different", "worse": "worse since"}
PARTLY: Final[dict[str, str]] = {
    "done": DONE,
    "gone": TEST_GONE,
    "still-there": TEST_STILL,
    "better": TEST_BETTER,
    "untested": TEST_NOT_MADE,
    "not-here": NOT_HERE,
    "look": TELL_LOOK,
    "came-back": IT_IS_BACK,
    "unknown": NOT_KNOWN,
    ONE_WRONG: "something that was taken from what was typed is wrong",
    **{str(word): text for word, text in (*DOER.items(), *AGO.items())},
}
"""What was told of something that takes several prompts, in words."""
TOOK_BACK = "Taken back: {text}"
NO_BACK = "There is nothing to go back to."
HAND_ON = "STOP HERE AND HAND IT ON"
URGENT = ("before riding", "soon", "when convenient")
"""How soon a hand-off is, the most urgent first."""
HAND_ON_TO = "To {to}, {urgency}."
HAND_ON_WHY = "Why: {reason}"
NOTE = "Note to go with the bike"
OR_MEND_IT = "If this can be put right here too: m, one more complaint."
BRING = (
    "Bring the bike with all that came off it, the old parts too, key, battery and charger of an assist, and this note."
)
CARRY = "Carry it, push it or drive it there: do not ride it."
LEAVE_SO = "Leave it as it is now, and what is apart in one bag: {open}."
HANDED_ON = "handed on: the job is over"
NOT_YET = "not yet: leave it for now"
CHECKED = "all checked: the job is over"
FINAL_CHECK = "Before it goes out"
FINAL = (
    "bars and stem tight and straight; saddle and post tight",
    "wheels held, tyres sound and pumped",
    "both brakes bite, lever off the bar",
    "cranks and pedals tight; gears run through; lights",
    "all that was opened is closed",
)
FINAL_WHEEL = (
    "rim true, spokes evenly tight, no spoke end in the tape",
    "no play, axle straight, its washers, lever or nuts with it",
    "tyre sound and pumped; braking face or disc clean and not worn through",
    "all that was opened is closed; tag on the wheel: the bike was not seen",
)
"""The same where only a wheel was brought."""
TICK = "[ ]"
TICKED = "[x]"
TORQUES = "Each torque set here, as marked on the part, else as here: ticked off with the wrench in hand"
TORQUE = "{text}: {quantity}"
TORQUE_INSTEAD = "or {text}: {quantity}"
TORQUE_PERHAPS = "{quantity}, if any"
HOW_ENDS = "How does this job end?"
NOT_ENDED = "it does not end"
ENDINGS = {
    "handed-off": "handed on to somebody else",
    "not-reproduced": "the fault could not be shown again",
    "declined": "the rider does not want it done",
    "uneconomic": "not worth what it costs",
    "collected": "collected as it is",
}
WAITS_INSTEAD = "it does not end: it waits for a part"
ASK_WAITS = "What does it wait for? One line, then Enter. Only Enter: not said."
IS_IT_HERE = "Job {case} waits for: {text}"
HERE = "it is here"
NOT_HERE_YET = "not yet"
ASK_NOTE = "The note, one line, then Enter. Only Enter: none. No name is needed; a photo's file name helps."
TAG = "Tag it: {verdict}"
OPEN_NOW = "Open right now: {text}."
ASK_LOOSE = (
    "What is loose or apart right now, and where are the small parts? One line, then Enter. Only Enter: nothing."
)
ASK_STILL_LOOSE = "Noted as loose or apart: {text}"
HOW_STILL_LOOSE = "Only Enter: still so. A new line replaces it, '-': all is tight."
TIGHT = "-"
LEFT = "Kept. Go on with:"
COMMAND = "diagnose stand --case {case}"
SAFETY = "If a life hangs on it and you are not sure, stop: give the bike to a qualified mechanic."

# --- jobs ----------------------------------------------------------------------------------------------------------

JOB_LINE = "{id}  {when}  {label}"
JOB_ENDED = {
    "cured": "repeat test passed",
    **ENDINGS,
}
"""How a job ended, in a list."""
JOB_OPEN = "open"
JOB_BACK = "open, came back"
JOB_WAITING = "waits"
JOB_WAITS = "waits for {text}"
NOTHING_TOLD = "nothing told yet"
NO_JOBS = "There are no such jobs."
MORE_JOBS = "There are more; --limit shows more than {limit}."
NO_BIKE = 'There is no job with the label "{label}". The label is the one typed when a job is opened.'
NOTE_KEPT = "Noted."
WAIT_OR_OVER = "Say what it waits for, or --over, not both."
NOW_WAITS = "Job {case} waits."
WAITS_NO_MORE = "Job {case} goes on. Look again at all that was left finger-tight."
TAG_APART = "Tag it: NOT TO BE RIDDEN, it is apart. Small parts in one bag with the job's number."
WAIT_HOW = "When it is here: `diagnose stand` with the job's number."
NO_PART = 'The book has no part "{name}".'
PART_AS_TEXT = "Name it in words instead, without --part."
NO_CAUSE = 'The book has no cause "{name}".'
NOT_PASSED = "Of job {case} no repeat test was told that passed: {names}."
NOT_PASSED_HOW = (
    "Tell it at the stand with `diagnose stand --case {case}`, name what was put right with --found, or end the job in "
    "another way."
)
JOB_IS_OVER = "Job {case} is over: {how}."
OVER_HOW = "`diagnose stand --case` opens it again, `diagnose jobs comeback` where the bike came back."
CAME_BACK = "Job {case} is open again: the bike came back."
TOUCHED_LAST = "First look at what was last touched: {text}."
WARRANTY = (
    "Warranty: stop, take photographs, keep the old parts; do not clean or open anything until the maker says so."
)
GO_ON_WITH = "Go on with:"
OPEN_WITH = "Open it again with:"
CAME_BACK_WITH = "Or, where the bike came back with the same complaint:"
ERASE_ASK = "Erase label, notes and all other free text of job {case} for good?"
ERASED = "Texts of job {case} erased: {count}."
BACK_AGAIN = "the bike came back"
OPEN_AGAIN = "opened again"
IT_ENDED = "over: {how}"

TAKE_OVER = "Job {case}, {label}"
COMPLAINTS = "Complaint"
COMPLAINTS_RANKED = "Complaints, in the rider's order, the worst first"
THE_BIKE = "The bike"
SEEN_AT_STAND = "Seen at the stand"
SAID_BY_RIDER = "Said by the rider"
SUSPECTED = "Suspected, of 100 such bikes"
SUSPECTED_OF = "Suspected, {complaint}, of 100 such bikes"
DONE_SO_FAR = "Done so far"
NOTES = "Notes"
STILL_WAITS = "Waits for: {text}"
NOT_SAID = "not said what"
COMEBACKS = "Times it came back: {count}."
EXPORTED = "Jobs written: {count}."
IMPORTED = "Jobs: {new} new, {longer} gone on with, {known} known already. Lines not taken: {refused}."
BACKED_UP = "Copied to {file}, {size:,} bytes."
SETTING = "{name}: {value}"
HOLDS = "Jobs: {cases:,}; events: {events:,}; bytes: {size:,}"
SOUND = "It is sound."
NEWER_INSIDE = "It is not damaged, but a newer version wrote to these jobs. Use that version for them."
UNSOUND = "It is damaged. `diagnose jobs rescue` says what can be saved."
INTO_NEW = "{file} is there already."
INTO_HOW = "Name a new file with --into."
SAVED = "Jobs that can be saved: {whole} whole, {part} in part; not at all: {lost}."
SAVED_GONE = "More jobs, of which nothing can be read: {count}."
SAVED_INTO = "Saved into {file}; use it with --store. Keep the damaged file until you have looked."
SAVE_HOW = "Nothing was written. With --into FILE this is saved into a new store."
LOST = "Job {case}: {what}"
LOST_JOB = "Job {case}: nothing can be saved"
LOST_NUMBER = "its own number is lost, this is a new one"
LOST_EVENTS = "events that can be saved: the first {kept} of {all}"
LOST_TEXTS = "texts of it that are lost: {count}"
TODAY = "Job {case} with today's rule book"
TODAY_BOOK = "Told with another version of the book: {others} of its {all} events."
TODAY_UNKNOWN = "Event {seq} is left out: {why}."
TODAY_STEPS = "Answers and fixes that today's book asks for too: {same} of {all}."
TODAY_TURN = "{when}: {told}"
TODAY_NEXT = "Today's book would have gone on with: {text}"
TODAY_ENDED = "It ended so: {how}."
TODAY_NOW = "Today's book says at the end: {text} {ride}"
TODAY_COUNT = "Jobs that would go another way: {differing} of {all}."

# --- play ----------------------------------------------------------------------------------------------------------

RIDER_SAYS = "The rider says: {name}"
DONE_BEFORE = "Done before it came: {name}{whose}. After that: {result}."
DONE_BY = {"rider": ", by the rider", "workshop": ", by a workshop"}
DONE_AGO = {"days": ", days ago", "weeks": ", weeks ago", "longer": ", longer ago"}
ASKED = "Q: {text}"
NOT_NEXT = "(the program would have asked something else first)"
ANSWERED = "A ({by}): {text}"
BY = {"rider": "the rider", "mechanic": "the mechanic"}
PLAYED_MOVE = "{before:>3} to {after:>3} of 100  {name}"
PLAYED_NOT_HERE = "{names}: cannot be done here."
PLAYED_FIX = "Done: {names}. Repeat test: {results}."
COMES_NEXT = "What comes next"
EXPECTED = "Expected {path} {expected}, found {found}."
HOLD = "Expectations of this case that hold: {held} of {all}."
