"""Holes that are to be tapped and are drawn so wide that no metal is left for the thread."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator

from ledger.domain.finding import Finding
from ledger.domain.shape import Hole
from ledger.standards.fasteners import Fastener

DRAWN_MM = 0.011  # sizes are drawn to a hundredth of a millimetre
_LONGEST = 60


def named(holes: list[Hole]) -> str:
    """Their labels, shortened where they are many."""
    labels = " ".join(h.label for h in holes)
    return labels if len(labels) <= _LONGEST else f"{holes[0].label} and {len(holes) - 1} more"


def no_rule(material: str) -> str:
    """Why nothing is known of the thread engagement in a material."""
    return f"no rule for a thread in {material}" if material.strip() else "its material is not entered"


def too_wide(
    code: str, place: str, number: str, expected: Iterable[tuple[Hole, Fastener]]
) -> Iterator[Finding]:
    """A finding for every size of hole that is wider than the largest minor diameter of its thread."""
    wide: defaultdict[tuple[Fastener, float], list[Hole]] = defaultdict(list)
    for hole, thread in expected:
        if not hole.diameter_mm <= thread.minor_max_mm + DRAWN_MM:
            wide[thread, hole.diameter_mm].append(hole)
    for (thread, size), holes in wide.items():
        yield Finding(
            code,
            f"{named(holes)} of {number}: {size:.2f} mm as drawn, but the minor diameter of {thread.designation} is "
            f"at most {thread.minor_max_mm:.2f} mm: nothing is left to tap",
            severity="stop",
            where=f"{place}{named(holes)}",
            fix=f"draw {thread.tap_drill_mm:.2f} mm (drill {thread.tap_drill}), or do not tap it",
            measured=f"{size:.2f} mm",
            limit=f"<= {thread.minor_max_mm:.2f} mm",
        ).held_to(size, thread.minor_max_mm)
