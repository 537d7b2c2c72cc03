"""
The place of a ring that is farthest outside an opening, searched on chords with proof of how far it may be out.

Pieces of the ring are halved until none can hold a worse place.
"""

from __future__ import annotations

from typing import Any, Final

import numpy as np
import numpy.typing as npt
import shapely

from ledger.domain.shape import Contour, Point
from ledger.fit.overlap import flat_ring

FINE_MM: Final = 0.0005  # sagitta of the chords that a protrusion is searched on
_SEARCH_MM: Final = 5e-4  # how far the search may stop from the worst protrusion
_MOST_PIECES: Final = 200_000

_Floats = npt.NDArray[np.float64]


def farthest_out(inner: Contour, opening: Contour) -> tuple[Point, float]:
    """
    The place of the ring that is farthest outside the opening, and by how much another may be farther.

    Pieces of the ring are halved until none can hold a worse place. Two bounds hold on a piece: a distance
    changes no faster than the place, and the distance to one straight edge is largest at an end.
    """
    hole = flat_ring(opening, FINE_MM)
    edge = hole.exterior
    shapely.prepare([hole, edge])
    corners = shapely.get_coordinates(hole)
    rim = np.asarray(shapely.linestrings(np.stack([corners[:-1], corners[1:]], axis=1)), dtype=object)
    tree = shapely.STRtree(rim)
    ring = shapely.get_coordinates(flat_ring(inner, FINE_MM))
    p, q, out = ring[:-1], ring[1:], _signed(ring, hole, edge)
    at_p, at_q = out[:-1], out[1:]
    place, worst, slack = ring[out.argmax()], out.max(), _SEARCH_MM
    while len(p):
        middle = (p + q) / 2
        at_middle = _signed(middle, hole, edge)
        if at_middle.max() > worst:
            place, worst = middle[at_middle.argmax()], at_middle.max()
        beside = rim[tree.nearest(shapely.points(middle))]
        flat = np.maximum(_distances(p, beside), _distances(q, beside))
        bound = np.minimum(flat, (at_p + at_q + np.hypot(*(q - p).T)) / 2)
        open_ = bound > worst + _SEARCH_MM
        if np.count_nonzero(open_) > _MOST_PIECES:
            slack = float(bound.max() - worst)
            break
        p, q = np.concatenate([p[open_], middle[open_]]), np.concatenate([middle[open_], q[open_]])
        at_p = np.concatenate([at_p[open_], at_middle[open_]])
        at_q = np.concatenate([at_middle[open_], at_q[open_]])
    return (float(place[0]), float(place[1])), slack


def _signed(points: _Floats, hole: shapely.Polygon, edge: shapely.LinearRing) -> _Floats:
    """How far points lie outside a hole; negative inside, by the distance to its edge."""
    return np.where(shapely.contains_properly(hole, shapely.points(points)), -1.0, 1.0) * _distances(
        points, edge
    )


def _distances(points: _Floats, to: Any) -> _Floats:
    return np.asarray(shapely.distance(shapely.points(points), to), dtype=np.float64)
