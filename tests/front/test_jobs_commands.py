"""`diagnose jobs`: every command does what it says on real jobs, and says in one line what it cannot do."""

from __future__ import annotations

import csv
import io
import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from diagnose.casework import events
from diagnose.casework.store import SqliteStore
from diagnose.front.jobs.group import COMMANDS
from diagnose.front.main import main
from tests.front.conftest import LOOSE_AXLE, SOUND, WOBBLES, Stand

HOSTILE = (
    '=HYPERLINK("http://x")',
    "+1+1",
    "-2",
    "@SUM(A1)",
    "\t=1",
    "\uff1d1",
    "<script>alert(1)</script>",
    "[bold]x[/bold]",
    "a\x1b[31mb\x07c\u202ed",
    'quote " comma, semi;',
    "'; drop table cases; --",
)
WITH_BOOK = {
    "list",
    "show",
    "sheet",
    "rider-note",
    "history",
    "note",
    "undo",
    "wait",
    "end",
    "comeback",
    "replay",
    "erase",
}


class Told:
    """What a run of the command came to."""

    def __init__(self, stand: Stand, capsys: pytest.CaptureFixture[str]) -> None:
        self.stand, self.capsys = stand, capsys
        self.code = 0
        self.err = ""

    def __call__(self, name: str, *words: str) -> str:
        """Run `diagnose jobs NAME WORDS` over the stand's store; returns what was printed."""
        given = ["--store", str(self.stand.store)]
        if name in WITH_BOOK:
            given += ["--rules", str(Path(__file__).parent / "book")]
        bare = [] if any(word.startswith("--") for word in words) else ["--"]
        self.code = main(["jobs", name, *given, *bare, *words])
        captured = self.capsys.readouterr()
        self.err = captured.err
        assert "Traceback" not in self.err
        return captured.out


@pytest.fixture
def jobs(stand: Stand, capsys: pytest.CaptureFixture[str]) -> Told:
    """The command over the store of the stand."""
    return Told(stand, capsys)


# --- looking -------------------------------------------------------------------------------------------------------


def test_a_job_is_listed_and_found(stand: Stand, jobs: Told) -> None:
    """Number, label, complaint and state stand in the list; words of any of them find it."""
    stand("Rack 7 blue", *WOBBLES[1:])
    first = stand.case
    stand("other", "ticking", "1", "")
    out = jobs("list")
    assert first in out
    assert "Rack 7 blue" in out
    assert "Wheel wobbles: open" in out
    assert out.index(stand.case) < out.index(first)
    assert first in jobs("list", "BLUE", "wobbles")
    assert jobs("list", "green").strip() == "There are no such jobs."
    assert first not in jobs("list", "--which", "ended")
    out = jobs("list", "--limit", "1")
    assert "There are more" in out


def test_the_list_as_json(stand: Stand, jobs: Told) -> None:
    """The same for programs."""
    stand("Rack 7", *WOBBLES[1:])
    (job,) = json.loads(jobs("list", "--json"))["jobs"]
    assert (job["job"], job["label"], job["complaints"], job["state"]) == (
        stand.case,
        "Rack 7",
        "Wheel wobbles",
        "open",
    )


def test_the_table_runs_nothing_in_a_spreadsheet(stand: Stand, jobs: Told) -> None:
    """No cell begins as a formula, none holds a control character, and each job is one row."""
    with SqliteStore(stand.store) as store:
        for label in HOSTILE:
            store.create(events.opened("mechanic", "mechanic").data, label, "b")
    head, *rows = csv.reader(io.StringIO(jobs("list", "--csv"), newline=""))
    assert head == ["job", "label", "complaints", "state", "opened", "last worked on", "events"]
    assert len(rows) == len(HOSTILE)
    for row in rows:
        assert len(row) == len(head)
        for cell in row:
            assert cell.isprintable()
            assert not cell.lstrip().startswith(("=", "+", "-", "@", "\uff1d"))
    assert {row[1].lstrip("'") for row in rows} >= {"+1+1", "-2", "<script>alert(1)</script>"}


@pytest.mark.parametrize("text", HOSTILE)
def test_hostile_words_are_words_everywhere(stand: Stand, jobs: Told, text: str) -> None:
    """As label, note, what is loose and what is waited for, they are shown tame and change nothing."""
    stand("x", *WOBBLES[1:])
    desk = stand.desk()
    case_id = desk.open(text)
    desk.complain(case_id, "wheel-wobbles")
    desk.note(case_id, text)
    desk.note_loose(case_id, text)
    desk.wait(case_id, text=text)
    for name, words in (("show", (case_id,)), ("list", ()), ("history", (text,)), ("replay", (case_id,))):
        out = jobs(name, *words)
        assert all(char.isprintable() or char == "\n" for char in out)
        assert not jobs.err
    assert "[bold]" in jobs("show", case_id) or "[bold]" not in text
    jobs("list", text)
    assert len(desk.store.cases()) == 2


