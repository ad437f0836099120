"""What the counter asks: danger first, what a rider can answer, six at most, and nothing that changes nothing."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from diagnose.book.model import Book
from diagnose.casework import events
from diagnose.casework.fold import Folded, fold
from diagnose.casework.intake import MOST_PROMPTS, asked, more_matters, next_prompt
from diagnose.casework.settings import Settings
from diagnose.casework.ticket import at_the_stand, counter_view, make_ticket
from diagnose.reason.glance import after, glance, with_fact
from diagnose.reason.reasoner import Reasoner
from tests.casework.counter_walk import walk
from tests.shipped import shipped_book

COMPLAINTS = ("front-knock", "chain-drops", "slow-leak", "weak-brake")


@pytest.fixture(scope="module")
def reasoner() -> Reasoner:
    """The shipped book, one step deep: what is asked at the counter hangs on the first step."""
    return Reasoner(shipped_book(), depth=1)


def opened(book: Book, complaint: str, *told: events.Draft) -> Folded:
    """A job at the counter."""
    return fold(book, [events.opened("rider", "mechanic"), events.complaint(complaint), *told])


def taken_in(reasoner: Reasoner, complaint: str, pick: int) -> tuple[Folded, list[tuple[str, str]]]:
    """A bike whose rider always gives the answer in this place, and what was asked."""
    book, told, seen = reasoner.book, [], []
    folded = opened(book, complaint)
    while prompt := next_prompt(reasoner, folded):
        seen.append((prompt.kind, prompt.id))
        if prompt.kind == "fact":
            values = list(book.facts[prompt.id].values)
            told.append(events.profile(prompt.id, [values[pick % len(values)]]))
        else:
            values = list(book.findings[book.checks[prompt.id].finding].values)
            told.append(events.answered(prompt.id, "rider", values[pick % len(values)]))
        folded = opened(book, complaint, *told)
    return folded, seen


@pytest.mark.parametrize("pick", [0, -1])
@pytest.mark.parametrize("complaint", COMPLAINTS)
def test_six_at_most_the_look_round_first_and_only_a_riders_questions(
    reasoner: Reasoner, complaint: str, pick: int
) -> None:
    """Each once; what it comes to is a whole ticket."""
    folded, seen = taken_in(reasoner, complaint, pick)
    assert seen[0] == ("fact", "arrival")
    assert len(seen) == len(set(seen)) <= MOST_PROMPTS
    assert asked(folded) == len(seen)
    assert all(reasoner.book.checks[name].by == "rider" for kind, name in seen if kind == "check")
    ticket = make_ticket(reasoner, folded, counter_view(reasoner, folded))
    assert ticket["ride"]["verdict"] in ("ride", "care", "stop", "not-cleared")
    assert ticket["first"]["text"]
    assert ticket["hand_off"] or ticket["estimate"]["price"]["low"] <= ticket["estimate"]["price"]["high"]


def test_a_bike_with_two_mechs_is_not_asked_whether_it_has_a_belt(reasoner: Reasoner) -> None:
    """Nor is any fact asked that such a bike cannot have, though a check may hang on it."""
    told: list[events.Draft] = [
        events.profile("bike-kind", ["city"]),
        events.profile("arrival", ["nothing"]),
        events.profile("shifting", ["two-mechs"]),
        events.profile("recent-work", ["new-chain"]),
        events.answered("rider-worst-gears", "rider", "few"),
        events.answered("rider-under-push", "rider", "teeth"),
        events.answered("rider-jump-rhythm", "rider", "none"),
    ]
    prompt = next_prompt(reasoner, opened(reasoner.book, "skips-under-load", *told), most=9)
    assert prompt is None or prompt.id != "drive"


def test_no_complaint_of_the_book_takes_more_than_six_questions(reasoner: Reasoner) -> None:
    """Of each a rider who cannot tell anything, and one with answers by lot; the look round first, each once.

    What a rider tells beside the first value of a fact counts too; one that is told to tell all that may hold tells no
    more than there is room for.
    """
    most = {}
    for complaint in reasoner.book.complaints:
        for rider in (0, 1):
            folded, prompts = walk(reasoner, complaint, rider)
            assert prompts[0][:2] == ("fact", "arrival")
            assert len({prompt[:2] for prompt in prompts}) == len(prompts)
            assert asked(folded) == len(prompts) + folded.asked_more
            most[complaint, rider] = asked(folded)
    assert len(most) == 2 * len(reasoner.book.complaints)
    assert 3 < max(most.values()) <= MOST_PROMPTS


def test_further_values_of_a_fact_count_as_questions(reasoner: Reasoner) -> None:
    """Each thing that the look round shows is told, as many as there is room for; then nothing else is asked."""
    hits = [value for value in reasoner.book.facts["arrival"].values if value != "nothing"]
    told: list[events.Draft] = []
    folded = opened(reasoner.book, "slow-leak")
    values: list[str] = []
    for hit in hits:
        values.append(hit)
        more = more_matters(reasoner, folded, "arrival", values)
        told.append(events.profile("arrival", values, more=more))
        folded = opened(reasoner.book, "slow-leak", *told)
        if not more:
            break
    assert len(values) == asked(folded) == MOST_PROMPTS < len(hits)
    assert next_prompt(reasoner, folded) is None
    view = counter_view(reasoner, folded)
    assert view["prompt"] is None
    assert view["profile"]["arrival"] == values


def test_that_it_was_all_counts_as_a_question_too(reasoner: Reasoner) -> None:
    """And what comes next has the number after it."""
    told = [events.profile("arrival", ["crash"], more=True), events.profile("arrival", ["crash"])]
    folded = opened(reasoner.book, "slow-leak", *told)
    assert asked(folded) == 2
    prompt = counter_view(reasoner, folded)["prompt"]
    assert prompt is None or prompt["number"] == 3


def test_another_value_of_a_fact_is_asked_for_only_where_it_changes_something(reasoner: Reasoner) -> None:
    """Beside what the look round shows: for each complaint and each fact of several values."""
    book, wanted = reasoner.book, []
    for fact in (one for one in book.facts.values() if one.several and one.id != "arrival"):
        told = [next(value for value in fact.values if value not in ("nothing", "none", "complete"))]
        for complaint in COMPLAINTS:
            folded = opened(book, complaint, events.profile("arrival", ["nothing"]))
            now = glance(reasoner, with_fact(folded.situation, fact.id, told))
            others = ([*told, value] for value in fact.values if value not in told)
            changes = any(glance(reasoner, with_fact(folded.situation, fact.id, one)) != now for one in others)
            wanted.append(changes)
            assert more_matters(reasoner, folded, fact.id, told) == changes
            late = folded._replace(asked_more=MOST_PROMPTS - 3)
            assert not more_matters(reasoner, late, fact.id, told)
    assert set(wanted) == {True, False}


def test_an_answer_to_what_is_asked_can_change_what_is_done(reasoner: Reasoner) -> None:
    """For every check on the way some answer changes the verdict or the first thing to be put right."""
    book, told, checks = reasoner.book, [], 0
    folded = opened(book, "front-knock")
    while prompt := next_prompt(reasoner, folded):
        if prompt.kind == "fact":
            told.append(events.profile(prompt.id, []))
        else:
            checks += 1
            check = book.checks[prompt.id]
            now = glance(reasoner, folded.situation)
            values = book.findings[check.finding].values
            assert any(glance(reasoner, after(folded.situation, check, value)) != now for value in values)
            told.append(events.cannot_tell(prompt.id, "rider"))
        folded = opened(book, "front-knock", *told)
    assert checks


def test_a_bike_held_by_the_chances_alone_is_asked_about_until_answers_clear_it(reasoner: Reasoner) -> None:
    """No one answer clears a belt that may be slack, several do; and the first of them is asked for that."""
    sound = {
        "ask-belt-does": "noise",
        "look-round-the-belt": "sound",
        "press-belt-by-thumb": "right",
        "turn-and-watch-belt": "middle",
        "look-at-belt-dirt": "dusty",
    }
    told = [events.profile("arrival", ["nothing"])]
    folded = opened(reasoner.book, "belt-trouble", *told)
    assert glance(reasoner, folded.situation).ride.by_chance
    first = next_prompt(reasoner, folded)
    assert first is not None
    assert first.danger
    check = reasoner.book.checks[first.id]
    for value in reasoner.book.findings[check.finding].values:
        assert glance(reasoner, after(folded.situation, check, value)).verdict == "stop"
    while prompt := next_prompt(reasoner, folded):
        if prompt.kind == "fact":
            told.append(events.profile(prompt.id, []))
        else:
            told.append(events.answered(prompt.id, "rider", sound[prompt.id]))
        folded = opened(reasoner.book, "belt-trouble", *told)
    assert glance(reasoner, folded.situation).verdict in ("ride", "care")


@pytest.mark.parametrize("hit", [one for one in shipped_book().facts["arrival"].values if one != "nothing"])
@pytest.mark.parametrize("complaint", ["slow-leak", "chain-drops"])
def test_what_catches_the_eye_on_arrival_holds_the_bike_at_the_counter(
    reasoner: Reasoner, complaint: str, hit: str
) -> None:
    """Whatever the complaint is, and also where only a mechanic can make the check that it calls for.

    A tyre that came soft is what a slow leak complains of: with care, until it holds.
    """
    told = [events.profile("arrival", [hit])]
    held = (
        ("stop", "not-cleared", "care") if (complaint, hit) == ("slow-leak", "tyre-soft") else ("stop", "not-cleared")
    )
    for role in ("rider", "mechanic"):
        folded = opened(reasoner.book, complaint, *told)
        folded = folded._replace(situation=replace(folded.situation, role=role))
        assert reasoner.diagnose(folded.situation).ride.verdict in held


def test_nothing_is_asked_of_a_job_that_is_over(reasoner: Reasoner) -> None:
    """Or in which nobody complains of anything."""
    over = opened(reasoner.book, "front-knock", events.ended("declined"))
    assert next_prompt(reasoner, over) is None
    assert next_prompt(reasoner, fold(reasoner.book, [events.opened("rider", "mechanic")])) is None


def test_a_ticket_reckons_with_the_shop(reasoner: Reasoner, tmp_path: Path) -> None:
    """Minutes for finding the cause are in minutes and price, no price is below the minimum, a ceiling is compared."""
    told = (events.profile("arrival", ["nothing"]), events.agreed(1))
    folded = opened(reasoner.book, "front-knock", *told)
    view = counter_view(reasoner, folded)
    plain = make_ticket(reasoner, folded, view)["estimate"]
    ticket = make_ticket(reasoner, folded, view, Settings(tmp_path, diagnosis_minutes=7, minimum_charge=5_000))
    assert ticket["estimate"]["minutes"]["p50"] == plain["minutes"]["p50"] + 7
    assert ticket["estimate"]["price"]["low"] == ticket["estimate"]["price"]["high"] == 5_000
    assert (ticket["ceiling"], ticket["may_be_crossed"]) == (1, True)


def test_a_mechanic_looks_again_at_what_a_rider_saw(reasoner: Reasoner) -> None:
    """At the stand the same check is open again; what the rider's word moved stays until then."""
    folded, seen = taken_in(reasoner, "front-knock", 0)
    checks = [reasoner.book.checks[name] for kind, name in seen if kind == "check"]
    there = at_the_stand(folded.situation, reasoner.book)
    again = [one for one in checks if not reasoner.book.findings[one.finding].lasting]
    assert all(folded.situation.told(one, lasting=False) for one in checks)
    assert not any(there.told(one, lasting=False) for one in again)
    assert there.fresh == folded.situation.fresh


