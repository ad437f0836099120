"""How rules and facts are written for durable-rules, so that none of its traps can be reached.

Cast: `Coder` (facts and patterns in the engine's terms), `Message` (a fact as it is told), `Bunch` and `split` (which
rules go into one network, and which facts call for it), `definition` (a network as the engine reads it). Start reading
at `definition`.

The engine is given nothing but small whole numbers. A key and each word that a rule names has its number; a word that
no rule names can match nothing and is not sent. A reading is sent as its place among the edges that the rules name for
its key: 1, 3, 5 … on an edge, 0, 2, 4 … between two. So the engine compares as Python does, whatever is in the words
(quotes, other scripts, "2", "true"), however large or small the numbers (it cannot read exponents), and whatever the
decimal sign of the locale (it reads decimals with the C library's `atof`).

Some of its tables have a fixed size and no sound guard. Measured on 2.0.28: the 256th rule on one test of a fact is a
crash, the 512th key an endless loop, a fact that meets 65 tests at once an error, and so is a rule's 17th pattern.
`split` keeps every network within them. It makes many small ones, since a run's state in a network costs the more the
more rules are in it (0.9 ms for 660, 0.05 ms for 20), and a rule can fire only if its rarest pattern is met: a run
needs just the networks that hold such a rule.
"""

from __future__ import annotations

from bisect import bisect_left
from collections import Counter, defaultdict
from collections.abc import Hashable, Iterable, Iterator, Sequence
from typing import NamedTuple, TypeAlias

from diagnose.errors import EngineError
from diagnose.reason.chainer import Datum, Pattern, Rule

Test: TypeAlias = dict[str, object]
"""A test of one fact, as the engine reads it: `{"k": 3}`, `{"$gte": {"n": 5}}`."""

START = 0
"""Number of the key under which every network has one rule that always fires."""
STARTED = "start"
"""Name of that rule."""

Mark: TypeAlias = tuple[int, int | None]
"""What a pattern can be met by: a key with one of its words, or with a reading (None)."""

OPERATORS = {"at_least": "$gte", "above": "$gt", "below": "$lt", "up_to": "$lte"}

MOST_RULES = 20  # of 4096
MOST_KEYS = 400  # of 511
MOST_WORDS = 400  # of 511 under one key
MOST_SHARERS = 240  # of 255 rules on one test
MOST_AT_ONCE = 60  # of 64 tests that one fact may meet at once
MOST_PATTERNS = 16


class Message(NamedTuple):
    """A fact as the engine is told it: its key, and the number of its word (`v`) or the place of its reading (`n`)."""

    key: int
    name: str
    value: int

    @property
    def mark(self) -> Mark:
        """The mark of the patterns that it may meet."""
        return self.key, self.value if self.name == "v" else None


STARTER = Message(START, "v", 0)
"""The fact that fires that rule."""


class Bunch(NamedTuple):
    """Rules that share a network: their numbers, and the patterns of which a fact must meet one for any to fire."""

    numbers: list[int]
    calls: list[Pattern]


class Claim(NamedTuple):
    """Room that a pattern takes in a network: a tenant of a table that holds so many."""

    table: Hashable
    tenant: Hashable
    room: int


class Coder:
    """Words, numbers and tests in the engine's terms; one for all networks of a rule base."""

    def __init__(self, rules: Iterable[Rule]) -> None:
        """Numbers what the patterns name. `rules` are as `prepared` gives them."""
        words: defaultdict[str, dict[str, int]] = defaultdict(dict)
        edges: defaultdict[str, set[float]] = defaultdict(set)
        keys: dict[str, int] = {}
        for pattern in (pattern for rule in rules for pattern in rule.patterns):
            keys.setdefault(pattern.key, len(keys) + 1)
            edges[pattern.key].update(pattern.edges().values())
            for word in pattern.any_of:
                words[pattern.key].setdefault(word, len(words[pattern.key]))
        self._keys = keys
        self._words = dict(words)
        self._edges = {key: sorted(found) for key, found in edges.items() if found}

    def key(self, name: str) -> int:
        """The number of a key that a pattern names."""
        return self._keys[name]

    def message(self, datum: Datum) -> Message | None:
        """The fact as it is sent, or None if no pattern can match it."""
        if isinstance(datum.value, str):
            word = self._words.get(datum.key, {}).get(datum.value)
            return None if word is None else Message(self._keys[datum.key], "v", word)
        edges = self._edges.get(datum.key)
        return None if edges is None else Message(self._keys[datum.key], "n", _place(edges, datum.value))

    def marks(self, pattern: Pattern) -> list[Mark]:
        """The marks of the messages that may meet the pattern."""
        key = self._keys[pattern.key]
        return [(key, self._words[pattern.key][word]) for word in pattern.any_of] or [(key, None)]

    def tests(self, pattern: Pattern) -> list[Test]:
        """What the engine tests of a fact beside its key, all of which must hold."""
        if pattern.any_of:
            words: list[Test] = [{"v": self._words[pattern.key][word]} for word in pattern.any_of]
            return words if len(words) == 1 else [{"$or": words}]
        edges = self._edges[pattern.key]
        return [{OPERATORS[name]: {"n": _place(edges, edge)}} for name, edge in pattern.edges().items()]


