"""Entries that nobody uses: limits, hand-offs, tools, parts, cautions, teardowns, facts.

Cast: `UnusedLimit`, `UnusedHandOff`, `UnusedEntry`.
"""

from __future__ import annotations

from collections.abc import Iterator

from diagnose.book.anomalies.anomaly import Anomaly, Example, Found, Study


class UnusedLimit(Anomaly):
    """A limit that no band, check, step, test or sentence names."""

    name = "limit.unused"
    why = "The number that counts stands elsewhere, or nowhere; this one will be kept up to date in vain."
    wrong = Example(
        "front/limits.yaml",
        """
crown-race-seat:
  quantity: "seat of the crown race"
  low: 26.4
  high: 26.5
  unit: mm
  kind: target
  basis: memory
""",
    )
    right = Example(
        "front/limits.yaml",
        """
crown-race-seat:
  quantity: "seat of the crown race"
  low: 26.4
  high: 26.5
  unit: mm
  kind: target
  basis: memory
""",
        (
            (
                "front/causes/seat-worn.yaml",
                """
name: "crown race seat worn"
in_short: "The race turns on the fork."
common_for: {front-knock: 4 in 100}
basis: memory
shows: {play-at-headset: {clear: very likely}, steerer-gap: {too-much: almost certain}}
danger: none
hand_off: {class: frame-builder, urgency: soon, reason: "The seat measures less than {crown-race-seat}."}
""",
            ),
        ),
    )

    def find(self, study: Study) -> Iterator[Found]:
        """Report limits."""
        for name in study.book.limits:
            if name not in study.references.limits:
                owner = ("limit", name)
                message = f"nothing names the limit '{name}'"
                hint = "Name it where the number belongs (`limits: [id]`, a band, or {id} in a step), or delete it."
                yield Found(study.place(owner), message, hint, owner)


class UnusedHandOff(Anomaly):
    """A class of hand-off that no cause and no deduction hands to."""

    name = "hand-off.unreachable"
    why = "No bike is ever given to it."
    wrong = Example("hand-offs.yaml", 'fork-maker: {to: "whoever made the fork", minutes: 300}')
    right = Example(
        "hand-offs.yaml",
        'fork-maker: {to: "whoever made the fork", minutes: 300}',
        (
            (
                "front/deductions.yaml",
                """
notchy-carbon-is-not-ours:
  when: {steering-feel: notchy, steerer: carbon}
  then: {hand_off: {class: fork-maker, urgency: before riding, reason: "Carbon that a race has ground."}}
  because: "What a loose race has done to carbon nobody sees from outside."
  basis: memory
""",
            ),
        ),
    )

    def find(self, study: Study) -> Iterator[Found]:
        """Report classes of hand-off."""
        for name in study.book.receivers:
            if name not in study.references.receivers:
                owner = ("hand-off", name)
                message = f"no cause and no deduction hands a bike to '{name}'"
                hint = "Name it as `class:` of a hand-off, or delete it."
                yield Found(study.place(owner), message, hint, owner)


class UnusedEntry(Anomaly):
    """A fact, tool, part, caution or teardown that nothing names."""

    name = "entry.unused"
    why = "It is kept and read in vain, and an author who meets it takes it for something that works."
    wrong = Example("tools.yaml", 'star-nut-setter: "star nut setter"')
    right = Example(
        "tools.yaml",
        'star-nut-setter: "star nut setter"',
        (
            (
                "front/causes/star-nut-loose.yaml",
                """
name: "star nut pulled out"
in_short: "The star nut slides up in the steerer and holds nothing."
common_for: {front-knock: 5 in 100}
basis: memory
shows: {play-at-headset: {clear: very likely}, steerer-gap: {too-much: almost certain}}
danger: none
ladder:
  - fix: set-star-nut
    name: "Set a new star nut"
    cured: 9 in 10
    skill: mechanic
    minutes: {low: 8, high: 15}
    tools: [star-nut-setter, hex-keys]
    steps: ["Drive a new star nut in, straight."]
    works_if: "The cap pulls, and no play is left."
    if_not: "Look at the gap above the steerer."
""",
            ),
        ),
    )

    def find(self, study: Study) -> Iterator[Found]:
        """Report entries of the lists."""
        book, used = study.book, study.references
        lists = (
            ("fact", book.facts, used.keys | {fact for fact, one in book.facts.items() if one.opens or one.off}),
            ("tool", book.tools, used.tools),
            ("part", book.parts, used.parts),
            ("caution", book.cautions, used.cautions),
            ("teardown", book.teardowns, used.teardowns),
        )
        for kind, entries, named in lists:
            for name in entries:
                if name not in named:
                    owner = (kind, name)
                    message = f"nothing names the {kind} '{name}'"
                    yield Found(study.place(owner), message, "Delete it, or name it where it belongs.", owner)
