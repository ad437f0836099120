"""Pictures as SVG that read in black and white.

Cast: `Drawing` collects shapes on a sheet and writes the file's text.
"""

from __future__ import annotations

from xml.sax.saxutils import escape

MARKS = ("disc", "ring", "square", "triangle", "cross", "diamond", "bar")
GREY = "#777777"


class Drawing:
    """Shapes on a sheet of `width` by `height`, top left at 0, 0."""

    def __init__(self, width: float, height: float, title: str) -> None:
        self.width, self.height, self.title = width, height, title
        self._shapes: list[str] = []

    def line(
        self, start: tuple[float, float], end: tuple[float, float], dashes: str = "", colour: str = "black"
    ) -> None:
        """A line, dashed where `dashes` says how."""
        dashed = f' stroke-dasharray="{dashes}"' if dashes else ""
        ends = f'x1="{start[0]:.1f}" y1="{start[1]:.1f}" x2="{end[0]:.1f}" y2="{end[1]:.1f}"'
        self._shapes.append(f'<line {ends} stroke="{colour}"{dashed}/>')

    def text(
        self, x: float, y: float, words: str, anchor: str = "start", turned: bool = False, bold: bool = False
    ) -> None:
        """Words that start, centre (`middle`) or end at a point; `turned`: upwards."""
        turn = f' transform="rotate(-90 {x:.1f} {y:.1f})"' if turned else ""
        thick = ' font-weight="bold"' if bold else ""
        at = f'x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}"'
        self._shapes.append(f"<text {at}{thick}{turn}>{escape(words)}</text>")

    def mark(self, kind: str, x: float, y: float, size: float = 4.5) -> None:
        """One of `MARKS` round a point."""
        left, right, top, low = (f"{one:.1f}" for one in (x - size, x + size, y - size, y + size))
        hollow = 'fill="white" stroke="black"'
        shapes = {
            "disc": f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{size}" fill="black"/>',
            "ring": f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{size}" {hollow}/>',
            "square": f'<path d="M{left} {low}H{right}V{top}H{left}Z" {hollow}/>',
            "triangle": f'<path d="M{left} {low}H{right}L{x:.1f} {top}Z" {hollow}/>',
            "cross": f'<path d="M{left} {top}L{right} {low}M{left} {low}L{right} {top}" fill="none" stroke="black"/>',
            "bar": f'<path d="M{x:.1f} {top}V{low}" fill="none" stroke="black" stroke-width="2"/>',
            "diamond": f'<path d="M{left} {y:.1f}L{x:.1f} {top}L{right} {y:.1f}L{x:.1f} {low}Z" {hollow}/>',
        }
        self._shapes.append(shapes[kind])

    def box(
        self, x: float, y: float, width: float, height: float, fill: str, tip: str = "", line: str = "none"
    ) -> None:
        """A rectangle with its top left at a point; `tip` is what a browser shows where the pointer rests on it."""
        told = f"<title>{escape(tip)}</title>" if tip else ""
        at = f'x="{x:.1f}" y="{y:.1f}" width="{width:.1f}" height="{height:.1f}"'
        self._shapes.append(f'<rect {at} fill="{fill}" stroke="{line}">{told}</rect>')

    def svg(self) -> str:
        """The file's text."""
        size = f'width="{self.width:.0f}" height="{self.height:.0f}" viewBox="0 0 {self.width:.0f} {self.height:.0f}"'
        head = f'<svg xmlns="http://www.w3.org/2000/svg" {size} font-family="sans-serif" font-size="12" role="img">'
        sheet = '<rect width="100%" height="100%" fill="white"/>'
        return "\n".join([head, f"<title>{escape(self.title)}</title>", sheet, *self._shapes, "</svg>", ""])
