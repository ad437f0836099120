"""Riders' words to complaints, mechanics' words to fixes: near matches on the shipped book.

The sentences are how riders speak at a counter (common practice, no source); none of them stands in the book.
"""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from diagnose.book.model import Book
from diagnose.book.place import shipped_rules
from diagnose.book.shelf import load_book
from diagnose.casework.complained import BEHIND, match_complaints
from diagnose.casework.words import match_causes, match_findings, match_fixes
from tests.shipped import shipped_book

SAID = {
    "weak-brake": "hand brake not gripping"
    "|brakes don't work well|poor braking power|takes ages to stop|cant stop in the rain"
    "|it needs squeezing like mad",
    "lever-to-bar": "brake lever goes all the way to the handlebar|spongy brake|mushy lever|I have to pump the lever"
    "|brake travels further each day",
    "brake-drags": "brake is dragging|wheel wont turn freely|disc rubs all the time|scraping all the time",
    "rubs-now-and-then": "rotor rubbing once per revolution|brake rubs sometimes|intermittent rubbing|rubs in corners",
    "brake-noise": "front brake squeels like mad|squeals, pads were not changed|can you fit new pads, squeals"
    "|squealing brakes|squeeky brakes|grinding noise when braking|brakes screech",
    "noise-somewhere": "no noise uphill, only on the flat|clicky noise every now n then somewhere at the back",
    "assist-dead": "e-bike wont turn on",
    "wheel-turns-rough": "freewheel making grinding noise when coasting",
    "hub-gear-misses": "cant get 2nd"
    "|only seven gears since the mechanic did the tyre, and fifth grinds and does nothing",
    "assist-cuts-out": "speed shows zero|speed sensor error|the speed says nought",
    "wheel-wobbles": "the rear wheel began wobbling and touches the brake|please straighten my wheel",
    "part-slips": "seatpost keeps slipping|seat goes down|handlebars rotate|seat post sinking",
    "part-creaks": "creaking noise|clicking when pedalling|squeaks when i pedal|clicking every pedal stroke",
    "shifts-badly": "gears don't shift properly|wont change gear|gears need adjusting|derailleur out of adjustment",
    "skips-under-load": "chain skips when I stand up|chain jumps under load|chain slipping uphill|skipping gears",
    "chain-drops": "chain came off|chain keeps dropping|chain jammed between frame and crank|chain suck",
    "front-knock": "clunking at the front when braking|knocking from headset|knocks when i brake|front knoks",
    "loose-steering": "handlebars are loose|bars not straight|wobbly handlebars|stem is loose",
    "stiff-steering": "steering is heavy|handlebars hard to turn|headset is notchy|steering stuck",
    "suspension-sits-low": "fork bottoms out|suspension too soft|fork loses air|shock sags too much",
    "suspension-sits-high": "fork is stiff|suspension too hard|fork doesn't move|cant get full travel",
    "flat-tyre": "flat tire|puncture|tire blew out|keeps getting punctures|burst inner tube",
    "slow-leak": "tire loses air slowly|tyre goes soft overnight|slow puncture|need to pump up every week",
    "check-over": "went down on wet leaves, my wife says have it looked at|slid out in the rain, can you look it over",
    "frame-hurt": "somebody opened a car door and I went into it|ran into the door of a car, rode home all right",
    "noisy-drive": "clicks uphill, but only in the easy gears",
    "tyre-hops": "tyre not seated|tire has a bulge|tire hops|tubeless tire wont seat",
}


@pytest.fixture(scope="module")
def book() -> Book:
    """The shipped rule book."""
    return load_book(shipped_rules())


@pytest.mark.parametrize(
    ("complaint", "said"), [(name, said) for name, line in SAID.items() for said in line.split("|")]
)
def test_a_riders_own_words_bring_up_the_complaint(book: Book, complaint: str, said: str) -> None:
    """What riders say, slips of the finger with it, brings the complaint on to the list of at most six."""
    found = [one.id for one, _ in match_complaints(book, said)]
    assert complaint in found
    assert len(found) <= 6


