"""
Rings: closed contours with what they were drawn with.

A *ring* comes from one closed piece or from pieces joined end to end. It is kept in canonical form
(counter-clockwise, from its lowest, leftmost vertex), so that the order of entities in the file leaves no trace.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from ledger.domain.shape import Box, Contour, Point, Vertex
from ledger.profile.piece import Piece, at

PLACES = 9


@dataclass(frozen=True, slots=True)
class Ring:
    """A contour, the kinds of entity and the layers it was drawn with; `circle` as in a piece."""

    contour: Contour
    kinds: tuple[str, ...]
    layers: tuple[str, ...]
    circle: tuple[float, float, float] | None = None

    @property
    def box(self) -> Box:
        """(min x, min y, max x, max y)."""
        return self.contour.box

    @property
    def middle(self) -> Point:
        """The middle of the box."""
        low_x, low_y, high_x, high_y = self.box
        return ((low_x + high_x) / 2, (low_y + high_y) / 2)

    @property
    def where(self) -> str:
        """The ring in words for a finding."""
        low_x, low_y, high_x, high_y = self.box
        if self.circle:
            return f"circle of {2 * self.circle[2]:.3f} mm at {at(self.circle[:2])}"
        return f"contour of {high_x - low_x:.2f} × {high_y - low_y:.2f} mm around {at(self.middle)}"


def ring_of_piece(piece: Piece) -> Ring:
    """A closed piece as a ring."""
    contour = Contour(without_noise(piece.vertices), piece.chord_error_mm)
    return Ring(contour.canonical(), (piece.kind,), (piece.layer,), piece.circle)


def ring_of_run(run: Sequence[tuple[Piece, bool, Point]]) -> Ring:
    """Pieces in order: (piece, backwards, the node it begins at). Ends are moved onto their nodes."""
    vertices: list[Vertex] = []
    for piece, backwards, node in run:
        own = backward(piece.vertices) if backwards else piece.vertices
        vertices.append((*node, own[0][2]))
        vertices.extend(own[1:-1])
    contour = Contour(without_noise(vertices), max(piece.chord_error_mm for piece, _, _ in run))
    kinds = tuple(sorted({piece.kind for piece, _, _ in run}))
    layers = tuple(sorted({piece.layer for piece, _, _ in run}))
    return Ring(contour.canonical(), kinds, layers)


def without_noise(vertices: Sequence[Vertex]) -> tuple[Vertex, ...]:
    """Places to a millionth of a micrometre: 25.4 times a number of inches leaves noise behind that."""
    return tuple((round(x, PLACES) + 0.0, round(y, PLACES) + 0.0, bulge) for x, y, bulge in vertices)


def backward(vertices: Sequence[Vertex]) -> tuple[Vertex, ...]:
    """An open run of vertices from its other end; each bulge belongs to the edge that begins at its vertex."""
    last = len(vertices) - 1
    return tuple(
        (vertices[k][0], vertices[k][1], -vertices[k - 1][2] if k else 0.0) for k in range(last, -1, -1)
    )
