"""
Key dimensions are measured on the drawing itself.

A dimension that is bound to the drawing is compared with its limits, or with its nominal where it has none.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from decimal import Decimal
from typing import Final

from ledger.checks._binding import binding, measured_mm
from ledger.checks._case import PartCase
from ledger.checks._frame import NotChecked, check
from ledger.domain.finding import Finding
from ledger.domain.quantity import show_mm
from ledger.domain.record import Dimension

EXACT_MM: Final = Decimal("0.005")  # what a drawing rounded to two places may be off
_PLACES: Final = 6  # a nanometre: below it a difference is arithmetic, not drawing


@check(
    on=PartCase,
    source="common practice: a stated dimension governs the drawing; 0.005 mm is a drawing's rounding",
    codes=("off_drawing", "hole_lost"),
    severity="stop",
    apart_from=("questions", "note"),
)
def key_dimension(case: PartCase) -> Iterator[Finding | NotChecked]:
    """
    The file shows what was intended.

    A wrong unit, a wrong scale or an edit by accident shows up in a dimension that matters, and nowhere else.
    """
    for dimension in case.part.dimensions:
        bound = binding(dimension.bound)
        if bound is None:
            yield NotChecked(f"{dimension.name} is not bound to the drawing")
            continue
        drawn = measured_mm(case.part, bound)
        if drawn is None:
            yield _lost(dimension)
            continue
        out = [value for value in drawn if not _holds(dimension, value)]
        if out:
            yield _off(dimension, max(out, key=lambda v: abs(v - float(dimension.nominal.mm))), len(drawn))


def _holds(dimension: Dimension, drawn: float) -> bool:
    if not math.isfinite(drawn):
        return False
    deviation = Decimal(str(round(drawn, _PLACES))) - dimension.nominal.mm
    return dimension.limits.allows(deviation) if dimension.limits else abs(deviation) <= EXACT_MM


def _lost(dimension: Dimension) -> Finding:
    return Finding(
        "hole_lost",
        f"{dimension.name} is bound to {dimension.bound}, which is not on the drawing",
        severity="stop",
        where=dimension.name,
        remedy="bind it to a hole or group that is there, or put the hole back",
    )


def _off(dimension: Dimension, drawn: float, of: int) -> Finding:
    """`drawn` is the value furthest out of so many."""
    limits = dimension.limits.written if dimension.limits else f"±{EXACT_MM} mm"
    return Finding(
        "off_drawing",
        f"{dimension.name} is to be {dimension.nominal} ({limits}), the drawing has {show_mm(drawn)}"
        + (f" at the worst of {of}" if of > 1 else ""),
        severity="stop",
        where=dimension.name,
        remedy="correct the drawing and take it again, or the dimension if the drawing is right",
        measured=show_mm(drawn),
        limit=f"{dimension.nominal.written} {limits}",
    )
