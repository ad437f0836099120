"""How people talk of bikes: the words that say something, by their stems, and what means the same or much the same.

Cast: `stems(text)` gives what a text says, in its order; `kindred(stem)` the groups that a word belongs to;
`likeness(one, two)` how much of two words is the same; `GUESSES` finds where a rider guesses, `OCCASIONS` are words
that say when or where, `PARTS` those that name a part of the bike.
"""

from __future__ import annotations

import re
from difflib import SequenceMatcher
from functools import lru_cache

Words = tuple[str, ...]

_FILLER = frozenset(
    "a about actually all also already am an and any anybody anymore anyone are as at basically be because been being "
    "bicycle bike bit but by can cannot cant completely correctly could couldnt cycle did didnt do does doesnt doing "
    "done dont even exactly feel feeling feels felt for from get gets getting go goes going gone got had has hasnt "
    "have havent he her here hers him his how i id if ill im in is isnt it its ive just kind let lets "
    "like literally little look looks lot made make makes maybe me might mine much must my need needed needs no nor "
    "not of oh ok on or our out perhaps please probably properly quite rather really said say says seem seems she "
    "should since so some somehow something sometimes sort sound sounds than that thats the their them then there "
    "theres they thing things think this those thought to too totally tried try trying unless us use used very want "
    "wants was wasnt we well went were werent what whats when whenever where whether which while who whole why will "
    "with without wont would wouldnt yes you your youre".split()
)
_PLACES = "first second third fourth fifth sixth seventh eighth".split()
_WHO = r"\b(?:i|he|she|we|son|lad|daughter|wife|husband|kid|partner|rider)(?:'ve|'d| have| has| had)? "
_MEANT = (
    (r"\bnot (?:always|constant(?:ly)?|every time|all (?:of )?the time)\b", "sometime"),
    (r"\bon (?:the )?flats?\b(?! tyres?| tires?)", "road"),
    (r"\blike (?:mad|hell|crazy|anything)\b", ""),
    (r"\bbb\b", "bracket"),
    (r"\b(?:really |hard )?tread(?:s|ing)? (?:hard )?on\b", "push"),
    (r"\b(?:quits?|conks? out|packs? (?:in|up))\b", "cutout"),
    (r"\b(?:not|dont|doesn'?t|won'?t|hardly|barely) grip(?:s|ping)?\b", "not bite"),
    *((rf"\b{place}(?:st|nd|rd|th)\b", name) for place, name in enumerate(_PLACES, 1)),
    (r"\be[- ]?bikes?\b|\belectric (?:bi)?(?:bike|cycle)s?\b|\bpedelecs?\b", "ebike"),
    (r"\bseat[- ]?(?:post|pin)s?\b|\bsaddle[- ]?(?:post|pin)s?\b", "post"),
    (r"\b(?:top|down|head|seat)[- ]?tubes?\b|\b(?:chain|seat)[- ]?stays?\b", "frame"),
    (r"\b(?:turn|switch|shut|cut)(?:s|t?ing|ed)? (?:it |itself )?(?:off|out|down)\b", "cutout"),
    (r"\bkick[- ]?stands?\b|\b(?:prop|side|bike)[- ]?stands?\b", "kickstand"),
    (r"\b(?:child|baby|kid|toddler)s?[- ]?seats?\b", "childseat"),
    (r"\b(?:training|stabiliser|stabilizer) wheels?\b|\bstabili[sz]ers?\b", "stabiliser"),
    (r"\b(?:traffic|stop|red)[- ]?lights?\b|\b(?:at|from) (?:the|a|traffic) lights?\b", "crossing"),
    (r"\bback[- ]?pedal\w*|\bpedal\w*(?: go(?:es)?| turns?| spins?)? back(?:wards?)?\b|\bcoaster\b", "backpedal"),
    (r"\bbottom[- ]brackets?\b", "bracket"),
    (r"\bbar[- ]?tape\b|\bhandlebar tape\b", "tape"),
    (r"\bhub[- ]?gears?\b|\bgear[- ]hub\b", "hubgear gear"),
    (r"\b(?:top|topping|topped) (?:it |them |the air |the tyres? )?up\b", "pump"),
    (r"\b(?:second|2nd)[- ]?hand\b", "secondhand"),
    (r"\b(?:all|the whole) (?:of )?the time\b|\bthe whole time\b|\bnon-?stop\b|\bnever stops\b", "constant"),
    (r"\bconstantly\b|\bcontinuous(?:ly)?\b|\bpermanently\b", "constant"),
    (r"\bg(?:i|a)ves? way\b", "slips"),
    (r"\b(?:when|whenever|while|as|if)(?: i| you| he| she| we)? slow(?:s|ing)?(?: it)? down\b", "brake"),
    (r"\b(?:sound|noise|squeal|grating|grinding|scraping|rasping) (?:when |while )?slowing down\b", "noise brake"),
    (r"(?<!can )\bturn(?:ing)? (?:the|my) (?:twist ?)?grip\b", "shift"),
    (r"\b(?:let|lets|letting) go\b|\breleas(?:e|es|ed|ing)\b", "release"),
    (r"\bcrack[- ]+crack\b|\bcracking (?:noise|sound)s?\b", "crackle"),
    (r"\b(?:goes|went|go) crack\b|\bcracks (?:on|when|as|under)\b", "crackle"),
    (_WHO + r"(?:came off|come off|fell|fallen|went down|went over|slid)\b|\bslid (?:out|away)\b", "crash"),
    (_WHO + r"(?:got |was |were |been )?(?:hit|knocked)\b", "crash"),
    (r"\ba (?:fall|tumble|spill|crash|smash|collision)\b|\bover the (?:handle)?bars?\b", "crash"),
    (r"\bwent down (?:hard|heavily|(?:on|in) (?:\w+ ){0,3}(?:bend|corner|ice|gravel|leaves|snow|rails?))\b", "crash"),
    (r"\bcropper\b|\bt-?boned\b|\bwiped out\b", "crash"),
    (r"\bknocked (?:me |him |her )?(?:off|over|down)\b|\b(?:hit|clipped|struck) (?:me )?by\b", "crash"),
    (
        r"\brun over\b|\bran over (?:my|the) bike\b|\b(?:car|van|bus|lorry|truck|taxi)\b.{0,20}\b(?:hit|clipped)\b",
        "crash",
    ),
    (r"\b(?:into|against) (?:a|the) (?:car|van|bus|wall|tree|post|kerb|curb|gate|lamp ?post)\b", "crash"),
)
"""Turns of speech, each with the word that says the same."""
_ONE_WORD = (
    "tyre tire",
    "wobble wobbly",
    "light lamp headlight headlamp taillight",
    "tube innertube",
    "disc disk rotor",
    "bar handlebar",
    "mech derailleur derailer",
    "sprocket cog cassette",
    "chainring chainset crankset",
    "saddle seat",
    "post seatpost",
    "mudguard fender",
    "assist support assistance",
    "motor engine",
    "display screen console",
    "crash crashed collision collide accident smashed",
    "crack fracture fractured hairline split",
    "smell stink stank reek",
    "swollen bloated swelled",
    "soaked flooded drowned flood",
    "kerb curb",
    "carrier rack",
    "dropper dropper",
    "come came",
    "fall fell fallen",
    "break broke broken",
    "blow blew blown",
    "slide slid",
    "shake shook shaken",
    "wear wore worn",
    "tear tore torn",
    "bend bent",
    "freeze froze frozen",
    "sink sank sunk",
    "spin spun",
)
"""Words that are one and the same, by the first of the line."""
_KINDRED = (
    "knock clunk clonk clack bang thud clank thump",
    "squeal squeak screech scream howl shriek noise noisy whistle sing honk",
    "creak squeak click tick crackle noise noisy groan",
    "rattle clatter buzz jingle",
    "grind crunch grate noise noisy",
    "rub scrape drag brush scratch touch zing ping grind catch swish bind",
    "ting zing ping swish whoosh",
    "slip slide sink drop slid creep",
    "fall fell drop came come jump throw threw lose",
    "soft spongy mushy squishy squashy",
    "weak power strong bite stop poor useless feeble rubbish lazy",
    "work bad worse terrible poor wrong rubbish",
    "jump skip slip hiccup jerk",
    "wobble waddle dance",
    "shift gear change",
    "mech gear shifter",
    "ring chainring crank",
    "steer headset",
    "turn rotate twist spin roll swivel",
    "loose wobble play shake slack wiggle",
    "crooked straight bent buckle warp wonky align askew",
    "stiff heavy hard tight notchy stuck",
    "flat puncture burst blew blow popp explode deflate",
    "air pressure pump inflate",
    "tyre tube",
    "bead sit",
    "bulge bump egg lump bubble blister",
    "suspension fork shock",
    "sag sink low",
    "harsh hard stiff solid",
    "constant always permanent forever",
    "sometime intermittent occasional now",
    "crash fall fell",
    "jam stuck lock block seize suck",
    "overnight morning daily week day",
    "lever handle grip",
    "wet rain damp",
    "hesitate slow late lag",
    "replace fit change new swap install",
    "adjust set tune",
    "clean wash degrease",
    "bleed bled",
    "snap broke broken break kaput knackered bust",
    "stretch worn wear",
    "pulley jockey",
    "outlet socket",
    "rattle rock loose",
    "steerer tube",
    "hook pointed sharp",
    "tighten torque nip",
    "dead blank died",
    "rust seize corrode",
    "leak weep drip seep",
    "ebike motor assist",
    "slow sluggish",
    "swollen bulge fat",
)
"""Words of the trade that riders use for much the same; a word may stand in several lines."""
_ENDINGS = ("ings", "ing", "ies", "ed", "es", "er", "ly", "s", "y", "e")
_OCCASIONS = (
    "uphill downhill hill climb rain wet morning winter road ride stand sit fast slow new old since day week month "
    "year time again front rear back left right side first second third last couple few before after today yesterday "
    "night work home way both every once down up over under keep kept"
)
_PARTS = (
    "tyre tread hose caliper tube valve sealant brake pad disc lever wheel rim spoke hub axle chain gear shifter "
    "mech sprocket chainring crank pedal bracket belt bar stem grip tape headset fork shock suspension saddle post "
    "dropper frame battery charger motor assist display ebike light lamp dynamo mudguard rack kickstand childseat "
    "trailer basket bell hinge stabiliser lockout steer bolt nut gearbox hubgear freewheel bottle"
)
_ALONE = (
    "squeal screech creak rattle click tick knock clunk clonk grind whine skip jump slip wobble spongy "
    "puncture buckle dead drag rub"
)
_SLIP = 0.83
"""A word this like another of five letters or more is that word, mistyped."""


