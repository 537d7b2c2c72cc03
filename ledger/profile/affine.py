"""
Maps of the plane: where a block, a mirrored entity or a unit takes a point.

A *similarity* keeps circles circles; any other map makes them ellipses. *World* coordinates are those of the
drawing. *Mirrored* entities have the extrusion (0, 0, -1), which negates their x (the arbitrary axis algorithm
of the DXF reference); *tilted* ones have any other extrusion than (0, 0, ±1) and are not flat.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from ledger.domain.shape import Point

_ALIKE = 1e-9


@dataclass(frozen=True, slots=True)
class Affine:
    """x' = a·x + c·y + e, y' = b·x + d·y + f."""

    a: float = 1.0
    b: float = 0.0
    c: float = 0.0
    d: float = 1.0
    e: float = 0.0
    f: float = 0.0

    def place(self, x: float, y: float) -> Point:
        """A point."""
        return (self.a * x + self.c * y + self.e, self.b * x + self.d * y + self.f)

    def turn(self, x: float, y: float) -> Point:
        """A vector: without the shift."""
        return (self.a * x + self.c * y, self.b * x + self.d * y)

    def after(self, first: Affine) -> Affine:
        """The map that applies `first` and then this one."""
        a, b = self.turn(first.a, first.b)
        c, d = self.turn(first.c, first.d)
        e, f = self.place(first.e, first.f)
        return Affine(a, b, c, d, e, f)

    @property
    def mirrors(self) -> bool:
        """Whether it turns left into right."""
        return self.a * self.d - self.b * self.c < 0

    @property
    def scale(self) -> float | None:
        """The factor of a similarity; None for any other map, and for one that squashes the plane flat."""
        first, second = math.hypot(self.a, self.b), math.hypot(self.c, self.d)
        if not math.isfinite(first + second) or not min(first, second) > 0:
            return None
        askew = abs(self.a * self.c + self.b * self.d)
        if abs(first - second) > _ALIKE * first or askew > _ALIKE * first * second:
            return None
        return first


MIRROR_X = Affine(a=-1.0)


def scaled(factor: float) -> Affine:
    """The same factor both ways, as for a unit."""
    return Affine(a=factor, d=factor)


def inserted(*, base: Point, scale: Point, angle_deg: float, at: Point) -> Affine:
    """A block placed: its base point goes to `at`, scaled first, then turned."""
    cos, sin = _cos_sin(angle_deg)
    sx, sy = scale
    turned = Affine(cos * sx, sin * sx, -sin * sy, cos * sy)
    bx, by = turned.turn(*base)
    return Affine(turned.a, turned.b, turned.c, turned.d, at[0] - bx, at[1] - by)


def _cos_sin(angle_deg: float) -> Point:
    """Exact at quarter turns, where radians would leave 6e-17."""
    quarters, rest = divmod(angle_deg, 90.0)
    if rest == 0.0:
        return ((1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0))[int(quarters) % 4]
    return math.cos(math.radians(angle_deg)), math.sin(math.radians(angle_deg))
