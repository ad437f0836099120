"""What people are asked and told: jargon, tools that a rider lacks, tests that cannot fail, what is still to be told.

Cast: `Jargon`, `NeedsTool`, `CannotFail`, `ToBeTold`.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

from diagnose.book.anomalies.anomaly import ERROR, Anomaly, Example, Found, Study
from diagnose.book.marks import TO_BE_TOLD
from diagnose.book.model import Book, Check, Complaint
from diagnose.errors import Location


class Jargon(Anomaly):
    """A word of the workshop in a question that a rider is asked."""

    name = "question.jargon"
    why = "The rider guesses what is meant, and a guess counts as an answer."
    wrong = Example(
        "jargon.yaml",
        'steerer: "the fork\'s tube"',
        (
            (
                "front/findings.yaml",
                """
steerer-seen:
  name: "what is seen of the steerer"
  values: {sound: "sound", cracked: "cracked"}
  otherwise: {sound: almost certain}
  basis: common practice
  checks:
    rider-sees-steerer:
      ask: "Is there a crack in the steerer?"
      by: rider
      minutes: 0.5
""",
            ),
            (
                "front/deductions.yaml",
                """
steerer-cracked-stop:
  when: {steerer-seen: cracked}
  then: {danger: stop}
  because: "A cracked steerer breaks."
  basis: common practice
""",
            ),
        ),
    )
    right = Example(
        "jargon.yaml",
        'steerer: "the fork\'s tube"',
        (
            (
                "front/findings.yaml",
                """
steerer-seen:
  name: "what is seen of the steerer"
  values: {sound: "sound", cracked: "cracked"}
  otherwise: {sound: almost certain}
  basis: common practice
  checks:
    rider-sees-steerer:
      ask: "Is there a crack in the fork's tube, below the bars?"
      by: rider
      minutes: 0.5
""",
            ),
            wrong.beside[1],
        ),
    )

    def find(self, study: Study) -> Iterator[Found]:
        """Report questions to riders, with answers and longer help, how to tell a fact, and the names of complaints."""
        book = study.book
        words = {word: re.compile(rf"(?i)\b{word.replace('-', '[- ]')}s?\b") for word in book.jargon}
        for check in book.checks.values():
            if check.by == "rider":
                owner, answers = ("check", check.id), ("finding", check.finding)
                yield from self._in(study, words, (check.ask, owner, ("ask",)), check.id)
                yield from self._in(study, words, (check.how, owner, ("how",)), check.id)
                for text in check.measure.questions if check.measure else ():
                    yield from self._in(study, words, (text, owner, ("measure", "readings")), check.id)
                for value, text in book.findings[check.finding].values.items():
                    yield from self._in(study, words, (text, answers, ("values", value)), check.id)
        for fact in book.facts.values():
            yield from self._in(study, words, (fact.how, ("fact", fact.id), ("how",)), fact.id)
        for complaint in book.complaints.values():
            yield from self._in(study, words, (complaint.name, ("complaint", complaint.id), ("name",)), complaint.id)

    def _in(
        self,
        study: Study,
        words: dict[str, re.Pattern[str]],
        said: tuple[str, tuple[str, str], tuple[str, ...]],
        whose: str,
    ) -> Iterator[Found]:
        text, owner, path = said
        for word, pattern in words.items():
            found = pattern.search(text)
            if found:
                message = f"'{found[0]}' is a word of the workshop, and a rider reads it at '{whose}'"
                hint = f"Say: {study.book.jargon[word]}."
                yield Found(study.place(owner, *path), message, hint, owner, (word,))


class NeedsTool(Anomaly):
    """A check that a rider is asked for, but which takes a tool, a teardown or a mechanic's check before it."""

    name = "question.needs-tool"
    why = "At the counter nobody can answer it, and at home somebody tries without the tool."
    wrong = Example(
        "front/findings.yaml",
        """
cap-turns:
  name: "whether the cap turns"
  values: {firm: "firm", turns: "turns"}
  otherwise: {firm: very likely}
  basis: common practice
  checks:
    rider-tries-cap:
      ask: "Does the cap on top turn?"
      by: rider
      minutes: 0.5
      tools: [hex-keys]
""",
        (
            (
                "front/deductions.yaml",
                """
cap-turns-so-it-was-open:
  when: {cap-turns: turns}
  then: {caution: pinch, danger: care}
  because: "It holds nothing."
  basis: memory
""",
            ),
        ),
    )
    right = Example(
        "front/findings.yaml",
        """
cap-turns:
  name: "whether the cap turns"
  values: {firm: "firm", turns: "turns"}
  otherwise: {firm: very likely}
  basis: common practice
  checks:
    rider-tries-cap:
      ask: "Does the cap on top turn between your fingers?"
      by: rider
      minutes: 0.5
""",
        wrong.beside,
    )

    def find(self, study: Study) -> Iterator[Found]:
        """Report checks that riders do."""
        for check in study.book.checks.values():
            for key, what in _needed(study.book, check) if check.by == "rider" else ():
                owner = ("check", check.id)
                message = f"a rider is asked for '{check.id}', which takes {what}"
                hint = "Write `by: mechanic`, or ask for something that can be seen or felt without it."
                yield Found(study.place(owner, key), message, hint, owner)


