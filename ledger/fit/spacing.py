"""
How holes are spaced: evenly on a bolt circle, or in rows and columns of one pitch each.

Both are told whatever way the drawing is turned. `LOOSE_MM` is what drawings of an even spacing differ by.
"""

from __future__ import annotations

import cmath
from typing import Final

import numpy as np

from ledger.fit.layout import Plane

LOOSE_MM: Final = 0.1
FEWEST: Final = 3
QUARTER: Final = cmath.pi / 2
MOST_TURNS: Final = 24


def circle_mm(points: Plane) -> float | None:
    """Diameter of the circle that the points lie on evenly, mm; None where they do not, or form a square."""
    if len(points) < FEWEST or len(points) == 4:  # noqa: PLR2004 - four corners of a square are a pitch
        return None
    away = points - points.mean()
    radius = float(np.abs(away).mean())
    turns = np.sort(np.angle(away))
    steps = np.diff(np.append(turns, turns[0] + 2 * np.pi))
    even = np.abs(steps - 2 * np.pi / len(points)).max() * radius <= 2 * LOOSE_MM
    return 2 * radius if even and np.abs(np.abs(away) - radius).max() <= LOOSE_MM else None


def pitches_mm(points: Plane, *, count: bool = False) -> tuple[float, ...]:
    """
    The pitch along either side of a full grid, the side with more holes first, mm; of one row its only pitch.

    With `count` how many holes there are along each of these instead. Nothing where the points are no grid.
    """
    if len(points) < 2:  # noqa: PLR2004 - one hole has no pitch
        return ()
    for turn in _turns(points):
        along = (points * cmath.exp(-1j * turn)).real, (points * cmath.exp(-1j * turn)).imag
        sides = [_levels(np.sort(x)) for x in along]
        if len(sides[0]) * len(sides[1]) != len(points) or not _full(along, sides):
            continue
        evens = [(len(s), (s[-1] - s[0]) / (len(s) - 1), s) for s in sides if len(s) > 1]
        if all(np.abs(np.diff(s) - pitch).max() <= LOOSE_MM for _, pitch, s in evens):
            evens.sort(key=lambda x: (-x[0], -x[1]))
            return tuple(float(n if count else pitch) for n, pitch, _ in evens)
    return ()


def _turns(points: Plane) -> list[float]:
    """Directions from the first hole to others, within a quarter: one of them is along a side of a grid."""
    away = points[1:] - points[0]
    turns = np.round(np.mod(np.angle(away), QUARTER), 6)
    near = turns[np.argsort(np.abs(away), kind="stable")]
    return list(dict.fromkeys(near.tolist()))[:MOST_TURNS]


def _levels(values: np.ndarray[tuple[int], np.dtype[np.float64]]) -> list[float]:
    """The middles of values that lie together."""
    groups = np.split(values, np.flatnonzero(np.diff(values) > 2 * LOOSE_MM) + 1)
    return [float(g.mean()) for g in groups]


def _full(along: tuple[np.ndarray[tuple[int], np.dtype[np.float64]], ...], sides: list[list[float]]) -> bool:
    """Whether each place of the grid has one hole."""
    places = [
        np.abs(x[:, None] - np.array(s)[None, :]).argmin(axis=1) for x, s in zip(along, sides, strict=True)
    ]
    return len(set(zip(*(p.tolist() for p in places), strict=True))) == len(along[0])