def test_a_takeover_sees_all_on_one_screen(stand: Stand, jobs: Told) -> None:
    """Complaint, proven, suspected, done, loose, waited for, notes, what comes next."""
    stand("Rack 7", *LOOSE_AXLE[1:], "2")
    desk = stand.desk()
    desk.note(stand.case, "photo IMG_1")
    desk.note_loose(stand.case, "wheel in the rack")
    desk.wait(stand.case, text="new axle")
    out = " ".join(jobs("show", stand.case).split())
    for part in ("Rack 7", "Wheel wobbles", "loose", "photo IMG_1", "wheel in the rack", "Waits for: new axle"):
        assert part in out
    assert "close the axle" in out.lower()
    assert "What comes next" in out
    assert f"diagnose stand --case {stand.case}" in out
    view = json.loads(jobs("show", stand.case, "--json"))["view"]
    assert view["waits"] == "new axle"


def test_a_job_of_which_nothing_was_told_is_shown(stand: Stand, jobs: Told) -> None:
    """It is there under its label, with its notes and nothing else in it."""
    case_id = stand.desk().open("Rack 9")
    stand.desk().note(case_id, "key in the drawer")
    out = jobs("show", case_id)
    assert all(text in out for text in ("nothing told yet", "Rack 9", "key in the drawer"))
    assert json.loads(jobs("show", case_id, "--json"))["view"] is None
    assert "nothing told yet" in jobs("list")


@pytest.mark.parametrize("name", ["show", "undo", "erase", "comeback", "wait"])
def test_a_wrong_number_is_said_with_the_nearest(stand: Stand, jobs: Told, name: str) -> None:
    """A slip names the job that was meant; exit 2."""
    stand("Rack 7", *WOBBLES[1:])
    slip = stand.case[:-1] + ("1" if stand.case[-1] != "1" else "2")
    jobs(name, slip)
    assert jobs.code == 2
    assert stand.case in jobs.err


# --- adding --------------------------------------------------------------------------------------------------------


def test_going_back_step_by_step(stand: Stand, jobs: Told) -> None:
    """Each step says what it took back; where nothing is left it says so and the exit code is 1."""
    stand(*SOUND)
    assert "catches your eye" in jobs("undo", stand.case)
    out = jobs("undo", stand.case, "--steps", "5")
    assert "Taken back: Wheel wobbles" in out
    assert "nothing to go back to" in out
    assert jobs.code == 1


def test_waiting_and_going_on(stand: Stand, jobs: Told) -> None:
    """A part by its name or number, or words; the list says it; the stand asks whether it is here."""
    stand(*SOUND)
    jobs("wait", stand.case, "--part", "hub berings")
    assert jobs.code == 2
    assert "hub bearings" in jobs.err
    part = next(iter(stand.desk().book.parts.values()))
    jobs("wait", stand.case, "--part", part.name.upper())
    assert f"waits for {part.name}" in jobs("list", "--which", "waiting")
    out = stand.resume("2", "q", "")
    assert "it is here" in out
    assert "waits for" in jobs("list", "--which", "waiting")
    stand.resume("1", "q", "")
    assert jobs("list", "--which", "waiting").strip() == "There are no such jobs."
    jobs("wait", stand.case, "a", "new", "axle")
    assert "Waits for: a new axle" in jobs("show", stand.case)
    jobs("wait", stand.case, "--over")
    assert "Waits for" not in jobs("show", stand.case)
    jobs("wait", stand.case, "x", "--over")
    assert jobs.code == 2


def test_it_can_be_left_waiting_at_the_stand(stand: Stand, jobs: Told) -> None:
    """The key that ends a job also leaves it waiting."""
    stand(*SOUND, "x", "6", "new axle", "")
    assert stand.view()["waits"] == "new axle"
    assert "waits" in jobs("list")


