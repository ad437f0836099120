"""`diagnose bench`: the trade's sums, a plain-named sub-command for each, made from what the sum itself declares.

Cast: `command` is the group; `SumCommand` one sub-command, made when it is called; `ask_for` asks in a terminal for
what was not given; `print_result` shows an answer with its gauge, `--json` prints it for programs.
"""

from __future__ import annotations

import shlex
import sys
from collections.abc import Mapping
from difflib import get_close_matches
from pathlib import Path
from typing import TYPE_CHECKING

import click

from diagnose.bench.sums.givens import WORDS, Given, Taken
from diagnose.bench.sums.model import Result, Sum
from diagnose.bench.sums.table import NAMES, sum_named
from diagnose.bench.units import show
from diagnose.errors import DiagnoseError, InputError

if TYPE_CHECKING:
    from diagnose.front.paper import Paper


class BenchGroup(click.Group):
    """Finds the sum when its sub-command is called; listing them loads none."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """The sums, in the order of the trade."""
        return list(NAMES)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """The sub-command of this name."""
        return SumCommand(sum_named(cmd_name)) if cmd_name in NAMES else None

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """List the sums without loading them."""
        with formatter.section("Sums"):
            formatter.write_dl([(name, text) for name, (_, text) in NAMES.items()])


class SumCommand(click.Command):
    """One sum: an option for each thing it asks for, and an example in its help."""

    def __init__(self, sum_: Sum) -> None:
        self.sum = sum_
        options: list[click.Parameter] = [_option(given) for given in sum_.givens]
        options += [
            click.Option(["--json", "as_json"], is_flag=True, help="Print the answer for programs."),
            click.Option(["--svg"], metavar="FILE", help="Also write the gauge as a picture; - is standard output."),
            click.Option(["--plain"], is_flag=True, help="ASCII only."),
        ]
        super().__init__(sum_.name, params=options, callback=self._run, help=sum_.title)

    def format_epilog(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """How it is reckoned, and an example with its answer."""
        for heading, text in (("How", self.sum.formula), ("From", self.sum.source)):
            with formatter.section(heading):
                formatter.write_text(text)
        with formatter.section("Example"):
            formatter.write(f"  diagnose bench {self.sum.name} {shlex.join(self.sum.example)}\n")
            formatter.write(f"  {self.sum.prints}\n")

    def _run(self, as_json: bool, svg: str | None, plain: bool, **typed: str | None) -> int:
        from diagnose.front.paper import Paper

        raw = {given.key: typed[_parameter(given)] for given in self.sum.givens}
        paper = Paper(plain=True if plain else None)
        result = self.sum.result(ask_for(self.sum, raw, paper, quiet=as_json or svg == "-"))
        if svg:
            write_picture(result, svg)
        if as_json and svg != "-":
            import json

            click.echo(json.dumps(result.as_json(), indent=1, ensure_ascii=True))
        elif svg != "-":
            print_result(result, paper)
        return 0


@click.command(cls=BenchGroup, invoke_without_command=True)
@click.pass_context
def command(ctx: click.Context) -> int | None:
    """Reckon what the bench needs: torque, chain, sag, pressure, run-out, spokes and more.

    Numbers are typed as people type them: 51mm, 5,2 Nm, 1/16 in, 80 psi. In a terminal, what is not given is asked for.
    Figures are a fallback: the marking on the part and the maker's manual always govern.

    Example: diagnose bench sag --sag 38mm --travel 150mm
    """
    if ctx.invoked_subcommand is not None:
        return None
    click.echo(ctx.get_help())
    if not _somebody_there(quiet=False):
        return 0
    while True:
        typed = click.prompt("\nWhich sum", default="", show_default=False).strip().lower()
        if not typed:
            return 0
        found = _begins(typed)
        if len(found) == 1:
            answer = SumCommand(sum_named(found[0])).main(
                [], standalone_mode=False, prog_name=f"diagnose bench {found[0]}"
            )
            return answer if isinstance(answer, int) else 0
        near = found or get_close_matches(typed, NAMES, 3)
        click.echo(
            f"One of: {', '.join(near)}." if near else "No sum of that name; type one from the list, Enter leaves."
        )


def ask_for(sum_: Sum, raw: Mapping[str, str | None], paper: Paper, *, quiet: bool = False) -> dict[str, object]:
    """The readings, with those that are missing asked for where somebody sits at a terminal.

    With nothing given, all is asked; otherwise only what the sum cannot do without.

    Args:
        sum_: the sum.
        raw: as typed, None where nothing was.
        paper: where hints and slips are written.
        quiet: keep standard output for the answer, and ask on standard error.

    Raises:
        click.UsageError: something is missing and nobody can be asked.
    """
    given = {key: value for key, value in raw.items() if value is not None}
    asked = [one for one in sum_.givens if one.key not in given and (not given or one.default is None)]
    needed = [one for one in asked if one.default is None]
    readings: dict[str, object] = dict(given)
    if not asked or (given and not needed):
        return readings
    if not _somebody_there(quiet=quiet):
        missing = ", ".join(f"--{one.key} ({paper.clean(one.shape)})" for one in needed)
        if missing:
            raise click.UsageError(f"Missing: {missing}. See diagnose bench {sum_.name} --help.")
        return readings
    for one in asked:
        typed = _ask(one, paper, quiet=quiet)
        if typed:
            readings[one.key] = typed
    return readings


def print_result(result: Result, paper: Paper) -> None:
    """Write an answer: the line that counts, its gauge, further figures, what to mind, and where it is from."""
    paper.say(result.shown(plain=paper.ascii), style="bold")
    if result.bands and isinstance(result.value, float):
        from diagnose.bench.gauge import draw

        paper.say()
        for line in draw(result.value, result.unit, result.bands, width=min(paper.width, 60), plain=paper.ascii):
            click.echo(paper.clean(line), file=paper.stream)
        paper.say()
    for part in result.parts:
        paper.say(f"{part.name}: {part.shown(plain=paper.ascii)}", indent=2, hang=2)
    for note in result.notes:
        paper.say(note)
    paper.say()
    paper.say(f"Given: {', '.join(_echo(one) for one in result.inputs)}", style="dim", hang=2)
    paper.say(f"How: {result.formula}", style="dim", hang=2)
    paper.say(f"From: {result.source}", style="dim", hang=2)


def write_picture(result: Result, path: str) -> None:
    """Write the gauge of a result as SVG to a file, or to standard output where the path is a hyphen.

    Raises:
        InputError: `bench-no-gauge` where the sum has no bands, `bench-not-written` where the file cannot be written.
    """
    if not result.bands or not isinstance(result.value, float):
        raise InputError("bench-no-gauge", f"{result.name} has no bands here, so there is no gauge to draw.")
    from diagnose.bench.gauge import draw_svg

    drawn = draw_svg(result.value, result.unit, result.bands, key=result.name) + "\n"
    picture = drawn.encode("ascii", "xmlcharrefreplace").decode("ascii")
    if path == "-":
        click.echo(picture, nl=False)
        return
    try:
        Path(path).write_text(picture, encoding="ascii")
    except OSError as why:
        raise InputError("bench-not-written", f"The picture cannot be written: {why.strerror or why}.") from None


def _option(given: Given) -> click.Option:
    """The option that takes one reading, as text; the sum reads it."""
    default = f" [{given.default}]" if given.default else "" if given.default is None else " [may be left out]"
    return click.Option(
        [f"--{given.key}", _parameter(given)], metavar="...", help=f"{given.asks}; {given.shape}{default}"
    )


def _parameter(given: Given) -> str:
    return "given_" + given.key.replace("-", "_")


def _somebody_there(*, quiet: bool) -> bool:
    """Whether somebody can be asked: questions go to standard output, or to standard error where that is kept clean."""
    return sys.stdin.isatty() and (sys.stderr if quiet else sys.stdout).isatty()


def _ask(given: Given, paper: Paper, *, quiet: bool) -> str:
    """One answer that the sum can take; empty where the default counts."""
    enter = "" if given.default is None else f", Enter for {given.default}" if given.default else ", Enter to leave out"
    question = paper.clean(f"{given.asks} ({given.shape}{enter})")
    while True:
        typed: str = click.prompt(question, default="", show_default=False, err=quiet).strip()
        if not typed and given.default is not None:
            return ""
        try:
            given.read(typed or None)
        except DiagnoseError as why:
            click.echo(paper.clean(str(why)), err=quiet)
        else:
            return typed


def _begins(typed: str) -> list[str]:
    """The sums whose name is what was typed, or begins with it."""
    return [typed] if typed in NAMES else [name for name in NAMES if name.startswith(typed)]


def _echo(one: Taken) -> str:
    """A reading as it was taken, and as it was typed where that was in another unit."""
    if one.unit == WORDS or not isinstance(one.value, float):
        return f"{one.key} {one.typed}"
    taken = show(one.value, one.unit)
    same = taken.replace(" ", "") == one.typed.replace(" ", "") or not any(sign.isalpha() for sign in one.typed)
    return f"{one.key} {taken}" if same else f"{one.key} {one.typed} ({taken})"
