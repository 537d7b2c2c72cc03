"""
Holes on both sides of a weld stray as the weldment does, unless they are jigged or drilled afterwards.

Two plates are welded together and both are bolted to a third. Each bolt pattern fits by itself; how far the two
patterns are apart is a size of the weldment, and takes its tolerance: that of its class for the farthest two holes.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Final

from ledger.checks._case import MateCase, PlacedPly
from ledger.checks._frame import DoesNotApply, NotChecked, check
from ledger.checks._thirds import Spanning, spanning
from ledger.domain.finding import Finding
from ledger.domain.quantity import show_mm
from ledger.standards.weldments import weldment_deviation_mm

COMMON_CLASS: Final = "B"
_WELDED: Final = ("welded", "tab and slot")


@check(
    on=MateCase,
    source="ISO 13920 table 1, linear dimensions, from memory; class B where none is stated: common practice",
    codes=("weld_spread", "weld_class_missing"),
    severity="stop",
    besides=("around",),
)
def weld_tolerance(case: MateCase) -> Iterator[Finding | NotChecked]:
    """
    Bolts still go in when the weld has pulled.

    Plates that are cut to a tenth are welded to a millimetre or two; holes that have to meet across the weld are
    jigged, drilled afterwards, or large enough.
    """
    mate = case.mate
    spans = tuple(spanning(case)) if mate.kind in _WELDED else ()
    if not spans:
        raise DoesNotApply
    if mate.holes_made in ("jigged", "drilled after"):
        yield NotChecked(f"holes on both sides of {mate.name}: they are {mate.holes_made}, as declared")
        return
    yield NotChecked(f"angles and flatness across {mate.name} (ISO 13920 tables 2 and 3)")
    if not mate.weldment:
        partners = ", ".join(sorted({s.through.part.number for s in spans}))
        yield Finding(
            "weld_class_missing",
            f"holes on both sides of {mate.name} meet {partners}, and no class of ISO 13920 is stated: class "
            f"{COMMON_CLASS} was taken",
            severity="warning",
            where=f"{mate.name}/weldment",
            remedy="declare the mate with --weldment A, B, C or D, or with --holes jigged or 'drilled after'",
        )
    for span in spans:
        yield from _spread(case, span)


def _spread(case: MateCase, span: Spanning) -> Iterator[Finding | NotChecked]:
    mates = f"{span.first.mate.name} and {span.second.mate.name}"
    margins = [fit.worst_case_margin_mm if (fit := m.best_fit) else None for m in (span.first, span.second)]
    if any(m is None or not math.isfinite(m) or not m >= 0 for m in margins):
        yield NotChecked(f"the weldment's tolerance in {mates}: they do not fit by themselves yet")
        return
    room = sum(m for m in margins if m is not None)
    size = _farthest(span.through, span.through_second)
    wanted = weldment_deviation_mm(case.mate.weldment or COMMON_CLASS, size)
    if room >= wanted:
        return
    through = span.through.part.number
    yield Finding(
        "weld_spread",
        f"holes of {mates} are {show_mm(size)} apart across the weld: class {case.mate.weldment or COMMON_CLASS} lets "
        f"them stray ±{show_mm(wanted)}, and they can take up {show_mm(room)}",
        severity="stop",
        where=f"{case.mate.name}/{through}",
        remedy=f"weld them bolted to {through} or in a jig (--holes jigged), drill afterwards, or open the holes by "
        f"{show_mm(wanted - room)} in all",
        measured=show_mm(room),
        limit=show_mm(wanted),
    )


def _farthest(one: PlacedPly, other: PlacedPly) -> float:
    """The distance of the two holes farthest apart, one of each group, on the third plate."""
    return max(math.dist(a.centre, b.centre) for a in one.holes for b in other.holes)