def _cut(word: str) -> str:
    for ending in _ENDINGS:
        if word.endswith(ending) and len(word) - len(ending) >= 3:
            word = word[: -len(ending)]
            break
    return word[:-1] if len(word) > 3 and word[-1] == word[-2] else word


_SAME = {_cut(word): _cut(line.split()[0]) for line in _ONE_WORD for word in line.split()}
_SAID = tuple((re.compile(said), f" {meant} ") for said, meant in _MEANT)


def _stem(word: str) -> str:
    stem = _cut(word)
    return _SAME.get(stem, stem)


GUESSES = re.compile(
    r"\b(?:i (?:think|guess|reckon)|guess|suspects?|thought|probably|presumably|maybe|perhaps|must've|"
    r"(?:must|might|could) (?:have|need|be(?! (?:held|forced|pushed|pulled|pumped|turned|lifted)\b)))\b",
    re.IGNORECASE,
)
"""What a rider takes it for, beside what is so: it counts less where complaints are sought, and answers no question."""
OCCASIONS = frozenset(map(_stem, _OCCASIONS.split()))
"""Words that say when or where."""
PARTS = frozenset(map(_stem, _PARTS.split()))
"""Words that name a part of the bike."""
ALONE = frozenset(map(_stem, _ALONE.split()))
"""Words that tell a trouble by themselves, whatever else was said in another breath."""
_GROUPS = tuple(tuple(map(_stem, line.split())) for line in _KINDRED)