@pytest.mark.parametrize("how", ["handed-off", "not-reproduced", "declined", "uneconomic", "collected"])
def test_every_proper_end(stand: Stand, jobs: Told, how: str) -> None:
    """The job is over in that way, once, with what was found."""
    stand(*SOUND)
    jobs("end", stand.case, how, "--found", "axle-loose-x")
    assert jobs.code == 2
    cause = next(iter(stand.desk().book.causes))
    assert f"Job {stand.case} is over" in jobs("end", stand.case, how, "--found", cause)
    assert stand.view()["ended"] == how
    jobs("end", stand.case, how)
    assert jobs.code == 2
    assert "is over" in jobs.err


def test_cured_is_a_repeat_test_that_passed(stand: Stand, jobs: Told) -> None:
    """Where none was told, what was put right has to be named; then the complaint is gone on every paper."""
    stand(*LOOSE_AXLE)
    jobs("end", stand.case, "cured")
    assert jobs.code == 2
    assert "no repeat test was told that passed: Wheel wobbles" in jobs.err
    assert stand.view()["ended"] is None
    jobs("end", stand.case, "cured", "--found", "axle-loose")
    assert jobs.code == 0
    view = stand.view()
    assert (view["ended"], [one["gone"] for one in view["complaints"]]) == ("cured", [True])
    assert "gone, as our test showed" in " ".join(jobs("rider-note", stand.case).split())
    jobs("undo", stand.case)
    assert [one["gone"] for one in stand.view()["complaints"]] == [False]


def test_what_somebody_else_has_found_is_told_afterwards(stand: Stand, jobs: Told) -> None:
    """A job that was handed on is ended once more with it; without it the job is over, and stays so when undone."""
    stand(*LOOSE_AXLE)
    jobs("end", stand.case, "handed-off")
    jobs("end", stand.case, "collected")
    assert (jobs.code, stand.view()["ended"]) == (2, "handed-off")
    jobs("end", stand.case, "handed-off", "--found", "axle-loose")
    assert jobs.code == 0
    assert stand.desk().folded(stand.case).found == ("axle-loose",)
    assert "handed on" in jobs("list")
    jobs("undo", stand.case)
    assert (stand.view()["ended"], stand.desk().folded(stand.case).found) == ("handed-off", ())


def test_a_comeback_looks_first_at_what_was_touched(stand: Stand, jobs: Told) -> None:
    """Only a job that is over comes back; what was done is named, counts as done before, and is asked about afresh."""
    stand(*LOOSE_AXLE, "1")
    jobs("comeback", stand.case)
    assert jobs.code == 2
    stand.resume("1")
    assert stand.view()["ended"] == "cured"
    out = jobs("comeback", stand.case, "--origin", "own-work")
    assert "First look at what was last touched" in out
    view = stand.view()
    assert (view["ended"], view["comebacks"]) == (None, 1)
    assert not any(one["gone"] for one in view["complaints"])
    assert "came back" in jobs("list")
    assert "arrival" not in view["profile"]
    assert "Taken back: the bike came back" in jobs("undo", stand.case)
    assert stand.view()["ended"] == "cured"


def test_at_the_stand_a_job_that_is_over_can_come_back(stand: Stand) -> None:
    """The third key at a job that is over."""
    stand(*SOUND, "x", "5")
    out = stand.resume("3", "4", "1", "q", "")
    assert "the bike came back" in " ".join(out.split())
    assert stand.view()["comebacks"] == 1


def test_the_same_bike_again(stand: Stand, jobs: Told) -> None:
    """Its label brings up every visit, with what was done and what came back."""
    stand("Rack 7", *LOOSE_AXLE[1:], "1", "1")
    first = stand.case
    jobs("comeback", first)
    stand("RACK  7", "ticking", "1", "")
    second = stand.case
    out = jobs("history", "rack", "7")
    assert out.index(second) < out.index(first)
    assert "gone" in out
    assert "the bike came back" in out
    jobs("history", "rack", "8")
    assert jobs.code == 1


def test_notes_are_kept_and_erased(stand: Stand, jobs: Told) -> None:
    """All free text goes, the events stay valid, and the job can be gone on with."""
    stand("Mrs Smith", *SOUND[1:], "n", "her phone is 555", "q", "wheel out")
    jobs("note", stand.case, "photo", "IMG_1")
    assert "her phone" in jobs("show", stand.case)
    before = stand.view()
    jobs("erase", stand.case, "--yes")
    out = jobs("show", stand.case) + jobs("list") + jobs("export")
    for gone in ("Smith", "her phone", "IMG_1", "wheel out"):
        assert gone not in out
    assert not any(b"Smith" in path.read_bytes() for path in stand.store.parent.glob(stand.store.name + "*"))
    after = stand.view()
    assert after["answers"] == before["answers"]
    assert after["next"] == before["next"]
    assert "Job" in stand.resume("q", "") or stand.code == 0


