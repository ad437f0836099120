"""The anomalies of deductions against trying every bike, over small rule books drawn at random."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from random import Random
from typing import Any

import pytest

from diagnose.book.anomalies.anomaly import Anomaly, Study
from diagnose.book.anomalies.deductions import Circular, Conflicting, Redundant, Subsumed, Unnecessary
from diagnose.book.anomalies.ends import DeadCondition, Unreachable
from diagnose.book.anomalies.study import study_book
from diagnose.book.anomalies.values import Illegal, Unreferenced
from tests.book.anomalies.brute import Bike, Brute, Raw, Told, every_bike
from tests.reason.small_book import cause, finding, write_book

SINGLE = {"kind": ["a", "b"]}
SEVERAL = {"work": ["x", "y"], "gap": ["small", "large"], "complaint": ["knocks", "drags"]}
"""A bike without a complaint is among them: what holds on every bike of these holds on every one that comes."""
WORDS = {"hurt": ["yes", "no"], "wet": ["yes"]}
EDGES = (2.0, 5.0, 8.0)
BOOKS = 40


def drawn(draw: Random) -> Raw:
    """Two to six deductions over the vocabulary."""
    rules: Raw = {}
    for number in range(draw.randint(2, 6)):
        when = _when(draw)
        rules[f"rule-{number}"] = {
            "when": when,
            "then": _then(draw, profile=set(when) <= {"kind", "work", "complaint"}),
        }
    return rules


def _when(draw: Random) -> Raw:
    keys: dict[str, list[str]] = {**SINGLE, **SEVERAL, **WORDS}
    when: Raw = {}
    for key in draw.sample([*keys, "measure-gap"], draw.choice([1, 1, 2, 2, 3])):
        if key == "measure-gap" and "gap" not in when:
            when[key] = _range(draw)
        elif key != "measure-gap" and not (key == "gap" and "measure-gap" in when):
            when[key] = draw.sample(keys[key], draw.choice([1, 1, 1, len(keys[key])]))
    return when or {"kind": ["a"]}


def _range(draw: Random) -> Raw:
    edge = draw.choice(EDGES)
    return draw.choice([{"above": edge}, {"from": edge}, {"below": edge}, {"up_to": edge}, {"from": 2.0, "below": 5.0}])


def _then(draw: Random, profile: bool) -> Raw:
    then: Raw = {}
    for _ in range(draw.choice([1, 1, 2])):
        kind = draw.choice(["conclude", "conclude", "rule_out", "rule_in", "danger", "caution", "likelier"])
        if kind == "conclude":
            word = draw.choice(list(WORDS))
            then.setdefault(kind, {})[word] = draw.choice(WORDS[word])
        elif kind == "likelier" and profile:
            then[kind] = {"loose": draw.choice([2, 3])}
        else:
            words = {"danger": ["care", "stop"], "caution": ["mind"], "likelier": []}.get(kind, ["loose", "worn"])
            then |= {kind: draw.choice(words)} if words else {"caution": "mind"}
    return then


def laid(deductions: Raw, place: Path, hanging: bool) -> Study:
    """The book of these deductions; if `hanging`, the bands of the gap hang on the kind of bike."""
    limit: Raw = {"quantity": "gap", "low": 5, "unit": "mm", "kind": "minimum", "basis": "memory"}
    if hanging:
        limit["cases"] = [{"if": {"kind": "b"}, "low": 2}]
    bands = {"small": {"below": "gap-limit.low"}, "large": {"from": "gap-limit.low"}}
    checks: Raw = {"look": {}, "measure-gap": {"measure": {"unit": "mm", "from": 0, "to": 10}, "bands": bands}}
    folder = write_book(
        place,
        complaints={name: {} for name in SEVERAL["complaint"]},
        causes={name: cause({"knocks": "50 in 100"}, {"gap": {"large": "likely"}}) for name in ("loose", "worn")},
        findings={"gap": finding("small large", {"small": "likely"}, checks)},
        facts={
            "kind": {"ask": "Which?", "values": dict.fromkeys(SINGLE["kind"], "so")},
            "work": {"ask": "What?", "several": "yes", "values": dict.fromkeys(SEVERAL["work"], "so")},
        },
        limits={"gap-limit": limit},
        cautions={"mind": "Mind it."},
        conclusions={word: {"name": word, "values": dict.fromkeys(values, "so")} for word, values in WORDS.items()},
        deductions={name: {**rule, "because": "So.", "basis": "memory"} for name, rule in deductions.items()},
    )
    study, problems = study_book(folder)
    assert study is not None, problems
    return study


BIKES = list(every_bike(SINGLE, SEVERAL, {"measure-gap": [0.0, 2.0, 3.0, 5.0, 6.0, 8.0, 9.0]}))


def band(hanging: bool) -> Callable[[Bike, Told], Told]:
    """What a reading of the gap means on a bike."""
    return lambda bike, told: (
        "gap",
        "large" if told[1] >= (2.0 if hanging and ("kind", "b") in bike else 5.0) else "small",
    )


@pytest.fixture(params=range(BOOKS), scope="module", ids=lambda seed: f"seed {seed}")
def case(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> tuple[Study, Brute]:
    """A drawn book as the program sees it, and the oracle over the same deductions; every other one hangs."""
    draw = Random(request.param)  # noqa: S311 (nothing is kept secret here)
    hanging = request.param % 2 == 1
    deductions = drawn(draw)
    study = laid(deductions, tmp_path_factory.mktemp("book") / "rules", hanging)
    return study, Brute(deductions, BIKES, band(hanging))


def reported(anomaly: Anomaly, study: Study) -> dict[str, list[Any]]:
    """Deduction to what was found of it."""
    found: dict[str, list[Any]] = {}
    for one in anomaly.find(study):
        found.setdefault(one.owner[1], []).append(one)
    return found


def test_a_deduction_that_can_never_fire_is_a_dead_end_and_no_other(case: tuple[Study, Brute]) -> None:
    """Over all bikes."""
    study, brute = case
    dead = {name for name in brute.deductions if not brute.can_fire(name)}
    assert set(reported(DeadCondition(), study)) == dead


def test_a_deduction_without_which_the_same_follows_is_told(case: tuple[Study, Brute]) -> None:
    """Each that is told is one; each that is one is told, or its twin is, which is enough to have one deleted."""
    study, brute = case
    redundant = {name for name in brute.deductions if brute.redundant(name)}
    told = set(reported(Redundant(), study)) | set(reported(Subsumed(), study))
    assert told <= redundant
    for name in redundant - told:
        rule = brute.deductions[name]
        twins = {other for other in told if _same(brute.deductions[other], rule)}
        assert twins, name


def _same(one: Raw, other: Raw) -> bool:
    def plain(rule: Raw) -> Any:
        return {key: sorted(v) if isinstance(v, list) else v for key, v in rule["when"].items()}, rule["then"]

    return bool(plain(one) == plain(other))


def test_a_condition_without_which_the_same_follows_is_told_and_no_other(case: tuple[Study, Brute]) -> None:
    """Where its key is told at all; of deductions that are not redundant as a whole and can fire."""
    study, brute = case
    found = reported(Unnecessary(), study)
    for name, rule in brute.deductions.items():
        if not brute.can_fire(name) or brute.redundant(name):
            continue
        needless = {key for key in rule["when"] if brute.needless(name, key, told=key not in WORDS)}
        places = {when.where: when.key for when in study.book.deductions[name].when}
        assert {places[one.where] for one in found.get(name, [])} == needless, name


def test_deductions_that_contradict_on_least_ground_are_told_and_no_others(case: tuple[Study, Brute]) -> None:
    """Each pair once, at one of the two; only where no band hangs on the profile is there a least bike."""
    study, brute = case
    if study.book.limits["gap-limit"].cases:
        return
    pairs = [{name, *one.others} for name, found in reported(Conflicting(), study).items() for one in found]
    told = set().union(*pairs)
    contrary = {name for name in brute.deductions if brute.conflicts(name)}
    assert contrary <= told
    assert all(pair & contrary for pair in pairs)


def test_a_circle_is_told_at_each_deduction_of_it(case: tuple[Study, Brute]) -> None:
    """And at no other."""
    study, brute = case
    assert set(reported(Circular(), study)) == brute.circular()


def test_a_conclusion_that_reaches_nobody_can_be_taken_away(case: tuple[Study, Brute]) -> None:
    """Nothing else that follows changes on any bike."""
    study, brute = case
    for name, found in reported(Unreachable(), study).items():
        for one in found:
            (word,) = one.others
            rule = brute.deductions[name]
            fewer = {key: value for key, value in rule["then"]["conclude"].items() if key != word}
            changed = {**brute.deductions, name: {**rule, "then": {**rule["then"], "conclude": fewer}}}
            told = ("conclude", word, rule["then"]["conclude"][word])
            for bike in brute.bikes:
                assert brute.follows(bike, changed) | {told} == brute.follows(bike, brute.deductions) | {told}, name


def test_a_value_that_nobody_names_comes_to_the_same(case: tuple[Study, Brute]) -> None:
    """What follows for a bike with it follows without it, and no word ever takes a value that is told as idle."""
    study, brute = case
    for one in Unreferenced().find(study):
        kind, key = one.owner
        (value,) = one.others
        for bike in brute.bikes:
            follows = brute.follows(bike, brute.deductions)
            if kind == "conclusion":
                assert ("conclude", key, value) not in follows
            elif (key, value) in bike and not any(check == "measure-gap" for check, _ in bike):
                assert brute.follows(bike - {(key, value)}, brute.deductions) == follows


def test_the_drawn_books_have_anomalies_of_every_kind(tmp_path: Path) -> None:
    """So that none of the comparisons above is empty."""
    kinds = (Redundant(), Subsumed(), Conflicting(), Circular(), Unnecessary(), DeadCondition(), Unreachable())
    counts = dict.fromkeys((kind.name for kind in kinds), 0)
    for seed in range(BOOKS):
        study = laid(drawn(Random(seed)), tmp_path / f"{seed}", seed % 2 == 1)  # noqa: S311
        for kind in kinds:
            counts[kind.name] += len(list(kind.find(study)))
    assert min(counts.values()) >= 3, counts


def test_a_range_is_illegal_where_no_reading_meets_it(tmp_path: Path) -> None:
    """Every quarter of a millimetre that may be entered is tried."""
    ranges: Raw = {
        "rule-0": {"above": 10},
        "rule-1": {"from": 10},
        "rule-2": {"below": 0},
        "rule-3": {"up_to": 0},
        "rule-4": {"from": 6, "below": 6},
        "rule-5": {"from": 6, "up_to": 6},
        "rule-6": {"above": 6, "below": 6.25},
        "rule-7": {"from": 7, "up_to": 6},
        "rule-8": {"above": 3, "below": 40},
    }
    rules = {name: {"when": {"measure-gap": one}, "then": {"caution": "mind"}} for name, one in ranges.items()}
    brute = Brute(rules, [frozenset({("measure-gap", n / 8)}) for n in range(81)], band(False))
    never = {name for name in rules if not brute.can_fire(name)}
    assert set(reported(Illegal(), laid(rules, tmp_path / "rules", False))) == never
