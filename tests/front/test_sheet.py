"""The job sheet: every state of a job on paper, hostile text as text, pictures. See also `test_sheet_on_paper`."""

from __future__ import annotations

import re
from html.parser import HTMLParser
from pathlib import Path
from xml.etree import ElementTree as ET

import pytest

from diagnose.book.pictures import PICTURES
from diagnose.casework import events
from diagnose.casework.sheet import make_sheet
from diagnose.front import wording
from diagnose.front.main import main
from diagnose.front.options import chosen_book
from diagnose.front.sheet import pictures
from diagnose.front.sheet.job import job_page
from diagnose.front.sheet.markdown import as_markdown, escaped
from diagnose.front.sheet.wording import SIGNATURES, TEST_RIDE_LATER
from tests.front.conftest import LOOSE_AXLE, SMALL, SOUND, WOBBLES, Stand

FORMS = ("text", "markdown", "html")
HOSTILE = (
    "<script>alert(1)</script>",
    "<img src=x onerror=alert(1)>",
    "'\"><svg onload=alert(1)>",
    "&lt;b&gt; & <b>",
    "[click](javascript:alert(1)) ![x](http://x.example/y)",
    "| a | b |",
    "```\n# head\n- [x] done",
    "http://evil.example www.evil.example",
    "[bold]x[/bold]",
    "=cmd|' /C calc'!A0",
    "a\x1b[31mb\x07c\u202ed\u0000",
    "</style><style>*{display:none}",
    "]]> <!-- x -->",
    "\u2028two\u2029lines",
)
ALLOWED = {
    *("html", "head", "meta", "title", "style", "body", "header", "h1", "h2", "h3", "p", "span", "strong", "br", "div"),
    *("ul", "li", "table", "thead", "tbody", "tr", "th", "td", "section", "figure", "figcaption"),
    *("svg", "g", "path", "rect", "circle", "text", "line", "defs", "pattern"),
}
VOID = {"meta", "br"}
ATTRIBUTES = re.compile(
    r"class|lang|charset|name|content|http-equiv|xmlns|viewBox|width|height|role|id|aria-labelledby|font-\w+|fill|stroke"
    r"(-\w+)*|d|x|y|rx|cx|cy|r|text-anchor|patternUnits",
    re.IGNORECASE,
)


class Reader(HTMLParser):
    """Reads a page strictly: every element closed where it should be, none and no attribute that could do something."""

    def __init__(self, page: str) -> None:
        super().__init__(convert_charrefs=True)
        self.open: list[str] = []
        self.words: list[str] = []
        self.feed(page)
        self.close()
        assert self.open == []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """An element opens."""
        assert tag in ALLOWED, tag
        assert all(ATTRIBUTES.fullmatch(name) for name, _ in attrs), attrs
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """An element that closes itself, as in SVG."""
        self.handle_starttag(tag, attrs)
        if tag not in VOID:
            self.open.pop()

    def handle_endtag(self, tag: str) -> None:
        """An element closes."""
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        """Words between elements."""
        if "style" not in self.open:
            self.words.append(data)

    def handle_comment(self, data: str) -> None:
        """There are no comments."""
        raise AssertionError(data)

    @property
    def text(self) -> str:
        """All words of the page."""
        return " ".join(" ".join(self.words).split())


class Printed:
    """`diagnose jobs sheet` over the stand's store."""

    def __init__(self, stand: Stand) -> None:
        self.stand = stand

    def __call__(self, form: str = "text", *words: str) -> str:
        """What is printed."""
        given = ["--rules", str(SMALL), "--store", str(self.stand.store), "--form", form]
        assert main(["jobs", "sheet", *given, *words, self.stand.case]) == 0
        return self.stand.capsys.readouterr().out

    def flat(self, form: str = "text") -> str:
        """The same on one line; of a page its words, so that all forms can be compared."""
        out = self(form)
        return Reader(out).text if form == "html" else " ".join(out.split())


@pytest.fixture
def printed(stand: Stand) -> Printed:
    """The command over the stand's store."""
    return Printed(stand)


