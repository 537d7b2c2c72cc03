"""
Holes left over: those that could take the fastener and find no counterpart.

On one plate only they are told: a plate may have more holes than its connection uses. On both plates, where these lie
over each other, they are holes that were to meet and do not, unless they are entered as holes for something else
(`others` of a ply). Where an outline is known, a hole counts if the other plate covers any of it; without one, every
hole counts.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Final

import shapely

from ledger.domain.errors import BadInput
from ledger.domain.pose import Pose
from ledger.domain.shape import Contour, Hole, Point
from ledger.fit.case import PatternCase
from ledger.fit.overlap import flat_ring

SAGITTA_MM: Final = 0.01
Labels = tuple[str, ...]


def left_over(
    case: PatternCase, pose: Pose, left_a: Sequence[Hole], left_b: Sequence[Hole]
) -> tuple[Labels, Labels]:
    """Labels of the holes of A and of B that are left over on both plates at a pose; none where only on one."""
    others_a = frozenset[str]().union(*(f.a.others for f in case.fastenings))
    others_b = frozenset[str]().union(*(f.b.others for f in case.fastenings))
    some_a = [h for h in left_a if h.label not in others_a]
    some_b = [h for h in left_b if h.label not in others_b]
    if not some_a or not some_b:
        return (), ()
    on_b = tuple(h.label for h in _covered(some_a, pose.place, case.b.outline))
    on_a = tuple(h.label for h in _covered(some_b, pose.bring, case.a.outline))
    return (on_b, on_a) if on_a and on_b else ((), ())


def _covered(holes: list[Hole], placed: Callable[[Point], Point], outline: Contour | None) -> list[Hole]:
    """The holes that the other plate covers at least in part; all of them where its outline is not known."""
    try:
        plate = flat_ring(outline, SAGITTA_MM) if outline is not None else None
    except BadInput:  # an outline in doubt excuses no hole
        plate = None
    if plate is None:
        return holes
    return [
        h
        for h in holes
        if shapely.MultiPoint([placed(p) for p in h.core]).convex_hull.distance(plate)
        <= h.diameter_mm / 2 + SAGITTA_MM
    ]
