"""
Pieces and rings that lie on each other: cut twice.

Two curves are *twins* when they have the same middle and length and every vertex of each lies on the other,
within SAME_MM, whichever way they run and wherever they begin. One of them is kept, so that the plate can still
be looked at.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterator, Sequence
from itertools import product
from typing import TypeVar

import numpy as np
import shapely

from ledger.domain.finding import Finding
from ledger.domain.shape import Contour, Point
from ledger.profile.piece import Piece
from ledger.profile.ring import Ring

SAME_MM = 1e-3
_SAGITTA_MM = 1e-4
Key = tuple[int, int, int]


T = TypeVar("T", Piece, Ring)


def without_twins(curves: Sequence[T]) -> tuple[list[T], list[Finding]]:
    """The curves without those that lie on another one, and a stop for every one left out."""
    kept: list[T] = []
    findings: list[Finding] = []
    cells: defaultdict[Key, list[T]] = defaultdict(list)
    for curve in curves:
        size = _size(curve)
        twin = next((c for key in _around(size) for c in cells.get(key, ()) if _twins(c, curve)), None)
        if twin is None:
            kept.append(curve)
            cells[_key(size)].append(curve)
        else:
            findings.append(_doubled(min(twin.where, curve.where)))
    return kept, findings


def without_covered(pieces: Sequence[Piece]) -> tuple[list[Piece], list[Finding]]:
    """
    The pieces without open ones that lie wholly on a closed one, and a stop for every one left out.

    A line over an edge of a closed polyline is cut twice; it is no open contour, and nothing is lost without it.
    """
    closed = [p for p in pieces if p.closed]
    rims = [shapely.LineString(_points(p)) for p in closed]
    tree = shapely.STRtree(rims)
    kept: list[Piece] = []
    findings: list[Finding] = []
    for piece in pieces:
        if not piece.closed and _is_covered(piece, rims, tree):
            findings.append(_doubled(piece.where))
        else:
            kept.append(piece)
    return kept, findings


def _is_covered(piece: Piece, rims: Sequence[shapely.LineString], tree: shapely.STRtree) -> bool:
    ends = shapely.points([piece.start, piece.end])
    near = tree.query(ends[0], predicate="dwithin", distance=SAME_MM).tolist()
    if not near:
        return False
    line = shapely.LineString(piece.contour().flattened(_SAGITTA_MM))
    return any(
        shapely.dwithin(rims[k], ends[1], SAME_MM) and rims[k].buffer(2 * SAME_MM).covers(line) for k in near
    )


def _size(curve: Piece | Ring) -> tuple[float, float, float]:
    low_x, low_y, high_x, high_y = curve.box
    length = curve.length_mm if isinstance(curve, Piece) else curve.contour.length_mm
    return ((low_x + high_x) / 2, (low_y + high_y) / 2, length)


def _key(size: tuple[float, float, float]) -> Key:
    a, b, c = (math.floor(v / (4 * SAME_MM)) for v in size)
    return (a, b, c)


def _around(size: tuple[float, float, float]) -> Iterator[Key]:
    """The cells that sizes within SAME_MM may lie in: in each direction its own and at most the nearer one."""
    near = [
        sorted({math.floor((v - SAME_MM) / (4 * SAME_MM)), math.floor((v + SAME_MM) / (4 * SAME_MM))})
        for v in size
    ]
    yield from product(near[0], near[1], near[2])


def _twins(a: Piece | Ring, b: Piece | Ring) -> bool:
    closed = [c.closed if isinstance(c, Piece) else True for c in (a, b)]
    if closed[0] != closed[1] or any(abs(p - q) > SAME_MM for p, q in zip(a.box, b.box, strict=True)):
        return False
    if isinstance(a, Piece) and isinstance(b, Piece) and a.vertices == b.vertices:
        return True
    first, second = _points(a), _points(b)
    return _lies_on(first, second) and _lies_on(second, first)


def _lies_on(points: list[Point], curve: list[Point]) -> bool:
    distances = shapely.distance(shapely.LineString(curve), shapely.points(np.array(points)))
    return bool(np.max(distances) <= SAME_MM)


def _points(curve: Piece | Ring) -> list[Point]:
    """The curve flattened, its end repeated where it is closed."""
    if isinstance(curve, Ring) or curve.closed:
        contour: Contour = curve.contour if isinstance(curve, Ring) else curve.contour()
        points = contour.flattened(_SAGITTA_MM)
        return [*points, points[0]]
    return [*curve.contour().flattened(_SAGITTA_MM)]


def _doubled(where: str) -> Finding:
    return Finding(
        "duplicate",
        f"{where} is drawn twice in the same place; it would be cut twice",
        where=where,
        fix="delete one of the two, or write a clean copy",
    )
