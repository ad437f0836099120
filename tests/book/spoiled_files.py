"""Rule and case files spoiled by tired hands: each ends in problems with a place or in success, nothing else.

Cast: four kinds of run, each a function of a seed made by `small_books`, `shipped_files`, `whole_books` and `cases`;
the same seed spoils the same file in the same way. `python -m tests.book.spoiled_files [HOW-MANY]` runs so many (10,000
if unsaid) of all kinds and tells what became of them; a slice of each is among the tests.
"""

from __future__ import annotations

import os
import sys
import tempfile
import traceback
from collections import Counter
from collections.abc import Callable, Iterable
from pathlib import Path

from diagnose.book.anomalies.anomaly import Source as Text
from diagnose.book.anomalies.anomaly import Study
from diagnose.book.anomalies.examine import examine
from diagnose.book.anomalies.study import entries_of
from diagnose.book.checks import check_book
from diagnose.book.files import rule_files
from diagnose.book.load import _assemble, _collect_ids, _read_trees, read_book
from diagnose.book.own import Source, Trees
from diagnose.book.place import shipped_cases, shipped_rules
from diagnose.book.problems import Problem, Problems
from diagnose.book.shape import Reader
from diagnose.casework.casefile import CaseProblemsError, case_reader, read_case
from diagnose.casework.replay import find_cases, replay
from diagnose.errors import CaseError
from diagnose.front.anomalies import every_anomaly
from diagnose.front.problems import describe
from diagnose.front.rules_check import look
from diagnose.reason.reasoner import Reasoner
from tests.book.broken_books import lay_small
from tests.book.spoiling import dice, spoil

Run = Callable[[int], str]
"""Spoils the file of a seed and says what became of it; raises AssertionError where that is not as it should be."""

SMALL_CASE = """case: "It knocks"
profile: {headset: threadless}
complaints: [front-knock]
answers: {finger-across-gap: clear, measure-gap: 3.5 mm, turn-bars: smooth}
fixes: [{fix: set-preload, result: still-there}]
expect: {top: preload-lost, ride: care, next: turn-bars}
"""
REFUSED, READ, WARNED = "refused with a place", "read without a word", "read, and warned of"


def assert_told(problems: Iterable[Problem], seed: int) -> None:
    """Each problem is one line with a place that an editor can jump to."""
    listed = list(problems)
    for problem in listed:
        line = describe(problem)
        assert problem.where.line >= 1, (seed, line)
        assert problem.where.column >= 1, (seed, line)
        assert problem.message.strip(), (seed, line)
        assert len(line) < 1_000, (seed, line)
        assert line.isprintable(), (seed, line)
    assert listed == sorted(listed)


def small_books(place: Path) -> Run:
    """A whole small book with one spoiled file, checked to the end; where it reads well, a case may run on it."""
    folder = lay_small(place)
    files = rule_files(folder)
    case = place / "case.yaml"
    case.write_text(SMALL_CASE, encoding="utf-8")

    def run(seed: int) -> str:
        random = dice(f"small {seed}")
        path = random.choice(files)
        whole = path.read_bytes()
        path.write_bytes(spoil(whole.decode(), random, gently=seed % 2 == 1))
        try:
            book, _, _ = outcome = look([folder], [])
            assert_told(outcome.problems, seed)
            if book is None:
                assert outcome.errors, seed
                return REFUSED
            if random.random() < 0.2:
                try:
                    assert replay(Reasoner(book), read_case(case, book))["complaints"]
                except CaseProblemsError as why:
                    assert_told(why.problems, seed)
            return WARNED if outcome.problems else READ
        finally:
            path.write_bytes(whole)

    return run


def _shipped_sources() -> list[Source]:
    folder = shipped_rules()
    return [Source.of(folder, path) for path in rule_files(folder)]


def _spoiled(sources: list[Source], random_name: str, place: Path, gently: bool) -> tuple[Source, Source]:
    """A source of the shipped book, and a spoiled copy of it that is told under the same name."""
    random = dice(random_name)
    source = random.choice(sources)
    path = place / source.path.name
    path.write_bytes(spoil(source.path.read_text(encoding="utf-8"), random, gently))
    return source, source._replace(path=path)


