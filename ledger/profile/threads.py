"""
The drawn sign of a thread: an arc of three quarters around a hole.

ISO 6410-1 draws an internal thread, seen along its axis, as a thin arc of about three quarters around the circle of
the hole. In a file that is cut such an arc is a cut that leads nowhere, or a second circle. It is taken out of the
contours, unless a contour goes on at its ends, and told beside its hole, so that the user says which circle is cut.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from ledger.domain.shape import Point, arc_of
from ledger.profile.nodes import GAP_MM, Grid
from ledger.profile.piece import Piece
from ledger.profile.ring import PLACES

_LEAST, _MOST = math.radians(255), math.radians(300)  # three quarters, drawn by hand
_SAME_CENTRE_MM = 0.05
_SAME_MM = 1e-3


@dataclass(frozen=True, slots=True)
class ThreadArc:
    """An arc of three quarters about the centre of a circle."""

    centre: Point
    diameter_mm: float


def without_threads(pieces: Sequence[Piece]) -> tuple[list[Piece], tuple[ThreadArc, ...]]:
    """The pieces without arcs of three quarters about the centre of a circle, and those arcs."""
    circles, ends = Grid(_SAME_CENTRE_MM), Grid(GAP_MM)
    for k, piece in enumerate(pieces):
        if piece.circle:
            circles.add(k, piece.circle[:2])
        elif not piece.closed:
            ends.add(2 * k, piece.start)
            ends.add(2 * k + 1, piece.end)
    kept: list[Piece] = []
    threads: list[ThreadArc] = []
    for k, piece in enumerate(pieces):
        arc = _three_quarters(piece)
        if arc and any(circles.near(arc.centre)) and not _joined(k, piece, ends):
            threads.append(arc)
        else:
            kept.append(piece)
    return kept, tuple(threads)


def _joined(k: int, piece: Piece, ends: Grid) -> bool:
    """Whether another piece goes on at either end: then the arc is part of a contour."""
    return any(other // 2 != k for end in (piece.start, piece.end) for _, other in ends.near(end))


def _three_quarters(piece: Piece) -> ThreadArc | None:
    """The arc that an open piece is, where it is one of about three quarters."""
    if piece.closed or piece.kind not in ("ARC", "LWPOLYLINE", "POLYLINE"):
        return None
    edges = list(zip(piece.vertices, piece.vertices[1:], strict=False))
    if not edges or not all(a[2] for a, _ in edges):
        return None
    arcs = [arc_of(a[:2], b[:2], a[2]) for a, b in edges]
    (x, y), radius, _, _ = arcs[0]
    if any(math.hypot(c[0] - x, c[1] - y) > _SAME_MM or abs(r - radius) > _SAME_MM for c, r, _, _ in arcs):
        return None
    return (
        ThreadArc((x, y), round(2 * radius, PLACES - 1))
        if _LEAST <= abs(sum(a[3] for a in arcs)) <= _MOST
        else None
    )
