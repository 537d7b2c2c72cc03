"""
Three or more plies on the same bolts, as numbers to compute with. All lengths in mm.

Every ply is centred on its own holes; ply 0 stays, the others turn and shift. A *bolt* has one *axis*, a point x,
and a *room* in every ply it goes through: r - d/2 (less what the worst case takes), infinite where the ply has no
hole for it. The *half margin* of a pose is the least, over bolts and plies, of room - distance from axis to core, each
axis where it leaves the most; the stack's margin is twice that, so that two equal plies give the margin of a pair.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from ledger.fit.joint import Real
from ledger.fit.layout import Core, Plane
from ledger.fit.shift import enclosing

NOWHERE: Final = np.inf


@dataclass(frozen=True, slots=True)
class StackLayout:
    """Middles and half vectors (plies x bolts, complex) about each ply's home, and the rooms."""

    middles: Plane
    halves: Plane
    rooms: Real
    homes: Plane

    @property
    def plies(self) -> int:
        return int(self.rooms.shape[0])

    @property
    def bolts(self) -> int:
        return int(self.rooms.shape[1])

    @property
    def there(self) -> Real:
        """Which bolt goes through which ply."""
        return np.asarray(np.isfinite(self.rooms))

    @property
    def reach_mm(self) -> float:
        """The farthest core point from any home; at least 1."""
        return max(1.0, float((np.abs(self.middles) + np.abs(self.halves)).max()))

    @property
    def cap_mm(self) -> float:
        """No pose leaves more than the smallest room."""
        return float(self.rooms.min())

    def cores(self, turns: Plane, shifts: Plane) -> tuple[Plane, Plane]:
        """Middles and half vectors of every core at a pose (unit complex turns, shifts in mm)."""
        return turns[:, None] * self.middles + shifts[:, None], turns[:, None] * self.halves


def lay_out_stack(cores: Sequence[Sequence[Core | None]], rooms: Sequence[Sequence[float]]) -> StackLayout:
    """Cores by ply and bolt, None where a bolt does not go through a ply; rooms likewise."""
    plies, bolts = len(cores), len(cores[0])
    middles, halves = np.zeros((plies, bolts), dtype=complex), np.zeros((plies, bolts), dtype=complex)
    room = np.array(rooms, dtype=float)
    homes = np.zeros(plies, dtype=complex)
    for k, row in enumerate(cores):
        known = [i for i, core in enumerate(row) if core is not None]
        for i, core in enumerate(row):
            if core is None:
                room[k, i] = NOWHERE
                continue
            first, last = complex(*core[0]), complex(*core[-1])
            middles[k, i], halves[k, i] = (first + last) / 2, (last - first) / 2
        homes[k] = middles[k, known].mean() if known else 0
        middles[k, known] -= homes[k]
    return StackLayout(middles, halves, room, homes)


def away(layout: StackLayout, turns: Plane, shifts: Plane, axes: Plane) -> Plane:
    """From the nearest point of every core to the bolt's axis; 0 where the bolt is not there."""
    middle, half = layout.cores(turns, shifts)
    gap = axes[None, :] - middle
    square = np.abs(half) ** 2
    along = (gap * half.conj()).real / np.where(square > 0, square, 1.0)
    gap = gap - np.clip(along, -1, 1) * half
    return np.asarray(np.where(layout.there, gap, 0))


def half_rooms(layout: StackLayout, turns: Plane, shifts: Plane, axes: Plane) -> Real:
    """What is left of every room at a pose with given axes."""
    return np.asarray(layout.rooms - np.abs(away(layout, turns, shifts, axes)))


def best_axes(layout: StackLayout, turns: Plane, shifts: Plane, near: Plane) -> Plane:
    """The axes with the most room at a pose, exact for round holes; `near` stays where a slot is concerned."""
    middle, half = layout.cores(turns, shifts)
    axes = near.copy()
    for i in range(layout.bolts):
        plies = np.flatnonzero(layout.there[:, i])
        if not np.any(half[plies, i] != 0):
            room = layout.rooms[plies, i]
            axes[i] = enclosing(middle[plies, i], room.max() - room)[0]
    return axes
