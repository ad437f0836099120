"""`diagnose rules map`: a complaint's causes and findings as a picture.

Cast: `draw(book, complaint)` gives the text of an SVG file. A row is a cause, with its share as a bar; a column is a
finding; where they cross stands the letter of the value that the cause makes commoner, the darker the field the more it
does so. Below, each finding's values are told by letter. The picture reads in black and white; resting the pointer on a
field shows the figures.
"""

from __future__ import annotations

from pathlib import Path
from string import ascii_lowercase

import click

from diagnose.book.chart import Cell, Chart, chart_of
from diagnose.book.model import Book, Cause, Finding
from diagnose.errors import InputError
from diagnose.front.drawing import GREY, Drawing
from diagnose.front.options import chosen_book, rules_option
from diagnose.front.rulebook.lookup import look_up
from diagnose.front.rulebook.phrases import of_100, title

ROW, COLUMN = 22.0, 26.0
LETTER = 6.4
"""Mean width of a letter."""
BOLD = 7.2
BAR = 3.0
"""Width of one bike of 100."""
EDGE = 16.0
LINE = 15.0
COLUMNS = 3
"""Columns of the legend that are aimed at."""
LETTERED = 24.0
"""How far a text stands behind its letter or number."""
LETTERS = (*ascii_lowercase, *(f"a{letter}" for letter in ascii_lowercase))
DANGER = {"none": "", "care": "!", "stop": "!!"}
WHITE, DARKEST = 255, 130
UNKNOWN = "not in the book"
TOLD = (
    "Rows: causes, with so many of 100 such bikes as a bar; ! ride with care, !! do not ride.",
    "Columns: the findings asked for it. The letter is what the cause makes commoner, told below by letter;",
    "the darker its field, the more the cause changes what is seen. An empty field: as without the cause.",
)
EMPTY_ROW = "An empty row: no finding asked for it speaks for that cause; the kind of bike or a deduction may."


@click.command()
@click.argument("complaint")
@click.argument("file", type=click.Path(path_type=Path), required=False)
@rules_option
def command(complaint: str, file: Path | None, rules: tuple[Path, ...]) -> int:
    """Draw the causes and findings of COMPLAINT into FILE (its id and .svg when left out; - is standard output).

    Example: diagnose rules map front-knock knock.svg
    """
    book = chosen_book(rules)
    things = look_up(book, complaint)
    names = [thing.id for thing in things if thing.kind == "complaint"]
    if not names:
        hint = "Complaints: " + ", ".join(sorted(book.complaints)) + "."
        raise InputError("input.complaint", f'"{complaint}" is a {things[0].kind}, not a complaint.', None, hint)
    picture = draw(book, names[0])
    if str(file) == "-":
        click.echo(picture, nl=False)
        return 0
    path = file or Path(f"{names[0]}.svg")
    _write(path, picture)
    click.echo(f"Drawn: {path}")
    return 0


def _write(path: Path, picture: str) -> None:
    try:
        if path.is_file() and not path.read_bytes().startswith(b"<svg"):
            message = f"{path} is there already and is no picture; nothing was changed."
            raise InputError("input.file", message, None, "Name another file.")
        path.write_text(picture, encoding="utf-8")
    except OSError as why:
        message = f"The picture cannot be written to {path}: {why.strerror}."
        raise InputError("input.file", message, None, "Name a file that can be written.") from why


def draw(book: Book, complaint: str) -> str:
    """The picture of a complaint as SVG."""
    return _Map(book, complaint).svg()


