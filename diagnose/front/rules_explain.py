"""`diagnose rules explain`: what the check on a rule book looks for, why, and an example of either kind.

Cast: `explain`.
"""

from __future__ import annotations

from collections.abc import Iterator

import click

from diagnose.book.anomalies.anomaly import Anomaly
from diagnose.book.kind import Example, Kind
from diagnose.front.anomalies import every_kind, named


@click.command()
@click.argument("code", required=False)
def explain(code: str | None) -> int:
    """Say what CODE in a message of `rules check` means, with two examples; all codes when left out.

    Example: diagnose rules explain limit.unused
    """
    for line in _one(named(code)) if code else _all():
        click.echo(line)
    return 0


def _all() -> Iterator[str]:
    kinds = every_kind()
    width = max(len(one.name) for one in kinds)
    for kind in kinds:
        yield f"{kind.name:{width}}  {kind.severity:7}  {kind.what()}"


def _one(kind: Kind) -> Iterator[str]:
    yield f"{kind.name} ({kind.severity}): {kind.what()}"
    yield f"Why: {kind.why}"
    yield from _example("Found in:", kind.wrong)
    yield from _example("Not found in:", kind.right)
    if isinstance(kind, Anomaly):
        yield f'If it is right as it is, add to the entry:  let_stand: {{{kind.name}: "why it is right"}}'


def _example(title: str, example: Example | None) -> Iterator[str]:
    if example is None:
        return
    yield ""
    yield title
    for file, text in example.files():
        yield f"  {file}"
        yield from (f"    {_visible(line)}" for line in text.splitlines())
    yield ""


def _visible(line: str) -> str:
    """A line in which a tab, or a sign that nobody sees, is named."""
    return "".join(sign if sign.isprintable() else "<tab>" if sign == "\t" else f"<U+{ord(sign):04X}>" for sign in line)
