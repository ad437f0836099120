"""Every worked case of the shipped book as a test, named by its sentence."""

from __future__ import annotations

from pathlib import Path

import pytest

from diagnose.book.place import shipped_cases, shipped_rules
from diagnose.book.shape import Reader
from diagnose.book.shelf import load_book
from diagnose.book.tree import Mapping, Text, read_tree
from diagnose.casework.casefile import CaseProblemsError, case_reader, read_case
from diagnose.casework.replay import find_cases, replay
from diagnose.errors import BookError
from diagnose.front.problems import describe
from diagnose.reason.reasoner import Reasoner
from tests.contract import Json, check_view

FOLDER = shipped_cases() or Path("cases")
CASES = find_cases(FOLDER) if FOLDER.is_dir() else []


def sentence(path: Path) -> str:
    """What a case says of itself; a file that cannot be read still becomes a test, which then says why."""
    try:
        node = read_tree(path, str(path))
    except BookError:
        node = None
    said = node.items.get("case") if isinstance(node, Mapping) else None
    place = path.relative_to(FOLDER).with_suffix("").as_posix()
    return f"{said.value} ({place})" if isinstance(said, Text) else place


@pytest.fixture(scope="session")
def reasoner() -> Reasoner:
    """The shipped book, ready to reason."""
    return Reasoner(load_book(shipped_rules(), cache=False))


@pytest.fixture(scope="session")
def reader(reasoner: Reasoner) -> Reader:
    """One reader for all files."""
    return case_reader(reasoner.book)


def assert_holds(view: Json) -> None:
    """All that a case expects; what does not hold is told as expected and found."""
    assert view["expectations"], "a case that expects nothing proves nothing"
    failed = [one for one in view["expectations"] if not one["holds"]]
    told = [f"  {one['path']}: expected {one['expected']}, found {one['found']}" for one in failed]
    if failed:
        pytest.fail("\n".join([f"{view['case']} ({view['file']})", *told]), pytrace=False)


def run(path: Path, reasoner: Reasoner, reader: Reader) -> Json:
    """The View of a case; all problems of a file that cannot be read are told as the failure."""
    try:
        case = read_case(path, reasoner.book, reader)
    except CaseProblemsError as why:
        pytest.fail("\n".join(map(describe, why.problems)), pytrace=False)
    return replay(reasoner, case)


@pytest.mark.parametrize("path", CASES, ids=sentence)
def test_case(path: Path, reasoner: Reasoner, reader: Reader) -> None:
    """Everything that the case expects holds, and its View keeps the contract."""
    view = run(path, reasoner, reader)
    check_view(view)
    assert_holds(view)


def test_the_canary_fails(reasoner: Reasoner, reader: Reader, tmp_path: Path) -> None:
    """A case whose expectation is wrong fails with both sides of it; else all of the above would prove nothing."""
    path = tmp_path / "canary.yaml"
    path.write_text(
        'case: "A canary"\nprofile: {headset: threadless}\ncomplaints: [front-knock]\n'
        "answers: {rock-finger-across-gap: clear}\n"
        "expect: {top: something-else, ride: ride, next: done}\n",
        encoding="utf-8",
    )
    said = (
        r"A canary .+\n  top: expected something-else, found .+\n  next: expected done, found .+\n  ride: expected ride"
    )
    with pytest.raises(pytest.fail.Exception, match=said):
        assert_holds(run(path, reasoner, reader))


def test_a_case_that_expects_nothing_fails() -> None:
    """Whatever its file says, a View without expectations does not pass."""
    with pytest.raises(AssertionError, match="proves nothing"):
        assert_holds({"expectations": [], "case": "x", "file": "x.yaml"})


def test_each_system_with_complaints_has_cases() -> None:
    """A folder of rules with complaints has a folder of cases of the same name."""
    systems = {path.parent.name for path in shipped_rules().glob("*/complaints.yaml")}
    assert systems
    assert systems <= {path.relative_to(FOLDER).parts[0] for path in CASES}


def test_a_broken_case_file_is_a_test_that_says_why(reasoner: Reasoner, reader: Reader, tmp_path: Path) -> None:
    """Collecting does not stop at it; the test lists all that is wrong."""
    path = tmp_path / "broken.yaml"
    path.write_text("case: 1\ncase: 2\nprofile: [\n", encoding="utf-8")
    with pytest.raises(pytest.fail.Exception, match=r"(?s)stands here twice .+ bracket .+ not closed"):
        run(path, reasoner, reader)
