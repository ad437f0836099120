"""What cannot be meant: shares, rows against a danger, work on what is normal, numbers that nobody vouches for.

Cast: `SharesAddUp`, `DangerContradicted`, `NormalMended`, `WithoutBasis`.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from diagnose.book.anomalies.anomaly import ERROR, Anomaly, Example, Found, Study
from diagnose.book.likelihood import WORDS
from diagnose.book.model import Book, Cause, Complaint, Deduction, Limit
from diagnose.book.schema_base import DANGERS

LEAST, MOST = 85, 110
"""Between these, of 100, the shares of a complaint may add up to."""
MOST_BESIDE = 40
"""So many of 100 may have causes that an own folder adds to a complaint of the book."""
LIKELY = WORDS["likely"][1]
"""The lowest chance that is still called likely."""
PUBLISHED = ("standard", "handbook", "maker")
"""What a number rests on that somebody else can look up."""


CROWN = (
    (
        "front/findings.yaml",
        """
fork-crown:
  name: "the fork's crown"
  values: {sound: "sound", cracked: "cracked"}
  otherwise: {sound: 99 %}
  basis: common practice
  checks:
    look-at-crown:
      ask: "What do you see at the crown of the fork?"
      by: mechanic
      minutes: 0.5
""",
    ),
)
"""A look at a crown, for the examples of a cause that shows there."""
TICKS = (
    (
        "front/findings.yaml",
        """
crown-when-cold:
  name: "the fork's crown on a cold morning"
  values: {quiet: "quiet", ticks: "ticks once"}
  otherwise: {quiet: 99 %}
  basis: common practice
  checks:
    hear-crown:
      ask: "Does the crown tick once as the bike is taken out?"
      by: rider
      minutes: 0.3
""",
    ),
)
"""A tick, for the examples of a cause that is normal."""


class SharesAddUp(Anomaly):
    """Shares of a complaint, with its *something else*, that are far from 100 of 100."""

    name = "shares.sum"
    why = "They are used as weights: a sum far off says that some of them were not meant as shares of the same bikes."
    wrong = Example(
        "front/causes/crown-cracked.yaml",
        """
name: "fork crown cracked"
in_short: "The crown opens under braking."
common_for: {front-knock: 40 in 100}
basis: memory
shows: {fork-crown: {cracked: almost certain}}
danger: stop
danger_because: "A fork that breaks throws its rider."
hand_off: {class: workshop, urgency: before riding, reason: "New fork."}
""",
        CROWN,
    )
    right = Example(
        "front/causes/crown-cracked.yaml",
        """
