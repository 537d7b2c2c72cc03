"""
The flat regions of a bent part between its bend lines, and on which of them some holes lie.

A *flange* ends at its bend lines. What is bent up from it stands beyond them by no more than the inside radius and the
thickness, where the bend is a square one or sharper; a flange that leans outward reaches farther.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

import shapely
from shapely.geometry.base import BaseGeometry
from shapely.ops import split

from ledger.cases.answers import DoesNotApply
from ledger.checks._bend_lines import BendLine, bent_part
from ledger.checks._webs import SAGITTA_MM
from ledger.domain.bend import ends_of
from ledger.domain.record import Part
from ledger.domain.shape import Contour, Hole, Stroke

_SHORT_MM: Final = (
    5.0  # a bend line is drawn that much short of the outline at most, or by a twentieth of its length
)
_SQUARE_DEG: Final = 89.0


@dataclass(frozen=True, slots=True)
class Flange:
    """A flat region in the drawing's coordinates, and the region in which material may stand over its face."""

    flat: shapely.Polygon
    standing: BaseGeometry

    def ring(self) -> Contour:
        """The edge of the flat region, arcs flattened."""
        corners = shapely.get_coordinates(self.flat.exterior)[:-1]
        return Contour(tuple((float(x), float(y), 0.0) for x, y in corners), SAGITTA_MM)


def flange_of(part: Part, holes: Iterable[Hole]) -> Flange | None:
    """The flange on which all these holes lie; None for a part without bends, and where it is not clear."""
    profile = part.profile
    if profile is None or profile.outline is None or not profile.bends:
        return None
    points = [p for h in holes for p in h.core]
    pieces = _pieces(profile.outline, profile.bends)
    found = [k for k, piece in enumerate(pieces) if any(piece.contains(shapely.Point(p)) for p in points)]
    if len(pieces) <= 1 or len(found) != 1:
        return None
    flat, whole = pieces[found[0]], shapely.union_all(pieces)
    reach = _standing_mm(part)
    standing = whole if reach is None else shapely.intersection(whole, flat.buffer(reach))
    return Flange(flat, standing)


def _standing_mm(part: Part) -> float | None:
    """How far beyond its bend lines material may stand over a flange; None where it leans outward or is not known."""
    try:
        bend_lines = bent_part(part).lines
    except DoesNotApply:
        return None
    return max(map(_beyond_mm, bend_lines)) if bend_lines and all(map(_upright, bend_lines)) else None


def _upright(bend_line: BendLine) -> bool:
    return bend_line.stated is not None and bend_line.numbers.angle_deg >= _SQUARE_DEG


def _beyond_mm(bend_line: BendLine) -> float:
    """From the bend line to the outer face of what stands up: setback less half of what the bend takes."""
    return max(bend_line.numbers.setback_mm - bend_line.numbers.allowance_mm / 2, 0.0)


@lru_cache(maxsize=16)
def _pieces(outline: Contour, bends: tuple[Stroke, ...]) -> tuple[shapely.Polygon, ...]:
    """The outline cut along its bend lines."""
    pieces: list[BaseGeometry] = [shapely.Polygon(outline.flattened(SAGITTA_MM)).buffer(0)]
    for (ax, ay), (bx, by) in filter(None, map(ends_of, bends)):
        length = max(shapely.Point(ax, ay).distance(shapely.Point(bx, by)), SAGITTA_MM)
        more = max(_SHORT_MM, length / 20) / length
        dx, dy = (bx - ax) * more, (by - ay) * more
        line = shapely.LineString([(ax - dx, ay - dy), (bx + dx, by + dy)])
        pieces = [part for piece in pieces for part in split(piece, line).geoms]
    return tuple(p for p in pieces if isinstance(p, shapely.Polygon) and p.area > 0)
