"""
Do rings cross themselves or each other?

Rings are flattened at SAGITTA_MM and joined by shared vertices, so number noise makes hair-thin overlaps that no tool
would notice. A *crossing* therefore counts only where the piece it cuts off is wider than WIDTH_MM: twice the
area over the perimeter. A *shared edge* is a stretch longer than SHARED_MM that two rings both run along: it
would be cut twice.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

import numpy as np
import shapely
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from ledger.domain.finding import Finding
from ledger.profile.piece import at
from ledger.profile.ring import Ring

SAGITTA_MM = 0.001
WIDTH_MM = 0.005
SHARED_MM = 0.05


class Plates:
    """
    Rings as areas, in the order given. A ring that crosses itself, or has no area, has no place among them.

    `crossed` holds the pairs that cross, by number, the lower first.
    """

    def __init__(self, rings: Sequence[Ring]) -> None:
        self.findings: list[Finding] = []
        self.rings: list[Ring] = []
        self.areas: list[Polygon] = []
        self.crossed: set[tuple[int, int]] = set()
        for ring in rings:
            area = self._area(ring)
            if area is not None:
                self.rings.append(ring)
                self.areas.append(area)
        self.tree = shapely.STRtree(self.areas)
        self.findings.extend(self._pairs())

    def _area(self, ring: Ring) -> Polygon | None:
        points = ring.contour.flattened(SAGITTA_MM)
        if len(points) < 3:  # noqa: PLR2004 - no triangle, no area
            self.findings.append(_no_area(ring))
            return None
        area = Polygon(np.array(points))
        if ring.circle or (area.is_valid and _width(area) > WIDTH_MM):
            return area
        line = area.exterior
        faces = list(shapely.get_parts(shapely.polygonize([shapely.node(line)])))
        wide = [face for face in faces if isinstance(face, Polygon) and _width(face) > WIDTH_MM]
        if not wide:
            self.findings.append(_no_area(ring))
            return None
        noded = float(shapely.length(shapely.node(line)))
        if len(wide) > 1:
            self.findings.append(_crosses_itself(ring, wide))
            return None
        if line.length - noded > SHARED_MM or noded - wide[0].length > SHARED_MM:
            self.findings.append(_runs_back(ring))
        return wide[0]

    def _pairs(self) -> Iterator[Finding]:
        if len(self.areas) < 2:  # noqa: PLR2004 - nothing to cross
            return
        edges = [area.exterior for area in self.areas]
        first, second = self.tree.query(edges, predicate="intersects")
        for a, b in sorted(
            {(int(min(p)), int(max(p))) for p in zip(first, second, strict=True) if p[0] != p[1]}
        ):
            if not shapely.intersects(edges[a], edges[b]):
                continue
            yield from self._pair(a, b)

    def _pair(self, a: int, b: int) -> Iterator[Finding]:
        mine, other = self.areas[a], self.areas[b]
        cuts: list[BaseGeometry] = [mine.intersection(other), mine.difference(other), other.difference(mine)]
        where = min(self.rings[a].where, self.rings[b].where)
        if all(_widest(cut) > WIDTH_MM for cut in cuts):
            self.crossed.add((a, b))
            place = shapely.get_coordinates(cuts[0].representative_point())[0]
            yield Finding(
                "crossing",
                f"two contours cross near {at((float(place[0]), float(place[1])))}: {self.rings[a].where} and "
                f"{self.rings[b].where}",
                where=where,
                fix="move or trim one of them, or put it on a MARK or BEND layer",
            )
            return
        shared = shapely.intersection(mine.exterior, other.exterior)
        length = float(shapely.length(shared))
        if length > SHARED_MM:
            yield _shared(self.rings[a], self.rings[b], length)


def _width(area: BaseGeometry) -> float:
    """Mean width of an area, mm; 0 for none."""
    return 2 * area.area / area.length if area.length > 0 and math.isfinite(area.area) else 0.0


def _widest(geometry: BaseGeometry) -> float:
    parts = [p for p in shapely.get_parts(geometry) if p.geom_type == "Polygon"]
    return max((_width(p) for p in parts), default=0.0)


def _crosses_itself(ring: Ring, faces: Sequence[Polygon]) -> Finding:
    smallest = min(faces, key=lambda face: (face.area, face.bounds))
    x, y = np.mean(shapely.get_coordinates(smallest.exterior), axis=0)
    return Finding(
        "crossing",
        f"a contour crosses itself near {at((float(x), float(y)))}: {ring.where}",
        where=ring.where,
        fix="trim the loop in the drawing",
    )


def _runs_back(ring: Ring) -> Finding:
    return Finding(
        "overlap",
        f"a contour runs back on itself: {ring.where}; that stretch would be cut twice",
        where=ring.where,
        fix="delete the line that leads nowhere",
    )


def _no_area(ring: Ring) -> Finding:
    return Finding(
        "overlap",
        f"a contour goes out and back on one line: {ring.where}; it would be cut twice",
        where=ring.where,
        fix="delete it, or put a single line on a MARK or BEND layer",
    )


def _shared(a: Ring, b: Ring, length: float) -> Finding:
    return Finding(
        "overlap",
        f"two contours share {length:.2f} mm of edge: {a.where} and {b.where}; it would be cut twice",
        where=min(a.where, b.where),
        fix="leave a web between them, or draw them as one contour",
        measured=f"{length:.2f} mm",
    )
