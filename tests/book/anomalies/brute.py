"""What the anomalies of deductions mean, by trying every bike of a small vocabulary: the oracle.

Cast: `Bike`, `every_bike`; `Brute` says of each deduction whether it can fire, is redundant, has a needless condition,
contradicts another, leads back to itself. It works on the deductions as they are written; nothing of the program is
imported.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from itertools import chain, combinations, product
from typing import Any

Raw = dict[str, Any]
Told = tuple[str, Any]
Bike = frozenset[Told]
"""What is told: (key, word), and (check, number) for a reading."""
Does = tuple[Any, ...]

ENDS: dict[str, Callable[[float, float], bool]] = {
    "from": float.__ge__,
    "above": float.__gt__,
    "below": float.__lt__,
    "up_to": float.__le__,
}


def _some(values: list[str]) -> list[tuple[str, ...]]:
    return list(chain.from_iterable(combinations(values, count) for count in range(len(values) + 1)))


def every_bike(
    single: Mapping[str, list[str]], several: Mapping[str, list[str]], readings: Mapping[str, list[float]]
) -> Iterator[Bike]:
    """Every bike: single facts have one value or none, several any set of values, a check one reading or none."""
    choices: list[list[tuple[Told, ...]]] = []
    for key, values in single.items():
        choices.append([(), *(((key, value),) for value in values)])
    for key, values in several.items():
        choices.append([tuple((key, value) for value in some) for some in _some(values)])
    for check, numbers in readings.items():
        choices.append([(), *(((check, number),) for number in numbers)])
    for picked in product(*choices):
        yield frozenset(chain.from_iterable(picked))


def _listed(value: Any) -> list[Any]:
    return value if isinstance(value, list) else [value]


def does(name: str, then: Raw) -> set[Does]:
    """What a deduction does; a factor is its own."""
    found: set[Does] = set()
    for kind, what in then.items():
        if kind in ("rule_out", "rule_in", "caution", "demand", "ask", "danger"):
            found.update((kind, one) for one in _listed(what))
        elif kind in ("conclude", "also"):
            found.update((kind, key, value) for key, value in what.items())
        elif kind == "likelier":
            found.update((kind, key, value, name) for key, value in what.items())
        else:
            raise AssertionError(kind)
    return found


class Brute:
    """The deductions as written, tried on every bike. `band` gives (finding, value) of a reading on a bike."""

    def __init__(self, deductions: Mapping[str, Raw], bikes: list[Bike], band: Callable[[Bike, Told], Told]) -> None:
        self.deductions = deductions
        self.bikes = bikes
        self._band = band
        self._firing: dict[tuple[Bike, int], set[str]] = {}
        self._kept: list[Mapping[str, Raw]] = []

    def fired(self, bike: Bike, rules: Mapping[str, Raw]) -> set[str]:
        """The deductions that fire on a bike."""
        if (bike, id(rules)) not in self._firing:
            self._kept.append(rules)  # no other rules get its id
            self._firing[bike, id(rules)] = self._rounds(bike, rules)
        return self._firing[bike, id(rules)]

    def _rounds(self, bike: Bike, rules: Mapping[str, Raw]) -> set[str]:
        """By rounds until nothing new follows."""
        known = set(bike) | {self._band(bike, told) for told in bike if isinstance(told[1], float)}
        fired: set[str] = set()
        while True:
            new = {name for name, rule in rules.items() if name not in fired and self._holds(rule["when"], known)}
            if not new:
                return fired
            fired |= new
            for name in new:
                known |= set(rules[name]["then"].get("conclude", {}).items())

    def _holds(self, when: Raw, known: set[Told]) -> bool:
        for key, wanted in when.items():
            if isinstance(wanted, dict):
                met = any(
                    told == key and all(ENDS[end](number, float(edge)) for end, edge in wanted.items())
                    for told, number in known
                    if isinstance(number, float)
                )
            else:
                met = any((key, value) in known for value in _listed(wanted))
            if not met:
                return False
        return True

    def follows(self, bike: Bike, rules: Mapping[str, Raw]) -> set[Does]:
        """All that the deductions do on a bike."""
        return set(chain.from_iterable(does(name, rules[name]["then"]) for name in self.fired(bike, rules)))

    def can_fire(self, name: str) -> bool:
        """Whether some bike fires it."""
        return any(name in self.fired(bike, self.deductions) for bike in self.bikes)

    def redundant(self, name: str) -> bool:
        """Whether it fires somewhere and taking it away changes nothing that follows, on no bike."""
        fewer = {other: rule for other, rule in self.deductions.items() if other != name}
        same = (self.follows(bike, self.deductions) == self.follows(bike, fewer) for bike in self.bikes)
        return self.can_fire(name) and all(same)

    def needless(self, name: str, key: str, told: bool) -> bool:
        """Whether taking one condition away changes nothing that follows, on no bike where its key is told (if so)."""
        rule = self.deductions[name]
        less = {**rule, "when": {one: wanted for one, wanted in rule["when"].items() if one != key}}
        changed = {**self.deductions, name: less}
        bikes = [bike for bike in self.bikes if not told or any(one == key for one, _ in bike)]
        return all(self.follows(bike, self.deductions) == self.follows(bike, changed) for bike in bikes)

    def conflicts(self, name: str) -> bool:
        """Whether on some least bike that fires it what follows contradicts what it does; a danger, on every one."""
        firing = [bike for bike in self.bikes if name in self.fired(bike, self.deductions)]
        least = [bike for bike in firing if not any(other < bike for other in firing)]
        mine = does(name, self.deductions[name]["then"])
        return any(self._contradicted(one, bike) for bike in least for one in mine if one[0] != "danger") or any(
            bool(least) and all(self._contradicted(one, bike) for bike in least) for one in mine if one[0] == "danger"
        )

    def _contradicted(self, one: Does, bike: Bike) -> bool:
        return any(_contrary(one, other) for other in self.follows(bike, self.deductions))

    def circular(self) -> set[str]:
        """The deductions that lead back to themselves: those on a closed walk, found by squaring the relation."""
        names = list(self.deductions)
        leads = {(one, other) for one in names for other in names if self._feeds(one, other)}
        while True:
            more = leads | {(one, last) for one, middle in leads for first, last in leads if middle == first}
            if more == leads:
                return {one for one, other in leads if one == other}
            leads = more

    def _feeds(self, one: str, other: str) -> bool:
        concluded = self.deductions[one]["then"].get("conclude", {})
        wanted = self.deductions[other]["when"]
        return any(word in wanted and value in _listed(wanted[word]) for word, value in concluded.items())


def _contrary(mine: Does, other: Does) -> bool:
    kinds = (mine[0], other[0])
    if kinds in (("rule_in", "rule_out"), ("rule_out", "rule_in")):
        return bool(mine[1] == other[1])
    if kinds in (("likelier", "rule_out"), ("rule_out", "likelier")):
        factor = mine if mine[0] == "likelier" else other
        return bool(mine[1] == other[1] and factor[2] > 1)
    if kinds == ("conclude", "conclude"):
        return bool(mine[1] == other[1] and mine[2] != other[2])
    return bool(mine == ("danger", "care") and other == ("danger", "stop"))
