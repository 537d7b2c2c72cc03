"""
A profile drawn on a page to a stated scale: true arcs, hole labels, overall size.

*Scale* is the largest of a short list with which the profile fits its room; a profile too large for all of them is
drawn *not to scale* and the page says so. A label stands in or beside its hole where nothing else does; where there
is no such place it is left out and counted, and the hole table's coordinates speak for it.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from ledger.domain.errors import BadInput, visible
from ledger.domain.quantity import plain
from ledger.domain.record import Dimension, Part
from ledger.domain.shape import Box, Contour, Hole, Profile, Vertex
from ledger.packet.cut_list import figure
from ledger.packet.lettering import POINT_MM, printable, width_mm
from ledger.packet.page import Area, Page

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
_CUT_MM, _THIN_MM = 0.3, 0.15
_CROWD = 40  # past so many holes the labels get smaller letters
_SQUARE_MM = 5.0
_APART_MM = 0.5  # between a label and the next
_BEND, _MARK = (3.0, 1.0), (0.3, 0.8)


@dataclass(frozen=True, slots=True)
class Scale:
    """A scale by name and as page mm per drawn mm."""

    name: str
    factor: float


@dataclass(frozen=True, slots=True)
class Drawn:
    """What was drawn: the scale, and the labels that found no place."""

    scale: Scale
    unlabelled: tuple[str, ...]


def scale_for(size_mm: tuple[float, float], room_mm: tuple[float, float]) -> Scale:
    """The largest scale with which a size goes into a room. Sizes are above zero or zero."""
    most = min((r / s if s > 0 else math.inf) for s, r in zip(size_mm, room_mm, strict=True))
    for name, factor in SCALES:
        if factor <= most:
            return Scale(name, factor)
    return Scale(NOT_TO_SCALE, most)


def draw_part(page: Page, area: Area, part: Part, profile: Profile) -> Drawn:
    """
    Draw a part's profile in the middle of an area, with its overall size; limits where it is a key dimension.

    Raises BadInput for a profile that is not finite.
    """
    box = _box(profile, strokes=True)
    if not all(map(math.isfinite, box)):
        raise BadInput(
            f"the drawing of {visible(part.number)} has a size that is no number; read the file again"
        )
    size = (box[2] - box[0], box[3] - box[1])
    scale = scale_for(size, (area.width - 2 * _ROOM_MM, area.height - 2 * _ROOM_MM))
    sheet = _Placed(page, area, box, scale.factor)
    for ring in (*profile.outlines, *profile.openings):
        page.curve(sheet.vertices(ring.vertices), closed=True, width=_CUT_MM)
    for hole in profile.holes:
        page.curve(sheet.vertices(hole.contour().vertices), closed=True, width=_CUT_MM)
    for stroke in profile.bends:
        page.curve(sheet.vertices(stroke.vertices), closed=False, width=_THIN_MM, dashes=_BEND)
    for stroke in profile.marks:
        page.curve(sheet.vertices(stroke.vertices), closed=False, width=_THIN_MM, dashes=_MARK)
    unlabelled = _label(sheet, area, profile.holes)
    if profile.size_mm:
        _overall(sheet, part, profile)
    return Drawn(scale, unlabelled)


class _Placed:
    """Where drawn mm come to lie on the page: the box's middle on the area's middle."""

    def __init__(self, page: Page, area: Area, box: Box, factor: float) -> None:
        self.page, self.box, self.factor = page, box, factor
        self.x = area.x + area.width / 2 - factor * (box[0] + box[2]) / 2
        self.y = area.top - area.height / 2 - factor * (box[1] + box[3]) / 2

    def point(self, x: float, y: float) -> tuple[float, float]:
        return (self.x + self.factor * x, self.y + self.factor * y)

    def vertices(self, drawn: Sequence[Vertex]) -> list[Vertex]:
        return [(*self.point(x, y), bulge) for x, y, bulge in drawn]

    def boxed(self, box: Box) -> Box:
        return (*self.point(box[0], box[1]), *self.point(box[2], box[3]))


def overall_text(part: Part, side: str, value_mm: float) -> str:
    """The overall width or height: with its limits where it is a key dimension, else in brackets, for information."""
    key = next((d for d in part.dimensions if d.bound == side), None)
    if key is None:
        return f"({figure(value_mm, 3)})"
    return dimension_text(key)


def dimension_text(key: Dimension) -> str:
    """Nominal and limits, as written."""
    return f"{key.nominal.written} {key.limits.written}" if key.limits else key.nominal.written


def sizes_text(key: Dimension) -> str:
    """The limits as two sizes in mm; a free side is left open."""
    if key.limits is None:
        return ""
    low, high = (
        plain(key.nominal.mm + side) if side is not None else None
        for side in (key.limits.lower_mm, key.limits.upper_mm)
    )
    if low is None or high is None:
        return f"<= {high}" if low is None else f">= {low}"
    return f"{low} to {high}"


def _overall(sheet: _Placed, part: Part, profile: Profile) -> None:
    """Dimension lines below and to the left."""
    size = profile.size_mm or (0.0, 0.0)
    left, bottom, right, top = sheet.boxed(_box(profile, strokes=False))
    page, off = sheet.page, 6.0
    for x in (left, right):
        page.line((x, bottom - 1), (x, bottom - off - 1), width=0.1)
    for y in (bottom, top):
        page.line((left - 1, y), (left - off - 1, y), width=0.1)
    page.line((left, bottom - off), (right, bottom - off), width=0.1)
    page.line((left - off, bottom), (left - off, top), width=0.1)
    for x, y in ((left, bottom - off), (right, bottom - off), (left - off, bottom), (left - off, top)):
        page.line((x - 0.8, y - 0.8), (x + 0.8, y + 0.8), width=0.25)
    across, up = overall_text(part, "width", size[0]), overall_text(part, "height", size[1])
    page.text(((left + right) / 2, bottom - off - 3), across, size=7, anchor="middle")
    page.text((left - off - 1, (bottom + top) / 2), up, size=7, anchor="middle", turned=90)


def _label(sheet: _Placed, area: Area, holes: Sequence[Hole]) -> tuple[str, ...]:
    """Write each label where it touches no other label and no other hole; those that found no place."""
    size = 6.5 if len(holes) <= _CROWD else 5.0
    rims = [sheet.boxed(h.contour().box) for h in holes]
    edge = sheet.boxed(sheet.box)
    taken = _Taken()
    for rim in rims:
        taken.add(rim)
    left_out = []
    for hole, rim in zip(holes, rims, strict=True):
        wide = width_mm(printable(hole.label), size)
        free = (
            place
            for place in _places(rim, wide, size * 0.8 * POINT_MM)
            if _inside(place, area) and not _astride(place, edge) and taken.is_free(place, but=rim)
        )
        place = next(free, None)
        if place is None:
            left_out.append(hole.label)
            continue
        taken.add((place[0] - _APART_MM, place[1], place[2] + _APART_MM, place[3]))
        sheet.page.text((place[0], place[1]), hole.label, size=size)
    return tuple(left_out)


class _Taken:
    """Boxes on the page, found again by the squares they touch, so that thousands of holes stay quick."""

    def __init__(self) -> None:
        self.squares: dict[tuple[int, int], list[Box]] = {}

    def add(self, box: Box) -> None:
        for square in self._squares(box):
            self.squares.setdefault(square, []).append(box)

    def is_free(self, box: Box, *, but: Box) -> bool:
        """Whether nothing touches the box, `but` aside: a label may stand in its own hole."""
        near = (other for square in self._squares(box) for other in self.squares.get(square, ()))
        return not any(other is not but and _touch(box, other) for other in near)

    @staticmethod
    def _squares(box: Box) -> Iterator[tuple[int, int]]:
        x0, y0, x1, y1 = (math.floor(v / _SQUARE_MM) for v in box)
        return ((x, y) for x in range(x0, x1 + 1) for y in range(y0, y1 + 1))


def _places(rim: Box, wide: float, high: float) -> Iterator[Box]:
    """Where a label may stand: in the hole when it is large, else around it."""
    x, y = (rim[0] + rim[2]) / 2, (rim[1] + rim[3]) / 2
    gap = 0.6
    if math.hypot(wide, high) < min(rim[2] - rim[0], rim[3] - rim[1]):
        yield (x - wide / 2, y - high / 2, x + wide / 2, y + high / 2)
    right, left = rim[2] + gap, rim[0] - gap - wide
    above, below = rim[3] + gap, rim[1] - gap - high
    for low_x, low_y in (
        (right, y - high / 2),
        (left, y - high / 2),
        (x - wide / 2, above),
        (x - wide / 2, below),
        (right, above),
        (left, above),
        (right, below),
        (left, below),
    ):
        yield (low_x, low_y, low_x + wide, low_y + high)


def _touch(a: Box, b: Box) -> bool:
    return a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3]


def _astride(a: Box, edge: Box) -> bool:
    """Whether a box lies across the edge of the plate's box, where a line most likely runs."""
    within = a[0] >= edge[0] and a[2] <= edge[2] and a[1] >= edge[1] and a[3] <= edge[3]
    return _touch(a, edge) and not within


def _inside(a: Box, area: Area) -> bool:
    return (
        a[0] >= area.x and a[2] <= area.x + area.width and a[1] >= area.top - area.height and a[3] <= area.top
    )


def _box(profile: Profile, *, strokes: bool) -> Box:
    """The box of what is cut, with or without the marks and bend lines, which may stand out of it."""
    rings: list[Contour] = [*profile.outlines, *profile.openings, *(h.contour() for h in profile.holes)]
    if strokes:
        rings += [Contour(stroke.vertices) for stroke in (*profile.bends, *profile.marks)]
    boxes = [ring.box for ring in rings] or [(0.0, 0.0, 1.0, 1.0)]
    return (
        min(b[0] for b in boxes),
        min(b[1] for b in boxes),
        max(b[2] for b in boxes),
        max(b[3] for b in boxes),
    )
