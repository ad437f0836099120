"""Learning: known shares come back, thin data moves nothing, one odd job moves little; the change keeps the text."""

from __future__ import annotations

import json
import random
import shutil
from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.special import betainc, betaincinv

from diagnose.book.model import Book
from diagnose.book.shelf import load_book
from diagnose.casework import events
from diagnose.casework.events import Draft
from diagnose.casework.learn import lesson as lessons
from diagnose.casework.learn.beta import below, quantile
from diagnose.casework.learn.lists import alike, never_helped, wrong_most
from diagnose.casework.learn.outcomes import Moved, Outcome, read_outcomes
from diagnose.casework.learn.patch import edits, patched, proven, says, unified
from diagnose.casework.learn.ranges import LEAST_JOBS, ShareRanges, row_ranges, share_ranges
from diagnose.casework.memory import MemoryStore
from diagnose.casework.protocol import stamp
from diagnose.casework.store import SqliteStore
from diagnose.errors import BookError
from diagnose.front.main import main
from diagnose.reason.reasoner import Reasoner
from tests.front.conftest import SMALL

WOBBLES = "wheel-wobbles"


@pytest.fixture(scope="module")
def book() -> Book:
    """The small book of the stand's tests."""
    return load_book(SMALL)


def jobs(book: Book, causes: Iterable[str | None], able: Sequence[str] = (), **more: object) -> list[Outcome]:
    """Outcomes of one complaint in which these causes were found (None: nothing of the book)."""
    listed = [cause.id for cause in book.causes_of[WOBBLES]]
    factors = dict.fromkeys(able or listed, 1.0)
    return [
        Outcome(f"j{at}", "", WOBBLES, True, (cause,) if cause else (), able=factors, **more)  # type: ignore[arg-type]
        for at, cause in enumerate(causes)
    ]


def drawn(book: Book, shares: dict[str | None, float], count: int, seed: int) -> list[Outcome]:
    """Jobs of a world with these shares."""
    lot = random.Random(seed)  # noqa: S311  draws, not secrets
    return jobs(book, lot.choices(list(shares), weights=list(shares.values()), k=count))


def world(book: Book, seed: int) -> dict[str | None, float]:
    """Shares unlike the book's: each cause up to twice as common or half so."""
    lot = random.Random(f"world {seed}")  # noqa: S311
    weights: dict[str | None, float] = {
        cause.id: cause.shares[WOBBLES].of_100 * 2 ** lot.uniform(-1, 1) for cause in book.causes_of[WOBBLES]
    }
    total = sum(weights.values())
    unknown = lot.uniform(0.04, 0.12)
    return {**{name: (1 - unknown) * weight / total for name, weight in weights.items()}, None: unknown}


# --- the sums ------------------------------------------------------------------------------------------------------


@given(st.floats(0.001, 0.999), st.floats(0.05, 500), st.floats(0.05, 500))
def test_the_beta_distribution_is_that_of_a_library(x: float, a: float, b: float) -> None:
    """The incomplete beta function agrees with scipy's."""
    assert below(x, a, b) == pytest.approx(float(betainc(a, b, x)), abs=1e-9)


@given(st.floats(0.01, 0.99), st.floats(0.3, 300), st.floats(0.3, 300))
def test_its_ranges_are_those_of_a_library(part: float, a: float, b: float) -> None:
    """So do its quantiles."""
    assert quantile(part, a, b) == pytest.approx(float(betaincinv(a, b, part)), abs=1e-7)


# --- shares --------------------------------------------------------------------------------------------------------


def test_known_shares_come_back_within_their_ranges(book: Book) -> None:
    """In 60 simulated shops of 3,000 jobs, nine of ten true shares lie within the range of 95 of 100 or more.

    The book, unlike the shop, still counts as a hundred cases and draws a little towards itself; so the bound is below
    95 of 100, and the mean must be within 2.5 of 100 of the truth.
    """
    inside, all_ = 0, 0
    for seed in range(60):
        truth = world(book, seed)
        found = share_ranges(book, WOBBLES, drawn(book, truth, 3_000, seed))
        known = 1 - truth[None]
        pairs = [(one, truth[name] / known) for name, one in found.causes.items()]
        pairs.append((found.something_else, truth[None]))
        inside += sum(one.low <= true <= one.high for one, true in pairs)
        all_ += len(pairs)
        assert all(abs(one.mean - true) < 0.025 for one, true in pairs)
    assert inside / all_ > 0.9


