"""Tidying: the layout is one, comments stay, and what is read from a file is the same, whatever hands were at it."""

from __future__ import annotations

import re
import shutil
from collections import Counter
from functools import cache
from pathlib import Path
from random import Random
from typing import Any

import pytest
import yaml

from diagnose.book.load import read_book, shape_of
from diagnose.book.model import Book
from diagnose.book.own import Source
from diagnose.book.shape import Shape
from diagnose.book.tidy import tidy
from diagnose.casework.casefile import case_shape
from diagnose.errors import BookError, Location
from diagnose.front.main import main
from diagnose.front.rulebook.tidy import ANSWERS
from tests.book.spoiling import dice, spoil

ROOT = Path(__file__).resolve().parent.parent.parent
LOADER = getattr(yaml, "CBaseLoader", yaml.BaseLoader)


@cache
def shipped() -> tuple[tuple[Path, str, Shape], ...]:
    """Every shipped rule file and worked case: path, text and shape."""
    rules, cases = ROOT / "rules", ROOT / "cases"
    found = []
    for path in [*sorted(rules.rglob("*.yaml")), *sorted(cases.rglob("*.yaml"))]:
        kind = Source.of(rules, path).kind if path.is_relative_to(rules) else None
        found.append((path, path.read_text(encoding="utf-8"), shape_of(kind) if kind else case_shape(ANSWERS)))
    return tuple(found)


def read(text: str) -> Any:
    """What the YAML library alone reads from a text, every scalar as written."""
    return yaml.load(text, Loader=LOADER)  # noqa: S506 - makes texts, lists and mappings only


CAUSE = shape_of("cause")


def lines(text: str) -> str:
    """A text of the test without its first line end."""
    return text.removeprefix("\n")


# --- the layout -----------------------------------------------------------------------------------------------------


def test_keys_stand_in_the_order_of_the_format_with_their_comments() -> None:
    """A comment goes with the key below it, one at the end of a line with its line; unknown keys come last."""
    before = lines("""
# About this cause.
danger: none   # as far as we know
common_for:
    front-knock: 5 in 100
# Said by riders.
name: "a cause"

odd: 1
in_short: "It knocks."
""")
    assert tidy(before, "x", CAUSE) == lines("""
# About this cause.
# Said by riders.
name: "a cause"
in_short: "It knocks."
common_for:
  front-knock: 5 in 100
danger: none   # as far as we know

odd: 1
""")


def test_what_stands_above_the_first_key_stays_there() -> None:
    """Whichever key comes first afterwards."""
    assert tidy("# top\n\ndanger: none\nname: n\n", "x", CAUSE) == "# top\n\nname: n\ndanger: none\n"


def test_rungs_and_steps_are_put_in_order_behind_their_dash() -> None:
    """Two spaces a level; comments that stood behind a dash go above it; braces are ordered too."""
    before = lines("""
ladder:
- # cheap
  name: "Look"
  fix: look-it-over
  minutes: {high: 4, low: 2}
  # how
  steps:
      - {limits: [a], text: "Look, then {a}."}
      # last
      - "Go on."
- fix: more
  # what is said
  name: "More"
""")
    assert tidy(before, "x", CAUSE) == lines("""
ladder:
  # cheap
  - fix: look-it-over
    name: "Look"
    minutes: {low: 2, high: 4}
    # how
    steps:
      - {text: "Look, then {a}.", limits: [a]}
      # last
      - "Go on."
  - fix: more
    # what is said
    name: "More"
""")


def test_the_order_of_values_causes_and_steps_is_the_authors() -> None:
    """Only what the format names is put in order."""
    text = 'play:\n  name: "play"\n  values: {none: "none", clear: "clear", a: "a"}\n  otherwise: {none: 1 in 2}\n'
    assert tidy(text, "x", shape_of("findings.yaml")) == text


def test_texts_of_several_lines_go_along_as_they_are() -> None:
    """Moved with their key; blank lines within them stay, and so do spaces that mean something."""
    before = 'note: |\n   one  \n\n\n   # two\nin_short: "a\n\n\n b"\nname: plain\n and more\n'
    after = 'name: plain\n  and more\nin_short: "a\n\n\n  b"\nnote: |\n   one  \n\n\n   # two\n'
    assert tidy(before, "x", CAUSE) == after
    assert read(before) == read(after)


def test_loose_space_goes() -> None:
    """At line ends, more than one blank line, line ends of another kind, and what is missing or too much at the end."""
    assert tidy("name: a  \r\n\r\n\r\n \t\r\nin_short: b", "x", CAUSE) == "name: a\n\nin_short: b\n"
    assert tidy("\n\nname: a\n\n\n", "x", CAUSE) == "name: a\n"
    assert tidy("# nothing yet\n\n\n", "x", CAUSE) == "# nothing yet\n"
    assert tidy("", "x", CAUSE) == ""


def test_a_comment_further_right_than_the_key_below_ends_the_block_above() -> None:
    """And moves with it."""
    before = "shows:\n    play: {none: likely}\n    # the rest is as ever\n# next\nname: a\n"
    after = "# next\nname: a\nshows:\n  play: {none: likely}\n  # the rest is as ever\n"
    assert tidy(before, "x", CAUSE) == after


def test_braces_over_several_lines_with_a_comment_keep_their_order() -> None:
    """There is no telling what the comment is about."""
    text = "danger: none\nladder:\n  - minutes: {high: 3, # slow\n      low: 2}\n"
    assert tidy(text, "x", CAUSE) == text
    text = "ladder:\n  - minutes: {high: 3,\n      low: 2}\n"
    assert tidy(text, "x", CAUSE) == "ladder:\n  - minutes: {low: 2,\n      high: 3}\n"


