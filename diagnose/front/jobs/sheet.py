"""`diagnose jobs sheet` and `rider-note`: a job on paper, for the stand and for the rider."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import NamedTuple

import click

from diagnose.casework.sheet import RiderWords, Sheet, make_sheet
from diagnose.casework.storefile import refusal, written_whole
from diagnose.front.jobs.common import desk_of, paper_of, plain_option, store_of, store_option
from diagnose.front.options import rules_option
from diagnose.front.sheet import wording as say
from diagnose.front.sheet.blocks import Page

RIDER = RiderWords(
    say.RIDER_BECAUSE,
    say.RIDER_FOUND_AT,
    say.RIDER_DID,
    say.RIDER_MUST,
    say.RIDER_GO_TO,
    say.RIDER_PART,
    say.RIDER_MAY_BE,
)


class Pages(NamedTuple):
    """How a job is set out where there is room for all of it, and where it is to be printed."""

    whole: Callable[[Sheet, str], Page]
    printed: Callable[[Sheet, str], Page]


FORMS = ("text", "markdown", "html")
ENDINGS = {".html": "html", ".htm": "html", ".md": "markdown", ".markdown": "markdown"}


@click.command()
@click.argument("job")
@click.option("--form", type=click.Choice(FORMS), help="How it is written; left out: as the output's ending says.")
@click.option("--output", type=click.Path(path_type=Path), help="A new file: .html to print, .md, else plain text.")
@rules_option
@store_option
@plain_option
def sheet(
    job: str, form: str | None, output: Path | None, rules: tuple[Path, ...], store: Path | None, plain: bool
) -> int:
    """Write the sheet of a JOB: complaint, findings, plan with boxes to tick, torque list, last check, notes.

    An HTML file is all in one and prints on A4 in black and white. Example: diagnose jobs sheet b7k2-21 --output
    b7k2-21.html
    """
    from diagnose.front.sheet.job import job_on_paper, job_page

    _write(job, form, output, rules, store, plain, Pages(job_page, job_on_paper))
    return 0


@click.command("rider-note")
@click.argument("job")
@click.option("--form", type=click.Choice(FORMS), help="How it is written; left out: as the output's ending says.")
@click.option("--output", type=click.Path(path_type=Path), help="A new file: .html to print, .md, else plain text.")
@rules_option
@store_option
@plain_option
def rider_note(
    job: str, form: str | None, output: Path | None, rules: tuple[Path, ...], store: Path | None, plain: bool
) -> int:
    """Write a short note of a JOB for its rider, without words of the workshop.

    It says whether the bike may be ridden, what was found and done, what is left, and what to look out for.
    Example: diagnose jobs rider-note b7k2-21 --output note.html
    """
    from diagnose.front.sheet.rider import rider_on_paper, rider_page

    _write(job, form, output, rules, store, plain, Pages(rider_page, rider_on_paper))
    return 0


def _write(
    job: str,
    form: str | None,
    output: Path | None,
    rules: tuple[Path, ...],
    store: Path | None,
    plain: bool,
    pages: Pages,
) -> None:
    if output is not None and output.exists():
        raise refusal("store.exists", output)
    form = form or (ENDINGS.get(output.suffix.lower(), "text") if output else "text")
    page_of = pages.printed if form == "html" else pages.whole
    with store_of(store) as kept:
        desk = desk_of(kept, rules)
        page = page_of(make_sheet(desk, desk.find(job), RIDER), datetime.now().astimezone().strftime("%Y-%m-%d %H:%M"))
    if output is None:
        _print(page, form, plain)
        return
    text = _written(page, form, plain)
    with written_whole(output, mode=0o644) as file:
        file.write(text)


def _print(page: Page, form: str, plain: bool) -> None:
    if form == "text":
        from diagnose.front.sheet.text import as_text

        as_text(page, paper_of(plain))
    else:
        click.echo(_written(page, form, plain), nl=False)


def _written(page: Page, form: str, plain: bool) -> str:
    if form == "html":
        from diagnose.front.sheet.page import as_html

        return as_html(page)
    if form == "markdown":
        from diagnose.front.sheet.markdown import as_markdown

        return as_markdown(page)
    import io

    from diagnose.front.paper import Paper
    from diagnose.front.sheet.text import as_text

    written = io.StringIO()
    as_text(page, Paper(written, plain=plain, width=76))
    return written.getvalue()
