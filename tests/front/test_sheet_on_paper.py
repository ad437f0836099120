"""The job sheet on paper: two pages at any length, and what is cut there stands whole everywhere else."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from itertools import groupby, pairwise
from pathlib import Path

import pytest

from diagnose.casework.desk import Desk
from diagnose.casework.sheet import Seen, Sheet, make_sheet
from diagnose.casework.store import SqliteStore
from diagnose.front import wording
from diagnose.front.options import chosen_book
from diagnose.front.sheet import wording as say
from diagnose.front.sheet.blocks import Block, Fix, Head, Item, Page, Say, Table
from diagnose.front.sheet.form import FORMS, WHOLE, Form, cut_short, short
from diagnose.front.sheet.job import job_on_paper, job_page
from diagnose.front.sheet.markdown import as_markdown
from diagnose.front.sheet.page import as_html
from diagnose.front.sheet.room import ROOMY, SMALL, sheets
from diagnose.reason.reasoner import Reasoner
from tests.front.conftest import LOOSE_AXLE, Stand
from tests.front.long_jobs import LONG, NOTES, long_job, printed_pages
from tests.front.test_sheet import FORMS as WRITTEN
from tests.front.test_sheet import Printed, printed  # noqa: F401 - a fixture

TIGHTEST = FORMS[-1]
STYLE = Path(__file__).parents[2] / "diagnose/front/sheet/page.css"


@pytest.fixture(scope="module")
def long_ones(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Sheet]:
    """28 answers, three failed fixes, all free texts as long as they may be; and more of everything."""
    desk = Desk(Reasoner(chosen_book(())), SqliteStore(tmp_path_factory.mktemp("long") / "jobs.sqlite3"))
    return {
        "28 answers": _one(desk, ["brake-drags"], 28, planned=True),
        "two complaints": _one(desk, ["front-knock", "shifts-badly"], 50, planned=True),
        "handed on": _one(desk, ["brake-drags"], 28, planned=False),
    }


def _one(desk: Desk, complaints: list[str], answers: int, *, planned: bool) -> Sheet:
    """The first of these jobs in which three fixes failed, torques are signed, and a plan is left, or none."""
    for seed in range(1, 30):
        sheet = make_sheet(desk, long_job(desk, complaints, answers, seed=seed))
        if len(sheet.done) >= 3 and sheet.signed and bool(sheet.full) == planned:
            return sheet
    raise AssertionError(complaints)


JOBS = ("28 answers", "two complaints", "handed on")


@pytest.mark.parametrize("job", JOBS)
def test_the_longest_job_prints_on_two_pages(long_ones: dict[str, Sheet], job: str, tmp_path: Path) -> None:
    """As it is reckoned, and as a browser prints it."""
    whole = job_page(long_ones[job], "today")
    page = job_on_paper(long_ones[job], "today")
    assert sheets(whole) > 2
    assert sheets(page) <= 2
    found = printed_pages(as_html(page), tmp_path / "sheet.pdf")
    if found is None:
        pytest.skip("needs a headless browser and pdfinfo")
    assert found <= 2


@pytest.mark.parametrize("form", FORMS)
@pytest.mark.parametrize("job", JOBS)
def test_what_matters_at_the_stand_is_whole_in_every_form(long_ones: dict[str, Sheet], job: str, form: Form) -> None:
    """Fixes with steps, figures and cautions, torques, parts, repeat tests and the last check are never cut."""
    whole, tight = job_page(long_ones[job], "today"), job_page(long_ones[job], "today", form)
    assert list(_kept(tight)) == list(_kept(whole))
    assert any(isinstance(one, Table) and one.head == say.TORQUES_HEAD for one in _kept(whole))
    if job != "handed on":
        assert any(isinstance(one, Fix) for one in _kept(whole))


def _kept(page: Page) -> Iterator[Block]:
    """The blocks of the plan and of all that follows it but the notes, and all that warns; lines in a row as one."""
    within = False
    for block in _joined(page.blocks):
        if isinstance(block, Head):
            within = block.text not in (say.FINDINGS, wording.COMPLAINTS, wording.COMPLAINTS_RANKED, wording.NOTE)
            within = within and not block.text.startswith(wording.NOTES)
        head_of_notes = isinstance(block, Head) and block.text.startswith(wording.NOTES)
        if within and not head_of_notes and block != Say(say.NOTES_ON_SCREEN.format(all=NOTES)):
            yield block


def _joined(blocks: Iterable[Block]) -> Iterator[Block]:
    """Lines that follow one another, run in or not, as one."""
    for said, them in groupby(blocks, key=lambda one: isinstance(one, Say) and not one.strong):
        here = list(them)
        yield from [Say(" ".join(one.text for one in here if isinstance(one, Say)))] if said else here


@pytest.mark.parametrize("job", JOBS)
def test_every_answer_that_is_not_normal_stands_in_every_form(long_ones: dict[str, Sheet], job: str) -> None:
    """And the normal ones in all but the tightest, where they are counted or stand in the note."""
    sheet = long_ones[job]
    for form in FORMS:
        text = as_markdown(job_page(sheet, "today", form)).casefold().replace("\\", "")
        for one in sheet.seen:
            if not one.normal or form.run_in != "counted":
                assert one.name.casefold() in text
                assert one.before.casefold() in text
        if form.run_in == "counted" and job != "handed on":
            assert "normal: " in text


@pytest.mark.parametrize("job", JOBS)
def test_each_failed_fix_takes_one_line(long_ones: dict[str, Sheet], job: str) -> None:
    """Its name and that it is still there, said once for all complaints."""
    page = job_on_paper(long_ones[job], "today")
    done = [one.text for one in page.blocks if isinstance(one, Item) and one.mark == "ticked"]
    assert len(done) >= 3
    assert all(re.fullmatch(r"[^:]+: (all )?still there\.", text) for text in done)


def test_a_cut_text_says_so_and_the_page_says_where_it_is_whole(long_ones: dict[str, Sheet]) -> None:
    """The mark stands behind the text, the command under the title, and the notes say how many there are."""
    sheet = long_ones["28 answers"]
    page = job_on_paper(sheet, "today")
    assert f"diagnose jobs show {sheet.case}" in page.under
    text = as_markdown(page)
    assert text.count("... (cut)") >= 4
    newest = [say.NEWEST.format(some=some, all=NOTES) for some in range(1, NOTES)]
    assert any(told in text for told in (say.NOTES_ON_SCREEN.format(all=NOTES), *newest))
    assert not cut_short(sheet._replace(notes=(), view=None, seen=(), tag="short"), TIGHTEST)


def test_a_screen_tells_all_of_it(stand: Stand, printed: Printed) -> None:  # noqa: F811
    """Text and Markdown have every note and every free text whole; so has `diagnose jobs show`."""
    stand(*LOOSE_AXLE)
    desk = stand.desk()
    texts = [f"{number}: {LONG}"[:1_980] + " to the end" for number in range(NOTES)]
    for text in texts[2:]:
        desk.note(stand.case, text)
    desk.note_loose(stand.case, texts[0])
    desk.wait(stand.case, text=texts[1])
    for form in ("text", "markdown"):
        flat = printed.flat(form)
        assert all(text in flat for text in texts)
        assert "(cut)" not in flat
    paper = printed.flat("html")
    assert texts[0] in paper
    assert texts[-1] not in paper
    assert "... (cut)" in paper
    assert WRITTEN == ("text", "markdown", "html")


def test_a_short_job_has_all_its_findings_in_rows_and_roomy_type(stand: Stand) -> None:
    """Where there is room nothing is set smaller or in lines."""
    stand(*LOOSE_AXLE)
    sheet = make_sheet(stand.desk(), stand.case)
    page = job_on_paper(sheet, "today")
    assert not page.crowded
    assert "<body>" in as_html(page)
    assert page == job_page(sheet, "today")
    assert '<body class="crowded">' in as_html(job_page(sheet, "today", TIGHTEST))


def test_where_much_else_is_told_only_the_next_fix_is_told_step_by_step(
    stand: Stand, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The one that comes next always is; those after it are named."""
    stand(*LOOSE_AXLE)
    roomy = make_sheet(stand.desk(), stand.case)
    monkeypatch.setattr("diagnose.casework.sheet.BOTH_PAGES", 1)
    assert make_sheet(stand.desk(), stand.case).full == roomy.full[:1]


