"""What the rule book says, as frozen objects. Every object knows its place (`where`).

Cast: `Fact`, `Complaint`, `Finding` with its `Check`s, `Cause` with its ladder of `Rung`s, `Fix`, `Limit`, `Deduction`,
and the `Book` that holds them by id. Likelihoods are kept as `Row`s: one number for each value of the finding, summing
to 1, beside the words as they were written. All minutes are minutes, money is in the book's currency, chances are
fractions.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection
from dataclasses import dataclass, field
from functools import cached_property
from math import prod
from typing import Any, NamedTuple

from diagnose.errors import Location

Condition = dict[str, tuple[str, ...]]
"""Facts and the values of which one must hold; all facts must hold. Empty: always."""


class Fact(NamedTuple):
    """A fact about the bike: a question with a closed list of values; `several` may hold at once.

    `opens`: a value that says that a teardown is open already when the bike arrives. `off`: a value that says that
    something is not on the bike, to the finding whose first value tells that it was put back. `applies`: asked only of
    bikes that are known to be so; `not_of`: never of bikes known to be so. `means`: a value that says another fact too.
    `how`: how to tell, for whoever does not know the words. `told_by`: words that tell a value where they are typed
    for a complaint; also for the bike, where it is `on_label`. `not_told_by`: words beside which it is asked all the
    same. `of_end`: a value that is of one end wherever it stands on a label.
    """

    id: str
    name: str
    ask: str
    how: str
    values: dict[str, str]
    several: bool
    opens: dict[str, str]
    off: dict[str, str]
    applies: Condition
    not_of: Condition
    means: dict[str, Condition]
    told_by: dict[str, tuple[str, ...]]
    on_label: bool
    not_told_by: tuple[str, ...]
    of_end: dict[str, str]
    where: Location


class Word(NamedTuple):
    """Something deductions may conclude, with its closed list of values."""

    id: str
    name: str
    values: dict[str, str]
    where: Location


class Teardown(NamedTuple):
    """What must be opened to look or work: minutes to open and to close, and what must be open before it."""

    id: str
    name: str
    open: float
    close: float
    inside: str | None
    where: Location


class Receiver(NamedTuple):
    """A class of hand-off: to whom, and what it weighs in minutes."""

    id: str
    to: str
    minutes: float
    where: Location


class Part(NamedTuple):
    """A part with what one piece costs, low and high."""

    id: str
    name: str
    low: float
    high: float
    where: Location


class Caution(NamedTuple):
    """What to beware of; `applies`: said only of bikes that may be so."""

    text: str
    applies: Condition


class LimitCase(NamedTuple):
    """Other numbers of a limit under a condition."""

    when: Condition
    low: float | None
    high: float | None
    basis: str
    source: str


class Limit(NamedTuple):
    """A number or range with unit and basis. `kind` is target, maximum or minimum. First case that holds wins.

    A bike has it `instead_of` another limit; empty: it stands by itself.
    """

    id: str
    quantity: str
    unit: str
    kind: str
    low: float | None
    high: float | None
    basis: str
    source: str
    note: str
    applies: Condition
    instead_of: str
    cases: tuple[LimitCase, ...]
    where: Location
    table: str = ""
    """A fact that is not asked for these numbers alone: while it is unknown, those of each of its values stand."""


class Edge(NamedTuple):
    """One end of a band: a number, or the low or high end of a limit."""

    number: float | None
    limit: str | None = None
    end: str | None = None


class Band(NamedTuple):
    """The readings that mean `value`: from `start` (above it if `start_open`) to `stop` (below it if `stop_open`)."""

    value: str
    start: Edge | None
    start_open: bool
    stop: Edge | None
    stop_open: bool
    where: Location


class Ask(NamedTuple):
    """A reading that a sum is asked for at the stand; an empty text stands for the sum's own words."""

    text: str
    where: Location


class Supply(NamedTuple):
    """What a sum takes from the book: as written, an end of a limit, or what was read at a check.

    Attributes:
        typed: as it would be typed; empty where it is taken from somewhere.
        source: a limit or a measuring check; empty where it is written.
        part: `low` or `high` of the limit, or the reading's key at the check; empty: what the check came to.
        where: its place.
    """

    typed: str
    source: str
    part: str
    where: Location