# --- every state of a job ------------------------------------------------------------------------------------------


@pytest.mark.parametrize("form", FORMS)
def test_an_open_job_has_its_plan_with_boxes_and_figures(stand: Stand, printed: Printed, form: str) -> None:
    """Complaint, findings with room for what is seen after, steps to tick, torque with lbf·in and who says so."""
    stand(*LOOSE_AXLE)
    out = printed(form)
    flat = printed.flat(form)
    assert stand.case in flat
    for text in ("Wheel wobbles", "Findings", "8 to 15 N·m (71 to 133 lbf·in)", "handbook"):
        assert text.casefold() in flat.casefold().replace("\\", "")
    for text in ("Torque list", "Before it goes out", "both brakes bite", "second pair of eyes", "Repeat test"):
        assert text.casefold() in flat.casefold()
    box = {"text": "[ ]", "markdown": "- [ ]", "html": 'class="box"'}[form]
    assert out.count(box) > 8


@pytest.mark.parametrize("form", FORMS)
def test_a_bike_not_to_be_ridden_is_test_ridden_once_it_is_put_right(stand: Stand, printed: Printed, form: str) -> None:
    """Both ways the bike may go out are to tick while work is planned; only the one that holds where none is."""
    stand(*LOOSE_AXLE)
    assert stand.view()["ride"]["verdict"] == "stop"
    flat = printed.flat(form)
    assert all(text in flat for text in TEST_RIDE_LATER)
    stand.desk().end(stand.case, "declined")
    flat = printed.flat(form)
    assert wording.TEST_RIDE[1][0] in flat
    assert not any(text in flat for text in (TEST_RIDE_LATER[0], wording.TEST_RIDE[0][0]))


def test_the_last_check_stays_on_one_sheet_of_paper(stand: Stand, printed: Printed) -> None:
    """Its heading, boxes and lines to sign are one element that is not broken."""
    stand(*LOOSE_AXLE)
    out = printed("html")
    kept = out.split('<section class="keep">')[1].split("</section>")[0]
    assert wording.FINAL_CHECK in kept
    assert all(text in kept for text in (*wording.FINAL, *SIGNATURES))
    assert out.count('class="keep"') == 1


def test_the_riders_words_go_along(stand: Stand) -> None:
    """On the sheet, and in the note of a hand-off; once they were erased they are told nowhere."""
    stand.hand_off()
    desk = stand.desk()
    view = desk.view(stand.case)
    assert view["words"] == ["wobbles"]
    line = 'The rider said: "wobbles".'
    assert view["hand_off"][0]["note"].split("\n")[1] == line
    assert line in as_markdown(job_page(make_sheet(desk, stand.case), "today")).replace("\\", "")
    desk.store.erase_text(stand.case)
    assert desk.view(stand.case)["words"] == []
    assert "rider said" not in desk.view(stand.case)["hand_off"][0]["note"]


def test_a_job_of_which_nothing_was_told_has_a_sheet(stand: Stand, printed: Printed) -> None:
    """It says so, and keeps its notes."""
    stand.case = stand.desk().open("Rack 9")
    stand.desk().note(stand.case, "key in the drawer")
    for form in FORMS:
        flat = printed.flat(form)
        assert "nothing told yet" in flat
        assert "Rack 9" in flat
        assert "key in the drawer" in flat


def test_before_and_after_stand_side_by_side(stand: Stand, printed: Printed) -> None:
    """Once the fix is done and the finding looked at again, both answers stand in one row."""
    stand(*LOOSE_AXLE)
    desk = stand.desk()
    before = make_sheet(desk, stand.case).seen
    loose = next(one for one in before if "axle" in one.name)
    assert (loose.after, loose.open) == ("", True)
    check, view = loose, stand.view()
    desk.submit(stand.case, events.fix_done(view["next"]["id"], {view["complaints"][0]["id"]: "still-there"}))
    told = next(one for one in view["answers"] if one["name"] == check.name)
    value = next(one for one in desk.book.findings[told["finding"]].values if one != told["value"])
    desk.submit(stand.case, events.answered(told["check"], "mechanic", value))
    after = next(one for one in make_sheet(desk, stand.case).seen if one.name == check.name)
    assert after.before == check.before
    assert after.after == desk.book.findings[told["finding"]].values[value]
    assert "still there" in printed.flat()
    assert "[x]" in printed()


