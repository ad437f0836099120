"""Anomalies among deductions: redundant, subsumed, conflicting, circular, a condition that is not needed.

Cast: `Redundant`, `Subsumed`, `Conflicting`, `Circular`, `Unnecessary`. All hold them against what follows on every
least ground (`closure.py`), so that one deduction is weighed against all others together.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import chain

from diagnose.book.anomalies.anomaly import ERROR, Anomaly, Example, Found, Study
from diagnose.book.anomalies.closure import Closure, Effect, Ground, implies, within
from diagnose.book.model import Deduction, When

FILE = "front/deductions.yaml"
_WORD = ("conclusions.yaml", 'crash-suspected: {name: "signs of a crash", values: {"yes": "yes"}}')


def followed_without(study: Study, deduction: Deduction) -> list[str] | None:
    """The deductions that do together all that this one does, wherever it fires; None where they do not."""
    closure = study.closure
    wanted = closure.effects[deduction.id]
    grounds = closure.least_grounds(deduction)
    instead: set[str] = set()
    for ground in grounds:
        followed = closure.of(ground, without=deduction.id)
        if not wanted <= followed.effects:
            return None
        instead.update(name for name in followed.fired if closure.effects[name] & wanted)
    return sorted(instead) if grounds and wanted else None


def covering(study: Study, deduction: Deduction) -> Deduction | None:
    """One deduction that fires wherever this one does and does all that it does."""
    effects = study.closure.effects
    for other in study.book.deductions.values():
        if other.id != deduction.id and effects[deduction.id] <= effects[other.id] and implies(deduction, other):
            return other
    return None


def _first_written(study: Study, one: Deduction, other: Deduction) -> bool:
    order = list(study.book.deductions)
    return order.index(one.id) < order.index(other.id)


def _twins(study: Study, one: Deduction, other: Deduction) -> bool:
    """Whether two deductions are the same but for their names and reasons."""
    effects = study.closure.effects
    return effects[one.id] == effects[other.id] and implies(one, other) and implies(other, one)


class Redundant(Anomaly):
    """A deduction without which nothing else would follow: others say all of it already."""

    name = "deduction.redundant"
    why = "Whoever changes the one forgets the other, and the book contradicts itself from then on."
    wrong = Example(
        FILE,
        """
bars-notchy-stop:
  when: {steering-feel: notchy}
  then: {danger: care}
  because: "Steering that catches surprises its rider."
  basis: common practice
notchy-once-more:
  when: {steering-feel: notchy}
  then: {danger: care}
  because: "Notchy steering catches."
  basis: common practice
""",
    )
    right = Example(
        FILE,
        """
bars-notchy-care:
  when: {steering-feel: notchy}
  then: {danger: care}
  because: "Steering that catches surprises its rider."
  basis: common practice
notchy-after-work:
  when: {steering-feel: notchy, recent-work: fork}
  then: {danger: care, caution: carbon-clamp}
  because: "Pressed in crooked: it will get worse."
  basis: common practice
""",
    )

    def find(self, study: Study) -> Iterator[Found]:
        """Report what others say, unless one broader deduction does: that is told as subsumed."""
        for deduction in study.book.deductions.values():
            instead = followed_without(study, deduction)
            if instead is None:
                continue
            other = covering(study, deduction)
            if other and not _twins(study, deduction, other):
                continue
            if other and _first_written(study, deduction, other):
                continue
            names = [other.id] if other else instead
            told = " and ".join(f"'{name}'" for name in names)
            message = f"all that '{deduction.id}' concludes follows from {told} anyway"
            hint = "Delete it, or add what only it concludes."
            owner = ("deduction", deduction.id)
            yield Found(study.place(owner), message, hint, owner, tuple(names))


class Subsumed(Anomaly):
    """A deduction with narrower conditions than another that concludes as much or more."""

    name = "deduction.subsumed"
    why = "The narrower one never adds anything, yet it reads as if its extra condition mattered."
    wrong = Example(
        FILE,
        """
