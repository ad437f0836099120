"""Slips in what figures and entries say together: shares, chances, ladders, limits, deductions, order.

Cast: one class for each code.
"""

from __future__ import annotations

from diagnose.book.kind import Example
from diagnose.book.slips.slip import Slip, cause_with


def _finding(otherwise: str, checks: str = 'press-crown: {ask: "Does it give?", by: mechanic, minutes: 1}') -> Example:
    text = f"""
crown-gives:
  name: "whether the crown gives"
  values: {{firm: "firm", gives: "gives"}}
  otherwise: {otherwise}
  basis: common practice
"""
    return Example("front/findings.yaml", text + (f"  checks:\n    {checks}\n" if checks else ""))


def _complaint(something_else: str) -> Example:
    return Example(
        "front/complaints.yaml",
        f"""
front-hum:
  name: "Hum at the front"
  rider_says: ["it hums at the front"]
  something_else: {something_else}
  danger_if_unknown: 2 in 100
  repeat_test: {{id: roll-down, text: "Roll down the yard and listen at the fork.", minutes: 1}}
  basis: common practice
""",
        (("front/causes/tread-hums.yaml", cause_with(common_for="{front-hum: 90 in 100}").text),),
    )


def _limit(ends: str, kind: str = "target") -> Example:
    text = f'crown: {{quantity: "crown race", {ends}unit: mm, kind: {kind}, basis: memory}}'
    return Example("front/limits.yaml", text)


def _deduction(when: str, then: str) -> Example:
    text = f"""
notchy-after-work:
  when: {when}
  then: {then}
  because: "What was opened may have been closed in a hurry."
  basis: common practice
"""
    return Example("front/deductions.yaml", text)


def _ladder(*cured: str, minutes: str = "{low: 5, high: 10}") -> Example:
    lines = ["ladder:"]
    for number, chance in enumerate(cured, start=1):
        lines += [
            f"  - fix: press-crown-{number}",
            f'    name: "Press the crown, way {number}"',
            f"    cured: {chance}",
            "    skill: mechanic",
            f"    minutes: {minutes}",
            '    steps: ["Press it home."]',
            '    works_if: "Nothing moves."',
            '    if_not: "A frame builder looks at it."',
        ]
    return cause_with(*lines)


class WrongShare(Slip):
    """Something that is not a share where one is wanted."""

    name = "share.wrong"
    why = "All that the screen says of 100 such bikes is reckoned from the shares."
    wrong = _complaint("a few")
    right = _complaint("10 in 100")


class NoShare(Slip):
    """A cause with a share of nothing."""

    name = "share.zero"
    why = "It could never come up, whatever is found: the cause might as well not be in the book."
    wrong = cause_with(common_for="{front-knock: 0 in 100}")
    right = cause_with(common_for="{front-knock: 1 in 100}")


class SomethingElse(Slip):
    """A complaint that leaves hardly anything, or nearly everything, to causes that the book does not know."""

    name = "share.something-else"
    why = "A book that is sure to know every cause would name one of its own for a bike that has none of them."
    wrong = _complaint("1 in 100")
    right = _complaint("10 in 100")


class WrongChance(Slip):
    """Something that is not a chance where one is wanted."""

    name = "chance.wrong"
    why = "A word outside the scale means another number to everybody who reads it."
    wrong = _finding("{firm: mostly}")
    right = _finding("{firm: very likely}")


class RowSum(Slip):
    """Chances of one row that cannot add up to 1."""

    name = "row.sum"
    why = "Each bike shows exactly one of these values; as they stand, some bikes would show two or none."
    wrong = _finding("{firm: almost certain, gives: likely}")
    right = _finding("{firm: very likely, gives: very unlikely}")


class Unseen(Slip):
    """A finding that no check looks at."""

    name = "finding.unseen"
    why = "Nobody can ever be asked for it: every row that speaks of it is in vain."
    wrong = _finding("{firm: very likely}", checks="")
    right = _finding("{firm: very likely}")


def _heard(told_by: str, by: str = "rider") -> Example:
    check = f'press-crown: {{ask: "Does it give?", by: {by}, minutes: 1, told_by: {told_by}}}'
    return _finding("{firm: very likely}", check)


class SplitPhrase(Slip):
    """Words to be heard that are two where they are typed."""

    name = "phrase.split"
    why = "What is typed is taken piece by piece, at each comma and each and, or, but: these words never stand in one."
    wrong = _heard('{gives: ["loose, gives a little"]}')
    right = _heard('{gives: ["gives a little"]}')


class TwoMeanings(Slip):
    """Words to be heard that stand for two answers."""

    name = "phrase.twice"
    why = "Who types them would have said two things at once, and would be asked all the same."
    wrong = _heard('{gives: ["crown moves"], firm: ["crown moves"]}')
    right = _heard('{gives: ["crown moves"]}')


class UnaskedPhrase(Slip):
    """Words to be heard at a check that no rider answers."""

    name = "phrase.unasked"
    why = "What a mechanic must look at, or measure, is not known because a rider says it."
    wrong = _heard('{gives: ["crown moves"]}', by="mechanic")
    right = _heard('{gives: ["crown moves"]}')


