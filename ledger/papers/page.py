"""
A page being drawn as PDF: lines, curves and words in mm from the lower left corner, sizes of letters in points.

The same calls give the same bytes. Words are never markup (`ledger.papers.lettering`). A *row* is a line of cells
that wrap; *fitting* is choosing the largest letters with which all rows go into a box. What does not go in even
at the smallest is counted, never dropped in silence.
"""

from __future__ import annotations

import io
import math
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

from ledger.domain.drawing import INK
from ledger.domain.errors import BadInput, visible
from ledger.domain.shape import Vertex, arc_of
from ledger.papers.lettering import BOLD, POINT_MM, TEXT, cut, glyphs, printable, width_mm, wrap
from ledger.standards.papers import sizes_mm

PAPERS = {name: sizes_mm()[name] for name in ("A4", "letter")}  # what sheets and records are laid out for
FULL_SIZE = "PrintScaling"  # ISO 32000-1 table 150: a viewer then offers to print without fitting to the page
LEADING = 1.28  # line to line, in letter heights
PADDING_MM = 0.6

# Longest arcs drawn as one curve: an eighth of a turn is off by less than 5 millionths of its radius; on a small
# radius a quarter will do, which is off by 273 millionths, so by less than 2 µm on paper.
_PIECE, _COARSE_PIECE, _SMALL_MM = math.pi / 4, math.pi / 2, 7.0


@dataclass(frozen=True, slots=True)
class Area:
    """A rectangle on the page: left edge, top edge, width and height in mm."""

    x: float
    top: float
    width: float
    height: float


@dataclass(frozen=True, slots=True)
class Row:
    """Cells side by side; `shares` are their parts of the whole width."""

    cells: tuple[str, ...]
    shares: tuple[float, ...]
    bold: bool = False
    ruled: bool = False


