"""
Two parts that are bolted on one face of a third do not lie over each other.

Each pattern fits by itself, and no mate says that the two parts meet. Parts that a mate bolts to each other, or that
take the same holes of the third, are a stack by design.
"""

from __future__ import annotations

from collections.abc import Iterator

from ledger.checks._beside import in_one_plane, laid, unknown_place
from ledger.checks._case import MateCase
from ledger.checks._frame import DoesNotApply, NotChecked, check
from ledger.checks._thirds import Spanning, neighbours
from ledger.domain.finding import Finding
from ledger.fit.overlap import overlap_area


@check(
    on=MateCase,
    source="common practice: areas of plane geometry, the flattening counted against the result",
    codes=("neighbours_overlap",),
    severity="stop",
    besides=("around",),
)
def neighbours_on_face(case: MateCase) -> Iterator[Finding | NotChecked]:
    """
    What is bolted beside something else finds its place free.

    The second bracket does not lie down because the first one is there, and neither drawing shows it.
    """
    spans = [s for s in neighbours(case) if in_one_plane(s) and not _stacked(case, s)]
    if not spans:
        raise DoesNotApply
    for span in spans:
        yield from _judged(span)


def _judged(span: Spanning) -> Iterator[Finding | NotChecked]:
    first, second = sorted((span.first, span.second), key=lambda m: m.mate.name)
    third = span.through.part.number
    numbers = sorted(m.plies[p].part.number for m, p in _both(span))
    together = f"{numbers[0]} and {numbers[1]} on {third}"
    reason = unknown_place(span)
    if reason:
        yield NotChecked(f"whether {together} want the same room: {reason}")
        return
    over = [overlap_area(one, other).least_mm2 > 0 for one, other in laid(span)]
    if all(over):
        yield Finding(
            "neighbours_overlap",
            f"{together} lie over each other where their bolts hold them, on one face",
            severity="stop",
            where=f"{first.mate.name}/{second.mate.name}",
            remedy=f"move a bolt pattern or trim a part; where one lies over the other by design, declare both and "
            f"{third} as one mate",
        )
    elif any(over):
        yield NotChecked(
            f"whether {together} want the same room: they do in {sum(over)} of {len(over)} ways to bolt them on"
        )


def _both(span: Spanning) -> Iterator[tuple[MateCase, int]]:
    return zip((span.first, span.second), span.places, strict=True)


def _stacked(case: MateCase, span: Spanning) -> bool:
    """Whether a mate bolts both to each other."""
    wanted = {m.plies[p].part.number for m, p in _both(span)}
    return any(
        m.mate.kind == "bolted" and wanted <= {p.part.number for p in m.plies} for m in case.around().mates
    )
