"""A calculated dimension has a value, and rests on values that stay."""

from __future__ import annotations

from collections.abc import Iterator

from ledger.cases.answers import DoesNotApply
from ledger.cases.parts import SurroundedPart
from ledger.checks._frame import check
from ledger.domain.finding import Finding


@check(
    on=SurroundedPart,
    source="common practice: a value that follows from another follows it to the day it is released",
    codes=("not_calculated", "source_open"),
    severity="stop",
    not_checked="whether a formula says what was meant",
)
def calculated_value(seen: SurroundedPart) -> Iterator[Finding]:
    """
    What is cut follows from what is known now, and from what will not change behind its back.

    A sum done once and typed in stays when the width it came from does not.
    """
    case = seen.case
    part = case.part
    found = [d for d in part.dimensions if d.formula]
    if not found:
        raise DoesNotApply
    for dimension in found:
        if dimension.fault:
            yield Finding(
                "not_calculated",
                f"{dimension.name} = {dimension.formula} has no value: {dimension.fault}",
                severity="stop",
                where=dimension.name,
                fix="enter the formula again, or record what it names",
            )
        open_ones = {
            used.part: used
            for used in dimension.inputs
            if used.part != part.number and not used.locked and used.part not in seen.together
        }
        for number, used in open_ones.items():
            yield Finding(
                "source_open",
                f"{dimension.name} = {dimension.formula} follows {used.name} of {number} {used.revision}, "
                "which is open and may still change",
                severity="warning",
                where=f"{dimension.name} from {number}",
                fix=f"lock {number} first, or check, sign and lock the two together",
            )
