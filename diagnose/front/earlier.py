"""The same bike again: what is said of its earlier jobs when a new one is opened under its label.

Cast: `say_earlier`.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from diagnose.casework.desk import Desk
from diagnose.front import wording
from diagnose.front.jobs.common import complaints, local, state
from diagnose.front.options import command_line
from diagnose.front.paper import Paper

TOLD = 3
"""Earlier jobs that are told, the newest first."""
LOOKED_AT = 30
"""Jobs under one label that are looked at."""


def say_earlier(paper: Paper, desk: Desk, label: str, case_id: str, files: tuple[tuple[str, Path], ...] = ()) -> None:
    """What was here before under this label, what was done, and how to go on with it; nothing for no label.

    A job that is over came back where the complaint is the same; one that is not over is gone on with.
    """
    if not label:
        return
    before = desk.store.cases(bike=label, limit=LOOKED_AT)
    earlier = [one for one in before if one.id != case_id and one.complaints]  # one left untold says nothing
    for job in earlier[:TOLD]:
        told = complaints(job, desk.book)
        line = wording.HERE_BEFORE.format(case=job.id, when=local(job.last_at), told=told, state=state(job, desk.book))
        paper.say(line, hang=2)
        done = [fix for _, one in desk.work_done(job.id) if one.kind == "fix" for fix in _fixes(one.data)]
        names = [desk.book.fixes[fix].name for fix in dict.fromkeys(done) if fix in desk.book.fixes]
        if names:
            paper.say(wording.DONE_THEN.format(names="; ".join(names)), indent=2)
    if earlier:
        over = earlier[0].ended is not None
        paper.say(wording.SAME_AGAIN if over else wording.STILL_OPEN)
        paper.whole(
            command_line(wording.COMEBACK_COMMAND if over else _go_on(desk, earlier[0].id), earlier[0].id, files)
        )


def _go_on(desk: Desk, case_id: str) -> str:
    """The command that goes on with a job, where it was begun: at the counter or at the stand."""
    at_counter = desk.folded(case_id).situation.role == "rider"
    return wording.INTAKE_COMMAND if at_counter else wording.COMMAND


def _fixes(data: Mapping[str, Any]) -> list[str]:
    """The fixes of an event that says they were done; none of one that could not be."""
    return [] if data.get("not_possible") else [data["fix"], *data.get("with", ())]
