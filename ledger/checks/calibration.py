"""What was measured on a part was measured with instruments in calibration."""

from __future__ import annotations

from collections.abc import Iterator

from ledger.cases.answers import DoesNotApply
from ledger.cases.parts import PartCase
from ledger.checks._frame import check
from ledger.domain.finding import Finding


@check(
    on=PartCase,
    source="ISO 10012 and ISO 9001 7.1.5.2 (from memory): measuring equipment is calibrated at set intervals",
    codes=("instrument_overdue", "distance_overdue", "point_overdue"),
    severity="warning",
)
def calibration(case: PartCase) -> Iterator[Finding]:
    """
    Each value was read before its instrument was due.

    A caliper that was dropped reads as steadily as before, a tenth wrong.
    """
    part = case.part
    read = [
        *((d.name, "instrument_overdue", d.overdue) for d in part.dimensions if d.instrument),
        *((f"{d.a} to {d.b}", "distance_overdue", d.overdue) for d in part.distances),
        *((p.label, "point_overdue", p.overdue) for p in part.points if p.instrument),
    ]
    if not read:
        raise DoesNotApply
    for where, code, said in read:
        if said:
            yield Finding(
                code,
                f"{where}: {said}",
                severity="warning",
                where=where,
                fix="have it calibrated and record that, then measure again",
            )
