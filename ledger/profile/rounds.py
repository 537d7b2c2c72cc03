"""
Tell round holes and slots from other openings, whatever they are drawn with.

Round: every vertex and every middle of an edge lies within ROUND_MM (or a two-thousandth of the radius) of one
circle. Vertices alone will not do: the four corners of a square lie on a circle too. *Facets*: straight lines
instead of a circle; twelve sides or more, none turning more than a twelfth of a turn, count as a hole, whose size
is that of the largest circle that passes. Squares, hexagons and octagons are openings. *Slot*: every point is as
far from a segment, the core, as any other.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import shapely
from numpy.typing import NDArray

from ledger.domain.shape import Contour, Hole, Point, arc_of
from ledger.profile.ring import PLACES, Ring

ROUND_MM = 0.005
_ROUND_SHARE = 5e-4
_LEAST_SIDES = 12
_STEPS = 16
_SAME_ARC_MM = 1e-3

Floats = NDArray[np.float64]
_NAMES = {"CIRCLE": "circle", "ARC": "arcs", "SPLINE": "spline", "ELLIPSE": "ellipse"}


def hole_of(ring: Ring) -> Hole | None:
    """The hole or slot that a ring is, without a label; None for any other opening."""
    if ring.circle:
        x, y, radius = ring.circle
        found: Hole | None = Hole("", ((x, y),), 2 * radius, _NAMES.get(ring.kinds[0], "circle"))
    else:
        found = _of_arcs(ring) or _round(ring) or _slot(ring)
    return _without_noise(found) if found else None


def _without_noise(hole: Hole) -> Hole:
    """One place fewer than the vertices a hole may have been worked out from."""
    core = tuple((round(x, PLACES - 1) + 0.0, round(y, PLACES - 1) + 0.0) for x, y in hole.core)
    return replace(hole, core=core, diameter_mm=round(hole.diameter_mm, PLACES - 1))


def allowed(radius: float) -> float:
    """How far a curve may depart from round and still be a circle, mm."""
    return max(ROUND_MM, _ROUND_SHARE * radius)


def _of_arcs(ring: Ring) -> Hole | None:
    """Arcs of one centre and radius: exact."""
    edges = ring.contour.edges()
    if not all(bulge for _, _, bulge in edges):
        return None
    arcs = [arc_of(a, b, bulge) for a, b, bulge in edges]
    x = math.fsum(c[0] for c, _, _, _ in arcs) / len(arcs)
    y = math.fsum(c[1] for c, _, _, _ in arcs) / len(arcs)
    radius = math.fsum(r for _, r, _, _ in arcs) / len(arcs)
    worst = max(math.hypot(c[0] - x, c[1] - y) + abs(r - radius) for c, r, _, _ in arcs)
    if worst > _SAME_ARC_MM:
        return None
    return Hole("", ((x, y),), 2 * radius, _made_of(ring), worst)


def _made_of(ring: Ring) -> str:
    kinds = set(ring.kinds)
    if kinds <= {"ARC", "CIRCLE"}:
        return "arcs"
    return next((_NAMES[k] for k in ("SPLINE", "ELLIPSE") if k in kinds), "polyline")


def _round(ring: Ring) -> Hole | None:
    contour = ring.contour
    if contour.chord_error_mm == 0 and not any(bulge for _, _, bulge in contour.edges()):
        return _facets(contour)
    rim, middles = _rim(contour)
    centre, radius = _circle_through(rim)
    worst = float(np.max(np.abs(np.hypot(*(np.concatenate([rim, middles]) - centre).T) - radius)))
    if worst > allowed(radius) or _turns_wrong(ring, radius):
        return None
    return Hole("", (_point(centre),), 2 * radius, _made_of(ring), worst)


def _turns_wrong(ring: Ring, radius: float) -> bool:
    """A real circle of that radius has that area: a ring that doubles back on it has not."""
    return abs(ring.contour.area_mm2 - math.pi * radius * radius) > 4 * math.pi * radius * allowed(radius)


def _facets(contour: Contour) -> Hole | None:
    corners = _corners(contour)
    if len(corners) < _LEAST_SIDES:
        return None
    centre, outer = _circle_through(corners)
    if np.max(np.abs(np.hypot(*(corners - centre).T) - outer)) > allowed(outer):
        return None
    middles = (corners + np.roll(corners, -1, axis=0)) / 2
    inner = float(np.min(np.hypot(*(middles - centre).T)))
    least = outer * math.cos(math.pi / _LEAST_SIDES) - allowed(outer)
    if inner < least or contour.area_mm2 < math.pi * least * least:
        return None
    return Hole("", (_point(centre),), 2 * inner, "facets", outer - inner)


def _corners(contour: Contour) -> Floats:
    """Vertices at which the line turns: points along a straight side are no corners."""
    points = np.array([(x, y) for x, y, _ in contour.vertices])
    into, out = points - np.roll(points, 1, axis=0), np.roll(points, -1, axis=0) - points
    lengths = np.hypot(*into.T) * np.hypot(*out.T)
    turn = into[:, 0] * out[:, 1] - into[:, 1] * out[:, 0]
    corners: Floats = points[np.abs(turn) > 1e-6 * lengths]
    return corners


def _rim(contour: Contour) -> tuple[Floats, Floats]:
    """Points of the ring itself: vertices and points along arcs; and the middles of its straight edges."""
    points: list[Point] = []
    middles: list[Point] = []
    for a, b, bulge in contour.edges():
        points.append(a)
        if not bulge:
            middles.append(((a[0] + b[0]) / 2, (a[1] + b[1]) / 2))
            continue
        (x, y), radius, start, sweep = arc_of(a, b, bulge)
        turns = [start + sweep * k / _STEPS for k in range(1, _STEPS)]
        points.extend((x + radius * math.cos(t), y + radius * math.sin(t)) for t in turns)
    return np.array(points), np.array(middles).reshape(-1, 2)


def _circle_through(points: Floats) -> tuple[Floats, float]:
    """Least squares circle (Kåsa's linear form) about the mean, so that far-off plates lose no digits."""
    mean = points.mean(axis=0)
    local = points - mean
    rows = np.column_stack([local, np.ones(len(local))])
    (a, b, c), *_ = np.linalg.lstsq(rows, (local**2).sum(axis=1), rcond=None)
    centre = np.array([a / 2, b / 2])
    return centre + mean, math.sqrt(max(0.0, float(c + centre @ centre)))


def _slot(ring: Ring) -> Hole | None:
    rim = np.concatenate(_rim(ring.contour))
    box = shapely.minimum_rotated_rectangle(shapely.MultiPoint(rim))
    if box.geom_type != "Polygon":
        return None
    corners = shapely.get_coordinates(box)
    sides = [corners[k + 1] - corners[k] for k in (0, 1)]
    lengths = [float(np.hypot(*s)) for s in sides]
    long, short = (0, 1) if lengths[0] >= lengths[1] else (1, 0)
    radius, reach = lengths[short] / 2, (lengths[long] - lengths[short]) / 2
    if reach <= allowed(radius) or not radius > 0:
        return None
    middle, along = corners[:4].mean(axis=0), sides[long] / lengths[long]
    ends = _exact_ends(ring.contour, radius)
    ends = ends if ends is not None else np.array([middle - along * reach, middle + along * reach])
    away = _distances(rim, ends)
    smooth = bool(ring.contour.chord_error_mm) or any(b for _, _, b in ring.contour.edges())
    slack = allowed(radius) if smooth else radius * (1 - math.cos(math.pi / _LEAST_SIDES)) + ROUND_MM
    if float(np.max(away)) > radius + allowed(radius) or float(np.min(away)) < radius - slack:
        return None
    if not smooth and len(_corners(ring.contour)) < _LEAST_SIDES:
        return None
    size = radius if smooth else float(np.min(away))
    core = sorted(_point(end) for end in ends)
    return Hole("", (core[0], core[1]), 2 * size, "slot", float(np.max(np.abs(away - size))))


def _exact_ends(contour: Contour, radius: float) -> Floats | None:
    """Centres of the two end arcs, if there are exactly two."""
    found: list[Point] = []
    for a, b, bulge in contour.edges():
        if not bulge:
            continue
        centre, own, _, _ = arc_of(a, b, bulge)
        if abs(own - radius) > allowed(radius):
            return None
        if not any(math.hypot(centre[0] - p[0], centre[1] - p[1]) <= _SAME_ARC_MM for p in found):
            found.append(centre)
    return np.array(found) if len(found) == 2 else None  # noqa: PLR2004 - one at either end


def _distances(points: Floats, core: Floats) -> Floats:
    return np.asarray(shapely.distance(shapely.LineString(core), shapely.points(points)))


def _point(values: Floats | Sequence[float]) -> Point:
    return (float(values[0]), float(values[1]))