def test_a_shop_like_the_book_changes_nothing(book: Book) -> None:
    """Where jobs come as the book says, hardly any of 60 shops of 200 jobs would change a figure."""
    raw = sum(cause.shares[WOBBLES].of_100 for cause in book.causes_of[WOBBLES])
    unknown = book.complaints[WOBBLES].something_else
    truth: dict[str | None, float] = {
        cause.id: (1 - unknown) * cause.shares[WOBBLES].of_100 / raw for cause in book.causes_of[WOBBLES]
    }
    truth[None] = unknown
    moved = sum(share_ranges(book, WOBBLES, drawn(book, truth, 200, seed)).moves for seed in range(60))
    assert moved <= 6


@pytest.mark.parametrize("count", range(LEAST_JOBS))
def test_thin_data_moves_nothing(book: Book, count: int) -> None:
    """Fewer than ten jobs change no figure, whatever they say."""
    rare = min(book.causes_of[WOBBLES], key=lambda cause: cause.shares[WOBBLES].of_100).id
    found = jobs(book, [rare] * count, seen={"play-at-hub": "none"})
    assert not edits(book, [share_ranges(book, WOBBLES, found)], row_ranges(book, found))


def test_one_odd_job_pulls_nothing_far(book: Book) -> None:
    """Among any number of jobs, one more that is odd moves no share by more than one case in those of the book."""
    listed = [cause.id for cause in book.causes_of[WOBBLES]]
    for count in (0, 5, 10, 40, 400):
        usual = jobs(book, [listed[at % 2] for at in range(count)])
        before = share_ranges(book, WOBBLES, usual)
        for odd in (*listed, None):
            after = share_ranges(book, WOBBLES, [*usual, *jobs(book, [odd])])
            for name in listed:
                assert abs(after.causes[name].mean - before.causes[name].mean) < 1 / 100
            assert abs(after.something_else.mean - before.something_else.mean) < 1 / 100


def test_two_causes_at_one_bike_share_its_case(book: Book) -> None:
    """Each counts as half a job, and neither teaches a row."""
    first, second = [cause.id for cause in book.causes_of[WOBBLES]][:2]
    both = [one._replace(found=(first, second), seen={"play-at-hub": "clear"}) for one in jobs(book, [first] * 20)]
    found = share_ranges(book, WOBBLES, both)
    assert found.causes[first].cases == found.causes[second].cases == 10
    assert row_ranges(book, both) == []


def test_a_bike_that_cannot_have_a_cause_says_nothing_of_it(book: Book) -> None:
    """A shop whose bikes can have only half of the causes leaves the others' weight beside them as it was."""
    listed = [cause.id for cause in book.causes_of[WOBBLES]]
    able = listed[:2]
    raw = {name: next(c for c in book.causes_of[WOBBLES] if c.id == name).shares[WOBBLES].of_100 for name in listed}
    whole = sum(raw[name] for name in able)
    found = [name for name in able for _ in range(round(200 * raw[name] / whole))]
    ranges = share_ranges(book, WOBBLES, jobs(book, found, able=able))
    for name in listed:
        assert ranges.causes[name].mean == pytest.approx(ranges.causes[name].book, abs=0.005)
    assert ranges.causes[listed[2]].weight < ranges.causes[listed[0]].weight


# --- rows ----------------------------------------------------------------------------------------------------------


def test_known_rows_come_back(book: Book) -> None:
    """What bikes show in 500 jobs is within 0.02 of what the row would be."""
    cause = next(one for one in book.causes_of[WOBBLES] if "play-at-hub" in one.shows).id
    lot = random.Random(3)  # noqa: S311
    values = book.values["play-at-hub"]
    truth = {values[0]: 0.1, values[1]: 0.6, values[2]: 0.3}
    seen = lot.choices(list(truth), weights=list(truth.values()), k=500)
    found = [
        one._replace(seen={"play-at-hub": value}) for one, value in zip(jobs(book, [cause] * 500), seen, strict=True)
    ]
    (row,) = row_ranges(book, found)
    share = Counter(seen)
    assert row.jobs == 500
    for value in values:
        assert row.values[value].mean == pytest.approx(share[value] / 500, abs=0.02)
        assert row.values[value].low <= truth[value] <= row.values[value].high
    assert row.moves


