"""
Where the words of a drawing stand on paper: each label and size where nothing else does, never over a stroke.

A *unit* is how many mm of the part one mm of paper is. A label stands in or beside its rim; a diameter beside its hole;
a distance along a thin line from centre to centre, broken where something stands; width and height below and to the
left. What finds no place is left out and named.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise, product
from typing import Literal

from ledger.domain.drawing import Drawing, Label, Line, Size, around
from ledger.domain.errors import BadInput
from ledger.domain.shape import Box, Contour, Point
from ledger.papers.lettering import POINT_MM, printable, width_mm, wrap
from ledger.papers.places import Places, astride, inside

LETTERS, SIZE_LETTERS, _OVERALL = 6.5, 6.0, 7.0  # points
_SIZES = (LETTERS, 5.0, 4.0)  # of labels: the largest with which all find a place
_CROWD = 300  # past so many labels one size is tried
_STEP_MM, _OFF_MM = 0.5, 0.4  # along a thin line; how far it keeps off words
_KEEP_MM = 0.15  # words off strokes
_APART_MM = 0.5  # between a label and the next
_DIMENSION_MM = 6.0  # a dimension line off the plate
_CAPITAL = 0.8  # how high letters are, of their size
_LEADING = 1.35
_MOST_NAMED = 40  # of what was omitted; the rest is counted


@dataclass(frozen=True, slots=True)
class Words:
    """One line of words on its base line, `size` in points on paper, turned by degrees."""

    place: Point
    text: str
    size: float
    anchor: Literal["start", "middle"] = "start"
    turned: float = 0.0


@dataclass(frozen=True, slots=True)
class Lettered:
    """A drawing with everything in its place: further thin lines, words, the box of all, what found no place."""

    lines: tuple[Line, ...]
    words: tuple[Words, ...]
    box: Box
    unlabelled: tuple[str, ...] = ()
    unsized: tuple[str, ...] = ()


def require_finite(drawing: Drawing) -> None:
    """Raises BadInput for a drawing that is not finite."""
    if not all(math.isfinite(n) for line in drawing.lines for vertex in line.vertices for n in vertex):
        raise BadInput("the drawing has a size that is not a finite number; read the file again")


def lettered(drawing: Drawing, unit_mm: float, *, room: Box | None = None, notes: bool = True) -> Lettered:
    """
    The words of a drawing at a scale: `unit_mm` of the part are 1 mm on paper. Words keep inside `room`, where given.

    Raises BadInput for a drawing that is not finite.
    """
    require_finite(drawing)
    tries = _SIZES if len(drawing.labels) <= _CROWD else _SIZES[1:2]
    for size in tries:
        hand = _Letterer(drawing, unit_mm, room)
        unlabelled = hand.labels(size)
        if not unlabelled:
            break
    unsized = (*drawing.unsized, *hand.sizes())
    if notes:
        omitted = (*unlabelled, *unsized)
        hand.notes((*drawing.notes, *([f"omitted for lack of space: {_listed(omitted)}"] if omitted else [])))
    return Lettered(tuple(hand.lines), tuple(hand.words), hand.reach, unlabelled, unsized)


def _listed(names: Sequence[str]) -> str:
    more = len(names) - _MOST_NAMED
    return ", ".join(names[:_MOST_NAMED]) + (f" and {more} more" if more > 0 else "")


class _Letterer:
    """Puts words into a drawing one after the other, and knows what is taken."""

    def __init__(self, drawing: Drawing, unit_mm: float, room: Box | None) -> None:
        self.drawing, self.unit, self.room = drawing, unit_mm, room
        self.lines: list[Line] = []
        self.words: list[Words] = []
        self.reach = drawing.extent
        self.taken = Places(4.0 * unit_mm)
        for line in drawing.lines:
            self._take(line)

    def _take(self, line: Line) -> None:
        """A stroke takes the place of every piece of it."""
        unit = self.unit
        points = Contour(line.vertices).flattened(0.05 * unit)
        if line.closed:
            points.append(points[0])
        keep = _KEEP_MM * unit
        for a, b in pairwise(points):
            count = max(1, math.ceil(math.dist(a, b) / (2 * unit)))
            for k in range(count):
                ends = [
                    tuple(p + (q - p) * share / count for p, q in zip(a, b, strict=True))
                    for share in (k, k + 1)
                ]
                (ax, ay), (bx, by) = ends
                self.taken.add(
                    (min(ax, bx) - keep, min(ay, by) - keep, max(ax, bx) + keep, max(ay, by) + keep)
                )

    def labels(self, size: float) -> tuple[str, ...]:
        """Write each label where it touches nothing; those that found no place."""
        labels = sorted(self.drawing.labels, key=lambda label: label.role not in ("wrong", "move"))
        return tuple(label.text for label in labels if not self._put(label, size))

    def sizes(self) -> tuple[str, ...]:
        """Write the sizes; the names of those that found no place."""
        left_out = []
        for size in self.drawing.sizes:
            if size.kind in ("width", "height"):
                self._overall(size)
            elif size.kind == "distance":
                left_out += [] if self._distance(size) else [size.name]
            else:
                left_out += [] if self._put(Label(size.words, size.rim), SIZE_LETTERS) else [size.name]
        return tuple(left_out)

    def notes(self, notes: Sequence[str]) -> None:
        """Lines of words below everything."""
        unit, high = self.unit, _OVERALL * POINT_MM * _LEADING * self.unit
        left, low = min(self.reach[0], self.drawing.box[0]), self.reach[1] - 2 * unit
        wide = max(self.reach[2] - left, 60 * unit) / unit
        for note in notes:
            for line in wrap(note, LETTERS, wide):
                low -= high
                self._write((left, low), line, LETTERS)

    def _write(self, place: Point, words: str, size: float, *, anchor: Literal["start", "middle"] = "start",
               turned: float = 0.0) -> None:  # fmt: skip
        self.words.append(Words(place, words, size, anchor, turned))
        wide = width_mm(printable(words), size) * self.unit
        high = size * POINT_MM * self.unit
        back = wide / 2 if anchor == "middle" else 0.0
        if turned == 90.0:  # noqa: PLR2004 - upright words
            box = (place[0] - high, place[1] - back, place[0] + high / 4, place[1] + wide - back)
        else:
            box = (place[0] - back, place[1] - high / 4, place[0] + wide - back, place[1] + high)
        self.reach = around((self.reach, box))

    def _put(self, label: Label, size: float) -> bool:
        """Write words in or beside a rim where they touch nothing; whether there was such a place."""
        unit = self.unit
        wide, high = width_mm(printable(label.text), size) * unit, size * _CAPITAL * POINT_MM * unit
        for place in _around(label, wide, high, 0.6 * unit):
            if self._is_free(place):
                self.taken.add((place[0] - _APART_MM * unit, place[1], place[2] + _APART_MM * unit, place[3]))
                self._write((place[0], place[1]), label.text, size)
                return True
        return False

    def _is_free(self, box: Box) -> bool:
        within = self.room is None or inside(box, self.room)
        return within and not astride(box, self.drawing.box) and self.taken.is_free(box)

    def _distance(self, size: Size) -> bool:
        """A thin line from centre to centre with the words along it, where nothing else stands."""
        unit = self.unit
        a, b = sorted(size.ends)[:2]
        turned = math.degrees(math.atan2(b[1] - a[1], b[0] - a[0]))
        along, up = math.radians(turned), math.radians(turned + 90)
        wide = width_mm(printable(size.words), SIZE_LETTERS) * unit
        high = SIZE_LETTERS * _CAPITAL * POINT_MM * unit
        for share, side in product((0.5, 0.35, 0.65, 0.25, 0.75), (0.7 * unit, -0.7 * unit - high)):
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
            box = around((x, y, x, y) for x, y in corners)
            if self._is_free(box):
                self._thin_line(a, b)
                self.taken.add(box)
                self._write(start, size.words, SIZE_LETTERS, turned=turned)
                return True
        return False

    def _thin_line(self, a: Point, b: Point) -> None:
        """A line that lets out what stands on it already; it takes its place, so that later words keep off it."""
        off = _OFF_MM * self.unit
        count = max(1, math.ceil(math.dist(a, b) / (_STEP_MM * self.unit)))
        points = [
            (a[0] + (b[0] - a[0]) * k / count, a[1] + (b[1] - a[1]) * k / count) for k in range(count + 1)
        ]
        free = [self.taken.is_free((x - off, y - off, x + off, y + off)) for x, y in points]
        rims = [label.rim for label in self.drawing.labels if label.inside_mm]
        start: Point | None = None
        end = a
        for point, is_free in zip(points, free, strict=True):
            if is_free and not _in_a_rim(point, rims, off):
                start, end = start or point, point
            elif start:
                self._stroke(start, end)
                start = None
        if start:
            self._stroke(start, end)
        for x, y in points:
            self.taken.add((x - off / 8, y - off / 8, x + off / 8, y + off / 8))

    def _stroke(self, a: Point, b: Point) -> None:
        self.lines.append(Line(((*a, 0.0), (*b, 0.0)), "size", closed=False))

    def _overall(self, size: Size) -> None:
        """A dimension line below (width) or to the left (height), with ticks and words."""
        unit, (left, bottom, right, top) = self.unit, self.drawing.box
        off = _DIMENSION_MM * unit
        if size.kind == "width":
            low = bottom - off
            ends = ((left, low), (right, low))
            for x in (left, right):
                self._stroke((x, bottom - unit), (x, low - unit))
            place = ((left + right) / 2, low - 3 * unit)
        else:
            out = left - off
            ends = ((out, bottom), (out, top))
            for y in (bottom, top):
                self._stroke((left - unit, y), (out - unit, y))
            place = (out - unit, (bottom + top) / 2)
        self._stroke(*ends)
        for x, y in ends:
            tick = 0.8 * unit
            self._stroke((x - tick, y - tick), (x + tick, y + tick))
        turned = 90.0 if size.kind == "height" else 0.0
        self._write(place, size.words, _OVERALL, anchor="middle", turned=turned)


def _in_a_rim(point: Point, rims: Sequence[Box], off: float) -> bool:
    return any(r[0] - off <= point[0] <= r[2] + off and r[1] - off <= point[1] <= r[3] + off for r in rims)


def _around(label: Label, wide: float, high: float, gap: float) -> Iterator[Box]:
    """Where a label may stand: in its rim when that is large, else around it."""
    rim, (x, y) = label.rim, label.middle
    if math.hypot(wide, high) < label.inside_mm - gap:
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
