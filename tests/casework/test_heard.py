"""What typed words say of the bike: heard once and shown, never against what somebody was asked."""

from __future__ import annotations

from itertools import islice

import pytest

from diagnose.book.phrases import GAP
from diagnose.casework import events
from diagnose.casework.fold import fold
from diagnose.casework.heard import Typed, hear
from diagnose.casework.intake import asked
from diagnose.reason.facts import facts_wanted
from diagnose.reason.reasoner import Reasoner
from tests.shipped import shipped_book

OPENED = events.opened("mechanic", "mechanic")

LABELS = [
    (
        "214, trekking e-bike, hydraulic discs, inner tubes",
        {"bike-kind": "city", "brake": "hydraulic-disc", "tyre-system": "tube", "assist": "yes", "other-brake": "same"},
    ),
    (
        "town bike, V-brakes, 7-speed hub gear",
        {
            "tyre-system": "tube",
            "bike-kind": "city",
            "brake": "rim",
            "rim-brake-kind": "linear",
            "shifting": "hub-gear",
            "other-brake": "same",
        },
    ),
    ("kid's bike, no motor", {"tyre-system": "tube", "bike-kind": "child", "assist": "no"}),
    (
        "mountain bike, 1x12, tubeless",
        {"bike-kind": "mountain", "shifting": "mech", "speeds": "11-12", "tyre-system": "tubeless"},
    ),
    # said of one end, or two things at once: asked
    ("hydraulic discs in front, back-pedal brake", {}),
    ("roller brake rear", {}),
    ("drum brakes", {"brake": "drum", "other-brake": "same"}),
    ("drum brake", {}),
    ("old road frame, side-pull brakes", {"brake": "rim", "rim-brake-kind": "caliper", "other-brake": "same"}),
    ("V-brakes front and rear", {"brake": "rim", "rim-brake-kind": "linear", "other-brake": "same"}),
    ("V-brakes and a drum brake", {}),
    ("side-pull caliper, coaster brake in the hub", {}),
    ("V-brakes, back-pedal brake", {}),
    ("coaster brake", {}),
    ("rear hub motor", {"assist": "yes"}),
    ("steel racer from the eighties", {"bike-kind": "road", "frame": "metal", "assist": "no"}),
    # the brake's own caliper takes nothing back; what was done to it is heard
    (
        "hydraulic discs, caliper centred, disc trued",
        {"brake": "hydraulic-disc", "recent-work": "screws-turned", "other-brake": "same"},
    ),
    # what a bike is made of; its fork alone says nothing of the frame
    ("carbon road bike", {"bike-kind": "road", "frame": "carbon"}),
    ("gravel bike, carbon fork", {"bike-kind": "road"}),
    # where the battery sits is no load
    ("town bike, battery on the rack", {"tyre-system": "tube", "bike-kind": "city"}),
    ("town bike, rack", {"tyre-system": "tube", "bike-kind": "city", "carries": "rack"}),
    (
        "town bike, nothing done but studded winter tyres",
        {"tyre-system": "tube", "bike-kind": "city", "recent-work": "new-tyre"},
    ),
    # no part of the bike, or denied
    ("head tube with a sticker", {}),
    ("not tubeless", {}),
    # what was done to it lately: of whichever end; "nothing" gives way to what is named
    ("214, town bike, new back tyre", {"tyre-system": "tube", "bike-kind": "city", "recent-work": "new-tyre"}),
    (
        "214, child's MTB 24 inch, V-brakes",
        {"bike-kind": "child", "brake": "rim", "rim-brake-kind": "linear", "other-brake": "same"},
    ),
    ("214, discs 200/180", {"brake": "hydraulic-disc", "other-brake": "same"}),
    ("214, disc brakes 180/160", {}),
    ("town bike, winter wheels fitted", {"tyre-system": "tube", "bike-kind": "city", "recent-work": "wheel-changed"}),
    ("214, spoke here 5 weeks ago (trued)", {"recent-work": "spokes-turned"}),
    # long ago, nobody knows; nor what was done at a service
    ("older town bike, repainted", {"tyre-system": "tube", "bike-kind": "city"}),
    ("frame repainted", {"recent-work": "coated"}),
    ("214, first service, 340 km", {}),
    ("first service done in August", {}),
    ("214, town bike, nothing done lately", {"tyre-system": "tube", "bike-kind": "city", "recent-work": "none"}),
    ("nothing done, but pads changed in front", {"recent-work": "new-pads"}),
    ("nothing done since first service half a year ago", {"recent-work": "none"}),
    ("hydraulic rim brakes", {"brake": "hydraulic-rim", "other-brake": "same"}),
    ("rim brakes with oil on them", {"brake": "rim", "other-brake": "same"}),
    ("no crash, not washed", {}),
    ("e-bike, new side bags a month ago", {"assist": "yes", "recent-work": "hung-on"}),
    ("214, tube changed twice at home", {"tyre-system": "tube", "recent-work": "new-tyre", "comeback": "home"}),
    ("214, pads were both changed by us", {"recent-work": "new-pads"}),
    ("214, front brake lever renewed elsewhere", {"recent-work": "stem-or-headset"}),
    ("front brake weak, other lever hard", {}),
    ("took the old back wheel out yesterday", {"recent-work": "wheel-out"}),
    ("rear wheel out for a flat three weeks ago", {"recent-work": "new-tyre"}),
    ("the club tightened the top last month", {"recent-work": "stem-or-headset"}),
    ("press-fit bracket, ring bolts tightened", {"bracket-kind": "pressed", "recent-work": "crank-or-pedals"}),
    ("the chain was never changed, pads changed two years ago", {}),
    ("chain in the usual old way changed", {}),
    # asked for, not done
    ("please fit new chain, quote for new wheel, new tyres needed, bleed front brake", {}),
    ("recumbent, chain tubes", {}),
    (
        "gravel bike; new tubeless tyres fitted 3 days ago",
        {"bike-kind": "road", "tyre-system": "tubeless", "recent-work": "new-tyre"},
    ),
    ("fell off car rack on motorway", {"recent-work": "fell-over transported"}),
    ("bike, carried on train, rear wheel rebuilt here", {"recent-work": "transported spokes-turned"}),
    # what fell off is no fall, nor is a helmet
    ("chain fell off, crash helmet in the box", {}),
    ("road bike, fell last week", {"bike-kind": "road", "recent-work": "fell-over"}),
    ("hybrid, motor removed", {"bike-kind": "city"}),
    ("kids 20in, vbrakes", {"bike-kind": "child", "brake": "rim", "rim-brake-kind": "linear"}),
    ("folder, 3sp hub", {"tyre-system": "tube", "bike-kind": "folding", "shifting": "hub-gear"}),
    ("stood 3 yrs, pads done here 2 wks ago", {"recent-work": "stood-long new-pads"}),
    (
        "trekking bike; new chain and cassette at a service in spring, nothing since",
        {"bike-kind": "city", "recent-work": "none"},
    ),
    ("new chain, cassette and pads last year", {"recent-work": "new-chain"}),
    ("trekking bike, fell over in the school rack", {"bike-kind": "city", "recent-work": "fell-over"}),
    # long ago is not lately; another post that is on it is work, one that is wanted is none
    ("nothing done, chain changed last spring", {"recent-work": "none"}),
    (
        "road bike, clamp tightened very hard last week, another seat post",
        {"bike-kind": "road", "recent-work": "saddle-or-post"},
    ),
    ("needs another seat post", {}),
    ("stem clamp tightened", {"recent-work": "stem-or-headset"}),
    ("seat post swapped for a longer used one a month ago", {"recent-work": "saddle-or-post"}),
    ("chain taken off for cleaning two days ago", {"recent-work": "new-chain"}),
    (
        "hydraulic discs, bled twice",
        {"brake": "hydraulic-disc", "recent-work": "brake-bled", "comeback": "again", "other-brake": "same"},
    ),
    (
        "hydraulic discs, topped up the oil",
        {"brake": "hydraulic-disc", "recent-work": "brake-bled", "other-brake": "same"},
    ),
    ("fork oil topped up", {"recent-work": "suspension-service"}),
    ("front pads new in June", {"recent-work": "new-pads"}),
    ("6-speed freewheel derailleur, single chainring", {"shifting": "mech", "speeds": "to-8"}),
    ("trekking, front derailleur", {"bike-kind": "city", "shifting": "two-mechs"}),
    # how many sprockets is no matter of a hub
    ("8-speed", {}),
    ("back tyre", {}),
    ("solid axle with nuts", {"axle": "nuts"}),
    ("handlebar swung right round two weeks ago", {"recent-work": "transported"}),
]


