"""The rider's note: short, plain, and honest about what is not safe."""

from __future__ import annotations

import re
from pathlib import Path
from typing import get_args

import pytest

from diagnose.book.model import Book
from diagnose.book.place import shipped_cases
from diagnose.casework import events
from diagnose.casework.casefile import read_case
from diagnose.casework.desk import Desk
from diagnose.casework.memory import MemoryStore
from diagnose.casework.plain import SYSTEMS, Plain
from diagnose.casework.shapes import ENDINGS, Ending
from diagnose.casework.sheet import make_sheet
from diagnose.front.jobs.sheet import RIDER
from diagnose.front.main import main
from diagnose.front.options import chosen_book
from diagnose.front.sheet import wording as say
from diagnose.front.sheet.markdown import as_markdown
from diagnose.front.sheet.page import as_html
from diagnose.front.sheet.rider import rider_on_paper, rider_page
from diagnose.front.sheet.room import sheets
from diagnose.reason.reasoner import Reasoner
from tests.front.conftest import LOOSE_AXLE, SMALL, SOUND, Stand
from tests.front.test_sheet import Reader

EVERY = 16
"""One worked case in so many is written a note for."""


@pytest.fixture(scope="module")
def book() -> Book:
    """The shipped book, with its list of words of the workshop."""
    return chosen_book(())


def jargon(book: Book) -> re.Pattern[str]:
    """Any word of the list, in one or several."""
    words = "|".join(word.replace("-", "[- ]") for word in book.jargon)
    return re.compile(rf"(?i)\b({words})s?\b")


def note(stand: Stand, form: str = "text") -> str:
    """What `diagnose jobs rider-note` prints."""
    given = ["--rules", str(SMALL), "--store", str(stand.store), "--form", form]
    assert main(["jobs", "rider-note", *given, stand.case]) == 0
    return stand.capsys.readouterr().out


def test_no_text_of_the_book_brings_jargon_into_it(book: Book) -> None:
    """Whatever cause, fix or danger a note has to name, no word of the list stands in what is said."""
    plain, words = Plain(book), jargon(book)
    said = [plain.says(one.name, one.where, RIDER.did) for one in book.fixes.values()]
    said += [plain.says(one.name, one.where, RIDER.found) for one in book.causes.values()]
    said += [plain.says(one.danger_because, one.where, RIDER.because) for one in book.causes.values()]
    said += [plain.says(one.because, one.where, RIDER.because) for one in book.deductions.values()]
    said += [one.to for one in book.receivers.values()] + [one.name for one in book.complaints.values()]
    said += [text for name, text in vars(say).items() if name.startswith("RIDER") and isinstance(text, str)]
    assert len(said) > 500
    assert [text for text in said if words.search(text)] == []
    assert words.search("the headset's preload")


def test_every_folder_of_the_book_has_a_part_of_the_bike(book: Book) -> None:
    """A system that riders have no word for would read as `the bike`."""
    folders = {Path(one.where.file).parent.parent.name for one in book.causes.values()}
    assert folders <= set(SYSTEMS)
    assert not any(jargon(book).search(text) for text in SYSTEMS.values())


def test_notes_of_worked_cases_are_plain_and_short(book: Book) -> None:
    """Over the worked cases: no word of the list, at most a page, and a page that a browser reads."""
    folder = shipped_cases()
    assert folder
    files = sorted(folder.rglob("*.yaml"))[::EVERY]
    desk, words = Desk(Reasoner(book), MemoryStore()), jargon(book)
    for file in files:
        case = desk.open("7, blue")
        told = [one for one in read_case(file, book).told if one.kind != "opened"]
        for seq, event in enumerate(told, 2):
            desk.store.append(case, seq, event.kind, event.data, book.fingerprint)
        page = rider_page(make_sheet(desk, case, RIDER), "today")
        text = as_markdown(page)
        assert not words.search(text), (file, words.search(text))
        assert len(text) < 2_500
        Reader(as_html(page))
    assert len(files) > 30


def test_what_is_not_safe_is_said_first_and_plainly(stand: Stand) -> None:
    """A bike with a loose axle: not to be ridden, why, and what is to be done for safety."""
    stand(*LOOSE_AXLE)
    out = note(stand)
    assert "DO NOT RIDE IT" in out
    assert "Push it" in out
    assert out.index("DO NOT RIDE") < out.index("STILL TO BE DONE")


