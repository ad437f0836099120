"""`diagnose rules`: look after the rule book.

Cast: `check` says what is wrong with it (`rules_check.py`), `explain` what is looked for (`rules_explain.py`).
"""

from __future__ import annotations

import click

from diagnose.front.rules_check import check
from diagnose.front.rules_explain import explain


@click.group()
def command() -> None:
    """Look after the rule book."""


command.add_command(check)
command.add_command(explain)
