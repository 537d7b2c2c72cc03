"""
What would fix a pattern that does not go together: larger holes, or a slot.

Each fix is tried: the holes are changed and the fit is made again, so that none is told that does not help.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Final

from ledger.domain.shape import Hole, Point
from ledger.fit.case import Fit, PatternCase, Ply, Wrong
from ledger.fit.joint import SAME_MM, clears
from ledger.fit.pattern import fit

MOST_SLOTS: Final = 4
MOST_HOLES: Final = 80


@dataclass(frozen=True, slots=True)
class LargerHoles:
    """Clearance holes of a class, drawn at `diameter_mm` where they are smaller, make it go by `margin_mm`."""

    named: str
    diameter_mm: float
    margin_mm: float
    worst_case_margin_mm: float


@dataclass(frozen=True, slots=True)
class Slots:
    """Slots for the wrong holes of one side ("a" or "b"): for each its label and full core, in that drawing."""

    side: str
    slots: tuple[tuple[str, tuple[Point, Point], float], ...]
    margin_mm: float


def larger_holes(case: PatternCase, found: Fit, classes: Mapping[str, float]) -> LargerHoles | None:
    """The smallest of these classes with which the patterns go together; None where none helps."""
    if found.code or not found.wrong or _many(case):
        return None
    for named, diameter in sorted(classes.items(), key=lambda x: x[1]):
        a = _opened(case.a, diameter)
        b = _opened(case.b, diameter) if clears(case.joint, "b") else case.b
        if (a, b) == (case.a, case.b):
            continue
        again = fit(replace(case, a=a, b=b))
        if again.verdict == "GO" and len(again.pairs) >= len(found.pairs) + len(found.wrong):
            return LargerHoles(named, diameter, again.margin_mm or 0.0, again.worst_case_margin_mm or 0.0)
    return None


def slots_that_save(case: PatternCase, found: Fit) -> Slots | None:
    """The wrong holes of A (else of B) drawn as slots along the way that they are out; None where that is no fix."""
    offsets = [w for w in found.wrong if w.kind == "offset"]
    if not offsets or len(offsets) != len(found.wrong) or len(offsets) > MOST_SLOTS or _many(case):
        return None
    for side in ("a", "b"):
        if not clears(case.joint, side):
            continue
        ply: Ply = getattr(case, side)
        drawn = {w.a if side == "a" else w.b: _slot(ply, side, w) for w in offsets}
        if any(s is None for s in drawn.values()):
            continue
        slotted = replace(ply, holes=tuple(drawn.get(h.label) or h for h in ply.holes))
        again = fit(replace(case, a=slotted) if side == "a" else replace(case, b=slotted))
        if again.verdict == "GO":
            made = tuple((s.label, (s.core[0], s.core[-1]), s.diameter_mm) for s in drawn.values() if s)
            return Slots(side, made, again.margin_mm or 0.0)
    return None


def _many(case: PatternCase) -> bool:
    return max(len(case.a.holes), len(case.b.holes)) > MOST_HOLES


def _opened(ply: Ply, diameter_mm: float) -> Ply:
    return replace(
        ply,
        holes=tuple(
            replace(h, diameter_mm=diameter_mm) if h.diameter_mm < diameter_mm - SAME_MM else h
            for h in ply.holes
        ),
    )


def _slot(ply: Ply, side: str, wrong: Wrong) -> Hole | None:
    """A round hole drawn out from where it is to where its counterpart is, to the half millimetre."""
    hole = next((h for h in ply.holes if h.label == (wrong.a if side == "a" else wrong.b)), None)
    if hole is None or hole.is_slot:
        return None
    x, y = wrong.move_a_mm if side == "a" else wrong.move_b_mm
    length = math.hypot(x, y)
    if length <= SAME_MM:
        return None
    longer = math.ceil(2 * length) / 2 / length
    end = (hole.centre[0] + x * longer, hole.centre[1] + y * longer)
    return replace(hole, core=(hole.centre, end), made_of="slot")