name: "fork crown cracked"
in_short: "The crown opens under braking."
common_for: {front-knock: 1 in 100}
basis: memory
shows: {fork-crown: {cracked: almost certain}}
danger: stop
danger_because: "A fork that breaks throws its rider."
hand_off: {class: workshop, urgency: before riding, reason: "New fork."}
""",
        CROWN,
    )

    def find(self, study: Study) -> Iterator[Found]:
        """Report complaints with causes."""
        for complaint in study.book.complaints.values():
            causes = study.book.causes_of[complaint.id]
            beside = [cause for cause in causes if _is_beside(cause, complaint)]
            told = sum(cause.shares[complaint.id].of_100 for cause in causes if cause not in beside)
            total = complaint.something_else * 100 + told
            added = sum(cause.shares[complaint.id].of_100 for cause in beside)
            if added > MOST_BESIDE and total + added > MOST:
                owner = ("cause", max(beside, key=lambda cause: cause.shares[complaint.id].of_100).id)
                where = study.place(owner, "common_for", complaint.id)
                message = f"{added:.0f} of 100 with '{complaint.id}' have what an own folder adds to the book"
                hint = "Count them among all such bikes, whatever kind they are, and write less in `common_for`."
                yield Found(where, message, hint, owner)
            if causes and (total + added < LEAST or total > MOST):
                owner = ("complaint", complaint.id)
                message = f"the shares of '{complaint.id}' add up to {total + added:.0f} of 100"
                yield Found(study.place(owner), message, _where_to_look(causes, complaint), owner)


def _where_to_look(causes: Sequence[Cause], complaint: Complaint) -> str:
    """The largest shares, by name."""
    largest = sorted(causes, key=lambda cause: -cause.shares[complaint.id].of_100)[:3]
    told = ", ".join(f"{cause.id} {cause.shares[complaint.id].of_100:g}" for cause in largest)
    return f"Look at `common_for` of its causes, at a new one first; the largest: {told}."


def _is_beside(cause: Cause, complaint: Complaint) -> bool:
    """Whether a cause is of an own folder (the name stands before its id), and the complaint is of the book."""
    return ":" in cause.id and ":" not in complaint.id


class DangerContradicted(Anomaly):
    """A row that contradicts its cause's danger: it likely shows what a deduction calls more dangerous."""

    name = "danger.contradicted"
    severity = ERROR
    why = "The verdict of a bike that has it changes from one answer to the next, and may be too mild until then."
    wrong = Example(
        "front/deductions.yaml",
        """
play-is-a-stop:
  when: {play-at-headset: clear}
  then: {danger: stop}
  because: "What knocks at the steering breaks in the end."
  basis: memory
""",
    )
    right = Example(
        "front/deductions.yaml",
        """
play-is-care:
  when: {play-at-headset: clear}
  then: {danger: care}
  because: "What knocks at the steering wears its seats."
  basis: memory
""",
    )

    def find(self, study: Study) -> Iterator[Found]:
        """Report rows of causes that are likely to fire a deduction with a worse danger."""
        for deduction in study.book.deductions.values():
            for cause in study.book.causes.values() if deduction.danger else ():
                worse = DANGERS.index(deduction.danger or "none") > DANGERS.index(cause.danger)
                if worse and _chance(study.book, cause, deduction) >= LIKELY:
                    owner = ("cause", cause.id)
                    finding = next(when.key for when in deduction.when if when.key in cause.shows)
                    message = (
                        f"'{cause.id}' is said to be danger '{cause.danger}', but it likely shows what"
                        f" '{deduction.id}' calls '{deduction.danger}'"
                    )
                    hint = f"Write `danger: {deduction.danger}`, mend the row, or let the deduction ask for more."
                    place = study.place(owner, "shows", finding)
                    yield Found(place, message, hint, owner, (deduction.id,))


def _chance(book: Book, cause: Cause, deduction: Deduction) -> float:
    """How likely a bike with a cause is to show what a deduction wants; 0 where that needs more than its rows."""
    chance = 1.0
    for when in deduction.when:
        if when.key in cause.shows:
            row = dict(zip(book.findings[when.key].values, cause.shows[when.key].chances, strict=True))
            chance *= sum(row[value] for value in when.any_of)
        elif when.key == "complaint":
            chance *= float(bool(cause.shares) and set(cause.shares) <= set(when.any_of))
        else:
            chance *= float(when.key in cause.applies and set(cause.applies[when.key]) <= set(when.any_of))
    return chance if any(when.key in cause.shows for when in deduction.when) else 0.0


