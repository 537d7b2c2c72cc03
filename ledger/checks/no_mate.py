"""A part fits to something, or is said to stand alone."""

from __future__ import annotations

from collections.abc import Iterator

from ledger.checks._case import PartCase
from ledger.checks._frame import check
from ledger.domain.finding import Finding


@check(
    on=PartCase,
    source="common practice: a part is released with what it fits to",
    codes=("no_mate",),
    severity="stop",
    not_checked="mates that nobody has declared",
    apart_from=("dimensions", "questions", "note"),
)
def no_mate(case: PartCase) -> Iterator[Finding]:
    """
    Somebody has said what the part goes together with.

    Without a mate nothing was fitted, and a GO would say nothing about whether it goes together.
    """
    part = case.part
    if not case.mates and not part.stands_alone:
        yield Finding(
            "no_mate",
            f"{part.number} is in no mate",
            severity="stop",
            where=part.number,
            remedy="declare the mate it is in, or that it stands alone",
        )
