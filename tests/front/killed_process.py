"""A process that works on a job with piped lines and is killed (signal 9) at one event.

Called as `killed_process.py RULES STORE JOB WHEN COUNT NOTE`: JOB `new` or a job number,
with `intake:` before it at the counter; WHEN `after` an event was
stored or `before`; COUNT which event of this process, counted from 1 (0: never). NOTE gets how many lines were read
when it was stored, one number an event, so that whoever goes on knows which lines are still to come.
"""

from __future__ import annotations

import os
import signal
import sys
from pathlib import Path
from typing import Any

from diagnose.casework.store import SqliteStore
from diagnose.front.keys import PipedKeyboard
from diagnose.front.main import main


def run(rules: str, store: str, job: str, when: str, count: int, note: Path) -> int:
    """The command, with its store and its keyboard watched."""
    read, stored = 0, 0
    append, line = SqliteStore.append, PipedKeyboard._next

    def counted(self: PipedKeyboard) -> str:
        nonlocal read
        text = line(self)
        read += 1
        return text

    def killed(self: SqliteStore, *args: Any) -> Any:
        nonlocal stored
        stored += 1
        if stored == count and when == "before":
            os.kill(os.getpid(), signal.SIGKILL)
        event = append(self, *args)
        with note.open("a", encoding="ascii") as file:
            file.write(f"{read}\n")
        if stored == count:
            os.kill(os.getpid(), signal.SIGKILL)
        return event

    PipedKeyboard._next = counted  # type: ignore[method-assign]
    SqliteStore.append = killed  # type: ignore[assignment, method-assign]
    command, _, case = job.rpartition(":")
    chosen = ["--case", case] if case != "new" else ["--new"] if command != "intake" else []
    return main([command or "stand", "--rules", rules, "--store", store, *chosen])


if __name__ == "__main__":
    rules, store, job, when, count, note = sys.argv[1:]
    sys.exit(run(rules, store, job, when, int(count), Path(note)))
