"""
Whether two drawings show one part in two versions, and not two parts that are bolted to each other.

They do, once their holes lie on each other, where the plates cover the same ground; where they cover much of it and
most holes lie on holes of the same size; where nearly all holes do, in two sizes or more; where their rims are the same
and only some holes of a pattern meet; or where the names differ in nothing but what marks a version (`v2`, `rev B`,
`copy`) and some ground or most holes are the same. Two equal plates that are bolted to each other look the same: so
such a pair is told, and not proposed. Common practice, no source.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from ledger.fit.layout import Plane
from ledger.suggestion.meeting import Way
from ledger.suggestion.patterns import SAGITTA_MM, Plate

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

    from ledger.domain.shape import Contour

SAME_GROUND: Final = 0.95
MUCH_GROUND: Final = 0.8
SAME_HOLES: Final = 0.6
NEARLY_ALL: Final = 0.9
LIKE_NAMED: Final = 0.5
_MARK: Final = re.compile(
    r"(?:[\s_\-.(]+(?:\d+\)|copy|old|new|final|clean|v\d[\d.]*|rev\.? ?\w{1,2}|x\d+)\)?|@\w+)+$",
    re.IGNORECASE,
)


@dataclass(frozen=True, slots=True)
class Ground:
    """A plate, and the places of holes by which it is known which outline of a sheet is meant."""

    plate: Plate
    points: Plane

    def covered(self, way: Way | None, *, bare: bool = False) -> BaseGeometry | None:
        """
        What the plate that holds most of the points covers, laid this way; nothing without an outline.

        Its openings are left out unless it is `bare`, its holes never.
        """
        from shapely import points

        rings = [_ring(c) for c in self.plate.profile.outlines]
        if not rings:
            return None
        places = points(self.points.real, self.points.imag)
        ground = max(rings, key=lambda ring: (int(np.count_nonzero(ring.contains(places))), -ring.area))
        for opening in () if bare else self.plate.profile.openings:
            ground = ground.difference(_ring(opening))
        return ground if way is None else _laid(ground, way)


@dataclass(frozen=True, slots=True)
class Alike:
    """
    Holes that lie on holes of the same size: their share of all holes, and how many sizes they have.

    `whole`: all holes of one of the two patterns meet.
    """

    share: float
    sizes: int
    whole: bool


def versions(a: Ground, b: Ground, way: Way, holes: Alike) -> bool:
    """Whether A, laid on B this way, is the same plate as B in another version."""
    named = _plain(a.plate.name) == _plain(b.plate.name)
    if (named and holes.share >= SAME_HOLES) or (holes.sizes > 1 and holes.share >= NEARLY_ALL):
        return True
    ground = _shared(a.covered(way), b.covered(None))
    if ground >= SAME_GROUND or (ground >= MUCH_GROUND and holes.share >= SAME_HOLES):
        return True
    if named and ground >= LIKE_NAMED:
        return True
    return not holes.whole and _shared(a.covered(way, bare=True), b.covered(None, bare=True)) >= SAME_GROUND


def _shared(one: BaseGeometry | None, other: BaseGeometry | None) -> float:
    """What both cover, of all that either covers; nothing where an outline is missing."""
    if one is None or other is None:
        return 0.0
    both = float(one.union(other).area)
    return float(one.intersection(other).area) / both if both > 0 else 0.0


def _plain(name: str) -> str:
    return _MARK.sub("", name.lower().removesuffix(".dxf")).strip(" _-.")


def _ring(contour: Contour) -> BaseGeometry:
    from shapely.geometry import Polygon

    return Polygon(contour.flattened(SAGITTA_MM)).buffer(0)


def _laid(ground: BaseGeometry, way: Way) -> BaseGeometry:
    from shapely.affinity import affine_transform

    (c, s), over = (way.turn.real, way.turn.imag), -1.0 if way.turned_over else 1.0
    return affine_transform(ground, [c, -s * over, s, c * over, way.shift.real, way.shift.imag])
