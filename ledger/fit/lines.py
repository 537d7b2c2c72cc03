"""
The lines of drawings as chords, and how far those of one lie from those of another.

The *distance* of one set of lines from another is that of its worst place, whether that is a corner or lies within a
line: two outlines that join the same corners in another order are apart. Chords are halved until none can hold a
worse place than the one found, within `SEARCH_MM`, which is half the sagitta of a mirrored drawing.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, Final

import numpy as np
import numpy.typing as npt
import shapely

from ledger.domain.pose import Pose
from ledger.domain.shape import Contour

SEARCH_MM: Final = 1e-3
_MOST_PIECES: Final = 200_000
_FEW: Final = 32  # places that tell most wrong turns

Real = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Lines:
    """Chords from `start` to `end` (rows of x, y), and the tree in which the one nearest to a point is found."""

    start: Real
    end: Real
    chords: npt.NDArray[np.object_]
    tree: shapely.STRtree


@lru_cache(maxsize=32)  # one plate is tried in many poses
def lines_of(rings: tuple[Contour, ...], sagitta_mm: float) -> Lines:
    """The chords of rings, none farther from its arc than the sagitta. At least one ring."""
    flat = [np.array(ring.flattened(sagitta_mm)) for ring in rings]
    start = np.concatenate(flat)
    end = np.concatenate([np.roll(ring, -1, axis=0) for ring in flat])
    chords = np.asarray(shapely.linestrings(np.stack([start, end], axis=1)), dtype=object)
    return Lines(start, end, chords, shapely.STRtree(chords))


def placed(pose: Pose, points: Real) -> Real:
    """Rows of x, y where a pose lays them."""
    c, s = math.cos(math.radians(pose.angle_deg)), math.sin(math.radians(pose.angle_deg))
    x, y = points[:, 0], -points[:, 1] if pose.turned_over else points[:, 1]
    return np.column_stack([c * x - s * y + pose.x_mm, s * x + c * y + pose.y_mm])


def lines_apart_mm(
    one: Lines, other: Lines, pose: Pose, *, enough_mm: float = 0.0, most_mm: float = math.inf
) -> float:
    """
    The greatest distance from a place on either set of lines to the other one, `one` laid on `other` by the pose.

    Nothing worse is looked for that is no more than `enough_mm`; above `most_mm` it is only known to be above.
    """
    there = _farthest(placed(pose, one.start), placed(pose, one.end), other, enough_mm, most_mm)
    if there > most_mm:
        return there
    back = pose.back
    return max(there, _farthest(placed(back, other.start), placed(back, other.end), one, enough_mm, most_mm))


def _farthest(p: Real, q: Real, lines: Lines, enough_mm: float, most_mm: float) -> float:
    """
    The greatest distance from a place on the chords p-q to the nearest line.

    Two bounds hold on a chord: a distance changes no faster than the place, and that to one straight line is largest
    at an end.
    """
    if most_mm < math.inf and (some := float(_distances(p[:: 1 + len(p) // _FEW], lines).max())) > most_mm:
        return some
    at_p, at_q = _distances(p, lines), _distances(q, lines)
    worst = float(at_p.max())
    while len(p) and len(p) <= _MOST_PIECES and worst <= most_mm:
        middle = (p + q) / 2
        beside = lines.chords[lines.tree.nearest(shapely.points(middle))]
        at_middle = _to(middle, beside)
        worst = max(worst, float(at_middle.max()))
        bound = np.minimum(
            np.maximum(_to(p, beside), _to(q, beside)), (at_p + at_q + np.hypot(*(q - p).T)) / 2
        )
        open_ = bound > max(worst + SEARCH_MM, enough_mm)
        p, q = np.concatenate([p[open_], middle[open_]]), np.concatenate([middle[open_], q[open_]])
        at_p, at_q = (
            np.concatenate([at_p[open_], at_middle[open_]]),
            np.concatenate([at_middle[open_], at_q[open_]]),
        )
    return worst


def _distances(points: Real, lines: Lines) -> Real:
    return _to(points, lines.chords[lines.tree.nearest(shapely.points(points))])


def _to(points: Real, chords: Any) -> Real:
    return np.asarray(shapely.distance(shapely.points(points), chords), dtype=np.float64)
