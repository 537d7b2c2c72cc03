"""
A drawing as SVG: true arcs, words where they stand on paper; the same drawing gives the same bytes.

A picture is lettered as one of `PICTURE_MM` on paper, so that letters and lines grow with the plate and every picture
looks alike. Words from outside are made visible and escaped.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from xml.sax.saxutils import escape

from ledger.domain.drawing import GROUND, INK, PENS, Drawing, Line, around
from ledger.domain.errors import visible
from ledger.domain.shape import Box, Vertex, arc_of
from ledger.papers.lettered import Lettered, Words, lettered
from ledger.papers.lettering import POINT_MM

PICTURE_MM = 120.0  # the larger side of what is drawn
_MARGIN_MM = 3.0
# Fonts of one width: what is measured with the first stands as it was measured with the others.
_FONTS = "Bitstream Vera Sans, DejaVu Sans, Verdana, sans-serif"


def picture_unit(drawing: Drawing) -> float:
    """How many mm of the part one mm of a picture is."""
    left, bottom, right, top = drawing.extent
    return max(right - left, top - bottom, 1e-3) / PICTURE_MM


def picture_view(placed: Lettered, unit_mm: float) -> Box:
    """The box of a picture, with its margin."""
    room = _MARGIN_MM * unit_mm
    left, bottom, right, top = around((placed.box,))
    return (left - room, bottom - room, right + room, top + room)


def svg(drawing: Drawing) -> bytes:
    """
    A drawing as SVG. y points up in a drawing and down in a picture, so y is negated. Raises BadInput for a drawing
    that is not finite.
    """
    unit = picture_unit(drawing)
    placed = lettered(drawing, unit)
    left, bottom, right, top = picture_view(placed, unit)
    view = " ".join(_n(v) for v in (left, -top, right - left, top - bottom))
    title = escape(visible(drawing.title, most=200))
    lines = [f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{view}" font-family="{_FONTS}">']
    if title:
        lines.append(f"<title>{title}</title>")
    lines.append(f'<rect x="{_n(left)}" y="{_n(-top)}" width="100%" height="100%" fill="{GROUND}"/>')
    lines += [_line(line, unit) for line in (*drawing.lines, *placed.lines)]
    lines += [_words(words, unit) for words in placed.words]
    return "\n".join([*lines, "</svg>\n"]).encode("utf-8")


def _line(line: Line, unit: float) -> str:
    pen = PENS[line.role]
    dashes = ""
    if pen.dashes_mm:
        dashes = f' stroke-dasharray="{" ".join(_n(d * unit) for d in pen.dashes_mm)}"'
    return (
        f'<path d="{_path(line.vertices, closed=line.closed)}" fill="none" stroke="{pen.color}" '
        f'stroke-width="{_n(pen.width_mm * unit)}"{dashes}/>'
    )


def _words(words: Words, unit: float) -> str:
    x, y = _n(words.place[0]), _n(-words.place[1])
    turned = f' transform="rotate({_n(-words.turned)} {x} {y})"' if words.turned else ""
    return (
        f'<text x="{x}" y="{y}" font-size="{_n(words.size * POINT_MM * unit)}" text-anchor="{words.anchor}" '
        f'fill="{INK}"{turned}>{escape(visible(words.text))}</text>'
    )


def _path(vertices: Sequence[Vertex], *, closed: bool) -> str:
    """Path data; an arc of SVG is its radius, whether it is more than half a turn, and which way it runs."""
    following = [*vertices[1:], vertices[0]] if closed else list(vertices[1:])
    words = [f"M{_n(vertices[0][0])} {_n(-vertices[0][1])}"]
    for a, b in zip(vertices, following, strict=False):
        if a[2] and a[:2] != b[:2]:
            _, radius, _, sweep = arc_of(a[:2], b[:2], a[2])
            large, turn = int(abs(sweep) > math.pi), int(sweep < 0)
            words.append(f"A{_n(radius)} {_n(radius)} 0 {large} {turn} {_n(b[0])} {_n(-b[1])}")
        else:
            words.append(f"L{_n(b[0])} {_n(-b[1])}")
    return " ".join(words) + ("Z" if closed else "")


def _n(value: float) -> str:
    """Four places without trailing zeros, and no sign on zero."""
    text = f"{value:.4f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text
