"""
Plates with a straight side in common: where the first can lie so that the two sides are flush.

One side leaves a slide along it, two fix the place.
"""

from __future__ import annotations

import math
from typing import Final

from ledger.domain.connection import Sides
from ledger.domain.errors import BadInput
from ledger.domain.pose import Pose
from ledger.domain.position import quarter_turn
from ledger.domain.shape import Contour
from ledger.fit.case import WAYS_UP, TurnedOver
from ledger.fit.guide import Guide, Slide

FLAT_MM: Final = 1e-6
_NORMAL: Final = {"right": (1.0, 0.0), "top": (0.0, 1.0), "left": (-1.0, 0.0), "bottom": (0.0, -1.0)}


def flush(
    sides: Sides, a: Contour, b: Contour, way_up: TurnedOver, names: tuple[str, str]
) -> tuple[Pose | Guide, ...]:
    """The places of A on B with these sides flush. Raises BadInput for a side that is not straight."""
    for ring, which, name in ((a, 0, names[0]), (b, 1, names[1])):
        for pair in sides.pairs:
            _must_be_straight(ring, pair[which], name)
    places: list[Pose | Guide] = []
    for turned_over in WAYS_UP[way_up]:
        turns = {quarter_turn(x, y, turned_over=turned_over) for x, y in sides.pairs}
        if len(turns) > 1:
            continue
        angle = float(turns.pop())
        shifts = [_shift(x, y, a, b) for x, y in sides.pairs]
        pose = Pose(
            math.remainder(angle, 360.0), sum(s[0] for s in shifts), sum(s[1] for s in shifts), turned_over
        )
        x, y = _NORMAL[sides.pairs[0][1]]
        places.append(pose if len(shifts) > 1 else Slide(pose, (-y, x)))
    if not places:
        raise BadInput(
            f"these sides of {names[0]} and {names[1]} are flush only the other way up: change 'turned over'"
        )
    return tuple(places)


def _shift(side_a: str, side_b: str, a: Contour, b: Contour) -> tuple[float, float]:
    x, y = _NORMAL[side_b]
    by = _out(b, side_b) - _out(a, side_a)
    return x * by, y * by


def _out(ring: Contour, side: str) -> float:
    """How far the ring reaches out on that side."""
    low_x, low_y, high_x, high_y = ring.box
    return {"right": high_x, "top": high_y, "left": -low_x, "bottom": -low_y}[side]


def _must_be_straight(ring: Contour, side: str, name: str) -> None:
    x, y = _NORMAL[side]
    out = _out(ring, side)

    def lies(p: tuple[float, float]) -> bool:
        return abs(p[0] * x + p[1] * y - out) <= FLAT_MM

    if not any(bulge == 0 and lies(p) and lies(q) and p != q for p, q, bulge in ring.edges()):
        raise BadInput(f"the {side} side of {name} is not straight: it cannot be flush; enter a position")