def test_the_note_of_a_full_sheet_is_one_paragraph(stand: Stand) -> None:
    """What goes along with a bike that is handed on takes a line a finding only where there is room."""
    stand.hand_off()
    sheet = make_sheet(stand.desk(), stand.case)
    lines, paragraph = job_page(sheet, "today").blocks, job_page(sheet, "today", FORMS[2]).blocks
    assert len(lines) - len(paragraph) == sheet.note.count("\n")
    assert paragraph[-1] == Say(" ".join(sheet.note.split("\n")))


def test_a_normal_answer_is_the_usual_one(stand: Stand) -> None:
    """What the axle shows is not normal; what the headset shows where nothing is amiss is."""
    stand(*LOOSE_AXLE)
    found = make_sheet(stand.desk(), stand.case).seen
    assert [one.normal for one in found if "axle" in one.name] == [False]


def test_a_line_of_normal_findings_keeps_room_for_what_is_seen_afterwards() -> None:
    """What is to be looked at again has a place for the pencil, a rider's word is told apart, two alike once."""
    seen = (
        Seen("play at the hub", "none", "", True, "mechanic", (), normal=True),
        Seen("play at the headset", "none", "", False, "mechanic", (), normal=True),
        Seen("play at the headset", "none", "", False, "mechanic", (), normal=True),
        Seen("the noise", "never", "", False, "rider", (), normal=True),
        Seen("the disc", "creased", "", True, "mechanic", (), normal=False),
    )
    from diagnose.front.sheet.findings import blocks

    told = list(blocks(Sheet("b7k2-21", None, seen=seen), FORMS[4], with_note=False))
    assert told == [
        Head(say.FINDINGS),
        Table(say.FINDINGS_HEAD, (("The disc", "creased", "_", "stand"),)),
        Say("Normal: play at the hub: none, then ________; play at the headset: none."),
        Say("Normal, on the rider's word: the noise: never."),
    ]


