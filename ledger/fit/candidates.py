"""
Which holes could take the fastener, and what every possible pair of them may take up.

For finding the pattern a declared hole that is too small is *laid out* as if opened to the fastener's size: its place
still counts. What it is *allowed* then is negative, by what its radius lacks.
"""

from __future__ import annotations

import cmath
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import chain
from typing import Final

import numpy as np
import numpy.typing as npt

from ledger.domain.joint import Side
from ledger.domain.pose import Pose
from ledger.domain.shape import Hole
from ledger.fit.case import Fastening, PatternCase, Ply
from ledger.fit.joint import (
    SAME_MM,
    TOUCH_MM,
    Real,
    bolt_hole_range_mm,
    charge_mm,
    clears,
    passage_mm,
    take_up_mm,
)
from ledger.fit.layout import Plane, as_plane, offset_mm

NEVER_MM: Final = -1e3  # what holes of two different fasteners take up: they are never a pair


@dataclass(frozen=True, slots=True)
class Table:
    """
    Candidates of both plies, with matrices A x B: `take_up` as laid out, `allowed` as drawn, `astray` for displaced.

    `charge` is what the worst case takes from each pair. `of_a` and `of_b` say which fastening a candidate belongs to.
    `planes` are core middles and half vectors of A, then of B.
    `small_a` and `small_b` are undeclared holes below the size of a candidate, with their fastening.
    """

    a: tuple[Hole, ...]
    b: tuple[Hole, ...]
    small_a: tuple[tuple[Hole, Fastening], ...]
    small_b: tuple[tuple[Hole, Fastening], ...]
    take_up: Real
    allowed: Real
    astray: Real
    charge: Real
    planes: tuple[tuple[Plane, Plane], tuple[Plane, Plane]]
    of_a: tuple[Fastening, ...]
    of_b: tuple[Fastening, ...]

    @property
    def declared(self) -> bool:
        """Whether every group is named."""
        return all(f.declared for f in (*self.of_a, *self.of_b))

    def middles(self) -> tuple[Plane, Plane, Real]:
        """Core middles of A and B, and the length that slots add to each pair's play."""
        (a, ha), (b, hb) = self.planes
        if not ha.any() and not hb.any():
            return a, b, np.broadcast_to(0.0, self.take_up.shape)
        return a, b, np.abs(ha)[:, None] + np.abs(hb)[None, :]

    def reach(self) -> tuple[Real, Real]:
        """What each pair takes up, and how far a displaced one may be, the play of slots included."""
        slots = self.middles()[2]
        if not slots.any():
            return self.take_up, self.astray
        return self.take_up + slots, self.astray + slots

    def offsets_mm(self, pose: Pose, among_a: list[int], among_b: list[int]) -> Real:
        """True core distances at a pose for some rows and columns; infinite where surely beyond astray."""
        a, b, slots = self.middles()
        placed = _placed(pose, a[among_a])
        apart = np.abs(placed[:, None] - b[among_b][None, :])
        grid = np.ix_(among_a, among_b)
        if slots.any():
            near = apart <= self.astray[grid] + slots[grid] + SAME_MM
            apart = np.where(near, apart, np.inf)
            for i, k in zip(*np.nonzero(near & (slots[grid] > 0)), strict=True):
                core_a, core_b = self.a[among_a[i]].core, self.b[among_b[k]].core
                apart[i, k] = offset_mm(pose, core_a, core_b)[0]
        return np.asarray(apart)

    def placed(self, pose: Pose) -> Plane:
        """Core middles of A in B's coordinates."""
        return _placed(pose, self.planes[0][0])

    def pairs_mm(self, pose: Pose, pairs: Sequence[tuple[int, int]]) -> Real:
        """True core distances of some pairs at a pose."""
        (a, ha), (b, hb) = self.planes
        i, k = np.array(pairs, dtype=np.intp).reshape(-1, 2).T
        apart = np.abs(_placed(pose, a[i]) - b[k])
        for at in np.flatnonzero((ha[i] != 0) | (hb[k] != 0)):
            apart[at] = offset_mm(pose, self.a[i[at]].core, self.b[k[at]].core)[0]
        return np.asarray(apart)


def _placed(pose: Pose, points: Plane) -> Plane:
    """Points of A in B's coordinates."""
    turn = cmath.rect(1, math.radians(pose.angle_deg))
    return turn * (points.conj() if pose.turned_over else points) + complex(pose.x_mm, pose.y_mm)