@lru_cache(maxsize=16384)
def stems(text: str) -> Words:
    """What a text says, each word once, by its stem, without those that say nothing."""
    plain = text[:400].lower().replace("\u2019", "'")
    for said, meant in _SAID:
        plain = said.sub(meant, plain)
    words = re.findall(r"[a-z]+", plain.replace("'", ""))
    return tuple(dict.fromkeys(_stem(word) for word in words if word not in _FILLER))


@lru_cache(maxsize=16384)
def kindred(stem: str) -> frozenset[int]:
    """The groups of words that mean much the same to which this one belongs, a slip of the finger allowed for."""
    return frozenset(number for number, line in enumerate(_GROUPS) if any(_same_word(stem, one) for one in line))


def _same_word(one: str, two: str) -> bool:
    """The same stem, or a slip of the finger away from it."""
    if one == two:
        return True
    return min(len(one), len(two)) >= 5 and likeness(one, two, _SLIP) >= _SLIP


def likeness(one: str, two: str, least: float) -> float:
    """How much of two words is the same, by `SequenceMatcher`; 0 where their letters alone say that it is below."""
    shared = min(sum(letter in two for letter in one), sum(letter in one for letter in two))
    if 2 * shared < least * (len(one) + len(two)):
        return 0.0
    return SequenceMatcher(None, one, two).ratio()
