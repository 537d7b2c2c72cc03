"""Every measured place of a part: holes, studs and plain points, by coordinates or by distances."""

from __future__ import annotations

from ledger.domain.errors import BadInput, visible
from ledger.domain.measured_points import MeasuredPoint
from ledger.domain.record import Part
from ledger.survey.of_part import solution_of


def measured_points(part: Part) -> tuple[MeasuredPoint, ...]:
    """
    The places in the plane of the part's first points, with U against their axes. Raises BadInput where there are none.

    Points that distances do not settle are left out, as they have no place yet.
    """
    found = {}
    for m in part.measured_holes:
        sure = m.framed or m.uncertainty
        u = float(sure.mm) if sure else None
        found[m.hole.label] = MeasuredPoint(m.hole.label, m.hole.centre, m.hole.diameter_mm, u)
    solution = solution_of(part)
    for placed in solution.points if solution and solution.settled else ():
        u = max(placed.u_shape_mm, placed.u_datum_mm)
        at = (placed.at_mm[0], placed.at_mm[1])
        found.setdefault(placed.name, MeasuredPoint(placed.name, at, None, u))
    for point in part.points:
        if point.at and not solution:
            at = (float(point.at[0].mm), float(point.at[1].mm))
            u = float(point.uncertainty.mm) if point.uncertainty else None
            found.setdefault(point.label, MeasuredPoint(point.label, at, None, u))
    if not found:
        raise BadInput(
            f"{visible(part.number)} has no measured holes or points with a place: record them with fitup hole, or "
            "fitup point and fitup distance"
        )
    return tuple(found[label] for label in sorted(found))
