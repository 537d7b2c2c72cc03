"""
The tabs of a connection's first ply in the slots of its second: those its group names, else all that are recognized.
"""

from __future__ import annotations

import math

from ledger.cases.answers import NoDrawing, NotRun
from ledger.cases.connections import ConnectionCase, PlacedPly
from ledger.cases.fitting import coat_mm
from ledger.fit.tabs import TabFit, seat_tabs, slots_of, tabs_of
from ledger.standards.cuts import hole_shrink

_BOTH = 2


def seated(case: ConnectionCase) -> TabFit | str:
    """The tabs in their slots, or what was not recognized. Raises NotRun."""
    if len(case.plies) != _BOTH:
        raise NotRun(f"{case.connection.name} has {len(case.plies)} plies: enter tabs and slots two by two")
    first, second = case.plies
    profile, other = first.part.profile, second.part.profile
    if profile is None or profile.outline is None:
        raise NoDrawing(f"{first.part.number} has no outline: take its drawing", first.part.number)
    if other is None:
        raise NoDrawing(f"{second.part.number} has no drawing: take it", second.part.number)
    tabs = tabs_of(profile.outline)
    slots = slots_of(() if second.ply.group else other.openings, second.holes)
    fit = seat_tabs(tabs, slots, thickness_mm(first))
    if fit is None:
        return f"no slot in {second.part.number}" if tabs else f"no tab of {first.part.number}"
    return fit


def thickness_mm(placed: PlacedPly) -> float:
    """The thickness of a ply's part. Raises NotRun where it is not known."""
    thickness = placed.part.thickness
    if thickness is None or not math.isfinite(thickness.mm) or not thickness.mm > 0:
        raise NotRun(f"the thickness of {placed.part.number} is not known: enter it")
    return float(thickness.mm)


def slot_loss_mm(placed: PlacedPly, size_mm: float) -> float:
    """How much smaller a slot of this width or length may come out than drawn, cut and coated."""
    coats = 0.0 if placed.part.masks.bare_edges else 2 * coat_mm(placed)
    thickness = placed.part.thickness
    thick_mm = float(thickness.mm) if thickness is not None and math.isfinite(thickness.mm) else None
    return hole_shrink(placed.part.process, thick_mm, size_mm).shrink_mm + coats