@pytest.mark.parametrize(("complaint", "brought"), [("battery-will-not-charge", True), ("weak-brake", False)])
def test_the_rider_is_asked_to_bring_what_belongs_to_the_bike(
    reasoner: Reasoner, complaint: str, brought: bool
) -> None:
    """Its own charger, where a look at a likely cause needs it."""
    folded = opened(reasoner.book, complaint)
    ticket = make_ticket(reasoner, folded, counter_view(reasoner, folded))
    assert (reasoner.book.tools["own-charger"] in ticket["bring"]) is brought


@pytest.mark.parametrize("complaint", ["weak-brake", "wheel-turns-rough", "skips-under-load"])
def test_a_ticket_foresees_what_asking_will_find(reasoner: Reasoner, complaint: str) -> None:
    """Where so little is known that no fix is worth trying yet, it still takes work, and parts where they are usual."""
    folded, _ = walk(reasoner, complaint, rider=0)
    ticket = make_ticket(reasoner, folded, counter_view(reasoner, folded))
    assert ticket["first"]["kind"] == "check"
    assert 3 < ticket["estimate"]["minutes"]["p10"] < ticket["estimate"]["minutes"]["p90"] < 150
    assert ticket["estimate"]["price"]["high"] > ticket["estimate"]["minutes"]["p90"] * reasoner.book.constants.rate
    assert ticket["order"]
    assert len({part["id"] for part in ticket["order"]}) == len(ticket["order"])
    assert all(0.1 <= part["chance"] <= 1 and part["fixes"] for part in ticket["order"])


def test_a_comeback_is_asked_about_from_the_start(reasoner: Reasoner) -> None:
    """What was asked at the visit before does not count, nor that it came back, which nobody was asked."""
    book = reasoner.book
    told = [events.profile("arrival", ["nothing"]), events.cannot_tell("ask-knock-when", "rider")]
    folded = opened(book, "front-knock", *told)
    assert asked(folded) == 2
    folded = opened(book, "front-knock", *told, events.ended("declined"), events.came_back())
    assert asked(folded) == 0
    first = next_prompt(reasoner, folded)
    assert (first and first.id) == "arrival"
