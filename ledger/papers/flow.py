"""
Tables that go on over pages: cells wrap, heads stand again on every page, each page says which of how many it is.

Words are never markup. A column is at least as wide as its longest word, so that none is broken inside, unless it is
longer than a third of the page. The same pieces give the same bytes.
"""

from __future__ import annotations

import io
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any
from xml.sax.saxutils import escape

from ledger.papers.lettering import BOLD, POINT_MM, TEXT, glyphs, printable, width_mm, wrap
from ledger.papers.page import LEADING, PADDING_MM, Area, Page, plain_streams

_EDGE_MM, _FOOT_MM = 14.0, 8.0
_NUMBER_MM = 25.0  # at the right end of the foot, for the number of the page
_HEADING = 9.5
_WITH_HEADING_MM = 18.0  # so much room a heading needs, or it stands on the next page
_WIDEST_WORD = 0.34  # of the width of a table
_GUTTER_MM = 6.0
_MOST_LINES = 40  # of one row; a longer one goes on in the next

OnPage = Callable[[Page, int, int], None]


@dataclass(frozen=True, slots=True)
class Heading:
    """Words over what follows, on the same page as its beginning."""

    words: str


@dataclass(frozen=True, slots=True)
class Table:
    """
    Rows of cells; `shares` are the columns' parts of the width. `head` stands again on every page.

    `ruled` draws a line under every row, `boxed` a box around every cell.
    """

    shares: tuple[float, ...]
    rows: Sequence[tuple[str, ...]]
    head: tuple[str, ...] = ()
    ruled: bool = False
    boxed: bool = False


Piece = Heading | Table


@dataclass(frozen=True, slots=True)
class Flow:
    """How pieces flow: the paper, letters in points, in how many columns, and what each page has besides."""

    paper: str
    title: str
    owner: str
    on_page: OnPage
    first: OnPage | None = None
    size: float = 7.5
    columns: int = 1


def flowed(flow: Flow, pieces: Sequence[Piece]) -> tuple[bytes, int]:
    """
    The pieces as PDF, and how many pages they take. `first` draws a page of its own before them; `on_page` whatever
    else stands on the others: a page, its number and how many there are.

    Raises BadInput for a paper that is not known.
    """
    from reportlab.platypus import (  # type: ignore[import-untyped]  # ships no types
        BaseDocTemplate,
        Frame,
        NextPageTemplate,
        PageBreak,
        PageTemplate,
    )

    blank = Page(flow.paper, title=flow.title, owner=flow.owner)
    glyphs(TEXT), glyphs(BOLD)
    out = io.BytesIO()
    doc = BaseDocTemplate(
        out, pagesize=(blank.width / POINT_MM, blank.height / POINT_MM), invariant=1, pageCompression=1,
        title=printable(flow.title), author=printable(flow.owner), creator="fitup", producer="fitup",
    )  # fmt: skip
    wide = (blank.width - 2 * _EDGE_MM - (flow.columns - 1) * _GUTTER_MM) / flow.columns
    high = blank.height - 2 * _EDGE_MM - _FOOT_MM
    places = [
        (_EDGE_MM + k * (wide + _GUTTER_MM), _EDGE_MM + _FOOT_MM, wide, high) for k in range(flow.columns)
    ]
    none = {"leftPadding": 0, "rightPadding": 0, "topPadding": 0, "bottomPadding": 0}
    frames = [Frame(*(v / POINT_MM for v in place), **none) for place in places]
    templates = [PageTemplate("others", frames)]
    story: list[Any] = []
    if flow.first:
        templates.insert(0, PageTemplate("first", [Frame(*(v / POINT_MM for v in places[0]))]))
        story = [NextPageTemplate("others"), PageBreak()]
    doc.addPageTemplates(templates)
    for piece in pieces:
        story += _heading(piece) if isinstance(piece, Heading) else [_table(piece, wide, flow.size)]
    with plain_streams():
        doc.build(story, canvasmaker=_canvas(flow))
    return out.getvalue(), doc.page


def foot(words: str, page: Page, number: int, count: int) -> None:
    """The line at the bottom of a page: words, and which page it is of how many."""
    page.block(
        Area(_EDGE_MM, _EDGE_MM, page.width - 2 * _EDGE_MM - _NUMBER_MM, 4.0),
        words,
        sizes=(6.0, 5.0, 4.0),
        grey=0.3,
    )
    place = (page.width - _EDGE_MM, _EDGE_MM - 6 * POINT_MM)
    page.text(place, f"page {number} of {count}", size=6.0, anchor="end", grey=0.3)


def _canvas(flow: Flow) -> type:
    """A canvas that draws what stands on each page besides when it is known how many there are."""
    from reportlab.pdfgen.canvas import Canvas  # type: ignore[import-untyped]  # ships no types

    class Counted(Canvas):  # type: ignore[misc]  # the library ships no types
        def __init__(self, *args: Any, **kwargs: Any) -> None:
            super().__init__(*args, **kwargs)
            self._done: list[dict[str, Any]] = []

        def showPage(self) -> None:  # noqa: N802 - the library's name
            self._done.append(dict(self.__dict__))
            self._startPage()

        def save(self) -> None:
            for number, state in enumerate(self._done, 1):
                self.__dict__.update(state)
                draw = flow.first if flow.first and number == 1 else flow.on_page
                draw(
                    Page(flow.paper, title=flow.title, owner=flow.owner, canvas=self), number, len(self._done)
                )
                super().showPage()
            super().save()

    return Counted


