"""What typed words say of the bike: heard once and shown, never against what somebody was asked."""

from __future__ import annotations

import pytest

from diagnose.casework import events
from diagnose.casework.fold import fold
from diagnose.casework.heard import facts_heard
from diagnose.reason.facts import facts_wanted
from diagnose.reason.reasoner import Reasoner
from tests.shipped import shipped_book

OPENED = events.opened("mechanic", "mechanic")

LABELS = [
    (
        "214, trekking e-bike, hydraulic discs, inner tubes",
        {"bike-kind": "city", "brake": "hydraulic-disc", "tyre-system": "tube", "assist": "yes"},
    ),
    ("town bike, V-brakes, 7-speed hub gear", {"bike-kind": "city", "brake": "rim", "shifting": "hub-gear"}),
    ("kid's bike, back-pedal brake, no motor", {"bike-kind": "child", "brake": "coaster", "assist": "no"}),
    ("hydraulic rim brakes", {"brake": "rim"}),
    (
        "mountain bike, 1x12, tubeless",
        {"bike-kind": "mountain", "shifting": "mech", "speeds": "11-12", "tyre-system": "tubeless"},
    ),
    # said of one end, or two things at once: asked
    ("hydraulic discs in front, back-pedal brake", {}),
    ("roller brake rear", {}),
    ("V-brakes and a drum brake", {}),
    ("rear hub motor", {"assist": "yes"}),
    # no part of the bike, or denied
    ("head tube with a sticker", {}),
    ("not tubeless", {}),
    # how many sprockets is no matter of a hub
    ("8-speed", {}),
    ("back tyre", {}),
]


@pytest.mark.parametrize(("label", "told"), LABELS, ids=[label for label, _ in LABELS])
def test_a_label_says_what_bike_it_is(label: str, told: dict[str, str]) -> None:
    """What is said of the whole bike, and no more; what the trouble is about is no matter of a label."""
    assert facts_heard(shipped_book(), label) == {fact: (value,) for fact, value in told.items()}


WORDS = [
    ("flat-tyre", "the back tyre is flat again, you put in a new tube", {"tyre-system", "which-wheel", "recent-work"}),
    ("flat-tyre", "it needs a new tube", set()),
    ("slow-leak", "my racing bike has soft tyres, both tyres", {"bike-kind", "which-wheel"}),
    ("part-stuck", "the pedal will not come off", {"stuck-part"}),
    ("skips-under-load", "it skips when I turn the pedals, since the crash", {"recent-work"}),
    ("skips-under-load", "it skips, both pedals and bolts are fine", set()),
]


@pytest.mark.parametrize(("complaint", "words", "facts"), WORDS, ids=[words for _, words, _ in WORDS])
def test_a_complaint_says_what_it_is_about(complaint: str, words: str, facts: set[str]) -> None:
    """What bears on its causes; of what is wished for nothing."""
    assert set(facts_heard(shipped_book(), "", [words], [complaint])) == facts


def test_of_several_complaints_none_says_which_wheel() -> None:
    """Each may be about its own."""
    words = ["the back tyre goes down", "it skips"]
    assert "which-wheel" in facts_heard(shipped_book(), "", words, ["slow-leak"])
    assert "which-wheel" not in facts_heard(shipped_book(), "", words, ["slow-leak", "skips-under-load"])


def test_what_was_asked_goes_before_what_was_heard() -> None:
    """Also where it could not be told; and a fact that was heard is no question that was asked."""
    book = shipped_book()
    heard = events.heard("brake", ["rim"])
    situation = fold(book, [OPENED, events.complaint("weak-brake"), heard]).situation
    assert (situation.profile["brake"], situation.heard, situation.asked) == (("rim",), {"brake"}, frozenset())
    for told in ([events.profile("brake", ["drum"]), heard], [heard, events.profile("brake", ["drum"])]):
        after = fold(book, [OPENED, events.complaint("weak-brake"), *told]).situation
        assert (after.profile["brake"], after.heard) == (("drum",), frozenset())
    unknown = fold(book, [OPENED, events.complaint("weak-brake"), events.profile("brake", []), heard]).situation
    assert "brake" not in unknown.profile


def test_one_heard_value_of_several_leaves_the_others_to_be_asked_for() -> None:
    """A new tube was spoken of; what else was done is still asked for. Which wheel it is, is not."""
    reasoner = Reasoner(shipped_book())
    told = [events.heard("recent-work", ["new-tyre"]), events.heard("tyre-system", ["tube"])]
    situation = fold(reasoner.book, [OPENED, events.complaint("flat-tyre"), *told]).situation
    wanted = facts_wanted(reasoner.book, situation, reasoner.diagnose(situation).belief, ["tyre-system"])
    assert "recent-work" in wanted
    assert "tyre-system" not in wanted


def test_words_that_say_which_wheel_spare_the_question_which_brake() -> None:
    """Which lever works it bears on no cause; who was asked for the wheel may still be asked for the brake."""
    reasoner = Reasoner(shipped_book())
    before = [OPENED, events.complaint("weak-brake"), events.profile("arrival", ["nothing"])]
    for told, asked in (([], True), ([events.heard("which-wheel", ["front"])], False)):
        situation = fold(reasoner.book, [*before, *told]).situation
        wanted = facts_wanted(reasoner.book, situation, reasoner.diagnose(situation).belief, ["which-brake"])
        assert ("which-brake" in wanted) is asked


def test_every_word_tells_one_value_of_its_fact() -> None:
    """In the shipped book, by itself, what it stands for; or nothing, where another fact must be known first."""
    book = shipped_book()
    for fact in book.facts.values():
        bearing = book.bearing[fact.id]
        about = [one for one, causes in book.causes_of.items() if bearing & {cause.id for cause in causes}]
        for value, phrases in fact.told_by.items():
            for phrase in phrases:
                heard = facts_heard(book, "", [phrase], about[:1])
                assert heard.get(fact.id, (value,)) == (value,), (fact.id, phrase)
                assert fact.id in heard or fact.applies, (fact.id, phrase)