@pytest.mark.parametrize(("label", "told"), LABELS, ids=[label for label, _ in LABELS])
def test_a_label_says_what_bike_it_is(label: str, told: dict[str, str]) -> None:
    """What is said of the whole bike, and no more; what the trouble is about is no matter of a label."""
    found = hear(shipped_book(), label, [], []).facts
    assert {fact: set(values) for fact, values in found.items()} == {
        fact: {*said.split()} for fact, said in told.items()
    }


WORDS = [
    ("flat-tyre", "the back tyre is flat again, you put in a new tube", {"tyre-system", "which-wheel", "recent-work"}),
    ("flat-tyre", "it needs a new tube", set()),
    (
        "rubs-now-and-then",
        "you've had it twice for the rubbing at the back, caliper centred, disc trued",
        {"which-wheel", "recent-work"},
    ),
    ("flat-tyre", "a brand-new tube in the front last night, flat", {"which-wheel", "tyre-system", "recent-work"}),
    ("flat-tyre", "glass on the road, and the back went down", {"which-wheel"}),
    ("spokes-keep-breaking", "rear wheel alone", {"arrival", "state", "which-wheel"}),
    ("wheel-wobbles", "other bikes fell on it in the station rack", {"recent-work"}),
    ("wheel-wobbles", "I only brought the back wheel", {"arrival", "state", "which-wheel"}),
    ("hub-brake-bad", "the back-pedal brake comes in late", {"brake"}),
    ("lever-to-bar", "front brake gone a bit soft", {"which-wheel"}),
    ("slow-leak", "the front wheel is fine", set()),
    ("lever-to-bar", "he nearly ran into the gate", set()),
    ("lever-to-bar", "he ran into the gate", {"recent-work"}),
    ("skips-under-load", "nearly went over the bars", set()),
    ("wheel-wobbles", "the back end waddles", {"which-wheel"}),
    ("slow-leak", "slow puncture rear", {"which-wheel"}),
    ("shifts-badly", "gears: top of the front wont go", set()),
    ("brake-drags", "pads rub after puncture repair", {"recent-work"}),
    ("slow-leak", "have to pump the front before every ride", {"which-wheel"}),
    ("slow-leak", "needs air at the back", {"which-wheel"}),
    ("noise-somewhere", "rattle from the back of the saddle", set()),
    ("wheel-wobbles", "kids in the back, and it waddles", set()),
    ("slow-leak", "the tubeless back tyre loses air", {"tyre-system", "which-wheel"}),
    ("slow-leak", "my racing bike has soft tyres, both tyres", {"bike-kind", "which-wheel"}),
    ("part-stuck", "the pedal will not come off", {"stuck-part"}),
    ("skips-under-load", "it skips when I turn the pedals, since the crash", {"recent-work"}),
    ("noisy-drive", "the chain rattles on the metal thing at the front", set()),
    ("skips-under-load", "it skips, both pedals and bolts are fine", set()),
]


