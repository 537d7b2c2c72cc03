"""
The edges at which the material of a plate ends, where its cut-outs hold, cross or touch each other or the outline.

A *rim* is a piece of an edge that has material on exactly one side. The edge of a hole within an opening is none, nor
is the piece of an opening's edge that lies beyond the outline.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator
from typing import Final

import numpy as np
import shapely

from ledger.domain.shape import Contour, Point
from ledger.fit.chords import Chords, Edges
from ledger.fit.edge import Edge, edge_of, is_inside, stationary

_BESIDE_MM: Final = 1e-5  # how far from an edge its two sides are looked at
_ON_MM: Final = 1e-7
_WHOLE: Final = (0.0, 1.0)


def rims_of(edges: Edges, rings: int, chords: Chords) -> Edges:
    """
    The pieces of the edges at which material ends; the very edges where every cut-out lies apart in the outline.

    The first ring is the outline. `chords` are those of the edges: they find which rings meet.
    """
    meeting = _meeting(edges, rings, chords)
    if not meeting:
        return edges
    by_ring = edges.by_ring(rings)
    kept: list[tuple[complex, complex, float, int]] = []
    for ring, own in enumerate(by_ring):
        others = [edge_of(by_ring[r], k) for r in meeting.get(ring, ()) for k in range(len(by_ring[r].bulge))]
        for k in range(len(own.bulge)):
            edge, bulge = edge_of(own, k), float(own.bulge[k])
            stops = _stops(edge, others) if others else [*_WHOLE]
            for low, high in itertools.pairwise(stops):
                if not others or _is_rim(by_ring, edge, (low + high) / 2):
                    part = math.tan(math.atan(bulge) * (high - low)) if bulge else 0.0
                    kept.append((complex(*_at(edge, low)), complex(*_at(edge, high)), part, ring))
    start, end, bulges, owner = zip(*kept, strict=True) if kept else ((), (), (), ())
    return Edges(
        np.array(start, complex), np.array(end, complex), np.array(bulges, float), np.array(owner, np.intp)
    )


def united(rings: tuple[Contour, ...], sagitta_mm: float = 0.002) -> tuple[Contour, ...]:
    """The rings; those that run into each other as one, flattened, with the sagitta that this spent."""
    areas = [shapely.Polygon(ring.flattened(sagitta_mm)).buffer(0) for ring in rings]
    pairs = shapely.STRtree(areas).query(areas, predicate="intersects").T if areas else ()
    met = {int(i) for i, k in pairs if i != k}
    if not met:
        return rings
    found = [ring for n, ring in enumerate(rings) if n not in met]
    spent = sagitta_mm + max(rings[n].chord_error_mm for n in met)
    for piece in shapely.get_parts(shapely.union_all([areas[n] for n in sorted(met)])):
        corners = shapely.get_coordinates(piece.exterior)[:-1]
        found.append(Contour(tuple((float(x), float(y), 0.0) for x, y in corners), spent))
    return tuple(found)


def _meeting(edges: Edges, rings: int, chords: Chords) -> dict[int, set[int]]:
    """Of each ring that meets, holds or lies in another cut-out, or is not clear of the outline, the others."""
    ends = np.searchsorted(edges.ring[chords.edge], np.arange(1, rings))
    areas = [shapely.Polygon(np.column_stack([c.real, c.imag])) for c in np.split(chords.start, ends)]
    found: dict[int, set[int]] = {}
    if rings == 1:
        return found
    crossing = shapely.STRtree(areas[1:]).query(areas[1:], predicate="intersects").T + 1
    outside = np.flatnonzero(~shapely.contains_properly(areas[0], areas[1:])) + 1
    for i, k in (*((int(i), int(k)) for i, k in crossing if i != k), *((0, int(k)) for k in outside)):
        found.setdefault(i, set()).add(k)
        found.setdefault(k, set()).add(i)
    return found


def _stops(edge: Edge, others: list[Edge]) -> list[float]:
    """Where an edge may change from rim to none, as shares of its length: its ends and where others meet it."""
    stops = set(_WHOLE)
    for other in others:
        for place in (other.start, other.end, *stationary(edge, other)):
            if all(math.dist(e.nearest(place), place) <= _ON_MM for e in (edge, other)):
                stops.add(_share(edge, place))
    found: list[float] = []
    for stop in sorted(stops):
        if not found or stop - found[-1] > 1e-12:  # noqa: PLR2004 - rounding of a share
            found.append(stop)
    return found


def _share(edge: Edge, place: Point) -> float:
    """Which share of an edge lies before a place on it."""
    if not edge.radius:
        return min(max(edge.foot(place)[1], 0.0), 1.0)
    turn = math.atan2(place[1] - edge.centre[1], place[0] - edge.centre[0]) - edge.first
    share = (turn if edge.sweep > 0 else -turn) % (2 * math.pi) / abs(edge.sweep)
    return share if share <= 1 else 0.0 if math.dist(place, edge.start) <= 2 * _ON_MM else 1.0


def _at(edge: Edge, share: float) -> Point:
    if share in _WHOLE:
        return edge.end if share else edge.start
    if not edge.radius:
        (ax, ay), (bx, by) = edge.start, edge.end
        return (ax + share * (bx - ax), ay + share * (by - ay))
    turn = edge.first + share * edge.sweep
    return (edge.centre[0] + edge.radius * math.cos(turn), edge.centre[1] + edge.radius * math.sin(turn))


def _is_rim(by_ring: list[Edges], edge: Edge, share: float) -> bool:
    """Whether there is material on exactly one side of a place of an edge."""
    return len({_is_material(by_ring, p) for p in _beside(edge, share)}) > 1


def _beside(edge: Edge, share: float) -> Iterator[Point]:
    x, y = _at(edge, share)
    if edge.radius:
        dx, dy = (x - edge.centre[0]) / edge.radius, (y - edge.centre[1]) / edge.radius
    else:
        length = math.dist(edge.start, edge.end)
        dx, dy = (edge.start[1] - edge.end[1]) / length, (edge.end[0] - edge.start[0]) / length
    for side in (_BESIDE_MM, -_BESIDE_MM):
        yield (x + side * dx, y + side * dy)


def _is_material(by_ring: list[Edges], p: Point) -> bool:
    outline, *cutouts = by_ring
    return is_inside(outline, p) and not any(is_inside(c, p) for c in cutouts)
