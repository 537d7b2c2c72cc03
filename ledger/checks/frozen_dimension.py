"""A frozen dimension stays as it was at the last locked revision, even where the next one no longer freezes it."""

from __future__ import annotations

from collections.abc import Iterator

from ledger.cases.answers import DoesNotApply
from ledger.cases.parts import PartCase
from ledger.checks._frame import check
from ledger.domain.amounts import unit_of
from ledger.domain.finding import Finding
from ledger.domain.quantity import plain
from ledger.domain.record import Dimension


@check(
    on=PartCase,
    source="common practice: interface dimensions are frozen between revisions",
    codes=("frozen_changed", "frozen_released"),
    severity="stop",
)
def frozen_dimension(case: PartCase) -> Iterator[Finding]:
    """
    What others were made to fit is not moved by the next revision.

    The parts that bolt to it are already cut, and nobody looks at them again.
    """
    frozen = [d for d in case.part.dimensions if d.frozen_mm is not None]
    if not frozen:
        raise DoesNotApply
    for dimension in frozen:
        before, now = dimension.frozen_mm, dimension.nominal.mm
        if before is None or dimension.fault:
            continue
        if before.is_finite() and now.is_finite() and before == now:
            yield from _released(dimension)
            continue
        was = f"{plain(before)} {unit_of(dimension.nominal)}" if before.is_finite() else "not a number"
        yield Finding(
            "frozen_changed",
            f"{dimension.name} is frozen at {was} and is now {dimension.nominal}"
            + ("" if dimension.frozen else ", and no longer frozen"),
            severity="stop",
            where=dimension.name,
            fix="put it back, or look at every connection and permit it in writing",
            measured=dimension.nominal.written,
            limit=was,
            value=plain(now) if now.is_finite() and before.is_finite() else "",
            bound=plain(before) if now.is_finite() and before.is_finite() else "",
        )


def _released(dimension: Dimension) -> Iterator[Finding]:
    if not dimension.frozen:
        yield Finding(
            "frozen_released",
            f"{dimension.name} was frozen at {dimension.nominal} and is no longer frozen: the next revision may change "
            f"it",
            severity="warning",
            where=dimension.name,
            fix="freeze it again, or tell those whose parts were made to it",
        )
