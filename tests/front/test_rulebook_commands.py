"""`diagnose rules show`, `map` and `tell-apart`: what is printed, drawn and returned."""

from __future__ import annotations

import io
import json
import os
import re
from pathlib import Path
from xml.etree import ElementTree as ET

import pytest

from diagnose.book.shelf import load_book
from diagnose.book.ties import things_of
from diagnose.front.main import main
from diagnose.front.paper import Paper
from diagnose.front.rulebook.map import draw
from diagnose.front.rulebook.show import KINDS, LISTS, Teller
from tests.shipped import shipped_book

SMALL = Path(__file__).parent.parent / "book" / "small"
GOLDEN = Path(__file__).with_name("golden")
LINE = re.compile(r"\.yaml:\d+")
SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture(autouse=True)
def beside_the_book(monkeypatch: pytest.MonkeyPatch) -> None:
    """Places are told from here."""
    monkeypatch.chdir(SMALL.parent)
    monkeypatch.setenv("COLUMNS", "76")


def run(capsys: pytest.CaptureFixture[str], *arguments: str) -> tuple[int, str, str]:
    """Exit code, output and errors of `diagnose rules` on the small book, without cases."""
    code = main(["rules", *arguments, "--rules", "small"])
    captured = capsys.readouterr()
    return code, captured.out, captured.err


def hold_golden(name: str, text: str) -> None:
    """Compare with the kept text but for the lines' numbers; with DIAGNOSE_GOLDEN=write it is kept anew."""
    text = LINE.sub(".yaml:N", text)
    path = GOLDEN / name
    if os.environ.get("DIAGNOSE_GOLDEN") == "write":
        path.write_text(text, encoding="utf-8")
    assert text == path.read_text(encoding="utf-8")


# --- show -----------------------------------------------------------------------------------------------------------


def test_without_an_id_the_kinds_are_counted(capsys: pytest.CaptureFixture[str]) -> None:
    """Each with the word that lists it, where that is another."""
    code, out, _ = run(capsys, "show")
    assert code == 0
    lines = out.splitlines()
    assert " - 3 causes" in lines
    assert " - 3 facts of the bike (facts)" in lines


@pytest.mark.parametrize("word", LISTS)
def test_all_of_a_kind_are_listed_by_their_ids(word: str, capsys: pytest.CaptureFixture[str]) -> None:
    """Sorted, each once."""
    code, out, _ = run(capsys, "show", word)
    assert code == 0
    listed = [line.partition(":")[0].removeprefix(" - ") for line in out.splitlines() if line.startswith(" - ")]
    things = things_of(load_book(SMALL))
    assert listed == sorted(thing.id for thing in things if thing.kind == LISTS[word])


