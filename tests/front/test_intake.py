"""`diagnose intake` with piped answers: what is asked, the ticket, leaving, and going on at the stand."""

from __future__ import annotations

import io
import json
import re
import shlex
import shutil
import sys
from collections.abc import Iterable
from pathlib import Path

import pytest

from diagnose.book.model import Book
from diagnose.book.place import shipped_rules
from diagnose.book.shelf import load_book
from diagnose.casework import events
from diagnose.casework.desk import Desk
from diagnose.casework.store import SqliteStore
from diagnose.front import wording
from diagnose.front.main import main
from diagnose.reason.reasoner import Reasoner
from tests.front.conftest import SMALL, Stand


class Counter(Stand):
    """`diagnose intake` with piped lines, over one store; `stand` goes on with the last job there."""

    book = SMALL

    def desk(self) -> Desk:
        """A desk over the same store and book."""
        return Desk(Reasoner(load_book(self.book)), SqliteStore(self.store))

    def piped(self, sent: bytes, options: Iterable[str] = (), columns: int = 60) -> str:
        """Run it with these bytes on standard input."""
        return self.run("intake", sent, options, columns)

    def __call__(self, *lines: str, options: Iterable[str] = (), columns: int = 60) -> str:
        """Run it with these lines."""
        return super().__call__(*lines, options=options, columns=columns)

    def run(self, command: str, sent: bytes, options: Iterable[str], columns: int = 60) -> str:
        """Run one of the commands."""
        self.monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(sent), encoding="utf-8"))
        self.monkeypatch.setenv("COLUMNS", str(columns))
        self.code = main([command, "--rules", str(self.book), "--store", str(self.store), *options])
        captured = self.capsys.readouterr()
        self.out, self.err = captured.out, captured.err
        if command == "intake" and "--case" not in options:
            self.case = self.out.split("Job ")[1].split(":")[0] if "Job " in self.out else ""
        return self.out

    def stand(self, *lines: str) -> str:
        """Go on with the last job at the stand."""
        return self.run("stand", "".join(f"{line}\n" for line in lines).encode(), ("--case", self.case))