def test_a_job_that_is_over_says_how_and_what_was_done(stand: Stand, printed: Printed) -> None:
    """What was found, the fix with its result, the torques to sign; no plan any more."""
    stand(*LOOSE_AXLE, "1", "1")
    view = stand.view()
    assert view["ended"] == "cured"
    for form in FORMS:
        flat = printed.flat(form)
        assert "Over: repeat test passed" in flat
        assert "Found:" in flat
        assert "Plan, in this order".casefold() not in flat.casefold()
        assert "lbf·in" in flat


def test_a_job_that_waits_says_for_what(stand: Stand, printed: Printed) -> None:
    """What it waits for, what is loose, and what to look at when it goes on stand at the top."""
    stand(*SOUND)
    desk = stand.desk()
    desk.note_loose(stand.case, "front axle, by two turns")
    desk.wait(stand.case, text="a long bolt")
    for form in FORMS:
        flat = printed.flat(form)
        assert "Waits for: a long bolt" in flat
        assert "front axle, by two turns" in flat
        assert flat.index("long bolt") < flat.casefold().index("complaint")


def test_a_job_that_is_handed_on_has_the_note_and_no_plan(stand: Stand, printed: Printed) -> None:
    """To whom, why, how urgent, the note with all that is known; no test ride; the same once it is over."""
    stand.hand_off()
    for form in FORMS:
        flat = printed.flat(form)
        assert "Stop here and hand it on".casefold() in flat.casefold()
        assert "Note to go with the bike".casefold() in flat.casefold()
        assert "NO test ride" in flat
        assert "Plan, in this order".casefold() not in flat.casefold()
    stand.desk().end(stand.case, "handed-off")
    flat = printed.flat()
    assert "NOTE TO GO WITH THE BIKE" in flat
    assert "Why: The hub shell may be cracked after the fall." in flat
    assert "handed on to somebody else" in flat


def test_a_comeback_says_what_was_last_touched(stand: Stand, printed: Printed) -> None:
    """The fix of the earlier visit and the word on warranty stand first."""
    stand(*LOOSE_AXLE, "1", "1")
    stand.desk().come_back(stand.case)
    for form in FORMS:
        flat = printed.flat(form)
        assert "Times it came back: 1" in flat or "Came back: once" in flat
        assert "First look at what was last touched" in flat
        assert "At an earlier visit" in flat
        assert "Warranty" in flat


# --- hostile text --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("text", HOSTILE)
def test_hostile_text_is_text_in_every_form(stand: Stand, printed: Printed, text: str) -> None:
    """Label, note, what is loose and what is waited for: no element, link, picture or control character comes of it."""
    stand(*WOBBLES)
    desk = stand.desk()
    stand.case = desk.open(text)
    desk.complain(stand.case, stand.view(desk.store.cases()[1].id)["complaints"][0]["id"])
    desk.note(stand.case, text)
    desk.note_loose(stand.case, text)
    desk.wait(stand.case, text=text)
    for form in FORMS:
        out = printed(form)
        assert all(char.isprintable() or char == "\n" for char in out)
    Reader(printed("html"))
    assert "<" not in printed("markdown")


@pytest.mark.parametrize(
    ("text", "written"),
    [
        ("a *b* _c_", "a \\*b\\* \\_c\\_"),
        ("<b>&", "&#60;b&#62;&#38;"),
        ("[x](y)", "\\[x\\](y)"),
        ("# no head", "\\# no head"),
        ("1. no list", "1\\. no list"),
        ("- no list", "\\- no list"),
        ("a | b", "a \\| b"),
        ("two\nlines", "two lines"),
        ("0.5 to 1.5 mm (5 to 7)", "0.5 to 1.5 mm (5 to 7)"),
    ],
)
def test_signs_of_markdown_are_signs(text: str, written: str) -> None:
    """What would mean something is written so that it does not; figures stay readable."""
    assert escaped(text) == written


