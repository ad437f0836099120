"""`diagnose rules new`: lines in, rule files and a worked case out; what is not known is marked."""

from __future__ import annotations

import io
from pathlib import Path

import pytest

from diagnose.book.marks import TO_BE_TOLD
from diagnose.casework.draft import id_of, value_of
from diagnose.front.main import main
from tests.book.broken_books import lay_small
from tests.shipped import shipped_book

WHAT = ["top cap missing", "", "Nothing presses the bearings, the cap is gone.", ""]
COMPLAINT = ["knocks at the front", "1", "10", ""]
NEW_QUESTION = [
    *(
        "cap gone from the stem",
        "",
        "the top of the stem",
        "Look at the top of the stem: is the cap there?",
        "1",
        "it is there",
    ),
    *("the cap is gone", "97", "1", "", "0.2", ""),
]
KNOWN_QUESTION = ["play at headset", "1", "2", "90", ""]
ALIKE = ["preload", "1", "", ""]
REPAIR = [
    *("fit a new cap", "Put the cap on.", "Turn it in until 3 mm stay free.", "nothing like it", "2", ""),
    *("hex keys", "", "", "2", "5", "1", "95", "The play is gone.", "Look at the bearings.", ""),
]
REST = ["", "2", "The steering knocks.", "1", "A bike from the car rack whose cap was lost", "1"]
ALL = [*WHAT, *COMPLAINT, *KNOWN_QUESTION[:-1], *NEW_QUESTION, *ALIKE, *REPAIR, *REST]


@pytest.fixture(autouse=True)
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The small book in the current folder, for every command."""
    lay_small(tmp_path)
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("COLUMNS", "76")
    return tmp_path


def new(monkeypatch: pytest.MonkeyPatch, lines: list[str], *arguments: str, end: str = "\n") -> int:
    """Run the command with these lines."""
    text = "\n".join(lines) + end
    monkeypatch.setattr("sys.stdin", io.TextIOWrapper(io.BytesIO(text.encode()), encoding="utf-8"))
    return main(["rules", "new", *arguments, "--rules", "book"])


CAUSE = Path("ours/rules/causes/top-cap-missing.yaml")
CASE = Path("ours/cases/top-cap-missing.yaml")


def test_all_that_is_told_stands_in_the_files(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Without a mark; the check finds nothing in them, the case holds, and tidy has nothing to do."""
    assert new(monkeypatch, ALL) == 0
    out = capsys.readouterr().out
    text = CAUSE.read_text(encoding="utf-8")
    for piece in (
        'name: "top cap missing"',
        "front-knock: 10 in 100",
        "play-at-headset: {clear: 90 %}",
        "top-stem: {cap-gone: 97 %}",
        "danger: care",
        "cured: 95 in 100",
        "tools: [hex-keys]",
        '- "Put the cap on."',
        "minutes: {low: 2, high: 5}",
    ):
        assert piece in text, (piece, text)
    assert TO_BE_TOLD not in "".join(path.read_text(encoding="utf-8") for path in Path("ours").rglob("*.yaml"))
    assert "it is on top. Verdict on riding in the case: with care." in " ".join(out.split())
    assert main(["replay", "ours/cases", "--rules", "book", "--rules", "ours/rules"]) == 0
    assert main(["rules", "tidy", "--check", "ours/rules", "ours/cases"]) == 0
    capsys.readouterr()
    main(["rules", "check", "book", "ours/rules"])
    assert not [line for line in capsys.readouterr().out.splitlines() if line.startswith("ours")]