class Working(NamedTuple):
    """A sum of the bench with where its givens come from.

    Attributes:
        sum: name of the sum.
        asks: what is asked for, by the sum's key, in the order of asking.
        supplies: what counts where nothing is asked, or nothing was typed, by the sum's key.
        where: its place.
    """

    sum: str
    asks: dict[str, Ask]
    supplies: dict[str, Supply]
    where: Location


class Measure(NamedTuple):
    """A reading: its unit, the accepted range, and the bands that cover it.

    Attributes:
        unit: of the reading and of the edges of the bands.
        low: lowest reading.
        high: highest reading.
        bands: which reading is which value.
        working: the sum that the reading comes out of; None where it is read off as it is.
        result: which figure of the sum is the reading; empty: its value.
        right: the values at which nothing is amiss; empty: the likeliest one `otherwise`.
    """

    unit: str
    low: float
    high: float
    bands: tuple[Band, ...]
    working: Working | None = None
    result: str = ""
    right: tuple[str, ...] = ()

    @property
    def questions(self) -> tuple[str, ...]:
        """What the book itself asks for a sum."""
        return tuple(ask.text for ask in self.working.asks.values() if ask.text) if self.working else ()


class Check(NamedTuple):
    """One way to look at one finding.

    `only_if`: not made until these findings were told, and so; `not_if`: not made where one of these was told so.
    `mounted`: findings that tell whether what it needs on the bike was put back, for a bike on which it is off.
    `ridden`: it is made by riding. `told_by`: a rider's words that tell an answer where they are typed for a complaint;
    also for the bike, where it is `on_label`.
    """

    id: str
    finding: str
    ask: str
    by: str
    minutes: float
    tools: tuple[str, ...]
    trust: dict[str, float]
    teardown: str | None
    needs: tuple[str, ...]
    only_if: Condition
    not_if: Condition
    mounted: tuple[str, ...]
    applies: Condition
    measure: Measure | None
    how: str
    limits: tuple[str, ...]
    cautions: tuple[str, ...]
    danger: bool
    ridden: bool
    skill: str
    told_by: dict[str, tuple[str, ...]]
    on_label: bool
    where: Location


class Row(NamedTuple):
    """How often each value is seen (sums to 1).

    `written` keeps the author's words, `weight` how many cases they count as.
    """

    chances: tuple[float, ...]
    written: dict[str, str]
    weight: float
    where: Location


class Finding(NamedTuple):
    """Something that is so or not so: a closed list of values, what is seen otherwise, and the ways to look.

    `asked_for`: the complaints for which it is worth asking; empty: all. What is known of it counts for every one.
    `lasting`: no fix changes it (what was done before, how it began). `on_demand`: asked only where a deduction demands
    it, or another check or a fix needs it: a question that makes no sense before another has its answer. `mounted`: as
    for a check, for all its checks.
    """

    id: str
    name: str
    values: dict[str, str]
    otherwise: Row
    basis: str
    applies: Condition
    asked_for: tuple[str, ...]
    lasting: bool
    on_demand: bool
    mounted: tuple[str, ...]
    checks: tuple[Check, ...]
    where: Location


class Step(NamedTuple):
    """One action of a fix, with the limits and cautions that belong to it, and the sums that its figures come from.

    `applies`: told only of bikes that may be so; `only_if`: left out where a finding was told otherwise.
    """

    text: str
    limits: tuple[str, ...]
    cautions: tuple[str, ...]
    where: Location
    applies: Condition
    workings: tuple[Working, ...] = ()
    only_if: Condition = {}  # noqa: RUF012 - never written to


class PartCase(NamedTuple):
    """Another count of a part under a condition."""

    when: Condition
    number: int


