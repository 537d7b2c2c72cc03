"""
Lines and arcs that lie on each other for a part of their length: that part would be cut twice.

Only pieces that made no ring are looked at, since an overlap leaves loose ends or a branch. Straight edges are found
by an index of their boxes and compared as intervals along their common line; arcs by their common circle.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import shapely

from ledger.domain.finding import Finding
from ledger.domain.shape import Point, arc_of
from ledger.profile.crossing import SHARED_MM
from ledger.profile.piece import Piece
from ledger.profile.twins import SAME_MM

_FULL = 2 * math.pi
_CELL_MM = 0.01


@dataclass(frozen=True, slots=True)
class _Edge:
    """A straight edge of a piece, by the piece's number."""

    owner: int
    a: Point
    b: Point


@dataclass(frozen=True, slots=True)
class _Arc:
    """An arc of a piece: from an angle, counter-clockwise for so far (radians)."""

    owner: int
    radius: float
    start: float
    sweep: float


def overlaps(pieces: Sequence[Piece]) -> Iterator[Finding]:
    """A stop for every pair of pieces that share more than SHARED_MM, in an order of their own."""
    shared: defaultdict[tuple[int, int], float] = defaultdict(float)
    edges, arcs = _parts(pieces)
    for pair, length in (*_straight(edges), *_round(arcs)):
        shared[pair] += length
    for (one, other), length in sorted(shared.items()):
        if length > SHARED_MM:
            first, second = sorted((pieces[one].where, pieces[other].where))
            yield Finding(
                "overlap",
                f"two entities overlap for {length:.2f} mm: {first} and {second}; it would be cut twice",
                where=first,
                fix="trim one of them in the drawing",
                measured=f"{length:.2f} mm",
            )


def _parts(pieces: Sequence[Piece]) -> tuple[list[_Edge], dict[tuple[int, int, int], list[_Arc]]]:
    edges: list[_Edge] = []
    arcs: defaultdict[tuple[int, int, int], list[_Arc]] = defaultdict(list)
    for k, piece in enumerate(pieces):
        for a, b in zip(piece.vertices, piece.vertices[1:], strict=False):
            if not a[2]:
                edges.append(_Edge(k, a[:2], b[:2]))
                continue
            (x, y), radius, start, sweep = arc_of(a[:2], b[:2], a[2])
            key = (round(x / _CELL_MM), round(y / _CELL_MM), round(radius / _CELL_MM))
            arcs[key].append(_Arc(k, radius, start if sweep > 0 else start + sweep, abs(sweep)))
    return edges, arcs


def _straight(edges: Sequence[_Edge]) -> Iterator[tuple[tuple[int, int], float]]:
    if not edges:
        return
    lines = [shapely.LineString((e.a, e.b)) for e in edges]
    first, second = shapely.STRtree(lines).query(lines, predicate="dwithin", distance=SAME_MM)
    for i, j in zip(first.tolist(), second.tolist(), strict=True):
        if i < j and edges[i].owner != edges[j].owner:
            length = _along(edges[i], edges[j])
            if length > 0:
                yield _pair(edges[i], edges[j]), length


def _along(one: _Edge, other: _Edge) -> float:
    """How far two edges run on one line together, mm; 0 where they only meet or cross."""
    dx, dy = one.b[0] - one.a[0], one.b[1] - one.a[1]
    length = math.hypot(dx, dy)
    if not length > 0:
        return 0.0
    ux, uy = dx / length, dy / length
    places = []
    for x, y in (other.a, other.b):
        px, py = x - one.a[0], y - one.a[1]
        if abs(ux * py - uy * px) > SAME_MM:
            return 0.0
        places.append(ux * px + uy * py)
    return max(0.0, min(length, max(places)) - max(0.0, min(places)))


def _round(arcs: dict[tuple[int, int, int], list[_Arc]]) -> Iterator[tuple[tuple[int, int], float]]:
    for ring in arcs.values():
        ring.sort(key=lambda arc: (arc.owner, arc.start))
        for i, one in enumerate(ring):
            for other in ring[i + 1 :]:
                angle = _together(one, other)
                if one.owner != other.owner and angle > 0:
                    yield _pair(one, other), angle * one.radius


def _together(one: _Arc, other: _Arc) -> float:
    """The angle two arcs of one circle share."""
    total = 0.0
    offset = (other.start - one.start) % _FULL
    for shift in (offset, offset - _FULL):
        total += max(0.0, min(one.sweep, shift + other.sweep) - max(0.0, shift))
    return total


def _pair(one: _Edge | _Arc, other: _Edge | _Arc) -> tuple[int, int]:
    return (min(one.owner, other.owner), max(one.owner, other.owner))
