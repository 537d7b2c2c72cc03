"""
Outside legs of a bent part, measured on its flat drawing.

The flat plate from a bend line to an edge is shorter than the outside leg by setback less half the allowance; the
bend line is taken as drawn in the middle of what the bend takes.
"""

from __future__ import annotations

import math

import shapely
from shapely.geometry.base import BaseGeometry

from ledger.cases.answers import NotRun
from ledger.checks._bend_lines import BendLine, BentPart
from ledger.domain.measured_on import MeasuredOn
from ledger.domain.record import Part
from ledger.domain.shape import Point

_TOUCHES_MM = 0.1
_LEAST_LONGER_MM = 1.0


def leg_flat_mm(
    part: Part, whole: BentPart, measured_on: MeasuredOn
) -> tuple[float, tuple[BendLine, ...]] | None:
    """
    What the flat drawing has of a leg, and the bends whose allowances it is to be corrected for; None where a bend or a
    hole is gone. Raises NotRun where the leg is not one.
    """
    found = [whole.bend_line(label) for label in measured_on.bends]
    bend_lines = tuple(f for f in found if f is not None)
    if len(bend_lines) < len(found):
        return None
    first = bend_lines[0]
    if len(bend_lines) > 1:
        return _between(first, bend_lines[1]), bend_lines
    if not measured_on.labels:
        return _to_edge(whole, first, measured_on.place_mm), bend_lines
    hole = part.hole(measured_on.labels[0])
    if hole is None:
        return None
    _one_flange(whole, first, hole.centre, measured_on.labels[0])
    return abs(first.aside(hole.centre)), bend_lines


def bent_mm(flat_mm: float, bend_lines: tuple[BendLine, ...]) -> float:
    """The outside leg that so much flat plate bends to."""
    return flat_mm + sum(f.numbers.leg_mm for f in bend_lines)


def _between(first: BendLine, other: BendLine) -> float:
    if not first.parallel(other):
        raise NotRun(f"{first.label} and {other.label} are not parallel: no leg between them")
    middle = other.at(other.length_mm / 2)
    apart = abs(first.aside(middle))
    if apart <= _TOUCHES_MM:
        raise NotRun(f"{first.label} and {other.label} are on one line: no leg between them")
    return apart


def _to_edge(whole: BentPart, bend_line: BendLine, place: Point) -> float:
    face = _face(whole, place)
    if not face.distance(bend_line.line()) <= _TOUCHES_MM:
        raise NotRun(f"the place ({place[0]:g}, {place[1]:g}) is on no flange beside {bend_line.label}")
    side = math.copysign(1.0, bend_line.aside(place))
    far = max(side * bend_line.aside((p[0], p[1])) for p in shapely.get_coordinates(face))
    for other in whole.lines:
        beyond = side * bend_line.aside(other.at(other.length_mm / 2))
        beside = bend_line.parallel(other) and face.distance(other.line()) <= _TOUCHES_MM
        if beside and beyond > _TOUCHES_MM and beyond >= far - _TOUCHES_MM:
            raise NotRun(
                f"{other.label} ends that flange, not an edge: measure it on leg {bend_line.label} {other.label}"
            )
    return far


def _face(whole: BentPart, place: Point) -> BaseGeometry:
    """The flat piece between bend lines and edges in which a place lies."""
    longer = max(_LEAST_LONGER_MM, whole.thickness_mm)
    sheet = whole.sheet()
    edges = [sheet.boundary, *(f.line(longer) for f in whole.lines)]
    faces = shapely.get_parts(shapely.polygonize(shapely.get_parts(shapely.union_all(edges))))
    inside = [
        f for f in faces if f.contains(shapely.Point(place)) and sheet.contains(f.representative_point())
    ]
    if not inside:
        raise NotRun(f"the place ({place[0]:g}, {place[1]:g}) is not on the plate")
    face: BaseGeometry = inside[0]
    return face


def _one_flange(whole: BentPart, bend_line: BendLine, point: Point, label: str) -> None:
    """Raise NotRun where another bend lies on the straight way from the bend line to a point."""
    station = min(max(bend_line.station(point), 0.0), bend_line.length_mm)
    way = shapely.LineString([bend_line.at(station, math.copysign(1e-3, bend_line.aside(point))), point])
    other = next((f for f in whole.lines if not f.on_one_axis(bend_line) and f.line().intersects(way)), None)
    if other is not None:
        raise NotRun(
            f"{other.label} is between {bend_line.label} and {label}: measure it on leg {other.label} {label}"
        )