@pytest.mark.parametrize(("complaint", "words", "facts"), WORDS, ids=[words for _, words, _ in WORDS])
def test_a_complaint_says_what_it_is_about(complaint: str, words: str, facts: set[str]) -> None:
    """What bears on its causes; of what is wished for nothing."""
    assert set(hear(shipped_book(), "", [Typed(words, complaint)], [complaint]).facts) == facts


ENDS = [
    ("rim brake front, back-pedal brake rear", "brake-drags", "it drags at the front", "rim"),
    ("rim brake front, back-pedal brake rear", "weak-brake", "the back brake is weak", "coaster"),
    ("rim brake front, back-pedal brake rear", "weak-brake", "the brake is weak", None),
    ("rim brake front, back-pedal brake rear", "chain-drops", "the chain keeps coming off", "coaster"),
    ("back-pedal brake rear plus a rim brake front", "hub-brake-bad", "the back-pedal brake comes in late", "coaster"),
    ("roller brake rear", "brake-drags", "it drags at the front", None),
    ("roller brake rear", "brake-drags", "it drags at the back", "drum"),
    ("hydraulic discs in front, back-pedal brake", "brake-drags", "it drags at the front", "hydraulic-disc"),
    ("single speed, back-pedal brake", "check-over", "please look it over", "coaster"),
    ("single speed, back-pedal brake", "brake-noise", "the front brake squeals", None),
    ("V-brake front and back-pedal brake", "weak-brake", "the back brake is weak", "coaster"),
    ("front V-brake, coaster brake", "brake-drags", "it drags at the front", "rim"),
    ("front V-brake, coaster brake", "weak-brake", "the back brake is weak", "coaster"),
    ("front V-brake, coaster brake", "weak-brake", "the brake is weak", None),
    ("front V-brake, coaster brake", "check-over", "please look it over", "coaster"),
]


