"""`diagnose rules`: look after the rule book. Its commands stand in files of their own, imported when they are called.

Cast: `COMMANDS` names them.
"""

from __future__ import annotations

from importlib import import_module

import click

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


class RulesGroup(click.Group):
    """Imports a command's module when it is called."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """The commands, those that look before those that write."""
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """The command of this name."""
        if cmd_name not in COMMANDS:
            return None
        module, name, _ = COMMANDS[cmd_name]
        command = getattr(import_module(module), name)
        return command if isinstance(command, click.Command) else None

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """List the commands without importing them."""
        with formatter.section("Commands"):
            formatter.write_dl([(name, text) for name, (*_, text) in COMMANDS.items()])


@click.group(cls=RulesGroup)
def command() -> None:
    """Look after the rule book."""
