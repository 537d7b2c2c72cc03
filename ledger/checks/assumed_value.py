"""Nothing goes out on an assumption."""

from __future__ import annotations

from collections.abc import Iterator

from ledger.cases.parts import PartCase
from ledger.checks._frame import check
from ledger.domain.finding import Finding


@check(
    on=PartCase,
    source="common practice: a value to be confirmed is confirmed before release",
    codes=("assumed",),
    severity="stop",
    not_checked="whether values entered as given or measured are right",
)
def assumed_value(case: PartCase) -> Iterator[Finding]:
    """
    Every dimension and every hole came from somewhere.

    A value that was put in to get on with the drawing looks like any other on the day of the order.
    """
    part = case.part
    for dimension in part.dimensions:
        if dimension.source == "assumed":
            yield _assumed(dimension.name, f"{dimension.name} = {dimension.nominal}")
        for used in dimension.inputs:
            if used.source == "assumed" and used.part != part.number:
                place = f"{dimension.name} from {used.name} of {used.part}"
                yield _assumed(
                    place, f"{used.name} of {used.part}, from which {dimension.name} is calculated,"
                )
    for measured in part.measured_holes:
        if measured.source == "assumed":
            yield _assumed(measured.hole.label, f"hole {measured.hole.label}")


def _assumed(where: str, what: str) -> Finding:
    return Finding(
        "assumed",
        f"{what} is assumed",
        severity="stop",
        where=where,
        fix="measure it or have it given, and record where it came from",
    )