@pytest.mark.parametrize(("label", "complaint", "words", "brake"), ENDS)
def test_a_label_that_tells_both_ends_apart_says_it_of_the_one_complained_of(
    label: str, complaint: str, words: str, brake: str | None
) -> None:
    """Where no end is named and no cause hangs on it, what it says of the rear counts."""
    found = hear(shipped_book(), label, [Typed(words, complaint)], [complaint]).facts
    assert found.get("brake") == (brake and (brake,))


def test_the_front_brake_of_a_label_is_the_other_one_where_the_rear_one_counts() -> None:
    """Looked over as a whole; not where one end is complained of, nor where nobody knows which."""
    label = "front V-brake, coaster brake"
    for words, complaint, other in (
        ("please look it over", "check-over", ("rim",)),
        ("the front V-brake squeals", "brake-noise", None),
        ("the brake squeals", "brake-noise", None),
    ):
        found = hear(shipped_book(), label, [Typed(words, complaint)], [complaint]).facts
        assert found.get("other-brake") == other


def test_of_several_complaints_none_says_which_wheel() -> None:
    """Each may be about its own."""
    book, back = shipped_book(), Typed("the back tyre goes down", "slow-leak")
    assert "which-wheel" in hear(book, "", [back], ["slow-leak"]).facts
    assert "which-wheel" not in hear(book, "", [back], ["slow-leak", "skips-under-load"]).facts


def test_complaints_that_are_much_alike_are_about_the_end_that_one_names() -> None:
    """A front brake that squeals, and stops worse: one brake. Two that name an end each are about two."""
    book, words = shipped_book(), Typed("front brake squeals again", "brake-noise")
    both = ["brake-noise", "weak-brake"]
    assert hear(book, "", [words, Typed("stops worse", "weak-brake")], both).facts["which-wheel"] == ("front",)
    assert hear(book, "", [words], both).facts["which-wheel"] == ("front",)
    for other in (Typed("the back brake stops worse", "weak-brake"), Typed("flat again", "flat-tyre")):
        assert "which-wheel" not in hear(book, "", [words, other], ["brake-noise", str(other.complaint)]).facts


