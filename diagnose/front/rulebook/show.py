"""`diagnose rules show`: a thing of the book in plain language, with all that hangs on it and where it stands.

Cast: `Teller` writes one thing: what it is, what it says of others, then who speaks of it, then its worked cases;
`LISTS` are the words for which everything of a kind is listed.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path

import click

from diagnose.book.model import Book, Cause, Check, Complaint, Finding, Fix, Row
from diagnose.book.pictures import PICTURES
from diagnose.book.place import shipped_cases
from diagnose.book.shape import in_plural
from diagnose.book.ties import Thing, Tie, find, things_of, ties_to
from diagnose.casework.complained import match_complaints
from diagnose.casework.mentions import mentions
from diagnose.casework.words import match_causes, match_findings, match_fixes
from diagnose.errors import BookError
from diagnose.front.options import READ_LATER, chosen_book, rules_option
from diagnose.front.paper import Paper
from diagnose.front.rulebook import phrases
from diagnose.front.rulebook.lookup import look_up, own_hint
from diagnose.front.rulebook.phrases import named, place

MOST_ALIKE = 4
"""Things of a kind that a few words bring up."""
MOST_CASES = 5
"""Worked cases that are listed."""
KINDS = {
    "cause": ("cause", "causes"),
    "complaint": ("complaint", "complaints"),
    "finding": ("finding", "findings"),
    "check": ("check", "checks"),
    "fix": ("fix", "fixes"),
    "limit": ("limit", "limits"),
    "deduction": ("deduction", "deductions"),
    "fact": ("fact of the bike", "facts of the bike"),
    "conclusion": ("conclusion", "conclusions"),
    "teardown": ("teardown", "teardowns"),
    "part": ("part", "parts"),
    "hand-off": ("class of hand-off", "classes of hand-off"),
    "tool": ("tool", "tools"),
    "caution": ("caution", "cautions"),
}
"""Kind to what it is called, one and several, in the order in which ties are told."""

LISTS = {in_plural(kind): kind for kind in KINDS}
"""What lists everything of a kind, to the kind."""


@click.command()
@click.argument("name", metavar="[ID]", required=False)
@rules_option
@click.option("--cases", type=READ_LATER, help="Another folder of worked cases.")
@click.option("--plain", is_flag=True, help="ASCII only.")
def command(name: str | None, rules: tuple[Path, ...], cases: Path | None, plain: bool) -> int:
    """Tell what the rule book says of ID: a cause, check, finding, limit, fix, complaint, deduction or what they use.

    The name on the screen does as well as the id, and a few words bring up what is like them. Every tie is told with
    its file and line. Without ID: what kinds of things there are; `complaints`, `facts`, `tools` and so on list all of
    a kind. A thing of an own folder: say which folder with --rules.

    Example: diagnose rules show preload-lost
    """
    book = chosen_book(rules)
    paper = Paper(plain=True if plain else None)
    if name is None:
        _tell_kinds(book, paper)
        return 0
    if name in LISTS and not any(thing.id == name for thing in things_of(book)):
        _tell_all(book, paper, LISTS[name])
        return 0
    try:
        things = look_up(book, name)
    except BookError as why:
        slip = why.hint.startswith("Did you mean") and len(name.split()) == 1
        alike = [] if slip else _by_words(book, name)
        if not alike:
            raise
        paper.say(f'Nothing is called "{name}". By its words it may be one of these:')
        for kind, one in alike:
            paper.item("-", f"{one}: {KINDS[kind][0]}, {_in_a_line(book, _thing(book, kind, one))}")
        if hint := own_hint(book):
            paper.say(hint)
        return 1
    teller = Teller(book, paper, cases or shipped_cases())
    for number, thing in enumerate(things):
        if number:
            paper.say()
            paper.rule()
        teller.tell(thing)
    return 0


def _by_words(book: Book, typed: str) -> list[tuple[str, str]]:
    """Kind and id of the things that fit the words, each kind's best few."""
    found: dict[str, Sequence[tuple[Cause | Complaint | Finding | Fix, float]]] = {
        "complaint": match_complaints(book, typed, most=MOST_ALIKE),
        "cause": match_causes(book, typed, most=MOST_ALIKE),
        "finding": match_findings(book, typed, most=MOST_ALIKE),
        "fix": match_fixes(book, typed, most=MOST_ALIKE),
    }
    return [(kind, one.id) for kind, ones in found.items() for one, _ in ones]