@pytest.mark.parametrize("text", ["a: [1\n", "a: 1\na: 2\n", "a: &b 1\n", "- a: !!str b\n"])
def test_what_the_loader_does_not_read_is_refused(text: str) -> None:
    """With its place, as ever."""
    with pytest.raises(BookError) as told:
        tidy(text, "x", CAUSE)
    assert told.value.location
    assert told.value.location.file == "x"


# --- what is read stays the same ------------------------------------------------------------------------------------


def without_places(value: Any) -> Any:
    """A book without its places, in which the order of every mapping still counts."""
    if isinstance(value, Location):
        return None
    if isinstance(value, Book):
        names = [name for name in Book.__dataclass_fields__ if name not in ("fingerprint", "volumes")]
        return {name: without_places(getattr(value, name)) for name in names}
    if isinstance(value, dict):
        return [(key, without_places(one)) for key, one in value.items()]
    if isinstance(value, tuple):
        return [without_places(one) for one in value]
    return value


def test_the_shipped_book_reads_the_same_when_it_is_tidy(tmp_path: Path) -> None:
    """Down to the order of values, rungs and steps."""
    folder = tmp_path / "rules"
    shutil.copytree(ROOT / "rules", folder)
    before, _ = read_book(folder)
    for path, text, shape in shipped():
        if path.is_relative_to(ROOT / "rules"):
            (folder / path.relative_to(ROOT / "rules")).write_text(tidy(text, "x", shape), encoding="utf-8")
    after, problems = read_book(folder)
    assert [problem for problem in problems if problem.severity == "error"] == []
    assert before
    assert after
    assert without_places(after) == without_places(before)


def test_every_shipped_file_is_tidy_after_one_time() -> None:
    """What is tidy stays as it is: every eighth file, since the test below holds each against its own text."""
    for path, text, shape in shipped()[::8]:
        once = tidy(text, path.name, shape)
        assert tidy(once, path.name, shape) == once, path
        assert read(once) == read(text), path


def test_every_shipped_file_is_tidy(capsys: pytest.CaptureFixture[str]) -> None:
    """As `.ci/run` looks at it."""
    assert main(["rules", "tidy", "--check", str(ROOT / "rules"), str(ROOT / "cases")]) == 0, capsys.readouterr().out


def ruffle(text: str, random: Random) -> str:
    """The same file as another editor and other habits would leave it; every comment that is added is its own."""
    wide = random.choice([1, 2, 3])
    inside = {line for node in _texts(yaml.compose(text, Loader=LOADER)) for line in range(node[0] + 1, node[1] + 1)}
    found: list[str] = []
    for number, line in enumerate(text.split("\n")):
        if number in inside:
            found.append(" " * (wide - 1) * 40 + line if line.strip() and wide > 1 else line)
            continue
        indent = len(line) - len(line.lstrip(" "))
        if line.strip() and random.random() < 0.2:
            found.append(" " * indent * wide + f"# above {number}")
        if random.random() < 0.1:
            found.extend([""] * random.randint(1, 3))
        end = f"  # beside {number}" if line.strip() and number + 1 not in inside and random.random() < 0.1 else ""
        told = re.sub(r"^- ", "-" + " " * (2 * wide - 1), line.lstrip(" "))
        found.append(" " * indent * wide + told + end + " " * random.randint(0, 2))
    return random.choice(["\n", "\r\n"]).join(found)


def _texts(node: Any) -> list[tuple[int, int]]:
    """First and last line of every scalar, list and mapping in braces that has several lines."""
    own = [(node.start_mark.line, node.end_mark.line)]
    if isinstance(node, yaml.ScalarNode) or node.flow_style:
        return own
    children = [one for pair in node.value for one in (pair if isinstance(pair, tuple) else (pair,))]
    return [span for child in children for span in _texts(child)]


COMMENT = re.compile(r"# (?:above|beside) \d+")


@pytest.mark.parametrize("part", range(4))
def test_ruffled_files_become_tidy_with_every_comment(part: int) -> None:
    """Another indentation, comments, blank lines, loose spaces: the same is read, and no comment is lost."""
    for path, text, shape in shipped()[part::16]:
        if re.search(r": *[|>]", text):
            continue
        ruffled = ruffle(tidy(text, path.name, shape), dice(path.name))
        assert read(ruffled) == read(text), path
        after = tidy(ruffled, path.name, shape)
        assert read(after) == read(text), path
        assert Counter(COMMENT.findall(after)) == Counter(COMMENT.findall(ruffled)), path
        assert tidy(after, path.name, shape) == after, path
        assert all(line == line.rstrip() for line in after.split("\n")), path


def test_what_would_fall_apart_is_refused() -> None:
    """YAML lets a key stand alone behind `? `: where tidying would part it from its line the file is left as it is."""
    text = 'case: "x"\nby: mechanic\nprofile: {brake: rim}\nanswers:\n  look: tight\n  ? weak\n  rock: none\n'
    with pytest.raises(BookError) as caught:
        tidy(text, "x.yaml", case_shape(ANSWERS))
    assert caught.value.code == "tidy.changed"


@pytest.mark.parametrize("part", range(4))
def test_spoiled_files_are_refused_or_read_as_before(part: int) -> None:
    """Tired hands: either the file cannot be read, or it says the same once it is tidy; nothing else is raised."""
    read_well = 0
    for path, text, shape in shipped()[part::8]:
        for number in range(3):
            try:
                spoiled = spoil(text, dice(f"{path.name}{number}")).decode("utf-8")
                after = tidy(spoiled, path.name, shape)
            except (BookError, UnicodeDecodeError):
                continue
            read_well += 1
            assert read(after) == read(spoiled), (path, number)
            assert tidy(after, path.name, shape) == after, (path, number)
    assert read_well > 50
