"""A held dimension stays as it was at the last locked revision, also where the next one holds it no longer."""

from __future__ import annotations

from collections.abc import Iterator

from ledger.checks._case import PartCase
from ledger.checks._frame import DoesNotApply, check
from ledger.domain.amounts import unit_of
from ledger.domain.finding import Finding
from ledger.domain.quantity import plain
from ledger.domain.record import Dimension


@check(
    on=PartCase,
    source="common practice: interface dimensions are frozen between revisions",
    codes=("held_changed", "hold_released"),
    severity="stop",
    apart_from=("questions", "note"),
)
def held_dimension(case: PartCase) -> Iterator[Finding]:
    """
    What others were made to fit is not moved by the next revision.

    The parts that bolt to it are already cut, and nobody looks at them again.
    """
    held = [d for d in case.part.dimensions if d.held_mm is not None]
    if not held:
        raise DoesNotApply
    for dimension in held:
        before, now = dimension.held_mm, dimension.nominal.mm
        if before is None or dimension.fault:
            continue
        if before.is_finite() and now.is_finite() and before == now:
            yield from _released(dimension)
            continue
        was = f"{plain(before)} {unit_of(dimension.nominal)}" if before.is_finite() else "not a number"
        yield Finding(
            "held_changed",
            f"{dimension.name} is held at {was} and is now {dimension.nominal}"
            + ("" if dimension.held else ", and no longer held"),
            severity="stop",
            where=dimension.name,
            remedy="put it back, or look at every mate and permit it in writing",
            measured=dimension.nominal.written,
            limit=was,
            value=plain(now) if now.is_finite() and before.is_finite() else "",
            bound=plain(before) if now.is_finite() and before.is_finite() else "",
        )


def _released(dimension: Dimension) -> Iterator[Finding]:
    if not dimension.held:
        yield Finding(
            "hold_released",
            f"{dimension.name} was held at {dimension.nominal} and is no longer: the next revision may change it",
            severity="warning",
            where=dimension.name,
            remedy="hold it again, or tell those whose parts were made to it",
        )
