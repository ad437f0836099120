"""`diagnose learn`: what the ended jobs say about the book, as ranges and as a change that somebody looks over."""

from __future__ import annotations

import json
from pathlib import Path

import click

from diagnose.book.model import Book
from diagnose.casework.learn.lesson import Lesson, learn, mark, marked, newest, told
from diagnose.casework.learn.lists import most_of
from diagnose.casework.learn.patch import patched, proven, says, unified, write
from diagnose.casework.learn.ranges import Range, RowRange, ShareRanges
from diagnose.errors import BookError
from diagnose.front import wording
from diagnose.front.jobs.common import paper_of, plain_option, store_of, store_option
from diagnose.front.options import chosen_folders, rules_option
from diagnose.front.paper import Paper

ALL = "all"
SHOWN = 12
"""Lines of each list."""
NAMED = 6
"""Jobs that are named in one line."""

COUNTED = "Jobs that are over: {jobs}. What was wrong is known of: {known}."
SINCE = "Those last worked on at {at} or before are in the book already; `--since all` counts them again."
NOT_COUNTED = "Not counted, because nobody said what it was: {text}."
AMENDED = "Left out, because the book counts them as they were told before, and they say something else since: {text}."
UNKNOWN = "Left out, because today's book does not know what they name: {text}."
NO_JOBS = "No job that is over says what was wrong. `diagnose jobs end JOB HOW --found CAUSE` does."
SHARES = "{complaint}: of 100 such bikes (jobs: {jobs})"
FIGURE = "{name}: book {book}, now {low} to {high} (jobs: {cases} of {jobs}){mark}"
OUTSIDE = "  <- the book lies outside"
ELSE = "not in the book"
ROW = "{cause} shows {finding}, of 100 (jobs: {jobs})"
AS_IS = "These jobs give no reason to change a figure of the book."
CHANGE = "As a change to the book (figures: {count})"
WRITE_HOW = "Nothing was written. Look it over; `--write` puts it into the files."
WRITTEN = "Figures written: {count}; files: {files}. `diagnose replay` says whether all worked cases still hold."
NOTHING_TO_WRITE = "There is nothing to write."
NOT_PROVEN = "the change would not say what was meant: {text}"
NOT_PROVEN_HOW = "Nothing was written. Put the figures of the list above in by hand."
WRONG = "What the book got wrong most"
WRONG_ONE = "{complaint}: said {said}, was {found}: {times} of {jobs}"
USELESS = "Checks that never helped"
USELESS_ONE = "{text} (answers: {answers}; moved a share by {most} of 100 at most)"
ALIKE = "Not in the book, and alike"
ALIKE_ONE = "{complaint}: jobs {jobs}: {shown}"
MORE = "... and {count} more; --json has all."


@click.command()
@click.option("--since", metavar="TIME", help="Only jobs last worked on after this (UTC, as --json says); `all`: all.")
@click.option("--limit", type=click.IntRange(1, 1_000_000), default=5_000, show_default=True, help="At most so many.")
@click.option("--write", "into_book", is_flag=True, help="Write the change into the book's files.")
@click.option("--json", "as_json", is_flag=True, help="As JSON.")
@rules_option
@store_option
@plain_option
def command(
    since: str | None,
    limit: int,
    into_book: bool,
    as_json: bool,
    rules: tuple[Path, ...],
    store: Path | None,
    plain: bool,
) -> int:
    """Count what was found in jobs that are over, and say what would change in the book.

    The book's own figures count as so many cases as they are written with; the jobs are added to them. A figure is
    changed only where it lies outside the range of 95 of 100 that comes of that, and ten jobs or more speak to it.
    Nothing is written without --write. It also lists what the book got wrong most, checks that never helped, and jobs
    that nothing in the book explains and that look alike. Example: diagnose learn > lesson.txt
    """
    from diagnose.book.shelf import load_book
    from diagnose.reason.reasoner import Reasoner

    folders = chosen_folders(rules)
    book = load_book(*folders)
    with store_of(store) as kept:
        begin = marked(kept.path, book.constants.id) if since is None else "" if since == ALL else since
        lesson = learn(Reasoner(book), kept, begin, limit)
        texts = patched(lesson.edits)
        diff = unified(texts, folders)
        if as_json:
            click.echo(json.dumps(told(lesson, book, diff), indent=1))
        else:
            _say(paper_of(plain), lesson, book, diff, into_book)
        if into_book and texts:
            _prove(lesson, texts, folders)
            write(texts)
            mark(kept.path, book.constants.id, newest(lesson))
            click.echo(WRITTEN.format(count=len(lesson.edits), files=len(texts)), err=as_json)
        elif into_book:
            click.echo(NOTHING_TO_WRITE, err=as_json)
    return 0


