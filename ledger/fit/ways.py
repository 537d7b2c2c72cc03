"""
Ways to assemble two plates that look alike to the bolts but not to the eye.

Two ways are *the same* when the step from one to the other lays either plate on itself: a turned square on a turned
square is the same thing. A *wrong* way lays neither on itself, within `ALIKE_MM`. A *guard* is a hole whose move, in
both drawings, keeps the shown way and leaves no wrong one; it is tried by fitting the moved holes again.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from ledger.domain.pose import Pose
from ledger.domain.shape import Contour, Hole, Point
from ledger.fit.case import Fit, PatternCase, Way
from ledger.fit.joint import Real
from ledger.fit.pattern import fit

ALIKE_MM: Final = 1.0
SAGITTA_MM: Final = 0.2
STEP_MM: Final = 2.0
MOST_TRIED: Final = 8
MOST_HOLES: Final = 40
Rings = Sequence[Contour]


@dataclass(frozen=True, slots=True)
class Guard:
    """Moving hole `a` of A and its counterpart `b` of B, each in its own drawing, leaves only ways that look right."""

    a: str
    b: str
    move_a_mm: Point
    move_b_mm: Point


def wrong_ways(found: Fit, rings_a: Rings, rings_b: Rings) -> tuple[Way, ...]:
    """The ways in which neither plate comes to lie as it does in the shown one. Rings are outline and openings."""
    if found.verdict != "GO" or len(found.assemblies) < 2 or not rings_a:  # noqa: PLR2004 - another way
        return ()
    shown = found.assemblies[0].pose
    return tuple(
        w
        for w in found.assemblies[1:]
        if not _same(rings_a, shown, w.pose, of_a=True)
        and not (rings_b and _same(rings_b, shown, w.pose, of_a=False))
    )


def guard(case: PatternCase, found: Fit, rings_a: Rings, rings_b: Rings) -> Guard | None:
    """A hole to move so that the plates go together only as shown; None where moving one is no cure."""
    if found.pose is None or len(case.a.holes) > MOST_HOLES or len(case.b.holes) > MOST_HOLES:
        return None
    most = max((p.allowed_mm for p in found.pairs), default=0.0)
    step = math.ceil(2 * most + STEP_MM)
    for pair in found.pairs[:MOST_TRIED]:
        for way in ((1.0, 0.0), (0.0, 1.0)):
            move_a = (way[0] * step, way[1] * step)
            moved = found.pose.turn(move_a)
            again = fit(
                replace(
                    case,
                    a=replace(case.a, holes=_moved(case.a.holes, pair.a, move_a)),
                    b=replace(case.b, holes=_moved(case.b.holes, pair.b, moved)),
                )
            )
            if (
                again.verdict == "GO"
                and not wrong_ways(again, rings_a, rings_b)
                and len(again.pairs) == len(found.pairs)
            ):
                return Guard(pair.a, pair.b, move_a, (round(moved[0], 6) + 0.0, round(moved[1], 6) + 0.0))
    return None


def _moved(holes: tuple[Hole, ...], label: str, by: Point) -> tuple[Hole, ...]:
    return tuple(
        replace(h, core=tuple((x + by[0], y + by[1]) for x, y in h.core)) if h.label == label else h
        for h in holes
    )


def _same(rings: Rings, shown: Pose, other: Pose, *, of_a: bool) -> bool:
    """Whether the step between two ways lays these rings on themselves."""
    corners = [_dense(r) for r in rings]
    points = np.concatenate([*corners, *((c + np.roll(c, -1, axis=0)) / 2 for c in corners)])
    if of_a:
        moved = np.array([shown.bring(other.place((x, y))) for x, y in points])
    else:
        moved = np.array([shown.place(other.bring((x, y))) for x, y in points])
    return _farthest(moved, rings) <= ALIKE_MM


def _dense(ring: Contour) -> Real:
    return np.array(ring.flattened(SAGITTA_MM))


def _farthest(points: Real, rings: Rings) -> float:
    """The greatest distance from a point to the nearest line of the rings."""
    starts = [_dense(r) for r in rings]
    start = np.concatenate(starts)
    along = np.concatenate([np.roll(r, -1, axis=0) for r in starts]) - start
    return float(_distances(points, start, along).max())


def _distances(points: Real, start: Real, along: Real) -> Real:
    square = (along**2).sum(axis=1)
    least = np.full(len(points), math.inf)
    for s, d, q in zip(start, along, square, strict=True):
        share = np.clip(((points - s) @ d) / (q if q > 0 else 1.0), 0, 1)
        least = np.minimum(least, np.hypot(*(points - s - share[:, None] * d).T))
    return least
