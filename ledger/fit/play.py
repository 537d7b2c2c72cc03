"""
How far a bolted plate can still move: its *play*, over every pose in which all fasteners stay in their holes.

Near the pose that is known a plate moves by a shift and a small turn, and each fastener keeps its hole within a circle
about the other's. One without any room is given `STUCK_MM`, so that what turns about it still has its play. The
circles are taken as polygons that contain them, so that the moves form a convex body with corners; the farthest point
of the plate is farthest at a corner. The result is never too small, and too large by a few per cent: what a turn adds
beyond the straight line is added.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from ledger.domain.shape import Point
from ledger.fit.joint import Real
from ledger.fit.layout import Plane, as_plane

DIRECTIONS: Final = 24
STUCK_MM: Final = 1e-6
TURNS_FREELY: Final = 0.2  # radians: a plate that turns further is not held


@dataclass(frozen=True, slots=True)
class Held:
    """One fastener: the cores of the two holes, both in the coordinates of the ply that stays, and its take up."""

    moving: tuple[Point, ...]
    staying: tuple[Point, ...]
    take_up_mm: float


def play_mm(fasteners: Sequence[Held], points: Sequence[Point]) -> float:
    """
    The farthest that any of these points of the plate can move from where it is; infinite where it turns freely.

    Of slots the length counts as room in every direction, on the safe side.
    """
    a, ha = as_plane([f.moving for f in fasteners])
    b, hb = as_plane([f.staying for f in fasteners])
    room = np.array([f.take_up_mm for f in fasteners]) + np.abs(ha) + np.abs(hb)
    away = a - b
    middle = complex(a.mean())
    arm = a - middle
    reach = float(np.abs(arm).max())
    if reach <= STUCK_MM:
        return math.inf
    if float((room - np.abs(away)).max()) <= STUCK_MM:
        return 0.0
    room = np.maximum(
        room, np.abs(away) + STUCK_MM
    )  # one that is stuck holds its place, but not the direction
    far = np.array([complex(*p) for p in points]) - middle
    corners = _corners(away, arm / reach, room)
    if corners is None:
        return math.inf
    turn = float(np.abs(corners[:, 2]).max()) / reach
    if turn > TURNS_FREELY:
        return math.inf
    bent = _corners(away, arm / reach, room + turn**2 / 2 * reach)
    corners = corners if bent is None else bent
    moved = corners[:, 0, None] + 1j * corners[:, 1, None] + 1j * corners[:, 2, None] / reach * far[None, :]
    return float(np.abs(moved).max()) + turn**2 / 2 * float(np.abs(far).max())


def _corners(away: Plane, arm: Plane, room: Real) -> Real | None:
    """Corners of all moves (shift x, shift y, turn times reach) that keep every fastener in; None where unbounded."""
    from scipy.spatial import HalfspaceIntersection, QhullError

    angle = 2 * math.pi * np.arange(DIRECTIONS) / DIRECTIONS
    way = np.exp(1j * angle)
    turned = 1j * arm
    rows = [
        [d.real, d.imag, (t * d.conjugate()).real, (v * d.conjugate()).real - c]
        for v, t, c in zip(away, turned, room, strict=True)
        for d in way
    ]
    try:
        corners = HalfspaceIntersection(np.array(rows), np.zeros(3)).intersections
    except QhullError:
        return None
    return corners if np.isfinite(corners).all() else None