def shipped_files(place: Path) -> Run:
    """One spoiled file of the shipped book among ids that are all known."""
    sources = _shipped_sources()
    knowing = Reader(Problems())
    _collect_ids(_read_trees(sources, Problems()), knowing)

    def run(seed: int) -> str:
        _, spoiled = _spoiled(sources, f"rules {seed}", place, gently=False)
        problems = Problems()
        trees = _read_trees([spoiled], problems)
        check_book(_assemble(trees, Reader(problems, knowing.known, knowing.values), []), problems)
        assert_told(problems.sorted(), seed)
        return REFUSED if problems.errors else READ

    return run


def whole_books(place: Path) -> Run:
    """The whole shipped book with one spoiled file, checked to the end."""
    sources = _shipped_sources()
    whole = _read_trees(sources, Problems())
    texts = {source: source.path.read_text(encoding="utf-8") for source in sources}
    beside = shipped_cases()
    assert beside
    anomalies = every_anomaly(beside)
    codes = [anomaly.name for anomaly in anomalies]

    def run(seed: int) -> str:
        source, spoiled = _spoiled(sources, f"whole {seed}", place, gently=True)
        problems = Problems()
        found = _read_trees([spoiled], problems)
        trees: Trees = {one: found.get(spoiled, tree) if one == source else tree for one, tree in whole.items()}
        reader = Reader(problems)
        _collect_ids(trees, reader)
        book = _assemble(trees, reader, [])
        check_book(book, problems)
        assert_told(problems.sorted(), seed)
        if problems.errors:
            return REFUSED
        read = tuple(Text(one.shown, one.kind or "", texts[one]) for one in trees)
        verdict = examine(Study(book, read, dict(entries_of(trees))), anomalies, codes)
        assert_told(verdict.problems, seed)
        return WARNED if verdict.problems else READ

    return run


def cases(place: Path) -> Run:
    """A spoiled case of the shipped ones; where it still reads well it may also run to a View."""
    book, problems = read_book(shipped_rules())
    folder = shipped_cases()
    assert book is not None, problems
    assert folder is not None
    reasoner, files, knowing = Reasoner(book), find_cases(folder), case_reader(book)
    path = place / "case.yaml"

    def run(seed: int) -> str:
        random = dice(f"cases {seed}")
        path.write_bytes(spoil(random.choice(files).read_text(encoding="utf-8"), random))
        try:
            case = read_case(path, reasoner.book, knowing)
            if random.random() < 0.3:
                assert replay(reasoner, case)["expectations"], seed
        except CaseProblemsError as why:
            assert_told(why.problems, seed)
            return REFUSED
        except CaseError as why:
            assert why.location is not None, seed
            assert why.location.line >= 1, seed
            return REFUSED
        return READ

    return run


KINDS: dict[str, tuple[Callable[[Path], Run], float]] = {
    "small books": (small_books, 0.40),
    "shipped files": (shipped_files, 0.25),
    "whole shipped books": (whole_books, 0.05),
    "cases": (cases, 0.30),
}
"""Kind to what makes its run, and its part of a full run."""


def _full_run(total: int) -> int:
    """Spoil so many files and tell what became of them; 1 when one of them ended otherwise."""
    failed = 0
    with tempfile.TemporaryDirectory() as place:
        os.environ["HOME"] = os.environ["XDG_CACHE_HOME"] = place
        for kind, (make, part) in KINDS.items():
            folder = Path(place) / kind
            folder.mkdir()
            run, ends = make(folder), Counter[str]()
            for seed in range(round(total * part)):
                if seed % 100 == 0:
                    sys.stderr.write(f"{kind}: {seed} so far\n")
                try:
                    ends[run(seed)] += 1
                except Exception:  # noqa: BLE001 (whatever it is, it is what is looked for)
                    failed += 1
                    sys.stdout.write(f"{kind} {seed}:\n{traceback.format_exc()}\n")
            told = ", ".join(f"{number} {end}" for end, number in sorted(ends.items()))
            sys.stdout.write(f"{kind}: {ends.total()} ended as they should: {told}\n")
            sys.stdout.flush()
    sys.stdout.write(f"{total} spoiled files, {failed} ended otherwise.\n")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(_full_run(int(sys.argv[1]) if len(sys.argv) > 1 else 10_000))