class NoFix(Slip):
    """A cause without a fix and without anybody to hand the bike to."""

    name = "cause.no-fix"
    why = "When it is found, the program would know what is wrong and have nothing to say about it."
    wrong = cause_with(help_from=False)
    right = cause_with()


class Rising(Slip):
    """A rung that cures no more bikes than the one before it."""

    name = "ladder.rising"
    why = "After the first rung failed the second would cure nobody, so it would never be tried."
    wrong = _ladder("80 in 100", "60 in 100")
    right = _ladder("60 in 100", "80 in 100")


class RungTwice(Slip):
    """A fix that stands twice among the fixes of one cause."""

    name = "ladder.twice"
    why = "It would be tried, fail and be tried again."
    wrong = cause_with(
        "also_by:", "  - {fix: set-preload, cured: 20 in 100}", "  - {fix: set-preload, cured: 30 in 100}"
    )
    right = cause_with("also_by:", "  - {fix: set-preload, cured: 20 in 100}")


class MinutesRange(Slip):
    """Minutes of which the low end is above the high one."""

    name = "minutes.range"
    why = "What is done first hangs on how long it takes, and so does what the rider is told."
    wrong = _ladder("80 in 100", minutes="{low: 20, high: 10}")
    right = _ladder("80 in 100", minutes="{low: 10, high: 20}")


class PriceRange(Slip):
    """A price of which the low end is above the high one."""

    name = "price.range"
    why = "The rider is told what it may cost by these two."
    wrong = Example("parts.yaml", 'crown-race: {name: "crown race", price: {low: 20, high: 5}}')
    right = Example("parts.yaml", 'crown-race: {name: "crown race", price: {low: 5, high: 20}}')


class NoLimit(Slip):
    """A limit without a number."""

    name = "limit.empty"
    why = "Wherever it is named, a step would say nothing."
    wrong = _limit("")
    right = _limit("low: 26.4, high: 26.5, ")


class LimitRange(Slip):
    """A limit of which the low end is above the high one."""

    name = "limit.range"
    why = "No reading can lie between the two, so every part would be wrong."
    wrong = _limit("low: 26.5, high: 26.4, ")
    right = _limit("low: 26.4, high: 26.5, ")


class LimitKind(Slip):
    """A maximum without its high end, or a minimum without its low one."""

    name = "limit.kind"
    why = "What must not be passed is not told, and that is the end that can hurt somebody."
    wrong = _limit("low: 26.4, ", "maximum")
    right = _limit("low: 26.4, ", "minimum")


class CircularOrder(Slip):
    """Things that must be done or opened before themselves."""

    name = "order.circular"
    why = "Whoever follows it never gets to begin."
    wrong = Example(
        "teardowns.yaml",
        """
bars-off: {name: "bars off", open: 3, close: 4, inside: stem-off}
stem-off: {name: "stem off", open: 3, close: 4, inside: bars-off}
""",
    )
    right = Example(
        "teardowns.yaml",
        """
bars-off: {name: "bars off", open: 3, close: 4, inside: stem-off}
stem-off: {name: "stem off", open: 3, close: 4}
""",
    )


class ConcludesNothing(Slip):
    """A deduction that concludes nothing."""

    name = "deduction.empty"
    why = "It would come true and change nothing, while its author counts on it."
    wrong = _deduction("{recent-work: fork}", "{}")
    right = _deduction("{recent-work: fork}", "{likelier: {bearings-worn: 2}}")


class FactorFromAnswer(Slip):
    """A deduction that makes a cause likelier from an answer instead of a fact of the bike."""

    name = "deduction.factor"
    why = "The answer moves the cause through its row already; it would count twice, and the shares would be too sure."
    wrong = _deduction("{steering-feel: notchy}", "{likelier: {bearings-worn: 2}}")
    right = _deduction("{recent-work: fork}", "{likelier: {bearings-worn: 2}}")


class FactTwice(Slip):
    """A deduction that looks at one fact twice: a reading, and the value that the reading means."""

    name = "deduction.twice"
    why = "The two can never disagree, so one of them is in vain; or they do, and it never comes true."
    wrong = _deduction("{steerer-gap: too-much, measure-gap: {above: 6}}", "{danger: care}")
    right = _deduction("{measure-gap: {above: 6}}", "{danger: care}")


class TakesNoReading(Slip):
    """A deduction on the reading of a check that takes none."""

    name = "deduction.no-reading"
    why = "There is never a number to compare, so it never comes true."
    wrong = _deduction("{turn-bars: {above: 6}}", "{danger: care}")
    right = _deduction("{measure-gap: {above: 6}}", "{danger: care}")


class NoEnd(Slip):
    """A deduction on a reading without a number to compare it with."""

    name = "deduction.range"
    why = "It would come true with any reading at all."
    wrong = _deduction("{measure-gap: {}}", "{danger: care}")
    right = _deduction("{measure-gap: {above: 6}}", "{danger: care}")