class _Map:
    def __init__(self, book: Book, complaint: str) -> None:
        self.book = book
        self.complaint = book.complaints[complaint]
        self.chart: Chart = chart_of(book, complaint)
        longest = max([len(UNKNOWN), *(len(self._named(cause)) + 3 for cause in self.chart.causes)])
        self.names = EDGE + LETTER * longest
        shares = [cause.shares[complaint].of_100 for cause in self.chart.causes]
        self.most = max([*shares, 100 * self.complaint.something_else])
        self.left = self.names + 12 + BAR * self.most + 40
        rows = {cause for cause, _ in self.chart.cells}
        empty = () if rows.issuperset(cause.id for cause in self.chart.causes) else (EMPTY_ROW,)
        self.told = (*TOLD, *empty, f"From: {'; '.join(map(title, book.volumes))}.")
        longest = max((len(self._named(one)) for one in self.chart.findings), default=0)
        self.top = 63 + LINE * len(self.told) + LETTER * longest
        self.foot = self.top + ROW * (len(self.chart.causes) + 1)
        self.right = self.left + COLUMN * len(self.chart.findings)
        names = [BOLD * len(self._named(one)) for one in self.chart.findings]
        values = [LETTERED + LETTER * len(text) for one in self.chart.findings for text in one.values.values()]
        self.column = LETTERED + EDGE + max([*names, *values], default=0)
        across = max(1, int((max(self.right, COLUMNS * self.column) - EDGE) / self.column))
        self.legend = self._legend(across)
        height = self.foot + 60 + LINE * max((len(column) for column in self.legend), default=0)
        told = EDGE + LETTER * max(map(len, self.told))
        width = max(told, self.right, EDGE + self.column * len(self.legend)) + EDGE
        self.sheet = Drawing(width, height, f"{self.complaint.name}: causes and findings")

    def _named(self, thing: Cause | Finding) -> str:
        """Its name, with the own folder that it comes from."""
        volume = self.book.volume_of(thing.id)
        return f"{thing.name} ({volume.id})" if volume.adds_to else thing.name

    def svg(self) -> str:
        self._head()
        for place, finding in enumerate(self.chart.findings):
            self._column(place, finding)
        for place, cause in enumerate(self.chart.causes):
            self._row(place, cause)
        self._unknown()
        self._write_legend()
        return self.sheet.svg()

    def _head(self) -> None:
        sheet = self.sheet
        sheet.text(EDGE, 26, self.complaint.name, bold=True)
        for line, text in enumerate(self.told):
            sheet.text(EDGE, 46 + LINE * line, text)

    def _column(self, place: int, finding: Finding) -> None:
        x = self.left + COLUMN * place
        if place % 2 == 0:
            self.sheet.box(x, self.top, COLUMN, self.foot - ROW - self.top, "#f4f4f4")
        self.sheet.text(x + COLUMN / 2 + 4, self.top - 22, self._named(finding), turned=True)
        for y in (self.top - 7, self.foot - ROW + 14):
            self.sheet.text(x + COLUMN / 2, y, str(place + 1), "middle", bold=True)

    def _row(self, place: int, cause: Cause) -> None:
        y = self.top + ROW * place
        mark = DANGER[cause.danger]
        self.sheet.line((EDGE, y), (self.right, y), "1 3", GREY)
        self.sheet.text(self.names, y + 15, f"{mark} {self._named(cause)}".strip(), "end")
        self._bar(y, cause.shares[self.complaint.id].of_100)
        for column, finding in enumerate(self.chart.findings):
            cell = self.chart.cells.get((cause.id, finding.id))
            if cell:
                self._cell(self.left + COLUMN * column, y, self._tip(cause, finding, cell), cell)

    def _bar(self, y: float, share: float) -> None:
        x = self.names + 12
        self.sheet.box(x, y + 5, BAR * share, ROW - 10, "#555555")
        self.sheet.text(x + BAR * share + 5, y + 15, f"{share:g}")

    def _cell(self, x: float, y: float, tip: str, cell: Cell) -> None:
        grey = round(WHITE - (WHITE - DARKEST) * min(1.0, cell.moved))
        self.sheet.box(x + 2, y + 2, COLUMN - 4, ROW - 4, f"#{grey:02x}{grey:02x}{grey:02x}", tip, GREY)
        self.sheet.text(x + COLUMN / 2, y + 15, LETTERS[cell.value], "middle", bold=cell.moved >= 0.5)

    def _tip(self, cause: Cause, finding: Finding, cell: Cell) -> str:
        told = zip(finding.values.values(), cell.row.chances, finding.otherwise.chances, strict=True)
        rows = [f"{text}: {of_100(here)} (beside {100 * there:.0f})" for text, here, there in told]
        return "\n".join([f"{self._named(cause)}: {self._named(finding)}", *rows])

    def _unknown(self) -> None:
        y = self.foot - ROW
        self.sheet.line((EDGE, y), (self.right, y), "", GREY)
        self.sheet.text(self.names, y + 15, UNKNOWN, "end")
        self._bar(y, round(100 * self.complaint.something_else, 1))

    def _legend(self, across: int) -> list[list[tuple[str, bool]]]:
        """Columns of lines (text, bold): each finding with its values by letter, no finding parted."""
        blocks = []
        for number, finding in enumerate(self.chart.findings, 1):
            values = zip(LETTERS, finding.values.values(), strict=False)
            lines = [(f"{number} {self._named(finding)}", True)]
            blocks.append([*lines, *((f"{letter} {text}", False) for letter, text in values), ("", False)])
        height = -(-sum(map(len, blocks)) // across)
        columns: list[list[tuple[str, bool]]] = [[]]
        for block in blocks:
            if columns[-1] and len(columns[-1]) + len(block) > height + 2 and len(columns) < across:
                columns.append([])
            columns[-1].extend(block)
        return columns

    def _write_legend(self) -> None:
        for place, column in enumerate(self.legend):
            for line, (text, bold) in enumerate(column):
                if not text:
                    continue
                mark, _, rest = text.partition(" ")
                x, y = EDGE + self.column * place, self.foot + 44 + LINE * line
                self.sheet.text(x + (0 if bold else LETTERED), y, mark, bold=True)
                self.sheet.text(x + LETTERED + (0 if bold else LETTERED), y, rest, bold=bold)