def _needed(book: Book, check: Check) -> Iterator[tuple[str, str]]:
    """What a check takes that a rider at the counter does not have: its key and the words for it."""
    if check.tools:
        yield "tools", " and ".join(book.tools[tool] for tool in check.tools)
    if check.teardown:
        yield "teardown", f"'{check.teardown}' to be opened"
    if check.skill == "mechanic":
        yield "skill", "the skill of a mechanic"
    for need in check.needs:
        if book.checks[need].by == "mechanic":
            yield "needs", f"a mechanic's check before it, '{need}'"


PERCEIVED = re.compile(
    r"(?i)\?|\b(?:listen|feel|feels|look|watch|read|hear|see|measure|no|not|nothing|never|neither|without|must"
    r"|stays|holds|stops|runs|drops home|moves|(?:it|they|both) \w+)\b"
)
"""A sign that a sentence says what is perceived, or what must be so at the end."""
NOW_AND_THEN = re.compile(r"(?i)\b(?:now and then|sometimes|once in a while|every so often|comes and goes)\b")


class CannotFail(Anomaly):
    """A repeat test that cannot fail: it says nothing that could be seen, heard or felt, or it takes no time."""

    name = "repeat-test.cannot-fail"
    severity = ERROR
    why = "The repair is proved by this test alone: a bike that still has its fault would be given back as well."
    wrong = Example(
        "front/complaints.yaml",
        """
front-hum:
  name: "Hum at the front"
  rider_says: ["it hums at the front"]
  something_else: 10 in 100
  danger_if_unknown: 2 in 100
  repeat_test: {id: roll-down, text: "Roll down the yard.", minutes: 1}
  basis: common practice
""",
        (
            (
                "front/causes/tread-hums.yaml",
                """
name: "coarse tread"
in_short: "The knobs of the tyre hum on tar."
common_for: {front-hum: 90 in 100}
basis: common practice
shows: {}
danger: none
hand_off: {class: workshop, urgency: when convenient, reason: "Another tyre, when this one is worn."}
""",
            ),
        ),
    )
    right = Example(
        "front/complaints.yaml",
        """
front-hum:
  name: "Hum at the front"
  rider_says: ["it hums at the front"]
  something_else: 10 in 100
  danger_if_unknown: 2 in 100
  repeat_test: {id: roll-down, text: "Roll down the yard and listen at the fork.", minutes: 1}
  basis: common practice
""",
        wrong.beside,
    )

    def find(self, study: Study) -> Iterator[Found]:
        """Report the tests of complaints."""
        for complaint in study.book.complaints.values():
            why = _cannot_fail(complaint)
            if why:
                owner = ("complaint", complaint.id)
                message = f"the repeat test of '{complaint.id}' cannot fail: {why[0]}"
                yield Found(study.place(owner, "repeat_test"), message, why[1], owner)


def _cannot_fail(complaint: Complaint) -> tuple[str, str] | None:
    """Why a complaint's test proves nothing, and what to write."""
    test = complaint.repeat_test
    if not PERCEIVED.search(test.text):
        return "it says what to do, not what to see, hear or feel", "End it with what is so when the fault is gone."
    if test.minutes <= 0:
        return "it takes no time", "Write how many `minutes:` it takes."
    if NOW_AND_THEN.search(complaint.name) and not test.repeat:
        return "what comes now and then may stay away once", "Add `repeat:` with how long or how often."
    return None


class ToBeTold(Anomaly):
    """A mark where something is still to be told."""

    name = "mark.to-be-told"
    why = "What stands there is a guess until somebody who knows bikes has told it."
    wrong = Example(
        "front/deductions.yaml",
        f"""
bars-notchy-care:
  when: {{steering-feel: notchy}}
  then: {{danger: care}}
  because: "{TO_BE_TOLD}"
  basis: common practice
""",
    )
    right = Example(
        "front/deductions.yaml",
        """
# what happens is to be told by whoever has ridden one
bars-notchy-care:
  when: {steering-feel: notchy}
  then: {danger: care}
  because: "Steering that catches surprises its rider."
  basis: common practice
""",
    )

    def find(self, study: Study) -> Iterator[Found]:
        """Report every mark of every rule file, in a text or in a comment."""
        for source in study.sources:
            yield from marks_in(source.text, source.shown)


def marks_in(text: str, shown: str) -> Iterator[Found]:
    """Every mark of a file."""
    for number, line in enumerate(text.split("\n"), start=1):
        at = line.find(TO_BE_TOLD)
        if at >= 0:
            told = " ".join(line.replace(TO_BE_TOLD, " ").replace('"', "").split()).strip(" #'-:,")
            what = f": {told[:60]}" if told else ""
            hint = "Put what is so in its place, or check what stands there, and delete the mark."
            yield Found(
                Location(shown, number, at + 1), f"something is still to be told here{what}", hint, ("file", shown)
            )
