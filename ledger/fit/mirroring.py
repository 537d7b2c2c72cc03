"""
How far a drawing departs from the mirror image of another, or from the other as it is.

Both are laid on the middle of their outline's area. The first one, mirrored where that is asked, is then turned so
that its feature farthest from that middle meets a feature of the other: of the outline, of the holes, of the openings.
One of these turns is right if the two are images of each other.

*Departure* is the greatest distance from a place on a line of one drawing to the nearest line of the other, either way,
and of a hole from the one most like it in place and size. Where the areas differ by more than lines so near allow, it
is what the areas ask for. Arcs are flattened to a sagitta that the caller counts against the result.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Final

import numpy as np
import numpy.typing as npt

from ledger.domain.pose import Pose
from ledger.domain.shape import Contour, Point, Profile
from ledger.fit.features import features
from ledger.fit.features import middle_of as middle_of_ring
from ledger.fit.lines import lines_apart_mm, lines_of

SAGITTA_MM: Final = 0.002
_PAIRS_AT_ONCE: Final = 50_000  # so many distances stay in a processor's cache
_NEAR_MM: Final = 0.05  # features this much nearer or farther from the middle are still tried

Real = npt.NDArray[np.float64]


def departure_mm(twin: Profile, part: Profile) -> float:
    """The least departure of the mirrored twin over all turns that could be right; inf where none could."""
    best = math.inf
    for pose in poses(twin, part, turned_over=True):
        best = min(best, apart_mm(twin, part, pose, most_mm=best))
        if best <= SAGITTA_MM:
            break
    return best


def apart_mm(
    twin: Profile, part: Profile, pose: Pose, near_mm: float = _NEAR_MM, most_mm: float = math.inf
) -> float:
    """
    The departure at one pose. The holes come first: they are quick, and tell a wrong turn.

    Beyond `near_mm` of the holes it is theirs alone, which is no more than the whole. Above `most_mm` it is only
    known to be above.
    """
    ours, theirs = _cores(twin, pose), _cores(part, Pose())
    holes = max(_hole_apart(ours, theirs), _hole_apart(theirs, ours))
    if not holes <= min(near_mm, most_mm):
        return holes
    rings, others = _rings(twin), _rings(part)
    if not rings or not others:
        return holes if not rings and not others else math.inf
    flat = lines_of(rings, SAGITTA_MM), lines_of(others, SAGITTA_MM)
    lines = lines_apart_mm(*flat, pose, enough_mm=SAGITTA_MM, most_mm=most_mm)
    return max(holes, lines, _areas_apart(twin, part))


def _areas_apart(one: Profile, other: Profile) -> float:
    """
    How far apart lines lie at least, between which the areas of the outlines, or of the openings, differ so much.

    A region that lies within r of another has at most its area, r times its length and pi r^2 (Steiner).
    """
    outlines = [[p.outline] if p.outline else [] for p in (one, other)]
    least = 0.0
    for ours, theirs in (outlines, (one.openings, other.openings)):
        more = abs(sum(abs(c.area_mm2) for c in ours) - sum(abs(c.area_mm2) for c in theirs))
        length = max(sum(c.length_mm for c in ours), sum(c.length_mm for c in theirs))
        least = max(least, (math.sqrt(length * length + 4 * math.pi * more) - length) / (2 * math.pi))
    return least


def _cores(profile: Profile, pose: Pose) -> Real:
    """A row for each hole: both ends of its core (twice the centre of a round one) and its radius."""
    rows = [(*pose.place(h.core[0]), *pose.place(h.core[-1]), h.diameter_mm / 2) for h in profile.holes]
    return np.array(rows, dtype=float).reshape(-1, 5)


def _hole_apart(holes: Real, others: Real) -> float:
    """The greatest distance from a hole's rim to that of the hole most like it; inf where there is none."""
    if not len(holes):
        return 0.0
    if not len(others):
        return math.inf
    rows = max(1, _PAIRS_AT_ONCE // len(others))
    return float(np.max([_least_like(holes[k : k + rows], others) for k in range(0, len(holes), rows)]))


def _least_like(holes: Real, others: Real) -> float:
    a, b = holes[:, None, :], others[None, :, :]
    ends = _gap(a[..., 0:2], b[..., 0:2])
    if not (_all_round(holes) and _all_round(others)):
        along = np.maximum(ends, _gap(a[..., 2:4], b[..., 2:4]))
        against = np.maximum(_gap(a[..., 0:2], b[..., 2:4]), _gap(a[..., 2:4], b[..., 0:2]))
        ends = np.minimum(along, against)
    apart = ends + np.abs(a[..., 4] - b[..., 4])
    return float(apart.min(axis=1).max())


def _all_round(holes: Real) -> bool:
    return bool((holes[:, 0:2] == holes[:, 2:4]).all())


def _gap(p: Real, q: Real) -> Real:
    x, y = p[..., 0] - q[..., 0], p[..., 1] - q[..., 1]
    return np.asarray(np.sqrt(x * x + y * y))


def poses(twin: Profile, part: Profile, *, turned_over: bool, near_mm: float = _NEAR_MM) -> Iterator[Pose]:
    """Turns of the twin, turned over or not, that bring its middle and one far feature onto the part's."""
    middle, goal = middle_of(twin), middle_of(part)
    sign = 1.0 if turned_over else -1.0
    tried = []
    for anchors, targets in zip(features(twin, middle), features(part, goal), strict=True):
        if not anchors:
            continue
        anchor = max(anchors, key=lambda p: math.dist(p, middle))
        reach = math.dist(anchor, middle)
        tried.append(
            {
                round(_bearing(t, goal) + sign * _bearing(anchor, middle), 12)
                for t in targets
                if abs(math.dist(t, goal) - reach) <= near_mm
            }
        )
    for turns in sorted(tried, key=len) or [{0.0}]:  # nothing tells a turn: all are alike
        for turn in sorted(turns):
            x, y = Pose(math.degrees(turn), turned_over=turned_over).place(middle)
            yield Pose(math.degrees(turn), goal[0] - x, goal[1] - y, turned_over=turned_over)


def _bearing(p: Point, middle: Point) -> float:
    return math.atan2(p[1] - middle[1], p[0] - middle[0])


def middle_of(profile: Profile) -> Point:
    """Middle of the outline's area."""
    return middle_of_ring(profile.outline, SAGITTA_MM) if profile.outline else (0.0, 0.0)


def _rings(profile: Profile) -> tuple[Contour, ...]:
    return (*((profile.outline,) if profile.outline else ()), *profile.openings)
