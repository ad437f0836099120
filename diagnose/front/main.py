"""The command `diagnose`: its sub-commands, one file each, imported only when called.

Cast: `main` runs a command and turns every `DiagnoseError` into one message and an exit code: 0 done, 1 the thing
asked about does not hold, 2 the command was used wrongly or its input cannot be used, 70 a fault of the program (as in
the BSD sysexits).
"""

from __future__ import annotations

import errno
import os
import sys

import click

from diagnose import __version__
from diagnose.errors import DiagnoseError
from diagnose.front.lazy import LazyGroup

COMMANDS: dict[str, tuple[str, str, str]] = {
    "intake": (
        "diagnose.front.intake",
        "command",
        "Take a bike in at the counter: six questions at most, then a ticket.",
    ),
    "stand": (
        "diagnose.front.stand",
        "command",
        "Work on one bike: questions, the cause, the fix plan, the repeat test.",
    ),
    "jobs": ("diagnose.front.jobs.group", "command", "Look after the jobs that were told."),
    "settings": ("diagnose.front.settings", "command", "Show the shop's settings: where they are and what they say."),
    "replay": ("diagnose.front.replay", "command", "Run case files and compare them with what they expect."),
    "learn": ("diagnose.front.learn", "command", "Say what ended jobs would change in the rule book."),
    "rules": ("diagnose.front.rules", "command", "Look after the rule book."),
    "bench": (
        "diagnose.front.bench",
        "command",
        "The trade's sums: torque, chain, sag, pressure, run-out, spokes and more.",
    ),
    "score": ("diagnose.front.score", "command", "Play the policy against simulated bikes and print how it did."),
    "timing": ("diagnose.front.timing", "command", "Measure how fast the program is, as ratios."),
}
"""Command to its module, its name there, and one line of help."""


TRACE = "DIAGNOSE_TRACE"
"""Set to anything, this variable of the environment has a fault of the program shown whole."""
FAULT = (
    "This is a fault of the program, not of what you typed: {kind}: {text}\n"
    "What was told so far is kept. With {trace}=1 the same command shows where it happened; please report that."
)
NOT_TAKEN = (errno.ENOSPC, errno.EDQUOT, errno.EFBIG, errno.EIO)
NOT_WRITTEN = "The output was not written: {why}. What was told is kept. Make room, then do it again."


@click.group(cls=LazyGroup, named=COMMANDS, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, message="diagnose %(version)s")
def diagnose() -> None:
    """Find what is wrong with a bicycle and put it right.

    The marking on the part and the maker's manual always govern. If a life hangs on it and you are not sure, stop
    and give the bike to a qualified mechanic.
    """


def main(arguments: list[str] | None = None) -> int:
    """Run a command; returns the exit code."""
    try:
        result = diagnose.main(args=arguments, prog_name="diagnose", standalone_mode=False)
        if sys.stdout:  # none where it was closed
            sys.stdout.flush()
        return result if isinstance(result, int) else 0
    except click.exceptions.Exit as stop:
        return stop.exit_code
    except click.Abort:
        click.echo("Stopped.", err=True)
        return 130
    except (click.ClickException, DiagnoseError) as why:
        why.show() if isinstance(why, click.ClickException) else click.echo(_plain(str(why)), err=True)
        return 2
    except BrokenPipeError:
        _silence_stdout()
        return 0
    except Exception as fault:
        if os.environ.get(TRACE):
            raise
        return _tell_fault(fault)


def _tell_fault(fault: Exception) -> int:
    """A fault of the program in two lines, for whoever met it; a full disk behind the output in one."""
    if isinstance(fault, OSError) and fault.errno in NOT_TAKEN:
        _silence_stdout()
        click.echo(NOT_WRITTEN.format(why=fault.strerror), err=True)
        return 2
    click.echo(FAULT.format(kind=type(fault).__name__, text=_plain(str(fault)), trace=TRACE), err=True)
    return 70


def _plain(text: str) -> str:
    """A message without control characters, whatever a file or a user put into it."""
    return "".join(char if char.isprintable() or char == "\n" else "?" for char in text)


def _silence_stdout() -> None:
    """Whoever read our output has gone; keep the interpreter from complaining on its way out."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
