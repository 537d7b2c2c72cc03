"""
Tell round holes and slots from other openings, whatever they are drawn with.

Round: every vertex and every middle of an edge lies within ROUND_MM (or a two-thousandth of the radius) of one
circle. Vertices alone will not do: the four corners of a square lie on a circle too. *Slot*: every point is as far
from a segment, the core, as any other. *Facets*: straight lines instead of a circle; a regular polygon of five sides
or more is a hole, because modellers write small holes so. Any other ring that runs between two circles no farther
apart than those of a regular twelve-sided one is a hole too. The size of all these is that of the largest circle
that passes. What comes near to that and is not taken is *nearly round* (`nearly_round`). A ring on a layer that is
named after openings or pockets is what its layer says.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import shapely
from numpy.typing import NDArray

from ledger.domain.finding import Finding
from ledger.domain.shape import Contour, Hole, Point, arc_of
from ledger.profile.piece import at
from ledger.profile.ring import PLACES, Ring

ROUND_MM = 0.005
_ROUND_SHARE = 5e-4
_ROUND_SIDES, _LEAST_SIDES = 12, 5
_STRAIGHT = 0.1  # of the turn that each vertex would take of a whole one: what turns less is no corner
_SAME_POINT_MM = 1e-6
_SAMPLES = 360
_BETWEEN_SAGITTA_MM = 1e-4
_NEARLY = math.cos(math.pi / _LEAST_SIDES)
_LONGEST_SHARE = 1.25  # a ring between two such circles is no longer than that times its width
_OPENING_LAYER = re.compile(r"(.*[^A-Z])?(POCKETS?|OPENINGS?)([^A-Z].*)?")
_STEPS = 16
_SAME_ARC_MM = 1e-3

Floats = NDArray[np.float64]
_NAMES = {"CIRCLE": "circle", "ARC": "arcs", "SPLINE": "spline", "ELLIPSE": "ellipse"}


def hole_of(ring: Ring) -> Hole | None:
    """The hole or slot that a ring is, without a label; None for any other opening."""
    if ring.circle:
        x, y, radius = ring.circle
        found: Hole | None = Hole("", ((x, y),), 2 * radius, _NAMES.get(ring.kinds[0], "circle"))
    elif said_to_be_opening(ring):
        return None
    else:
        found = _of_arcs(ring) or _round(ring) or _slot(ring) or _between(ring)
    return _without_noise(found) if found else None


def said_to_be_opening(ring: Ring) -> bool:
    """Whether every layer that the ring is drawn on is named after openings or pockets."""
    return all(_OPENING_LAYER.fullmatch(layer.upper()) for layer in ring.layers)


def sides_of(hole: Hole) -> int:
    """How many sides a regular polygon has that departs as much from round as this hole does; 0: it is round."""
    inner, outer = hole.diameter_mm / 2, hole.diameter_mm / 2 + hole.departure_mm
    return round(math.pi / math.acos(inner / outer)) if hole.departure_mm > 0 else 0


def is_few_sided(hole: Hole) -> bool:
    """Whether a hole has so few straight sides that it may have been meant otherwise."""
    return hole.made_of == "facets" and sides_of(hole) < _ROUND_SIDES


def nearly_round(ring: Ring) -> Finding | None:
    """What is to say of an opening that comes near to a hole and was not taken for one."""
    if said_to_be_opening(ring) or ring.circle:
        return None
    found = _two_circles(ring)
    if found is None or found[1] < found[2] * _NEARLY:
        return None
    centre, inner, outer = found
    return Finding(
        "nearly_round",
        f"an opening at {at(_point(centre))} is nearly round and not taken for a hole: a circle of {2 * inner:.3f} mm "
        f"passes, its corners reach {2 * outer:.3f} mm",
        severity="warning",
        where=ring.where,
        fix="draw a bolt hole as a circle; put what is meant as it is drawn on a layer named OPENING",
        measured=f"{2 * inner:.3f} mm",
    )


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
    if _is_straight(contour):
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
    """A regular polygon, whatever points stand along its sides."""
    corners = _corners(contour)
    if len(corners) < _LEAST_SIDES:
        return None
    centre, outer = _circle_through(corners)
    if np.max(np.abs(np.hypot(*(corners - centre).T) - outer)) > allowed(outer):
        return None
    points = np.array([(x, y) for x, y, _ in contour.vertices])
    inner = float(shapely.distance(shapely.LinearRing(points), shapely.Point(centre)))
    least = outer * math.cos(math.pi / min(len(corners), _ROUND_SIDES)) - allowed(outer)
    if inner < least or not _goes_round_once(contour, inner, outer):
        return None
    return Hole("", (_point(centre),), 2 * inner, "facets", max(0.0, outer - inner))


def _between(ring: Ring) -> Hole | None:
    """A ring of any kind between two circles about one centre that lie close to each other."""
    found = _two_circles(ring)
    if found is None:
        return None
    centre, inner, outer = found
    if inner < outer * math.cos(math.pi / _ROUND_SIDES):
        return None
    made_of = "facets" if _is_straight(ring.contour) else _made_of(ring)
    return Hole("", (_point(centre),), 2 * inner, made_of, outer - inner)


def _two_circles(ring: Ring) -> tuple[Floats, float, float] | None:
    """A centre, and the radii of the circles about it that the ring touches from within and from without."""
    low_x, low_y, high_x, high_y = ring.box
    short, long = sorted((high_x - low_x, high_y - low_y))
    if not short > 0 or long > _LONGEST_SHARE * short:
        return None
    points = np.array(ring.contour.flattened(_BETWEEN_SAGITTA_MM))
    line = shapely.LinearRing(points)
    even = shapely.line_interpolate_point(line, np.arange(_SAMPLES) / _SAMPLES, normalized=True)
    centre, _ = _circle_through(shapely.get_coordinates(even))
    inner = float(shapely.distance(line, shapely.Point(centre)))
    outer = float(np.max(np.hypot(*(points - centre).T)))
    return (centre, inner, outer) if _goes_round_once(ring.contour, inner, outer) else None


def _goes_round_once(contour: Contour, inner: float, outer: float) -> bool:
    """A ring between two circles has an area between theirs: one that doubles back on itself, or is beside, has not."""
    least, most = (math.pi * r * r for r in (inner, outer))
    return inner > 0 and least - 1e-6 * most <= abs(contour.area_mm2) <= most + 1e-6 * most


def _is_straight(contour: Contour) -> bool:
    return contour.chord_error_mm == 0 and not any(bulge for _, _, bulge in contour.edges())


def _corners(contour: Contour) -> Floats:
    """
    Vertices at which the line turns: points along a straight side are no corners.

    Rounded coordinates make a point along a side turn by a little, so what counts is the share of a whole turn.
    """
    points = np.array([(x, y) for x, y, _ in contour.vertices])
    points = points[np.hypot(*(points - np.roll(points, 1, axis=0)).T) > _SAME_POINT_MM]
    into, out = points - np.roll(points, 1, axis=0), np.roll(points, -1, axis=0) - points
    turn = np.arctan2(into[:, 0] * out[:, 1] - into[:, 1] * out[:, 0], (into * out).sum(axis=1))
    corners: Floats = points[np.abs(turn) > _STRAIGHT * 2 * math.pi / max(1, len(points))]
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
    smooth = not _is_straight(ring.contour)
    slack = allowed(radius) if smooth else radius * (1 - math.cos(math.pi / _ROUND_SIDES)) + ROUND_MM
    if float(np.max(away)) > radius + allowed(radius) or float(np.min(away)) < radius - slack:
        return None
    if not smooth and len(_corners(ring.contour)) < _ROUND_SIDES:
        return None
    size = (
        radius if smooth else _passes(ring.contour, ends)
    )  # between two points a straight side comes nearer
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


def _passes(contour: Contour, core: Floats) -> float:
    points = [(x, y) for x, y, _ in contour.vertices]
    return float(shapely.distance(shapely.LineString(core), shapely.LinearRing(points)))


def _distances(points: Floats, core: Floats) -> Floats:
    return np.asarray(shapely.distance(shapely.LineString(core), shapely.points(points)))


def _point(values: Floats | Sequence[float]) -> Point:
    return (float(values[0]), float(values[1]))
