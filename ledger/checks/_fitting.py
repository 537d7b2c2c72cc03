"""
From a mate's records to the numbers that the fit wants: worst-case holes, tolerances, fasteners.

Coating counts: a finish of thickness f per face makes a hole smaller by 2 f in diameter. A process says how
much smaller a hole may come out and how far it may stray; a measured hole strays by its uncertainty
(against its frame, where the mate states the place). Only
holes that the mate speaks of are read: a doubt about another one is not in the ply's face.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, cast, get_args

from ledger.fit.joint import Joint
from ledger.fit.pattern import Fit, Flip, PatternCase, Ply, fit
from ledger.standards.fasteners import fastener
from ledger.standards.processes import process

if TYPE_CHECKING:
    from ledger.checks._case import MateCase, PlacedPly

_BOTH = 2


def best_fit(case: MateCase) -> Fit | None:
    """The first ply fitted on the second, nominal and worst case; None but for two bolted plies."""
    mate = case.mate
    if mate.kind != "bolted" or len(case.plies) != _BOTH or mate.joint not in get_args(Joint):
        return None
    bolt = fastener(mate.fastener)
    first, second = case.plies
    return fit(
        PatternCase(
            a=_worst(first, framed=mate.located is not None),
            b=_worst(second, framed=mate.located is not None),
            fastener_mm=bolt.diameter_mm,
            largest_fastener_mm=bolt.largest_mm,
            joint=cast("Joint", mate.joint),
            flip=cast("Flip", mate.flip),
            located=mate.located,
        )
    )


def _worst(placed: PlacedPly, *, framed: bool) -> Ply:
    """A ply's holes with how far they may stray and how much smaller they may come out."""
    part = placed.part
    declared = bool(placed.ply.group)
    if part.form == "cut":
        made = process(part.process)
        shrink_mm = made.hole_shrink_mm + 2 * coat_mm(placed)
        return Ply(placed.holes, declared=declared, position_mm=made.position_mm, shrink_mm=shrink_mm)
    spoken_of = {h.label for h in placed.holes}
    doubts = [
        float(doubt.mm)
        for m in part.measured_holes
        for doubt in (m.uncertainty, m.framed if framed else None)
        if doubt and m.hole.label in spoken_of
    ]
    return Ply(placed.holes, declared=declared, position_mm=2 * max(doubts, default=0.0), shrink_mm=0.0)


def coat_mm(placed: PlacedPly) -> float:
    """The finish on one face of a part that is still to be coated; what was measured has its coat already."""
    part = placed.part
    return float(part.finish_thickness.mm) if part.finish_thickness and part.form == "cut" else 0.0
