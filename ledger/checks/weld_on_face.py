"""
Plates that are welded to each other and bolted on one face of a third leave the root gap between them.

They lie in one plane there, so that their bolts say how far apart they are; only shifting them in their holes can set
the gap. It is told at the weld and at both bolted connections. Where the weld states a position, that one is judged.

Of a bent plate the flange that is bolted on counts: the gap is no more than its flat region leaves, and no less than
what may stand beyond it does. Where it is not clear which flange that is, only a gap that is too wide can be shown.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import product
from typing import Final

from ledger.cases.answers import DoesNotApply, NotChecked, NotRun
from ledger.cases.regions import material, moved
from ledger.cases.surroundings import SurroundedConnection
from ledger.cases.thirds import Spanning, across_welds, spanning
from ledger.checks._beside import in_one_plane, shift_mm, unknown_place, ways
from ledger.checks._cover import covered
from ledger.checks._frame import check
from ledger.domain.connection import Connection
from ledger.domain.finding import Finding
from ledger.domain.quantity import Bounds, show_mm
from ledger.fit.gap import smallest_gap

_FLAT_MM: Final = 0.05  # what flattened arcs of two parts may be off together


@check(
    on=SurroundedConnection,
    source="common practice: smallest distance of true edges, give or take what parts can be shifted in their holes",
    codes=("root_gap_held",),
    severity="stop",
)
def weld_on_face(seen: SurroundedConnection) -> Iterator[Finding | NotChecked]:
    """
    The welder can close the gap that the bolts leave.

    Lugs that are held 20 mm apart by their own bolts are not joined by any bead.
    """
    case = seen.case
    of_weld = case.connection.kind == "welded"
    spans = [(case, s) for s in spanning(seen)] if of_weld else list(across_welds(seen))
    kept = [
        (w.connection, w.connection.gap, s) for w, s in spans if _judgeable(w.connection) and in_one_plane(s)
    ]
    if not kept:
        raise DoesNotApply
    for connection, expected, span in kept:
        if expected is not None:
            yield from _judged(connection, expected, span)


def _judgeable(weld: Connection) -> bool:
    return weld.kind == "welded" and weld.gap is not None and weld.position is None


def _judged(weld: Connection, expected: Bounds, span: Spanning) -> Iterator[Finding | NotChecked]:
    third = span.through.part.number
    reason = unknown_place(span)
    if reason:
        yield NotChecked(f"the root gap of {weld.name} on {third}: {reason}")
        return
    gaps = list(_gaps(span, shift_mm(span)))
    if any(math.isnan(g) for gap in gaps for g in gap):
        raise NotRun("the root gap on the drawing is not a number: take the drawings again")
    if any(_reachable(expected, least, most) for least, most in gaps):
        if any(math.isinf(most) for _, most in gaps):
            yield NotChecked(
                f"the root gap of {weld.name} on {third}: which flange of a bent part is there is unclear"
            )
        return
    least, most = gaps[0]
    one, other = sorted((span.first.connection.name, span.second.connection.name))
    told = f"{show_mm(least)} to {show_mm(most)}" if math.isfinite(most) else f"at least {show_mm(least)}"
    yield Finding(
        "root_gap_held",
        f"the bolts of {one} and {other} hold the plates of {weld.name} {told} apart on {third}; expected {expected}",
        severity="stop",
        where=f"{weld.name}/on {third}",
        fix=f"bring the patterns on {third} together, or change the edges",
        measured=told,
        limit=expected.written,
    )


def _gaps(span: Spanning, shift: float) -> Iterator[tuple[float, float]]:
    """The least and the most of the gap for every way to bolt both on, the shown one first."""
    (first, second), (at, other_at) = (span.first, span.second), span.places
    if not any(m.plies[p].part.bend_lines for m, p in ((first, at), (second, other_at))):
        one, other = material(first.plies[at]), material(second.plies[other_at])
        for pose, other_pose in product(ways(first, at), ways(second, other_at)):
            gap = smallest_gap(moved(one, pose), moved(other, other_pose))
            yield max(0.0, gap.distance_mm - gap.error_mm - shift), gap.distance_mm + gap.error_mm + shift
        return
    for ours, theirs in product(covered(first, at), covered(second, other_at)):
        apart, sure = ours.may.distance(theirs.may), ours.sure.distance(theirs.sure)
        most = math.inf if ours.sure.is_empty or theirs.sure.is_empty else sure + _FLAT_MM + shift
        yield max(0.0, apart - _FLAT_MM - shift), most


def _reachable(expected: Bounds, least: float, most: float) -> bool:
    """Whether some gap between these is one that is required."""
    low = -math.inf if expected.least_mm is None else float(expected.least_mm)
    high = math.inf if expected.most_mm is None else float(expected.most_mm)
    return least <= high and most >= low