def _place(edges: Sequence[float], number: float) -> int:
    """Where a number stands among the sorted edges: odd on an edge, even between two."""
    index = bisect_left(edges, number)
    return 2 * index + (index < len(edges) and edges[index] == number)


def definition(rules: Sequence[Rule], numbers: Iterable[int], coder: Coder) -> dict[str, dict[str, object]]:
    """A network of the rules of these numbers, each named by its number, without their actions."""
    network: dict[str, dict[str, object]] = {STARTED: {"all": [{slot(0): {"k": START}}]}}
    for number in numbers:
        network[str(number)] = {
            "all": [
                {slot(place): {"$and": [{"k": coder.key(pattern.key)}, *coder.tests(pattern)]}}
                for place, pattern in enumerate(rules[number].patterns)
            ]
        }
    return network


def slot(place: int) -> str:
    """The name under which the engine hands over the fact that met a rule's pattern at this place."""
    return f"m{place}"


def split(rules: Sequence[Rule]) -> list[Bunch]:
    """The rules in networks that the engine can hold; those that the same fact calls for stand together.

    Raises:
        EngineError: a rule is too large for any network.
    """
    use = Counter(key for rule in rules for key in {pattern.key for pattern in rule.patterns})
    rarest = [min(rule.patterns, key=lambda pattern: (use[pattern.key], pattern.key)) for rule in rules]
    bunches: list[Bunch] = []
    tables: defaultdict[Hashable, set[Hashable]] = defaultdict(set)
    for number in sorted(range(len(rules)), key=lambda number: (rarest[number].key, rarest[number].any_of)):
        rule = rules[number]
        claims = list(_claims(number, rule))
        if not bunches or not _fits(claims, tables):
            bunches.append(Bunch([], []))
            tables.clear()
            if not _fits(claims, tables):
                raise EngineError("rule-too-large", f"Rule {rule.id!r} has more than durable-rules can hold.")
        bunches[-1].numbers.append(number)
        bunches[-1].calls.append(rarest[number])
        for claim in claims:
            tables[claim.table].add(claim.tenant)
    return bunches


def _fits(claims: Iterable[Claim], tables: dict[Hashable, set[Hashable]]) -> bool:
    wanted: defaultdict[Hashable, set[Hashable]] = defaultdict(set)
    room: dict[Hashable, int] = {}
    for claim in claims:
        wanted[claim.table].add(claim.tenant)
        room[claim.table] = claim.room
    return all(len(tenants | tables.get(table, set())) <= room[table] for table, tenants in wanted.items())


def _claims(number: int, rule: Rule) -> Iterator[Claim]:
    yield Claim("rules", number, MOST_RULES)
    for pattern in rule.patterns:
        yield Claim(("patterns", number), pattern.key, MOST_PATTERNS)
        yield Claim("keys", pattern.key, MOST_KEYS)
        yield from _word_claims(number, pattern) if pattern.any_of else _range_claims(number, pattern)


def _word_claims(number: int, pattern: Pattern) -> Iterator[Claim]:
    """A choice of words costs the engine a test of its own for every rule, one word is a test that rules share."""
    for word in pattern.any_of:
        yield Claim(("words", pattern.key), word, MOST_WORDS)
        choice = len(pattern.any_of) > 1
        yield Claim(("word", pattern.key, word, choice), number, MOST_AT_ONCE if choice else MOST_SHARERS)


def _range_claims(number: int, pattern: Pattern) -> Iterator[Claim]:
    """Rules share a range, and a range shares the test of its first edge with others that begin with it."""
    edges = tuple(pattern.edges().items())
    for length in range(1, len(edges) + 1):
        yield Claim(("ranges", pattern.key), edges[:length], MOST_AT_ONCE)
    yield Claim(("range", pattern.key, edges), number, MOST_SHARERS)
