"""
How many points of many placed patterns have a hole of Q near: exact with a tree, after a coarse raster has sorted out.

The raster holds for every cell the distance from its centre to the nearest cell with a hole. The true distance is less
by at most a cell's diagonal; a point outside only comes nearer by being moved to the rim: the raster never misses.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Final

import numpy as np
import numpy.typing as npt

from ledger.fit.joint import Real
from ledger.fit.layout import Plane

if TYPE_CHECKING:
    from scipy.spatial import cKDTree

WORTH_A_RASTER: Final = 50_000
MOST_CELLS: Final = 400
MARGIN_CELLS: Final = 12


@dataclass(slots=True)
class Nearby:
    """The holes of Q; `fine` is the length that a cell of the raster should not exceed by much."""

    q: Plane
    fine: float
    asked: int = 0
    tree: cKDTree = field(init=False)
    raster: Real | None = None
    corner: complex = 0j
    cell: float = 1.0

    def __post_init__(self) -> None:
        from scipy.spatial import cKDTree

        self.tree = cKDTree(np.stack([self.q.real, self.q.imag], axis=1))

    def meets(self, placed: Plane, reach: Real, least: int) -> npt.NDArray[np.intp]:
        """For every row of placed points how many have a hole within reach; 0 where fewer than `least` could."""
        self.asked += placed.size
        asking = np.ones(placed.shape, dtype=bool)
        if self.asked > WORTH_A_RASTER:
            asking = self._coarse(placed) <= reach
            asking &= (asking.sum(axis=1) >= least)[:, None]
        row, column = np.nonzero(asking)
        if not len(row):
            return np.zeros(len(placed), dtype=np.intp)
        some, within = placed[row, column], reach[row, column]
        farthest = float(within.max()) * (1 + 1e-9)  # beyond it the tree need not look
        far, _ = self.tree.query(np.stack([some.real, some.imag], axis=1), distance_upper_bound=farthest)
        return np.bincount(row[np.asarray(far) <= within], minlength=len(placed))

    def could_meet(self, placed: Plane, reach: Real) -> npt.NDArray[np.intp]:
        """For every row of placed points at most how many have a hole within reach; never too few."""
        return np.asarray((self._coarse(placed) <= reach).sum(axis=1))

    def within(self, placed: Plane, reach_mm: float) -> int:
        """How many of some points have a hole within reach."""
        points = np.stack([placed.real, placed.imag], axis=1)
        far, _ = self.tree.query(points, distance_upper_bound=reach_mm * (1 + 1e-9))
        return int((np.asarray(far) <= reach_mm).sum())

    def _coarse(self, placed: Plane) -> Real:
        """A distance that is never more than the true one."""
        if self.raster is None:
            self.raster = self._build()
        high = np.array(self.raster.shape) - 1
        x = np.clip((placed.real - self.corner.real) / self.cell, 0, high[0]).astype(np.int32)
        y = np.clip((placed.imag - self.corner.imag) / self.cell, 0, high[1]).astype(np.int32)
        return np.asarray(self.raster[x, y])

    def _build(self) -> Real:
        from scipy.ndimage import distance_transform_edt

        width, height = float(np.ptp(self.q.real)), float(np.ptp(self.q.imag))
        self.cell = max(self.fine / 2, max(width, height) / MOST_CELLS, 1e-9)
        low = complex(float(self.q.real.min()), float(self.q.imag.min()))
        self.corner = low - MARGIN_CELLS * self.cell * (1 + 1j)
        shape = tuple(math.ceil(x / self.cell) + 2 * MARGIN_CELLS for x in (width, height))
        empty = np.ones(shape, dtype=bool)
        at = (
            ((self.q.real - self.corner.real) / self.cell).astype(int),
            ((self.q.imag - self.corner.imag) / self.cell).astype(int),
        )
        empty[at] = False
        far = (np.asarray(distance_transform_edt(empty)) - math.sqrt(2)) * self.cell
        return far.astype(np.float64)
