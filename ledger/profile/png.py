"""
A drawing as PNG, for mail and chat that show no SVG: the same strokes and words, flattened and drawn fine.

It is drawn `_FINE` times larger than it comes out, then averaged, so that thin lines stay whole. Arcs are flattened
with a sagitta of a twentieth of a fine pixel. What the letters lack is shown as an escape.
"""

from __future__ import annotations

import io
import math
from collections.abc import Iterator, Sequence
from functools import cache
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING

from ledger.domain.errors import BadInput, visible
from ledger.domain.shape import Contour, Point, Vertex
from ledger.profile.picture import GROUND, Drawing, Line, Words

if TYPE_CHECKING:
    from PIL.ImageDraw import ImageDraw
    from PIL.ImageFont import FreeTypeFont

SIDE_PIXELS = 1600  # the larger side of the picture
_FINE = 2
_SAGITTA_PIXELS = 0.05
_ANCHORS = {"start": "ls", "middle": "ms"}


def png(drawing: Drawing) -> bytes:
    """The picture as PNG, its larger side `SIDE_PIXELS`. Raises BadInput for a drawing that is not finite."""
    from PIL import Image, ImageDraw, PngImagePlugin

    left, bottom, right, top = drawing.view
    if not all(map(math.isfinite, drawing.view)):
        raise BadInput("the drawing has a size that is not a finite number; read the file again")
    scale = SIDE_PIXELS / max(right - left, top - bottom)
    size = (max(1, round((right - left) * scale)), max(1, round((top - bottom) * scale)))
    image = Image.new("RGB", (size[0] * _FINE, size[1] * _FINE), GROUND)
    placed = _Placed(ImageDraw.Draw(image), (left, top), scale * _FINE, drawing.pen_mm)
    for mark in drawing.marks:
        if isinstance(mark, Line):
            placed.line(mark)
        else:
            placed.words(mark)
    told = PngImagePlugin.PngInfo()
    if drawing.title:
        told.add_itxt("Title", visible(drawing.title, most=200))
    out = io.BytesIO()
    image.resize(size, Image.Resampling.BOX).save(out, "PNG", pnginfo=told)
    return out.getvalue()


class _Placed:
    """Where mm come to lie on the fine picture."""

    def __init__(self, draw: ImageDraw, corner: Point, scale: float, pen_mm: float) -> None:
        self.draw, self.corner, self.scale, self.pen = draw, corner, scale, pen_mm * scale

    def point(self, place: Sequence[float]) -> Point:
        return ((place[0] - self.corner[0]) * self.scale, (self.corner[1] - place[1]) * self.scale)

    def line(self, line: Line) -> None:
        points = [self.point(p) for p in flattened(line.vertices, line.closed, _SAGITTA_PIXELS / self.scale)]
        if line.closed:
            # over the first corner, so that it is joined like the others; dashes end there
            points += points[:1] if line.dashes else points[:2]
        width = max(1, round(line.width * self.pen))
        for piece in _dashed(points, [d * self.pen for d in line.dashes]) if line.dashes else [points]:
            self.draw.line(piece, fill=line.colour, width=width, joint="curve")

    def words(self, words: Words) -> None:
        shown = visible(words.text).encode("latin-1", "backslashreplace").decode("latin-1")
        font = _font(words.size * self.pen)
        place = self.point(words.place)
        self.draw.text(place, shown, fill=words.colour, font=font, anchor=_ANCHORS[words.anchor])


@cache
def _font(size: float) -> FreeTypeFont:
    """The letters that the sheets are printed with, too."""
    import reportlab  # type: ignore[import-untyped]  # ships no types
    from PIL import ImageFont

    return ImageFont.truetype(str(Path(reportlab.__file__).parent / "fonts" / "Vera.ttf"), size)


def flattened(vertices: Sequence[Vertex], closed: bool, sagitta_mm: float) -> list[Point]:
    """Vertices as points, no chord further than the sagitta from its arc; an open line ends at its last vertex."""
    ends = tuple(vertices) if closed else (*vertices[:-1], (*vertices[-1][:2], 0.0))
    return Contour(ends).flattened(sagitta_mm)


def _dashed(points: Sequence[Point], pattern: Sequence[float]) -> Iterator[list[Point]]:
    """The pieces of a line where the pen is down."""
    down, turn, left, piece = True, 0, pattern[0], [points[0]]
    for a, b in pairwise(points):
        length, gone = math.dist(a, b), 0.0
        while length - gone > left:
            gone += left
            here = (a[0] + (b[0] - a[0]) * gone / length, a[1] + (b[1] - a[1]) * gone / length)
            if down:
                yield [*piece, here]
            down, turn = not down, 1 - turn
            left, piece = max(pattern[turn], 0.5), [here]
        left -= length - gone
        piece.append(b)
    if down and len(piece) > 1:
        yield piece
