"""
Hole pairs as numbers to compute with: centred, scaled, the plane as complex numbers.

Pair i has the core middles a_i, b_i and the take up c_i. A *slot's* core is its middle plus and minus a half
vector (0 for a round hole). The *reach* scales everything to about 1, so that a millimetre pattern and a hundred
metre one are solved alike. With w = exp(i angle) the pair's *offset* e_i is the distance between the cores
w (a_i + t ha_i) + s and b_i + r hb_i, with t and r in [-1, 1] as near as they go: convex in the shift s.
"""

from __future__ import annotations

import cmath
import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from ledger.domain.pose import Pose
from ledger.domain.shape import Point
from ledger.fit.joint import Real

Plane = npt.NDArray[np.complex128]
Core = tuple[Point, ...]

ROUND_TOLERANCE_MM: Final = 1e-9
SLOT_TOLERANCE_MM: Final = 1e-6
ROUNDING: Final = 4e-14  # of the reach: what double precision leaves
SLOT_ROUNDING: Final = 2e-10


@dataclass(frozen=True, slots=True)
class Layout:
    """Hole pairs, scaled by `reach_mm` about the two middles; A is already turned over where `turned_over` says so."""

    a: Plane
    b: Plane
    ha: Plane
    hb: Plane
    c: Real
    reach_mm: float
    middle_a: complex
    middle_b: complex
    turned_over: bool
    slotted: bool

    @property
    def tolerance(self) -> float:
        """How near the bound must come to the margin, in scaled units."""
        if self.slotted:
            return max(SLOT_TOLERANCE_MM / self.reach_mm, SLOT_ROUNDING)
        return max(ROUND_TOLERANCE_MM / self.reach_mm, ROUNDING)

    def only(self, keep: Sequence[int]) -> Layout:
        """The same layout with some of its pairs."""
        k = list(keep)
        return Layout(
            self.a[k], self.b[k], self.ha[k], self.hb[k], self.c[k],
            self.reach_mm, self.middle_a, self.middle_b, self.turned_over, self.slotted,
        )  # fmt: skip

    def pose(self, angle: float, shift: complex) -> Pose:
        """The pose in mm of a scaled angle and shift."""
        turned = cmath.rect(1, angle)
        move = self.middle_b - turned * self.middle_a + self.reach_mm * shift
        degrees = math.degrees(math.remainder(angle, 2 * math.pi))
        return Pose(180.0 if degrees == -180.0 else degrees, move.real, move.imag, self.turned_over)  # noqa: PLR2004


def lay_out(cores_a: Sequence[Core], cores_b: Sequence[Core], take_up: Real, *, turned_over: bool) -> Layout:
    """Cores in mm, one pair to an index, as a layout."""
    return lay_out_planes(as_plane(cores_a), as_plane(cores_b), take_up, turned_over=turned_over)


Side = tuple[Plane, Plane]  # middles and half vectors of one side's cores


def lay_out_planes(side_a: Side, side_b: Side, take_up: Real, *, turned_over: bool) -> Layout:
    """Middles and half vectors in mm, one pair to an index, as a layout."""
    return _laid_out(
        _turned_over(side_a, over=turned_over), side_b, np.asarray(take_up, dtype=float), [turned_over]
    )[0]


def lay_out_many(several: Sequence[tuple[Side, Side, Real, bool]]) -> list[Layout]:
    """As lay_out_planes, many (A, B, take up, turned over) at once: those with equally many pairs side by side."""
    sizes: dict[int, list[int]] = {}
    for k, (_, _, take_up, _) in enumerate(several):
        sizes.setdefault(len(take_up), []).append(k)
    found: dict[int, Layout] = {}
    for same in sizes.values():
        rows = [
            (_turned_over(a, over=over), b, take_up) for a, b, take_up, over in (several[k] for k in same)
        ]
        a, ha, b, hb = (np.array([row[side][what] for row in rows]) for side in (0, 1) for what in (0, 1))
        takes_up, ways_up = np.array([row[2] for row in rows]), [several[k][3] for k in same]
        found.update(zip(same, _laid_out((a, ha), (b, hb), takes_up, ways_up), strict=True))
    return [found[k] for k in range(len(several))]


def _turned_over(side: Side, *, over: bool) -> Side:
    return (side[0].conj(), side[1].conj()) if over else side


def _laid_out(side_a: Side, side_b: Side, take_up: Real, turned_over: Sequence[bool]) -> list[Layout]:
    """A layout for each row, or the only one; A is already turned over."""
    (a, ha), (b, hb) = side_a, side_b
    n = a.shape[-1]
    middle_a, middle_b = a.sum(axis=-1, keepdims=True) / n, b.sum(axis=-1, keepdims=True) / n
    a, b = a - middle_a, b - middle_b
    slotted = ha.any(axis=-1) | hb.any(axis=-1)
    far_a, far_b = np.abs(a), np.abs(b)
    if slotted.any():
        far_a, far_b = far_a + np.abs(ha), far_b + np.abs(hb)
    far = np.maximum(np.maximum(far_a, far_b), np.abs(take_up))
    reach = far.max(axis=-1, keepdims=True)
    reach = np.where(reach > 0, reach, 1.0)
    whole = (a / reach, b / reach, ha / reach, hb / reach, take_up / reach)
    rows = zip(*whole, strict=True) if a.ndim > 1 else [whole]
    told = zip(*(x.ravel().tolist() for x in (reach, middle_a, middle_b, slotted)), strict=True)
    return [
        Layout(*row, far, home_a, home_b, over, slots)
        for row, (far, home_a, home_b, slots), over in zip(rows, told, turned_over, strict=True)
    ]