# --- today's book --------------------------------------------------------------------------------------------------


def test_todays_book_agrees_with_itself(stand: Stand, jobs: Told) -> None:
    """What the same book asked is what it asks."""
    stand(*LOOSE_AXLE, "1", "1")
    out = jobs("replay")
    assert jobs.code == 0
    assert "would go another way: 0 of 1." in out
    assert "It ended so: repeat test passed" in " ".join(jobs("replay", stand.case).split())


def test_what_todays_book_does_not_know_is_said(stand: Stand, jobs: Told) -> None:
    """An answer to a check that is gone is left out and named; another order is told step by step."""
    stand(*SOUND)
    desk = stand.desk()
    desk.submit(stand.case, events.answered("check-that-was", "mechanic", "clear"))
    desk.submit(stand.case, events.answered("rock-wheel", "mechanic", "none"))
    desk.submit(stand.case, events.fix_done("true-wheel-x", {"wheel-wobbles": "still-there"}))
    out = " ".join(jobs("replay", stand.case).split())
    assert jobs.code == 1
    assert "check-that-was" in out
    assert "true-wheel-x" in out
    assert "would go another way: 1 of 1." in out


# --- files ---------------------------------------------------------------------------------------------------------


def test_jobs_go_out_and_come_in_as_lines(stand: Stand, jobs: Told, tmp_path: Path) -> None:
    """Exported, imported into another store, and imported again: all as it was, then known."""
    stand("Rack 7", *LOOSE_AXLE[1:])
    file = tmp_path / "jobs.jsonl"
    jobs("export", "--output", str(file))
    view = stand.view()
    other = Stand(stand.capsys, stand.monkeypatch, tmp_path / "other.sqlite3")
    there = Told(other, stand.capsys)
    assert "Jobs: 1 new" in there("import", str(file))
    other.case = stand.case
    assert other.view() == view
    assert "1 known already" in there("import", str(file))
    jobs("export", "--output", str(file))
    assert jobs.code == 2
    assert "already" in jobs.err


@pytest.mark.skipif(os.name != "posix", reason="limits of a process are a POSIX thing")
@pytest.mark.parametrize("command", ["export", "sheet"])
def test_a_full_disk_leaves_no_half_file(stand: Stand, jobs: Told, tmp_path: Path, command: str) -> None:
    """What no longer fits is told in one message, and nothing lies where the file should be, nor beside it."""
    stand("Rack 7", *LOOSE_AXLE[1:])
    for _ in range(60 if command == "export" else 1):
        jobs("note", stand.case, "what was seen " * 100)
    folder = tmp_path / "out"
    folder.mkdir()
    code, said = limited(stand, command, folder / "out.html", 4_096 if command == "sheet" else 40_000)
    assert (code, list(folder.iterdir())) == (2, [])
    assert "was not stored" in said
    assert "Traceback" not in said


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="a device that is always full")
def test_a_full_disk_behind_standard_output_is_told(stand: Stand, jobs: Told) -> None:
    """In one line that says so, with exit code 2."""
    stand("Rack 7", *LOOSE_AXLE[1:])
    with Path("/dev/full").open("w", encoding="ascii") as full:
        done = subprocess.run(
            [sys.executable, "-m", "diagnose", "jobs", "export", "--store", str(stand.store)],
            stdout=full,
            stderr=subprocess.PIPE,
            text=True,
            check=False,
        )
    assert done.returncode == 2
    assert done.stderr.startswith("The output was not written: No space left on device.")
    assert len(done.stderr.splitlines()) == 1


def limited(stand: Stand, command: str, output: Path, room: int) -> tuple[int, str]:
    """Exit code and messages of a command in a process whose files may not grow beyond `room` bytes."""
    book = ["--rules", str(Path(__file__).parent / "book"), stand.case] if command == "sheet" else []
    words = ["jobs", command, "--store", str(stand.store), "--output", str(output), *book]
    program = (
        f"import resource, sys; from diagnose.front.main import main; import diagnose.front.sheet.page;"
        f"resource.setrlimit(resource.RLIMIT_FSIZE, ({room}, {room})); sys.exit(main({words!r}))"
    )
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=False)
    return done.returncode, done.stderr


