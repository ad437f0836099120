"""Two thousand spoiled rule and case files: each ends in problems with a place or in success, nothing else."""

from __future__ import annotations

from pathlib import Path

import pytest

from diagnose.book.checks import check_book
from diagnose.book.files import rule_files
from diagnose.book.load import Source, _assemble, _collect_ids, _read_trees, read_book
from diagnose.book.place import shipped_cases, shipped_rules
from diagnose.book.problems import Problem, Problems
from diagnose.book.shape import Reader
from diagnose.casework.casefile import CaseProblemsError, case_reader, read_case
from diagnose.casework.replay import find_cases, replay
from diagnose.errors import CaseError
from diagnose.front.problems import describe
from diagnose.reason.reasoner import Reasoner
from tests.book.broken_books import lay_small
from tests.book.spoiling import dice, spoil

CHUNKS = 10
OF_THE_SMALL_BOOK = 800
OF_SHIPPED_RULES = 700
OF_SHIPPED_CASES = 500
SMALL_CASE = """case: "It knocks"
profile: {headset: threadless}
complaints: [front-knock]
answers: {finger-across-gap: clear, measure-gap: 3.5 mm, turn-bars: smooth}
fixes: [{fix: set-preload, result: still-there}]
expect: {top: preload-lost, ride: care, next: turn-bars}
"""


def seeds(total: int, chunk: int) -> range:
    """The seeds of one chunk of so many spoiled files."""
    return range(chunk, total, CHUNKS)


def assert_told(problems: tuple[Problem, ...], seed: int) -> None:
    """Each problem is one line with a place that an editor can jump to."""
    for problem in problems:
        line = describe(problem)
        assert problem.where.line >= 1, (seed, line)
        assert problem.where.column >= 1, (seed, line)
        assert problem.message.strip(), (seed, line)
        assert len(line) < 1_000, (seed, line)
        assert line.isprintable(), (seed, line)
    assert list(problems) == sorted(problems)


@pytest.mark.parametrize("chunk", range(CHUNKS))
def test_a_spoiled_small_book_is_told_or_works(chunk: int, tmp_path: Path) -> None:
    """A whole book with one spoiled file; where it still reads well, a case runs on it."""
    folder = lay_small(tmp_path)
    files = rule_files(folder)
    case = tmp_path / "case.yaml"
    case.write_text(SMALL_CASE, encoding="utf-8")
    for seed in seeds(OF_THE_SMALL_BOOK, chunk):
        random = dice(f"small {seed}")
        path = random.choice(files)
        whole = path.read_bytes()
        path.write_bytes(spoil(whole.decode(), random))
        try:
            book, problems = read_book(folder)
            assert_told(problems, seed)
            assert (book is None) == any(problem.severity == "error" for problem in problems), seed
            if book is not None and random.random() < 0.2:
                try:
                    assert replay(Reasoner(book), read_case(case, book))["complaints"]
                except CaseProblemsError as why:
                    assert_told(why.problems, seed)
        finally:
            path.write_bytes(whole)


@pytest.fixture(scope="module")
def shipped() -> tuple[list[Source], Reader]:
    """The files of the shipped book, and a reader that knows all ids of it."""
    folder = shipped_rules()
    sources = [Source.of(folder, path) for path in rule_files(folder)]
    reader = Reader(Problems())
    _collect_ids(_read_trees(sources, Problems()), reader)
    return sources, reader


@pytest.mark.parametrize("chunk", range(CHUNKS))
def test_a_spoiled_file_of_the_shipped_book_is_told_or_works(
    chunk: int, shipped: tuple[list[Source], Reader], tmp_path: Path
) -> None:
    """One spoiled file among ids that are all known."""
    sources, knowing = shipped
    for seed in seeds(OF_SHIPPED_RULES, chunk):
        random = dice(f"rules {seed}")
        source = random.choice(sources)
        spoiled = tmp_path / source.path.name
        spoiled.write_bytes(spoil(source.path.read_text(encoding="utf-8"), random))
        problems = Problems()
        trees = _read_trees([Source(spoiled, source.shown, source.kind)], problems)
        check_book(_assemble(trees, Reader(problems, knowing.known, knowing.values), ""), problems)
        assert_told(problems.sorted(), seed)


@pytest.fixture(scope="module")
def reasoner() -> Reasoner:
    """The shipped book, ready to reason."""
    book, problems = read_book(shipped_rules())
    assert book is not None, problems
    return Reasoner(book)


@pytest.mark.parametrize("chunk", range(CHUNKS))
def test_a_spoiled_case_is_told_or_runs(chunk: int, reasoner: Reasoner, tmp_path: Path) -> None:
    """Where a spoiled case still reads well it also runs to a View."""
    folder = shipped_cases()
    assert folder is not None
    files = find_cases(folder)
    knowing = case_reader(reasoner.book)
    for seed in seeds(OF_SHIPPED_CASES, chunk):
        random = dice(f"cases {seed}")
        spoiled = tmp_path / "case.yaml"
        spoiled.write_bytes(spoil(random.choice(files).read_text(encoding="utf-8"), random))
        try:
            case = read_case(spoiled, reasoner.book, knowing)
            if random.random() < 0.3:
                assert replay(reasoner, case)["expectations"], seed
        except CaseProblemsError as why:
            assert_told(why.problems, seed)
        except CaseError as why:
            assert why.location is not None, seed
            assert why.location.line >= 1, seed
