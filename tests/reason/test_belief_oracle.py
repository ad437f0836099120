"""The shares equal exact inference in the equivalent Bayesian network, built from the YAML by a reader of its own.

The network is in `network_oracle.py` and is solved by variable elimination (pgmpy). Visits and small books are drawn at
random from seeds; the shipped book is gone through complaint by complaint.
"""

from __future__ import annotations

from itertools import combinations
from pathlib import Path
from random import Random
from tempfile import TemporaryDirectory

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from diagnose.book.model import Book
from diagnose.book.place import shipped_rules
from diagnose.reason.belief import Belief, believe, build_net
from diagnose.reason.conclude import conclude, rules_of
from diagnose.reason.deduce import Chainer, PlainChainer, chainer
from diagnose.reason.situation import Situation
from tests.reason.generated_book import draw_book
from tests.reason.network_oracle import ELSE, joint, shares
from tests.reason.plain_book import PlainBook, read_plain
from tests.reason.plain_deductions import Visit, deduce, telling
from tests.reason.small_book import read_small
from tests.reason.visits import draw_visit, lot, situation_of

# The engine asks the time in a way that Python 3.12 and later call out of date.
pytestmark = pytest.mark.filterwarnings("ignore:datetime.datetime.utcfromtimestamp:DeprecationWarning")

EXACT = 1e-6
VISITS = 5
"""Random visits for each complaint and role."""
PARTS = 8
"""Tests that the pairs of complaints are parted among."""


class Twins:
    """One book read twice: by the program, and by the tests' own reader."""

    def __init__(self, plain: PlainBook, book: Book, engine: Chainer) -> None:
        self.plain = plain
        self.book = book
        self.engine = engine

    def believe(self, situation: Situation) -> Belief:
        """The program's belief."""
        conclusions = conclude(self.book, self.engine, situation)
        return believe(self.book, situation, conclusions, build_net(self.book, situation, conclusions))

    def hold_against_each_other(self, visit: Visit, draw: Random) -> None:
        """The shares of every complaint are the network's."""
        belief = self.believe(situation_of(self.book, visit, draw))
        for complaint, wanted in zip(visit.complaints, shares(self.plain, visit), strict=True):
            causes = belief.net.causes[belief.net.complaints.index(complaint)]
            found = dict(zip([cause or ELSE for cause in causes], belief.marginal(complaint), strict=True))
            assert found == pytest.approx(wanted, abs=EXACT), (complaint, visit)


@pytest.fixture(scope="module")
def shipped() -> Twins:
    """The shipped book."""
    folder = shipped_rules()
    book = read_small(folder)
    return Twins(read_plain(folder), book, chainer(rules_of(book)))


def small_twins(folder: Path, draw: Random) -> Twins:
    """A book drawn at random."""
    draw_book(folder, draw)
    book = read_small(folder)
    return Twins(read_plain(folder), book, PlainChainer(rules_of(book)))


def shipped_complaints() -> list[str]:
    """The complaints of the shipped book."""
    return list(read_plain(shipped_rules()).complaints)


def test_every_row_of_the_shipped_book_is_read_alike(shipped: Twins) -> None:
    """Every row, every `otherwise`, every cure and every trust is the same number in both readers."""
    plain, book = shipped.plain, shipped.book
    assert set(plain.causes) == set(book.causes)
    for name, one in book.findings.items():
        assert one.otherwise.chances == pytest.approx(tuple(plain.otherwise(name).values()), abs=1e-12), name
    for name, cause in book.causes.items():
        assert set(cause.shows) == set(plain.causes[name]["shows"])
        for finding, row in cause.shows.items():
            assert row.chances == pytest.approx(tuple((plain.row(name, finding) or {}).values()), abs=1e-12), name
        for rung in cause.ladder:
            assert rung.cured == pytest.approx(plain.cured(name, rung.fix), abs=1e-12), (name, rung.fix)
    for check in book.checks.values():
        for role in ("rider", "mechanic"):
            found = check.trust.get(role, book.constants.trust[role])
            assert found == pytest.approx(plain.trust(check.id, role), abs=1e-12), check.id


@pytest.mark.parametrize("role", ["rider", "mechanic"])
@pytest.mark.parametrize("complaint", shipped_complaints())
def test_shares_of_each_shipped_complaint(shipped: Twins, complaint: str, role: str) -> None:
    """For every complaint of the shipped book, whoever answers, the shares are those of the network."""
    for number in range(VISITS):
        draw = lot(f"{complaint} {role} {number}")
        shipped.hold_against_each_other(draw_visit(shipped.plain, (complaint,), role, draw), draw)


