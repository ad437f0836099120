"""`diagnose rules compare`: folders and files against the book, as text and as JSON."""

from __future__ import annotations

import json
import re
import shutil
from pathlib import Path
from typing import Any

import pytest

from diagnose.front.main import main
from tests.book.broken_books import lay_small
from tests.front.test_own_folders import CASE as OWN_CASE

OWN = Path(__file__).parent.parent / "book" / "own"
CASE = """case: "It knocks, and the gap is right"
profile: {headset: threadless}
complaints: [front-knock]
answers: {finger-across-gap: clear, measure-gap: 3.5 mm, turn-bars: smooth}
expect: {top: preload-lost, ride: care, next: set-preload}
"""


@pytest.fixture(autouse=True)
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The small book with a case beside it, and an own folder with one, in the current folder."""
    lay_small(tmp_path)
    shutil.copytree(OWN, tmp_path / "own" / "rules")
    for folder, text in {"cases": CASE, "own/cases": OWN_CASE}.items():
        (tmp_path / folder).mkdir()
        (tmp_path / folder / "case.yaml").write_text(text, encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("COLUMNS", "76")
    return tmp_path


def changed(old: str, new: str) -> str:
    """A copy of a cause's file elsewhere, with a word of it changed."""
    text = Path("book/front/causes/preload-lost.yaml").read_text(encoding="utf-8")
    assert old in text
    Path("preload-lost.yaml").write_text(text.replace(old, new), encoding="utf-8")
    return "preload-lost.yaml"


def said(capsys: pytest.CaptureFixture[str], *arguments: str, code: int = 0) -> str:
    """What is printed, on one line."""
    assert main(["rules", "compare", *arguments]) == code
    told = capsys.readouterr()
    return " ".join((told.out + told.err).split())


def as_json(capsys: pytest.CaptureFixture[str], *arguments: str, code: int = 0) -> dict[str, Any]:
    """What is printed as JSON."""
    assert main(["rules", "compare", *arguments, "--json"]) == code
    told: dict[str, Any] = json.loads(capsys.readouterr().out)
    return told


def test_a_change_that_breaks_a_case_says_which(capsys: pytest.CaptureFixture[str]) -> None:
    """The case's sentence, its file, and what is found instead; exit 1."""
    out = said(capsys, changed("50 in 100", "0.2 in 100"), "--rules", "book", code=1)
    assert "cause changed, A small book: preload-lost" in out
    assert "1 of 1 concern what differs: broken by the change: 1." in out
    assert "Broken by the change: It knocks, and the gap is right cases/case.yaml" in out.replace(str(Path.cwd()), "")
    assert "likeliest cause: expected preload-lost, found" in out
    assert "What is broken, and what to do" in out
    assert "- likeliest cause: yours, or an answer that it shows, counts too much on that bike." in out


def test_a_change_that_breaks_nothing_says_what_moves(capsys: pytest.CaptureFixture[str]) -> None:
    """Shares of the case, and the minutes of the complaint."""
    out = said(capsys, changed("50 in 100", "20 in 100"), "--rules", "book")
    assert "Holds, but something moves: It knocks, and the gap is right" in out
    assert "likeliest: headset preload lost," in out
    assert "Knock at the front: " in out
    assert " min before, " in out


def test_words_alone_change_nothing(capsys: pytest.CaptureFixture[str]) -> None:
    """Or the same file once more."""
    out = said(capsys, changed("Turn the cap", "Turn that cap"), "--rules", "book")
    assert "fix changed, A small book: set-preload" in out
    assert "as before: 1" in out
    assert said(capsys, "book/../" + changed("Loosen", "Loosen"), "--rules", "book") == "Both say the same."


def test_a_file_of_the_book_is_left_out_before(capsys: pytest.CaptureFixture[str]) -> None:
    """What does this cause do? Its case is new with it, or would break without it."""
    told = as_json(capsys, "book/front/causes/bearings-worn.yaml", "--rules", "book")
    assert {(one["kind"], one["id"], one["how"]) for one in told["changes"]} == {
        ("cause", "bearings-worn", "added"),
        ("fix", "replace-bearings", "added"),
    }
    assert told["before"]["causes"] == 2
    assert told["after"]["causes"] == 3
    assert told["before"]["fingerprint"] != told["after"]["fingerprint"]
    (complaint,) = told["complaints"]
    asked = {one["check"]: one for one in complaint["after"]["questions"]}
    assert complaint["before"]["minutes"] != complaint["after"]["minutes"]
    assert all(0 < one["chance"] <= 1.000001 and one["place"] >= 1 for one in asked.values())


