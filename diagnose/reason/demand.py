"""Danger first: the check that must come before everything else, whatever it costs.

Cast: `demanded` looks through one outlook. A deduction may demand a check by name; beyond that, a stop-riding cause
between negligible and leading, or all of them together, demands whatever could clear it. `worth_a_look` is what is
looked at before the first repair although no danger is heavy, because it takes so little.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import product
from operator import mul

from diagnose.book.model import Book, Check, Deduction
from diagnose.reason.belief import Net
from diagnose.reason.conclude import trust_in
from diagnose.reason.outlook import Outlook
from diagnose.reason.position import Branch
from diagnose.reason.situation import Answer, Repair

CLEARING = 0.02
"""Chance that a report must have for a danger to demand its check."""
BESIDE = 0.2
"""The same for a question that speaks of none of the dangers, and clears them only by what else it finds."""
LEADING = 0.5
"""A danger at or above this share is treated, not looked for again."""
SETTLED = 0.97
"""From this share on a cause needs no more search."""
COMPLAINT, FAILED = "complaint", "fix-failed"
SHOWS = 0.2
"""A report that leads a danger to this share, or above it, shows one."""
PART = 0.25
"""A danger is one that all of them together are about if it is at least this part of them."""
CLEAR = 0.25
"""A look speaks against a danger if that shows what was seen less than so much of what is seen otherwise."""
GUESS = 0.5
"""A look that is trusted no more than this is not made beside a surer one that is demanded anyway."""
LEFT = 0.25
"""A fix that leaves so many bikes with a cause for a later rung, of all, is looked at before other causes are."""
QUICK = 3.0
"""Minutes that such a look may take."""
LATER = 1_000
"""The place of what no deduction wants first."""
FOUND = 120.0
"""Minutes of looking that finding one bike which must not be ridden is worth: as much as a hand-off."""


Wanted = tuple[int, bool, float, str, Check, str]
"""A check that is demanded: its place, whether it guards no danger, its minutes, its id, itself, what demands it."""


def demanded(outlook: Outlook) -> tuple[Check, str] | None:
    """The check that a danger demands before everything else, and the deduction or cause that does.

    What a deduction wants first comes first, in its order. Then checks that the book marks as guarding a danger, then
    other questions that could clear one; what is ridden after what is not, the cheapest of either first.
    """
    wanted = [
        (place, not check.danger, outlook.check_cost(check, outlook.here)[0], check.id, check, why)
        for check, why, place in _demands(outlook)
    ]
    if not wanted:
        return None
    *_, check, why = min(_without_twice(outlook, wanted), key=lambda one: (*one[:2], one[4].ridden, *one[2:4]))
    return check, why or _heaviest(outlook, check)


def _without_twice(outlook: Outlook, wanted: list[Wanted]) -> list[Wanted]:
    """Without a look beside which a deduction demands a surer one at the same thing anyway."""
    asking = outlook.book.constants.asking

    def needless(place: int, danger: bool, cost: float, check: Check) -> bool:
        sure = trust_in(outlook.book, check, outlook.situation.role)
        waits = bool(check.only_if) and outlook.check_cost(check, outlook.here)[2]
        return any(
            (one[0], one[1]) <= (place, danger)
            and one[4].finding == check.finding
            and one[5] in outlook.book.deductions
            and (one[2] - cost <= asking or sure <= GUESS or waits)
            and trust_in(outlook.book, one[4], outlook.situation.role) > sure
            for one in wanted
        )

    return [one for one in wanted if not needless(one[0], one[1], one[2], one[4])]


def worth_a_look(outlook: Outlook) -> tuple[Check, str] | None:
    """Before something is put right or given away: the look at a danger that finds one cheaply enough, and which.

    No danger is heavy enough to demand anything; but a quick look that would show one bike in many is made.
    """
    risks, here = outlook.stop_risks(), outlook.here
    share = _dot(here.weights, risks) / here.mass
    if share >= outlook.book.constants.stop_threshold or share * FOUND < outlook.book.constants.asking:
        return None
    if outlook.conclusions.seen_dangers() & outlook.belief.net.rows.keys() or not _stop_causes(outlook):
        return None
    looks = []
    for check in outlook.open_checks():
        if check.danger:
            shown = _shown(outlook.branches(check, here), risks) / here.mass
            cost = outlook.check_cost(check, here)[0]
            if shown * FOUND >= cost:
                looks.append((-shown / cost, check.id, check))
    if not looks:
        return None
    *_, check = min(looks, key=lambda one: one[:2])
    return check, _heaviest(outlook, check)


def _demands(outlook: Outlook) -> Iterator[tuple[Check, str, int]]:
    """Checks that a deduction demands; then those that could clear a heavy danger, or all dangers together ("").

    A danger that was looked for and not seen demands other looks that guard it, and no questions; for all of them
    together nothing is looked at twice that speaks of none that is much of them. Each with its place among those that
    a deduction wants first; `LATER` for all others.
    """
    for conclusion, name in outlook.conclusions.demands():
        check = outlook.book.checks[name]
        if outlook.can_do(check) and not outlook.met(check) and not _lapsed(outlook, conclusion.deduction, check):
            place = conclusion.deduction.demand.index(name)
            yield check, conclusion.deduction.id, place if place < conclusion.deduction.first else LATER
    for check, why in (*outlook.seen_before(), *_helped_but_not_all(outlook)):
        if outlook.can_do(check) and not outlook.met(check):
            yield check, why, LATER
    threshold = outlook.book.constants.stop_threshold
    risks = _risks(outlook, threshold)
    if not risks:
        return
    aims = {cause: {cause} if cause else _heavy(outlook, risks) for cause in risks}
    stops = _stop_causes(outlook)
    told, clear = {one.finding for one in outlook.situation.fresh}, _looked_clear(outlook)
    for check in outlook.open_checks():
        branches = outlook.branches(check, outlook.here)
        rows = outlook.belief.net.rows.get(check.finding, {})
        elsewhere = check.danger and stops.isdisjoint(rows)  # it guards another complaint's danger and clears none here
        for cause, risk in risks.items():
            speaks = aims[cause] & rows.keys()
            in_vain: object = cause or elsewhere or (aims[cause] and check.finding in told)
            if speaks:
                in_vain = not check.danger and speaks <= clear
            least = CLEARING if speaks or check.danger else BESIDE
            if not in_vain and _could_clear(outlook, branches, risk, threshold, least):
                yield check, cause, LATER
                break


def _looked_clear(outlook: Outlook) -> set[str]:
    """The stop-riding causes of which a look that guards against a danger has shown no sign: it speaks against them."""
    book, net = outlook.book, outlook.belief.net
    clear = set()
    for answer in outlook.situation.fresh:
        if answer.value is not None and book.checks[answer.check].danger and answer.finding in net.rows:
            place = net.values[answer.finding].index(answer.value)
            usual = net.otherwise[answer.finding][place] * CLEAR
            rows = net.rows[answer.finding]
            clear |= {cause for cause in _stop_causes(outlook) & rows.keys() if rows[cause][place] < usual}
    return clear


def _helped_but_not_all(outlook: Outlook) -> Iterator[tuple[Check, str]]:
    """What showed the fault that the last repair has made better only, and the fix: is it this fault that is left?

    It is looked at anew where that is quick, a later rung mends many bikes that this one leaves, and nothing else that
    was seen has named what is left. Then the one look says whether the ladder is gone on with.
    """
    book, situation, net = outlook.book, outlook.situation, outlook.belief.net
    last = situation.repairs[-1] if situation.repairs else Repair((), {})
    told = {answer.finding for answer in situation.fresh}
    place = len(situation.repairs) - 1
    seen = [one for one in situation.answers if one.disturbed_by == place and one.value and one.finding not in told]
    for complaint in sorted(last.better & set(situation.standing)):
        if max(outlook.belief.marginal(complaint)) >= LEADING:
            continue
        for fix, cause, one in product(last.fixes, net.causes[net.complaints.index(complaint)], seen):
            check = book.checks[one.check]
            if (
                cause
                and one.finding in book.fixes[fix].disturbs
                and _goes_on(book, cause, fix)
                and _speaks_for(net, cause, one)
                and outlook.check_cost(check, outlook.here)[0] <= QUICK
            ):
                yield check, fix


def _speaks_for(net: Net, cause: str, answer: Answer) -> bool:
    """Whether what was seen is seen more often with this cause than without."""
    row = net.rows.get(answer.finding, {}).get(cause)
    if row is None or answer.value is None:
        return False
    value = net.values[answer.finding].index(answer.value)
    return row[value] > net.otherwise[answer.finding][value]


def _goes_on(book: Book, cause: str, fix: str) -> bool:
    """Whether a fix is a rung of this cause, and a later one mends many bikes that it leaves."""
    cured = {rung.fix: rung.cured for rung in book.causes[cause].ladder}
    return fix in cured and cured[fix] <= max(cured.values()) - LEFT


def _of_what_was_seen(book: Book, deduction: Deduction) -> bool:
    """Whether a deduction stands on what was seen here, and does not speak of a repair in vain."""
    keys = {when.key for when in deduction.when}
    return FAILED not in keys and not keys <= {COMPLAINT, *book.facts}


def _lapsed(outlook: Outlook, deduction: Deduction, check: Check) -> bool:
    """Whether a check that a deduction demands for the order of the search alone is needed no more.

    It is not where the causes are all but known and nothing hangs on what it may tell, or where it was told before a
    repair and nothing hangs on that. Nor is it, where it follows from what was seen, if nothing was amiss before a
    repair in vain, or all but surely nothing is wrong.
    """
    book, situation = outlook.book, outlook.situation
    if _mended(outlook, check) or (outlook.right_before(check) and _of_what_was_seen(outlook.book, deduction)):
        return True
    seen = not all(when.key == COMPLAINT or when.key in book.facts for when in deduction.when)
    if check.danger or (seen and (deduction.danger or not _nothing_wrong(outlook))):
        return False
    told = [one.value for one in situation.answers if one.finding == check.finding and one.stale and one.value]
    if told and seen:
        return False
    if not told and any(max(outlook.belief.marginal(complaint)) < SETTLED for complaint in situation.standing):
        return False
    held = any(one.deduction.danger for one in outlook.conclusions.fired)
    complaints = set(situation.complaints)
    return not any(
        one.danger == "stop"
        or (one.danger and not held)
        or one.also
        or one.hand_off
        or one.before_riding
        or one.conclude
        or (seen and any(book.checks[name].danger for name in one.demand))
        for one in book.deductions.values()
        if any(when.key == check.finding and (not told or told[-1] in when.any_of) for when in one.when)
        and all(when.key != COMPLAINT or not complaints.isdisjoint(when.any_of) for when in one.when)
    )


def _nothing_wrong(outlook: Outlook) -> bool:
    """Whether all but surely nothing is wrong: the known cause of each complaint is one that is normal."""
    net = outlook.belief.net
    for complaint in outlook.situation.standing:
        shares = outlook.belief.marginal(complaint)
        name = net.causes[net.complaints.index(complaint)][shares.index(max(shares))]
        if max(shares) < SETTLED or not name or not outlook.book.causes[name].normal:
            return False
    return True


def _mended(outlook: Outlook, check: Check) -> bool:
    """Whether this look, which guards no danger, is at what was renewed by a repair that helped.

    A new chain is not measured, though what was set may be looked at anew. It may still be asked for what it is worth.
    """
    book, repairs = outlook.book, outlook.situation.repairs
    return not check.danger and any(
        one.finding == check.finding
        and one.value is not None
        and one.stale
        and not one.before
        and one.disturbed_by >= 0
        and any(book.fixes[fix].parts for fix in repairs[one.disturbed_by].fixes)
        for one in outlook.situation.answers
    )


def _risks(outlook: Outlook, threshold: float) -> dict[str, list[float]]:
    """The dangers between negligible and leading: the chance of each in every kept state; "" is all of them.

    One whose sign was seen is not looked for again, nor is anything for all of them together: the bike is held.
    """
    net, here = outlook.belief.net, outlook.here
    seen = outlook.conclusions.seen_dangers() & net.rows.keys()
    known = {cause for finding in seen for cause in net.rows[finding]}
    risks = {} if seen else {"": outlook.stop_risks()}
    for cause in sorted(_stop_causes(outlook) - known):
        risks[cause] = [
            float(any(net.causes[p][i] == cause for p, i in enumerate(net.states[index]))) for index in outlook.kept
        ]
    shares = {cause: _dot(here.weights, risk) / here.mass for cause, risk in risks.items()}
    return {cause: risk for cause, risk in risks.items() if threshold <= shares[cause] < LEADING}


def _heavy(outlook: Outlook, risks: Mapping[str, Sequence[float]]) -> set[str]:
    """The stop-riding causes that are much of the chance of any; none where what is not in the book is most of it."""
    share = _dot(outlook.here.weights, risks.get("", ())) / outlook.here.mass
    return {cause for cause in _stop_causes(outlook) if 0 < share * PART <= outlook.belief.any_of({cause})}


def _stop_causes(outlook: Outlook) -> set[str]:
    return {one for causes in outlook.belief.net.causes for one in causes if one and one in outlook.book.stops}


def _heaviest(outlook: Outlook, check: Check) -> str:
    """The danger that a look is named by: the likeliest stop-riding cause.

    Before it one that is much of them all and that the check's finding speaks to; one that was looked for and not seen
    comes after those that nobody has looked for. A look that guards a danger, but none that is much, is named by the
    likeliest that it guards.
    """
    shares = {one: outlook.belief.any_of({one}) for one in _stop_causes(outlook)}
    least = max(shares.values(), default=0.0) * PART
    clear, speaks = _looked_clear(outlook), outlook.belief.net.rows.get(check.finding, {})
    most = {one for one, share in shares.items() if share >= least}
    guarded = {one for one in speaks if shares.get(one, 0.0) > 0} if check.danger else set()
    if most.isdisjoint(guarded):
        most = guarded or most
    return max(most, key=lambda one: (one in speaks, one not in clear, shares[one], one), default="")


def _could_clear(
    outlook: Outlook, branches: Sequence[Branch], risk: Sequence[float], threshold: float, least: float
) -> bool:
    """Whether some report, not rarer than `least`, would take a danger below the threshold."""
    mass = outlook.here.mass
    for branch in branches:
        part = sum(branch.weights)
        if part >= least * mass and _dot(branch.weights, risk) < threshold * part:
            return True
    return False


def _shown(branches: Sequence[Branch], risk: Sequence[float]) -> float:
    """The mass of the dangers under the reports that show one."""
    dangers = [(sum(branch.weights), _dot(branch.weights, risk)) for branch in branches]
    return sum(danger for mass, danger in dangers if danger > 0 and danger >= SHOWS * mass)


def _dot(weights: Sequence[float], risk: Sequence[float]) -> float:
    chance: float = sum(map(mul, weights, risk))
    return chance