def related(plain: PlainBook) -> list[tuple[str, str]]:
    """Pairs of complaints that share a cause, or a finding that causes of both speak to."""

    def parts(complaint: str) -> set[str]:
        causes = {name for name, cause in plain.causes.items() if complaint in cause["common_for"]}
        return causes | {finding for name in causes for finding in plain.causes[name]["shows"]}

    return [(one, other) for one, other in combinations(plain.complaints, 2) if parts(one) & parts(other)]


@pytest.mark.parametrize("part", range(PARTS))
def test_shares_of_related_pairs_of_shipped_complaints(shipped: Twins, part: int) -> None:
    """Two complaints that share causes or findings have the shares of the network with both: every other such pair."""
    pairs = related(shipped.plain)[::2]
    assert len(pairs) > 20 * PARTS
    for pair in pairs[part::PARTS]:
        draw = lot(f"{pair}")
        shipped.hold_against_each_other(draw_visit(shipped.plain, pair, "mechanic", draw), draw)


def test_shares_of_related_triples_of_shipped_complaints(shipped: Twins) -> None:
    """Three complaints of which any two are related have the shares of the network with all three."""
    pairs = set(related(shipped.plain))
    triples = [three for three in combinations(shipped.plain.complaints, 3) if pairs.issuperset(combinations(three, 2))]
    draw = lot("triples")
    for three in draw.sample(triples, 6):
        shipped.hold_against_each_other(draw_visit(shipped.plain, three, "mechanic", draw), draw)


def test_joint_belief_of_a_pair_is_that_of_the_network(shipped: Twins) -> None:
    """Not the shares alone: the chance of every two causes together is the network's."""
    draw = lot("joint")
    visit = draw_visit(shipped.plain, ("front-knock", "loose-steering"), "mechanic", draw)
    belief = shipped.believe(situation_of(shipped.book, visit, draw))
    net = belief.net
    found = {
        tuple(net.causes[place][index] or ELSE for place, index in enumerate(state)): weight
        for state, weight in zip(net.states, belief.weights, strict=True)
    }
    wanted = joint(shipped.plain, visit)
    assert sum(found.values()) == pytest.approx(1, abs=1e-12)
    for causes, chance in wanted.items():
        assert found.get(causes, 0.0) == pytest.approx(chance, abs=EXACT), causes


def test_the_visits_reach_what_they_are_meant_to_reach(shipped: Twins) -> None:
    """The visits drawn hold several reports on one finding, both roles, readings, fixes, and deductions that rule."""
    seen: set[str] = set()
    for complaint in shipped.plain.complaints:
        for role in ("rider", "mechanic"):
            for number in range(VISITS):
                visit = draw_visit(shipped.plain, (complaint,), role, lot(f"{complaint} {role} {number}"))
                findings = [shipped.plain.home[told.check] for told in visit.answers]
                seen |= {f"by {told.by}" for told in visit.answers}
                seen |= {"reading" for told in visit.answers if told.reading is not None}
                seen |= {"tried"} if visit.tried else set()
                seen |= {"better"} if any(one.better for one in visit.tried) else set()
                seen |= {"already"} if visit.already else set()
                seen |= {"before"} if any(told.work is not None for told in visit.answers) else set()
                seen |= {"anew"} if len(telling(shipped.plain, visit)) < len(visit.answers) else set()
                seen |= {"twice"} if len(set(findings)) < len(findings) else set()
                seen |= {key for name in deduce(shipped.plain, visit) for key in shipped.plain.deductions[name]["then"]}
    wanted = {"by rider", "by mechanic", "reading", "tried", "better", "already", "before", "anew", "twice"}
    assert seen >= wanted | {"likelier", "rule_out", "rule_in", "danger", "demand"}


@pytest.mark.parametrize("seed", range(60))
def test_shares_of_small_books(tmp_path: Path, seed: int) -> None:
    """Books of every make, with one to three complaints: the shares are those of the network."""
    draw = lot(seed)
    twins = small_twins(tmp_path / "rules", draw)
    for _ in range(4):
        complaints = tuple(draw.sample(list(twins.plain.complaints), draw.randint(1, len(twins.plain.complaints))))
        visit = draw_visit(twins.plain, complaints, draw.choice(("rider", "mechanic")), draw)
        twins.hold_against_each_other(visit, draw)


@settings(max_examples=60)
@given(st.randoms(use_true_random=False))
def test_shares_of_any_small_book(draw: Random) -> None:
    """There is no small book and no visit whose shares are not those of the network."""
    with TemporaryDirectory() as folder:
        twins = small_twins(Path(folder) / "rules", draw)
        complaints = tuple(twins.plain.complaints)
        twins.hold_against_each_other(draw_visit(twins.plain, complaints, "mechanic", draw), draw)