def test_a_file_that_the_book_needs_is_told(capsys: pytest.CaptureFixture[str]) -> None:
    """Without it the book cannot be used, and that is said by file and line."""
    out = said(capsys, "book/front/causes/gap-wrong.yaml", "--rules", "book", code=2)
    assert "the rule book cannot be used without gap-wrong.yaml: " in out
    assert out.endswith("Change a copy of it in another folder and compare that copy.")


def test_both_books_are_told_and_whose_each_change_is(capsys: pytest.CaptureFixture[str]) -> None:
    """By title and folder; what replaces a thing of the book is the own folder's."""
    out = said(capsys, "own/rules", "--rules", "book", code=1)
    assert out.startswith(
        "Before: A small book, book After: A small book, book; Rules of our shop (our-shop), own/rules"
    )
    assert "cause added, Rules of our shop (our-shop): our-shop:basket-slaps" in out
    told = as_json(capsys, "own/rules", "--rules", "book", code=1)
    assert told["after"]["titles"] == ["A small book", "Rules of our shop"]


def test_an_own_folder_against_the_book_without_it(capsys: pytest.CaptureFixture[str]) -> None:
    """Its own case is new; what it replaces breaks one of the book."""
    told = as_json(capsys, "own/rules", "--rules", "book", code=1)
    assert ("cause", "our-shop:basket-slaps", "added") in {
        (one["kind"], one["id"], one["how"]) for one in told["changes"]
    }
    assert {one["file"].rpartition("/cases/")[0][-3:]: one["how"] for one in told["cases"]} == {
        "own": "new",
        "": "broken",
    }
    assert told["cases_in_all"] == 2
    assert len(told["after"]["folders"]) == 2


def test_a_file_of_an_own_folder_against_the_rest(capsys: pytest.CaptureFixture[str]) -> None:
    """What it replaces is there before."""
    told = as_json(capsys, "own/rules/causes/gap-wrong.yaml", "--rules", "book", code=1)
    assert [(one["kind"], one["id"], one["how"]) for one in told["changes"]] == [
        ("cause", "gap-wrong", "changed"),
        ("fix", "correct-gap", "changed"),
    ]


def test_two_folders_before_and_after(capsys: pytest.CaptureFixture[str]) -> None:
    """The same two ways round: what one adds the other removes."""
    shutil.copytree("book", "new/book")
    path = Path("new/book/front/causes/preload-lost.yaml")
    path.write_text(path.read_text(encoding="utf-8").replace("50 in 100", "0.2 in 100"), encoding="utf-8")
    assert "broken by the change: 1" in said(capsys, "book", "new/book", "--cases", "cases", code=1)
    assert "mended by the change: 1" in said(capsys, "new/book", "book", "--cases", "cases")


def test_a_new_case_that_does_not_hold_fails(capsys: pytest.CaptureFixture[str]) -> None:
    """As a broken one does."""
    path = Path("own/cases/case.yaml")
    path.write_text(path.read_text(encoding="utf-8").replace("ride: ride", "ride: stop"), encoding="utf-8")
    assert "New, and does not hold: A basket that slaps is wrapped" in said(
        capsys, "own/rules", "--rules", "book", code=1
    )


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (["nowhere.yaml"], "there is no such file"),
        (["cases/case.yaml"], "this is a worked case, not a rule file"),
        (["book", "own/rules", "book"], "One or two folders of rules are compared, or files."),
        (["book", "book/book.yaml"], "One or two folders of rules are compared, or files."),
        (["cases"], "there is no book.yaml"),
    ],
)
def test_what_cannot_be_compared_is_told(arguments: list[str], told: str, capsys: pytest.CaptureFixture[str]) -> None:
    """In one message, exit 2."""
    out = said(capsys, *arguments, "--rules", "book", code=2)
    assert told in out
    assert "Traceback" not in out


DANGEROUS = """
name: "bar cracked under a clamp"
in_short: "A clamp was too tight."
applies: {bar-bag: bag}
common_for: {front-knock: 60 in 100}
basis: memory
shows: {}
danger: stop
danger_because: "The bar can break off."
hand_off: {class: workshop, urgency: before riding, reason: "A new bar."}
"""


