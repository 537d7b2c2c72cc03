"""A part connects to something, or is recorded as unconnected."""

from __future__ import annotations

from collections.abc import Iterator

from ledger.cases.parts import PartCase
from ledger.checks._frame import check
from ledger.domain.finding import Finding


@check(
    on=PartCase,
    source="common practice: a part is released with what it fits to",
    codes=("no_connection",),
    severity="stop",
    not_checked="connections that nobody has entered",
)
def no_connection(case: PartCase) -> Iterator[Finding]:
    """
    Somebody has recorded what the part goes together with.

    Without a connection nothing was fitted, and a GO would say nothing about whether it goes together.
    """
    part = case.part
    if not case.connections and not part.unconnected:
        yield Finding(
            "no_connection",
            f"{part.number} is in no connection",
            severity="stop",
            where=part.number,
            fix="record the connection it is in, or that it connects to nothing",
        )
