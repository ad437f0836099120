"""`diagnose rules`: look after the rule book. Its commands stand in files of their own, imported when they are called.

Cast: `COMMANDS` names them.
"""

from __future__ import annotations

import click

from diagnose.front.lazy import LazyGroup

COMMANDS: dict[str, tuple[str, str, str]] = {
    "check": ("diagnose.front.rules_check", "check", "Say what is wrong with a rule book, and where."),
    "explain": ("diagnose.front.rules_explain", "explain", "Say what the check looks for, with examples."),
    "show": ("diagnose.front.rulebook.show", "command", "Tell what the book says of one thing, with all its ties."),
    "tell-apart": ("diagnose.front.rulebook.tell_apart", "command", "Say which checks separate two causes, how well."),
    "compare": (
        "diagnose.front.rulebook.compare",
        "command",
        "Say what a change does to cases, questions, minutes.",
    ),
    "map": ("diagnose.front.rulebook.map", "command", "Draw a complaint's causes and findings as a picture."),
    "new": ("diagnose.front.rulebook.new", "command", "Ask about a new cause; write its file and a worked case."),
    "tidy": ("diagnose.front.rulebook.tidy", "command", "Put rule files and worked cases into one layout."),
    "schema": ("diagnose.front.rulebook.schema", "command", "Write JSON Schemas, so that an editor helps with rules."),
}
"""Command to its module, its name there, and one line of help."""


@click.group(cls=LazyGroup, named=COMMANDS)
def command() -> None:
    """Look after the rule book."""