@pytest.mark.parametrize("place", range(1, len(ALL), 3))
def test_going_back_takes_another_answer_to_the_question_before(place: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """Wherever: the same files as without the detour, and nothing of what was told first."""
    assert new(monkeypatch, ALL) == 0
    straight = {path: path.read_text("utf-8") for path in Path("ours").rglob("*.yaml")}
    for path in straight:
        path.unlink()
    assert new(monkeypatch, [*ALL[:place], "<", *ALL[place - 1 :]]) == 0
    assert {path: path.read_text("utf-8") for path in Path("ours").rglob("*.yaml")} == straight


def test_going_back_from_the_first_question_asks_it_again(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """And to the first one from the second, where another name may be told."""
    assert new(monkeypatch, ["<", "cap missin", "<", "<", *ALL]) == 0
    assert capsys.readouterr().out.count("This is the first question.") == 2
    assert [path.name for path in Path("ours").rglob("*missing.yaml")] == ["top-cap-missing.yaml"] * 2


def test_several_kinds_of_bike_are_all_kept(monkeypatch: pytest.MonkeyPatch) -> None:
    """Two answers to one question, one of them twice: both stand in the file, the case has the first."""
    assert new(monkeypatch, [*ALL[:3], "stem or bars", "1", "fork or headset", "1", "stem or bars", "1", *ALL[3:]]) == 0
    assert "applies: {recent-work: [stem, fork]}" in CAUSE.read_text(encoding="utf-8")
    assert "recent-work: stem" in CASE.read_text(encoding="utf-8")
    findings = Path("ours/rules/findings.yaml").read_text(encoding="utf-8")
    assert "\n  applies: {recent-work: [stem, fork]}\n  checks:\n" in findings  # asked of no other bike for its sake


def test_all_brakes_are_offered_where_a_brake_is_meant(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """On the shipped book: who types one kind of brake may mean several, whatever else is called so."""
    text = "\n".join([*ALL[:3], "cable brake", ""])
    monkeypatch.setattr("sys.stdin", io.TextIOWrapper(io.BytesIO(text.encode()), encoding="utf-8"))
    main(["rules", "new"])
    offered = capsys.readouterr().out.partition("The book has:")[2]
    brakes = shipped_book().facts["brake"].values
    assert all(said in offered.partition("Which? ")[0] for said in brakes.values())


def test_a_fix_that_does_not_come_first_is_told(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """The case expects the author's fix, not whatever came of it: it does not hold yet, and that is said."""
    seen = [*KNOWN_QUESTION[:-1], *NEW_QUESTION]
    weak = [
        "30" if one == "97" else "25" if one == "1" and seen[place - 1] == "97" else one
        for place, one in enumerate(seen)
    ]
    complaint, rest = ["knocks at the front", "1", "1", ""], [*REST[:-1], "", "1"]
    assert new(monkeypatch, [*WHAT, *complaint, *weak, *ALIKE[:-1], *REPAIR, *rest]) == 1
    out = " ".join(capsys.readouterr().out.split())
    assert "The first thing to be put right would be another: " in out
    assert "fit-new-cap" in CASE.read_text(encoding="utf-8")
    assert main(["replay", "ours/cases", "--rules", "book", "--rules", "ours/rules"]) == 1


def test_a_third_answer_a_new_part_and_a_measurement(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Stand in their files without a mark, pass the check, and the case measures."""
    third = [*NEW_QUESTION[:-3], "cap cracked", "2.5", "2", "", "0.2"]
    measured = [
        "width",
        "width of the slot",
        "How wide is the slot of the cap?",
        "3",
        "9 mm",
        "9",
        "19.5",
        "30",
        "right",
        "too wide",
    ]
    part = ["spare cap", "2", "5", ""]
    repair = [*REPAIR[:8], *part, *REPAIR[9:]]
    lines = [*WHAT, *COMPLAINT, *third, *measured, "90", "2", "1", "", *ALIKE, *repair, *REST]
    code = new(monkeypatch, lines)
    out = capsys.readouterr().out
    findings = Path("ours/rules/findings.yaml").read_text("utf-8")
    assert 'cap-cracked: "cap cracked"' in findings, out
    assert "top-stem: {cap-gone: 97 %, cap-cracked: 2.5 %}" in CAUSE.read_text("utf-8")
    assert "value.unreferenced" not in out
    assert "otherwise: {cap-gone: 1 %, cap-cracked: 2 %}" in findings
    assert "measure: {unit: mm, from: 0, to: 30}" in findings
    assert "right: {up_to: limit-width-slot.high}" in findings
    assert 'spare-cap: {name: "spare cap", price: {low: 2, high: 5}}' in Path("ours/rules/parts.yaml").read_text(
        "utf-8"
    )
    assert "How wide is the slot of the cap? It should be {limit-width-slot}." in findings
    assert "look-width-slot: {reading: 19.5 mm}" in CASE.read_text("utf-8")
    assert TO_BE_TOLD not in "".join(path.read_text(encoding="utf-8") for path in Path("ours").rglob("*.yaml"))
    assert code == 0, out
    assert main(["rules", "tidy", "--check", "ours/rules", "ours/cases"]) == 0


def test_a_number_with_a_unit_becomes_a_limit(monkeypatch: pytest.MonkeyPatch) -> None:
    """In a step, by its id in braces."""
    assert new(monkeypatch, ALL) == 0
    limits = Path("ours/rules/limits.yaml").read_text(encoding="utf-8")
    assert "  high: 3\n  unit: mm\n  kind: maximum\n" in limits
    name = limits.split(":")[0]
    assert f"Turn it in until {{{name}}} stay free." in CAUSE.read_text(encoding="utf-8")


def test_what_is_not_known_is_marked_and_the_check_points_at_it(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Every number and text; the book can be used all the same."""
    unknown = ["?", "top cap missing", "", "?", "", "knocks at the front", "1", "?", ""]
    unknown += ["play at headset", "1", "2", "?"]
    unknown += ["", "", "fit a new cap", "?", "", "", "?", "?", "?", "?", "?", "?", "", "", "?", "?", "", "", "1"]
    new(monkeypatch, unknown)
    out = capsys.readouterr().out
    lines = [number for number, line in enumerate(CAUSE.read_text("utf-8").splitlines(), 1) if TO_BE_TOLD in line]
    assert len(lines) >= 9
    for number in lines:
        assert f"- {CAUSE.as_posix()}:{number}\n" in out
    main(["rules", "check", "book", "ours/rules"])
    told = capsys.readouterr().out
    assert "The book reads well" in told
    for number in lines:
        assert f"{CAUSE.as_posix()}:{number}:" in told


@pytest.mark.parametrize("kept", [0, 1, 4, 9, 20, len(ALL) - 2, len(ALL) - 1])
def test_lines_that_end_early_leave_nothing_behind(
    kept: int, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Wherever they end: one message says at which question, and how to go on; exit 2."""
    assert new(monkeypatch, ALL[:kept], end="\n" if kept else "") == 2
    said = capsys.readouterr()
    asked = [line.strip() for line in said.out.split("> ")[-2 if kept else 0].splitlines() if line.strip()]
    assert asked
    told = " ".join(said.err.split())
    assert told.startswith('The lines end at the question "')
    assert "nothing was written" in told
    assert not Path("ours").exists()


@pytest.mark.parametrize(("last", "told"), [("2", "Left. Nothing was written."), ("1", "Kept.")])
def test_nothing_is_kept_unless_the_author_says_so(
    last: str, told: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """An empty line and a wrong number are asked again; who says no has no file, and what was there is as before."""
    Path("ours/rules").mkdir(parents=True)
    findings = Path("ours/rules/findings.yaml")
    findings.write_text("# mine\n", encoding="utf-8")
    assert new(monkeypatch, [*ALL[:-1], "", "3", last]) == (0 if last == "1" else 1)
    out = capsys.readouterr().out
    assert told in out
    assert out.count("Keep these files?") == 1
    assert "A number from 1 to 2 is wanted; ?: I do not know." in out
    assert CAUSE.exists() == (last == "1")
    assert (findings.read_text("utf-8") == "# mine\n") == (last == "2")


def test_the_author_may_call_the_file_otherwise(monkeypatch: pytest.MonkeyPatch) -> None:
    """By a name of small letters and hyphens that nothing has yet."""
    lines = [ALL[0], "Cap gone!", "preload-lost", "cap-gone", *ALL[2:]]
    assert new(monkeypatch, lines) == 0
    assert Path("ours/rules/causes/cap-gone.yaml").exists()
    assert "top: cap-gone" in Path("ours/cases/cap-gone.yaml").read_text("utf-8")


@pytest.mark.parametrize(
    ("text", "made"),
    [
        ("bushes of a sprung seat post have play", "bushes-sprung-seat-post-play"),
        ("chain tensioner's spring tired, or its bolt dry", "chain-tensioner-spring-tired"),
        ("rim, cracked", "rim-cracked"),
        ("It is", "it-is"),
        ("Ölkännchen", "olkannchen"),
    ],
)
def test_an_id_is_made_of_the_words_that_tell(text: str, made: str) -> None:
    """Not of those that only tie them together, nor of what comes behind an or."""
    assert id_of(text, []) == made


@pytest.mark.parametrize(
    ("text", "taken", "made"),
    [
        ("Set the plate back on its old print and tighten it", [], "set-plate-back"),
        ("Set the plate back on its old print and tighten it", ["set-plate-back"], "set-plate-back-old-print"),
        ("new pair of plates under the shoes", [], "new-pair-plates"),
        ("Tighten to the value", [], "tighten-value"),
    ],
)
def test_an_id_of_what_is_done_has_its_first_words(text: str, taken: list[str], made: str) -> None:
    """All of them only where another has the short one."""
    assert id_of(text, taken, short=True) == made


def test_an_answer_has_the_first_words_of_its_text() -> None:
    """And no two the same."""
    assert value_of("limp: hangs down, does not come back", []) == "limp-hangs-down"
    assert value_of("no", ["no"]) == "no-2"
    assert value_of("", []) == "other"


@pytest.mark.parametrize(
    ("answers", "values", "told"),
    [
        (["97", "1", ""], "cap-gone", "the cap is gone"),
        (
            ["60", "1", "cap cracked", "37", "0.5", ""],
            "[cap-gone, cap-cracked]",
            "the cap is gone; or cap cracked",
        ),
    ],
)
def test_a_look_that_settles_it_becomes_a_deduction(
    answers: list[str], values: str, told: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Asked of what hardly any other bike shows; it proves the cause, and the check finds nothing in it."""
    seen = [*KNOWN_QUESTION[:-1], *NEW_QUESTION[:7], *answers, "0.2", ""]
    lines = [*WHAT, *COMPLAINT, *seen, *ALIKE[:-1], "1", *REPAIR, *REST]
    assert new(monkeypatch, lines) == 0
    assert "Does one of these settle it by itself" in capsys.readouterr().out
    deductions = Path("ours/rules/deductions.yaml").read_text("utf-8")
    assert f"when: {{top-stem: {values}}}\n  then: {{rule_in: [top-cap-missing]}}" in deductions
    assert f'because: "The top of the stem: {told}. Nothing else looks like that."' in deductions
    assert main(["rules", "tidy", "--check", "ours/rules", "ours/cases"]) == 0
    capsys.readouterr()
    main(["rules", "check", "book", "ours/rules"])
    assert not [line for line in capsys.readouterr().out.splitlines() if line.startswith("ours")]


def test_what_is_seen_may_be_left_open(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    """Where more would be seen, and how it is asked for: both are marked, and the check points at them."""
    seen = [*NEW_QUESTION[:3], "?", *NEW_QUESTION[4:-1], "?"]
    assert new(monkeypatch, [*WHAT, *COMPLAINT, *seen, *ALIKE, *REPAIR, *REST]) == 0
    out = capsys.readouterr().out
    assert f"shows: # {TO_BE_TOLD} what else is seen on such a bike" in " ".join(CAUSE.read_text("utf-8").split())
    findings = Path("ours/rules/findings.yaml")
    assert f'ask: "{TO_BE_TOLD}"' in findings.read_text("utf-8")
    assert f"- {CAUSE.as_posix()}:" in out
    assert f"- {findings.as_posix()}:" in out


def test_words_that_fit_no_complaint_offer_the_nearest(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """On the shipped book: a few, the whole list only for a question mark, and that once."""
    text = "\n".join([*WHAT, "xqzt", "?", "?", "?", "xqzt", "1", ""])
    monkeypatch.setattr("sys.stdin", io.TextIOWrapper(io.BytesIO(text.encode()), encoding="utf-8"))
    main(["rules", "new"])
    out = capsys.readouterr().out.partition("in these words. The nearest:")[2]
    near, every, again = out.partition("All complaints of")
    names = [one.name for one in shipped_book().complaints.values()]
    assert len([one for one in names if f" {one}\n" in near]) == 5
    assert all(one in " ".join((every + again).split()) for one in names)
    assert again.count("All complaints of") == 0
    assert "Take the nearest. Or leave" in again


RARE = [
    "crack in the cap",
    "",
    "crack in the cap",
    "Is the cap cracked?",
    "1",
    "it is whole",
    "it is cracked",
    "8",
    "1",
]


def test_dangerous_only_where_something_is_seen(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """A deduction says so, the look guards against riding, and a second case has such a bike."""
    seen = [*KNOWN_QUESTION[:-1], *NEW_QUESTION[:-1], *RARE, "", "0.3", ""]
    rest = ["", "4", "3", "The cap breaks and the bars turn.", "1", "A bike from the car rack", "1"]
    code = new(monkeypatch, [*WHAT, *COMPLAINT, *seen, *ALIKE, *REPAIR, *rest])
    out = " ".join(capsys.readouterr().out.split())
    deductions = Path("ours/rules/deductions.yaml").read_text("utf-8")
    assert "when: {crack-cap: cracked}\n  then: {danger: stop}" in deductions, out
    assert "danger: none" in CAUSE.read_text("utf-8")
    assert "minutes: 0.3\n      danger: yes" in Path("ours/rules/findings.yaml").read_text("utf-8")
    ridden, stopped = CASE.read_text("utf-8"), CASE.with_name("top-cap-missing-dangerous.yaml").read_text("utf-8")
    assert "ask-crack-cap: whole" in ridden
    assert "ask-crack-cap: cracked" in stopped
    assert "ride: stop" in stopped
    assert "ride: stop" not in ridden
    assert 'case: "A bike from the car rack. Not to be ridden: The cap breaks and the bars turn."' in stopped
    assert code == 0, out
    assert main(["replay", "ours/cases", "--rules", "book", "--rules", "ours/rules"]) == 0
    assert main(["rules", "tidy", "--check", "ours/rules", "ours/cases"]) == 0


def test_what_such_a_bike_cannot_show_is_not_offered(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """A finding for other bikes only is left out."""
    path = Path("book/front/findings.yaml")
    text = path.read_text(encoding="utf-8")
    only = text.replace("steering-feel:\n", "steering-feel:\n  applies: {headset: threaded}\n")
    path.write_text(only, encoding="utf-8")
    lines = ["top cap missing", "", "The cap is gone.", "threadless", "1", "", *COMPLAINT, "steering turns notchy", ""]
    new(monkeypatch, lines, end="")
    assert "how the steering turns" not in capsys.readouterr().out
    path.write_text(text, encoding="utf-8")
    new(monkeypatch, lines, end="")
    assert "how the steering turns" in capsys.readouterr().out


def test_a_number_is_no_complaint(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    """Whoever takes the question for a list is told so, and goes on."""
    assert new(monkeypatch, [*WHAT, "4", *ALL[len(WHAT) :]]) == 0
    assert "Words are wanted here, not a number." in capsys.readouterr().out


def test_a_second_cause_is_put_beside_the_first(monkeypatch: pytest.MonkeyPatch) -> None:
    """What stands in the folder stays, comments too; no id is used twice, no file written over."""
    assert new(monkeypatch, ALL) == 0
    findings = Path("ours/rules/findings.yaml")
    first = "# ours\n" + findings.read_text(encoding="utf-8")
    findings.write_text(first, encoding="utf-8")
    before = CAUSE.read_text(encoding="utf-8")
    new(monkeypatch, ALL)
    assert CAUSE.read_text(encoding="utf-8") == before
    assert CAUSE.with_name("top-cap-missing-2.yaml").exists()
    assert findings.read_text(encoding="utf-8").startswith(first.rstrip())
    assert len(findings.read_text(encoding="utf-8")) > len(first) + 50


def test_a_systems_folder_of_a_book_takes_it_too(monkeypatch: pytest.MonkeyPatch) -> None:
    """Then no own folder is made, and the case goes to the cases of that system."""
    assert new(monkeypatch, ALL, "book/front") == 0
    assert Path("book/front/causes/top-cap-missing.yaml").exists()
    assert Path("cases/front/top-cap-missing.yaml").exists()
    assert not Path("book/front/book.yaml").exists()
    assert main(["replay", "cases/front", "--rules", "book"]) == 0


@pytest.mark.parametrize(
    ("lines", "folder", "told"),
    [
        (ALL, "book", "book is a whole book."),
        (ALL, "book/book.yaml", "book/book.yaml is a file."),
    ],
)
def test_what_cannot_be_written_is_told(
    lines: list[str], folder: str, told: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """In one message, exit 2, and nothing is left behind."""
    assert new(monkeypatch, lines, folder) == 2
    assert told in " ".join(capsys.readouterr().err.split())
    assert not Path("ours").exists()


def test_leaving_leaves_nothing_behind(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    """An interrupt in the middle of the questions."""

    class Interrupted(io.StringIO):
        def readline(self, size: int | None = -1, /) -> str:  # type: ignore[override]
            raise KeyboardInterrupt(size)

    monkeypatch.setattr("sys.stdin", Interrupted())
    assert main(["rules", "new", "--rules", "book"]) == 1
    assert "Nothing was written." in capsys.readouterr().out
    assert not Path("ours").exists()


def test_numbers_for_words_and_a_worse_time_than_the_best_are_refused(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Asked again, and the files are as if nothing had been typed wrong."""
    assert new(monkeypatch, ALL) == 0
    straight = {path: path.read_text("utf-8") for path in Path("ours").rglob("*.yaml")}
    for path in straight:
        path.unlink()
    at = len(ALL) - len(REST) - len(REPAIR) + REPAIR.index("2", 7) + 1
    capsys.readouterr()
    assert new(monkeypatch, ["12", *ALL[:at], "1", *ALL[at:-2], "7", *ALL[-2:]]) == 0
    out = capsys.readouterr().out
    assert out.count("Words are wanted here, not a number.") == 2
    assert "A number from 2 to 600 is wanted" in out
    assert {path: path.read_text("utf-8") for path in Path("ours").rglob("*.yaml")} == straight


def asked_of_the_shipped_book(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], *lines: str) -> str:
    """What is said beside the shipped book until these lines end."""
    text = "".join(f"{line}\n" for line in lines)
    monkeypatch.setattr("sys.stdin", io.TextIOWrapper(io.BytesIO(text.encode()), encoding="utf-8"))
    assert main(["rules", "new"]) == 2
    return " ".join(capsys.readouterr().out.split())


MAGNET = ("magnet brushes sensor", "", "The magnet on the spoke brushes the sensor at every turn.")


def test_what_may_be_the_same_is_named_first(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Of the causes of that complaint, and before anything is told that would be in vain."""
    worn = ("brake pads worn", "", "The pads are worn to the metal.", "")
    out = asked_of_the_shipped_book(monkeypatch, capsys, *worn, "weak-brake", "3", "")
    assert "(pads-worn)" in out[out.index("Look first") :]
    out = asked_of_the_shipped_book(monkeypatch, capsys, *worn, "flat-tyre", "3", "")
    assert "Look first" not in out


def test_kinds_of_bike_are_offered_by_name(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    """And none that says how a bike came in, which is no kind of bike."""
    out = asked_of_the_shipped_book(monkeypatch, capsys, *MAGNET, "wheel axle nuts missing")
    assert "axle: axle nuts" in out
    assert "arrival:" not in out
    assert "state:" not in out


def test_of_a_finding_the_answers_that_were_meant_are_shown(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """So that all that is offered stays on a small screen."""
    lines = (*MAGNET, "", "noise-somewhere", "3", "", "ticks once a turn, something touches")
    out = asked_of_the_shipped_book(monkeypatch, capsys, *lines)
    line = out[out.index("each wheel lifted and spun: ") :].split(" / ...")[0]
    assert "ticks or scrapes once a turn: something touches" in line
    assert line.count(" / ") == 1
