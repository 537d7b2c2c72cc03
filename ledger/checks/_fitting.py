"""
From a mate's records to the numbers that the fit wants: worst-case holes, tolerances, fasteners.

Coating counts: a finish of thickness f per face makes a hole smaller by 2 f in diameter. A process says how much
smaller a hole may come out and how far it may stray; a measured hole strays by its uncertainty.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, cast, get_args

from ledger.fit.joint import Joint
from ledger.fit.pattern import Fit, PatternCase, Ply, fit
from ledger.standards.fasteners import fastener
from ledger.standards.processes import process

if TYPE_CHECKING:
    from ledger.checks._case import MateCase, PlacedPly


def best_fit(case: MateCase) -> Fit | None:
    """The first ply fitted on the second, nominal and worst case; None where the mate has no bolts."""
    mate = case.mate
    if mate.kind != "bolted" or len(case.plies) != 2 or mate.joint not in get_args(Joint):  # noqa: PLR2004
        return None
    bolt = fastener(mate.fastener)
    first, second = case.plies
    return fit(
        PatternCase(
            a=_ply(first),
            b=_ply(second),
            fastener_mm=bolt.diameter_mm,
            largest_fastener_mm=bolt.largest_mm,
            joint=cast("Joint", mate.joint),
            flip=mate.flip,  # type: ignore[arg-type]  # validated by the act that declared it
            located=mate.located,
        )
    )


def _ply(placed: PlacedPly) -> Ply:
    part = placed.part
    coating = 2 * float(part.finish_thickness.mm) if part.finish_thickness else 0.0
    if part.form == "cut":
        made = process(part.process)
        return Ply(placed.holes, declared=bool(placed.ply.group), position_mm=made.position_mm, shrink_mm=made.hole_shrink_mm + coating)
    doubts = [float(m.uncertainty.mm) for m in part.measured_holes if m.uncertainty]
    return Ply(placed.holes, declared=bool(placed.ply.group), position_mm=2 * max(doubts, default=0.0), shrink_mm=0.0)
