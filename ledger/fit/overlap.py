"""
How much two plates in one plane lie over each other.

A *region* is the material between an outline and its cut-outs (openings and holes), as rings of lines and
arcs. Arcs are flattened only here, late, with a named sagitta; what the chords cut off is added up and stated
as `error_mm2`, so that the true area lies within it. Which plate is to give way is for others to say.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from ledger.domain.errors import BadInput
from ledger.domain.shape import Contour, Point, arc_of
from ledger.fit.chords import STRAIGHT, chords_of, corners_of, edges_between
from ledger.fit.joint import Real
from ledger.fit.layout import Plane

SAGITTA_MM = 0.002
_ROUNDING = 1e-14  # of coordinate times length: what floating point may lose in an intersection


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
    flat_a, flat_b = flat_region(a, sagitta_mm), flat_region(b, sagitta_mm)
    shared = flat_a.intersection(flat_b)
    error = _cut_off_mm2(a, b, flat_b, sagitta_mm) + _cut_off_mm2(b, a, flat_a, sagitta_mm)
    error += _rounding_mm2(a.outline) + _rounding_mm2(b.outline)
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
    """The inside of one ring with its arcs flattened. Raises BadInput where that is in doubt."""
    found = finite(corners_of(ring))
    return flat_corners(chords_of(edges_between((found,)), sagitta_mm).start)


def finite(corners: Real) -> Real:
    """The corners of a ring, if they are numbers. Raises BadInput."""
    if not np.isfinite(corners).all():
        raise BadInput("a contour has a coordinate that is not finite; read the drawing again")
    return corners


def flat_corners(corners: Plane) -> shapely.Polygon:
    """The inside of a ring of straight edges. Raises BadInput where that is in doubt."""
    if len(corners) < 3:  # noqa: PLR2004 - a polygon has three corners
        raise BadInput("a contour has fewer than three corners; read the drawing again")
    polygon = shapely.Polygon(np.ascontiguousarray(corners).view(float).reshape(-1, 2))
    if not polygon.is_valid:
        x, y = float(corners[0].real), float(corners[0].imag)
        raise BadInput(
            f"the contour from {x:.3f}, {y:.3f} mm crosses or doubles back on itself; correct the drawing"
        )
    return polygon


def _cut_off_mm2(a: Region, b: Region, flat_b: BaseGeometry, sagitta_mm: float) -> float:
    """
    At least what lies between the edges of a and their chords, within reach of b.

    A chord of a far from b cannot change what the two share: a plate is not blamed for its many holes.
    """
    ends: list[tuple[Point, Point]] = []
    lost: list[float] = []
    for ring in a.rings:
        for start, end, bulge in ring.edges():
            if start != end:
                points, area = _chords(start, end, bulge, sagitta_mm)
                ends.extend(itertools.pairwise(points))
                band = ring.chord_error_mm * math.dist(*points[:2])
                lost.extend([area + band] * (len(points) - 1))
    shapely.prepare(flat_b)
    reach = 2 * sagitta_mm + a.chord_error_mm + b.chord_error_mm
    near = shapely.dwithin(shapely.linestrings(ends), flat_b, reach)
    return math.fsum(itertools.compress(lost, near))


def _chords(start: Point, end: Point, bulge: float, sagitta_mm: float) -> tuple[list[Point], float]:
    """The points of one flattened edge, and at least the area between each chord and its arc."""
    if abs(bulge) < STRAIGHT:
        return [start, end], abs(bulge) * math.dist(start, end) ** 2 / 3
    points = Contour(((*start, bulge), (*end, 0.0))).flattened(sagitta_mm)
    _, radius, _, sweep = arc_of(start, end, bulge)
    return points, radius * radius * (abs(sweep) / (len(points) - 1)) ** 3 / 12


def _rounding_mm2(ring: Contour) -> float:
    return _ROUNDING * max(map(abs, ring.box)) * ring.length_mm
