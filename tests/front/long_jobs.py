"""Jobs as long as they come, made through the desk; run as a module it prints their sheets and counts the pages.

Cast: `long_job` makes one: so many answers of which most are normal, fixes that failed, every free text as long as it
may be. `printed_pages` prints a page with a headless browser. `python -m tests.front.long_jobs` does both for some
complaints (`--answers`, `--out FOLDER` keeps the PDF files).
"""

from __future__ import annotations

import argparse
import random
import re
import shutil
import subprocess
import tempfile
from collections.abc import Iterator, Sequence
from pathlib import Path

from diagnose.book.model import Check
from diagnose.casework import events
from diagnose.casework.desk import Desk
from diagnose.casework.sheet import make_sheet
from diagnose.casework.store import SqliteStore
from diagnose.casework.text import LONGEST
from diagnose.front.options import chosen_book
from diagnose.front.sheet.job import job_on_paper
from diagnose.front.sheet.page import as_html
from diagnose.front.sheet.room import sheets
from diagnose.reason.reasoner import Reasoner

LONG = ("The rear wheel was rebuilt last week and came back with a spoke that ticks under load. " * 30)[:LONGEST]
NOTES = 9
COMPLAINTS = ("front-knock", "shifts-badly", "brake-drags", "check-over", "brake-noise", "noise-somewhere")
CHROMIUM = next(
    (found for name in ("chromium", "chromium-browser", "google-chrome") if (found := shutil.which(name))), None
)
PDFINFO = shutil.which("pdfinfo")
QUIET = ("--headless", "--no-sandbox", "--disable-gpu", "--no-pdf-header-footer")


def long_job(desk: Desk, complaints: Sequence[str], answers: int = 28, failed: int = 3, seed: int = 1) -> str:
    """Make a job of that many answers and failed fixes, as far as the book has them; returns its number."""
    draw = random.Random(seed)  # noqa: S311 - the same job each time
    case = desk.open(LONG)
    for complaint in complaints:
        desk.complain(case, complaint)
    _tell_facts(desk, case, draw)
    open_checks = _checks(desk, complaints)
    draw.shuffle(open_checks)
    for told, check in enumerate(open_checks[:answers], 1):
        _answer(desk, case, check, draw)
        if failed and told % (answers // (failed + 1)) == 0 and told < answers:
            _fail(desk, case, draw)
    for number in range(NOTES):
        desk.note(case, f"{number}: {LONG}"[:LONGEST])
    desk.note_loose(case, LONG)
    desk.wish(case, LONG, "back")
    desk.wait(case, text=LONG)
    return case


def _tell_facts(desk: Desk, case: str, draw: random.Random) -> None:
    for _ in range(12):
        wanted = desk.view(case)["wanted"]
        if not wanted:
            return
        fact = wanted[0]
        desk.submit(case, events.profile(fact["fact"], [draw.choice(fact["answers"])["id"]]))


def _checks(desk: Desk, complaints: Sequence[str]) -> list[Check]:
    """What a mechanic may look at for these complaints, readings that a sum makes left out."""
    shown = {name for one in complaints for cause in desk.book.causes_of[one] for name in cause.shows}
    checks = [check for name in sorted(shown) for check in desk.book.findings[name].checks]
    return [one for one in checks if one.by == "mechanic" and not (one.measure and one.measure.working)]


def _answer(desk: Desk, case: str, check: Check, draw: random.Random) -> None:
    """Seven in ten are normal."""
    if check.measure:
        reading = round(check.measure.low + draw.choice((0.2, 0.4, 0.6)) * (check.measure.high - check.measure.low), 1)
        unit = check.measure.unit
        desk.submit(case, events.measured(check.id, "mechanic", reading, unit, f"{reading} {unit}"))
        return
    finding = desk.book.findings[check.finding]
    usual = finding.otherwise.chances.index(max(finding.otherwise.chances))
    values = tuple(finding.values)
    value = values[usual] if draw.random() < 0.7 else draw.choice(values)
    desk.submit(case, events.answered(check.id, "mechanic", value))


def _fail(desk: Desk, case: str, draw: random.Random) -> None:
    plan = desk.view(case)["plan"]
    if plan:
        standing = desk.folded(case).situation.standing
        fix = draw.choice(plan)["fix"]
        desk.submit(case, events.fix_done(fix, dict.fromkeys(standing, "still-there")))


def printed_pages(html: str, pdf: Path) -> int | None:
    """How many A4 pages a headless browser prints; None where none runs here."""
    if not (CHROMIUM and PDFINFO):
        return None
    page = pdf.with_suffix(".html")
    page.write_text(html, encoding="utf-8")
    profile = f"--user-data-dir={pdf.parent / 'profile'}"
    command = [CHROMIUM, *QUIET, profile, f"--print-to-pdf={pdf}", page.resolve().as_uri()]
    subprocess.run(command, capture_output=True, check=False, timeout=120)
    if not pdf.exists():
        return None
    told = subprocess.run([PDFINFO, str(pdf)], capture_output=True, text=True, check=True).stdout
    assert "A4" in told
    found = re.search(r"Pages:\s+(\d+)", told)
    assert found
    return int(found[1])


def _run(folder: Path, answers: int, failed: int) -> Iterator[str]:
    desk = Desk(Reasoner(chosen_book(())), SqliteStore(folder / "jobs.sqlite3"))
    for complaint in COMPLAINTS:
        page = job_on_paper(make_sheet(desk, long_job(desk, [complaint], answers, failed)), "today")
        printed = printed_pages(as_html(page), folder / f"{complaint}.pdf")
        yield f"{complaint}: reckoned {sheets(page)}, printed {printed or 'not here'}"


def main() -> None:
    """Print a long job of each of some complaints."""
    words = argparse.ArgumentParser(description=__doc__)
    words.add_argument("--answers", type=int, default=28)
    words.add_argument("--failed", type=int, default=3)
    words.add_argument("--out", type=Path)
    given = words.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        out = given.out or Path(folder)
        out.mkdir(parents=True, exist_ok=True)
        for line in _run(out, given.answers, given.failed):
            print(line, flush=True)


if __name__ == "__main__":
    main()
