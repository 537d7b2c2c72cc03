"""
What to say of holes whose drawn line departs from the circle or slot that they were read as.

The size of such a hole is that of the largest circle that passes, since that is what a fastener meets; its *departure*
is how far the drawn line reaches beyond it. Few straight sides may also be the pocket of a nut: that is asked.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from ledger.domain.finding import Finding
from ledger.domain.shape import Hole
from ledger.profile.rounds import allowed, is_few_sided, sides_of

NUT_SIDES = (6, 8)


def departures(holes: Sequence[Hole]) -> Iterator[Finding]:
    """A note for every hole that is not drawn round, a warning for one that may be meant otherwise."""
    for hole in holes:
        if is_few_sided(hole):
            yield few_sides(hole)
        elif hole.made_of == "facets":
            yield _facets(hole)
        elif hole.departure_mm > allowed(hole.diameter_mm / 2):
            yield _out_of_round(hole)


def may_be_pocket(hole: Hole) -> bool:
    """Whether a hole has the sides of a nut."""
    return is_few_sided(hole) and sides_of(hole) in NUT_SIDES


def few_sides(hole: Hole) -> Finding:
    """The warning for a hole of few sides."""
    sides, size = sides_of(hole), hole.diameter_mm
    asked = ": a round hole, or a pocket for a nut?" if may_be_pocket(hole) else ""
    return Finding(
        "few_sides",
        f"{hole.label} has {sides} straight sides{asked}; it was taken for a hole of {size:.3f} mm, the largest circle "
        f"that passes; its corners are on {_corners_mm(hole):.3f} mm",
        severity="warning",
        where=hole.label,
        fix="draw a hole as a circle; put a pocket on a layer named POCKET",
        measured=f"{size:.3f} mm",
    )


def _facets(hole: Hole) -> Finding:
    return Finding(
        "facets",
        f"{hole.label} is drawn with straight lines: corners on {_corners_mm(hole):.3f} mm, the largest circle that "
        f"passes is {hole.diameter_mm:.3f} mm",
        severity="note",
        where=hole.label,
        fix="draw it as a circle if it must be round",
        measured=f"{hole.diameter_mm:.3f} mm",
    )


def _out_of_round(hole: Hole) -> Finding:
    what = "slot" if hole.is_slot else "circle"
    return Finding(
        "out_of_round",
        f"{hole.label} is {hole.departure_mm:.3f} mm out of shape; the largest {what} that passes is "
        f"{hole.diameter_mm:.3f} mm wide",
        severity="note",
        where=hole.label,
        fix=f"draw it as a {what}",
        measured=f"{hole.departure_mm:.3f} mm",
    )


def _corners_mm(hole: Hole) -> float:
    return hole.diameter_mm + 2 * hole.departure_mm
