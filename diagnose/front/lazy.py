"""A group of commands that stand in files of their own and are imported when called.

Cast: `LazyGroup`, told its commands by `named`: each with its module, its name there, and one line of help.
"""

from __future__ import annotations

from collections.abc import Mapping
from importlib import import_module
from typing import Any

import click


class LazyGroup(click.Group):
    """Imports a command's module when it is called, so that the first prompt comes fast."""

    def __init__(self, *args: Any, named: Mapping[str, tuple[str, str, str]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.named = named

    def list_commands(self, ctx: click.Context) -> list[str]:
        """The commands in their own order."""
        return list(self.named)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """The command of this name."""
        if cmd_name not in self.named:
            return None
        module, name, _ = self.named[cmd_name]
        command = getattr(import_module(module), name)
        return command if isinstance(command, click.Command) else None

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """List the commands without importing them."""
        with formatter.section("Commands"):
            formatter.write_dl([(name, text) for name, (*_, text) in self.named.items()])
