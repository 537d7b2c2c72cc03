"""
What stands in a picture on a page: hole labels and key dimensions, each where nothing else does.

A *rim* is the box of a hole. A label stands in or beside its hole; a diameter beside its hole; a distance along a thin
line from centre to centre, broken where something stands. What finds no place is left out and named to the caller.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from itertools import product

from ledger.domain.quantity import plain
from ledger.domain.record import Dimension, Part
from ledger.domain.shape import Box, Hole, Point, Profile, Vertex
from ledger.papers.lettering import POINT_MM, printable, width_mm
from ledger.papers.page import Area, Page

_MOST_SIZES = 12  # key dimensions drawn between holes; more would hide the plate
_CROWD = 40  # past so many holes the labels get smaller letters
_SQUARE_MM = 4.0
_STEP_MM, _OFF_MM = 0.5, 0.4  # along a thin line; how far it keeps off words
_SIZE_LETTERS = 6.0  # points
_APART_MM = 0.5  # between a label and the next


class Placed:
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


def draw_sizes(sheet: Placed, area: Area, part: Part, profile: Profile, taken: Taken) -> tuple[str, ...]:
    """Key dimensions of holes and between holes, with their limits; the names of those that found no place."""
    left_out = []
    keys = [
        (key, (key.measured_on.split()[:1] or [""])[0], key.measured_on.split()[1:])
        for key in part.dimensions
    ]
    measured_on = [
        (key, kind, labels) for key, kind, labels in keys if kind in ("diameter", "slot-width", "distance")
    ]
    measured_on.sort(key=lambda one: one[1] == "distance")  # lines last, so that they break at all words
    for count, (key, kind, labels) in enumerate(measured_on):
        holes = [hole for hole in map(profile.hole, labels) if hole]
        if len(holes) != len(labels) or count >= _MOST_SIZES:
            left_out.append(key.name)
            continue
        draw = _distance if kind == "distance" else _diameter
        if not draw(sheet, area, taken, holes, dimension_text(key)):
            left_out.append(key.name)
    return tuple(left_out)


def _diameter(sheet: Placed, area: Area, taken: Taken, holes: Sequence[Hole], words: str) -> bool:
    """Beside the hole, where nothing else stands."""
    rim = sheet.boxed(rim_of(holes[0]))
    return _put(sheet, area, taken, rim, f"Ø {words}", size=_SIZE_LETTERS)


def _distance(sheet: Placed, area: Area, taken: Taken, holes: Sequence[Hole], words: str) -> bool:
    """A thin line from centre to centre with the words along it, where nothing else stands."""
    a, b = sorted(sheet.point(*hole.centre) for hole in holes)
    turned = math.degrees(math.atan2(b[1] - a[1], b[0] - a[0]))
    along, up = math.radians(turned), math.radians(turned + 90)
    wide, high = width_mm(printable(words), _SIZE_LETTERS), _SIZE_LETTERS * 0.8 * POINT_MM
    for share, side in product((0.5, 0.35, 0.65, 0.25, 0.75), (0.7, -0.7 - high)):
        middle = [p + (q - p) * share for p, q in zip(a, b, strict=True)]
        start = (
            middle[0] + side * math.cos(up) - wide / 2 * math.cos(along),
            middle[1] + side * math.sin(up) - wide / 2 * math.sin(along),
        )
        corners = [
            (
                start[0] + w * math.cos(along) + h * math.cos(up),
                start[1] + w * math.sin(along) + h * math.sin(up),
            )
            for w, h in product((0.0, wide), (0.0, high))
        ]
        xs, ys = zip(*corners, strict=True)
        box = (min(xs), min(ys), max(xs), max(ys))
        if _inside(box, area) and not _astride(box, sheet.boxed(sheet.box)) and taken.is_free(box):
            _thin_line(sheet.page, taken, a, b)
            taken.add(box)
            sheet.page.text(start, words, size=_SIZE_LETTERS, turned=turned)
            return True
    return False


def _thin_line(page: Page, taken: Taken, a: Point, b: Point) -> None:
    """A line that lets out what stands on it already; it takes its place, so that later words keep off it."""
    count = max(1, math.ceil(math.dist(a, b) / _STEP_MM))
    points = [(a[0] + (b[0] - a[0]) * k / count, a[1] + (b[1] - a[1]) * k / count) for k in range(count + 1)]
    boxes = [(x - _OFF_MM, y - _OFF_MM, x + _OFF_MM, y + _OFF_MM) for x, y in points]
    start: Point | None = None
    for point, box in zip(points, boxes, strict=True):
        if taken.is_free(box):
            start, end = start or point, point
        elif start:
            page.line(start, end, width=0.1)
            start = None
    if start:
        page.line(start, end, width=0.1)
    for x, y in points:
        taken.add((x - 0.05, y - 0.05, x + 0.05, y + 0.05))


def label_holes(sheet: Placed, area: Area, holes: Sequence[Hole], taken: Taken) -> tuple[str, ...]:
    """Write each label where it touches no other label and no other hole; those that found no place."""
    size = 6.5 if len(holes) <= _CROWD else 5.0
    rims = [sheet.boxed(rim_of(h)) for h in holes]
    for rim in rims:
        taken.add(rim)
    return tuple(
        hole.label
        for hole, rim in zip(holes, rims, strict=True)
        if not _put(sheet, area, taken, rim, hole.label, size=size)
    )


def _put(sheet: Placed, area: Area, taken: Taken, rim: Box, words: str, *, size: float) -> bool:
    """Write words in or beside a rim where they touch nothing; whether there was such a place."""
    edge = sheet.boxed(sheet.box)
    wide = width_mm(printable(words), size)
    for place in _places(rim, wide, size * 0.8 * POINT_MM):
        if _inside(place, area) and not _astride(place, edge) and taken.is_free(place, but=rim):
            taken.add((place[0] - _APART_MM, place[1], place[2] + _APART_MM, place[3]))
            sheet.page.text((place[0], place[1]), words, size=size)
            return True
    return False


class Taken:
    """Boxes on the page, found again by the squares they touch, so that thousands of holes stay quick."""

    def __init__(self) -> None:
        self.squares: dict[tuple[int, int], list[Box]] = {}

    def add(self, box: Box) -> None:
        for square in self._squares(box):
            self.squares.setdefault(square, []).append(box)

    def is_free(self, box: Box, *, but: Box | None = None) -> bool:
        """Whether nothing touches the box, `but` aside: a label may stand in its own hole."""
        x0, y0, x1, y1 = box
        for square in self._squares(box):
            for other in self.squares.get(square, ()):
                if other[0] < x1 and x0 < other[2] and other[1] < y1 and y0 < other[3] and other != but:
                    return False
        return True

    @staticmethod
    def _squares(box: Box) -> Iterator[tuple[int, int]]:
        x0, y0 = math.floor(box[0] / _SQUARE_MM), math.floor(box[1] / _SQUARE_MM)
        x1, y1 = math.floor(box[2] / _SQUARE_MM), math.floor(box[3] / _SQUARE_MM)
        for x in range(x0, x1 + 1):
            for y in range(y0, y1 + 1):
                yield (x, y)


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


def rim_of(hole: Hole) -> Box:
    """The box of a hole or slot: its core, and a radius around it."""
    xs, ys, r = [p[0] for p in hole.core], [p[1] for p in hole.core], hole.diameter_mm / 2
    return (min(xs) - r, min(ys) - r, max(xs) + r, max(ys) + r)


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
