"""
Plies partly in position: A can still slide along an edge that both share, or turn about one pin, and nothing else.

A *guide* is that one-parameter family of poses of A on B.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from ledger.domain.pose import Pose
from ledger.domain.shape import Point


@dataclass(frozen=True, slots=True)
class Slide:
    """A lies at `pose` and slides by any length along the direction `along` (of length 1, in B's coordinates)."""

    pose: Pose
    along: Point

    def at(self, by_mm: float) -> Pose:
        """The pose after sliding."""
        p = self.pose
        return Pose(
            p.angle_deg, p.x_mm + by_mm * self.along[0], p.y_mm + by_mm * self.along[1], p.turned_over
        )

    @property
    def numbers(self) -> tuple[float, ...]:
        """Every number of it."""
        return self.pose.angle_deg, self.pose.x_mm, self.pose.y_mm, *self.along

    @property
    def turned_over(self) -> bool:
        """Whether A is turned over."""
        return self.pose.turned_over


@dataclass(frozen=True, slots=True)
class Turn:
    """The point `about_a` of A stays on `about_b` of B; A turns about it."""

    about_a: Point
    about_b: Point
    turned_over: bool = False

    def at(self, angle: float) -> Pose:
        """The pose after turning, angle in radians."""
        degrees = math.degrees(math.remainder(angle, 2 * math.pi))
        turned = Pose(degrees, 0.0, 0.0, self.turned_over)
        x, y = turned.place(self.about_a)
        return Pose(degrees, self.about_b[0] - x, self.about_b[1] - y, self.turned_over)

    @property
    def numbers(self) -> tuple[float, ...]:
        """Every number of it."""
        return *self.about_a, *self.about_b


Guide = Slide | Turn
