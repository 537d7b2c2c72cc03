"""
Plates that are welded to each other and bolted on one face of a third leave the root gap between them.

They lie in one plane there, so that their bolts say how far apart they are; only shifting them in their holes can set
the gap. It is told at the weld and at both bolted mates. Where the weld states a position, that one is judged.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

from ledger.checks._beside import in_one_plane, laid, shift_mm, unknown_place
from ledger.checks._case import MateCase
from ledger.checks._frame import DoesNotApply, NotChecked, NotRun, check
from ledger.checks._thirds import Spanning, across_welds, spanning
from ledger.domain.finding import Finding
from ledger.domain.mated import Mate
from ledger.domain.quantity import Bounds, show_mm
from ledger.fit.gap import Gap, smallest_gap


@check(
    on=MateCase,
    source="common practice: smallest distance of true edges, give or take what parts can be shifted in their holes",
    codes=("root_gap_held",),
    severity="stop",
    besides=("around",),
)
def weld_on_face(case: MateCase) -> Iterator[Finding | NotChecked]:
    """
    The welder can close the gap that the bolts leave.

    Lugs that are held 20 mm apart by their own bolts are not joined by any bead.
    """
    of_weld = case.mate.kind == "welded"
    spans = [(case, s) for s in spanning(case)] if of_weld else list(across_welds(case))
    kept = [(w.mate, w.mate.gap, s) for w, s in spans if _judgeable(w.mate) and in_one_plane(s)]
    if not kept:
        raise DoesNotApply
    for mate, wanted, span in kept:
        if wanted is not None:
            yield from _judged(mate, wanted, span)


def _judgeable(weld: Mate) -> bool:
    return weld.kind == "welded" and weld.gap is not None and weld.located is None


def _judged(weld: Mate, wanted: Bounds, span: Spanning) -> Iterator[Finding | NotChecked]:
    third = span.through.part.number
    reason = unknown_place(span)
    if reason:
        yield NotChecked(f"the root gap of {weld.name} on {third}: {reason}")
        return
    shift = shift_mm(span)
    gaps = [_between(smallest_gap(one, other), shift) for one, other in laid(span)]
    if any(math.isnan(g) for gap in gaps for g in gap):
        raise NotRun("the root gap on the drawing is not a number: take the drawings again")
    if any(_reachable(wanted, least, most) for least, most in gaps):
        return
    least, most = gaps[0]
    one, other = sorted((span.first.mate.name, span.second.mate.name))
    told = f"{show_mm(least)} to {show_mm(most)}"
    yield Finding(
        "root_gap_held",
        f"the bolts of {one} and {other} hold the plates of {weld.name} {told} apart on {third}; wanted {wanted}",
        severity="stop",
        where=f"{weld.name}/on {third}",
        remedy=f"bring the patterns on {third} together, or change the edges",
        measured=told,
        limit=wanted.written,
    )


def _between(gap: Gap, shift: float) -> tuple[float, float]:
    return max(0.0, gap.distance_mm - gap.error_mm - shift), gap.distance_mm + gap.error_mm + shift


def _reachable(wanted: Bounds, least: float, most: float) -> bool:
    """Whether some gap between these is one that is wanted."""
    low = -math.inf if wanted.least_mm is None else float(wanted.least_mm)
    high = math.inf if wanted.most_mm is None else float(wanted.most_mm)
    return least <= high and most >= low