class Page:
    """
    A page of one paper, or of a size in mm, by itself or of a document that is being made.

    Raises BadInput for a paper not known.
    """

    def __init__(
        self, paper: str | tuple[float, float], *, title: str, owner: str, canvas: Any = None
    ) -> None:
        from reportlab.pdfgen.canvas import Canvas  # type: ignore[import-untyped]  # ships no types

        if isinstance(paper, str) and paper not in PAPERS:
            raise BadInput(f"no paper {visible(paper)!r}; known: {', '.join(PAPERS)}")
        glyphs(TEXT), glyphs(BOLD)
        self.width, self.height = PAPERS[paper] if isinstance(paper, str) else paper
        self._bytes = io.BytesIO()
        if canvas is not None:
            self._canvas: Any = canvas
            return
        size = (self.width / POINT_MM, self.height / POINT_MM)
        self._canvas = Canvas(self._bytes, pagesize=size, invariant=1, pageCompression=1)
        self._canvas.setTitle(printable(title))
        self._canvas.setAuthor(printable(owner))
        self._canvas.setCreator("fitup")
        self._canvas.setProducer("fitup")

    def bytes(self) -> bytes:
        """The finished PDF; nothing can be drawn afterwards."""
        with plain_streams():
            self._canvas.save()
        return self._bytes.getvalue()

    def at_full_size(self) -> None:
        """Ask whoever prints it not to fit it to the page."""
        self._canvas.setViewerPreference(FULL_SIZE, "None")

    def next(self) -> None:
        """Go on to another page of the same size."""
        self._canvas.showPage()

    @contextmanager
    def within(self, area: Area) -> Iterator[None]:
        """What is drawn meanwhile shows inside an area only."""
        self._canvas.saveState()
        path = self._canvas.beginPath()
        path.rect(*self._points(area))
        self._canvas.clipPath(path, stroke=0, fill=0)
        yield
        self._canvas.restoreState()

    def line(
        self,
        start: tuple[float, float],
        end: tuple[float, float],
        *,
        width: float = 0.18,
        grey: float = 0.0,
    ) -> None:
        """A straight line, widths in mm."""
        self._pen(width, (), grey)
        self._canvas.line(*(v / POINT_MM for v in (*start, *end)))

    def frame(self, area: Area, *, width: float = 0.25) -> None:
        """The edge of an area."""
        self._pen(width, (), 0.0)
        self._canvas.rect(*self._points(area), stroke=1, fill=0)

    def fill(self, area: Area, *, grey: float = 0.0) -> None:
        """A filled area: black, or white at grey 1."""
        self._canvas.setFillGray(grey)
        self._canvas.rect(*self._points(area), stroke=0, fill=1)

    def curves(
        self,
        curves: Iterable[Sequence[Vertex]],
        *,
        closed: bool,
        width: float,
        dashes: tuple[float, ...] = (),
        color: str = INK,
    ) -> None:
        """Many curves in one stroke of the pen; `color` as #rrggbb."""
        from reportlab.pdfgen.pathobject import PDFPathObject  # type: ignore[import-untyped]  # ships no types

        # The operators are written here: with thousands of holes the library's own figures take most of the time.
        path = PDFPathObject(code=[step for vertices in curves for step in _steps(vertices, closed=closed)])
        self._pen(width, dashes, 0.0)
        if color != INK:
            self._canvas.setStrokeColorRGB(*(int(color[k : k + 2], 16) / 255 for k in (1, 3, 5)))
        self._canvas.drawPath(path, stroke=1, fill=0)

    def text(
        self,
        place: tuple[float, float],
        words: str,
        *,
        size: float,
        bold: bool = False,
        anchor: str = "start",
        turned: float = 0.0,
        grey: float = 0.0,
    ) -> None:
        """One line of words, standing at `place`; `anchor`: start, middle, end."""
        shown = printable(words, bold=bold)
        back = {"start": 0.0, "middle": 0.5, "end": 1.0}[anchor] * width_mm(shown, size, bold=bold)
        if not turned:
            self._say(place[0] - back, place[1], shown, size=size, bold=bold, grey=grey)
            return
        self._canvas.saveState()
        self._canvas.translate(place[0] / POINT_MM, place[1] / POINT_MM)
        self._canvas.rotate(turned)
        self._say(-back, 0.0, shown, size=size, bold=bold, grey=grey)
        self._canvas.restoreState()

    def block(
        self, area: Area, words: str, *, sizes: Sequence[float], bold: bool = False, grey: float = 0.0
    ) -> None:
        """Words wrapped into an area at the largest of `sizes` that fits; at the last, cut with a visible …"""
        for size in sizes:
            lines = wrap(words, size, area.width, bold=bold)
            room = int(area.height / (size * LEADING * POINT_MM) + 1e-6)
            if len(lines) <= room:
                break
        else:
            kept = lines[: max(1, room)]
            if len(kept) < len(lines):
                kept[-1] = cut(f"{kept[-1]}…", size, area.width, bold=bold)
            lines = kept
        for k, line in enumerate(lines):
            y = area.top - (0.95 + k * LEADING) * size * POINT_MM
            self._say(area.x, y, line, size=size, bold=bold, grey=grey)

    def row(self, area: Area, row: Row, *, size: float) -> float:
        """Draw a row at the top of an area; the height it took."""
        height, x = row_height(row, area.width, size=size), area.x
        for cell, share in zip(row.cells, row.shares, strict=True):
            inner = Area(
                x + PADDING_MM, area.top - PADDING_MM / 2, area.width * share - 2 * PADDING_MM, height
            )
            self.block(inner, cell, sizes=(size,), bold=row.bold)
            x += area.width * share
        if row.ruled:
            bottom = area.top - height
            self.line((area.x, bottom), (area.x + area.width, bottom), width=0.1, grey=0.5)
        return height

    def rows(
        self, area: Area, rows: Sequence[Row], *, sizes: Sequence[float], more: str, head: Row | None = None
    ) -> int:
        """
        Rows down an area, at the largest of `sizes` with which all go in; how many were shown.

        `head` stands first. Where some do not go in even at the smallest, the last line says how many, with `more`.
        """
        lead = [head] if head else []
        whole = [*lead, *rows]
        fitting = (s for s in sizes if how_many(whole, area.width, s, area.height) == len(whole))
        size = next(fitting, sizes[-1])
        room = area.height - total_height(lead, area.width, size)
        shown = how_many(rows, area.width, size, room)
        if shown < len(rows):
            shown = how_many(
                rows, area.width, size, room - row_height(Row(("",), (1.0,)), area.width, size=size)
            )
        left = len(rows) - shown
        told = [Row((f"and {left} more: {more}",), (1.0,), bold=True)] if left else []
        top = area.top
        for row in [*lead, *rows[:shown], *told]:
            top -= self.row(Area(area.x, top, area.width, area.height), row, size=size)
        return shown

    def _say(self, x: float, y: float, shown: str, *, size: float, bold: bool, grey: float) -> None:
        self._canvas.setFillGray(grey)
        self._canvas.setFont(BOLD if bold else TEXT, size)
        self._canvas.drawString(x / POINT_MM, y / POINT_MM, shown)

    def _pen(self, width: float, dashes: tuple[float, ...], grey: float) -> None:
        self._canvas.setLineWidth(width / POINT_MM)
        self._canvas.setDash([d / POINT_MM for d in dashes])
        self._canvas.setStrokeGray(grey)

    @staticmethod
    def _points(area: Area) -> tuple[float, ...]:
        return tuple(v / POINT_MM for v in (area.x, area.top - area.height, area.width, area.height))