def test_most_words_bring_it_up_first(book: Book) -> None:
    """Four in five of these sentences put their complaint on top."""
    firsts = [match_complaints(book, said)[0][0].id == name for name, line in SAID.items() for said in line.split("|")]
    assert sum(firsts) >= 0.8 * len(firsts)


@pytest.mark.parametrize(
    "said",
    [
        "scrapes all the time since the big disc",
        "since the bigger disc it rubs the whole time",
        "always scrapes at the front",
        "disc scrapes constantly since I changed it",
        "rubs non-stop",
    ],
)
def test_what_rubs_all_the_time_does_not_rub_now_and_then(book: Book, said: str) -> None:
    """Always, constantly, all the time: the complaint that says so comes first, whatever was changed before."""
    assert match_complaints(book, said)[0][0].id == "brake-drags"


@pytest.mark.parametrize(
    "said", ["rubs once a turn since the new disc", "disc rubs in bends", "disc scrapes after braking"]
)
def test_what_rubs_now_and_then_does_not_rub_all_the_time(book: Book, said: str) -> None:
    """Once a turn, in bends, after braking: the complaint of what comes and goes stays first."""
    assert match_complaints(book, said)[0][0].id == "rubs-now-and-then"


@pytest.mark.parametrize(
    ("said", "wanted"),
    [
        ("brakes squeal and feel weak", {"brake-noise", "weak-brake"}),
        ("tyre flat and gears skip", {"flat-tyre", "skips-under-load"}),
        ("my gears are all over the place and the front brake rubs", {"shifts-badly", "brake-drags"}),
        ("flat again, third time this month, back wheel", {"flat-tyre"}),
    ],
)
def test_two_complaints_in_one_breath_are_both_among_the_first_three(book: Book, said: str, wanted: set[str]) -> None:
    """What is joined by a comma or an "and" is looked for apart; where it is, or how often, is no complaint."""
    assert wanted <= {one.id for one, _ in match_complaints(book, said)[:3]}


def test_a_sentence_that_the_book_lacks_is_understood_by_the_others(book: Book) -> None:
    """Each sentence of the book taken out in turn: three in four still bring their complaint among the first three."""
    left_out = [
        (complaint, book.complaints | {complaint.id: complaint._replace(rider_says=others)}, said)
        for complaint in book.complaints.values()
        for said in complaint.rider_says[::8]
        if (others := tuple(one for one in complaint.rider_says if one != said))
    ]
    found = [
        complaint.id in [one.id for one, _ in match_complaints(replace(book, complaints=rest), said)[:3]]
        for complaint, rest, said in left_out
    ]
    assert sum(found) >= 0.75 * len(found)


def test_the_books_own_sentences_come_first(book: Book) -> None:
    """Each sentence that a complaint says riders use brings up that complaint before all others."""
    wrong = [
        (complaint.id, said)
        for complaint in book.complaints.values()
        for said in (complaint.name, *complaint.rider_says)
        if match_complaints(book, said)[0][0].id != complaint.id
    ]
    assert not wrong


@pytest.mark.parametrize(
    "said", ["", "   ", "asdf", "hello", "the", "12", "\x1b[31m", "[bold]", "💥", "I want a sandwich"]
)
def test_words_of_nothing_match_nothing(book: Book, said: str) -> None:
    """What has nothing to do with a bike offers nothing."""
    assert match_complaints(book, said) == []


@given(text=st.text(max_size=300))
def test_any_text_is_taken(text: str) -> None:
    """Whatever is typed, scores lie between 0 and 1, each complaint comes once, and nothing is raised.

    What is grave may stand ahead of what fits better, so the best need not be first; but it is never far behind it.
    """
    found = match_complaints(shipped_book(), text)
    scores = [score for _, score in found]
    assert len({one.id for one, _ in found}) == len(found)
    assert all(0 < score <= 1 for score in scores)
    assert not scores or scores[0] >= BEHIND * max(scores)