def _heading(piece: Heading) -> list[Any]:
    from reportlab.platypus import CondPageBreak, Spacer

    return [
        CondPageBreak(_WITH_HEADING_MM / POINT_MM),
        Spacer(1, 3.0 / POINT_MM),
        _paragraph(piece.words, _HEADING, bold=True),
        Spacer(1, 1.0 / POINT_MM),
    ]


def _table(piece: Table, width: float, size: float) -> Any:
    from reportlab.platypus import LongTable

    widths = column_widths(piece, width, size)
    heads = [(cell, True) for cell in piece.head]
    rows = [part for row in piece.rows for part in _parted(row, widths, size)]
    lines = [heads] * bool(heads) + [[(cell, False) for cell in row] for row in rows]
    cells = [
        [_cell(cell, w, size, bold=bold) for (cell, bold), w in zip(line, widths, strict=True)]
        for line in lines
    ]
    pad = PADDING_MM / POINT_MM
    style: list[tuple[Any, ...]] = [
        ("VALIGN", (0, 0), (-1, -1), "TOP"),
        ("FONT", (0, 0), (-1, -1), TEXT, size, size * LEADING),
        ("LEFTPADDING", (0, 0), (-1, -1), pad),
        ("RIGHTPADDING", (0, 0), (-1, -1), pad),
        ("TOPPADDING", (0, 0), (-1, -1), pad / 2),
        ("BOTTOMPADDING", (0, 0), (-1, -1), pad),
    ]
    if piece.head:
        style += [
            ("FONT", (0, 0), (-1, 0), BOLD, size, size * LEADING),
            ("LINEBELOW", (0, 0), (-1, 0), 0.3, (0.3, 0.3, 0.3)),
        ]
    if piece.ruled:
        style.append(("LINEBELOW", (0, 0), (-1, -1), 0.28, (0.5, 0.5, 0.5)))
    if piece.boxed:
        style.append(("GRID", (0, 0), (-1, -1), 0.28, (0.5, 0.5, 0.5)))
    return LongTable(
        cells,
        colWidths=[w / POINT_MM for w in widths],
        repeatRows=1 if piece.head else 0,
        style=style,
        hAlign="LEFT",
    )


def _parted(row: tuple[str, ...], widths: Sequence[float], size: float) -> list[tuple[str, ...]]:
    """A row as it is, or as several where it would fill most of a page."""
    if all(len(cell) < _MOST_LINES for cell in row):
        return [row]
    lines = [wrap(cell, size, w - 2 * PADDING_MM) for cell, w in zip(row, widths, strict=True)]
    count = max(map(len, lines))
    if count <= _MOST_LINES:
        return [row]
    starts = range(0, count, _MOST_LINES)
    return [tuple(" ".join(of[k : k + _MOST_LINES]) for of in lines) for k in starts]


def column_widths(piece: Table, width: float, size: float) -> list[float]:
    """How wide each column is, mm: its share, or as wide as its longest word where others have that much to give."""
    widths = [share * width for share in piece.shares]
    needed = []
    for k in range(len(widths)):
        words = [_longest(row[k], size) for row in piece.rows]
        words += [_longest(cell, size, bold=True) for cell in piece.head[k : k + 1]]
        needed.append(min(max(words, default=0.0) + 2 * PADDING_MM + 0.1, _WIDEST_WORD * width))
    lack = sum(max(0.0, n - w) for n, w in zip(needed, widths, strict=True))
    give = sum(max(0.0, w - n) for n, w in zip(needed, widths, strict=True))
    if not lack or not give:
        return widths
    take = min(1.0, lack / give)
    full = min(1.0, give / lack)
    return [w + (n - w) * full if n > w else w - (w - n) * take for n, w in zip(needed, widths, strict=True)]


def _longest(words: str, size: float, *, bold: bool = False) -> float:
    return max((width_mm(word, size, bold=bold) for word in printable(words, bold=bold).split()), default=0.0)


def _cell(words: str, width: float, size: float, *, bold: bool = False) -> Any:
    """Words on one line as they are; more than that wrapped."""
    shown = printable(words, bold=bold)
    if width_mm(shown, size, bold=bold) <= width - 2 * PADDING_MM:
        return shown
    return _paragraph(words, size, bold=bold)


def _paragraph(words: str, size: float, *, bold: bool = False) -> Any:
    from reportlab.lib.styles import ParagraphStyle  # type: ignore[import-untyped]  # ships no types
    from reportlab.platypus import Paragraph

    style = ParagraphStyle(
        "words", fontName=BOLD if bold else TEXT, fontSize=size, leading=size * LEADING, splitLongWords=1
    )
    return Paragraph(escape(printable(words, bold=bold)), style)
