"""
The gap between two plates, as drawn and coated, is what the mate asks for.

*Beside*: between the outlines. *Passes*: between the first plate's outline and the opening that it goes
through. *Inside*: between the first plate's outline and the bore or the envelope that it stays in.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

from ledger.checks._case import MateCase
from ledger.checks._frame import DoesNotApply, NotRun, check
from ledger.checks._placing import (
    IN_ONE_PLANE,
    PLACES,
    bolted_through,
    edge_coats_mm,
    placed_regions,
    room_in_opening,
    room_inside,
)
from ledger.domain.finding import Finding
from ledger.domain.mated import WELDED
from ledger.domain.quantity import Bounds, show_mm
from ledger.fit.gap import Gap, smallest_gap


@check(
    on=MateCase,
    source="common practice: the smallest distance between true edges, each less its own coat",
    codes=("gap_small", "gap_large", "gap_in_play"),
    severity="stop",
    besides=("around",),
    not_checked="how far cut edges stray from the drawing, and play of parts that no third part holds",
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
    if case.mate.kind in WELDED:
        raise DoesNotApply
    if case.mate.kind not in IN_ONE_PLANE:
        raise NotRun(
            f"a gap in a {case.mate.kind} mate is not measured: declare it as a mate beside, passes or inside"
        )
    gap = _gap(case)
    room = round(gap.distance_mm - edge_coats_mm(case), PLACES)
    if not (math.isfinite(room) and math.isfinite(gap.error_mm)):
        raise NotRun("the gap on the drawing is not a number: take the drawings again")
    if wanted.allows(room - gap.error_mm) and wanted.allows(room + gap.error_mm):
        yield from _in_play(case, room - gap.error_mm)
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
    ).held_to(*_least_favourable(wanted, room, gap.error_mm, small=small))


def _in_play(case: MateCase, room: float) -> Iterator[Finding]:
    """The gap that is left when both parts move in their bolt holes towards each other."""
    wanted, bolts = case.mate.gap, bolted_through(case)
    if bolts is None or wanted is None or wanted.least_mm is None:
        return
    first, second = (p.part.number for p in case.plies)
    if not math.isfinite(bolts.play_mm):
        left, told = "nothing known", "turns freely on its bolts"
    else:
        rest = round(room - bolts.play_mm, PLACES)
        if wanted.least_mm <= rest:
            return
        left, told = show_mm(max(rest, 0.0)), f"can move by {show_mm(bolts.play_mm)} together"
    yield Finding(
        "gap_in_play",
        f"{first} and {second}, both bolted to {bolts.third}, {told} in their holes at worst: {left} is left of the "
        f"{show_mm(room)} drawn, wanted {wanted}",
        severity="warning",
        where=f"{case.mate.name}/play",
        remedy="draw more room, choose closer holes, or pin one of the parts",
        measured=left,
        limit=wanted.written,
    ).held_to(max(room - bolts.play_mm, 0.0), float(wanted.least_mm))


def _least_favourable(wanted: Bounds, room: float, error: float, *, small: bool) -> tuple[float, float]:
    """The room as it may be at worst, and the bound that it is beyond."""
    bound = wanted.least_mm if small else wanted.most_mm
    return room - error if small else room + error, float(bound) if bound is not None else math.nan


def _gap(case: MateCase) -> Gap:
    first, second = placed_regions(case)
    if case.mate.kind == "beside":
        return smallest_gap(first, second)
    if case.mate.kind == "inside":
        return room_inside(case, first.outline)[0]
    return room_in_opening(case, first.outline)
