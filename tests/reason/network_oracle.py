"""The rule book as an ordinary Bayesian network, for the shares to be held against: exact inference by pgmpy.

Cast: `joint` (how likely each choice of one cause a complaint is) and `shares` (the same for each complaint). Start
reading at `_Network`: its methods are the nodes.

The nodes are: the cause of each complaint; each finding that was reported on, under the causes; each report, under its
finding; and children that were seen to be so, of which only the likelihood is known (virtual evidence, Pearl 1988):
that one cause explains two complaints or not, what a mechanic's answer rules out or in, and what fixes did here and
before. One cause is one thing, however many complaints it explains: what is seen of it counts once. Variable
elimination: Zhang and Poole (1994).
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from itertools import combinations, product
from typing import Any

import numpy as np

from tests.reason.plain_book import PlainBook, fraction
from tests.reason.plain_deductions import Told, Visit, effects, impossible, prior, telling

ELSE = "something else"
LUCK = 0.005
"""How often a complaint goes away with a fix that does not treat its cause."""

Causes = tuple[str, ...]


def shares(book: PlainBook, visit: Visit) -> list[dict[str, float]]:
    """For each complaint the chance of each of its causes, and of something else."""
    found: list[dict[str, float]] = [{} for _ in visit.complaints]
    for causes, chance in joint(book, visit).items():
        for one, cause in zip(found, causes, strict=True):
            one[cause] = one.get(cause, 0.0) + chance
    return found


def joint(book: PlainBook, visit: Visit) -> dict[Causes, float]:
    """The chance of each choice of one cause a complaint; where the network allows none, it is something else."""
    network = _Network(book, visit)
    network.add_causes()
    network.add_coupling()
    network.add_what_was_done()
    network.add_reports()
    return network.solve()


class _Network:
    """A pgmpy network that grows node by node; a node's table is given as a function of its parents' states."""

    def __init__(self, book: PlainBook, visit: Visit) -> None:
        self.book = book
        self.visit = visit
        self.effects = effects(book, visit)
        self.states = [[*book.can_have(name, visit.profile), ELSE] for name in visit.complaints]
        self.causes = [f"cause of {name}" for name in visit.complaints]
        self.size: dict[str, int] = {}
        self.tables: dict[str, tuple[list[str], Any]] = {}
        self.seen: dict[str, int] = {}

    def add(self, node: str, parents: list[str], columns: list[list[float]]) -> None:
        """A node with one column for each choice of its parents' states, the last parent's changing fastest."""
        self.size[node] = len(columns[0])
        self.tables[node] = (parents, np.array(columns).T)

    def add_seen(self, node: str, parents: list[str], likelihood: list[float]) -> None:
        """A child that was seen, likelihood by likelihood; only their proportion counts."""
        most = max(likelihood) or 1.0
        self.add(node, parents, [[1 - chance / most, chance / most] for chance in likelihood])
        self.seen[node] = 1

    # --- the nodes ---

    def add_causes(self) -> None:
        """The cause of each complaint, with its share as the profile moves it."""
        for node, complaint, states in zip(self.causes, self.visit.complaints, self.states, strict=True):
            self.add(node, [], [prior(self.book, complaint, states[:-1], self.effects.times)])

    def add_coupling(self) -> None:
        """For each two complaints: that one cause explains both is so many times likelier than chance."""
        times = float(self.book.constants["shared_cause"])
        for one, other in combinations(range(len(self.causes)), 2):
            likelihood = [
                times if first == second != ELSE else 1.0
                for first, second in product(self.states[one], self.states[other])
            ]
            self.add_seen(f"coupling {one} {other}", [self.causes[one], self.causes[other]], likelihood)

    def add_what_was_done(self) -> None:
        """What answers rule out and in, what was done before, and what the fixes tried here showed."""
        for word, factors in (("out", self.effects.out), ("in", self.effects.into)):
            for name, times in sorted(factors.items()):
                likelihood = [times if name in causes else 1.0 for causes in product(*self.states)]
                self.add_seen(f"{name} ruled {word}", self.causes, likelihood)
        for fix in self.visit.already:
            likelihood = [self._done_before(fix, causes) for causes in product(*self.states)]
            self.add_seen(f"{fix} done before", self.causes, likelihood)
        if self.visit.tried:
            self.add_seen("tried here", self.causes, [self._tried_here(causes) for causes in product(*self.states)])

    def _done_before(self, fix: str, causes: Causes) -> float:
        """Weaker as far as the fix is trusted to cure; stronger where a badly done one brings the cause about."""
        trust = fraction(self.book.constants["already_done_trust"])
        likelihood = 1.0
        for name in set(causes) - {ELSE}:
            likelihood *= 1 - trust * self.book.cured(name, fix)
            likelihood *= float(self.book.fixes[fix].get("badly_done", {}).get(name, 1))
        return likelihood

    def _tried_here(self, causes: Causes) -> float:
        """The chance that the tests went as they did. What one cause did to two complaints alike is one thing."""
        explains: dict[str, list[str]] = {}
        for place, (complaint, cause) in enumerate(zip(self.visit.complaints, causes, strict=True)):
            explains.setdefault(cause if cause != ELSE else f"{ELSE} {place}", []).append(complaint)
        return float(np.prod([self._tests(cause, complaints) for cause, complaints in explains.items()]))

    def _tests(self, cause: str, complaints: Collection[str]) -> float:
        """The tests of all complaints of a cause; what is there yet when another has gone is there a second time."""
        faults: list[list[str]] = []
        for complaint in complaints:
            fault = next((one for one in faults if all(self._alike(complaint, other) for other in one)), None)
            if fault is None:
                faults.append(fault := [])
            fault.append(complaint)
        strangers = sum(len(one) * len(other) for one, other in combinations(faults, 2))
        chances = [self._outcome(cause, self._history(fault)) for fault in faults]
        return float(np.prod(chances)) / float(self.book.constants["shared_cause"]) ** strangers

    def _alike(self, one: str, other: str) -> bool:
        """Whether no test showed one of two complaints where an earlier one, or that one, had shown the other gone."""
        gone: set[str] = set()
        for tried in self.visit.tried:
            results = {name: tried.gone[name] for name in (one, other) if name in tried.gone and name not in gone}
            gone |= {name for name, result in results.items() if result}
            if gone and not all(results.values()):
                return False
        return True

    def _history(self, complaints: Sequence[str]) -> tuple[tuple[int, bool], ...]:
        """Every try after which one of these was tested, and whether that one had gone."""
        results = [[one.gone[name] for name in complaints if name in one.gone] for one in self.visit.tried]
        return tuple((number, any(tested)) for number, tested in enumerate(results) if tested)

    def _outcome(self, cause: str, history: tuple[tuple[int, bool], ...]) -> float:
        """A ladder's numbers count the bikes that are well after a rung or any before it, so the last test says all."""
        spent, chance, fixes = 0.0, 1.0, set[str]()
        for number, one in enumerate(self.visit.tried):
            fixes |= set(one.fixes)
            if number not in dict(history):
                continue
            gone = dict(history)[number]
            reached = 0.0 if cause.startswith(ELSE) else max(self.book.cured(cause, fix) for fix in fixes)
            if gone:
                return max(reached - spent, LUCK * (1 - spent))
            spent = max(spent, reached)
            chance = 1 - spent
        return chance

    def add_reports(self) -> None:
        """Each finding that was reported on, and each report under it; the fault is still what it was when told."""
        by_finding: dict[str, list[Told]] = {}
        for told in telling(self.book, self.visit):
            by_finding.setdefault(self.book.home[told.check], []).append(told)
        for finding, answers in by_finding.items():
            self._add_finding(finding)
            values = self.book.values(finding)
            otherwise = self.book.otherwise(finding)
            for number, told in enumerate(answers):
                trust = self.book.trust(told.check, told.by)
                columns = [
                    [trust * (said == value) + (1 - trust) * otherwise[said] for said in values] for value in values
                ]
                self.add(f"report {number} on {finding}", [finding], columns)
                self.seen[f"report {number} on {finding}"] = values.index(told.value)

    def _add_finding(self, finding: str) -> None:
        values = self.book.values(finding)
        otherwise = [self.book.otherwise(finding)[value] for value in values]
        rows = {name: self._row(name, finding) for states in self.states for name in states[:-1]}
        columns = []
        for causes in product(*self.states):
            spoken = [row for name in dict.fromkeys(causes) if (row := rows.get(name)) is not None]
            columns.append([float(sum(one)) / len(spoken) for one in zip(*spoken, strict=True)] or otherwise)
        self.add(finding, self.causes, columns)

    def _row(self, cause: str, finding: str) -> list[float] | None:
        """What a cause says of a finding, without the values that rule it out; None where it says nothing."""
        row = self.book.row(cause, finding)
        gone = impossible(self.book, self.visit, cause, finding)
        if row is None and not gone:
            return None
        row = row or self.book.otherwise(finding)
        kept = {value: 0.0 if value in gone else chance for value, chance in row.items()}
        total = sum(kept.values())
        return [chance / total for chance in kept.values()] if total > 0 else list(row.values())

    # --- inference ---

    def solve(self) -> dict[Causes, float]:
        """Variable elimination over everything but the causes."""
        from pgmpy.factors.discrete import TabularCPD
        from pgmpy.inference import VariableElimination
        from pgmpy.models import DiscreteBayesianNetwork

        model = DiscreteBayesianNetwork()
        model.add_nodes_from(self.tables)
        model.add_edges_from([(parent, node) for node, (parents, _) in self.tables.items() for parent in parents])
        for node, (parents, table) in self.tables.items():
            sizes = [self.size[parent] for parent in parents]
            model.add_cpds(TabularCPD(node, self.size[node], table, parents or None, sizes or None))
        model.check_model()
        with np.errstate(invalid="ignore", divide="ignore"):
            found = VariableElimination(model).query(self.causes, evidence=self.seen, show_progress=False)
        chances = np.transpose(found.values, [found.variables.index(node) for node in self.causes])
        if np.isnan(chances).any():
            chances = np.zeros(chances.shape)
            chances[(-1,) * len(self.causes)] = 1.0
        return dict(zip(product(*self.states), chances.ravel().tolist(), strict=True))
