"""
How far apart every two holes of a pattern lie, ready to be asked which lie so far apart.

Lengths are dealt into cells, so that two million of them are put in order without comparing: a cell is too coarse to
decide, which the callers do with the lengths themselves, but never leaves a length out.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np
import numpy.typing as npt

from ledger.fit.joint import Real
from ledger.fit.layout import Plane

CELLS: Final = np.iinfo(np.uint16).max
FINE: Final = 32  # cells to the width that is asked for, when lengths are counted
Index = npt.NDArray[np.intp]


@dataclass(frozen=True, slots=True)
class Lengths:
    """All pairs in order of their cell, and the cell of each in that order; cell in mm."""

    order: Index
    cells: npt.NDArray[np.uint16]
    starts: Index  # among all pairs, where those of each point with later ones begin
    cell: float

    def between(self, low: float, high: float) -> Index:
        """Ends (2 x so many) of all pairs from `low` to `high` mm apart, and of some a cell shorter or longer."""
        start, last = math.floor(low / self.cell) - 1, math.floor(high / self.cell) + 1
        some = self.order[self._place(start, "left") : self._place(last, "right")]
        one = np.searchsorted(self.starts, some, "right") - 1
        return np.stack([one, some - self.starts[one] + one + 1])

    def _place(self, cell: int, side: Literal["left", "right"]) -> int:
        if not 0 <= cell <= CELLS:
            return 0 if cell < 0 else len(self.cells)
        return int(np.searchsorted(self.cells, np.uint16(cell), side))


def lengths_of(points: Plane) -> Lengths:
    """The lengths between every two points."""
    apart = _apart(points)
    cell = max(float(apart.max(initial=0.0)) / CELLS, 1e-12)
    apart /= cell
    at = np.minimum(apart, CELLS, out=apart).astype(np.uint16)
    order = np.argsort(at, kind="stable")  # of small whole numbers: by digits
    with_later = np.arange(len(points) - 1, 0, -1)
    starts = np.concatenate([[0], np.cumsum(with_later)])[: max(len(points) - 1, 1)]
    return Lengths(order, at[order], starts, cell)


def alike(one: Plane, two: Plane, within_mm: float) -> int:
    """
    How many pairs of `one` and pairs of `two` are as long as each other, give or take `within_mm`.

    Of many, those are counted too that differ by a few per cent more.
    """
    first, second = _apart(one), _apart(two)
    longest = float(max(first.max(initial=0.0), second.max(initial=0.0)))
    if within_mm <= 0 or longest * FINE / within_mm > len(second):
        second.sort()
        first.sort()  # in order they are found faster
        same = np.searchsorted(second, first + within_mm, "right") - np.searchsorted(
            second, first - within_mm, "left"
        )
        return int(same.sum())
    cell = within_mm / FINE
    cells = math.ceil(longest / cell) + 1
    of_first = np.bincount((first / cell).astype(np.intp), minlength=cells)
    of_second = np.bincount((second / cell).astype(np.intp), minlength=cells)
    up_to = np.concatenate([np.zeros(FINE + 1, dtype=np.intp), np.cumsum(of_second)])
    up_to = np.concatenate([up_to, np.full(FINE, up_to[-1])])
    near = up_to[2 * FINE + 1 :] - up_to[: -2 * FINE - 1]
    return int((of_first * near).sum())


def _apart(points: Plane) -> Real:
    """How far apart every two points are, those of the first with all later ones first."""
    from scipy.spatial.distance import pdist

    return np.asarray(pdist(np.column_stack([points.real, points.imag])))