def test_one_odd_look_changes_no_row(book: Book) -> None:
    """Among ten jobs as the book says, one that shows what its cause hardly ever shows changes nothing."""
    cause, finding, value = next(
        (one.id, finding, value)
        for one in book.causes_of[WOBBLES]
        for finding, row in one.shows.items()
        for value, chance in zip(book.values[finding], row.chances, strict=True)
        if chance > 0.95
    )
    other = next(one for one in book.values[finding] if one != value)
    seen = [value] * LEAST_JOBS + [other]
    found = [one._replace(seen={finding: each}) for one, each in zip(jobs(book, [cause] * 11), seen, strict=True)]
    (row,) = row_ranges(book, found)
    assert not row.moves


# --- the change ----------------------------------------------------------------------------------------------------


@pytest.fixture
def copy(tmp_path: Path) -> Path:
    """The small book in a folder of its own, with comments and odd spaces in a cause."""
    folder = tmp_path / "rules"
    shutil.copytree(SMALL, folder)
    for file in (folder / "wheels" / "causes").glob("*.yaml"):
        text = file.read_text(encoding="utf-8")
        file.write_text(f"# kept: {file.stem} 20 in 100\n{text}# and this\n", encoding="utf-8")
    return folder


def odd_shop(book: Book) -> tuple[list[ShareRanges], list[Outcome]]:
    """A shop in which the rarest cause is the only one."""
    rare = min(book.causes_of[WOBBLES], key=lambda cause: cause.shares[WOBBLES].of_100).id
    found = jobs(book, [rare] * 80)
    return [share_ranges(book, WOBBLES, found)], found


def test_the_change_touches_figures_only(copy: Path) -> None:
    """Every line that is not a figure stays, comments too; the changed book says what was meant."""
    book = load_book(copy, cache=False)
    shares, _ = odd_shop(book)
    changes = edits(book, shares, [])
    texts = patched(changes)
    assert len(changes) >= 2
    for before, after in texts.values():
        pairs = list(zip(before.splitlines(), after.splitlines(), strict=True))
        different = [(old, new) for old, new in pairs if old != new]
        assert 1 <= len(different) <= 2
        assert all("in 180" in new and not old.startswith("#") for old, new in different)
    changed = proven(texts, [copy])
    assert says(changed, shares, []) == []
    diff = unified(texts, [copy])
    assert "--- a/rules/wheels/causes/" in diff
    assert diff.count("@@") == 2 * len(texts)


def test_a_figure_that_moved_meanwhile_is_not_touched(copy: Path) -> None:
    """Where the file was changed since it was read, nothing is written over it."""
    book = load_book(copy, cache=False)
    shares, _ = odd_shop(book)
    changes = edits(book, shares, [])
    file = Path(changes[0].file)
    file.write_text(file.read_text(encoding="utf-8").replace(changes[0].old, "19 in 100"), encoding="utf-8")
    with pytest.raises(BookError, match="does not stand here"):
        patched(changes)


# --- the lists -----------------------------------------------------------------------------------------------------


def test_where_the_book_was_wrong_most_is_first(book: Book) -> None:
    """Pairs of what was said and what was found are counted; what was right is not told."""
    first, second = [cause.id for cause in book.causes_of[WOBBLES]][:2]
    said: dict[str | None, float] = {first: 0.9, second: 0.1, None: 0.0}
    found = jobs(book, [first, second, second, None], shares=said)
    assert [(one.said, one.found, one.times, one.jobs) for one in wrong_most(found)] == [
        (first, second, 2, 2),
        (first, None, 1, 1),
    ]


def test_checks_that_never_helped_are_named(book: Book) -> None:
    """One answered often that moved nothing is told; one that helped once, was rarely asked, or guards is not."""
    first = next(iter(book.causes_of[WOBBLES])).id
    usual = [name for name, check in book.checks.items() if not check.danger]
    guard = next(name for name, check in book.checks.items() if check.danger)
    idle, once, rare = Moved(usual[0], 0.01, False), Moved(usual[1], 0.5, True), Moved(usual[2], 0.0, False)
    moved = (idle, once, Moved(guard, 0.0, False))
    found = [one._replace(moved=moved) for one in jobs(book, [first] * 6)]
    found[0] = found[0]._replace(moved=(*moved, rare))
    assert [(one.check, one.answers) for one in never_helped(book, found)] == [(usual[0], 6)]


def test_what_nothing_explains_and_looks_alike_is_put_together(book: Book) -> None:
    """Jobs with the same unusual things are one group; a job that shows something else is not in it."""
    values = book.values["play-at-hub"]
    unusual = min(values, key=lambda value: book.otherwise["play-at-hub"][values.index(value)])
    found = [
        one._replace(known=False, seen={"play-at-hub": unusual if at < 3 else values[0]})
        for at, one in enumerate(jobs(book, [None] * 5))
    ]
    (group,) = alike(book, found)
    assert group.jobs == ("j0", "j1", "j2")
    assert group.shown == (("play-at-hub", unusual),)


