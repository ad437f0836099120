"""`diagnose jobs`: look after the jobs that were told. Its commands stand in files of their own, imported when called.

Cast: `COMMANDS` names them.
"""

from __future__ import annotations

import click

from diagnose.front.lazy import LazyGroup

COMMANDS: dict[str, tuple[str, str, str]] = {
    "list": ("diagnose.front.jobs.listing", "list_jobs", "List jobs, or those with some words; as a table too."),
    "show": ("diagnose.front.jobs.show", "show_job", "Show how a job stands, for whoever takes it over."),
    "sheet": ("diagnose.front.jobs.sheet", "sheet", "Write the sheet of a job, to work from and to print."),
    "rider-note": ("diagnose.front.jobs.sheet", "rider_note", "Write a short note for the rider, without jargon."),
    "history": ("diagnose.front.jobs.listing", "history", "Tell what was done to a bike before, and what came back."),
    "note": ("diagnose.front.jobs.change", "note", "Keep a note with a job."),
    "undo": ("diagnose.front.jobs.change", "undo", "Take back the last thing that was told, step by step."),
    "wait": ("diagnose.front.jobs.change", "wait", "Leave a job waiting for a part, or say that it is here."),
    "end": ("diagnose.front.jobs.change", "end", "End a job in another way than by a repeat test that passed."),
    "comeback": ("diagnose.front.jobs.change", "comeback", "Open a job again because the bike came back."),
    "replay": ("diagnose.front.jobs.today", "replay", "Go through jobs with today's rule book; say what would differ."),
    "erase": ("diagnose.front.jobs.change", "erase", "Erase all free text of a job, its label too."),
    "export": ("diagnose.front.jobs.files", "export_jobs", "Write jobs as JSON Lines."),
    "import": ("diagnose.front.jobs.files", "import_jobs", "Take jobs from JSON Lines."),
    "backup": ("diagnose.front.jobs.files", "backup", "Copy the store to a new file, also while it is in use."),
    "check": ("diagnose.front.jobs.files", "check", "Say where the store is, how it is kept, and whether it is sound."),
    "rescue": (
        "diagnose.front.jobs.files",
        "rescue_jobs",
        "Say what can be saved of a damaged store; save it.",
    ),
    "measure": ("diagnose.front.jobs.measure", "measure", "Measure the store with a million events."),
}
"""Command to its module, its name there, and one line of help."""


@click.group(cls=LazyGroup, named=COMMANDS)
def command() -> None:
    """Look after the jobs that were told.

    A job is one bike on one visit. Everything told is kept at once, in one file in the user's data folder (`diagnose
    jobs check` says where), or in that of --store. No command needs a name or any other personal data.
    """
