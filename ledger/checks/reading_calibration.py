"""A clearance was measured with an instrument in calibration."""

from __future__ import annotations

from collections.abc import Iterator

from ledger.cases.answers import DoesNotApply
from ledger.cases.connections import ConnectionCase
from ledger.checks._frame import check
from ledger.domain.finding import Finding


@check(
    on=ConnectionCase,
    source="ISO 10012 and ISO 9001 7.1.5.2 (from memory): measuring equipment is calibrated at set intervals",
    codes=("reading_overdue",),
    severity="warning",
)
def reading_calibration(case: ConnectionCase) -> Iterator[Finding]:
    """
    The reading that proves the room was taken before its instrument was due.

    The proof is as good as the instrument, and nobody knows how good that is past its day.
    """
    read = [(c.name, c.reading.overdue) for c in case.connection.clearances if c.reading]
    if not read:
        raise DoesNotApply
    for name, said in read:
        if said:
            yield Finding(
                "reading_overdue",
                f"{name}: {said}",
                severity="warning",
                where=f"{case.connection.name}/{name}",
                fix="have it calibrated and record that, then measure again",
            )