# --- from jobs -----------------------------------------------------------------------------------------------------

Fill = Callable[[SqliteStore | MemoryStore, Book], None]


def told(store: SqliteStore | MemoryStore, book: Book, *drafts: Draft) -> str:
    """A job in which this was told."""
    case = store.create(events.opened("mechanic", "mechanic").data, "", book.fingerprint)
    for at, draft in enumerate(drafts, 2):
        store.append(case, at, draft.kind, draft.data, book.fingerprint)
    return case


def fill(store: SqliteStore | MemoryStore, book: Book) -> None:
    """Forty jobs of the rarest cause, three that nobody explained, one declined, one open, one that came back."""
    rare = min(book.causes_of[WOBBLES], key=lambda cause: cause.shares[WOBBLES].of_100).id
    looked = events.answered("rock-wheel", "mechanic", "clear") if "rock-wheel" in book.checks else None
    first = [events.complaint(WOBBLES), *([looked] if looked else [])]
    for _ in range(40):
        told(store, book, *first, events.ended("cured", [rare]))
    for how in ("handed-off", "handed-off", "not-reproduced", "declined"):
        told(store, book, *first, events.ended(how))
    told(store, book, *first)
    told(store, book, *first, events.ended("cured", [rare]), events.came_back(), events.ended("handed-off", [rare]))


def test_jobs_of_a_store_are_counted(book: Book) -> None:
    """Those that say what was wrong count once each, comebacks by their last end; the others by how they ended."""
    store = MemoryStore()
    fill(store, book)
    read = read_outcomes(Reasoner(book), store)
    assert read.jobs == 45
    assert sum(one.known for one in read.outcomes) == 41
    assert read.uncounted == {"handed-off": 2, "not-reproduced": 1, "declined": 1}


