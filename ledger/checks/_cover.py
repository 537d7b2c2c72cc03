"""
What a bolted part covers of the face that it lies on, wherever its bolts let it lie.

*Sure* is what it covers for certain but for the play in its holes, *may* what it covers as drawn or could stand over.
A pattern that goes together in several ways has both for each. Of a bent part its flange on that face counts; a part
that turns on one bolt covers a disc for sure, and may cover the circle that its farthest corner sweeps.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry.base import BaseGeometry

from ledger.cases.connections import ConnectionCase
from ledger.cases.regions import material, played_mm
from ledger.checks._beside import most_room_mm, ways
from ledger.checks._flanges import flange_of
from ledger.checks._seats import bolted_holes
from ledger.domain.pose import Pose
from ledger.domain.shape import Point
from ledger.fit.lines import placed
from ledger.fit.overlap import flat_region

_SAGITTA_MM: Final = 0.002
_DRAWN_MM: Final = 0.01  # a drawing's rounding and what flattening loses
_OFFSET: Final = 1.01  # a circle of chords is up to so much short
_GRID: Final = 9  # places to a side, of which those farthest within both parts are tried
_TRIED: Final = 4
_NOTHING: Final = shapely.Polygon()
_FIXING: Final = 2  # bolts


@dataclass(frozen=True, slots=True)
class Covered:
    """Regions of the face, in the coordinates of the part that it is on; `play_mm` is how far points of it move."""

    sure: BaseGeometry
    may: BaseGeometry
    play_mm: Callable[[Sequence[Point]], float]


def meet(one: BaseGeometry, other: BaseGeometry) -> bool:
    """Whether two regions share more than a drawing's rounding."""
    return not shapely.intersection(one, other).buffer(-_DRAWN_MM).is_empty


def always_meet(one: Covered, other: Covered) -> bool:
    """
    Whether two parts lie over each other wherever the play in their holes lets them be; False where that is not sure.

    A place stays under a part that moves by no more than r there if the part covers all that is within r of it.
    """
    shared = shapely.intersection(one.sure, other.sure)
    if shared.is_empty or not shared.area > 0:
        return False
    low_x, low_y, high_x, high_y = shared.bounds
    x, y = np.meshgrid(*(np.linspace(a, b, _GRID) for a, b in ((low_x, high_x), (low_y, high_y))))
    middle = shared.representative_point()
    grid = np.column_stack([np.append(x, middle.x), np.append(y, middle.y)])
    spots = np.asarray(shapely.points(grid), dtype=object)
    spots = spots[shapely.contains_properly(shared, spots)]
    both = (one, other)
    about = [c.play_mm([(middle.x, middle.y)]) for c in both]
    deep = [np.asarray(shapely.distance(spots, c.sure.boundary)) for c in both]
    rest = np.minimum(deep[0] - about[0], deep[1] - about[1])
    for k in np.argsort(-rest, kind="stable")[:_TRIED].tolist():
        place = [(float(spots[k].x), float(spots[k].y))]
        if all(d[k] > c.play_mm(place) + _DRAWN_MM for d, c in zip(deep, both, strict=True)):
            return True
    return False


def covered(connection: ConnectionCase, place: int) -> Iterator[Covered]:
    """What the ply at a place covers of the other one, for every way to bolt it on; it has an outline."""
    ply, fit = connection.plies[place], connection.best_fit
    whole = flat_region(material(ply), _SAGITTA_MM)
    sure = may = whole
    if ply.part.profile is not None and ply.part.profile.bends:
        flange = flange_of(ply.part, bolted_holes(connection, ply))
        sure = shapely.intersection(whole, flange.flat) if flange else _NOTHING
        may = shapely.intersection(whole, flange.standing) if flange else whole
    if fit is not None and len(fit.pairs) < _FIXING and connection.connection.position is None:
        yield from _turning(connection, place, sure, may)
        return
    for pose in ways(connection, place):
        yield Covered(_laid(sure, pose), _laid(may, pose), _play(connection, place, pose))


def _play(connection: ConnectionCase, place: int, pose: Pose) -> Callable[[Sequence[Point]], float]:
    def of(points: Sequence[Point]) -> float:
        play = played_mm(connection, place, pose, points)
        return play if math.isfinite(play) else most_room_mm(connection)

    return of


def _turning(
    connection: ConnectionCase, place: int, sure: BaseGeometry, may: BaseGeometry
) -> Iterator[Covered]:
    """What a part covers that turns freely on one bolt."""
    fit = connection.best_fit
    for pair in fit.pairs if fit else ():
        labels = (pair.a, pair.b)
        own, other = (
            connection.plies[place].part.hole(labels[place]),
            connection.plies[1 - place].part.hole(labels[1 - place]),
        )
        if own is None or other is None:
            return
        pivot, centre = shapely.Point(own.centre), shapely.Point(other.centre)
        near, far = _always(sure, pivot)
        yield Covered(
            centre.buffer(far).difference(centre.buffer(near * _OFFSET)),
            centre.buffer(_farthest(may, own.centre)),
            lambda _: most_room_mm(connection),
        )


def _always(sure: BaseGeometry, pivot: shapely.Point) -> tuple[float, float]:
    """From which to which distance from the pivot there is material all around; (0, 0) where that is nowhere."""
    if not isinstance(sure, shapely.Polygon) or sure.is_empty:
        return (0.0, 0.0)
    filled = shapely.Polygon(sure.exterior)
    out = float(sure.exterior.distance(pivot)) if filled.contains(pivot) else 0.0
    near = [_farthest(ring, (pivot.x, pivot.y)) for ring in sure.interiors if ring.distance(pivot) < out]
    return (max(near, default=0.0), out)


def _farthest(shape: BaseGeometry, point: Point) -> float:
    corners = shapely.get_coordinates(shape)
    return float(np.hypot(*(corners - np.array(point)).T).max()) if len(corners) else 0.0


def _laid(shape: BaseGeometry, pose: Pose) -> BaseGeometry:
    def turned(points: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
        return placed(pose, points)

    return shapely.transform(shape, turned)