def test_why_a_bike_is_held_now_is_told(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """How likely it was and is, which new cause brings it, and what the case does not tell of the bike."""
    rules = here / "danger" / "rules"
    (rules / "causes").mkdir(parents=True)
    (rules / "book.yaml").write_text('book: ours\ntitle: "Ours"\nadds_to: small\n', encoding="utf-8")
    values = '{none: "none", bag: "a bag"}'
    (rules / "facts.yaml").write_text(f'bar-bag: {{name: "bar bag", ask: "A bag?", values: {values}}}\n', "utf-8")
    (rules / "causes" / "bar-cracked.yaml").write_text(DANGEROUS, encoding="utf-8")
    out = said(capsys, "danger/rules", "--rules", "book", code=1)
    assert "ride verdict: expected care, found stop" in out
    assert re.search(
        r"must not be ridden: 0\.\d of 100 before, \d+\.\d of 100 now; from 5 of 100 on it is held and looked at first "
        r"of these \d+\.\d are bar cracked under a clamp \(ours:bar-cracked\) "
        r"the case does not tell of the bike: bar bag\. It may be such a one; the stand asks where it counts "
        r"nothing that can be seen tells this cause from others: give it a finding with a check",
        out,
    )
    told = as_json(capsys, "danger/rules", "--rules", "book", code=1)
    (case,) = told["cases"]
    assert case["before"]["must_not_be_ridden"] < 0.05 <= case["after"]["must_not_be_ridden"]
    assert main(["replay", "cases", "--rules", "book", "--rules", "danger/rules"]) == 1
    assert (
        "`diagnose rules compare danger/rules` says which of them hold without that folder" in capsys.readouterr().out
    )


def why_next(capsys: pytest.CaptureFixture[str], *arguments: str) -> tuple[str, dict[str, Any]]:
    """What is said, and the reason told of the one case."""
    out = said(capsys, *arguments, code=1)
    (case,) = as_json(capsys, *arguments, code=1)["cases"]
    return out, case["why_next"]


def test_a_case_that_now_asks_something_else_says_why(capsys: pytest.CaptureFixture[str]) -> None:
    """A fix that takes hours: what is expected with either first."""
    arguments = changed("low: 4, high: 10", "low: 300, high: 600"), "--rules", "book"
    out, why = why_next(capsys, *arguments)
    assert "next step: expected set-preload, found" in out
    assert re.search(
        r'why ".+" comes next now: (\d+\.\d) min to be expected until it is gone; (\d+\.\d) with the other first', out
    )
    assert why["reason"] == "dearer"
    assert why["now"] < why["other"]


@pytest.mark.parametrize(
    ("old", "new", "because"),
    [
        ("50 in 100", "0.2 in 100", "of 100 such bikes 0.2 have headset preload lost (50 before)"),
        (
            "basis: common practice\nshows",
            "applies: {headset: threaded}\nbasis: common practice\nshows",
            "headset preload lost is no cause of it any more",
        ),
        (
            "clear: very likely",
            "clear: almost no chance",
            'what was told of "play at the headset" is seen on 3 of 100 with headset preload lost (88 of 100 before)',
        ),
    ],
)
def test_another_cause_on_top_says_why(capsys: pytest.CaptureFixture[str], old: str, new: str, because: str) -> None:
    """A share, a row, or that it is no cause for such a bike; in one sentence, and in the JSON."""
    arguments = changed(old, new), "--rules", "book"
    out = said(capsys, *arguments, code=1)
    assert " is on top now: " in out
    assert because in out
    (case,) = as_json(capsys, *arguments, code=1)["cases"]
    (shifts,) = case["why_on_top"].values()
    assert shifts[0]["cause"] == "preload-lost"


RULED_OUT = """
never-ours:
  when: {headset: threadless}
  then: {rule_out: [preload-lost]}
  because: "Not on our bikes."
  basis: memory
"""


def test_a_deduction_that_puts_another_cause_on_top_is_named(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """By its id and its words."""
    rules = here / "out" / "rules"
    rules.mkdir(parents=True)
    (rules / "book.yaml").write_text('book: ours\ntitle: "Ours"\nadds_to: small\n', encoding="utf-8")
    (rules / "deductions.yaml").write_text(RULED_OUT, encoding="utf-8")
    out = said(capsys, "out/rules", "--rules", "book", code=1)
    assert "is on top now: the deduction ours:never-ours rules out headset preload lost now: Not on our bikes." in out


LUGGAGE = """
luggage:
  name: "luggage at the front"
  values: {fixed: "fixed", swings: "it swings"}
  otherwise: {fixed: 90 %}
  basis: memory
  checks:
    look-at-luggage: {ask: "Luggage?", by: rider, minutes: 0.2}
"""
DEMAND = """
rule-of-the-shop:
  when: {complaint: front-knock}
  then: {demand: [look-at-luggage]}
  because: "Luggage is looked at first."
  basis: common practice
"""


def test_a_danger_that_comes_first_is_the_reason(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """In the words of the deduction that demands it."""
    rules = here / "danger" / "rules"
    rules.mkdir(parents=True)
    (rules / "book.yaml").write_text('book: ours\ntitle: "Ours"\nadds_to: small\n', encoding="utf-8")
    (rules / "deductions.yaml").write_text(DEMAND, encoding="utf-8")
    (rules / "findings.yaml").write_text(LUGGAGE, encoding="utf-8")
    out, why = why_next(capsys, "danger/rules", "--rules", "book")
    assert "comes next now: first, because: Luggage is looked at first. (ours:rule-of-the-shop)" in out
    assert why == {"reason": "demanded", "by": "ours:rule-of-the-shop", "now": None, "other": None}


def test_where_there_is_no_terminal_a_line_now_and_then_tells_how_far(
    here: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """At every tenth, from so many cases on that it takes a while; none for a few."""
    for number in range(24):
        (here / "cases" / f"case-{number}.yaml").write_text(CASE, encoding="utf-8")
    assert main(["rules", "compare", changed("50 in 100", "20 in 100"), "--rules", "book"]) == 0
    told = capsys.readouterr().err.splitlines()
    assert told == [f"{done} of 26 cases and complaints looked at" for done in (3, 6, 8, 11, 13, 16, 19, 21, 24, 26)]
    for number in range(20):
        (here / "cases" / f"case-{number}.yaml").unlink()
    assert main(["rules", "compare", changed("50 in 100", "20 in 100"), "--rules", "book"]) == 0
    assert capsys.readouterr().err == ""


def test_a_file_of_an_own_folder_falls_with_what_names_it(capsys: pytest.CaptureFixture[str]) -> None:
    """Its deductions are left out before as well, and theirs alone; that is said, and counts as added."""
    out = said(capsys, "own/rules/causes/basket-slaps.yaml", "--rules", "book", "--cases", "own/cases")
    named = "deduction our-shop:nothing-in-front (deductions.yaml), deduction our-shop:basket-and-knock"
    assert f"Left out before: basket-slaps.yaml, and what names a thing of it: {named}" in out
    told = as_json(capsys, "own/rules/causes/basket-slaps.yaml", "--rules", "book", "--cases", "own/cases")
    assert [one["id"] for one in told["left_out_with_it"]] == ["our-shop:nothing-in-front", "our-shop:basket-and-knock"]
    assert {(one["kind"], one["id"], one["how"]) for one in told["changes"]} == {
        ("cause", "our-shop:basket-slaps", "added"),
        ("fix", "our-shop:wrap-hooks", "added"),
        ("deduction", "our-shop:nothing-in-front", "added"),
        ("deduction", "our-shop:basket-and-knock", "added"),
    }


def test_what_falls_takes_along_what_names_that(capsys: pytest.CaptureFixture[str]) -> None:
    """Without the findings the cause that shows one, and the deductions on that cause."""
    told = as_json(capsys, "own/rules/findings.yaml", "--rules", "book", "--cases", "own/cases")
    assert {one["id"] for one in told["left_out_with_it"]} == {
        "our-shop:basket-slaps",
        "our-shop:nothing-in-front",
        "our-shop:basket-and-knock",
    }
    assert told["before"]["causes"] == 3
    assert told["after"]["causes"] == 4


def test_an_own_folder_that_is_wrong_anyway_is_told(capsys: pytest.CaptureFixture[str]) -> None:
    """What is wrong with the file in it is no reason to leave it out."""
    path = Path("own/rules/deductions.yaml")
    path.write_text(path.read_text(encoding="utf-8").replace("preload-lost: 1.5", "preload-lots: 1.5"), "utf-8")
    out = said(capsys, "own/rules/causes/basket-slaps.yaml", "--rules", "book", code=2)
    assert "the rule book cannot be used: there is no cause 'preload-lots'" in out


def test_a_step_of_the_book_that_comes_first_now_is_told_as_such(capsys: pytest.CaptureFixture[str]) -> None:
    """Where what is changed is neither of the two steps; and a share that is not as expected has a line of its own."""
    path = Path("cases/case.yaml")
    path.write_text(
        CASE.replace("ride: care,", "ride: care, share: {cause: preload-lost, low: 0.5, high: 1},"), encoding="utf-8"
    )
    out = said(capsys, changed("50 in 100", "0.2 in 100"), "--rules", "book", code=1)
    assert "- next step, and it is none of yours: what you added only shifts the weights" in out
    assert "- next step: is it your question" not in out
    assert "- share: yours takes some of what that cause had." in out