class Fix(NamedTuple):
    """Ordered steps. `home`: the cause whose file it stands in, `picture` a line picture, `only_if` as for a check.

    `includes`: fixes whose work is done with it. `part_cases`: where a part's count is another one for some bikes, the
    first case that holds wins (`conditions.parts_for`).
    """

    id: str
    name: str
    home: str
    skill: str
    low: float
    high: float
    tools: tuple[str, ...]
    parts: dict[str, int]
    teardown: str | None
    steps: tuple[Step, ...]
    works_if: str
    if_not: str
    cautions: tuple[str, ...]
    needs: tuple[str, ...]
    only_if: Condition
    picture: str | None
    after: tuple[str, ...]
    includes: tuple[str, ...]
    disturbs: tuple[str, ...]
    badly_done: dict[str, float]
    where: Location
    part_cases: dict[str, tuple[PartCase, ...]] = {}  # noqa: RUF012 - never written to


class Rung(NamedTuple):
    """A fix as a rung of a cause's ladder.

    `cured`: the fraction of bikes with the cause that are well after it or any rung before.
    """

    fix: str
    cured: float
    written: str
    own: bool
    where: Location


class HandOff(NamedTuple):
    """Stop here and give it to somebody else: to whom (`receiver`), how urgent, why, and when (`when`)."""

    receiver: str
    urgency: str
    reason: str
    when: Condition
    where: Location


class Share(NamedTuple):
    """How many of 100 bikes with a complaint; `weight` is how many cases the figure counts as."""

    of_100: float
    written: str
    weight: float
    where: Location


class Cause(NamedTuple):
    """What can be wrong: how common, what it shows, how it is put right, how dangerous, when to hand off."""

    id: str
    name: str
    in_short: str
    applies: Condition
    shares: dict[str, Share]
    basis: str
    shows: dict[str, Row]
    danger: str
    danger_because: str
    normal: bool
    """Nothing is wrong with the bike: it is shown and explained, and nothing is put right."""
    ladder: tuple[Rung, ...]
    hand_off_when: tuple[HandOff, ...]
    hand_off: HandOff | None
    where: Location


class RepeatTest(NamedTuple):
    """Shows the fault now and proves the cure later."""

    id: str
    text: str
    minutes: float
    repeat: str
    limits: tuple[str, ...]
    cautions: tuple[str, ...]
    where: Location


class Complaint(NamedTuple):
    """What the rider reports. `something_else` and `danger_if_unknown` are fractions."""

    id: str
    name: str
    rider_says: tuple[str, ...]
    under: tuple[str, ...]
    """The parts of the bike that it is looked for under, in words that are shown."""
    applies: Condition
    something_else: float
    danger_if_unknown: float
    repeat_test: RepeatTest
    basis: str
    where: Location
    added: dict[str, tuple[str, ...]] = {}  # noqa: RUF012 - never written to
    """Those of `rider_says` that own folders add to it, by the folder's id."""
    never_missed: tuple[str, ...] = ()
    """A few words each: where a rider says them all, this complaint is among the first that are offered."""
    stands_back: bool = False
    """Whether a trouble that is told beside it is offered before it: "just a service, and the brake is odd"."""


class When(NamedTuple):
    """One condition of a deduction.

    `key` is a fact, finding, conclusion, `complaint`, `fix-failed`, or a measuring check.
    """

    key: str
    any_of: tuple[str, ...]
    at_least: float | None
    above: float | None
    below: float | None
    up_to: float | None
    where: Location


class Extra(NamedTuple):
    """A fix that belongs to the bike whatever the complaint turns out to be.

    `level` is must, must first (before checks too), should or can wait.
    """

    fix: str
    level: str


class Deduction(NamedTuple):
    """A when/then rule over facts, with what it concludes.

    `demand`: checks that come before anything else; so many of them as `first` says before those that others demand, in
    this order. `before_riding`: checks that come last, and without which the bike is not cleared to be ridden.
    `ask`: facts of the bike to ask for now; `ask_last`: those on which only what comes last hangs.
    """

    id: str
    when: tuple[When, ...]
    conclude: dict[str, str]
    rule_out: tuple[str, ...]
    rule_in: tuple[str, ...]
    likelier: dict[str, float]
    danger: str | None
    cautions: tuple[str, ...]
    hand_off: HandOff | None
    demand: tuple[str, ...]
    first: int
    before_riding: tuple[str, ...]
    ask: tuple[str, ...]
    ask_last: tuple[str, ...]
    also: tuple[Extra, ...]
    because: str
    where: Location


