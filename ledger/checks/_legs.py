"""
Outside legs of a folded part, measured on its flat drawing.

The flat plate from a bend line to an edge is shorter than the outside leg by setback less half the allowance; the
bend line is taken as drawn in the middle of what the bend takes.
"""

from __future__ import annotations

import math

import shapely
from shapely.geometry.base import BaseGeometry

from ledger.checks._folding import Fold, Folded
from ledger.checks._frame import NotRun
from ledger.domain.binding import Binding
from ledger.domain.record import Part
from ledger.domain.shape import Point

_TOUCHES_MM = 0.1
_LEAST_LONGER_MM = 1.0


def leg_flat_mm(part: Part, whole: Folded, bound: Binding) -> tuple[float, tuple[Fold, ...]] | None:
    """
    What the flat drawing has of a leg, and the folds whose allowances it is to be corrected for; None where a bend or a
    hole is gone. Raises NotRun where the leg is not one.
    """
    found = [whole.fold(label) for label in bound.bends]
    folds = tuple(f for f in found if f is not None)
    if len(folds) < len(found):
        return None
    first = folds[0]
    if len(folds) > 1:
        return _between(first, folds[1]), folds
    if not bound.labels:
        return _to_edge(whole, first, bound.place_mm), folds
    hole = part.hole(bound.labels[0])
    if hole is None:
        return None
    _one_flange(whole, first, hole.centre, bound.labels[0])
    return abs(first.aside(hole.centre)), folds


def folded_mm(flat_mm: float, folds: tuple[Fold, ...]) -> float:
    """The outside leg that so much flat plate folds to."""
    return flat_mm + sum(f.numbers.leg_mm for f in folds)


def _between(first: Fold, other: Fold) -> float:
    if not first.parallel(other):
        raise NotRun(f"{first.label} and {other.label} are not parallel: no leg lies between them")
    middle = other.at(other.length_mm / 2)
    apart = abs(first.aside(middle))
    if apart <= _TOUCHES_MM:
        raise NotRun(f"{first.label} and {other.label} lie on one line: no leg lies between them")
    return apart


def _to_edge(whole: Folded, fold: Fold, place: Point) -> float:
    face = _face(whole, place)
    if not face.distance(fold.line()) <= _TOUCHES_MM:
        raise NotRun(f"the place ({place[0]:g}, {place[1]:g}) is in no flange beside {fold.label}")
    side = math.copysign(1.0, fold.aside(place))
    far = max(side * fold.aside((p[0], p[1])) for p in shapely.get_coordinates(face))
    for other in whole.folds:
        beyond = side * fold.aside(other.at(other.length_mm / 2))
        beside = fold.parallel(other) and face.distance(other.line()) <= _TOUCHES_MM
        if beside and beyond > _TOUCHES_MM and beyond >= far - _TOUCHES_MM:
            raise NotRun(
                f"{other.label} ends that flange, no edge: bind it to leg {fold.label} {other.label}"
            )
    return far


def _face(whole: Folded, place: Point) -> BaseGeometry:
    """The flat piece between bend lines and edges in which a place lies."""
    longer = max(_LEAST_LONGER_MM, whole.thickness_mm)
    sheet = whole.sheet()
    edges = [sheet.boundary, *(f.line(longer) for f in whole.folds)]
    faces = shapely.get_parts(shapely.polygonize(shapely.get_parts(shapely.union_all(edges))))
    inside = [
        f for f in faces if f.contains(shapely.Point(place)) and sheet.contains(f.representative_point())
    ]
    if not inside:
        raise NotRun(f"the place ({place[0]:g}, {place[1]:g}) is not on the plate")
    face: BaseGeometry = inside[0]
    return face


def _one_flange(whole: Folded, fold: Fold, point: Point, label: str) -> None:
    """Raise NotRun where another bend lies on the straight way from the bend line to a point."""
    station = min(max(fold.station(point), 0.0), fold.length_mm)
    way = shapely.LineString([fold.at(station, math.copysign(1e-3, fold.aside(point))), point])
    other = next((f for f in whole.folds if not f.on_one_axis(fold) and f.line().intersects(way)), None)
    if other is not None:
        raise NotRun(
            f"{other.label} lies between {fold.label} and {label}: bind it to leg {other.label} {label}"
        )