bars-notchy-care:
  when: {steering-feel: notchy}
  then: {danger: care, caution: pinch}
  because: "Steering that catches surprises its rider."
  basis: common practice
notchy-and-carbon:
  when: {steering-feel: notchy, steerer: carbon}
  then: {danger: care}
  because: "Notchy steering catches."
  basis: common practice
""",
    )
    right = Example(
        FILE,
        """
bars-notchy-care:
  when: {steering-feel: notchy}
  then: {danger: care}
  because: "Steering that catches surprises its rider."
  basis: common practice
notchy-and-carbon:
  when: {steering-feel: notchy, steerer: carbon}
  then: {danger: stop}
  because: "A carbon steerer that was ground by a loose bearing may break."
  basis: common practice
""",
    )

    def find(self, study: Study) -> Iterator[Found]:
        """Report a deduction that one broader one covers."""
        for deduction in study.book.deductions.values():
            other = covering(study, deduction)
            if other is None or _twins(study, deduction, other) or not study.closure.least_grounds(deduction):
                continue
            message = f"'{deduction.id}' adds nothing to '{other.id}', which holds in more cases and concludes the same"
            hint = f"Delete it, or conclude what '{other.id}' does not."
            owner = ("deduction", deduction.id)
            yield Found(study.place(owner), message, hint, owner, (other.id,))


class Conflicting(Anomaly):
    """A deduction under whose own conditions the contrary of what it concludes follows as well."""

    name = "deduction.conflict"
    severity = ERROR
    why = "Both fire on the same bike: the screen says one thing and its contrary, and a cause may be lost."
    wrong = Example(
        FILE,
        """
notchy-is-the-bearings:
  when: {steering-feel: notchy, headset: threadless}
  then: {rule_in: [bearings-worn]}
  because: "Pitted races catch."
  basis: common practice
notchy-is-not-the-bearings:
  when: {steering-feel: notchy}
  then: {rule_out: [bearings-worn]}
  because: "Catching comes from the cables."
  basis: memory
""",
    )
    right = Example(
        FILE,
        """
notchy-is-the-bearings:
  when: {steering-feel: notchy}
  then: {rule_in: [bearings-worn]}
  because: "Pitted races catch."
  basis: common practice
smooth-is-not-the-bearings:
  when: {steering-feel: smooth}
  then: {rule_out: [bearings-worn]}
  because: "Pitted races catch."
  basis: common practice
