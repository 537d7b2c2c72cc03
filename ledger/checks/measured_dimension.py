"""A measured dimension is known better than the limits it has."""

from __future__ import annotations

from collections.abc import Iterator

from ledger.cases.answers import DoesNotApply
from ledger.cases.parts import PartCase
from ledger.checks._frame import check
from ledger.checks._measured_on import on_points
from ledger.domain.amounts import unit_of
from ledger.domain.finding import Finding
from ledger.domain.quantity import plain
from ledger.domain.record import Dimension
from ledger.domain.uncertainty import decide


@check(
    on=PartCase,
    source="ISO 14253-1: proof of conformity and of non-conformity with U",
    codes=("dimension_not_proven",),
    severity="stop",
)
def measured_dimension(case: PartCase) -> Iterator[Finding]:
    """
    What was measured, or calculated from it, lies inside its limits by more than it could be wrong.

    A tenth on the drawing means nothing where the tape was good for a millimeter.
    """
    known = [d for d in case.part.dimensions if d.limits and d.uncertainty and not d.fault]
    known = [d for d in known if not ((b := d.measured_on) and on_points(case.part, b))]
    if not known:
        raise DoesNotApply
    for dimension in known:
        yield from _judged(dimension)


def _judged(dimension: Dimension) -> Iterator[Finding]:
    limits, doubt = dimension.limits, dimension.uncertainty
    if limits is None or doubt is None:
        return
    value = dimension.nominal.mm
    lower, upper = (None if d is None else value + d for d in (limits.lower_mm, limits.upper_mm))
    decision = decide(value, lower, upper, doubt.mm)
    if decision.outcome == "inside":
        return
    room, unit = decision.better_than, unit_of(dimension.nominal)
    better = (
        f"measure with an uncertainty of ±{plain(room)} {unit} or better, or widen its limits"
        if room > 0
        else "its nominal is on a limit, which no measurement can prove: move the nominal or the limit"
    )
    yield Finding(
        "dimension_not_proven",
        f"{dimension.name} = {dimension.nominal} {limits.written} is known to ±{doubt.written} only",
        severity="stop",
        where=dimension.name,
        fix=better,
        measured=f"{dimension.nominal.written} ±{doubt.written}",
        limit=limits.written,
    )