@pytest.mark.parametrize(
    ("said", "wanted"),
    [
        ("new chain", "chain"),
        ("bled the brake", "bleed"),
        ("tightened the headset", "headset"),
        ("new cable", "cable"),
        ("replaced the pads", "pads"),
    ],
)
def test_a_fix_is_found_by_a_few_words(book: Book, said: str, wanted: str) -> None:
    """What somebody says was done already brings up fixes that name it."""
    found = [fix.name.lower() for fix, _ in match_fixes(book, said)]
    assert any(wanted in name for name in found[:3])
    assert len(found) <= 9


def test_fixes_of_the_job_are_preferred(book: Book) -> None:
    """With a complaint given, a fix that treats it comes before an equal one that does not."""
    complaint = book.complaints["front-knock"]
    treats = {rung.fix for cause in book.causes_of[complaint.id] for rung in cause.ladder}
    found = [fix.id for fix, _ in match_fixes(book, "tighten the bolts", [complaint.id])]
    assert found[0] in treats


SEEN = [
    ("swollen battery", "assist-dead", "battery-sign"),
    ("grease between post and frame", "part-slips", "clamp-faces"),
    ("stand leans too far", "accessory-trouble", "stand-leans"),
    ("lever of the dropper has a lot of slack", "dropper-bad", "height-lever-feel"),
    ("battery rattles in its holder", "assist-cuts-out", "battery-held"),
    ("air bubbles at the shock's valve", "suspension-sits-low", "spring-valve-mouth"),
    ("bars twist against the front wheel", "loose-steering", "bars-against-wheel"),
    ("spokes snapped at the elbow", "spokes-keep-breaking", "spoke-broke-at"),
    ("handlebar rotates in the stem", "part-slips", "bars-roll"),
    ("axle feels gritty when turned by hand", "wheel-turns-rough", "hub-turns"),
    ("no power from the outlet", "battery-will-not-charge", "mains-socket"),
    ("oil sprays out when I let air out of the shock", "suspension-sits-low", "oil-at-air-valve"),
    ("belt pulley teeth like shark fins", "belt-trouble", "belt-sprockets"),
    ("one brake pad touches the rim", "brake-drags", "rim-pad-gap"),
    ("tyre bead sits uneven, dips on one side", "tyre-hops", "bead-line"),
    ("sealant bubbles round the valve", "slow-leak", "bubbles-at-rim"),
    ("kinked brake housing", "weak-brake", "housing-seen"),
    ("one piston does not come back", "brake-drags", "pistons-move"),
    ("pads worn down to the metal", "weak-brake", "disc-brake-glance lining-left pad-face"),
    ("chain is years old", "skips-under-load", "chain-age"),
    ("caliper moves when the bolts are tightened", "brake-drags", "caliper-twists"),
    ("green corroded plug", "assist-dead", "plug-state"),
    ("cable slipped through its clamp bolt", "lever-to-bar", "cable-at-clamp"),
    ("pulley wheels of the mech worn", "noisy-drive", "jockey-state"),
    ("saddle wobbles on the post", "part-creaks", "saddle-side-play saddle-teeth"),
    ("frayed inner cable", "shifts-badly", "gear-cable-strands cable-state"),
    ("frame dropout bent", "wheel-will-not-fit", "axle-parts"),
    ("motor moves in the frame", "motor-noise", "motor-held"),
    ("loose grip", "control-moves", "control-which"),
    ("crease in the tube", "frame-hurt", "dent-shape"),
    ("dynamo gives no current", "lights-fail", "dynamo-output"),
    ("bottom bracket rough", "noisy-drive", "bracket-feel"),
    ("crank wobbles on its axle", "crank-wobbles", "crank-area-gives crank-rock"),
    ("steerer too long, cap bottoms out", "front-knock", "cap-and-play steerer-gap"),
    ("wheel clicks when pushed sideways", "front-knock", "play-at-hub"),
    ("hooked cassette teeth", "skips-under-load", "sprocket-teeth"),
    ("brake fluid at the lever", "lever-to-bar", "fluid-leak"),
    ("gurgling damper", "suspension-sits-high", "squelch"),
    ("rim brake left open", "weak-brake", "release-state"),
    ("seat drops slowly under me", "dropper-bad", "dropper-does"),
    ("glazed pads", "weak-brake", "pad-face"),
    ("chain stretched", "skips-under-load", "chain-wear"),
    ("hanger bent inwards", "shifts-badly", "hanger-line"),
    ("headset loose when rocking with the front brake on", "front-knock", "play-at-headset"),
    ("error code on the screen", "assist-dead", "assist-shows"),
    ("heavy pannier on one side", "pulls-to-one-side", "load-on-bike"),
    ("rear derailleur floppy", "shifts-badly", "mech-pivot-play"),
    ("crumbled rubber springs", "suspension-sits-low", "elastomers-look"),
    ("crank bolt turns before it is tight", "crank-wobbles", "crank-bolt-held"),
    ("bars catch in the middle", "stiff-steering", "steering-turn"),
    ("wheel out of dish", "pulls-to-one-side", "rim-over-hub"),
    ("light plug fell off", "lights-fail", "lamp-plugs"),
    ("rust goes deep, blisters", "frame-hurt", "rust-depth"),
    ("tyre cut, threads visible", "flat-tyre", "casing-state"),
    ("allen key slips in the bolt", "part-stuck", "bolt-head-state"),
    ("fork lost its air pressure", "suspension-sits-low", "spring-holds-air spring-last-set"),
    ("knocks over bumps", "front-knock", "knock-when"),
    ("fork springs back too fast", "suspension-sits-low", "rebound-speed"),
    ("burnt contacts at the battery", "assist-dead", "battery-contacts"),
    ("front derailleur hardly moves", "shifts-badly", "front-mech-arm"),
    ("grip slides off", "control-moves", "grip-goes"),
    ("went flat with a bang", "flat-tyre", "speed-of-loss"),
    ("freewheel crunches when coasting", "no-drive", "pawls-sound"),
    ("nipples corroded solid", "spokes-keep-breaking", "nipples-turn"),
    ("seatpost pulled out past its mark", "part-slips", "post-line"),
    ("handlebar shimmy", "shakes-at-speed", "shake-how"),
    ("wire of the lamp chafed", "lights-fail", "lamp-wire"),
    ("water in the display", "assist-dead", "assist-shows display-held"),
    ("other spokes slack", "spokes-keep-breaking", "rest-of-the-spokes"),
    ("pedal was turned the wrong way", "part-stuck", "turned-which-way"),
]
"""What a mechanic types of a bike with a complaint, and the findings of which any will do (written for this test)."""


def place_of(book: Book, typed: str, complaint: str, wanted: str) -> int:
    """At which place the finding comes; 99 where it does not."""
    found = [one.id for one, _ in match_findings(book, typed, [complaint])]
    return next((place for place, name in enumerate(found, 1) if name in wanted.split()), 99)


def test_what_a_mechanic_sees_brings_up_the_finding(book: Book) -> None:
    """Among the seven that are offered nearly always, first seven times in ten."""
    places = [place_of(book, *one) for one in SEEN]
    assert len(places) >= 70
    assert sum(place <= 7 for place in places) >= 0.95 * len(places)
    assert sum(place <= 3 for place in places) >= 0.88 * len(places)
    assert sum(place == 1 for place in places) >= 0.7 * len(places)


@pytest.mark.parametrize(
    ("typed", "cause"),
    [
        ("brake pads worn", "pads-worn"),
        ("preload of the headset lost", "preload-lost"),
        ("bent mech hanger", "hanger-bent"),
    ],
)
def test_a_few_words_bring_up_the_cause(typed: str, cause: str, book: Book) -> None:
    """Near the top, whatever the complaint."""
    assert cause in [one.id for one, _ in match_causes(book, typed, most=4)]
