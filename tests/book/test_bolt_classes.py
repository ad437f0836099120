"""Torques of bolts whose class the book states, held against the bolt's proof load: T = K F d."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import NamedTuple

import pytest

from diagnose.bench.bolts import stress_area, thread
from diagnose.book.model import Limit
from diagnose.book.place import shipped_rules
from diagnose.book.shelf import load_book
from tests.trade_values import trade_value

STATED = re.compile(r"M(\d+)\b.*?reckoned as class (\d+\.\d) \(proof load (\d+\.\d) kN, K (0\.\d+)\)")
ROWS = {(5, "8.8"): "proof-load-m5-8p8", (8, "8.8"): "proof-load-m8-8p8"}
"""trade-values: proof loads by diameter and class."""
M6_PRELOAD = trade_value("kfd-m6-8p8-k020").number
"""N.m; trade-values: the torque of an M6 bolt of class 8.8 at three quarters of its proof load and K 0.2."""
TORQUES = [limit for limit in load_book(shipped_rules(), cache=False).limits.values() if limit.unit == "N.m"]
THREAD = re.compile(r"\bM\d|\binch\b|fine (?:\w+ )?thread")
YIELDS = re.compile(
    r"first\b|before|yields?\b|strips?\b|crush|torn?\b|tears?\b|bulges|swells|rounds|stretch|squeez|insert turns"
)
JOINTS = (
    "stem-steerer-clamp",
    "stem-faceplate-bolts",
    "quill-wedge-bolt",
    "post-collar-bolt",
    "saddle-clamp-one-bolt",
    "saddle-clamp-two-bolts",
)
"""The joints of bar, stem, saddle and post whose bolts state a class."""


class Bolt(NamedTuple):
    """What a limit's note states of its bolt: diameter in mm, class, proof load in kN, nut factor K."""

    limit: Limit
    diameter: int
    grade: str
    proof: float
    factor: float


def bolts() -> Iterator[Bolt]:
    """Every limit of the shipped book that states a class."""
    for limit in load_book(shipped_rules(), cache=False).limits.values():
        if "class" in limit.note and limit.unit == "N.m":
            stated = STATED.search(limit.note)
            assert stated, f"{limit.id}: beside a class stand thread, proof load and K"
            yield Bolt(limit, int(stated[1]), stated[2], float(stated[3]), float(stated[4]))


ALL = list(bolts())


def test_some_bolts_state_their_class() -> None:
    """Otherwise nothing below is tested."""
    assert {bolt.diameter for bolt in ALL} == {5, 6, 8}


@pytest.mark.parametrize("bolt", ALL, ids=lambda bolt: bolt.limit.id)
def test_the_proof_load_is_the_published_one(bolt: Bolt) -> None:
    """To the decimal that is shown; M6 from the torque at three quarters of it."""
    row = ROWS.get((bolt.diameter, bolt.grade))
    newton = trade_value(row).number if row else M6_PRELOAD / (0.75 * 0.2 * 0.006)
    assert bolt.proof == pytest.approx(newton / 1000, abs=0.05)


@pytest.mark.parametrize("bolt", ALL, ids=lambda bolt: bolt.limit.id)
def test_no_torque_goes_beyond_the_proof_load(bolt: Bolt) -> None:
    """The highest torque of the limit and of its cases stays below K F d; K is that of a dry joint at its lowest."""
    assert bolt.factor == trade_value("nut-factor-dry").low
    most = bolt.factor * bolt.proof * 1000 * bolt.diameter / 1000
    for high in (bolt.limit.high, *(case.high for case in bolt.limit.cases)):
        assert high is None or high < most


@pytest.mark.parametrize("limit", TORQUES, ids=lambda limit: limit.id)
def test_a_torque_states_its_thread_and_what_yields_first(limit: Limit) -> None:
    """In its note or its quantity."""
    said = f"{limit.quantity}; {limit.note}"
    assert THREAD.search(said), f"{limit.id}: no thread"
    assert YIELDS.search(said), f"{limit.id}: what yields first?"


@pytest.mark.parametrize("name", JOINTS)
def test_a_joint_of_bar_stem_saddle_or_post_keeps_its_reserve(name: str) -> None:
    """Half as much again does not break the bolt: its tensile strength is the class's first figure, in 100 MPa."""
    factor = trade_value("joint-failure-torque-factor").number
    (bolt,) = (one for one in ALL if one.limit.id == name)
    mark = thread(f"M{bolt.diameter}")
    strength = float(bolt.grade.partition(".")[0]) * 100
    breaks = bolt.factor * strength * stress_area(mark.diameter, mark.pitch) * bolt.diameter / 1000
    for high in (bolt.limit.high, *(case.high for case in bolt.limit.cases)):
        assert high is not None
        assert factor * high < breaks
