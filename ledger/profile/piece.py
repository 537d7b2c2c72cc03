"""
Pieces: one drawn entity each, in mm and world coordinates.

A piece is a run of vertices, closed or open, with the *kind* of entity it came from. A whole circle also keeps
its centre and radius, so that nothing is lost by writing it as two half turns.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from ledger.domain.errors import visible
from ledger.domain.shape import Box, Contour, Point, Vertex, edge_length


@dataclass(frozen=True, slots=True)
class Piece:
    """
    One entity. An open piece has its last point as last vertex (bulge 0); a closed one does not repeat its first.

    `circle` is (centre x, centre y, radius) of a whole circle.
    """

    kind: str
    layer: str
    vertices: tuple[Vertex, ...]
    closed: bool
    chord_error_mm: float = 0.0
    circle: tuple[float, float, float] | None = None

    @property
    def start(self) -> Point:
        """The first point."""
        return self.vertices[0][:2]

    @property
    def end(self) -> Point:
        """The last point."""
        return self.vertices[-1][:2]

    @property
    def length_mm(self) -> float:
        """Length along the piece."""
        if self.closed:
            return self.contour().length_mm
        return sum(
            edge_length(a[:2], b[:2], a[2]) for a, b in zip(self.vertices, self.vertices[1:], strict=False)
        )

    @property
    def box(self) -> Box:
        """(min x, min y, max x, max y). An open piece is closed by its chord, which adds nothing to the box."""
        return self.contour().box

    @property
    def where(self) -> str:
        """The piece in words for a finding."""
        return f"{self.kind} on layer {visible(self.layer)} at {at(self.start)}"

    def contour(self) -> Contour:
        """The vertices as a ring."""
        return Contour(self.vertices, self.chord_error_mm)


def at(point: Point) -> str:
    """A place in mm, in words; -0 is written 0."""
    x, y = (round(v, 3) + 0.0 for v in point)
    return f"({x:.3f}, {y:.3f}) mm"


def apart(a: Point, b: Point) -> float:
    """Distance in mm."""
    return math.hypot(a[0] - b[0], a[1] - b[1])