def _prove(lesson: Lesson, texts: dict[str, tuple[str, str]], folders: tuple[Path, ...]) -> None:
    """Raises BookError where the changed book could not be used, or does not say what was meant."""
    wrong = says(
        proven(texts, folders), [one for one in lesson.shares if one.moves], [r for r in lesson.rows if r.moves]
    )
    if wrong:
        raise BookError("learn.not-proven", NOT_PROVEN.format(text="; ".join(wrong[:5])), None, NOT_PROVEN_HOW)


def _say(paper: Paper, lesson: Lesson, book: Book, diff: str, into_book: bool) -> None:
    _say_counted(paper, lesson)
    for one in lesson.shares:
        if one.moves:
            _say_shares(paper, one, book)
    for row in lesson.rows:
        if row.moves:
            _say_row(paper, row, book)
    if lesson.edits:
        paper.head(CHANGE.format(count=len(lesson.edits)))
        for line in diff.splitlines():
            paper.whole(line)
        if not into_book:
            paper.say(WRITE_HOW)
    _say_lists(paper, lesson, book)


def _say_counted(paper: Paper, lesson: Lesson) -> None:
    """Which jobs were counted, and which not, and why."""
    read = lesson.read
    known = len({one.job for one in read.outcomes if one.known})
    paper.say(COUNTED.format(known=known, jobs=read.jobs), style="bold")
    if lesson.since:
        paper.say(SINCE.format(at=lesson.since))
    if read.uncounted:
        ways = sorted(read.uncounted.items())
        paper.say(NOT_COUNTED.format(text=", ".join(f"{wording.JOB_ENDED.get(how, how)} {n}" for how, n in ways)))
    if read.amended:
        paper.say(AMENDED.format(text=most_of(read.amended, NAMED)))
    if read.unknown:
        paper.say(UNKNOWN.format(text=most_of(read.unknown, NAMED)))
    if not known:
        paper.say(NO_JOBS)
    elif not lesson.edits:
        paper.say(AS_IS)


def _say_shares(paper: Paper, ranges: ShareRanges, book: Book) -> None:
    paper.head(SHARES.format(complaint=book.complaints[ranges.complaint].name, jobs=ranges.jobs))
    ranked = sorted(ranges.causes.items(), key=lambda item: -item[1].mean)
    for name, one in ranked:
        if one.cases or one.off:
            paper.item("-", _figure(book.causes[name].name, one, ranges.raw))
    paper.item("-", _figure(ELSE, ranges.something_else, 100.0))


def _say_row(paper: Paper, row: RowRange, book: Book) -> None:
    finding = book.findings[row.finding]
    paper.head(ROW.format(cause=book.causes[row.cause].name, finding=finding.name, jobs=row.jobs))
    for value, one in row.values.items():
        paper.item("-", _figure(finding.values[value], one, 100.0))


def _figure(name: str, one: Range, whole: float) -> str:
    numbers = {key: f"{getattr(one, key) * whole:.3g}" for key in ("book", "low", "high")}
    mark = OUTSIDE if one.off else ""
    return FIGURE.format(name=name, cases=f"{one.cases:.3g}", jobs=one.jobs, mark=mark, **numbers)


def _say_lists(paper: Paper, lesson: Lesson, book: Book) -> None:
    def named(cause: str | None) -> str:
        return book.causes[cause].name if cause else ELSE

    wrong = [
        WRONG_ONE.format(
            complaint=book.complaints[one.complaint].name,
            said=named(one.said),
            found=named(one.found),
            times=one.times,
            jobs=one.jobs,
        )
        for one in lesson.wrong
    ]
    useless = [
        USELESS_ONE.format(text=book.checks[one.check].ask, answers=one.answers, most=f"{one.most * 100:.1f}")
        for one in lesson.useless
    ]
    alike = [
        ALIKE_ONE.format(
            complaint=book.complaints[one.complaint].name,
            jobs=most_of(one.jobs, NAMED),
            shown="; ".join(
                f"{book.findings[finding].name}: {book.findings[finding].values[value]}" for finding, value in one.shown
            ),
        )
        for one in lesson.alike
    ]
    for head, lines in ((WRONG, wrong), (USELESS, useless), (ALIKE, alike)):
        if lines:
            paper.head(head)
        for line in lines[:SHOWN]:
            paper.item("-", line)
        if len(lines) > SHOWN:
            paper.say(MORE.format(count=len(lines) - SHOWN), indent=1)