@pytest.fixture
def counter(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Counter:
    """The command on the small book, with a store of its own."""
    return Counter(capsys, monkeypatch, tmp_path / "jobs.sqlite3")


@pytest.fixture
def asking(counter: Counter, tmp_path: Path) -> Counter:
    """The same on a book in which it matters when a wheel squeaks: two long fixes that it tells apart."""
    counter.book = Path(shutil.copytree(SMALL, tmp_path / "book"))
    for name, when in (("crossings-dry", "wet"), ("spokes-slack", "load")):
        path = counter.book / "wheels" / "causes" / f"{name}.yaml"
        text = path.read_text(encoding="utf-8").replace("noise-when: {load: likely}", f"noise-when: {{{when}: 97 %}}")
        path.write_text(text.replace("low: 1, high: 3", "low: 15, high: 30"), encoding="utf-8")
    return counter


@pytest.fixture
def replacing(counter: Counter, tmp_path: Path) -> Counter:
    """The same on a book in which closing the axle takes a part."""
    counter.book = Path(shutil.copytree(SMALL, tmp_path / "book"))
    path = counter.book / "wheels" / "causes" / "axle-loose.yaml"
    text = path.read_text(encoding="utf-8")
    path.write_text(text.replace("    steps:", "    parts: {bearings: 1}\n    steps:", 1), encoding="utf-8")
    return counter


WOBBLES = ("blue", "wheel is loose", "1", "")


def test_danger_comes_first_and_then_the_ticket(counter: Counter) -> None:
    """One look round the bike; what only a mechanic can see is left to the stand, which the ticket says."""
    out = counter(*WOBBLES, "1", "80")
    assert "Question 1 of at most 6. Danger first" in out
    assert "Question 2" not in out
    ticket = out[out.index("TICKET") :]
    assert "axle not tight: The wheel can come out" in ticket
    assert "Wheel on the ground: is the axle closed and tight?" in ticket
    assert "minutes of work" in ticket
    assert "hub bearings loose" in ticket
    assert f"diagnose stand --case {counter.case}" in ticket
    assert counter.code == 0
    assert max(map(len, ticket.split("\n")[:-2])) <= 60


def test_another_thing_seen_is_a_question_of_its_own(counter: Counter) -> None:
    """It has a number on the screen, going back takes it back, and it is gone on with after leaving."""
    out = counter(*WOBBLES, "2", "3", "b", "q")
    assert [int(number) for number in re.findall(r"Question (\d) of at most 6", out)] == [1, 2, 3, 2]
    out = counter.run("intake", b"4\n\n", ("--case", counter.case))
    assert [int(number) for number in re.findall(r"Question (\d) of at most 6", out)][:2] == [2, 3]
    told = [data["values"] for kind, data in counter.standing() if kind == "profile"]
    assert told == [["crash"], ["crash", "tyre-damaged"], ["crash", "tyre-damaged"]]
    assert counter.desk().asked_at_counter(counter.case) == 3


def first_answer(book: Book, kind: str, name: str) -> events.Draft:
    """The first thing that a rider can say to a prompt."""
    if kind == "fact":
        return events.profile(name, [next(iter(book.facts[name].values))])
    return events.answered(name, "rider", next(iter(book.findings[book.checks[name].finding].values)))


def test_of_a_fact_of_many_values_those_that_matter_are_offered(counter: Counter) -> None:
    """What was done to a bike whose brake is weak: nothing of its spokes, as at the stand."""
    counter.book = shipped_rules()
    desk = counter.desk()
    counter.case = desk.open("", "rider")
    desk.submit(counter.case, events.complaint("weak-brake"))
    while (prompt := desk.counter(counter.case)["prompt"]) and prompt["id"] != "recent-work":
        desk.submit(counter.case, first_answer(desk.book, prompt["kind"], prompt["id"]))
    assert prompt
    out = counter.run("intake", b"", ("--case", counter.case))
    offered = desk.fact(counter.case, "recent-work")["answers"]
    texts = desk.book.facts["recent-work"].values.values()
    assert 1 < len(offered) < len(texts)
    assert [text for text in texts if text in " ".join(out.split())] == [one["text"] for one in offered]


def test_a_question_is_the_riders(asking: Counter) -> None:
    """A rider's question that can change what is done is asked, and kept as the rider's word."""
    out = asking("", "squeaky wheel", "1", "", "1", "3", "")
    assert "When is it heard?" in out
    assert ("answer", {"check": "ask-when", "by": "rider", "value": "wet"}) in asking.told()
    assert wording.TICKET_KEPT in out


def test_the_sum_is_kept_and_told_when_it_may_be_crossed(counter: Counter) -> None:
    """A sum is taken in figures; what is no sum is asked again; Enter agrees to nothing."""
    out = counter(*WOBBLES, "1", "much", "1,50")
    assert wording.NOT_A_SUM.split(".")[0] in out
    assert ("agreed", {"ceiling": 1.5}) in counter.told()
    assert wording.MAY_CROSS in out
    out = counter(*WOBBLES, "1", "500")
    assert wording.MAY_CROSS not in out
    out = counter(*WOBBLES, "1", "")
    assert [data for kind, data in counter.told() if kind == "agreed"] == [{}]
    assert wording.NOT_AGREED.split(":")[0] in out


def test_what_is_wished_is_asked_kept_and_told_at_the_stand(replacing: Counter) -> None:
    """By when, and the old parts where parts may be wanted; it stands on the ticket, the sheet and the takeover."""
    out = replacing(*WOBBLES, "1", "80", "commuting, Friday noon", "1")
    assert "1 hub bearings" in out
    text = "Used for, needed by: commuting, Friday noon"
    for command in ("show", "sheet"):
        main(["jobs", command, "--rules", str(replacing.book), "--store", str(replacing.store), replacing.case])
        told = " ".join(replacing.capsys.readouterr().out.split())
        assert text in told
        assert wording.OLD_BACK in told
    again = replacing.resume("")
    assert wording.ASK_CHANGE in again
    assert wording.ASK_NEEDED[:30] not in again
    again = replacing.resume("2", "")
    assert "So far: commuting, Friday noon" in again
    replacing.resume("3", "2")
    assert replacing.desk().view_wishes(replacing.case) == {"text": "commuting, Friday noon", "old_parts": "leave"}
    replacing.resume("1", "90")
    assert replacing.desk().folded(replacing.case).agreed == 90


def test_a_wish_that_was_erased_leaves_the_job_whole(replacing: Counter) -> None:
    """Its free text goes, that old parts go back stays, and the job can be worked on."""
    replacing(*WOBBLES, "1", "80", "for the mayor", "1")
    main(["jobs", "erase", "--yes", "--rules", str(replacing.book), "--store", str(replacing.store), replacing.case])
    replacing.capsys.readouterr()
    assert replacing.desk().view(replacing.case)["wishes"] == {"text": None, "old_parts": "back"}
    assert b"mayor" not in replacing.store.read_bytes()


def test_the_same_bike_again_is_recognised_by_its_label(counter: Counter) -> None:
    """What was here before, what was done, and how to say that it came back; a bike without a label is nobody's."""
    counter("Rack 7", "wheel is loose", "1", "", "1", "")
    first = counter.case
    counter.stand("1", "2", "3", "1", "1", "1", "1", "1")
    desk = counter.desk()
    done = [one.data["fix"] for _, one in desk.work_done(first) if one.kind == "fix"]
    assert done
    out = " ".join(counter("rack 7").split())
    assert f"Here before: {first}" in out
    assert f"Done then: {desk.book.fixes[done[0]].name}" in out
    assert f"diagnose jobs comeback {first}" in out
    assert "Here before" not in counter("Rack 8")
    assert "Here before" not in counter("")
    desk.come_back(first)
    counter.case = first
    assert wording.TOUCHED_LAST.split("{")[0] in " ".join(counter.stand().split())


def test_a_job_that_is_not_over_is_gone_on_with(counter: Counter) -> None:
    """It cannot come back: the command that goes on with it is told, with the files that were named."""
    counter("Rack 7", "wheel is loose", "1", "")
    first = counter.case
    lines = counter("rack 7").splitlines()
    named = f"--rules {shlex.quote(str(counter.book))} --store {shlex.quote(str(counter.store))}"
    assert f" diagnose intake --case {first} {named}" in lines
    assert not any("jobs comeback" in line for line in lines)
    assert wording.STILL_OPEN.split(".")[0] in " ".join(lines)
    counter.case = first
    counter.stand("q", "")
    again = counter("rack 7").splitlines()  # after it another was left without a word
    assert "nothing told yet" not in " ".join(again)
    assert any(line.startswith(f" diagnose stand --case {first} --rules") for line in again)
    counter.desk().end(first, "collected")
    assert f" diagnose jobs comeback {first} {named}" in counter("rack 7").splitlines()


def test_leaving_loses_nothing(asking: Counter) -> None:
    """The job can be left at any question, by a key or at the end of the input, and is gone on with where it was."""
    out = asking("blue", "squeaky wheel", "1", "", "1", "q")
    assert f"diagnose intake --case {asking.case}" in out
    assert wording.ASK_LOOSE.split("?")[0] not in out
    out = asking.resume("3")
    assert out.index("Question 2") < out.index("TICKET")
    assert "TICKET" in asking.resume()


def test_going_back_asks_again(asking: Counter) -> None:
    """Back from the ticket takes the last answer back."""
    out = asking("", "squeaky wheel", "1", "", "1", "3", "b", "2", "")
    assert out.count("When is it heard?") >= 2
    assert [data["value"] for kind, data in asking.told() if kind == "answer"] == ["wet", "load"]


def test_the_stand_goes_on(counter: Counter) -> None:
    """The stand takes the job over once, keeps what was told, and the counter then sends on to the stand."""
    counter(*WOBBLES, "1", "")
    out = counter.stand("q", "")
    assert wording.FROM_COUNTER.split(":")[0] in out
    assert "a wheel is not held" not in out
    assert "is the axle closed and tight?" in out
    assert counter.view()["role"] == "mechanic"
    counter.stand("q", "")
    assert [kind for kind, _ in counter.told()].count("stand") == 1
    out = counter.resume()
    assert "is at the stand already" in out


def test_the_riders_word_is_looked_at_again_only_where_it_matters(asking: Counter) -> None:
    """What the rider said stays open to a mechanic's look, and what was looked at does not come again."""
    asking("", "squeaky wheel", "1", "", "1", "1", "")
    asking.stand("q", "")
    desk = asking.desk()
    situation = desk.folded(asking.case).situation
    check = desk.book.checks["ask-when"]
    assert not situation.told(check, lasting=False)
    assert situation.told(check, lasting=True)
    assert situation.answers[0].by == "rider"


def test_for_programs(asking: Counter) -> None:
    """What is asked now; then the ticket, the same that is shown."""
    asking("", "squeaky wheel", "1", "", "1", "q")
    view = json.loads(asking.run("intake", b"", ("--case", asking.case, "--json")))["view"]
    assert (view["prompt"]["id"], view["prompt"]["number"], view["prompt"]["most"]) == ("ask-when", 2, 6)
    assert view["ticket"] is None
    asking.resume("3", "80")
    view = json.loads(asking.run("intake", b"", ("--case", asking.case, "--json")))["view"]
    ticket = view["ticket"]
    assert view["prompt"] is None
    assert ticket["ceiling"] == 80
    assert ticket["estimate"]["price"]["low"] <= ticket["estimate"]["price"]["high"]
    asking.run("intake", b"", ("--json",))
    assert asking.code == 2
    assert "--case" in asking.err


def test_wrong_keys_end_nothing(asking: Counter) -> None:
    """What means nothing here is told, and the question stays."""
    out = asking("", "squeaky wheel", "1", "", "9", "zz", "", "1", "y", "3", "")
    assert out.count("That does nothing here.") >= 2
    assert ("answer", {"check": "ask-when", "by": "rider", "value": "wet"}) in asking.told()
    assert wording.TICKET_KEPT in out


def test_plain_output_is_ascii(asking: Counter) -> None:
    """No colour and no sign beyond ASCII, and no line beyond 60 columns but the command to copy."""
    out = asking("", "squeaky wheel", "1", "", "1", "3", "80", options=("--plain",))
    assert out.isascii()
    assert "\x1b" not in out
    assert max(len(line) for line in out.splitlines() if "diagnose stand" not in line) <= 60


def test_the_riders_words_lead_to_the_same_complaints_after_leaving(counter: Counter) -> None:
    """Left at the matches of what was typed, the counter offers them again."""
    counter("", "wheel, says the rider", "q")
    out = counter("2", options=("--case", counter.case))
    assert wording.TYPED_BEFORE.format(text="wheel, says the rider") in out
    assert len(counter.desk().folded(counter.case).situation.complaints) == 1


def test_all_free_text_can_be_erased(counter: Counter) -> None:
    """Label, notes and the rider's words can be erased for good."""
    counter("Mr Jones", "wheel is loose says Jones", "1", "", "n", "ring 555", "1", "")
    assert counter.code == 0
    before = counter.desk().counter(counter.case)["ticket"]
    counter.code = main(["jobs", "erase", counter.case, "--yes", "--rules", str(SMALL), "--store", str(counter.store)])
    assert counter.code == 0
    stored = b"".join(one.read_bytes() for one in counter.store.parent.glob("jobs.sqlite3*"))
    for gone in (b"Jones", b"ring 555", b"wheel is loose says"):
        assert gone not in stored
    assert counter.desk().counter(counter.case)["ticket"] == before


def test_the_shops_settings_stand_on_the_ticket(counter: Counter, tmp_path: Path) -> None:
    """Rate, currency, minimum charge and the minutes for finding the cause."""
    shop = tmp_path / "shop.toml"
    shop.write_text(
        'labour_rate = 120\ncurrency = "CHF"\nminimum_charge = 40\ndiagnosis_minutes = 10\n[price_factors]\nall = 1\n',
        encoding="utf-8",
    )
    out = counter(*WOBBLES, "1", "", options=("--settings", str(shop)))
    assert "10 of these minutes are for finding the cause." in out
    assert "The least that is charged is 40 CHF." in out
    ticket = " ".join(out[out.index("TICKET") :].split())
    low, high = map(int, re.findall(r"(\d+) to (\d+) minutes of work", ticket)[0])
    cheap, dear = map(int, re.findall(r"(\d+) to (\d+) CHF, at the labour rate", ticket)[0])
    assert low >= 10
    assert abs(cheap - max(40, 2 * low)) <= 2
    assert dear >= 2 * high - 2
    assert f"--settings {shop}" in out


# --- consent at the stand ---------------------------------------------------------------------------------------------

SQUEAKS_LOOSE = ("", "squeaky wheel", "1", "", "1", "1", "5")
"""It squeaks when pushing; five EUR are agreed, and the fix may take 30."""


def at_the_fix(asking: Counter) -> str:
    """Take it in and go on at the stand until money stops it."""
    asking(*SQUEAKS_LOOSE)
    return asking.stand("c", "c", "c", "c")


def test_a_fix_beyond_the_sum_waits_for_the_riders_word(asking: Counter) -> None:
    """One line to read out; with a yes the sum is agreed anew and the fix is shown."""
    out = at_the_fix(asking)
    assert "RING FIRST" in out
    assert "agreed were 5" in " ".join(out.split())
    assert "FIX:" not in out
    out = asking.stand("1")
    assert "FIX:" in out
    assert [data["ceiling"] for kind, data in asking.told() if kind == "agreed"][1:] == [30.0]


def test_whoever_takes_over_sees_that_the_rider_is_to_be_rung(asking: Counter) -> None:
    """The line to read out stands on the takeover and on the sheet for as long as nobody has answered."""
    at_the_fix(asking)

    def told(command: str) -> str:
        main(["jobs", command, "--rules", str(asking.book), "--store", str(asking.store), asking.case])
        return " ".join(asking.capsys.readouterr().out.split())

    for command in ("show", "sheet"):
        assert wording.CONSENT in told(command)
        assert "comes to 30 EUR at most; agreed were 5" in told(command)
    asking.stand("1")
    for command in ("show", "sheet"):
        assert wording.CONSENT not in told(command)


def test_no_leaves_the_fix_undone(asking: Counter) -> None:
    """It is kept as declined, and something else comes next."""
    at_the_fix(asking)
    asking.stand("2")
    declined = [data for kind, data in asking.told() if kind == "fix"]
    assert [(one["not_possible"], one["reason"]) for one in declined] == [(True, "declined")]


def test_what_was_agreed_and_declined_is_on_paper(asking: Counter) -> None:
    """With when: at takeover and on the sheet; declined work also on the rider's note."""
    at_the_fix(asking)
    asking.stand("2")
    (declined,) = asking.desk().view(asking.case)["declined"]
    told = {}
    for command in ("show", "sheet", "rider-note"):
        main(["jobs", command, "--rules", str(asking.book), "--store", str(asking.store), asking.case])
        told[command] = " ".join(asking.capsys.readouterr().out.split())
    for command in ("show", "sheet"):
        assert "Agreed without ringing: up to 5 EUR, 20" in told[command]
        assert f"The rider does not want it done: {declined['name']}, 20" in told[command]
        assert wording.NOT_HERE not in told[command]
    assert "NOT DONE, AS YOU WISHED" in told["rider-note"]
    assert declined["name"] in told["rider-note"]


def test_no_answer_leaves_the_job_waiting(asking: Counter) -> None:
    """When it is gone on with, that is asked first."""
    at_the_fix(asking)
    asking.stand("3", "")
    assert "waits for: the rider's word on 30 EUR" in " ".join(asking.stand("2").split())
    assert "RING FIRST" in asking.stand("1")


def test_money_is_written_as_money(counter: Counter) -> None:
    """A sum has two places or none, whatever its size."""
    assert "up to 80.50 EUR" in counter(*WOBBLES, "1", "80,5")
    assert "up to 99999.50 EUR" in counter(*WOBBLES, "1", "99999.5")


def test_two_complaints_are_numbered_and_told_apart(counter: Counter) -> None:
    """On the ticket and for whoever takes over: each with its own causes, none of which is another's."""
    out = counter("blue", "wheel is loose", "1", "squeaky wheel", "1", "", "1", "", options=())
    assert "\n 1. " in out[out.index("TICKET") :]
    main(["jobs", "show", counter.case, "--rules", str(counter.book), "--store", str(counter.store)])
    told = counter.capsys.readouterr().out
    assert "\n 1. " in told
    assert "- 1." not in told
    assert told.count(wording.SUSPECTED_OF.split("{")[0]) == 2


def test_how_to_tell_a_fact_stands_below_it_at_the_counter(counter: Counter, tmp_path: Path) -> None:
    """A clerk may not know the words; a mechanic does, and has it one key away."""
    counter.book = Path(shutil.copytree(SMALL, tmp_path / "book"))
    path = counter.book / "facts.yaml"
    how = "It is the thing between the legs."
    path.write_text(re.sub(r"(?m)^(  ask: .*)$", rf'\1\n  how: "{how}"', path.read_text(encoding="utf-8")), "utf-8")
    out = counter(*WOBBLES, "q")
    assert out.count(how) == 1
    told = counter.stand("w", "", "q", "")
    assert told.count(how) == 1
    assert f"How: {how}" in told


def test_why_is_told_of_the_question_that_stands_there(asking: Counter) -> None:
    """At the counter another question may stand there than the one that would come at the stand."""
    out = asking("", "squeaky wheel", "1", "", "1", "w", "q")
    view = json.loads(asking.run("intake", b"", ("--case", asking.case, "--json")))["view"]
    assert view["why"]["separates"]
    told = " ".join(out[out.index(wording.WHY) :].split())
    for report in view["why"]["separates"]:
        assert f'"{report["value"]}"' in told


def test_what_follows_the_ticket_stands_apart(counter: Counter) -> None:
    """An empty line before each prompt below it, and before where it goes on."""
    lines = counter(*WOBBLES, "1", "80", "Friday").splitlines()
    for text in (wording.ASK_NEEDED, wording.TICKET_KEPT):
        at = next(place for place, line in enumerate(lines) if line and text.startswith(line.strip()))
        assert lines[at - 1] == ""


def test_why_a_sum_is_asked_for(counter: Counter) -> None:
    """Not why something is looked at."""
    assert wording.WHY_SUM in " ".join(counter(*WOBBLES, "1", "w", "q").split())