""",
    )

    def find(self, study: Study) -> Iterator[Found]:
        """Report each pair once, at the deduction with more conditions."""
        told: set[frozenset[str]] = set()
        by_conditions = sorted(study.book.deductions.values(), key=lambda one: -len(one.when))
        for deduction in by_conditions:
            for other, where, what in self._against(study.closure, deduction):
                pair = frozenset((deduction.id, other))
                if pair not in told:
                    told.add(pair)
                    hint = "Keep one of the two, or give one a condition that keeps it off the other's bikes."
                    owner = ("deduction", deduction.id)
                    yield Found(study.place(owner), f"{where}: {what}", hint, owner, (other,))

    def _against(self, closure: Closure, deduction: Deduction) -> Iterator[tuple[str, str, str]]:
        """Deductions that contradict this one on some least ground of it, where they hold, and how.

        Care where it says stop already is meant where that is so on some grounds only: then the one sharpens the other.
        """
        mine = deduction.id
        grounds = [self._contraries(closure, mine, ground) for ground in closure.least_grounds(deduction)]
        worse = all(any(effect[0] == "danger" for _, effect, _ in found) for found in grounds)
        for clash in dict.fromkeys(chain.from_iterable(grounds)):
            other, effect, contrary = clash
            if effect[0] != "danger" or worse:
                where = f"on some bikes '{mine}' and '{other}' both hold, and they contradict"
                if all(clash in found for found in grounds):
                    where = f"wherever '{mine}' holds, '{other}' holds too, and they contradict"
                yield other, where if other != mine else f"'{mine}' contradicts itself", _both(effect, contrary)

    def _contraries(self, closure: Closure, mine: str, ground: Ground) -> list[tuple[str, Effect, Effect]]:
        """Who contradicts a deduction on one ground: with what of its, and by what."""
        return [
            (other, effect, contrary)
            for other in closure.of(ground).fired
            for effect in sorted(closure.effects[mine], key=str)
            for contrary in sorted(closure.effects[other], key=str)
            if contradict(effect, contrary)
        ]


def contradict(one: Effect, other: Effect) -> bool:
    """Whether two conclusions cannot both be meant, the one being the narrower deduction's.

    A cause is ruled out, and ruled in or made likelier; a word has two values; care where it says stop already.
    """
    kinds = {one[0], other[0]}
    if one[0] == other[0] == "danger":
        return (one[1], other[1]) == ("care", "stop")
    if kinds == {"rule out", "rule in"}:
        return one[1] == other[1]
    if one[0] == other[0] == "conclude":
        return one[1] == other[1] and one[2] != other[2]
    if kinds == {"rule out", "factor"}:
        factor = one if one[0] == "factor" else other
        return one[1] == other[1] and float(factor[2]) > 1
    return False


def _both(effect: Effect, contrary: Effect) -> str:
    return f"{_told(effect)} and {_told(contrary)}"


def _told(effect: Effect) -> str:
    kind, *rest = effect
    if kind == "factor":
        return f"likelier {rest[0]}"
    return f"{kind} {' '.join(str(one) for one in rest)}"


class Circular(Anomaly):
    """Deductions whose conclusions need one another: a word that can be concluded only from itself."""

    name = "deduction.circular"
    why = "Asked why, the program would give a reason that rests on itself."
    wrong = Example(
        FILE,
        """
opened-so-crashed:
  when: {front-end-history: opened, steering-feel: notchy}
  then: {conclude: {crash-suspected: "yes"}}
  because: "A front end that was opened and catches had a reason to be opened."
  basis: memory
crashed-so-opened:
  when: {crash-suspected: "yes"}
  then: {conclude: {front-end-history: opened}}
  because: "After a crash somebody had the fork in his hands."
  basis: memory
""",
        (_WORD,),
    )
    right = Example(
        FILE,
        """
opened-so-crashed:
  when: {front-end-history: opened, steering-feel: notchy}
  then: {conclude: {crash-suspected: "yes"}}
  because: "A front end that was opened and catches had a reason to be opened."
  basis: memory
crashed-so-care:
  when: {crash-suspected: "yes"}
  then: {danger: care}
  because: "What was in a crash is looked over before it is ridden fast."
  basis: memory
""",
        (_WORD,),
    )

    def find(self, study: Study) -> Iterator[Found]:
        """Report each deduction that its own conclusion leads back to."""
        deductions = study.book.deductions.values()
        follows = {
            one.id: {other.id for other in deductions if _feeds(one, other)} for one in deductions if one.conclude
        }
        for deduction in deductions:
            way = _way_back(deduction.id, follows)
            if way:
                told = ", then ".join(f"'{name}'" for name in [*way, deduction.id])
                message = f"'{deduction.id}' leads back to itself: {told}"
                hint = "Break the circle: let one of them stand on facts or findings alone."
                owner = ("deduction", deduction.id)
                yield Found(study.place(owner), message, hint, owner, tuple(way))


def _feeds(one: Deduction, other: Deduction) -> bool:
    return any(one.conclude.get(when.key) in when.any_of for when in other.when if when.key in one.conclude)


def _way_back(name: str, follows: dict[str, set[str]]) -> list[str]:
    """The shortest way from a deduction back to itself, without it at the end; empty where there is none."""
    came: dict[str, str] = {}
    waiting = [name]
    while waiting:
        at = waiting.pop(0)
        for after in sorted(follows.get(at, ())):
            if after == name:
                way = [at]
                while way[0] != name:
                    way.insert(0, came[way[0]])
                return way
            if after not in came:
                came[after] = at
                waiting.append(after)
    return []


class Unnecessary(Anomaly):
    """A condition without which the same would follow once its question is answered, whatever the answer."""

    name = "deduction.condition"
    why = "A question may be asked, or a fact wanted, for a condition that decides nothing."
    wrong = Example(
        FILE,
        """
