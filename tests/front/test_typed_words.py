"""The rider's words: kept while no complaint was picked of those that they may mean, offered again, and erased."""

from __future__ import annotations

import pytest

from diagnose.front import wording
from diagnose.front.main import main
from tests.front.conftest import SMALL, SOUND, WOBBLES, Stand

WORDS = "wheel, says Jones"
"""A complaint that may mean several things."""


def offered(out: str) -> list[str]:
    """The names of the complaints that were listed last, in their order."""
    lines = [line.strip() for line in out.splitlines()]
    last = max(place for place, line in enumerate(lines) if line.startswith("1 "))
    return [line[2:].strip() for number, line in enumerate(lines[last:], 1) if line.startswith(f"{number} ")]


def complaints(stand: Stand) -> list[str]:
    """The complaints of the job."""
    return list(stand.desk().folded(stand.case).situation.complaints)


@pytest.mark.parametrize("end", [("q",), ()], ids=["left", "end-of-input"])
def test_words_lead_to_the_same_complaints_after_leaving(stand: Stand, end: tuple[str, ...]) -> None:
    """Going on shows the words and offers what they may mean; a number takes one, nothing is typed twice."""
    first = offered(stand("", WORDS, *end))
    out = stand.resume(*end)
    assert wording.TYPED_BEFORE.format(text=WORDS) in " ".join(out.split())
    assert offered(out) == first
    assert len(first) > 1
    stand.resume("2")
    assert [stand.desk().book.complaints[one].name for one in complaints(stand)] == first[1:2]


@pytest.mark.parametrize("way_out", ["", "b"])
def test_words_that_mean_none_of_these_are_let_go(stand: Stand, way_out: str) -> None:
    """Enter or back leads to other words, also after leaving."""
    out = stand("", WORDS, way_out, "q")
    assert wording.ASK_COMPLAINT in out
    out = stand.resume("ticking", "1")
    assert "Jones" not in out
    assert complaints(stand) == ["wheel-ticks"]


def test_words_for_a_further_complaint(stand: Stand) -> None:
    """Left at the matches of a second one, the job goes on there, then asks for a third."""
    stand(*WOBBLES[:3], "grinds", "q", "")
    out = stand.resume("1")
    assert offered(out)[0] == "Wheel grinds"
    assert out.count(wording.ASK_MORE) == 2
    assert complaints(stand) == ["wheel-wobbles", "wheel-grinds"]


def test_words_for_a_complaint_remembered_later(stand: Stand) -> None:
    """Within a job that is on: going on offers them, and then goes on with the job; back leads to the job too."""
    stand(*SOUND, "m", "grinds", "q", "")
    asked = stand.view()["next"]["text"]
    out = stand.resume("b", "b", "q", "")
    assert "Wheel grinds" in out
    assert asked in " ".join(out.split())
    assert complaints(stand) == ["wheel-wobbles"]
    stand.resume("m", "grinds")
    stand.resume("1")
    assert complaints(stand) == ["wheel-wobbles", "wheel-grinds"]


def test_one_that_was_told_already_lets_the_words_go(stand: Stand) -> None:
    """It is said to be noted, and other words are asked for."""
    out = stand("", "wobbles", "1", "wobbles", "1", "q", "")
    after = out[out.index(wording.NOTED_BEFORE) :]
    assert wording.A_FEW_WORDS in after
    assert wording.NO_MORE_COMPLAINTS in after
    out = stand.resume("")
    assert wording.NONE_OF_THESE not in out
    assert wording.ASK_MORE in out


def test_back_from_a_complaint_offers_the_others(stand: Stand) -> None:
    """A slip of the key is put right with two keys; back once more asks for other words."""
    out = stand("", WORDS, "1", "b", "2")
    assert [stand.desk().book.complaints[one].name for one in complaints(stand)] == offered(out)[1:2]
    out = stand("", WORDS, "1", "b", "b", "ticking", "1")
    assert complaints(stand) == ["wheel-ticks"]


@pytest.mark.parametrize("later", [False, True])
def test_erased_words_are_asked_for_anew(stand: Stand, capsys: pytest.CaptureFixture[str], later: bool) -> None:
    """They stand in no event; erased they are nowhere in the file, and the job goes on without them."""
    stand("blue", *(SOUND[1:] if later else ()), *(("m",) if later else ()), WORDS, "q", "")
    assert "Jones" not in str(stand.told())
    assert main(["jobs", "erase", stand.case, "--yes", "--rules", str(SMALL), "--store", str(stand.store)]) == 0
    assert not any(b"Jones" in path.read_bytes() for path in stand.store.parent.glob(f"{stand.store.name}*"))
    capsys.readouterr()
    out = stand.resume("ticking", "1")
    assert "Jones" not in out
    assert complaints(stand)[-1] == "wheel-ticks"


def test_words_that_a_changed_book_does_not_know_are_asked_for_anew(
    stand: Stand, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Nothing is offered; other words are taken."""
    stand("", WORDS, "q")
    with monkeypatch.context() as patch:
        patch.setattr("diagnose.front.complaints.match_complaints", lambda *_, **__: [])
        out = stand.resume("q")
    assert wording.ASK_COMPLAINT in out
    assert wording.NONE_OF_THESE not in out


def test_words_for_what_was_done_already_are_kept(stand: Stand) -> None:
    """Left at the fixes that they may mean, a number takes one of these, and none is an answer to the next question."""
    stand(*SOUND, "a", "set bearings", "q", "")
    out = stand.resume("1", "", "1", "2")
    assert offered(out)
    assert [one.when for one in stand.desk().folded(stand.case).situation.already] == ["days"]
    assert not stand.desk().folded(stand.case).partly


def test_words_for_what_was_done_already_that_mean_none_of_these(stand: Stand) -> None:
    """Enter leads to other words, back to the job."""
    stand(*SOUND, "a", "set bearings", "q", "")
    out = stand.resume("", "set bearings", "b", "q", "")
    assert wording.A_FEW_WORDS in out
    assert not stand.desk().folded(stand.case).partly
