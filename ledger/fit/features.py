"""
Places of a drawing that a turn must bring onto their counterparts: what tells how a plate is turned.

A *feature* of a ring is a corner, or a place on an arc or a line that is nearest to or farthest from the middle of the
plate. A ring run around the middle at one distance has none, wherever its drawing begins.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Final

import numpy as np

from ledger.domain.shape import Contour, Point, Profile, arc_of

_ROUND_MM: Final = 0.02  # nearer to the middle than this the centre of an arc is in it

Edge = tuple[Point, Point, float]


def features(profile: Profile, middle: Point) -> tuple[tuple[Point, ...], ...]:
    """Features of the outline, ends of hole cores, features of the openings, middles of the openings; none in it."""
    outline = _of_ring(profile.outline, middle) if profile.outline else ()
    kinds = (
        outline,
        (p for h in profile.holes for p in h.core),
        (p for ring in profile.openings for p in _of_ring(ring, middle)),
        map(middle_of, profile.openings),
    )
    return tuple(tuple(p for p in kind if math.dist(p, middle) > _ROUND_MM) for kind in kinds)


def _of_ring(ring: Contour, middle: Point) -> Iterator[Point]:
    edges = [e for e in ring.edges() if e[0] != e[1]]
    for before, edge in zip(edges[-1:] + edges[:-1], edges, strict=True):
        if not (_around(before, middle) and _around(edge, middle)):
            yield edge[0]
        yield from _extremes(edge, middle)


def _around(edge: Edge, middle: Point) -> bool:
    """Whether an edge is an arc about the middle."""
    return bool(edge[2]) and math.dist(arc_of(*edge)[0], middle) <= _ROUND_MM


def _extremes(edge: Edge, middle: Point) -> Iterator[Point]:
    """The places within an edge at which it is nearest to or farthest from the middle."""
    (ax, ay), (bx, by), bulge = edge
    if not bulge:
        dx, dy = bx - ax, by - ay
        along = ((middle[0] - ax) * dx + (middle[1] - ay) * dy) / (dx * dx + dy * dy)
        if 0 < along < 1:
            yield (ax + along * dx, ay + along * dy)
        return
    (cx, cy), radius, first, sweep = arc_of(*edge)
    if math.dist((cx, cy), middle) <= _ROUND_MM:
        return
    outward = math.atan2(cy - middle[1], cx - middle[0])
    for bearing in (outward, outward + math.pi):
        if (bearing - first if sweep > 0 else first - bearing) % (2 * math.pi) < abs(sweep):
            yield (cx + radius * math.cos(bearing), cy + radius * math.sin(bearing))


def middle_of(ring: Contour, sagitta_mm: float = 0.002) -> Point:
    """Middle of the area within a ring."""
    points = np.array(ring.flattened(sagitta_mm))
    origin = points.mean(axis=0)
    here, there = points - origin, np.roll(points, -1, axis=0) - origin
    cross = here[:, 0] * there[:, 1] - here[:, 1] * there[:, 0]
    if not cross.sum():
        return (float(origin[0]), float(origin[1]))
    middle = origin + ((here + there) * cross[:, None]).sum(axis=0) / (3 * cross.sum())
    return (float(middle[0]), float(middle[1]))
