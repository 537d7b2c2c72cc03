"""
How far a drawing departs from the mirror image of another, or from the other as it is.

Both are laid on the middle of their outline's area. The first one, mirrored where that is asked, is then turned so
that its feature farthest from that middle, a corner or a hole, meets a feature of the other: one of these turns is
right if the two are images of each other.

*Departure* is the greatest distance from a line of one drawing to the nearest of
the other, either way: of a hole from the one most like it in place and size, of an outline or opening from
point to line, with arcs flattened to a sagitta that the caller counts against the result.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Final

import numpy as np
import numpy.typing as npt

from ledger.domain.pose import Pose
from ledger.domain.shape import Contour, Point, Profile

SAGITTA_MM: Final = 0.002
_NEAR_MM: Final = 0.05  # features this much nearer or farther from the middle are still tried
_ROWS: Final = 512  # points compared at a time: bounds the memory

Real = npt.NDArray[np.float64]


def departure_mm(twin: Profile, part: Profile) -> float:
    """The least departure of the mirrored twin over all turns that could be right; inf where none could."""
    return min((apart_mm(twin, part, pose) for pose in poses(twin, part, flipped=True)), default=math.inf)


def apart_mm(twin: Profile, part: Profile, pose: Pose, near_mm: float = _NEAR_MM) -> float:
    """
    The departure at one pose. The holes come first: they are quick, and tell a wrong turn.

    Beyond `near_mm` of the holes it is theirs alone, which is no more than the whole.
    """
    ours, theirs = _cores(twin, pose), _cores(part, Pose())
    holes = max(_hole_apart(ours, theirs), _hole_apart(theirs, ours))
    if not holes <= near_mm:
        return holes
    one, other = [pose.place_contour(ring) for ring in _rings(twin)], _rings(part)
    return max(holes, _farthest(one, other), _farthest(other, one))


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
    a, b = holes[:, None, :], others[None, :, :]
    along = np.maximum(_gap(a[..., 0:2], b[..., 0:2]), _gap(a[..., 2:4], b[..., 2:4]))
    against = np.maximum(_gap(a[..., 0:2], b[..., 2:4]), _gap(a[..., 2:4], b[..., 0:2]))
    apart = np.minimum(along, against) + np.abs(a[..., 4] - b[..., 4])
    return float(apart.min(axis=1).max())


def _gap(p: Real, q: Real) -> Real:
    return np.asarray(np.sqrt(((p - q) ** 2).sum(axis=-1)))


def poses(twin: Profile, part: Profile, *, flipped: bool, near_mm: float = _NEAR_MM) -> Iterator[Pose]:
    """Turns of the twin, flipped or not, that bring its middle and one far feature onto the part's."""
    middle, goal = middle_of(twin), middle_of(part)
    sign = 1.0 if flipped else -1.0
    for anchors, targets in ((_corners(twin), _corners(part)), (_centres(twin), _centres(part))):
        if not anchors:
            continue
        anchor = max(anchors, key=lambda p: math.dist(p, middle))
        reach = math.dist(anchor, middle)
        turns = {
            round(_bearing(t, goal) + sign * _bearing(anchor, middle), 12)
            for t in targets
            if abs(math.dist(t, goal) - reach) <= near_mm
        }
        for turn in sorted(turns):
            x, y = Pose(math.degrees(turn), flipped=flipped).place(middle)
            yield Pose(math.degrees(turn), goal[0] - x, goal[1] - y, flipped=flipped)


def _bearing(p: Point, middle: Point) -> float:
    return math.atan2(p[1] - middle[1], p[0] - middle[0])


def _corners(profile: Profile) -> list[Point]:
    return [(x, y) for x, y, _ in profile.outline.vertices] if profile.outline else []


def _centres(profile: Profile) -> list[Point]:
    return [p for h in profile.holes for p in h.core]


def middle_of(profile: Profile) -> Point:
    """Middle of the outline's area."""
    ring = np.array(profile.outline.flattened(SAGITTA_MM) if profile.outline else [(0.0, 0.0)])
    origin = ring.mean(axis=0)
    here, there = ring - origin, np.roll(ring, -1, axis=0) - origin
    cross = here[:, 0] * there[:, 1] - here[:, 1] * there[:, 0]
    if not cross.sum():
        return (float(origin[0]), float(origin[1]))
    middle = origin + ((here + there) * cross[:, None]).sum(axis=0) / (3 * cross.sum())
    return (float(middle[0]), float(middle[1]))


def _rings(profile: Profile) -> list[Contour]:
    outline = (profile.outline,) if profile.outline else ()
    return [*outline, *profile.openings]


def _farthest(points_of: list[Contour], lines_of: list[Contour]) -> float:
    """The greatest distance from a point of the first rings to the nearest line of the second."""
    points = np.concatenate([np.array(ring.flattened(SAGITTA_MM)) for ring in points_of])
    rings = [np.array(ring.flattened(SAGITTA_MM)) for ring in lines_of]
    start = np.concatenate(rings)
    along = np.concatenate([np.roll(ring, -1, axis=0) for ring in rings]) - start
    parts = [points[k : k + _ROWS] for k in range(0, len(points), _ROWS)]
    return max(float(_nearest(part, start, along).max()) for part in parts)


def _nearest(points: Real, start: Real, along: Real) -> Real:
    """From every point to the nearest of the segments."""
    square = (along**2).sum(axis=1)
    offset = points[:, None, :] - start[None, :, :]
    share = np.clip((offset * along).sum(axis=2) / np.where(square > 0, square, 1.0), 0, 1)
    gap = offset - share[:, :, None] * along
    return np.asarray(np.sqrt((gap**2).sum(axis=2)).min(axis=1))
