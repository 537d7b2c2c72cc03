"""A reading counts for the parts that were there when it was taken."""

from __future__ import annotations

from collections.abc import Iterator

from ledger.cases.answers import DoesNotApply
from ledger.cases.connections import ConnectionCase
from ledger.checks._frame import check
from ledger.domain.connection import Reading
from ledger.domain.finding import Finding


@check(
    on=ConnectionCase,
    source="common practice: a measurement is void once the thing measured has changed",
    codes=("measured_on_other",),
    severity="stop",
    not_checked="whether the structure has moved since it was measured",
)
def measured_against(case: ConnectionCase) -> Iterator[Finding]:
    """
    The interfaces that were measured are the interfaces that count now.

    A clearance that was measured beside the old plate says nothing about the new one.
    """
    read = [(c, c.reading) for c in case.connection.clearances if c.reading is not None]
    if not read:
        raise DoesNotApply
    for clearance, reading in read:
        changed = _changed(case, reading)
        if changed:
            yield Finding(
                "measured_on_other",
                f"{clearance.name} was measured {reading.when} on another state of {', '.join(changed)}",
                severity="stop",
                where=f"{case.connection.name}/{clearance.name}",
                fix="measure it again",
                measured=f"{reading.value.written} ±{reading.uncertainty.written}",
            )


def _changed(case: ConnectionCase, reading: Reading) -> list[str]:
    """The parts whose interface then and now differ, those that came and went included."""
    then = {part: interface for part, _, interface in reading.against}
    now = {p.part.number: p.interface for p in case.plies}
    return [number for number in {**now, **then} if then.get(number) != now.get(number)]