class NormalMended(Anomaly):
    """A cause that is called normal, and is put right all the same, given away or not to be ridden."""

    name = "normal.mended"
    severity = ERROR
    why = "The rider is told that nothing is wrong, and pays for parts or for a dismantled bike, or may not ride."
    wrong = Example(
        "front/causes/crown-ticks.yaml",
        """
name: "the fork's crown ticks when it is cold"
in_short: "Two metals shrink: it ticks once, and nothing moves."
common_for: {front-knock: 4 in 100}
basis: memory
shows: {crown-when-cold: {ticks: almost certain}}
danger: none
normal: yes
hand_off: {class: workshop, urgency: soon, reason: "New crown."}
""",
        TICKS,
    )
    right = Example(
        "front/causes/crown-ticks.yaml",
        """
name: "the fork's crown ticks when it is cold"
in_short: "Two metals shrink: it ticks once, and nothing moves."
common_for: {front-knock: 4 in 100}
basis: memory
shows: {crown-when-cold: {ticks: almost certain}}
danger: none
normal: yes
ladder:
  - fix: show-the-tick
    name: "Show where it ticks, and that nothing moves"
    cured: 9 in 10
    skill: mechanic
    minutes: {low: 2, high: 5}
    steps: ["Rock the fork with the rider's hand at the crown."]
    works_if: "The rider has felt that nothing moves."
    if_not: "Something moves: look on."
""",
        TICKS,
    )

    def find(self, study: Study) -> Iterator[Found]:
        """Report causes that are called normal."""
        for cause in study.book.causes.values():
            if cause.normal:
                yield from self._of_cause(study, cause)

    def _of_cause(self, study: Study, cause: Cause) -> Iterator[Found]:
        owner = ("cause", cause.id)
        hint = "Leave out `normal: yes`, or what does not go with it."
        if cause.danger == "stop":
            message = f"'{cause.id}' is called normal, and the bike must not be ridden with it"
            yield Found(study.place(owner, "danger"), message, hint, owner)
        if cause.hand_off:
            message = f"'{cause.id}' is called normal, and the bike is given away for it"
            yield Found(study.place(owner, "hand_off"), message, hint, owner)
        for rung in cause.ladder:
            fix = study.book.fixes[rung.fix]
            if fix.parts or fix.teardown:
                what = "takes parts" if fix.parts else "takes the bike apart"
                message = f"'{cause.id}' is called normal, and '{fix.id}' {what} for it"
                yield Found(rung.where, message, hint, owner, (fix.id,))


class WithoutBasis(Anomaly):
    """A number that nobody vouches for: a limit from print without its source, a band's edge that is no limit's."""

    name = "number.without-basis"
    why = "Nobody can check it, and nobody will know which number to change when the source does."
    wrong = Example(
        "front/limits.yaml",
        """
cap-bolt:
  quantity: "top cap bolt"
  high: 3
  unit: N.m
  kind: maximum
  basis: handbook
  note: "only until the play is gone"
""",
        (
            (
                "front/deductions.yaml",
                """
stem-moves:
  when: {recent-work: stem, play-at-headset: clear}
  then: {hand_off: {class: workshop, urgency: soon, reason: "The cap bolt took more than {cap-bolt}."}}
  because: "It was forced."
  basis: memory
""",
            ),
        ),
    )
    right = Example(
        "front/limits.yaml",
        """
cap-bolt:
  quantity: "top cap bolt"
  high: 3
  unit: N.m
  kind: maximum
  basis: memory
""",
        wrong.beside,
    )

    def find(self, study: Study) -> Iterator[Found]:
        """Report limits, their cases, and bands."""
        for limit in study.book.limits.values():
            yield from self._of_limit(study, limit)
        for check in study.book.checks.values():
            for band in check.measure.bands if check.measure else ():
                edges = [edge for edge in (band.start, band.stop) if edge and edge.number is not None]
                for edge in edges[:1]:
                    owner = ("check", check.id)
                    message = f"the band '{band.value}' of '{check.id}' ends at {edge.number:g}, and nothing says why"
                    hint = "Put the number into limits.yaml with its `basis:`, and name the limit's `.low` or `.high`."
                    yield Found(band.where, message, hint, owner)

    def _of_limit(self, study: Study, limit: Limit) -> Iterator[Found]:
        owner = ("limit", limit.id)
        hint = "Add `source:` with title or standard; or write `basis: common practice` or `basis: memory`."
        if limit.basis in PUBLISHED and not limit.source:
            message = f"'{limit.id}' is said to be from a {limit.basis}, which is not named"
            yield Found(study.place(owner, "basis"), message, hint, owner)
        for number, case in enumerate(limit.cases, start=1):
            if (case.basis or limit.basis) in PUBLISHED and not (case.source or limit.source):
                message = f"case {number} of '{limit.id}' is said to be from a {case.basis or limit.basis}, not named"
                yield Found(study.place(owner, "cases"), message, hint, owner)