class Constants(NamedTuple):
    """The book's own numbers.

    Chances and thresholds are fractions, `rate` is money a minute, `asking` the minutes that any question costs on top
    of its own.
    """

    id: str
    title: str
    currency: str
    rate: float
    hand_off_minutes: float
    stop_threshold: float
    care_threshold: float
    trust: dict[str, float]
    cannot_tell: dict[str, float]
    already_done_trust: float
    shared_cause: float
    rule_in: float
    asking: float


class Volume(NamedTuple):
    """One folder of rules: the book itself, or an own folder beside it that `adds_to` the book.

    `folder` is where it lies, `fingerprint` that of its files.
    """

    id: str
    title: str
    folder: str
    fingerprint: str
    adds_to: str


@dataclass(frozen=True)
class Book:
    """Everything the rule book says, by id, with the fingerprint of its text; look-ups are made when first needed.

    The first of `volumes` is the book itself, the others are the own folders beside it. Their ids are `folder:id`, but
    for what they replace: that keeps its id, and `replaced` names the folder that it is of now.
    """

    fingerprint: str
    constants: Constants
    facts: dict[str, Fact]
    words: dict[str, Word]
    teardowns: dict[str, Teardown]
    receivers: dict[str, Receiver]
    tools: dict[str, str]
    parts: dict[str, Part]
    cautions: dict[str, str]
    limits: dict[str, Limit]
    complaints: dict[str, Complaint]
    findings: dict[str, Finding]
    causes: dict[str, Cause]
    fixes: dict[str, Fix]
    deductions: dict[str, Deduction]
    formerly: dict[str, str] = field(default_factory=dict)
    jargon: dict[str, str] = field(default_factory=dict)
    cautions_apply: dict[str, Condition] = field(default_factory=dict)
    """Caution to the bikes that it is for; one that does not stand here is for all."""
    volumes: tuple[Volume, ...] = ()
    replaced: dict[str, str] = field(default_factory=dict)

    def volume_of(self, name: str) -> Volume:
        """The folder that a thing comes from, by its id."""
        own = self.replaced.get(name, name.rpartition(":")[0])
        return next((volume for volume in self.volumes[1:] if volume.id == own), self.volumes[0])

    @cached_property
    def checks(self) -> dict[str, Check]:
        """Every check of every finding."""
        return {check.id: check for finding in self.findings.values() for check in finding.checks}

    @cached_property
    def causes_of(self) -> dict[str, tuple[Cause, ...]]:
        """Complaint to its causes, by id."""
        found: dict[str, list[Cause]] = {complaint: [] for complaint in self.complaints}
        for _, cause in sorted(self.causes.items()):
            for complaint in cause.shares:
                found.setdefault(complaint, []).append(cause)
        return {name: tuple(causes) for name, causes in found.items()}

    @cached_property
    def cured(self) -> dict[tuple[str, str], float]:
        """(cause, fix) to the fraction of bikes with the cause that are well after the fix or any rung before.

        A fix that is no rung of the cause and includes one, does what that one does; not for what it brings about
        when it is badly done.
        """
        rungs = {(cause.id, rung.fix): rung.cured for cause in self.causes.values() for rung in cause.ladder}
        found = dict(rungs)
        for whole, parts in self.included.items():
            for (cause, fix), cured in rungs.items():
                if fix in parts and (cause, whole) not in rungs and cause not in self.fixes[whole].badly_done:
                    found[cause, whole] = max(found.get((cause, whole), 0.0), cured)
        return found

    @cached_property
    def included(self) -> dict[str, frozenset[str]]:
        """A fix to all whose work is done with it; those that include none are left out."""
        found: dict[str, frozenset[str]] = {}
        for name, fix in self.fixes.items():
            parts: set[str] = set()
            waiting = list(fix.includes)
            while waiting:
                one = waiting.pop()
                if one not in parts:
                    parts.add(one)
                    waiting.extend(self.fixes[one].includes if one in self.fixes else ())
            if parts:
                found[name] = frozenset(parts)
        return found

    def with_included(self, fixes: Collection[str]) -> frozenset[str]:
        """These fixes, and those whose work was done with them."""
        return frozenset(fixes).union(*(self.included.get(fix, ()) for fix in fixes))

    @cached_property
    def otherwise(self) -> dict[str, tuple[float, ...]]:
        """Finding to the chances of its values where no cause speaks to it."""
        return {name: finding.otherwise.chances for name, finding in self.findings.items()}

    @cached_property
    def values(self) -> dict[str, tuple[str, ...]]:
        """Finding to its values."""
        return {name: tuple(finding.values) for name, finding in self.findings.items()}

    @cached_property
    def stops(self) -> frozenset[str]:
        """The causes with which nobody may ride."""
        return frozenset(name for name, cause in self.causes.items() if cause.danger == "stop")

    @cached_property
    def cares(self) -> frozenset[str]:
        """The causes with which nobody may ride, or with care only."""
        return frozenset(name for name, cause in self.causes.items() if cause.danger in ("stop", "care"))

    @cached_property
    def bearing(self) -> dict[str, frozenset[str]]:
        """Fact to the causes that it can move: by what they apply to, and by deductions that stand on it."""
        found: dict[str, set[str]] = {fact: set() for fact in self.facts}
        for name, cause in self.causes.items():
            for fact in cause.applies:
                found[fact].add(name)
        for name, key in self.moving:
            if key in found:
                found[key].add(name)
        return {fact: frozenset(names) for fact, names in found.items()}

    @cached_property
    def moving(self) -> dict[tuple[str, str], tuple[Deduction, ...]]:
        """(cause, fact) to the deductions that stand on the fact and move the cause."""
        found: dict[tuple[str, str], list[Deduction]] = {}
        for deduction in self.deductions.values():
            for name in {*deduction.likelier, *deduction.rule_out, *deduction.rule_in}:
                for when in deduction.when:
                    found.setdefault((name, when.key), []).append(deduction)
        return {key: tuple(deductions) for key, deductions in found.items()}

    @cached_property
    def raising(self) -> dict[tuple[str, str], float]:
        """(cause, fact) to the most by which deductions that stand on the fact may multiply the cause, 1 at least."""
        return {
            (name, fact): prod(
                max(1.0, one.likelier.get(name, 1.0)) * (self.constants.rule_in if name in one.rule_in else 1.0)
                for one in deductions
            )
            for (name, fact), deductions in self.moving.items()
        }

    @cached_property
    def kept(self) -> defaultdict[str, dict[Any, Any]]:
        """What reasoning has worked out from this book alone, by kind, and keeps for the next job."""
        return defaultdict(dict)

    @cached_property
    def deduction_keys(self) -> tuple[tuple[int, frozenset[str]], ...]:
        """The keys that each deduction looks at, without repetition, each with its bits in `key_bits`."""
        keys = {frozenset(when.key for when in deduction.when) for deduction in self.deductions.values()}
        return tuple((sum(self.key_bits[key] for key in one), one) for one in sorted(keys, key=sorted))

    @cached_property
    def key_bits(self) -> dict[str, int]:
        """A bit for each key that a deduction looks at."""
        keys = sorted({when.key for deduction in self.deductions.values() for when in deduction.when})
        return {key: 1 << place for place, key in enumerate(keys)}

    @cached_property
    def one_answer_of(self) -> dict[str, tuple[tuple[Deduction, When], ...]]:
        """Cause to the deductions that rule it out by one answer."""
        found: dict[str, list[tuple[Deduction, When]]] = {}
        for deduction, answer in self.one_answer:
            for cause in deduction.rule_out:
                found.setdefault(cause, []).append((deduction, answer))
        return {cause: tuple(pairs) for cause, pairs in found.items()}

    @cached_property
    def one_answer(self) -> tuple[tuple[Deduction, When], ...]:
        """Deductions that rule causes out by one answer (the `When`), with nothing but profile facts beside it."""
        found = []
        for deduction in self.deductions.values():
            answers = [when for when in deduction.when if when.key in self.findings]
            others = [when for when in deduction.when if when.key not in self.findings]
            if deduction.rule_out and len(answers) == 1 and all(when.key in self.facts for when in others):
                found.append((deduction, answers[0]))
        return tuple(found)

    @cached_property
    def in_rows(self) -> frozenset[str]:
        """Those deductions, by id: the rows of the causes hold what they rule out."""
        return frozenset(deduction.id for deduction, _ in self.one_answer)