def test_a_bad_line_does_not_stop_the_others(stand: Stand, jobs: Told, tmp_path: Path) -> None:
    """Each is told with its file and line; what is good is taken; exit 1."""
    stand("Rack 7", *SOUND[1:])
    line = jobs("export").splitlines()[0]
    file = tmp_path / "jobs.jsonl"
    file.write_text(f"rubbish\n\n{line}\n{line[:-9]}\n", encoding="ascii")
    other = Told(Stand(stand.capsys, stand.monkeypatch, tmp_path / "other.sqlite3"), stand.capsys)
    assert "Jobs: 1 new" in other("import", str(file))
    assert other.code == 1
    assert f"{file}:1:1: This line is not JSON" in other.err
    assert f"{file}:4:1:" in other.err


def test_bytes_that_are_no_text_are_refused_line_by_line(stand: Stand, jobs: Told, tmp_path: Path) -> None:
    """Lines that are not UTF-8, cut off within a sign or full of nothing are told by number; the good one is taken."""
    stand("Rack 7", *SOUND[1:])
    line = jobs("export").splitlines()[0].encode()
    spoiled = (b"\xff\xfe\x00", line.replace(b"Rack 7", b"Rack \xff"), line[:40] + b"\xe2\x82", b"\x00" * 50)
    file = tmp_path / "jobs.jsonl"
    file.write_bytes(b"\n".join([*spoiled, line, b"\xc3"]))
    other = Told(Stand(stand.capsys, stand.monkeypatch, tmp_path / "other.sqlite3"), stand.capsys)
    assert "Jobs: 1 new" in other("import", str(file))
    assert other.code == 1
    for number in (1, 2, 3, 4, 6):
        assert f"{file}:{number}:1: This line" in other.err
    assert f"{file}:5:" not in other.err


def test_a_copy_while_in_use_and_a_look_at_it(stand: Stand, jobs: Told, tmp_path: Path) -> None:
    """The copy is a sound store; the look names the settings that a loss of power is survived with."""
    stand(*SOUND)
    copy = tmp_path / "copy.sqlite3"
    with SqliteStore(stand.store) as busy:
        busy.cases()
        assert "Copied to" in jobs("backup", str(copy))
    there = Told(Stand(stand.capsys, stand.monkeypatch, copy), stand.capsys)
    out = there("check")
    for line in ("journal_mode: wal", "synchronous: full", "secure_delete: 1", "Jobs: 1;", "It is sound."):
        assert line in out
    assert there.code == 0
    jobs("backup", str(copy))
    assert jobs.code == 2


def test_a_damaged_store_says_what_it_could_save(stand: Stand, jobs: Told, tmp_path: Path) -> None:
    """The refusal names the way out; what can be saved is saved into a new store; the damaged one stays."""
    for _ in range(30):
        stand(*LOOSE_AXLE)
    content = bytearray(stand.store.read_bytes())
    content[5 * 4096 : 6 * 4096] = b"\xaa" * 4096
    content[:100] = b"\0" * 100
    stand.store.write_bytes(content)
    for left in stand.store.parent.glob(stand.store.name + "-*"):
        left.unlink()
    jobs("list")
    assert jobs.code == 2
    assert "diagnose jobs rescue" in jobs.err
    said = jobs("rescue")
    assert "Jobs that can be saved" in " ".join(said.split())
    assert "Nothing was written." in said
    new = tmp_path / "new.sqlite3"
    jobs("rescue", "--into", str(new))
    assert stand.store.read_bytes() == bytes(content)
    there = Told(Stand(stand.capsys, stand.monkeypatch, new), stand.capsys)
    assert "It is sound." in there("check")
    assert len(there("list").splitlines()) > 20
    jobs("rescue", "--into", str(new))
    assert jobs.code == 2


def test_a_small_measurement_tells_its_table(capsys: pytest.CaptureFixture[str]) -> None:
    """The table has a row for each thing that people wait for; no figure is judged here."""
    main(["jobs", "measure", "--events", "500", "--runs", "3"])
    out = capsys.readouterr().out
    for row in ("list the last 50", "search a word that none has", "resume: read any job", "store one event"):
        assert row in out
    assert "500 events in 20 jobs" in out


def test_every_command_explains_itself(capsys: pytest.CaptureFixture[str]) -> None:
    """Each is named in the group's help and has help of its own."""
    assert main(["jobs", "--help"]) == 0
    listed = capsys.readouterr().out
    for name in COMMANDS:
        assert name in listed
        assert main(["jobs", name, "--help"]) == 0
        assert "Usage" in capsys.readouterr().out
    assert main(["jobs", "nonsense"]) == 2