def tabulate(case: PatternCase) -> Table:
    """The candidates of a case and their matrices; between two fastenings nothing pairs."""
    parts = [_tabulated(fastening) for fastening in case.fastenings]
    if len(parts) == 1:
        return parts[0]

    def joined(of: Callable[[Table], Real], apart: float) -> Real:
        whole = np.full((sum(len(t.a) for t in parts), sum(len(t.b) for t in parts)), apart)
        i = k = 0
        for t in parts:
            whole[i : i + len(t.a), k : k + len(t.b)] = of(t)
            i, k = i + len(t.a), k + len(t.b)
        return whole

    return Table(
        a=tuple(chain.from_iterable(t.a for t in parts)),
        b=tuple(chain.from_iterable(t.b for t in parts)),
        small_a=tuple(chain.from_iterable(t.small_a for t in parts)),
        small_b=tuple(chain.from_iterable(t.small_b for t in parts)),
        take_up=joined(lambda t: t.take_up, NEVER_MM),
        allowed=joined(lambda t: t.allowed, NEVER_MM),
        astray=joined(lambda t: t.astray, NEVER_MM),
        charge=joined(lambda t: t.charge, 0.0),
        planes=(
            _plane(tuple(chain.from_iterable(t.a for t in parts))),
            _plane(tuple(chain.from_iterable(t.b for t in parts))),
        ),
        of_a=tuple(chain.from_iterable(t.of_a for t in parts)),
        of_b=tuple(chain.from_iterable(t.of_b for t in parts)),
    )


def _tabulated(case: Fastening) -> Table:
    a, small_a = _candidates(case.a, case, "a")
    b, small_b = _candidates(case.b, case, "b")
    d = case.fastener_mm
    (ra, of_a), (rb, of_b) = _radii(a), _radii(b)
    ra, rb = ra[:, None], rb[None, :]

    def every(of_sizes: Real) -> Real:
        """The number of each pair, from those of the sizes: where there is one of each, one number seen everywhere."""
        shape = len(of_a), len(of_b)
        return np.broadcast_to(of_sizes, shape) if of_sizes.size == 1 else of_sizes[np.ix_(of_a, of_b)]

    drawn = take_up_mm(case.joint, ra, rb, d)
    lacks = np.minimum(_lack(ra, d, clears=True), _lack(rb, d, clears=clears(case.joint, "b")))
    opened = take_up_mm(case.joint, np.maximum(ra, d / 2), np.maximum(rb, d / 2), d)
    return Table(
        a, b,
        tuple((h, case) for h in small_a), tuple((h, case) for h in small_b),
        take_up=every(opened),
        allowed=every(np.where(lacks < 0, np.minimum(drawn, lacks), drawn)),
        astray=every(opened + d),
        charge=np.broadcast_to(
            charge_mm(
                case.joint,
                shrink_mm=(case.a.shrink_mm, case.b.shrink_mm),
                position_mm=(case.a.position_mm, case.b.position_mm),
                thicker_mm=case.thicker_mm,
            ),
            (len(a), len(b)),
        ),
        planes=(_plane(a), _plane(b)),
        of_a=(case,) * len(a),
        of_b=(case,) * len(b),
    )  # fmt: skip


def allowed_mm(case: Fastening, a: Hole, b: Hole) -> float:
    """What one pair may take up, less than 0 where a hole is too small."""
    d, ra, rb = case.fastener_mm, a.diameter_mm / 2, b.diameter_mm / 2
    passages = [passage_mm(r, d) for r, side in ((ra, "a"), (rb, "b")) if clears(case.joint, side)]  # type: ignore[arg-type]  # both are sides
    lack = min(passages)
    drawn = take_up_mm(case.joint, ra, rb, d)
    return min(drawn, lack) if lack < -TOUCH_MM else drawn


def worst_passage_mm(case: Fastening, a: Hole, b: Hole) -> float:
    """The least room that a clearance hole of this pair has by itself in the worst case."""
    rooms = [
        passage_mm(
            (hole.diameter_mm - ply.shrink_mm) / 2, case.fastener_mm + case.thicker_mm, ply.position_mm
        )
        for hole, ply, side in ((a, case.a, "a"), (b, case.b, "b"))
        if clears(case.joint, side)  # type: ignore[arg-type]  # both are sides
    ]
    return min(rooms)


def _candidates(ply: Ply, case: Fastening, side: Side) -> tuple[tuple[Hole, ...], tuple[Hole, ...]]:
    """Holes that could take the fastener, and undeclared ones that are too small to."""
    if ply.declared:
        return ply.holes, ()
    sizes = bolt_hole_range_mm(case.joint, side, case.fastener_mm)
    if sizes is None:
        return (), ()
    low, high = sizes
    return (
        tuple(h for h in ply.holes if low <= h.diameter_mm <= high),
        tuple(h for h in ply.holes if h.diameter_mm < low),
    )


def _plane(holes: tuple[Hole, ...]) -> tuple[Plane, Plane]:
    return as_plane([h.core for h in holes]) if holes else (np.zeros(0, complex), np.zeros(0, complex))


def _radii(holes: tuple[Hole, ...]) -> tuple[Real, npt.NDArray[np.intp]]:
    """The different radii, and which of them each hole has."""
    return np.unique(np.array([h.diameter_mm / 2 for h in holes], dtype=float), return_inverse=True)


def _lack(radius: Real, fastener_mm: float, *, clears: bool) -> Real:
    """What a clearance hole's radius lacks, negative; 0 where it lacks nothing."""
    lack = np.where(radius - fastener_mm / 2 < -TOUCH_MM, radius - fastener_mm / 2, 0.0)
    return np.asarray(lack if clears else 0 * lack)