def _thing(book: Book, kind: str, name: str) -> Thing:
    return next(thing for thing in find(book, name) if thing.kind == kind)


def _tell_kinds(book: Book, paper: Paper) -> None:
    counts = Counter(thing.kind for thing in things_of(book))
    paper.say(", ".join(volume.title for volume in book.volumes), style="bold")
    for word, kind in LISTS.items():
        one, several = KINDS[kind]
        called = one if counts[kind] == 1 else several
        paper.item("-", f"{counts[kind]} {called}" + ("" if word == several else f" ({word})"))
    paper.say("`diagnose rules show complaints` lists all of a kind, `diagnose rules show ID` tells of one.")


def _tell_all(book: Book, paper: Paper, kind: str) -> None:
    """Everything of a kind by its id: what is written in rule files, and what the screen shows."""
    for thing in sorted(things_of(book), key=lambda thing: thing.id):
        if thing.kind == kind:
            paper.item("-", f"{thing.id}: {_in_a_line(book, thing)}")


def _in_a_line(book: Book, thing: Thing) -> str:
    if thing.kind == "fact":
        return ", ".join(book.facts[thing.id].values)
    if thing.kind == "limit":
        return phrases.figure(book.limits[thing.id])
    if thing.kind == "finding":
        return f"{thing.name}: {', '.join(book.findings[thing.id].values)}"
    return phrases.filled(book, thing.name)