SAID = [
    ("slow-leak", "back tyre is flat every morning", {"ask-one-or-both": "one", "how-fast-flat": "overnight"}),
    ("slow-leak", "back tyre is flat every morning, front too", {"how-fast-flat": "overnight"}),
    ("slow-leak", "the rear is down every morning", {"ask-one-or-both": "one", "how-fast-flat": "overnight"}),
    ("slow-leak", "I have to pump the back one before every ride", {"ask-one-or-both": "one"}),
    ("flat-tyre", "went flat with a bang", {"how-fast-flat": "bang"}),
    ("flat-tyre", "third flat, gone in a minute", {"flat-before": "again", "how-fast-flat": "minutes"}),
    ("flat-tyre", "always the same place", {"flat-before": "again"}),
    ("flat-tyre", "sealant sprays out", {"how-fast-flat": "minutes"}),
    ("brake-noise", "brakes squeal, only in the wet", {"rider-noise-when": "wet"}),
    ("brake-drags", "front brake goes ting-ting all the time", {}),
    ("brake-drags", "it goes sching sching at the front all the time when I ride", {}),
    ("brake-drags", "front brake rubs all the time", {"rider-when-it-rubs": "always"}),
    ("brake-noise", "grinds at the back. A month ago it only squeaked in the rain", {"rider-noise-when": "braking"}),
    ("part-creaks", "it creaks every time I sit, gone when out of the saddle", {"ask-creak-when": "seated"}),
    ("part-creaks", "creaks, stops when I stand", {"ask-creak-when": "seated"}),
    ("brake-noise", "brakes squeal, gone in the wet", {"rider-noise-when": "braking"}),
    ("noise-somewhere", "a noise, gone when I coast", {"ask-noise-doing": "pedalling"}),
    ("flat-tyre", "I ride every day, flat today", {}),
    ("slow-leak", "have to pump it up every day", {"how-fast-flat": "overnight"}),
    ("accessory-trouble", "it rattles, I've had the basket off, it's not that", {}),
    ("accessory-trouble", "took the rack off and it still rattles", {}),
    ("accessory-trouble", "the rattle is by the basket, it's not that either", {}),
    ("accessory-trouble", "the basket came off", {"ask-which-thing": "basket"}),
    ("slow-leak", "once hit a hole in the farm road quite hard", {"what-was-ridden-over": "edge"}),
    ("noisy-drive", "rattles, only in some gears", {"rider-drive-noise": "rattle", "rider-noise-and-gear": "some"}),
    ("noisy-drive", "a tick from the back once a wheel turn", {"rider-drive-noise": "wheel"}),
    (
        "shifts-badly",
        "late to the small cogs, to the big ones it is heavy",
        {"rider-slow-shift-way": "smaller", "rider-front-shift": "good"},
    ),
    # two things at once, or denied: asked
    ("part-creaks", "it creaks when I sit and when I stand, out of the saddle too, only seated though", {}),
    ("brake-noise", "brakes squeal, not in the wet", {}),
    ("assist-cuts-out", "motor goes off when really getting going, on hills it's fine", {}),
    ("assist-cuts-out", "motor gives up on long climbs, back on", {}),
    ("noise-somewhere", "quiet, then it is back on cobbles", {}),
    # where it comes back is not where it goes
    ("assist-cuts-out", "gives up when I get going, then back on the hill", {"ask-when-help-goes": "fast"}),
    ("assist-cuts-out", "assist goes at speed, works uphill", {"ask-when-help-goes": "fast"}),
    ("assist-cuts-out", "never on hills, only on the flat", {"ask-when-help-goes": "fast"}),
    ("assist-cuts-out", "assist only works in the rain", {}),
    # where the display jumps is not where the help goes, and whoever pedals may sit or stand
    ("assist-cuts-out", "speed on the display jumps to 40 on the flat", {}),
    ("part-creaks", "creaks whenever I pedal along", {}),
    ("noise-somewhere", "hums only in the evening", {"ask-noise-doing": "lamp", "ask-sound-like": "hum"}),
    ("headset-works-loose", "it works loose every week", {"ask-loose-how-often": "again"}),
    ("shifts-badly", "late to the big ones at the back", {"rider-front-shift": "good"}),
    # asked for another complaint only
    ("skips-under-load", "it skips all the time", {}),
]


@pytest.mark.parametrize(("complaint", "words", "answers"), SAID, ids=[words for _, words, _ in SAID])
def test_a_rider_says_what_would_be_asked(complaint: str, words: str, answers: dict[str, str]) -> None:
    """In the words of the complaint that it is asked for."""
    assert hear(shipped_book(), "", [Typed(words, complaint)], [complaint]).answers == answers


def test_what_was_hit_is_heard_behind_the_label() -> None:
    """For each complaint of which a cause has it, asked for or not; for no other."""
    label = "road bike, nothing done, hit a pothole on Saturday"
    for complaint, heard in (("tyre-hops", {"what-was-ridden-over": "edge"}), ("brake-noise", {})):
        found = hear(shipped_book(), label, [], [complaint])
        assert found.answers == heard
        assert found.facts["recent-work"] == ("none",)


def test_words_answer_the_complaint_that_they_were_typed_for() -> None:
    """A squeal in the morning is no tyre that is flat in the morning."""
    complaints = ["brake-noise", "slow-leak"]
    typed = [Typed("brakes squeal", "brake-noise"), Typed("tyre flat in the morning", "slow-leak")]
    assert hear(shipped_book(), "", typed, complaints).answers == {"how-fast-flat": "overnight"}
    assert not hear(shipped_book(), "flat in the morning", [], complaints).answers


def test_an_answer_that_was_heard_counts_as_no_question() -> None:
    """It is a rider's answer all the same."""
    book = shipped_book()
    told = [events.opened("rider", "mechanic"), events.complaint("slow-leak")]
    heard = [*told, events.answered("how-fast-flat", "rider", "overnight", heard=True)]
    folded = fold(book, heard)
    assert (folded.situation.answers[0].value, folded.situation.answers[0].by) == ("overnight", "rider")
    assert asked(folded) == 0
    assert asked(fold(book, [*told, events.answered("how-fast-flat", "rider", "overnight")])) == 1


