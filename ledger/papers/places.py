"""What is taken on a page or in a picture: boxes, found again by the squares they touch."""

from __future__ import annotations

import math
from collections.abc import Iterator

from ledger.domain.shape import Box


class Places:
    """Boxes that are taken; squares of one size keep thousands of them quick to ask."""

    def __init__(self, square_mm: float) -> None:
        self.square_mm = square_mm
        self.squares: dict[tuple[int, int], list[Box]] = {}

    def add(self, box: Box) -> None:
        """Take a box."""
        for square in self._squares(box):
            self.squares.setdefault(square, []).append(box)

    def is_free(self, box: Box) -> bool:
        """Whether nothing touches the box."""
        return not any(
            touches(box, other) for square in self._squares(box) for other in self.squares.get(square, ())
        )

    def _squares(self, box: Box) -> Iterator[tuple[int, int]]:
        x0, y0, x1, y1 = (math.floor(v / self.square_mm) for v in box)
        for x in range(x0, x1 + 1):
            for y in range(y0, y1 + 1):
                yield (x, y)


def touches(a: Box, b: Box) -> bool:
    """Whether two boxes share more than an edge."""
    return a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3]


def inside(a: Box, b: Box) -> bool:
    """Whether a box lies wholly in another."""
    return a[0] >= b[0] and a[2] <= b[2] and a[1] >= b[1] and a[3] <= b[3]


def astride(a: Box, edge: Box) -> bool:
    """Whether a box lies across the edge of another."""
    return touches(a, edge) and not inside(a, edge)