notchy-threadless:
  when: {steering-feel: notchy, headset: threadless}
  then: {danger: care}
  because: "Steering that catches surprises its rider."
  basis: common practice
notchy-threaded:
  when: {steering-feel: notchy, headset: threaded}
  then: {danger: care}
  because: "Steering that catches surprises its rider."
  basis: common practice
""",
    )
    right = Example(
        FILE,
        """
notchy-threadless:
  when: {steering-feel: notchy, headset: threadless}
  then: {danger: care}
  because: "Steering that catches surprises its rider."
  basis: common practice
notchy-threaded:
  when: {steering-feel: notchy, headset: threaded}
  then: {danger: stop}
  because: "A threaded headset that binds may turn its lock nut off."
  basis: common practice
""",
    )

    def find(self, study: Study) -> Iterator[Found]:
        """Report each condition that every other value of its key would do as well."""
        for deduction in study.book.deductions.values():
            if followed_without(study, deduction) is not None:
                continue  # all of it is not needed, and is told so
            for when in deduction.when:
                instead = needless(study, deduction, when)
                if instead is not None:
                    told = " and ".join(f"'{name}'" for name in instead)
                    because = f" ({told} says the same for the other values)"
                    if not told or when.key in study.book.words:
                        all_of_it = _other_values(study, when) == () and when.key not in study.book.words
                        because = ": it lists every value" if all_of_it else ": it follows from the other conditions"
                    message = f"the condition '{when.key}' of '{deduction.id}' decides nothing{because}"
                    hint = "Delete this condition" + (f", and {told}." if told else ".")
                    yield Found(when.where, message, hint, ("deduction", deduction.id), tuple(instead))


def needless(study: Study, deduction: Deduction, when: When) -> list[str] | None:
    """Whether all follows under every other value of a condition's key: by which deductions; None where not."""
    closure = study.closure
    wanted = closure.effects[deduction.id]
    instead: set[str] = set()
    others = _other_values(study, when)
    if others is None:
        return None
    for ground in _grounds_under(study, deduction, when, others):
        followed = closure.of(ground)
        if not wanted <= followed.effects:
            return None
        instead.update(name for name in followed.fired if closure.effects[name] & wanted and name != deduction.id)
    return sorted(instead)


def _grounds_under(study: Study, deduction: Deduction, when: When, others: tuple[str | float, ...]) -> Iterator[Ground]:
    """The least grounds of what is left of a deduction, with each other value of the key; a word is left out."""
    if when.key in study.book.words:
        yield from study.closure.least_grounds(deduction, leaving=when.key)
    for value in others:
        yield from study.closure.least_grounds(deduction, leaving=when.key, adding=((when.key, value),))


def _other_values(study: Study, when: When) -> tuple[str | float, ...] | None:
    """The values of a key that a condition leaves out; None for a key that is not always told."""
    book = study.book
    if when.key == "fix-failed":
        return None
    if when.key == "complaint":
        values: tuple[str | float, ...] = tuple(book.complaints)
    elif when.key in book.words:
        return ()
    elif when.key in book.facts:
        values = tuple(book.facts[when.key].values)
    elif when.key in book.findings:
        values = tuple(book.findings[when.key].values)
    else:
        readings = study.closure.readings.get(when.key, ())
        return tuple(one for one in readings if not within(when, one))
    return tuple(value for value in values if value not in when.any_of)
