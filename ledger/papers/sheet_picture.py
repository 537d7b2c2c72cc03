"""
A drawing on a page to a stated scale: the painter for PDF.

*Scale* is the largest of a short list with which the profile fits its room; a profile too large for all of them is
drawn *not to scale* and the page says so. What found no place is named: the tables have it all.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from ledger.domain.drawing import PENS, Drawing, Line
from ledger.domain.shape import Box, Point, Vertex
from ledger.papers.lettered import lettered, require_finite
from ledger.papers.page import Area, Page

NOT_TO_SCALE = "not to scale"
# ISO 5455 names 1:1, 2:1, 5:1, 1:2, 1:5, 1:10, 1:20 and 1:50; 1:2.5 stands between, as workshops use it.
SCALES = (
    ("5:1", 5.0),
    ("2:1", 2.0),
    ("1:1", 1.0),
    ("1:2", 0.5),
    ("1:2.5", 0.4),
    ("1:5", 0.2),
    ("1:10", 0.1),
    ("1:20", 0.05),
    ("1:50", 0.02),
)
_ROOM_MM = 13.0  # around the profile, for its size and for labels


@dataclass(frozen=True, slots=True)
class Scale:
    """A scale by name and as page mm per drawn mm."""

    name: str
    factor: float


@dataclass(frozen=True, slots=True)
class Drawn:
    """What was drawn: the scale, the labels and the key dimensions that found no place."""

    scale: Scale
    unlabelled: tuple[str, ...]
    unsized: tuple[str, ...] = ()


def scale_for(size_mm: tuple[float, float], room_mm: tuple[float, float]) -> Scale:
    """The largest scale with which a size goes into a room. Sizes are above zero or zero."""
    most = min((r / s if s > 0 else math.inf) for s, r in zip(size_mm, room_mm, strict=True))
    for name, factor in SCALES:
        if factor <= most:
            return Scale(name, factor)
    return Scale(NOT_TO_SCALE, most)


def draw_on(page: Page, area: Area, drawing: Drawing, *, margin_mm: float = _ROOM_MM) -> Drawn:
    """
    Draw it in the middle of an area, to scale, `margin_mm` left for words around it; its notes are left to the tables.

    Raises BadInput for a drawing that is not finite.
    """
    require_finite(drawing)
    box = drawing.extent
    size = (box[2] - box[0], box[3] - box[1])
    scale = scale_for(size, (area.width - 2 * margin_mm, area.height - 2 * margin_mm))
    on = _Placed(area, box, scale.factor)
    placed = lettered(drawing, 1 / scale.factor, room=on.room, notes=False)
    lines = (*drawing.lines, *placed.lines)
    for role, pen in PENS.items():
        for closed in (True, False):
            same = [on.vertices(line) for line in lines if line.role == role and line.closed is closed]
            if same:
                page.curves(
                    same, closed=closed, width=pen.width_mm, dashes=pen.dashes_mm or (), color=pen.color
                )
    for words in placed.words:
        page.text(
            on.point(words.place), words.text, size=words.size, anchor=words.anchor, turned=words.turned
        )
    return Drawn(scale, placed.unlabelled, placed.unsized)


class _Placed:
    """Where drawn mm come to lie on the page: the box's middle on the area's middle."""

    def __init__(self, area: Area, box: Box, factor: float) -> None:
        self.factor = factor
        self.x = area.x + area.width / 2 - factor * (box[0] + box[2]) / 2
        self.y = area.top - area.height / 2 - factor * (box[1] + box[3]) / 2
        left, bottom = (area.x - self.x) / factor, (area.top - area.height - self.y) / factor
        self.room: Box = (left, bottom, left + area.width / factor, bottom + area.height / factor)

    def point(self, place: Point) -> Point:
        """A place on the page, mm."""
        return (self.x + self.factor * place[0], self.y + self.factor * place[1])

    def vertices(self, line: Line) -> Sequence[Vertex]:
        """The vertices of a line on the page."""
        return [(*self.point((x, y)), bulge) for x, y, bulge in line.vertices]