@contextmanager
def plain_streams() -> Iterator[None]:
    """Compressed bytes go into the file as they are: the library would spell them out in letters, a fifth longer."""
    from reportlab import rl_config  # type: ignore[import-untyped]  # ships no types

    kept, rl_config.useA85 = rl_config.useA85, 0
    try:
        yield
    finally:
        rl_config.useA85 = kept


def row_height(row: Row, width: float, *, size: float) -> float:
    """How high a row is at this size."""
    lines = max(
        len(wrap(cell, size, width * share - 2 * PADDING_MM, bold=row.bold))
        for cell, share in zip(row.cells, row.shares, strict=True)
    )
    return lines * size * LEADING * POINT_MM + PADDING_MM


def total_height(rows: Sequence[Row], width: float, size: float) -> float:
    """How high rows are together."""
    return sum(row_height(row, width, size=size) for row in rows)


def how_many(rows: Sequence[Row], width: float, size: float, height: float) -> int:
    """How many of the rows, from the first, go into a height."""
    for count, row in enumerate(rows):
        height -= row_height(row, width, size=size)
        if height < -1e-6:  # noqa: PLR2004 - a nanometre is rounding
            return count
    return len(rows)


def _steps(vertices: Sequence[Vertex], *, closed: bool) -> Iterator[str]:
    """A curve as operators of a page (ISO 32000 path construction), in points to a thousandth."""
    yield f"{_figures(vertices[0][:2])} m"
    following = [*vertices[1:], vertices[0]] if closed else list(vertices[1:])
    for a, b in zip(vertices, following, strict=False):
        if a[2] and a[:2] != b[:2]:
            for piece in _pieces(a, b):
                yield f"{_figures(piece)} c"
        else:
            yield f"{_figures(b[:2])} l"
    if closed:
        yield "h"


def _figures(mm: Sequence[float]) -> str:
    return " ".join([f"{v / POINT_MM:.3f}" for v in mm])


def _pieces(a: Vertex, b: Vertex) -> list[tuple[float, ...]]:
    """The arc from `a` to `b` as cubic curves: two control points and an end each."""
    (cx, cy), radius, start, sweep = arc_of(a[:2], b[:2], a[2])
    longest = _COARSE_PIECE if radius <= _SMALL_MM else _PIECE
    count = max(1, math.ceil(abs(sweep) / longest - 1e-9))
    step = sweep / count
    reach = 4 / 3 * math.tan(step / 4) * radius
    pieces: list[tuple[float, ...]] = []
    for k in range(count):
        t, u = start + k * step, start + (k + 1) * step
        p = (cx + radius * math.cos(t), cy + radius * math.sin(t))
        q = (cx + radius * math.cos(u), cy + radius * math.sin(u)) if k < count - 1 else b[:2]
        first = (p[0] - reach * math.sin(t), p[1] + reach * math.cos(t))
        second = (q[0] + reach * math.sin(u), q[1] - reach * math.cos(u))
        pieces.append((*first, *second, *q))
    return pieces
