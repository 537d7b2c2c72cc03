"""
How much two plates in one plane lie over each other.

A *region* is the material between an outline and its cut-outs (openings and holes), as rings of lines and arcs.
Arcs are flattened only here, late, with a named sagitta; what the chords cut off is added up exactly and stated
as `error_mm2`, so that the true area lies within it. Which plate is to give way is for others to say.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

import shapely
from shapely.geometry.base import BaseGeometry

from ledger.domain.errors import BadInput
from ledger.domain.shape import Contour, Point, arc_of

SAGITTA_MM = 0.002
_STRAIGHT = 1e-8  # a bulge below this: the arc's own rounding is as large as its height
_ROUNDING = 1e-12  # of the product of the sizes, for what floating point loses in an intersection


@dataclass(frozen=True, slots=True)
class Region:
    """The material of one plate. Cut-outs may touch or cross each other and the outline."""

    outline: Contour
    cutouts: tuple[Contour, ...] = ()

    @property
    def rings(self) -> tuple[Contour, ...]:
        """The outline and every cut-out."""
        return (self.outline, *self.cutouts)

    @property
    def chord_error_mm(self) -> float:
        """The largest sagitta already spent when a spline or an ellipse was flattened."""
        return max(ring.chord_error_mm for ring in self.rings)


@dataclass(frozen=True, slots=True)
class Overlap:
    """The area that two regions share, a point inside its largest piece, and how far the area may be out."""

    area_mm2: float
    where: Point | None
    error_mm2: float

    @property
    def least_mm2(self) -> float:
        """The area that is shared for certain; above 0, the plates collide."""
        return max(0.0, self.area_mm2 - self.error_mm2)


def overlap_area(a: Region, b: Region, *, sagitta_mm: float = SAGITTA_MM) -> Overlap:
    """
    The shared area. Raises BadInput for a ring that crosses itself, is open to doubt or not finite.

    Plates that only touch share nothing: area 0, no place.
    """
    shared = flat_region(a, sagitta_mm).intersection(flat_region(b, sagitta_mm))
    error = sum(_cut_off_mm2(ring, sagitta_mm) for region in (a, b) for ring in region.rings)
    error += _ROUNDING * max(_span_mm(a.outline), _span_mm(b.outline)) ** 2
    pieces = [p for p in shapely.get_parts(shared) if p.area > 0]
    if not pieces:
        return Overlap(0.0, None, error)
    inside = max(pieces, key=lambda p: p.area).representative_point()
    return Overlap(math.fsum(p.area for p in pieces), (inside.x, inside.y), error)


def flat_region(region: Region, sagitta_mm: float) -> BaseGeometry:
    """The region with its arcs flattened: the outline less all cut-outs. Raises BadInput."""
    outline = flat_ring(region.outline, sagitta_mm)
    if not region.cutouts:
        return outline
    return outline.difference(shapely.union_all([flat_ring(c, sagitta_mm) for c in region.cutouts]))


def flat_ring(ring: Contour, sagitta_mm: float) -> shapely.Polygon:
    """The inside of one ring with its arcs flattened. Raises BadInput for a ring that bounds nothing for certain."""
    if not all(math.isfinite(number) for vertex in ring.vertices for number in vertex):
        raise BadInput("a contour has a coordinate that is not finite; read the drawing again")
    points = straight_ends(ring).flattened(sagitta_mm)
    if len(points) < 3:  # noqa: PLR2004 - a polygon has three corners
        raise BadInput("a contour has fewer than three corners; read the drawing again")
    polygon = shapely.Polygon(points)
    if not polygon.is_valid:
        x, y = points[0]
        raise BadInput(f"the contour that starts at {x:.3f}, {y:.3f} mm crosses or doubles itself; mend the drawing")
    return polygon


def straight_ends(ring: Contour) -> Contour:
    """The ring with arcs that are straight within rounding made lines, and points that repeat left out."""
    kept = [
        (a[0], a[1], bulge if abs(bulge) >= _STRAIGHT else 0.0)
        for a, b, bulge in ring.edges()
        if a != b
    ]
    return Contour(tuple(kept), ring.chord_error_mm)


def _cut_off_mm2(ring: Contour, sagitta_mm: float) -> float:
    """Everything between the arcs and their chords, plus what an earlier flattening may have lost."""
    total = ring.chord_error_mm * ring.length_mm
    for a, b, bulge in straight_ends(ring).edges():
        if bulge:
            _, radius, _, sweep = arc_of(a, b, bulge)
            piece = abs(sweep) / pieces_of(radius, sweep, sagitta_mm)
            total += abs(sweep) / piece * radius * radius / 2 * (piece - math.sin(piece))
    return total


def _span_mm(ring: Contour) -> float:
    low_x, low_y, high_x, high_y = ring.box
    return max(map(abs, (low_x, low_y, high_x, high_y)))