@pytest.mark.parametrize(
    "name",
    ["preload-lost", "steerer-gap", "measure-gap", "top-cap-gap", "correct-gap", "front-knock", "gap-far-too-large"],
)
def test_a_thing_is_told_with_all_its_ties(name: str, capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    """A cause, a finding, a check, a limit, a fix, a complaint and a deduction of the small book, word by word."""
    (tmp_path / "cases").mkdir()
    code, out, err = run(capsys, "show", name, "--cases", str(tmp_path / "cases"))
    assert (code, err) == (0, "")
    hold_golden(f"show-{name}.txt", out)


def test_words_that_are_heard_are_told(capsys: pytest.CaptureFixture[str]) -> None:
    """Of a fact, with whether a label tells it, and of a check that a rider can answer."""
    for name, told in (
        ("which-wheel", ("the rear wheel: ", "rear wheel, back wheel", "Not heard on the bike's label.")),
        ("bike-kind", ("road or gravel: road bike", "Heard on the bike's label too.")),
        ("how-fast-flat", ("overnight, over night",)),
    ):
        assert main(["rules", "show", name]) == 0
        out = " ".join(capsys.readouterr().out.split())
        assert "Told by words that are typed" in out
        assert all(one in out for one in told)


def test_worked_cases_that_expect_a_cause_on_top_come_first(capsys: pytest.CaptureFixture[str]) -> None:
    """Those of the installed book when no folder is named; the rest is counted."""
    code = main(["rules", "show", "preload-lost"])
    out = capsys.readouterr().out
    assert code == 0
    assert " worked cases speak of it" in out
    assert out.index("expects it to be likeliest") < out.index("more\n")


def test_what_stands_in_the_shipped_book_can_be_told() -> None:
    """One thing in six, every kind among them, in few columns and in ASCII; each is told by its id."""
    book = shipped_book()
    told = set()
    stream = io.StringIO()
    teller = Teller(book, Paper(stream, plain=True, width=30), None)
    everything = list(things_of(book))
    one_of_each = {thing.kind: thing for thing in everything}
    for thing in [*one_of_each.values(), *everything[::6]]:
        stream.truncate(stream.seek(0))
        teller.tell(thing)
        text = stream.getvalue()
        assert text.isascii()
        assert all(len(line) <= 30 for line in text.splitlines())
        assert thing.id in text.replace("\n", "")
        told.add(thing.kind)
    assert told == set(KINDS)


def test_a_few_words_bring_up_what_is_like_them(capsys: pytest.CaptureFixture[str]) -> None:
    """Of each kind the best; exit 1, for nothing is called so."""
    code, out, said = run(capsys, "show", "notchy when it turns")
    assert (code, said) == (1, "")
    told = " ".join(out.split())
    assert told.startswith('Nothing is called "notchy when it turns". By its words it may be one of these: - ')
    assert " - steering-feel: finding, how the steering turns: smooth, notchy" in told


def test_nothing_of_that_name_ends_with_2(capsys: pytest.CaptureFixture[str]) -> None:
    """With the nearest that there is, and the own folder near by in which it may be."""
    told = "nothing in the book is called 'preload-lots'. Did you mean 'preload-lost'?"
    assert run(capsys, "show", "preload-lots") == (2, "", f"{told} Of an own folder? Add --rules own.\n")
    assert run(capsys, "show", "preload-lots", "--rules", "own") == (2, "", f"{told}\n")


@pytest.mark.parametrize("words", [("show", "loss"), ("tell-apart", "preload-lost", "loss"), ("map", "loss")])
def test_what_an_own_folder_has_is_found_with_rules(
    words: tuple[str, ...], tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Where none lies near it is said all the same."""
    small = SMALL.resolve()
    monkeypatch.chdir(tmp_path)
    assert main(["rules", *words, "--rules", str(small)]) == 2
    assert "Of an own folder? Add --rules FOLDER." in capsys.readouterr().err
    (tmp_path / "ours" / "rules").mkdir(parents=True)
    (tmp_path / "ours" / "rules" / "book.yaml").write_text("book: ours\nadds_to: small\n", encoding="utf-8")
    assert main(["rules", *words, "--rules", str(small)]) == 2
    assert "Of an own folder? Add --rules ours/rules." in capsys.readouterr().err


def test_two_words_near_a_name_bring_up_what_is_like_them(capsys: pytest.CaptureFixture[str]) -> None:
    """Though one name is spelled nearly so."""
    code, out, _ = run(capsys, "show", "headset preload")
    assert code == 1
    assert " - preload-lost: cause, headset preload lost" in out


def test_a_complaint_says_what_it_is_never_better_than(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Where a deduction hangs on the complaint alone."""
    assert "never better than" not in run(capsys, "show", "front-knock")[1]
    (tmp_path / "deductions.yaml").write_text(
        "knocks-ridden-with-care:\n  when: {complaint: front-knock}\n  then: {danger: care}\n"
        '  because: "What knocks is loose."\n  basis: memory\n',
        encoding="utf-8",
    )
    (tmp_path / "book.yaml").write_text('book: ours\ntitle: "Ours"\nadds_to: small\n', encoding="utf-8")
    out = " ".join(run(capsys, "show", "front-knock", "--rules", str(tmp_path))[1].split())
    assert "such a bike is never better than - Ride with care only. What knocks is loose." in out


# --- map ------------------------------------------------------------------------------------------------------------


def texts(picture: str) -> list[str]:
    """All that is written in a picture."""
    return [element.text or "" for element in ET.fromstring(picture).iter(f"{SVG}text")]  # noqa: S314 - our own


@pytest.mark.parametrize("complaint", sorted(shipped_book().complaints))
def test_every_complaint_of_the_shipped_book_can_be_drawn(complaint: str) -> None:
    """Each cause is written once, each finding asked for it at its column and below; each row of those is a field."""
    book = shipped_book()
    picture = draw(book, complaint)
    written = texts(picture)
    root = ET.fromstring(picture)  # noqa: S314 - our own
    causes = book.causes_of[complaint]
    rules = book.deductions.values()
    demanded = {book.checks[name].finding for one in rules for name in [*one.demand, *one.before_riding]}
    wanted = {one.id for one in book.findings.values() if not one.asked_for or complaint in one.asked_for} | demanded
    findings = {finding for cause in causes for finding in cause.shows} & wanted
    for cause in causes:
        assert cause.name in {text.removeprefix("!!").removeprefix("!").strip() for text in written}
    for finding in findings:
        assert written.count(book.findings[finding].name) == 2
    tips = [element.text for element in root.iter(f"{SVG}title")][1:]
    assert len(tips) == sum(len(findings & set(cause.shows)) for cause in causes)
    width, height = float(root.attrib["width"]), float(root.attrib["height"])
    for element in root.iter(f"{SVG}text"):
        assert 0 < float(element.attrib["x"]) < width
        assert 0 < float(element.attrib["y"]) < height
        if element.attrib["text-anchor"] == "start" and "transform" not in element.attrib:
            assert float(element.attrib["x"]) + 6 * len(element.text or "") < width, element.text


def test_a_field_names_the_value_that_the_cause_makes_commoner() -> None:
    """Preload that was lost: play is plain, the gap is right; both are the second of their values."""
    picture = draw(load_book(SMALL), "front-knock")
    assert "headset preload lost: play at the headset\nno movement: 12.5 of 100" not in picture
    assert "headset preload lost: gap above the steerer\ntoo little: 6 of 100 (beside 6)" in picture
    assert {"1", "2", "3", "a", "b", "! headset preload lost", "not in the book"} <= set(texts(picture))


def test_the_picture_is_written_where_it_is_wanted(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    """Into a file, over an older picture, or to standard output; never over something else."""
    path = tmp_path / "map.svg"
    assert run(capsys, "map", "front-knock", str(path)) == (0, f"Drawn: {path}\n", "")
    assert run(capsys, "map", "front-knock", str(path))[0] == 0
    code, out, _ = run(capsys, "map", "Knock at the front", "-")
    assert (code, out) == (0, path.read_text(encoding="utf-8"))
    path.write_text("my notes", encoding="utf-8")
    code, out, err = run(capsys, "map", "front-knock", str(path))
    assert (code, out) == (2, "")
    assert "is there already and is no picture; nothing was changed" in err
    assert path.read_text(encoding="utf-8") == "my notes"


def test_without_a_file_the_picture_is_named_after_the_complaint(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """In the folder where it was asked for."""
    monkeypatch.chdir(tmp_path)
    assert main(["rules", "map", "front-knock", "--rules", str(SMALL)]) == 0
    assert capsys.readouterr().out == "Drawn: front-knock.svg\n"
    assert (tmp_path / "front-knock.svg").read_text(encoding="utf-8").startswith("<svg")


def test_a_picture_that_cannot_be_written_ends_with_2(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    """As does what is no complaint."""
    code, _, err = run(capsys, "map", "front-knock", str(tmp_path / "none" / "map.svg"))
    assert code == 2
    assert "cannot be written" in err
    assert run(capsys, "map", "preload-lost", "-") == (
        2,
        "",
        '"preload-lost" is a cause, not a complaint. Complaints: front-knock.\n',
    )


# --- schemas for editors --------------------------------------------------------------------------------------------


def test_schemas_are_written_and_an_editor_is_told_which_is_for_what(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """One for each kind of file and one for worked cases; all that is printed is what an editor wants."""
    monkeypatch.chdir(tmp_path)
    assert main(["rules", "schema", "here", "--rules", str(SMALL)]) == 0
    patterns = json.loads(capsys.readouterr().out)["yaml.schemas"]
    assert patterns["here/cause.schema.json"] == "**/causes/*.yaml"
    assert patterns["here/limits.schema.json"] == "**/limits.yaml"
    assert {*patterns} == {path.as_posix() for path in Path("here").iterdir()}
    for path in Path("here").iterdir():
        assert json.loads(path.read_text(encoding="utf-8"))["$schema"].endswith("2020-12/schema")


def test_schemas_that_cannot_be_written_end_with_2(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    """With what to do."""
    (tmp_path / "taken").write_text("", encoding="utf-8")
    code, _, err = run(capsys, "schema", str(tmp_path / "taken"))
    assert code == 2
    assert "Name a folder that can be written to." in err


# --- tell apart -----------------------------------------------------------------------------------------------------


def test_two_causes_are_told_apart_in_plain_numbers(capsys: pytest.CaptureFixture[str]) -> None:
    """The checks with their minutes, what each answer speaks for, and the quickest way."""
    code, out, err = run(capsys, "tell-apart", "preload-lost", "gap-wrong")
    assert (code, err) == (0, "")
    hold_golden("tell-apart.txt", out)


def test_what_belongs_to_a_number_stands_below_its_text(capsys: pytest.CaptureFixture[str]) -> None:
    """From the first to the last, with one figure or two."""
    code = main(["rules", "tell-apart", "gear-cable-settled", "gear-cable-friction", "--all"])
    lines = capsys.readouterr().out.splitlines()
    numbered = [
        (place, found[0]) for place, line in enumerate(lines) if (found := re.match(r" \d+\. (?=\d+ right)", line))
    ]
    assert code == 0
    assert {len(begin) for _, begin in numbered} == {4, 5}
    for place, begin in numbered:
        below = next(line for line in lines[place:] if LINE.search(line))
        assert len(below) - len(below.lstrip()) == len(begin)


def test_what_nothing_tells_apart_ends_with_1(capsys: pytest.CaptureFixture[str]) -> None:
    """A rider can answer one check in the small book, and both causes show the same there."""
    code, out, _ = run(capsys, "tell-apart", "preload-lost", "gap-wrong", "--by", "rider")
    assert code == 1
    assert "No check a rider can answer tells them apart" in out


@pytest.mark.parametrize(
    ("names", "told"),
    [
        (("preload-lost", "preload-lost"), '"preload-lost" is one cause; two are needed.'),
        (("preload-lost", "front-knock"), '"front-knock" is a complaint, not a cause.'),
        (("preload-lost", "gap-wrng"), "Did you mean 'gap-wrong'?"),
    ],
)
def test_two_different_causes_are_needed(names: tuple[str, str], told: str, capsys: pytest.CaptureFixture[str]) -> None:
    """Anything else is a wrong use."""
    code, out, err = run(capsys, "tell-apart", *names)
    assert (code, out) == (2, "")
    assert told in err
