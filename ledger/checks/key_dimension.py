"""
Key dimensions are measured on the drawing itself.

A dimension that is measured on the drawing is compared with its limits, or with its nominal where it has none.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from decimal import Decimal

from ledger.cases.answers import NotChecked
from ledger.cases.parts import PartCase
from ledger.checks._frame import check
from ledger.checks._measured_on import EXACT, PLACES, holds, measured_mm, off_by, on_points
from ledger.domain.amounts import MM, unit_of
from ledger.domain.finding import Finding
from ledger.domain.measured_on import LEG
from ledger.domain.quantity import plain, show_mm
from ledger.domain.record import Dimension


@check(
    on=PartCase,
    source="common practice: a written dimension governs the drawing; 0.005 mm, 0.01 deg, 1 mm2 are its rounding",
    codes=("off_drawing", "hole_lost"),
    severity="stop",
)
def key_dimension(case: PartCase) -> Iterator[Finding | NotChecked]:
    """
    The file shows what was intended.

    A wrong unit, a wrong scale or an edit by accident shows up in a dimension that matters, and nowhere else.
    """
    for dimension in case.part.dimensions:
        measured_on = dimension.measured_on
        if dimension.fault:
            continue  # it has no value to compare: `calculated_value` says why
        if measured_on is None:
            yield NotChecked(f"{dimension.name} is not measured on the drawing")
            continue
        if on_points(case.part, measured_on):
            continue  # `point_distance` weighs it with its uncertainty
        if measured_on.kind == LEG:
            continue  # `flat_length` holds it against the flat drawing
        drawn = measured_mm(case.part, measured_on)
        if drawn is None:
            yield _lost(dimension)
            continue
        out = [value for value in drawn if not holds(dimension, value)]
        if out:
            yield _off(dimension, max(out, key=lambda v: abs(off_by(dimension, v))), len(drawn))


def _bound(dimension: Dimension, drawn: float) -> Decimal:
    """The limit that it is beyond, as a size."""
    exact = EXACT[unit_of(dimension.nominal)]
    limits = dimension.limits
    low, high = (limits.lower_mm, limits.upper_mm) if limits else (-exact, exact)
    side = high if drawn > float(dimension.nominal.mm) else low
    return dimension.nominal.mm + (side if side is not None else Decimal(0))


def _lost(dimension: Dimension) -> Finding:
    return Finding(
        "hole_lost",
        f"{dimension.name} is measured on {dimension.measured_on}, which is not on the drawing",
        severity="stop",
        where=dimension.name,
        fix="measure it on a hole or group that is there, or put the hole back",
    )


def _off(dimension: Dimension, drawn: float, of: int) -> Finding:
    """`drawn` is the value furthest out of so many."""
    unit = unit_of(dimension.nominal)
    shown = show_mm(drawn) if unit == MM else f"{drawn:.3f} {unit}"
    limits = dimension.limits.written if dimension.limits else f"±{EXACT[unit]} {unit}"
    return Finding(
        "off_drawing",
        f"{dimension.name} must be {dimension.nominal} ({limits}), the drawing has {shown}"
        + (f" at the worst of {of}" if of > 1 else ""),
        severity="stop",
        where=dimension.name,
        fix="correct the drawing and take it again, or the dimension if the drawing is right",
        measured=shown,
        limit=f"{dimension.nominal.written} {limits}",
        value=plain(Decimal(str(round(drawn, PLACES)))) if math.isfinite(drawn) else "",
        bound=plain(_bound(dimension, drawn)) if math.isfinite(drawn) else "",
    )