def test_links_do_not_make_themselves() -> None:
    """An address in a note is not made a link."""
    assert "://" not in escaped("see https://x.example")
    assert "www." not in escaped("see www.x.example")


def test_the_page_loads_and_runs_nothing(stand: Stand, printed: Printed) -> None:
    """No script, no address of anything to load, and a policy that forbids both."""
    stand(*LOOSE_AXLE)
    page = printed("html")
    Reader(page)
    assert "default-src 'none'" in page
    for sign in ("<script", "src=", "href=", "url(http", "@import", "javascript:"):
        assert sign not in page


def test_a_file_is_written_once_by_its_ending(stand: Stand, printed: Printed, tmp_path: Path) -> None:
    """The ending says the form; a file that is there is left alone."""
    stand(*LOOSE_AXLE)
    given = ["--rules", str(SMALL), "--store", str(stand.store)]
    for name, first in (("a.html", "<!DOCTYPE html>"), ("a.md", "# Job sheet"), ("a.txt", "Job sheet")):
        path = tmp_path / name
        assert main(["jobs", "sheet", *given, stand.case, "--output", str(path)]) == 0
        assert path.read_text(encoding="utf-8").startswith(first)
        assert main(["jobs", "sheet", *given, stand.case, "--output", str(path)]) == 2
    assert "is there already" in " ".join(stand.capsys.readouterr().err.split()) or stand.capsys.readouterr().out == ""


def test_a_file_that_cannot_be_written_is_one_message(stand: Stand, printed: Printed, tmp_path: Path) -> None:
    """It speaks of that file, not of the jobs, and leaves nothing behind."""
    stand(*LOOSE_AXLE)
    (tmp_path / "file").write_text("", encoding="utf-8")
    for output in (tmp_path / "no-folder" / "sheet.html", tmp_path / "file" / "sheet.html"):
        given = ["--rules", str(SMALL), "--store", str(stand.store), "--output", str(output)]
        assert main(["jobs", "sheet", *given, stand.case]) == 2
        err = stand.capsys.readouterr().err
        assert err.startswith(f"{output}: This file cannot be written here")
        assert "--store" not in err
        assert len(err.splitlines()) == 1
    assert printed()


def test_plain_paper_is_ascii(stand: Stand, printed: Printed) -> None:
    """With --plain every sign is one that any printer has."""
    stand(*LOOSE_AXLE)
    assert printed("text", "--plain").isascii()


# --- pictures ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", pictures.PICTURES)
def test_every_picture_is_sound_and_black_on_white(name: str) -> None:
    """It is well-formed, has words, and no colour but black, white and grey."""
    svg, words = pictures.svg(name).split("<figcaption>")
    root = ET.fromstring(svg)  # noqa: S314  our own drawing
    assert len(list(root.iter())) > 5
    assert len(words) > 20
    assert set(re.findall(r"#[0-9a-f]+", svg)) <= {"#000", "#fff", "#ddd"}


def test_every_picture_that_a_fix_may_name_is_drawn_and_named_by_one() -> None:
    """The names that the book knows are those that are drawn, and none is without a fix."""
    named = {fix.picture for fix in chosen_book(()).fixes.values() if fix.picture}
    assert set(PICTURES) == set(pictures.PICTURES) == named


def test_markdown_tables_have_as_many_cells_as_heads(stand: Stand) -> None:
    """Each row of a table has as many cells as its head, whatever stands in them."""
    stand(*LOOSE_AXLE)
    lines = as_markdown(job_page(make_sheet(stand.desk(), stand.case), "today")).split("\n")
    tables = [line for line in lines if line.startswith("|")]
    assert len(tables) > 4
    assert all(len(re.findall(r"(?<!\\)\|", line)) in (5, 6) for line in tables)