def as_plane(cores: Sequence[Core]) -> tuple[Plane, Plane]:
    """Middles and half vectors of cores."""
    first = np.array([core[0] for core in cores], dtype=float).view(complex)[:, 0]
    if all(len(core) == 1 for core in cores):
        return first, np.zeros_like(first)
    last = np.array([core[-1] for core in cores], dtype=float).view(complex)[:, 0]
    return (first + last) / 2, (last - first) / 2


@dataclass(frozen=True, slots=True)
class Gaps:
    """
    From core to core at a pose: `gap` is the vector from B's nearest point to A's, its length the offset.

    `t` places the nearest point on A's core. `corner` tells whether a small shift keeps both nearest points.
    """

    gap: Plane
    t: Real
    corner: npt.NDArray[np.bool_]


def gaps(layout: Layout, angle: float, shift: complex) -> Gaps:
    """The gaps of all pairs at a pose in scaled units."""
    turned = cmath.rect(1, angle)
    v = turned * layout.a - layout.b + shift
    if not layout.slotted:
        return Gaps(v, np.zeros(len(v)), np.ones(len(v), dtype=bool))
    return _nearest(v, turned * layout.ha, layout.hb)


def between(v: Plane, ga: Plane, gb: Plane) -> Plane:
    """The vectors between cores: middles apart by v, half vectors ga and gb."""
    return _nearest(v, ga, gb).gap


def _nearest(v: Plane, ga: Plane, gb: Plane) -> Gaps:
    """Least |v + t ga - r gb| over the square |t|, |r| <= 1: of two slots as below, else on one line."""
    both = np.flatnonzero((ga != 0) & (gb != 0))
    if len(both) == len(v):
        return _of_two_slots(v, ga, gb)
    along = ga - gb
    t = np.clip(-_along(v, along), -1, 1)
    gap, corner = v + t * along, (np.abs(t) == 1) | (along == 0)
    if len(both):
        of = _of_two_slots(v[both], ga[both], gb[both])
        gap[both], t[both], corner[both] = of.gap, of.t, of.corner
    return Gaps(gap, t, corner)


def _of_two_slots(v: Plane, ga: Plane, gb: Plane) -> Gaps:
    """Inside the square where the cores cross, else on one of its edges."""
    ends = np.array([v + ga, v - ga, v - gb, v + gb])  # of A's core, then of B's
    ways = np.array([-gb, -gb, ga, ga])
    free = np.clip(-_along(ends, ways), -1, 1)
    edges = ends + free * ways
    nearest, rows = np.abs(edges).argmin(axis=0), np.arange(len(v))
    best, at = edges[nearest, rows], free[nearest, rows]
    corner = np.abs(at) == 1
    at = np.where(nearest < 2, 1.0 - 2 * nearest, at)  # noqa: PLR2004 - the first two are ends of A's core
    cross = ga.real * gb.imag - ga.imag * gb.real
    lean = np.abs(cross) > 1e-12 * np.abs(ga) * np.abs(gb)
    safe = np.where(lean, cross, 1.0)
    t = -(v.real * gb.imag - v.imag * gb.real) / safe
    r = -(v.real * ga.imag - v.imag * ga.real) / safe
    inside = lean & (np.abs(t) <= 1) & (np.abs(r) <= 1)
    return Gaps(np.where(inside, 0, best), np.where(inside, t, at), corner & ~inside)


def _along(v: Plane, g: Plane) -> Real:
    """The multiple of g nearest to v; 0 where g is 0."""
    square = np.abs(g) ** 2
    return np.asarray((v * g.conj()).real / np.where(square > 0, square, 1.0))


def offset_mm(pose: Pose, core_a: Core, core_b: Core) -> tuple[float, Point]:
    """True distance between two cores at a pose, and the move in B's directions that takes A's onto B's."""
    placed = [complex(*pose.place(p)) for p in core_a]
    other = [complex(*p) for p in core_b]
    if len(placed) == len(other) == 1:
        move = other[0] - placed[0]
        return abs(move), (move.real, move.imag)
    a, ha = _halved(placed)
    b, hb = _halved(other)
    gap = complex(_nearest(a - b, ha, hb).gap[0])
    return abs(gap), (-gap.real, -gap.imag)


def _halved(ends: list[complex]) -> tuple[Plane, Plane]:
    """Middle and half vector of one core."""
    return (
        np.array([(ends[0] + ends[-1]) / 2], dtype=np.complex128),
        np.array([(ends[-1] - ends[0]) / 2], dtype=np.complex128),
    )
