"""Own folders at every command: replay, the stand, show, the check, schemas; each says what comes from them."""

from __future__ import annotations

import io
import json
import re
import shutil
from pathlib import Path
from typing import Any

import pytest

from diagnose.front.main import main
from tests.book.broken_books import lay_small

OWN = Path(__file__).parent.parent / "book" / "own"
TITLE = "Rules of our shop"
CASE = """
case: "A basket that slaps is wrapped"
profile: {carries: basket, headset: threaded}
complaints: [front-knock]
answers: {lift-the-basket: worn, finger-across-gap: none, turn-bars: smooth}
expect: {top: basket-slaps, ride: ride, next: wrap-hooks}
"""


@pytest.fixture
def folders(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The small book, the own folder beside it, and a case for it, all in the current folder."""
    lay_small(tmp_path)
    shutil.copytree(OWN, tmp_path / "own" / "rules")
    (tmp_path / "own" / "cases").mkdir()
    (tmp_path / "own" / "cases" / "basket.yaml").write_text(CASE, encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("COLUMNS", "76")
    return tmp_path


BOTH = ["--rules", "book", "--rules", "own/rules"]


def replayed(capsys: pytest.CaptureFixture[str], *arguments: str) -> dict[str, Any]:
    """What `replay --json` prints."""
    main(["replay", "own/cases/basket.yaml", "--json", *arguments])
    told: dict[str, Any] = json.loads(capsys.readouterr().out)
    return told


def test_a_case_may_leave_the_folder_out_of_its_ids(folders: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Where only one folder has such a thing; with its name it is the same."""
    assert main(["replay", "own/cases", *BOTH]) == 0
    path = folders / "own/cases/basket.yaml"
    text = path.read_text(encoding="utf-8")
    for name in ("carries", "lift-the-basket", "basket-slaps", "wrap-hooks"):
        text = text.replace(name, f"our-shop:{name}")
    path.write_text(text, encoding="utf-8")
    assert main(["replay", "own/cases", *BOTH]) == 0
    assert capsys.readouterr().out == f"1 of 1 cases hold with {TITLE} (our-shop).\n" * 2


def test_a_view_says_what_comes_from_a_folder(folders: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Causes, answers, conclusions, the next step and the plan; null for what the book itself says."""
    assert folders.is_dir()
    told = replayed(capsys, *BOTH)
    (view,) = told["cases"]
    shop = {"id": "our-shop", "title": TITLE}
    causes = {one["id"]: one["from"] for one in view["complaints"][0]["causes"]}
    assert causes == {"our-shop:basket-slaps": shop, "bearings-worn": None}
    assert [(one["check"], one["from"]) for one in view["answers"]][:2] == [
        ("our-shop:lift-the-basket", shop),
        ("finger-across-gap", None),
    ]
    assert (view["next"]["id"], view["next"]["from"]) == ("our-shop:wrap-hooks", shop)
    assert view["plan"][0]["from"] == shop
    assert view["plan"][0]["steps"][0]["limits"][0]["from"] == shop
    assert "the strap holds 20 to 40 N" in view["plan"][0]["steps"][0]["text"]
    assert {one["id"]: one["from"] for one in view["conclusions"]}["our-shop:basket-and-knock"] == shop
    assert told["own_folders"] == [
        {"id": "our-shop", "title": TITLE, "fingerprint": told["own_folders"][0]["fingerprint"]}
    ]
    assert told["book"]["id"] == "small"


def test_without_the_folder_nothing_is_known_of_it(folders: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """And no folder is named."""
    assert folders.is_dir()
    told = replayed(capsys, "--rules", "book")
    assert told["own_folders"] == []
    assert {one["code"] for one in told["errors"]} == {"id.unknown"}


def test_the_stand_says_what_comes_from_a_folder(folders: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """At the question and at the fix, and among what is likely."""
    assert folders.is_dir()
    assert main(["stand", "--play", "own/cases/basket.yaml", *BOTH]) == 0
    assert f"From: {TITLE}." in capsys.readouterr().out


def test_going_on_with_a_job_names_every_folder(
    folders: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """The command to go on is whole."""
    assert folders.is_dir()
    monkeypatch.setattr("sys.stdin", io.TextIOWrapper(io.BytesIO(b"the red one\nknock\n"), encoding="utf-8"))
    main(["stand", "--new", "--store", "jobs.sqlite3", *BOTH])
    assert "--rules book --rules own/rules --store jobs.sqlite3" in capsys.readouterr().out


def test_the_check_looks_at_a_folder_together_with_its_book(folders: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """With the worked cases beside each; what is wrong is told by the folder's own file."""
    (folders / "own/rules/parts.yaml").write_text("bell: {name: bell}\n", encoding="utf-8")
    assert main(["rules", "check", "book", "own/rules"]) == 1
    assert "own/rules/parts.yaml:1:7: error: a part lacks 'price'." in capsys.readouterr().out


def test_the_check_takes_a_folder_as_every_command_does(folders: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """With --rules or by itself it is the same, and the folder is named."""
    assert folders.is_dir()
    code = main(["rules", "check", *BOTH])
    said = capsys.readouterr().out
    assert f"The book reads well with {TITLE} (our-shop): " in said
    assert main(["rules", "check", "book", "own/rules"]) == code
    assert capsys.readouterr().out == said


def test_a_cause_without_a_case_is_sent_to_the_folder_that_it_comes_from(
    folders: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Those of the book to the book's cases, and also where the folder has no cases yet or is the current one."""
    shutil.rmtree(folders / "own" / "cases")
    (folders / "cases").mkdir()
    main(["rules", "check", "book", "own/rules"])
    out = capsys.readouterr().out
    assert "no worked case has 'preload-lost' on top. Write one in cases, with" in out
    assert "no worked case has 'our-shop:basket-slaps' on top. Write one in own/cases, with" in out
    monkeypatch.chdir(folders / "own" / "rules")
    main(["rules", "check", "../../book", "."])
    assert f"Write one in {folders.as_posix()}/own/cases, with" in capsys.readouterr().out


def test_the_check_knows_the_cases_of_a_folder(folders: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A cause that a case beside the folder expects on top has one."""
    assert folders.is_dir()
    main(["rules", "check", "book", "own/rules"])
    out = capsys.readouterr().out
    assert "no worked case has 'gap-wrong' on top" in out
    assert "no worked case has 'our-shop:basket-slaps'" not in out


@pytest.mark.parametrize("name", ["basket-slaps", "our-shop:basket-slaps", "basket slaps on the bars"])
def test_show_finds_a_thing_of_a_folder(name: str, folders: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """With or without the folder's name, and says where it is from, and which case expects it."""
    assert folders.is_dir()
    assert main(["rules", "show", name, *BOTH, "--cases", "own/cases"]) == 0
    out = capsys.readouterr().out
    assert f"From: {TITLE} (our-shop).\n" in out
    assert "expects it to be likeliest: A basket that slaps is wrapped." in out


def test_show_says_what_was_replaced(folders: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The id is the book's, the content the folder's."""
    assert folders.is_dir()
    assert main(["rules", "show", "gap-wrong", *BOTH]) == 0
    out = " ".join(capsys.readouterr().out.split())
    assert "From: Rules of our shop (our-shop). It takes the place of one of the book small." in out


def test_schemas_for_a_folder_know_its_ids_without_its_name(folders: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Beside those of the book, which it may replace."""
    assert main(["rules", "schema", "schema", *BOTH]) == 0
    capsys.readouterr()
    cause = json.loads((folders / "schema/cause.schema.json").read_text(encoding="utf-8"))
    defs = cause["$defs"]
    assert {"basket-hooks", "play-at-headset"} <= {name.removeprefix("row-of-") for name in defs}
    assert set(defs["condition-on-fact"]["properties"]) >= {"carries", "headset"}
    assert {"preload-lost", "set-preload"} <= set(defs["replaces"]["enum"])
    assert "adds_to" in json.dumps(json.loads((folders / "schema/book.schema.json").read_text(encoding="utf-8")))


def test_tidy_knows_a_folders_book(folders: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Its keys stand in their own order."""
    path = folders / "own/rules/book.yaml"
    path.write_text('adds_to: small\ntitle: "Ours"\nbook: our-shop\n', encoding="utf-8")
    assert main(["rules", "tidy", "own/rules"]) == 0
    assert path.read_text(encoding="utf-8") == 'book: our-shop\ntitle: "Ours"\nadds_to: small\n'
    assert "book.yaml: tidied" in capsys.readouterr().out


def test_the_picture_says_what_comes_from_a_folder(folders: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """At each cause and finding of it, and which folders there are; the book's own have their names alone."""
    assert folders.is_dir()
    assert main(["rules", "map", "front-knock", "-", *BOTH]) == 0
    picture = capsys.readouterr().out
    assert f"From: A small book; {TITLE} (our-shop)." in picture
    assert "basket slaps on the bars (our-shop)</text>" in picture
    assert "gap above the steerer not ours (our-shop)</text>" in picture
    assert ">! headset bearings worn</text>" in picture
    assert main(["rules", "map", "front-knock", "-", "--rules", "book"]) == 0
    picture = capsys.readouterr().out
    assert "From: A small book." in picture
    assert "our-shop" not in picture


def test_what_tells_causes_apart_says_where_it_is_from(folders: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Either cause, and each check of a folder."""
    assert folders.is_dir()
    assert main(["rules", "tell-apart", "basket-slaps", "preload-lost", *BOTH]) == 0
    out = " ".join(capsys.readouterr().out.split())
    assert f"The first is from {TITLE} (our-shop), own/rules/" in out
    assert "The second is from A small book, book/front/causes/preload-lost.yaml:1." in out
    assert re.search(rf"own/rules/findings\.yaml:\d+; from {TITLE} \(our-shop\)", out)
    assert not re.search(r"book/front/findings\.yaml:\d+; from", out)


@pytest.mark.parametrize(("share", "told"), [(39, False), (45, True)])
def test_shares_that_a_folder_adds_are_no_fault_of_the_book(
    share: int, told: bool, folders: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A rare cause more is none; where a folder adds very much, its own line is pointed at."""
    path = folders / "own/rules/causes/basket-slaps.yaml"
    path.write_text(path.read_text("utf-8").replace("8 in 100", f"{share} in 100", 1), encoding="utf-8")
    main(["rules", "check", *BOTH[1:2], "own/rules"])
    out = capsys.readouterr().out
    assert "add up to" not in out
    line = "own/rules/causes/basket-slaps.yaml:5:14: warning: 45 of 100 with 'front-knock' have what an own folder adds"
    assert (line in out) == told, out
    assert ("own folder adds" in out) == told
