"""
The bend lines of a flat drawing as things to measure against.

A *bend* is a straight bend line with what is known or usual of it. Its *axis* is the endless line that it lies on;
several bends may lie on one, where a notch or a hole parts them. A *leg* is measured outside, to the corner of the
outer faces. Arcs are flattened to the sagitta of `_webs`.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from decimal import Decimal
from typing import Final

import shapely
from shapely.geometry.base import BaseGeometry

from ledger.cases.answers import DoesNotApply, NoDrawing
from ledger.checks._webs import SAGITTA_MM
from ledger.domain.bend import Bend, ends_of, lost_bends
from ledger.domain.record import Part
from ledger.domain.shape import Box, Contour, Point, Profile
from ledger.standards.bending import Bent, bent

_ONE_LINE_MM: Final = 0.1
_PARALLEL: Final = math.sin(math.radians(0.1))
_SQUARE: Final = Decimal(90)


@dataclass(frozen=True, slots=True)
class BendLine:
    """A straight bend line. Where nothing was said of it `stated` is None, and `numbers` are those of a square bend."""

    label: str
    a: Point
    b: Point
    stated: Bend | None
    numbers: Bent

    @property
    def along(self) -> Point:
        """The direction of the line, of length 1."""
        length = math.dist(self.a, self.b)
        return ((self.b[0] - self.a[0]) / length, (self.b[1] - self.a[1]) / length)

    @property
    def length_mm(self) -> float:
        """How long the line is."""
        return math.dist(self.a, self.b)

    def station(self, point: Point) -> float:
        """How far along the axis a point lies, from the line's first end."""
        ux, uy = self.along
        return (point[0] - self.a[0]) * ux + (point[1] - self.a[1]) * uy

    def aside(self, point: Point) -> float:
        """How far beside the axis a point lies, positive on its left."""
        ux, uy = self.along
        return (point[1] - self.a[1]) * ux - (point[0] - self.a[0]) * uy

    def at(self, station: float, aside: float = 0.0) -> Point:
        """The point at that station, so far to the left of the axis."""
        ux, uy = self.along
        return (self.a[0] + ux * station - uy * aside, self.a[1] + uy * station + ux * aside)

    def line(self, longer_mm: float = 0.0) -> shapely.LineString:
        """The line, made longer at both ends."""
        return shapely.LineString([self.at(-longer_mm), self.at(self.length_mm + longer_mm)])

    def parallel(self, other: BendLine) -> bool:
        """Whether two bends run the same way."""
        (ux, uy), (vx, vy) = self.along, other.along
        return abs(ux * vy - uy * vx) <= _PARALLEL

    def on_one_axis(self, other: BendLine) -> bool:
        """Whether two bends lie on one endless line."""
        return self.parallel(other) and max(abs(self.aside(p)) for p in (other.a, other.b)) <= _ONE_LINE_MM


@dataclass(frozen=True, slots=True)
class BentPart:
    """A part that has bend lines: its drawing, its thickness, its straight bend lines."""

    profile: Profile
    thickness_mm: float
    lines: tuple[BendLine, ...]

    def bend_line(self, label: str) -> BendLine | None:
        """The bend of that label."""
        return next((f for f in self.lines if f.label == label), None)

    def sheet(self) -> BaseGeometry:
        """The outline, filled."""
        outline = self.profile.outline
        if outline is None:
            raise NoDrawing("there is no outline to bend: take the drawing again")
        return filled(outline).buffer(0)

    def material_near(self, points: Iterable[Point], within_mm: float) -> BaseGeometry:
        """The outline less those openings and holes that come near to some points."""
        there = tuple(points)
        every = (*self.profile.openings, *(h.contour() for h in self.profile.holes))
        rings = [r for r in every if any(_to_box(p, r.box) <= within_mm for p in there)]
        cut = shapely.union_all([filled(r) for r in rings]) if rings else shapely.Polygon()
        return shapely.difference(self.sheet(), cut)


def _to_box(point: Point, box: Box) -> float:
    """From a point to a box."""
    across = max(box[0] - point[0], 0.0, point[0] - box[2])
    return math.hypot(across, max(box[1] - point[1], 0.0, point[1] - box[3]))


def filled(contour: Contour) -> shapely.Polygon:
    """A ring with what it encloses."""
    return shapely.Polygon(contour.flattened(SAGITTA_MM))


def bent_part(part: Part) -> BentPart:
    """The part as a bent one. Raises DoesNotApply for a part that has no bend lines, or no thickness yet."""
    profile, thick = part.profile, part.thickness
    if part.form != "cut" or profile is None or not profile.bends or thick is None or not thick.mm > 0:
        raise DoesNotApply
    return BentPart(profile, float(thick.mm), tuple(_bend_lines(part, float(thick.mm))))


def _bend_lines(part: Part, thick: float) -> Iterator[BendLine]:
    lost = {b.label for b in lost_bends(part.profile.bends if part.profile else (), part.bends)}
    for label, stroke in part.bend_lines.items():
        ends = ends_of(stroke)
        if ends is None or not all(map(math.isfinite, (*ends[0], *ends[1]))):
            continue
        stated = None if label in lost else part.bend(label)
        usual = Bend(label, ends, _SQUARE, "up")
        yield BendLine(label, *ends, stated, bent(stated or usual, thick, part.material, part.bend_data))


def intervals(bend_line: BendLine, shape: BaseGeometry, reach_mm: float) -> list[tuple[float, float]]:
    """Where the axis of a bend runs through a shape, as stations from and to, in order; touching counts for nothing."""
    cut = shapely.intersection(bend_line.line(reach_mm), shape)
    found = []
    for piece in shapely.get_parts(cut):
        if piece.geom_type == "LineString" and piece.length > 0:
            ends = [bend_line.station((p[0], p[1])) for p in piece.coords]
            found.append((min(ends), max(ends)))
    merged: list[tuple[float, float]] = []
    for start, end in sorted(found):
        if merged and start <= merged[-1][1] + 1e-6:
            merged[-1] = (merged[-1][0], max(merged[-1][1], end))
        else:
            merged.append((start, end))
    return merged


def reach_of(profile: Profile) -> float:
    """Longer than anything on the drawing."""
    width, height = profile.size_mm or (0.0, 0.0)
    return 2.0 * math.hypot(width, height) + 1.0


def first_hit_mm(start: Point, way: Point, shapes: Iterable[BaseGeometry], reach_mm: float) -> float:
    """How far from a point, going one way, the nearest of these shapes is met; infinite for none."""
    ray = shapely.LineString([start, (start[0] + way[0] * reach_mm, start[1] + way[1] * reach_mm)])
    origin = shapely.Point(start)
    met = (shapely.intersection(ray, shape) for shape in shapes)
    return min((float(origin.distance(m)) for m in met if not m.is_empty), default=math.inf)