def test_what_was_asked_goes_before_what_was_heard() -> None:
    """Also where it could not be told; and a fact that was heard is no question that was asked."""
    book = shipped_book()
    heard = events.heard("brake", ["rim"])
    situation = fold(book, [OPENED, events.complaint("weak-brake"), heard]).situation
    assert situation.profile["brake"] == ("rim",)
    assert situation.heard == {"brake"}
    assert not situation.asked
    for told in ([events.profile("brake", ["drum"]), heard], [heard, events.profile("brake", ["drum"])]):
        after = fold(book, [OPENED, events.complaint("weak-brake"), *told]).situation
        assert (after.profile["brake"], after.heard) == (("drum",), frozenset())
    unknown = fold(book, [OPENED, events.complaint("weak-brake"), events.profile("brake", []), heard]).situation
    assert "brake" not in unknown.profile


def test_what_was_heard_is_not_asked_for() -> None:
    """Who says what was done before it came says it of itself; a fall is asked for by the walk round the bike."""
    reasoner = Reasoner(shipped_book())
    told = [events.heard("recent-work", ["brake-bled"]), events.heard("brake", ["hydraulic-disc"])]
    situation = fold(reasoner.book, [OPENED, events.complaint("lever-to-bar"), *told]).situation
    wanted = facts_wanted(reasoner.book, situation, reasoner.diagnose(situation).belief, ["brake"])
    assert {"recent-work", "brake"}.isdisjoint(wanted)
    assert "comeback" in wanted


def test_what_another_answer_means_is_heard_of_two_complaints_as_well() -> None:
    """Which headset it has is a matter of the bike; which wheel, of a complaint."""
    complaints = ["stiff-steering", "headset-works-loose"]
    typed = [Typed("front wheel turns stiffly", "stiff-steering")]
    facts = hear(shipped_book(), "steel bike, threaded headset", typed, complaints).facts
    assert facts["headset"] == ("threaded",)
    assert "which-wheel" not in facts


def test_a_complaint_names_its_brake_where_the_label_has_two() -> None:
    """Asked is only who did not say which."""
    label, complaints = "town bike, back-pedal brake, 3-speed hub, V-brake front", ["hub-brake-bad"]
    for words, told in (("back-pedal brake brakes late", ("coaster",)), ("brakes late", None)):
        assert hear(shipped_book(), label, [Typed(words, "hub-brake-bad")], complaints).facts.get("brake") == told


def test_words_that_say_which_wheel_spare_the_question_which_brake() -> None:
    """Which lever works it bears on no cause; who was asked for the wheel may still be asked for the brake."""
    reasoner = Reasoner(shipped_book())
    before = [OPENED, events.complaint("weak-brake"), events.profile("arrival", ["nothing"])]
    for told, wants in (([], True), ([events.heard("which-wheel", ["front"])], False)):
        situation = fold(reasoner.book, [*before, *told]).situation
        wanted = facts_wanted(reasoner.book, situation, reasoner.diagnose(situation).belief, ["which-brake"])
        assert ("which-brake" in wanted) is wants


def test_every_word_tells_one_value_of_its_fact() -> None:
    """In the shipped book, by itself, what it stands for; or nothing, where another fact must be known first."""
    book = shipped_book()
    for fact in book.facts.values():
        bearing = book.bearing[fact.id]
        about = [one for one, causes in book.causes_of.items() if bearing & {c.id for c in causes}] or ["weak-brake"]
        for value, phrases in fact.told_by.items():
            for phrase in phrases:
                for typed in (phrase.replace(GAP, ""), phrase.replace(GAP, "the old")):
                    heard = hear(book, "", [Typed(typed, about[0])], about[:1]).facts
                    assert heard.get(fact.id, (value,)) == (value,), (fact.id, typed)
                    assert fact.id in heard or fact.applies, (fact.id, typed)


def test_every_word_of_a_rider_answers_its_check() -> None:
    """In the shipped book, by itself, for the first three complaints that it is asked for."""
    book = shipped_book()
    for check in book.checks.values():
        about = book.findings[check.finding].asked_for or [*book.complaints]
        for value, phrases in check.told_by.items():
            for phrase in phrases:
                typed = phrase.replace(GAP, "")
                told = (hear(book, "", [Typed(typed, one)], [one]).answers.get(check.id) for one in about)
                assert set(islice((one for one in told if one is not None), 3)) == {value}, (check.id, phrase)
