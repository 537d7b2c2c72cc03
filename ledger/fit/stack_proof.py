"""
Why no pose of a stack leaves more room: certificates, and boxes of angles that they cover.

A *certificate* gives every bolt in every ply a weight L >= 0 (sum 1) and a vector |g| <= L, such that the vectors of
one bolt add to 0 over the plies and those of one ply add to 0 over the bolts. Axes and shifts cancel in it, so that
at ALL angles the half margin is at most
    sum L room + sum over plies of Re(w z) + sum over slots of |Re(conj(g) w h)|,   w = exp(i angle of the ply):
one sinusoid for each ply, whose greatest value over an interval of angles is known in closed form. The vectors may as
well turn with any one ply, its *frame*: then w is the angle against that ply, whose own sinusoid and slots are
constants. Which frame makes the others peak at the pose, and slots count least, differs from stack to stack.
A *box* is an interval of angles for every ply but the first. A margin is proven when boxes, split where need be, cover
every angle at which it could be exceeded, and in each some certificate is no higher than the margin. Two plies that
share two bolts can only turn against each other as far as these let them (`stack_turns`); the boxes begin there.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from ledger.fit.joint import Real
from ledger.fit.layout import Plane
from ledger.fit.stack_layout import StackLayout
from ledger.fit.stack_turns import first_box

MOST_BOXES: Final = 20_000
UNSOUND: Final = 1e-9


@dataclass(frozen=True, slots=True)
class StackCertificate:
    """Weights and vectors, plies x bolts; the vectors turn with the ply that is the frame."""

    weights: Real
    vectors: Plane
    frame: int = 0


@dataclass(frozen=True, slots=True)
class Bound:
    """
    A certificate as a function of the angles: `level` + sum Re(w z[k]) + sum |Re(w s)| for the slots of each ply.

    The angles are those against the `frame`, which has no wave and no slots of its own.
    """

    level: float
    waves: Plane
    slots: tuple[tuple[complex, ...], ...]
    frame: int

    def most(self, low: Real, high: Real) -> float:
        """The greatest value over a box; slots are bounded one by one."""
        return Bounds.of([self]).least(low, high)


def bound_of(layout: StackLayout, certificate: StackCertificate, least_mm: float) -> Bound:
    """
    The bound of a certificate, worked out from it and the layout alone. Raises ValueError where it is not sound.

    What rounding leaves of the sums that should be 0 is charged by how far an axis or a shift can be at a pose with
    a half margin of `least_mm` or more.
    """
    weights, vectors = certificate.weights, certificate.vectors
    used = np.where(layout.there, weights, 0)
    finite = bool(np.isfinite(weights).all() and np.isfinite(vectors).all())
    if not finite or weights.min() < 0 or abs(float(used.sum()) - 1) > UNSOUND or np.any(used != weights):
        raise ValueError("unsound certificate")
    over = np.maximum(np.abs(vectors) - weights, 0).max()
    per_bolt, per_ply = np.abs(vectors.sum(axis=0)).sum(), np.abs(vectors.sum(axis=1)).sum()
    if max(over, per_bolt, per_ply) > UNSOUND:
        raise ValueError("unsound certificate")
    rooms = np.where(layout.there, layout.rooms, 0)
    span = 4 * layout.reach_mm + 2 * float(np.abs(rooms).max()) + 2 * abs(least_mm)
    level = float((weights * rooms).sum()) + (per_bolt + per_ply + over * weights.size) * span
    waves = (vectors.conj() * layout.middles).sum(axis=1)
    swings = vectors.conj() * layout.halves
    level += float(waves[certificate.frame].real) + float(np.abs(swings[certificate.frame].real).sum())
    waves[certificate.frame] = swings[certificate.frame] = 0
    slots = tuple(tuple(complex(s) for s in row if s != 0) for row in swings)
    return Bound(level, waves, slots, certificate.frame)


@dataclass(frozen=True, slots=True)
class Bounds:
    """Many bounds, to be asked together."""

    levels: Real
    sizes: Real
    phases: Real
    slots: Plane  # bounds x plies x slots, 0 where there is none
    frames: npt.NDArray[np.intp]

    @staticmethod
    def of(bounds: Sequence[Bound]) -> Bounds:
        waves = np.array([b.waves for b in bounds])
        most = max(len(row) for b in bounds for row in b.slots)
        slots = np.array([[(*row, *[0j] * (most - len(row))) for row in b.slots] for b in bounds])
        return Bounds(
            np.array([b.level for b in bounds]), np.abs(waves), -np.angle(waves),
            slots.reshape(*waves.shape, most), np.array([b.frame for b in bounds]),
        )  # fmt: skip

    def least(self, low: Real, high: Real) -> float:
        """The least of all bounds over a box."""
        first, last = np.concatenate([[0.0], low]), np.concatenate([[0.0], high])
        begin = first - last[self.frames][:, None]  # of the angles against each frame
        wide = last - first[self.frames][:, None] - begin
        peak = self.phases - begin  # where each wave is highest, from the low end
        ends = np.maximum(np.cos(peak), np.cos(peak - wide))
        values = self.levels + (self.sizes * np.where(np.mod(peak, 2 * math.pi) <= wide, 1.0, ends)).sum(
            axis=1
        )
        if self.slots.size:
            values += self._swings(begin[..., None], wide[..., None])
        return float(values.min())

    def _swings(self, begin: Real, wide: Real) -> Real:
        """What the slots add at most: each by itself, whichever way it lies."""
        peak = -np.angle(self.slots) - begin
        ends = np.maximum(np.abs(np.cos(peak)), np.abs(np.cos(peak - wide)))
        inside = np.mod(peak, math.pi) <= wide
        return np.asarray((np.abs(self.slots) * np.where(inside, 1.0, ends)).sum(axis=(1, 2)))


def proves_stack(
    layout: StackLayout,
    certificates: Sequence[StackCertificate],
    *,
    half_margin_mm: float,
    tolerance_mm: float,
) -> bool:
    """Whether the certificates show that no pose has a half margin above half_margin + tolerance."""
    limit = half_margin_mm + tolerance_mm
    if not math.isfinite(limit) or not certificates:
        return False
    try:
        bounds = Bounds.of([bound_of(layout, c, half_margin_mm) for c in certificates])
    except ValueError:
        return False
    box = first_box(layout, limit)
    if box is None:
        return True
    boxes = [box]
    for _ in range(MOST_BOXES):
        if not boxes:
            return True
        low, high = boxes.pop()
        if bounds.least(low, high) > limit:
            if float((high - low).max()) < 1e-12:  # noqa: PLR2004 - no room left to split
                return False
            boxes += halves(low, high)
    return False


def halves(low: Real, high: Real) -> list[tuple[Real, Real]]:
    """A box split in the middle of its widest side."""
    side = int(np.argmax(high - low))
    middle = (low[side] + high[side]) / 2
    left, right = high.copy(), low.copy()
    left[side] = right[side] = middle
    return [(low, left), (right, high)]
