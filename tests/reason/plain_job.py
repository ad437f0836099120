"""One complaint of a rule book as a problem of decision: what may be done, what it costs, and what it may show.

Cast: `Job` (causes with their shares, checks, fixes, prices, the rules that take a choice away) and `Slots` (what each
check has told). Everything is read from the plain book (rules/FORMAT.md) and nothing of the program is imported.

The bike has one cause, or something else. A finding keeps its value as long as the fault stands. A report is the value
where the check is trusted, else as bikes without such a cause show it; can't tell comes at the rate of the role. A
mechanic does all of it.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from math import exp, log
from operator import mul
from typing import NamedTuple

from scipy import stats

from tests.reason.plain_book import PlainBook, Raw, fraction, listed
from tests.reason.plain_deductions import RIDER, Told, Tried, Visit, deduce, effects, impossible, prior

UNASKED, CANNOT_TELL = -1, -2
"""What a slot holds instead of the place of a value."""
IN_THE_PLAN = 0.1
"""A fix that another comes `after` is in the plan where its chance is at least this."""
LEADING = 0.5
"""A danger is looked for from the book's threshold on, and from this share on it is treated."""
FOUND = 120.0
"""Minutes of looking that finding one bike which must not be ridden is worth: as much as a hand-off."""
SHOWS = 0.2
"""A report that leads the dangers together to this share shows one."""
PART = 0.25
"""A danger is one that all together are about from this part of them on."""
CLEAR = 0.25
"""An answer seen with a danger less than so much of what is seen otherwise speaks against it."""
RARE = 0.02
"""A report that comes less often clears no danger."""
BESIDE = 0.2
"""The same for a question that speaks of none of the dangers."""
GUESS = 0.5
"""A look that is trusted no more than this is not made beside a surer one that is demanded anyway."""

Slots = tuple[int, ...]
Fixes = tuple[str, ...]
Open = frozenset[str]
CLOSED: Open = frozenset()
P90 = float(stats.norm.ppf(0.9))


class Check(NamedTuple):
    """A check by its place: its finding, minutes with asking, what it needs open, checks it needs first."""

    name: str
    finding: str
    minutes: float
    chain: Open
    needs: tuple[int, ...]
    danger: bool
    by_mechanic: bool


@dataclass(frozen=True, slots=True)
class Rules:
    """What the deductions that fire say.

    Whether it must be given away, checks demanded, fixes that must be done, and signs that nobody may ride with.
    """

    given_away: bool
    demanded: tuple[int, ...]
    must: tuple[str, ...]
    seen: frozenset[str]