class Teller:
    """Writes things of one book."""

    def __init__(self, book: Book, paper: Paper, cases: Path | None) -> None:
        self.book = book
        self.paper = paper
        self.cases = cases
        self.ties = ties_to(book)

    def tell(self, thing: Thing) -> None:
        """Everything about one thing."""
        one, _ = KINDS[thing.kind]
        self.paper.say(phrases.filled(self.book, thing.name), style="bold")
        self.paper.say(f"{one[:1].upper()}{one[1:]} {thing.id}")
        if thing.where:
            self.paper.say(place(thing.where))
        volume = self.book.volume_of(thing.id)
        instead = f" It takes the place of one of the book {volume.adds_to}."
        replaced = instead if thing.id in self.book.replaced else ""
        self.paper.say(f"From: {phrases.title(volume)}.{replaced}")
        own: dict[str, Callable[[str], None]] = {
            "cause": self._cause,
            "complaint": self._complaint,
            "finding": self._finding,
            "check": self._check,
            "fix": self._fix,
            "limit": self._limit,
            "deduction": self._deduction,
            "fact": self._fact,
            "conclusion": self._conclusion,
            "teardown": self._teardown,
            "part": self._part,
            "hand-off": self._receiver,
        }
        if thing.kind in own:
            own[thing.kind](thing.id)
        self._ties(thing)
        self._cases(thing)

    # --- kinds -----------------------------------------------------------------------------------------------------

    def _cause(self, name: str) -> None:
        book, cause = self.book, self.book.causes[name]
        self.paper.say(cause.in_short)
        self._sentence(phrases.only_for(book, cause.applies))
        self._sentence(" ".join(filter(None, (phrases.DANGER[cause.danger], cause.danger_because))))
        if cause.normal:
            self.paper.say(phrases.NORMAL)
        self._list(
            "How often it is behind a complaint",
            [f"{named(book.complaints[key])}: {share.written}" for key, share in cause.shares.items()],
        )
        self.paper.head("What it shows, and beside it what bikes show whose cause does not speak to it")
        for finding, row in cause.shows.items():
            self._row(book.findings[finding], row)
        if cause.ladder:
            self.paper.head("How it is put right; the figures count the bikes well after it or anything before it")
        for rung in cause.ladder:
            fix = book.fixes[rung.fix]
            home = "" if rung.own else f"; told in {place(fix.where)}"
            self.paper.item("-", f"{named(fix)}: {rung.written}; {phrases.minutes(fix.low, fix.high)}{home}")
        handed = [phrases.hand_off(book, one) for one in cause.hand_off_when]
        handed += [phrases.hand_off(book, cause.hand_off)] if cause.hand_off else []
        self._list("When it is handed off", handed)

    def _row(self, finding: Finding, row: Row) -> None:
        self.paper.item("-", named(finding))
        chances = zip(finding.values.items(), row.chances, finding.otherwise.chances, strict=True)
        for (value, text), here, otherwise in chances:
            told = phrases.often(row.written[value], here) if value in row.written else phrases.of_100(here)
            self.paper.say(f"{text}: {told} (beside {100 * otherwise:.0f})", indent=5, hang=2)

    def _complaint(self, name: str) -> None:
        book, complaint = self.book, self.book.complaints[name]
        self._sentence(phrases.only_for(book, complaint.applies))
        whose = {said: own for own, ones in complaint.added.items() for said in ones}
        titles = {one.id: one.title or one.id for one in book.volumes}
        told = [f"{said} ({titles[whose[said]]})" if said in whose else said for said in complaint.rider_says]
        self._list("In the rider's words", told)
        test = complaint.repeat_test
        self.paper.head(f"The test that shows it and proves the cure, {phrases.minutes(test.minutes)}")
        self.paper.say(phrases.filled(book, test.text) + (f" ({test.repeat})" if test.repeat else ""))
        self._figures(test.limits, test.cautions)
        unknown = phrases.of_100(complaint.something_else)
        danger = phrases.of_100(complaint.danger_if_unknown)
        causes = sorted(book.causes_of[name], key=lambda cause: -cause.shares[name].of_100)
        self.paper.head("Causes, of 100 such bikes")
        for cause in causes:
            share = cause.shares[name]
            self.paper.item("-", f"{named(cause)}: {share.written}. {place(cause.where)}")
        self.paper.item("-", f"not in the book: {unknown}; of those, {danger} must not be ridden")
        self._list("Whatever the cause, such a bike is never better than", self._held(name))

    def _held(self, complaint: str) -> list[str]:
        """Verdicts that hang on the complaint alone."""
        return [
            f"{phrases.DANGER[one.danger]} {one.because} ({one.id})"
            for one in self.book.deductions.values()
            if one.danger and [when.key for when in one.when] == ["complaint"] and complaint in one.when[0].any_of
        ]

    def _finding(self, name: str) -> None:
        book, finding = self.book, self.book.findings[name]
        self._sentence(phrases.only_for(book, finding.applies))
        self._sentence("No fix changes it: it is never asked again." if finding.lasting else "")
        self._sentence("It is asked only where a deduction demands it." if finding.on_demand else "")
        self.paper.head("What may be seen, and how often where no cause speaks to it")
        for (value, text), chance in zip(finding.values.items(), finding.otherwise.chances, strict=True):
            self.paper.item("-", f"{text} ({value}): {phrases.of_100(chance)}")
        self.paper.head("Ways to look")
        for check in finding.checks:
            self.paper.item("-", f'"{phrases.filled(book, check.ask)}" ({check.id})')
            self.paper.say(f"{phrases.how_to_look(book, check)}. {place(check.where)}", indent=3)

    def _check(self, name: str) -> None:
        book, check = self.book, self.book.checks[name]
        finding = book.findings[check.finding]
        self._sentence(f"Looks at: {named(finding)}.")
        self._sentence(f"Takes: {phrases.how_to_look(book, check)}.")
        self._sentence(phrases.only_for(book, {**finding.applies, **check.applies}))
        self._sentence(self._trust(check))
        self._list("Needs first", [self._need(one) for one in check.needs])
        self.paper.head("Answers, and their short names in files")
        for value, text in finding.values.items():
            means = f": {phrases.readings(book, check.measure, value)}" if check.measure else ""
            self.paper.item("-", f"{text} ({value}){means}")
        self._heard(check.told_by, finding.values)
        if check.on_label:
            self._sentence("Heard on the bike's label too.")
        if check.measure and check.measure.working:
            self._list(f"Reckoned by `diagnose bench {check.measure.working.sum}`", phrases.made_of(book, check))
        if check.how:
            self.paper.head("How")
            self.paper.say(phrases.filled(book, check.how))
        self._figures(check.limits, check.cautions)

    def _trust(self, check: Check) -> str:
        trust = {**self.book.constants.trust, **check.trust}
        roles = ("rider", "mechanic") if check.by == "rider" else ("mechanic",)
        told = " and ".join(f"a {role}'s answer in {phrases.of_100(trust[role])}" for role in roles)
        return f"Trusted: {told}."

    def _fix(self, name: str) -> None:
        book, fix = self.book, self.book.fixes[name]
        self._sentence(f"Told with the cause {named(book.causes[fix.home])}.")
        taken = [phrases.minutes(fix.low, fix.high), phrases.SKILL[fix.skill]]
        taken += [f"with {book.teardowns[fix.teardown].name}"] if fix.teardown else []
        self._sentence(f"Takes: {'; '.join(taken)}.")
        self._list("Tools", [book.tools[tool] for tool in fix.tools])
        self._list("Parts", [self._taken(fix, part) for part in fix.parts])
        self._list("Needs first", [self._need(one) for one in fix.needs])
        self._list("Comes after, where both are to be done", [named(book.fixes[one]) for one in fix.after])
        self._list("Does the work of these too", [named(book.fixes[one]) for one in fix.includes])
        self.paper.head("Steps")
        for number, step in enumerate(fix.steps, 1):
            below = self.paper.numbered(number, phrases.filled(book, step.text))
            self._figures(step.limits, step.cautions, indent=below)
        self._figures((), fix.cautions)
        self._list("Line picture on the printed sheet", [PICTURES[fix.picture]] if fix.picture else [])
        self._list("Worked if", [phrases.filled(book, fix.works_if)])
        self._list("If not", [phrases.filled(book, fix.if_not)])
        self._list("Looked at again afterwards", [named(book.findings[one]) for one in fix.disturbs])
        self._badly_done(fix)

    def _badly_done(self, fix: Fix) -> None:
        told = [f"{named(self.book.causes[cause])}: {times:g} times" for cause, times in fix.badly_done.items()]
        self._list("Makes likelier, when somebody did it before the bike came", told)

    def _need(self, name: str) -> str:
        if name in self.book.checks:
            return f'"{phrases.filled(self.book, self.book.checks[name].ask)}" ({name})'
        return named(self.book.fixes[name])

    def _taken(self, fix: Fix, part: str) -> str:
        """How many of a part a fix takes, and at which bikes another number."""
        cases = [
            f"{case.number:g} if {phrases.condition(self.book, case.when)}" for case in fix.part_cases.get(part, ())
        ]
        return "; ".join([f"{fix.parts[part]:g} {self.book.parts[part].name}", *cases])

    def _limit(self, name: str) -> None:
        book, limit = self.book, self.book.limits[name]
        self._sentence(phrases.figure(limit))
        self._sentence(f"It is a {limit.kind}. The marking on the part and the maker's manual always govern.")
        self._sentence(phrases.only_for(book, limit.applies))
        self._sentence(f"Note: {limit.note}" if limit.note else "")
        self._sentence(f"Source: {limit.source}" if limit.source else "")
        cases = [
            f"{phrases.condition(book, case.when)}: {phrases.number(limit, case.low, case.high)}"
            for case in limit.cases
        ]
        self._list("Other numbers; the first that fits counts", cases)

    def _deduction(self, name: str) -> None:
        book, deduction = self.book, self.book.deductions[name]
        self._list("When all of this is so", [phrases.condition_of_rule(book, when) for when in deduction.when])
        self._list("Then", phrases.conclusions(book, deduction))

    def _fact(self, name: str) -> None:
        fact = self.book.facts[name]
        self._sentence(f'Asked: "{fact.ask}"' + (" Several answers may hold." if fact.several else ""))
        if fact.how:
            self._sentence(f"How to tell: {fact.how}")
        self._list("Answers", [f"{text} ({value})" for value, text in fact.values.items()])
        self._heard(fact.told_by, fact.values)
        if fact.told_by:
            self._sentence("Heard on the bike's label too." if fact.on_label else "Not heard on the bike's label.")

    def _heard(self, told_by: Mapping[str, tuple[str, ...]], values: Mapping[str, str]) -> None:
        """The words that tell an answer where they are typed, so that it is not asked for."""
        told = [f"{values[value]}: {', '.join(words)}" for value, words in told_by.items()]
        self._list("Told by words that are typed", told)

    def _conclusion(self, name: str) -> None:
        self._list("May be", [f"{text} ({value})" for value, text in self.book.words[name].values.items()])

    def _teardown(self, name: str) -> None:
        one = self.book.teardowns[name]
        self._sentence(f"Takes {one.open:g} min to open and {one.close:g} min to close.")
        self._sentence(f"First: {named(self.book.teardowns[one.inside])}." if one.inside else "")

    def _part(self, name: str) -> None:
        part = self.book.parts[name]
        self._sentence(f"One costs {part.low:g} to {part.high:g} {self.book.constants.currency}.")

    def _receiver(self, name: str) -> None:
        self._sentence(f"Giving a bike away there weighs as much as {self.book.receivers[name].minutes:g} min of work.")

    # --- what is common --------------------------------------------------------------------------------------------

    def _sentence(self, text: str) -> None:
        if text:
            self.paper.say(text)

    def _list(self, head: str, items: Sequence[str]) -> None:
        if items:
            self.paper.head(head)
        for item in items:
            self.paper.item("-", item)

    def _figures(self, limits: Sequence[str], cautions: Sequence[str], indent: int = 0) -> None:
        for name in limits:
            self.paper.say(f"{phrases.figure(self.book.limits[name])} {name}", indent=indent, hang=2)
        for name in cautions:
            self.paper.say(f"Caution: {self.book.cautions[name]}", indent=indent, hang=2)

    def _ties(self, thing: Thing) -> None:
        own = {"complaint": "cause", "finding": "check"}.get(thing.kind)  # told above already
        ties = [tie for tie in self.ties.get((thing.kind, thing.id), ()) if tie.by.kind != own]
        for kind, (one, several) in KINDS.items():
            here = [tie for tie in ties if tie.by.kind == kind]
            if here:
                self.paper.head(
                    f"The {one} that speaks of it" if len(here) == 1 else f"{several.capitalize()} that speak of it"
                )
            for tie in here:
                self.paper.item("-", self._tie(tie))

    def _tie(self, tie: Tie) -> str:
        name = phrases.filled(self.book, tie.by.name).removesuffix(".")
        return f"{name} ({tie.by.id}): {tie.how}. {place(tie.where)}"

    def _cases(self, thing: Thing) -> None:
        found = mentions(self.cases, thing.id) if self.cases else []
        if found:
            self.paper.head(
                "The worked case that speaks of it" if len(found) == 1 else f"{len(found)} worked cases speak of it"
            )
        for one in found[:MOST_CASES]:
            expects = "expects it to be likeliest: " if one.expected_on_top else ""
            self.paper.item("-", f"{expects}{one.sentence.removesuffix('.')}. {place(one.where)}")
        if len(found) > MOST_CASES:
            self.paper.item("-", f"and {len(found) - MOST_CASES} more")
