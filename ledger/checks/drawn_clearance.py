"""
The gap between two plates, as drawn and coated, is what the mate asks for.

*Beside*: between the outlines. *Passes*: between the first plate's outline and the opening that it goes
through. *Inside*: between the first plate's outline and the envelope.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

from ledger.checks._case import MateCase
from ledger.checks._frame import DoesNotApply, NotRun, check
from ledger.checks._placing import IN_ONE_PLANE, PLACES, edge_coats_mm, placed_regions, room_in_opening
from ledger.domain.finding import Finding
from ledger.domain.quantity import show_mm
from ledger.fit.gap import Gap, clears, smallest_gap


@check(
    on=MateCase,
    source="common practice: the smallest distance between true edges, each less its own coat",
    codes=("gap_small", "gap_large"),
    severity="stop",
    not_checked="play of the parts in their holes, and how far cut edges stray from the drawing",
)
def drawn_clearance(case: MateCase) -> Iterator[Finding]:
    """
    The room that is wanted beside, around or inside a plate is there on the drawing.

    What is drawn too tight is tight everywhere; no measurement on the structure is needed to know it.
    """
    wanted = case.mate.gap
    if wanted is None:
        asks = case.mate.kind in IN_ONE_PLANE
        raise DoesNotApply("no gap was asked for on the drawing" if asks else "")
    if case.mate.kind == "welded":
        raise DoesNotApply
    if case.mate.kind not in IN_ONE_PLANE:
        raise NotRun(
            f"a gap in a {case.mate.kind} mate is not measured: declare it as a mate of its own kind"
        )
    gap = _gap(case)
    room = round(gap.distance_mm - edge_coats_mm(case), PLACES)
    if not (math.isfinite(room) and math.isfinite(gap.error_mm)):
        raise NotRun("the gap on the drawing is not a number: take the drawings again")
    if wanted.allows(room - gap.error_mm) and wanted.allows(room + gap.error_mm):
        return
    small = wanted.least_mm is not None and room - gap.error_mm < wanted.least_mm
    first, second = (p.part.number for p in case.plies)
    place = f"({gap.at_b[0]:.2f}, {gap.at_b[1]:.2f}) mm of {second}"
    yield Finding(
        "gap_small" if small else "gap_large",
        f"{show_mm(room)} between {first} and {second} at {place}, wanted {wanted}",
        severity="stop",
        where=f"{case.mate.name}/gap",
        remedy=f"change an edge there, or where {first} lies"
        if small
        else f"bring {first} nearer, or ask for less",
        measured=show_mm(room),
        limit=wanted.written,
    )


def _gap(case: MateCase) -> Gap:
    first, second = placed_regions(case)
    if case.mate.kind == "beside":
        return smallest_gap(first, second)
    if case.mate.kind == "inside":
        return clears(first.outline, second.outline)
    return room_in_opening(case, first.outline)
