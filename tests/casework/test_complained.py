"""What riders say at a counter, and the complaints that a mechanic takes it for: on the shipped book.

The sentences are how riders speak (common practice, no source), of all ages, vague, long, wrong in their terms.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from diagnose.book.model import Book
from diagnose.book.place import shipped_rules
from diagnose.book.shelf import load_book
from diagnose.casework.complained import FIRST, match_complaints, told_beside

SAID = [
    ("back tyre's flat again, third time this month", "flat-tyre slow-leak"),
    ("got a puncture on the way to work", "flat-tyre"),
    ("I pump it up and two days later it's soft", "slow-leak"),
    ("air hisses out round the valve when I pump it", "flat-tyre slow-leak"),
    ("my tubeless won't seal", "tyre-hops flat-tyre slow-leak"),
    ("pneu arriere plat, I mean rear tire no air", "flat-tyre slow-leak"),
    ("rode over glass and now it's flat", "flat-tyre"),
    ("threads are coming out the side of my tire", "flat-tyre check-over tyre-hops"),
    ("the tyre sits funny, goes up and down when it spins", "tyre-hops"),
    ("it won't go into the big cog at the back", "shifts-badly"),
    ("it jumps gears on its own when I go uphill", "skips-under-load shifts-badly"),
    ("won't change when I stop at the lights", "hub-gear-misses shifts-badly"),
    ("the twist thing on the handlebar is really hard to turn", "hub-gear-misses shifts-badly"),
    ("gears need adjusting", "shifts-badly"),
    ("front derailleur rubs on the chain, makes a racket", "noisy-drive"),
    ("gear cable snapped", "shifts-badly"),
    ("it changes slowly, takes ages to go up a gear", "shifts-badly"),
    ("it only has one gear working now", "shifts-badly hub-gear-misses"),
    ("when I pull the brake it goes right back to the handlebar", "lever-to-bar"),
    ("brakes are rubbish in the rain", "weak-brake"),
    ("I have to squeeze really hard to stop", "weak-brake"),
    ("brake cable broke", "lever-to-bar weak-brake"),
    ("I sprayed the disc with oil and now it doesn't stop", "weak-brake"),
    ("brakes fade when I come down the long hill, they smell burnt", "weak-brake"),
    ("the brake is too grabby, nearly went over the bars", "brake-grabs"),
    ("brake rubbing on the wheel", "brake-drags rubs-now-and-then"),
    ("the disc goes ting ting ting every time the wheel goes round", "rubs-now-and-then"),
    ("brake pad only comes off one side", "brake-drags"),
    ("the brakes squeal like a pig", "brake-noise"),
    ("brakes make a grinding noise", "brake-noise"),
    ("brakes are noisy", "brake-noise"),
    ("pedals suddenly give way when I push hard", "skips-under-load"),
    ("pedal goes forward but bike doesn't go", "no-drive"),
    ("chain fell off and got stuck between the frame and the cogs", "chain-drops"),
    ("chain's rusty and squeaks", "noisy-drive"),
    ("the chain sucks up into the frame", "chain-drops"),
    ("I hit a pothole and now my wheel wobbles", "wheel-wobbles"),
    ("spoke's snapped on the back, two of them I think", "wheel-wobbles spokes-keep-breaking"),
    ("spokes feel loose and make pinging noises", "wheel-wobbles"),
    ("back wheel wobbles side to side if I grab it", "wheel-wobbles"),
    ("something creaks every time I pedal", "part-creaks"),
    ("click click when I push down on left foot", "part-creaks"),
    ("annoying noise from the bottom, near the cranks", "noisy-drive part-creaks crank-wobbles"),
    ("clunk from underneath when I start off", "part-creaks skips-under-load crank-wobbles hub-gear-misses"),
    ("the left pedal is coming off", "crank-wobbles"),
    ("there's play where the pedals go in, you can wiggle it", "crank-wobbles"),
    ("my ebike just cuts out going up hills", "assist-cuts-out"),
    ("the e-bike won't turn on", "assist-dead"),
    ("battery only lasts ten miles now, used to do thirty", "assist-range-short"),
    ("my battery gets really hot when charging", "battery-knocked"),
    ("motor keeps pushing after I stop pedalling", "motor-noise"),
    ("battery got wet in the flood", "battery-knocked"),
    ("the motor pushes in jerks", "assist-cuts-out motor-noise"),
    ("handlebars are loose, they turn but the wheel doesn't", "loose-steering"),
    ("there's a knock in the front when I brake", "front-knock"),
    ("the handlebars aren't straight with the front wheel", "loose-steering"),
    ("handlebar slips down when I lean on it", "part-slips loose-steering"),
    ("it pulls to the left when I let go", "pulls-to-one-side"),
    ("bar tape redone, scuffed after a fall", "frame-hurt"),
    ("got hit by a car", "frame-hurt"),
    ("there's a crack in the frame", "frame-hurt"),
    ("found a hairline line near the seat tube, could be paint", "frame-hurt"),
    ("mudguard rubs on the tyre", "accessory-trouble"),
    ("kickstand won't stay up", "accessory-trouble"),
    ("rear light flickers", "lights-fail"),
    ("seat keeps sinking down", "part-slips"),
    ("can't move my seat post, it's stuck solid", "part-stuck"),
    ("my fork leaks", "suspension-oily"),
    ("fork's got no bounce", "suspension-sits-high"),
    ("rear shock makes a squelching noise", "suspension-sits-low suspension-sits-high noise-somewhere"),
    ("fork is going down by itself", "suspension-sits-low"),
    ("I took it apart and now I can't get it back together", "wheel-will-not-fit check-over"),
    ("bike feels really slow lately", "hard-pedalling"),
    ("just bought it second-hand, can you look it over", "check-over"),
    ("came in a box, can you build it", "check-over"),
    ("trailer hitch has come loose", "accessory-trouble"),
    ("stabilisers are bent on my daughter's bike", "accessory-trouble"),
    ("the bolt head's rounded off", "part-stuck"),
    ("picked up a thorn on the towpath", "flat-tyre slow-leak"),
    ("always having to top up the air", "slow-leak"),
    ("something is poking out of the tyre on the side", "tyre-hops flat-tyre check-over"),
    ("I pumped too hard and it exploded", "flat-tyre tyre-hops"),
    ("new tyre won't go on properly, it's lumpy", "tyre-hops"),
    ("can't find first gear any more", "shifts-badly hub-gear-misses"),
    ("chain goes past the biggest cog into the wheel", "chain-drops"),
    ("click the lever and nothing", "shifts-badly"),
    ("derailleur got whacked on a rock", "shifts-badly"),
    ("three speed hub keeps going into neutral", "hub-gear-misses"),
    ("front brake's gone", "weak-brake lever-to-bar"),
    ("the handle thing goes flat against the bar when I squeeze", "lever-to-bar"),
    ("brakes feel like squeezing a wet sponge", "lever-to-bar"),
    ("brakes gone soft after I turned the bike upside down", "lever-to-bar"),
    ("somebody put oil on the disk and now no stopping", "weak-brake"),
    ("wheel stops turning after one spin, brake is catching", "brake-drags brake-grabs"),
    ("brakes make a noise like a dying goose", "brake-noise"),
    ("when I put the brakes on there's a scrapey metal sound", "brake-noise"),
    ("I stamp on the pedal and it slips", "skips-under-load"),
    ("it's like a fixie, pedals keep turning when I stop pedalling", "hard-pedalling"),
    ("chain comes off every single ride", "chain-drops"),
    ("chain sounds horrible, needs oil I think", "noisy-drive"),
    ("back wheel has a wobble, like a figure of eight", "wheel-wobbles"),
    ("front wheel feels like it's going to fall out", "wheel-wobbles"),
    ("there is a creaking coming from somewhere around the bottom bracket", "part-creaks noisy-drive"),
    ("squeaky seat, drives me mad", "part-creaks"),
    ("left foot pedal goes round crooked", "crank-wobbles"),
    ("my pedelec says E4 or something", "assist-dead"),
    ("the battery is kaput, I charge all night but only one bar", "battery-will-not-charge assist-range-short"),
    ("battery is swollen and warm", "battery-knocked"),
    ("e-bike takes off on its own", "motor-noise"),
    ("can hardly turn the handlebars", "stiff-steering"),
    ("front end's all wobbly at speed", "shakes-at-speed"),
    ("a van clipped me and I went down hard", "frame-hurt"),
    ("slid out on the tram rail", "frame-hurt"),
    # what goes down is no fall
    ("front tyre goes down over two days, wet spot by the valve, tubeless", "slow-leak"),
    ("doesn't shift down to the small cogs, stuck in one gear", "shifts-badly"),
    ("seat post slid down", "part-slips"),
    ("dropped it off the car roof", "frame-hurt"),
    ("my lad came a cropper on it, is it still safe", "frame-hurt check-over"),
    ("baby seat moves from side to side", "accessory-trouble"),
    ("saddle won't stay level", "part-slips"),
    ("front suspension is leaking oil", "suspension-oily"),
    ("so heavy to push along, is something rubbing", "hard-pedalling brake-drags"),
    ("just the annual service please", "check-over"),
    ("front tyre keeps letting its air out", "slow-leak flat-tyre"),
    ("found a gash in the tyre", "flat-tyre check-over tyre-hops"),
    ("gear change is lumpy since I swapped the cassette", "shifts-badly"),
    ("rear derailleur hangs all funny", "shifts-badly"),
    ("brakes useless going down the big hill", "weak-brake"),
    ("my front disc is warped, it goes zing each turn", "rubs-now-and-then"),
    ("brakes sound like a train stopping", "brake-noise"),
    ("pedal kicks under load, teeth look like shark fins", "skips-under-load"),
    ("chain jumped off and jammed by the frame", "chain-drops"),
    ("rear rim is like a potato crisp", "wheel-wobbles"),
    ("hub bearings are rough as anything", "wheel-turns-rough"),
    ("right crank arm is loose", "crank-wobbles"),
    ("display goes blank when I hit a bump", "assist-cuts-out"),
    ("battery pack has a bulge on it", "battery-knocked"),
    ("front wheel and handlebars are not lined up", "loose-steering"),
    ("clonking from up front when I pull the brake", "front-knock"),
    ("downhill the whole bike starts shimmying", "shakes-at-speed"),
    ("is this a crack or a scratch on the top tube", "frame-hurt"),
    ("dynamo lamp only glows a bit", "lights-fail"),
    ("suspension fork just clunks to the bottom", "suspension-sits-low front-knock"),
    ("it's such hard work to ride nowadays", "hard-pedalling"),
    ("my back tyre keeps going squidgy", "slow-leak flat-tyre"),
    ("inner tube gave up on me", "flat-tyre slow-leak"),
    ("tread is worn through, you can see the canvas", "flat-tyre check-over tyre-hops"),
    ("chain wobbles between two sprockets and rattles", "shifts-badly noisy-drive"),
    ("thumb shifter went limp", "shifts-badly"),
    ("front brake barely works when it's wet", "weak-brake"),
    ("lever's got loads of travel before it bites", "lever-to-bar"),
    ("wheel is grabbing, brake won't let it spin", "brake-drags"),
    ("ear-splitting squeal at every junction", "brake-noise"),
    ("my pedal stroke lurches when I stamp up the hill", "skips-under-load"),
    ("chain dropped into the spokes and it's stuck", "chain-drops"),
    ("wheel looks like a banana after that pothole", "wheel-wobbles"),
    ("annoying tick every time my right foot goes down", "part-creaks noisy-drive"),
    ("can't shift the pedals, they've welded themselves on", "part-stuck"),
    ("bike turns itself off half way up the climb", "assist-cuts-out"),
    ("my battery hit the floor", "battery-knocked"),
    ("stem's loose, the bars twist", "loose-steering"),
    ("bike wants to go left all the time", "pulls-to-one-side"),
    ("the chainstay has a crack", "frame-hurt"),
    ("rear light packs up when it rains", "lights-fail"),
]
"""What a rider says, and the complaints of which any will do."""
DANGERS = [
    ("there's a crack in my carbon fork", "frame-hurt"),
    ("my handlebars have a crack in them", "frame-hurt"),
    ("crack on the stem near the bolt", "frame-hurt"),
    ("rim's cracked and the brake squeals and the gears skip", "wheel-wobbles"),
    ("my lad fell off it, gears are bad, brake rubs", "frame-hurt"),
    ("got hit by a car and the gears don't work", "frame-hurt"),
    ("a van clipped me and since then it creaks", "frame-hurt"),
    ("had a fall, bar tape is scuffed, rest is great", "frame-hurt"),
    ("I crashed yesterday and everything looks fine", "frame-hurt"),
    ("tyre is flat, gears slip, and the brake lever comes to the bar", "lever-to-bar"),
    ("brake cable snapped", "weak-brake"),
    ("got T-boned on the roundabout", "frame-hurt"),
    ("the chainstay has a crack", "frame-hurt"),
    ("hose is weeping at the caliper", "lever-to-bar"),
    ("brakes squeal, gears skip and my battery smells of nail varnish", "battery-knocked"),
    ("dropped my battery, otherwise it is fine", "battery-knocked"),
    ("the front wheel fell out when I lifted it", "wheel-wobbles"),
    ("pedal fell off on the way to school", "crank-wobbles"),
    ("child seat wobbles when I corner", "accessory-trouble"),
]
"""What must not be missed, also where something else is told with it."""
LONG = [
    (
        "I was riding along the canal last Sunday when the front brake made an awful howling sound, dead embarrassing",
        "brake-noise",
    ),
    (
        "my grandson left it in the garden through the whole of the winter and the chain has turned orange and squeaks",
        "noisy-drive",
    ),
    (
        "coming home from choir practice the pedal on the left hand side just dropped off in the middle of the road",
        "crank-wobbles",
    ),
]
"""Whole stories, with much in them that has nothing to do with the bike."""


@pytest.fixture(scope="module")
def book() -> Book:
    """The shipped rule book."""
    return load_book(shipped_rules())


def offered(book: Book, said: str) -> list[str]:
    """What is offered for a sentence, by id, the best first."""
    return [one.id for one, _ in match_complaints(book, said)]


def test_what_riders_say_is_understood(book: Book) -> None:
    """Nearly all sentences have their complaint among the first three, four in five as the first."""
    places = [
        next((place for place, one in enumerate(offered(book, said)) if one in right.split()), 99)
        for said, right in SAID
    ]
    assert len(places) >= 100
    assert sum(place < FIRST for place in places) >= 0.95 * len(places)
    assert sum(place == 0 for place in places) >= 0.82 * len(places)


def test_few_are_offered(book: Book) -> None:
    """What falls far behind the best is left out: hardly more than two for most sentences."""
    assert sum(len(offered(book, said)) for said, _ in SAID) <= 3 * len(SAID)


@pytest.mark.parametrize(("said", "right"), DANGERS)
def test_a_danger_is_among_the_first(book: Book, said: str, right: str) -> None:
    """Whatever else fits, and in how many words it is told."""
    assert right in offered(book, said)[:FIRST]


@pytest.mark.parametrize(("said", "right"), LONG)
def test_a_long_story_is_understood(book: Book, said: str, right: str) -> None:
    """What the book does not know lowers all alike."""
    assert right in offered(book, said)[:2]


@pytest.mark.parametrize(
    "said", ["do you sell helmets", "is my order here yet", "I have a question about insurance", "it was stolen"]
)
def test_what_is_no_complaint_offers_nothing(book: Book, said: str) -> None:
    """Nothing rather than something absurd."""
    assert offered(book, said) == []


def test_another_part_of_the_bike_falls_behind(book: Book) -> None:
    """Who names the seat post is not offered what is stuck elsewhere first; the part holds for the next clause too."""
    assert offered(book, "can't move my seat post, it's stuck solid")[0] == "part-stuck"
    assert "chain-drops" not in offered(book, "can't move my seat post, it's stuck solid")
    assert offered(book, "the battery looks a bit fat, it doesn't go in properly")[0] == "battery-knocked"


def test_what_must_not_be_missed_is_said_by_the_book(book: Book) -> None:
    """With its line the complaint comes; without, the sentences alone decide."""
    words = "the purple thing hums in the hall"
    assert "stiff-steering" not in offered(book, words)
    asked = book.complaints["stiff-steering"]._replace(never_missed=("purple hums",))
    assert "stiff-steering" in offered(replace(book, complaints=book.complaints | {asked.id: asked}), words)[:FIRST]


@pytest.mark.parametrize(
    ("said", "worst", "other"),
    [
        ("brakes dont work and chain off", "weak-brake", "chain-drops"),
        ("chain off and brakes dont work", "weak-brake", "chain-drops"),
        ("gears need adjusting and the front brake does nothing", "weak-brake", "shifts-badly"),
        ("tyre is flat, gears slip, and the brake lever comes to the bar", "lever-to-bar", "flat-tyre"),
        ("flat tyre and the bars are loose", "loose-steering", "flat-tyre"),
        ("chain came off, and also the fork is bent", "frame-hurt", "chain-drops"),
        (
            "battery smells funny since it lay in the car, otherwise just gears skip",
            "battery-knocked",
            "skips-under-load",
        ),
        ("brakes squeal a bit and it did not really stop at the lights", "weak-brake", "brake-noise"),
    ],
)
def test_of_several_complaints_the_dangerous_one_comes_first(book: Book, said: str, worst: str, other: str) -> None:
    """In whatever order they are told in one breath."""
    first, *others = offered(book, said)
    assert first == worst
    assert other in others


@pytest.mark.parametrize(
    ("said", "each"),
    [
        ("front brake squeals and the gears skip", {"brake-noise", "skips-under-load"}),
        ("it shifts badly and the saddle slips down", {"part-slips", "shifts-badly"}),
        ("front brake squeals and squeals", set()),
        ("new chain, and now it skips", set()),
        ("brake squeals, otherwise the gears are fine", set()),
    ],
)
def test_two_complaints_of_one_breath_are_told_apart(book: Book, said: str, each: set[str]) -> None:
    """Each by a part of the words; one trouble told in two parts is one, and what is well is none."""
    assert {one.id for one in told_beside(book, said)} == each


def test_a_scratch_told_by_the_way_is_no_danger_that_comes_first(book: Book) -> None:
    """Only what is often dangerous changes places."""
    assert offered(book, "chain has come off again and scratched the frame")[0] == "chain-drops"


@pytest.mark.parametrize(
    ("said", "trouble"),
    [
        ("front brake lever feels different lately, springier; otherwise just service", "lever-to-bar"),
        ("just a service, brake feels a bit odd", "weak-brake"),
        ("service please, steering feels notchy", "stiff-steering"),
        ("yearly service, and the crank wobbles", "crank-wobbles"),
        ("check it over, there is a line at the fork", "frame-hurt"),
        ("needs a service, and a spoke has gone", "spokes-keep-breaking"),
    ],
)
def test_a_trouble_told_beside_just_a_service_is_offered_first(book: Book, said: str, trouble: str) -> None:
    """And the check-over next to it: nobody asks for a service with a brake that nobody looks at."""
    assert offered(book, said)[:2] == [trouble, "check-over"]


def test_what_is_well_is_no_trouble_beside_a_service(book: Book) -> None:
    """A part that is named because it is fine changes nothing."""
    assert offered(book, "needs a service but the brakes are fine")[0] == "check-over"


def test_what_such_a_bike_cannot_have_is_not_offered(book: Book) -> None:
    """A mech leaves the hub gear out; where the words mean nothing else it is offered all the same."""
    mixed = "back wheel was out and now the gears are all mixed up"
    assert "hub-gear-misses" in [one.id for one, _ in match_complaints(book, mixed)]
    with_a_mech = match_complaints(book, mixed, bike={"shifting": ("two-mechs",)})
    assert [one.id for one, _ in with_a_mech][:1] == ["shifts-badly"]
    assert "hub-gear-misses" not in [one.id for one, _ in with_a_mech]
    oil = match_complaints(book, "oil comes out of the hub", bike={"shifting": ("two-mechs",)})
    assert oil
    creak = "it creaks, could not find it, took everything off"
    assert "belt-trouble" in [one.id for one, _ in match_complaints(book, creak)]
    assert "belt-trouble" not in [one.id for one, _ in match_complaints(book, creak, bike={"shifting": ("mech",)})]


@pytest.mark.parametrize(
    ("said", "right"),
    [
        ("pedalling is so heavy lately, must need oil on the chain", "hard-pedalling"),
        ("chain jumps once in every so many turns, cassette must be bad", "skips-under-load"),
        ("something rattles on cobbles, thought it was the chain", "noise-somewhere"),
        ("clicks each time my right foot goes down, must be the bottom bracket", "part-creaks"),
    ],
)
def test_what_is_guessed_counts_less_than_what_is_heard(book: Book, said: str, right: str) -> None:
    """The trouble stands first where it shows, not where the rider takes it to be."""
    assert offered(book, said)[0] == right


def test_a_guess_alone_is_the_trouble(book: Book) -> None:
    """Where nothing else is told, and where a danger is guessed, it is heard as ever."""
    assert offered(book, "I think the frame is cracked")[0] == "frame-hurt"
    assert "frame-hurt" in offered(book, "creaks when I pedal, I think the frame is cracked")[:FIRST]


def test_what_must_be_done_is_no_guess(book: Book) -> None:
    """It must be held straight: that is what is felt."""
    assert offered(book, "pulls to the left, must be held straight all the time")[0] == "pulls-to-one-side"
