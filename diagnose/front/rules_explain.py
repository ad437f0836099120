"""`diagnose rules explain`: what the check on a rule book looks for, why, and an example of either kind.

Cast: `explain`.
"""

from __future__ import annotations

from collections.abc import Iterator

import click

from diagnose.book.anomalies.anomaly import Anomaly, Example
from diagnose.front.anomalies import every_anomaly, named


@click.command()
@click.argument("code", required=False)
def explain(code: str | None) -> int:
    """Say what the finding CODE of `rules check` means, with an example of it and one without; all codes when left out.

    Example: diagnose rules explain limit.unused
    """
    for line in _one(named(code)) if code else _all():
        click.echo(line)
    return 0


def _all() -> Iterator[str]:
    anomalies = sorted(every_anomaly(), key=lambda one: one.name)
    width = max(len(one.name) for one in anomalies)
    for anomaly in anomalies:
        yield f"{anomaly.name:{width}}  {anomaly.severity:7}  {anomaly.what()}"


def _one(anomaly: Anomaly) -> Iterator[str]:
    yield f"{anomaly.name} ({anomaly.severity}): {anomaly.what()}"
    yield f"Why: {anomaly.why}"
    yield from _example("Found in:", anomaly.wrong)
    yield from _example("Not found in:", anomaly.right)
    yield f'If it is right as it is, add to the entry:  let_stand: {{{anomaly.name}: "why it is right"}}'


def _example(title: str, example: Example) -> Iterator[str]:
    yield ""
    yield title
    for file, text in example.files():
        yield f"  {file}"
        yield from (f"    {line}" for line in text.splitlines())
    yield ""
