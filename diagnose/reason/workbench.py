"""What a stand can do, what must be done first there, and what its work costs.

Cast: `Bench` answers for one situation (tools, skill, what was told); `mean_minutes` is the mean of a span of minutes.
All costs are minutes; parts are priced at the labour rate.
"""

from __future__ import annotations

from collections.abc import Iterable
from functools import lru_cache
from math import exp, log

from diagnose.book.conditions import may_hold, parts_for
from diagnose.book.model import Book, Check, Condition, Finding, Fix
from diagnose.reason.situation import Situation

P90 = 1.2815515655446004
"""Standard normal quantile of 0.9: minutes are lognormal with their low and high as P10 and P90."""


@lru_cache(maxsize=4096)
def mean_minutes(low: float, high: float) -> float:
    """Mean of the lognormal with P10 `low` and P90 `high`: exp(mu + sigma^2 / 2)."""
    sigma = log(high / low) / (2 * P90)
    return exp((log(low) + log(high)) / 2 + sigma * sigma / 2)


class Bench:
    """What this stand can do (tools, skill) and what its work costs."""

    def __init__(self, book: Book, situation: Situation) -> None:
        self.book = book
        self.situation = situation
        self._chains: dict[str, frozenset[str]] = {}
        self._told = {answer.finding for answer in situation.fresh}
        self._values: dict[str, set[str]] = {}
        for answer in situation.fresh:
            if answer.value is not None:
                self._values.setdefault(answer.finding, set()).add(answer.value)
        self._off = {
            back
            for fact, values in situation.profile.items()
            for value, back in book.facts[fact].off.items()
            if value in values
        }
        self.in_vain = {
            one.fix
            for one in situation.already
            if one.result != "better" and (one.who == "workshop" or book.fixes[one.fix].skill == "rider")
        }
        """Fixes told as done before the bike came that made no difference, by somebody who can be trusted with them."""
        self._answered = {answer.check for answer in situation.answers if answer.value is not None}

    def lacks(self, fix: Fix) -> str:
        """Why this fix cannot be done here, or an empty text."""
        situation = self.situation
        if fix.id in situation.not_possible:
            return "not possible here"
        if fix.skill == "mechanic" and situation.skill == "rider":
            return "work for a mechanic"
        missing = [self.book.tools[tool] for tool in self._tools(fix) if tool in situation.without]
        if missing:
            return f"no {missing[0]} here"
        if kept := self.kept_back(fix.only_if):
            return kept
        needed = [self.book.fixes[need] for need in fix.needs if need in self.book.fixes and need not in situation.done]
        return next((why for why in map(self.lacks, needed) if why), "")

    def only_if(self, check: Check) -> Condition:
        """What must be told, and so, before a check: its own condition, and that what it needs on the bike is back."""
        if not self._off:
            return check.only_if
        findings = self.book.findings
        needed = {*check.mounted, *findings[check.finding].mounted} & self._off
        back: Condition = {name: (next(iter(findings[name].values)),) for name in sorted(needed)}
        return {**check.only_if, **back}

    def pointless(self, check: Check) -> bool:
        """Whether something was told after which this check is not made: it would tell nothing, or hurt."""
        return any(not self._values.get(name, set()).isdisjoint(values) for name, values in check.not_if.items())

    def kept_back(self, only_if: Condition) -> str:
        """Why something that is done only if findings were told so may not be done here, or an empty text.

        It is kept back where one was told otherwise, or nobody could tell and no check is left that could.
        """
        for name, values in only_if.items():
            finding = self.book.findings[name]
            told = self._values.get(name, set())
            unseen = not told and may_hold(finding.applies, self.situation.profile) and not self._may_look(finding)
            if unseen or not told <= set(values):
                wanted = " or ".join(f'"{finding.values[value]}"' for value in values)
                return f"it is done only where {finding.name} was told as {wanted}"
        return ""

    def looked_at_first(self, only_if: Condition) -> list[str]:
        """For each finding that must have been told so, and was not told yet, the quickest check that could tell it.

        One that itself waits for another of them comes after it: the mech goes on before the chain.
        """
        waiting = [self.book.findings[name] for name in only_if if name not in self._told]
        ways = [self._may_look(finding) for finding in waiting]
        quickest = [min(open_checks, key=lambda one: (one.minutes, one.id)) for open_checks in ways if open_checks]
        return [one.id for one in sorted(quickest, key=lambda one: len({*self.only_if(one)} - self._told))]

    def _may_look(self, finding: Finding) -> list[Check]:
        """Checks of a finding that this stand can make and that were not asked yet."""
        situation = self.situation
        asked = {answer.check for answer in situation.answers if not answer.stale}
        fitting = filter(self._applies, finding.checks)
        return [one for one in fitting if one.id not in asked and not situation.bars(one) and not self.pointless(one)]

    def _tools(self, fix: Fix) -> list[str]:
        """The tools of a fix, and of the checks that it needs and that nobody has answered yet."""
        checks = [self.book.checks[need] for need in fix.needs if need in self.book.checks]
        open_checks = [one for one in checks if one.finding not in self._told and self._applies(one)]
        return [*fix.tools, *(tool for one in open_checks for tool in one.tools)]

    def chain(self, teardown: str | None) -> frozenset[str]:
        """A teardown with all that must be open before it."""
        if teardown is None:
            return frozenset()
        if teardown not in self._chains:
            one = self.book.teardowns[teardown]
            self._chains[teardown] = self.chain(one.inside) | {teardown}
        return self._chains[teardown]

    def opening(self, teardowns: frozenset[str], already_open: frozenset[str]) -> float:
        """Minutes to open what is still closed."""
        total = 0.0
        for one in teardowns - already_open if already_open else teardowns:
            total += self.book.teardowns[one].open
        return total

    def closing(self, teardowns: Iterable[str]) -> float:
        """Minutes to close all these."""
        total = 0.0
        for one in teardowns:
            total += self.book.teardowns[one].close
        return total

    def parts_price(self, fix: Fix) -> tuple[float, float]:
        """Low and high price of a fix's parts, in the book's currency."""
        parts = [(self.book.parts[part], count) for part, count in parts_for(fix, self.situation.profile).items()]
        return sum(part.low * count for part, count in parts), sum(part.high * count for part, count in parts)

    def counted(self, names: Iterable[str]) -> list[tuple[int, ...]]:
        """Of those of these fixes whose parts are not the same for every bike, how many are taken at this one."""
        fixes = [self.book.fixes[name] for name in names if name in self.book.fixes]
        profile = self.situation.profile
        return [tuple(parts_for(one, profile).values()) for one in fixes if one.part_cases]

    def work(self, fix: Fix) -> float:
        """Mean minutes of a fix and of its parts at the labour rate, without teardown and test."""
        low, high = self.parts_price(fix)
        return mean_minutes(fix.low, fix.high) + (low + high) / 2 / self.book.constants.rate

    def unmet(self, fix: Fix) -> list[str]:
        """Checks and fixes that this fix needs and that are not done yet, in order, each with what it needs itself."""
        if not (fix.needs or fix.only_if):
            return []
        wanted = self.looked_at_first(fix.only_if)
        for need in fix.needs:
            before = self._unmet_of(need) if need in self.book.fixes else self._before(need)
            for one in [*before, need]:
                if one not in wanted and not self._met(one):
                    wanted.append(one)
        return wanted

    def unmet_of(self, fixes: Iterable[str]) -> list[str]:
        """All that these fixes need and that is not done yet, in order."""
        return list(dict.fromkeys(need for fix in fixes for need in self.unmet(self.book.fixes[fix])))

    def _unmet_of(self, need: str) -> list[str]:
        return self.unmet(self.book.fixes[need])

    def _before(self, need: str) -> list[str]:
        """What is told first before a check that is still to be made."""
        return [] if self._met(need) else self.looked_at_first(self.only_if(self.book.checks[need]))

    def _applies(self, check: Check) -> bool:
        """Whether the bike may have what a check looks at."""
        profile = self.situation.profile
        return may_hold(check.applies, profile) and may_hold(self.book.findings[check.finding].applies, profile)

    def _met(self, need: str) -> bool:
        if need in self.book.fixes:
            return need in self.situation.done
        check = self.book.checks[need]
        return (
            need in self._answered
            or check.finding in self._told
            or any(need == answer.check for answer in self.situation.answers)
            or not self._applies(check)
            or self.pointless(check)
        )
