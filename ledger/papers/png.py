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
from typing import TYPE_CHECKING, Any

from ledger.domain.drawing import GROUND, INK, PENS, Drawing, Line
from ledger.domain.errors import visible
from ledger.domain.shape import Contour, Point, Vertex
from ledger.papers.lettered import Words, lettered
from ledger.papers.lettering import POINT_MM, printable
from ledger.papers.svg import picture_unit, picture_view

if TYPE_CHECKING:
    from PIL.ImageFont import FreeTypeFont

SIDE_PIXELS = 1600  # the larger side of the picture
_FINE = 2
_SAGITTA_PIXELS = 0.05
_ANCHORS = {"start": "ls", "middle": "ms"}


def png(drawing: Drawing) -> bytes:
    """The picture as PNG, its larger side `SIDE_PIXELS`. Raises BadInput for a drawing that is not finite."""
    from PIL import Image, PngImagePlugin

    unit = picture_unit(drawing)
    placed = lettered(drawing, unit)
    left, bottom, right, top = picture_view(placed, unit)
    scale = SIDE_PIXELS / max(right - left, top - bottom)
    size = (max(1, round((right - left) * scale)), max(1, round((top - bottom) * scale)))
    image = Image.new("RGB", (size[0] * _FINE, size[1] * _FINE), GROUND)
    on = _Placed(image, (left, top), scale * _FINE, unit)
    for line in (*drawing.lines, *placed.lines):
        on.line(line)
    for words in placed.words:
        on.words(words)
    told = PngImagePlugin.PngInfo()
    if drawing.title:
        told.add_itxt("Title", visible(drawing.title, most=200))
    out = io.BytesIO()
    image.resize(size, Image.Resampling.BOX).save(out, "PNG", pnginfo=told)
    return out.getvalue()


class _Placed:
    """Where mm come to lie on the fine picture."""

    def __init__(self, image: Any, corner: Point, scale: float, unit: float) -> None:
        from PIL import ImageDraw

        self.image, self.draw = image, ImageDraw.Draw(image)
        self.corner, self.scale, self.paper = corner, scale, unit * scale

    def point(self, place: Sequence[float]) -> Point:
        return ((place[0] - self.corner[0]) * self.scale, (self.corner[1] - place[1]) * self.scale)

    def line(self, line: Line) -> None:
        pen = PENS[line.role]
        points = [self.point(p) for p in flattened(line.vertices, line.closed, _SAGITTA_PIXELS / self.scale)]
        if line.closed:
            # over the first corner, so that it is joined like the others; dashes end there
            points += points[:1] if pen.dashes_mm else points[:2]
        width = max(1, round(pen.width_mm * self.paper))
        pieces = _dashed(points, [d * self.paper for d in pen.dashes_mm]) if pen.dashes_mm else [points]
        for piece in pieces:
            self.draw.line(piece, fill=pen.color, width=width, joint="curve")

    def words(self, words: Words) -> None:
        font = _font(words.size * POINT_MM * self.paper)
        x, y = self.point(words.place)
        if not words.turned:
            self.draw.text((x, y), printable(words.text), fill=INK, font=font, anchor=_ANCHORS[words.anchor])
            return
        self._turned(printable(words.text), font, (x, y), words)

    def _turned(self, shown: str, font: FreeTypeFont, at: Point, words: Words) -> None:
        """Words that do not run level: drawn by themselves, turned about their place, and laid on as ink."""
        from PIL import Image, ImageDraw

        reach = math.ceil(font.getlength(shown)) + math.ceil(font.size) * 2
        stamp = Image.new("L", (2 * reach, 2 * reach))
        ImageDraw.Draw(stamp).text((reach, reach), shown, fill=255, font=font, anchor=_ANCHORS[words.anchor])
        stamp = stamp.rotate(words.turned, resample=Image.Resampling.BICUBIC)
        self.image.paste(INK, (round(at[0]) - reach, round(at[1]) - reach), stamp)


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