class Job:
    """A complaint of a book on a bike of which nothing else is known. `lasting`: no fix disturbs an answer."""

    def __init__(self, book: PlainBook, complaint: str, lasting: bool = False) -> None:
        self.book = book
        self.lasting = lasting
        self.complaint = complaint
        self.test = float(book.complaints[complaint]["repeat_test"]["minutes"])
        self.rate = float(book.constants["labour_rate"]) / 60
        self.cannot_tell = fraction(book.constants["cannot_tell"]["mechanic"])
        self.threshold = fraction(book.constants["stop_threshold"])
        names = book.can_have(complaint, {})
        self.causes: list[str | None] = [*names, None]
        self.prior = prior(book, complaint, names, effects(book, Visit((complaint,))).times)
        self.places = {name: place for place, name in enumerate(sorted(book.checks))}
        self.checks = [self._check(name) for name in self.places]
        self.values = [book.values(one.finding) for one in self.checks]
        self._gone = {(c, f): impossible(book, Visit((complaint,)), c, f) for c in names for f in book.findings}
        self._rows = {finding: [self._row(cause, finding) for cause in self.causes] for finding in book.findings}
        self.same = {f: [k for k, one in enumerate(self.checks) if one.finding == f] for f in book.findings}
        self.fixes = sorted(fix for fix in book.fixes if any(book.rung(cause, fix) for cause in names))
        self.risks = self._risks()
        self.used = lru_cache(None)(self._used)
        self.rules = lru_cache(None)(self._rules)
        self.shown = lru_cache(None)(self._shown)
        self.treatment = lru_cache(None)(self._treatment)
        self.cost = lru_cache(None)(self._cost)
        self.cures = lru_cache(None)(self._cures)
        self.prices = lru_cache(None)(self._prices)
        self.disturbed = lru_cache(None)(self._disturbed)

    # --- what is likely --------------------------------------------------------------------------------------------

    def weights(self, told: Slots, failed: frozenset[str]) -> list[float]:
        """For each cause the chance that it is the one and that all went as told."""
        left = [1 - gone for gone in self.used(failed)]
        return list(map(mul, self.shown(tuple(sorted((k, v) for k, v in enumerate(told) if v >= 0))), left))

    def _shown(self, reports: tuple[tuple[int, int], ...]) -> tuple[float, ...]:
        """For each cause its share times the chance of these reports (place of the check, of the value)."""
        weights = list(self.prior)
        for finding, same in self.same.items():
            heard = [report for report in reports if report[0] in same]
            if heard:
                weights = list(map(mul, weights, self.factors(finding, heard)))
        return tuple(weights)

    def factors(self, finding: str, reports: Iterable[tuple[int, int]]) -> list[float]:
        """For each cause the chance of these reports on a finding."""
        message = self.message(finding, reports)
        return [sum(map(mul, row, message)) for row in self._rows[finding]]

    def message(self, finding: str, reports: Iterable[tuple[int, int]]) -> list[float]:
        """For each value of a finding the chance of these reports on it."""
        otherwise = list(self.book.otherwise(finding).values())
        message = [1.0] * len(otherwise)
        for check, said in reports:
            trust = self.book.trust(self.checks[check].name, "mechanic")
            message = [
                heard * (trust * (value == said) + (1 - trust) * otherwise[said]) for value, heard in enumerate(message)
            ]
        return message

    def _row(self, cause: str | None, finding: str) -> list[float]:
        otherwise = self.book.otherwise(finding)
        if cause is None:
            return list(otherwise.values())
        row = self.book.row(cause, finding) or otherwise
        kept = [0.0 if value in self._gone[cause, finding] else chance for value, chance in row.items()]
        return [chance / sum(kept) for chance in kept] if sum(kept) > 0 else list(row.values())

    def speaks(self, cause: str, finding: str) -> bool:
        """Whether a cause says anything of a finding, or is ruled out by it."""
        return finding in self.book.causes[cause]["shows"] or bool(self._gone[cause, finding])

    def _used(self, failed: frozenset[str]) -> tuple[float, ...]:
        return tuple(
            max((self.book.cured(cause, fix) for fix in failed), default=0.0) if cause else 0.0 for cause in self.causes
        )

    # --- checks ----------------------------------------------------------------------------------------------------

    def _check(self, name: str) -> Check:
        said = self.book.checks[name]
        return Check(
            name,
            self.book.home[name],
            float(said["minutes"]) + float(self.book.constants["asking_minutes"]),
            self._chain(said.get("teardown")),
            tuple(self.places[need] for need in listed(said.get("needs"))),
            said.get("danger") == "yes",
            said["by"] == "mechanic",
        )

    def ask(self, check: int, is_open: Open) -> tuple[float, Open]:
        """Minutes of a check with opening what it needs open, or closing all where it needs nothing; what is open."""
        one = self.checks[check]
        if one.chain:
            return one.minutes + self._opening(one.chain - is_open), is_open | one.chain
        if one.by_mechanic:
            return one.minutes + self._closing(is_open), CLOSED
        return one.minutes, is_open

    def needed(self, check: int, told: Slots) -> list[int]:
        """The checks that are still to be answered before this one, in order."""
        wanted: list[int] = []
        for need in self.checks[check].needs:
            if told[need] == UNASKED:
                wanted += [one for one in (*self.needed(need, told), need) if one not in wanted]
        return wanted

    @property
    def asking(self) -> float:
        """Minutes that any question costs on top of its own."""
        return float(self.book.constants["asking_minutes"])

    def trust(self, check: int) -> float:
        """How far a mechanic's answer to a check is trusted."""
        return self.book.trust(self.checks[check].name, "mechanic")

    def against(self, cause: str, check: int, said: int) -> bool:
        """Whether an answer is seen with a cause much less than otherwise."""
        finding = self.checks[check].finding
        otherwise = list(self.book.otherwise(finding).values())
        return self._rows[finding][self.causes.index(cause)][said] < CLEAR * otherwise[said]

    def still_wanted(self, check: int, told: Slots) -> bool:
        """Whether a demanded check was neither made nor told by another look at its finding that is trusted no less."""
        trust = [self.book.trust(one.name, "mechanic") for one in self.checks]
        others = (k for k in self.same[self.checks[check].finding] if told[k] >= 0 and k != check)
        return told[check] == UNASKED and not any(trust[k] >= trust[check] for k in others)

    def settled(self, check: int, told: Slots) -> bool:
        """Whether the reports on its finding leave one value."""
        finding = self.checks[check].finding
        heard = [(k, told[k]) for k in self.same[finding] if told[k] >= 0]
        return sum(chance > 0 for chance in self.message(finding, heard)) <= 1

    # --- what takes the choice away --------------------------------------------------------------------------------

    def _rules(self, told: Slots, failed: frozenset[str]) -> Rules:
        """What the deductions say once this is told and these fixes have failed."""
        answers = tuple(
            Told(one.name, values[said], "mechanic")
            for one, values, said in zip(self.checks, self.values, told, strict=True)
            if said >= 0
        )
        tried = (Tried(tuple(sorted(failed)), {self.complaint: False}),) if failed else ()
        fired = deduce(self.book, Visit((self.complaint,), answers=answers, tried=tried))
        then = {name: self.book.deductions[name]["then"] for name in sorted(fired)}
        return Rules(
            any(
                fired[name] < RIDER and said.get("hand_off", {}).get("urgency") == "before riding"
                for name, said in then.items()
            ),
            tuple(self.places[check] for said in then.values() for check in listed(said.get("demand"))),
            tuple(
                fix
                for said in then.values()
                for fix, level in said.get("also", {}).items()
                if level == "must" and fix not in failed
            ),
            frozenset(
                key
                for name, said in then.items()
                if said.get("danger") == "stop" and fired[name] < RIDER
                for key in self.book.deductions[name]["when"]
                if key in self.same and any(self.speaks(cause, key) for cause in self.causes if cause)
            ),
        )

    def given(self, told: Slots, failed: frozenset[str]) -> Rules:
        """What the deductions say; can't tell is nothing."""
        return self.rules(tuple(max(said, UNASKED) for said in told), failed)

    def _risks(self) -> list[tuple[str, list[float]]]:
        """For all dangers together (first), then for each cause that stops the ride: the danger under each cause."""
        unknown = fraction(self.book.complaints[self.complaint]["danger_if_unknown"])
        stops = [bool(cause) and self.book.causes[cause or ""]["danger"] == "stop" for cause in self.causes]
        together = [float(stop) for stop in stops[:-1]] + [unknown]
        alone = [
            (cause or "", [float(place == k) for k in range(len(stops))])
            for place, (cause, stop) in enumerate(zip(self.causes, stops, strict=True))
            if stop
        ]
        return [("", together), *alone]

    def could_ask(self, told: Slots) -> Iterator[int]:
        """The checks that are open and can tell something."""
        for check, said in enumerate(told):
            spoken = any(self.speaks(cause, self.checks[check].finding) for cause in self.causes if cause)
            if said == UNASKED and spoken and not self.settled(check, told):
                yield check

    def cost_with(self, check: int, needed: Sequence[int], is_open: Open) -> float:
        """Minutes of a check with those of what it needs first."""
        every = [self.checks[one] for one in (*needed, check)]
        chain = CLOSED.union(*(one.chain for one in every))
        minutes = sum(one.minutes for one in every)
        if not chain:
            return minutes + (self._closing(is_open) if self.checks[check].by_mechanic else 0.0)
        return minutes + self._opening(chain - is_open)

    # --- fixes -----------------------------------------------------------------------------------------------------

    def _treatment(self, fixes: Fixes, failed: frozenset[str]) -> Fixes:
        """The fixes, each behind the fixes that it needs and that are not done yet."""
        together: list[str] = []
        for fix in fixes:
            for need in listed(self.book.fixes[fix].get("needs")):
                if need in self.book.fixes and need not in failed:
                    together += [one for one in self.treatment((need,), failed) if one not in together]
            if fix not in together:
                together.append(fix)
        return tuple(together)

    def unmet(self, fixes: Fixes, told: Slots) -> list[int]:
        """The checks that these fixes need, and that neither was made nor has its finding told."""
        needed = [
            self.places[need]
            for fix in fixes
            for need in listed(self.book.fixes[fix].get("needs"))
            if need in self.places
        ]
        return [
            need
            for need in dict.fromkeys(needed)
            if told[need] == UNASKED and not any(told[k] >= 0 for k in self.same[self.checks[need].finding])
        ]

    def _cost(self, fixes: Fixes, is_open: Open) -> float:
        """Minutes of fixes done together: open what is closed, work, close everything, one repeat test."""
        chain = CLOSED.union(*(self.chain_of(fix) for fix in fixes))
        work = sum(self._work(self.book.fixes[fix]) for fix in fixes)
        return self._opening(chain - is_open) + work + self._closing(chain | is_open) + self.test

    def chain_of(self, fix: str) -> Open:
        """What a fix needs open."""
        return self._chain(self.book.fixes[fix].get("teardown"))

    def _cures(self, fixes: Fixes, failed: frozenset[str]) -> tuple[float, ...]:
        """For each cause how many of those that still have it are well after these fixes."""
        before, after = self.used(failed), self.used(failed | set(fixes))
        return tuple((new - old) / (1 - old) for old, new in zip(before, after, strict=True))

    def before(self, fixes: Fixes, failed: frozenset[str]) -> list[str]:
        """The fixes that come before these where they are in the plan, and are not done yet."""
        named = {one for fix in fixes for one in listed(self.book.fixes[fix].get("after"))}
        return sorted((named & set(self.fixes)) - {*fixes, *failed})

    def _disturbed(self, fixes: Fixes) -> frozenset[int]:
        """The checks whose answers no longer count once these fixes are done."""
        findings: set[str] = set()
        for fix in () if self.lasting else fixes:
            said = self.book.fixes[fix].get("disturbs")
            home = next(
                one for one in self.book.causes.values() if any(rung["fix"] == fix for rung in one.get("ladder", ()))
            )
            findings.update(home["shows"] if said is None else listed(said))
        return frozenset(
            place
            for place, one in enumerate(self.checks)
            if one.finding in findings and self.book.findings[one.finding].get("lasting") != "yes"
        )

    def _work(self, fix: Raw) -> float:
        low, high = (float(fix["minutes"][end]) for end in ("low", "high"))
        spread = log(high / low) / (2 * P90)
        return exp((log(low) + log(high)) / 2 + spread**2 / 2) + self._parts(fix) / self.rate

    def _parts(self, fix: Raw) -> float:
        return sum(
            float(count) * sum(float(self.book.parts[part]["price"][end]) for end in ("low", "high")) / 2
            for part, count in fix.get("parts", {}).items()
        )

    def _prices(self, failed: frozenset[str]) -> tuple[float, ...]:
        """For each cause what giving the bike away weighs: the class's minutes, and parts that are paid there too."""
        usual = float(self.book.constants["hand_off_minutes"])
        return tuple(
            self._price(cause, gone) if cause else usual
            for cause, gone in zip(self.causes, self.used(failed), strict=True)
        )

    def _price(self, cause: str, gone: float) -> float:
        price = float(self.book.constants["hand_off_minutes"])
        away = self.book.causes[cause].get("hand_off")
        if away:
            price = float(self.book.hand_offs[away["class"]]["minutes"])
        still = [
            self._parts(self.book.fixes[fix])
            for fix in self.fixes
            if self.book.rung(cause, fix) and self.book.rung(cause, fix) - gone >= (1 - gone) / 2
        ]
        return price + min(still, default=0.0) / self.rate

    # --- teardowns -------------------------------------------------------------------------------------------------

    def _chain(self, teardown: str | None) -> Open:
        chain: list[str] = []
        while teardown:
            chain.append(teardown)
            teardown = self.book.teardowns[teardown].get("inside")
        return frozenset(chain)

    def _opening(self, chain: Iterable[str]) -> float:
        return sum(float(self.book.teardowns[one]["open"]) for one in chain)

    def _closing(self, chain: Iterable[str]) -> float:
        return sum(float(self.book.teardowns[one]["close"]) for one in chain)