def test_the_command_proposes_and_writes_only_when_told(
    copy: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Without --write files stay; with it they change as shown, the book holds, and no job counts twice."""
    book = load_book(copy, cache=False)
    path = tmp_path / "jobs.sqlite3"
    with SqliteStore(path) as store:
        fill(store, book)
    given = ["learn", "--rules", str(copy), "--store", str(path)]
    before = {file: file.read_bytes() for file in copy.rglob("*.yaml")}
    assert main(given) == 0
    out = " ".join(capsys.readouterr().out.split())
    assert "of: 41" in out
    assert "+++ b/rules/wheels/causes/" in out
    assert "the book lies outside" in out
    assert "Nothing was written" in out
    assert {file: file.read_bytes() for file in copy.rglob("*.yaml")} == before
    assert main([*given, "--json"]) == 0
    lesson = json.loads(capsys.readouterr().out)
    assert lesson["jobs"] == 45
    assert lesson["edits"]
    assert any(one["moves"] and one["jobs"] == 41 for one in lesson["shares"])
    assert main([*given, "--write"]) == 0
    assert "Figures written:" in capsys.readouterr().out
    after = {file: file.read_bytes() for file in copy.rglob("*.yaml")}
    assert {file for file in after if after[file] != before[file]} == {Path(one["file"]) for one in lesson["edits"]}
    load_book(copy, cache=False)
    assert main([*given, "--write"]) == 0
    assert "nothing to write" in capsys.readouterr().out
    assert {file: file.read_bytes() for file in copy.rglob("*.yaml")} == after


class Clock:
    """A clock that is set by hand."""

    def __init__(self) -> None:
        self.now = datetime(2026, 3, 1, 8, tzinfo=UTC)

    def __call__(self) -> datetime:
        """What it shows."""
        return self.now

    def later(self) -> str:
        """An hour goes by; returns what it shows, as events keep it."""
        self.now += timedelta(hours=1)
        return stamp(self)


def add(store: MemoryStore, book: Book, case: str, *drafts: Draft) -> None:
    """Tell more of a job."""
    for draft in drafts:
        store.append(case, len(store.events(case)) + 1, draft.kind, draft.data, book.fingerprint)


def test_a_job_that_was_counted_and_then_amended_counts_no_second_time(book: Book) -> None:
    """Whatever was told of it since: another cause, the same again, a note, a comeback; changed ones are named."""
    clock = Clock()
    store, reasoner = MemoryStore(clock), Reasoner(book)
    first, second = [cause.id for cause in book.causes_of[WOBBLES]][:2]
    jobs = {
        name: told(store, book, events.complaint(WOBBLES), events.ended("cured", [first]))
        for name in ("other", "same", "note", "again", "left alone")
    }
    unsaid = told(store, book, events.complaint(WOBBLES), events.ended("handed-off"))
    going_on = told(store, book, events.complaint(WOBBLES))
    since = clock.later()
    assert sum(one.known for one in read_outcomes(reasoner, store).outcomes) == 5
    clock.later()
    add(store, book, jobs["other"], events.ended("cured", [second]))
    add(store, book, jobs["same"], events.ended("cured", [first]))
    add(store, book, jobs["note"], events.note(store.add_text(jobs["note"], "called")))
    add(store, book, jobs["again"], events.came_back(), events.ended("cured", [second]))
    add(store, book, unsaid, events.ended("handed-off", [second]))
    add(store, book, going_on, events.ended("cured", [first]))
    read = read_outcomes(reasoner, store, since)
    assert {one.job for one in read.outcomes} == {unsaid, going_on}
    assert read.jobs == 2
    assert set(read.amended) == {jobs["other"], jobs["again"]}
    assert read.uncounted == {}
    assert len(read_outcomes(reasoner, store).outcomes) == 7
    assert read_outcomes(reasoner, store).amended == ()


def test_a_complaint_of_which_nobody_had_said_what_it_was_counts_once_it_is_told(book: Book) -> None:
    """Of a job of two complaints the one that was counted does not count again, the other does."""
    other = next(name for name in book.complaints if name != WOBBLES)
    both = {name: [one.id for one in book.causes_of[name]] for name in (WOBBLES, other)}
    first = next(one for one in both[WOBBLES] if one not in both[other])
    second = next(one for one in both[other] if one not in both[WOBBLES])
    clock = Clock()
    store, reasoner = MemoryStore(clock), Reasoner(book)
    job = told(store, book, events.complaint(WOBBLES), events.complaint(other), events.ended("handed-off", [first]))
    since = clock.later()
    clock.later()
    add(store, book, job, events.ended("handed-off", [first, second]))
    read = read_outcomes(reasoner, store, since)
    assert [(one.complaint, one.found) for one in read.outcomes] == [(other, (second,))]
    assert read.amended == ()


def test_the_command_counts_an_amended_job_once_and_names_it(
    copy: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Jobs are written into the book, then one is told otherwise: the next lesson leaves it out with a word."""
    book = load_book(copy, cache=False)
    path = tmp_path / "jobs.sqlite3"
    with SqliteStore(path) as store:
        fill(store, book)
        job = store.cases(limit=500, which="ended")[-1].id
    given = ["learn", "--rules", str(copy), "--store", str(path)]
    assert main([*given, "--write"]) == 0
    capsys.readouterr()
    usual = max(book.causes_of[WOBBLES], key=lambda cause: cause.shares[WOBBLES].of_100).id
    assert main(["jobs", "end", job, "cured", "--found", usual, "--rules", str(copy), "--store", str(path)]) == 0
    capsys.readouterr()
    assert main(given) == 0
    out = " ".join(capsys.readouterr().out.split())
    assert "of: 0." in out
    assert f"they say something else since: {job}." in out
    assert main([*given, "--json"]) == 0
    lesson = json.loads(capsys.readouterr().out)
    assert (lesson["jobs"], lesson["amended"], lesson["shares"]) == (0, [job], [])
    assert main([*given, "--json", "--since", "all"]) == 0
    assert json.loads(capsys.readouterr().out)["amended"] == []


def test_nothing_to_learn_is_said(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Of an empty store the command says how jobs come to teach."""
    assert main(["learn", "--rules", str(SMALL), "--store", str(tmp_path / "none.sqlite3")]) == 0
    assert "No job that is over says what was wrong" in capsys.readouterr().out


def test_a_mark_that_is_no_mark_counts_all(tmp_path: Path) -> None:
    """A spoiled mark is as none, and is mended when the next one is made."""
    store = tmp_path / "jobs.sqlite3"
    (tmp_path / "jobs.sqlite3.learned").write_text("[1, ", encoding="utf-8")
    assert lessons.marked(store, "b") == ""
    lessons.mark(store, "b", "2026-01-01T00:00:00.000Z")
    assert lessons.marked(store, "b") == "2026-01-01T00:00:00.000Z"
    assert lessons.marked(store, "other") == ""
