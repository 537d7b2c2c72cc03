"""
A pose: how the drawing of ply A is laid on the drawing of ply B.

B = R(angle)·(A, y negated first if turned over) + shift; mm, degrees counter-clockwise in (-180, 180].
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from ledger.domain.errors import BadInput, visible
from ledger.domain.shape import Contour, Point

_FARTHEST = 1e6


@dataclass(frozen=True, slots=True)
class Pose:
    """A rigid motion in the plane, with or without a turning over first."""

    angle_deg: float = 0.0
    x_mm: float = 0.0
    y_mm: float = 0.0
    turned_over: bool = False

    def place(self, p: Point) -> Point:
        """A point of A, in B's coordinates."""
        c, s = math.cos(math.radians(self.angle_deg)), math.sin(math.radians(self.angle_deg))
        x, y = p[0], -p[1] if self.turned_over else p[1]
        return (c * x - s * y + self.x_mm, s * x + c * y + self.y_mm)

    def bring(self, p: Point) -> Point:
        """A point of B, in A's coordinates."""
        c, s = math.cos(math.radians(self.angle_deg)), math.sin(math.radians(self.angle_deg))
        x, y = p[0] - self.x_mm, p[1] - self.y_mm
        x, y = c * x + s * y, -s * x + c * y
        return (x, -y if self.turned_over else y)

    def after(self, first: Pose) -> Pose:
        """The pose of doing `first` and then this one."""
        turned = first.angle_deg if not self.turned_over else -first.angle_deg
        x, y = self.place((first.x_mm, first.y_mm))
        angle = math.remainder(self.angle_deg + turned, 360.0)
        return Pose(angle, x, y, self.turned_over != first.turned_over)

    @property
    def back(self) -> Pose:
        """The pose that undoes this one: how B lies on A."""
        x, y = self.bring((0.0, 0.0))
        return Pose(self.angle_deg if self.turned_over else -self.angle_deg, x, y, self.turned_over)

    def place_contour(self, contour: Contour) -> Contour:
        """A ring of A, in B's coordinates; a turning over turns its arcs the other way."""
        sign = -1.0 if self.turned_over else 1.0
        placed = tuple((*self.place((x, y)), sign * bulge) for x, y, bulge in contour.vertices)
        return Contour(placed, contour.chord_error_mm)

    def bring_contour(self, contour: Contour) -> Contour:
        """A ring of B, in A's coordinates."""
        sign = -1.0 if self.turned_over else 1.0
        brought = tuple((*self.bring((x, y)), sign * bulge) for x, y, bulge in contour.vertices)
        return Contour(brought, contour.chord_error_mm)

    def turn(self, move: Point) -> Point:
        """A move (a difference of points) of A, in B's directions."""
        origin, tip = self.place((0.0, 0.0)), self.place(move)
        return (tip[0] - origin[0], tip[1] - origin[1])

    def turn_back(self, move: Point) -> Point:
        """A move given in B's directions, in A's."""
        origin, tip = self.bring((0.0, 0.0)), self.bring(move)
        return (tip[0] - origin[0], tip[1] - origin[1])


def read_pose(text: str) -> Pose:
    """
    A stated pose: `x y angle` with millimetres and degrees, and `turned_over` behind it where it applies.

    `as drawn` means that both drawings share one origin.

    Raises BadInput for anything else.
    """
    words = text.replace(",", " ").split()
    if words[:2] == ["as", "drawn"] and words[2:] in ([], ["turned", "over"]):
        return Pose(turned_over=bool(words[2:]))
    turned_over = words[-2:] == ["turned", "over"]
    numbers = words[:-2] if turned_over else words
    try:
        x, y, angle = (float(n) for n in numbers)
    except ValueError:
        x = y = angle = math.nan
    if not all(math.isfinite(n) and abs(n) <= _FARTHEST for n in (x, y, angle)):
        raise BadInput(
            f"read {visible(text)!r} as a position; expected x y angle in mm and degrees, such as '10 0 90'"
        )
    return Pose(angle, x, y, turned_over)