def test_a_danger_comes_with_what_keeps_the_rider_from_harm(book: Book) -> None:
    """A battery that was hurt: not charged, not taken along in a car; nothing else on the note speaks against it."""
    desk = Desk(Reasoner(book), MemoryStore())
    case = desk.open("", "rider", "mechanic")
    desk.submit(case, events.complaint("assist-dead"))
    desk.submit(case, events.profile("arrival", ["battery-hurt"]))
    text = " ".join(as_markdown(rider_page(make_sheet(desk, case, RIDER), "today")).split())
    assert book.cautions["hurt-battery"] in text
    assert "have it driven" not in text
    other = desk.open("", "rider", "mechanic")
    desk.submit(other, events.complaint("assist-dead"))
    assert book.cautions["hurt-battery"] not in as_markdown(rider_page(make_sheet(desk, other, RIDER), "today"))


def test_before_a_look_no_repair_is_named(stand: Stand) -> None:
    """What is looked at next stands there instead; once a look has shown it, the fix does."""
    stand(*SOUND)
    assert stand.view()["next"]["kind"] == "check"
    out = note(stand)
    assert say.RIDER_LOOK.upper()[:20] in out
    assert say.RIDER_LEFT.upper() not in out
    assert not any(item["name"] in out for item in stand.view()["plan"])
    stand.desk().end(stand.case, "collected")
    assert say.RIDER_NOT_LOOKED.upper() in note(stand)
    stand(*LOOSE_AXLE)
    out = note(stand)
    assert say.RIDER_LEFT.upper() in out
    assert say.RIDER_LOOK.upper()[:20] not in out


def test_what_was_done_and_how_it_went(stand: Stand) -> None:
    """A job whose repeat test passed says what was found and done, and what to look out for."""
    stand(*LOOSE_AXLE, "1", "1")
    out = note(stand)
    assert "gone, as our test showed" in " ".join(out.split())
    assert "WHAT WE DID" in out
    assert "[x]" in out
    assert "STILL TO BE DONE" not in out
    assert stand.case in out


@pytest.mark.parametrize("how", [one for one in ENDINGS if one != "cured"])
def test_every_other_end_is_said(stand: Stand, how: Ending) -> None:
    """Each end has its sentence; declined work that safety hangs on is printed, with a line to sign."""
    assert how in get_args(Ending)
    stand(*LOOSE_AXLE)
    stand.desk().end(stand.case, how)
    out = " ".join(note(stand).split())
    assert say.RIDER_ENDED[how] in out
    if how in ("declined", "collected", "uneconomic"):
        assert "NOT DONE" in out
        assert "I was told that it must not be ridden so" in out


def test_a_hand_off_says_where_it_should_go(stand: Stand) -> None:
    """To whom and how soon, also once the job is over."""
    stand.hand_off()
    first = note(stand)
    stand.desk().end(stand.case, "handed-off")
    for out in (first, note(stand)):
        assert "WHERE IT SHOULD GO" in out


def test_what_it_waits_for_is_said(stand: Stand) -> None:
    """In the words that were typed."""
    stand(*SOUND)
    stand.desk().wait(stand.case, text="a long bolt")
    assert "a long bolt" in note(stand)


def test_notes_and_hostile_words_of_the_shop_stay_out_or_tame(stand: Stand) -> None:
    """Notes for the shop are not the rider's; what the label and the wait say is text."""
    hostile = "<script>alert(1)</script> | **x**"
    stand.case = stand.desk().open(hostile)
    desk = stand.desk()
    desk.complain(stand.case, "wheel-wobbles")
    desk.note(stand.case, "never on the note")
    desk.submit(stand.case, events.waiting((), desk.store.add_text(stand.case, hostile)))
    for form in ("text", "markdown", "html"):
        out = note(stand, form)
        assert "never on the note" not in out
        if form != "text":
            assert "<script" not in out
    Reader(note(stand, "html"))


def test_its_own_texts_are_shortened_on_paper_only(stand: Stand) -> None:
    """A label and what is waited for, as long as they may be, leave it on one page; the text tells them whole."""
    stand(*SOUND)
    long = "a new bolt for the bag " * 80
    stand.desk().wait(stand.case, text=long)
    assert long.strip() in " ".join(note(stand).split())
    paper = Reader(note(stand, "html")).text
    assert "a new bolt" in paper
    assert long.strip() not in paper
    assert sheets(rider_on_paper(make_sheet(stand.desk(), stand.case, RIDER), "today")) == 1