@pytest.mark.parametrize(
    ("text", "longest", "told"),
    [
        ("as it is", 8, "as it is"),
        ("cut at a word", 10, "cut at a ... (cut)"),
        ("onelongwordthatneverends", 10, "onelongwor ... (cut)"),
        ("a onelongwordthatneverends", 10, "a onelongw ... (cut)"),
        ("", 5, ""),
    ],
)
def test_a_text_is_cut_at_a_word(text: str, longest: int, told: str) -> None:
    """Where there is one not too far back."""
    assert short(text, longest) == told


def test_the_whole_form_cuts_nothing_and_the_others_get_tighter() -> None:
    """No form tells more than the one before it."""
    assert short(LONG * 9, WHOLE.text) == LONG * 9
    ranks = {name: place for place, name in enumerate(("none", "settled", "normal", "all", "counted"))}
    drawn = {"all": 0, "off": 1, "none": 2}
    tight = [(one.small, ranks[one.run_in], drawn[one.gauges], -one.text, -one.loose, -one.notes) for one in FORMS]
    for before, after in pairwise(tight):
        assert all(one <= other for one, other in zip(before, after, strict=True))


def test_what_is_reckoned_follows_the_style_sheet() -> None:
    """Sizes of type and heights of the page's parts are those of page.css."""
    css = STYLE.read_text(encoding="utf-8")
    small = f".crowded {{ font-size: {SMALL.size}pt; line-height: {SMALL.line};"
    gauges = [f"{before}.gauges figure {{ width: {one.gauge}mm" for before, one in (("", ROOMY), (".crowded ", SMALL))]
    for said in ("margin: 11mm 12mm 13mm", f"body {{ font: {ROOMY.size}pt/{ROOMY.line} ", small, *gauges):
        assert said in css


@pytest.mark.parametrize("script", ["a", "W", "\u8eca", "\u0439", "\U0001f6b2"])
def test_more_text_never_takes_less_paper(script: str) -> None:
    """Whatever the script; a page of nothing but text comes to more sheets the longer it is."""
    counts = [sheets(Page("t", "j", "u", (Say(f"{script * 9} " * many),))) for many in (10, 400, 4_000, 20_000)]
    assert counts == sorted(counts)
    assert counts[0] == 1
    assert counts[-1] > 2
